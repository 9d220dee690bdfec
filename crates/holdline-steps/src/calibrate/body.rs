//! What a fit found, as numbers in SI: the result that goes into the record.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::verify::{Answer, FindingBody};

/// What a number counts in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum CountsIn {
    /// Metres.
    M,
    /// Radians.
    Rad,
}

/// The global test of a fit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct GlobalBody {
    /// Weighted sum of squares that is left.
    pub chi2: f64,
    /// Degrees of freedom.
    pub dof: u32,
    /// Bounds that it lies within in 95 of 100 fits where everything is as stated.
    pub bounds: [f64; 2],
}

/// A figure before and after.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FittedBody {
    /// Its path through the machine sheet.
    pub path: String,
    /// What it counts in.
    pub unit: CountsIn,
    /// On the sheet.
    pub before: f64,
    /// Its standard uncertainty there.
    pub before_sd: Option<f64>,
    /// Now.
    pub value: f64,
    /// Its standard uncertainty now; none where the observations did not determine it.
    pub sd: Option<f64>,
    /// Whether it was sought, carried along with the sheet's uncertainty, or held.
    #[serde(default)]
    pub part: Part,
}

/// What a figure was in a fit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Part {
    /// It was to be found.
    #[default]
    Sought,
    /// It came along with the uncertainty that the sheet gives it.
    Carried,
    /// It stayed as on the sheet, whose uncertainty counts in all that leans on it.
    Held,
}

/// What became of an observation.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum State {
    /// It counts and the others check it.
    Used,
    /// It counts, but nothing checks it.
    Unchecked,
    /// It was rejected.
    Rejected,
}

/// One equation of one observation: a coordinate, a length, an angle, a reading.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ResidualBody {
    /// The observation.
    pub name: String,
    /// Which part of it, such as `N`; empty where it has one alone.
    pub part: String,
    /// Its kind in words: `total station, tooth`, `tape`, `reading of S-boom`.
    pub kind: String,
    /// Its pose.
    pub pose: String,
    /// What it counts in.
    pub unit: CountsIn,
    /// Observed less fitted.
    pub off: Option<f64>,
    /// The same in its own standard uncertainty.
    pub in_sd: Option<f64>,
    /// Redundancy number, 0 to 1.
    pub redundancy: Option<f64>,
    /// Least gross error that the test finds (0.001, power 0.80).
    pub detectable: Option<f64>,
    /// What such an error, unfound, moves the tooth, m.
    pub at_tooth_m: Option<f64>,
    /// What became of it.
    pub state: State,
    /// Why it was rejected; empty where it was not.
    pub why: String,
    /// Observations that this one cannot be told from.
    pub twins: Vec<String>,
}

impl ResidualBody {
    /// Its name with the part: `14 N`.
    pub fn label(&self) -> String {
        match self.part.as_str() {
            "" => self.name.clone(),
            part => format!("{} {part}", self.name),
        }
    }
}

/// The tooth's uncertainty at a working pose: forward, left, up.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ToothSureBody {
    /// `near`, `mid`, `far`.
    pub name: String,
    /// Joint angles, degrees.
    pub joints_deg: Vec<(String, f64)>,
    /// Forward of the swing axis, left of it, above the track underside, m.
    pub at_m: [f64; 3],
    /// Standard uncertainty by the sheet, m.
    pub before_sd_m: Option<[f64; 3]>,
    /// Standard uncertainty with the calibration, m.
    pub sd_m: Option<[f64; 3]>,
    /// The part of it that the calibration leaves, without the scatter of readings, m.
    pub figures_sd_m: Option<[f64; 3]>,
}

/// A pose that was measured: pins and tooth in the boom plane.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MeasuredPoseBody {
    /// Its name.
    pub name: String,
    /// Where the tracks stood.
    pub stand: String,
    /// A, B, C, tooth: forward of the swing axis and above the track underside, m.
    pub chain_m: Vec<[f64; 2]>,
    /// How many of its observations were used, and how many were rejected.
    pub n_used_rejected: [u32; 2],
}

/// What the rows of an antenna's circle, of an arc about a pin or of a turned house say by themselves.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct AloneBody {
    /// What it is, in words.
    pub what: String,
    /// What it gives.
    pub figures: Vec<AloneFigureBody>,
    /// What to look at, in words.
    pub findings: Vec<String>,
}

/// One figure that rows give by themselves.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct AloneFigureBody {
    /// What it is.
    pub name: String,
    /// What it counts in.
    pub unit: CountsIn,
    /// By these rows alone.
    pub alone: f64,
    /// Its standard uncertainty; none where one is not stated.
    pub sd: Option<f64>,
    /// By all observations together, or by the sheet where these left it.
    pub together: Option<f64>,
    /// How far the two are apart, in the standard uncertainty of their difference.
    pub apart_in_sd: Option<f64>,
}

/// A fit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FitBody {
    /// Whether it can be believed.
    pub believed: Answer,
    /// Why not; none where it can.
    pub because: Option<String>,
    /// The global test; none where nothing is left to test with.
    pub global: Option<GlobalBody>,
    /// Figures that it says something about.
    pub figures: Vec<FittedBody>,
    /// Figures that correlations are given of, as rows of `figures` from 0.
    pub correlated_rows: Vec<u32>,
    /// Their correlations, below the diagonal, row after row.
    pub correlations: Vec<f64>,
    /// Equations of all observations, the rejected among them.
    pub residuals: Vec<ResidualBody>,
    /// The limit that residuals in their own sd are held to.
    pub limit: f64,
    /// What was rejected, in the order of rejection, and why.
    pub rejected: Vec<FindingBody>,
    /// Observations that cannot be told apart, in words.
    pub inseparable: Vec<String>,
    /// Directions that these observations do not settle, in words.
    pub not_determined: Vec<String>,
    /// Directions of which they say little more than the sheet did, in words.
    pub weak: Vec<String>,
    /// What some rows say by themselves; empty where there are none of such a kind.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub alone: Vec<AloneBody>,
    /// The tooth near, mid and far.
    pub tooth: Vec<ToothSureBody>,
    /// Poses measured.
    pub poses: Vec<MeasuredPoseBody>,
    /// What to do next.
    pub next: Vec<String>,
    /// What to look at.
    pub findings: Vec<FindingBody>,
    /// SHA-256 of the calibration document that came out.
    pub calibration: String,
}
