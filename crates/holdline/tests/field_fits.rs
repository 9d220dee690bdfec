//! What an antenna's circle, an arc about a pin and a turned house say by themselves, beside the fit of everything;
//! and that rows of one such kind alone get an answer.

mod common;

use common::day::{Day, Stance, leaning};
use common::{Rig, demo, pose_at, tool};
use holdline::calibrate::field_fits::{FieldFigure, FieldFit, field_fits};
use holdline::calibrate::fit::{Fit, FitAsk, fit};
use holdline::calibrate::observations::{Target, What};
use holdline::machine::claim::ClaimedMachine;
use holdline::machine::pose::front_pose;
use holdline_geom::draws::Draws;
use holdline_geom::frame::Point;
use holdline_geom::measured::Measured;

/// GL on the demo machine, forward and left of the swing axis, m.
const LEVER_M: [f64; 2] = [-1.850, 1.050];
const HEADINGS: u32 = 8;

fn rig() -> Rig {
    Rig {
        name: "demo",
        sheet: demo(),
        choice: tool(true, false, "T75", "centre"),
    }
}

fn stance(rig: &Rig, heading_rad: f64) -> Stance {
    Stance {
        joints: pose_at(&rig.machine(), &rig.choice, |_| 0.5),
        lean: leaning([0.03, 0.02], heading_rad),
        heading_rad,
        axis_m: [5056.0, 2041.5, 24.2],
    }
}

fn stop(k: u32) -> f64 {
    0.2 + std::f64::consts::TAU / f64::from(HEADINGS) * f64::from(k)
}

/// Millimetres that nobody meant, from a seed.
fn off(draws: &mut Draws, at_m: [f64; 3], sd_m: f64) -> [Option<Measured>; 3] {
    at_m.map(|v| Some(Measured::with_sd(v + sd_m * draws.normal(), sd_m)))
}

fn circle(rig: &Rig) -> Day {
    let mut day = Day::of(rig, None);
    let mut draws = Draws::new(5, 1);
    for k in 0..HEADINGS {
        let stance = stance(rig, stop(k));
        let at_m = day.site(&stance, &Target::Antenna("GL".into()));
        let at_m = off(&mut draws, at_m, 0.004);
        let antenna = "GL".to_owned();
        let pose = format!("C{k}");
        day.row(
            What::SwingCircle { antenna, at_m },
            (&pose, "S1", "site"),
            &[],
        );
    }
    day
}

fn turned(rig: &Rig) -> Day {
    let mut day = Day::of(rig, Some(Draws::new(6, 1)));
    for k in 0..=HEADINGS {
        let heading_rad = stop(k);
        let mut readings = day.readings(&stance(rig, heading_rad));
        readings.retain(|(name, _)| name == "pitch" || name == "roll");
        let turn = Measured::with_sd(heading_rad - 1.3, 0.01);
        day.row(What::HouseTurn { turn }, ("", "S1", ""), &readings);
    }
    day
}

/// A target on the boom and one on the stick, each moved by its own joint through most of the stroke.
fn arcs(rig: &Rig) -> Day {
    let mut day = Day::of(rig, None);
    let mut draws = Draws::new(7, 1);
    let base = stance(rig, 0.7);
    let front = day.truth.geometry().front.values();
    for pin in [Target::BoomFoot, Target::BoomStick, Target::StickBucket] {
        for k in 0..16 {
            let share = f64::from(k) / 15.0;
            let mut stance = base;
            let arc = match pin {
                Target::BoomFoot => {
                    stance.joints.boom = -0.7 + 1.6 * share;
                    "on boom"
                }
                Target::BoomStick => {
                    stance.joints.stick = -2.5 + 1.8 * share;
                    "on stick"
                }
                _ => {
                    stance.joints.bucket = -0.5 + 2.5 * share;
                    "on bucket"
                }
            };
            let pose = front_pose(&front, &stance.joints);
            let place = Point::metres(1.9, 0.3, 0.4);
            let house = match pin {
                Target::BoomFoot => pose.house_from_boom * place,
                Target::BoomStick => pose.house_from_stick * Point::metres(1.9, 0.3, 0.4),
                _ => pose.house_from_ear * Point::metres(0.9, 0.3, 0.4),
            };
            let turn = stance.lean.site_turn(stance.heading_rad);
            let at = (turn * house).vector();
            let at_m = off(
                &mut draws,
                [0, 1, 2].map(|axis| at[axis] + stance.axis_m[axis]),
                0.002,
            );
            let readings: Vec<(String, f64)> = day
                .readings(&stance)
                .into_iter()
                .filter(|(name, _)| match pin {
                    Target::BoomFoot => name != "S-boom",
                    Target::BoomStick => name != "S-stick",
                    _ => name != "S-idler",
                })
                .collect();
            let what = What::PinArc {
                pin: pin.clone(),
                arc: arc.to_owned(),
                at_m,
            };
            day.row(what, (&format!("{arc} {k}"), "S1", "site"), &readings);
        }
    }
    day
}

fn fitted(sheet: &ClaimedMachine, day: &Day, ask: &FitAsk) -> (Fit, Vec<FieldFit>) {
    let machine = holdline::machine::Machine::measured_up(sheet.clone()).expect("a machine");
    let found = fit(&machine, &day.observations, ask).unwrap_or_else(|f| panic!("{f}"));
    let alone = field_fits(&machine, &day.observations, Some(&found));
    (found, alone)
}

#[track_caller]
fn figure<'a>(all: &'a [FieldFit], what: &str, name: &str) -> &'a FieldFigure {
    let one = all.iter().find(|one| one.what.starts_with(what));
    let one = one.unwrap_or_else(|| panic!("{what} in {all:#?}"));
    let figure = one.figures.iter().find(|figure| figure.name == name);
    figure.unwrap_or_else(|| panic!("{name} in {one:#?}"))
}

/// Near the truth by its own sd, and not apart from the fit.
#[track_caller]
fn agrees(figure: &FieldFigure, truth: f64) {
    let sd = figure.alone.sd.expect("an sd");
    assert!((figure.alone.value - truth).abs() < 3.0 * sd, "{figure:?}");
    assert!(figure.apart_in_sd.is_some_and(|apart| apart < 3.0));
    assert!(!figure.differs(), "{figure:?}");
}

#[test]
fn a_swing_circle_alone_gets_an_answer() {
    let rig = rig();
    let (found, alone) = fitted(&rig.sheet, &circle(&rig), &FitAsk::default());
    agrees(
        figure(&alone, "swing circle of antenna GL, stand S1", "radius"),
        LEVER_M[0].hypot(LEVER_M[1]),
    );
    let lean = figure(&alone, "swing circle", "lean of the swing axis");
    let truth = 0.03_f64.hypot(0.02).asin();
    assert!((lean.alone.value - truth).abs() < 3.0 * lean.alone.sd.expect("an sd"));
    assert_eq!(lean.together, None);
    let named = found
        .figures
        .iter()
        .any(|f| f.path == "antenna[GL].lever.x");
    assert!(named, "{:#?}", found.figures);
}

#[test]
fn a_turned_house_alone_gets_an_answer() {
    let rig = rig();
    let (found, alone) = fitted(&rig.sheet, &turned(&rig), &FitAsk::default());
    agrees(figure(&alone, "house turned", "offset in pitch"), 0.0);
    agrees(figure(&alone, "house turned", "offset in roll"), 0.0);
    let slope = figure(&alone, "house turned", "slope that it stands on");
    assert!((slope.alone.value - 0.03_f64.hypot(0.02)).abs() < 0.002);
    let first = alone[0].findings.join("; ");
    assert!(first.contains("back at the first heading"), "{first}");
    assert!(
        found
            .figures
            .iter()
            .any(|f| f.path == "sensor[S-house].offset")
    );
}

#[test]
fn pin_arcs_alone_get_an_answer() {
    let rig = rig();
    let mut day = arcs(&rig);
    let of_bucket = |what: &What| matches!(what, What::PinArc { arc, .. } if arc == "on bucket");
    day.observations.rows.retain(|row| !of_bucket(&row.what));
    let (_, alone) = fitted(&rig.sheet, &day, &FitAsk::default());
    agrees(figure(&alone, "boom between arcs", "pin to pin"), 5.720);
    // Where the adjustment does not settle, the rows still say what they say.
    let alone = field_fits(&rig.machine(), &arcs(&rig).observations, None);
    agrees(figure(&alone, "boom between arcs", "pin to pin"), 5.720);
    agrees(figure(&alone, "stick between arcs", "pin to pin"), 2.940);
    let radius = figure(&alone, "arc on boom about pin A, stand S1", "radius");
    // The target's place on the boom, square to the pin: forward 1.9, up 0.4.
    assert!((radius.alone.value - 1.9_f64.hypot(0.4)).abs() < 0.01);
}

/// The lever arm is held 60 mm wrong: the fit cannot follow, the circle says so.
#[test]
fn a_figure_that_the_rows_deny_is_told() {
    let rig = rig();
    let mut sheet = rig.sheet.clone();
    let lever = &mut sheet.antennas[0].lever;
    lever.x = Measured::with_sd(lever.x.value - 0.06, 0.003);
    let ask = FitAsk {
        hold: vec!["antennas".into()],
        ..FitAsk::default()
    };
    let (_, alone) = fitted(&sheet, &circle(&rig), &ask);
    let radius = figure(&alone, "swing circle", "radius");
    // 60 mm forward make the radius longer by 60 · 1.85/2.13 = 52 mm; 8 positions of 4 mm make it some 2 mm sure.
    assert!(radius.differs(), "{radius:?}");
    let apart_m = radius.together.expect("there") - radius.alone.value;
    assert!((apart_m - 0.052).abs() < 0.006, "{apart_m}");
}

/// The boom was moved between the stick's arc and the bucket's: the two say nothing of the stick.
#[test]
fn arcs_with_the_boom_moved_between_give_no_stick() {
    let rig = rig();
    let mut day = arcs(&rig);
    for row in &mut day.observations.rows {
        if matches!(&row.what, What::PinArc { arc, .. } if arc == "on bucket") {
            for (name, value) in &mut row.readings {
                if name == "S-boom" {
                    *value += 0.02;
                }
            }
        }
    }
    let machine = rig.machine();
    let all = field_fits(&machine, &day.observations, None);
    assert!(all.iter().all(|one| !one.what.starts_with("stick between")));
    assert!(all.iter().any(|one| one.what.starts_with("boom between")));
}

#[test]
fn too_few_positions_say_why_they_give_nothing() {
    let rig = rig();
    let mut day = circle(&rig);
    day.observations.rows.truncate(2);
    let all = field_fits(&rig.machine(), &day.observations, None);
    assert!(all[0].figures.is_empty());
    assert!(all[0].findings[0].contains("2 points"), "{all:?}");
}
