//! The entries of the control system at hand, as a person described them once.
//!
//! Plain data, one to one with the document.
//!
//! No system is known here.
//! Every label, sign, zero, unit and step comes from the person who read them off the system that stands before them.
//! Frames and signs of our own quantities: [`crate::frames`].

use crate::calibrate::observations::{ObservedTool, Target};

/// What a control system asks for, in its own words.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Terms {
    /// The machine's own name on the job; empty where the document does not say.
    pub machine: String,
    /// The system, in the person's own words; shown and nothing else.
    pub system: String,
    /// Coupler, tilting device and bucket that the entries are for.
    pub tool: ObservedTool,
    /// The tooth point at which effects are shown; empty where the document does not say.
    pub tooth: String,
    /// Who described the entries.
    pub described_by: String,
    /// When, ISO 8601.
    pub described_on: String,
    /// Free words.
    pub note: String,
    /// The entries, in the order in which they are keyed.
    pub entries: Vec<Entry>,
}

/// One entry.
///
/// ```text
/// number keyed = sign · (quantity − zero), in the entry's unit, to the next whole step
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// Its label, as it stands on the system.
    pub label: String,
    /// What it is on the machine.
    pub quantity: Quantity,
    /// Whether it counts as our quantity does.
    pub sign: EntrySign,
    /// Our quantity where the entry reads zero, m or rad.
    pub zero: f64,
    /// What the entry counts in.
    pub unit: EntryUnit,
    /// The least step that can be keyed, in the entry's unit; none where nobody described it.
    pub resolution: Option<f64>,
    /// Least and largest number that can be keyed, in the entry's unit; none where nobody described them.
    pub range: Option<[f64; 2]>,
    /// Free words.
    pub note: String,
}

/// Which way an entry counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum EntrySign {
    /// As our quantity.
    #[default]
    Same,
    /// The other way round.
    Turned,
}

/// A figure of the machine, or one that follows from several.
///
/// Two points that a quantity joins sit on one part of the machine, so that no joint changes it.
#[derive(Debug, Clone, PartialEq)]
pub enum Quantity {
    /// A figure by its path through the machine sheet, such as `boom.length`.
    Figure {
        /// The path.
        path: String,
    },
    /// Straight from one point to another, m.
    Distance {
        /// From.
        from: Target,
        /// To.
        to: Target,
    },
    /// The same, seen from above: across the part's x and y, m.
    PlanDistance {
        /// From.
        from: Target,
        /// To.
        to: Target,
    },
    /// How far one point lies from another along an axis of the part that both sit on, m.
    Along {
        /// From.
        from: Target,
        /// To.
        to: Target,
        /// The axis.
        axis: Axis,
    },
    /// Angle at a point, from one line to another, in the boom plane: counter-clockwise seen from the left +, −π to π.
    Corner {
        /// The first line goes to this point.
        from: Target,
        /// Both lines begin here.
        at: Target,
        /// The second line goes to this point.
        to: Target,
    },
    /// Which way the line between two points runs seen from above: from the part's x, to the left +, −π to π.
    PlanDirection {
        /// From.
        from: Target,
        /// To.
        to: Target,
    },
    /// How steeply the line between two points rises over the part's x and y, upward +, rad.
    Rise {
        /// From.
        from: Target,
        /// To.
        to: Target,
    },
    /// What a sensor reads when that which it measures stands at some angle, rad.
    Reading {
        /// The sensor, by its name on the sheet.
        sensor: String,
        /// Which of its readings.
        channel: Channel,
        /// The true angle, rad: of the link above the horizontal in the boom plane, of the joint, or of the house.
        at_rad: f64,
    },
}

/// A direction along a part's axes; on the house forward, left and up.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Axis {
    /// x.
    Forward,
    /// Against x.
    Back,
    /// y.
    Left,
    /// Against y.
    Right,
    /// z.
    Up,
    /// Against z.
    Down,
}

/// Which reading of a sensor.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Channel {
    /// Its only one, or the pitch of a house sensor.
    #[default]
    Main,
    /// Roll of a house sensor.
    Roll,
}

/// What an entry counts in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum EntryUnit {
    /// m.
    Metre,
    /// cm.
    Centimetre,
    /// mm.
    Millimetre,
    /// International foot, 0.3048 m.
    FootInternational,
    /// US survey foot, 1200/3937 m.
    FootUsSurvey,
    /// International inch, 25.4 mm.
    Inch,
    /// °.
    Degree,
    /// Gon, 400 a turn.
    Gon,
    /// rad.
    Radian,
    /// mrad.
    Milliradian,
    /// Slope in percent: a hundred times the tangent.
    Percent,
    /// Slope in mm per m: a thousand times the tangent.
    MillimetrePerMetre,
}

/// Lengths or angles.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Dimension {
    /// Metres inside.
    Length,
    /// Radians inside.
    Angle,
}

impl EntrySign {
    /// +1 or −1.
    pub fn factor(self) -> f64 {
        match self {
            EntrySign::Same => 1.0,
            EntrySign::Turned => -1.0,
        }
    }
}

impl Axis {
    /// The axis in x, y, z.
    pub fn unit(self) -> [f64; 3] {
        match self {
            Axis::Forward => [1.0, 0.0, 0.0],
            Axis::Back => [-1.0, 0.0, 0.0],
            Axis::Left => [0.0, 1.0, 0.0],
            Axis::Right => [0.0, -1.0, 0.0],
            Axis::Up => [0.0, 0.0, 1.0],
            Axis::Down => [0.0, 0.0, -1.0],
        }
    }

    /// Its word.
    pub fn word(self) -> &'static str {
        match self {
            Axis::Forward => "forward",
            Axis::Back => "back",
            Axis::Left => "left",
            Axis::Right => "right",
            Axis::Up => "up",
            Axis::Down => "down",
        }
    }
}

/// All units, in the order of the manual.
pub const ALL_UNITS: [EntryUnit; 12] = [
    EntryUnit::Metre,
    EntryUnit::Centimetre,
    EntryUnit::Millimetre,
    EntryUnit::FootInternational,
    EntryUnit::FootUsSurvey,
    EntryUnit::Inch,
    EntryUnit::Degree,
    EntryUnit::Gon,
    EntryUnit::Radian,
    EntryUnit::Milliradian,
    EntryUnit::Percent,
    EntryUnit::MillimetrePerMetre,
];

/// How a unit counts.
enum Scale {
    /// So many metres or radians a unit.
    Linear(f64),
    /// So many units where the tangent is one.
    Tangent(f64),
}

impl EntryUnit {
    /// Its sign on paper.
    pub fn word(self) -> &'static str {
        match self {
            EntryUnit::Metre => "m",
            EntryUnit::Centimetre => "cm",
            EntryUnit::Millimetre => "mm",
            EntryUnit::FootInternational => "ft",
            EntryUnit::FootUsSurvey => "us-ft",
            EntryUnit::Inch => "in",
            EntryUnit::Degree => "deg",
            EntryUnit::Gon => "gon",
            EntryUnit::Radian => "rad",
            EntryUnit::Milliradian => "mrad",
            EntryUnit::Percent => "%",
            EntryUnit::MillimetrePerMetre => "mm/m",
        }
    }

    /// The unit with this word.
    pub fn from_word(word: &str) -> Option<EntryUnit> {
        ALL_UNITS.into_iter().find(|unit| unit.word() == word)
    }

    /// Whether it counts lengths or angles.
    pub fn dimension(self) -> Dimension {
        match self {
            EntryUnit::Metre
            | EntryUnit::Centimetre
            | EntryUnit::Millimetre
            | EntryUnit::FootInternational
            | EntryUnit::FootUsSurvey
            | EntryUnit::Inch => Dimension::Length,
            EntryUnit::Degree
            | EntryUnit::Gon
            | EntryUnit::Radian
            | EntryUnit::Milliradian
            | EntryUnit::Percent
            | EntryUnit::MillimetrePerMetre => Dimension::Angle,
        }
    }

    fn scale(self) -> Scale {
        use std::f64::consts::PI;
        match self {
            EntryUnit::Metre | EntryUnit::Radian => Scale::Linear(1.0),
            EntryUnit::Centimetre => Scale::Linear(0.01),
            EntryUnit::Millimetre | EntryUnit::Milliradian => Scale::Linear(0.001),
            EntryUnit::FootInternational => Scale::Linear(0.3048),
            EntryUnit::FootUsSurvey => Scale::Linear(1200.0 / 3937.0),
            EntryUnit::Inch => Scale::Linear(0.0254),
            EntryUnit::Degree => Scale::Linear(PI / 180.0),
            EntryUnit::Gon => Scale::Linear(PI / 200.0),
            EntryUnit::Percent => Scale::Tangent(100.0),
            EntryUnit::MillimetrePerMetre => Scale::Tangent(1000.0),
        }
    }

    /// From metres or radians into this unit.
    pub fn of_si(self, value: f64) -> f64 {
        match self.scale() {
            Scale::Linear(size) => value / size,
            Scale::Tangent(at_one) => at_one * value.tan(),
        }
    }

    /// From this unit into metres or radians.
    pub fn to_si(self, value: f64) -> f64 {
        match self.scale() {
            Scale::Linear(size) => value * size,
            Scale::Tangent(at_one) => (value / at_one).atan(),
        }
    }

    /// A whole turn in this unit; none for lengths and slopes, which do not come round again.
    pub fn turn(self) -> Option<f64> {
        match (self.dimension(), self.scale()) {
            (Dimension::Angle, Scale::Linear(size)) => Some(std::f64::consts::TAU / size),
            (Dimension::Angle, Scale::Tangent(_)) | (Dimension::Length, _) => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn units_are_those_of_the_definitions() {
        let check = |unit: EntryUnit, number: f64, si: f64| {
            assert!(
                (unit.to_si(number) - si).abs() < 1e-15 * si.abs().max(1.0),
                "{}",
                unit.word()
            );
            assert!((unit.of_si(si) - number).abs() < 1e-12 * number.abs());
        };
        check(EntryUnit::FootInternational, 10.0, 3.048);
        check(EntryUnit::Inch, 100.0, 2.54);
        check(EntryUnit::FootUsSurvey, 3937.0, 1200.0);
        check(EntryUnit::Gon, 100.0, std::f64::consts::FRAC_PI_2);
        check(EntryUnit::Degree, 180.0, std::f64::consts::PI);
        check(EntryUnit::Percent, 100.0, std::f64::consts::FRAC_PI_4);
        check(
            EntryUnit::MillimetrePerMetre,
            1000.0,
            std::f64::consts::FRAC_PI_4,
        );
        for unit in ALL_UNITS {
            assert_eq!(EntryUnit::from_word(unit.word()), Some(unit));
        }
        assert_eq!(EntryUnit::from_word("cubit"), None);
    }
}
