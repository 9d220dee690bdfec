//! A measured value: the figure and its standard uncertainty, or a plain word that it has none.

/// A value and its standard uncertainty (k = 1), both in one unit.
///
/// `sd: None` says that nobody stated an uncertainty.
/// Where a tolerance or a safety question is judged, that counts as unknown, never as zero.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measured {
    /// The figure.
    pub value: f64,
    /// Its standard uncertainty, if stated.
    pub sd: Option<f64>,
}

impl Measured {
    /// A value with its standard uncertainty.
    pub fn with_sd(value: f64, sd: f64) -> Measured {
        Measured {
            value,
            sd: Some(sd),
        }
    }

    /// A value for which no uncertainty was stated.
    pub fn without_sd(value: f64) -> Measured {
        Measured { value, sd: None }
    }

    /// The same value in a unit `factor` times smaller.
    #[must_use]
    pub fn scaled(self, factor: f64) -> Measured {
        Measured {
            value: self.value * factor,
            sd: self.sd.map(|sd| sd * factor.abs()),
        }
    }
}
