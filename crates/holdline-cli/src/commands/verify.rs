//! `holdline verify`.

use super::calibrate::{findings, rows, sentences};
use super::desk::Desk;
use super::machine::figures;
use super::{numbers, sd_pair, write_sheet};
use crate::Stop;
use crate::args::{ChangeWord, Common, LimitsWord, VerifyArgs};
use crate::out;
use holdline_geom::fault::Fault;
use holdline_steps::exit::Exit;
use holdline_steps::job::stamp_now;
use holdline_steps::sheets::Which;
use holdline_steps::verify::{
    Answer, CheckView, DailyEntryAsk, DiagnosisView, Found, FullAsk, RowView, ToleranceAsk,
    VerifyAsk,
};
use std::io::{self, Write};

/// Checks the tooth, keeps a record if asked.
pub fn run(args: &VerifyArgs, common: &Common) -> Result<Exit, Stop> {
    let mut desk = Desk::open(&args.in_job)?;
    let ask = ask(args, &mut desk)?;
    let now = stamp_now(&desk.by)?;
    let today = now.at().get(..10).unwrap_or_default().to_owned();
    let checked = desk.job.verify(&ask, &today, common.units.into())?;
    let recorded = match desk.kept() {
        Some(_) => Some(desk.job.record_verify(&ask, None, &now)?),
        None => None,
    };
    if let (Some(seq), Some(output)) = (recorded, &args.output) {
        write_sheet(&mut desk.job, seq, output, Which::Sheet, common)?;
    }
    if common.json {
        out::json(&serde_json::json!({ "result": checked.view, "record": recorded }))?;
    } else {
        words(&checked.view, &desk.told(recorded))?;
    }
    Ok(match checked.view.outcome {
        Answer::Pass if checked.view.recheck.is_empty() => Exit::Good,
        // It holds, and all the same a full re-check is due: whoever asked must look.
        Answer::Pass => Exit::No,
        Answer::Fail | Answer::NotShown => Exit::No,
    })
}

fn words(view: &CheckView, told: &str) -> io::Result<()> {
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
    findings(&mut to, &view.findings)?;
    if let Some(diagnosis) = &view.diagnosis {
        diagnosis_words(&mut to, diagnosis)?;
    }
    for why in &view.recheck {
        writeln!(to, "full re-check due: {why}")?;
    }
    for caution in &view.cautions {
        writeln!(to, "{caution}")?;
    }
    writeln!(to, "{told}")
}

fn ask(args: &VerifyArgs, desk: &mut Desk) -> Result<VerifyAsk, Stop> {
    let tool = desk.tool(&args.tool)?;
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
        Some(path) => Some(desk.take(path)?),
        None => None,
    };
    let control = match &args.control {
        Some(path) => Some(desk.take(path)?),
        None => None,
    };
    Ok(VerifyAsk {
        full: FullAsk {
            tool,
            shots,
            control,
            control_sd_m: sd_pair("--control-sd-mm", &args.control_sd_mm)?,
            position_sd_m: sd_pair("--position-sd-mm", &args.position_sd_mm)?,
            position_common_sd_m: sd_pair("--position-common-sd-mm", &args.position_common_sd_mm)?,
            heading_sd_deg: args.heading_sd,
            tolerance: tolerance(args.height_mm.as_deref(), args.plan_mm)?,
            ..FullAsk::default()
        },
        daily: None,
    })
}

/// What drifted, as far as the shots say.
fn diagnosis_words(to: &mut impl Write, view: &DiagnosisView) -> io::Result<()> {
    writeln!(to, "\ndiagnosis")?;
    for sentence in &view.words {
        writeln!(to, "  {sentence}")?;
    }
    if matches!(view.outcome, Found::NotLooked | Found::NothingShown) {
        return match view.rule_text.as_str() {
            "" => Ok(()),
            rule => writeln!(to, "  {rule}"),
        };
    }
    let best: Vec<RowView> = view
        .rows
        .iter()
        .filter(|row| row.in_set)
        .map(|row| RowView {
            label: row.label.clone(),
            cells: row.cells.clone(),
        })
        .collect();
    let heads: Vec<&str> = view.columns.iter().map(String::as_str).collect();
    writeln!(to)?;
    rows(to, &heads, &best)?;
    if !view.doubles.is_empty() {
        rows(
            to,
            &["two together", "\u{3c7}\u{b2} left", "AIC"],
            &view.doubles,
        )?;
    }
    let next: Vec<String> = view.next_shots.iter().map(|n| n.words.clone()).collect();
    sentences(to, "the shot that would decide", &next)?;
    writeln!(to, "\n{}", view.rule_text)?;
    for caution in &view.cautions {
        writeln!(to, "{caution}")?;
    }
    Ok(())
}

/// `below,above` and plan as typed, in metres.
pub fn tolerance(height_mm: Option<&str>, plan_mm: Option<f64>) -> Result<ToleranceAsk, Fault> {
    let mut tolerance = ToleranceAsk {
        plan_m: plan_mm.map(|mm| mm / 1000.0),
        ..ToleranceAsk::default()
    };
    if let Some(text) = height_mm {
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
