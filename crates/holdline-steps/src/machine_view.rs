//! A machine sheet as a person reads it: every figure with its uncertainty, the joint ranges, what is fitted.

use holdline::machine::Machine;
use holdline::machine::claim::{ClaimedMachine, Joint, SensorKind};
use holdline::machine::cylinder::link_word;
use holdline::machine::front::ToolChoice;
use holdline::machine::jacobian::joints_fitted;
use holdline::records::Hash;
use holdline::tooth::plan::Plan;
use holdline_files::calibration::read_calibration;
use holdline_files::machine_sheet::form::{Given, form};
use holdline_files::machine_sheet::{place_faults, read_machine_sheet};
use holdline_files::text::text_of;
use holdline_geom::fault::{Fault, Faults};
use holdline_sheet::figure::NONE_STATED;
use schemars::JsonSchema;
use serde::Serialize;

use crate::calibrate::{calibrated, other_tool};
use crate::views::{FigureView, FindingView, ToolAsk};

/// A checked machine sheet.
#[derive(Debug, Clone, Serialize, JsonSchema)]
pub struct MachineView {
    /// The machine's name.
    pub id: String,
    /// Free words.
    pub note: String,
    /// Who measured it up, when, with what.
    pub measured: [String; 3],
    /// Joints and their ranges, from the ground outward.
    pub joints: Vec<JointView>,
    /// Couplers.
    pub couplers: Vec<String>,
    /// Tilting devices.
    pub tilts: Vec<String>,
    /// Buckets and their tooth points.
    pub buckets: Vec<BucketView>,
    /// Sensors.
    pub sensors: Vec<SensorView>,
    /// Antennas.
    pub antennas: Vec<String>,
    /// Joints that no sensor gives: readings alone do not place the tooth.
    pub joints_without_sensor: Vec<String>,
    /// Figures that the tooth depends on and that have no stated uncertainty.
    pub figures_without_uncertainty: Vec<String>,
}

/// One joint's range, degrees.
#[derive(Debug, Clone, Serialize, JsonSchema)]
pub struct JointView {
    /// The joint's word.
    pub name: String,
    /// For show; none when neither a cylinder nor the sheet gives it: unknown, not free.
    pub nominal_deg: Option<[f64; 2]>,
    /// With the stroke's tolerance, for every question of safety.
    pub outer_deg: Option<[f64; 2]>,
}

/// A bucket.
#[derive(Debug, Clone, Serialize, JsonSchema)]
pub struct BucketView {
    /// Its name.
    pub id: String,
    /// Width of the edge, m.
    pub width_m: f64,
    /// Tooth points.
    pub teeth: Vec<String>,
}

/// A sensor.
#[derive(Debug, Clone, Serialize, JsonSchema)]
pub struct SensorView {
    /// Its name.
    pub id: String,
    /// The link it sits on.
    pub link: String,
    /// Its kind, in words.
    pub kind: String,
    /// Standard uncertainty of one reading, degrees; none was not stated.
    pub sd_deg: Option<f64>,
}

/// Reads and checks a machine sheet; faults carry line and column.
///
/// # Errors
///
/// All faults at once, the reader's (`F…`) or the machine's (`M…`).
pub fn load_machine(file: &str, bytes: &[u8]) -> Result<Machine, Faults> {
    let claimed: ClaimedMachine = read_machine_sheet(file, bytes)?;
    Machine::measured_up(claimed).map_err(|faults| match text_of(file, bytes) {
        Ok(text) => place_faults(file, text, faults),
        Err(_) => faults,
    })
}

/// A machine with the tool that a person named.
#[derive(Debug, Clone)]
pub struct MachineAndTool {
    /// The machine.
    pub machine: Machine,
    /// The tool.
    pub choice: ToolChoice,
    /// Hash of the calibration that is on top of the sheet; none where the sheet stands alone.
    pub calibration: Option<String>,
    /// What a person must know of it.
    pub findings: Vec<FindingView>,
}

impl MachineAndTool {
    /// The tool as an ask names it, without a document in a job.
    pub fn tool_ask(&self) -> ToolAsk {
        ToolAsk {
            machine: String::new(),
            calibration: self.calibration.clone(),
            coupler: self.choice.coupler.clone(),
            tilt: self.choice.tilt.clone(),
            bucket: self.choice.bucket.clone(),
            tooth: self.choice.tooth.clone(),
        }
    }
}

/// What a person names of a tool; see [`choose_tool`].
#[derive(Debug, Clone, Copy, Default)]
pub struct ToolWords<'a> {
    /// Coupler.
    pub coupler: Option<&'a str>,
    /// On the machine's own pins, said aloud.
    pub pin_on: bool,
    /// Tilting device.
    pub tilt: Option<&'a str>,
    /// Bucket.
    pub bucket: Option<&'a str>,
    /// Tooth point.
    pub tooth: &'a str,
}

/// Reads a machine sheet, puts a calibration on top where one is given, and chooses the tool on it.
///
/// # Errors
///
/// As [`load_machine`], [`load_calibrated`] and [`choose_tool`].
pub fn load_machine_and_tool(
    file: &str,
    bytes: &[u8],
    calibration: Option<(&str, &[u8])>,
    words: &ToolWords<'_>,
) -> Result<MachineAndTool, Faults> {
    let machine = load_machine(file, bytes)?;
    let choice = choose_tool(&machine, words)?;
    let Some((name, text)) = calibration else {
        return Ok(MachineAndTool {
            machine,
            choice,
            calibration: None,
            findings: Vec::new(),
        });
    };
    let read = read_calibration(name, text)?;
    Ok(MachineAndTool {
        machine: calibrated(&machine, &Hash::of(bytes).to_string(), name, &read)?,
        calibration: Some(Hash::of(text).to_string()),
        findings: other_tool(&read, &choice).into_iter().collect(),
        choice,
    })
}

/// Reads a machine sheet with a calibration on top, where one is given.
///
/// # Errors
///
/// As [`load_machine`]; the reader's faults of the calibration; `V040` for one of another sheet.
pub fn load_calibrated(
    file: &str,
    bytes: &[u8],
    calibration: Option<(&str, &[u8])>,
) -> Result<Machine, Faults> {
    let machine = load_machine(file, bytes)?;
    match calibration {
        None => Ok(machine),
        Some((name, text)) => {
            let read = read_calibration(name, text)?;
            calibrated(&machine, &Hash::of(bytes).to_string(), name, &read)
        }
    }
}

/// The JSON Schema of the machine sheet.
pub fn machine_sheet_schema() -> String {
    holdline_files::machine_sheet::machine_sheet_schema()
}

/// The tool that a person named, with what can be left out filled in only where there is no choice.
///
/// # Errors
///
/// `T040` when the sheet leaves a choice that was not made; a wrong guess would put the tooth elsewhere.
pub fn choose_tool(machine: &Machine, words: &ToolWords<'_>) -> Result<ToolChoice, Fault> {
    let sheet = machine.sheet();
    let names = |all: Vec<&str>| all.join(", ");
    let bucket = match (words.bucket, sheet.buckets.as_slice()) {
        (Some(bucket), _) => bucket.to_owned(),
        (None, [only]) => only.id.clone(),
        (None, many) => {
            let there = names(many.iter().map(|b| b.id.as_str()).collect());
            return Err(not_chosen(
                "bucket",
                &format!("--bucket with one of {there}"),
            ));
        }
    };
    if words.coupler.is_none() && !words.pin_on && !sheet.couplers.is_empty() {
        let there = names(sheet.couplers.iter().map(|c| c.id.as_str()).collect());
        let want = format!("--coupler {there}, or --pin-on for the machine's own pins");
        return Err(not_chosen("coupler", &want));
    }
    Ok(ToolChoice {
        coupler: words.coupler.map(str::to_owned),
        tilt: words.tilt.map(str::to_owned),
        bucket,
        tooth: words.tooth.to_owned(),
    })
}

fn not_chosen(what: &str, want: &str) -> Fault {
    Fault::new(
        "T040",
        what,
        format!("no {what} chosen, and the sheet has more than one way"),
        want,
        "look at the machine and say which hangs on it; the tooth moves by hand's breadths between them",
    )
}

/// The sheet as a person reads it.
pub fn machine_view(machine: &Machine) -> MachineView {
    let sheet = machine.sheet();
    let choice = sheet.buckets.first().map(|bucket| ToolChoice {
        coupler: sheet.couplers.first().map(|c| c.id.clone()),
        tilt: None,
        bucket: bucket.id.clone(),
        tooth: "centre".to_owned(),
    });
    let front = choice.and_then(|choice| machine.front(&choice).ok());
    let mut without = Vec::new();
    let (mut joints, mut unsensed) = (Vec::new(), Vec::new());
    if let Some(front) = &front {
        front.map(&mut |name, m| {
            if m.sd.is_none() {
                without.push(name.to_owned());
            }
        });
        joints = joints_fitted(front)
            .into_iter()
            .map(|joint| joint_view(machine, joint))
            .collect();
        if let Err(faults) = Plan::new(machine, front) {
            unsensed = faults.0.into_iter().map(|fault| fault.at).collect();
        }
    }
    MachineView {
        id: sheet.id.clone(),
        note: sheet.note.clone(),
        measured: [
            sheet.measured.who.clone(),
            sheet.measured.on.clone(),
            sheet.measured.with.clone(),
        ],
        joints,
        couplers: sheet.couplers.iter().map(|c| c.id.clone()).collect(),
        tilts: sheet.tilts.iter().map(|t| t.id.clone()).collect(),
        buckets: sheet
            .buckets
            .iter()
            .map(|b| BucketView {
                id: b.id.clone(),
                width_m: b.width.value,
                teeth: b.teeth.iter().map(|t| t.name.clone()).collect(),
            })
            .collect(),
        sensors: sheet
            .sensors
            .iter()
            .map(|s| SensorView {
                id: s.id.clone(),
                link: link_word(s.link).to_owned(),
                kind: sensor_words(s.kind).to_owned(),
                sd_deg: s.sd_rad.map(f64::to_degrees),
            })
            .collect(),
        antennas: sheet.antennas.iter().map(|a| a.id.clone()).collect(),
        joints_without_sensor: unsensed,
        figures_without_uncertainty: without,
    }
}

/// Every figure of a sheet as it stands there, in the sheet's own units, group by group.
pub fn sheet_figures(text: &str) -> Vec<FigureView> {
    let mut figures = Vec::new();
    for group in form(text).groups {
        for field in group.fields {
            let Given::Number(value) = field.value else {
                continue;
            };
            let unit = if field.unit.is_empty() {
                String::new()
            } else {
                format!(" {}", field.unit)
            };
            let mut figure =
                FigureView::words(&group.title, &field.label, format!("{value}{unit}"));
            figure.uncertainty_text = match (field.sd, field.has_sd) {
                (Some(sd), _) => format!("sd {sd}{unit}"),
                (None, true) => NONE_STATED.to_owned(),
                (None, false) => String::new(),
            };
            figures.push(figure);
        }
    }
    figures
}

fn joint_view(machine: &Machine, joint: Joint) -> JointView {
    let range = machine.range(joint);
    JointView {
        name: joint.word().to_owned(),
        nominal_deg: range.map(|r| r.nominal_rad.map(f64::to_degrees)),
        outer_deg: range.map(|r| r.outer_rad.map(f64::to_degrees)),
    }
}

/// A sensor's kind in words.
pub fn sensor_words(kind: SensorKind) -> &'static str {
    match kind {
        SensorKind::TwoAxis => "gravity, two axes in the boom plane",
        SensorKind::SingleAxis => "gravity, one axis along the link",
        SensorKind::JointEncoder => "encoder on the joint",
        SensorKind::HouseEuler => "house, pitch and roll",
        SensorKind::HouseTilts => "house, two tilts",
    }
}
