//! Units for show, chosen once. Inside, and in every JSON number, it stays SI.

use holdline_sheet::figure::{
    FEET_INTERNATIONAL, FEET_US_SURVEY, Kind, METRES, METRES_SIGNED, MILLIMETRES,
    MILLIMETRES_SIGNED, Sign,
};
use holdline_sheet::lengths::Lengths;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What lengths are shown in. There are two kinds of feet, and they are not mixed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Units {
    /// Metres and millimetres.
    #[default]
    Metric,
    /// International feet, 0.3048 m.
    IntlFt,
    /// US survey feet, 1200/3937 m.
    UsFt,
}

impl Units {
    /// Lengths and coordinates.
    pub fn length(self) -> Kind {
        match self {
            Units::Metric => METRES,
            Units::IntlFt => FEET_INTERNATIONAL,
            Units::UsFt => FEET_US_SURVEY,
        }
    }

    /// Lengths where the sign says something: heights above a mark, places forward and left.
    pub fn signed(self) -> Kind {
        match self {
            Units::Metric => METRES_SIGNED,
            Units::IntlFt | Units::UsFt => Kind {
                sign: Sign::Both,
                ..self.length()
            },
        }
    }

    /// Small lengths without a sign.
    pub fn small(self) -> Kind {
        match self {
            Units::Metric => MILLIMETRES,
            Units::IntlFt | Units::UsFt => self.length(),
        }
    }

    /// Differences.
    pub fn difference(self) -> Kind {
        match self {
            Units::Metric => MILLIMETRES_SIGNED,
            Units::IntlFt | Units::UsFt => self.signed(),
        }
    }

    /// Decimals of a plain small length: tenths of a millimetre, or thousandths of a foot.
    pub fn small_decimals(self) -> i32 {
        match self {
            Units::Metric => 1,
            Units::IntlFt | Units::UsFt => 3,
        }
    }

    /// The units' name on a sheet.
    pub fn words(self) -> &'static str {
        match self {
            Units::Metric => "metres, degrees",
            Units::IntlFt => "international feet, degrees",
            Units::UsFt => "US survey feet, degrees",
        }
    }
}

impl From<Units> for Lengths {
    fn from(units: Units) -> Lengths {
        match units {
            Units::Metric => Lengths::Metric,
            Units::IntlFt => Lengths::InternationalFeet,
            Units::UsFt => Lengths::UsSurveyFeet,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use holdline_sheet::figure::plain;

    #[test]
    fn two_kinds_of_feet_are_told_apart() {
        assert_eq!(plain(0.3048, &Units::IntlFt.length(), 3), "1.000 ft (intl)");
        assert_eq!(
            plain(1200.0 / 3937.0, &Units::UsFt.signed(), 3),
            "+1.000 ft (US survey)"
        );
        assert_eq!(
            plain(-0.0123, &Units::Metric.difference(), 1),
            "\u{2212}12.3 mm"
        );
    }
}
