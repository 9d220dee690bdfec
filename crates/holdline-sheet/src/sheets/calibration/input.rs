//! What the calibration report is drawn from: plain numbers, metres and radians.

use holdline_geom::measured::Measured;

use crate::frame::TitleBlock;
use crate::machine_view::MachineView;
use crate::sheets::Outcome;

/// What a figure or a residual counts in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Counts {
    /// Metres: lengths in m, changes and residuals in mm.
    Metres,
    /// Radians: angles, changes and residuals in degrees.
    Radians,
}

/// Input of the calibration report.
#[derive(Debug, Clone, PartialEq)]
pub struct CalibrationSheet {
    /// Title block.
    pub block: TitleBlock,
    /// Whether the fit can be believed.
    pub outcome: Outcome,
    /// The same in words, with the figures of the global test.
    pub decision: String,
    /// Who measured, when, with what.
    pub measured: String,
    /// Directions that these observations did not settle, a sentence each. Empty: all are settled.
    pub not_determined: Vec<String>,
    /// The figures, in the order of the machine.
    pub figures: Vec<CalibratedRow>,
    /// The observations, in the order of the document; those with three coordinates give three.
    pub residuals: Vec<Residual>,
    /// The limit that a residual in its own sd is held to, as a positive number.
    pub limit: Option<f64>,
    /// The limit in words, such as `limit 3.29: one of 1000 good observations lies beyond`.
    pub limit_words: String,
    /// Correlations of the figures. Their names are numbers of rows in `figures`, from 0.
    pub correlations: Correlations,
    /// The tooth near, mid and far, before and after.
    pub tooth: Vec<ToothSure>,
    /// The machine in some pose: the ground on which poses are drawn.
    pub machine: Option<MachineView>,
    /// Poses measured.
    pub poses: Vec<PoseLine>,
    /// Best next poses, the first first; may be empty.
    pub next: Vec<PoseLine>,
    /// What a person must look at, a paragraph each.
    pub findings: Vec<String>,
}

/// A figure before and after.
#[derive(Debug, Clone, PartialEq)]
pub struct CalibratedRow {
    /// What it is, in the words of the trade.
    pub name: String,
    /// What it counts in.
    pub counts: Counts,
    /// Before, with its standard uncertainty where one was stated.
    pub before: Measured,
    /// After, with its standard uncertainty.
    pub now: Measured,
    /// A remark, such as `held fixed` or `not determined`.
    pub remark: String,
}

/// What became of an observation.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Fate {
    /// It counts and the others check it.
    Kept,
    /// It counts, but nothing checks it.
    Unchecked,
    /// It was rejected, and why.
    Rejected(String),
}

/// One observation, or one coordinate of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Residual {
    /// Its name, with the coordinate where it has several: `14 N`.
    pub name: String,
    /// The pose; empty where it belongs to none, such as a tape length.
    pub pose: String,
    /// Its kind, such as `total station, tooth`, `tape`, `reading of S-boom`. Residuals of one kind share a plot.
    pub kind: String,
    /// What it counts in.
    pub counts: Counts,
    /// Observed less fitted, m or rad.
    pub off: Option<f64>,
    /// The same in its own sd: Baarda's w or Pope's τ.
    pub in_sd: Option<f64>,
    /// Redundancy number, 0 to 1.
    pub redundancy: Option<f64>,
    /// Least gross error that the test finds, m or rad.
    pub detectable: Option<f64>,
    /// What such an error, unfound, moves the tooth at the worst pose, m.
    pub at_tooth_m: Option<f64>,
    /// What became of it.
    pub fate: Fate,
    /// Observations that this one cannot be told from, in words; empty: none.
    pub twins: String,
}

/// Correlations.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Correlations {
    /// Which rows of the figures, from 0.
    pub rows: Vec<usize>,
    /// Below the diagonal, row after row: (2,1), (3,1), (3,2), …
    pub below: Vec<f64>,
}

/// The tooth's uncertainty at a working pose.
#[derive(Debug, Clone, PartialEq)]
pub struct ToothSure {
    /// `near`, `mid`, `far`.
    pub name: String,
    /// Forward of the swing axis and above the track underside, m.
    pub side_m: [f64; 2],
    /// Standard uncertainty before: forward, left, up; m.
    pub sd_before_m: [Option<f64>; 3],
    /// Standard uncertainty now: forward, left, up; m.
    pub sd_now_m: [Option<f64>; 3],
}

/// A pose as a line through its pins.
#[derive(Debug, Clone, PartialEq)]
pub struct PoseLine {
    /// Its name or number.
    pub name: String,
    /// A, B, C, tooth: forward of the swing axis and above the track underside, m.
    pub chain_m: Vec<[f64; 2]>,
    /// What a person needs to know of it: heading, lean, joint angles, what was or is to be measured.
    pub words: String,
    /// What it is good for or what became of it: `worst tooth from ± 14 to ± 11 mm`, `1 of 6 rejected`.
    pub remark: String,
}
