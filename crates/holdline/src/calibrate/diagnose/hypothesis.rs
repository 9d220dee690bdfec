//! One thing that may be wrong, as the list of the trade has it.

use super::scene::{Change, Direction};
use super::told::Unit;

/// A hypothesis.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Hypothesis {
    /// Same in every run.
    pub id: String,
    /// Hypotheses of one group are one suspect, whatever their signatures.
    pub group: String,
    /// In the words of the trade.
    pub words: String,
    /// What to look at on the machine first.
    pub look_at: String,
    /// What it does.
    pub kind: Kind,
}

/// What a hypothesis does.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Kind {
    /// It has a size, or one along each of several directions.
    Sized(Vec<Sized>),
    /// It is or is not.
    Given {
        /// The change to the model or the survey that would put it right.
        change: Change,
        /// How it is said.
        says: String,
        /// Whether it was picked out of many slips of one figure, which costs a parameter.
        picked: bool,
    },
}

/// A direction with its words.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Sized {
    /// What the fault does.
    pub direction: Direction,
    /// Name of the figure.
    pub name: String,
    /// Unit.
    pub unit: Unit,
    /// How it is said when positive, with `{}` for the size.
    pub plus: String,
    /// How it is said when negative.
    pub minus: String,
    /// What this kind of fault seldom exceeds.
    pub usual: f64,
}

impl Hypothesis {
    /// The directions of its sizes.
    pub fn directions(&self) -> Vec<&Direction> {
        match &self.kind {
            Kind::Sized(sized) => sized.iter().map(|s| &s.direction).collect(),
            Kind::Given { .. } => Vec::new(),
        }
    }

    /// The changes that it makes.
    pub fn changes(&self) -> Vec<&Change> {
        match &self.kind {
            Kind::Sized(_) => Vec::new(),
            Kind::Given { change, .. } => vec![change],
        }
    }

    /// Parameters that it costs in the AIC.
    pub fn n_parameters(&self) -> usize {
        match &self.kind {
            Kind::Sized(sized) => sized.len(),
            Kind::Given { picked, .. } => usize::from(*picked),
        }
    }

    /// Whether it has a size.
    pub fn is_sized(&self) -> bool {
        matches!(self.kind, Kind::Sized(_))
    }
}

impl Sized {
    /// The fault said with its size.
    pub fn says(&self, size: f64, sd: f64) -> String {
        let template = if size < 0.0 { &self.minus } else { &self.plus };
        template.replace("{}", &with_sd(size.abs(), sd, self.unit))
    }
}

/// A size with its uncertainty, k = 2 as everywhere, for reading.
pub(super) fn with_sd(size: f64, sd: f64, unit: Unit) -> String {
    let u = 2.0 * sd;
    match unit {
        Unit::Metre => format!("{:.0} mm ± {:.0} mm", size * 1e3, (u * 1e3).max(1.0)),
        Unit::Radian => format!(
            "{:.2}° ± {:.2}°",
            size.to_degrees(),
            u.to_degrees().max(0.01)
        ),
        Unit::Second => format!("{:.2} s ± {:.2} s", size, u.max(0.01)),
    }
}

#[cfg(test)]
mod tests {
    use super::{Unit, with_sd};

    #[test]
    fn sizes_are_told_with_twice_their_sd() {
        assert_eq!(with_sd(0.012, 0.004, Unit::Metre), "12 mm ± 8 mm");
        let (size, sd) = (0.31_f64.to_radians(), 0.05_f64.to_radians());
        assert_eq!(with_sd(size, sd, Unit::Radian), "0.31° ± 0.10°");
        assert_eq!(with_sd(0.2, 0.03, Unit::Second), "0.20 s ± 0.06 s");
    }
}
