//! `holdline verify`.

use super::machine::figures;
use super::{machine_and_tool, numbers, read, sds_m, write_sheet};
use crate::Stop;
use crate::args::{ChangeWord, Common, LimitsWord, VerifyArgs};
use crate::out;
use holdline_geom::fault::Fault;
use holdline_steps::exit::Exit;
use holdline_steps::job::{Job, stamp_now};
use holdline_steps::sheets::Which;
use holdline_steps::verify::{Answer, CheckView, DailyEntryAsk, FullAsk, ToleranceAsk, VerifyAsk};
use holdline_steps::views::{SdPair, ToolAsk};
use std::io::{self, Write};
use std::path::Path;

/// Who takes documents in when nobody keeps a record.
const NOBODY: &str = "not recorded";

/// Checks the tooth, keeps a record if asked.
pub fn run(args: &VerifyArgs, common: &Common) -> Result<Exit, Stop> {
    // a check that nobody keeps still goes the same way as one that is kept
    let scratch = tempfile::tempdir()?;
    let mut job = match &args.job {
        Some(path) if path.exists() => Job::open(path)?,
        Some(path) => Job::create(path)?,
        None => Job::create(&scratch.path().join("check.job"))?,
    };
    let by = args.by.as_deref().unwrap_or(NOBODY);
    let ask = ask(args, &mut job, by)?;
    let now = stamp_now(by)?;
    let today = now.at().get(..10).unwrap_or_default().to_owned();
    let checked = job.verify(&ask, &today, common.units.into())?;
    let recorded = match (&args.job, &args.by) {
        (Some(_), Some(_)) => Some(job.record_verify(&ask, None, &now)?),
        _ => None,
    };
    if let (Some(seq), Some(output)) = (recorded, &args.output) {
        write_sheet(&mut job, seq, output, Which::Sheet, common)?;
    }
    if common.json {
        out::json(&serde_json::json!({ "result": checked.view, "record": recorded }))?;
    } else {
        words(&checked.view, recorded, args)?;
    }
    Ok(match checked.view.outcome {
        Answer::Pass if checked.view.recheck.is_empty() => Exit::Good,
        // It holds, and all the same a full re-check is due: whoever asked must look.
        Answer::Pass => Exit::No,
        Answer::Fail | Answer::NotShown => Exit::No,
    })
}

fn words(view: &CheckView, recorded: Option<u64>, args: &VerifyArgs) -> io::Result<()> {
    let mut to = io::stdout().lock();
    let mut rows = vec![view.columns.clone()];
    rows.extend(view.rows.iter().map(|row| {
        let mut cells = vec![row.label.clone()];
        cells.extend(row.cells.iter().cloned());
        cells
    }));
    write!(to, "{}", out::table(&rows))?;
    figures(&mut to, &view.summary)?;
    writeln!(to, "\n{}", view.decision)?;
    for finding in &view.findings {
        writeln!(to, "{} {}: {}", finding.code, finding.place, finding.text)?;
    }
    for why in &view.recheck {
        writeln!(to, "full re-check due: {why}")?;
    }
    for caution in &view.cautions {
        writeln!(to, "{caution}")?;
    }
    match (recorded, &args.job) {
        (Some(seq), Some(job)) => writeln!(to, "record {seq} in {}; not signed", job.display()),
        _ => writeln!(to, "no record was made: give --job and --by to keep one"),
    }
}

fn ask(args: &VerifyArgs, job: &mut Job, by: &str) -> Result<VerifyAsk, Stop> {
    let tool = machine_and_tool(&args.tool)?;
    let machine = import(job, &args.tool.machine, by)?;
    let tool = ToolAsk {
        machine,
        coupler: tool.choice.coupler,
        tilt: tool.choice.tilt,
        bucket: tool.choice.bucket,
        tooth: tool.choice.tooth,
    };
    if args.daily {
        return Ok(VerifyAsk {
            full: FullAsk {
                tool,
                tolerance: allowed(args),
                ..FullAsk::default()
            },
            daily: Some(morning(args)),
        });
    }
    let shots = match &args.shots {
        Some(path) => Some(import(job, path, by)?),
        None => None,
    };
    let control = match &args.control {
        Some(path) => Some(import(job, path, by)?),
        None => None,
    };
    let pair = |at: &str, text: &Option<String>| -> Result<Option<SdPair>, Fault> {
        let Some(text) = text else { return Ok(None) };
        let [h, v] = sds_m(at, text)?;
        Ok(Some(SdPair {
            h: Some(h),
            v: Some(v),
        }))
    };
    Ok(VerifyAsk {
        full: FullAsk {
            tool,
            shots,
            control,
            control_sd_m: pair("--control-sd-mm", &args.control_sd_mm)?,
            position_sd_m: pair("--position-sd-mm", &args.position_sd_mm)?,
            heading_sd_deg: args.heading_sd,
            tolerance: tolerance(args)?,
            ..FullAsk::default()
        },
        daily: None,
    })
}

/// Takes a file into the job; one that is there already, byte for byte, stays as it is.
fn import(job: &mut Job, path: &Path, by: &str) -> Result<String, Stop> {
    let name = path.file_name().map_or_else(
        || path.display().to_string(),
        |n| n.to_string_lossy().into_owned(),
    );
    let bytes = read(path)?;
    let stamp = stamp_now(by)?;
    Ok(job.import(&name, &bytes, &stamp)?.hash)
}

fn tolerance(args: &VerifyArgs) -> Result<ToleranceAsk, Fault> {
    let mut tolerance = ToleranceAsk {
        plan_m: args.plan_mm.map(|mm| mm / 1000.0),
        ..ToleranceAsk::default()
    };
    if let Some(text) = &args.height_mm {
        const WANT: &str = "below,above in mm, such as -30,20";
        let [below, above] = numbers("--height-mm", text, WANT)?;
        if !(below <= 0.0 && 0.0 <= above) {
            return Err(Fault::new(
                "F062",
                "--height-mm",
                format!("{text:?}"),
                WANT,
                "below is zero or negative, above zero or positive: shown minus surveyed",
            ));
        }
        tolerance.down_m = Some(-below / 1000.0);
        tolerance.up_m = Some(above / 1000.0);
    }
    Ok(tolerance)
}

fn allowed(args: &VerifyArgs) -> ToleranceAsk {
    let allowed_m = args.morning.allowed_mm.map(|mm| mm / 1000.0);
    ToleranceAsk {
        up_m: allowed_m,
        down_m: allowed_m,
        plan_m: None,
    }
}

fn morning(args: &VerifyArgs) -> DailyEntryAsk {
    let typed = &args.morning;
    let metres = |mm: Option<f64>| mm.map(|mm| mm / 1000.0);
    DailyEntryAsk {
        bench: typed.bench.clone().unwrap_or_default(),
        shown_m: typed.shown,
        known_m: typed.known,
        shown_sd_m: metres(typed.shown_sd_mm),
        known_sd_m: metres(typed.known_sd_mm),
        wear_m: metres(typed.wear_mm),
        limits_tried: match typed.limits {
            LimitsWord::Held => "held",
            LimitsWord::Failed => "failed",
            LimitsWord::NotTried => "not_tried",
            LimitsWord::NoneSet => "none_set",
        }
        .to_owned(),
        changes: typed
            .change
            .iter()
            .map(|change| change_word(*change).to_owned())
            .collect(),
        initials: typed.initials.clone().unwrap_or_default(),
        date: typed.on.clone(),
    }
}

fn change_word(change: ChangeWord) -> &'static str {
    match change {
        ChangeWord::Tool => "tooth",
        ChangeWord::Weld => "weld",
        ChangeWord::Sensor => "sensor",
        ChangeWord::Tracks => "tracks",
        ChangeWord::Frost => "frost",
        ChangeWord::Localization => "localization",
    }
}
