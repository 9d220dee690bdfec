//! Directions: changes of several unknowns together that the observations tell little or nothing of.
//!
//! Directions that are equally unknown span a space, and any basis of it is as good for arithmetic.
//! For people the one is taken in which each direction has an unknown that no other has
//! (elimination with the largest pivot), so that the fewest unknowns are named together.

use nalgebra::DMatrix;

use super::adjusted::Adjusted;

/// Parts below this share of the largest are left out.
const SHARE_NAMED: f64 = 0.01;

/// Above this share of the variance before, an observation told little: 0.9 of the sd.
const SHARE_WEAK: f64 = 0.81;

/// One unknown's part in a direction.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Part {
    /// Which unknown.
    pub unknown_idx: usize,
    /// How far it goes, in units of its scale; the largest part of a direction is 1.
    pub part: f64,
}

/// A change of unknowns together.
#[derive(Debug, Clone, PartialEq)]
pub struct Direction {
    /// The unknowns in it, largest part first.
    pub parts: Vec<Part>,
    /// sd after, as a share of the sd before, along the direction; 1 where the observations told nothing.
    pub sd_ratio: f64,
}

/// Directions of a basis in units of scale, as people read them.
pub(super) fn open(basis: &DMatrix<f64>) -> Vec<Direction> {
    let basis = told_apart(basis.clone());
    let columns = basis.column_iter();
    columns
        .map(|column| direction(column.iter().copied(), 1.0))
        .collect()
}

/// Directions whose sd is more than 0.9 of what the priors had said.
///
/// ```text
/// C = Q^½ N_p Q^½: its eigenvalues are the shares of the priors in what is known after;
/// sd after / sd before = √ of them
/// ```
///
/// `Q` covariance after, `N_p` normal matrix of the priors alone.
pub(super) fn weak(adjusted: &Adjusted) -> Vec<Direction> {
    let n_p = &adjusted.prior_normal;
    let n = n_p.nrows();
    if n == 0 || n_p.iter().all(|value| *value == 0.0) {
        return Vec::new();
    }
    let q = free_covariance(adjusted);
    let root = square_root(&q);
    let shares = (root.transpose() * n_p * &root).symmetric_eigen();
    let weak: Vec<usize> = (0..n)
        .filter(|&k| SHARE_WEAK < shares.eigenvalues[k])
        .collect();
    if weak.is_empty() {
        return Vec::new();
    }
    let vectors = shares.eigenvectors.select_columns(weak.iter());
    let moved = all_unknowns(adjusted, &(&root * vectors));
    let scaled = DMatrix::from_fn(moved.nrows(), moved.ncols(), |i, k| {
        moved[(i, k)] / adjusted.scale[i]
    });
    let mut directions: Vec<Direction> = told_apart(scaled)
        .column_iter()
        .map(|column| {
            let ratio = sd_ratio(adjusted, &q, column.iter().copied().collect());
            direction(column.iter().copied(), ratio)
        })
        .collect();
    directions.sort_by(|a, b| b.sd_ratio.total_cmp(&a.sd_ratio));
    directions
}

/// √(dᵀ N_p d / dᵀ N d) for a change `d` of the unknowns in units of scale.
fn sd_ratio(adjusted: &Adjusted, q: &DMatrix<f64>, scaled: Vec<f64>) -> f64 {
    let free = free_part(adjusted, scaled);
    let before = (free.transpose() * &adjusted.prior_normal * &free)[(0, 0)];
    // N d by solving Q y = d, with the unknowns on one scale.
    let d: Vec<f64> = (0..q.nrows()).map(|i| q[(i, i)].sqrt()).collect();
    let unit = DMatrix::from_fn(q.nrows(), q.ncols(), |i, j| q[(i, j)] / (d[i] * d[j]));
    let right = DMatrix::from_fn(q.nrows(), 1, |i, _| free[(i, 0)] / d[i]);
    let solved = unit.pseudo_inverse(1e-12).map(|inverse| &inverse * &right);
    let after = solved.map_or(f64::NAN, |y| (right.transpose() * y)[(0, 0)]);
    (before / after).sqrt().min(1.0)
}

/// The free unknowns' part of a change of all.
fn free_part(adjusted: &Adjusted, scaled: Vec<f64>) -> DMatrix<f64> {
    let change = DMatrix::from_fn(scaled.len(), 1, |i, _| scaled[i] * adjusted.scale[i]);
    match &adjusted.basis {
        None => change,
        Some(basis) => {
            let solved = basis.clone().svd(true, true).solve(&change, 1e-12);
            solved.unwrap_or_else(|_| DMatrix::zeros(basis.ncols(), 1))
        }
    }
}

pub(super) fn free_covariance(adjusted: &Adjusted) -> DMatrix<f64> {
    match &adjusted.basis {
        None => adjusted.covariance.clone(),
        Some(basis) => match basis.clone().pseudo_inverse(1e-12) {
            Ok(back) => &back * &adjusted.covariance * back.transpose(),
            Err(_) => DMatrix::zeros(basis.ncols(), basis.ncols()),
        },
    }
}

fn all_unknowns(adjusted: &Adjusted, free: &DMatrix<f64>) -> DMatrix<f64> {
    match &adjusted.basis {
        None => free.clone(),
        Some(basis) => basis * free,
    }
}

/// A root R of the covariance, R Rᵀ = Q, found with the unknowns on one scale.
pub(super) fn square_root(q: &DMatrix<f64>) -> DMatrix<f64> {
    let d: Vec<f64> = (0..q.nrows())
        .map(|i| q[(i, i)].sqrt())
        .map(|sd| if 0.0 < sd { sd } else { 1.0 })
        .collect();
    let unit = DMatrix::from_fn(q.nrows(), q.ncols(), |i, j| q[(i, j)] / (d[i] * d[j]));
    let eigen = unit.symmetric_eigen();
    DMatrix::from_fn(q.nrows(), q.ncols(), |i, k| {
        d[i] * eigen.eigenvectors[(i, k)] * eigen.eigenvalues[k].max(0.0).sqrt()
    })
}

/// A basis of the same space in which each column has a row that the others have not.
fn told_apart(mut columns: DMatrix<f64>) -> DMatrix<f64> {
    let (n, k) = columns.shape();
    let mut row_used = vec![false; n];
    for done in 0..k {
        let (mut best, mut at) = (0.0, (0, done));
        for column in done..k {
            let long = columns.column(column).norm();
            for row in (0..n).filter(|&row| !row_used[row]) {
                let share = columns[(row, column)].abs() / long;
                if best < share {
                    (best, at) = (share, (row, column));
                }
            }
        }
        columns.swap_columns(done, at.1);
        row_used[at.0] = true;
        let pivot = columns[(at.0, done)];
        let unit = columns.column(done) / pivot;
        columns.set_column(done, &unit);
        for other in (0..k).filter(|&other| other != done) {
            let factor = columns[(at.0, other)];
            let less = columns.column(other) - &unit * factor;
            columns.set_column(other, &less);
            columns[(at.0, other)] = 0.0;
        }
    }
    columns
}

fn direction(parts: impl Iterator<Item = f64>, sd_ratio: f64) -> Direction {
    let mut parts: Vec<Part> = parts
        .enumerate()
        .map(|(unknown_idx, part)| Part { unknown_idx, part })
        .collect();
    parts.sort_by(|a, b| b.part.abs().total_cmp(&a.part.abs()));
    let largest = parts.first().map_or(1.0, |first| first.part);
    for part in &mut parts {
        part.part /= largest;
    }
    parts.retain(|part| SHARE_NAMED <= part.part.abs());
    Direction { parts, sd_ratio }
}
