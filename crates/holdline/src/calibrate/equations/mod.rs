//! The equations between what was measured and the machine: one block a pose.
//!
//! ```text
//! point shot        o + Rz(90° − ψ) Ry(−θ) Rx(φ) p(q, x) − l = 0
//! point on a mark   o + Rz(90° − ψ) Ry(−θ) Rx(φ) p(q, x) − m − l = 0      l read as 0
//! tape              |p₂(q, x) − p₁(q, x)| − l = 0
//! slope             atan2(Δz, Δx) in the boom plane + θ* − l = 0
//! house turned      θ − asin u_x = 0,  φ − atan2(u_y, u_z) = 0            u = Rz(ψ) t
//! ```
//!
//! - Symbols: x the machine's figures; q the joints, θ and φ the lean, all three from the readings of
//!   the pose, which are observations too; o the swing axis at track ground level in the frame that was
//!   measured in, ψ the boom direction there; m the mark; t the swing axis's own lean; l what was measured.
//! - A joint, a heading or a lean that nothing was read of is an unknown of that pose.
//! - Exact: slopes by dual numbers through the very chain that gives the tooth.

mod blocks;
mod build;
mod checked;
mod frames;
mod pose;
mod readings;
mod rig;
mod start;
mod trim;

pub(crate) use blocks::target_words;
pub(crate) use build::{Observed, ReadingSds, build};
pub(crate) use pose::{At, PosedBlock};
pub(crate) use rig::Rig;

use super::observations::Target;
use crate::tooth::plan::Plan;
use holdline_geom::adjust::{Equations, Linear, Shape};
use holdline_geom::fault::Fault;
use num_dual::DualSVec64;

/// How many variables one pass differentiates by.
pub(crate) const N_LANES: usize = 16;

/// A value with its slopes by [`N_LANES`] variables.
pub(crate) type Lanes = DualSVec64<N_LANES>;

/// A number that an equation may depend on, by where it is kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Var {
    /// A figure of the machine, which is an unknown.
    Figure {
        /// Its place in the rig.
        figure_idx: usize,
        /// Its place among the unknowns.
        unknown_idx: usize,
    },
    /// An unknown that is no figure.
    Nuisance {
        /// Its place among the unknowns.
        unknown_idx: usize,
    },
    /// A reading of the block.
    Reading {
        /// Its place in the block.
        reading_idx: usize,
    },
}

/// A number that the equations use.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Slot {
    /// A reading of the block.
    Read(usize),
    /// An unknown.
    Sought(usize),
    /// A plain number: nothing was read and nothing depends on it.
    Plain(f64),
}

/// Where the boom points in a frame, clockwise from the frame's north.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Heading {
    /// As read, less the heading's offset, from the frame's own zero.
    Read { heading: Slot, azimuth: Slot },
    /// By the swing encoder, from the azimuth of the tracks.
    Swing { azimuth: Slot },
    /// As it is: unknown in this pose, or the turn that was read.
    Is(Slot),
}

/// How the house leans.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum LeanOf {
    /// By the house sensor.
    Sensor([Slot; 2]),
    /// By the swing axis's own lean in the frame and the heading.
    Axis([Slot; 2]),
    /// As it is: pitch and roll unknown in this pose.
    Is([Slot; 2]),
}

/// The machine as seen in one frame in one pose.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct View {
    pub heading: Heading,
    pub lean: LeanOf,
    /// The swing axis in the frame: east, north, up.
    pub origin: [Slot; 3],
}

/// A point whose place is asked of the chain.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Spot {
    /// A point of the machine.
    Target(Target),
    /// A target fixed on the link that turns about a pin, by its coordinates there.
    OnLink { pin: Target, at: [Slot; 3] },
}

/// One equation.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Row {
    /// One coordinate of a point in the frame of a view; on a mark, where it is a touch.
    Coordinate {
        view_idx: usize,
        spot: Spot,
        axis: usize,
        mark: Slot,
        reading_idx: usize,
    },
    /// A distance.
    Tape {
        view_idx: usize,
        from: Spot,
        to: Spot,
        reading_idx: usize,
    },
    /// A slope.
    Slope {
        view_idx: usize,
        from: Spot,
        to: Spot,
        reading_idx: usize,
    },
    /// The house's lean against that of the swing axis: pitch (0) or roll (1).
    Turned {
        view_idx: usize,
        tilt: [Slot; 2],
        which: usize,
    },
}

impl Row {
    pub(crate) fn view_idx(&self) -> usize {
        match self {
            Row::Coordinate { view_idx, .. }
            | Row::Tape { view_idx, .. }
            | Row::Slope { view_idx, .. }
            | Row::Turned { view_idx, .. } => *view_idx,
        }
    }
}

/// All equations of one pose.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Block {
    /// As read, with their covariance.
    pub readings: Vec<f64>,
    pub covariance: Vec<f64>,
    /// What the sensors gave, in the order of the sheet.
    pub sensors: Vec<Option<Slot>>,
    pub views: Vec<View>,
    pub rows: Vec<Row>,
    /// What the rows depend on through the chain.
    pub vars: Vec<Var>,
}

/// The equations of a whole calibration.
#[derive(Debug, Clone)]
pub(crate) struct System {
    /// With the sensors of the sheet, and stand-ins for joints that have none.
    pub plan: Plan,
    /// The same with the strokes that the sheet gives.
    pub plan_with_strokes: Plan,
    /// For an attitude that is no reading.
    pub plan_without_house: Plan,
    /// Value of every figure where it is no unknown, and where the search begins where it is.
    pub rig: Rig<f64>,
    /// Names of the teeth, in the order of the rig.
    pub teeth: Vec<String>,
    /// Names of the antennas.
    pub antennas: Vec<String>,
    /// Which unknown a figure is.
    pub unknown_of_figure: Vec<Option<usize>>,
    pub n_unknowns: usize,
    pub blocks: Vec<Block>,
}

impl System {
    /// The same with every figure and reading a variable of every block.
    pub(crate) fn with_all_vars(mut self) -> System {
        let figures: Vec<Var> = self
            .unknown_of_figure
            .iter()
            .enumerate()
            .filter_map(|(figure_idx, unknown_idx)| {
                Some(Var::Figure {
                    figure_idx,
                    unknown_idx: (*unknown_idx)?,
                })
            })
            .collect();
        for block in &mut self.blocks {
            let readings =
                (0..block.readings.len()).map(|reading_idx| Var::Reading { reading_idx });
            block.vars = figures.iter().copied().chain(readings).collect();
        }
        self
    }
}

impl Equations for System {
    fn n_blocks(&self) -> usize {
        self.blocks.len()
    }

    fn shape(&self, block: usize) -> Shape {
        Shape {
            n_rows: self.blocks[block].rows.len(),
            n_readings: self.blocks[block].readings.len(),
        }
    }

    fn readings(&self, block: usize) -> &[f64] {
        &self.blocks[block].readings
    }

    fn covariance(&self, block: usize) -> &[f64] {
        &self.blocks[block].covariance
    }

    fn fill(&self, block: usize, x: &[f64], l: &[f64], out: &mut Linear) -> Result<(), Fault> {
        let block = &self.blocks[block];
        let (n_x, n_l) = (self.n_unknowns, block.readings.len());
        let posed = PosedBlock {
            system: self,
            block,
        };
        let n_passes = block.vars.len().div_ceil(N_LANES).max(1);
        for pass in 0..n_passes {
            let first = pass * N_LANES;
            let lanes = &block.vars[first..(first + N_LANES).min(block.vars.len())];
            let at = At::with_lanes(self, x, l, lanes);
            let values = posed.values(&at)?;
            for (row, value) in values.iter().enumerate() {
                if pass == 0 {
                    out.w[row] = value.re;
                }
                let Some(slopes) = value.eps.0 else {
                    continue;
                };
                for (lane, var) in lanes.iter().enumerate() {
                    match *var {
                        Var::Figure { unknown_idx, .. } | Var::Nuisance { unknown_idx } => {
                            out.a[row * n_x + unknown_idx] = slopes[lane];
                        }
                        Var::Reading { reading_idx } => {
                            out.b[row * n_l + reading_idx] = slopes[lane];
                        }
                    }
                }
            }
        }
        for (row, what) in block.rows.iter().enumerate() {
            posed.add_plain(what, row, x, l, out);
        }
        Ok(())
    }
}
