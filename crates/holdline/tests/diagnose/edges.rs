//! What a diagnosis does at the edges: without readings, without uncertainties, with faults from no list.

use crate::common::tool;
use crate::world::{Fault, Plan, ask, day, plan, rigs};
use holdline::calibrate::diagnose::{
    DiagnoseAsk, DiagnosedShot, Diagnosis, NextShot, Outcome, Suspect, diagnose,
};
use holdline::machine::Machine;
use holdline::tooth::model::ToothModel;
use holdline_geom::draws::Draws;
use holdline_geom::measured::Measured;

const SEED: u64 = 2030;

/// A day of the first rig: mono boom on its coupler, sensor on the idler.
fn a_day(stream: u64, fault: &Fault) -> (Plan, ToothModel, Vec<DiagnosedShot>) {
    let mut draws = Draws::new(SEED, stream);
    let plan = plan(&mut draws, &rigs()[..1]);
    let (model, shots) = day(&plan, fault, Some(&mut draws)).expect("a day");
    (plan, model, shots)
}

#[track_caller]
fn told(model: &ToothModel, shots: &[DiagnosedShot], ask: &DiagnoseAsk) -> Diagnosis {
    diagnose(model, shots, ask).unwrap_or_else(|faults| panic!("{faults}"))
}

fn set(diagnosis: &Diagnosis) -> Vec<&Suspect> {
    diagnosis.suspects.iter().filter(|s| s.in_set).collect()
}

#[test]
fn a_typed_2_904_for_2_940_is_named() {
    let (_, model, shots) = a_day(1, &Fault::Slip("stick.length".to_owned(), 2.904));
    let diagnosis = told(&model, &shots, &ask(1));
    assert_eq!(diagnosis.outcome, Outcome::Single);
    let words = diagnosis.words.join("\n");
    assert!(
        words.contains("2.904 m on the sheet, 2.94 m would fit: two digits changed places"),
        "{words}"
    );
    assert!(words.contains("too short on the sheet"), "{words}");
    assert!(words.contains("Nothing was changed"), "{words}");
}

#[test]
fn a_missing_coupler_and_another_bucket_are_named() {
    let (plan, ..) = a_day(2, &Fault::Healthy);
    for (other, id) in [
        (tool(false, false, "T75", "centre"), "coupler[none]"),
        (tool(true, false, "G180", "centre"), "bucket[G180]"),
        (tool(true, false, "T75", "left"), "tooth[left]"),
    ] {
        let mut draws = Draws::new(SEED, 3);
        let (model, shots) = day(&plan, &Fault::Tool(other), Some(&mut draws)).expect("a day");
        let diagnosis = told(&model, &shots, &ask(1));
        assert_eq!(diagnosis.outcome, Outcome::Single, "{id}");
        assert!(set(&diagnosis).iter().any(|s| s.id == id), "{id}");
        assert!(set(&diagnosis).len() <= 3, "{:?}", diagnosis.words);
    }
}

#[test]
fn what_is_on_no_list_is_not_forced_onto_it() {
    let (_, model, mut shots) = a_day(4, &Fault::Healthy);
    let mut draws = Draws::new(SEED, 5);
    for shot in &mut shots {
        for at in shot.surveyed_m.iter_mut().flatten() {
            at.value += 0.06 * draws.normal();
        }
    }
    let diagnosis = told(&model, &shots, &ask(1));
    assert_eq!(
        diagnosis.outcome,
        Outcome::SomethingElse,
        "{:?}",
        diagnosis.words
    );
    assert!(diagnosis.words[0].contains("something else, or more than one thing"));
    assert!(diagnosis.rule.rejects());
}

#[test]
fn the_same_bytes_every_time() {
    let (_, model, shots) = a_day(6, &Fault::Drift("sensor[stick].offset".to_owned(), 0.004));
    let first = told(
        &model,
        &shots,
        &DiagnoseAsk {
            n_next: 2,
            ..ask(7)
        },
    );
    for threads in [1, 3] {
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .expect("threads");
        let again = pool.install(|| {
            told(
                &model,
                &shots,
                &DiagnoseAsk {
                    n_next: 2,
                    ..ask(7)
                },
            )
        });
        assert_eq!(format!("{first:?}"), format!("{again:?}"));
    }
}

/// Feet at coordinates of hundreds of kilometres: 2 ppm are metres, the same in every shot.
#[test]
fn the_wrong_foot_far_from_the_grid_s_zero() {
    let mut draws = Draws::new(SEED, 8);
    let mut plan = plan(&mut draws, &rigs()[..1]);
    plan.stand_m = [512_000.0, 1_480_000.0, 24.0];
    let foot = 1200.0 / 3937.0 / 0.3048;
    let (model, shots) =
        day(&plan, &Fault::Feet([foot, foot, 1.0]), Some(&mut draws)).expect("a day");
    let diagnosis = told(&model, &shots, &ask(1));
    assert_eq!(diagnosis.outcome, Outcome::Single);
    let ids: Vec<&str> = set(&diagnosis).iter().map(|s| s.id.as_str()).collect();
    assert_eq!(ids[0], "survey.us_foot");
    assert!(
        ids.contains(&"shift.plan") || diagnosis.closest.iter().any(|l| 0.95 < l.cos),
        "{ids:?}"
    );
}

#[test]
fn a_display_alone_tells_the_survey_from_nothing_more() {
    let plan = plan(&mut Draws::new(SEED, 9), &rigs()[..1]);
    let fault = Fault::Shift([0.0, 0.0, 0.08]);
    let (model, shots) = day(&plan, &fault, None).expect("a day");
    let shown: Vec<DiagnosedShot> = shots
        .iter()
        .map(|shot| {
            let readings = shot.readings.as_ref().expect("readings");
            let tooth = model
                .tooth(&readings.map(&mut |_, m| m.value))
                .expect("a tooth")
                .tooth_site
                .expect("on site")
                .vector();
            DiagnosedShot {
                readings: None,
                shown_m: [0, 1, 2].map(|axis| Some(Measured::with_sd(tooth[axis], 0.008))),
                ..shot.clone()
            }
        })
        .collect();
    let diagnosis = told(&model, &shown, &ask(1));
    assert_eq!(diagnosis.outcome, Outcome::Single);
    assert_eq!(set(&diagnosis)[0].id, "shift.up");
    assert!(
        diagnosis
            .suspects
            .iter()
            .all(|s| !s.id.starts_with("sensor"))
    );
    assert!(
        diagnosis
            .not_tried
            .iter()
            .any(|n| n.needs.contains("what the sensors read"))
    );
    // With the readings beside the display the same shots tell more, and the display's figure counts.
    let both: Vec<DiagnosedShot> = shown
        .iter()
        .zip(&shots)
        .map(|(shown, shot)| DiagnosedShot {
            readings: shot.readings.clone(),
            ..shown.clone()
        })
        .collect();
    let more = told(&model, &both, &ask(1));
    assert!(more.suspects.iter().any(|s| s.id.starts_with("sensor")));
    assert_eq!(set(&more)[0].id, "shift.up");
    // One of them without readings is left out, and said.
    let mut mixed = both;
    mixed[0].readings = None;
    let left = told(&model, &mixed, &ask(1));
    assert!(
        left.findings
            .iter()
            .any(|f| f.code == "D010" && f.at == mixed[0].name)
    );
    assert_eq!(left.n_differences, more.n_differences - 3);
}

#[test]
fn control_that_nobody_vouches_for_takes_the_shifts() {
    let (_, model, shots) = a_day(10, &Fault::Shift([0.0, 0.0, 0.08]));
    let unknown = DiagnoseAsk {
        common_sd_m: [None; 3],
        ..ask(1)
    };
    let diagnosis = told(&model, &shots, &unknown);
    assert_eq!(diagnosis.outcome, Outcome::NothingShown);
    assert_eq!(
        diagnosis
            .findings
            .iter()
            .filter(|f| f.code == "D011")
            .count(),
        3
    );
}

/// Heights alone cannot tell a boom sensor from a shift; the proposed shot makes the expected gap as large as it says.
#[test]
fn the_next_shot_separates_the_two_best() {
    let (_, model, mut shots) = a_day(11, &Fault::Drift("sensor[boom].offset".to_owned(), 0.006));
    for shot in &mut shots {
        shot.surveyed_m[0] = None;
        shot.surveyed_m[1] = None;
    }
    let diagnosis = told(
        &model,
        &shots,
        &DiagnoseAsk {
            n_next: 2,
            // Heights alone: a fix that may be off by a whole position's 15 mm would hide a boom sensor.
            position_common_sd_m: [Some(0.002); 3],
            ..ask(1)
        },
    );
    assert_eq!(diagnosis.outcome, Outcome::Single);
    let close = diagnosis.suspects[1].aic - diagnosis.suspects[0].aic;
    if close < 10.0 {
        let next = diagnosis.next.first().expect("a shot");
        assert!(
            1.0 < next.adds && next.words.starts_with("Put the tooth"),
            "{next:?}"
        );
        let pose = |n: &NextShot| (n.joints, n.heading_rad);
        assert!(diagnosis.next.len() < 2 || pose(&diagnosis.next[1]) != pose(next));
        assert!(0.0 < next.tooth_house_m[1] && next.tooth_house_m[1] <= 3.0);
    }
    println!(
        "{close:.1} apart; {:?}",
        diagnosis
            .next
            .iter()
            .map(|n| (&n.words, n.adds))
            .collect::<Vec<_>>()
    );
}

#[test]
fn what_is_missing_is_named_at_once() {
    let (_, model, shots) = a_day(12, &Fault::Healthy);
    let code = |shots: &[DiagnosedShot], ask: &DiagnoseAsk| {
        let faults = diagnose(&model, shots, ask).expect_err("a fault");
        faults.0[0].code
    };
    assert_eq!(code(&shots[..1], &ask(1)), "D001");
    assert_eq!(code(&[], &ask(1)), "D001");
    let change = |f: &dyn Fn(&mut DiagnosedShot)| {
        let mut changed = shots.clone();
        f(&mut changed[2]);
        changed
    };
    let no_survey_sd =
        change(&|s| s.surveyed_m[1] = s.surveyed_m[1].map(|m| Measured::without_sd(m.value)));
    assert_eq!(code(&no_survey_sd, &ask(1)), "D002");
    let no_sd = change(&|s| {
        s.readings = s
            .readings
            .as_ref()
            .map(|r| r.map(&mut |_, m| Measured::without_sd(m.value)))
    });
    assert_eq!(code(&no_sd, &ask(1)), "D003");
    let nothing = change(&|s| s.readings = None);
    assert_eq!(code(&nothing[2..3], &ask(1)), "D001");
    let few = DiagnoseAsk {
        n_draws: 100,
        ..ask(1)
    };
    assert_eq!(code(&shots, &few), "D004");
    let level = DiagnoseAsk {
        level: f64::NAN,
        ..ask(1)
    };
    assert_eq!(code(&shots, &level), "D004");
    let broken = change(&|s| s.surveyed_m[2] = Some(Measured::with_sd(f64::NAN, 0.003)));
    assert_eq!(code(&broken, &ask(1)), "D003");
    let broken = change(&|s| {
        s.readings = s
            .readings
            .as_ref()
            .map(|r| r.map(&mut |_, m| Measured::with_sd(f64::NAN, m.sd.unwrap_or(1.0))))
    });
    assert_eq!(code(&broken, &ask(1)), "T004");
}

#[test]
fn a_figure_without_uncertainty_is_asked_for() {
    let (plan, _, shots) = a_day(13, &Fault::Healthy);
    let mut sheet = plan.rig.sheet.clone();
    sheet.stick.length.sd = None;
    let machine = Machine::measured_up(sheet).expect("the demo machine");
    let model = ToothModel::new(&machine, &plan.rig.choice).expect("its tool");
    let faults = diagnose(&model, &shots, &ask(1)).expect_err("a fault");
    assert_eq!(faults.0[0].code, "D003");
    assert!(faults.0[0].got.contains("stick.length"), "{faults}");
}
