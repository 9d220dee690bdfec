//! The tooth and its slopes by every figure and reading, from one flat list of numbers.
//!
//! Used wherever the chain is worked out thousands of times with other figures: budget, Monte Carlo, adjustment.
//! A mono boom with two-axis gravity sensors or encoders goes by closed formulas, without allocating;
//! every other machine by dual numbers, through the same calls, some fifty times slower.
//!
//! The list has every figure in the order of [`Geometry::map`](crate::tooth::place::Geometry::map), then every
//! reading in the order of [`Readings::map`]; [`Chain::names`] names them.

mod closed;
mod dual;
pub mod linkage;
pub(crate) mod numbers;
mod places;

use crate::machine::joints::Joints;
use crate::tooth::attitude::Lean;
use crate::tooth::model::ToothModel;
use crate::tooth::place::Solution;
use crate::tooth::readings::Readings;
use closed::NoTooth;
use dual::Dual;
use holdline_geom::fault::{Fault, Faults};
use places::Places;

pub use closed::ClosedPose;
pub(crate) use closed::Stand;

/// A frame that a tooth can be given in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ToothFrame {
    /// [`crate::frames::House`].
    House,
    /// [`crate::frames::Level`].
    Level,
    /// [`crate::frames::Site`].
    Site,
}

/// Where a tooth is, m.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ToothPlace {
    /// In `House`.
    pub house_m: [f64; 3],
    /// In `Level`.
    pub level_m: [f64; 3],
    /// On the site; none without a heading and an antenna.
    pub site_m: Option<[f64; 3]>,
}

impl ToothPlace {
    /// In one frame; NaN on a site that is not known.
    pub fn in_frame(&self, frame: ToothFrame) -> [f64; 3] {
        match frame {
            ToothFrame::House => self.house_m,
            ToothFrame::Level => self.level_m,
            ToothFrame::Site => self.site_m.unwrap_or([f64::NAN; 3]),
        }
    }
}

#[derive(Debug, Clone)]
enum Way {
    Closed(Box<Places>),
    Dual {
        chain: Box<Dual>,
        because: &'static str,
    },
}

/// The chain of one machine, tool and set of readings.
#[derive(Debug, Clone)]
pub struct Chain {
    names: Vec<String>,
    n_figures: usize,
    way: Way,
}

/// A pose, worked out.
#[derive(Debug, Clone)]
pub enum ChainPose {
    /// By the closed form.
    Closed(Box<ClosedPose>),
    /// By the chain of any machine.
    General(Box<Solution>, ToothPlace),
}

impl Chain {
    /// The chain for readings that are there as in `shape`; their values do not matter.
    ///
    /// # Errors
    ///
    /// `T003` for every joint that no sensor gives.
    pub fn new(model: &ToothModel, shape: &Readings<f64>) -> Result<Chain, Faults> {
        let plan = model.plan()?;
        let places = Places::new(model, plan, shape);
        let way = match places {
            Ok(places) => Way::Closed(Box::new(places)),
            Err(because) => Way::Dual {
                chain: Box::new(Dual::new(model, plan, shape)),
                because,
            },
        };
        let mut n_figures = 0;
        model.geometry().map(&mut |_, _| n_figures += 1);
        Ok(Chain {
            names: model.source_names(shape),
            n_figures,
            way,
        })
    }

    /// The same chain by dual numbers, whatever the machine: to check one against the other.
    ///
    /// # Errors
    ///
    /// As [`Chain::new`].
    pub fn by_dual_numbers(model: &ToothModel, shape: &Readings<f64>) -> Result<Chain, Faults> {
        let chain = Box::new(Dual::new(model, model.plan()?, shape));
        Ok(Chain {
            way: Way::Dual {
                chain,
                because: "it was asked for",
            },
            ..Chain::new(model, shape)?
        })
    }

    /// What the entries of the list are: paths on the sheet, then readings.
    pub fn names(&self) -> &[String] {
        &self.names
    }

    /// How many of the entries are figures of the machine; readings follow.
    pub fn n_figures(&self) -> usize {
        self.n_figures
    }

    /// Why the closed form does not serve; none where it does.
    pub fn slower_because(&self) -> Option<&'static str> {
        match &self.way {
            Way::Closed(_) => None,
            Way::Dual { because, .. } => Some(because),
        }
    }

    pub(crate) fn closed(&self) -> Option<ClosedChain<'_>> {
        match &self.way {
            Way::Closed(places) => Some(ClosedChain(places)),
            Way::Dual { .. } => None,
        }
    }

    /// The list for a model's own figures and these readings, which are there as in the shape.
    pub fn values(&self, model: &ToothModel, readings: &Readings<f64>) -> Vec<f64> {
        let mut values = Vec::with_capacity(self.names.len());
        model.geometry().map(&mut |_, m| values.push(m.value));
        readings.map(&mut |_, value| values.push(*value));
        values
    }

    /// The pose that a list gives.
    ///
    /// # Errors
    ///
    /// `B011` where the linkage cannot close or no attitude gives the readings;
    /// for machines without a closed form the faults of [`crate::tooth::place::solve`].
    pub fn solve(&self, x: &[f64]) -> Result<ChainPose, Fault> {
        match &self.way {
            Way::Closed(places) => places
                .solve(x)
                .map(|pose| ChainPose::Closed(Box::new(pose)))
                .map_err(no_tooth),
            Way::Dual { chain, .. } => {
                let solution = chain.solve(x)?;
                let place = dual::place_of(&solution);
                Ok(ChainPose::General(Box::new(solution), place))
            }
        }
    }

    /// The tooth alone.
    ///
    /// # Errors
    ///
    /// As [`Chain::solve`].
    pub fn tooth(&self, x: &[f64]) -> Result<ToothPlace, Fault> {
        match &self.way {
            Way::Closed(places) => places.solve(x).map(|p| *p.tooth()).map_err(no_tooth),
            Way::Dual { chain, .. } => Ok(dual::place_of(&chain.solve(x)?)),
        }
    }

    /// The tooth and its slopes at once, in one frame; the closed form does not allocate.
    ///
    /// # Errors
    ///
    /// As [`Chain::solve`].
    pub fn tooth_and_slopes(
        &self,
        x: &[f64],
        frame: ToothFrame,
        out: &mut [[f64; 3]],
    ) -> Result<ToothPlace, Fault> {
        match &self.way {
            Way::Closed(places) => {
                let pose = places.solve(x).map_err(no_tooth)?;
                places.slopes(x, &pose, frame, out);
                Ok(*pose.tooth())
            }
            Way::Dual { chain, .. } => {
                chain.slopes(x, frame, out)?;
                Ok(dual::place_of(&chain.solve(x)?))
            }
        }
    }

    /// How the tooth moves with every entry of the list, m per unit, in one frame: `n × 3`, a row an entry.
    ///
    /// `out` has one row for each of [`Chain::names`].
    ///
    /// # Errors
    ///
    /// As [`Chain::solve`].
    pub fn slopes(
        &self,
        x: &[f64],
        pose: &ChainPose,
        frame: ToothFrame,
        out: &mut [[f64; 3]],
    ) -> Result<(), Fault> {
        match (&self.way, pose) {
            (Way::Closed(places), ChainPose::Closed(pose)) => {
                places.slopes(x, pose, frame, out);
                Ok(())
            }
            (Way::Closed(places), ChainPose::General(..)) => {
                let pose = places.solve(x).map_err(no_tooth)?;
                places.slopes(x, &pose, frame, out);
                Ok(())
            }
            (Way::Dual { chain, .. }, _) => chain.slopes(x, frame, out),
        }
    }
}

impl ChainPose {
    /// Where the tooth is.
    pub fn tooth(&self) -> &ToothPlace {
        match self {
            ChainPose::Closed(pose) => pose.tooth(),
            ChainPose::General(_, place) => place,
        }
    }

    /// Joint angles.
    pub fn joints(&self) -> &Joints {
        match self {
            ChainPose::Closed(pose) => &pose.joints,
            ChainPose::General(solution, _) => &solution.joints,
        }
    }

    /// Pitch and roll of the house.
    pub fn lean(&self) -> Lean {
        match self {
            ChainPose::Closed(pose) => pose.lean(),
            ChainPose::General(solution, _) => solution.lean,
        }
    }

    /// Heading, where it is known.
    pub fn heading_rad(&self) -> Option<f64> {
        match self {
            ChainPose::Closed(pose) => pose.heading_rad(),
            ChainPose::General(solution, _) => solution.heading_rad,
        }
    }
}

/// The closed form, for loops that must not allocate.
#[derive(Debug, Clone, Copy)]
pub(crate) struct ClosedChain<'a>(&'a Places);

impl ClosedChain<'_> {
    /// The pose of a list; none where the linkage cannot close.
    pub fn solve(&self, x: &[f64]) -> Option<ClosedPose> {
        self.0.solve(x).ok()
    }

    /// How the house stands with this lean; heading and antennas from the list.
    pub fn stand(&self, x: &[f64], lean: Lean) -> Stand {
        self.0.stand(x, lean)
    }

    /// The pose of joint angles on a stand.
    pub fn at_joints(&self, x: &[f64], joints: Joints, stand: &Stand) -> Option<ClosedPose> {
        self.0.at_joints(x, joints, stand).ok()
    }

    /// Slopes of the bucket four-bar; none where the bucket is not sensed through it.
    pub fn ear_slopes(&self, x: &[f64], pose: &ClosedPose) -> Option<linkage::EarSlopes> {
        self.0.ear_slopes(x, pose)
    }

    /// As [`Chain::slopes`]; gives those of the bucket four-bar, as far as the bucket is sensed through it.
    pub fn slopes(
        &self,
        x: &[f64],
        pose: &ClosedPose,
        frame: ToothFrame,
        out: &mut [[f64; 3]],
    ) -> Option<linkage::EarSlopes> {
        self.0.slopes(x, pose, frame, out)
    }
}

fn no_tooth(why: NoTooth) -> Fault {
    let (got, fix) = match why {
        NoTooth::LinkageOpen => (
            "a bucket linkage that cannot close",
            "check idler, link and ear lengths and the idler's angle; past a dead centre nothing holds the bucket",
        ),
        NoTooth::NoAttitude => (
            "two tilts that no attitude gives",
            "check the house sensor's kind: two tilts, or pitch and roll",
        ),
    };
    Fault::new(
        "B011",
        "chain",
        got,
        "figures and readings that give a tooth",
        fix,
    )
}
