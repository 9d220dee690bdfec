//! The solids of the machine lie where the pose puts them, and contain what they stand for.

mod common;

use common::random::Random;
use common::{Rig, plane, pose_at, rigs};
use holdline::frames::{House, Post};
use holdline::machine::claim::*;
use holdline::machine::outlines::{PlacedPart, PlacedShape, placed_parts};
use holdline::machine::pose::front_pose;
use holdline_geom::frame::{Point, Transform};
use holdline_geom::hull;

fn solid(part: &str, link: Link, shape: ClaimedShape) -> ClaimedSolid {
    ClaimedSolid {
        part: part.to_owned(),
        link,
        shape,
    }
}

/// A rig with a solid along every cylinder and along both members of the linkage.
fn with_solids(rig: Rig) -> Rig {
    let mut sheet = rig.sheet.clone();
    for (idx, cylinder) in rig.sheet.cylinders.iter().enumerate() {
        let shape = ClaimedShape::AlongCylinder {
            moves: cylinder.moves,
            y_m: vec![0.42, -0.30],
            radius_m: 0.1,
        };
        sheet
            .solids
            .push(solid(&format!("cylinder {idx}"), Link::House, shape));
    }
    for member in [Link::Idler, Link::BucketLink] {
        let shape = ClaimedShape::AlongLinkage {
            member,
            radius_m: 0.1,
        };
        sheet
            .solids
            .push(solid(&format!("{member:?}"), Link::Stick, shape));
    }
    Rig { sheet, ..rig }
}

fn capsule(part: &PlacedPart) -> [Point<House>; 2] {
    match part.shape {
        PlacedShape::Capsule { from, to, .. } => [from, to],
        PlacedShape::Hull(_) => panic!("{} is no capsule", part.part),
    }
}

#[test]
fn a_solid_along_a_cylinder_is_as_long_as_the_cylinder_and_beside_the_boom_plane() {
    let mut all: Vec<Rig> = rigs();
    // A bucket cylinder that holds the idler beside its end pin E.
    let mut aside = all[1].clone();
    aside.name = "rod beside E";
    aside.sheet.cylinders[2].rod = CylinderPin::On {
        link: Link::Idler,
        at: plane(0.57, 0.06),
    };
    all.push(aside);
    for rig in all.into_iter().map(with_solids) {
        let machine = rig.machine();
        let front = machine.front(&rig.choice).expect("tool").values();
        let mut random = Random::new(71);
        for idx in 0..50 {
            let name = format!("{}, seed 71, pose {idx}", rig.name);
            let q = pose_at(&machine, &rig.choice, |_| random.share());
            let parts = placed_parts(&machine, &rig.choice, &q).expect("inside the strokes");
            let lengths = machine.cylinder_lengths_m(&q).expect("closes");
            let pose = front_pose(&front, &q);
            let post_from_house: Transform<Post, House> = pose.house_from_post.inverse();
            for (cylinder, length_m) in lengths.iter().enumerate() {
                let word = format!("cylinder {cylinder}");
                let both: Vec<_> = parts.iter().filter(|part| part.part == word).collect();
                assert_eq!(both.len(), 2, "{name}");
                for (part, y) in both.into_iter().zip([0.42, -0.30]) {
                    let ends = capsule(part);
                    let long = (ends[1] - ends[0]).length_m();
                    assert!(
                        (long - length_m).abs() < 1e-12,
                        "{name}, {word}: {long} {length_m}"
                    );
                    // The offset boom carries its outer cylinders aside with it.
                    let aside = match machine.sheet().cylinders[cylinder].moves {
                        Joint::Boom => 0.0,
                        _ => {
                            (post_from_house * pose.house_from_boom_upper.origin()).y()
                                - front.foot_m[1]
                        }
                    };
                    for end in ends {
                        let off = (post_from_house * end).y() - front.foot_m[1] - aside;
                        assert!((off - y).abs() < 1e-12, "{name}, {word}: {off} {y}");
                    }
                }
            }
            let member = |link: Link| {
                let part = parts.iter().find(|part| part.part == format!("{link:?}"));
                let ends = capsule(part.expect("placed"));
                (ends[1] - ends[0]).length_m()
            };
            let linkage = machine.linkage();
            assert!(
                (member(Link::Idler) - linkage.idler_m).abs() < 1e-12,
                "{name}"
            );
            assert!(
                (member(Link::BucketLink) - linkage.link_m).abs() < 1e-12,
                "{name}"
            );
        }
    }
}

#[test]
fn a_solid_moves_with_its_link() {
    let links = [
        Link::Tracks,
        Link::House,
        Link::Post,
        Link::Boom,
        Link::BoomUpper,
        Link::Stick,
        Link::Ear,
        Link::Tilt,
        Link::Bucket,
    ];
    let at = [0.3, -0.2, 0.5];
    for mut rig in rigs() {
        for link in links {
            let shape = ClaimedShape::Capsule {
                from_m: [0.0; 3],
                to_m: at,
                radius_m: 0.1,
            };
            rig.sheet
                .solids
                .push(solid(&format!("{link:?}"), link, shape));
        }
        let machine = rig.machine();
        let front = machine.front(&rig.choice).expect("tool").values();
        let mut random = Random::new(72);
        for idx in 0..20 {
            let q = pose_at(&machine, &rig.choice, |_| random.share());
            let parts = placed_parts(&machine, &rig.choice, &q).expect("inside the strokes");
            let pose = front_pose(&front, &q);
            let [x, y, z] = at;
            for link in links {
                let want: Point<House> = match link {
                    Link::Tracks => pose.tracks_from_house.inverse() * Point::metres(x, y, z),
                    Link::Post => pose.house_from_post * Point::metres(x, y, z),
                    Link::Boom => pose.house_from_boom * Point::metres(x, y, z),
                    Link::BoomUpper => pose.house_from_boom_upper * Point::metres(x, y, z),
                    Link::Stick => pose.house_from_stick * Point::metres(x, y, z),
                    Link::Ear => pose.house_from_ear * Point::metres(x, y, z),
                    Link::Tilt => pose.house_from_tilt * Point::metres(x, y, z),
                    Link::Bucket => pose.house_from_bucket * Point::metres(x, y, z),
                    _ => Point::metres(x, y, z),
                };
                let part = parts.iter().find(|part| part.part == format!("{link:?}"));
                let [_, to] = capsule(part.expect("placed"));
                let off = (to - want).length_m();
                assert!(
                    off < 1e-13,
                    "{}, seed 72, pose {idx}, {link:?}: {off:e}",
                    rig.name
                );
            }
        }
    }
}

/// The placed points of a hull, seen from above.
fn from_above(part: &PlacedPart) -> Vec<[f64; 2]> {
    match &part.shape {
        PlacedShape::Hull(points) => points.iter().map(|p| [p.x(), p.y()]).collect(),
        PlacedShape::Capsule { .. } => panic!("{} is no hull", part.part),
    }
}

#[test]
fn a_sector_contains_its_arc() {
    for half_deg in [5.0, 27.14, 60.0, 89.0, 120.0, 180.0_f64] {
        let mut rig = rigs().remove(0);
        let shape = ClaimedShape::Sector {
            radius_m: 2.85,
            half_angle_rad: half_deg.to_radians(),
            z_min_m: 1.02,
            z_max_m: 2.15,
        };
        rig.sheet
            .solids
            .push(solid("counterweight", Link::House, shape));
        let machine = rig.machine();
        let q = pose_at(&machine, &rig.choice, |_| 0.5);
        let parts = placed_parts(&machine, &rig.choice, &q).expect("inside the strokes");
        let part = parts
            .iter()
            .find(|part| part.part == "counterweight")
            .expect("placed");
        let points = from_above(part);
        for step in 0..=1000 {
            let angle = half_deg.to_radians() * (f64::from(step) / 500.0 - 1.0);
            let on_arc = [-2.85 * angle.cos(), 2.85 * angle.sin()];
            let out_m = hull::distance_outside(&points, on_arc);
            assert!(out_m <= 1e-12, "{half_deg}°: {on_arc:?} is {out_m} outside");
        }
        // And not much more than it must.
        let far = points.iter().map(|p| p[0].hypot(p[1])).fold(0.0, f64::max);
        assert!(far < 2.85 * 1.04, "{half_deg}°: {far}");
    }
}

#[test]
fn a_box_keeps_its_corners_and_the_bucket_its_tips() {
    for mut rig in rigs() {
        let shape = ClaimedShape::Box {
            min_m: [-2.75, -1.38, 1.00],
            max_m: [1.70, 1.30, 2.45],
        };
        rig.sheet.solids.push(solid("house", Link::House, shape));
        let machine = rig.machine();
        let q = pose_at(&machine, &rig.choice, |_| 0.4);
        let parts = placed_parts(&machine, &rig.choice, &q).expect("inside the strokes");
        let house = parts
            .iter()
            .find(|part| part.part == "house")
            .expect("placed");
        let PlacedShape::Hull(corners) = &house.shape else {
            panic!("a box is a hull");
        };
        for x in [-2.75, 1.70] {
            for y in [-1.38, 1.30] {
                for z in [1.00, 2.45] {
                    let want = Point::metres(x, y, z);
                    assert!(corners.contains(&want), "{}: {want:?}", rig.name);
                }
            }
        }
        let front = machine.front(&rig.choice).expect("tool").values();
        let bucket_from_house = front_pose(&front, &q).house_from_bucket.inverse();
        let bucket = machine.bucket(&rig.choice.bucket).expect("on the sheet");
        let word = format!("bucket {}", bucket.id);
        let part = parts.iter().find(|part| part.part == word).expect("placed");
        let PlacedShape::Hull(corners) = &part.shape else {
            panic!("a bucket is a hull");
        };
        let local: Vec<_> = corners.iter().map(|p| bucket_from_house * *p).collect();
        let side: Vec<_> = local.iter().map(|p| [p.x(), p.z()]).collect();
        for tooth in &bucket.teeth {
            let at = [tooth.at.x.value, tooth.at.z.value];
            assert!(
                hull::distance_outside(&side, at) < 1e-9,
                "{}: {}",
                rig.name,
                tooth.name
            );
            let reach = |sign: f64| local.iter().map(|p| sign * p.y()).fold(f64::MIN, f64::max);
            assert!(tooth.at.y.value <= reach(1.0) + 1e-9, "{}", rig.name);
            assert!(-tooth.at.y.value <= reach(-1.0) + 1e-9, "{}", rig.name);
        }
    }
}
