//! What the diagnosis page is drawn from: plain numbers, metres and radians.

use holdline_geom::measured::Measured;

use crate::figure::Kind;
use crate::frame::TitleBlock;
use crate::machine_view::MachineView;

/// What the diagnosis found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Found {
    /// Nothing wrong is shown: not that nothing is wrong.
    NothingShown,
    /// One fault or several that these shots cannot tell apart.
    Fault,
    /// Something is wrong and no hypothesis explains it.
    Unexplained,
    /// It could not be looked for: something is missing.
    NotLooked,
}

/// Input of the diagnosis page.
#[derive(Debug, Clone, PartialEq)]
pub struct DiagnosisSheet {
    /// Title block.
    pub block: TitleBlock,
    /// What was found.
    pub found: Found,
    /// The same in words, with its figures.
    pub decision: String,
    /// How it was decided: level, draws, seed.
    pub rule: String,
    /// The shots.
    pub shots: Vec<ShotArrow>,
    /// Stands of the machine in the plan: name, east and north, m.
    pub stands: Vec<(String, [f64; 2])>,
    /// χ² of the differences with nothing wrong, and the number of differences.
    pub chi2_nothing: Option<f64>,
    /// Number of differences.
    pub n_differences: usize,
    /// Hypotheses, best first.
    pub hypotheses: Vec<Hypothesis>,
    /// Why those in the set belong together, such as `cannot be told apart by these shots`.
    pub set_words: String,
    /// What to look at on the machine, first things first.
    pub look_first: Vec<String>,
    /// The one or two shots that would decide it.
    pub next: Vec<NextShot>,
    /// The machine in some pose, for the section.
    pub machine: Option<MachineView>,
    /// What a person must look at, a paragraph each.
    pub findings: Vec<String>,
}

/// A shot and its difference, shown less control.
#[derive(Debug, Clone, PartialEq)]
pub struct ShotArrow {
    /// Its number or name.
    pub id: String,
    /// Tooth in the boom plane: forward of the swing axis and above the track underside, m.
    pub side_m: [f64; 2],
    /// Difference in the boom plane: forward, up; m. Either may be missing.
    pub side_off_m: [Option<f64>; 2],
    /// Tooth in the plan: east, north; m, from wherever the stands count.
    pub plan_m: Option<[f64; 2]>,
    /// Difference in the plan: east, north; m.
    pub plan_off_m: [Option<f64>; 2],
    /// A, B, C, tooth in the boom plane, m; may be empty.
    pub chain_m: Vec<[f64; 2]>,
}

/// One thing that may be wrong.
#[derive(Debug, Clone, PartialEq)]
pub struct Hypothesis {
    /// In the words of the trade: `bucket sensor knocked`.
    pub name: String,
    /// χ² that it leaves.
    pub chi2_left: f64,
    /// Parameters that it takes.
    pub n_parameters: usize,
    /// AIC; the least is the best.
    pub aic: f64,
    /// What it says is off: name, estimate, how it is written.
    pub estimates: Vec<(String, Measured, Kind)>,
    /// Whether it belongs to the set that is reported.
    pub in_set: bool,
    /// A remark, such as `implausible: no tooth grows`; may be empty.
    pub remark: String,
}

/// A shot that would decide.
#[derive(Debug, Clone, PartialEq)]
pub struct NextShot {
    /// What to do, in a sentence or two.
    pub words: String,
    /// What it separates and how far, in words.
    pub separates: String,
    /// The machine in that pose.
    pub machine: Option<MachineView>,
}
