//! `holdline budget`

use clap::{Args, ValueEnum};

use super::{Keep, Tool};

/// `holdline budget`
#[derive(Debug, Args)]
pub struct BudgetArgs {
    /// Machine, calibration and tool
    #[command(flatten)]
    pub tool: Tool,
    /// How the machine works: from a bench (2d) or on the site grid (3d)
    #[arg(long = "in", value_name = "MODE", value_enum, default_value_t = ModeWord::ThreeD)]
    pub mode: ModeWord,
    /// Joint angle of the pose, such as `boom=22`; repeat for each joint; what is left out stands in mid-stroke
    #[arg(long = "joint", value_name = "NAME=DEG")]
    pub joints: Vec<String>,
    /// Pitch of the house, nose up positive
    #[arg(
        long,
        value_name = "DEG",
        default_value_t = 0.0,
        allow_negative_numbers = true
    )]
    pub pitch: f64,
    /// Roll of the house, right side down positive
    #[arg(
        long,
        value_name = "DEG",
        default_value_t = 0.0,
        allow_negative_numbers = true
    )]
    pub roll: f64,
    /// Heading of the boom on the site grid, clockwise from north
    #[arg(
        long,
        value_name = "DEG",
        default_value_t = 0.0,
        allow_negative_numbers = true
    )]
    pub heading: f64,
    /// Standard uncertainty of an antenna position, horizontal,vertical, mm
    #[arg(long, value_name = "MM,MM")]
    pub position_sd_mm: Option<String>,
    /// Standard uncertainty of a heading that no pair of antennas gives, degrees
    #[arg(long, value_name = "DEG")]
    pub heading_sd: Option<f64>,
    /// Standard uncertainty of the localization, horizontal,vertical, mm
    #[arg(long, value_name = "MM,MM")]
    pub localization_sd_mm: Option<String>,
    /// Standard uncertainty of the bench's height, mm
    #[arg(long, value_name = "MM")]
    pub bench_sd_mm: Option<f64>,
    /// Standard uncertainty of one touch of a mark, mm
    #[arg(long, value_name = "MM")]
    pub touch_sd_mm: Option<f64>,
    /// Standard uncertainty of a transfer mark, mm
    #[arg(long, value_name = "MM")]
    pub mark_sd_mm: Option<f64>,
    /// How many times the machine moves and benches again
    #[arg(long, value_name = "NUMBER", default_value_t = 0)]
    pub moves: u32,
    /// Play of the pins, half of it, mm
    #[arg(long, value_name = "MM")]
    pub pin_play_mm: Option<f64>,
    /// Deflection of the front at full reach, mm
    #[arg(long, value_name = "MM")]
    pub deflection_mm: Option<f64>,
    /// How late positions and heading are, ms; the sensors' own latencies stand on the sheet
    #[arg(long, value_name = "MS")]
    pub latency_ms: Option<f64>,
    /// Speed of the tooth while it is read, m/s
    #[arg(long, value_name = "M_S")]
    pub speed: Option<f64>,
    /// The face to be dug: slope in degrees, azimuth towards which it falls
    #[arg(long, value_name = "DEG,DEG", allow_hyphen_values = true)]
    pub face: Option<String>,
    /// Height tolerance: below,above in mm, such as `-30,20`
    #[arg(long, value_name = "MM,MM", allow_hyphen_values = true)]
    pub height_mm: Option<String>,
    /// Tolerance in plan, any direction, mm
    #[arg(long, value_name = "MM")]
    pub plan_mm: Option<f64>,
    /// Tolerance along the face's normal, mm
    #[arg(long, value_name = "MM", requires = "face")]
    pub normal_mm: Option<f64>,
    /// One side of the tolerance alone can be broken
    #[arg(long)]
    pub one_sided: bool,
    /// Standard uncertainty of the line between the two antennas, mm; left out, they are taken to err apart
    #[arg(long, value_name = "MM")]
    pub pair_sd_mm: Option<f64>,
    /// Reach that the job needs, from,to in m forward of the swing axis
    #[arg(long, value_name = "M,M", allow_hyphen_values = true)]
    pub work_reach: Option<String>,
    /// Heights that the job needs, from,to in m over the track ground
    #[arg(long, value_name = "M,M", allow_hyphen_values = true)]
    pub work_height: Option<String>,
    /// Part of the bucket's stroke that the job uses, from,to in degrees of the bucket joint
    #[arg(long, value_name = "DEG,DEG", allow_hyphen_values = true)]
    pub work_bucket: Option<String>,
    /// Draws of a Monte Carlo beside the linear result; 0 makes none
    #[arg(long, value_name = "NUMBER", default_value_t = 20_000)]
    pub draws: u32,
    /// Seed of the draws
    #[arg(long, value_name = "NUMBER", default_value_t = 1)]
    pub seed: u32,
    /// Points of the map over the envelope: forward,up; 0,0 makes none
    #[arg(long, value_name = "N,N", default_value = "60,60")]
    pub grid: String,
    /// Record and sheet
    #[command(flatten)]
    pub keep: Keep,
}

/// How the machine works.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum ModeWord {
    /// From a bench
    #[value(name = "2d")]
    TwoD,
    /// On the site grid
    #[value(name = "3d")]
    ThreeD,
}
