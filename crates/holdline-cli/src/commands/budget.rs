//! `holdline budget`.

use super::calibrate::{exit_of, findings, rows, sentences};
use super::desk::Desk;
use super::machine::{figures, joints_deg};
use super::verify::tolerance;
use super::{not_an_input, numbers, sd_pair, write_looked};
use crate::Stop;
use crate::args::{BudgetArgs, Common, ModeWord};
use crate::out;
use holdline_geom::fault::Fault;
use holdline_steps::budget::{
    BudgetAsk, BudgetView, DrawsSettings, FaceAsk, MapGrid, TaskAsk, Work,
};
use holdline_steps::exit::Exit;
use holdline_steps::job::stamp_now;
use holdline_steps::pose::Mode;
use holdline_steps::verify::RowView;
use holdline_steps::views::ToolAsk;
use std::io::{self, IsTerminal, Write};
use std::sync::atomic::AtomicBool;

/// Works a budget out; keeps a record if asked.
pub fn run(args: &BudgetArgs, common: &Common) -> Result<Exit, Stop> {
    not_an_input(args.keep.sheet.as_deref(), &[args.tool.machine.as_path()])?;
    let mut desk = Desk::open(&args.keep.in_job)?;
    let tool = desk.tool(&args.tool)?;
    let ask = ask(args, tool)?;
    let now = stamp_now(&desk.by)?;
    let tells = !common.quiet && !common.json && io::stderr().is_terminal();
    let progress = |done: usize, of: usize| {
        if tells {
            eprint!("\rmap {:3} %", 100 * done / of.max(1));
        }
    };
    let cancel = AtomicBool::new(false);
    let work = Work {
        progress: &progress,
        cancel: &cancel,
    };
    let looked = desk.job.budget(&ask, &work, common.units.into())?;
    if tells {
        eprint!("\r{:20}\r", "");
    }
    let recorded = match desk.kept() {
        Some(_) => Some(desk.job.record_budget(&ask, None, &now)?),
        None => None,
    };
    if let Some(path) = &args.keep.sheet {
        write_looked(&mut desk.job, recorded, &looked.entry, path, common)?;
    }
    if common.json {
        out::json(&serde_json::json!({ "result": looked.view, "record": recorded }))?;
    } else {
        words(&looked.view, &desk.told(recorded))?;
    }
    Ok(exit_of(looked.view.verdict.answer))
}

fn ask(args: &BudgetArgs, tool: ToolAsk) -> Result<BudgetAsk, Stop> {
    let metres = |mm: Option<f64>| mm.map(|mm| mm / 1000.0);
    let task = tolerance(args.height_mm.as_deref(), args.plan_mm)?;
    let face = match &args.face {
        None => None,
        Some(text) => {
            let [slope_deg, azimuth_deg] = numbers("--face", text, "slope,azimuth in degrees")?;
            Some(FaceAsk {
                slope_deg,
                azimuth_deg,
            })
        }
    };
    Ok(BudgetAsk {
        tool,
        mode: match args.mode {
            ModeWord::TwoD => Mode::TwoD,
            ModeWord::ThreeD => Mode::ThreeD,
        },
        position_sd_m: sd_pair("--position-sd-mm", &args.position_sd_mm)?,
        heading_sd_deg: args.heading_sd,
        localization_sd_m: sd_pair("--localization-sd-mm", &args.localization_sd_mm)?,
        bench_sd_m: metres(args.bench_sd_mm),
        touch_sd_m: metres(args.touch_sd_mm),
        mark_sd_m: metres(args.mark_sd_mm),
        rebenches: args.moves,
        pin_play_m: metres(args.pin_play_mm),
        deflection_m: metres(args.deflection_mm),
        latency_s: args.latency_ms.map(|ms| ms / 1000.0),
        speed_m_s: args.speed,
        face,
        tolerance: TaskAsk {
            up_m: task.up_m,
            down_m: task.down_m,
            plan_m: task.plan_m,
            normal_m: metres(args.normal_mm),
        },
        one_sided: args.one_sided,
        joints_deg: joints_deg(&args.joints)?,
        pitch_deg: args.pitch,
        roll_deg: args.roll,
        heading_deg: args.heading,
        pair_sd_m: metres(args.pair_sd_mm),
        draws: (0 < args.draws).then_some(DrawsSettings {
            n_draws: args.draws,
            seed: args.seed,
        }),
        work_reach_m: span("--work-reach", args.work_reach.as_deref())?,
        work_height_m: span("--work-height", args.work_height.as_deref())?,
        work_bucket_deg: span("--work-bucket", args.work_bucket.as_deref())?,
        grid: grid(&args.grid)?,
    })
}

/// `from,to` in metres, where it was typed.
fn span(at: &str, text: Option<&str>) -> Result<Option<[f64; 2]>, Fault> {
    const WANT: &str = "from,to, the smaller first";
    let Some(text) = text else { return Ok(None) };
    let [from, to]: [f64; 2] = numbers(at, text, WANT)?;
    if from < to {
        Ok(Some([from, to]))
    } else {
        Err(Fault::new(
            "F062",
            at,
            format!("{text:?}"),
            WANT,
            "type the nearer or lower end first",
        ))
    }
}

fn grid(text: &str) -> Result<Option<MapGrid>, Fault> {
    const WANT: &str = "whole numbers of points forward,up; 0,0 makes no map";
    let [n_forward, n_up]: [f64; 2] = numbers("--grid", text, WANT)?;
    let whole = |n: f64| (0.0..=1e4).contains(&n) && n.fract() == 0.0;
    if !(whole(n_forward) && whole(n_up)) {
        return Err(Fault::new(
            "F062",
            "--grid",
            format!("{text:?}"),
            WANT,
            "60,60 shows what there is to see",
        ));
    }
    Ok((0.0 < n_forward * n_up).then_some(MapGrid {
        n_forward: n_forward as u32,
        n_up: n_up as u32,
    }))
}

fn words(view: &BudgetView, told: &str) -> io::Result<()> {
    let mut to = io::stdout().lock();
    figures(&mut to, &view.figures)?;
    let shares: Vec<RowView> = view
        .shares
        .iter()
        .map(|share| RowView {
            label: share.label.clone(),
            cells: vec![share.text.clone()],
        })
        .collect();
    if !shares.is_empty() {
        writeln!(to, "\nshares")?;
        rows(&mut to, &["source", "part"], &shares)?;
    }
    sentences(&mut to, "what would help most", &view.help)?;
    if let Some(growth) = &view.growth {
        writeln!(to, "\nover moves of the machine")?;
        let heads: Vec<&str> = growth.columns.iter().map(String::as_str).collect();
        rows(&mut to, &heads, &growth.rows)?;
        for sentence in &growth.words {
            writeln!(to, "  {sentence}")?;
        }
    }
    if let Some(monte_carlo) = &view.monte_carlo {
        writeln!(to, "\n{}", monte_carlo.text)?;
    }
    sentences(&mut to, "no uncertainty stated for", &view.missing)?;
    writeln!(to, "\n{}", view.verdict.text)?;
    for sentence in &view.words {
        writeln!(to, "{sentence}")?;
    }
    findings(&mut to, &view.findings)?;
    for caution in &view.cautions {
        writeln!(to, "{caution}")?;
    }
    writeln!(to, "{told}")
}
