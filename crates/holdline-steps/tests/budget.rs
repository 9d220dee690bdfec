//! Budgets in a job: judged by the worst tooth point, by what was reached and looked at, and not against the draws.

use holdline::records::Stamp;
use holdline_steps::budget::{BudgetAsk, BudgetView, DrawsSettings, MapGrid, TaskAsk, Work};
use holdline_steps::job::Job;
use holdline_steps::pose::Mode;
use holdline_steps::units::Units;
use holdline_steps::verify::Answer;
use holdline_steps::views::{SdPair, ToolAsk};

const MACHINE: &str = include_str!("../../../demo/demo-23.machine.toml");

/// 3D, level, everything stated, in the pose that the machine rests in.
fn ask() -> BudgetAsk {
    let pair = |h, v| {
        Some(SdPair {
            h: Some(h),
            v: Some(v),
        })
    };
    BudgetAsk {
        mode: Mode::ThreeD,
        position_sd_m: pair(0.008, 0.015),
        localization_sd_m: pair(0.005, 0.006),
        pin_play_m: Some(0.001),
        deflection_m: Some(0.004),
        latency_s: Some(0.0),
        speed_m_s: Some(0.0),
        tolerance: TaskAsk {
            up_m: Some(0.2),
            down_m: Some(0.2),
            ..TaskAsk::default()
        },
        ..BudgetAsk::default()
    }
}

#[track_caller]
fn found(sheet: &str, change: impl Fn(&mut BudgetAsk)) -> BudgetView {
    let dir = tempfile::tempdir().unwrap();
    let mut job = Job::create(&dir.path().join("job.holdline")).unwrap_or_else(|f| panic!("{f}"));
    let stamp = Stamp::new("2025-12-02T09:00:00Z", "A. Example").unwrap();
    let taken = job.import("demo-23.machine.toml", sheet.as_bytes(), &stamp);
    let mut ask = ask();
    ask.tool = ToolAsk {
        machine: taken.unwrap_or_else(|f| panic!("{f}")).hash,
        coupler: Some("QC-demo".into()),
        bucket: "T75".into(),
        tooth: "centre".into(),
        ..ToolAsk::default()
    };
    change(&mut ask);
    let looked = job.budget(&ask, &Work::QUIET, Units::Metric);
    looked.unwrap_or_else(|f| panic!("{f}")).view
}

fn words(view: &BudgetView) -> String {
    view.verdict.text.clone()
}

/// The left tooth was measured badly: the bucket is good for no more than that one, whichever is steered by.
#[test]
fn the_worst_tooth_point_is_judged() {
    let left = "{ name = \"left\", at = [-0.178, 0.375, -1.449], sd = 0.004 }";
    assert!(MACHINE.contains(left));
    let bad = MACHINE.replace(left, &left.replace("0.004", "0.150"));
    for grid in [
        None,
        Some(MapGrid {
            n_forward: 12,
            n_up: 12,
        }),
    ] {
        let good = found(MACHINE, |ask| ask.grid = grid);
        assert_eq!(good.verdict.answer, Answer::Pass, "{}", words(&good));
        let view = found(&bad, |ask| ask.grid = grid);
        assert_eq!(view.verdict.answer, Answer::Fail, "{}", words(&view));
        assert!(
            words(&view).contains("worst tooth point is left"),
            "{}",
            words(&view)
        );
    }
    let unknown = MACHINE.replace(left, &left.replace(", sd = 0.004", ""));
    let view = found(&unknown, |_| {});
    assert_eq!(view.verdict.answer, Answer::NotShown, "{}", words(&view));
    assert!(
        words(&view).contains("tooth point left"),
        "{}",
        words(&view)
    );
}

/// A bucket sensor that scatters by degrees: the linkage bends what is linear for small steps, and neither figure is
/// to be built on.
#[test]
fn where_draws_and_linear_part_nothing_is_shown() {
    let line = "offset = { value = 0.0, sd = 0.04 }\nsd = 0.04\nlatency_ms = 40.0\n\n[[sensor]]\nid = \"S-house\"";
    assert!(MACHINE.contains(line));
    let wild = MACHINE.replace(line, &line.replacen("\nsd = 0.04", "\nsd = 9.0", 1));
    let draws = |ask: &mut BudgetAsk| {
        ask.draws = Some(DrawsSettings::default());
        ask.tolerance.up_m = Some(1.0);
        ask.tolerance.down_m = Some(1.0);
    };
    let view = found(&wild, draws);
    assert_eq!(view.verdict.answer, Answer::NotShown, "{}", words(&view));
    assert!(
        words(&view).contains("part here") || words(&view).contains("gave no tooth"),
        "{}",
        words(&view)
    );
    let tame = found(MACHINE, draws);
    assert_eq!(tame.verdict.answer, Answer::Pass, "{}", words(&tame));
}

/// What nobody stated comes first; what would help most cannot be said before that.
#[test]
fn what_is_missing_is_asked_for_first() {
    let view = found(MACHINE, |ask| ask.pin_play_m = None);
    assert_eq!(view.verdict.answer, Answer::NotShown);
    assert_eq!(view.help.len(), 1, "{:?}", view.help);
    assert!(view.help[0].starts_with("State first"), "{:?}", view.help);
}

/// k as people know it, and three cases of too much.
#[test]
fn the_words_say_how_much_too_much() {
    let view = found(MACHINE, |ask| {
        ask.tolerance.up_m = Some(0.001);
        ask.tolerance.down_m = Some(0.001);
        ask.grid = Some(MapGrid {
            n_forward: 12,
            n_up: 12,
        });
    });
    let words = words(&view);
    assert!(words.contains("Does not hold anywhere"), "{words}");
    assert!(
        words.contains("(k = 2)") && words.contains("more than the tolerance itself"),
        "{words}"
    );
}

/// A part to look at without a grid, and a pose that no stroke gives, are asked about and not judged.
#[test]
fn what_cannot_be_looked_at_is_refused() {
    let refused = |change: &dyn Fn(&mut BudgetAsk)| {
        let dir = tempfile::tempdir().unwrap();
        let mut job = Job::create(&dir.path().join("job.holdline")).unwrap();
        let stamp = Stamp::new("2025-12-02T09:00:00Z", "A. Example").unwrap();
        let taken = job.import("demo-23.machine.toml", MACHINE.as_bytes(), &stamp);
        let mut ask = ask();
        ask.tool = ToolAsk {
            machine: taken.unwrap_or_else(|f| panic!("{f}")).hash,
            coupler: Some("QC-demo".into()),
            bucket: "T75".into(),
            tooth: "centre".into(),
            ..ToolAsk::default()
        };
        change(&mut ask);
        job.budget(&ask, &Work::QUIET, Units::Metric).unwrap_err()
    };
    let faults = refused(&|ask| ask.work_reach_m = Some([4.0, 20.0]));
    assert_eq!(
        (faults.0[0].code, faults.0[0].at.as_str()),
        ("V050", "grid")
    );
    let faults = refused(&|ask| {
        ask.joints_deg.insert("boom".into(), 200.0);
    });
    assert!(faults.0.iter().any(|f| f.at.contains("boom")), "{faults}");
}
