//! What a fit found.

use super::super::calibration::{CalibratedFigure, Calibration, FigureUnit};
use super::super::observations::ObservedTool;
use crate::machine::front::ToolChoice;
use crate::machine::joints::Joints;
use crate::tooth::attitude::Lean;
use holdline_geom::measured::Measured;
use nalgebra::DMatrix;

/// A calibration as it came out of what was measured.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// The machine's own name.
    pub machine: String,
    /// What hung on it.
    pub tool: ObservedTool,
    /// Tool and tooth point that uncertainties at the tooth are told for.
    pub choice: ToolChoice,
    /// Whether it can be believed; if not, why not.
    pub belief: Belief,
    /// What was found, in the order of the sheet; after it what was held and bends what was found.
    pub figures: Vec<FittedFigure>,
    /// Covariance of all figures in their order; rows of a figure without an sd are zero.
    pub covariance: DMatrix<f64>,
    /// The global test; none where no observation is left over to test with.
    pub global: Option<Global>,
    /// How the place of the least squares was found.
    pub searched: bool,
    /// One entry a number that was measured or read, the rejected among them.
    pub readings: Vec<FittedReading>,
    /// Limit that [`FittedReading::in_sd`] is held to.
    pub limit: f64,
    /// What was taken out, in that order.
    pub rejected: Vec<Rejection>,
    /// Readings whose tests cannot tell them apart, in words.
    pub inseparable: Vec<String>,
    /// What these observations do not determine at all.
    pub not_determined: Vec<Open>,
    /// What they say little more of than the sheet did: sd after above 0.9 of the sd before.
    pub weak: Vec<Open>,
    /// The tooth's uncertainty at near, middle and far reach over the ground.
    pub tooth: Vec<ToothSure>,
    /// The poses that were measured, as adjusted.
    pub poses: Vec<FittedPose>,
    /// Figures that the observations or the tooth depend on, that have no uncertainty on the sheet and were
    /// not to be found: they counted as exact, and what leans on them has no uncertainty.
    pub held: Vec<String>,
    /// Rows that repeat another to the last digit: pairs of names.
    pub copied: Vec<String>,
    /// Unknowns that belong to the measuring: set-ups, headings, marks.
    pub set_up: Vec<SetUpUnknown>,
    /// What a person must look at, in words.
    pub findings: Vec<String>,
}

/// Whether a fit can be believed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Belief {
    /// The residuals are as the stated uncertainties make them, something checks them, and everything
    /// that moves the tooth is determined.
    Believed,
    /// It is not, and these are the reasons.
    NotBelieved(Vec<String>),
}

/// One figure, before and after.
#[derive(Debug, Clone, PartialEq)]
pub struct FittedFigure {
    /// Path through the sheet.
    pub path: String,
    /// What it counts in.
    pub unit: FigureUnit,
    /// On the sheet.
    pub before: Measured,
    /// Now.
    pub value: f64,
    /// Standard uncertainty now; none where the observations did not determine it.
    pub sd: Option<f64>,
    /// Whether it was to be found or was carried along with its uncertainty.
    pub role: Role,
}

/// What a figure was in a fit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Role {
    /// It was to be found.
    Sought,
    /// It was carried along with the uncertainty that the sheet gives it.
    Carried,
    /// It stayed as on the sheet; its uncertainty there counts in all that leans on it.
    Held,
}

/// The global test: the weighted squares that are left, against what noise makes of them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Global {
    /// vᵀ Q⁻¹ v.
    pub chi2: f64,
    /// Degrees of freedom.
    pub dof: usize,
    /// Bounds within which it lies, as often as the level says, where everything is as stated.
    pub within: [f64; 2],
}

impl Global {
    /// Whether the test holds. What is not a number does not.
    pub fn holds(&self) -> bool {
        self.within[0] <= self.chi2 && self.chi2 <= self.within[1]
    }
}

/// One number that was measured or read.
#[derive(Debug, Clone, PartialEq)]
pub struct FittedReading {
    /// The observation, by its place among them; none for a figure's value on the sheet.
    pub observation_idx: Option<usize>,
    /// Its name; the figure's path where it is one.
    pub name: String,
    /// Which part: `easting`, `length`, `reading of S-boom`.
    pub part: String,
    /// What it is, in words: `total station, tooth centre`, `tape, pin A to pin B`.
    pub kind: String,
    /// Its pose; empty where it has none.
    pub pose: String,
    /// What it counts in.
    pub unit: FigureUnit,
    /// As measured.
    pub measured: f64,
    /// Its standard uncertainty.
    pub sd: f64,
    /// Measured less adjusted.
    pub off: f64,
    /// The same in its own standard uncertainty (Baarda's w); none where nothing checks it.
    pub in_sd: Option<f64>,
    /// Redundancy number: 0 nothing checks it, 1 it is checked in full.
    pub redundancy: f64,
    /// Least gross error that the test finds (level 0.001, power 0.80); none where nothing checks it.
    pub detectable: Option<f64>,
    /// What such an error, unfound, moves the tooth at the worst of near, middle and far, m.
    pub at_tooth_m: Option<f64>,
    /// What became of it.
    pub state: ReadingState,
    /// Others that its test cannot be told from.
    pub twins: Vec<String>,
}

/// What became of a reading.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ReadingState {
    /// It counts, and others check it.
    Used,
    /// It counts, and next to nothing checks it: a gross error in it would hide.
    Unchecked,
    /// It was taken out.
    Rejected,
}

/// A reading that was taken out.
#[derive(Debug, Clone, PartialEq)]
pub struct Rejection {
    /// Its place among [`Fit::readings`].
    pub reading_idx: usize,
    /// Its test when it was taken out, in its own standard uncertainty.
    pub in_sd: f64,
    /// χ² before and after.
    pub chi2: [f64; 2],
    /// Why, and what it looks like, in words.
    pub why: String,
}

/// A direction that the observations leave open, or nearly.
#[derive(Debug, Clone, PartialEq)]
pub struct Open {
    /// In words, with what would settle it.
    pub words: String,
    /// The figures in it and their parts, largest first; m and rad that go together.
    pub parts: Vec<(String, f64)>,
    /// How far the tooth moves along it at the worst of near, middle and far, m per millimetre or
    /// milliradian of the largest part; what is open and does not move the tooth does no harm there.
    pub at_tooth_m: f64,
    /// sd after over sd before; 1 where nothing was learned.
    pub sd_ratio: f64,
}

/// The tooth's uncertainty in one working pose, in `Level`: forward, left, up.
#[derive(Debug, Clone, PartialEq)]
pub struct ToothSure {
    /// `near`, `mid`, `far`.
    pub name: String,
    /// The joints.
    pub joints: Joints,
    /// Where the tooth is: forward of the swing axis, left of it, above track ground level, m.
    pub at_m: [f64; 3],
    /// Standard uncertainty by the sheet as it was, one reading of each sensor included.
    pub sd_before_m: Option<[f64; 3]>,
    /// The same with this calibration, its correlations counted.
    pub sd_m: Option<[f64; 3]>,
    /// The part of it that the calibration leaves, without the scatter of readings.
    pub sd_of_figures_m: Option<[f64; 3]>,
}

/// A pose that was measured.
#[derive(Debug, Clone, PartialEq)]
pub struct FittedPose {
    /// Its name.
    pub name: String,
    /// The stand.
    pub stand: String,
    /// Joints as adjusted.
    pub joints: Joints,
    /// Lean of the house as adjusted.
    pub lean: Lean,
    /// Pins A, B, C and the tooth in `Level`: forward, up, m.
    pub chain_m: [[f64; 2]; 4],
    /// Numbers used.
    pub n_used: usize,
    /// Numbers taken out.
    pub n_rejected: usize,
}

/// An unknown that belongs to the measuring.
#[derive(Debug, Clone, PartialEq)]
pub struct SetUpUnknown {
    /// What it is, in words.
    pub words: String,
    /// Its value, m or rad.
    pub value: f64,
    /// Its standard uncertainty; none where nothing determines it.
    pub sd: Option<f64>,
}

impl Fit {
    /// Correlation of two figures by their places; none where one of them has no sd.
    pub fn correlation(&self, a: usize, b: usize) -> Option<f64> {
        let (sd_a, sd_b) = (self.figures[a].sd?, self.figures[b].sd?);
        Some(self.covariance[(a, b)] / (sd_a * sd_b))
    }

    /// The calibration that this fit makes: a document of its own, to be applied on top of the sheet.
    ///
    /// `sheet_hash` is that of the very sheet that was fitted.
    pub fn calibration(&self, sheet_hash: &str, who: &str, on: &str, with: &str) -> Calibration {
        let mut correlations = Vec::new();
        for a in 0..self.figures.len() {
            for b in 0..a {
                correlations.push(self.correlation(a, b).unwrap_or(0.0));
            }
        }
        let not_determined = self.not_determined.iter().map(|o| o.words.clone());
        Calibration {
            machine: self.machine.clone(),
            sheet_hash: sheet_hash.to_owned(),
            tool: self.tool.clone(),
            who: who.to_owned(),
            on: on.to_owned(),
            with: with.to_owned(),
            figures: self
                .figures
                .iter()
                .map(|f| CalibratedFigure {
                    path: f.path.clone(),
                    before: f.before.value,
                    value: f.value,
                    sd: f.sd,
                    unit: f.unit,
                })
                .collect(),
            correlations,
            belief: self.belief.clone(),
            not_determined: not_determined.collect(),
        }
    }
}
