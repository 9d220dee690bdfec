//! Printed sheets and cards: one that is not to be relied on says so, whoever holds it.

use holdline::records::Stamp;
use holdline_steps::job::Job;
use holdline_steps::sheets::{FileForm, Which};
use holdline_steps::units::Units;
use holdline_steps::verify::{DailyEntryAsk, FullAsk, ToleranceAsk, TypedShot, VerifyAsk};
use holdline_steps::views::{SdPair, ToolAsk};

const MACHINE: &[u8] = include_bytes!("../../../demo/demo-23.machine.toml");
const SHOTS: &[u8] = include_bytes!("../../../demo/S1-day.shots.csv");
const CONTROL: &[u8] = include_bytes!("../../../demo/control.csv");

fn stamp() -> Stamp {
    Stamp::new("2025-12-08T09:00:00Z", "A. Example").unwrap()
}

fn job(dir: &tempfile::TempDir) -> (Job, ToolAsk) {
    let mut job = Job::create(&dir.path().join("job.holdline")).unwrap_or_else(|f| panic!("{f}"));
    let machine = job
        .import("demo-23.machine.toml", MACHINE, &stamp())
        .unwrap();
    let tool = ToolAsk {
        machine: machine.hash,
        calibration: None,
        coupler: Some("QC-demo".into()),
        tilt: None,
        bucket: "T75".into(),
        tooth: "centre".into(),
    };
    (job, tool)
}

fn sd(h: f64, v: f64) -> Option<SdPair> {
    Some(SdPair {
        h: Some(h),
        v: Some(v),
    })
}

/// Eight shots whose heights are off by so many millimetres; allowed are 30 mm, 50 mm in plan.
fn check(tool: &ToolAsk, off_mm: f64) -> VerifyAsk {
    let scatter = [1.0, -2.0, 0.0, 2.0, -1.0, 1.0, 0.0, -1.0];
    let rows = scatter.iter().enumerate().map(|(idx, mm)| TypedShot {
        name: format!("{}", idx + 1),
        shown: [
            Some(5060.0),
            Some(2043.0),
            Some(24.5 + (mm + off_mm) / 1000.0),
        ],
        known: [Some(5060.0), Some(2043.0), Some(24.5)],
        shown_sd_m: sd(0.010, 0.010),
        known_sd_m: sd(0.003, 0.003),
    });
    VerifyAsk {
        full: FullAsk {
            tool: tool.clone(),
            rows: Some(rows.collect()),
            tolerance: ToleranceAsk {
                up_m: Some(0.03),
                down_m: Some(0.03),
                plan_m: Some(0.05),
            },
            control_sd_m: sd(0.001, 0.001),
            ..FullAsk::default()
        },
        daily: None,
    }
}

fn morning(tool: &ToolAsk, date: &str, off_mm: f64, limits: &str) -> VerifyAsk {
    VerifyAsk {
        full: FullAsk {
            rows: None,
            ..check(tool, 0.0).full
        },
        daily: Some(DailyEntryAsk {
            bench: "B1".into(),
            shown_m: Some(24.31 + off_mm / 1000.0),
            known_m: Some(24.31),
            shown_sd_m: Some(0.003),
            known_sd_m: Some(0.002),
            wear_m: Some(0.0),
            limits_tried: limits.into(),
            initials: "AE".into(),
            date: Some(date.into()),
            ..DailyEntryAsk::default()
        }),
    }
}

/// The words of a drawing, in order, with a space between.
fn words(svg: &str) -> String {
    let mut out = String::new();
    let mut inside = false;
    for letter in svg.chars() {
        match letter {
            '<' => inside = true,
            '>' => {
                inside = false;
                out.push(' ');
            }
            _ if !inside => out.push(letter),
            _ => {}
        }
    }
    out.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The words of a record's card; it is one side.
#[track_caller]
fn card(job: &mut Job, seq: u64) -> String {
    let sides = job
        .sheet_files(seq, Which::Card, FileForm::Svg, Units::Metric)
        .unwrap_or_else(|f| panic!("{f}"));
    assert_eq!(sides.len(), 1, "a card is one side");
    words(&String::from_utf8(sides[0].clone()).unwrap())
}

#[track_caller]
fn sheet(job: &mut Job, seq: u64) -> String {
    words(&job.sheet_on_screen(seq, 1, Units::Metric).unwrap())
}

#[track_caller]
fn has(text: &str, wanted: &[&str]) {
    for wanted in wanted {
        assert!(text.contains(wanted), "no {wanted:?} in {text}");
    }
}

#[test]
fn a_good_card_has_the_bench_limits_and_the_people() {
    let dir = tempfile::tempdir().unwrap();
    let (mut job, tool) = job(&dir);
    let seq = job
        .record_verify(&check(&tool, 0.0), None, &stamp())
        .unwrap();
    let text = card(&mut job, seq);
    // Two thirds of 30 mm, and 30 mm.
    has(
        &text,
        &[
            "holds",
            "re-check beyond 20 mm",
            "stop beyond 30 mm",
            "Nobody in the swing",
        ],
    );
    assert!(!text.contains("DO NOT USE") && !text.contains("NOT SHOWN"));
    has(
        &sheet(&mut job, seq),
        &["Nobody in the swing", "typed by hand"],
    );
}

#[test]
fn the_card_never_rounds_the_bench_limits_up() {
    let dir = tempfile::tempdir().unwrap();
    let (mut job, tool) = job(&dir);
    let mut ask = check(&tool, 0.0);
    // Two thirds of 25 mm are 16.7 mm.
    (ask.full.tolerance.up_m, ask.full.tolerance.down_m) = (Some(0.029), Some(0.025));
    let seq = job.record_verify(&ask, None, &stamp()).unwrap();
    let text = card(&mut job, seq);
    has(&text, &["re-check beyond 16 mm", "stop beyond 25 mm"]);
}

#[test]
fn a_record_that_no_longer_counts_gives_no_card_to_dig_by() {
    let dir = tempfile::tempdir().unwrap();
    let (mut job, tool) = job(&dir);
    let old = job
        .record_verify(&check(&tool, 0.0), None, &stamp())
        .unwrap();
    job.sign(old, "A. Example", "surveyor", "2025-12-08", &stamp())
        .unwrap();
    let new = job
        .record_verify(&check(&tool, 1.0), Some(old), &stamp())
        .unwrap();
    let text = card(&mut job, old);
    let head = format!("DO NOT USE: superseded by record {new}");
    has(&text, &[&head, "A. Example, surveyor"]);
    assert!(!text.contains("stop beyond"), "{text}");
    let text = sheet(&mut job, old);
    let head = format!("SUPERSEDED by record {new} It said: Holds.");
    has(&text, &[&head, "It was signed by A. Example, surveyor"]);

    let newer = String::from_utf8_lossy(MACHINE).replace("value = 2.940", "value = 2.942");
    job.import("demo-23.machine.toml", newer.as_bytes(), &stamp())
        .unwrap();
    let text = card(&mut job, new);
    has(&text, &["DO NOT USE: stale", "newer version"]);
    has(&sheet(&mut job, new), &["STALE: demo-23.machine.toml"]);
}

#[test]
fn a_check_that_does_not_hold_or_shows_nothing_says_so_on_its_card() {
    let dir = tempfile::tempdir().unwrap();
    let (mut job, tool) = job(&dir);
    let failed = job
        .record_verify(&check(&tool, 80.0), None, &stamp())
        .unwrap();
    let text = card(&mut job, failed);
    has(&text, &["DO NOT USE: the tooth does not hold", "Height:"]);
    assert!(!text.contains("Shift test") && !text.contains("stop beyond"));

    let mut unknown = check(&tool, 0.0);
    unknown.full.control_sd_m = None;
    let not_shown = job.record_verify(&unknown, None, &stamp()).unwrap();
    let text = card(&mut job, not_shown);
    has(&text, &["NOT SHOWN: do not rely on this tooth"]);
    assert!(text.contains("ncertainty"), "the reason: {text}");
    // Its sheet still has what was allowed, in the plot and in the table.
    let minus = '\u{2212}';
    let text = sheet(&mut job, not_shown);
    for limit in [30, 50] {
        let (plot, table) = (
            format!("tolerance +{limit} mm"),
            format!("{minus}{limit} / +{limit} mm"),
        );
        has(&text, &[&plot, &table]);
    }
    unknown.full.tolerance = ToleranceAsk::default();
    let without = job.record_verify(&unknown, None, &stamp()).unwrap();
    has(&sheet(&mut job, without), &["not stated"]);
}

#[test]
fn mornings_stand_by_their_date_and_say_what_they_called_for() {
    let dir = tempfile::tempdir().unwrap();
    let (mut job, tool) = job(&dir);
    job.record_verify(&check(&tool, 0.0), None, &stamp())
        .unwrap();
    let mut record = |date: &str, off_mm: f64, limits: &str| {
        job.record_verify(&morning(&tool, date, off_mm, limits), None, &stamp())
            .unwrap_or_else(|f| panic!("{f}"))
    };
    let good = record("2025-12-05", 2.0, "held");
    let limit = record("2025-12-03", -3.0, "failed");
    // Typed a digit wrong: 2.4 m off. The plot takes it in.
    let far = record("2025-12-04", 2400.0, "held");
    let text = card(&mut job, good);
    has(
        &text,
        &["Morning of 2025-12-05 holds", "re-check beyond 20 mm"],
    );
    let text = card(&mut job, limit);
    has(&text, &["STOP: a limit did not hold"]);
    assert!(!text.contains("Shift test"), "{text}");
    let text = card(&mut job, far);
    has(
        &text,
        &["DO NOT USE", "FULL RE-CHECK DUE", "two thirds of 30 mm"],
    );
    let text = sheet(&mut job, far);
    let (table, plot) = (text.rfind("Daily checks").unwrap(), text.find("2025-12-03"));
    let order: Vec<usize> = ["2025-12-05", "2025-12-04", "2025-12-03"]
        .iter()
        .map(|day| table + text[table..].find(day).unwrap())
        .collect();
    assert!(plot.is_some() && order.is_sorted(), "{text}");
    has(
        &text,
        &[
            "a limit failed",
            "does not hold, full re-check due",
            "2025-12-04: Does not hold",
            "A full re-check is due",
        ],
    );
    has(&sheet(&mut job, limit), &["STOP: a limit did not hold"]);
}

#[test]
fn the_check_sheet_says_who_shot_and_that_shots_are_old() {
    let dir = tempfile::tempdir().unwrap();
    let (mut job, tool) = job(&dir);
    job.import("control.csv", CONTROL, &stamp()).unwrap();
    let shots = job.import("S1-day.shots.csv", SHOTS, &stamp()).unwrap();
    let mut ask = check(&tool, 0.0);
    ask.full.rows = None;
    ask.full.control_sd_m = None;
    ask.full.shots = Some(shots.hash);
    let seq = job.record_verify(&ask, None, &stamp()).unwrap();
    let text = sheet(&mut job, seq);
    has(
        &text,
        &[
            "Shots measured by A. Example, 2025-12-02 08:10 to",
            "total station",
        ],
    );
    assert!(!text.contains("Old shots"), "{text}");
    let late = Stamp::new("2026-02-10T09:00:00Z", "A. Example").unwrap();
    let seq = job.record_verify(&ask, None, &late).unwrap();
    // `date -d 2026-02-10 +%s` less that of 2025-12-02, divided by 86400: 70 (coreutils 9).
    has(&sheet(&mut job, seq), &["Old shots: measured 70 days"]);
}
