//! Every tooth point, the whole cutting edge and the heel, in every frame.

use super::place::Solution;
use crate::frames::{Bucket, House, Level, Site, Tracks};
use crate::machine::claim::ClaimedBucket;
use crate::machine::front::Front;
use crate::machine::pose::front_pose;
use holdline_geom::frame::{Direction, Point, Transform};

/// One point of the bucket, wherever it can be said.
#[derive(Debug, Clone, PartialEq)]
pub struct EdgePoint {
    /// What it is.
    pub part: EdgePart,
    /// In `House`.
    pub house: Point<House>,
    /// In `Level`: forward, left, and up over the swing axis at track ground.
    pub level: Point<Level>,
    /// In `Tracks`; none when nothing gives the swing angle.
    pub tracks: Option<Point<Tracks>>,
    /// On the site; none without a position and a heading.
    pub site: Option<Point<Site>>,
}

/// What a point of the bucket is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum EdgePart {
    /// A named tooth point.
    Tooth(String),
    /// A corner of the cutting edge, counted from the left, from 0.
    Edge {
        /// Which.
        corner_idx: usize,
    },
    /// The lowest line of the back, at the left side.
    HeelLeft,
    /// The same, at the right side.
    HeelRight,
}

/// Whether the swing angle of a solution means something.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Swing {
    /// An encoder or a person gave it.
    Known,
    /// Nothing gives it; it stands at zero.
    NotKnown,
}

/// All points of a bucket in the pose of a solution.
///
/// Used wherever more than the chosen tooth point counts: overcut, levels of both corners, drawings.
///
/// ```text
/// P_house = house_from_bucket · P_bucket        P_site = T_site + R (P_house − T_house)
/// ```
///
/// - Symbols: T the chosen tooth point, R the turn from house to site.
/// - Between two corners the edge is straight, so its corners are all there is to it.
/// - Frames: [`crate::frames`]. Units: m. Exact at any pitch, roll, tilt and rotation.
pub fn edge_points(
    front: &Front<f64>,
    bucket: &ClaimedBucket,
    solution: &Solution,
    swing: Swing,
) -> Vec<EdgePoint> {
    let pose = front_pose(front, &solution.joints);
    let level_from_house = solution.lean.level_from_house();
    let site_turn = solution
        .heading_rad
        .map(|heading| solution.lean.site_turn(heading));
    let tracks_from_house: Transform<Tracks, House> = pose.tracks_from_house;
    let place = |(part, at): (EdgePart, Point<Bucket>)| {
        let house = pose.house_from_bucket * at;
        let arm: Direction<House> = house - solution.tooth_house;
        EdgePoint {
            part,
            house,
            level: level_from_house * house,
            tracks: match swing {
                Swing::Known => Some(tracks_from_house * house),
                Swing::NotKnown => None,
            },
            site: solution
                .tooth_site
                .zip(site_turn)
                .map(|(tooth, turn)| tooth + turn * arm),
        }
    };
    bucket_points(bucket).into_iter().map(place).collect()
}

/// The points in the bucket's own frame.
pub(crate) fn bucket_points(bucket: &ClaimedBucket) -> Vec<(EdgePart, Point<Bucket>)> {
    let teeth = bucket.teeth.iter().map(|tooth| {
        let at = &tooth.at;
        (
            EdgePart::Tooth(tooth.name.clone()),
            Point::metres(at.x.value, at.y.value, at.z.value),
        )
    });
    let corners = bucket.edge_m.iter().enumerate().map(|(corner_idx, p)| {
        (
            EdgePart::Edge { corner_idx },
            Point::metres(p[0], p[1], p[2]),
        )
    });
    let half_m = bucket.width.value / 2.0;
    let heel = |part, y| {
        (
            part,
            Point::metres(bucket.heel.x.value, y, bucket.heel.z.value),
        )
    };
    teeth
        .chain(corners)
        .chain([
            heel(EdgePart::HeelLeft, half_m),
            heel(EdgePart::HeelRight, -half_m),
        ])
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::machine::claim::{ClaimedTooth, LinkageBranch, PlanePoint, SpacePoint};
    use crate::machine::four_bar::FourBar;
    use crate::machine::front::Boom;
    use crate::machine::joints::Joints;
    use crate::tooth::attitude::Lean;
    use crate::tooth::place::{Geometry, place};
    use crate::tooth::readings::Readings;
    use holdline_geom::measured::Measured;

    fn demo() -> (Front<f64>, ClaimedBucket) {
        let front = Front {
            post_m: None,
            foot_m: [0.15, -0.045, 1.85],
            boom: Boom::Mono { length_m: 5.72 },
            stick_m: 2.94,
            linkage: FourBar {
                pivot_m: [2.5, 0.03],
                idler_m: 0.6,
                link_m: 0.58,
                ear_m: 0.44,
                branch: LinkageBranch::Right,
            },
            coupler: None,
            tilt: None,
            tooth_m: [-0.12, 0.0, -1.174],
        };
        let m = Measured::without_sd;
        let tooth = |name: &str, y: f64| ClaimedTooth {
            name: name.to_owned(),
            at: SpacePoint {
                x: m(-0.12),
                y: m(y),
                z: m(-1.174),
            },
        };
        let bucket = ClaimedBucket {
            id: "G180".to_owned(),
            note: String::new(),
            width: m(1.8),
            pin_spacing: m(0.44),
            teeth: vec![
                tooth("left", 0.9),
                tooth("centre", 0.0),
                tooth("right", -0.9),
            ],
            edge_m: Vec::new(),
            heel: PlanePoint {
                x: m(0.58),
                z: m(-0.62),
            },
            outline_m: Vec::new(),
            mass: None,
            centre_m: None,
            eye: None,
            inner_width_m: None,
            side_profile_inner_m: Vec::new(),
            load_centre_m: None,
        };
        (front, bucket)
    }

    fn heights(lean: Lean) -> Vec<f64> {
        let (front, bucket) = demo();
        let geometry = Geometry {
            front,
            constants: Vec::new(),
            levers_m: vec![[-1.85, 1.05, 3.02]],
            heading_offset_rad: None,
        };
        let joints = Joints {
            boom: 0.4,
            stick: -1.5,
            bucket: 0.6,
            swing: 0.3,
            ..Joints::zero()
        };
        let readings = Readings {
            heading_rad: Some(1.1),
            antennas_m: vec![Some([5102.0, 2078.0, 27.0])],
            ..Readings::default()
        };
        let solution = place(&geometry, &readings, joints, lean).expect("a tooth");
        let points = edge_points(&front, &bucket, &solution, Swing::Known);
        let centre = points
            .iter()
            .find(|p| p.part == EdgePart::Tooth("centre".to_owned()));
        let site = centre.and_then(|p| p.site).expect("on the site");
        assert!((site - solution.tooth_site.expect("on the site")).length_m() < 1e-12);
        points
            .iter()
            .map(|p| p.site.expect("on the site").z())
            .collect()
    }

    #[test]
    fn a_lean_lifts_one_corner_by_width_times_cos_pitch_sin_roll() {
        // Corner height difference W cos θ sin φ: plumb-up along the left axis.
        let (pitch, roll) = (0.03_f64, 0.05_f64);
        let z = heights(Lean { pitch, roll });
        assert!((z[0] - z[2] - 1.8 * pitch.cos() * roll.sin()).abs() < 1e-12);
        let level = heights(Lean { pitch, roll: 0.0 });
        assert!((level[0] - level[2]).abs() < 1e-12);
    }

    #[test]
    fn without_a_swing_angle_there_is_no_place_between_the_tracks() {
        let (front, bucket) = demo();
        let geometry = Geometry {
            front,
            constants: Vec::new(),
            levers_m: Vec::new(),
            heading_offset_rad: None,
        };
        let lean = Lean {
            pitch: 0.0,
            roll: 0.0,
        };
        let solution =
            place(&geometry, &Readings::default(), Joints::zero(), lean).expect("a tooth");
        let points = edge_points(&front, &bucket, &solution, Swing::NotKnown);
        assert!(
            points
                .iter()
                .all(|p| p.tracks.is_none() && p.site.is_none())
        );
        assert_eq!(points.len(), 5);
    }
}
