//! Figures as people read them: sign where it means something, a unit on every number, the uncertainty
//! beside it, and never more digits than the uncertainty carries.
//!
//! Source: JCGM 100 (GUM) 7.2.6, two significant digits at most for an uncertainty, the value to the same
//! place; its two examples are rows of the tests (from memory).

use holdline_geom::measured::Measured;

/// When a plus stands before a figure. A minus always does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Sign {
    /// Only a minus is written: lengths, coordinates.
    Minus,
    /// Both are written: differences, offsets, angles, heights above a mark.
    #[default]
    Both,
}

/// How wide the stated interval is, in standard uncertainties.
///
/// A `±` after a figure is read as an interval that nearly always holds (GUM 7.2.4, from memory),
/// so sheets write `k = 2` and say so.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Coverage {
    /// The standard uncertainty itself, k = 1.
    Standard,
    /// Twice the standard uncertainty, k = 2, about 95 %.
    Twice,
}

impl Coverage {
    /// The factor k.
    pub const fn k(self) -> f64 {
        match self {
            Coverage::Standard => 1.0,
            Coverage::Twice => 2.0,
        }
    }
}

/// How a kind of number is written.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Kind {
    /// Unit as printed.
    pub unit: &'static str,
    /// So many of the unit are one of the SI unit (or radian) inside.
    pub per_si: f64,
    /// Sign.
    pub sign: Sign,
    /// Decimals when no uncertainty is stated.
    pub bare_decimals: i32,
    /// Decimals at most.
    pub most_decimals: i32,
}

/// Lengths and coordinates in metres.
pub const METRES: Kind = Kind {
    unit: "m",
    per_si: 1.0,
    sign: Sign::Minus,
    bare_decimals: 3,
    most_decimals: 3,
};
/// Heights above a mark and other signed lengths in metres.
pub const METRES_SIGNED: Kind = Kind {
    sign: Sign::Both,
    ..METRES
};
/// Small lengths in millimetres.
pub const MILLIMETRES: Kind = Kind {
    unit: "mm",
    per_si: 1000.0,
    sign: Sign::Minus,
    bare_decimals: 0,
    most_decimals: 1,
};
/// Differences in millimetres.
pub const MILLIMETRES_SIGNED: Kind = Kind {
    sign: Sign::Both,
    ..MILLIMETRES
};
/// Angles in degrees, from radians.
pub const DEGREES: Kind = Kind {
    unit: "°",
    per_si: 180.0 / std::f64::consts::PI,
    sign: Sign::Both,
    bare_decimals: 2,
    most_decimals: 2,
};
/// Masses in kilograms.
pub const KILOGRAMS: Kind = Kind {
    unit: "kg",
    per_si: 1.0,
    sign: Sign::Minus,
    bare_decimals: 0,
    most_decimals: 1,
};
/// International feet, from metres.
pub const FEET_INTERNATIONAL: Kind = Kind {
    unit: "ft (intl)",
    per_si: 1.0 / 0.3048,
    sign: Sign::Minus,
    bare_decimals: 2,
    most_decimals: 3,
};
/// US survey feet, from metres.
pub const FEET_US_SURVEY: Kind = Kind {
    unit: "ft (US survey)",
    per_si: 3937.0 / 1200.0,
    ..FEET_INTERNATIONAL
};

/// Said where nobody stated an uncertainty.
pub const NONE_STATED: &str = "no uncertainty stated";
/// Said where there is no number.
pub const NOT_KNOWN: &str = "not known";

/// A figure in print.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Figure {
    /// The value with its sign, without its unit.
    pub value: String,
    /// Its unit.
    pub unit: &'static str,
    /// `± 0.038`, or in words that none was stated.
    pub uncertainty: String,
}

impl Figure {
    /// Value and unit, such as `24.690 m` or `−32.5°`.
    pub fn value_and_unit(&self) -> String {
        match self.unit {
            "" => self.value.clone(),
            "°" | "%" => format!("{}{}", self.value, self.unit),
            unit => format!("{} {unit}", self.value),
        }
    }

    /// All of it on one line.
    pub fn text(&self) -> String {
        match (self.uncertainty.as_str(), self.uncertainty == NONE_STATED) {
            ("", _) => self.value_and_unit(),
            (words, true) => format!("{}, {words}", self.value_and_unit()),
            (interval, false) => format!("{} {interval}", self.value_and_unit()),
        }
    }
}

/// A figure with its uncertainty, as sheets write it.
///
/// An uncertainty that is zero, negative or not finite counts as not stated.
pub fn figure(measured: Measured, kind: &Kind, coverage: Coverage) -> Figure {
    let value = measured.value * kind.per_si;
    if !value.is_finite() {
        return Figure {
            value: NOT_KNOWN.to_owned(),
            unit: "",
            uncertainty: String::new(),
        };
    }
    let interval = measured.sd.map(|sd| sd * kind.per_si * coverage.k());
    match interval.filter(|u| u.is_finite() && 0.0 < *u) {
        None => Figure {
            value: rounded(value, kind.bare_decimals, kind.sign),
            unit: kind.unit,
            uncertainty: NONE_STATED.to_owned(),
        },
        Some(u) => {
            let (u, decimals) = two_digits(u, kind.most_decimals);
            let unit = if kind.unit == "°" { "°" } else { "" };
            Figure {
                value: rounded(value, decimals, kind.sign),
                unit: kind.unit,
                uncertainty: format!("± {}{unit}", rounded(u, decimals, Sign::Minus)),
            }
        }
    }
}

/// A number that is exact or stated by somebody, such as a tolerance: no uncertainty belongs to it.
pub fn plain(value_si: f64, kind: &Kind, decimals: i32) -> String {
    let value = value_si * kind.per_si;
    if !value.is_finite() {
        return NOT_KNOWN.to_owned();
    }
    let value = rounded(value, decimals, kind.sign);
    Figure {
        value,
        unit: kind.unit,
        uncertainty: String::new(),
    }
    .value_and_unit()
}

/// A figure rounded to so many decimals, with a true minus; zero has no sign. Negative decimals round to tens.
///
/// What is not finite is said in words.
pub fn rounded(value: f64, decimals: i32, sign: Sign) -> String {
    if !value.is_finite() {
        return NOT_KNOWN.to_owned();
    }
    let text = if decimals >= 0 {
        format!("{:.*}", decimals.unsigned_abs() as usize, value.abs())
    } else {
        let place = 10_f64.powi(-decimals);
        format!("{:.0}", (value.abs() / place).round() * place)
    };
    let is_zero = text.chars().all(|c| c == '0' || c == '.');
    match sign {
        _ if is_zero => text,
        _ if value < 0.0 => format!("\u{2212}{text}"),
        Sign::Both => format!("+{text}"),
        Sign::Minus => text,
    }
}

/// An uncertainty to two significant digits and the decimals that go with it.
///
/// To the nearest, but up where the nearest would take off more than a fortieth:
/// 10.47 becomes 11 and 28.05 becomes 28.
fn two_digits(u: f64, most_decimals: i32) -> (f64, i32) {
    let mut decimals = (1 - u.log10().floor() as i32).min(most_decimals);
    loop {
        let place = 10_f64.powi(-decimals);
        let nearest = (u / place).round() * place;
        let kept = if nearest < u * (1.0 - 1.0 / 40.0) {
            (u / place).ceil() * place
        } else {
            nearest
        };
        let kept = kept.max(place);
        if kept / place < 99.5 {
            return (kept, decimals);
        }
        decimals -= 1; // 0.0996 has become 0.100: one digit too many
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(value: f64, sd: Option<f64>, kind: &Kind, want: &str) {
        let got = figure(Measured { value, sd }, kind, Coverage::Standard).text();
        assert_eq!(got, want);
    }

    #[test]
    fn the_two_examples_of_the_guide() {
        // GUM 7.2.6 (from memory): 10.47 may become 11, 28.05 should become 28.
        assert_eq!(two_digits(10.47, 3), (11.0, 0));
        assert_eq!(two_digits(28.05, 3), (28.0, 0));
    }

    #[test]
    fn no_more_digits_than_the_uncertainty_carries() {
        check(24.690_31, Some(0.038), &METRES, "24.690 m ± 0.038");
        check(24.690_31, Some(0.003_8), &METRES, "24.690 m ± 0.004");
        check(24.690_31, Some(0.38), &METRES, "24.69 m ± 0.38");
        check(24.690_31, Some(3.8), &METRES, "24.7 m ± 3.8");
        check(24.690_31, Some(38.0), &METRES, "25 m ± 38");
        check(1234.0, Some(380.0), &METRES, "1230 m ± 380");
        check(0.123, Some(0.099_6), &METRES, "0.12 m ± 0.10");
        check(5.72, Some(1e-9), &METRES, "5.720 m ± 0.001");
    }

    #[test]
    fn signs_and_units() {
        check(-0.0123, Some(0.002), &MILLIMETRES_SIGNED, "−12.3 mm ± 2.0");
        check(0.0123, Some(0.002), &MILLIMETRES_SIGNED, "+12.3 mm ± 2.0");
        check(0.000_01, Some(0.002), &MILLIMETRES_SIGNED, "0.0 mm ± 2.0");
        check(
            -32.5_f64.to_radians(),
            Some(0.04_f64.to_radians()),
            &DEGREES,
            "−32.50° ± 0.04°",
        );
        check(
            0.3048,
            None,
            &FEET_INTERNATIONAL,
            "1.00 ft (intl), no uncertainty stated",
        );
        check(
            1200.0 / 3937.0,
            Some(0.01),
            &FEET_US_SURVEY,
            "1.000 ft (US survey) ± 0.033",
        );
    }

    #[test]
    fn unknown_is_said_in_words() {
        check(2.85, None, &METRES, "2.850 m, no uncertainty stated");
        for bad in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            check(2.85, Some(bad), &METRES, "2.850 m, no uncertainty stated");
        }
        check(f64::NAN, Some(0.1), &METRES, "not known");
        check(f64::INFINITY, None, &METRES, "not known");
        assert_eq!(plain(f64::NAN, &METRES, 3), "not known");
        assert_eq!(rounded(f64::INFINITY, 1, Sign::Both), "not known");
    }

    #[test]
    fn twice_is_twice() {
        let got = figure(Measured::with_sd(5.72, 0.003), &METRES, Coverage::Twice);
        assert_eq!(got.text(), "5.720 m ± 0.006");
    }
}
