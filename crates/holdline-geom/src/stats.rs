//! Statistics of a small series: mean, sd, Student's t.

use statrs::distribution::{ContinuousCDF, Normal, StudentsT};

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
}
