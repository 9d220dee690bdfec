//! `holdline machine …`.

use super::calibrate::rows;
use super::desk::Desk;
use super::{form_of, machine_and_tool, not_an_input, numbers, read, sd_pair, write, write_pages};
use crate::Stop;
use crate::args::{Common, MachineCommand, PoseArgs, ReachArgs};
use crate::out;
use holdline_geom::fault::Fault;
use holdline_steps::exit::Exit;
use holdline_steps::machine_view::{
    MachineAndTool, MachineView, load_machine, machine_sheet_schema, machine_view, sheet_figures,
};
use holdline_steps::open_formats::{glb, urdf};
use holdline_steps::pose::{Mode, PoseAsk, PoseView, SitePlace, pose};
use holdline_steps::reach::{ReachAsk, Target, reach};
use holdline_steps::sheets::pose_files;
use holdline_steps::verify::RowView;
use holdline_steps::views::{FigureView, ToolAsk};
use std::collections::BTreeMap;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// Runs one of the machine commands.
pub fn run(command: MachineCommand, common: &Common) -> Result<Exit, Stop> {
    match command {
        MachineCommand::Check { sheet } => check(&sheet, common),
        MachineCommand::Show { sheet } => show(&sheet, common),
        MachineCommand::Ready {
            sheet,
            calibration,
            output,
        } => ready(&sheet, calibration.as_deref(), output.as_deref(), common),
        MachineCommand::Pose(args) => show_pose(&args, common),
        MachineCommand::Reach(args) => show_reach(&args, common),
        MachineCommand::Draw { pose, output } => draw(&pose, &output, common),
        MachineCommand::Export { pose, output } => export(&pose, &output, common),
        MachineCommand::Schema => {
            writeln!(io::stdout(), "{}", machine_sheet_schema())?;
            Ok(Exit::Good)
        }
    }
}

fn check(sheet: &Path, common: &Common) -> Result<Exit, Stop> {
    let machine = load_machine(&sheet.display().to_string(), &read(sheet)?)?;
    let view = machine_view(&machine);
    if common.json {
        out::json(&view)?;
        return Ok(Exit::Good);
    }
    let mut to = io::stdout().lock();
    writeln!(to, "{}: no fault in {}", view.id, sheet.display())?;
    gaps(&mut to, &view)?;
    Ok(Exit::Good)
}

/// What is missing on a sheet without fault: no uncertainty here, no sensor there.
fn gaps(to: &mut impl Write, view: &MachineView) -> io::Result<()> {
    if !view.figures_without_uncertainty.is_empty() {
        let all = view.figures_without_uncertainty.join(", ");
        writeln!(to, "no uncertainty stated: {all}")?;
        writeln!(
            to,
            "the tooth then has none either, and no budget can be shown to hold"
        )?;
    }
    for joint in &view.joints_without_sensor {
        writeln!(
            to,
            "{joint}: no sensor gives it; readings alone do not place the tooth"
        )?;
    }
    Ok(())
}

fn show(sheet: &Path, common: &Common) -> Result<Exit, Stop> {
    let bytes = read(sheet)?;
    let machine = load_machine(&sheet.display().to_string(), &bytes)?;
    let view = machine_view(&machine);
    if common.json {
        out::json(&view)?;
        return Ok(Exit::Good);
    }
    let mut to = io::stdout().lock();
    writeln!(to, "{}  {}", view.id, view.note)?;
    let [who, on, with] = &view.measured;
    writeln!(
        to,
        "measured up by {} on {} with {}",
        or_nobody(who),
        or_nobody(on),
        or_nobody(with)
    )?;
    figures(&mut to, &sheet_figures(&String::from_utf8_lossy(&bytes)))?;
    writeln!(
        to,
        "\njoints, for show and (in brackets) with the stroke's tolerance"
    )?;
    let rows: Vec<Vec<String>> = view
        .joints
        .iter()
        .map(|joint| {
            let span = |range: Option<[f64; 2]>| {
                range.map_or("range not known".to_owned(), |[a, b]| {
                    format!("{a:.1}° to {b:.1}°")
                })
            };
            vec![
                format!("  {}", joint.name),
                span(joint.nominal_deg),
                format!("({})", span(joint.outer_deg)),
            ]
        })
        .collect();
    write!(to, "{}", out::table(&rows))?;
    writeln!(to, "\nsensors")?;
    let rows: Vec<Vec<String>> = view
        .sensors
        .iter()
        .map(|s| {
            let sd = s
                .sd_deg
                .map_or("no uncertainty stated".to_owned(), |sd| format!("sd {sd}°"));
            vec![
                format!("  {}", s.id),
                format!("on {}", s.link),
                s.kind.clone(),
                sd,
            ]
        })
        .collect();
    write!(to, "{}", out::table(&rows))?;
    writeln!(to)?;
    gaps(&mut to, &view)?;
    Ok(Exit::Good)
}

/// Which jobs the machine can do as it is fitted out.
fn ready(
    sheet: &Path,
    calibration: Option<&Path>,
    output: Option<&Path>,
    common: &Common,
) -> Result<Exit, Stop> {
    let mut inputs = vec![sheet];
    inputs.extend(calibration);
    not_an_input(output, &inputs)?;
    let mut desk = Desk::scratch()?;
    let tool = ToolAsk {
        machine: desk.take(sheet)?,
        calibration: match calibration {
            Some(path) => Some(desk.take(path)?),
            None => None,
        },
        ..ToolAsk::default()
    };
    let view = desk.job.readiness(&tool)?;
    if let Some(path) = output {
        let form = form_of(path)?;
        let pages = desk.job.readiness_files(&tool, form, common.units.into())?;
        write_pages(path, &pages)?;
    }
    if common.json {
        out::json(&view)?;
        return Ok(Exit::Good);
    }
    let mut to = io::stdout().lock();
    let table: Vec<RowView> = view
        .jobs
        .iter()
        .map(|job| RowView {
            label: job.job.clone(),
            cells: vec![
                job.answer.word().to_owned(),
                job.text.clone(),
                job.missing.join("; "),
            ],
        })
        .collect();
    rows(&mut to, &["job", "", "has", "missing"], &table)?;
    writeln!(to)?;
    for sentence in view.words.iter().chain(&view.cautions) {
        writeln!(to, "{sentence}")?;
    }
    Ok(Exit::Good)
}

fn or_nobody(words: &str) -> &str {
    if words.is_empty() {
        "(not stated)"
    } else {
        words
    }
}

/// Figures under their headings: label, value, uncertainty.
pub fn figures(to: &mut impl Write, all: &[FigureView]) -> io::Result<()> {
    let mut group = None;
    let mut rows = Vec::new();
    let flush = |to: &mut dyn Write, rows: &mut Vec<Vec<String>>| -> io::Result<()> {
        write!(to, "{}", out::table(rows))?;
        rows.clear();
        Ok(())
    };
    for figure in all {
        if group != Some(&figure.group) {
            flush(to, &mut rows)?;
            if !figure.group.is_empty() {
                writeln!(to, "\n{}", figure.group)?;
            }
            group = Some(&figure.group);
        }
        rows.push(vec![
            format!("  {}", figure.label),
            figure.text.clone(),
            figure.uncertainty_text.clone(),
        ]);
    }
    flush(to, &mut rows)
}

/// Joint angles as typed.
pub fn joints_deg(typed: &[String]) -> Result<BTreeMap<String, f64>, Fault> {
    let mut joints_deg = BTreeMap::new();
    for typed in typed {
        let fault = || {
            Fault::new(
                "F062",
                "--joint",
                format!("{typed:?}"),
                "a joint and its angle in degrees, such as boom=22",
                "`holdline machine show` lists the joints and their ranges",
            )
        };
        let (name, angle) = typed.split_once('=').ok_or_else(fault)?;
        let angle: f64 = angle.trim().parse().map_err(|_| fault())?;
        joints_deg.insert(name.trim().to_owned(), angle);
    }
    Ok(joints_deg)
}

/// The pose as typed.
fn pose_ask(args: &PoseArgs, tool: &MachineAndTool, common: &Common) -> Result<PoseAsk, Fault> {
    let joints_deg = joints_deg(&args.joints)?;
    let stand = match &args.stand {
        None => None,
        Some(text) => {
            let [e, n, u] = numbers("--stand", text, "easting,northing,elevation in metres")?;
            Some(SitePlace { e, n, u })
        }
    };
    let position_sd_m = sd_pair("--position-sd-mm", &args.position_sd_mm)?;
    if stand.is_some() && args.heading.is_none() {
        return Err(Fault::new(
            "T032",
            "--heading",
            "a stand without a heading",
            "--heading, clockwise from grid north",
            "without it nobody knows which way the boom points",
        ));
    }
    Ok(PoseAsk {
        tool: tool.tool_ask(),
        joints_deg,
        pitch_deg: args.pitch,
        roll_deg: args.roll,
        heading_deg: args.heading.unwrap_or(0.0),
        mode: if stand.is_some() {
            Mode::ThreeD
        } else {
            Mode::TwoD
        },
        stand,
        bench_height: args.bench,
        position_sd_m,
        heading_sd_deg: args.heading_sd,
        bench_sd_m: args.bench_sd_mm.map(|mm| mm / 1000.0),
        view: None,
        units: common.units.into(),
    })
}

fn show_pose(args: &PoseArgs, common: &Common) -> Result<Exit, Stop> {
    let tool = machine_and_tool(&args.tool)?;
    let mut view = pose(&tool.machine, &pose_ask(args, &tool, common)?)?;
    view.findings.extend(tool.findings.iter().cloned());
    let end = if view.joints.iter().any(|joint| joint.outside) {
        Exit::No
    } else {
        Exit::Good
    };
    if common.json {
        out::json(&view)?;
        return Ok(end);
    }
    let mut to = io::stdout().lock();
    figures(&mut to, &view.figures)?;
    pose_words(&mut to, &view)?;
    Ok(end)
}

fn pose_words(to: &mut impl Write, view: &PoseView) -> io::Result<()> {
    writeln!(
        to,
        "\nwhole edge; the uncertainty is worked out for the chosen tooth point alone"
    )?;
    let rows: Vec<Vec<String>> = view
        .edge
        .iter()
        .map(|point| vec![format!("  {}", point.name), point.text.clone()])
        .collect();
    write!(to, "{}", out::table(&rows))?;
    writeln!(to, "\njoints")?;
    let rows: Vec<Vec<String>> = view
        .joints
        .iter()
        .map(|joint| {
            let words = joint.limit_words.clone().unwrap_or_default();
            vec![
                format!("  {}", joint.label),
                format!("{:.2}°", joint.deg),
                words,
            ]
        })
        .collect();
    write!(to, "{}", out::table(&rows))?;
    for words in &view.uncertainty_words {
        writeln!(to, "{words}")?;
    }
    for finding in &view.findings {
        writeln!(to, "{} {}: {}", finding.code, finding.place, finding.text)?;
    }
    Ok(())
}

fn show_reach(args: &ReachArgs, common: &Common) -> Result<Exit, Stop> {
    let tool = machine_and_tool(&args.pose.tool)?;
    let target = match (&args.at, &args.at_site) {
        (Some(text), None) => {
            let [x, z] = numbers("--at", text, "forward,up in metres")?;
            Target::Plane { x, z }
        }
        (None, Some(text)) => {
            let [e, n, u] = numbers("--at-site", text, "easting,northing,elevation in metres")?;
            Target::Site { e, n, u }
        }
        _ => {
            return Err(Fault::new(
                "F062",
                "--at",
                "no place, or two",
                "--at forward,up or --at-site easting,northing,elevation",
                "say where the tooth is to go",
            )
            .into());
        }
    };
    let ask = ReachAsk {
        pose: pose_ask(&args.pose, &tool, common)?,
        target,
        attitude_deg: args.attitude,
    };
    let view = match reach(&tool.machine, &ask) {
        Ok(view) => view,
        // Out of reach is an answer, not an unusable question.
        Err(faults) if faults.0.iter().all(|f| matches!(f.code, "T020" | "T021")) => {
            out::faults(&faults, common.json)?;
            return Ok(Exit::No);
        }
        Err(faults) => return Err(faults.into()),
    };
    if common.json {
        out::json(&view)?;
        return Ok(Exit::Good);
    }
    let mut rows: Vec<Vec<String>> = view
        .joints_deg
        .iter()
        .map(|(name, deg)| vec![name.clone(), format!("{deg:.3}°")])
        .collect();
    rows.extend(
        view.cylinders
            .iter()
            .map(|c| vec![format!("{} cylinder", c.name), c.text.clone()]),
    );
    let mut to = io::stdout().lock();
    write!(to, "{}", out::table(&rows))?;
    writeln!(
        to,
        "Strokes alone were looked at, and by the sheet's nominal figures: not the ground, the machine's own body, nor anything about it."
    )?;
    Ok(Exit::Good)
}

fn draw(args: &PoseArgs, output: &Path, common: &Common) -> Result<Exit, Stop> {
    let form = form_of(output)?;
    let tool = machine_and_tool(&args.tool)?;
    let pages = pose_files(&tool.machine, &pose_ask(args, &tool, common)?, form)?;
    written(&write_pages(output, &pages)?, common)
}

fn export(args: &PoseArgs, output: &Path, common: &Common) -> Result<Exit, Stop> {
    let tool = machine_and_tool(&args.tool)?;
    let ask = pose_ask(args, &tool, common)?;
    let bytes = match output
        .extension()
        .and_then(|e| e.to_str())
        .map(str::to_lowercase)
        .as_deref()
    {
        Some("urdf") => urdf(&tool)?.into_bytes(),
        Some("glb") => glb(&tool, &ask)?,
        _ => {
            return Err(Fault::new(
                "F067",
                output.display().to_string(),
                "an ending that says no open format",
                ".urdf or .glb",
                "name the file with one of these endings",
            )
            .into());
        }
    };
    write(output, &bytes)?;
    written(&[output.to_owned()], common)
}

fn written(files: &[PathBuf], common: &Common) -> Result<Exit, Stop> {
    if common.json {
        out::json(&serde_json::json!({ "files": files }))?;
    } else {
        for file in files {
            writeln!(io::stdout(), "{}", file.display())?;
        }
    }
    Ok(Exit::Good)
}
