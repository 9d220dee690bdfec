//! Source     JCGM 100:2008, Guide to the expression of uncertainty in measurement (GUM), JCGM/BIPM
//! Place      4.4.3 and Table 1 (data from memory); H.2, Table H.2; Table G.2 (from memory)
//! Exercises  holdline_geom::stats: Series, t_quantile, normal_quantile; calibrate::decision: half_width_m
//! Tolerance  half of the last digit printed
//! Rights     numbers only, from a text that is free to read
//! Not used   H.1, H.2 correlations and H.3: they stand in gum_fits

use holdline::calibrate::decision::{About, half_width_m};
use holdline_checks::Witness;
use holdline_geom::stats::{Series, normal_quantile, t_quantile};

fn series(values: &[f64]) -> Series {
    Series::of(values).expect("a series of numbers")
}

/// Twenty readings of a temperature, °C: mean 100.145, s 1.489, s of the mean 0.333.
#[test]
fn twenty_thermometer_readings() {
    let s = series(&[
        96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07, 100.33, 100.42,
        100.68, 100.95, 101.11, 101.20, 101.57, 101.84, 102.36, 102.72,
    ]);
    let mut witness = Witness::new("gum", "°C, 4.4.3", 0.0005);
    witness.see(s.mean, 100.145);
    witness.see(s.sd.expect("twenty values"), 1.489);
    witness.see(s.sd_of_mean().expect("twenty values"), 0.333);
}

/// Five readings each of voltage, current and phase.
#[test]
fn resistance_and_reactance_readings() {
    check(
        &[5.007, 4.994, 5.005, 4.990, 4.999],
        (4.9990, 5e-5),
        (0.0032, 5e-5),
    );
    check(
        &[19.663, 19.639, 19.640, 19.685, 19.678],
        (19.6610, 5e-5),
        (0.0095, 5e-5),
    );
    check(
        &[1.0456, 1.0438, 1.0468, 1.0428, 1.0433],
        (1.04446, 5e-6),
        (0.00075, 5e-6),
    );
}

#[track_caller]
fn check(values: &[f64], mean: (f64, f64), sd_of_mean: (f64, f64)) {
    let s = series(values);
    Witness::new("gum", "H.2, mean", mean.1).see(s.mean, mean.0);
    let got = s.sd_of_mean().expect("five values");
    Witness::new("gum", "H.2, sd of the mean", sd_of_mean.1).see(got, sd_of_mean.0);
}

/// Expanded uncertainty of the five voltages, from the printed factors alone: t95(4) = 2.78, s/√5 = 0.0032.
///
/// The next single value scatters with s as well as with the mean: 2.78 × 0.0032 × √5 × √(1 + 1/5).
/// The control's own uncertainty comes on top, twice and linearly.
#[test]
fn half_widths_of_a_series() {
    let s = series(&[5.007, 4.994, 5.005, 4.990, 4.999]);
    let printed: f64 = 2.78 * 0.0032;
    let next = printed * 5.0_f64.sqrt() * (1.0_f64 + 1.0 / 5.0).sqrt();
    let half = |common, about| half_width_m(&s, common, about).expect("five values");
    // Half a last digit of 2.78 and of 0.0032.
    let mut witness = Witness::new("gum", "half width of the mean", 2e-4);
    witness.see(half(0.0, About::Mean), printed);
    witness.see(half(0.01, About::Mean), printed + 0.02);
    Witness::new("gum", "half width of the next single", 5e-4)
        .see(half(0.0, About::NextSingle), next);
}

/// Table G.2: t for degrees of freedom and a two-sided level of confidence.
#[test]
fn students_t_as_printed() {
    let rows: [(f64, [f64; 3]); 12] = [
        // dof, 95 %, 95.45 %, 99 %
        (1.0, [12.71, 13.97, 63.66]),
        (2.0, [4.30, 4.53, 9.92]),
        (3.0, [3.18, 3.31, 5.84]),
        (4.0, [2.78, 2.87, 4.60]),
        (5.0, [2.57, 2.65, 4.03]),
        (6.0, [2.45, 2.52, 3.71]),
        (7.0, [2.36, 2.43, 3.50]),
        (8.0, [2.31, 2.37, 3.36]),
        (9.0, [2.26, 2.32, 3.25]),
        (10.0, [2.23, 2.28, 3.17]),
        (20.0, [2.09, 2.13, 2.85]),
        (50.0, [2.01, 2.05, 2.68]),
    ];
    let mut witness = Witness::new("gum", "Student's t, Table G.2", 0.005 + 1e-9);
    for (dof, printed) in rows {
        for (level, want) in [0.95, 0.9545, 0.99].into_iter().zip(printed) {
            let got = t_quantile(0.5 + level / 2.0, dof).expect("in range");
            witness.see(got, want);
        }
    }
}

/// Last row of Table G.2, and JCGM 102 for two values at once (both from memory).
#[test]
fn the_normal_distribution_as_printed() {
    let mut witness = Witness::new("gum", "normal quantile", 0.0005);
    for (level, want) in [
        (0.95, 1.960),
        (0.9545, 2.000),
        (0.99, 2.576),
        (0.9973, 3.000),
    ] {
        witness.see(normal_quantile(0.5 + level / 2.0).expect("in range"), want);
    }
    let two_at_once = normal_quantile(1.0 - 0.05 / 4.0).expect("in range");
    Witness::new("gum", "JCGM 102, two at once", 0.005).see(two_at_once, 2.24);
}
