//! Source     JCGM 100:2008, Guide to the expression of uncertainty in measurement (GUM), JCGM/BIPM
//! Place      H.1 (from memory); H.2, Tables H.2 to H.4, correlations from memory; H.3, Table H.6
//! Exercises  holdline_geom::adjust::adjust, covariance_of, correlation; stats::t_quantile
//! Tolerance  H.2, H.3: values computed again from the data, relative 1e-7 and 1e-9; H.1 half of the last digit printed
//! Rights     numbers only, from a text that is free to read
//! Not used   H.1 second-order terms; H.4 to H.6: activity, variance components and hardness fit nothing here

mod common;

use common::{Curve, Points, unknowns};
use holdline_checks::Witness;
use holdline_geom::adjust::{
    Adjusted, Equations, How, Linear, Prior, Problem, Room, Shape, adjust,
};
use holdline_geom::fault::Fault;
use holdline_geom::stats::t_quantile;
use nalgebra::DMatrix;

fn tightly() -> How {
    How {
        small_step: 1e-9,
        ..How::default()
    }
}

/// Voltage, current and phase, five times read together: one block a reading of all three.
struct Together {
    readings: Vec<[f64; 3]>,
    covariance: Vec<f64>,
}

impl Equations for Together {
    fn n_blocks(&self) -> usize {
        self.readings.len()
    }

    fn shape(&self, _: usize) -> Shape {
        Shape {
            n_rows: 3,
            n_readings: 3,
        }
    }

    fn readings(&self, block: usize) -> &[f64] {
        &self.readings[block]
    }

    fn covariance(&self, _: usize) -> &[f64] {
        &self.covariance
    }

    fn fill(&self, _: usize, x: &[f64], l: &[f64], out: &mut Linear) -> Result<(), Fault> {
        for i in 0..3 {
            out.w[i] = x[i] - l[i];
            out.a[i * 3 + i] = 1.0;
            out.b[i * 3 + i] = -1.0;
        }
        Ok(())
    }
}

/// H.2: the covariance of single readings is that of the series itself; means, and R, X, Z of them.
#[test]
fn resistance_reactance_impedance() {
    let volts = [5.007, 4.994, 5.005, 4.990, 4.999];
    let amperes = [0.019_663, 0.019_639, 0.019_640, 0.019_685, 0.019_678];
    let phases = [1.0456, 1.0438, 1.0468, 1.0428, 1.0433];
    let readings: Vec<[f64; 3]> = (0..5).map(|k| [volts[k], amperes[k], phases[k]]).collect();
    let mean = |i: usize| readings.iter().map(|r| r[i]).sum::<f64>() / 5.0;
    let off = |r: &[f64; 3], i: usize| r[i] - mean(i);
    let covariance = |at: usize| {
        let (i, j) = (at / 3, at % 3);
        readings.iter().map(|r| off(r, i) * off(r, j)).sum::<f64>() / 4.0
    };
    let together = Together {
        covariance: (0..9).map(covariance).collect(),
        readings: readings.clone(),
    };
    let starts = unknowns(&[5.0, 0.02, 1.0]);
    let fitted = adjust(
        &Problem::new(&together, &starts),
        &tightly(),
        &mut Room::new(),
    );
    let fitted = fitted.expect("settled");

    let mut means = Witness::new("gum_fits", "H.2, means and their u", 5.1e-5);
    let pairs = [
        (fitted.values[0], 4.9990),
        (fitted.values[1] * 1e3, 19.6610),
        (fitted.values[2], 1.04446),
        (fitted.sd(0).expect("known"), 0.0032),
        (fitted.sd(1).expect("known") * 1e3, 0.0095),
        (fitted.sd(2).expect("known"), 0.00075),
    ];
    pairs.iter().for_each(|&(got, want)| means.see(got, want));
    let mut r = Witness::new("gum_fits", "H.2, correlations of the means", 0.0051);
    for (i, j, want) in [(0, 1, -0.36), (0, 2, 0.86), (1, 2, -0.65)] {
        r.see(fitted.correlation(i, j).expect("known"), want);
    }

    let [v, i, phi]: [f64; 3] = [fitted.values[0], fitted.values[1], fitted.values[2]];
    let (z, sin, cos) = (v / i, phi.sin(), phi.cos());
    #[rustfmt::skip]
    let slopes = DMatrix::from_row_slice(3, 3, &[
        cos / i, -z * cos / i, -z * sin,
        sin / i, -z * sin / i, z * cos,
        1.0 / i, -z / i, 0.0,
    ]);
    let q = fitted.covariance_of(&slopes).expect("determined");
    let u = |k: usize| q[(k, k)].sqrt();
    let mut witness = Witness::new("gum_fits", "H.2, R, X, Z and u, relative", 1e-7);
    let want = [
        (z * cos, 127.732_169_9),
        (z * sin, 219.846_511_9),
        (z, 254.259_701_9),
    ];
    want.iter()
        .for_each(|(got, want)| witness.see(got / want, 1.0));
    for (k, want) in [0.071_071_41, 0.295_581_68, 0.236_336_13]
        .into_iter()
        .enumerate()
    {
        witness.see(u(k) / want, 1.0);
    }
    for (i, j, want) in [
        (0, 1, -0.588_429_78),
        (0, 2, -0.485_259_22),
        (1, 2, 0.992_511_65),
    ] {
        witness.see(q[(i, j)] / (u(i) * u(j)) / want, 1.0);
    }
}

const TEMPERATURES: [f64; 11] = [
    21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511,
];

const CORRECTIONS: [f64; 11] = [
    -0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160,
];

fn thermometer() -> Adjusted {
    let line: Curve = |b, t| b[0].clone() + b[1].clone() * (t[0] - 20.0);
    let points = Points {
        curve: line,
        y: CORRECTIONS.to_vec(),
        x: TEMPERATURES.iter().map(|t| vec![*t]).collect(),
        variance: [1.0],
    };
    let starts = unknowns(&[0.0, 0.0]);
    adjust(
        &Problem::new(&points, &starts),
        &tightly(),
        &mut Room::new(),
    )
    .expect("settled")
}

/// H.3: a straight line through a thermometer's corrections, and what it says outside.
#[test]
fn calibration_of_a_thermometer() {
    let fitted = thermometer();
    assert_eq!(fitted.dof, 9);
    let s = fitted.s0().expect("nine to spare");
    let u = |k: usize| s * fitted.sd(k).expect("determined");
    let at_30 = DMatrix::from_row_slice(1, 2, &[1.0, 10.0]);
    let b_30 = fitted.values[0] + 10.0 * fitted.values[1];
    let u_30 = s * fitted.covariance_of(&at_30).expect("determined")[(0, 0)].sqrt();
    let pairs = [
        (fitted.values[0], -0.171_203_790_131_349_95),
        (fitted.values[1], 0.002_182_697_739_887_277),
        (u(0), 0.002_877_597_835_159_950_3),
        (u(1), 0.000_667_938_773_227_830_8),
        (
            fitted.correlation(0, 1).expect("determined"),
            -0.930_429_603_093_445_8,
        ),
        (b_30, -0.149_376_812_732_472_4),
        (u_30, 0.004_138_595_752_854_942),
        (fitted.chi2, 0.000_110_096_583_109),
    ];
    let mut witness = Witness::new("gum_fits", "H.3, relative", 1e-9);
    pairs
        .iter()
        .for_each(|(got, want)| witness.see(got / want, 1.0));
    // As printed in Table H.6.
    let mut printed = Witness::new("gum_fits", "H.3, as printed", 5.1e-5);
    let rows = [
        (fitted.values[0], -0.1712),
        (u(0), 0.0029),
        (b_30, -0.1494),
        (u_30, 0.0041),
    ];
    rows.iter().for_each(|&(got, want)| printed.see(got, want));
}

/// H.1: an end gauge of 50 mm against a standard, l = l_s + d − l_s (δα θ + α_s δθ).
///
/// Six inputs with their u, each a prior; the length is an unknown that the equation ties to them.
/// Lengths in nm, temperatures in °C. All from memory.
#[test]
fn an_end_gauge() {
    struct Gauge;
    const L_S: f64 = 50_000_623.0;
    const D: f64 = 215.0;

    impl Equations for Gauge {
        fn n_blocks(&self) -> usize {
            1
        }

        fn shape(&self, _: usize) -> Shape {
            Shape {
                n_rows: 1,
                n_readings: 6,
            }
        }

        fn readings(&self, _: usize) -> &[f64] {
            // l_s, d, α_s, θ, δα, δθ
            &[L_S, D, 11.5e-6, -0.1, 0.0, 0.0]
        }

        fn covariance(&self, _: usize) -> &[f64] {
            const U: [f64; 6] = [25.0, 9.7, 1.2e-6, 0.41, 0.58e-6, 0.029];
            const Q: [f64; 36] = {
                let mut q = [0.0; 36];
                let mut k = 0;
                while k < 6 {
                    q[k * 7] = U[k] * U[k];
                    k += 1;
                }
                q
            };
            &Q
        }

        fn fill(&self, _: usize, x: &[f64], l: &[f64], out: &mut Linear) -> Result<(), Fault> {
            let [l_s, d, alpha, theta, d_alpha, d_theta] = [l[0], l[1], l[2], l[3], l[4], l[5]];
            let grown = d_alpha * theta + alpha * d_theta;
            out.w[0] = l_s + d - l_s * grown - x[0];
            out.a[0] = -1.0;
            out.b.copy_from_slice(&[
                1.0 - grown,
                1.0,
                -l_s * d_theta,
                -l_s * d_alpha,
                -l_s * theta,
                -l_s * alpha,
            ]);
            Ok(())
        }
    }

    let starts = unknowns(&[50_000_000.0]);
    let fitted = adjust(&Problem::new(&Gauge, &starts), &tightly(), &mut Room::new());
    let fitted = fitted.expect("settled");
    Witness::new("gum_fits", "H.1, length, nm", 0.5).see(fitted.values[0], 50_000_838.0);
    let u = fitted.sd(0).expect("determined");
    Witness::new("gum_fits", "H.1, u, nm", 0.5).see(u, 32.0);
    let t = t_quantile(0.995, 16.0).expect("in range");
    Witness::new("gum_fits", "H.1, t for 99 %, 16 degrees of freedom", 0.005).see(t, 2.92);
    Witness::new("gum_fits", "H.1, U for 99 %, nm", 1.0).see(t * u, 93.0);
}

/// The line of H.3 again, with what its own first ten points say as a prior for the last.
#[test]
fn a_prior_carries_what_was_learned() {
    let line: Curve = |b, t| b[0].clone() + b[1].clone() * (t[0] - 20.0);
    let part = |from: usize, to: usize| Points {
        curve: line,
        y: CORRECTIONS[from..to].to_vec(),
        x: TEMPERATURES[from..to].iter().map(|t| vec![*t]).collect(),
        variance: [1.0],
    };
    let starts = unknowns(&[0.0, 0.0]);
    let (ten, last) = (part(0, 10), part(10, 11));
    let first = adjust(&Problem::new(&ten, &starts), &tightly(), &mut Room::new()).expect("ten");
    let priors = [Prior {
        unknown_idx: vec![0, 1],
        value: first.values.clone(),
        covariance: first.covariances().expect("determined").clone(),
    }];
    let problem = Problem {
        priors: &priors,
        ..Problem::new(&last, &starts)
    };
    let both = adjust(&problem, &tightly(), &mut Room::new()).expect("settled");
    let at_once = thermometer();
    let mut witness = Witness::new("gum_fits", "H.3 in two parts, relative", 1e-9);
    for k in 0..2 {
        witness.see(both.values[k] / at_once.values[k], 1.0);
        let sd = |fit: &Adjusted| fit.sd(k).expect("determined");
        witness.see(sd(&both) / sd(&at_once), 1.0);
    }
}
