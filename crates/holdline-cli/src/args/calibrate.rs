//! `holdline calibrate …`

use clap::{Args, Subcommand, ValueEnum};
use std::path::PathBuf;

use super::{Keep, Tool};

/// `holdline calibrate …`
#[derive(Debug, Subcommand)]
pub enum CalibrateCommand {
    /// Find dimensions and sensor offsets from what was measured, and how sure they are
    Fit(Box<FitArgs>),
    /// Say which poses to measure next, in the order in which to go through them
    Next(Box<NextArgs>),
    /// Give the calibration as the entries of the control system at hand, and prove them at three poses
    HandOver(Box<HandOverArgs>),
    /// Print the JSON Schema of observations, of a calibration or of terms
    Schema {
        /// Which
        #[arg(value_enum)]
        of: DocumentWord,
    },
}

/// A kind of document.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum DocumentWord {
    /// What was measured
    Observations,
    /// What was found
    Calibration,
    /// The entries of a control system
    Terms,
}

/// What is fitted.
#[derive(Debug, Args)]
pub struct FitWhat {
    /// Machine and tool
    #[command(flatten)]
    pub tool: Tool,
    /// Observations (CSV or TOML); repeat for each file
    #[arg(long, value_name = "FILE")]
    pub observations: Vec<PathBuf>,
    /// What to find: sensors, house, lengths, foot, linkage, coupler, tilt, tooth, antennas,
    /// heading, all, or a path of the sheet such as `boom.length`; repeat; what the observations
    /// touch if left out. What is not named but has an uncertainty on the sheet is carried along
    /// with it; what has none counts as exact, and what leans on it then has no uncertainty
    #[arg(long, value_name = "NAME")]
    pub solve: Vec<String>,
    /// What keeps its value on the sheet: groups or paths as for --solve; repeat. Its uncertainty
    /// there counts in all that leans on it
    #[arg(long, value_name = "NAME")]
    pub hold: Vec<String>,
    /// Standard uncertainty of an antenna position that was read, horizontal,vertical, mm
    #[arg(long, value_name = "MM,MM")]
    pub position_sd_mm: Option<String>,
    /// Standard uncertainty of a heading that was read, degrees
    #[arg(long, value_name = "DEG")]
    pub heading_sd: Option<f64>,
    /// Reject no observation, however wild
    #[arg(long)]
    pub keep_all: bool,
}

/// `holdline calibrate fit`
#[derive(Debug, Args)]
pub struct FitArgs {
    /// What is fitted
    #[command(flatten)]
    pub what: FitWhat,
    /// Write the calibration (TOML) here
    #[arg(long, short, value_name = "FILE")]
    pub output: Option<PathBuf>,
    /// Day of the calibration, ISO 8601; today if left out
    #[arg(long, value_name = "DATE")]
    pub on: Option<String>,
    /// Instruments, in a few words
    #[arg(long, value_name = "WORDS", default_value = "")]
    pub with: String,
    /// Show every observation with its residual
    #[arg(long)]
    pub all: bool,
    /// Record and sheet
    #[command(flatten)]
    pub keep: Keep,
}

/// `holdline calibrate next`
#[derive(Debug, Args)]
pub struct NextArgs {
    /// What is fitted
    #[command(flatten)]
    pub what: FitWhat,
    /// Standard uncertainty of one shot along each axis, mm
    #[arg(long, value_name = "MM")]
    pub shot_sd_mm: Option<f64>,
    /// How the tracks stand: slope in degrees, heading towards which they fall
    #[arg(long, value_name = "DEG,DEG", allow_hyphen_values = true)]
    pub fall: Option<String>,
    /// Seek the figures surest all together instead of the tooth over its reach
    #[arg(long)]
    pub by_figures: bool,
    /// Stop when the tooth is this sure at its worst (k = 1), mm
    #[arg(long, value_name = "MM")]
    pub enough_mm: Option<f64>,
    /// How many poses
    #[arg(long, short, value_name = "NUMBER", default_value_t = 6)]
    pub n: u32,
    /// Write an observations file (CSV) with a row a pose, to be filled in, here
    #[arg(long, short, value_name = "FILE")]
    pub output: Option<PathBuf>,
}

/// `holdline calibrate hand-over`
#[derive(Debug, Args)]
pub struct HandOverArgs {
    /// Machine, calibration and tool
    #[command(flatten)]
    pub tool: Tool,
    /// The entries of the control system at hand, described once (TOML)
    #[arg(long, value_name = "FILE")]
    pub terms: PathBuf,
    /// How far the display may differ from the calibration, mm
    #[arg(long, value_name = "MM")]
    pub allowed_mm: Option<f64>,
    /// Record and sheet
    #[command(flatten)]
    pub keep: Keep,
}
