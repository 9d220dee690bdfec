//! The sheet's units, and the factors that turn its numbers into metres, radians, kilograms and seconds.

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::table::{Dim, Word, meaning};

/// Units of length, with metres in one.
pub static LENGTH_UNITS: [Word<f64>; 4] = [
    Word {
        word: "m",
        label: "metre",
        means: 1.0,
    },
    Word {
        word: "mm",
        label: "millimetre",
        means: 0.001,
    },
    Word {
        word: "intl-ft",
        label: "international foot, 0.3048 m",
        means: 0.3048,
    },
    Word {
        word: "us-ft",
        label: "US survey foot, 1200/3937 m",
        means: 1200.0 / 3937.0,
    },
];

/// Units of angle, with radians in one.
pub static ANGLE_UNITS: [Word<f64>; 2] = [
    Word {
        word: "deg",
        label: "degree",
        means: std::f64::consts::PI / 180.0,
    },
    Word {
        word: "rad",
        label: "radian",
        means: 1.0,
    },
];

/// Units of mass, with kilograms in one.
pub static MASS_UNITS: [Word<f64>; 2] = [
    Word {
        word: "kg",
        label: "kilogram",
        means: 1.0,
    },
    Word {
        word: "t",
        label: "tonne",
        means: 1000.0,
    },
];

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
    /// The units that a sheet states, whatever else is wrong with it. Where it states none that is known,
    /// SI stands in, so that the rest can be looked at; the reader notes the fault when it comes there.
    pub fn stated(sheet: &DeTable<'_>) -> Units {
        let units = sheet.get("units").map(Spanned::get_ref);
        let stated = |key: &str| match units {
            Some(DeValue::Table(units)) => units.get(key)?.get_ref().as_str(),
            _ => None,
        };
        Units {
            length: known(&LENGTH_UNITS, stated("length")).unwrap_or(SI.length),
            angle: known(&ANGLE_UNITS, stated("angle")).unwrap_or(SI.angle),
            mass: known(&MASS_UNITS, stated("mass")).unwrap_or(SI.mass),
        }
    }

    /// SI units in one unit of the sheet.
    pub fn factor(&self, dim: Dim) -> f64 {
        match dim {
            Dim::Length => meaning(&LENGTH_UNITS, self.length),
            Dim::Angle => meaning(&ANGLE_UNITS, self.angle),
            Dim::Mass => meaning(&MASS_UNITS, self.mass),
            Dim::Milliseconds => Some(0.001),
            Dim::Beside | Dim::LengthOrAngle => Some(1.0),
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
            Dim::Beside => "the unit beside it",
            Dim::LengthOrAngle => "the document's units",
        }
    }
}

fn known(words: &[Word<f64>], stated: Option<&str>) -> Option<&'static str> {
    words.iter().map(|w| w.word).find(|w| Some(*w) == stated)
}
