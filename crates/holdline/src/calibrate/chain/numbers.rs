//! Sines and the like from one library, so that the same list gives the same bytes everywhere.

use nalgebra::{ComplexField, RealField};

/// Cosine and sine: the direction of an angle.
pub(crate) fn sin_cos(angle_rad: f64) -> [f64; 2] {
    let (sin, cos) = ComplexField::sin_cos(angle_rad);
    [cos, sin]
}

/// Angle of a direction.
pub(crate) fn atan2(y: f64, x: f64) -> f64 {
    RealField::atan2(y, x)
}

pub(crate) fn plus(a: [f64; 2], b: [f64; 2]) -> [f64; 2] {
    [a[0] + b[0], a[1] + b[1]]
}

pub(crate) fn scaled(v: [f64; 2], by: f64) -> [f64; 2] {
    [v[0] * by, v[1] * by]
}
