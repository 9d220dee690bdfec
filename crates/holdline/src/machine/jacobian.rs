//! How the tooth moves when one joint turns: the Jacobian, by the joints' axes.

use super::claim::Joint;
use super::front::{Boom, Front};
use super::joints::Joints;
use super::pose::{FrontPose, ear_from_tool_pins};
use crate::frames::House;
use crate::sources;
use holdline_geom::frame::{Direction, Point};
use nalgebra::Vector3;

/// One joint's motion in the house: a turn about an axis,
/// or the sideways swing of the offset links.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct JointMotion {
    /// The joint.
    pub joint: Joint,
    /// Unit axis, right-handed; for the offset links zero.
    pub axis: Direction<House>,
    /// A point on the axis.
    pub at: Point<House>,
    /// For the offset links: the shift of all that hangs on them, m per rad; else zero.
    pub shift: Direction<House>,
}

/// The joints that this front has, from the ground outward; swing first.
pub fn joints_fitted<T>(front: &Front<T>) -> Vec<Joint> {
    let mut fitted = vec![Joint::Swing];
    if front.post_m.is_some() {
        fitted.push(Joint::Post);
    }
    fitted.push(Joint::Boom);
    match front.boom {
        Boom::Mono { .. } => {}
        Boom::TwoPiece { .. } => fitted.push(Joint::BoomUpper),
        Boom::Offset { .. } => fitted.push(Joint::Offset),
    }
    fitted.extend([Joint::Stick, Joint::Bucket]);
    if let Some(device) = &front.tilt {
        fitted.push(Joint::Tilt);
        if device.rotation.is_some() {
            fitted.push(Joint::Rotation);
        }
    }
    fitted
}

/// Axis and place of every joint of the front in one pose.
///
/// - Frame: `House`. Units: m, and m per rad for the shift of the offset links.
/// - Source: [`sources::RIGID_MOTION`].
pub fn joint_motions(front: &Front<f64>, q: &Joints, pose: &FrontPose) -> Vec<JointMotion> {
    let _ = sources::RIGID_MOTION;
    let still = Direction::metres(0.0, 0.0, 0.0);
    // Turning about −y raises x.
    let up_axis = pose.house_from_post * Direction::metres(0.0, -1.0, 0.0);
    let turn = |joint, axis, at| JointMotion {
        joint,
        axis,
        at,
        shift: still,
    };
    let pins = pose.house_from_ear * ear_from_tool_pins(front);
    joints_fitted(front)
        .into_iter()
        .map(|joint| match joint {
            Joint::Swing => turn(joint, Direction::metres(0.0, 0.0, 1.0), Point::origin()),
            Joint::Post => turn(
                joint,
                Direction::metres(0.0, 0.0, 1.0),
                pose.house_from_post.origin(),
            ),
            Joint::Boom => turn(joint, up_axis, pose.house_from_boom.origin()),
            Joint::BoomUpper => turn(joint, up_axis, pose.house_from_boom_upper.origin()),
            Joint::Offset => {
                let link_m = match front.boom {
                    Boom::Offset { link_m, .. } => link_m,
                    Boom::Mono { .. } | Boom::TwoPiece { .. } => 0.0,
                };
                let (sin, cos) = q.offset.sin_cos();
                let shift =
                    pose.house_from_boom * Direction::metres(-link_m * sin, link_m * cos, 0.0);
                JointMotion {
                    joint,
                    axis: still,
                    at: Point::origin(),
                    shift,
                }
            }
            Joint::Stick => turn(joint, up_axis, pose.house_from_stick.origin()),
            Joint::Bucket => turn(joint, up_axis, pose.house_from_ear.origin()),
            Joint::Tilt | Joint::Rotation => tilt_motion(front, q, joint, &pins),
        })
        .collect()
}

/// How the tooth moves for a turn of each joint, m per rad, in `House`.
///
/// ```text
/// ∂T/∂q = a × (T − o) + shift
/// ```
///
/// Swing moves the tooth over the ground; in `House` its row says how it would move if the house
/// stood still below it.
///
/// - Symbols: a unit axis, o a point on it, T the tooth. Source: [`sources::RIGID_MOTION`].
pub fn tooth_jacobian(
    front: &Front<f64>,
    q: &Joints,
    pose: &FrontPose,
) -> Vec<(Joint, Direction<House>)> {
    joint_motions(front, q, pose)
        .into_iter()
        .map(|m| {
            let arm: Vector3<f64> = (pose.tooth_house - m.at).vector();
            (
                m.joint,
                Direction::from_vector(m.axis.vector().cross(&arm) + m.shift.vector()),
            )
        })
        .collect()
}

fn tilt_motion(
    front: &Front<f64>,
    q: &Joints,
    joint: Joint,
    pins: &holdline_geom::frame::Transform<House, crate::frames::Ear>,
) -> JointMotion {
    use crate::frames::{Ear, Tilt};
    use holdline_geom::frame::Transform;
    let still = Direction::metres(0.0, 0.0, 0.0);
    let axis_of = |angle: f64| (angle.cos(), angle.sin());
    let Some(device) = &front.tilt else {
        return JointMotion {
            joint,
            axis: still,
            at: Point::origin(),
            shift: still,
        };
    };
    let [x, y, z] = device.axis_m;
    let (c, s) = axis_of(device.axis_rad);
    let outer = JointMotion {
        joint,
        axis: *pins * Direction::metres(c, 0.0, s),
        at: *pins * Point::metres(x, y, z),
        shift: still,
    };
    match (&device.rotation, joint) {
        (Some((at, angle)), Joint::Rotation) => {
            let turned: Transform<Ear, Tilt> =
                Transform::turn_about_plane_axis(device.axis_rad, q.tilt)
                    .after_shift(device.axis_m);
            let inner = *pins * turned;
            let (c, s) = axis_of(*angle);
            JointMotion {
                joint,
                axis: inner * Direction::metres(c, 0.0, s),
                at: inner * Point::metres(at[0], at[1], at[2]),
                shift: still,
            }
        }
        _ => outer,
    }
}
