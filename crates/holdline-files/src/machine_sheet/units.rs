//! The sheet's units, and the factors that turn its numbers into metres, radians, kilograms and seconds.

use super::node::Node;
use super::table::Dim;
use super::words::{ANGLE_UNITS, LENGTH_UNITS, MASS_UNITS, meaning};

/// Units by their words in the sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Units {
    /// Of lengths.
    pub length: &'static str,
    /// Of angles.
    pub angle: &'static str,
    /// Of masses.
    pub mass: &'static str,
}

/// Metres, radians, kilograms: no number changes on the way in or out.
pub const SI: Units = Units {
    length: "m",
    angle: "rad",
    mass: "kg",
};

/// Metres, degrees, kilograms: what a person would write.
pub const METRIC: Units = Units {
    length: "m",
    angle: "deg",
    mass: "kg",
};

impl Units {
    /// The units that a sheet states; where it states none that is known, SI stands in, so that
    /// the rest of the sheet can be looked at. The reader has noted the fault by then.
    pub fn stated(units: Option<&Node>) -> Units {
        let word = |key: &str, words: Vec<&'static str>, otherwise: &'static str| {
            let stated = units.and_then(|u| u.text(key));
            words
                .into_iter()
                .find(|w| Some(*w) == stated.as_deref())
                .unwrap_or(otherwise)
        };
        Units {
            length: word(
                "length",
                LENGTH_UNITS.iter().map(|w| w.word).collect(),
                SI.length,
            ),
            angle: word(
                "angle",
                ANGLE_UNITS.iter().map(|w| w.word).collect(),
                SI.angle,
            ),
            mass: word("mass", MASS_UNITS.iter().map(|w| w.word).collect(), SI.mass),
        }
    }

    /// SI units in one unit of the sheet.
    pub fn factor(&self, dim: Dim) -> f64 {
        match dim {
            Dim::Length => meaning(&LENGTH_UNITS, self.length),
            Dim::Angle => meaning(&ANGLE_UNITS, self.angle),
            Dim::Mass => meaning(&MASS_UNITS, self.mass),
            Dim::Milliseconds => Some(0.001),
        }
        .unwrap_or(1.0)
    }

    /// The unit's word.
    pub fn word(&self, dim: Dim) -> &'static str {
        match dim {
            Dim::Length => self.length,
            Dim::Angle => self.angle,
            Dim::Mass => self.mass,
            Dim::Milliseconds => "ms",
        }
    }
}
