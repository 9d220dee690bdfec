//! What holds for every machine, every tool and every pose: there and back, mirrors, slopes.
//! From the tooth back to the strokes: `laws_backward.rs`.
//!
//! A lattice first, then random poses from a seed that a failing test prints.

mod common;

use common::random::Random;
use common::{KITS, Kit, Mounting, Rig, close, negated, pose_at, poses, rigs, with_kit};
use holdline::frames::{House, Site};
use holdline::machine::Machine;
use holdline::machine::claim::{ClaimedBoomKind, ClaimedMachine, Joint, SensorKind};
use holdline::machine::cylinder::wrapped;
use holdline::machine::front::Front;
use holdline::machine::jacobian::{joints_fitted, tooth_jacobian};
use holdline::machine::joints::Joints;
use holdline::machine::pose::front_pose;
use holdline::tooth::attitude::Lean;
use holdline::tooth::model::ToothModel;
use holdline::tooth::readings::Readings;
use holdline_geom::frame::{Direction, Point, Transform};
use holdline_geom::measured::Measured;
use nalgebra::Vector3;
use num_dual::Dual64;

fn rad(deg: f64) -> f64 {
    deg.to_radians()
}

fn leans(random: &mut Random) -> Lean {
    Lean {
        pitch: random.between(-0.35, 0.35),
        roll: random.between(-0.35, 0.35),
    }
}

// ---- readings and joints ----------------------------------------------------------------------

const MOUNTINGS: [Mounting; 4] = [
    Mounting {
        house: SensorKind::HouseEuler,
        sign: 1.0,
        offset_deg: 0.0,
        mount_deg: 0.0,
    },
    Mounting {
        house: SensorKind::HouseTilts,
        sign: 1.0,
        offset_deg: 0.4,
        mount_deg: 20.0,
    },
    Mounting {
        house: SensorKind::HouseEuler,
        sign: -1.0,
        offset_deg: -0.7,
        mount_deg: -35.0,
    },
    Mounting {
        house: SensorKind::HouseTilts,
        sign: -1.0,
        offset_deg: 1.1,
        mount_deg: 70.0,
    },
];

#[test]
fn readings_lead_back_to_the_joints_and_the_tooth() {
    for rig in rigs() {
        for kit in KITS {
            for (idx, mounting) in MOUNTINGS.into_iter().enumerate() {
                let rig = Rig {
                    sheet: with_kit(rig.sheet.clone(), kit, mounting),
                    ..rig.clone()
                };
                readings_lead_back(&rig, kit, 1000 + idx as u64);
            }
        }
    }
}

fn readings_lead_back(rig: &Rig, kit: Kit, seed: u64) {
    let machine = rig.machine();
    let model = ToothModel::new(&machine, &rig.choice).expect("the rig's own tool");
    let front = machine.front(&rig.choice).expect("tool").values();
    let mut random = Random::new(seed);
    let (mut n, mut doubtful) = (0, 0);
    poses(&machine, rig, seed, 100, |name, q| {
        let lean = leans(&mut random);
        let readings = model
            .readings_at(&q, &lean)
            .expect("every joint has a sensor");
        n += 1;
        let solution = match model.tooth(&readings) {
            Ok(solution) => solution,
            // Two angles inside the stroke give one reading: said so, never guessed.
            Err(faults) if kit == Kit::SingleAxis => {
                assert!(
                    faults.0.iter().all(|fault| fault.code == "T012"),
                    "{name}: {faults}"
                );
                doubtful += 1;
                return;
            }
            Err(faults) => panic!("{name}: {faults}"),
        };
        // A single axis near the vertical gives half the digits: asin there is that steep.
        let (within_rad, within_m) = match kit {
            Kit::SingleAxis => (1e-6, 1e-5),
            _ => (1e-12, 2e-12),
        };
        for joint in joints_fitted(&front) {
            let off = wrapped(solution.joints.get(joint) - q.get(joint)).abs();
            assert!(
                off <= within_rad,
                "{name}, {kit:?}: {} off by {off:e}",
                joint.word()
            );
        }
        assert!((solution.lean.pitch - lean.pitch).abs() < 1e-13, "{name}");
        assert!((solution.lean.roll - lean.roll).abs() < 1e-13, "{name}");
        let want = front_pose(&front, &q).tooth_house.vector();
        close(name, solution.tooth_house.vector(), want, within_m);
        let level = lean.level_from_house() * Point::<House>::from_vector(want);
        close(
            name,
            solution.tooth_level.vector(),
            level.vector(),
            within_m,
        );
    });
    assert!(
        doubtful < n,
        "{}: no reading of {kit:?} could be used",
        rig.name
    );
}

#[test]
fn a_whole_turn_more_in_a_reading_changes_nothing() {
    for kit in [
        Kit::TwoAxisIdler,
        Kit::TwoAxisEar,
        Kit::EncoderIdler,
        Kit::Encoders,
    ] {
        for rig in rigs() {
            let rig = Rig {
                sheet: with_kit(rig.sheet.clone(), kit, MOUNTINGS[1]),
                ..rig
            };
            let machine = rig.machine();
            let model = ToothModel::new(&machine, &rig.choice).expect("tool");
            let q = pose_at(&machine, &rig.choice, |_| 0.4);
            let lean = Lean {
                pitch: 0.05,
                roll: -0.08,
            };
            let readings = model.readings_at(&q, &lean).expect("readings");
            let want = model.tooth(&readings).expect("tooth").joints;
            for turns in [-1.0, 1.0] {
                let mut turned = readings.clone();
                for reading in turned.sensors_rad.iter_mut().flatten() {
                    *reading += turns * std::f64::consts::TAU;
                }
                let got = model
                    .tooth(&turned)
                    .unwrap_or_else(|f| panic!("{}: {f}", rig.name));
                for joint in [Joint::Boom, Joint::BoomUpper, Joint::Stick, Joint::Bucket] {
                    let off = (got.joints.get(joint) - want.get(joint)).abs();
                    assert!(
                        off < 1e-12,
                        "{}, {kit:?}: {} off by {off}",
                        rig.name,
                        joint.word()
                    );
                }
            }
        }
    }
}

// ---- site -------------------------------------------------------------------------------------

#[test]
fn one_antenna_or_two_one_tooth() {
    for rig in rigs() {
        let machine = rig.machine();
        let model = ToothModel::new(&machine, &rig.choice).expect("tool");
        let front = machine.front(&rig.choice).expect("tool").values();
        let levers: Vec<[f64; 3]> = machine
            .sheet()
            .antennas
            .iter()
            .map(|a| [a.lever.x.value, a.lever.y.value, a.lever.z.value])
            .collect();
        let geometry = model.geometry().map(&mut |_, m: &Measured| m.value);
        let mut random = Random::new(7);
        for idx in 0..200 {
            let name = format!("{}, seed 7, pose {idx}", rig.name);
            let q = pose_at(&machine, &rig.choice, |_| random.share());
            let lean = leans(&mut random);
            let heading = random.between(0.0, std::f64::consts::TAU);
            let stand = [
                random.between(4000.0, 6000.0),
                random.between(1000.0, 3000.0),
                random.between(0.0, 50.0),
            ];
            let site_from_house: Transform<Site, House> =
                lean.site_turn(heading).after_shift(stand);
            let want = (site_from_house * front_pose(&front, &q).tooth_house).vector();
            let at = |lever: &[f64; 3]| {
                <[f64; 3]>::from(
                    (site_from_house * Point::metres(lever[0], lever[1], lever[2])).vector(),
                )
            };
            let tooth = |heading_rad: Option<f64>, seen: [bool; 2]| {
                let readings = Readings {
                    house_rad: None,
                    sensors_rad: Vec::new(),
                    heading_rad,
                    antennas_m: levers
                        .iter()
                        .zip(seen)
                        .map(|(l, s)| s.then(|| at(l)))
                        .collect(),
                };
                let placed = holdline::tooth::place::place(&geometry, &readings, q, lean);
                placed.unwrap_or_else(|fault| panic!("{name}: {fault}"))
            };
            for seen in [[true, false], [false, true], [true, true]] {
                let site = tooth(Some(heading), seen).tooth_site.expect("on the site");
                close(&name, site.vector(), want, 1e-11);
            }
            let by_pair = tooth(None, [true, true]);
            close(
                &name,
                by_pair.tooth_site.expect("on the site").vector(),
                want,
                1e-10,
            );
            let off = wrapped(by_pair.heading_rad.expect("a heading") - heading).abs();
            assert!(off < 1e-11, "{name}: heading off by {off:e}");
            assert_eq!(tooth(None, [true, false]).tooth_site, None);
            assert_eq!(tooth(Some(heading), [false, false]).tooth_site, None);
        }
    }
}

/// `U_T − U_A = cos λ Σ L sin γ` with what the gravity sensors read: the house's pitch drops out.
#[test]
fn height_over_the_boom_foot_is_the_sum_of_the_links() {
    let post = Rig {
        name: "swing post, centre tooth",
        sheet: common::post(),
        choice: common::tool(true, false, "T75", "centre"),
    };
    for mut rig in [rigs().remove(1), post] {
        rig.sheet.sensors[2].link = holdline::machine::claim::Link::Ear;
        if rig.sheet.swing_post.is_some() {
            let encoder = common::sensor(
                "post",
                holdline::machine::claim::Link::Post,
                SensorKind::JointEncoder,
            );
            rig.sheet.sensors.push(encoder);
        }
        let machine = rig.machine();
        let model = ToothModel::new(&machine, &rig.choice).expect("tool");
        let front = machine.front(&rig.choice).expect("tool").values();
        let flat = front_pose(&front, &Joints::zero());
        let p = flat.house_from_ear.inverse() * flat.tooth_house;
        let (tool_m, tool_rad) = (p.x().hypot(p.z()), p.z().atan2(p.x()));
        let mut random = Random::new(11);
        for idx in 0..300 {
            let q = pose_at(&machine, &rig.choice, |_| random.share());
            let lean = leans(&mut random);
            let pose = front_pose(&front, &q);
            let level = lean.level_from_house();
            let rise = (level * (pose.tooth_house - pose.house_from_boom.origin()))
                .vector()
                .z;
            let readings = model.readings_at(&q, &lean).expect("readings").sensors_rad;
            let [boom, stick, ear] = [0, 1, 2].map(|k| readings[k].expect("read"));
            let sum = 5.720 * boom.sin() + 2.940 * stick.sin() + tool_m * (ear + tool_rad).sin();
            let want = lean.in_boom_plane(q.post).cos_lean * sum;
            assert!(
                (rise - want).abs() < 5e-15 * 20.0,
                "{}, seed 11, {idx}: {rise} {want}",
                rig.name
            );
        }
    }
}

// ---- slopes -----------------------------------------------------------------------------------

/// The tooth seen from the ground below the house: swing counts too.
fn tooth_over_ground<S: nalgebra::RealField + Copy>(front: &Front<S>, q: &Joints<S>) -> Vector3<S> {
    let pose = front_pose(front, q);
    (pose.tracks_from_house * pose.tooth_house).vector()
}

#[test]
fn the_jacobian_is_the_slope_twice_over() {
    for rig in rigs() {
        let machine = rig.machine();
        let front = machine.front(&rig.choice).expect("tool").values();
        let dual_front = front.map(&mut |_, v| Dual64::from(*v));
        poses(&machine, &rig, 21, 60, |name, q| {
            let pose = front_pose(&front, &q);
            let rows = tooth_jacobian(&front, &q, &pose);
            let joints: Vec<Joint> = rows.iter().map(|(joint, _)| *joint).collect();
            assert_eq!(joints, joints_fitted(&front));
            for (joint, row) in rows {
                // `House` turns with the swing, so its rows are turned to the ground to be compared.
                let got = (pose.tracks_from_house * row).vector();
                let dual = q.map(|j, a| Dual64::new(a, f64::from(u8::from(j == joint))));
                let exact = tooth_over_ground(&dual_front, &dual).map(|c| c.eps);
                close(&format!("{name}, {}", joint.word()), got, exact, 1e-13);
                let h = 1e-6;
                let [less, more] =
                    [-h, h].map(|d| tooth_over_ground(&front, &q.with(joint, q.get(joint) + d)));
                close(
                    &format!("{name}, {}", joint.word()),
                    got,
                    (more - less) / (2.0 * h),
                    2e-8,
                );
            }
        });
    }
}

// ---- mirrors ----------------------------------------------------------------------------------

/// The same machine seen in a mirror that stands along its middle: every y changes sign.
fn mirrored(mut sheet: ClaimedMachine) -> ClaimedMachine {
    if let Some(foot) = &mut sheet.boom.foot {
        negated(&mut foot.y);
    }
    if let Some(post) = &mut sheet.swing_post {
        negated(&mut post.at.y);
        negated(&mut post.foot.y);
    }
    for tilt in &mut sheet.tilts {
        negated(&mut tilt.axis_at.y);
        negated(&mut tilt.front_pin.y);
        if let Some(rotation) = &mut tilt.rotation {
            negated(&mut rotation.axis_at.y);
        }
    }
    for bucket in &mut sheet.buckets {
        for tooth in &mut bucket.teeth {
            negated(&mut tooth.at.y);
            tooth.name = match tooth.name.as_str() {
                "left" => "right",
                "right" => "left",
                other => other,
            }
            .to_owned();
        }
    }
    for range in &mut sheet.ranges {
        if in_mirror(range.joint) {
            (range.min_rad, range.max_rad) = (-range.max_rad, -range.min_rad);
        }
    }
    sheet
}

/// Whether a joint's angle changes sign in that mirror.
fn in_mirror(joint: Joint) -> bool {
    match joint {
        Joint::Swing | Joint::Post | Joint::Offset | Joint::Tilt | Joint::Rotation => true,
        Joint::Boom | Joint::BoomUpper | Joint::Stick | Joint::Bucket => false,
    }
}

#[test]
fn a_mirrored_machine_has_a_mirrored_tooth() {
    for rig in rigs() {
        let machine = rig.machine();
        let front = machine.front(&rig.choice).expect("tool").values();
        let mut choice = rig.choice.clone();
        choice.tooth = match choice.tooth.as_str() {
            "left" => "right",
            "right" => "left",
            other => other,
        }
        .to_owned();
        let twin = Rig {
            sheet: mirrored(rig.sheet.clone()),
            choice,
            ..rig.clone()
        };
        let twin_front = twin.machine().front(&twin.choice).expect("tool").values();
        let mut random = Random::new(51);
        poses(&machine, &rig, 51, 60, |name, q| {
            let lean = leans(&mut random);
            let heading = random.between(-3.0, 3.0);
            let q2 = q.map(|joint, a| if in_mirror(joint) { -a } else { a });
            let lean2 = Lean {
                pitch: lean.pitch,
                roll: -lean.roll,
            };
            let a = lean.site_turn(heading) * front_pose(&front, &q).tooth_house;
            let b = lean2.site_turn(-heading) * front_pose(&twin_front, &q2).tooth_house;
            let want = Vector3::new(-a.x(), a.y(), a.z()); // the mirror stands north–south
            close(name, b.vector(), want, 1e-13);
            let a = tooth_over_ground(&front, &q);
            let b = tooth_over_ground(&twin_front, &q2);
            close(name, b, Vector3::new(a.x, -a.y, a.z), 1e-13);
        });
    }
}

#[test]
fn a_machine_with_another_boom_kind_but_nothing_to_turn_is_the_mono_machine() {
    // Two pieces in line, and offset links straight ahead, make one straight boom.
    let mono = &rigs()[1];
    let want_front = mono.machine().front(&mono.choice).expect("tool").values();
    let kinds = [
        ClaimedBoomKind::TwoPiece {
            lower: common::mm3(2.5),
            upper: common::mm3(3.22),
        },
        ClaimedBoomKind::Offset {
            lower: common::mm3(2.5),
            link: common::mm3(0.5),
            upper: common::mm3(2.72),
        },
    ];
    for kind in kinds {
        let mut sheet = common::demo();
        sheet.boom.kind = kind;
        sheet.cylinders.clear();
        let machine = Machine::measured_up(sheet).unwrap_or_else(|f| panic!("{f}"));
        let front = machine.front(&mono.choice).expect("tool").values();
        let mut random = Random::new(61);
        for _ in 0..100 {
            let q = pose_at(&mono.machine(), &mono.choice, |_| random.share());
            let want = front_pose(&want_front, &q).tooth_house.vector();
            close(
                "seed 61",
                front_pose(&front, &q).tooth_house.vector(),
                want,
                1e-14,
            );
        }
    }
}

#[test]
fn a_tilt_turns_about_its_axis_and_lifts_the_left_corner() {
    let rig = &rigs()[6];
    let machine = rig.machine();
    let corner = |tooth: &str, tilt_deg: f64| {
        let choice = common::tool(false, true, "G180", tooth);
        let front = machine.front(&choice).expect("tool").values();
        // Stick upright, bucket's edge level: the axis lies along the way ahead.
        let q = Joints {
            boom: rad(30.0),
            stick: rad(-120.0),
            bucket: rad(90.0),
            tilt: rad(tilt_deg),
            ..Joints::zero()
        };
        front_pose(&front, &q).tooth_house
    };
    // Right-handed about an axis that points ahead: left goes up.
    let (left, right) = (corner("left", 10.0), corner("right", 10.0));
    let level: Direction<House> = corner("left", 0.0) - corner("right", 0.0);
    assert!(level.vector().z.abs() < 1e-12);
    assert!(right.z() < left.z());
    // The corners' heights differ by W sin τ times the cosine of the axis' slope of 5°.
    let want = 1.800 * rad(10.0).sin() * rad(5.0).cos();
    assert!(
        ((left.z() - right.z()) - want).abs() < 1e-12,
        "{} {want}",
        left.z() - right.z()
    );
}
