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

use crate::job::{ImportView, Job, RecordView};
use crate::sheets::{FileForm, Which};
use crate::tooth_stream::{Sinks, StreamAsk, stream_tooth};
use crate::units::Units;
use crate::verify::{DailyEntryAsk, FullAsk, ToleranceAsk, VerifyAsk};
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

/// Everybody in the demo is invented.
const BY: &str = "A. Example";
const ROLE: &str = "machine-control specialist";

/// How many steps there are.
const N_STEPS: u32 = 9;

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

/// Makes the demo job and carries it through: documents, measure-up, tooth, check, sign-off, mornings, sheets.
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
    for (name, bytes) in [MACHINE, CONTROL, SHOTS, READINGS] {
        taken.push(job.import(name, bytes, &stamp)?);
    }
    let words: Vec<String> = taken
        .iter()
        .map(|t| format!("{} ({})", t.name, t.text))
        .collect();
    tell(format!("documents taken in: {}", words.join("; ")));
    let [machine, control, shots, _] = taken.as_slice() else {
        return Err(Fault::new("W099", "demo", "other documents", "four", "report it").into());
    };
    let tool = tool(machine);
    let measured = job.record_measure_up(&tool, None, &stamp)?;
    tell(format!("record {measured}: the machine as measured up"));
    let dir = sheets_dir(path);
    fs::create_dir_all(&dir).map_err(|e| cannot_write(&dir, &e))?;
    let mut files = vec![write_teeth(&mut job, &tool, &dir, &mut tell)?];
    let ask = check_ask(&tool, shots, control);
    let check = job.record_verify(&ask, None, &stamp)?;
    let body = job.record_body(check, Units::Metric)?;
    let result = body.result.map(|view| view.decision).unwrap_or_default();
    tell(format!("record {check}: check against survey. {result}"));
    let day = stamp.at().get(..10).unwrap_or_default().to_owned();
    for seq in [measured, check] {
        job.sign(seq, BY, ROLE, &day, &stamp)?;
    }
    tell(format!(
        "records {measured} and {check} signed by {BY}, {ROLE}"
    ));
    let mornings = record_mornings(&mut job, &tool, &stamp)?;
    let last = mornings.last().copied().unwrap_or(check);
    tell(format!("records {mornings:?}: three mornings on bench C5"));
    files.extend(write_sheets(&mut job, &dir, measured, check, last)?);
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
        holds: body.record.outcome == "pass",
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
            position_sd_m: Some(SdPair {
                h: Some(0.004),
                v: Some(0.006),
            }),
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
    let machine = job.machine(&tool.machine)?;
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
        .map(|(place, at)| format!(": line {} of {}, {at}", place.line, place.file));
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
    measured: u64,
    check: u64,
    morning: u64,
) -> Result<Vec<PathBuf>, Faults> {
    let wanted = [
        ("measure-up", measured, Which::Sheet, FileForm::Pdf),
        ("check", check, Which::Sheet, FileForm::Pdf),
        ("check", check, Which::Sheet, FileForm::Svg),
        ("check", check, Which::Sheet, FileForm::Png),
        ("operators-card", check, Which::Card, FileForm::Pdf),
        ("mornings", morning, Which::Sheet, FileForm::Pdf),
    ];
    let mut files = Vec::new();
    for (name, seq, which, form) in wanted {
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
