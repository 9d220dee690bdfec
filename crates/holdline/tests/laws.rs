//! What holds for every machine, every tool and every pose: there and back, mirrors, slopes.
//!
//! A lattice first, then random poses from a seed that a failing test prints.

mod common;

use common::random::Random;
use common::{KITS, Kit, Mounting, Rig, pose_at, rigs, with_kit};
use holdline::frames::{House, Site, Tracks};
use holdline::machine::Machine;
use holdline::machine::claim::{
    ClaimedBoomKind, ClaimedMachine, CylinderSide, Joint, LinkageBranch, SensorKind,
};
use holdline::machine::cylinder::wrapped;
use holdline::machine::front::Front;
use holdline::machine::jacobian::{joints_fitted, tooth_jacobian};
use holdline::machine::joints::Joints;
use holdline::machine::pose::front_pose;
use holdline::machine::reach::{reach_in_plane, reach_with_swing};
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

/// Calls `each` with poses of the lattice, then with random ones.
fn poses(machine: &Machine, rig: &Rig, seed: u64, n: usize, mut each: impl FnMut(&str, Joints)) {
    let lattice = [0.0, 0.3, 0.55, 1.0];
    for step in 0..256_usize {
        let mut k = step;
        let q = pose_at(machine, &rig.choice, |joint| {
            // The outer joints run through the lattice, the others follow.
            match joint {
                Joint::Boom | Joint::Stick | Joint::Bucket => {
                    let at = lattice[k % 4];
                    k /= 4;
                    at
                }
                _ => lattice[step / 64],
            }
        });
        each(&format!("{}, lattice {step}", rig.name), q);
    }
    let mut random = Random::new(seed);
    for idx in 0..n {
        let q = pose_at(machine, &rig.choice, |_| random.share());
        each(&format!("{}, seed {seed}, pose {idx}", rig.name), q);
    }
}

fn leans(random: &mut Random) -> Lean {
    Lean {
        pitch: random.between(-0.35, 0.35),
        roll: random.between(-0.35, 0.35),
    }
}

#[track_caller]
fn close(what: &str, got: Vector3<f64>, want: Vector3<f64>, within: f64) {
    let off = (got - want).norm();
    assert!(
        off <= within,
        "{what}: {got:?} is off by {off:e} from {want:?}"
    );
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

// ---- reach ------------------------------------------------------------------------------------

#[test]
fn reach_leads_back_to_the_pose() {
    for rig in rigs() {
        let machine = rig.machine();
        let front = machine.front(&rig.choice).expect("tool").values();
        poses(&machine, &rig, 31, 150, |name, q| {
            let pose = front_pose(&front, &q);
            let target = pose.tooth_house;
            let ear = q.boom + q.boom_upper + q.stick + q.bucket;
            let reached = match reach_in_plane(&machine, &front, target, ear, &q) {
                Ok(reached) => reached,
                Err(faults) => panic!("{name}: {faults:?}"),
            };
            let again = front_pose(&front, &reached.joints).tooth_house;
            close(name, again.vector(), target.vector(), 2e-11);
            let attitude = {
                let j = &reached.joints;
                j.boom + j.boom_upper + j.stick + j.bucket
            };
            assert!(wrapped(attitude - ear).abs() < 1e-12, "{name}: attitude");
            // The strokes told are those of the pose.
            let want = machine.cylinder_lengths_m(&reached.joints).expect("closes");
            assert_eq!(reached.cylinder_lengths_m, want);
            for (length_m, cylinder) in reached
                .cylinder_lengths_m
                .iter()
                .zip(&machine.sheet().cylinders)
            {
                let (short, long) = (cylinder.retracted.value, cylinder.extended.value);
                assert!(
                    short - 1e-8 <= *length_m && *length_m <= long + 1e-8,
                    "{name}: {length_m}"
                );
            }
            for joint in joints_fitted(&front) {
                let known = machine.range(joint).is_some();
                assert_eq!(known, !reached.ranges_unknown.contains(&joint), "{name}");
            }
        });
    }
}

#[test]
fn reach_finds_the_swing_too() {
    for rig in rigs() {
        let machine = rig.machine();
        let front = machine.front(&rig.choice).expect("tool").values();
        let mut n = 0;
        poses(&machine, &rig, 41, 150, |name, q| {
            let pose = front_pose(&front, &q);
            let in_boom = pose.house_from_post.inverse() * pose.tooth_house;
            let Some(post) = front.post_m.or(Some([0.0; 3])) else {
                return;
            };
            // Behind the swing axis the tooth is reached forward at another swing.
            let forward = in_boom.x() + post[0] * q.post.cos() + post[1] * q.post.sin();
            if forward < 0.05 {
                return;
            }
            n += 1;
            let target: Point<Tracks> = pose.tracks_from_house * pose.tooth_house;
            let ear = q.boom + q.boom_upper + q.stick + q.bucket;
            let keep = Joints { swing: 0.7, ..q };
            let reached = match reach_with_swing(&machine, &front, target, ear, &keep) {
                Ok(reached) => reached,
                Err(faults) => panic!("{name}: {faults:?}"),
            };
            let again = front_pose(&front, &reached.joints);
            let got = again.tracks_from_house * again.tooth_house;
            close(name, got.vector(), target.vector(), 2e-11);
            assert!(
                wrapped(reached.joints.swing - q.swing).abs() < 1e-9,
                "{name}: swing"
            );
        });
        assert!(100 < n, "{}: {n}", rig.name);
    }
}

#[test]
fn out_of_reach_says_by_how_much() {
    let rig = &rigs()[1];
    let machine = rig.machine();
    let front = machine.front(&rig.choice).expect("tool").values();
    let reach = |x, z, ear_deg| {
        let target = Point::metres(x, -0.045, z);
        reach_in_plane(&machine, &front, target, rad(ear_deg), &Joints::zero())
    };
    // 1 m too far: foot to pin at most 8.660 m.
    let flat = front_pose(&front, &Joints::zero());
    let p = flat.house_from_ear.inverse() * flat.tooth_house;
    let far = reach(0.150 + 8.660 + 1.0 + p.x(), 1.850 + p.z(), 0.0).unwrap_err();
    assert_eq!((far[0].code, far.len()), ("T020", 1));
    assert!(far[0].got.contains("1000 mm too far"), "{}", far[0].got);
    let near = reach(0.150 + 1.0 + p.x(), 1.850 + p.z(), 0.0).unwrap_err();
    assert!(near[0].got.contains("1780 mm too near"), "{}", near[0].got);
    // Straight out from the foot: the stick cannot open that far.
    let open = reach(0.150 + 8.650 + p.x(), 1.850 + p.z(), 0.0).unwrap_err();
    let words: Vec<&str> = open.iter().map(|fault| fault.got.as_str()).collect();
    assert!(open.iter().all(|fault| fault.code == "T021"), "{open:?}");
    assert!(
        words.iter().any(|w| w.contains("stick cylinder would be")),
        "{words:?}"
    );
    for nan in [
        reach(f64::NAN, 1.0, 0.0),
        reach(5.0, f64::NAN, 0.0),
        reach(5.0, 1.0, f64::NAN),
    ] {
        assert_eq!(nan.unwrap_err()[0].code, "T022");
    }
}

#[test]
fn nearer_to_the_axis_than_the_boom_plane_passes_is_out_of_reach() {
    let rig = &rigs()[0]; // left tooth: 0.33 m beside the axis
    let machine = rig.machine();
    let front = machine.front(&rig.choice).expect("tool").values();
    let target = Point::metres(0.2, 0.1, 0.0);
    let faults = reach_with_swing(&machine, &front, target, 0.0, &Joints::zero()).unwrap_err();
    assert_eq!(faults[0].code, "T020");
    assert!(faults[0].want.contains("330 mm"), "{}", faults[0].want);
}

// ---- mirrors ----------------------------------------------------------------------------------

fn negated(m: &mut Measured) {
    m.value = -m.value;
}

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

/// Up and down exchanged in the boom plane: every plane angle and z changes sign, and so do the
/// branch of the linkage and the side of every cylinder.
#[test]
fn a_machine_upside_down_has_its_ranges_upside_down() {
    for mut sheet in [
        common::demo(),
        common::two_piece(),
        common::offset(),
        common::post(),
    ] {
        let upright = Machine::measured_up(sheet.clone()).unwrap_or_else(|f| panic!("{f}"));
        sheet.linkage.branch = LinkageBranch::Left;
        negated(&mut sheet.linkage.idler_pivot.z);
        // A foot below the ground is no foot: lift both, the difference is what counts.
        let lift = |z: &mut Measured, foot_z: f64| z.value = 2.0 * foot_z - z.value;
        let foot_z = match (&sheet.swing_post, &sheet.boom.foot) {
            (Some(post), _) => post.foot.z.value,
            (None, Some(foot)) => foot.z.value,
            (None, None) => unreachable!("every rig has a foot"),
        };
        for cylinder in &mut sheet.cylinders {
            let usual = match cylinder.moves {
                Joint::Boom => CylinderSide::ExtendsDown,
                _ => CylinderSide::ExtendsUp,
            };
            cylinder.side = Some(usual);
            let first = cylinder.moves == Joint::Boom;
            for (is_base, pin) in [(true, &mut cylinder.base), (false, &mut cylinder.rod)] {
                if let holdline::machine::claim::CylinderPin::On { at, .. } = pin {
                    if first && is_base {
                        lift(&mut at.z, foot_z);
                    } else {
                        negated(&mut at.z);
                    }
                }
            }
        }
        let flipped = Machine::measured_up(sheet).unwrap_or_else(|f| panic!("{f}"));
        for range in upright.ranges().iter().filter(|r| r.cylinder_idx.is_some()) {
            let twin = flipped.range(range.joint).expect("known");
            for [a, b] in [
                [range.nominal_rad, twin.nominal_rad],
                [range.outer_rad, twin.outer_rad],
            ] {
                assert!(
                    (a[0] + b[1]).abs() < 1e-12 && (a[1] + b[0]).abs() < 1e-12,
                    "{range:?} {twin:?}"
                );
            }
        }
    }
}

// ---- cylinders and linkage --------------------------------------------------------------------

#[test]
fn cylinders_go_both_ways_and_one_way_along_the_stroke() {
    for rig in rigs() {
        let machine = rig.machine();
        for (idx, cylinder) in machine.sheet().cylinders.iter().enumerate() {
            let triangle = machine.cylinder_triangles()[idx];
            let (short, long) = (cylinder.retracted.value, cylinder.extended.value);
            let mut previous: Option<f64> = None;
            for step in 0..=400 {
                let length_m = short + (long - short) * f64::from(step) / 400.0;
                let joint = triangle.joint_at("x", length_m).expect("closes");
                let back = triangle.length_at(joint);
                assert!(
                    (back - length_m).abs() < 1e-13,
                    "{}: {back} {length_m}",
                    rig.name
                );
                let arm = triangle.arm_at(joint);
                let up = triangle.side == CylinderSide::ExtendsUp;
                assert_eq!(0.0 < arm, up, "{}: arm {arm}", rig.name);
                if let Some(previous) = previous {
                    assert_eq!(previous < joint, up, "{}: turns back", rig.name);
                    // The arm is the slope: a short chord has that of its middle.
                    let slope = (long - short) / 400.0 / (joint - previous);
                    let middle = triangle.arm_at((previous + joint) / 2.0);
                    assert!(
                        (slope - middle).abs() < 1e-4,
                        "{}: {slope} {middle}",
                        rig.name
                    );
                }
                previous = Some(joint);
            }
        }
    }
}

#[test]
fn the_ends_of_the_ranges_are_the_ends_of_the_strokes() {
    for rig in rigs() {
        let machine = rig.machine();
        let middle = pose_at(&machine, &rig.choice, |_| 0.5);
        for range in machine.ranges() {
            let Some(idx) = range.cylinder_idx else {
                continue;
            };
            let cylinder = &machine.sheet().cylinders[idx];
            let (short, long) = (cylinder.retracted.value, cylinder.extended.value);
            let tolerance = cylinder.stroke_tolerance_m;
            let length = |angle| {
                let q = middle.with(range.joint, angle);
                machine.cylinder_lengths_m(&q).expect("closes")[idx]
            };
            let [a, b] = range.nominal_rad.map(length);
            let (a, b) = (a.min(b), a.max(b));
            assert!(
                (a - short).abs() < 1e-12 && (b - long).abs() < 1e-12,
                "{}: {a} {b}",
                rig.name
            );
            let [a, b] = range.outer_rad.map(length);
            let (a, b) = (a.min(b), a.max(b));
            assert!((a - (short - tolerance)).abs() < 1e-12, "{}: {a}", rig.name);
            assert!((b - (long + tolerance)).abs() < 1e-12, "{}: {b}", rig.name);
            // Outer means outer.
            assert!(range.outer_rad[0] < range.nominal_rad[0], "{}", rig.name);
            assert!(range.nominal_rad[1] < range.outer_rad[1], "{}", rig.name);
        }
    }
}

#[test]
fn the_linkage_keeps_its_lengths_and_its_branch_over_the_stroke() {
    for branch in [LinkageBranch::Right, LinkageBranch::Left] {
        let mut sheet = common::demo();
        if branch == LinkageBranch::Left {
            sheet.linkage.branch = branch;
            negated(&mut sheet.linkage.idler_pivot.z);
            sheet.cylinders.remove(2);
        }
        let machine = Machine::measured_up(sheet).unwrap_or_else(|f| panic!("{f}"));
        let linkage = machine.linkage();
        let mirror = if branch == LinkageBranch::Left {
            -1.0
        } else {
            1.0
        };
        for step in 0..=1000 {
            let alpha = mirror * rad(21.826 + (129.921 - 21.826) * f64::from(step) / 1000.0);
            let there = linkage.ear_from_idler(2.940, alpha).expect("closes");
            let back = linkage
                .idler_from_ear(2.940, there.ear_rad)
                .expect("closes");
            assert!((back.idler_rad - alpha).abs() < 1e-12, "step {step}");
            let long = |a: [f64; 2], b: [f64; 2]| (a[0] - b[0]).hypot(a[1] - b[1]);
            assert!((long(there.e_m, there.d_m) - 0.580).abs() < 1e-14);
            assert!((long(there.d_m, [2.940, 0.0]) - 0.440).abs() < 1e-14);
            assert!((long(there.e_m, linkage.pivot_m) - 0.600).abs() < 1e-14);
            let side =
                (there.e_m[0] - 2.940) * there.d_m[1] - there.e_m[1] * (there.d_m[0] - 2.940);
            assert!(side * mirror < 0.0, "step {step}: branch lost");
            assert!(0.0 < there.ear_dead_centre_m && 0.0 < there.idler_dead_centre_m);
        }
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
