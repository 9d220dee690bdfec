//! A figure that is held is as sure as the sheet says, no surer: in what is found, and at the tooth.

mod common;

use common::day::{Day, SDS, Stance, leaning};
use common::{Rig, demo, pose_at, tool};
use holdline::calibrate::fit::{Fit, FitAsk, GrossErrors, Role, fit};
use holdline::calibrate::observations::{Target, What};
use holdline::machine::Machine;
use holdline::machine::claim::ClaimedMachine;
use holdline_geom::draws::Draws;
use holdline_geom::measured::Measured;

fn demo_rig() -> Rig {
    Rig {
        name: "demo",
        sheet: demo(),
        choice: tool(true, false, "T75", "centre"),
    }
}

/// Two teeth and pin C shot in twelve poses, antennas and sensors read.
fn day(rig: &Rig, noise: Option<Draws>) -> Day {
    let machine = rig.machine();
    let mut day = Day::of(rig, noise);
    for idx in 0..12 {
        let share = |k: usize| 0.1 + 0.8 * (((idx * 7 + k * 5) % 12) as f64) / 11.0;
        let mut k = 0;
        let joints = pose_at(&machine, &rig.choice, |_| {
            k += 1;
            share(k)
        });
        let heading_rad = 0.4 + 0.7 * (idx % 5) as f64;
        let stance = Stance {
            joints,
            lean: leaning([0.03, -0.05], heading_rad),
            heading_rad,
            axis_m: [5056.0, 2041.5, 24.174],
        };
        if machine.linkage_pose(joints.bucket).is_err() {
            continue;
        }
        let mut readings = day.readings(&stance);
        readings.extend(day.antennas(&stance));
        let name = format!("P{idx}");
        let place = (name.as_str(), "S1");
        for (n, target) in [
            Target::Tooth("centre".to_owned()),
            Target::Tooth("left".to_owned()),
            Target::StickBucket,
        ]
        .iter()
        .enumerate()
        {
            let read = if n == 0 { readings.as_slice() } else { &[] };
            day.shot(&stance, target, place, read);
        }
    }
    day
}

fn ask(solve: &[&str], hold: &[&str]) -> FitAsk {
    FitAsk {
        solve: solve.iter().map(|s| (*s).to_owned()).collect(),
        hold: hold.iter().map(|s| (*s).to_owned()).collect(),
        heading_sd_rad: Some(SDS.heading_rad),
        antenna_sd_m: SDS.antenna_m.map(Some),
        gross_errors: GrossErrors::KeepAll,
        ..FitAsk::default()
    }
}

#[track_caller]
fn fitted(sheet: &ClaimedMachine, day: &Day, ask: &FitAsk) -> Fit {
    let machine = Machine::measured_up(sheet.clone()).expect("a machine");
    fit(&machine, &day.observations, ask).unwrap_or_else(|faults| panic!("{faults}"))
}

/// The sheet with another value and uncertainty of some figures.
fn with(
    sheet: &ClaimedMachine,
    paths: &[&str],
    change: impl Fn(Measured) -> Measured,
) -> ClaimedMachine {
    let figures: Vec<(&str, Measured)> = paths
        .iter()
        .map(|path| (*path, change(sheet.figure(path).expect(path).measured)))
        .collect();
    let machine = Machine::measured_up(sheet.clone()).expect("a machine");
    machine.with_values(&figures).expect("near").sheet().clone()
}

fn with_sd(sheet: &ClaimedMachine, paths: &[&str], sd: f64) -> ClaimedMachine {
    with(sheet, paths, |m| Measured::with_sd(m.value, sd))
}

const LEVERS: [&str; 6] = [
    "antenna[GL].lever.x",
    "antenna[GL].lever.y",
    "antenna[GL].lever.z",
    "antenna[GR].lever.x",
    "antenna[GR].lever.y",
    "antenna[GR].lever.z",
];

/// What the search finds with the held figure a little higher and lower gives the slope without any formula
/// of an adjustment; the variance is that of a figure that counts as exact, and the slope's part.
#[test]
fn the_uncertainty_of_a_held_figure_goes_through_as_it_moves_the_result() {
    let rig = demo_rig();
    let day = day(&rig, Some(Draws::new(11, 0)));
    let path = "stick.length";
    let sd = 0.004;
    let asked = ask(&[], &[path]);
    let exact = fitted(&with_sd(&rig.sheet, &[path], 1e-6), &day, &asked);
    let stated = fitted(&with_sd(&rig.sheet, &[path], sd), &day, &asked);
    let step = 1e-4;
    let moved = |by: f64| {
        let sheet = with(&rig.sheet, &[path], |m| {
            Measured::with_sd(m.value + by, 1e-6)
        });
        fitted(&sheet, &day, &asked)
    };
    let (up, down) = (moved(step), moved(-step));
    let mut n = 0;
    let mut most: f64 = 0.0;
    for (idx, figure) in stated.figures.iter().enumerate() {
        if figure.role == Role::Held {
            continue;
        }
        let slope = (up.figures[idx].value - down.figures[idx].value) / (2.0 * step);
        let (Some(got), Some(alone)) = (figure.sd, exact.figures[idx].sd) else {
            panic!("{} has no sd", figure.path);
        };
        let want = (alone * alone + slope * slope * sd * sd).sqrt();
        // The steps of the search end at a millionth of an sd; curvature does the rest.
        assert!(
            (got - want).abs() <= 0.01 * want,
            "{}: {got} is not {want}",
            figure.path
        );
        most = most.max(got / alone);
        n += 1;
    }
    assert!(20 < n && 1.5 < most, "{n} figures, at most {most} times");
    let held = stated
        .figures
        .iter()
        .position(|f| f.path == path)
        .expect("told");
    assert_eq!(stated.figures[held].role, Role::Held);
    assert_eq!(stated.figures[held].sd, Some(sd));
    // Its covariance with the others is slope times variance.
    let boom = stated
        .figures
        .iter()
        .position(|f| f.path == "sensor[S-stick].offset")
        .expect("found");
    let slope = (up.figures[boom].value - down.figures[boom].value) / (2.0 * step);
    let got = stated.covariance[(boom, held)];
    assert!((got - slope * sd * sd).abs() <= 0.02 * (slope * sd * sd).abs());
}

/// At the tooth: held it is never surer than carried, whatever the sheet states.
#[test]
fn a_held_figure_never_makes_the_tooth_surer_than_a_carried_one() {
    let rig = demo_rig();
    let day = day(&rig, Some(Draws::new(12, 0)));
    for sd in [0.02, 0.004] {
        let sheet = with_sd(&rig.sheet, &LEVERS, sd);
        for name in ["antennas", "stick.length", "boom.foot", "linkage"] {
            let held = fitted(&sheet, &day, &ask(&[], &[name]));
            let carried = fitted(&sheet, &day, &ask(&[], &[]));
            for (held, carried) in held.tooth.iter().zip(&carried.tooth) {
                let (held, carried) = (held.sd_m.expect(name), carried.sd_m.expect(name));
                for axis in 0..3 {
                    assert!(
                        carried[axis] * (1.0 - 1e-3) <= held[axis],
                        "{name} ({sd}): {held:?} below {carried:?}"
                    );
                }
            }
        }
    }
}

/// Nobody says how sure the antennas are: what leans on them is not sure either, and that is told.
#[test]
fn what_leans_on_a_held_figure_without_uncertainty_has_none() {
    let rig = demo_rig();
    let day = day(&rig, Some(Draws::new(13, 0)));
    let sheet = with(&rig.sheet, &LEVERS, |m| Measured::without_sd(m.value));
    let fit = fitted(&sheet, &day, &ask(&["sensors"], &["antennas"]));
    for path in LEVERS {
        assert!(fit.held.iter().any(|p| p == path), "{path} is not told");
    }
    // Antennas a hand higher lower the swing axis under them, and the boom's sensor takes it up.
    let boom = fit
        .figures
        .iter()
        .find(|f| f.path == "sensor[S-boom].offset")
        .expect("sought");
    assert_eq!(boom.sd, None);
    assert!(fit.tooth.iter().all(|t| t.sd_m.is_none()));
    let words = fit.findings.join("; ");
    assert!(words.contains("counted as exact"), "{words}");
}

/// Every antenna position of the day off by the same, as a fix is for as long as a day's shots take.
fn shifted(mut day: Day, off_m: [f64; 3]) -> Day {
    for row in &mut day.observations.rows {
        for (name, value) in &mut row.readings {
            for (axis, word) in ["_easting", "_northing", "_elevation"].iter().enumerate() {
                if name.ends_with(word) {
                    *value += off_m[axis];
                }
            }
        }
    }
    day
}

/// The fix is off by one of its standard uncertainties in height, all day: what is found stays within what it says.
#[test]
fn a_fix_that_is_off_all_day_moves_nothing_beyond_its_uncertainty() {
    let rig = demo_rig();
    let day = shifted(
        day(&rig, Some(Draws::new(14, 0))),
        [0.0, 0.0, SDS.antenna_m[2]],
    );
    let sheet = with_sd(&rig.sheet, &LEVERS, 0.2);
    let fit = fitted(&sheet, &day, &ask(&[], &[]));
    for figure in &fit.figures {
        let want = rig
            .sheet
            .figure(&figure.path)
            .expect("a figure")
            .measured
            .value;
        let sd = figure.sd.expect("determined");
        assert!(
            (figure.value - want).abs() <= 3.0 * sd,
            "{}: {} is not {want} within 3 of {sd}",
            figure.path,
            figure.value
        );
    }
    // A base 150 mm too high is no wandering fix: that is told, and nothing is believed.
    let far = shifted(
        self::day(&rig, Some(Draws::new(14, 0))),
        [0.0, 0.0, 10.0 * SDS.antenna_m[2]],
    );
    let fit = fitted(&with_sd(&rig.sheet, &LEVERS, 0.005), &far, &ask(&[], &[]));
    let holdline::calibrate::fit::Belief::NotBelieved(why) = &fit.belief else {
        panic!("believed");
    };
    let words = why.join("; ");
    assert!(
        words.contains("satellite positions against the survey"),
        "{words}"
    );
}

/// With a reading taken out the held figure bends what is left as the fit without that reading does.
#[test]
fn a_reading_that_was_taken_out_bends_nothing() {
    let rig = demo_rig();
    let mut day = day(&rig, Some(Draws::new(11, 0)));
    if let What::Shot { at_m, .. } = &mut day.observations.rows[4].what {
        at_m[2] = at_m[2].map(|m| Measured::with_sd(m.value + 0.3, 0.003));
    }
    let path = "stick.length";
    let asked = FitAsk {
        gross_errors: GrossErrors::TakeOut,
        ..ask(&[], &[path])
    };
    let with_value = |by: f64, sd: f64| {
        let sheet = with(&rig.sheet, &[path], |m| Measured::with_sd(m.value + by, sd));
        fitted(&sheet, &day, &asked)
    };
    let (sd, step) = (0.004, 1e-4);
    let (stated, exact) = (with_value(0.0, sd), with_value(0.0, 1e-6));
    let (up, down) = (with_value(step, 1e-6), with_value(-step, 1e-6));
    assert!(!stated.rejected.is_empty());
    for (idx, figure) in exact.figures.iter().enumerate() {
        if figure.role == Role::Held {
            continue;
        }
        let slope = (up.figures[idx].value - down.figures[idx].value) / (2.0 * step);
        let alone = figure.sd.expect("determined");
        let want = (alone * alone + slope * slope * sd * sd).sqrt();
        let got = stated.figures[idx].sd.expect("determined");
        assert!(
            (got - want).abs() <= 0.01 * want,
            "{}: {got} is not {want}",
            figure.path
        );
    }
}

/// A shift drawn anew for every day from what one position is uncertain by: the levers' errors are as large as
/// they say.
#[test]
fn lever_arms_are_as_sure_as_they_say_with_a_fix_that_wanders() {
    let rig = demo_rig();
    let sheet = with_sd(&rig.sheet, &LEVERS, 0.5);
    let n = 20;
    let mut squares = [0.0; 3];
    for trial in 0..n {
        let mut draws = Draws::new(77, trial);
        let off_m = SDS.antenna_m.map(|sd| sd * draws.normal());
        let day = shifted(day(&rig, Some(draws)), off_m);
        let fit = fitted(&sheet, &day, &ask(&[], &[]));
        for (axis, square) in squares.iter_mut().enumerate() {
            let found = fit
                .figures
                .iter()
                .find(|f| f.path == LEVERS[axis])
                .expect("found");
            let want = rig
                .sheet
                .figure(LEVERS[axis])
                .expect("a figure")
                .measured
                .value;
            *square += ((found.value - want) / found.sd.expect("determined")).powi(2) / n as f64;
        }
    }
    // χ² with 20 degrees of freedom: 0.1 % below 5.921, 0.1 % above 45.315 (table of χ²). Taken as independent it is
    // far more.
    for square in squares {
        assert!(
            5.921 <= 20.0 * square && 20.0 * square <= 45.315,
            "{squares:?}"
        );
    }
}
