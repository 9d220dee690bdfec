//! What is asked of a calibration. It goes into the record as its settings, so that it can be computed again.

use holdline_geom::fault::{Fault, Faults};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::views::{SdPair, ToolAsk, check_sd};

/// A calibration from observations.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
pub struct CalibrateAsk {
    /// Machine and what hung on it; the tooth is the one whose uncertainty is told.
    #[serde(flatten)]
    pub tool: ToolAsk,
    /// Hashes of the observations documents.
    #[serde(default)]
    pub observations: Vec<String>,
    /// Groups (`sensors`, `house`, `lengths`, `foot`, `linkage`, `coupler`, `tilt`, `tooth`, `antennas`, `heading`,
    /// `all`) or paths of the sheet; empty: what the observations touch.
    #[serde(default)]
    pub solve: Vec<String>,
    /// Groups or paths that stay exactly as on the sheet.
    #[serde(default)]
    pub hold: Vec<String>,
    /// Standard uncertainty of one antenna position.
    #[serde(default)]
    pub position_sd_m: Option<SdPair>,
    /// Standard uncertainty of a heading that was read, degrees.
    #[serde(default)]
    pub heading_sd_deg: Option<f64>,
    /// True rejects no observation, however wild.
    #[serde(default)]
    pub keep_all: bool,
    /// Who calibrated.
    #[serde(default)]
    pub who: String,
    /// Day, ISO 8601; filled in when it is left out.
    #[serde(default)]
    pub on: Option<String>,
    /// Instruments.
    #[serde(default)]
    pub with: String,
}

impl CalibrateAsk {
    /// Refuses what cannot be worked with.
    ///
    /// # Errors
    ///
    /// `V042` without observations, `V043` where a calibration would stand on another.
    pub fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::none();
        if let Some(Err(more)) = self.position_sd_m.map(|pair| pair.check("position_sd_m")) {
            faults.0.extend(more.0);
        }
        faults.keep(check_sd("heading_sd_deg", self.heading_sd_deg));
        if self.observations.is_empty() {
            faults.push(Fault::new(
                "V042",
                "observations",
                "no observations",
                "at least one document of observations",
                "import what was measured; `holdline calibrate next` says what to measure",
            ));
        }
        if self.tool.calibration.is_some() {
            faults.push(Fault::new(
                "V043",
                "calibration",
                "a calibration on top of which to calibrate",
                "the measured sheet alone",
                "give all observations together; what the earlier calibration rested on belongs to them",
            ));
        }
        faults.or(())
    }
}

/// The best next poses to measure.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct NextAsk {
    /// As for the fit; without observations it is the plan of a first day.
    #[serde(flatten)]
    pub fit: CalibrateAsk,
    /// How many poses.
    #[serde(default = "six")]
    pub n: u32,
    /// Standard uncertainty of one shot along each axis, m; without it nothing can be weighed.
    #[serde(default)]
    pub shot_sd_m: Option<f64>,
    /// How steeply the tracks stand, degrees.
    #[serde(default)]
    pub fall_deg: f64,
    /// Towards which heading they fall, degrees.
    #[serde(default)]
    pub fall_towards_deg: f64,
    /// True seeks the figures surest all together; else the tooth over its reach.
    #[serde(default)]
    pub by_figures: bool,
    /// Stop when the tooth is this sure (k = 1) at the worst of near, mid and far, m; none: go on.
    #[serde(default)]
    pub enough_sd_m: Option<f64>,
}

fn six() -> u32 {
    6
}

impl NextAsk {
    /// Refuses a number of poses that nobody can measure in a day, and what is no uncertainty.
    ///
    /// # Errors
    ///
    /// `V030`, `V044`.
    pub fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::none();
        faults.keep(check_sd("shot_sd_m", self.shot_sd_m));
        faults.keep(check_sd("enough_sd_m", self.enough_sd_m));
        if !(1..=60).contains(&self.n) {
            faults.push(Fault::new(
                "V044",
                "n",
                self.n.to_string(),
                "1 to 60 poses",
                "ask for as many as can be measured before the next fit",
            ));
        }
        faults.or(())
    }
}

/// The calibration in the entries of the control system at hand.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
pub struct HandOverAsk {
    /// Machine, calibration, tool, tooth point.
    #[serde(flatten)]
    pub tool: ToolAsk,
    /// Hash of the document that describes the entries.
    #[serde(default)]
    pub terms: String,
    /// How far the display may differ from the calibration, m; none shows nothing.
    #[serde(default)]
    pub allowed_m: Option<f64>,
}
