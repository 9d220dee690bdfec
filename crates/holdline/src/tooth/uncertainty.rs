//! From the uncertainty of every figure and reading to that of the tooth.

use crate::sources;
use nalgebra::Matrix3;

/// Uncertainty of three coordinates, and where it comes from.
#[derive(Debug, Clone, PartialEq)]
pub struct Spread {
    /// Covariance of what has a stated uncertainty, m²: a lower bound when something is missing.
    pub known_m2: Matrix3<f64>,
    /// The part of it that is there because figures were found together, m²: what their correlations
    /// add, or, negative, take away. The squares of the shares add up to the rest.
    pub between_m2: Matrix3<f64>,
    /// Sources that move the tooth but have no stated uncertainty. With any, the whole has none.
    pub missing: Vec<String>,
    /// What each source with an uncertainty adds, largest first.
    pub shares: Vec<Share>,
}

/// One source's part.
#[derive(Debug, Clone, PartialEq)]
pub struct Share {
    /// The figure or reading.
    pub name: String,
    /// What one standard uncertainty of it moves the tooth, m, along the three axes.
    pub effect_m: [f64; 3],
}

impl Spread {
    /// Standard uncertainties along the axes, m; none when any source that matters has none.
    pub fn sd_m(&self) -> Option<[f64; 3]> {
        let sd = [0, 1, 2].map(|axis| self.known_m2[(axis, axis)].sqrt());
        (self.missing.is_empty() && sd.iter().all(|s| s.is_finite())).then_some(sd)
    }
}

/// Below this slope, m per unit, a source does not move the tooth: what is left is rounding.
const NO_SLOPE: f64 = 1e-9;

/// Zero, a negative or no number is no statement of an uncertainty.
fn is_stated(sd: f64) -> bool {
    0.0 < sd && sd < f64::INFINITY
}

/// Covariance of two sources that were found together, by their places among the sources.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Together {
    pub a_idx: usize,
    pub b_idx: usize,
    pub covariance: f64,
}

/// Propagates the sources' uncertainties to the three coordinates.
///
/// ```text
/// Σ_t = Σ_i (∂t/∂x_i)(∂t/∂x_i)ᵀ u²(x_i) + Σ_i<j ( (∂t/∂x_i)(∂t/∂x_j)ᵀ + its transpose ) u(x_i, x_j)
/// ```
///
/// Sources not in `together` are independent of all others. Slopes are exact (dual numbers).
///
/// - Source: [`sources::GUM`], 5.1.2 and 5.2.2.
pub(super) fn spread(
    rows: impl Iterator<Item = (String, Option<f64>, [f64; 3])>,
    together: &[Together],
) -> Spread {
    let _ = sources::GUM;
    let mut known_m2 = Matrix3::zeros();
    let (mut missing, mut shares) = (Vec::new(), Vec::new());
    let mut slopes = Vec::new();
    for (name, sd, slope) in rows {
        slopes.push(slope);
        // A slope that is not a number is not small: it stays and takes the whole away.
        if slope.iter().all(|s| s.abs() <= NO_SLOPE) {
            continue;
        }
        match sd.filter(|sd| is_stated(*sd)) {
            None => missing.push(name),
            Some(sd) => {
                let effect_m = slope.map(|s| s * sd);
                let v = nalgebra::Vector3::from(effect_m);
                known_m2 += v * v.transpose();
                shares.push(Share { name, effect_m });
            }
        }
    }
    let mut between_m2 = Matrix3::zeros();
    for pair in together {
        let [a, b] = [pair.a_idx, pair.b_idx].map(|idx| nalgebra::Vector3::from(slopes[idx]));
        between_m2 += a * b.transpose() * pair.covariance;
    }
    between_m2 += between_m2.transpose();
    let size = |share: &Share| share.effect_m.iter().map(|e| e * e).sum::<f64>();
    shares.sort_by(|a, b| size(b).total_cmp(&size(a)));
    Spread {
        known_m2: known_m2 + between_m2,
        between_m2,
        missing,
        shares,
    }
}

/// The standard uncertainties alone, of the same rows without their names.
pub(super) fn sd_of(
    rows: impl Iterator<Item = (Option<f64>, [f64; 3])>,
    together: &[Together],
) -> Option<[f64; 3]> {
    let mut variance_m2 = [0.0; 3];
    let mut slopes = Vec::with_capacity(if together.is_empty() { 0 } else { 64 });
    for (sd, slope) in rows {
        if !together.is_empty() {
            slopes.push(slope);
        }
        if slope.iter().all(|s| s.abs() <= NO_SLOPE) {
            continue;
        }
        let sd = sd.filter(|sd| is_stated(*sd))?;
        for axis in 0..3 {
            variance_m2[axis] += (slope[axis] * sd) * (slope[axis] * sd);
        }
    }
    for pair in together {
        let (a, b) = (slopes[pair.a_idx], slopes[pair.b_idx]);
        for axis in 0..3 {
            variance_m2[axis] += 2.0 * a[axis] * b[axis] * pair.covariance;
        }
    }
    let sd_m = variance_m2.map(f64::sqrt);
    sd_m.iter().all(|s| s.is_finite()).then_some(sd_m)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_source_without_uncertainty_takes_the_whole_away_only_if_it_matters() {
        let rows = |slope| {
            vec![
                ("known".to_owned(), Some(2.0), [1.0, 0.0, 0.5]),
                ("unknown".to_owned(), None, [0.0, slope, 0.0]),
            ]
        };
        let quiet = spread(rows(0.0).into_iter(), &[]);
        assert_eq!(quiet.sd_m(), Some([2.0, 0.0, 1.0]));
        let loud = spread(rows(0.3).into_iter(), &[]);
        assert_eq!(loud.sd_m(), None);
        assert_eq!(loud.missing, ["unknown"]);
        for no_statement in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            let row = ("zero".to_owned(), Some(no_statement), [1.0, 0.0, 0.0]);
            assert_eq!(spread([row].into_iter(), &[]).missing, ["zero"]);
            assert_eq!(
                sd_of([(Some(no_statement), [1.0; 3])].into_iter(), &[]),
                None
            );
        }
        let broken = spread(rows(f64::NAN).into_iter(), &[]);
        assert_eq!(broken.sd_m(), None);
    }
}
