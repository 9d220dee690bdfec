//! Checks and their records: what is unknown never passes, and what was recorded can be computed again.

use std::path::PathBuf;

use holdline::records::{Json, Stamp};
use holdline_steps::demo::make_demo;
use holdline_steps::job::{Job, JobView};
use holdline_steps::units::Units;
use holdline_steps::verify::{
    Answer, CheckView, DailyEntryAsk, FullAsk, ToleranceAsk, TypedShot, VerifyAsk,
};
use holdline_steps::views::{SdPair, ToolAsk};
use holdline_store::JobFile;

const MACHINE: &[u8] = include_bytes!("../../../demo/demo-23.machine.toml");

fn stamp() -> Stamp {
    Stamp::new("2025-12-02T09:00:00Z", "A. Example").unwrap()
}

/// A job with the demo's machine and nothing else.
fn job(dir: &tempfile::TempDir) -> (Job, ToolAsk, PathBuf) {
    let path = dir.path().join("job.holdline");
    let mut job = Job::create(&path).unwrap_or_else(|f| panic!("{f}"));
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
    (job, tool, path)
}

fn sd(h: f64, v: f64) -> Option<SdPair> {
    Some(SdPair {
        h: Some(h),
        v: Some(v),
    })
}

/// Shots whose heights are off by so many millimetres.
fn typed(tool: &ToolAsk, off_mm: &[f64]) -> VerifyAsk {
    let rows = off_mm
        .iter()
        .enumerate()
        .map(|(idx, mm)| TypedShot {
            name: format!("{}", idx + 1),
            shown: [Some(5060.0), Some(2043.0), Some(24.5 + mm / 1000.0)],
            known: [Some(5060.0), Some(2043.0), Some(24.5)],
            shown_sd_m: sd(0.010, 0.010),
            known_sd_m: sd(0.003, 0.003),
        })
        .collect();
    VerifyAsk {
        full: FullAsk {
            tool: tool.clone(),
            rows: Some(rows),
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

fn look(job: &mut Job, ask: &VerifyAsk) -> CheckView {
    job.verify(ask, "2025-12-02", Units::Metric)
        .unwrap_or_else(|f| panic!("{f}"))
        .view
}

const QUIET_MM: [f64; 8] = [1.0, -2.0, 0.0, 2.0, -1.0, 1.0, 0.0, -1.0];

#[test]
fn what_is_unknown_never_passes() {
    let dir = tempfile::tempdir().unwrap();
    let (mut job, tool, _) = job(&dir);
    let good = typed(&tool, &QUIET_MM);
    assert_eq!(look(&mut job, &good).outcome, Answer::Pass);

    let mut no_tolerance = good.clone();
    no_tolerance.full.tolerance = ToleranceAsk::default();
    assert_eq!(look(&mut job, &no_tolerance).outcome, Answer::NotShown);
    let mut half_a_tolerance = good.clone();
    half_a_tolerance.full.tolerance.down_m = None;
    assert_eq!(look(&mut job, &half_a_tolerance).outcome, Answer::NotShown);
    let mut no_control_sd = good.clone();
    for row in no_control_sd.full.rows.iter_mut().flatten() {
        row.known_sd_m = None;
    }
    assert_eq!(look(&mut job, &no_control_sd).outcome, Answer::NotShown);
    let mut nobody_for_control = good.clone();
    nobody_for_control.full.control_sd_m = None;
    assert_eq!(
        look(&mut job, &nobody_for_control).outcome,
        Answer::NotShown
    );
    let mut one_without = good.clone();
    one_without.full.rows.as_mut().unwrap()[3].known_sd_m = None;
    assert_eq!(look(&mut job, &one_without).outcome, Answer::NotShown);
    assert_eq!(
        look(&mut job, &typed(&tool, &[0.0])).outcome,
        Answer::NotShown
    );

    let far: Vec<f64> = QUIET_MM.iter().map(|mm| mm + 60.0).collect();
    let view = look(&mut job, &typed(&tool, &far));
    assert_eq!(view.outcome, Answer::Fail);
    assert!(
        !view.recheck.is_empty() && view.decision.starts_with("Does not hold."),
        "{view:?}"
    );
}

#[test]
fn what_was_typed_wrong_is_said_all_at_once() {
    let dir = tempfile::tempdir().unwrap();
    let (mut job, tool, _) = job(&dir);
    let mut bad = typed(&tool, &QUIET_MM);
    bad.full.tolerance.up_m = Some(30.0);
    let rows = bad.full.rows.as_mut().unwrap();
    rows[1].name = "1".into();
    rows[2].shown = [None; 3];
    rows[3].known_sd_m = sd(0.0, f64::NAN);
    rows[4].shown[2] = Some(f64::INFINITY);
    let faults = job.verify(&bad, "2025-12-02", Units::Metric).unwrap_err();
    let codes: Vec<&str> = faults.0.iter().map(|f| f.code).collect();
    assert_eq!(codes, ["V033", "V033", "V030", "V030", "V033", "V031"]);
    bad.full.tool.bucket = "T76".into();
    bad.full.rows = typed(&tool, &QUIET_MM).full.rows;
    bad.full.tolerance.up_m = Some(0.03);
    assert_eq!(
        job.verify(&bad, "", Units::Metric).unwrap_err().0[0].code,
        "T001"
    );
}

#[test]
fn the_same_check_gives_the_same_bytes_whatever_comes_later() {
    let dir = tempfile::tempdir().unwrap();
    let (mut job, tool, _) = job(&dir);
    let ask = typed(&tool, &QUIET_MM);
    let body = |job: &mut Job| {
        job.verify(&ask, "2025-12-02", Units::Metric)
            .unwrap()
            .entry
            .body()
            .unwrap()
            .bytes()
            .to_vec()
    };
    let first = body(&mut job);
    assert_eq!(body(&mut job), first);
    let seq = job.record_verify(&ask, None, &stamp()).unwrap();
    // A control document that comes later does not reach back.
    job.import(
        "control.csv",
        include_bytes!("../../../demo/control.csv"),
        &stamp(),
    )
    .unwrap();
    let again = job.recompute(seq).unwrap();
    assert!(again.same && again.same_bytes, "{again:?}");
    // Nor does a new version of the sheet; but the record then says that it is stale.
    let newer = String::from_utf8_lossy(MACHINE).replace("value = 2.940", "value = 2.942");
    job.import("demo-23.machine.toml", newer.as_bytes(), &stamp())
        .unwrap();
    assert!(job.recompute(seq).unwrap().same_bytes);
    let view: JobView = job.view().unwrap();
    assert!(
        view.records[0]
            .stale
            .as_deref()
            .unwrap()
            .contains("newer version")
    );
    let page = job.sheet_on_screen(seq, 1, Units::Metric).unwrap();
    assert!(page.contains("STALE"));
}

#[test]
fn a_record_of_another_version_is_compared_by_its_values() {
    let dir = tempfile::tempdir().unwrap();
    let (mut job, tool, path) = job(&dir);
    let entry = job
        .verify(&typed(&tool, &[0.0]), "2025-12-02", Units::Metric)
        .unwrap()
        .entry;
    drop(job);
    let mut file = JobFile::open(&path).unwrap();
    let mut other_words = entry.clone();
    other_words.program = "holdline 0.0.9".to_owned();
    *member(&mut other_words.result, &["decision", "because"]) = Json::from("only one shot");
    let words = file.append_record(&other_words, &stamp()).unwrap().seq;
    let mut other_value = other_words.clone();
    *member(&mut other_value.result, &["common_sd_from"]) = Json::from(0.004);
    let value = file.append_record(&other_value, &stamp()).unwrap().seq;
    let mut other_answer = other_words.clone();
    other_answer.outcome = Some("pass".to_owned());
    let answer = file.append_record(&other_answer, &stamp()).unwrap().seq;
    drop(file);
    let mut job = Job::open(&path).unwrap();
    let again = job.recompute(words).unwrap();
    assert!(
        again.same && !again.same_bytes && again.text.contains("the same values"),
        "{again:?}"
    );
    for seq in [value, answer] {
        let again = job.recompute(seq).unwrap();
        assert!(
            !again.same && again.text.contains("NOT the same"),
            "{again:?}"
        );
    }
}

/// A member inside a member.
fn member<'a>(json: &'a mut Json, path: &[&str]) -> &'a mut Json {
    path.iter().fold(json, |json, name| match json {
        Json::Object(members) => {
            &mut members
                .iter_mut()
                .find(|(n, _)| n == name)
                .unwrap_or_else(|| panic!("{name}"))
                .1
        }
        other => panic!("{other:?}"),
    })
}

#[test]
fn superseding_names_the_record_that_stands_in_its_place() {
    let dir = tempfile::tempdir().unwrap();
    let (mut job, tool, _) = job(&dir);
    let ask = typed(&tool, &QUIET_MM);
    let old = job.record_verify(&ask, None, &stamp()).unwrap();
    let new = job.record_verify(&ask, None, &stamp()).unwrap();
    assert_eq!(
        job.supersede(new, old, "no", &stamp()).unwrap_err().0[0].code,
        "R040"
    );
    assert_eq!(
        job.supersede(old, new, "", &stamp()).unwrap_err().0[0].code,
        "R011"
    );
    let by = job.supersede(old, new, "shot again", &stamp()).unwrap();
    let records = job.records().unwrap();
    assert_eq!(records[0].superseded_by, Some(new));
    assert!(job.recompute(by).unwrap().same_bytes);
    assert!(
        job.sheet_on_screen(old, 1, Units::Metric)
            .unwrap()
            .contains("SUPERSEDED")
    );
    let direct = job.record_verify(&ask, Some(new), &stamp()).unwrap();
    assert_eq!(job.records().unwrap()[1].superseded_by, Some(direct));
    assert_eq!(
        job.sign(by + 99, "A", "B", "2025-12-02", &stamp())
            .unwrap_err()
            .0[0]
            .code,
        "S030"
    );
}

#[test]
fn mornings_hang_together_by_bench_and_tool() {
    let dir = tempfile::tempdir().unwrap();
    let (mut job, tool, _) = job(&dir);
    let morning = |bench: &str, shown_m: f64, limits: &str| VerifyAsk {
        full: FullAsk {
            tool: tool.clone(),
            tolerance: ToleranceAsk {
                up_m: Some(0.03),
                down_m: Some(0.04),
                plan_m: None,
            },
            ..FullAsk::default()
        },
        daily: Some(DailyEntryAsk {
            bench: bench.into(),
            shown_m: Some(shown_m),
            known_m: Some(24.31),
            shown_sd_m: Some(0.003),
            known_sd_m: Some(0.002),
            wear_m: Some(0.0),
            limits_tried: limits.into(),
            initials: "AE".into(),
            ..DailyEntryAsk::default()
        }),
    };
    job.record_verify(&morning("B1", 24.328, "held"), None, &stamp())
        .unwrap();
    job.record_verify(&morning("B2", 24.310, "held"), None, &stamp())
        .unwrap();
    // 36 mm lower than the last time on the same bench: more than two thirds of the smaller allowance.
    let view = look(&mut job, &morning("B1", 24.292, "held"));
    assert!(
        view.recheck
            .iter()
            .any(|why| why.contains("on the same bench")),
        "{view:?}"
    );
    // The step is none of B2's; but nobody has ever checked this tool in full.
    assert_eq!(
        look(&mut job, &morning("B2", 24.312, "held")).recheck,
        ["no full check of this tool is in the job"]
    );
    job.record_verify(&typed(&tool, &QUIET_MM), None, &stamp())
        .unwrap();
    assert!(
        look(&mut job, &morning("B2", 24.312, "held"))
            .recheck
            .is_empty()
    );
    // What was due stays due over the night, until a full check holds again.
    let mut welded = morning("B2", 24.311, "held");
    welded.daily.as_mut().unwrap().changes = vec!["weld".into()];
    let due = job.record_verify(&welded, None, &stamp()).unwrap();
    assert_eq!(
        job.records().unwrap().last().unwrap().outcome,
        "pass, re-check due"
    );
    let next = look(&mut job, &morning("B2", 24.310, "held"));
    assert_eq!(next.outcome, Answer::Pass);
    assert!(
        next.recheck.len() == 1 && next.recheck[0].contains("welded"),
        "{next:?}"
    );
    assert!(job.recompute(due).unwrap().same_bytes);
    // The shots from before the weld, judged once more, do not end it; new ones do.
    job.record_verify(&typed(&tool, &QUIET_MM), None, &stamp())
        .unwrap();
    assert_eq!(
        look(&mut job, &morning("B2", 24.310, "held")).recheck,
        next.recheck
    );
    let anew = QUIET_MM.map(|mm| mm + 0.5);
    job.record_verify(&typed(&tool, &anew), None, &stamp())
        .unwrap();
    assert!(
        look(&mut job, &morning("B2", 24.310, "held"))
            .recheck
            .is_empty()
    );
    // No morning takes the place of a full check, and none lies in the future or off the calendar.
    let full = job
        .record_verify(&typed(&tool, &QUIET_MM), None, &stamp())
        .unwrap();
    let daily = job
        .record_verify(&morning("B2", 24.310, "held"), None, &stamp())
        .unwrap();
    let said = job.supersede(full, daily, "not alike", &stamp());
    assert_eq!(said.unwrap_err().0[0].code, "R040");
    for date in ["2025-12-03", "2025-13-01", "2025-02-29", "yesterday"] {
        let mut odd = morning("B2", 24.310, "held");
        odd.daily.as_mut().unwrap().date = Some(date.into());
        let faults = job.verify(&odd, "2025-12-02", Units::Metric).unwrap_err();
        assert_eq!(faults.0[0].code, "V034", "{date}");
    }
    for limits in ["failed", "not_tried", ""] {
        assert_ne!(
            look(&mut job, &morning("B2", 24.31, limits)).outcome,
            Answer::Pass,
            "{limits}"
        );
    }
    let seq = job
        .record_verify(&morning("B1", 24.292, "held"), None, &stamp())
        .unwrap();
    assert!(job.recompute(seq).unwrap().same_bytes);
    let page = job.sheet_on_screen(seq, 1, Units::Metric).unwrap();
    assert!(page.contains("B1") && page.contains("NOT SIGNED"));
}

#[test]
fn the_demo_runs_to_a_signed_sheet_and_never_overwrites() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("demo.holdline");
    let mut told = 0;
    let view = make_demo(&path, &mut |step| {
        told += 1;
        assert_eq!((step.number, step.of), (told, 14));
    })
    .unwrap_or_else(|f| panic!("{f}"));
    assert_eq!(told, 14);
    assert!(view.holds, "the demo's check holds its tolerance");
    assert!(
        view.files
            .iter()
            .all(|file| std::fs::metadata(file).unwrap().len() > 1000)
    );
    let of = |kind: &str| -> Vec<_> { view.records.iter().filter(|r| r.kind == kind).collect() };
    // With the sheet alone, with the calibration, after the knock.
    let checks = of("verify");
    let signed: Vec<usize> = checks.iter().map(|r| r.signatures.len()).collect();
    assert_eq!(signed, [0, 1, 0]);
    let outcomes: Vec<&str> = checks.iter().map(|r| r.outcome.as_str()).collect();
    assert_eq!(outcomes, ["pass", "pass", "not shown"]);
    for kind in ["calibrate", "budget", "hand-over"] {
        let record = of(kind);
        assert_eq!(record.len(), 1, "{kind}");
        assert_eq!(record[0].outcome, "pass", "{kind}");
    }
    let mut job = Job::open(&path).unwrap();
    assert_eq!(job.check_printed(&view.chain_tail).unwrap(), 14);
    assert!(job.check_chain().unwrap().whole);
    for record in &view.records {
        assert!(job.recompute(record.seq).unwrap().same_bytes, "{record:?}");
        assert!(job.record_body(record.seq, Units::Metric).unwrap().pages > 0);
    }
    drop(job);
    assert_eq!(make_demo(&path, &mut |_| {}).unwrap_err().0[0].code, "S006");
}

/// A file of another name, the same machine inside: what rested on the sheet is no longer current.
#[test]
fn a_new_sheet_of_the_same_machine_is_a_newer_version_whatever_its_file_is_called() {
    let dir = tempfile::tempdir().unwrap();
    let (mut job, tool, _) = job(&dir);
    let ask = typed(&tool, &[1.0, -2.0, 0.5, 2.0, -1.0, 1.5, 0.0, -0.5]);
    let seq = job
        .record_verify(&ask, None, &stamp())
        .unwrap_or_else(|f| panic!("{f}"));
    let stale = |job: &Job| {
        let view = job.records().unwrap();
        view.into_iter().find(|r| r.seq == seq).unwrap().stale
    };
    assert_eq!(stale(&job), None);
    let newer = String::from_utf8_lossy(MACHINE).replace("value = 2.940", "value = 2.941");
    let taken = job.import("after the weld.machine.toml", newer.as_bytes(), &stamp());
    let taken = taken.unwrap_or_else(|f| panic!("{f}"));
    assert_eq!(taken.name, "demo-23.machine.toml");
    assert!(taken.text.contains("same machine"), "{}", taken.text);
    assert!(stale(&job).is_some_and(|why| why.contains("newer version")));
    // Another machine is another document.
    let other = newer.replace("id = \"demo-23\"", "id = \"demo-24\"");
    assert_ne!(other, newer);
    let taken = job.import("demo-24.machine.toml", other.as_bytes(), &stamp());
    assert_eq!(
        taken.unwrap_or_else(|f| panic!("{f}")).name,
        "demo-24.machine.toml"
    );
}
