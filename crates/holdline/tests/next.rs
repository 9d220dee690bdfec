//! The best next poses: a machine can go to them, and they make the tooth as sure as the adjustment itself then says.

mod common;

use common::{Kit, Mounting, demo, rigs, with_kit};
use holdline::calibrate::fit::{FitAsk, GrossErrors, fit};
use holdline::calibrate::next::{
    BestBy, CHECK_SHARE, NextAsk, NextPose, NextPoses, Role, Stopped, next_poses,
};
use holdline::calibrate::observations::{Observation, Observations, ObservedTool, Target, What};
use holdline::calibrate::working_poses::working_poses;
use holdline::machine::Machine;
use holdline::machine::claim::{Joint, SensorKind};
use holdline::machine::front::ToolChoice;
use holdline::machine::pose::front_pose;
use holdline::tooth::attitude::Lean;
use holdline::tooth::model::ToothModel;
use holdline_geom::frame::Point;
use holdline_geom::measured::Measured;
use nalgebra::{DMatrix, Matrix3xX, Vector3};

fn choice() -> ToolChoice {
    common::tool(true, false, "T75", "centre")
}

fn machine() -> Machine {
    Machine::measured_up(demo()).expect("the demo machine")
}

fn ask() -> NextAsk {
    NextAsk {
        shot_sd_m: Some(0.003),
        antenna_sd_m: [Some(0.004), Some(0.004), Some(0.006)],
        ..NextAsk::of(choice())
    }
}

#[track_caller]
fn found(ask: &NextAsk) -> NextPoses {
    next_poses(&machine(), ask).unwrap_or_else(|faults| panic!("{faults}"))
}

fn of_role(next: &NextPoses, role: Role) -> Vec<&NextPose> {
    next.poses.iter().filter(|pose| pose.role == role).collect()
}

#[test]
fn the_machine_can_go_to_every_pose() {
    let machine = machine();
    let front = machine.front(&choice()).expect("the tool").values();
    for best_by in [BestBy::Envelope, BestBy::Determinant] {
        let next = found(&NextAsk { best_by, ..ask() });
        let for_fit = of_role(&next, Role::Fit).len();
        assert!((2..=6).contains(&for_fit), "{for_fit}");
        let want = (CHECK_SHARE * for_fit as f64).ceil() as usize;
        assert_eq!(of_role(&next, Role::Check).len(), want);
        for pose in &next.poses {
            for joint in [Joint::Boom, Joint::Stick, Joint::Bucket] {
                assert_eq!(machine.beyond_range(joint, pose.joints.get(joint)), None);
            }
            let tooth = front_pose(&front, &pose.joints).tooth_house;
            assert!(0.05 <= tooth.z() && tooth.z() <= 5.0 && 0.3 <= tooth.x());
            assert!(
                pose.words.contains("boom") && pose.words.contains("m out"),
                "{}",
                pose.words
            );
            println!("{:?} {:?} {}", pose.role, pose.gain, pose.words);
        }
    }
}

/// The observations that the chosen poses would be, made here from the chain alone.
fn observations(next: &NextPoses) -> Observations {
    let machine = machine();
    let model = ToothModel::new(&machine, &choice()).expect("the tool");
    let front = model.geometry().front.values();
    let mut rows = Vec::new();
    for (idx, pose) in of_role(next, Role::Fit).into_iter().enumerate() {
        let read = model
            .readings_at(&pose.joints, &pose.lean)
            .expect("readings");
        let site = pose
            .lean
            .site_turn(pose.heading_rad)
            .after_shift([5056.0, 2041.5, 24.0]);
        let mut readings: Vec<(String, f64)> = ["S-boom", "S-stick", "S-idler"]
            .iter()
            .zip(&read.sensors_rad)
            .map(|(id, value)| ((*id).to_owned(), value.expect("read")))
            .collect();
        let house = read.house_rad.expect("read");
        readings.extend([
            ("pitch".to_owned(), house[0]),
            ("roll".to_owned(), house[1]),
        ]);
        for (antenna, lever) in ["GL", "GR"].iter().zip(&model.geometry().levers_m) {
            let [x, y, z] = lever.map(|m| m.value);
            let at = (site * holdline_geom::frame::Point::metres(x, y, z)).vector();
            for (axis, word) in ["easting", "northing", "elevation"].iter().enumerate() {
                readings.push((format!("{antenna}_{word}"), at[axis]));
            }
        }
        let at = (site * front_pose(&front, &pose.joints).tooth_house).vector();
        rows.push(Observation {
            name: format!("shot {idx}"),
            line: 0,
            what: What::Shot {
                target: Target::Tooth("centre".to_owned()),
                at_m: [0, 1, 2].map(|axis| Some(Measured::with_sd(at[axis], 0.003))),
            },
            pose: format!("pose {idx}"),
            stand: "S1".to_owned(),
            setup: "site".to_owned(),
            readings,
            by: None,
            when: None,
            instrument: None,
            note: None,
        });
    }
    Observations {
        machine: "demo-23".to_owned(),
        tool: ObservedTool {
            coupler: Some("QC-demo".to_owned()),
            tilt: None,
            bucket: "T75".to_owned(),
        },
        rows,
    }
}

/// How sure the tooth is at near, mid and far by a covariance of figures; slopes by differences through the
/// machine itself.
fn sure_m(paths: &[&str], covariance: &DMatrix<f64>) -> Vec<f64> {
    let machine = machine();
    let level = Lean {
        pitch: 0.0,
        roll: 0.0,
    };
    let model = ToothModel::new(&machine, &choice()).expect("the tool");
    let mut all = Vec::new();
    for pose in working_poses(&machine, &choice()).expect("poses") {
        let readings = model.readings_at(&pose.joints, &level).expect("readings");
        let tooth = |path: &str, by: f64| -> Vector3<f64> {
            let old = machine.sheet().figure(path).expect("on the sheet").measured;
            let new = Measured {
                value: old.value + by,
                ..old
            };
            let moved = machine.with_values(&[(path, new)]).expect("plausible");
            let model = ToothModel::new(&moved, &choice()).expect("the tool");
            model
                .tooth(&readings)
                .expect("a tooth")
                .tooth_level
                .vector()
        };
        let step = 1e-5;
        let columns: Vec<Vector3<f64>> = paths
            .iter()
            .map(|path| (tooth(path, step) - tooth(path, -step)) / (2.0 * step))
            .collect();
        let j = Matrix3xX::from_columns(&columns);
        all.push((&j * covariance * j.transpose()).trace().sqrt());
    }
    all
}

/// The adjustment of those very observations, on top of the sheet, gives the same uncertainty of the tooth.
#[test]
fn what_is_promised_is_what_the_adjustment_gives() {
    let next = found(&ask());
    let ask = FitAsk {
        antenna_sd_m: [Some(0.004), Some(0.004), Some(0.006)],
        gross_errors: GrossErrors::KeepAll,
        ..FitAsk::default()
    };
    let fitted = fit(&machine(), &observations(&next), &ask).unwrap_or_else(|f| panic!("{f}"));
    let paths: Vec<&str> = fitted.figures.iter().map(|f| f.path.as_str()).collect();
    let after = sure_m(&paths, &fitted.covariance);
    for ((name, promised), got) in next.after.iter().zip(after) {
        let promised = promised.expect("known");
        assert!(
            (promised / got - 1.0).abs() < 0.02,
            "{name}: {promised} {got}"
        );
    }
    for ((_, before), (_, after)) in next.before.iter().zip(&next.after) {
        assert!(after.expect("known") < before.expect("known"));
    }
}

#[test]
fn more_gain_first_and_an_end_when_it_is_enough() {
    let next = found(&NextAsk {
        n_poses: 40,
        ..ask()
    });
    assert_eq!(next.stopped, Stopped::LittleGain);
    assert!(
        of_role(&next, Role::Fit)
            .iter()
            .all(|p| 0.03 <= p.gain.expect("chosen"))
    );
    let worst = |next: &NextPoses| {
        let sds = next.after.iter().map(|(_, sd)| sd.expect("known"));
        sds.fold(0.0, f64::max)
    };
    let enough = worst(&next) * 1.5;
    let fewer = found(&NextAsk {
        n_poses: 40,
        enough_sd_m: Some(enough),
        ..ask()
    });
    assert_eq!(fewer.stopped, Stopped::SureEnough);
    assert!(fewer.poses.len() < next.poses.len() && worst(&fewer) <= enough);
    let one = found(&NextAsk {
        n_poses: 1,
        ..ask()
    });
    assert_eq!((one.stopped, one.poses.len()), (Stopped::AsManyAsAsked, 2));
}

/// Booms on a post and tools that turn have thousands of poses: they are thinned, and all are still poses to go to.
#[test]
fn machines_with_more_joints_get_poses_too() {
    let mounting = Mounting {
        house: SensorKind::HouseTilts,
        sign: 1.0,
        offset_deg: 0.1,
        mount_deg: 0.0,
    };
    for rig in rigs() {
        let machine =
            Machine::measured_up(with_kit(rig.sheet.clone(), Kit::TwoAxisIdler, mounting))
                .expect(rig.name);
        let ask = NextAsk {
            choice: rig.choice.clone(),
            n_poses: 2,
            ..ask()
        };
        let next = next_poses(&machine, &ask).unwrap_or_else(|f| panic!("{}: {f}", rig.name));
        assert!(
            next.n_looked_at <= 480,
            "{}: {}",
            rig.name,
            next.n_looked_at
        );
        assert!(!next.poses.is_empty());
        for pose in &next.poses {
            for range in machine.ranges() {
                let angle = pose.joints.get(range.joint);
                let swings = range.joint == Joint::Swing;
                assert!(swings || machine.beyond_range(range.joint, angle).is_none());
            }
        }
    }
}

#[test]
fn what_is_missing_is_asked_for() {
    let code = |machine: &Machine, ask: &NextAsk| next_poses(machine, ask).unwrap_err().0[0].code;
    let unstated = NextAsk {
        shot_sd_m: None,
        ..ask()
    };
    assert_eq!(code(&machine(), &unstated), "C053");
    let nowhere = NextAsk {
        floor_m: 40.0,
        ..ask()
    };
    assert_eq!(code(&machine(), &nowhere), "C051");
    let mut sheet = demo();
    sheet.cylinders.pop();
    let free = Machine::measured_up(sheet).expect("without a bucket cylinder");
    assert_eq!(code(&free, &ask()), "C050");
}

/// No pose puts any point of the bucket into the ground or near the tracks, whichever way they stand.
#[test]
fn no_pose_is_on_the_tracks_or_in_the_ground() {
    let machine = machine();
    let tracks = machine.sheet().tracks.clone();
    let half_width = (tracks.gauge.value + tracks.shoe_width.value) / 2.0;
    let round_m = (tracks.length.value / 2.0).hypot(half_width);
    let front = machine.front(&choice()).expect("a front").values();
    let next = found(&ask());
    let bucket = machine.bucket("T75").expect("a bucket").clone();
    for pose in &next.poses {
        let at = front_pose(&front, &pose.joints);
        for [x, z] in &bucket.outline_m {
            let p = at.house_from_bucket * Point::metres(*x, bucket.width.value / 2.0, *z);
            assert!(
                round_m + 0.5 <= p.x() && 0.05 <= p.z(),
                "{p:?} in {}",
                pose.words
            );
        }
    }
}

/// Without antennas one pose alone only finds the stand: it takes four or more, and then the tooth is surer.
#[test]
fn without_antennas_there_are_enough_poses_to_tell_something() {
    let next = found(&NextAsk {
        antenna_sd_m: [None; 3],
        ..ask()
    });
    let n = of_role(&next, Role::Fit).len();
    assert!(4 <= n, "{n} poses, {:?}", next.stopped);
    for ((name, before), (_, after)) in next.before.iter().zip(&next.after) {
        if let (Some(before), Some(after)) = (before, after) {
            assert!(*after < 0.8 * *before, "{name}: {after} of {before}");
        }
    }
}
