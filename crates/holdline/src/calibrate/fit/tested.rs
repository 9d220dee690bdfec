//! The adjustment, and every number tested against the others.

use super::ask::FitAsk;
use holdline_geom::adjust::{Adjusted, Excluded, How, Problem, Room, Start, adjust};
use holdline_geom::fault::Faults;

/// What a test is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(dead_code)] // until the tests of single numbers are in
pub(super) enum About {
    /// A reading of a block.
    Reading { block: usize, reading: usize },
    /// An entry of a prior.
    Prior { prior: usize, entry: usize },
}

/// One number tested.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Tested {
    pub about: About,
    /// Adjusted less measured.
    pub residual: f64,
    pub redundancy: f64,
    /// Residual in its own sd.
    pub w: Option<f64>,
    /// Least gross error that is found.
    pub mdb: Option<f64>,
    /// What such an error does to every unknown.
    pub effect: Option<Vec<f64>>,
    /// Others that it cannot be told from.
    pub twins: Vec<About>,
}

/// A number that was taken out.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct TakenOut {
    pub about: About,
    pub w: f64,
    pub chi2: [f64; 2],
    /// Others that could as well have been meant.
    pub twins: Vec<About>,
}

/// How it came out.
pub(super) struct Settled {
    pub adjusted: Adjusted,
    pub tested: Vec<Tested>,
    /// Limit that w is held to.
    pub limit: f64,
    /// Bounds of χ².
    pub within: Option<[f64; 2]>,
    pub taken_out: Vec<TakenOut>,
    /// More than may be taken out looked wrong: looking stopped.
    pub too_many: bool,
    pub searched: bool,
    /// Of every unknown.
    pub scales: Vec<f64>,
}

/// Adjusts from the start; searches where that ends badly.
pub(super) fn settle(
    problem: &Problem<'_>,
    near_chi2: f64,
    ask: &FitAsk,
) -> Result<Settled, Faults> {
    let mut room = Room::new();
    let given = How {
        start: Start::Given,
        small_step: small_step(near_chi2, problem),
        ..How::default()
    };
    let mut searched = false;
    let adjusted = match adjust(problem, &given, &mut room) {
        Ok(adjusted) => adjusted,
        Err(_) => {
            let search = How {
                start: Start::Search { seed: ask.seed },
                ..given
            };
            searched = true;
            adjust(problem, &search, &mut room)?
        }
    };
    let _: &[Excluded] = problem.excluded;
    Ok(Settled {
        adjusted,
        tested: Vec::new(),
        limit: 0.0,
        within: None,
        taken_out: Vec::new(),
        too_many: false,
        searched,
        scales: problem.unknowns.iter().map(|u| u.scale).collect(),
    })
}

/// The step at which the adjustment may end, as a share of its own uncertainty.
///
/// It judges steps by what the residuals show where that is less than what was stated. Of observations
/// that fit to the last digit nothing shows, and no step would ever be short enough: 1e-8 of the stated
/// uncertainty is.
fn small_step(chi2: f64, problem: &Problem<'_>) -> f64 {
    let equations = problem.equations;
    let n_rows: usize = (0..equations.n_blocks())
        .map(|block| equations.shape(block).n_rows)
        .sum();
    let share = (chi2 / n_rows.max(1) as f64).sqrt().clamp(1e-12, 1.0);
    (1e-8 / share).max(1e-4)
}
