//! A fit begins with a guess by eye, or with sensors that nobody has set to anything.

mod common;

use common::day::{Day, Stance, leaning};
use common::{Rig, demo, pose_at, range, tool};
use holdline::calibrate::fit::{Belief, FitAsk, fit};
use holdline::calibrate::observations::Target;
use holdline::machine::claim::{ClaimedMachine, Joint};
use holdline_geom::draws::Draws;
use holdline_geom::measured::Measured;

/// The demo machine with plain ranges: a guessed length need not close every cylinder's triangle.
fn sheet() -> ClaimedMachine {
    let mut sheet = demo();
    sheet.cylinders.clear();
    sheet.ranges.push(range(Joint::Boom, -45.0, 61.0));
    sheet.ranges.push(range(Joint::Stick, -152.0, -36.0));
    sheet.ranges.push(range(Joint::Bucket, -40.0, 126.0));
    sheet
}

fn day(rig: &Rig, seed: u64, n_headings: usize) -> Day {
    let machine = rig.machine();
    let mut draws = Draws::new(seed, 9);
    let mut day = Day::of(rig, Some(Draws::new(seed, 1)));
    for idx in 0..14 {
        let joints = pose_at(&machine, &rig.choice, |_| 0.08 + 0.84 * draws.uniform());
        let heading_rad = 0.4 + 0.7 * (idx % n_headings) as f64;
        let stance = Stance {
            joints,
            lean: leaning([0.03, -0.05], heading_rad),
            heading_rad,
            axis_m: [5056.0, 2041.5, 24.174],
        };
        let readings = day.readings(&stance);
        let pose = format!("P{idx}");
        let tooth = Target::Tooth("centre".into());
        day.shot(&stance, &tooth, (&pose, "S"), &readings);
        day.shot(&stance, &Target::StickBucket, (&pose, "S"), &[]);
    }
    day
}

/// How many of the seeds end at the truth, and what became of the others.
fn found(length_off_m: f64, angle_off_rad: f64, n_headings: usize, n_seeds: u64) -> (u64, String) {
    let rig = Rig {
        name: "demo",
        sheet: sheet(),
        choice: tool(true, false, "T75", "centre"),
    };
    let machine = rig.machine();
    let (mut n_found, mut others) = (0, String::new());
    for seed in 0..n_seeds {
        let day = day(&rig, seed, n_headings);
        let mut draws = Draws::new(seed, 10);
        let guess: Vec<(&str, Measured)> = [
            ("boom.length", length_off_m),
            ("stick.length", length_off_m),
            ("sensor[S-boom].offset", angle_off_rad),
            ("sensor[S-stick].offset", angle_off_rad),
            ("sensor[S-idler].offset", angle_off_rad),
        ]
        .into_iter()
        .map(|(path, off)| {
            let truth = rig.sheet.figure(path).expect(path).measured.value;
            (path, Measured::without_sd(truth + draws.between(-off, off)))
        })
        .collect();
        let start = machine.with_values(&guess).expect("a sheet");
        match fit(&start, &day.observations, &FitAsk::default()) {
            Ok(fit) => {
                let near = fit.figures.iter().all(|figure| {
                    let truth = rig.sheet.figure(&figure.path).expect("a figure");
                    let off = (figure.value - truth.measured.value).abs();
                    figure.sd.is_some_and(|sd| off < 5.0 * sd)
                });
                n_found += u64::from(near);
                // What did not end at the truth must not be believed.
                assert!(near || fit.belief != Belief::Believed, "seed {seed}");
                if !near {
                    others.push_str(&format!("seed {seed} elsewhere, told; "));
                }
            }
            Err(faults) => others.push_str(&format!("seed {seed} {}; ", faults.0[0].code)),
        }
    }
    (n_found, others)
}

/// A few seeds always, all of them with `HOLDLINE_SLOW=1`.
fn n_seeds(all: u64) -> u64 {
    let slow = std::env::var("HOLDLINE_SLOW").is_ok_and(|v| v == "1");
    if slow { all } else { 3 }
}

#[test]
fn a_guess_by_eye_is_enough() {
    for n_headings in [1, 5] {
        let n = n_seeds(12);
        let (n_found, others) = found(0.30, 0.20, n_headings, n);
        assert_eq!(n_found, n, "{n_headings} headings: {others}");
    }
}

#[test]
fn sensors_mounted_at_any_angle_are_found() {
    for n_headings in [1, 5] {
        let n = n_seeds(12);
        let (n_found, others) = found(0.05, std::f64::consts::PI, n_headings, n);
        assert_eq!(n_found, n, "{n_headings} headings: {others}");
    }
}
