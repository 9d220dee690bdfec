//! Triangles of pins: an angle from three sides, and the third corner over a base.

use crate::fault::Fault;
use nalgebra::RealField;

/// Angle between two sides of a triangle, opposite the third.
///
/// Used wherever a cylinder, a link or a tape closes a triangle of pins.
///
/// ```text
///                   ((a - b) + c) m                     m = c - (a - b)   if c <= b
/// tan²(γ/2) = ---------------------------   with b <= a
///             (a + (b + c)) ((a - c) + b)               m = b - (a - c)   if b < c
/// ```
///
/// `a`, `b` meet at the angle `γ`; `c` lies across from it. The brackets matter: do not tidy them.
///
/// - Units: lengths in one unit, any; angle in radians, 0 to π.
/// - Source: W. Kahan, Miscalculating Area and Angles of a Needle-like Triangle (from memory).
/// - Exact to: 5e-16 rad, also folded flat or stretched straight,
///   where the cosine rule is off by 1e-8 rad;
///   test `needles` below.
///
/// # Errors
///
/// Fault `G010` if the three lengths cannot close, with the span that would.
///
/// # Example
///
/// ```
/// let right = holdline_geom::triangle::angle_between("tape", 3.0, 4.0, 5.0)?;
/// assert!((right.to_degrees() - 90.0).abs() < 1e-12);
/// # Ok::<(), holdline_geom::fault::Fault>(())
/// ```
pub fn angle_between(at: &str, a: f64, b: f64, c: f64) -> Result<f64, Fault> {
    let (a, b) = if b <= a { (a, b) } else { (b, a) };
    let closes = 0.0 < b && a.is_finite() && a - b <= c && c <= a + b;
    if !closes {
        return Err(cannot_close(at, a, b, c));
    }
    let m = if c <= b { c - (a - b) } else { b - (a - c) }; // what is left of the shorter way round
    let above = ((a - b) + c) * m;
    let below = (a + (b + c)) * ((a - c) + b);
    Ok(2.0 * above.max(0.0).sqrt().atan2(below.max(0.0).sqrt()))
}

/// Third corner of a triangle over a base on the x axis.
///
/// Used by the four-bar linkage, where it saves every inverse cosine.
///
/// ```text
/// x = (r² + a² - b²) / (2 r)       y = 2 K / r >= 0       K = area, Heron's formula, Kahan's order
/// ```
///
/// The base runs from the origin to (r, 0); `a` is the side at the origin,
/// `b` the side at the far end.
///
/// - Units: lengths in one unit, any.
/// - Source: Heron's formula in the order of W. Kahan (from memory).
///
/// Gives `None` if the sides cannot close.
pub fn corner_over_base<S: RealField + Copy>(r: S, a: S, b: S) -> Option<[S; 2]> {
    let two = S::one() + S::one();
    let (p, q, s) = sorted(r, a, b);
    let last = s - (p - q); // what is left of the shortest side
    if !(S::zero() < s && S::zero() <= last && p < S::from_f64(f64::MAX)?) {
        return None;
    }
    let sixteen_k2 = (p + (q + s)) * last * (s + (p - q)) * (p + (q - s));
    let y = sixteen_k2.sqrt() / (two * r);
    // (r² + a² - b²) with the difference of squares as a product,
    // so that near-equal sides cancel exactly.
    let x = (r + (a - b) * (a + b) / r) / two;
    Some([x, y])
}

/// The three in falling order.
fn sorted<S: RealField + Copy>(a: S, b: S, c: S) -> (S, S, S) {
    let (a, b) = if a < b { (b, a) } else { (a, b) };
    let (b, c) = if b < c { (c, b) } else { (b, c) };
    let (a, b) = if a < b { (b, a) } else { (a, b) };
    (a, b, c)
}

fn cannot_close(at: &str, a: f64, b: f64, c: f64) -> Fault {
    Fault::new(
        "G010",
        at,
        format!("sides {a:.4} and {b:.4} with {c:.4} across"),
        format!("across from {:.4} to {:.4}", (a - b).abs(), a + b),
        "three pins must close a triangle: measure the three lengths again, in one unit",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(a: f64, b: f64, c: f64, want_deg: f64) {
        let got_deg = angle_between("test", a, b, c).expect("closes").to_degrees();
        assert!(
            (got_deg - want_deg).abs() < 1e-9,
            "got {got_deg}, want {want_deg}"
        );
    }

    #[test]
    fn known_triangles() {
        check(3.0, 4.0, 5.0, 90.0);
        check(1.0, 1.0, 1.0, 60.0);
        check(1.0, 1.0, 0.0, 0.0); // folded flat
        check(2.0, 3.0, 5.0, 180.0); // stretched straight
    }

    #[test]
    fn needles() {
        // Chord of a unit circle: c = 2 sin(γ/2), γ tiny;
        // the cosine rule would lose half the digits.
        for gamma in [1e-3_f64, 1e-6, 1e-9] {
            let c = 2.0 * (gamma / 2.0).sin();
            let got = angle_between("test", 1.0, 1.0, c).expect("closes");
            assert!((got - gamma).abs() < 5e-16, "{gamma}: {got}");
        }
    }

    #[test]
    fn what_cannot_close_is_a_fault() {
        for (a, b, c) in [
            (1.0, 1.0, 2.1),
            (3.0, 1.0, 1.9),
            (0.0, 1.0, 1.0),
            (f64::NAN, 1.0, 1.0),
            (1.0, 1.0, f64::NAN),
        ] {
            assert_eq!(angle_between("pins", a, b, c).unwrap_err().code, "G010");
            assert!(corner_over_base(c, a, b).is_none());
        }
    }

    #[test]
    fn the_corner_has_its_sides() {
        for (r, a, b) in [
            (5.0, 3.0, 4.0),
            (1.0, 0.44, 0.58),
            (0.2, 3.0, 2.9),
            (4.0, 1.0, 3.0),
        ] {
            let [x, y] = corner_over_base::<f64>(r, a, b).expect("closes");
            assert!((x.hypot(y) - a).abs() < 1e-14 && ((x - r).hypot(y) - b).abs() < 1e-14);
            assert!(0.0 <= y);
        }
    }
}
