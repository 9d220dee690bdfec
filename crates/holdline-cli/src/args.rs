//! Every command, option and word of help, once; completions and man pages come from here.

mod budget;
mod calibrate;

pub use budget::{BudgetArgs, ModeWord};
pub use calibrate::{CalibrateCommand, DocumentWord, FitArgs, FitWhat, HandOverArgs, NextArgs};

use clap::{Args, Parser, Subcommand, ValueEnum};
use std::path::PathBuf;

/// Printed under every help page.
const CAUTION: &str = "\
holdline plans and checks. It steers no machine, stops no machine and is no safety function.
It does not replace the asset owner's permit, the local code, utility location, a spotter
or a competent person's decision.

Exit code: 0 done and good, 1 done and the answer is no or not shown, 2 input unusable, 3 our fault.";

/// Where the bucket tooth is, and the proof of it.
#[derive(Debug, Parser)]
#[command(name = "holdline", version, after_help = CAUTION, disable_help_subcommand = true)]
#[command(propagate_version = true, arg_required_else_help = true)]
pub struct Cli {
    /// What is to be done.
    #[command(subcommand)]
    pub command: Command,
    /// Options of every command.
    #[command(flatten)]
    pub common: Common,
}

/// Options of every command.
#[derive(Debug, Args)]
pub struct Common {
    /// Print one JSON object (SI units) instead of words
    #[arg(long, global = true)]
    pub json: bool,
    /// Units for show
    #[arg(long, global = true, value_enum, default_value_t = Units::Metric)]
    pub units: Units,
    /// Show no progress
    #[arg(long, global = true)]
    pub quiet: bool,
}

/// Units for show.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Units {
    /// Metres
    Metric,
    /// International feet, 0.3048 m
    IntlFt,
    /// US survey feet, 1200/3937 m
    UsFt,
}

impl From<Units> for holdline_steps::units::Units {
    fn from(units: Units) -> Self {
        match units {
            Units::Metric => Self::Metric,
            Units::IntlFt => Self::IntlFt,
            Units::UsFt => Self::UsFt,
        }
    }
}

/// The commands, in the order of the job.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Measure up: check a machine sheet, show it, pose it, draw it, hand it out in open formats
    #[command(subcommand)]
    Machine(MachineCommand),
    /// Turn a stream of readings into teeth, from a file or standard input
    Tooth(ToothArgs),
    /// Calibrate: dimensions and sensor offsets from what was measured, what to measure next, hand-over
    #[command(subcommand)]
    Calibrate(CalibrateCommand),
    /// Prove the tooth: check shots against control, or the morning check with --daily
    Verify(Box<VerifyArgs>),
    /// What accuracy the machine can hold: over its envelope, in 2D and 3D, against a task
    Budget(Box<BudgetArgs>),
    /// The job file: documents, records, sign-off, chain
    #[command(subcommand)]
    Record(RecordCommand),
    /// Open the workbench in a browser, on this computer alone
    Serve(ServeArgs),
    /// Make the demo job and run the whole chain on it
    Demo(DemoArgs),
    /// Tell the long story of a fault or finding code
    Explain {
        /// The code, such as M012; none lists them all
        code: Option<String>,
    },
    /// Print shell completions
    #[command(hide = true)]
    Completions {
        /// The shell
        shell: clap_complete::Shell,
    },
    /// Write man pages into a folder
    #[command(hide = true)]
    Man {
        /// The folder
        folder: PathBuf,
    },
}

/// A machine sheet and the tool on it.
#[derive(Debug, Args, Clone)]
pub struct Tool {
    /// Machine sheet (TOML)
    #[arg(long, value_name = "FILE")]
    pub machine: PathBuf,
    /// Calibration (TOML) of this sheet, applied on top of it
    #[arg(long, value_name = "FILE")]
    pub calibration: Option<PathBuf>,
    /// Coupler on the pins; none for a bucket pinned on directly
    #[arg(long, value_name = "NAME")]
    pub coupler: Option<String>,
    /// Tilting device between coupler (or pins) and bucket
    #[arg(long, value_name = "NAME")]
    pub tilt: Option<String>,
    /// Bucket; may be left out when the sheet has only one
    #[arg(long, value_name = "NAME")]
    pub bucket: Option<String>,
    /// Tooth point, seen from the operator's seat: left, centre, right or a name of the sheet
    #[arg(long, value_name = "NAME", default_value = "centre")]
    pub tooth: String,
    /// Say that the bucket hangs on the machine's own pins, where the sheet has couplers
    #[arg(long, conflicts_with = "coupler")]
    pub pin_on: bool,
}

/// Where the record goes.
#[derive(Debug, Default, Args)]
pub struct InJob {
    /// Job file to keep the record in; documents are added to it
    #[arg(long, value_name = "FILE")]
    pub job: Option<PathBuf>,
    /// The job is a new one, though another of nearly the same name lies beside it
    #[arg(long, requires = "job")]
    pub new_job: bool,
    /// Who does this; makes the record where a job is named
    #[arg(long, value_name = "NAME")]
    pub by: Option<String>,
}

/// Where the record and its sheet go.
#[derive(Debug, Args)]
pub struct Keep {
    /// Where the record goes.
    #[command(flatten)]
    pub in_job: InJob,
    /// Write the sheet here: SVG, PDF or PNG by the file's ending
    #[arg(long, value_name = "FILE")]
    pub sheet: Option<PathBuf>,
}

/// `holdline machine …`
#[derive(Debug, Subcommand)]
pub enum MachineCommand {
    /// Check a machine sheet: all faults at once, with line and column
    Check {
        /// Machine sheet (TOML)
        sheet: PathBuf,
    },
    /// Show every figure with its uncertainty, the joint ranges and what is fitted
    Show {
        /// Machine sheet (TOML)
        sheet: PathBuf,
    },
    /// Say which jobs the machine can do as it is fitted out, and what is missing for the next
    Ready {
        /// Machine sheet (TOML)
        sheet: PathBuf,
        /// Calibration (TOML) of this sheet
        #[arg(long, value_name = "FILE")]
        calibration: Option<PathBuf>,
        /// Write the table here: SVG, PDF or PNG by the file's ending
        #[arg(long, short, value_name = "FILE")]
        output: Option<PathBuf>,
    },
    /// Put the machine in a pose: where are the pins and the tooth
    Pose(PoseArgs),
    /// Put the tooth somewhere: which joint angles and cylinder lengths, or why not
    Reach(ReachArgs),
    /// Draw a pose, section and plan with dimensions, as SVG, PDF or PNG by the file's ending
    Draw {
        /// The pose
        #[command(flatten)]
        pose: PoseArgs,
        /// Where to write
        #[arg(long, short, value_name = "FILE")]
        output: PathBuf,
    },
    /// Hand the machine out in an open format: URDF, or GLB with a pose
    Export {
        /// The pose
        #[command(flatten)]
        pose: PoseArgs,
        /// Where to write; the ending says what: .urdf or .glb
        #[arg(long, short, value_name = "FILE")]
        output: PathBuf,
    },
    /// Print the JSON Schema of the machine sheet
    Schema,
}

/// A pose; degrees.
#[derive(Debug, Args, Clone)]
pub struct PoseArgs {
    /// Machine and tool
    #[command(flatten)]
    pub tool: Tool,
    /// Joint angle, such as `boom=22`; repeat for each joint; what is left out stands in mid-stroke
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
    #[arg(long, value_name = "DEG", allow_negative_numbers = true)]
    pub heading: Option<f64>,
    /// Where the swing axis meets the ground: easting,northing,elevation in metres
    #[arg(long, value_name = "E,N,U", allow_hyphen_values = true)]
    pub stand: Option<String>,
    /// Height of a bench over the track ground, m, for 2D
    #[arg(long, value_name = "M", allow_negative_numbers = true)]
    pub bench: Option<f64>,
    /// Standard uncertainty of the bench height, mm; unknown if left out
    #[arg(long, value_name = "MM", requires = "bench")]
    pub bench_sd_mm: Option<f64>,
    /// Standard uncertainty of an antenna position, horizontal,vertical, mm; unknown if left out
    #[arg(long, value_name = "MM,MM")]
    pub position_sd_mm: Option<String>,
    /// Standard uncertainty of the heading, degrees; unknown if left out
    #[arg(long, value_name = "DEG")]
    pub heading_sd: Option<f64>,
}

/// Where the tooth is to go.
#[derive(Debug, Args, Clone)]
pub struct ReachArgs {
    /// The pose it starts from
    #[command(flatten)]
    pub pose: PoseArgs,
    /// Place in the boom plane: forward,up from the swing axis at track ground level, m
    #[arg(
        long,
        value_name = "X,Z",
        allow_hyphen_values = true,
        conflicts_with = "at_site"
    )]
    pub at: Option<String>,
    /// Place on the site: easting,northing,elevation, m; needs --stand and --heading
    #[arg(long, value_name = "E,N,U", allow_hyphen_values = true)]
    pub at_site: Option<String>,
    /// Angle of the line from the bucket pin to the link pin over the house's forward line; as in the pose if left out
    #[arg(long, value_name = "DEG", allow_negative_numbers = true)]
    pub attitude: Option<f64>,
}

/// `holdline tooth`
#[derive(Debug, Args)]
pub struct ToothArgs {
    /// Machine and tool
    #[command(flatten)]
    pub tool: Tool,
    /// Readings (CSV with a header such as `time_s,boom_deg,…`); `-` or nothing reads standard input
    #[arg(value_name = "READINGS")]
    pub readings: Option<PathBuf>,
    /// Where to write; nothing writes to standard output
    #[arg(long, short, value_name = "FILE")]
    pub output: Option<PathBuf>,
    /// Form of the output
    #[arg(long, value_enum, default_value_t = StreamForm::Csv)]
    pub form: StreamForm,
    /// Side file for rows that cannot be used; nothing makes one beside the output or the input
    #[arg(long, value_name = "FILE")]
    pub bad: Option<PathBuf>,
    /// Height of the ground at the swing axis over the job's datum, m: adds the tooth's elevation in 2D
    #[arg(long, value_name = "M", allow_negative_numbers = true)]
    pub ground: Option<f64>,
    /// Leave out the uncertainty columns; faster
    #[arg(long)]
    pub plain: bool,
    /// Standard uncertainty of an antenna position, horizontal,vertical, mm; unknown if left out
    #[arg(long, value_name = "MM,MM")]
    pub position_sd_mm: Option<String>,
    /// Standard uncertainty of the heading, degrees; unknown if left out
    #[arg(long, value_name = "DEG")]
    pub heading_sd: Option<f64>,
}

/// Form of a stream.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum StreamForm {
    /// One row a tooth
    Csv,
    /// One JSON object a line
    Jsonl,
}

/// `holdline verify`
#[derive(Debug, Args)]
pub struct VerifyArgs {
    /// Machine and tool
    #[command(flatten)]
    pub tool: Tool,
    /// Check shots (CSV)
    #[arg(value_name = "SHOTS", required_unless_present = "daily")]
    pub shots: Option<PathBuf>,
    /// Height tolerance, shown minus surveyed: below,above in mm, such as `-30,20`
    #[arg(long, value_name = "MM,MM", allow_hyphen_values = true)]
    pub height_mm: Option<String>,
    /// Tolerance in plan, any direction, mm
    #[arg(long, value_name = "MM", allow_negative_numbers = true)]
    pub plan_mm: Option<f64>,
    /// Control (CSV) that the survey stands on; its uncertainty is the same in every shot
    #[arg(long, value_name = "FILE", conflicts_with = "control_sd_mm")]
    pub control: Option<PathBuf>,
    /// Standard uncertainty of control and set-up, the same in every shot: horizontal,vertical in mm
    #[arg(long, value_name = "MM,MM")]
    pub control_sd_mm: Option<String>,
    /// Standard uncertainty of an antenna position, for shots given as readings: horizontal,vertical in mm
    #[arg(long, value_name = "MM,MM")]
    pub position_sd_mm: Option<String>,
    /// The part of it that all shots share, horizontal,vertical in mm; left out, all of it counts as shared
    #[arg(long, value_name = "MM,MM")]
    pub position_common_sd_mm: Option<String>,
    /// Standard uncertainty of a heading in the readings, degrees
    #[arg(long, value_name = "DEG")]
    pub heading_sd: Option<f64>,
    /// The morning check on one bench
    #[arg(long)]
    pub daily: bool,
    /// What the morning check needs
    #[command(flatten)]
    pub morning: MorningArgs,
    /// Where the record goes.
    #[command(flatten)]
    pub in_job: InJob,
    /// Write the record's sheet here: SVG, PDF or PNG by the file's ending; needs --job and --by
    #[arg(long, short, value_name = "FILE", requires = "by")]
    pub output: Option<PathBuf>,
}

/// What the morning check needs.
#[derive(Debug, Args)]
pub struct MorningArgs {
    /// Bench or nail
    #[arg(long, value_name = "NAME", requires = "daily")]
    pub bench: Option<String>,
    /// Height that the display shows with the tooth on the bench, m
    #[arg(
        long,
        value_name = "M",
        requires = "daily",
        allow_negative_numbers = true
    )]
    pub shown: Option<f64>,
    /// Standard uncertainty of the shown height, mm
    #[arg(long, value_name = "MM", requires = "daily")]
    pub shown_sd_mm: Option<f64>,
    /// Known height of the bench, m
    #[arg(
        long,
        value_name = "M",
        requires = "daily",
        allow_negative_numbers = true
    )]
    pub known: Option<f64>,
    /// Standard uncertainty of the known height, mm
    #[arg(long, value_name = "MM", requires = "daily")]
    pub known_sd_mm: Option<f64>,
    /// Most that the job allows between them, mm
    #[arg(
        long,
        value_name = "MM",
        requires = "daily",
        allow_negative_numbers = true
    )]
    pub allowed_mm: Option<f64>,
    /// Wear of the tooth since its point was measured, mm
    #[arg(
        long,
        value_name = "MM",
        requires = "daily",
        allow_negative_numbers = true
    )]
    pub wear_mm: Option<f64>,
    /// Limits, each touched at low speed
    #[arg(long, value_enum, requires = "daily", default_value_t = LimitsWord::NotTried)]
    pub limits: LimitsWord,
    /// What happened since the last entry; repeat for each
    #[arg(long, value_enum, requires = "daily")]
    pub change: Vec<ChangeWord>,
    /// Initials
    #[arg(long, value_name = "INITIALS", requires = "daily")]
    pub initials: Option<String>,
    /// Date of the entry, ISO 8601; today if left out
    #[arg(long, value_name = "DATE", requires = "daily")]
    pub on: Option<String>,
}

/// Limits tried this morning.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum LimitsWord {
    /// All held
    Held,
    /// One did not hold
    Failed,
    /// Not tried
    NotTried,
    /// None are set today
    NoneSet,
}

/// What makes a full re-check due.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum ChangeWord {
    /// Tooth, bucket or coupler
    Tool,
    /// Something was welded or bent
    Weld,
    /// A sensor was knocked or changed
    Sensor,
    /// Work on the tracks
    Tracks,
    /// First frost
    Frost,
    /// The site's localization
    Localization,
}

/// `holdline record …`
#[derive(Debug, Subcommand)]
pub enum RecordCommand {
    /// Start a new, empty job file
    Start {
        /// Job file
        job: PathBuf,
        /// Who starts it
        #[arg(long, value_name = "NAME")]
        by: String,
    },
    /// Add documents to a job: machine sheets, shots, control, readings, observations, calibrations, terms
    Add {
        /// Job file
        job: PathBuf,
        /// Documents
        #[arg(required = true)]
        files: Vec<PathBuf>,
        /// Who adds them
        #[arg(long, value_name = "NAME")]
        by: String,
    },
    /// List documents and records
    List {
        /// Job file
        job: PathBuf,
    },
    /// Show one record
    Show {
        /// Job file
        job: PathBuf,
        /// Its number
        number: u64,
    },
    /// Do a record again from its documents and compare
    Recompute {
        /// Job file
        job: PathBuf,
        /// Its number
        number: u64,
    },
    /// Check every hash and link of the job; name the first that is wrong
    Verify {
        /// Job file
        job: PathBuf,
        /// Compare with the last hash printed on a sheet
        #[arg(long, value_name = "HASH")]
        printed: Option<String>,
    },
    /// Print a record's sheet: SVG, PDF or PNG by the file's ending
    Print {
        /// Job file
        job: PathBuf,
        /// Its number
        number: u64,
        /// Where to write
        #[arg(long, short, value_name = "FILE")]
        output: PathBuf,
        /// The operator's card instead of the sheet
        #[arg(long)]
        card: bool,
    },
    /// Sign a record: name and role stand beside its hash
    Sign {
        /// Job file
        job: PathBuf,
        /// Its number
        number: u64,
        /// Name
        #[arg(long, value_name = "NAME")]
        name: String,
        /// Role
        #[arg(long, value_name = "ROLE")]
        role: String,
    },
    /// Say that a newer record stands in for this one
    Supersede {
        /// Job file
        job: PathBuf,
        /// Its number
        number: u64,
        /// Number of the record that stands in its place
        #[arg(long, value_name = "NUMBER")]
        with: u64,
        /// Why
        #[arg(long, value_name = "WORDS")]
        reason: String,
        /// Who says so
        #[arg(long, value_name = "NAME")]
        by: String,
    },
}

/// `holdline serve`
#[derive(Debug, Args)]
pub struct ServeArgs {
    /// Job file to open at once
    #[arg(value_name = "JOB")]
    pub job: Option<PathBuf>,
    /// Port; 0 takes a free one
    #[arg(long, default_value_t = 0)]
    pub port: u16,
    /// Do not open the browser
    #[arg(long)]
    pub no_open: bool,
}

/// `holdline demo`
#[derive(Debug, Args)]
pub struct DemoArgs {
    /// Folder for the demo's job, sheets and streams
    #[arg(long, value_name = "FOLDER", default_value = "holdline-demo")]
    pub folder: PathBuf,
    /// Stop after the chain; do not open the workbench
    #[arg(long)]
    pub no_serve: bool,
    /// Do not open the browser
    #[arg(long)]
    pub no_open: bool,
    /// Port of the workbench; 0 takes a free one
    #[arg(long, default_value_t = 0)]
    pub port: u16,
}
