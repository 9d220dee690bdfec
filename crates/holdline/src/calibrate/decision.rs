//! The guarded decision: a tolerance is held only when the uncertainty fits inside it too.

use crate::sources;
use holdline_geom::stats::{Series, t_quantile};

/// The answer to "does it hold the tolerance?". Not knowing is an answer.
#[derive(Debug, Clone, PartialEq)]
pub enum Decision {
    /// Shown: worst with its uncertainty still lies inside.
    Holds {
        /// The least and largest value that the statement covers, m.
        covered_m: [f64; 2],
        /// The tolerance, m.
        tolerance_m: [f64; 2],
    },
    /// Shown the other way: even with its uncertainty taken off it lies outside.
    DoesNotHold {
        /// The least and largest value that the statement covers, m.
        covered_m: [f64; 2],
        /// The tolerance, m.
        tolerance_m: [f64; 2],
    },
    /// Neither could be shown. Everything downstream treats it as not holding.
    NotShown {
        /// What is missing, or by how much it falls short.
        because: String,
    },
}

/// What is asked about a series.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum About {
    /// The mean of what was measured.
    Mean,
    /// The next single result, which scatters as those measured did.
    NextSingle,
}

impl Decision {
    /// The one reading of the answer that may be built on.
    pub fn holds(&self) -> bool {
        match self {
            Decision::Holds { .. } => true,
            Decision::DoesNotHold { .. } | Decision::NotShown { .. } => false,
        }
    }

    /// Neither could be shown, for this reason.
    pub fn not_shown(because: &str) -> Decision {
        Decision::NotShown {
            because: because.to_owned(),
        }
    }

    /// The more cautious of two answers.
    #[must_use]
    pub fn and(self, other: Decision) -> Decision {
        match (&self, &other) {
            (Decision::DoesNotHold { .. }, _) => self,
            (_, Decision::DoesNotHold { .. }) => other,
            (Decision::NotShown { because: a }, Decision::NotShown { because: b }) => {
                let because = if a == b {
                    a.clone()
                } else {
                    format!("{a}; {b}")
                };
                Decision::NotShown { because }
            }
            (Decision::NotShown { .. }, _) => self,
            (_, Decision::NotShown { .. }) => other,
            (Decision::Holds { .. }, Decision::Holds { .. }) => self,
        }
    }

    /// Judges the interval `centre ± half_width` against a tolerance by guarded acceptance and guarded rejection.
    ///
    /// ```text
    /// holds          lower <= centre − U   and   centre + U <= upper
    /// does not hold  centre + U < lower    or    upper < centre − U
    /// not shown      otherwise
    /// ```
    ///
    /// - Units: m. Source: [`sources::GUARDED_DECISION`].
    /// - A value that is not finite, or a tolerance that is not one, is never `Holds`.
    pub fn guarded(centre_m: f64, half_width_m: f64, tolerance_m: [f64; 2]) -> Decision {
        let _ = sources::GUARDED_DECISION;
        let covered_m = [centre_m - half_width_m, centre_m + half_width_m];
        let [lower, upper] = tolerance_m;
        let sound = covered_m.iter().chain(&tolerance_m).all(|v| v.is_finite())
            && lower < upper
            && 0.0 <= half_width_m;
        if !sound {
            return Decision::NotShown {
                because: "a figure is missing or not a number".to_owned(),
            };
        }
        if lower <= covered_m[0] && covered_m[1] <= upper {
            Decision::Holds {
                covered_m,
                tolerance_m,
            }
        } else if covered_m[1] < lower || upper < covered_m[0] {
            Decision::DoesNotHold {
                covered_m,
                tolerance_m,
            }
        } else {
            let mm = |m: f64| m * 1000.0;
            Decision::NotShown {
                because: format!(
                    "{:+.1} mm to {:+.1} mm is not inside {:+.1} mm to {:+.1} mm, nor outside it",
                    mm(covered_m[0]),
                    mm(covered_m[1]),
                    mm(lower),
                    mm(upper)
                ),
            }
        }
    }
}

/// Half width of the 95 % statement about a series, with what is common to all of it, m.
///
/// ```text
/// mean           U = t95(n−1) s / √n          + 2 u_common
/// next single    U = t95(n−1) s √(1 + 1/n)    + 2 u_common
/// ```
///
/// `u_common` is the control's own uncertainty: it is the same in every shot, so `s` does not
/// show it, and it is added linearly.
///
/// - Units: m. Source: [`sources::GUM`] (t from its Table G.2); prediction of one further value is common practice.
///
/// Gives `None` for fewer than two values, or a common sd that is none.
pub fn half_width_m(series: &Series, common_sd_m: f64, about: About) -> Option<f64> {
    let _ = sources::GUM;
    let sd = series.sd?;
    if !(0.0 <= common_sd_m && common_sd_m.is_finite()) {
        return None;
    }
    let n = series.n as f64;
    let t95 = t_quantile(0.975, n - 1.0)?;
    let spread = match about {
        About::Mean => sd / n.sqrt(),
        About::NextSingle => sd * (1.0 + 1.0 / n).sqrt(),
    };
    Some(t95 * spread + 2.0 * common_sd_m)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn inside_outside_and_between() {
        let tolerance = [-0.03, 0.02];
        assert!(Decision::guarded(0.0, 0.02, tolerance).holds());
        assert!(Decision::guarded(-0.01, 0.02, tolerance).holds());
        assert!(!Decision::guarded(0.001, 0.02, tolerance).holds());
        assert!(matches!(
            Decision::guarded(0.001, 0.02, tolerance),
            Decision::NotShown { .. }
        ));
        assert!(matches!(
            Decision::guarded(0.05, 0.02, tolerance),
            Decision::DoesNotHold { .. }
        ));
        assert!(matches!(
            Decision::guarded(-0.06, 0.02, tolerance),
            Decision::DoesNotHold { .. }
        ));
    }

    #[test]
    fn nonsense_never_holds() {
        for (centre, half, tolerance) in [
            (f64::NAN, 0.0, [-1.0, 1.0]),
            (0.0, f64::NAN, [-1.0, 1.0]),
            (0.0, f64::INFINITY, [-1.0, 1.0]),
            (0.0, -0.1, [-1.0, 1.0]),
            (0.0, 0.0, [1.0, -1.0]),
            (0.0, 0.0, [f64::NAN, 1.0]),
            (0.0, 0.0, [f64::NEG_INFINITY, f64::INFINITY]),
        ] {
            assert!(matches!(
                Decision::guarded(centre, half, tolerance),
                Decision::NotShown { .. }
            ));
        }
    }

    #[test]
    fn the_more_cautious_wins() {
        let good = Decision::guarded(0.0, 0.0, [-1.0, 1.0]);
        let bad = Decision::guarded(2.0, 0.0, [-1.0, 1.0]);
        let open = Decision::guarded(1.0, 0.5, [-1.0, 1.0]);
        assert!(good.clone().and(good.clone()).holds());
        assert!(matches!(
            good.clone().and(open.clone()),
            Decision::NotShown { .. }
        ));
        assert!(matches!(
            open.and(bad.clone()),
            Decision::DoesNotHold { .. }
        ));
        assert!(matches!(bad.and(good), Decision::DoesNotHold { .. }));
    }
}
