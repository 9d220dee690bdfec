//! What lengths are shown in: chosen once for a sheet. Inside it stays metres.

use crate::figure::{
    FEET_INTERNATIONAL, FEET_US_SURVEY, Kind, METRES, METRES_SIGNED, MILLIMETRES,
    MILLIMETRES_SIGNED, NOT_KNOWN, Sign, plain, rounded,
};

/// What lengths are shown in. There are two kinds of feet, and they are not mixed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Lengths {
    /// Metres, small ones in millimetres.
    #[default]
    Metric,
    /// International feet, 0.3048 m.
    InternationalFeet,
    /// US survey feet, 1200/3937 m.
    UsSurveyFeet,
}

impl Lengths {
    /// Lengths and coordinates.
    pub const fn length(self) -> Kind {
        match self {
            Lengths::Metric => METRES,
            Lengths::InternationalFeet => FEET_INTERNATIONAL,
            Lengths::UsSurveyFeet => FEET_US_SURVEY,
        }
    }

    /// Lengths whose sign says something.
    pub const fn signed(self) -> Kind {
        match self {
            Lengths::Metric => METRES_SIGNED,
            Lengths::InternationalFeet | Lengths::UsSurveyFeet => Kind {
                sign: Sign::Both,
                ..self.length()
            },
        }
    }

    /// Lengths with one decimal more, where their uncertainty carries it.
    pub const fn fine(self) -> Kind {
        let kind = self.length();
        Kind {
            most_decimals: kind.most_decimals + 1,
            ..kind
        }
    }

    /// Small lengths without a sign.
    pub const fn small(self) -> Kind {
        match self {
            Lengths::Metric => MILLIMETRES,
            Lengths::InternationalFeet | Lengths::UsSurveyFeet => self.length(),
        }
    }

    /// Differences.
    pub const fn difference(self) -> Kind {
        match self {
            Lengths::Metric => MILLIMETRES_SIGNED,
            Lengths::InternationalFeet | Lengths::UsSurveyFeet => self.signed(),
        }
    }

    /// So many of the unit of small lengths are one metre.
    pub const fn small_per_m(self) -> f64 {
        self.small().per_si
    }

    /// The unit of small lengths.
    pub const fn small_unit(self) -> &'static str {
        self.small().unit
    }

    /// Decimals of a small length that would carry so many in millimetres.
    pub const fn decimals(self, in_mm: i32) -> i32 {
        match self {
            Lengths::Metric => in_mm,
            Lengths::InternationalFeet | Lengths::UsSurveyFeet => in_mm + 3,
        }
    }

    /// A round step of small lengths that is worth a line on a map: a millimetre, or five thousandths of a foot.
    pub const fn least_step(self) -> f64 {
        match self {
            Lengths::Metric => 1.0,
            Lengths::InternationalFeet | Lengths::UsSurveyFeet => 0.005,
        }
    }

    /// A small length in so many decimals of a millimetre, with its unit; in words when it is not known.
    pub fn small_text(self, value_m: Option<f64>, decimals_in_mm: i32, sign: Sign) -> String {
        let kind = Kind {
            sign,
            ..self.small()
        };
        match value_m.filter(|m| m.is_finite()) {
            Some(m) => plain(m, &kind, self.decimals(decimals_in_mm)),
            None => NOT_KNOWN.to_owned(),
        }
    }

    /// An expanded uncertainty: whole millimetres from 10 up, tenths below, without `±`.
    pub fn u_text(self, u_m: Option<f64>) -> String {
        let below_ten = u_m.is_some_and(|u| u.abs() < 0.009_95);
        self.small_text(u_m, i32::from(below_ten), Sign::Minus)
    }

    /// A number that is already in the unit of small lengths, such as a contour's, with its unit.
    pub fn small_number(self, value: f64, decimals: i32) -> String {
        format!(
            "{} {}",
            rounded(value, decimals, Sign::Minus),
            self.small_unit()
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_length_in_three_units() {
        let text = |lengths: Lengths| lengths.small_text(Some(0.0123), 1, Sign::Both);
        assert_eq!(text(Lengths::Metric), "+12.3 mm");
        assert_eq!(text(Lengths::InternationalFeet), "+0.0404 ft (intl)");
        assert_eq!(text(Lengths::UsSurveyFeet), "+0.0404 ft (US survey)");
        assert_eq!(Lengths::Metric.u_text(Some(0.038)), "38 mm");
        assert_eq!(Lengths::Metric.u_text(Some(0.0038)), "3.8 mm");
        assert_eq!(
            Lengths::InternationalFeet.u_text(Some(0.3048)),
            "1.000 ft (intl)"
        );
        assert_eq!(Lengths::Metric.u_text(Some(f64::NAN)), "not known");
        assert_eq!(Lengths::Metric.u_text(None), "not known");
    }
}
