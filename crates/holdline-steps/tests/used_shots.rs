//! What a calibration was fitted to proves nothing of it; a morning rests on a check of its own machine and tooth.

use holdline::calibrate::observations::{Target, What};
use holdline::records::Stamp;
use holdline_files::observations::{ReadingNames, read_observations};
use holdline_files::points::{ShotRow, write_shots};
use holdline_steps::calibrate::CalibrateAsk;
use holdline_steps::job::Job;
use holdline_steps::units::Units;
use holdline_steps::verify::{Answer, CheckView, DailyEntryAsk, FullAsk, ToleranceAsk, VerifyAsk};
use holdline_steps::views::{SdPair, ToolAsk};

const MACHINE: &str = include_str!("../../../demo/demo-23.machine.toml");
const OBSERVATIONS: &str = include_str!("../../../demo/calibration-day.observations.csv");
const FRESH: &str = include_str!("../../../demo/S1-day.shots.csv");
const KNOCKED: &str = include_str!("../../../demo/S1-knocked.shots.csv");
const DAY: &str = "2025-12-03";

fn stamp() -> Stamp {
    Stamp::new("2025-12-02T09:00:00Z", "A. Example").unwrap()
}

fn pair(h: f64, v: f64) -> Option<SdPair> {
    Some(SdPair {
        h: Some(h),
        v: Some(v),
    })
}

struct Desk {
    _dir: tempfile::TempDir,
    job: Job,
    tool: ToolAsk,
}

impl Desk {
    fn take(&mut self, name: &str, bytes: &[u8]) -> String {
        let taken = self.job.import(name, bytes, &stamp());
        taken.unwrap_or_else(|f| panic!("{f}")).hash
    }

    /// The demo machine, calibrated by the demo's day.
    fn calibrated() -> Desk {
        let dir = tempfile::tempdir().unwrap();
        let job = Job::create(&dir.path().join("job.holdline")).unwrap_or_else(|f| panic!("{f}"));
        let mut desk = Desk {
            _dir: dir,
            job,
            tool: ToolAsk::default(),
        };
        desk.tool = ToolAsk {
            machine: desk.take("demo-23.machine.toml", MACHINE.as_bytes()),
            coupler: Some("QC-demo".into()),
            bucket: "T75".into(),
            tooth: "centre".into(),
            ..ToolAsk::default()
        };
        let observations = desk.take("day.observations.csv", OBSERVATIONS.as_bytes());
        let ask = CalibrateAsk {
            tool: desk.tool.clone(),
            observations: vec![observations],
            position_sd_m: pair(0.004, 0.006),
            ..CalibrateAsk::default()
        };
        let made = desk.job.record_calibrate(&ask, None, &stamp());
        desk.tool.calibration = made.unwrap_or_else(|f| panic!("{f}")).calibration;
        assert!(desk.tool.calibration.is_some(), "believed");
        desk
    }

    fn ask(&self, tool: &ToolAsk, shots: &str) -> VerifyAsk {
        VerifyAsk {
            full: FullAsk {
                tool: tool.clone(),
                shots: Some(shots.to_owned()),
                control_sd_m: pair(0.002, 0.002),
                position_sd_m: pair(0.004, 0.006),
                position_common_sd_m: pair(0.002, 0.003),
                tolerance: ToleranceAsk {
                    up_m: Some(0.1),
                    down_m: Some(0.1),
                    plan_m: Some(0.2),
                },
                ..FullAsk::default()
            },
            daily: None,
        }
    }

    fn check(&mut self, tool: &ToolAsk, name: &str, table: &str) -> CheckView {
        let shots = self.take(name, table.as_bytes());
        let ask = self.ask(tool, &shots);
        let checked = self.job.verify(&ask, DAY, Units::Metric);
        checked.unwrap_or_else(|f| panic!("{f}")).view
    }

    fn record(&mut self, tool: &ToolAsk, name: &str, table: &str) {
        let shots = self.take(name, table.as_bytes());
        let ask = self.ask(tool, &shots);
        let made = self.job.record_verify(&ask, None, &stamp());
        made.unwrap_or_else(|f| panic!("{f}"));
    }

    /// Why a re-check is due on a morning with this tool.
    fn due(&mut self, tool: &ToolAsk) -> String {
        let ask = VerifyAsk {
            full: FullAsk {
                tool: tool.clone(),
                tolerance: ToleranceAsk {
                    up_m: Some(0.05),
                    down_m: Some(0.05),
                    plan_m: None,
                },
                ..FullAsk::default()
            },
            daily: Some(DailyEntryAsk {
                bench: "B1".into(),
                shown_m: Some(24.002),
                known_m: Some(24.0),
                shown_sd_m: Some(0.005),
                known_sd_m: Some(0.002),
                wear_m: Some(0.0),
                limits_tried: "held".into(),
                initials: "A. E.".into(),
                ..DailyEntryAsk::default()
            }),
        };
        let view = self.job.verify(&ask, DAY, Units::Metric);
        view.unwrap_or_else(|f| panic!("{f}"))
            .view
            .recheck
            .join("; ")
    }
}

/// The day's own shots of the centre tooth on the site grid, as check shots that agree with themselves.
fn day_as_checks() -> Vec<ShotRow> {
    let names = ["S-boom", "S-stick", "S-idler", "S-house"].map(str::to_owned);
    let names = ReadingNames {
        sensors: &names,
        antennas: &[],
    };
    let read = read_observations("day.csv", OBSERVATIONS.as_bytes(), &names);
    let rows = read.unwrap_or_else(|f| panic!("{f}")).rows;
    let shots = rows.iter().filter_map(|row| match &row.what {
        What::Shot { target, at_m } if *target == Target::Tooth("centre".into()) => Some(ShotRow {
            line: 0,
            name: format!("check {}", row.name),
            tooth: Some("centre".into()),
            surveyed_m: *at_m,
            shown_m: at_m.map(|m| {
                m.map(|m| holdline_geom::measured::Measured {
                    value: m.value + 0.001 * (row.line % 3) as f64,
                    ..m
                })
            }),
            readings: Vec::new(),
            per_second_m: None,
            held: None,
            by: None,
            when: Some("2025-12-03T08:00".into()),
            instrument: None,
            note: None,
        }),
        _ => None,
    });
    shots.collect()
}

#[test]
fn shots_that_the_calibration_was_fitted_to_prove_nothing() {
    let mut desk = Desk::calibrated();
    let tool = desk.tool.clone();
    let used = day_as_checks();
    assert!(4 <= used.len(), "{}", used.len());
    let view = desk.check(&tool, "same.shots.csv", &write_shots(&used));
    assert_eq!(view.outcome, Answer::NotShown);
    let said = format!("{:?}", view.findings);
    assert!(
        said.contains("V008") && said.contains("fitted to"),
        "{said}"
    );
    // Rounded to the millimetre, or shifted by less than anybody can bring a tooth back, they are the same shots.
    for by in [0.0002, -0.0009] {
        let mut near = used.clone();
        for at in near
            .iter_mut()
            .flat_map(|shot| shot.surveyed_m.iter_mut().flatten())
        {
            at.value = ((at.value + by) * 1000.0).round() / 1000.0;
        }
        let view = desk.check(&tool, "near.shots.csv", &write_shots(&near));
        assert_eq!(view.outcome, Answer::NotShown);
        assert!(format!("{:?}", view.findings).contains("V008"), "{by}");
    }
    // Without the calibration they are shots like any other.
    let plain = ToolAsk {
        calibration: None,
        ..tool.clone()
    };
    let view = desk.check(&plain, "same.shots.csv", &write_shots(&used));
    assert!(!format!("{:?}", view.findings).contains("V008"));
    // Shots that it has not seen are judged, and the used ones beside them do not count.
    let view = desk.check(&tool, "fresh.shots.csv", FRESH);
    assert!(!format!("{:?}", view.findings).contains("V008"));
    assert_eq!(view.outcome, Answer::Pass, "{:?}", view.findings);
}

#[test]
fn a_morning_rests_on_a_check_of_the_same_tooth_and_calibration() {
    let mut desk = Desk::calibrated();
    let tool = desk.tool.clone();
    assert!(desk.due(&tool).contains("no full check"));
    desk.record(&tool, "fresh.shots.csv", FRESH);
    assert_eq!(desk.due(&tool), "");
    let other_tooth = ToolAsk {
        tooth: "left".into(),
        ..tool.clone()
    };
    assert!(desk.due(&other_tooth).contains("no full check"));
    let plain = ToolAsk {
        calibration: None,
        ..tool.clone()
    };
    assert!(desk.due(&plain).contains("no full check"));
    // A check that does not hold, of any calibration and tooth, is about the same steel.
    let off = FRESH.replace(",24.4906,", ",24.8906,");
    assert_ne!(off, FRESH);
    desk.record(&plain, "off.shots.csv", &off);
    assert!(
        desk.due(&tool).contains("was not shown to hold"),
        "{}",
        desk.due(&tool)
    );
}

/// The tolerance is wide enough for a knocked sensor, and the diagnosis finds it all the same: a re-check is due.
#[test]
fn a_check_that_holds_and_finds_something_leaves_a_re_check_due() {
    let mut desk = Desk::calibrated();
    let tool = desk.tool.clone();
    let view = desk.check(&tool, "knocked.shots.csv", KNOCKED);
    assert_eq!(view.outcome, Answer::Pass, "{}", view.decision);
    assert!(
        view.recheck
            .join("; ")
            .contains("diagnosis found something"),
        "{:?}",
        view.recheck
    );
    desk.record(&tool, "knocked.shots.csv", KNOCKED);
    assert!(
        desk.due(&tool).contains("its diagnosis found something"),
        "{}",
        desk.due(&tool)
    );
    desk.record(&tool, "fresh.shots.csv", FRESH);
    assert_eq!(desk.due(&tool), "");
}
