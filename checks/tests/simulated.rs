//! Source     JCGM 101:2008 and 102:2011, supplements to the GUM; NIST Technical Note 1900; NPL report DEM-ES-011
//! Place      101: 9.2.3, 9.2.4, 9.4 (9.2.4 and 9.4 from memory); 102: 6.5, 9.3; E3, E13; Table 9.2
//! Exercises  holdline_geom::draws::Draws: normal, uniform; stats::chi2_quantile, normal_quantile
//! Tolerance  that of the source's own simulation, or four of ours where that is wider
//! Rights     numbers only, from texts that are free to read
//! Not used   101: 9.3 and 9.5, which ask for nothing else

use holdline_checks::Witness;
use holdline_geom::draws::Draws;
use holdline_geom::stats::{chi2_quantile, normal_quantile};

const N: usize = 400_000;

/// Values drawn, sorted, with mean and sd.
struct Drawn {
    values: Vec<f64>,
    mean: f64,
    u: f64,
}

fn drawn(stream: u64, mut one: impl FnMut(&mut Draws) -> f64) -> Drawn {
    let mut draws = Draws::new(101, stream);
    let mut values: Vec<f64> = (0..N).map(|_| one(&mut draws)).collect();
    let n = N as f64;
    let mean = values.iter().sum::<f64>() / n;
    let u = (values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
    values.sort_by(f64::total_cmp);
    Drawn { values, mean, u }
}

impl Drawn {
    fn symmetric_95(&self) -> (f64, f64) {
        (self.values[N / 40], self.values[N - N / 40])
    }

    fn shortest_95(&self) -> (f64, f64) {
        let wide = N - N / 20;
        let width = |from: usize| self.values[from + wide - 1] - self.values[from];
        let from = (0..=N - wide)
            .min_by(|&a, &b| width(a).total_cmp(&width(b)))
            .expect("values");
        (self.values[from], self.values[from + wide - 1])
    }
}

#[track_caller]
fn see(what: &'static str, tolerance: f64, pairs: &[(f64, f64)]) {
    let mut witness = Witness::new("simulated", what, tolerance);
    pairs.iter().for_each(|&(got, want)| witness.see(got, want));
}

/// Uniform with mean 0 and this sd.
fn box_of(sd: f64, draws: &mut Draws) -> f64 {
    draws.between(-sd, sd) * 3.0_f64.sqrt()
}

#[test]
fn four_boxes() {
    let sum = drawn(1, |draws| (0..4).map(|_| box_of(1.0, draws)).sum());
    let (from, to) = sum.symmetric_95();
    see(
        "101, 9.2.3",
        0.02,
        &[(from, -3.88), (to, 3.88), (sum.u, 2.0), (sum.mean, 0.0)],
    );
}

/// One box ten times wider: a factor of 1.96 would claim ±19.9.
#[test]
fn one_wide_box() {
    let sum = drawn(2, |draws| {
        (0..3).map(|_| box_of(1.0, draws)).sum::<f64>() + box_of(10.0, draws)
    });
    let (from, to) = sum.symmetric_95();
    see(
        "101, 9.2.4",
        0.1,
        &[(from, -17.0), (to, 17.0), (sum.u, 10.1489)],
    );
}

/// Y = X1² + X2² about nothing: the linear law gives u = 0 there. In millionths.
#[test]
fn comparison_loss() {
    let rows = [
        // x1, correlation, mean, u, shortest interval
        (0.0, 0.0, 50.0, 50.0, (0.0, 150.0)),
        (0.01, 0.0, 150.0, 111.8, (0.0, 367.0)),
        (0.05, 0.0, 2550.0, 502.49, (1590.0, 3543.0)),
        (0.0, 0.9, 50.0, 67.27, (0.0, 185.0)),
        (0.01, 0.9, 150.0, 120.52, (13.0, 398.0)),
        (0.05, 0.9, 2550.0, 504.5, (1628.0, 3555.0)),
    ];
    for (stream, (x1, r, mean, u, (from, to))) in rows.into_iter().enumerate() {
        let loss = drawn(10 + stream as u64, |draws| {
            let (a, b) = (draws.normal(), draws.normal());
            let first: f64 = x1 + 0.005 * a;
            let second = 0.005 * (r * a + (1.0_f64 - r * r).sqrt() * b);
            1e6 * (first * first + second * second)
        });
        see(
            "101, 9.4, mean and u",
            4.0,
            &[(loss.mean, mean), (loss.u, u)],
        );
        let got = loss.shortest_95();
        see(
            "101, 9.4, shortest interval",
            15.0,
            &[(got.0, from), (got.1, to)],
        );
    }
}

/// Two values at once: a circle needs 2.45, a square 2.24.
#[test]
fn factors_for_two_at_once() {
    let ellipse = chi2_quantile(0.95, 2.0).expect("in range").sqrt();
    let square = normal_quantile(1.0 - 0.05 / 4.0).expect("in range");
    see("102, 6.5", 1e-4, &[(ellipse, 2.44775), (square, 2.2414)]);
}

/// Magnitude and phase of a number near zero.
#[test]
fn magnitude_and_phase() {
    let rows = [
        (0.0, 0.013, 0.007, 0.0, 1.744),
        (0.9, 0.012, 0.008, -0.556, 1.599),
    ];
    for (stream, (r, size, u_size, phase, u_phase)) in rows.into_iter().enumerate() {
        let pair = |draws: &mut Draws| {
            let (a, b) = (draws.normal(), draws.normal());
            let (re, im) = (
                0.001 + 0.01 * a,
                0.01 * (r * a + (1.0_f64 - r * r).sqrt() * b),
            );
            (re.hypot(im), im.atan2(re))
        };
        let sizes = drawn(20 + stream as u64, |draws| pair(draws).0);
        see(
            "102, 9.3, size",
            5.5e-4,
            &[(sizes.mean, size), (sizes.u, u_size)],
        );
        let phases = drawn(20 + stream as u64, |draws| pair(draws).1);
        // Our mean of 400 000 has an sd of 0.003 itself.
        see(
            "102, 9.3, phase",
            0.012,
            &[(phases.mean, phase), (phases.u, u_phase)],
        );
    }
}

/// A falling ball: times with 10 and 15 %, so the result is skewed.
#[test]
fn viscosity() {
    let mu = drawn(30, |draws| {
        let mut with = |value: f64, u: f64| value + u * draws.normal();
        let (mu_c, t_m, t_c) = (with(4.63, 0.0463), with(61.0, 6.1), with(36.6, 5.49));
        let (ball, oil, water) = (with(2217.0, 0.5), with(1180.0, 0.5), with(810.0, 0.5));
        mu_c * t_m * (ball - oil) / (t_c * (ball - water))
    });
    see("TN 1900, E3, mean", 0.02, &[(mu.mean, 5.82)]);
    see("TN 1900, E3, u", 0.05, &[(mu.u, 1.11)]);
    let (from, to) = mu.symmetric_95();
    see("TN 1900, E3, interval", 0.04, &[(from, 4.05), (to, 8.39)]);
}

/// Expansion with inputs of Student's t with three degrees of freedom, drawn as normal over √(χ²/3).
#[test]
fn expansion() {
    let alpha = drawn(31, |draws| {
        let mut with = |value: f64, u: f64| {
            let chi2: f64 = (0..3).map(|_| draws.normal().powi(2)).sum();
            // An sd of √3 is taken out, so that u is the standard uncertainty.
            value + u * draws.normal() / (chi2 / 3.0).sqrt() / 3.0_f64.sqrt()
        };
        let (l0, l1) = (with(1.4999, 1e-4), with(1.5021, 2e-4));
        let (t0, t1) = (with(288.15, 0.02), with(373.1, 0.05));
        1e6 * (l1 - l0) / (l0 * (t1 - t0))
    });
    see("TN 1900, E13, mean", 0.02, &[(alpha.mean, 17.268)]);
    see("TN 1900, E13, u", 0.05, &[(alpha.u, 1.74)]);
}

/// A logarithm of a box: the linear law is off by a quarter of the result.
#[test]
fn logarithm() {
    let y = drawn(32, |draws| draws.between(0.1, 1.1).ln());
    let (from, to) = y.shortest_95();
    let mean = [(y.mean, -0.665), (y.u, 0.606)];
    see("DEM-ES-011, mean and u", 0.004, &mean);
    see(
        "DEM-ES-011, shortest interval",
        0.006,
        &[(from, -1.895), (to, 0.095)],
    );
}
