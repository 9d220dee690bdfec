//! `holdline calibrate …`.

use super::desk::Desk;
use super::{not_an_input, numbers, sd_pair, write, write_looked};
use crate::Stop;
use crate::args::{
    CalibrateCommand, Common, DocumentWord, FitArgs, FitWhat, HandOverArgs, NextArgs,
};
use crate::out;
use holdline_steps::calibrate::figure_rows;
use holdline_steps::calibrate::{
    CalibrateAsk, FitView, HandOverAsk, HandOverView, NextAsk, NextView,
};
use holdline_steps::documents::{Kind, document_schema};
use holdline_steps::exit::Exit;
use holdline_steps::job::stamp_now;
use holdline_steps::verify::{Answer, RowView};
use holdline_steps::views::FindingView;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// Runs one of the calibrate commands.
pub fn run(command: CalibrateCommand, common: &Common) -> Result<Exit, Stop> {
    match command {
        CalibrateCommand::Fit(args) => fit(&args, common),
        CalibrateCommand::Next(args) => next(&args, common),
        CalibrateCommand::HandOver(args) => hand_over(&args, common),
        CalibrateCommand::Schema { of } => schema(of),
    }
}

fn schema(of: DocumentWord) -> Result<Exit, Stop> {
    let kind = match of {
        DocumentWord::Observations => Kind::Observations,
        DocumentWord::Calibration => Kind::Calibration,
        DocumentWord::Terms => Kind::Terms,
    };
    if let Some(text) = document_schema(kind) {
        writeln!(io::stdout(), "{text}")?;
    }
    Ok(Exit::Good)
}

/// What the exit code says of an answer.
pub fn exit_of(answer: Answer) -> Exit {
    match answer {
        Answer::Pass => Exit::Good,
        Answer::Fail | Answer::NotShown => Exit::No,
    }
}

fn ask(desk: &mut Desk, what: &FitWhat) -> Result<CalibrateAsk, Stop> {
    let tool = desk.tool(&what.tool)?;
    let mut observations = Vec::new();
    for path in &what.observations {
        observations.push(desk.take(path)?);
    }
    Ok(CalibrateAsk {
        tool,
        observations,
        solve: what.solve.clone(),
        hold: what.hold.clone(),
        position_sd_m: sd_pair("--position-sd-mm", &what.position_sd_mm)?,
        heading_sd_deg: what.heading_sd,
        keep_all: what.keep_all,
        ..CalibrateAsk::default()
    })
}

fn inputs(what: &FitWhat) -> Vec<&Path> {
    let mut inputs = vec![what.tool.machine.as_path()];
    inputs.extend(what.tool.calibration.as_deref());
    inputs.extend(what.observations.iter().map(PathBuf::as_path));
    inputs
}

fn fit(args: &FitArgs, common: &Common) -> Result<Exit, Stop> {
    not_an_input(args.output.as_deref(), &inputs(&args.what))?;
    not_an_input(args.keep.sheet.as_deref(), &inputs(&args.what))?;
    let mut desk = Desk::open(&args.keep.in_job)?;
    let mut ask = ask(&mut desk, &args.what)?;
    ask.who = args.keep.in_job.by.clone().unwrap_or_default();
    ask.on.clone_from(&args.on);
    ask.with.clone_from(&args.with);
    let now = stamp_now(&desk.by)?;
    let today = now.at().get(..10).unwrap_or_default().to_owned();
    let fitted = desk.job.calibrate(&ask, &today, common.units.into())?;
    // A fit that is not believed hands no calibration out: whoever has the file would use it.
    if let Some(path) = &args.output
        && !fitted.view.calibration_text.is_empty()
    {
        write(path, fitted.view.calibration_text.as_bytes())?;
    }
    let recorded = match desk.kept() {
        Some(_) => Some(desk.job.record_calibrate(&ask, None, &now)?),
        None => None,
    };
    let seq = recorded.as_ref().map(|recorded| recorded.seq);
    if let Some(path) = &args.keep.sheet {
        write_looked(&mut desk.job, seq, &fitted.entry, path, common)?;
    }
    if common.json {
        out::json(&serde_json::json!({ "result": fitted.view, "record": seq }))?;
    } else {
        fit_words(&fitted.view, args, &desk.told(seq))?;
    }
    Ok(exit_of(fitted.view.outcome))
}

/// A table of rows with ready cells under their heads.
pub fn rows(to: &mut impl Write, heads: &[&str], rows: &[RowView]) -> io::Result<()> {
    let mut table: Vec<Vec<String>> = Vec::new();
    if heads.iter().any(|head| !head.is_empty()) {
        let mut line: Vec<String> = heads.iter().map(|head| (*head).to_owned()).collect();
        if let Some(first) = line.first_mut() {
            first.insert_str(0, "  ");
        }
        table.push(line);
    }
    table.extend(rows.iter().map(|row| {
        let mut cells = vec![format!("  {}", row.label)];
        cells.extend(row.cells.iter().cloned());
        cells
    }));
    write!(to, "{}", out::table(&table))
}

/// A heading with sentences under it; nothing where there are none.
pub fn sentences(to: &mut impl Write, heading: &str, words: &[String]) -> io::Result<()> {
    if words.is_empty() {
        return Ok(());
    }
    writeln!(to, "\n{heading}")?;
    for sentence in words {
        writeln!(to, "  {sentence}")?;
    }
    Ok(())
}

/// Findings, a line each.
pub fn findings(to: &mut impl Write, all: &[FindingView]) -> io::Result<()> {
    for finding in all {
        writeln!(to, "{} {}: {}", finding.code, finding.place, finding.text)?;
    }
    Ok(())
}

fn fit_words(view: &FitView, args: &FitArgs, told: &str) -> io::Result<()> {
    let mut to = io::stdout().lock();
    writeln!(to, "figures, ± is k = 2")?;
    rows(
        &mut to,
        &["figure", "on the sheet", "now", "change", ""],
        &figure_rows(view),
    )?;
    if args.all {
        let heads: Vec<&str> = view.columns.iter().map(String::as_str).collect();
        let all: Vec<RowView> = view
            .rows
            .iter()
            .map(|row| RowView {
                label: row.label.clone(),
                cells: row.cells.clone(),
            })
            .collect();
        writeln!(to, "\nobservations")?;
        rows(&mut to, &heads, &all)?;
    }
    writeln!(to, "\ntooth, ± is k = 2")?;
    let teeth: Vec<RowView> = view
        .tooth
        .iter()
        .map(|t| RowView {
            label: t.label.clone(),
            cells: vec![t.place_text.clone(), t.before_text.clone(), t.text.clone()],
        })
        .collect();
    rows(&mut to, &["", "where", "by the sheet", "now"], &teeth)?;
    writeln!(to)?;
    for sentence in &view.words {
        writeln!(to, "{sentence}")?;
    }
    writeln!(to, "{}", view.global)?;
    if !view.rejected.is_empty() {
        writeln!(to, "\nrejected")?;
        for one in &view.rejected {
            writeln!(to, "  {}: {}", one.place, one.text)?;
        }
    }
    sentences(&mut to, "cannot be told apart", &view.inseparable)?;
    sentences(
        &mut to,
        "not determined by these observations",
        &view.not_determined,
    )?;
    sentences(&mut to, "little more than the sheet said", &view.weak)?;
    sentences(&mut to, "what some rows say by themselves", &view.alone)?;
    sentences(&mut to, "found together", &view.correlated)?;
    sentences(&mut to, "next", &view.next)?;
    writeln!(to)?;
    findings(&mut to, &view.findings)?;
    for caution in &view.cautions {
        writeln!(to, "{caution}")?;
    }
    match &args.output {
        Some(_) if view.calibration_text.is_empty() => writeln!(
            to,
            "no calibration was written: a fit that cannot be believed hands none out"
        )?,
        Some(path) => writeln!(to, "calibration written to {}", path.display())?,
        None => writeln!(
            to,
            "no calibration was written: give -o to have it as a file"
        )?,
    }
    writeln!(to, "{told}")
}

fn next(args: &NextArgs, common: &Common) -> Result<Exit, Stop> {
    not_an_input(args.output.as_deref(), &inputs(&args.what))?;
    let mut desk = Desk::scratch()?;
    let [fall_deg, fall_towards_deg] = match &args.fall {
        Some(text) => numbers("--fall", text, "slope,heading in degrees")?,
        None => [0.0, 0.0],
    };
    let ask = NextAsk {
        fit: ask(&mut desk, &args.what)?,
        n: args.n,
        shot_sd_m: args.shot_sd_mm.map(|mm| mm / 1000.0),
        fall_deg,
        fall_towards_deg,
        by_figures: args.by_figures,
        enough_sd_m: args.enough_mm.map(|mm| mm / 1000.0),
    };
    let view = desk.job.next_poses(&ask, common.units.into())?;
    if let Some(path) = &args.output {
        write(path, view.csv.as_bytes())?;
    }
    if common.json {
        out::json(&view)?;
    } else {
        next_words(&view, args.output.as_deref())?;
    }
    Ok(Exit::Good)
}

fn next_words(view: &NextView, output: Option<&Path>) -> io::Result<()> {
    let mut to = io::stdout().lock();
    for sentence in &view.words {
        writeln!(to, "{sentence}")?;
    }
    for (heading, poses) in [
        ("poses to measure, in this order", &view.poses),
        ("check shots, not for the fit", &view.check_poses),
    ] {
        if poses.is_empty() {
            continue;
        }
        writeln!(to, "\n{heading}")?;
        let table: Vec<RowView> = poses
            .iter()
            .map(|pose| RowView {
                label: pose.number.to_string(),
                cells: vec![pose.words.clone(), pose.gain_text.clone()],
            })
            .collect();
        rows(&mut to, &["", "", ""], &table)?;
    }
    writeln!(to)?;
    for caution in &view.cautions {
        writeln!(to, "{caution}")?;
    }
    match output {
        Some(path) => writeln!(to, "file to fill in: {}", path.display()),
        None => Ok(()),
    }
}

fn hand_over(args: &HandOverArgs, common: &Common) -> Result<Exit, Stop> {
    let inputs = [args.tool.machine.as_path(), args.terms.as_path()];
    not_an_input(args.keep.sheet.as_deref(), &inputs)?;
    let mut desk = Desk::open(&args.keep.in_job)?;
    let ask = HandOverAsk {
        tool: desk.tool(&args.tool)?,
        terms: desk.take(&args.terms)?,
        allowed_m: args.allowed_mm.map(|mm| mm / 1000.0),
    };
    let now = stamp_now(&desk.by)?;
    let looked = desk.job.hand_over(&ask, common.units.into())?;
    let recorded = match desk.kept() {
        Some(_) => Some(desk.job.record_hand_over(&ask, None, &now)?),
        None => None,
    };
    if let Some(path) = &args.keep.sheet {
        write_looked(&mut desk.job, recorded, &looked.entry, path, common)?;
    }
    if common.json {
        out::json(&serde_json::json!({ "result": looked.view, "record": recorded }))?;
    } else {
        hand_over_words(&looked.view, &desk.told(recorded))?;
    }
    Ok(exit_of(looked.view.outcome))
}

fn hand_over_words(view: &HandOverView, told: &str) -> io::Result<()> {
    let mut to = io::stdout().lock();
    let entries: Vec<RowView> = view
        .entries
        .iter()
        .map(|entry| RowView {
            label: entry.label.clone(),
            cells: vec![
                entry.text.clone(),
                entry.exact_text.clone(),
                entry.tooth_text.clone(),
                entry.remark.clone(),
            ],
        })
        .collect();
    rows(
        &mut to,
        &["entry", "key in", "exactly", "rounding at the tooth", ""],
        &entries,
    )?;
    sentences(&mut to, "what no entry takes over", &view.not_carried)?;
    writeln!(to, "\nread the tooth back")?;
    let poses: Vec<RowView> = view
        .poses
        .iter()
        .map(|pose| RowView {
            label: pose.label.clone(),
            cells: vec![
                pose.joints_text.clone(),
                pose.want_text.clone(),
                pose.entered_text.clone(),
                pose.difference_text.clone(),
            ],
        })
        .collect();
    rows(
        &mut to,
        &[
            "pose",
            "joints",
            "by the calibration",
            "by what is keyed in",
            "apart",
        ],
        &poses,
    )?;
    writeln!(to)?;
    for sentence in &view.words {
        writeln!(to, "{sentence}")?;
    }
    findings(&mut to, &view.findings)?;
    for caution in &view.cautions {
        writeln!(to, "{caution}")?;
    }
    writeln!(to, "{told}")
}
