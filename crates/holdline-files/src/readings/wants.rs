//! What a column of readings can be: names, units, and the span in which a reading is plausible.
//!
//! A column is named after what it holds and its unit: `boom_deg`, `easting_m`, `S-stick_rad`.
//! Rows of the tables here are all there is to it; a new quantity or unit is a new row.

use std::f64::consts::PI;

use holdline::tooth::bounds;
use holdline_geom::fault::Span;

/// What a reading measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Quantity {
    /// Pitch or roll of the house.
    Attitude,
    /// Azimuth, clockwise from north.
    Heading,
    /// Angle of a joint, or what a sensor on a link reads.
    Angle,
    /// Easting or northing.
    Grid,
    /// Elevation.
    Elevation,
}

/// What a unit measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Dimension {
    /// Angles.
    Angle,
    /// Lengths.
    Length,
}

/// A unit that a column's name can end in.
#[derive(Debug, PartialEq)]
pub struct Unit {
    /// As in the column's name.
    pub suffix: &'static str,
    /// What it measures.
    pub dimension: Dimension,
    /// In radians or metres: `value * times / by`.
    pub times: f64,
    /// See `times`.
    pub by: f64,
}

/// All units.
pub const UNITS: &[Unit] = &[
    unit("deg", Dimension::Angle, PI / 180.0, 1.0),
    unit("rad", Dimension::Angle, 1.0, 1.0),
    unit("gon", Dimension::Angle, PI, 200.0),
    unit("m", Dimension::Length, 1.0, 1.0),
    unit("mm", Dimension::Length, 1.0, 1000.0),
    unit("ft", Dimension::Length, 0.3048, 1.0), // international
    unit("usft", Dimension::Length, 1200.0, 3937.0), // US survey
];

const fn unit(suffix: &'static str, dimension: Dimension, times: f64, by: f64) -> Unit {
    Unit {
        suffix,
        dimension,
        times,
        by,
    }
}

impl Quantity {
    /// What its units measure.
    pub fn dimension(self) -> Dimension {
        match self {
            Quantity::Attitude | Quantity::Heading | Quantity::Angle => Dimension::Angle,
            Quantity::Grid | Quantity::Elevation => Dimension::Length,
        }
    }

    /// Least and largest plausible value, degrees or metres: the row that the tooth itself goes by.
    pub fn plausible(self) -> &'static Span {
        match self {
            Quantity::Attitude => &bounds::HOUSE_LEAN,
            Quantity::Heading => &bounds::HEADING,
            Quantity::Angle => &bounds::ANGLE,
            Quantity::Grid => &bounds::GRID,
            Quantity::Elevation => &bounds::ELEVATION,
        }
    }
}

impl Unit {
    /// A value in radians or metres.
    pub fn to_si(&self, value: f64) -> f64 {
        value * self.times / self.by
    }

    /// A row in degrees or metres, in this unit.
    pub fn span(&self, span: &Span) -> (f64, f64) {
        let Span { min, max, .. } = span;
        let base = match self.dimension {
            Dimension::Angle => PI / 180.0,
            Dimension::Length => 1.0,
        };
        let scale = base * self.by / self.times;
        (min * scale, max * scale)
    }
}

/// Columns that most logs have: name without unit, and what it is.
pub const STANDARD: &[(&str, Quantity)] = &[
    ("pitch", Quantity::Attitude),
    ("roll", Quantity::Attitude),
    ("heading", Quantity::Heading),
    ("swing", Quantity::Heading),
    ("boom", Quantity::Angle),
    ("boom_upper", Quantity::Angle),
    ("stick", Quantity::Angle),
    ("idler", Quantity::Angle),
    ("bucket", Quantity::Angle),
    ("post", Quantity::Angle),
    ("offset", Quantity::Angle),
    ("tilt", Quantity::Angle),
    ("rotation", Quantity::Angle),
    ("easting", Quantity::Grid),
    ("northing", Quantity::Grid),
    ("elevation", Quantity::Elevation),
    ("easting_2", Quantity::Grid),
    ("northing_2", Quantity::Grid),
    ("elevation_2", Quantity::Elevation),
];

/// Columns that are copied to the output as they stand, where there is one.
pub const CARRIED: &[&str] = &[
    "time", "time_s", "time_ms", "time_utc", "date", "id", "shot",
];

/// A column that is asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct Want {
    /// Names it may have, without unit; the first is the one that messages use.
    pub names: Vec<String>,
    /// What it is.
    pub quantity: Quantity,
    /// Whether it may be left out.
    pub need: Need,
}

/// Whether a column may be left out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Need {
    /// Nothing can be worked out without it.
    Needed,
    /// Used where it is there.
    Optional,
}

impl Want {
    /// A column of [`STANDARD`] that must be there; another name is that of an angle sensor.
    pub fn needed(name: &str) -> Want {
        let quantity = STANDARD.iter().find(|(n, _)| *n == name).map(|(_, q)| *q);
        Want {
            names: vec![name.to_owned()],
            quantity: quantity.unwrap_or(Quantity::Angle),
            need: Need::Needed,
        }
    }

    /// The same, used where it is there.
    pub fn optional(name: &str) -> Want {
        Want {
            need: Need::Optional,
            ..Want::needed(name)
        }
    }

    /// The same column under one more name, such as the id of its sensor.
    #[must_use]
    pub fn or_named(mut self, name: &str) -> Want {
        self.names.push(name.to_owned());
        self
    }

    /// The same column, holding this.
    #[must_use]
    pub fn holding(mut self, quantity: Quantity) -> Want {
        self.quantity = quantity;
        self
    }

    /// Name for messages.
    pub fn name(&self) -> &str {
        self.names.first().map_or("", String::as_str)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn si(suffix: &str, value: f64) -> f64 {
        let unit = UNITS.iter().find(|u| u.suffix == suffix).expect("a unit");
        unit.to_si(value)
    }

    #[test]
    fn units_by_definition() {
        assert_eq!(si("deg", 180.0), PI);
        assert_eq!(si("gon", 200.0), PI);
        assert_eq!(si("rad", 1.25), 1.25);
        assert_eq!(si("mm", 1.0), 0.001);
        assert_eq!(si("ft", 1.0), 0.3048); // international foot, by definition
        assert_eq!(si("usft", 3937.0), 1200.0); // US survey foot, by definition
    }

    #[test]
    fn spans_follow_the_unit() {
        let unit = |s: &str| UNITS.iter().find(|u| u.suffix == s).expect("a unit");
        let near = |got: (f64, f64), want: f64| assert!((got.1 - want).abs() < 1e-9 * want);
        near(unit("deg").span(Quantity::Angle.plausible()), 720.0);
        near(unit("rad").span(Quantity::Angle.plausible()), 4.0 * PI);
        near(unit("gon").span(Quantity::Angle.plausible()), 800.0);
        near(unit("mm").span(Quantity::Elevation.plausible()), 1.0e7);
        near(
            unit("usft").span(Quantity::Elevation.plausible()),
            1.0e4 * 3937.0 / 1200.0,
        );
    }
}
