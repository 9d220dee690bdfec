//! A machine's figures from what was measured: the truth without noise, gross errors found, weak set-ups told.

mod common;

use common::day::{Day, SDS, Stance, leaning};
use common::{Kit, Mounting, Rig, demo, pose_at, rigs, tool, with_kit};
use holdline::calibrate::fit::{Belief, Fit, FitAsk, GrossErrors, fit};
use holdline::calibrate::observations::{Observations, Target, What};
use holdline::machine::Machine;
use holdline::machine::claim::{ClaimedMachine, SensorKind};
use holdline::machine::joints::Joints;
use holdline_geom::draws::Draws;
use holdline_geom::measured::Measured;

fn tooth(name: &str) -> Target {
    Target::Tooth(name.to_owned())
}

/// Poses spread over the strokes, headings and leans.
fn stances(rig: &Rig, n: usize, seed: u64) -> Vec<Stance> {
    let machine = rig.machine();
    let mut draws = Draws::new(seed, 0);
    let axis_up = [0.03, -0.05];
    (0..n)
        .map(|idx| {
            let mut q = Joints::zero();
            for _ in 0..200 {
                let shares: Vec<f64> = (0..9).map(|_| 0.08 + 0.84 * draws.uniform()).collect();
                let mut k = 0;
                q = pose_at(&machine, &rig.choice, |_| {
                    k += 1;
                    shares[k - 1]
                });
                if machine.linkage_pose(q.bucket).is_ok() {
                    break;
                }
            }
            let heading_rad = 0.4 + 0.7 * (idx % 5) as f64;
            q.swing = 0.9 - heading_rad; // a swing counts counter-clockwise
            Stance {
                joints: q,
                lean: leaning(axis_up, heading_rad),
                heading_rad,
                axis_m: [5056.0, 2041.5, 24.174],
            }
        })
        .collect()
}

fn ask() -> FitAsk {
    FitAsk {
        heading_sd_rad: Some(SDS.heading_rad),
        antenna_sd_m: SDS.antenna_m.map(Some),
        ..FitAsk::default()
    }
}

#[track_caller]
fn fitted(sheet: &ClaimedMachine, observations: &Observations, ask: &FitAsk) -> Fit {
    let machine = Machine::measured_up(sheet.clone()).expect("a machine");
    match fit(&machine, observations, ask) {
        Ok(fit) => fit,
        Err(faults) => panic!("{faults}"),
    }
}

/// The sheet as somebody guessed it by eye: every named figure off, none with an uncertainty.
fn guessed(truth: &ClaimedMachine, off: &[(&str, f64)]) -> ClaimedMachine {
    let figures: Vec<(&str, Measured)> = off
        .iter()
        .map(|(path, by)| {
            let value = truth.figure(path).expect(path).measured.value;
            (*path, Measured::without_sd(value + by))
        })
        .collect();
    let truth = Machine::measured_up(truth.clone()).expect("a machine");
    truth.with_values(&figures).expect("near").sheet().clone()
}

#[track_caller]
fn check_found(fit: &Fit, truth: &ClaimedMachine, within: f64) {
    for figure in &fit.figures {
        let want = truth.figure(&figure.path).expect("a figure").measured.value;
        assert!(
            (figure.value - want).abs() <= within,
            "{}: {} is not {want}",
            figure.path,
            figure.value
        );
    }
}

/// Shots of three teeth and two pins in every pose, by total station on the site grid.
fn total_station_day(rig: &Rig, n: usize, noise: Option<Draws>) -> Day {
    let mut day = Day::of(rig, noise);
    for (idx, stance) in stances(rig, n, 71).iter().enumerate() {
        let readings = day.readings(stance);
        let place = (format!("P{idx}"), "S1");
        let place = (place.0.as_str(), place.1);
        day.shot(stance, &tooth("centre"), place, &readings);
        day.shot(stance, &tooth("left"), place, &[]);
        day.shot(stance, &Target::StickBucket, place, &[]);
        day.shot(stance, &Target::LinkPin, place, &[]);
    }
    day
}

fn demo_rig() -> Rig {
    Rig {
        name: "demo",
        sheet: demo(),
        choice: tool(true, false, "T75", "centre"),
    }
}

#[test]
fn without_noise_the_truth_comes_out_from_a_rough_guess() {
    let rig = demo_rig();
    let day = total_station_day(&rig, 14, None);
    let sheet = guessed(
        &rig.sheet,
        &[
            ("boom.length", 0.15),
            ("stick.length", -0.12),
            ("sensor[S-boom].offset", 0.06),
            ("sensor[S-stick].offset", -0.05),
            ("sensor[S-idler].offset", 0.08),
            ("bucket[T75].tooth[centre].at.x", 0.05),
            ("bucket[T75].tooth[centre].at.z", -0.06),
            ("bucket[T75].tooth[left].at.x", 0.05),
            ("bucket[T75].tooth[left].at.z", -0.06),
        ],
    );
    let ask = FitAsk {
        hold: vec![
            "linkage".to_owned(),
            "coupler".to_owned(),
            "foot".to_owned(),
        ],
        ..ask()
    };
    let fit = fitted(&sheet, &day.observations, &ask);
    check_found(&fit, &rig.sheet, 1e-7);
}

fn mounting() -> Mounting {
    Mounting {
        house: SensorKind::HouseEuler,
        sign: -1.0,
        offset_deg: 0.4,
        mount_deg: 20.0,
    }
}

/// Every kind of boom, tool and sensor: offsets and lengths that were off come back without noise.
#[test]
fn every_machine_comes_back_without_noise() {
    for rig in rigs() {
        for kit in [
            Kit::TwoAxisIdler,
            Kit::TwoAxisEar,
            Kit::Encoders,
            Kit::EncoderIdler,
            Kit::SingleAxis,
        ] {
            let sheet = with_kit(rig.sheet.clone(), kit, mounting());
            if Machine::measured_up(sheet.clone()).is_err() {
                continue;
            }
            let rig = Rig {
                sheet,
                ..rig.clone()
            };
            let mut day = Day::of(&rig, None);
            for (idx, stance) in stances(&rig, 16, 5).iter().enumerate() {
                // A single-axis sensor near the vertical gives no one angle, as on a real machine.
                let read = day.truth.readings_at(&stance.joints, &stance.lean);
                if !read.is_ok_and(|read| day.truth.tooth(&read).is_ok()) {
                    continue;
                }
                let readings = day.readings(stance);
                let pose = format!("P{idx}");
                let place = (pose.as_str(), "S1");
                day.shot(stance, &tooth("left"), place, &readings);
                day.shot(stance, &tooth("right"), place, &[]);
                day.shot(stance, &Target::StickBucket, place, &[]);
                day.shot(stance, &Target::BoomFoot, place, &[]);
            }
            let mut off: Vec<(&str, f64)> = vec![
                ("sensor[boom].offset", 0.01),
                ("sensor[stick].offset", -0.012),
                ("sensor[last].offset", 0.015),
                ("stick.length", 0.02),
            ];
            if kit == Kit::SingleAxis {
                off.truncate(0);
                off.push(("sensor[boom].offset", 0.002));
            }
            let sheet = guessed(&rig.sheet, &off);
            let ask = FitAsk {
                solve: vec!["sensors".into(), "stick.length".into()],
                hold: ["linkage", "coupler", "foot", "tilt", "tooth", "boom"]
                    .map(String::from)
                    .into(),
                ..ask()
            };
            let machine = Machine::measured_up(sheet).expect(rig.name);
            match fit(&machine, &day.observations, &ask) {
                Ok(fit) => {
                    check_found(&fit, &rig.sheet, 1e-7);
                }
                Err(faults) => panic!("{} {kit:?}: {faults}", rig.name),
            }
        }
    }
}

fn noise(seed: u64) -> Option<Draws> {
    Some(Draws::new(seed, 0))
}

#[test]
fn a_usual_day_is_believed() {
    let rig = demo_rig();
    let day = total_station_day(&rig, 14, noise(3));
    let fit = fitted(&rig.sheet, &day.observations, &ask());
    assert_eq!(fit.belief, Belief::Believed);
}

#[test]
fn a_typed_length_is_found() {
    let rig = demo_rig();
    let mut day = total_station_day(&rig, 14, noise(3));
    let stance = stances(&rig, 1, 71)[0];
    day.tape(&stance, &Target::BoomFoot, &Target::BoomStick);
    day.tape(&stance, &Target::BoomStick, &Target::StickBucket);
    let n = day.observations.rows.len();
    if let What::Tape { length, .. } = &mut day.observations.rows[n - 2].what {
        assert!((length.value - 5.72).abs() < 0.02);
        length.value -= 0.45; // 5.27 for 5.72
    }
    let fit = fitted(&rig.sheet, &day.observations, &ask());
    assert_eq!(fit.rejected.len(), 1);
    assert_eq!(fit.belief, Belief::Believed);
}

#[test]
fn tape_plumb_and_inclinometer_give_a_useful_calibration() {
    let rig = demo_rig();
    let sheet = guessed(
        &rig.sheet,
        &[
            ("boom.length", 0.05),
            ("stick.length", -0.03),
            ("sensor[S-boom].offset", 0.03),
            ("sensor[S-stick].offset", -0.04),
            ("sensor[S-idler].offset", 0.05),
        ],
    );
    let mut day = Day::of(&rig, noise(11));
    let all = stances(&rig, 6, 9);
    for stance in &all[..3] {
        day.tape(stance, &Target::BoomFoot, &Target::BoomStick);
        day.tape(stance, &Target::BoomStick, &Target::StickBucket);
        day.tape(stance, &Target::StickBucket, &Target::LinkPin);
        day.tape(stance, &Target::StickBucket, &tooth("centre"));
        day.tape(stance, &Target::LinkPin, &tooth("centre"));
    }
    for (idx, stance) in all.iter().enumerate() {
        let readings = day.readings(stance);
        let pose = format!("P{idx}");
        day.slope(
            stance,
            &Target::BoomFoot,
            &Target::BoomStick,
            &pose,
            &readings,
        );
        day.slope(stance, &Target::BoomStick, &Target::StickBucket, &pose, &[]);
        day.slope(stance, &Target::StickBucket, &Target::LinkPin, &pose, &[]);
    }
    let fit = fitted(&sheet, &day.observations, &FitAsk::default());
    assert_eq!(fit.belief, Belief::Believed);
    assert!(open_words(&fit).is_empty(), "{}", open_words(&fit));
    // Useful: 20 mm (k = 2) at the tooth where the sheet alone knew nothing.
    for tooth in &fit.tooth {
        assert_eq!(tooth.sd_before_m, None);
        let [forward, _, up] = tooth.sd_m.expect("determined");
        assert!(0.003 < forward && forward < 0.010, "{forward}");
        assert!(0.003 < up && up < 0.010, "{up}");
    }
    // Honest: what it found lies within three of its own uncertainties, and they are no smaller than the
    // hand inclinometer allows.
    for figure in &fit.figures {
        let want = rig.sheet.figure(&figure.path).expect("a figure");
        let sd = figure.sd.expect("determined");
        assert!(
            (figure.value - want.measured.value).abs() < 3.5 * sd,
            "{}",
            figure.path
        );
        if figure.path.starts_with("sensor[") {
            assert!(0.000_7 < sd, "{}: {sd}", figure.path);
        }
    }
    let machine = Machine::measured_up(sheet).expect("a machine");
    let calibrated = fit.calibration("", "", "", "").applied_to(&machine);
    assert!(calibrated.is_ok(), "{calibrated:?}");
}

/// Words of what is not determined, all together.
fn open_words(fit: &Fit) -> String {
    let words = fit.not_determined.iter().map(|o| o.words.as_str());
    words.collect::<Vec<_>>().join("\n")
}

/// The sheet without any uncertainty for these figures: nothing is known of them before.
fn unknown(truth: &ClaimedMachine, paths: &[&str]) -> ClaimedMachine {
    let off: Vec<(&str, f64)> = paths.iter().map(|p| (*p, 0.0)).collect();
    guessed(truth, &off)
}

const TOOTH: [&str; 2] = [
    "bucket[T75].tooth[centre].at.x",
    "bucket[T75].tooth[centre].at.z",
];

#[test]
fn tooth_shots_alone_do_not_tell_the_bucket_sensor_from_the_tooth() {
    let rig = Rig {
        choice: tool(true, false, "T75", "centre"),
        sheet: with_kit(demo(), Kit::TwoAxisEar, mounting()),
        ..demo_rig()
    };
    let sheet = unknown(&rig.sheet, &[TOOTH[0], TOOTH[1], "sensor[last].offset"]);
    let mut day = Day::of(&rig, noise(5));
    for (idx, stance) in stances(&rig, 14, 31).iter().enumerate() {
        let readings = day.readings(stance);
        let pose = format!("P{idx}");
        day.shot(stance, &tooth("centre"), (&pose, "S1"), &readings);
    }
    let fit = fitted(&sheet, &day.observations, &ask());
    let words = open_words(&fit);
    assert!(words.contains("offset of sensor last"), "{words}");
    assert!(
        words.contains("shoot pins C and D, or two points on the bucket"),
        "{words}"
    );
    assert!(words.contains("harmless at the tooth"), "{words}");
    assert_eq!(fit.belief, Belief::Believed);
    for figure in &fit.figures {
        let open = TOOTH.contains(&figure.path.as_str()) || figure.path == "sensor[last].offset";
        assert_eq!(figure.sd.is_none(), open, "{}", figure.path);
    }
    assert!(fit.tooth.iter().all(|t| t.sd_m.is_some()));
    let calibration = fit.calibration("", "", "", "");
    let machine = Machine::measured_up(sheet).expect("a machine");
    assert!(calibration.applied_to(&machine).is_ok());
}

#[test]
fn a_link_that_never_changes_its_attitude_is_told() {
    let rig = demo_rig();
    let sheet = unknown(
        &rig.sheet,
        &[
            "boom.length",
            "boom.foot.x",
            "boom.foot.z",
            "sensor[S-boom].offset",
            "stick.length",
            "sensor[S-stick].offset",
        ],
    );
    let mut day = Day::of(&rig, noise(6));
    for (idx, stance) in stances(&rig, 12, 33).iter().enumerate() {
        let mut stance = *stance;
        stance.joints.boom = 0.4;
        stance.lean = leaning([0.0, 0.0], stance.heading_rad);
        let readings = day.readings(&stance);
        let pose = format!("P{idx}");
        day.shot(&stance, &tooth("centre"), (&pose, "S1"), &readings);
        day.shot(&stance, &Target::StickBucket, (&pose, "S1"), &[]);
    }
    let fit = fitted(&sheet, &day.observations, &ask());
    let words = open_words(&fit);
    assert!(words.contains("boom"), "{words}");
    assert!(matches!(fit.belief, Belief::NotBelieved(_)));
}

#[test]
fn angles_alone_know_no_scale() {
    let rig = demo_rig();
    let sheet = unknown(&rig.sheet, &["boom.length", "stick.length", "linkage.ear"]);
    let mut day = Day::of(&rig, noise(7));
    for (idx, stance) in stances(&rig, 6, 35).iter().enumerate() {
        let readings = day.readings(stance);
        let pose = format!("P{idx}");
        day.slope(
            stance,
            &Target::BoomFoot,
            &Target::BoomStick,
            &pose,
            &readings,
        );
        day.slope(stance, &Target::BoomStick, &Target::StickBucket, &pose, &[]);
        day.slope(stance, &Target::BoomFoot, &Target::StickBucket, &pose, &[]);
    }
    let fit = fitted(&sheet, &day.observations, &ask());
    assert!(open_words(&fit).contains("tape at least one of these lengths"));
    assert!(matches!(fit.belief, Belief::NotBelieved(_)));
    assert!(fit.tooth.iter().all(|t| t.sd_m.is_none()));
}

#[test]
fn level_shots_alone_are_told_to_be_weak() {
    let rig = demo_rig();
    let sheet = unknown(
        &rig.sheet,
        &["sensor[S-boom].offset", "boom.length", "boom.foot.z"],
    );
    let mut day = Day::of(&rig, noise(8));
    for (idx, stance) in stances(&rig, 12, 37).iter().enumerate() {
        let readings = day.readings(stance);
        let pose = format!("P{idx}");
        day.shot(stance, &tooth("centre"), (&pose, "S1"), &readings);
        if let What::Shot { at_m, .. } = &mut day.observations.rows.last_mut().expect("a row").what
        {
            *at_m = [None, None, at_m[2]];
        }
    }
    let fit = fitted(&sheet, &day.observations, &ask());
    assert!(open_words(&fit).contains("boom foot pin upward"));
}

#[test]
fn antennas_and_headings_are_found_by_turning() {
    let rig = demo_rig();
    let mut sheet = rig.sheet.clone();
    sheet.heading_offset = Some(Measured::without_sd(0.03));
    let rig = Rig {
        sheet: sheet.clone(),
        ..rig
    };
    let start = guessed(
        &sheet,
        &[
            ("heading.offset", -0.03),
            ("antenna[GL].lever.x", 0.08),
            ("antenna[GL].lever.y", -0.05),
            ("antenna[GL].lever.z", 0.06),
        ],
    );
    let mut day = Day::of(&rig, None);
    for (idx, stance) in stances(&rig, 10, 39).iter().enumerate() {
        let mut readings = day.readings(stance);
        readings.extend(day.antennas(stance));
        readings.push(("heading".to_owned(), stance.heading_rad + 0.03));
        let pose = format!("P{idx}");
        day.shot(stance, &tooth("left"), (&pose, "S1"), &readings);
        day.shot(stance, &tooth("right"), (&pose, "S1"), &[]);
    }
    let fit = fitted(&start, &day.observations, &ask());
    check_found(&fit, &sheet, 1e-6);
}

#[test]
fn a_swing_circle_and_two_faces_find_lever_and_house_offsets() {
    let rig = demo_rig();
    let start = guessed(
        &rig.sheet,
        &[
            ("antenna[GL].lever.x", 0.10),
            ("sensor[S-house].offset", 0.02),
            ("sensor[S-house].roll_offset", -0.015),
        ],
    );
    let mut day = Day::of(&rig, None);
    let all = stances(&rig, 1, 41);
    for k in 0..8 {
        let heading_rad = 0.2 + 0.7 * f64::from(k);
        let stance = Stance {
            heading_rad,
            lean: leaning([0.03, 0.02], heading_rad),
            ..all[0]
        };
        let readings: Vec<(String, f64)> = day
            .readings(&stance)
            .into_iter()
            .filter(|(n, _)| n == "pitch" || n == "roll")
            .collect();
        let turn = Measured::with_sd(heading_rad - 1.3, 0.01);
        day.row(What::HouseTurn { turn }, ("", "S1", ""), &readings);
        let at = day.site(&stance, &Target::Antenna("GL".to_owned()));
        let at_m = at.map(|v| Some(Measured::with_sd(v, 0.008)));
        let antenna = "GL".to_owned();
        let pose = format!("C{k}");
        day.row(
            What::SwingCircle { antenna, at_m },
            (&pose, "S1", "site"),
            &readings,
        );
        day.shot(&stance, &Target::SwingAxis, (&pose, "S1"), &[]);
    }
    let fit = fitted(&start, &day.observations, &ask());
    for path in ["sensor[S-house].offset", "sensor[S-house].roll_offset"] {
        let figure = fit.figures.iter().find(|f| f.path == path).expect(path);
        assert!(
            figure.value.abs() < 1e-7 && figure.sd.is_some(),
            "{path} {}",
            figure.value
        );
    }
    // A circle gives the radius, not the direction: x and y stay together, z is found.
    assert!(open_words(&fit).is_empty());
}

#[test]
fn a_hold_test_needs_no_survey() {
    let rig = demo_rig();
    let mut day = Day::of(&rig, None);
    let machine = rig.machine();
    let front = machine.front(&rig.choice).expect("its tool").values();
    let mut n = 0;
    for (k, x) in [4.5, 6.0, 7.5].iter().enumerate() {
        for deg in [-60, -40, -20, 0, 20, 40] {
            let target = holdline_geom::frame::Point::metres(*x, 0.0, -0.5);
            let ear = f64::from(deg).to_radians();
            let Ok(reached) = holdline::machine::reach::reach_in_plane(
                &machine,
                &front,
                target,
                ear,
                &Joints::zero(),
            ) else {
                continue;
            };
            let stance = Stance {
                joints: reached.joints,
                lean: leaning([0.0, 0.0], 0.0),
                heading_rad: 0.0,
                axis_m: [0.0; 3],
            };
            let readings = day.readings(&stance);
            let (pose, mark) = (format!("H{n}"), format!("M{k}"));
            n += 1;
            day.touch(&stance, &tooth("centre"), &mark, (&pose, "S1"), &readings);
        }
    }
    assert!(n >= 10, "{n}");
    let start = guessed(&rig.sheet, &[("sensor[S-idler].offset", 0.02)]);
    let fit = fitted(&start, &day.observations, &FitAsk::default());
    let idler = fit
        .figures
        .iter()
        .find(|f| f.path == "sensor[S-idler].offset")
        .expect("in it");
    assert!(
        idler.value.abs() < 1e-6 && idler.sd.is_some_and(|sd| sd < 0.01),
        "{} {:?}",
        idler.value,
        idler.sd
    );
}

#[test]
fn an_arc_about_a_pin_needs_no_reading_of_its_own_joint() {
    let rig = demo_rig();
    let mut day = Day::of(&rig, None);
    let base = stances(&rig, 1, 43)[0];
    for pin in [Target::BoomFoot, Target::BoomStick] {
        for k in 0..12 {
            let mut stance = base;
            let share = f64::from(k) / 11.0;
            let arc = match pin {
                Target::BoomFoot => {
                    stance.joints.boom = -0.6 + 1.4 * share;
                    "on boom"
                }
                _ => {
                    stance.joints.stick = -2.4 + 1.6 * share;
                    "on stick"
                }
            };
            let front = day.truth.geometry().front.values();
            let pose_f = holdline::machine::pose::front_pose(&front, &stance.joints);
            let place = holdline_geom::frame::Point::metres(1.1, 0.2, 0.4);
            let house: [f64; 3] = match pin {
                Target::BoomFoot => (pose_f.house_from_boom * place).vector().into(),
                _ => {
                    let place = holdline_geom::frame::Point::metres(1.1, 0.2, 0.4);
                    (pose_f.house_from_stick * place).vector().into()
                }
            };
            let turn = stance.lean.site_turn(stance.heading_rad);
            let v =
                (turn * holdline_geom::frame::Point::metres(house[0], house[1], house[2])).vector();
            let at_m = [0, 1, 2].map(|a| Some(Measured::with_sd(v[a] + stance.axis_m[a], 0.003)));
            let moving = match pin {
                Target::BoomFoot => "S-boom",
                _ => "S-stick",
            };
            let readings: Vec<(String, f64)> = day
                .readings(&stance)
                .into_iter()
                .filter(|(n, _)| n != moving)
                .collect();
            let pose = format!("{arc} {k}");
            let what = What::PinArc {
                pin: pin.clone(),
                arc: arc.to_owned(),
                at_m,
            };
            day.row(what, (&pose, "S1", "site"), &readings);
            if k == 0 {
                let all = day.readings(&stance);
                day.shot(
                    &stance,
                    &tooth("left"),
                    (&format!("{arc} shot"), "S1"),
                    &all,
                );
                day.shot(
                    &stance,
                    &tooth("right"),
                    (&format!("{arc} shot"), "S1"),
                    &[],
                );
            }
        }
    }
    let start = guessed(&rig.sheet, &[("boom.length", 0.02)]);
    let fit = fitted(&start, &day.observations, &ask());
    let boom = fit
        .figures
        .iter()
        .find(|f| f.path == "boom.length")
        .expect("in it");
    assert!((boom.value - 5.72).abs() < 1e-6, "{}", boom.value);
    assert!(boom.sd.is_some_and(|sd| sd < 0.01));
}

#[test]
fn what_cannot_be_used_is_told_all_at_once() {
    let rig = demo_rig();
    let machine = rig.machine();
    let day = total_station_day(&rig, 4, None);
    let codes = |edit: &dyn Fn(&mut Observations, &mut FitAsk)| {
        let (mut observations, mut ask) = (day.observations.clone(), ask());
        edit(&mut observations, &mut ask);
        match fit(&machine, &observations, &ask) {
            Ok(_) => Vec::new(),
            Err(faults) => faults.0.iter().map(|f| f.code).collect::<Vec<_>>(),
        }
    };
    fn at(o: &mut Observations, row: usize) -> &mut [Option<Measured>; 3] {
        match &mut o.rows[row].what {
            What::Shot { at_m, .. } => at_m,
            other => panic!("{other:?}"),
        }
    }
    assert_eq!(codes(&|_, _| {}), [""; 0]);
    assert_eq!(codes(&|o, _| o.machine = "another".into()), ["C005"]);
    assert_eq!(codes(&|o, _| o.rows.clear()), ["C008"]);
    assert_eq!(codes(&|_, a| a.level = f64::NAN), ["C009"]);
    assert_eq!(codes(&|_, a| a.solve = vec!["boom.size".into()]), ["C007"]);
    assert_eq!(codes(&|o, _| o.tool.bucket.clear()), ["C012"]);
    for no_sd in [
        None,
        Some(0.0),
        Some(-1.0),
        Some(f64::NAN),
        Some(f64::INFINITY),
    ] {
        let missing = codes(&|o, _| {
            at(o, 0)[1] = Some(Measured {
                value: 1.0,
                sd: no_sd,
            })
        });
        assert_eq!(missing, ["C010"], "{no_sd:?}");
    }
    assert_eq!(
        codes(&|o, _| at(o, 0)[1] = Some(Measured::with_sd(f64::NAN, 0.003))),
        ["C013"]
    );
    assert_eq!(codes(&|o, _| *at(o, 1) = [None; 3]), ["C020"]);
    assert_eq!(codes(&|o, _| o.rows[1].setup.clear()), ["C019"]);
    assert_eq!(codes(&|o, _| o.rows[0].readings[0].1 = f64::NAN), ["C013"]);
    assert_eq!(
        codes(&|o, _| o.rows[0].readings[0].0 = "S-bom".into())[0],
        "C014"
    );
    assert_eq!(
        codes(&|o, _| o.rows[1].readings = vec![("S-boom".into(), 0.123)]),
        ["C015"]
    );
    let told = |edit: &dyn Fn(&mut Observations, &mut FitAsk)| {
        let (mut observations, mut ask) = (day.observations.clone(), ask());
        edit(&mut observations, &mut ask);
        fit(&machine, &observations, &ask).expect_err("refused").0[0].clone()
    };
    let pose = &day.observations.rows[0].pose;
    let two = told(&|o, _| {
        o.rows[0].readings[0].1 = 12.345_f64.to_radians();
        let name = o.rows[0].readings[0].0.clone();
        o.rows[1].readings = vec![(name, 7.0_f64.to_radians())];
    });
    assert_eq!(
        two.got,
        format!("7.00° where another row of pose {pose:?} has 12.35°")
    );
    let antenna = told(&|o, _| {
        o.rows[0].readings.push(("GL_easting".into(), 5000.0));
        o.rows[1].readings.push(("GL_easting".into(), 5000.0004));
    });
    assert_eq!(
        antenna.got,
        format!("5000.0004 m where another row of pose {pose:?} has 5000.0000 m")
    );
    let unstated = told(&|o, a| {
        a.antenna_sd_m = [None; 3];
        o.rows[0].readings.push(("GL_easting".into(), 5000.0));
    });
    assert!(
        unstated.fix.contains("--position-sd-mm"),
        "{}",
        unstated.fix
    );
    assert_eq!(codes(&|o, _| o.rows[0].readings.clear()), ["C016"; 4]);
    assert_eq!(
        codes(&|o, a| {
            a.antenna_sd_m = [None; 3];
            o.rows[0].readings.push(("GL_easting".into(), 5000.0));
            o.rows[0].readings.push(("heading".into(), 1.0));
            a.heading_sd_rad = None;
        }),
        ["C011", "C011"]
    );
    assert_eq!(
        codes(&|o, _| o.rows[0].what = What::Tape {
            from: Target::BoomFoot,
            to: Target::BoomFoot,
            length: Measured::with_sd(1.0, 0.1)
        })
        .last(),
        Some(&"C021")
    );
    assert_eq!(
        codes(&|o, _| o.rows[0].what = What::PinArc {
            pin: Target::LinkPin,
            arc: "a".into(),
            at_m: [Some(Measured::with_sd(1.0, 0.1)); 3]
        })
        .last(),
        Some(&"C018")
    );
    let turn = Measured::with_sd(0.0, 0.01);
    assert_eq!(
        codes(&|o, _| {
            o.rows[0].readings.clear();
            o.rows[0].pose = String::new();
            o.rows[0].what = What::HouseTurn { turn };
        })[0],
        "C017"
    );
    // All at once, each with the row it is about.
    let mut many = day.observations.clone();
    at(&mut many, 0)[0] = Some(Measured::without_sd(1.0));
    many.rows[5].what = What::Shot {
        target: tooth("middle"),
        at_m: [Some(Measured::with_sd(1.0, 0.1)); 3],
    };
    let faults = fit(&machine, &many, &ask()).unwrap_err();
    let told: Vec<(&str, &str)> = faults.0.iter().map(|f| (f.code, f.at.as_str())).collect();
    assert_eq!(
        told,
        [
            ("C010", "observation[1].easting"),
            ("C006", "observation[6].target")
        ]
    );
}

#[test]
fn a_wrong_prism_height_and_copied_rows_are_not_believed_away() {
    let rig = demo_rig();
    let mut day = total_station_day(&rig, 14, noise(21));
    // The prism was 30 mm higher than noted for one shot.
    if let What::Shot { at_m, .. } = &mut day.observations.rows[8].what {
        at_m[2] = at_m[2].map(|m| Measured {
            value: m.value + 0.030,
            ..m
        });
    }
    let found = fitted(&rig.sheet, &day.observations, &ask());
    assert_eq!(found.rejected.len(), 1);
    let out = &found.readings[found.rejected[0].reading_idx];
    assert_eq!((out.name.as_str(), out.part.as_str()), ("9", "elevation"));
    assert!((out.off - 0.030).abs() < 0.012, "{}", out.off);
    assert!(found.rejected[0].chi2[1] < found.rejected[0].chi2[0]);
    assert_eq!(found.belief, Belief::Believed);
    // The same with nothing taken out is not believed.
    let keep = FitAsk {
        gross_errors: GrossErrors::KeepAll,
        ..ask()
    };
    let kept = fitted(&rig.sheet, &day.observations, &keep);
    assert!(matches!(kept.belief, Belief::NotBelieved(_)));
    // A row copied is no second measurement.
    let mut copied = total_station_day(&rig, 14, noise(21)).observations;
    let mut again = copied.rows[1].clone();
    again.name = "again".to_owned();
    copied.rows.push(again);
    let fit = fitted(&rig.sheet, &copied, &ask());
    assert_eq!(fit.copied, ["2 and again"]);
    assert!(matches!(fit.belief, Belief::NotBelieved(_)));
}

#[test]
fn a_length_typed_wrong_on_the_sheet_is_told() {
    let rig = demo_rig();
    let day = total_station_day(&rig, 14, noise(23));
    let machine = rig.machine();
    let wrong = [("stick.length", Measured::with_sd(2.490, 0.003))];
    let mut sheet = machine.sheet().with_figures(&wrong).expect("a path");
    // Plain ranges: cylinders measured on the true stick would not close.
    sheet.cylinders.clear();
    let fit = fitted(&sheet, &day.observations, &ask());
    let Belief::NotBelieved(why) = &fit.belief else {
        panic!("believed");
    };
    let words = why.join("\n") + &fit.findings.join("\n");
    assert!(
        words.contains("sheet") || words.contains("too large"),
        "{words}"
    );
}

/// Two tapes of one stick, 100 mm apart, and nothing else knows the stick: which one is wrong is a coin toss,
/// whatever the sheet guesses.
#[test]
fn of_two_readings_that_cannot_be_told_apart_neither_is_believed() {
    let rig = demo_rig();
    let truth = rig
        .sheet
        .figure("stick.length")
        .expect("a stick")
        .measured
        .value;
    for guess in [2.83, 2.844, 2.90, truth, 2.944, 2.96] {
        let mut day = Day::of(&rig, noise(11));
        let all = stances(&rig, 6, 9);
        for stance in &all[..3] {
            day.tape(stance, &Target::BoomFoot, &Target::BoomStick);
            day.tape(stance, &Target::StickBucket, &Target::LinkPin);
            day.tape(stance, &Target::StickBucket, &tooth("centre"));
            day.tape(stance, &Target::LinkPin, &tooth("centre"));
        }
        for (length, name) in [(2.944, "near"), (2.844, "far")] {
            day.tape(&all[0], &Target::BoomStick, &Target::StickBucket);
            let row = day.observations.rows.last_mut().expect("taped");
            name.clone_into(&mut row.name);
            if let What::Tape { length: taped, .. } = &mut row.what {
                *taped = Measured::with_sd(length, 0.003);
            }
        }
        for (idx, stance) in all.iter().enumerate() {
            let readings = day.readings(stance);
            let pose = format!("P{idx}");
            let (foot, end) = (Target::BoomFoot, Target::BoomStick);
            day.slope(stance, &foot, &end, &pose, &readings);
            day.slope(stance, &Target::BoomStick, &Target::StickBucket, &pose, &[]);
            // No slope of the ear line: through the linkage it would know the stick to some millimetres.
        }
        let sheet = guessed(&rig.sheet, &[("stick.length", guess - truth)]);
        let fit = fitted(&sheet, &day.observations, &FitAsk::default());
        let Belief::NotBelieved(why) = &fit.belief else {
            panic!("{guess}: believed, with {:?} taken out", fit.rejected);
        };
        let words = why.join("; ");
        assert!(
            words.contains("near") && words.contains("far"),
            "{guess}: {words}"
        );
    }
}

/// Every shot three times, each with another name, pose and date: one measurement, not three.
#[test]
fn copies_under_other_names_poses_and_dates_are_found() {
    let rig = demo_rig();
    let once = total_station_day(&rig, 14, noise(21)).observations;
    let mut thrice = once.clone();
    for n in 1..3 {
        for row in &once.rows {
            let mut row = row.clone();
            row.name = format!("{}-{n}", row.name);
            row.pose = format!("{}-{n}", row.pose);
            row.when = Some(format!("2025-12-0{n}"));
            row.setup = "site".to_owned();
            thrice.rows.push(row);
        }
    }
    let fit = fitted(&rig.sheet, &thrice, &ask());
    assert_eq!(fit.copied.len(), 2 * once.rows.len());
    assert!(matches!(fit.belief, Belief::NotBelieved(_)));
    assert!(fitted(&rig.sheet, &once, &ask()).copied.is_empty());
}

/// Shots as a program would give them, without noise: nothing measured fits like that.
#[test]
fn what_fits_too_well_was_not_measured() {
    let rig = demo_rig();
    let fit = fitted(
        &rig.sheet,
        &total_station_day(&rig, 14, None).observations,
        &ask(),
    );
    let Belief::NotBelieved(why) = &fit.belief else {
        panic!("believed");
    };
    assert!(why.join("; ").contains("less than a third"), "{why:?}");
}

/// A level gives elevations alone and the antennas stand still: how far they are from the swing axis nobody
/// knows. From the tracks the tooth does not mind; on the site it hangs on them.
#[test]
fn open_antenna_levers_are_no_harmless_matter() {
    let rig = demo_rig();
    let mut day = Day::of(&rig, noise(31));
    for (idx, stance) in stances(&rig, 10, 39).iter().enumerate() {
        let stance = Stance {
            heading_rad: 0.4,
            lean: leaning([0.0, 0.0], 0.4),
            joints: Joints {
                swing: 0.5,
                ..stance.joints
            },
            ..*stance
        };
        let mut readings = day.readings(&stance);
        readings.extend(day.antennas(&stance));
        let pose = format!("P{idx}");
        let place = (pose.as_str(), "S1");
        day.shot(&stance, &tooth("left"), place, &readings);
        day.shot(&stance, &tooth("right"), place, &[]);
        day.shot(&stance, &Target::StickBucket, place, &[]);
    }
    for row in &mut day.observations.rows {
        if let What::Shot { at_m, .. } = &mut row.what {
            (at_m[0], at_m[1]) = (None, None);
        }
    }
    let levers: Vec<String> = ["GL", "GR"]
        .iter()
        .flat_map(|id| ["x", "y", "z"].map(|k| format!("antenna[{id}].lever.{k}")))
        .collect();
    let levers: Vec<&str> = levers.iter().map(String::as_str).collect();
    let fit = fitted(&unknown(&rig.sheet, &levers), &day.observations, &ask());
    let of_levers: Vec<_> = fit
        .not_determined
        .iter()
        .filter(|open| {
            open.parts
                .iter()
                .any(|(path, _)| path.starts_with("antenna["))
        })
        .collect();
    assert!(!of_levers.is_empty());
    for open in of_levers {
        // A millimetre at the lever is about a millimetre at the tooth, or more where the heading turns.
        assert!(0.5e-3 < open.at_tooth_m, "{}", open.words);
        assert!(!open.words.contains("harmless"), "{}", open.words);
    }
    assert!(matches!(fit.belief, Belief::NotBelieved(_)));
}

/// Every shot copied and shifted by less than half a millimetre: no operator brings a tooth back so well.
#[test]
fn copies_that_were_shifted_a_little_are_found() {
    let rig = demo_rig();
    let once = total_station_day(&rig, 14, noise(21)).observations;
    let mut twice = once.clone();
    for (idx, row) in once.rows.iter().enumerate() {
        let mut row = row.clone();
        row.name = format!("{}-b", row.name);
        row.pose = format!("{}-b", row.pose);
        let by = 0.0004 * ((idx % 5) as f64 / 2.0 - 1.0);
        if let What::Shot { at_m, .. } = &mut row.what {
            for m in at_m.iter_mut().flatten() {
                m.value += by;
            }
        }
        for (_, value) in &mut row.readings {
            *value += by / 60.0;
        }
        twice.rows.push(row);
    }
    let fit = fitted(&rig.sheet, &twice, &ask());
    assert_eq!(fit.copied.len(), once.rows.len());
    assert!(matches!(fit.belief, Belief::NotBelieved(_)));
}

/// Pin A stays where it is while boom and stick move: the same coordinates in two poses are no copy.
#[test]
fn a_point_of_the_house_may_stay_where_it_is() {
    let rig = demo_rig();
    let mut day = total_station_day(&rig, 6, noise(21));
    let stance = stances(&rig, 1, 71)[0];
    for pose in ["P0", "P1"] {
        day.shot(&stance, &Target::BoomFoot, (pose, "S1"), &[]);
    }
    let rows = &mut day.observations.rows;
    let n = rows.len();
    rows[n - 1].what = rows[n - 2].what.clone();
    let copied = fitted(&rig.sheet, &day.observations, &ask()).copied;
    assert!(copied.is_empty(), "{copied:?}");
}
