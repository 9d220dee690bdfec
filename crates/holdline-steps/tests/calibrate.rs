//! Calibrations in a job: on top of their own sheet and no other, and everything that rests on them.

use holdline::calibrate::calibration::{CalibratedFigure, Calibration, FigureUnit};
use holdline::calibrate::fit::Belief;
use holdline::calibrate::observations::ObservedTool;
use holdline::records::Stamp;
use holdline_files::calibration::write_calibration;
use holdline_geom::fault::Faults;
use holdline_steps::budget::{BudgetAsk, Work};
use holdline_steps::calibrate::{CalibrateAsk, HandOverAsk};
use holdline_steps::job::Job;
use holdline_steps::machine_view::{ToolWords, load_machine_and_tool};
use holdline_steps::pose::{PoseAsk, pose};
use holdline_steps::records::MEASURE_UP_KIND;
use holdline_steps::tooth_stream::tooth_model;
use holdline_steps::units::Units;
use holdline_steps::verify::{Answer, FullAsk, ToleranceAsk, VerifyAsk};
use holdline_steps::views::{SdPair, ToolAsk};

const MACHINE: &str = include_str!("../../../demo/demo-23.machine.toml");
const SHOTS: &[u8] = include_bytes!("../../../demo/S1-day.shots.csv");

fn stamp() -> Stamp {
    Stamp::new("2025-12-02T09:00:00Z", "A. Example").unwrap()
}

/// A calibration of that sheet: three offsets found together.
fn calibration(sheet_hash: &str) -> String {
    let figure = |path: &str, value_deg: f64| CalibratedFigure {
        path: path.to_owned(),
        before: 0.0,
        value: value_deg.to_radians(),
        sd: Some(0.01_f64.to_radians()),
        unit: FigureUnit::Radian,
    };
    write_calibration(&Calibration {
        machine: "demo-23".to_owned(),
        sheet_hash: sheet_hash.to_owned(),
        tool: ObservedTool {
            coupler: Some("QC-demo".to_owned()),
            tilt: None,
            bucket: "T75".to_owned(),
        },
        who: "A. Example".to_owned(),
        on: "2025-12-02".to_owned(),
        with: "total station".to_owned(),
        figures: vec![
            figure("sensor[S-boom].offset", 0.03),
            figure("sensor[S-stick].offset", -0.02),
            figure("sensor[S-idler].offset", 0.08),
        ],
        correlations: vec![-0.5, 0.1, -0.7],
        belief: Belief::Believed,
        not_determined: Vec::new(),
    })
}

struct Desk {
    _dir: tempfile::TempDir,
    job: Job,
    plain: ToolAsk,
    calibrated: ToolAsk,
}

fn desk() -> Desk {
    let dir = tempfile::tempdir().unwrap();
    let mut job = Job::create(&dir.path().join("job.holdline")).unwrap_or_else(|f| panic!("{f}"));
    let machine = job
        .import("demo-23.machine.toml", MACHINE.as_bytes(), &stamp())
        .unwrap();
    let text = calibration(&machine.hash);
    let taken = job
        .import("demo-23.calibration.toml", text.as_bytes(), &stamp())
        .unwrap_or_else(|f| panic!("{f}"));
    assert_eq!(taken.kind, "holdline.calibration");
    let plain = ToolAsk {
        machine: machine.hash,
        coupler: Some("QC-demo".into()),
        bucket: "T75".into(),
        tooth: "centre".into(),
        ..ToolAsk::default()
    };
    let calibrated = ToolAsk {
        calibration: Some(taken.hash),
        ..plain.clone()
    };
    Desk {
        _dir: dir,
        job,
        plain,
        calibrated,
    }
}

fn check(tool: &ToolAsk, shots: &str) -> VerifyAsk {
    VerifyAsk {
        full: FullAsk {
            tool: tool.clone(),
            shots: Some(shots.to_owned()),
            control_sd_m: Some(SdPair {
                h: Some(0.004),
                v: Some(0.003),
            }),
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

/// A sheet with one figure changed.
fn newer() -> String {
    MACHINE.replace("value = 2.940", "value = 2.941")
}

#[test]
fn a_calibration_shifts_the_tooth_and_says_so() {
    let mut desk = desk();
    let up = |job: &mut Job, tool: &ToolAsk| {
        let machine = job.machine_of(tool).unwrap_or_else(|f| panic!("{f}"));
        let ask = PoseAsk {
            tool: tool.clone(),
            ..PoseAsk::default()
        };
        pose(&machine, &ask).unwrap().figures[2].sd
    };
    let (plain, calibrated) = (desk.plain.clone(), desk.calibrated.clone());
    let before = up(&mut desk.job, &plain).expect("the demo states every uncertainty");
    let after = up(&mut desk.job, &calibrated).expect("so does its calibration");
    assert!(after < before, "{after} {before}");
    assert!(
        calibrated
            .machine_in_words("demo-23")
            .contains("calibration")
    );
}

#[test]
fn a_calibration_of_another_sheet_is_refused() {
    let mut desk = desk();
    let other = desk
        .job
        .import("demo-23.machine.toml", newer().as_bytes(), &stamp())
        .unwrap();
    let tool = ToolAsk {
        machine: other.hash,
        ..desk.calibrated.clone()
    };
    let faults = desk.job.machine_of(&tool).unwrap_err();
    assert_eq!(faults.0[0].code, "V040");
}

#[test]
fn another_bucket_is_told() {
    let desk = desk();
    let tool = ToolAsk {
        bucket: "G180".into(),
        ..desk.calibrated.clone()
    };
    let told = desk.job.calibration_findings(&tool).unwrap();
    assert_eq!(told.len(), 1, "{told:?}");
    assert_eq!(told[0].code, "V041");
    let same = desk.job.calibration_findings(&desk.calibrated).unwrap();
    assert!(same.is_empty());
}

/// A remark that nobody reads is no answer: what is judged or keyed in refuses a calibration of another tool.
#[test]
fn what_is_judged_keyed_in_or_streamed_refuses_another_tool() {
    let mut desk = desk();
    let tool = ToolAsk {
        bucket: "G180".into(),
        ..desk.calibrated.clone()
    };
    let refused = |faults: Faults| {
        assert_eq!(faults.0[0].code, "V041", "{faults}");
        assert!(
            faults.0[0].fix.contains("leave the calibration out"),
            "{faults}"
        );
    };
    let shots = desk.job.import("S1.shots.csv", SHOTS, &stamp()).unwrap();
    let ask = check(&tool, &shots.hash);
    refused(
        desk.job
            .verify(&ask, "2025-12-02", Units::Metric)
            .unwrap_err(),
    );
    let ask = BudgetAsk {
        tool: tool.clone(),
        ..BudgetAsk::default()
    };
    refused(
        desk.job
            .budget(&ask, &Work::QUIET, Units::Metric)
            .unwrap_err(),
    );
    // The terms are for T75, and so is this calibration; terms of another bucket want one of their own.
    let of_another = TERMS.replace("bucket = \"T75\"", "bucket = \"G180\"");
    let terms = desk
        .job
        .import("other.terms.toml", of_another.as_bytes(), &stamp());
    let ask = HandOverAsk {
        tool: tool.clone(),
        terms: terms.unwrap_or_else(|f| panic!("{f}")).hash,
        allowed_m: Some(0.02),
    };
    refused(desk.job.hand_over(&ask, Units::Metric).unwrap_err());
    let machine = desk
        .job
        .import("demo-23.machine.toml", MACHINE.as_bytes(), &stamp())
        .unwrap();
    let text = calibration(&machine.hash);
    let words = ToolWords {
        coupler: Some("QC-demo"),
        bucket: Some("G180"),
        tooth: "centre",
        ..ToolWords::default()
    };
    let taken = load_machine_and_tool(
        "m",
        MACHINE.as_bytes(),
        Some(("c", text.as_bytes())),
        &words,
    );
    let fault = tooth_model(&taken.unwrap_or_else(|f| panic!("{f}"))).unwrap_err();
    refused(fault.into());
}

/// One tape far off and nothing else: not believed, so nothing is handed out and nothing taken into the job.
#[test]
fn a_fit_that_is_not_believed_hands_no_calibration_out() {
    let mut desk = desk();
    let n_before = desk.job.view().unwrap().documents.len();
    let rows = "machine,demo-23\ncoupler,QC-demo\nbucket,T75\n\n\
                name,kind,target,to,length_m,sd_m\nfar,tape,pin B,pin C,3.100,0.003\n";
    let taken = desk
        .job
        .import("far.observations.csv", rows.as_bytes(), &stamp());
    let ask = CalibrateAsk {
        tool: desk.plain.clone(),
        observations: vec![taken.unwrap_or_else(|f| panic!("{f}")).hash],
        ..CalibrateAsk::default()
    };
    let looked = desk.job.calibrate(&ask, "2025-12-02", Units::Metric);
    let view = looked.unwrap_or_else(|f| panic!("{f}")).view;
    assert_ne!(view.outcome, Answer::Pass, "{:?}", view.words);
    assert_eq!(view.calibration_text, "");
    let made = desk
        .job
        .record_calibrate(&ask, None, &stamp())
        .unwrap_or_else(|f| panic!("{f}"));
    assert_eq!(made.calibration, None);
    assert_eq!(
        desk.job.view().unwrap().documents.len(),
        n_before + 1,
        "the observations alone"
    );
}

/// A number that the display does not take ends as not shown, whatever the rest is.
#[test]
fn an_entry_that_cannot_be_keyed_shows_nothing() {
    let mut desk = desk();
    let narrow = TERMS.replacen("range = [-5, 5]", "range = [1, 5]", 1);
    assert_ne!(narrow, TERMS);
    let terms = desk
        .job
        .import("narrow.terms.toml", narrow.as_bytes(), &stamp());
    let ask = HandOverAsk {
        tool: desk.calibrated.clone(),
        terms: terms.unwrap_or_else(|f| panic!("{f}")).hash,
        allowed_m: Some(0.02),
    };
    let looked = desk.job.hand_over(&ask, Units::Metric);
    let view = looked.unwrap_or_else(|f| panic!("{f}")).view;
    assert_eq!(view.outcome, Answer::NotShown, "{:?}", view.words);
}

#[test]
fn records_rest_on_their_calibration_and_a_newer_sheet_makes_both_stale() {
    let mut desk = desk();
    let shots = desk
        .job
        .import("S1-day.shots.csv", SHOTS, &stamp())
        .unwrap();
    let ask = check(&desk.calibrated, &shots.hash);
    let seq = desk
        .job
        .record_verify(&ask, None, &stamp())
        .unwrap_or_else(|f| panic!("{f}"));
    let again = desk.job.recompute(seq).unwrap();
    assert!(again.same_bytes, "{:?}", again.differences);
    let body = desk.job.record_body(seq, Units::Metric).unwrap();
    assert_eq!(
        body.about.calibration,
        desk.calibrated.calibration_in_words()
    );
    assert!(body.body.to_string().contains("demo-23.calibration.toml"));

    let view = desk.job.view().unwrap();
    assert!(
        view.documents
            .iter()
            .all(|document| document.stale.is_none())
    );
    desk.job
        .import("demo-23.machine.toml", newer().as_bytes(), &stamp())
        .unwrap();
    let view = desk.job.view().unwrap();
    let calibration =
        |document: &&holdline_steps::job::DocumentView| document.kind == "holdline.calibration";
    let stale = view.documents.iter().find(calibration).unwrap();
    assert_eq!(
        stale.stale.as_deref(),
        Some("demo-23.machine.toml has a newer version")
    );
    let record = view
        .records
        .iter()
        .find(|record| record.seq == seq)
        .unwrap();
    assert!(record.stale.is_some());
}

#[test]
fn a_record_without_a_calibration_says_nothing_of_one() {
    let mut desk = desk();
    let plain = desk.plain.clone();
    let seq = desk.job.record_measure_up(&plain, None, &stamp()).unwrap();
    let body = desk.job.record_body(seq, Units::Metric).unwrap();
    assert_eq!(body.record.kind, MEASURE_UP_KIND);
    let text = body.body.to_string();
    assert!(!text.contains("calibration"), "{text}");
}

#[test]
fn a_check_gets_better_with_what_the_sensors_hid() {
    let mut desk = desk();
    let shots = desk
        .job
        .import("S1-day.shots.csv", SHOTS, &stamp())
        .unwrap();
    let mut spread = |tool: &ToolAsk| {
        let ask = check(tool, &shots.hash);
        let checked = desk.job.verify(&ask, "2025-12-02", Units::Metric).unwrap();
        assert_eq!(
            checked.view.outcome,
            Answer::Pass,
            "{}",
            checked.view.decision
        );
        let figure = |f: &&holdline_steps::views::FigureView| {
            f.group.starts_with("Elevation") && f.label.starts_with("Spread")
        };
        let spread = checked.view.summary.iter().find(figure).unwrap();
        spread.value.unwrap()
    };
    let (before, after) = (spread(&desk.plain), spread(&desk.calibrated));
    assert!(after < before, "{after} {before}");
}

const TERMS: &str = r#"
format = "holdline.terms"
version = 1
system = "the display in the cab"
described_by = "A. Example"
described_on = "2025-12-02"

[units]
length = "m"
angle = "deg"

[[entry]]
label = "Boom offset"
unit = "deg"
resolution = 0.01
range = [-5, 5]
is = "sensor[S-boom].offset"

[[entry]]
label = "Stick offset"
unit = "deg"
resolution = 0.01
range = [-5, 5]
is = "sensor[S-stick].offset"

[[entry]]
label = "Idler offset"
unit = "deg"
sign = -1
resolution = 0.05
range = [-5, 5]
is = "sensor[S-idler].offset"
"#;

#[test]
fn a_hand_over_gives_numbers_and_reads_the_tooth_back() {
    let mut desk = desk();
    let terms = desk
        .job
        .import("demo-23.terms.toml", TERMS.as_bytes(), &stamp())
        .unwrap_or_else(|f| panic!("{f}"));
    let mut ask = HandOverAsk {
        tool: desk.calibrated.clone(),
        terms: terms.hash,
        allowed_m: None,
    };
    let look = |desk: &mut Desk, ask: &HandOverAsk| {
        let looked = desk.job.hand_over(ask, Units::Metric);
        looked.unwrap_or_else(|f| panic!("{f}")).view
    };
    // Nobody said how far the display may differ.
    assert_eq!(look(&mut desk, &ask).outcome, Answer::NotShown);
    ask.allowed_m = Some(0.02);
    let view = look(&mut desk, &ask);
    assert_eq!(view.outcome, Answer::Pass, "{:?}", view.words);
    let keyed: Vec<&str> = view.entries.iter().map(|e| e.text.as_str()).collect();
    assert_eq!(keyed, ["0.03 deg", "\u{2212}0.02 deg", "\u{2212}0.10 deg"]);
    assert_eq!(view.poses.len(), 3);
    let seq = desk.job.record_hand_over(&ask, None, &stamp()).unwrap();
    assert!(desk.job.recompute(seq).unwrap().same_bytes);
    assert!(!desk.job.sheet_pages(seq, Units::Metric).unwrap().is_empty());
}
