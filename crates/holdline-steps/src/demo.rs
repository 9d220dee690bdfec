//! The demo job: the invented machine from tape to signed sheet, with every step told.

use std::fs::{self, File, OpenOptions};
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::AtomicBool;

use holdline::records::Stamp;
use holdline::tooth::model::ToothModel;
use holdline_geom::fault::{Fault, Faults};
use holdline_store::stamp_now;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::budget::{BudgetAsk, BudgetBody, DrawsSettings, MapGrid, TaskAsk};
use crate::calibrate::{CalibrateAsk, FitBody, HandOverAsk, HandOverBody};
use crate::job::{ImportView, Job, RecordView};
use crate::pose::Mode;
use crate::sheets::{FileForm, Which};
use crate::tooth_stream::{Sinks, StreamAsk, stream_tooth};
use crate::units::Units;
use crate::verify::{CheckBody, DailyEntryAsk, FullAsk, ToleranceAsk, VerifyAsk, true_minus};
use crate::views::{SdPair, ToolAsk};

const MACHINE: (&str, &[u8]) = (
    "demo-23.machine.toml",
    include_bytes!("../../../demo/demo-23.machine.toml"),
);
const CONTROL: (&str, &[u8]) = ("control.csv", include_bytes!("../../../demo/control.csv"));
const SHOTS: (&str, &[u8]) = (
    "S1-day.shots.csv",
    include_bytes!("../../../demo/S1-day.shots.csv"),
);
const READINGS: (&str, &[u8]) = (
    "S1-day.readings.csv",
    include_bytes!("../../../demo/S1-day.readings.csv"),
);

const OBSERVATIONS: (&str, &[u8]) = (
    "calibration-day.observations.csv",
    include_bytes!("../../../demo/calibration-day.observations.csv"),
);
const KNOCKED: (&str, &[u8]) = (
    "S1-knocked.shots.csv",
    include_bytes!("../../../demo/S1-knocked.shots.csv"),
);
const TERMS: (&str, &[u8]) = (
    "demo-23.terms.toml",
    include_bytes!("../../../demo/demo-23.terms.toml"),
);

/// Everybody in the demo is invented.
const BY: &str = "A. Example";
const ROLE: &str = "machine-control specialist";

/// How many steps there are.
const N_STEPS: u32 = 14;

/// A step done.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct DemoStep {
    /// Which, from 1.
    pub number: u32,
    /// Of how many.
    pub of: u32,
    /// What was done and found.
    pub text: String,
}

/// The demo job, made.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DemoView {
    /// Where the job file is.
    pub path: String,
    /// Sheets and tables that were written.
    pub files: Vec<String>,
    /// Its records.
    pub records: Vec<RecordView>,
    /// Hash of the last link.
    pub chain_tail: String,
    /// Whether the tooth was shown to hold the demo's tolerance.
    pub holds: bool,
}

/// Makes the demo job and carries it through: documents, measure-up, tooth, check, calibration, check again,
/// budget, hand-over, sign-off, mornings, a knocked sensor, sheets.
///
/// Never overwrites. `told` hears of every step.
///
/// # Errors
///
/// What the steps give: `S006` if there is a job of that name, `S007` to `S012` or `F061` if the folder
/// cannot be written.
///
/// # Caution
///
/// Everything in the demo is invented. Its tolerances are no advice for a job.
pub fn make_demo(path: &Path, told: &mut dyn FnMut(&DemoStep)) -> Result<DemoView, Faults> {
    let stamp = stamp_now(BY)?;
    let mut number = 0;
    let mut tell = |text: String| {
        number += 1;
        told(&DemoStep {
            number,
            of: N_STEPS,
            text,
        });
    };
    let mut job = Job::create(path)?;
    tell(format!("job file {}", path.display()));
    let mut taken = Vec::new();
    let documents = [
        MACHINE,
        CONTROL,
        SHOTS,
        READINGS,
        OBSERVATIONS,
        KNOCKED,
        TERMS,
    ];
    for (name, bytes) in documents {
        taken.push(job.import(name, bytes, &stamp)?);
    }
    let words: Vec<String> = taken
        .iter()
        .map(|t| format!("{} ({})", t.name, t.text))
        .collect();
    tell(format!("documents taken in: {}", words.join("; ")));
    let [machine, control, shots, _, observations, knocked, terms] = taken.as_slice() else {
        return Err(Fault::new("W099", "demo", "other documents", "seven", "report it").into());
    };
    let sheet_alone = tool(machine);
    let measured = job.record_measure_up(&sheet_alone, None, &stamp)?;
    tell(format!("record {measured}: the machine as measured up"));
    let dir = sheets_dir(path);
    fs::create_dir_all(&dir).map_err(|e| cannot_write(&dir, &e))?;
    let first = job.record_verify(&check_ask(&sheet_alone, shots, control), None, &stamp)?;
    tell(told_check(&mut job, first, "check with the sheet alone")?);
    let calibrated = record_calibration(&mut job, &sheet_alone, observations, &stamp)?;
    tell(calibrated.told);
    let tool = ToolAsk {
        calibration: Some(calibrated.hash),
        ..sheet_alone
    };
    let mut files = vec![write_teeth(&mut job, &tool, &dir, &mut tell)?];
    let check = job.record_verify(&check_ask(&tool, shots, control), None, &stamp)?;
    tell(told_check(&mut job, check, "check with the calibration")?);
    let holds = job.record_body(check, Units::Metric)?.record.outcome == "pass";
    let budget = job.record_budget(&budget_ask(&tool), None, &stamp)?;
    tell(told_budget(&mut job, budget)?);
    let handed = record_hand_over(&mut job, &tool, terms, &stamp)?;
    tell(handed.1);
    let day = stamp.at().get(..10).unwrap_or_default().to_owned();
    let signed = [measured, calibrated.seq, check, handed.0];
    for seq in signed {
        job.sign(seq, BY, ROLE, &day, &stamp)?;
    }
    tell(format!("records {signed:?} signed by {BY}, {ROLE}"));
    let mornings = record_mornings(&mut job, &tool, &stamp)?;
    let last = mornings.last().copied().unwrap_or(check);
    tell(format!("records {mornings:?}: three mornings on bench C5"));
    let off = job.record_verify(&check_ask(&tool, knocked, control), None, &stamp)?;
    tell(told_diagnosis(&mut job, off)?);
    let sheets = [
        ("measure-up", measured, Which::Sheet, FileForm::Pdf),
        ("calibration", calibrated.seq, Which::Sheet, FileForm::Pdf),
        ("check", check, Which::Sheet, FileForm::Pdf),
        ("check", check, Which::Sheet, FileForm::Svg),
        ("check", check, Which::Sheet, FileForm::Png),
        ("operators-card", check, Which::Card, FileForm::Pdf),
        ("budget", budget, Which::Sheet, FileForm::Pdf),
        ("hand-over", handed.0, Which::Sheet, FileForm::Pdf),
        ("mornings", last, Which::Sheet, FileForm::Pdf),
        ("knocked-sensor", off, Which::Sheet, FileForm::Pdf),
    ];
    files.extend(write_sheets(&mut job, &dir, &sheets)?);
    tell(format!("sheets written to {}", dir.display()));
    let chain = job.check_chain()?;
    let again = job.recompute(check)?;
    tell(format!("{} {}", chain.text, again.text));
    Ok(DemoView {
        path: path.display().to_string(),
        files: files
            .iter()
            .map(|file| file.display().to_string())
            .collect(),
        records: job.records()?,
        chain_tail: job.tail()?.to_string(),
        holds,
    })
}

fn tool(machine: &ImportView) -> ToolAsk {
    ToolAsk {
        machine: machine.hash.clone(),
        calibration: None,
        coupler: Some("QC-demo".to_owned()),
        tilt: None,
        bucket: "T75".to_owned(),
        tooth: "centre".to_owned(),
    }
}

/// The check of the demo's measuring day: 50 mm in height, as on the basin's slopes, and 100 mm in plan.
fn check_ask(tool: &ToolAsk, shots: &ImportView, control: &ImportView) -> VerifyAsk {
    VerifyAsk {
        full: FullAsk {
            tool: tool.clone(),
            shots: Some(shots.hash.clone()),
            control: Some(control.hash.clone()),
            position_sd_m: position_sd_m(),
            tolerance: ToleranceAsk {
                up_m: Some(0.05),
                down_m: Some(0.05),
                plan_m: Some(0.10),
            },
            ..FullAsk::default()
        },
        daily: None,
    }
}

/// A check as one line.
fn told_check(job: &mut Job, seq: u64, what: &str) -> Result<String, Faults> {
    let body = job.record_body(seq, Units::Metric)?;
    let decision = body.result.map(|view| view.decision).unwrap_or_default();
    Ok(format!("record {seq}: {what}. {decision}"))
}

/// A calibration recorded, and what is told of it.
struct Calibrated {
    seq: u64,
    hash: String,
    told: String,
}

fn record_calibration(
    job: &mut Job,
    tool: &ToolAsk,
    observations: &ImportView,
    stamp: &Stamp,
) -> Result<Calibrated, Faults> {
    let ask = CalibrateAsk {
        tool: tool.clone(),
        observations: vec![observations.hash.clone()],
        position_sd_m: position_sd_m(),
        who: BY.to_owned(),
        on: Some("2025-12-01".to_owned()),
        with: "total station, tape, plumb line, the machine's own sensors".to_owned(),
        ..CalibrateAsk::default()
    };
    let made = job.record_calibrate(&ask, None, stamp)?;
    let fit: FitBody = job.record_json(made.seq)?;
    let rejected: Vec<&str> = fit.rejected.iter().map(|one| one.at.as_str()).collect();
    let rejected = match rejected.as_slice() {
        [] => "nothing rejected".to_owned(),
        names => format!("rejected: {}", names.join(", ")),
    };
    let far = fit.tooth.last().and_then(|far| {
        let (before, now) = (far.before_sd_m?, far.sd_m?);
        Some(format!(
            "; tooth at full reach, height, from ± {:.0} mm to ± {:.0} mm",
            2000.0 * before[2],
            2000.0 * now[2]
        ))
    });
    Ok(Calibrated {
        told: format!(
            "record {}: calibration from {} numbers, {rejected}{}",
            made.seq,
            fit.residuals.len(),
            far.unwrap_or_default()
        ),
        seq: made.seq,
        hash: made.calibration.ok_or_else(not_believed)?,
    })
}

fn position_sd_m() -> Option<SdPair> {
    Some(SdPair {
        h: Some(0.004),
        v: Some(0.006),
    })
}

/// What the demo's machine is good for: 60 mm in height, over the reach of the basin's slopes.
fn budget_ask(tool: &ToolAsk) -> BudgetAsk {
    BudgetAsk {
        tool: tool.clone(),
        mode: Mode::ThreeD,
        position_sd_m: Some(SdPair {
            h: Some(0.008),
            v: Some(0.015),
        }),
        pair_sd_m: Some(0.005),
        localization_sd_m: Some(SdPair {
            h: Some(0.005),
            v: Some(0.008),
        }),
        bench_sd_m: Some(0.002),
        touch_sd_m: Some(0.006),
        mark_sd_m: Some(0.0),
        rebenches: 6,
        pin_play_m: Some(0.0005),
        deflection_m: Some(0.005),
        latency_s: Some(0.0),
        speed_m_s: Some(0.0),
        tolerance: TaskAsk {
            up_m: Some(0.06),
            down_m: Some(0.06),
            plan_m: None,
            normal_m: None,
        },
        heading_deg: 60.0,
        draws: Some(DrawsSettings::default()),
        work_reach_m: Some([4.0, 8.0]),
        work_height_m: Some([-3.0, 2.0]),
        grid: Some(MapGrid::default()),
        ..BudgetAsk::default()
    }
}

fn told_budget(job: &mut Job, seq: u64) -> Result<String, Faults> {
    let body: BudgetBody = job.record_json(seq)?;
    let words = true_minus(&body.verdict.words.join(" "));
    Ok(format!("record {seq}: uncertainty budget in 3D. {words}"))
}

fn record_hand_over(
    job: &mut Job,
    tool: &ToolAsk,
    terms: &ImportView,
    stamp: &Stamp,
) -> Result<(u64, String), Faults> {
    let ask = HandOverAsk {
        tool: tool.clone(),
        terms: terms.hash.clone(),
        allowed_m: Some(0.01),
    };
    let seq = job.record_hand_over(&ask, None, stamp)?;
    let body: HandOverBody = job.record_json(seq)?;
    let told = format!(
        "record {seq}: {} entries for {}. {}",
        body.entries.len(),
        body.system,
        body.words.join(" ")
    );
    Ok((seq, told))
}

fn told_diagnosis(job: &mut Job, seq: u64) -> Result<String, Faults> {
    let body: CheckBody = job.record_json(seq)?;
    let words = body
        .diagnosis
        .map_or_else(String::new, |diagnosis| diagnosis.words.join(" "));
    Ok(format!(
        "record {seq}: check after a knock on the bucket sensor. {words}"
    ))
}

/// Day, height shown on bench C5 (24.310 m), wear, m.
const MORNINGS: [(&str, f64, f64); 3] = [
    ("2025-12-03", 24.314, 0.001),
    ("2025-12-04", 24.306, 0.002),
    ("2025-12-05", 24.317, 0.003),
];

fn record_mornings(job: &mut Job, tool: &ToolAsk, stamp: &Stamp) -> Result<Vec<u64>, Faults> {
    let mut seqs = Vec::new();
    for (date, shown_m, wear_m) in MORNINGS {
        let daily = DailyEntryAsk {
            bench: "C5".to_owned(),
            shown_m: Some(shown_m),
            known_m: Some(24.310),
            shown_sd_m: Some(0.008),
            known_sd_m: Some(0.003),
            wear_m: Some(wear_m),
            limits_tried: "held".to_owned(),
            changes: Vec::new(),
            initials: "AE".to_owned(),
            date: Some(date.to_owned()),
        };
        let tolerance = ToleranceAsk {
            up_m: Some(0.03),
            down_m: Some(0.03),
            plan_m: None,
        };
        let full = FullAsk {
            tool: tool.clone(),
            tolerance,
            ..FullAsk::default()
        };
        seqs.push(job.record_verify(
            &VerifyAsk {
                full,
                daily: Some(daily),
            },
            None,
            stamp,
        )?);
    }
    Ok(seqs)
}

/// The tooth of every reading of the demo's stream, as a table beside the job.
fn write_teeth(
    job: &mut Job,
    tool: &ToolAsk,
    dir: &Path,
    tell: &mut dyn FnMut(String),
) -> Result<PathBuf, Faults> {
    let machine = job.machine_of(tool)?;
    let model = ToothModel::new(&machine, &tool.choice())?;
    let path = dir.join("S1-day.tooth.csv");
    let mut out = BufWriter::new(new_file(&path)?);
    let mut side = Vec::new();
    let cancel = AtomicBool::new(false);
    let mut quiet = |_| {};
    let mut sinks = Sinks {
        out: &mut out,
        side: Some(&mut side),
        progress: &mut quiet,
        cancel: &cancel,
    };
    let ask = StreamAsk {
        position_sd_m: [Some(0.004), Some(0.004), Some(0.006)],
        n_threads: 1,
        ..StreamAsk::default()
    };
    let end = stream_tooth(&model, &ask, READINGS.0, READINGS.1, &mut sinks)?;
    out.flush().map_err(|e| cannot_write(&path, &e))?;
    let n_bad = end.summary.tally.n_bad();
    let first = end
        .summary
        .tally
        .first()
        .first()
        .and_then(|fault| Some((fault.place.as_ref()?, &fault.at)))
        .map(|(place, at)| {
            let at = if at.is_empty() {
                String::new()
            } else {
                format!(", {at}")
            };
            format!(": the first is line {} of {}{at}", place.line, place.file)
        });
    let rows = if n_bad == 1 { "row" } else { "rows" };
    tell(format!(
        "tooth of {} readings; {n_bad} {rows} not used{}",
        end.summary.n_good,
        first.unwrap_or_default()
    ));
    Ok(path)
}

fn write_sheets(
    job: &mut Job,
    dir: &Path,
    wanted: &[(&str, u64, Which, FileForm)],
) -> Result<Vec<PathBuf>, Faults> {
    let mut files = Vec::new();
    for (name, seq, which, form) in wanted.iter().copied() {
        let ending = match form {
            FileForm::Pdf => "pdf",
            FileForm::Svg => "svg",
            FileForm::Png => "png",
        };
        let pages = job.sheet_files(seq, which, form, Units::Metric)?;
        for (idx, bytes) in pages.iter().enumerate() {
            let number = if idx == 0 {
                String::new()
            } else {
                format!("-{}", idx + 1)
            };
            let path = dir.join(format!("{name}{number}.{ending}"));
            new_file(&path)?
                .write_all(bytes)
                .map_err(|e| cannot_write(&path, &e))?;
            files.push(path);
        }
    }
    Ok(files)
}

/// `holdline-demo.holdline` keeps its sheets in `holdline-demo-sheets`.
fn sheets_dir(job: &Path) -> PathBuf {
    let stem = job
        .file_stem()
        .map_or_else(|| "demo".into(), |stem| stem.to_string_lossy());
    job.with_file_name(format!("{stem}-sheets"))
}

fn new_file(path: &Path) -> Result<File, Fault> {
    let opened = OpenOptions::new().write(true).create_new(true).open(path);
    opened.map_err(|e| cannot_write(path, &e))
}

fn cannot_write(path: &Path, error: &std::io::Error) -> Fault {
    Fault::new(
        "F061",
        path.display().to_string(),
        error.to_string(),
        "a new file there",
        "choose a folder that can be written and has no sheets of this name",
    )
}

/// The demo's own observations are believed; a change that made them not so must not pass in silence.
fn not_believed() -> Fault {
    Fault::new(
        "V061",
        "calibration",
        "a fit that cannot be believed",
        "one that can",
        "look at the record of the fit: it says why",
    )
}
