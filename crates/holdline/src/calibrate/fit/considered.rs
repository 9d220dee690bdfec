//! Figures that were held: their own uncertainty goes through to everything that was found.
//!
//! ```text
//! S = ∂x̂/∂h = −Q Σ Aᵀ M⁻¹ A_h        M = B Q_l Bᵀ, a block each
//! Σ_x = Q + S Q_h Sᵀ + K C Sᵀ + S Cᵀ Kᵀ        Σ_xh = S Q_h + K C        K = Q Eᵀ C_p⁻¹
//! ```
//!
//! - Symbols: x the unknowns with covariance Q as adjusted; h the figures held, with covariance Q_h;
//!   A, A_h the slopes of the equations by both; l the readings; C the covariance between what a calibration
//!   on the machine says of unknowns and of held figures, C_p its covariance among the unknowns (E picks them).
//! - A held figure is not improved: it takes nothing up, and its error bends all that leans on it.
//! - Source: S. F. Schmidt 1966, consider covariance (from memory); also plain propagation of the estimator.

use super::open::{SHARE_FROM_OPEN, vague_sd};
use super::tested::Settled;
use crate::calibrate::equations::{Observed, Var};
use crate::machine::Machine;
use holdline_geom::adjust::{Adjusted, Equations, Excluded, Linear};
use nalgebra::{DMatrix, DVector};

/// What the held figures add.
#[derive(Debug, Clone)]
pub(super) struct Considered {
    /// The figures held, by their places in the rig.
    pub figure_idx: Vec<usize>,
    /// Of each, whether any equation depends on it.
    pub touched: Vec<bool>,
    /// Covariance of the held figures: zero rows for those that nobody stated an uncertainty of.
    pub own: DMatrix<f64>,
    /// Covariance of the unknowns with the held ones, n × n_held.
    pub across: DMatrix<f64>,
    /// What is added to the covariance of the unknowns.
    pub added: DMatrix<f64>,
    /// Unknowns that lean on a held figure that nobody stated an uncertainty of.
    pub without_sd: Vec<bool>,
}

impl Considered {
    /// Columns of the held figures that bend what was found and whose uncertainty is stated.
    pub(super) fn figures_that_bend(&self) -> impl Iterator<Item = usize> + '_ {
        (0..self.figure_idx.len()).filter(|k| self.touched[*k] && 0.0 < self.own[(*k, *k)])
    }
}

/// How the held figures move what was found.
pub(super) fn considered(machine: &Machine, observed: &Observed, settled: &Settled) -> Considered {
    let figures = observed.figures.iter().enumerate();
    let figure_idx: Vec<usize> = figures
        .filter(|(idx, figure)| {
            observed.system.unknown_of_figure[*idx].is_none() && !figure.stand_in
        })
        .map(|(idx, _)| idx)
        .collect();
    let n = settled.adjusted.values.len();
    let out: Vec<Excluded> = settled.taken_out.iter().map(|out| out.reading).collect();
    let normal = normal_by_held(observed, &settled.adjusted, &figure_idx, &out);
    let covariance = |a: usize, b: usize| settled.adjusted.covariance(a, b).unwrap_or(0.0);
    let q = DMatrix::from_fn(n, n, covariance);
    let slopes = -(&q * &normal.crossed);
    let own = own(machine, observed, &figure_idx);
    let known = by_calibration(machine, observed, &figure_idx, &q);
    let bent = &slopes * &own;
    let both = &known * slopes.transpose();
    let added = &bent * slopes.transpose() + &both + both.transpose();
    let without_sd = (0..n)
        .map(|unknown_idx| {
            let lean = figure_idx.iter().enumerate().filter(|(column, idx)| {
                let figure = &observed.figures[**idx];
                let off = slopes[(unknown_idx, *column)] * vague_sd(figure.unit);
                let variance = covariance(unknown_idx, unknown_idx);
                figure.measured.sd.is_none() && !(off * off <= SHARE_FROM_OPEN * variance)
            });
            lean.count() != 0
        })
        .collect();
    Considered {
        across: bent + known,
        added,
        own,
        touched: normal.touched,
        figure_idx,
        without_sd,
    }
}

struct ByHeld {
    /// Σ Aᵀ M⁻¹ A_h.
    crossed: DMatrix<f64>,
    touched: Vec<bool>,
}

fn normal_by_held(
    observed: &Observed,
    adjusted: &Adjusted,
    held: &[usize],
    out: &[Excluded],
) -> ByHeld {
    let (n, n_held) = (adjusted.values.len(), held.len());
    let mut crossed = DMatrix::zeros(n, n_held);
    let mut touched = vec![false; n_held];
    let mut system = observed.system.clone();
    let mut x = adjusted.values.clone();
    for figure_idx in held {
        system.unknown_of_figure[*figure_idx] = Some(x.len());
        x.push(observed.figures[*figure_idx].measured.value);
    }
    system.n_unknowns = x.len();
    for block in &mut system.blocks {
        let more = held.iter().enumerate().map(|(k, figure_idx)| Var::Figure {
            figure_idx: *figure_idx,
            unknown_idx: n + k,
        });
        block.vars.extend(more);
        // Variables stand in the order of the rig: figures first, by their places in it.
        block.vars.sort_by_key(|var| match var {
            Var::Figure { figure_idx, .. } => (0, *figure_idx),
            Var::Nuisance { unknown_idx } => (1, *unknown_idx),
            Var::Reading { reading_idx } => (2, *reading_idx),
        });
    }
    for idx in 0..system.n_blocks() {
        let shape = system.shape(idx);
        let mut linear = Linear {
            w: vec![0.0; shape.n_rows],
            a: vec![0.0; shape.n_rows * x.len()],
            b: vec![0.0; shape.n_rows * shape.n_readings],
        };
        if system
            .fill(idx, &x, adjusted.adjusted_readings(idx), &mut linear)
            .is_err()
        {
            // Where the equations have no value nothing can be said of how the held figures bend it.
            crossed.fill(f64::NAN);
            touched.fill(true);
            break;
        }
        let a = DMatrix::from_row_slice(shape.n_rows, x.len(), &linear.a);
        let by_held = a.columns(n, n_held).into_owned();
        for (k, column) in by_held.column_iter().enumerate() {
            touched[k] |= column.iter().any(|slope| !(slope.abs() <= 1e-12));
        }
        let weight = weight(
            &system.blocks[idx].covariance,
            &linear.b,
            shape.n_rows,
            |l| {
                out.contains(&Excluded {
                    block: idx,
                    reading: l,
                })
            },
        );
        crossed += a.columns(0, n).transpose() * weight * by_held;
    }
    ByHeld { crossed, touched }
}

/// M⁻¹ of a block; a reading that was taken out is one whose variance has no bound.
///
/// ```text
/// M⁻¹ − M⁻¹ b (bᵀ M⁻¹ b)⁻¹ bᵀ M⁻¹
/// ```
fn weight(
    covariance: &[f64],
    b: &[f64],
    n_rows: usize,
    is_out: impl Fn(usize) -> bool,
) -> DMatrix<f64> {
    let n_l = b.len() / n_rows.max(1);
    let b = DMatrix::from_row_slice(n_rows, n_l, b);
    let q = DMatrix::from_row_slice(n_l, n_l, covariance);
    let m = &b * q * b.transpose();
    let Some(mut weight) = m.try_inverse() else {
        return DMatrix::from_element(n_rows, n_rows, f64::NAN);
    };
    for column in (0..n_l).filter(|l| is_out(*l)) {
        let lean: DVector<f64> = &weight * b.column(column);
        let size = b.column(column).dot(&lean);
        // A reading that nothing leans on any more takes nothing away.
        if 0.0 < size {
            weight -= &lean * lean.transpose() / size;
        }
    }
    weight
}

/// Covariance of the held figures, by sheet or by the calibration that the machine carries.
fn own(machine: &Machine, observed: &Observed, held: &[usize]) -> DMatrix<f64> {
    let row = |idx: usize| {
        let carried = machine.correlated()?;
        let path = &observed.figures[idx].path;
        carried.paths.iter().position(|p| p == path)
    };
    DMatrix::from_fn(held.len(), held.len(), |i, j| {
        match (machine.correlated(), row(held[i]), row(held[j])) {
            (Some(carried), Some(a), Some(b)) => carried.covariance[(a, b)],
            _ if i == j => observed.figures[held[i]].measured.sd.unwrap_or(0.0).powi(2),
            _ => 0.0,
        }
    })
}

/// K C: what the unknowns' own knowledge from a calibration shares with the held figures.
fn by_calibration(
    machine: &Machine,
    observed: &Observed,
    held: &[usize],
    q: &DMatrix<f64>,
) -> DMatrix<f64> {
    let none = DMatrix::zeros(q.nrows(), held.len());
    let Some(carried) = machine.correlated() else {
        return none;
    };
    let place = |idx: usize| {
        let path = &observed.figures[idx].path;
        carried.paths.iter().position(|p| p == path)
    };
    let figures = observed.figure_of_unknown.iter().enumerate();
    let known: Vec<(usize, usize)> = figures
        .filter(|(_, idx)| observed.figures[**idx].measured.sd.is_some())
        .filter_map(|(unknown_idx, idx)| Some((unknown_idx, place(*idx)?)))
        .collect();
    let n = known.len();
    let prior = DMatrix::from_fn(n, n, |i, j| carried.covariance[(known[i].1, known[j].1)]);
    let shared = DMatrix::from_fn(n, held.len(), |i, j| {
        place(held[j]).map_or(0.0, |there| carried.covariance[(known[i].1, there)])
    });
    let picked = DMatrix::from_fn(q.nrows(), n, |i, j| q[(i, known[j].0)]);
    match prior.cholesky() {
        Some(root) => picked * root.solve(&shared),
        None => none,
    }
}
