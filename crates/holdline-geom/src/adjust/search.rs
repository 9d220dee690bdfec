//! A start where the given one ends badly: weights that bound the influence of what does not fit,
//! from the given start and from places drawn about it. The end is always the plain least squares.
//!
//! ```text
//! weight of a block = (c² / (c² + d²))²        d² = w̃ᵀ w̃ per row
//! ```
//!
//! `c` begins so large that all weights are near 1, where the sum has one valley, and is made smaller
//! step by step down to [`BOUND_SD`], where what does not fit no longer pulls.
//!
//! - Source: S. Geman, D. E. McClure 1987 for the weight; A. Blake, A. Zisserman, Visual Reconstruction,
//!   1987, for making `c` smaller step by step (both from memory).

use std::cmp::Ordering;

use super::adjusted::{Adjusted, Found};
use super::equations::Problem;
use super::linearise::{Keep, linearise};
use super::solve::{How, Room, Way, fits, settle_from};
use crate::draws::Draws;
use crate::fault::Fault;

/// Blocks further out than about this many sd lose their pull.
const BOUND_SD: f64 = 3.0;

/// How far about the starts places are drawn, in units of the unknowns' scale.
const SPREADS: [f64; 24] = [
    0.0, 0.3, 0.3, 1.0, 1.0, 1.0, 1.0, 3.0, 3.0, 3.0, 3.0, 0.3, 1.0, 3.0, 10.0, 10.0, 10.0, 30.0,
    30.0, 1.0, 3.0, 10.0, 30.0, 100.0,
];

/// Places tried when the given start led somewhere already, only to a χ² larger than noise makes it:
/// mostly a reading is wrong, and no other place is better.
const N_PLACES_TO_BE_SURE: usize = 6;

/// Above this per degree of freedom a place has nothing to do with what was measured.
const GROSS: f64 = 1e4;

/// Two χ² within this factor are of one size.
const SAME_SIZE: f64 = 10.0;

/// Rounds spent on a place drawn.
const N_STEPS_AT_MOST: usize = 100;

/// Damping of the steps on the way.
const DAMPING: f64 = 1e-4;

/// The best plain least squares of all starts tried.
pub(super) fn search(
    problem: &Problem,
    how: &How,
    room: &mut Room,
    seed: u64,
    direct: Result<Adjusted, Fault>,
) -> Result<Adjusted, Fault> {
    let n_places = match &direct {
        Ok(direct) if direct.chi2 <= GROSS * direct.dof as f64 => N_PLACES_TO_BE_SURE,
        Ok(_) | Err(_) => SPREADS.len(),
    };
    let shorter = How {
        n_steps_at_most: how.n_steps_at_most.min(N_STEPS_AT_MOST),
        ..*how
    };
    let mut best = direct;
    let mut draws = Draws::new(seed, 0);
    for (from, spread) in SPREADS.into_iter().take(n_places).enumerate() {
        let drawn = problem.unknowns.iter().map(|unknown| {
            let off = if spread == 0.0 { 0.0 } else { draws.normal() };
            unknown.start + spread * unknown.scale * off
        });
        let place: Vec<f64> = drawn.collect();
        let found = Found::Searched { from };
        // Bounded weights first; where they lead nowhere, from the place itself.
        let candidates = [
            (bounded(problem, room, &place), Way::Full),
            (Some(place), Way::Careful),
        ];
        for (start, way) in candidates {
            let Some(start) = start else { continue };
            let how = if from == 0 { how } else { &shorter };
            let Ok(candidate) = settle_from(problem, how, room, &start, way, found) else {
                continue;
            };
            if best.as_ref().map_or(true, |best| better(&candidate, best)) {
                best = Ok(candidate);
            }
        }
        if best.as_ref().is_ok_and(fits) {
            break;
        }
    }
    best
}

/// True when a place is better than another: χ² is less, and no unknown slipped to where nothing
/// determines it, or χ² is of the same size and fewer did.
fn better(candidate: &Adjusted, best: &Adjusted) -> bool {
    let (open, open_of_best) = (candidate.undetermined.len(), best.undetermined.len());
    let (chi2, chi2_of_best) = (candidate.chi2, best.chi2);
    match open.cmp(&open_of_best) {
        Ordering::Less => chi2 <= SAME_SIZE * chi2_of_best,
        Ordering::Equal => chi2 < chi2_of_best * (1.0 - 1e-6),
        Ordering::Greater => chi2 * SAME_SIZE < chi2_of_best,
    }
}

/// Where steps with bounded weights lead from a place; `None` where the equations have no value.
fn bounded(problem: &Problem, room: &mut Room, start: &[f64]) -> Option<Vec<f64>> {
    room.stand(problem, start).ok()?;
    let mut misfits = misfits(room);
    let largest = misfits.iter().copied().fold(0.0, f64::max);
    let floor = BOUND_SD * BOUND_SD * middle(&mut misfits).max(1.0);
    let mut bound = largest.max(floor);
    for _ in 0..60 {
        step_with_bound(problem, room, bound)?;
        let floor = BOUND_SD * BOUND_SD * middle(&mut self::misfits(room)).max(1.0);
        if bound <= floor {
            return Some(room.here.x.clone());
        }
        bound = (bound / 2.0).max(floor);
    }
    Some(room.here.x.clone())
}

/// d² of every block that has readings in force, per row.
fn misfits(room: &Room) -> Vec<f64> {
    let plan = &room.plan;
    let left = |row: &[f64]| row[plan.left()] * row[plan.left()];
    let blocks = plan.blocks.iter().map(|block| {
        let rows = &room.here.rows[block.row * plan.width..][..block.n_rows * plan.width];
        rows.chunks_exact(plan.width).map(left).sum::<f64>() / block.n_rows as f64
    });
    blocks.collect()
}

/// The middle value, as an estimate of what blocks that fit have: the median of χ²(1) is 0.455.
fn middle(values: &mut [f64]) -> f64 {
    if values.is_empty() {
        return 1.0;
    }
    values.sort_by(f64::total_cmp);
    values[values.len() / 2] / 0.455
}

/// One step at a bound; halved until the bounded sum falls, or none.
fn step_with_bound(problem: &Problem, room: &mut Room, bound: f64) -> Option<()> {
    let layout = room.layout();
    let before = bounded_sum(room, bound);
    let here = room.here.x.clone();
    weigh(room, bound);
    if !room.factor.sum_up(&room.here.rows, layout) {
        return None;
    }
    room.factor.factor(&room.here.rows, layout, DAMPING);
    let mut step = Vec::new();
    room.factor.step(&mut step);
    let mut step_x = vec![0.0; here.len()];
    match &room.plan.elimination {
        None => step_x.copy_from_slice(&step),
        Some(elimination) => elimination.spread(&step, &mut step_x),
    }
    for _ in 0..8 {
        let moved = here.iter().zip(&step_x).map(|(x, dx)| x + dx);
        room.here.x.clear();
        room.here.x.extend(moved);
        let looked = linearise(
            problem,
            &room.plan,
            &mut room.scratch,
            &mut room.here,
            Keep::Rows,
        );
        if looked.is_ok() && bounded_sum(room, bound) <= before {
            return Some(());
        }
        step_x.iter_mut().for_each(|dx| *dx *= 0.5);
    }
    room.here.x = here;
    linearise(
        problem,
        &room.plan,
        &mut room.scratch,
        &mut room.here,
        Keep::Rows,
    )
    .ok()
}

/// Σ of c² d² / (c² + d²) over blocks, and of the priors' squares as they are.
fn bounded_sum(room: &Room, bound: f64) -> f64 {
    let plan = &room.plan;
    let blocks = misfits(room)
        .into_iter()
        .zip(&plan.blocks)
        .map(|(d2, block)| block.n_rows as f64 * bound * d2 / (bound + d2));
    let priors = room.here.rows[plan.n_block_rows * plan.width..]
        .chunks_exact(plan.width)
        .map(|row| row[plan.left()] * row[plan.left()]);
    blocks.sum::<f64>() + priors.sum::<f64>()
}

/// Gives each block's rows the root of its weight.
fn weigh(room: &mut Room, bound: f64) {
    let misfits = misfits(room);
    let (plan, rows) = (&room.plan, &mut room.here.rows);
    for (block, d2) in plan.blocks.iter().zip(misfits) {
        let root = bound / (bound + d2);
        for value in &mut rows[block.row * plan.width..][..block.n_rows * plan.width] {
            *value *= root;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::adjust::{Equations, Linear, Shape, Unknown};

    /// Twenty points of a line, every fifth of them off by a thousand sd.
    struct Line {
        y: Vec<f64>,
    }

    impl Equations for Line {
        fn n_blocks(&self) -> usize {
            self.y.len()
        }

        fn shape(&self, _: usize) -> Shape {
            Shape {
                n_rows: 1,
                n_readings: 1,
            }
        }

        fn readings(&self, block: usize) -> &[f64] {
            &self.y[block..block + 1]
        }

        fn covariance(&self, _: usize) -> &[f64] {
            &[1.0]
        }

        fn fill(&self, block: usize, x: &[f64], l: &[f64], out: &mut Linear) -> Result<(), Fault> {
            out.w[0] = x[0] + x[1] * block as f64 - l[0];
            out.a.copy_from_slice(&[1.0, block as f64]);
            out.b[0] = -1.0;
            Ok(())
        }
    }

    #[test]
    fn what_does_not_fit_does_not_pull() {
        let off = |k: usize| if k.is_multiple_of(5) { 1000.0 } else { 0.0 };
        let line = Line {
            y: (0..20).map(|k| 3.0 + 2.0 * k as f64 + off(k)).collect(),
        };
        let unknown = |name: &str| Unknown {
            name: name.to_owned(),
            start: 0.0,
            scale: 1.0,
        };
        let unknowns = [unknown("at 0"), unknown("slope")];
        let problem = Problem::new(&line, &unknowns);
        let mut room = Room::new();
        room.plan.lay_out(&problem).expect("laid out");
        let x = bounded(&problem, &mut room, &[500.0, -70.0]).expect("a place");
        assert!(
            (x[0] - 3.0).abs() < 0.1 && (x[1] - 2.0).abs() < 0.01,
            "{x:?}"
        );
    }
}
