//! Inverse kinematics: the tooth here, the bucket at this attitude;
//! the joint angles and cylinder lengths, or why not.

use super::Machine;
use super::claim::Joint;
use super::cylinder::wrapped;
use super::front::{Boom, Front};
use super::jacobian::joints_fitted;
use super::joints::Joints;
use super::pose::front_pose;
use crate::frames::{House, Tracks};
use holdline_geom::fault::Fault;
use holdline_geom::frame::Point;
use holdline_geom::triangle::corner_over_base;
use std::f64::consts::{PI, TAU};

/// A pose that puts the tooth where it was asked.
#[derive(Debug, Clone, PartialEq)]
pub struct Reached {
    /// The joint angles.
    pub joints: Joints,
    /// Cylinder lengths in the order of the sheet, m.
    pub cylinder_lengths_m: Vec<f64>,
    /// Joints whose range the sheet does not give: whether the machine can go there is not known.
    pub ranges_unknown: Vec<Joint>,
}

/// The joint angles that put the tooth at a place in `House`, in the boom's plane.
///
/// Used to place the tooth from a drawing, and to find where a stroke ends.
///
/// ```text
/// C = T − Rot(e) p        e = attitude of the ear line CD above House x
/// B = corner over A–C with sides AB and BC, above the line
/// β = dir(AB) − dir(boom)     σ = dir(BC) − dir(upper boom)     ε = e − dir(BC)
/// ```
///
/// Post, upper boom, offset, tilt, rotation and swing stay as in `keep`.
/// The sideways coordinate of `target` is not looked at: the boom plane decides it.
///
/// - Frame: the boom plane of `House`; with a swing post `target` is first turned into that plane.
///   Units: m, rad.
/// - Source: two-link inverse kinematics by circle on circle, closed form.
///
/// # Errors
///
/// `T020` too far or too near, by how many millimetres;
/// `T021` a stroke would be passed, which one and by how much; all at once;
/// `T022` what was asked is not a number.
pub fn reach_in_plane(
    machine: &Machine,
    front: &Front<f64>,
    target: Point<House>,
    ear_rad: f64,
    keep: &Joints,
) -> Result<Reached, Vec<Fault>> {
    check_asked([target.x(), target.y(), target.z()], ear_rad)?;
    let in_post = match front.post_m {
        None => [target.x(), target.z()],
        Some(at) => {
            let (sin, cos) = keep.post.sin_cos();
            let (dx, dy) = (target.x() - at[0], target.y() - at[1]);
            [cos * dx + sin * dy, target.z() - at[2]]
        }
    };
    let tool = tool_in_ear(front, keep);
    let (sin, cos) = ear_rad.sin_cos();
    let c = [
        in_post[0] - (cos * tool[0] - sin * tool[1]),
        in_post[1] - (sin * tool[0] + cos * tool[1]),
    ];
    let a = [front.foot_m[0], front.foot_m[2]];
    let way = [c[0] - a[0], c[1] - a[1]];
    let r = way[0].hypot(way[1]);
    let (boom, upper_rad) = boom_vector(front, keep);
    let boom_m = boom[0].hypot(boom[1]);
    let Some([x, y]) = corner_over_base(r, boom_m, front.stick_m) else {
        return Err(vec![out_of_reach(r, boom_m, front.stick_m)]);
    };
    let elbow = |side: f64| {
        let b = [
            (x * way[0] - side * y * way[1]) / r,
            (x * way[1] + side * y * way[0]) / r,
        ];
        let stick_dir = (way[1] - b[1]).atan2(way[0] - b[0]);
        let beta = b[1].atan2(b[0]) - boom[1].atan2(boom[0]);
        let mut q = *keep;
        q.boom = near(machine, Joint::Boom, beta);
        q.stick = near(machine, Joint::Stick, stick_dir - beta - upper_rad);
        q.bucket = near(machine, Joint::Bucket, ear_rad - stick_dir);
        q
    };
    let first = within_strokes(machine, front, elbow(1.0));
    match first {
        Ok(reached) => Ok(reached),
        Err(why) => within_strokes(machine, front, elbow(-1.0)).map_err(|_| why),
    }
}

/// As [`reach_in_plane`], for a place in `Tracks`: the swing angle is found too.
///
/// ```text
/// |P + Rz(ζ)(r, y_p)| = |target|, horizontally; r forward, y_p sideways
/// swing = az(target) − az(P + Rz(ζ)(r, y_p))
/// ```
///
/// # Errors
///
/// As [`reach_in_plane`], and `T020` when the place is nearer to the swing axis than the boom plane
/// passes it.
pub fn reach_with_swing(
    machine: &Machine,
    front: &Front<f64>,
    target: Point<Tracks>,
    ear_rad: f64,
    keep: &Joints,
) -> Result<Reached, Vec<Fault>> {
    check_asked([target.x(), target.y(), target.z()], ear_rad)?;
    // Sideways place of the tooth in the boom's plane: no turn about y changes it.
    let flat = front_pose(
        front,
        &Joints {
            boom: 0.0,
            stick: 0.0,
            bucket: 0.0,
            post: 0.0,
            swing: 0.0,
            ..*keep
        },
    );
    let post = front.post_m.unwrap_or([0.0; 3]);
    let side = flat.tooth_house.y() - post[1];
    let zeta = if front.post_m.is_some() {
        keep.post
    } else {
        0.0
    };
    let (sin, cos) = zeta.sin_cos();
    let d = target.x().hypot(target.y());
    // P + r f + side n with f = (cos, sin), n = (−sin, cos): |..|² = d² is quadratic in r.
    let base = [post[0] - side * sin, post[1] + side * cos];
    let along = base[0] * cos + base[1] * sin;
    let rest = d * d - (base[0] * base[0] + base[1] * base[1]) + along * along;
    if !(0.0 <= rest) {
        let nearest_m = (base[0] * base[0] + base[1] * base[1] - along * along)
            .max(0.0)
            .sqrt();
        return Err(vec![Fault::new(
            "T020",
            "target",
            format!("{:.0} mm from the swing axis", d * 1000.0),
            format!(
                "at least {:.0} mm: the boom plane passes the axis at that distance",
                nearest_m * 1000.0
            ),
            "choose a place further out, or another tooth point",
        )]);
    }
    let r = rest.sqrt() - along;
    let at = [base[0] + r * cos, base[1] + r * sin];
    let swing = wrapped(target.y().atan2(target.x()) - at[1].atan2(at[0]));
    let in_house: Point<House> = Point::metres(at[0], at[1], target.z());
    let keep = Joints {
        swing: near(machine, Joint::Swing, swing),
        ..*keep
    };
    reach_in_plane(machine, front, in_house, ear_rad, &keep)
}

/// The tooth in the ear frame, x and z, with tilt and rotation as kept.
fn tool_in_ear(front: &Front<f64>, keep: &Joints) -> [f64; 2] {
    let pose = front_pose(front, keep);
    let p = pose.house_from_ear.inverse() * pose.tooth_house;
    [p.x(), p.z()]
}

/// A to B in the boom's frame, and how much the upper boom is turned against it.
fn boom_vector(front: &Front<f64>, keep: &Joints) -> ([f64; 2], f64) {
    match front.boom {
        Boom::Mono { length_m } => ([length_m, 0.0], 0.0),
        Boom::TwoPiece { lower_m, upper_m } => {
            let (sin, cos) = keep.boom_upper.sin_cos();
            ([lower_m + upper_m * cos, upper_m * sin], keep.boom_upper)
        }
        Boom::Offset {
            lower_m,
            link_m,
            upper_m,
        } => ([lower_m + link_m * keep.offset.cos() + upper_m, 0.0], 0.0),
    }
}

/// The turn of an angle that lies nearest to the middle of the joint's range.
fn near(machine: &Machine, joint: Joint, angle: f64) -> f64 {
    let middle = machine
        .range(joint)
        .map_or(0.0, |r| (r.nominal_rad[0] + r.nominal_rad[1]) / 2.0);
    let mut a = wrapped(angle);
    if PI < a - middle {
        a -= TAU;
    }
    if a - middle < -PI {
        a += TAU;
    }
    a
}

fn within_strokes(
    machine: &Machine,
    front: &Front<f64>,
    joints: Joints,
) -> Result<Reached, Vec<Fault>> {
    let fitted = joints_fitted(front);
    let beyond = |joint: &Joint| machine.beyond_range(*joint, joints.get(*joint));
    let faults: Vec<Fault> = fitted.iter().filter_map(beyond).collect();
    if !faults.is_empty() {
        return Err(faults);
    }
    let lengths = machine.cylinder_lengths_m(&joints);
    Ok(Reached {
        joints,
        cylinder_lengths_m: lengths.map_err(|fault| vec![fault])?,
        ranges_unknown: fitted
            .into_iter()
            .filter(|joint| machine.range(*joint).is_none())
            .collect(),
    })
}

/// The target and attitude, each a number.
fn check_asked(target: [f64; 3], ear_rad: f64) -> Result<(), Vec<Fault>> {
    if target.iter().all(|c| c.is_finite()) && ear_rad.is_finite() {
        return Ok(());
    }
    Err(vec![Fault::new(
        "T022",
        "target",
        format!("{target:?} m at {ear_rad} rad"),
        "three coordinates and an attitude, each a number",
        "type the place and the bucket's attitude again",
    )])
}

fn out_of_reach(r: f64, boom_m: f64, stick_m: f64) -> Fault {
    let (least, most) = ((boom_m - stick_m).abs(), boom_m + stick_m);
    let (got, want) = if most < r {
        (
            format!(
                "the bucket pin would be {:.0} mm too far",
                (r - most) * 1000.0
            ),
            format!("at most {most:.3} m"),
        )
    } else {
        (
            format!(
                "the bucket pin would be {:.0} mm too near",
                (least - r) * 1000.0
            ),
            format!("at least {least:.3} m"),
        )
    };
    Fault::new(
        "T020",
        "target",
        got,
        format!("{want} from the boom foot pin to the bucket pin"),
        "move the machine, or ask for another bucket attitude or place",
    )
}
