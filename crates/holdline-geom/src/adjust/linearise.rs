//! The equations at a place, whitened: rows whose right sides have variance 1 and no correlation.
//!
//! ```text
//! f(x + dx, l̂ + dl) ≈ f(x, l̂) + A dx + B dl = 0        v = l̂ − l: what the readings must give way
//! w = f(x, l̂) + B (l − l̂)                             what is left, reduced to the readings as read
//! M = B Q Bᵀ = L Lᵀ                                     its covariance
//! Ã = L⁻¹ A      w̃ = L⁻¹ w                              whitened
//! v = −Q Bᵀ M⁻¹ (A dx + w) = −(L⁻¹ B Q)ᵀ (Ã dx + w̃)
//! ```
//!
//! The place of expansion is always the adjusted readings l̂, not the readings as read.
//!
//! - Source: W. E. Deming, Statistical Adjustment of Data, 1943, and, for the place of expansion,
//!   A. J. Pope, Some pitfalls to be avoided in the iterative adjustment of nonlinear problems, 1972
//!   (both from memory).

use super::equations::{Linear, Problem};
use super::plan::{Block, Plan, write_row};
use super::small;
use crate::fault::Fault;

/// A reading left out of a block counts when its slopes, whitened, are longer than this share of
/// what they were before the readings left out earlier took their part.
const SHARE_LEFT: f64 = 1e-9;

/// Unknowns, adjusted readings, and the whitened equations there.
#[derive(Debug, Default)]
pub(super) struct Place {
    pub x: Vec<f64>,
    /// Adjusted readings of all blocks.
    pub l: Vec<f64>,
    /// Whitened rows: slopes by the free unknowns, what is left, misclosure, zeros up to the width.
    pub rows: Vec<f64>,
    /// L⁻¹ B Q of each block.
    pub pull: Vec<f64>,
    /// L⁻¹ B of each block; only where asked for.
    pub slopes: Vec<f64>,
    /// Of each reading left out: its direction in the block's rows, times those rows.
    pub out_rows: Vec<f64>,
    /// Of each reading left out: its parts along the directions of its block; 0 for one without effect.
    pub out_parts: Vec<f64>,
    /// How many readings left out took a row's worth away.
    pub n_out: usize,
}

/// Room for one block's matrices.
#[derive(Debug, Default)]
pub(super) struct Scratch {
    linear: Linear,
    bq: Vec<f64>,
    m: Vec<f64>,
    direction: Vec<f64>,
    step: Vec<f64>,
}

/// Whether the slopes by the readings are kept, which only the statistics need.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Keep {
    Rows,
    Slopes,
}

/// Writes the whitened equations at `place.x` and `place.l`.
///
/// # Errors
///
/// The fault of the equations where they have no value; `A009` where readings do not enter them.
pub(super) fn linearise(
    problem: &Problem,
    plan: &Plan,
    scratch: &mut Scratch,
    place: &mut Place,
    keep: Keep,
) -> Result<(), Fault> {
    place.rows.resize(plan.n_rows * plan.width, 0.0);
    place.pull.resize(plan.n_entries, 0.0);
    if keep == Keep::Slopes {
        place.slopes.resize(plan.n_entries, 0.0);
    }
    place.out_rows.clear();
    place.out_parts.clear();
    place.n_out = 0;
    for (at, block) in plan.blocks.iter().enumerate() {
        let (m, n) = (block.n_rows, block.n_readings);
        let u = place.x.len();
        let linear = &mut scratch.linear;
        zeroed(&mut linear.w, m);
        zeroed(&mut linear.a, m * u);
        zeroed(&mut linear.b, m * n);
        let l = &place.l[block.reading..block.reading + n];
        problem.equations.fill(at, &place.x, l, linear)?;
        let whitened = match (m, n) {
            (1, 1) => whiten((1, 1), problem, plan, at, scratch, place, keep),
            (2, 2) => whiten((2, 2), problem, plan, at, scratch, place, keep),
            (3, 3) => whiten((3, 3), problem, plan, at, scratch, place, keep),
            (1, n) => whiten((1, n), problem, plan, at, scratch, place, keep),
            (2, n) => whiten((2, n), problem, plan, at, scratch, place, keep),
            (3, n) => whiten((3, n), problem, plan, at, scratch, place, keep),
            (m, n) => whiten((m, n), problem, plan, at, scratch, place, keep),
        };
        whitened.ok_or_else(|| without_readings(at))?;
        if block.excluded.0 < block.excluded.1 {
            leave_out(plan, block, scratch, place, keep);
        }
    }
    prior_rows(problem, plan, place);
    Ok(())
}

fn zeroed(values: &mut Vec<f64>, n: usize) {
    values.clear();
    values.resize(n, 0.0);
}

fn without_readings(at: usize) -> Fault {
    Fault::new(
        "A009",
        format!("block[{}]", at + 1),
        "an equation that no reading of its block enters, or that has no value",
        "equations that each depend on a reading with an uncertainty",
        "look at the readings there; a figure without any uncertainty cannot be weighed",
    )
}

/// Whitens a block that was filled; `None` where its M has no factor. The copies for small sizes unroll.
#[inline(always)]
fn whiten(
    (m, n): (usize, usize),
    problem: &Problem,
    plan: &Plan,
    at: usize,
    scratch: &mut Scratch,
    place: &mut Place,
    keep: Keep,
) -> Option<()> {
    let block = &plan.blocks[at];
    let width = plan.width;
    let (read, q) = (
        &problem.equations.readings(at)[..n],
        &problem.equations.covariance(at)[..n * n],
    );
    let Scratch {
        linear, bq, m: mm, ..
    } = scratch;
    let (w, a, b) = (&linear.w[..m], &linear.a[..], &linear.b[..m * n]);
    let adjusted = &place.l[block.reading..block.reading + n];

    let rows = &mut place.rows[block.row * width..(block.row + m) * width];
    let u = place.x.len();
    for i in 0..m {
        let row = &mut rows[i * width..(i + 1) * width];
        write_row(&plan.elimination, &a[i * u..(i + 1) * u], row);
        let mut left = w[i];
        for (k, slope) in b[i * n..(i + 1) * n].iter().enumerate() {
            left += slope * (read[k] - adjusted[k]);
        }
        row[plan.left()] = left;
        row[plan.misclosure()] = w[i];
    }

    bq.resize(m * n, 0.0);
    times_covariance(m, n, b, q, block.diagonal, bq);
    mm.resize(m * m, 0.0);
    for i in 0..m {
        for j in 0..=i {
            let (row, other) = (&bq[i * n..(i + 1) * n], &b[j * n..(j + 1) * n]);
            mm[i * m + j] = row.iter().zip(other).map(|(a, b)| a * b).sum();
        }
    }
    small::cholesky(m, mm, m)?;
    small::lower_solve_rows(m, mm, m, rows, width);
    let pull = &mut place.pull[block.entry..block.entry + m * n];
    pull.copy_from_slice(&bq[..m * n]);
    small::lower_solve_rows(m, mm, m, pull, n);
    if keep == Keep::Slopes {
        let slopes = &mut place.slopes[block.entry..block.entry + m * n];
        slopes.copy_from_slice(b);
        small::lower_solve_rows(m, mm, m, slopes, n);
    }
    Some(())
}

/// B Q.
#[inline(always)]
fn times_covariance(m: usize, n: usize, b: &[f64], q: &[f64], diagonal: bool, out: &mut [f64]) {
    for i in 0..m {
        let (slopes, out) = (&b[i * n..(i + 1) * n], &mut out[i * n..(i + 1) * n]);
        if diagonal {
            for k in 0..n {
                out[k] = slopes[k] * q[k * n + k];
            }
        } else {
            out.fill(0.0);
            for (k, slope) in slopes.iter().enumerate() {
                for (out, q) in out.iter_mut().zip(&q[k * n..(k + 1) * n]) {
                    *out += slope * q;
                }
            }
        }
    }
}

/// Takes the directions of the readings left out away from a block's rows, and so their row's worth.
///
/// A reading with a variance without bound leaves of M⁻¹ what stands across its slopes b:
/// `M⁻¹ − M⁻¹ b (bᵀ M⁻¹ b)⁻¹ bᵀ M⁻¹`; in whitened rows that takes out the direction of L⁻¹ b.
fn leave_out(plan: &Plan, block: &Block, scratch: &mut Scratch, place: &mut Place, keep: Keep) {
    let (m, n, width) = (block.n_rows, block.n_readings, plan.width);
    let (from, to) = block.excluded;
    let first = scratch_directions(m, to - from, &mut scratch.direction);
    for position in 0..to - from {
        let reading = plan.excluded[from + position];
        let (done, rest) = first.split_at_mut(position * m);
        let direction = &mut rest[..m];
        // L⁻¹ b is found by whitening B once more; the factor of M is still there.
        for (i, value) in direction.iter_mut().enumerate() {
            *value = scratch.linear.b[i * n + reading];
        }
        small::lower_solve(m, &scratch.m, m, direction);
        let long = length(direction);
        let parts = place.out_parts.len();
        place.out_parts.resize(parts + (to - from), 0.0);
        for (earlier, along) in done.chunks_exact(m).enumerate() {
            let part: f64 = along.iter().zip(&*direction).map(|(a, b)| a * b).sum();
            place.out_parts[parts + earlier] = part;
            for (value, along) in direction.iter_mut().zip(along) {
                *value -= part * along;
            }
        }
        let left = length(direction);
        let rows = &mut place.rows[block.row * width..(block.row + m) * width];
        let out = place.out_rows.len();
        place.out_rows.resize(out + width, 0.0);
        if !(SHARE_LEFT * long < left) {
            direction.fill(0.0);
            continue;
        }
        direction.iter_mut().for_each(|value| *value /= left);
        place.out_parts[parts + position] = left;
        place.n_out += 1;
        let out = &mut place.out_rows[out..];
        for (row, &along) in rows.chunks_exact(width).zip(&*direction) {
            add_times(out, along, row);
        }
        for (row, &along) in rows.chunks_exact_mut(width).zip(&*direction) {
            add_times(row, -along, out);
        }
    }
    if keep == Keep::Slopes {
        let slopes = &mut place.slopes[block.entry..block.entry + m * n];
        for direction in first.chunks_exact(m) {
            for k in 0..n {
                let part: f64 = (0..m).map(|i| direction[i] * slopes[i * n + k]).sum();
                for i in 0..m {
                    slopes[i * n + k] -= direction[i] * part;
                }
            }
        }
    }
}

fn scratch_directions(m: usize, n_out: usize, room: &mut Vec<f64>) -> &mut [f64] {
    room.clear();
    room.resize(m * n_out, 0.0);
    room
}

fn length(values: &[f64]) -> f64 {
    values.iter().map(|v| v * v).sum::<f64>().sqrt()
}

fn add_times(to: &mut [f64], factor: f64, from: &[f64]) {
    for (to, from) in to.iter_mut().zip(from) {
        *to += factor * from;
    }
}

fn prior_rows(problem: &Problem, plan: &Plan, place: &mut Place) {
    let from = plan.n_block_rows * plan.width;
    place.rows[from..].copy_from_slice(&plan.prior_rows);
    let mut rows = place.rows[from..].chunks_exact_mut(plan.width);
    let mut whitening = &plan.prior_whitening[..];
    for prior in problem.priors {
        let n = prior.value.len();
        let (of_prior, rest) = whitening.split_at(n * n);
        whitening = rest;
        for factors in of_prior.chunks_exact(n) {
            let Some(row) = rows.next() else { return };
            let off = |k: usize| place.x[prior.unknown_idx[k]] - prior.value[k];
            row[plan.left()] = (0..n).map(|k| factors[k] * off(k)).sum();
        }
    }
}

/// The readings as adjusted by a step of the free unknowns: l + v, written to `to`.
pub(super) fn adjust_readings(
    problem: &Problem,
    plan: &Plan,
    scratch: &mut Scratch,
    place: &Place,
    step: &[f64],
    to: &mut Vec<f64>,
) {
    to.resize(plan.n_readings, 0.0);
    for (at, block) in plan.blocks.iter().enumerate() {
        let (m, n) = (block.n_rows, block.n_readings);
        let left = &mut scratch.step;
        left.clear();
        let rows = &place.rows[block.row * plan.width..(block.row + m) * plan.width];
        left.extend(rows.chunks_exact(plan.width).map(|row| moved(row, step)));
        let to = &mut to[block.reading..block.reading + n];
        to.copy_from_slice(&problem.equations.readings(at)[..n]);
        let pull = &place.pull[block.entry..block.entry + m * n];
        for (row, left) in pull.chunks_exact(n).zip(&*left) {
            add_times(to, -left, row);
        }
        let (from, until) = block.excluded;
        if from < until {
            free_readings(plan, (from, until), place, step, to);
        }
    }
}

/// What is left of a row after a step: Ã dx + w̃.
#[inline(always)]
fn moved(row: &[f64], step: &[f64]) -> f64 {
    let slopes = row[..step.len()].iter().zip(step);
    slopes.map(|(a, dx)| a * dx).sum::<f64>() + row[step.len()]
}

/// Readings left out are what the equations say: they take up what was taken out of the rows.
fn free_readings(
    plan: &Plan,
    (from, until): (usize, usize),
    place: &Place,
    step: &[f64],
    to: &mut [f64],
) {
    let n_out = until - from;
    let mut first_part = 0;
    // Parts are kept block by block; those of earlier blocks come first.
    for block in &plan.blocks {
        let (a, b) = block.excluded;
        if b <= from {
            first_part += (b - a) * (b - a);
        }
    }
    let parts = &place.out_parts[first_part..first_part + n_out * n_out];
    let mut change = vec![0.0; n_out];
    for position in (0..n_out).rev() {
        let left = parts[position * n_out + position];
        if left == 0.0 {
            continue;
        }
        let out =
            &place.out_rows[(from + position) * plan.width..(from + position + 1) * plan.width];
        let mut sum = moved(out, step);
        for later in position + 1..n_out {
            sum += parts[later * n_out + position] * change[later];
        }
        change[position] = -sum / left;
    }
    for (position, change) in change.iter().enumerate() {
        to[plan.excluded[from + position]] += change;
    }
}
