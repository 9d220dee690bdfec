//! What holds backwards, for every machine: from the tooth to the joints and the strokes.
//!
//! A lattice first, then random poses from a seed that a failing test prints.

mod common;

use common::{close, negated, pose_at, poses, rigs};
use holdline::frames::Tracks;
use holdline::machine::Machine;
use holdline::machine::claim::{CylinderSide, Joint, LinkageBranch};
use holdline::machine::cylinder::wrapped;
use holdline::machine::jacobian::joints_fitted;
use holdline::machine::joints::Joints;
use holdline::machine::pose::front_pose;
use holdline::machine::reach::{reach_in_plane, reach_with_swing};
use holdline_geom::frame::Point;
use holdline_geom::measured::Measured;

fn rad(deg: f64) -> f64 {
    deg.to_radians()
}

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
            // Ranges are told the way people tell them: about the turn next to zero.
            let middle = (range.nominal_rad[0] + range.nominal_rad[1]) / 2.0;
            assert!(
                middle.abs() <= std::f64::consts::PI,
                "{}: {middle}",
                rig.name
            );
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
fn past_the_end_of_a_stroke_is_told_in_millimetres_of_that_cylinder() {
    for rig in rigs() {
        let machine = rig.machine();
        for (idx, cylinder) in machine.sheet().cylinders.iter().enumerate() {
            let (short, long) = (cylinder.retracted.value, cylinder.extended.value);
            let angle = |length_m: f64| {
                let turned = machine.cylinder_triangles()[idx].joint_at("x", length_m);
                let turned = turned.expect("closes");
                let angle = match cylinder.moves {
                    Joint::Bucket => {
                        let stick_m = machine.sheet().stick.length.value;
                        let pose = machine.linkage().ear_from_idler(stick_m, turned);
                        pose.expect("closes").ear_rad
                    }
                    _ => turned,
                };
                let [min, max] = machine.range(cylinder.moves).expect("known").nominal_rad;
                let middle = (min + max) / 2.0;
                middle + wrapped(angle - middle)
            };
            let beyond = |length_m| machine.beyond_range(cylinder.moves, angle(length_m));
            for inside in [
                short,
                short + 0.003,
                (short + long) / 2.0,
                long - 0.003,
                long,
            ] {
                assert_eq!(beyond(inside), None, "{}: {inside}", rig.name);
            }
            // Inside the outer strokes, but past the nominal ones.
            for (length_m, words) in [
                (short - 0.003, "3 mm short of fully in"),
                (long + 0.003, "3 mm past fully out"),
            ] {
                let fault = beyond(length_m).expect("past the stroke");
                assert_eq!(fault.code, "T021");
                let word = cylinder.moves.word();
                let want = format!("the {word} cylinder would be {words}");
                assert!(fault.got.contains(&want), "{}: {}", rig.name, fault.got);
            }
        }
        // unknown is not judged here
        assert_eq!(machine.beyond_range(Joint::Rotation, 100.0), None);
        let nan = machine.beyond_range(Joint::Boom, f64::NAN);
        assert_eq!(nan.map(|fault| fault.code), Some("T021"));
    }
}

/// The way left to a dead centre: a link wrong by more than that cannot close, by less it can.
#[test]
fn dead_centres_are_as_far_as_told() {
    use holdline::machine::four_bar::FourBar;
    let machine = rigs()[1].machine();
    let linkage = machine.linkage();
    let closes = |link_m: f64, alpha: f64| {
        FourBar { link_m, ..linkage }
            .ear_from_idler(2.940, alpha)
            .is_ok()
    };
    let closes_back = |link_m: f64, epsilon: f64| {
        let changed = FourBar { link_m, ..linkage }.idler_from_ear(2.940, epsilon);
        !matches!(changed, Err(fault) if fault.code == "T010")
    };
    for alpha_deg in [21.826, 40.0, 75.0, 110.0, 129.921] {
        let pose = linkage
            .ear_from_idler(2.940, rad(alpha_deg))
            .expect("closes");
        let [ear_m, idler_m] = [pose.ear_dead_centre_m, pose.idler_dead_centre_m];
        for sign in [-1.0, 1.0] {
            let link = |by_m: f64| linkage.link_m + sign * by_m;
            assert!(closes(link(ear_m - 1e-9), pose.idler_rad), "{alpha_deg}°");
            assert!(
                closes_back(link(idler_m - 1e-9), pose.ear_rad),
                "{alpha_deg}°"
            );
        }
        let either = |far: &dyn Fn(f64) -> bool| !far(-1.0) || !far(1.0);
        assert!(either(&|s| closes(
            linkage.link_m + s * (ear_m + 1e-9),
            pose.idler_rad
        )));
        assert!(either(&|s| closes_back(
            linkage.link_m + s * (idler_m + 1e-9),
            pose.ear_rad
        )));
    }
}

#[test]
fn a_range_beyond_half_a_turn_is_reached() {
    // A stick that is folded past the boom; the other elbow would lie outside its range.
    let mut sheet = common::demo();
    sheet.cylinders.remove(1);
    sheet
        .ranges
        .push(common::range(Joint::Stick, -220.0, -181.0));
    let machine = Machine::measured_up(sheet).unwrap_or_else(|faults| panic!("{faults}"));
    let choice = common::tool(true, false, "T75", "centre");
    let front = machine.front(&choice).expect("tool").values();
    for stick_deg in [-182.0, -185.0, -210.0] {
        let q = Joints {
            boom: rad(10.0),
            stick: rad(stick_deg),
            bucket: rad(30.0),
            ..Joints::zero()
        };
        let target = front_pose(&front, &q).tooth_house;
        let ear = q.boom + q.stick + q.bucket;
        let reached = reach_in_plane(&machine, &front, target, ear, &q);
        let reached = reached.unwrap_or_else(|faults| panic!("{stick_deg}°: {faults:?}"));
        assert!(
            (reached.joints.stick - q.stick).abs() < 1e-9,
            "{stick_deg}°"
        );
    }
}

/// A pin a hair above or below a line through the joint turns no range by a whole turn.
#[test]
fn ranges_do_not_jump_where_a_direction_does() {
    use holdline::machine::claim::{CylinderPin, Link};
    let machine = |above_m: f64| {
        let mut sheet = common::demo();
        let on = |link, x, z| CylinderPin::On {
            link,
            at: common::plane(x, z),
        };
        sheet.cylinders[1].rod = on(Link::Stick, -0.700, above_m);
        sheet.cylinders[1].retracted = Measured::without_sd(1.900);
        sheet.cylinders[1].extended = Measured::without_sd(3.000);
        sheet.cylinders[2].base = on(Link::Stick, 0.720, 0.030 + above_m); // level with F
        sheet.cylinders[2].retracted = Measured::without_sd(1.500);
        sheet.cylinders[2].extended = Measured::without_sd(2.100);
        Machine::measured_up(sheet).unwrap_or_else(|faults| panic!("{faults}"))
    };
    let (above, below) = (machine(1e-9), machine(-1e-9));
    let near = |a: [f64; 2], b: [f64; 2]| (0..2).all(|k| (a[k] - b[k]).abs() < 1e-6);
    for joint in [Joint::Stick, Joint::Bucket] {
        let [a, b] = [&above, &below].map(|m| *m.range(joint).expect("known"));
        assert!(near(a.nominal_rad, b.nominal_rad), "{joint:?}: {a:?} {b:?}");
        assert!(near(a.outer_rad, b.outer_rad), "{joint:?}: {a:?} {b:?}");
        let middle = (a.nominal_rad[0] + a.nominal_rad[1]) / 2.0;
        assert!(middle.abs() <= std::f64::consts::PI, "{joint:?}: {a:?}");
    }
    let [a, b] = [&above, &below].map(|m| m.idler_range().expect("known"));
    assert!(near(a.nominal_rad, b.nominal_rad), "idler: {a:?} {b:?}");
}
