//! A machine's figures from what was measured: the truth without noise, gross errors found, weak set-ups told.

mod common;

use common::day::{Day, SDS, Stance, leaning};
use common::{Mounting, Rig, demo, pose_at, tool};
use holdline::calibrate::fit::{Belief, Fit, FitAsk, fit};
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
                q.swing = 0.0;
                if machine.linkage_pose(q.bucket).is_ok() {
                    break;
                }
            }
            let heading_rad = 0.4 + 0.7 * (idx % 5) as f64;
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

#[allow(dead_code)]
fn mounting() -> Mounting {
    Mounting {
        house: SensorKind::HouseEuler,
        sign: -1.0,
        offset_deg: 0.4,
        mount_deg: 20.0,
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
}
