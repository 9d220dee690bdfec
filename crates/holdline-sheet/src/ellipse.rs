//! The ellipse of a covariance: where a point lies to about so many standard uncertainties.
//!
//! Half axes are `k` times the roots of the eigenvalues. For `k` = 2 each direction by itself holds about 95 %;
//! both together about 86 % (1 − exp(−k²/2)), so it is named by its `k`, not by a percentage.

use crate::geometry::{Pt, Step, circle, pt};

/// Half axes and turn of an ellipse.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ellipse {
    /// Larger half axis, in the root of the covariance's unit.
    pub long: f64,
    /// Smaller half axis.
    pub short: f64,
    /// Turn of the larger one, counter-clockwise from the first direction, rad.
    pub turn_rad: f64,
}

/// The ellipse of a covariance of two directions; `None` unless its three numbers are finite and it is one.
pub fn ellipse_of(covariance: [[f64; 2]; 2], k: f64) -> Option<Ellipse> {
    let [[a, b], [_, d]] = covariance;
    let half = (a - d) / 2.0;
    let root = half.hypot(b);
    let middle = (a + d) / 2.0;
    let (large, small) = (middle + root, middle - root);
    // A covariance that is none by more than rounding is refused, and so is what is not a number.
    if !(large.is_finite() && -1e-9 * large <= small && 0.0 < large && 0.0 < k) {
        return None;
    }
    Some(Ellipse {
        long: k * large.sqrt(),
        short: k * small.max(0.0).sqrt(),
        turn_rad: b.atan2(half) / 2.0,
    })
}

/// The path of an ellipse about a point on paper; first direction to the right, second up.
pub fn path(middle: Pt, ellipse: &Ellipse, mm_per_unit: f64) -> Vec<Step> {
    let (cos, sin) = (ellipse.turn_rad.cos(), ellipse.turn_rad.sin());
    let put = |p: Pt| {
        let (u, v) = (
            p.x * ellipse.long * mm_per_unit,
            -p.y * ellipse.short * mm_per_unit,
        );
        middle.by(u * cos - v * sin, -(u * sin + v * cos))
    };
    circle(pt(0.0, 0.0), 1.0)
        .into_iter()
        .map(|step| match step {
            Step::Move(p) => Step::Move(put(p)),
            Step::Line(p) => Step::Line(put(p)),
            Step::Curve(a, b, c) => Step::Curve(put(a), put(b), put(c)),
            Step::Close => Step::Close,
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Rect;

    #[test]
    fn axes_of_known_covariances() {
        let found = ellipse_of([[9.0, 0.0], [0.0, 4.0]], 2.0).expect("one");
        assert_eq!((found.long, found.short, found.turn_rad), (6.0, 4.0, 0.0));
        let upright = ellipse_of([[4.0, 0.0], [0.0, 9.0]], 1.0).expect("one");
        assert!((upright.turn_rad.abs() - std::f64::consts::FRAC_PI_2).abs() < 1e-12);
        // 45°: eigenvalues a ± b.
        let slanted = ellipse_of([[5.0, 4.0], [4.0, 5.0]], 1.0).expect("one");
        assert!((slanted.long - 3.0).abs() < 1e-12 && (slanted.short - 1.0).abs() < 1e-12);
        assert!((slanted.turn_rad - std::f64::consts::FRAC_PI_4).abs() < 1e-12);
        let flat = ellipse_of([[1.0, 1.0], [1.0, 1.0]], 1.0).expect("a line");
        assert!(flat.short < 1e-6);
        for bad in [
            [[f64::NAN, 0.0], [0.0, 1.0]],
            [[1.0, 2.0], [2.0, 1.0]],
            [[0.0, 0.0], [0.0, 0.0]],
            [[-1.0, 0.0], [0.0, -1.0]],
        ] {
            assert_eq!(ellipse_of(bad, 2.0), None, "{bad:?}");
        }
    }

    #[test]
    fn the_path_reaches_as_far_as_the_sd_of_each_direction() {
        let covariance = [[5.0, 2.0], [2.0, 3.0]];
        let ellipse = ellipse_of(covariance, 2.0).expect("one");
        let ends = path(pt(0.0, 0.0), &ellipse, 1.0);
        // Four curves: their ends lie on the ellipse, p' C⁻¹ p = k².
        let det = 5.0 * 3.0 - 4.0;
        let mut seen = 0;
        for step in &ends {
            if let Step::Curve(_, _, p) = step {
                let (x, y) = (p.x, -p.y);
                let got = (3.0 * x * x - 4.0 * x * y + 5.0 * y * y) / det;
                assert!((got - 4.0).abs() < 1e-9, "{got}");
                seen += 1;
            }
        }
        assert!(seen >= 4);
        let points = ends.iter().filter_map(|step| match step {
            Step::Curve(_, _, p) => Some(*p),
            _ => None,
        });
        let around = Rect::around(points).expect("points");
        assert!(around.width() <= 2.0 * 2.0 * 5.0_f64.sqrt() + 1e-9);
    }
}
