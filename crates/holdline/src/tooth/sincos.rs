//! Sine and cosine of many angles at once, without a branch, the same bytes on every machine.
//!
//! The angle is brought into -π/4 to π/4 by taking off a whole number of right angles in three
//! pieces (Cody and Waite), keeping what rounds away; then a polynomial a quadrant.
//!
//! - Source: W. J. Cody, W. Waite, Software Manual for the Elementary Functions, 1980 (memory);
//!   polynomials and the pieces of π/2: fdlibm `k_sin.c`, `k_cos.c`, `e_rem_pio2.c`, see below.
//! - Valid for: |angle| up to [`ANGLE_AT_MOST_RAD`]; outside of it the result means nothing.
//! - Exact to: 1 unit in the last place of the result, or 1e-30 where that is more;
//!   `next_to_the_standard_library` below holds it to 1.5 against one off by 0.5 itself.
//!
//! The constants come with this notice:
//!
//! ```text
//! Copyright (C) 1993 by Sun Microsystems, Inc. All rights reserved.
//! Developed at SunPro, a Sun Microsystems, Inc. business.
//! Permission to use, copy, modify, and distribute this software is freely granted,
//! provided that this notice is preserved.
//! ```

use pulp::Simd;

use super::lanes::Lanes;

/// Largest angle, either way, for which sine and cosine are given, rad; some 16 000 turns.
pub const ANGLE_AT_MOST_RAD: f64 = 1.0e5;

/// 2/π.
const RIGHT_ANGLES_PER_RAD: f64 = std::f64::consts::FRAC_2_PI;
/// Adding it to a number below 2^51 leaves the nearest whole number in the lowest bits.
const ROUNDER: f64 = 6_755_399_441_055_744.0; // 1.5 * 2^52

// π/2 in pieces. The first two have 33 bits, so that a count below 2^20 times them is exact.
const RIGHT_ANGLE_1: f64 = 1.570_796_326_734_125_6; // 0x3FF921FB54400000
const RIGHT_ANGLE_2: f64 = 6.077_100_506_303_966e-11; // 0x3DD0B4611A600000
const RIGHT_ANGLE_3: f64 = 2.022_266_248_795_950_6e-21; // 0x3BA3198A2E037073

const S1: f64 = -1.666_666_666_666_663_2e-1;
const S2: f64 = 8.333_333_333_322_49e-3;
const S3: f64 = -1.984_126_982_985_795e-4;
const S4: f64 = 2.755_731_370_707_006_8e-6;
const S5: f64 = -2.505_076_025_340_686_3e-8;
const S6: f64 = 1.589_690_995_211_55e-10;

const C1: f64 = 4.166_666_666_666_66e-2;
const C2: f64 = -1.388_888_888_887_411e-3;
const C3: f64 = 2.480_158_728_947_673e-5;
const C4: f64 = -2.755_731_435_139_066_3e-7;
const C5: f64 = 2.087_572_321_298_175e-9;
const C6: f64 = -1.135_964_755_778_819_5e-11;

/// Sine and cosine of an angle, as one thing: the direction it points in.
#[derive(Clone, Copy)]
pub(crate) struct Turn<S: Simd> {
    pub sin: Lanes<S>,
    pub cos: Lanes<S>,
}

impl<S: Simd> Turn<S> {
    /// The direction of an angle.
    #[inline(always)]
    pub fn of(angle: Lanes<S>) -> Turn<S> {
        let with_count = angle * RIGHT_ANGLES_PER_RAD + ROUNDER;
        let count = with_count - ROUNDER;
        let (rest, rest_low) = less_right_angles(angle, count);

        let sin = sine(rest, rest_low);
        let cos = cosine(rest, rest_low);

        // an odd count swaps the two; the 2 in the count turns the sine, in count + 1 the cosine
        let even = with_count.bit_is_clear(1);
        let (s, c) = (even.pick(sin, cos), even.pick(cos, sin));
        let turn_cos = (with_count + 1.0).bit_is_clear(2);
        Turn {
            sin: with_count.bit_is_clear(2).pick(s, -s),
            cos: turn_cos.pick(c, -c),
        }
    }

    /// The direction turned on by `by`.
    #[inline(always)]
    pub fn on_by(self, by: Turn<S>) -> Turn<S> {
        Turn {
            sin: self.sin * by.cos + self.cos * by.sin,
            cos: self.cos * by.cos - self.sin * by.sin,
        }
    }

    /// The direction turned back by `by`.
    #[inline(always)]
    pub fn back_by(self, by: Turn<S>) -> Turn<S> {
        Turn {
            sin: self.sin * by.cos - self.cos * by.sin,
            cos: self.cos * by.cos + self.sin * by.sin,
        }
    }
}

/// `angle - count · π/2` as a number and what rounding left over.
#[inline(always)]
fn less_right_angles<S: Simd>(angle: Lanes<S>, count: Lanes<S>) -> (Lanes<S>, Lanes<S>) {
    let first = angle - count * RIGHT_ANGLE_1; // exact
    let second = count * RIGHT_ANGLE_2; // exact
    let high = first - second;
    // what `high` rounded away, exactly, whichever of the two is larger (Knuth's two-sum)
    let took = first - high;
    let lost = (first - (high + took)) + (took - second);
    let low = lost - count * RIGHT_ANGLE_3;
    let rest = high + low;
    (rest, (high - rest) + low)
}

/// Sine of `x + low`, |x| up to π/4.
#[inline(always)]
fn sine<S: Simd>(x: Lanes<S>, low: Lanes<S>) -> Lanes<S> {
    let z = x * x;
    let w = z * z;
    let v = z * x;
    let r = (z * S4 + S3) * z + S2 + z * w * (z * S6 + S5);
    x - ((z * (low * 0.5 - v * r) - low) - v * S1)
}

/// Cosine of `x + low`, |x| up to π/4.
#[inline(always)]
fn cosine<S: Simd>(x: Lanes<S>, low: Lanes<S>) -> Lanes<S> {
    let z = x * x;
    let w = z * z;
    let r = z * (z * (z * C3 + C2) + C1) + w * w * (z * (z * C6 + C5) + C4);
    let half = z * 0.5;
    let one = x.like(1.0);
    let high = one - half;
    high + (((one - high) - half) + (z * r - x * low))
}

#[cfg(test)]
mod tests {
    use super::*;
    use pulp::Scalar;

    fn sin_cos(angle: f64) -> (f64, f64) {
        let turn = Turn::of(Lanes::new(Scalar, angle));
        (turn.sin.register(), turn.cos.register())
    }

    /// Distance in units of the last place of `want`, with 1e-30 let go.
    fn ulps(got: f64, want: f64) -> f64 {
        let ulp = (want.abs().next_up() - want.abs()).max(1e-30);
        (got - want).abs() / ulp
    }

    #[track_caller]
    fn check(angle: f64) -> f64 {
        let (s, c) = sin_cos(angle);
        let worst = ulps(s, angle.sin()).max(ulps(c, angle.cos()));
        assert!(
            worst <= 1.5,
            "at {angle:e}: {s:e} {c:e}, off by {worst} ulp"
        );
        worst
    }

    #[test]
    fn next_to_the_standard_library() {
        // a lattice through all quadrants, and close to every right angle within the bound
        for step in -40_000..=40_000 {
            check(f64::from(step) * 1.0e-3);
            check(f64::from(step) * 2.499_7);
        }
        for count in -63_661..=63_661 {
            let near = f64::from(count) * std::f64::consts::FRAC_PI_2;
            for angle in [
                near,
                near.next_up(),
                near.next_down(),
                near + 1e-9,
                near - 1e-5,
            ] {
                check(angle);
            }
        }
        // the numbers that a linear congruence gives from 1 on; printed on failure by `check`
        let mut seed = 1_u64;
        for _ in 0..400_000 {
            seed = seed
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            let unit = (seed >> 11) as f64 / (1_u64 << 53) as f64;
            check((2.0 * unit - 1.0) * ANGLE_AT_MOST_RAD);
            check((2.0 * unit - 1.0) * 4.0);
            check((2.0 * unit - 1.0) * 1e-6);
        }
    }

    #[test]
    fn corners() {
        assert_eq!(sin_cos(0.0), (0.0, 1.0));
        assert_eq!(sin_cos(1e-300).0, 1e-300);
        // π and 2π as f64 are off by these much (from memory: sin of the double nearest π)
        assert_eq!(sin_cos(std::f64::consts::PI).0, 1.224_646_799_147_353_2e-16);
        check(ANGLE_AT_MOST_RAD);
        check(-ANGLE_AT_MOST_RAD);
        let (s, c) = sin_cos(f64::NAN);
        assert!(s.is_nan() && c.is_nan());
    }

    #[test]
    fn turning_on_and_back_adds_and_takes_off() {
        for (a, b) in [(0.3, 1.1), (-2.0, 0.4), (3.0, 3.0)] {
            let (ta, tb) = (
                Turn::of(Lanes::new(Scalar, a)),
                Turn::of(Lanes::new(Scalar, b)),
            );
            assert!((ta.on_by(tb).sin.register() - (a + b).sin()).abs() < 1e-15);
            assert!((ta.back_by(tb).cos.register() - (a - b).cos()).abs() < 1e-15);
        }
    }

    #[test]
    fn the_pieces_add_up_to_a_right_angle() {
        assert_eq!(RIGHT_ANGLE_1.to_bits(), 0x3FF9_21FB_5440_0000);
        assert_eq!(RIGHT_ANGLE_2.to_bits(), 0x3DD0_B461_1A60_0000);
        assert_eq!(RIGHT_ANGLE_3.to_bits(), 0x3BA3_198A_2E03_7073);
        // the first two are exact when multiplied by any count within the bound
        for piece in [RIGHT_ANGLE_1, RIGHT_ANGLE_2] {
            assert!(20 <= piece.to_bits().trailing_zeros());
        }
    }
}
