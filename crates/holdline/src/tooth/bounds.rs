//! What a reading can be at all: beyond these bounds it is no reading.

use holdline_geom::fault::{Fault, Span};
use nalgebra::RealField;

/// Pitch or roll of a house that stands on its tracks.
pub const HOUSE_LEAN: Span = Span {
    code: "T004",
    what: "pitch or roll of a house on its tracks",
    unit: "°",
    min: -46.0,
    max: 46.0,
    fix: "look at the house sensor and its unit: degrees read as radians look like this",
};

/// An angle of a sensor or joint.
pub const ANGLE: Span = Span {
    code: "T004",
    what: "an angle of at most two turns",
    unit: "°",
    min: -720.0,
    max: 720.0,
    fix: "look at the sensor and its unit: degrees read as radians look like this",
};

/// Heading.
pub const HEADING: Span = Span {
    code: "T004",
    what: "heading, clockwise from grid north",
    unit: "°",
    min: -360.0,
    max: 360.0,
    fix: "look at the heading's unit: degrees read as radians look like this",
};

/// Easting or northing.
pub const GRID: Span = Span {
    code: "T004",
    what: "easting or northing of an antenna",
    unit: "m",
    min: -2.0e7,
    max: 2.0e7,
    fix: "give grid coordinates in metres, not degrees and not millimetres",
};

/// Elevation.
pub const ELEVATION: Span = Span {
    code: "T004",
    what: "elevation of an antenna",
    unit: "m",
    min: -1000.0,
    max: 10_000.0,
    fix: "give the elevation in metres over the site's datum",
};

/// [`HOUSE_LEAN`] in radians; this and the next are for the columns of `batch`.
pub(super) const HOUSE_LEAN_RAD: [f64; 2] = in_radians(&HOUSE_LEAN);
/// [`ANGLE`] in radians.
pub(super) const ANGLE_RAD: [f64; 2] = in_radians(&ANGLE);
/// [`HEADING`] in radians.
pub(super) const HEADING_RAD: [f64; 2] = in_radians(&HEADING);
/// [`GRID`].
pub(super) const GRID_M: [f64; 2] = [GRID.min, GRID.max];
/// [`ELEVATION`].
pub(super) const ELEVATION_M: [f64; 2] = [ELEVATION.min, ELEVATION.max];

const fn in_radians(span: &Span) -> [f64; 2] {
    [span.min.to_radians(), span.max.to_radians()]
}

/// Passes a value that lies within the span; NaN and infinities do not.
pub(super) fn within<S: RealField + Copy>(
    span: &Span,
    at: impl FnOnce() -> String,
    value: S,
) -> Result<(), Fault> {
    let (min, max): (S, S) = (nalgebra::convert(span.min), nalgebra::convert(span.max));
    if min <= value && value <= max {
        return Ok(());
    }
    span.check(&at(), nalgebra::convert_unchecked(value))
        .map(|_| ())
}

/// As [`within`], for an angle in radians and a span in degrees.
pub(super) fn angle_within<S: RealField + Copy>(
    span: &Span,
    at: impl FnOnce() -> String,
    angle_rad: S,
) -> Result<(), Fault> {
    let degrees: S = nalgebra::convert(180.0 / std::f64::consts::PI);
    within(span, at, angle_rad * degrees)
}

#[cfg(test)]
mod tests {
    use super::*;
    use num_dual::Dual64;

    #[test]
    fn what_is_not_a_number_never_passes_nor_for_dual_numbers() {
        for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 47.0] {
            let fault = within(&HOUSE_LEAN, || "house".to_owned(), bad).unwrap_err();
            assert_eq!((fault.code, fault.at.as_str()), ("T004", "house"));
            assert!(within(&HOUSE_LEAN, String::new, Dual64::new(bad, 1.0)).is_err());
        }
        assert_eq!(
            angle_within(&HEADING, String::new, Dual64::new(6.25, 1.0)),
            Ok(())
        );
    }

    #[test]
    fn degrees_read_as_radians_are_told_in_degrees() {
        let fault = angle_within(&HEADING, || "heading".to_owned(), 63.0).unwrap_err();
        assert!(fault.got.starts_with("3609.6"), "{}", fault.got);
    }
}
