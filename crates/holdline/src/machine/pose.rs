//! The chain: joint angles in, every link's place in the house out.

use super::front::{Boom as BoomKind, Front};
use super::joints::Joints;
use crate::frames::{Boom, BoomUpper, Bucket, Ear, House, Post, Stick, Tilt, Tracks};
use crate::sources;
use holdline_geom::frame::{Point, Transform};
use nalgebra::RealField;

/// Where every link of the front is, for one set of joint angles.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FrontPose<S: nalgebra::Scalar = f64> {
    /// House on tracks.
    pub tracks_from_house: Transform<Tracks, House, S>,
    /// Swing post; the identity without one.
    pub house_from_post: Transform<House, Post, S>,
    /// Boom.
    pub house_from_boom: Transform<House, Boom, S>,
    /// Upper boom; the boom itself for a mono boom.
    pub house_from_boom_upper: Transform<House, BoomUpper, S>,
    /// Stick.
    pub house_from_stick: Transform<House, Stick, S>,
    /// Ear.
    pub house_from_ear: Transform<House, Ear, S>,
    /// Turned part of the tilting device; the bucket's own frame without one.
    pub house_from_tilt: Transform<House, Tilt, S>,
    /// Bucket.
    pub house_from_bucket: Transform<House, Bucket, S>,
    /// The tooth point.
    pub tooth_house: Point<House, S>,
}

/// Where every link is.
///
/// Used by everything that needs the tooth.
///
/// ```text
/// house_from_bucket = post(ζ) · foot · Rp(β) · boom · Rp(σ) · stick · Rp(ε)
///                     · coupler · tilt(τ) · rotation(ρ)
///     mono boom     boom = shift (AB, 0, 0)
///     two-piece     boom = shift (lower, 0, 0) · Rp(η) · shift (upper, 0, 0)
///     offset        boom = shift (lower + L cos η + upper, L sin η, 0): sideways, never turned
///     coupler       shift (x, 0, z) · Rp(ρc)
///     tilt          shift o1 · R(â, τ) · [shift o2 · R(r̂, ρ)] · shift o3 · Rp(κ)
/// ```
///
/// - Frame: `House`. Units: m, rad. Joints and signs: [`crate::frames`].
/// - Source: [`sources::RIGID_MOTION`].
/// - Exact for any angles; checked against a general robotics library in
///   `checks/tests/forward_kinematics.rs`.
pub fn front_pose<S: RealField + Copy>(front: &Front<S>, q: &Joints<S>) -> FrontPose<S> {
    let _ = sources::RIGID_MOTION;
    let o = S::zero();
    let house_from_post: Transform<House, Post, S> = match front.post_m {
        Some(at) => Transform::turn_z(q.post).after_shift(at),
        None => Transform::identity(),
    };
    let house_from_boom =
        house_from_post * Transform::<Post, Boom, S>::turn_up(q.boom).after_shift(front.foot_m);
    let (boom_from_upper, upper_m) = upper_boom(&front.boom, q);
    let house_from_boom_upper = house_from_boom * boom_from_upper;
    let house_from_stick = house_from_boom_upper
        * Transform::<BoomUpper, Stick, S>::turn_up(q.stick).after_shift([upper_m, o, o]);
    let house_from_ear = house_from_stick
        * Transform::<Stick, Ear, S>::turn_up(q.bucket).after_shift([front.stick_m, o, o]);
    let ear_from_pins = ear_from_tool_pins(front);
    let house_from_pins = house_from_ear * ear_from_pins;
    let (house_from_tilt, house_from_bucket) = match &front.tilt {
        None => (house_from_pins.retagged(), house_from_pins.retagged()),
        Some(device) => {
            let mut turned =
                Transform::<Ear, Tilt, S>::turn_about_plane_axis(device.axis_rad, q.tilt)
                    .after_shift(device.axis_m);
            if let Some((at, axis_rad)) = device.rotation {
                turned = turned
                    * Transform::<Tilt, Tilt, S>::turn_about_plane_axis(axis_rad, q.rotation)
                        .after_shift(at);
            }
            let house_from_tilt = house_from_pins * turned;
            let tilt_from_bucket = Transform::<Tilt, Bucket, S>::turn_up(device.bucket_rad)
                .after_shift(device.front_pin_m);
            (house_from_tilt, house_from_tilt * tilt_from_bucket)
        }
    };
    let [x, y, z] = front.tooth_m;
    FrontPose {
        tracks_from_house: Transform::turn_z(q.swing),
        house_from_post,
        house_from_boom,
        house_from_boom_upper,
        house_from_stick,
        house_from_ear,
        house_from_tilt,
        house_from_bucket,
        tooth_house: house_from_bucket * Point::metres(x, y, z),
    }
}

/// The fixed step from the machine's pins to those that the tool hangs on: the coupler, or nothing.
pub fn ear_from_tool_pins<S: RealField + Copy>(front: &Front<S>) -> Transform<Ear, Ear, S> {
    match &front.coupler {
        None => Transform::identity(),
        Some(c) => Transform::turn_up(c.rotation_rad).after_shift([
            c.front_pin_m[0],
            S::zero(),
            c.front_pin_m[1],
        ]),
    }
}

/// The step to the upper boom's frame, and the way from there to pin B along its x.
fn upper_boom<S: RealField + Copy>(
    boom: &BoomKind<S>,
    q: &Joints<S>,
) -> (Transform<Boom, BoomUpper, S>, S) {
    let o = S::zero();
    match *boom {
        BoomKind::Mono { length_m } => (Transform::identity(), length_m),
        BoomKind::TwoPiece { lower_m, upper_m } => (
            Transform::turn_up(q.boom_upper).after_shift([lower_m, o, o]),
            upper_m,
        ),
        BoomKind::Offset {
            lower_m,
            link_m,
            upper_m,
        } => {
            let (sin, cos) = q.offset.sin_cos();
            (
                Transform::shift(lower_m + link_m * cos, link_m * sin, o),
                upper_m,
            )
        }
    }
}
