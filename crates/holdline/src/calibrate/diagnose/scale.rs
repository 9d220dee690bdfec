//! Gains of hypotheses with different numbers of parameters, on one scale.

use std::f64::consts::{PI, TAU};

use libm::{erfc, exp, log, log1p, sqrt};

/// Natural logarithm of the share of χ² with `k` degrees of freedom that lies above `x`.
///
/// ```text
/// k even   Q = e^(−x/2) Σ_{i<k/2} (x/2)^i / i!
/// k odd    Q = erfc √(x/2) + e^(−x/2) Σ_{1<=i<=(k−1)/2} (x/2)^(i−1/2) / Γ(i + 1/2)
/// ```
///
/// In logarithms, because a gain of 2000 is usual and e^(−1000) is no number.
///
/// - Valid for `k` of 1 and more; 0 below `x` of 0. Exact to 1e-12 relative.
/// - Source: [`crate::sources::CHI_SQUARE_TAIL`].
pub(super) fn ln_chi2_tail(k: usize, x: f64) -> f64 {
    let _ = crate::sources::CHI_SQUARE_TAIL;
    if !(0.0 < x) {
        return if x.is_nan() { f64::NAN } else { 0.0 };
    }
    let half = x / 2.0;
    if k.is_multiple_of(2) {
        return -half + ln_sum(0.0, 1.0, half, k / 2);
    }
    let body = ln_scaled_erfc(sqrt(half));
    if k == 1 {
        return -half + body;
    }
    // (x/2)^(1/2) / Γ(3/2), and each next term times (x/2) / (i + 1/2).
    let first = 0.5 * log(half) - log(sqrt(PI) / 2.0);
    -half + ln_add(body, ln_sum(first, 1.5, half, (k - 1) / 2))
}

/// ln Σ of `n` terms: the first e^`ln_first`, each next one times `half` / (from, from + 1, …).
fn ln_sum(ln_first: f64, from: f64, half: f64, n: usize) -> f64 {
    let (mut term, mut sum) = (ln_first, ln_first);
    for i in 0..n.saturating_sub(1) {
        term += log(half / (from + i as f64));
        sum = ln_add(sum, term);
    }
    sum
}

fn ln_add(a: f64, b: f64) -> f64 {
    let (high, low) = if a < b { (b, a) } else { (a, b) };
    high + log1p(exp(low - high))
}

/// ln( e^(z²) erfc z ).
fn ln_scaled_erfc(z: f64) -> f64 {
    if z < 5.0 {
        return log(erfc(z)) + z * z;
    }
    // The continued fraction of erfc; from 5 on, 40 steps reach the last digit.
    let mut below = z;
    for i in (1..=40).rev() {
        below = z + f64::from(i) / 2.0 / below;
    }
    -log(below) - log(PI) / 2.0
}

/// The value that a χ² with one degree of freedom exceeds in a share e^`ln_p`.
pub(super) fn one_parameter(ln_p: f64) -> f64 {
    if !(ln_p < 0.0) {
        return if ln_p.is_nan() { f64::NAN } else { 0.0 };
    }
    // ln Q falls ever more steeply, like −x/2 − ln x / 2; Newton's method from above converges.
    let mut x = (-2.0 * ln_p).max(1e-300);
    for _ in 0..60 {
        let ln_q = ln_chi2_tail(1, x);
        // −d ln Q / dx = φ-density over Q
        let ln_density = -x / 2.0 - 0.5 * log(TAU * x);
        let step = (ln_q - ln_p) / exp(ln_density - ln_q);
        let next = x + step;
        let next = if next <= 0.0 { x / 4.0 } else { next };
        if (next - x).abs() <= 1e-13 * x {
            return next;
        }
        x = next;
    }
    x
}

/// A gain of `k` parameters on the scale of one.
///
/// A gain without any parameter is taken as it is: its tail is at most half that of χ² with one degree
/// of freedom, so that the scale is on the safe side.
pub(super) fn on_one_scale(k: usize, gain: f64) -> f64 {
    if k <= 1 || gain <= 0.0 {
        return gain;
    }
    one_parameter(ln_chi2_tail(k, gain))
}

/// [`on_one_scale`] for many gains of one `k`, by a table.
#[derive(Debug, Clone)]
pub(super) struct ScaleTable {
    k: usize,
    step: f64,
    values: Vec<f64>,
}

impl ScaleTable {
    /// A table that reaches past what noise alone gives.
    pub(super) fn new(k: usize) -> ScaleTable {
        const N: usize = 800;
        let reach = k as f64 + 12.0 * sqrt(2.0 * k as f64) + 40.0;
        let step = reach / N as f64;
        let values = (0..=N).map(|i| on_one_scale(k, step * i as f64)).collect();
        ScaleTable { k, step, values }
    }

    /// The gain on the scale of one parameter, to 1e-3 of it.
    pub(super) fn of(&self, gain: f64) -> f64 {
        if self.k <= 1 || gain <= 0.0 {
            return gain;
        }
        let at = gain / self.step;
        let idx = at as usize;
        match (self.values.get(idx), self.values.get(idx + 1)) {
            (Some(low), Some(high)) => low + (high - low) * (at - idx as f64),
            (_, _) => on_one_scale(self.k, gain),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(k: usize, x: f64, p: f64, tolerance: f64) {
        let got = ln_chi2_tail(k, x).exp();
        assert!((got - p).abs() < tolerance, "k {k}, x {x}: {got}, want {p}");
    }

    /// Printed tables of χ² (from memory): upper 5 %, 1 % and 0.1 % points, to their last digit.
    #[test]
    fn printed_points() {
        for (k, five, one, tenth) in [
            (1, 3.841, 6.635, 10.828),
            (2, 5.991, 9.210, 13.816),
            (3, 7.815, 11.345, 16.266),
            (5, 11.070, 15.086, 20.515),
            (10, 18.307, 23.209, 29.588),
            (24, 36.415, 42.980, 51.179),
        ] {
            check(k, five, 0.05, 3e-5);
            check(k, one, 0.01, 6e-6);
            check(k, tenth, 0.001, 6e-7);
        }
    }

    #[test]
    fn there_and_back() {
        for x in [1e-6, 0.3, 3.84, 7.53, 30.0, 60.0, 500.0, 4000.0] {
            let back = one_parameter(ln_chi2_tail(1, x));
            assert!((back - x).abs() < 1e-9 * (1.0 + x), "{x}: {back}");
        }
        assert!(ln_chi2_tail(3, f64::NAN).is_nan());
        assert!(one_parameter(f64::NAN).is_nan());
    }

    #[test]
    fn the_table_follows() {
        for k in [1, 2, 3, 24, 60] {
            let table = ScaleTable::new(k);
            for i in 1..400 {
                let gain = 0.37 * f64::from(i);
                let (got, want) = (table.of(gain), on_one_scale(k, gain));
                assert!(
                    (got - want).abs() < 2e-3 * (1.0 + want),
                    "k {k}, {gain}: {got}, {want}"
                );
            }
        }
    }
}
