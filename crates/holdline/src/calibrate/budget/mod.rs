//! How sure is the tooth, where, what makes it unsure, and what is it enough for?
//!
//! Used before a machine is sent to a job, and beside every pose on the screen.
//! [`Budget::new`] takes the machine with its tool and what else is stated; [`at_pose`] gives one pose, [`map`] the
//! working envelope, [`monte_carlo`] the same by draws, [`growth`] how 2D work decays from move to move, [`verdict`]
//! what it is enough for.
//!
//! - Method: JCGM 100:2008, with the full covariance of what was calibrated together. Slopes: [`super::chain`].
//! - What matters and is not stated leaves no uncertainty there; it is named.
//!
//! # Caution
//!
//! A budget says what the stated figures are worth. It is no check: only shots against surveyed control show where
//! the tooth is.

mod ask;
mod at_pose;
pub mod explain;
mod extras;
mod growth;
mod map;
mod monte_carlo;
mod plan_map;
mod propagate;
mod reach_cell;
mod terms;
mod verdict;

use crate::calibrate::chain::{Chain, ToothFrame};
use crate::machine::joints::Joints;
use crate::tooth::attitude::Lean;
use crate::tooth::model::ToothModel;
use crate::tooth::plan::Plan;
use crate::tooth::readings::{ReadingName, Readings};
use holdline_geom::fault::{Fault, Faults};
use propagate::Mixer;

pub use ask::{
    BudgetAsk, Coverage, Deflection, HeadingFrom, HeightFrom, Mode, Motion, Pin, PinPlay,
    Satellites, normal_of_face,
};
pub use at_pose::{Along, Corner, PoseBudget, Share, at_pose};
pub use growth::{Closed, Growth, GrowthAsk, GrowthStep, ReBench, TrackStep, growth, track};
pub use map::{Cell, CellBudget, EnvelopeMap, MapAsk, Work, map};
pub use monte_carlo::{Drawn, DrawsAsk, MonteCarlo, PARTS_AT, monte_carlo};
pub use plan_map::{PlanMap, PlanMapAsk, plan_map};
pub use terms::{Scatter, SourceUnit, Term};
pub use verdict::{
    Fitness, Held, HeldWhere, Judged, K_IN_A_CIRCLE, POINTS_AT_LEAST, REACHED_AT_LEAST, Tolerance,
    Verdict, Working, judge, judge_map, verdict,
};

/// A pose that is looked at.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BudgetPose {
    /// Joint angles.
    pub joints: Joints,
    /// Pitch and roll of the house.
    pub lean: Lean,
    /// Azimuth of the boom direction; in 3D it is needed.
    pub heading_rad: Option<f64>,
}

/// What a sensor of the sheet has to do with the budget.
#[derive(Debug, Clone, Copy, PartialEq)]
struct SensorUse {
    /// Place of its reading in the chain's list.
    reading: Option<usize>,
    sign: f64,
    latency_s: Option<f64>,
}

/// A machine with its tool and everything stated, made ready for many poses.
#[derive(Debug, Clone)]
pub struct Budget {
    model: ToothModel,
    ask: BudgetAsk,
    plan: Plan,
    chain: Chain,
    shape: Readings<f64>,
    frame: ToothFrame,
    terms: Vec<Term>,
    mixer: Mixer,
    sensors: Vec<SensorUse>,
    satellite_latency_s: Option<f64>,
}

impl Budget {
    /// Gathers the sources.
    ///
    /// A machine that carries a calibration brings the covariance of its figures along.
    ///
    /// # Errors
    ///
    /// `B001`, `B002` for what was asked and cannot be meant; `B003` antennas without lever arms in 3D;
    /// `B004` correlations that cannot hold together; `T003` a joint without a sensor.
    pub fn new(model: &ToothModel, ask: &BudgetAsk) -> Result<Budget, Faults> {
        ask::check(ask)?;
        let plan = model.plan()?.clone();
        let shape = terms::shape(model, &plan, &ask.mode)?;
        let chain = Chain::new(model, &shape)?;
        let terms = terms::terms(model, &plan, &chain, &shape, ask);
        let mixer = Mixer::new(&terms, found_together(model, &chain))?;
        let sensors = sensor_uses(model, &shape, chain.n_figures());
        let (frame, satellite_latency_s) = match &ask.mode {
            Mode::TwoD(_) => (ToothFrame::Level, None),
            Mode::ThreeD(satellites) => (ToothFrame::Site, satellites.latency_s),
        };
        Ok(Budget {
            model: model.clone(),
            ask: ask.clone(),
            plan,
            chain,
            shape,
            frame,
            terms,
            mixer,
            sensors,
            satellite_latency_s,
        })
    }

    /// The machine with its tool.
    pub fn model(&self) -> &ToothModel {
        &self.model
    }

    /// What was asked.
    pub fn ask(&self) -> &BudgetAsk {
        &self.ask
    }

    /// Every source.
    pub fn terms(&self) -> &[Term] {
        &self.terms
    }

    /// The frame of the results: `Level` in 2D, `Site` in 3D.
    pub fn frame(&self) -> ToothFrame {
        self.frame
    }

    /// Why this machine takes the slower way through dual numbers; none where it does not.
    pub fn slower_because(&self) -> Option<&'static str> {
        self.chain.slower_because()
    }

    fn k(&self) -> f64 {
        self.ask.coverage.k()
    }

    /// What is taken off a heading that is read.
    fn heading_offset_rad(&self) -> f64 {
        self.model
            .geometry()
            .heading_offset_rad
            .map_or(0.0, |offset| offset.value)
    }
}

/// Places and covariance of the figures that were calibrated together.
fn found_together(
    model: &ToothModel,
    chain: &Chain,
) -> Option<(Vec<usize>, nalgebra::DMatrix<f64>)> {
    let correlated = model.machine().correlated()?;
    let rows: Vec<(usize, usize)> = correlated
        .paths
        .iter()
        .enumerate()
        .filter_map(|(row, path)| Some((row, chain.names().iter().position(|n| n == path)?)))
        .collect();
    if rows.is_empty() {
        return None;
    }
    let covariance = nalgebra::DMatrix::from_fn(rows.len(), rows.len(), |i, j| {
        correlated.covariance[(rows[i].0, rows[j].0)]
    });
    Some((
        rows.into_iter().map(|(_, place)| place).collect(),
        covariance,
    ))
}

fn sensor_uses(model: &ToothModel, shape: &Readings<f64>, n_figures: usize) -> Vec<SensorUse> {
    let sheet = &model.machine().sheet().sensors;
    let mut uses: Vec<SensorUse> = sheet
        .iter()
        .map(|sensor| SensorUse {
            reading: None,
            sign: sensor.sign,
            latency_s: sensor.latency_s,
        })
        .collect();
    let mut at = n_figures;
    shape.map(&mut |name, _| {
        if let ReadingName::Sensor { sensor_idx } = name {
            uses[sensor_idx].reading = Some(at);
        }
        at += 1;
    });
    uses
}

/// The fault of a pose that gives no tooth.
fn no_pose(why: &str) -> Fault {
    Fault::new(
        "B006",
        "pose",
        why.to_owned(),
        "a pose inside the strokes",
        "ask for a pose that the machine can take",
    )
}
