//! Slopes by hand against slopes by differences: for the tests of whoever writes equations.

use super::equations::{Equations, Linear};
use crate::fault::Fault;

/// A slope that differs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SlopeOff {
    /// Block and row.
    pub block: usize,
    /// Row in it.
    pub row: usize,
    /// By which unknown, or by which reading counted on after the unknowns.
    pub column: usize,
    /// As filled.
    pub filled: f64,
    /// By differences.
    pub by_differences: f64,
    /// Their difference, as a change of the row when the column changes by its scale,
    /// against the largest such change in the row.
    pub share: f64,
}

/// The slope of [`Equations::fill`] that is furthest from central differences.
///
/// ```text
/// f'(x) ≈ (f(x + h) − f(x − h)) / 2h        h = 1e-5 of the column's scale
/// ```
///
/// `scale` gives the size of a usual change of each unknown, then of each reading of a block
/// (`x_scale`, `l_scale`). Third derivatives of usual size leave a share of 1e-9 or so.
///
/// # Errors
///
/// The equations' own faults.
pub fn check_slopes(
    equations: &dyn Equations,
    x: &[f64],
    x_scale: &[f64],
    l_scale: f64,
) -> Result<Option<SlopeOff>, Fault> {
    let mut worst: Option<SlopeOff> = None;
    for block in 0..equations.n_blocks() {
        let l = equations.readings(block).to_vec();
        let n_rows = equations.shape(block).n_rows;
        let here = filled(equations, block, x, &l)?;
        let n_columns = x.len() + l.len();
        let scale = |column: usize| x_scale.get(column).copied().unwrap_or(l_scale);
        let mut differences = vec![0.0; n_rows * n_columns];
        for column in 0..n_columns {
            let h = 1e-5 * scale(column);
            let (mut x, mut l) = (x.to_vec(), l.clone());
            let mut at = |by: f64| {
                match column.checked_sub(x.len()) {
                    None => x[column] += by,
                    Some(reading) => l[reading] += by,
                }
                filled(equations, block, &x, &l)
            };
            let (up, down) = (at(h)?, at(-2.0 * h)?);
            for row in 0..n_rows {
                differences[row * n_columns + column] = (up.w[row] - down.w[row]) / (2.0 * h);
            }
        }
        for row in 0..n_rows {
            let a = &here.a[row * x.len()..(row + 1) * x.len()];
            let b = &here.b[row * l.len()..(row + 1) * l.len()];
            let by_hand: Vec<f64> = a.iter().chain(b).copied().collect();
            let by_differences = &differences[row * n_columns..(row + 1) * n_columns];
            let sizes = by_differences.iter().enumerate();
            let largest = sizes.fold(0.0, |largest: f64, (column, slope)| {
                largest.max((slope * scale(column)).abs())
            });
            for column in 0..n_columns {
                let (filled, by_differences) = (by_hand[column], by_differences[column]);
                let share = (filled - by_differences).abs() * scale(column) / largest;
                if worst.is_none_or(|worst| !(share <= worst.share)) {
                    worst = Some(SlopeOff {
                        block,
                        row,
                        column,
                        filled,
                        by_differences,
                        share,
                    });
                }
            }
        }
    }
    Ok(worst)
}

fn filled(equations: &dyn Equations, block: usize, x: &[f64], l: &[f64]) -> Result<Linear, Fault> {
    let shape = equations.shape(block);
    let mut out = Linear {
        w: vec![0.0; shape.n_rows],
        a: vec![0.0; shape.n_rows * x.len()],
        b: vec![0.0; shape.n_rows * shape.n_readings],
    };
    equations.fill(block, x, l, &mut out)?;
    Ok(out)
}
