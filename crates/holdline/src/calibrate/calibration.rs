//! A calibration: new values of a machine's figures, how sure they are together, and what they rest on.
//!
//! A document of its own. It is applied on top of the measured sheet and never overwrites it.

use super::observations::ObservedTool;

/// A calibration, in metres and radians.
#[derive(Debug, Clone, PartialEq)]
pub struct Calibration {
    /// The machine's own name on the job.
    pub machine: String,
    /// SHA-256 of the machine sheet that it stands on, hex.
    pub sheet_hash: String,
    /// What hung on the machine while it was measured.
    pub tool: ObservedTool,
    /// Who calibrated, when, with what.
    pub who: String,
    /// Date, ISO 8601.
    pub on: String,
    /// Instruments.
    pub with: String,
    /// The figures that it says something about.
    pub figures: Vec<CalibratedFigure>,
    /// Correlations of the figures, below the diagonal, row after row: (2,1), (3,1), (3,2), …
    pub correlations: Vec<f64>,
    /// Directions that the observations did not settle, in words.
    pub not_determined: Vec<String>,
}

/// One figure of a calibration.
#[derive(Debug, Clone, PartialEq)]
pub struct CalibratedFigure {
    /// Its path through the machine sheet, such as `sensor[S-boom].offset` or `boom.length`.
    pub path: String,
    /// Value on the sheet before.
    pub before: f64,
    /// Value now.
    pub value: f64,
    /// Standard uncertainty now (k = 1).
    pub sd: f64,
    /// What the figure counts in.
    pub unit: FigureUnit,
}

/// What a figure counts in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FigureUnit {
    /// Metres.
    Metre,
    /// Radians.
    Radian,
}
