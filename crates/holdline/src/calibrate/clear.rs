//! Whether a pose that is proposed to a person keeps the bucket off the ground, the tracks and the house.
//!
//! Looked at are the strokes, the floor, the tracks and the house with its cab; what else stands about, hangs above or
//! lies below is for the people on site.

use crate::frames::{Bucket, House};
use crate::machine::Machine;
use crate::machine::claim::{ClaimedShape, Link};
use crate::machine::front::ToolChoice;
use crate::machine::pose::FrontPose;
use crate::tooth::edge::bucket_points;
use holdline_geom::fault::Fault;
use holdline_geom::frame::Point;

/// How far the bucket stays off tracks, house and cab, m.
const OFF_M: f64 = 0.50;

/// Room that a bucket has in poses that are proposed.
#[derive(Debug, Clone)]
pub(crate) struct Clear {
    bucket: Vec<Point<Bucket>>,
    /// Nothing of the bucket comes nearer to the swing axis than this, forward, m.
    ahead_m: f64,
    /// Nothing of it comes lower, over the track ground, m.
    floor_m: f64,
}

impl Clear {
    /// For a tool, over a floor.
    ///
    /// The tracks may stand at any angle under the house: they count with the circle that they turn in.
    pub fn of(machine: &Machine, choice: &ToolChoice, floor_m: f64) -> Result<Clear, Fault> {
        let bucket = machine.bucket(&choice.bucket)?;
        let plane = |x: f64, z: f64, y: f64| Point::metres(x, y, z);
        let half_m = bucket.width.value / 2.0;
        let outline = bucket
            .outline_m
            .iter()
            .flat_map(|[x, z]| [plane(*x, *z, half_m), plane(*x, *z, -half_m)]);
        let points = bucket_points(bucket).into_iter().map(|(_, at)| at);
        Ok(Clear {
            bucket: points.chain(outline).collect(),
            ahead_m: house_m(machine).max(tracks_m(machine)) + OFF_M,
            floor_m,
        })
    }

    /// Whether all of the bucket and its pins have that room.
    pub fn holds(&self, pose: &FrontPose) -> bool {
        let pins = [
            pose.house_from_ear.origin(),
            pose.house_from_bucket.origin(),
        ];
        let bucket = self.bucket.iter().map(|at| pose.house_from_bucket * *at);
        let clear = |p: Point<House>| self.floor_m <= p.z() && self.ahead_m <= p.x();
        pins.into_iter().chain(bucket).all(clear)
    }
}

/// Where the house with its cab ends ahead; the boom foot where the sheet has no solids.
fn house_m(machine: &Machine) -> f64 {
    let sheet = machine.sheet();
    let foot_m = sheet.boom.foot.map_or(0.0, |foot| foot.x.value);
    let house = sheet.solids.iter().filter(|s| s.link == Link::House);
    house.fold(foot_m, |most, solid| {
        most.max(match &solid.shape {
            ClaimedShape::Box { max_m, .. } => max_m[0],
            ClaimedShape::Capsule {
                from_m,
                to_m,
                radius_m,
            } => from_m[0].max(to_m[0]) + radius_m,
            ClaimedShape::Prism { outline_m, .. } => {
                outline_m.iter().fold(foot_m, |most, [x, _]| most.max(*x))
            }
            // Round the tail; ahead of the axis only where it goes more than half round.
            ClaimedShape::Sector {
                radius_m,
                half_angle_rad,
                ..
            } => -radius_m * half_angle_rad.min(std::f64::consts::PI).cos(),
            ClaimedShape::AlongCylinder { .. } | ClaimedShape::AlongLinkage { .. } => foot_m,
        })
    })
}

/// Half the diagonal over the tracks.
fn tracks_m(machine: &Machine) -> f64 {
    let tracks = &machine.sheet().tracks;
    let half_width = (tracks.gauge.value + tracks.shoe_width.value) / 2.0;
    (tracks.length.value / 2.0).hypot(half_width)
}
