//! A first way to the solution with every reading as it was read, from a start that may be far off.
//!
//! ```text
//! least Σ w(x)ᵀ M⁻¹ w(x) + priors        M = B Q Bᵀ where the step begins
//! ```
//!
//! Far from the solution the readings would take up what the unknowns should:
//! a whole degree at a sensor for a length that is off by a hand.
//! So they stay as read until the unknowns are near; the adjustment proper then moves both.
//!
//! - Source: K. Levenberg 1944, D. W. Marquardt 1963 for the damping (from memory).

use crate::calibrate::equations::Observed;
use crate::machine::figures::FigureUnit;
use holdline_geom::adjust::{Linear, Problem};
use holdline_geom::draws::Draws;
use nalgebra::{DMatrix, DVector};

/// Steps at most.
const N_STEPS: usize = 60;

/// Damping that makes a step nothing.
const MOST_DAMPING: f64 = 1e9;

/// Below this misfit a row in the middle block the unknowns are near.
const NEAR: f64 = 9.0;

/// How far about the start angles that nothing is known of are drawn, rad.
const SPREADS_RAD: [f64; 24] = [
    0.2, 0.2, 0.2, 0.5, 0.5, 0.5, 0.5, 1.0, 1.0, 1.0, 1.0, 1.0, 3.2, 3.2, 3.2, 3.2, 3.2, 3.2, 3.2,
    3.2, 3.2, 3.2, 3.2, 3.2,
];

/// How far lengths that nothing is known of are drawn, m.
const SPREAD_M: f64 = 0.2;

/// What the rows of one block leave at a place.
struct Left {
    w: DVector<f64>,
    a: DMatrix<f64>,
    /// M = B Q Bᵀ.
    m: DMatrix<f64>,
}

/// Unknowns near the least squares.
///
/// From the start given; where that leads nowhere near, also from other angles of the sensors that nothing
/// is known of, drawn with this seed, the nearest first and at last any angle.
pub(super) fn near(problem: &Problem<'_>, observed: &Observed, seed: u64) -> Vec<f64> {
    let start: Vec<f64> = problem.unknowns.iter().map(|u| u.start).collect();
    let figures = start[..observed.figure_of_unknown.len()].to_vec();
    let mut best = near_from(problem, start);
    let mut least = middle_misfit(problem, observed, &best);
    let mut draws = Draws::new(seed, 1);
    for spread_rad in SPREADS_RAD {
        if least <= NEAR {
            break;
        }
        let mut drawn = figures.clone();
        for (value, figure_idx) in drawn.iter_mut().zip(&observed.figure_of_unknown) {
            let figure = &observed.figures[*figure_idx];
            if figure.measured.sd.is_none() {
                let spread = match figure.unit {
                    FigureUnit::Radian => spread_rad,
                    FigureUnit::Metre => SPREAD_M,
                };
                *value += draws.between(-spread, spread);
            }
        }
        let Some(start) = observed.begin_at(&drawn) else {
            continue;
        };
        let found = near_from(problem, start);
        let misfit = middle_misfit(problem, observed, &found);
        if misfit < least {
            (best, least) = (found, misfit);
        }
    }
    best
}

/// Whether a figure is the length of a link, which cannot be negative.
pub(super) fn is_length(path: &str) -> bool {
    [
        "boom.length",
        "boom.lower",
        "boom.upper",
        "boom.link",
        "stick.length",
        "linkage.idler",
        "linkage.link",
        "linkage.ear",
    ]
    .contains(&path)
}

/// The middle one of all blocks' misfits a row: what a few gross errors do not touch.
///
/// A link of negative length that points the other way is the same in every equation, and no machine.
fn middle_misfit(problem: &Problem<'_>, observed: &Observed, x: &[f64]) -> f64 {
    let figures = observed.figure_of_unknown.iter().zip(x);
    let turned_over = figures
        .into_iter()
        .any(|(idx, value)| is_length(&observed.figures[*idx].path) && !(0.0 < *value));
    if turned_over {
        return f64::INFINITY;
    }
    let Some(left) = look(problem, x) else {
        return f64::INFINITY;
    };
    let mut misfits: Vec<f64> = left
        .iter()
        .map(|left| match left.m.clone().cholesky() {
            Some(factor) => left.w.dot(&factor.solve(&left.w)) / left.w.len() as f64,
            None => f64::INFINITY,
        })
        .collect();
    misfits.sort_by(f64::total_cmp);
    misfits
        .get(misfits.len() / 2)
        .copied()
        .unwrap_or(f64::INFINITY)
}

/// Unknowns near the least squares from one start; the start itself where no step leads to a better place.
fn near_from(problem: &Problem<'_>, start: Vec<f64>) -> Vec<f64> {
    let mut x = start.clone();
    let mut damping = 1e-3;
    for _ in 0..N_STEPS {
        let Some(here) = look(problem, &x) else {
            return start;
        };
        let Some((normal, right, weights)) = sums(problem, &x, &here) else {
            return x;
        };
        let chi2 = misfit(problem, &x, &here, &weights);
        let mut stepped = false;
        while damping < MOST_DAMPING {
            let mut damped = normal.clone();
            for i in 0..x.len() {
                damped[(i, i)] += damping * normal[(i, i)] + 1e-12;
            }
            let Some(factor) = damped.cholesky() else {
                damping *= 10.0;
                continue;
            };
            let step = factor.solve(&right);
            let there: Vec<f64> = x.iter().zip(step.iter()).map(|(x, d)| x - d).collect();
            let fallen = look(problem, &there).map(|left| misfit(problem, &there, &left, &weights));
            if fallen.is_some_and(|after| after < chi2) {
                let done = fallen.is_some_and(|after| chi2 - after <= 1e-6 * after + 1e-12);
                x = there;
                damping = (damping / 10.0).max(1e-9);
                if done {
                    return x;
                }
                stepped = true;
                break;
            }
            damping *= 10.0;
        }
        if !stepped {
            return x;
        }
    }
    x
}

fn look(problem: &Problem<'_>, x: &[f64]) -> Option<Vec<Left>> {
    let equations = problem.equations;
    (0..equations.n_blocks())
        .map(|block| {
            let shape = equations.shape(block);
            let (n, l) = (shape.n_rows, shape.n_readings);
            let mut out = Linear {
                w: vec![0.0; n],
                a: vec![0.0; n * x.len()],
                b: vec![0.0; n * l],
            };
            equations
                .fill(block, x, equations.readings(block), &mut out)
                .ok()?;
            let q = DMatrix::from_row_slice(l, l, equations.covariance(block));
            let b = DMatrix::from_row_slice(n, l, &out.b);
            let m = &b * q * b.transpose();
            out.w.iter().all(|w| w.is_finite()).then(|| Left {
                w: DVector::from_vec(out.w),
                a: DMatrix::from_row_slice(n, x.len(), &out.a),
                m,
            })
        })
        .collect()
}

/// Normal matrix, right side, and the blocks' weights.
type Sums = (DMatrix<f64>, DVector<f64>, Vec<DMatrix<f64>>);

fn sums(problem: &Problem<'_>, x: &[f64], here: &[Left]) -> Option<Sums> {
    let n = x.len();
    let (mut normal, mut right) = (DMatrix::zeros(n, n), DVector::zeros(n));
    let mut weights = Vec::with_capacity(here.len());
    for left in here {
        let weight = left.m.clone().cholesky()?.inverse();
        let weighted = left.a.transpose() * &weight;
        normal += &weighted * &left.a;
        right += weighted * &left.w;
        weights.push(weight);
    }
    for prior in problem.priors {
        let weight = prior.covariance.clone().cholesky()?.inverse();
        for (i, a) in prior.unknown_idx.iter().enumerate() {
            for (j, b) in prior.unknown_idx.iter().enumerate() {
                normal[(*a, *b)] += weight[(i, j)];
                right[*a] += weight[(i, j)] * (x[*b] - prior.value[j]);
            }
        }
    }
    Some((normal, right, weights))
}

fn misfit(problem: &Problem<'_>, x: &[f64], left: &[Left], weights: &[DMatrix<f64>]) -> f64 {
    let mut sum = 0.0;
    for (left, weight) in left.iter().zip(weights) {
        sum += (left.w.transpose() * weight * &left.w)[(0, 0)];
    }
    for prior in problem.priors {
        let off = DVector::from_fn(prior.value.len(), |i, _| {
            x[prior.unknown_idx[i]] - prior.value[i]
        });
        if let Some(factor) = prior.covariance.clone().cholesky() {
            sum += off.dot(&factor.solve(&off));
        }
    }
    sum
}
