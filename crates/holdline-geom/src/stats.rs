//! Statistics of a small series: mean, sd; and the distributions that tests and statements need.

use statrs::distribution::{
    Binomial, ChiSquared, ContinuousCDF, DiscreteCDF, FisherSnedecor, Normal, StudentsT,
};

/// Mean and spread of a series of like values.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Series {
    /// How many.
    pub n: usize,
    /// Arithmetic mean.
    pub mean: f64,
    /// Standard deviation of one value, from the series itself (n − 1); none for fewer than two.
    pub sd: Option<f64>,
}

impl Series {
    /// Mean and standard deviation of `values`.
    ///
    /// ```text
    /// q̄ = Σ q_k / n        s² = Σ (q_k − q̄)² / (n − 1)
    /// ```
    ///
    /// Gives `None` for an empty series or one with a value that is not finite.
    ///
    /// - Source: JCGM 100:2008 (GUM), 4.2.1 and 4.2.2.
    pub fn of(values: &[f64]) -> Option<Series> {
        let n = values.len();
        if n == 0 || !values.iter().all(|v| v.is_finite()) {
            return None;
        }
        let shift = values[0]; // taken off first, so that large coordinates do not eat the digits
        let mean = shift + values.iter().map(|v| v - shift).sum::<f64>() / n as f64;
        let sd = (n >= 2).then(|| {
            let sum: f64 = values.iter().map(|v| (v - mean) * (v - mean)).sum();
            (sum / (n - 1) as f64).sqrt()
        });
        Some(Series { n, mean, sd })
    }

    /// Standard deviation of the mean, `s / √n`; GUM 4.2.3.
    pub fn sd_of_mean(&self) -> Option<f64> {
        self.sd.map(|sd| sd / (self.n as f64).sqrt())
    }
}

/// Quantile of Student's t: the value that a share `p` of the distribution lies below.
///
/// - Units: pure number. `p` between 0 and 1, both excluded; `dof` positive.
/// - Source: JCGM 100:2008 (GUM), Table G.2 lists the two-sided values.
///
/// Gives `None` outside those ranges.
pub fn t_quantile(p: f64, dof: f64) -> Option<f64> {
    if !(0.0 < p && p < 1.0) {
        return None;
    }
    Some(StudentsT::new(0.0, 1.0, dof).ok()?.inverse_cdf(p))
}

/// Quantile of the standard normal distribution. Gives `None` unless `0 < p < 1`.
pub fn normal_quantile(p: f64) -> Option<f64> {
    if !(0.0 < p && p < 1.0) {
        return None;
    }
    Some(Normal::new(0.0, 1.0).ok()?.inverse_cdf(p))
}

/// Share of the standard normal distribution below `x`.
pub fn normal_share_below(x: f64) -> f64 {
    0.5 * libm::erfc(-x / std::f64::consts::SQRT_2)
}

/// Quantile of χ²: the value that a share `p` lies below.
///
/// Gives `None` unless `0 < p < 1` and `dof` is positive.
pub fn chi2_quantile(p: f64, dof: f64) -> Option<f64> {
    if !(0.0 < p && p < 1.0) {
        return None;
    }
    Some(ChiSquared::new(dof).ok()?.inverse_cdf(p))
}

/// Share of χ² below `x`. Gives `None` unless `dof` is positive and `x` a number.
pub fn chi2_share_below(x: f64, dof: f64) -> Option<f64> {
    let chi2 = ChiSquared::new(dof).ok()?;
    (!x.is_nan()).then(|| if x <= 0.0 { 0.0 } else { chi2.cdf(x) })
}

/// Share of χ² above `x`, also where it is far below what `1 - share` can hold.
/// Gives `None` unless `dof` is positive and `x` a number.
pub fn chi2_share_above(x: f64, dof: f64) -> Option<f64> {
    let chi2 = ChiSquared::new(dof).ok()?;
    (!x.is_nan()).then(|| if x <= 0.0 { 1.0 } else { chi2.sf(x) })
}

/// Quantile of F with `dof_above` and `dof_below`: the value that a share `p` lies below.
///
/// Gives `None` unless `0 < p < 1` and both degrees of freedom are positive.
pub fn f_quantile(p: f64, dof_above: f64, dof_below: f64) -> Option<f64> {
    if !(0.0 < p && p < 1.0) {
        return None;
    }
    let f = FisherSnedecor::new(dof_above, dof_below).ok()?;
    rising_root(|x| f.cdf(x) - p)
}

/// Critical value of Pope's τ for one residual, both sides together.
///
/// ```text
/// τ = t √f / √(f − 1 + t²)        t = t_{1 − α/2}(f − 1)
/// ```
///
/// `f` degrees of freedom of the adjustment, `α` share of good residuals called bad;
/// for the largest of n residuals hand in α/n.
///
/// - Source: A. J. Pope, The statistics of residuals and the detection of outliers, 1976 (from memory).
///
/// Gives `None` unless `0 < α < 1` and `f` is more than 1.
pub fn tau_critical(alpha: f64, dof: f64) -> Option<f64> {
    let t = t_quantile(1.0 - alpha / 2.0, dof - 1.0)?;
    Some(t * dof.sqrt() / (dof - 1.0 + t * t).sqrt())
}

/// Non-centrality at which a χ² test finds what it looks for with the power stated.
///
/// ```text
/// P( χ²(q, λ) > χ²_{1−α}(q) ) = power
/// ```
///
/// `q` dimensions tested together; 1 for one reading, both sides, where √λ is close to
/// z_{1−α/2} + z_power.
///
/// - Source: W. Baarda, A testing procedure for use in geodetic networks, 1968 (from memory).
///
/// Gives `None` unless `0 < α < power < 1` and `q` is positive.
pub fn noncentrality(alpha: f64, power: f64, n_dimensions: usize) -> Option<f64> {
    if !(0.0 < alpha && alpha < power && power < 1.0) || n_dimensions == 0 {
        return None;
    }
    if n_dimensions == 1 {
        let z = normal_quantile(1.0 - alpha / 2.0)?;
        let found = |root: f64| normal_share_below(root - z) + normal_share_below(-root - z);
        return rising_root(|root| found(root) - power).map(|root| root * root);
    }
    let limit = chi2_quantile(1.0 - alpha, n_dimensions as f64)?;
    rising_root(|lambda| {
        let below = noncentral_chi2_share_below(limit, n_dimensions as f64, lambda);
        below.map_or(f64::NAN, |below| 1.0 - below - power)
    })
}

/// Share of the non-central χ² below `x`: central ones with Poisson's weights.
///
/// ```text
/// F(x; q, λ) = Σ_j e^{−λ/2} (λ/2)^j / j! · F(x; q + 2j)
/// ```
///
/// Gives `None` unless `dof` is positive and `0 <= λ`.
pub fn noncentral_chi2_share_below(x: f64, dof: f64, noncentrality: f64) -> Option<f64> {
    if !(0.0..1400.0).contains(&noncentrality) {
        return None; // e^−700 is the least number there is to begin from
    }
    let half = noncentrality / 2.0;
    let mut weight = libm::exp(-half);
    let (mut sum, mut weights) = (0.0, 0.0);
    let mut j = 0.0;
    while weights < 1.0 - 1e-15 && j < 10.0 * (half + 20.0) {
        sum += weight * chi2_share_below(x, dof + 2.0 * j)?;
        weights += weight;
        j += 1.0;
        weight *= half / j;
    }
    Some(sum)
}

/// Counts of `n` trials with chance `p` that a share `level` of series stays between, ends included.
///
/// Gives `None` unless `0 < p < 1` and `0 < level < 1`.
pub fn binomial_band(n: u64, p: f64, level: f64) -> Option<(u64, u64)> {
    if !(0.0 < p && p < 1.0 && 0.0 < level && level < 1.0) {
        return None;
    }
    let binomial = Binomial::new(p, n).ok()?;
    let half = (1.0 - level) / 2.0;
    Some((binomial.inverse_cdf(half), binomial.inverse_cdf(1.0 - half)))
}

/// Where a rising function of a positive number is zero; `None` where it has no zero to find.
fn rising_root(f: impl Fn(f64) -> f64) -> Option<f64> {
    let mut high = 1.0;
    while f(high) < 0.0 {
        high *= 2.0;
        if !(high < 1e300) {
            return None;
        }
    }
    let mut low = 0.0;
    for _ in 0..200 {
        let middle = 0.5 * (low + high);
        if middle <= low || high <= middle {
            break;
        }
        let value = f(middle);
        if value.is_nan() {
            return None;
        }
        if value < 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some(high)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_and_nonsense_have_no_mean() {
        assert_eq!(Series::of(&[]), None);
        assert_eq!(Series::of(&[1.0, f64::NAN]), None);
        assert_eq!(
            Series::of(&[7.5]),
            Some(Series {
                n: 1,
                mean: 7.5,
                sd: None
            })
        );
    }

    #[test]
    fn large_coordinates_keep_their_digits() {
        let far: Vec<f64> = [1.0, 2.0, 3.0].iter().map(|v| 5e6 + v / 1024.0).collect();
        let s = Series::of(&far).expect("three values");
        assert_eq!(s.mean, 5e6 + 2.0 / 1024.0);
        assert_eq!(s.sd, Some(1.0 / 1024.0));
    }

    #[test]
    fn the_mirror_of_t() {
        for dof in [1.0, 2.0, 7.0, 30.0] {
            let (lo, hi) = (t_quantile(0.025, dof), t_quantile(0.975, dof));
            assert!((lo.expect("in range") + hi.expect("in range")).abs() < 1e-6);
        }
        assert_eq!(t_quantile(1.0, 3.0), None);
        assert_eq!(t_quantile(0.5, 0.0), None);
        assert_eq!(normal_quantile(f64::NAN), None);
    }

    /// Values every table prints (from memory).
    #[test]
    fn known_quantiles() {
        #[track_caller]
        fn check(got: Option<f64>, want: f64, half_digit: f64) {
            let got = got.expect("in range");
            assert!((got - want).abs() <= half_digit, "got {got}, want {want}");
        }
        check(chi2_quantile(0.95, 1.0), 3.841, 5e-4);
        check(chi2_quantile(0.025, 10.0), 3.247, 5e-4);
        check(chi2_quantile(0.975, 10.0), 20.483, 5e-4);
        check(chi2_quantile(0.99, 30.0), 50.892, 5e-4);
        check(f_quantile(0.95, 1.0, 10.0), 4.965, 5e-4);
        check(f_quantile(0.95, 5.0, 20.0), 2.711, 5e-4);
        check(f_quantile(0.975, 10.0, 10.0), 3.717, 5e-4);
        check(chi2_share_above(3.841, 1.0), 0.05, 5e-5);
        check(chi2_share_below(3.841, 1.0), 0.95, 5e-5);
        check(noncentrality(0.05, 0.80, 1), 7.849, 5e-4);
        check(noncentrality(0.001, 0.80, 1), 17.075, 5e-4);
    }

    /// One dimension by two ways: the normal distribution and the sum over Poisson's weights.
    #[test]
    fn non_central_both_ways() {
        for (alpha, power) in [(0.05, 0.8), (0.001, 0.8), (0.01, 0.95)] {
            let lambda = noncentrality(alpha, power, 1).expect("in range");
            let limit = chi2_quantile(1.0 - alpha, 1.0).expect("in range");
            let below = noncentral_chi2_share_below(limit, 1.0, lambda).expect("in range");
            assert!((1.0 - below - power).abs() < 1e-9);
            let more = noncentrality(alpha, power, 3).expect("in range");
            assert!(lambda < more);
        }
        let central = noncentral_chi2_share_below(5.0, 4.0, 0.0);
        assert_eq!(central, chi2_share_below(5.0, 4.0));
    }

    #[test]
    fn counts_of_a_binomial() {
        let (from, to) = binomial_band(2000, 0.95, 0.999).expect("in range");
        // 0.95 ± 3.29 √(0.95 · 0.05 / 2000) is 0.934 to 0.966.
        assert!((1867..=1869).contains(&from) && (1930..=1933).contains(&to));
        assert_eq!(binomial_band(2000, 1.0, 0.9), None);
    }

    #[test]
    fn nonsense_has_no_quantile() {
        assert_eq!(chi2_quantile(0.5, -1.0), None);
        assert_eq!(chi2_quantile(f64::NAN, 3.0), None);
        assert_eq!(chi2_share_below(f64::NAN, 3.0), None);
        assert_eq!(f_quantile(0.5, 0.0, 1.0), None);
        assert_eq!(tau_critical(0.05, 1.0), None);
        assert_eq!(noncentrality(0.8, 0.05, 1), None);
        assert_eq!(noncentrality(0.05, 0.8, 0), None);
    }
}
