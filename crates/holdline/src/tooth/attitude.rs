//! How the house stands: heading, pitch, roll; and what gravity looks like from it.

use crate::frames::{House, Level, Site};
use crate::sources;
use holdline_geom::fault::Fault;
use holdline_geom::frame::{Direction, Transform};
use nalgebra::RealField;

/// Pitch and roll of the house, rad; signs in [`crate::frames`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lean<S = f64> {
    /// Pitch θ, nose up +.
    pub pitch: S,
    /// Roll φ, right side down +.
    pub roll: S,
}

/// What the boom plane sees of gravity.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlaneGravity<S = f64> {
    /// Apparent pitch θ* of the plane's x, the same for every link, rad.
    pub apparent_pitch: S,
    /// Cosine of the plane's lean λ: 1 for an upright plane.
    pub cos_lean: S,
}

impl<S: RealField + Copy> Lean<S> {
    /// From the two tilts of a house sensor, each the arc sine of one axis.
    ///
    /// ```text
    /// θ = p_x        φ = asin( sin p_y / cos p_x )
    /// ```
    ///
    /// # Errors
    ///
    /// `T013` when no attitude gives those two readings.
    pub fn from_tilts(p_x: S, p_y: S) -> Result<Lean<S>, Fault> {
        let ratio = p_y.sin() / p_x.cos();
        // An arc sine never passes a right angle; a first tilt that does is no tilt.
        let upright = S::zero() < p_x.cos();
        if !(upright && -S::one() <= ratio && ratio <= S::one()) {
            return Err(Fault::new(
                "T013",
                "house",
                "two tilts that no attitude gives",
                "sines whose squares add up to at most 1",
                "check the house sensor's kind: two tilts, or pitch and roll",
            ));
        }
        Ok(Lean {
            pitch: p_x,
            roll: ratio.asin(),
        })
    }

    /// From `House` to `Level`.
    pub fn level_from_house(&self) -> Transform<Level, House, S> {
        let pitch: Transform<Level, House, S> = Transform::turn_up(self.pitch);
        let roll: Transform<House, House, S> = Transform::turn_x(self.roll);
        pitch * roll
    }

    /// The turn from `House` to `Site` for a heading ψ; its origin is left at zero.
    ///
    /// ```text
    /// site_from_house = Rz(90° − ψ) · Ry(−θ) · Rx(φ)
    /// ```
    ///
    /// - Source: [`sources::RIGID_MOTION`]; signs in [`crate::frames`].
    pub fn site_turn(&self, heading_rad: S) -> Transform<Site, House, S> {
        let _ = sources::RIGID_MOTION;
        let level: Transform<Site, Level, S> = Transform::turn_z(S::frac_pi_2() - heading_rad);
        level * self.level_from_house()
    }

    /// Plumb-up seen from the house: `u = (sin θ, cos θ sin φ, cos θ cos φ)`.
    pub fn up(&self) -> Direction<House, S> {
        let (st, ct) = self.pitch.sin_cos();
        let (sr, cr) = self.roll.sin_cos();
        Direction::metres(st, ct * sr, ct * cr)
    }

    /// Gravity in a boom plane that is turned by `post_rad` against the house.
    ///
    /// ```text
    /// θ* = atan2( u·f', u·z )        cos λ = √( (u·f')² + (u·z)² )       f' = Rz(ζ) x
    /// ```
    ///
    /// - Exact at any lean; without a post ζ = 0 and θ* = atan2( sin θ, cos θ cos φ ).
    pub fn in_boom_plane(&self, post_rad: S) -> PlaneGravity<S> {
        let u = self.up().vector();
        let (sin, cos) = post_rad.sin_cos();
        let forward = u.x * cos + u.y * sin;
        PlaneGravity {
            apparent_pitch: forward.atan2(u.z),
            cos_lean: (forward * forward + u.z * u.z).sqrt(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use holdline_geom::frame::Direction;

    #[test]
    fn plumb_up_is_the_site_up_seen_from_the_house() {
        for (heading, pitch, roll) in [(0.3, 0.1, -0.2), (4.0, -0.5, 0.7), (1.1, 0.0, 0.0)] {
            let lean: Lean = Lean { pitch, roll };
            let up = lean.site_turn(heading).inverse() * Direction::<Site>::metres(0.0, 0.0, 1.0);
            assert!((up.vector() - lean.up().vector()).norm() < 1e-15);
        }
    }

    #[test]
    fn the_words_of_the_signs_hold() {
        let ahead: Direction<House> = Direction::metres(1.0, 0.0, 0.0);
        let right: Direction<House> = Direction::metres(0.0, -1.0, 0.0);
        let flat: Lean = Lean {
            pitch: 0.0,
            roll: 0.0,
        };
        let east = flat.site_turn(90_f64.to_radians()) * ahead;
        assert!(
            (east.vector().x - 1.0).abs() < 1e-15,
            "heading 90° looks east"
        );
        let nose_up: Lean = Lean {
            pitch: 0.1,
            roll: 0.0,
        };
        assert!(0.0 < (nose_up.site_turn(0.0) * ahead).vector().z);
        let right_down: Lean = Lean {
            pitch: 0.0,
            roll: 0.1,
        };
        assert!((right_down.site_turn(0.0) * right).vector().z < 0.0);
    }

    #[test]
    fn tilts_and_turns_agree() {
        let want: Lean = Lean {
            pitch: 15_f64.to_radians(),
            roll: 15_f64.to_radians(),
        };
        let u = want.up().vector();
        let got = Lean::from_tilts(u.x.asin(), u.y.asin()).expect("an attitude");
        assert!((got.pitch - want.pitch).abs() < 1e-14 && (got.roll - want.roll).abs() < 1e-14);
        assert_eq!(Lean::from_tilts(2.0, 0.1).unwrap_err().code, "T013");
        assert_eq!(Lean::from_tilts(1.2, 1.2).unwrap_err().code, "T013");
        assert_eq!(Lean::from_tilts(f64::NAN, 0.0).unwrap_err().code, "T013");
    }
}
