//! The angles of all joints of one pose.

use super::claim::Joint;
use nalgebra::RealField;

/// One angle a joint, rad. A joint that the machine does not have stays at zero,
/// where it moves nothing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Joints<S = f64> {
    /// House on tracks.
    pub swing: S,
    /// Boom plane on house.
    pub post: S,
    /// Boom β.
    pub boom: S,
    /// Upper boom on lower boom.
    pub boom_upper: S,
    /// Offset links.
    pub offset: S,
    /// Stick σ.
    pub stick: S,
    /// Bucket ε.
    pub bucket: S,
    /// Tilt τ.
    pub tilt: S,
    /// Rotation ρ.
    pub rotation: S,
}

/// All joints, from the ground outward.
pub const ALL_JOINTS: [Joint; 9] = [
    Joint::Swing,
    Joint::Post,
    Joint::Boom,
    Joint::BoomUpper,
    Joint::Offset,
    Joint::Stick,
    Joint::Bucket,
    Joint::Tilt,
    Joint::Rotation,
];

impl<S: RealField + Copy> Joints<S> {
    /// All at zero.
    pub fn zero() -> Joints<S> {
        let o = S::zero();
        Joints {
            swing: o,
            post: o,
            boom: o,
            boom_upper: o,
            offset: o,
            stick: o,
            bucket: o,
            tilt: o,
            rotation: o,
        }
    }

    /// The angle of one joint, rad.
    pub fn get(&self, joint: Joint) -> S {
        match joint {
            Joint::Swing => self.swing,
            Joint::Post => self.post,
            Joint::Boom => self.boom,
            Joint::BoomUpper => self.boom_upper,
            Joint::Offset => self.offset,
            Joint::Stick => self.stick,
            Joint::Bucket => self.bucket,
            Joint::Tilt => self.tilt,
            Joint::Rotation => self.rotation,
        }
    }

    /// The same pose with one joint at another angle, rad.
    #[must_use]
    pub fn with(mut self, joint: Joint, angle_rad: S) -> Joints<S> {
        let place = match joint {
            Joint::Swing => &mut self.swing,
            Joint::Post => &mut self.post,
            Joint::Boom => &mut self.boom,
            Joint::BoomUpper => &mut self.boom_upper,
            Joint::Offset => &mut self.offset,
            Joint::Stick => &mut self.stick,
            Joint::Bucket => &mut self.bucket,
            Joint::Tilt => &mut self.tilt,
            Joint::Rotation => &mut self.rotation,
        };
        *place = angle_rad;
        self
    }

    /// The pose with every angle passed through `f`.
    pub fn map<U: RealField + Copy>(&self, mut f: impl FnMut(Joint, S) -> U) -> Joints<U> {
        ALL_JOINTS.iter().fold(Joints::zero(), |out, joint| {
            out.with(*joint, f(*joint, self.get(*joint)))
        })
    }
}

impl Joint {
    /// The joint's word, as on the sheet.
    pub fn word(self) -> &'static str {
        match self {
            Joint::Swing => "swing",
            Joint::Post => "post",
            Joint::Boom => "boom",
            Joint::BoomUpper => "boom-upper",
            Joint::Offset => "offset",
            Joint::Stick => "stick",
            Joint::Bucket => "bucket",
            Joint::Tilt => "tilt",
            Joint::Rotation => "rotation",
        }
    }
}
