//! Source     NIST/ITL Statistical Reference Datasets, univariate summary statistics (from memory)
//! Place      data sets NumAcc1 to NumAcc4; mean and sd certified as exact
//! Exercises  holdline_geom::stats::Series
//! Tolerance  relative: mean 1e-15; sd 1e-14, 1e-14, 1e-9, 1e-8, which the inputs' own rounding costs
//! Rights     work of the US government; the sets are made by a rule of one line each
//! Not used   autocorrelation, and the measured sets: they ask less of the arithmetic

use holdline_checks::Witness;
use holdline_geom::stats::Series;

#[track_caller]
fn check(values: &[f64], mean: f64, sd: f64, tolerance: f64) {
    let s = Series::of(values).expect("a series of numbers");
    Witness::new("nist_univariate", "mean, relative", 1e-15).see(s.mean / mean, 1.0);
    let got = s.sd.expect("more than one value");
    Witness::new("nist_univariate", "sd, relative", tolerance).see(got / sd, 1.0);
}

/// One value `far + 0.2`, then `far + 0.1` and `far + 0.3` in turn, 1001 in all.
fn zigzag(far: f64) -> Vec<f64> {
    let mut values = vec![far + 0.2];
    for _ in 0..500 {
        values.extend([far + 0.1, far + 0.3]);
    }
    values
}

#[test]
fn three_numbers_far_from_zero() {
    check(
        &[10_000_001.0, 10_000_003.0, 10_000_002.0],
        10_000_002.0,
        1.0,
        1e-14,
    );
}

#[test]
fn a_thousand_and_one_numbers_ever_farther_from_zero() {
    check(&zigzag(1.0), 1.2, 0.1, 1e-14);
    check(&zigzag(1_000_000.0), 1_000_000.2, 0.1, 1e-9);
    check(&zigzag(10_000_000.0), 10_000_000.2, 0.1, 1e-8);
}
