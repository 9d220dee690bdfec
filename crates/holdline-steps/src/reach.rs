//! The tooth here, the bucket so: the joint angles that do it, or which stroke ends, and by how much.

use std::collections::BTreeMap;

use holdline::frames::{House, Level, Post, Site, Tracks};
use holdline::machine::Machine;
use holdline::machine::front::Front;
use holdline::machine::jacobian::joints_fitted;
use holdline::machine::joints::Joints;
use holdline::machine::pose::front_pose;
use holdline::machine::reach::{Reached, reach_in_plane, reach_with_swing};
use holdline::tooth::attitude::Lean;
use holdline_geom::fault::{Fault, Faults, Span};
use holdline_geom::frame::{Direction, Point, Transform};
use holdline_sheet::figure::plain;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::pose::{PoseAsk, SetPose, bucket_attitude_rad};
use crate::units::Units;

/// Where the tooth is wanted.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(untagged)]
pub enum Target {
    /// On the site grid, m.
    Site {
        /// Easting.
        e: f64,
        /// Northing.
        n: f64,
        /// Elevation.
        u: f64,
    },
    /// In the frame of the tracks, m.
    Tracks {
        /// Forward between the tracks.
        x: f64,
        /// Left.
        y: f64,
        /// Up.
        z: f64,
    },
    /// In the boom plane, level, from the swing axis at track ground, m.
    Plane {
        /// Forward.
        x: f64,
        /// Up against gravity.
        z: f64,
    },
}

/// A pose to start from, and where the tooth is wanted.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ReachAsk {
    /// The pose that tool, lean, stand and the joints that stay are taken from.
    #[serde(flatten)]
    pub pose: PoseAsk,
    /// Where.
    pub target: Target,
    /// Angle above level of the line of pins that the bucket hangs on, degrees; none keeps the one of the pose.
    #[serde(default)]
    pub attitude_deg: Option<f64>,
}

/// A cylinder in the pose found.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CylinderView {
    /// The joint that it moves.
    pub name: String,
    /// Length in words.
    pub text: String,
    /// Pin to pin, m.
    pub length_m: f64,
}

/// The pose that puts the tooth there.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ReachView {
    /// Joint angles by name, degrees.
    pub joints_deg: BTreeMap<String, f64>,
    /// Heading there, degrees.
    pub heading_deg: f64,
    /// Pitch there: a swing on leaning tracks changes it, degrees.
    pub pitch_deg: f64,
    /// Roll there, degrees.
    pub roll_deg: f64,
    /// Cylinder lengths.
    pub cylinders: Vec<CylinderView>,
}

const PLACE: Span = Span {
    code: "T031",
    what: "coordinate of the place",
    unit: "m",
    min: -1e8,
    max: 1e8,
    fix: "type the place in metres",
};
const ATTITUDE: Span = Span {
    code: "T031",
    what: "bucket pins above level",
    unit: "°",
    min: -360.0,
    max: 360.0,
    fix: "level is 0, the second pin higher than the front pin counts positive",
};

/// The joint angles that put the tooth at a place.
///
/// # Errors
///
/// `T020` out of reach, `T021` a stroke ends, which and by how much; `T031` a figure that cannot be, `T032` a
/// place on the site without a stand; what [`PoseAsk::set`] gives.
pub fn reach(machine: &Machine, ask: &ReachAsk) -> Result<ReachView, Faults> {
    let front = machine.front(&ask.pose.tool.choice())?.values();
    let set = ask.pose.set(machine, &front)?;
    check(ask)?;
    let attitude_rad = ask
        .attitude_deg
        .map_or_else(|| bucket_attitude_rad(&front, &set), f64::to_radians);
    let (reached, found) = match ask.target {
        Target::Plane { x, z } => {
            let target = in_house(&front, &set, x, z)?;
            let ear = ear_rad(&front, attitude_rad, &set.lean, &set.joints);
            (
                reach_in_plane(machine, &front, target, ear, &set.joints).map_err(Faults)?,
                set,
            )
        }
        Target::Tracks { x, y, z } => {
            swung(machine, &front, Point::metres(x, y, z), attitude_rad, &set)?
        }
        Target::Site { e, n, u } => {
            let site_from_house = set.site_from_house().ok_or_else(no_stand)?;
            let house: Point<House> = site_from_house.inverse() * Point::<Site>::metres(e, n, u);
            let tracks_from_house: Transform<Tracks, House> = Transform::turn_z(set.joints.swing);
            swung(
                machine,
                &front,
                tracks_from_house * house,
                attitude_rad,
                &set,
            )?
        }
    };
    Ok(view(machine, &front, &reached, &found, ask.pose.units))
}

fn check(ask: &ReachAsk) -> Result<(), Faults> {
    let mut faults = Faults::none();
    let places: Vec<(&str, f64)> = match ask.target {
        Target::Site { e, n, u } => vec![("e", e), ("n", n), ("u", u)],
        Target::Tracks { x, y, z } => vec![("x", x), ("y", y), ("z", z)],
        Target::Plane { x, z } => vec![("x", x), ("z", z)],
    };
    for (word, value) in places {
        faults.keep(PLACE.check(&format!("target.{word}"), value));
    }
    if let Some(deg) = ask.attitude_deg {
        faults.keep(ATTITUDE.check("attitude_deg", deg));
    }
    faults.or(())
}

/// The ear line above `House` x, for pins at an attitude above level.
fn ear_rad(front: &Front<f64>, attitude_rad: f64, lean: &Lean, q: &Joints) -> f64 {
    let coupler_rad = front
        .coupler
        .as_ref()
        .map_or(0.0, |coupler| coupler.rotation_rad);
    attitude_rad - lean.in_boom_plane(q.post).apparent_pitch - coupler_rad
}

/// A place given forward and up, level, as a place of the boom plane in `House`.
///
/// ```text
/// level_from_house · (P + Rz(ζ)(r, s, h))  has x and z as asked: two equations for r and h
/// ```
fn in_house(front: &Front<f64>, set: &SetPose, x: f64, z: f64) -> Result<Point<House>, Faults> {
    let flat = Joints {
        boom: 0.0,
        stick: 0.0,
        bucket: 0.0,
        ..set.joints
    };
    let pose = front_pose(front, &flat);
    let side = (pose.house_from_post.inverse() * pose.tooth_house).y();
    let level_from_house: Transform<Level, House> = set.lean.level_from_house();
    let level_from_post = level_from_house * pose.house_from_post;
    let base = (level_from_post * Point::<Post>::metres(0.0, side, 0.0)).vector();
    let along = (level_from_post * Direction::<Post>::metres(1.0, 0.0, 0.0)).vector();
    let up = (level_from_post * Direction::<Post>::metres(0.0, 0.0, 1.0)).vector();
    let (dx, dz) = (x - base.x, z - base.z);
    let det = along.x * up.z - up.x * along.z;
    let (r, h) = (
        (dx * up.z - up.x * dz) / det,
        (along.x * dz - dx * along.z) / det,
    );
    if !(r.is_finite() && h.is_finite()) {
        return Err(Fault::new(
            "T020",
            "target",
            "a boom plane that lies across the asked direction",
            "a boom that can point forward",
            "turn the swing post back, or level the machine",
        )
        .into());
    }
    Ok(pose.house_from_post * Point::metres(r, side, h))
}

/// Reaches a place of the tracks; the swing changes how the house leans, and so what level means for the bucket.
fn swung(
    machine: &Machine,
    front: &Front<f64>,
    target: Point<Tracks>,
    attitude_rad: f64,
    set: &SetPose,
) -> Result<(Reached, SetPose), Faults> {
    let mut found = *set;
    let mut reached = None;
    // The swing does not depend on the attitude, so the second turn already stands.
    for _ in 0..3 {
        let ear = ear_rad(front, attitude_rad, &found.lean, &found.joints);
        let now = reach_with_swing(machine, front, target, ear, &set.joints);
        let swing = match &now {
            Ok(now) => now.joints.swing,
            Err(_) if reached.is_none() => {
                swing_towards(front, target, &set.joints).unwrap_or(set.joints.swing)
            }
            Err(_) => found.joints.swing,
        };
        found = turned(set, swing);
        reached = Some(now);
    }
    match reached {
        Some(Ok(reached)) => Ok((reached, found)),
        Some(Err(faults)) => Err(Faults(faults)),
        None => Err(no_stand()),
    }
}

/// The swing that points the front at a place, for the lean that goes with it, when strokes refuse the first try.
fn swing_towards(front: &Front<f64>, target: Point<Tracks>, keep: &Joints) -> Option<f64> {
    let flat = Joints {
        boom: 0.0,
        stick: 0.0,
        bucket: 0.0,
        swing: 0.0,
        ..*keep
    };
    let side = front_pose(front, &flat).tooth_house.y();
    let d = target.x().hypot(target.y());
    let off = (side / d).asin();
    off.is_finite().then(|| target.y().atan2(target.x()) - off)
}

/// The pose after a swing on tracks that stay: heading, pitch and roll follow.
fn turned(set: &SetPose, swing: f64) -> SetPose {
    let before: Transform<Tracks, House> = Transform::turn_z(set.joints.swing);
    let after: Transform<Tracks, House> = Transform::turn_z(swing);
    let turn = set.lean.site_turn(set.heading_rad) * before.inverse() * after;
    let m = turn.rotation(); // columns: the house's forward, left and up on the site
    let pitch = m[(2, 0)].clamp(-1.0, 1.0).asin();
    let roll = m[(2, 1)].atan2(m[(2, 2)]);
    let heading_rad = m[(0, 0)].atan2(m[(1, 0)]).rem_euclid(std::f64::consts::TAU);
    SetPose {
        joints: Joints {
            swing,
            ..set.joints
        },
        lean: Lean { pitch, roll },
        heading_rad,
        stand_m: set.stand_m,
    }
}

fn view(
    machine: &Machine,
    front: &Front<f64>,
    reached: &Reached,
    found: &SetPose,
    units: Units,
) -> ReachView {
    let joints_deg = joints_fitted(front)
        .into_iter()
        .map(|joint| {
            (
                joint.word().to_owned(),
                reached.joints.get(joint).to_degrees(),
            )
        })
        .collect();
    let cylinders = machine
        .sheet()
        .cylinders
        .iter()
        .zip(&reached.cylinder_lengths_m)
        .map(|(cylinder, length_m)| CylinderView {
            name: cylinder.moves.word().to_owned(),
            text: plain(*length_m, &units.length(), 3),
            length_m: *length_m,
        })
        .collect();
    ReachView {
        joints_deg,
        heading_deg: found.heading_rad.to_degrees(),
        pitch_deg: found.lean.pitch.to_degrees(),
        roll_deg: found.lean.roll.to_degrees(),
        cylinders,
    }
}

fn no_stand() -> Faults {
    Fault::new(
        "T032",
        "stand",
        "no stand",
        "easting, northing and elevation of the swing axis at track ground",
        "type where the machine stands; a place on the site means nothing to a machine that stands nowhere",
    )
    .into()
}
