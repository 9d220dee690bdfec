//! Source     W. Baarda, Testing procedure, 1968; A. J. Pope, NOAA TR NOS 65 NGS 1, 1976 (from memory)
//! Place      non-centrality for α0 0.001 and 0.05, power 0.80; critical τ by formula; bands of s0 at 95 %
//! Exercises  holdline_geom::stats: noncentrality, tau_critical, chi2_quantile, normal_quantile
//! Tolerance  half of the last digit printed
//! Rights     numbers only
//! Not used   Baarda's nomograms

use holdline_checks::Witness;
use holdline_geom::stats::{chi2_quantile, noncentrality, normal_quantile, tau_critical};

#[test]
fn baarda() {
    let mut witness = Witness::new("outlier_tests", "critical w and λ0", 5.1e-4);
    let two_sided = |alpha: f64| normal_quantile(1.0 - alpha / 2.0).expect("in range");
    witness.see(two_sided(0.001), 3.291);
    witness.see(two_sided(0.05), 1.960);
    let lambda = noncentrality(0.001, 0.80, 1).expect("in range");
    witness.see(lambda, 17.075);
    witness.see(lambda.sqrt(), 4.132);
    witness.see(noncentrality(0.05, 0.80, 1).expect("in range"), 7.849);
}

/// τ for one residual; degrees of freedom, then α 0.05, 0.01, 0.001. The formula by another program.
#[test]
fn pope_for_one_residual() {
    let rows: [(f64, [f64; 3]); 7] = [
        (3.0, [1.64545, 1.71473, 1.73032]),
        (5.0, [1.81435, 2.05092, 2.17808]),
        (10.0, [1.90391, 2.3236, 2.6786]),
        (20.0, [1.9358, 2.45391, 2.9749]),
        (30.0, [1.94467, 2.49559, 3.07846]),
        (60.0, [1.95271, 2.53626, 3.18379]),
        (120.0, [1.95643, 2.55618, 3.237]),
    ];
    let mut witness = Witness::new("outlier_tests", "critical τ, one residual", 1e-4);
    for (dof, printed) in rows {
        for (alpha, want) in [0.05, 0.01, 0.001].into_iter().zip(printed) {
            witness.see(tau_critical(alpha, dof).expect("in range"), want);
        }
    }
}

/// τ for the largest of n residuals, α 0.05 shared out over them.
#[test]
fn pope_for_the_largest_of_many() {
    let mut witness = Witness::new("outlier_tests", "critical τ, largest of n", 5.1e-4);
    for (n, dof, want) in [
        (24.0, 16.0, 2.768),
        (40.0, 30.0, 3.030),
        (120.0, 100.0, 3.446),
    ] {
        witness.see(tau_critical(0.05 / n, dof).expect("in range"), want);
    }
}

/// √(χ²/f) of a sound adjustment lies in these bands 95 times of 100.
#[test]
fn bands_of_s0() {
    let mut witness = Witness::new("outlier_tests", "95 % band of s0", 5.1e-4);
    let rows = [
        (10.0, 0.570, 1.431),
        (30.0, 0.748, 1.251),
        (100.0, 0.862, 1.138),
    ];
    for (dof, from, to) in rows {
        let bound = |p: f64| (chi2_quantile(p, dof).expect("in range") / dof).sqrt();
        witness.see(bound(0.025), from);
        witness.see(bound(0.975), to);
    }
}
