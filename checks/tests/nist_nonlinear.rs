//! Source     NIST/ITL Statistical Reference Datasets, nonlinear regression
//! Place      all 27 sets, files unchanged in checks/data/nist_strd, from both starts of each
//! Exercises  holdline_geom::adjust::adjust
//! Tolerance  relative: parameters, sd and residual sd 1e-6; Lanczos1 sd 5e-3, see there
//! Rights     work of the US government
//! Not used   residual sums of squares, which follow from the residual sd

mod common;

use std::f64::consts::PI;
use std::fs;
use std::path::Path;

use common::{Curve, Points, unknowns};
use holdline_checks::Witness;
use holdline_geom::adjust::{How, Problem, Room, adjust};
use num_dual::{DualDVec64, DualNum};

type D = DualDVec64;

/// A file of the collection: data, starts and what is certified.
struct Set {
    data: Vec<Vec<f64>>,
    starts: [Vec<f64>; 2],
    parameters: Vec<f64>,
    sds: Vec<f64>,
    residual_sd: f64,
}

impl Set {
    fn read(name: &str) -> Set {
        let path = Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("data/nist_strd")
            .join(format!("{name}.dat"));
        let text = fs::read_to_string(path).expect("the file is there");
        let lines: Vec<&str> = text.lines().collect();
        let (from, to) = span(&lines, "Data  ");
        let data = lines[from - 1..to].iter().map(|line| numbers(line));
        let (from, to) = span(&lines, "Starting Values");
        let rows: Vec<Vec<f64>> = lines[from - 1..to]
            .iter()
            .map(|line| numbers(line.split_once('=').expect("b1 = …").1))
            .collect();
        let column = |k: usize| rows.iter().map(|row| row[k]).collect::<Vec<f64>>();
        let sd = "Residual Standard Deviation:";
        let line = lines.iter().find_map(|line| line.strip_prefix(sd));
        Set {
            data: data.collect(),
            starts: [column(0), column(1)],
            parameters: column(2),
            sds: column(3),
            residual_sd: numbers(line.expect("a residual sd"))[0],
        }
    }
}

/// The lines that the head of the file names: `Data (lines 61 to 74)`.
fn span(lines: &[&str], what: &str) -> (usize, usize) {
    let line = lines
        .iter()
        .find(|line| line.contains(what) && line.contains("(lines"))
        .expect("named in the head");
    let after = line.split_once("(lines").expect("lines").1;
    let words: Vec<&str> = after.trim_end_matches(')').split_whitespace().collect();
    let number = |word: &str| word.trim_end_matches(')').parse().expect("a line");
    (number(words[0]), number(words[2]))
}

fn numbers(text: &str) -> Vec<f64> {
    let words = text.split_whitespace();
    words.map(|word| word.parse().expect("a number")).collect()
}

/// Fits one set from both starts.
#[track_caller]
fn check(name: &str, curve: Curve) {
    let set = Set::read(name);
    // Nobody states an sd for these data. A hundredth of the range is what one would guess from a plot;
    // it only tells the search whether a place fits at all, and drops out of all results.
    let y = set.data.iter().map(|row| row[0]);
    let (least, most) = (
        y.clone().fold(f64::MAX, f64::min),
        y.fold(f64::MIN, f64::max),
    );
    check_with_sd(name, curve, (most - least) / 100.0, 1e-6);
}

/// Data generated to so many digits: the sd is that of rounding, or near it.
#[track_caller]
fn check_with_sd(name: &str, curve: Curve, sd: f64, sd_tolerance: f64) {
    let set = Set::read(name);
    let points = Points {
        curve,
        y: set.data.iter().map(|row| row[0]).collect(),
        x: set.data.iter().map(|row| row[1..].to_vec()).collect(),
        variance: [sd * sd],
    };
    check_points(name, &set, &points, sd_tolerance);
}

#[track_caller]
fn check_points(name: &str, set: &Set, points: &Points, sd_tolerance: f64) {
    let how = How {
        small_step: 1e-9,
        n_steps_at_most: 5000,
        ..How::default()
    };
    let sd_stated = points.variance[0].sqrt();
    for (start_idx, start) in set.starts.iter().enumerate() {
        let unknowns = unknowns(start);
        let problem = Problem::new(points, &unknowns);
        let fitted = adjust(&problem, &how, &mut Room::new());
        let fitted = fitted.unwrap_or_else(|fault| panic!("{name} {}: {fault}", start_idx + 1));
        println!(
            "{name}, start {}: {} steps, {:?}",
            start_idx + 1,
            fitted.n_steps,
            fitted.found
        );
        let s0 = fitted.s0().expect("more points than parameters");
        let residual_sd = s0 * sd_stated;
        for (idx, (&want, &sd)) in set.parameters.iter().zip(&set.sds).enumerate() {
            let got = fitted.values[idx];
            Witness::new("nist_nonlinear", "parameters, relative", 1e-6).see(got / want, 1.0);
            let got = s0 * fitted.sd(idx).expect("determined");
            Witness::new("nist_nonlinear", "sd, relative", sd_tolerance).see(got / sd, 1.0);
        }
        Witness::new("nist_nonlinear", "residual sd, relative", sd_tolerance)
            .see(residual_sd / set.residual_sd, 1.0);
    }
}

#[test]
fn misra1a() {
    check("Misra1a", |b, x| {
        b[0].clone() * (-(-b[1].clone() * x[0]).exp() + 1.0)
    });
}

#[test]
fn misra1b() {
    check("Misra1b", |b, x| {
        b[0].clone() * (-(b[1].clone() * x[0] / 2.0 + 1.0).powi(-2) + 1.0)
    });
}

#[test]
fn misra1c() {
    check("Misra1c", |b, x| {
        b[0].clone() * (-(b[1].clone() * x[0] * 2.0 + 1.0).sqrt().recip() + 1.0)
    });
}

#[test]
fn misra1d() {
    check("Misra1d", |b, x| {
        let t = b[1].clone() * x[0];
        b[0].clone() * t.clone() / (t + 1.0)
    });
}

fn chwirut(b: &[D], x: &[f64]) -> D {
    (-b[0].clone() * x[0]).exp() / (b[1].clone() + b[2].clone() * x[0])
}

#[test]
fn chwirut1() {
    check("Chwirut1", chwirut);
}

#[test]
fn chwirut2() {
    check("Chwirut2", chwirut);
}

/// Three exponentials: Lanczos 1 to 3.
fn lanczos(b: &[D], x: &[f64]) -> D {
    let term = |k: usize| b[k].clone() * (-b[k + 1].clone() * x[0]).exp();
    term(0) + term(2) + term(4)
}

/// The data are exact to 14 digits, so residuals of 1e-13 are all that there is to take an sd from:
/// their sum is rounding in the last two digits of each. Parameters are exact all the same.
#[test]
fn lanczos1() {
    check_with_sd("Lanczos1", lanczos, 1e-13, 5e-3);
}

#[test]
fn lanczos2() {
    check_with_sd("Lanczos2", lanczos, 1e-6, 1e-6);
}

#[test]
fn lanczos3() {
    check_with_sd("Lanczos3", lanczos, 1e-5, 1e-6);
}

/// A decay and two bells: Gauss 1 to 3.
fn gauss(b: &[D], x: &[f64]) -> D {
    let bell = |k: usize| {
        let off = (-b[k + 1].clone() + x[0]) / b[k + 2].clone();
        b[k].clone() * (-off.powi(2)).exp()
    };
    b[0].clone() * (-b[1].clone() * x[0]).exp() + bell(2) + bell(5)
}

#[test]
fn gauss1() {
    check("Gauss1", gauss);
}

#[test]
fn gauss2() {
    check("Gauss2", gauss);
}

#[test]
fn gauss3() {
    check("Gauss3", gauss);
}

#[test]
fn dan_wood() {
    check("DanWood", |b, x| {
        b[0].clone() * (b[1].clone() * x[0].ln()).exp()
    });
}

/// Σ b_k x^k over a few parameters, by Horner.
fn polynomial(b: &[D], x: f64) -> D {
    let (last, lower) = b.split_last().expect("a parameter");
    lower.iter().rev().fold(last.clone(), |sum, b| sum * x + b)
}

/// A polynomial over one that begins with 1.
fn ratio(above: &[D], below: &[D], x: f64) -> D {
    polynomial(above, x) / (polynomial(below, x) * x + 1.0)
}

#[test]
fn kirby2() {
    check("Kirby2", |b, x| ratio(&b[..3], &b[3..], x[0]));
}

#[test]
fn hahn1() {
    check("Hahn1", |b, x| ratio(&b[..4], &b[4..], x[0]));
}

#[test]
fn thurber() {
    check("Thurber", |b, x| ratio(&b[..4], &b[4..], x[0]));
}

/// The response is the logarithm of the column.
#[test]
fn nelson() {
    let set = Set::read("Nelson");
    let points = Points {
        curve: |b, x| b[0].clone() - b[1].clone() * x[0] * (-b[2].clone() * x[1]).exp(),
        y: set.data.iter().map(|row| row[0].ln()).collect(),
        x: set.data.iter().map(|row| row[1..].to_vec()).collect(),
        variance: [0.01],
    };
    check_points("Nelson", &set, &points, 1e-6);
}

#[test]
fn mgh09() {
    check("MGH09", |b, x| {
        let square = x[0] * x[0];
        b[0].clone() * (b[1].clone() * x[0] + square) / (b[2].clone() * x[0] + square + &b[3])
    });
}

#[test]
fn mgh10() {
    let curve: Curve = |b, x| b[0].clone() * (b[1].clone() / (b[2].clone() + x[0])).exp();
    check_with_sd("MGH10", curve, 1.0, 1e-6);
}

#[test]
fn mgh17() {
    let curve: Curve = |b, x| {
        let term = |k: usize, rate: usize| b[k].clone() * (-b[rate].clone() * x[0]).exp();
        b[0].clone() + term(1, 3) + term(2, 4)
    };
    check_with_sd("MGH17", curve, 1e-3, 1e-6);
}

#[test]
fn roszman1() {
    check("Roszman1", |b, x| {
        let angle = (b[2].clone() / (-b[3].clone() + x[0])).atan();
        b[0].clone() - b[1].clone() * x[0] - angle / PI
    });
}

#[test]
fn enso() {
    check("ENSO", |b, x| {
        let year = 2.0 * PI * x[0] / 12.0;
        let wave = |rate: usize, cos: usize, sin: usize| {
            let turn = b[rate].recip() * (2.0 * PI * x[0]);
            b[cos].clone() * turn.cos() + b[sin].clone() * turn.sin()
        };
        let yearly = b[1].clone() * year.cos() + b[2].clone() * year.sin();
        b[0].clone() + yearly + wave(3, 4, 5) + wave(6, 7, 8)
    });
}

#[test]
fn box_bod() {
    check("BoxBOD", |b, x| {
        b[0].clone() * (-(-b[1].clone() * x[0]).exp() + 1.0)
    });
}

#[test]
fn rat42() {
    check("Rat42", |b, x| {
        b[0].clone() / ((b[1].clone() - b[2].clone() * x[0]).exp() + 1.0)
    });
}

#[test]
fn rat43() {
    check("Rat43", |b, x| {
        let grown = (b[1].clone() - b[2].clone() * x[0]).exp() + 1.0;
        b[0].clone() / (grown.ln() / b[3].clone()).exp()
    });
}

#[test]
fn eckerle4() {
    check("Eckerle4", |b, x| {
        let off = (-b[2].clone() + x[0]) / b[1].clone();
        b[0].clone() / b[1].clone() * (off.powi(2) * -0.5).exp()
    });
}

#[test]
fn bennett5() {
    check("Bennett5", |b, x| {
        let base = b[1].clone() + x[0];
        b[0].clone() * (base.ln() * -b[2].recip()).exp()
    });
}
