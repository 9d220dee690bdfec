//! The closed-form chain against the dual numbers, pose by pose: teeth and slopes.

mod common;

use common::own_chain::OwnChainDay;
use common::random::Random;
use common::{KITS, Kit, Mounting, Rig, pose_at, rigs, with_kit};
use holdline::calibrate::chain::{Chain, ToothFrame};
use holdline::machine::claim::SensorKind;
use holdline::tooth::attitude::Lean;
use holdline::tooth::model::ToothModel;
use holdline::tooth::readings::Readings;
use holdline_geom::adjust::{How, Problem, Room, adjust};
use holdline_geom::frame::Point;

const FRAMES: [ToothFrame; 3] = [ToothFrame::House, ToothFrame::Level, ToothFrame::Site];

/// Which of heading and antennas are read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Seen {
    Nothing,
    HeadingAndOne,
    HeadingAndTwo,
    Pair,
}

const SEEN: [Seen; 4] = [
    Seen::Nothing,
    Seen::HeadingAndOne,
    Seen::HeadingAndTwo,
    Seen::Pair,
];

fn readings(model: &ToothModel, seen: Seen, random: &mut Random) -> Option<Readings<f64>> {
    let lean = Lean {
        pitch: random.between(-0.15, 0.15),
        roll: random.between(-0.15, 0.15),
    };
    let heading = random.between(0.1, 6.0);
    let q = pose_at(model.machine(), model.choice(), |_| {
        random.between(0.05, 0.95)
    });
    let mut readings = model.readings_at(&q, &lean).ok()?;
    let antennas = &model.machine().sheet().antennas;
    let place = |idx: usize| {
        let lever = &antennas[idx].lever;
        let [x, y, z] = [lever.x, lever.y, lever.z].map(|c| c.value);
        let at = lean.site_turn(heading) * Point::metres(x, y, z);
        Some([at.x() + 105.0, at.y() + 78.0, at.z() + 24.0])
    };
    let n = match seen {
        Seen::Nothing => 0,
        Seen::HeadingAndOne => 1,
        Seen::HeadingAndTwo | Seen::Pair => 2,
    };
    for idx in 0..n {
        readings.antennas_m[idx] = place(idx);
    }
    readings.heading_rad = match seen {
        Seen::HeadingAndOne | Seen::HeadingAndTwo => Some(heading),
        Seen::Nothing | Seen::Pair => None,
    };
    Some(readings)
}

/// The largest difference of the two ways, by the largest slope of the pose.
fn compare(model: &ToothModel, readings: &Readings<f64>, what: &str) -> f64 {
    let closed = Chain::new(model, readings).expect("sensors");
    let dual = Chain::by_dual_numbers(model, readings).expect("sensors");
    let x = closed.values(model, readings);
    assert_eq!(x.len(), closed.names().len());
    let poses = [&closed, &dual].map(|chain| chain.solve(&x).expect("a tooth"));
    let mut worst: f64 = 0.0;
    for frame in FRAMES {
        let at = [0, 1].map(|k| poses[k].tooth().in_frame(frame));
        if frame == ToothFrame::Site {
            assert_eq!(
                poses[0].tooth().site_m.is_some(),
                poses[1].tooth().site_m.is_some()
            );
            if at[1][0].is_nan() {
                continue;
            }
        }
        for axis in 0..3 {
            assert!((at[0][axis] - at[1][axis]).abs() < 1e-11, "{what}: {at:?}");
        }
        let mut slopes = [vec![[f64::NAN; 3]; x.len()], vec![[f64::NAN; 3]; x.len()]];
        closed
            .slopes(&x, &poses[0], frame, &mut slopes[0])
            .expect("slopes");
        dual.slopes(&x, &poses[1], frame, &mut slopes[1])
            .expect("slopes");
        let largest = slopes[1]
            .iter()
            .flatten()
            .fold(0.0, |most: f64, s| most.max(s.abs()));
        for (idx, name) in closed.names().iter().enumerate() {
            let both = slopes[0][idx].iter().zip(&slopes[1][idx]);
            for (axis, (got, want)) in both.enumerate() {
                let off = (got - want).abs() / largest;
                assert!(
                    off < 1e-12,
                    "{what}, {frame:?}: {name}, axis {axis}: {got} for {want}"
                );
                worst = worst.max(off);
            }
        }
    }
    worst
}

#[test]
fn the_closed_form_is_the_dual_numbers() {
    let seed = 20_251_205;
    println!("seed {seed}");
    let mut random = Random::new(seed);
    let mut n = 0;
    let mut worst: f64 = 0.0;
    let mono: Vec<Rig> = rigs().into_iter().take(2).collect();
    for rig in &mono {
        for kit in KITS.into_iter().filter(|kit| *kit != Kit::SingleAxis) {
            for house in [SensorKind::HouseEuler, SensorKind::HouseTilts] {
                for sign in [1.0, -1.0] {
                    let mounting = Mounting {
                        house,
                        sign,
                        offset_deg: 0.3,
                        mount_deg: 0.0,
                    };
                    let rig = Rig {
                        sheet: with_kit(rig.sheet.clone(), kit, mounting),
                        ..rig.clone()
                    };
                    let model = ToothModel::new(&rig.machine(), &rig.choice).expect("a tool");
                    for seen in SEEN {
                        for _ in 0..4 {
                            let Some(readings) = readings(&model, seen, &mut random) else {
                                continue;
                            };
                            let chain = Chain::new(&model, &readings).expect("sensors");
                            assert_eq!(chain.slower_because(), None);
                            let what =
                                format!("{}, {kit:?}, {house:?}, {sign}, {seen:?}", rig.name);
                            worst = worst.max(compare(&model, &readings, &what));
                            n += 1;
                        }
                    }
                }
            }
        }
    }
    println!("{n} poses, largest difference {worst:e} of the largest slope");
    assert!(400 < n);
}

#[test]
fn other_machines_go_the_slower_way_and_say_so() {
    let mounting = Mounting {
        house: SensorKind::HouseEuler,
        sign: 1.0,
        offset_deg: 0.2,
        mount_deg: 10.0,
    };
    let mut random = Random::new(7);
    let mut reasons = Vec::new();
    for rig in rigs().into_iter().skip(2) {
        let rig = Rig {
            sheet: with_kit(rig.sheet.clone(), Kit::TwoAxisIdler, mounting),
            ..rig
        };
        let model = ToothModel::new(&rig.machine(), &rig.choice).expect("a tool");
        let readings = readings(&model, Seen::HeadingAndOne, &mut random).expect("a pose");
        let chain = Chain::new(&model, &readings).expect("sensors");
        reasons.push(chain.slower_because().expect("no closed form"));
        assert_eq!(compare(&model, &readings, rig.name), 0.0);
    }
    for reason in [
        "the boom has more than one piece",
        "the boom stands on a swing post",
        "the tool tilts",
    ] {
        assert!(reasons.contains(&reason), "{reasons:?}");
    }
}

#[test]
fn an_adjustment_with_the_own_chain_finds_what_the_sheet_is_off() {
    let day = OwnChainDay::measured(60, 1.0);
    let unknowns = day.unknowns();
    let mut room = Room::new();
    let found = adjust(&Problem::new(&day, &unknowns), &How::default(), &mut room)
        .unwrap_or_else(|faults| panic!("{faults}"));
    for (idx, (unknown, want)) in unknowns.iter().zip(day.truth()).enumerate() {
        let (got, sd) = (found.values[idx], found.sd(idx).expect("found"));
        assert!(
            (got - want).abs() < 4.0 * sd,
            "{}: {got} for {want}",
            unknown.name
        );
        assert!(sd < 0.03, "{}: {sd}", unknown.name);
    }
}
