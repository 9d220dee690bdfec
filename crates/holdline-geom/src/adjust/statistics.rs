//! Whether the residuals are believable, reading by reading, and what an error could hide.
//!
//! ```text
//! P v = −Bᵀ M⁻¹ (A dx + w)                          what each reading is pulled by
//! P Q_v P = Bᵀ M⁻¹ (M − A Q_x Aᵀ) M⁻¹ B =: T        its covariance
//! r_i = (T Q)_ii                                    share of an error in l_i that shows in v_i
//! w_i = (P v)_i / √T_ii                             N(0, 1) when nothing is wrong
//! MDB_i = √(λ0 / T_ii)                              smallest error found with the power stated
//! dx = −Q_x Aᵀ M⁻¹ B e_i · error                    what it does to the unknowns
//! ```
//!
//! For readings without correlation `T_ii = r_i / σ_i²`, and the textbook's formulas stand.
//! Priors are observations too: their rows have `B = −1` and `Q` the prior's covariance.
//! Nothing of this inverts a covariance of readings.
//!
//! - Source: W. Baarda, A testing procedure for use in geodetic networks, 1968; A. J. Pope, The statistics of
//!   residuals and the detection of outliers, 1976 (both from memory).

use nalgebra::DMatrix;

use super::adjusted::Adjusted;
use super::equations::Problem;
use super::linearise::{Keep, linearise};
use super::solve::Room;
use crate::fault::Faults;
use crate::stats::{chi2_quantile, noncentrality, normal_quantile, tau_critical};

/// Below this redundancy nothing checks a reading.
pub const REDUNDANCY_CHECKED: f64 = 0.1;

/// Below this redundancy a reading is the only one of its kind, and its residual is rounding.
const REDUNDANCY_NONE: f64 = 1e-9;

/// Levels of the tests.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Levels {
    /// Share of good readings that the test of one reading calls bad, both sides together.
    pub alpha: f64,
    /// Share of bad readings of the size of the minimal detectable bias that it finds.
    pub power: f64,
    /// Share of good adjustments that the global test calls bad, both sides together.
    pub global_alpha: f64,
}

impl Default for Levels {
    /// 0.001 and 0.80, as geodesists use; 0.05 for all together.
    fn default() -> Levels {
        Levels {
            alpha: 0.001,
            power: 0.80,
            global_alpha: 0.05,
        }
    }
}

/// What was observed: a reading, or an entry of a prior.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Observed {
    /// A reading of a block.
    Reading {
        /// The block.
        block: usize,
        /// The reading in it.
        reading: usize,
    },
    /// A value of a prior.
    Prior {
        /// Which prior.
        prior: usize,
        /// The entry in it.
        entry: usize,
    },
}

/// What the global test says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fit {
    /// Residuals smaller than stated: sds too large, or readings copied.
    TooGood,
    /// As stated.
    AsStated,
    /// Residuals larger than stated: sds too small, a reading wrong, or the equations.
    TooLarge,
    /// Nothing to judge by: no more readings than it takes.
    NoSurplus,
}

/// χ² against its band.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GlobalTest {
    /// vᵀ Q⁻¹ v.
    pub chi2: f64,
    /// Degrees of freedom.
    pub dof: usize,
    /// The band of χ² at the level stated.
    pub band: (f64, f64),
    /// Inside or which side.
    pub fit: Fit,
}

/// The test of one reading or prior.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Test {
    /// What was observed.
    pub of: Observed,
    /// v = l̂ − l.
    pub residual: f64,
    /// sd of the residual, for covariances as stated.
    pub residual_sd: f64,
    /// r_i: the share of an error in it that its own residual shows.
    /// Below 0 or above 1 happens with correlated readings.
    pub redundancy: f64,
    /// Baarda's w; none where nothing checks the reading.
    pub w: Option<f64>,
    /// Pope's τ, with the sd from the residuals themselves; none where nothing checks it.
    pub tau: Option<f64>,
    /// Minimal detectable bias, in the reading's unit; none where no size would be found.
    pub mdb: Option<f64>,
}

impl Test {
    /// True when little or nothing checks it: its small residual is no praise.
    pub fn unchecked(&self) -> bool {
        !(REDUNDANCY_CHECKED <= self.redundancy) || self.w.is_none()
    }
}

/// Tests of an adjustment.
#[derive(Debug, Clone)]
pub struct Statistics {
    /// All together.
    pub global: GlobalTest,
    /// One by one: readings block by block, but those left out; then priors.
    pub tests: Vec<Test>,
    /// |w| beyond this is called bad at the level of the single test; sds as stated.
    pub critical_w: f64,
    /// |τ| beyond this is called bad at the level of the single test; none for fewer than two to spare.
    pub critical_tau: Option<f64>,
    /// Non-centrality behind the minimal detectable biases.
    pub noncentrality: f64,
    /// Whitened slopes of each test, by the rows of its block, and their first row.
    slopes: Vec<(usize, Vec<f64>)>,
    /// Q^½ Ãᵀ b̃ of each test: Q_x = root · rootᵀ.
    seen: DMatrix<f64>,
    root: DMatrix<f64>,
    t: Vec<f64>,
}

impl Statistics {
    /// Tests an adjustment.
    ///
    /// # Errors
    ///
    /// Those of the equations at the place found, which were none before.
    pub fn of(
        problem: &Problem,
        adjusted: &Adjusted,
        levels: &Levels,
        room: &mut Room,
    ) -> Result<Statistics, Faults> {
        room.plan.lay_out(problem)?;
        room.here.x.clone_from(&adjusted.values);
        room.here.l.clear();
        for block in 0..room.plan.blocks.len() {
            room.here
                .l
                .extend_from_slice(adjusted.adjusted_readings(block));
        }
        let place = &mut room.here;
        linearise(problem, &room.plan, &mut room.scratch, place, Keep::Slopes)?;
        let observed = observed(problem, room, adjusted);
        Ok(Statistics::from(adjusted, levels, room, observed))
    }

    fn from(
        adjusted: &Adjusted,
        levels: &Levels,
        room: &Room,
        observed: Vec<Observation>,
    ) -> Statistics {
        let root_free = adjusted.free_root();
        let mut seen = DMatrix::zeros(root_free.ncols(), observed.len());
        let mut tests = Vec::with_capacity(observed.len());
        let mut t_all = Vec::with_capacity(observed.len());
        let s0 = adjusted.s0();
        let noncentrality = noncentrality(levels.alpha, levels.power, 1).unwrap_or(f64::NAN);
        for (at, one) in observed.iter().enumerate() {
            let judged = judge(one, &root_free, room);
            seen.column_mut(at).copy_from(&judged.seen);
            let test = test(one, &judged, noncentrality, s0);
            t_all.push(if test.w.is_some() { judged.t } else { 0.0 });
            tests.push(test);
        }
        Statistics {
            global: global(adjusted, levels),
            tests,
            critical_w: normal_quantile(1.0 - levels.alpha / 2.0).unwrap_or(f64::NAN),
            critical_tau: tau_critical(levels.alpha, adjusted.dof as f64),
            noncentrality,
            slopes: observed.into_iter().map(|o| (o.row, o.slopes)).collect(),
            seen,
            root: match &adjusted.basis {
                None => root_free,
                Some(basis) => basis * root_free,
            },
            t: t_all,
        }
    }

    /// Sum of all redundancies: as much as there is to spare.
    pub fn redundancy_total(&self) -> f64 {
        self.tests.iter().map(|test| test.redundancy).sum()
    }

    /// Correlation of the w of two tests; none where one of them has none.
    pub fn correlation(&self, a: usize, b: usize) -> Option<f64> {
        self.tests[a].w.and(self.tests[b].w)?;
        let ((row_a, slopes_a), (row_b, slopes_b)) = (&self.slopes[a], &self.slopes[b]);
        let own: f64 = if row_a == row_b {
            slopes_a.iter().zip(slopes_b).map(|(a, b)| a * b).sum()
        } else {
            0.0
        };
        let through_unknowns = self.seen.column(a).dot(&self.seen.column(b));
        Some((own - through_unknowns) / (self.t[a] * self.t[b]).sqrt())
    }

    /// Tests that cannot be told from this one: |correlation| of their w above `limit`, largest first.
    pub fn not_separable_from(&self, test: usize, limit: f64) -> Vec<(usize, f64)> {
        let others = (0..self.tests.len()).filter(|&other| other != test);
        let mut found: Vec<(usize, f64)> = others
            .filter_map(|other| Some((other, self.correlation(test, other)?)))
            .filter(|(_, correlation)| limit < correlation.abs())
            .collect();
        found.sort_by(|a, b| b.1.abs().total_cmp(&a.1.abs()));
        found
    }

    /// All pairs that cannot be told apart: |correlation| of their w above `limit`.
    pub fn pairs_not_separable(&self, limit: f64) -> Vec<(usize, usize, f64)> {
        let mut found = Vec::new();
        for a in 0..self.tests.len() {
            for b in a + 1..self.tests.len() {
                if let Some(c) = self.correlation(a, b).filter(|c| limit < c.abs()) {
                    found.push((a, b, c));
                }
            }
        }
        found
    }

    /// What an error of this size in an observation does to the unknowns, with the test's own
    /// minimal detectable bias the external reliability.
    pub fn effect_on_unknowns(&self, test: usize, error: f64) -> Vec<f64> {
        let effect = &self.root * self.seen.column(test) * -error;
        effect.iter().copied().collect()
    }
}

/// What an observation enters its rows by.
struct Observation {
    of: Observed,
    residual: f64,
    /// First of its rows.
    row: usize,
    /// L⁻¹ B e_i.
    slopes: Vec<f64>,
    /// L⁻¹ B Q e_i.
    pull: Vec<f64>,
}

fn observed(problem: &Problem, room: &Room, adjusted: &Adjusted) -> Vec<Observation> {
    let plan = &room.plan;
    let mut all = Vec::new();
    for (at, block) in plan.blocks.iter().enumerate() {
        let (m, n) = (block.n_rows, block.n_readings);
        let out = &plan.excluded[block.excluded.0..block.excluded.1];
        for reading in (0..n).filter(|reading| !out.contains(reading)) {
            let column = |list: &[f64]| {
                (0..m)
                    .map(|i| list[block.entry + i * n + reading])
                    .collect()
            };
            all.push(Observation {
                of: Observed::Reading { block: at, reading },
                residual: adjusted.residuals(at)[reading],
                row: block.row,
                slopes: column(&room.here.slopes),
                pull: column(&room.here.pull),
            });
        }
    }
    let mut row = plan.n_block_rows;
    let mut whitening = &plan.prior_whitening[..];
    for (at, prior) in problem.priors.iter().enumerate() {
        let n = prior.value.len();
        let (of_prior, rest) = whitening.split_at(n * n);
        whitening = rest;
        for entry in 0..n {
            // The rows are L⁻¹ (x − value), so B = −1: slopes −L⁻¹ e, pull −L⁻¹ Q e.
            let slopes: Vec<f64> = (0..n).map(|i| -of_prior[i * n + entry]).collect();
            let pull = (0..n).map(|i| {
                let sum: f64 = (0..n)
                    .map(|k| of_prior[i * n + k] * prior.covariance[(k, entry)])
                    .sum();
                -sum
            });
            all.push(Observation {
                of: Observed::Prior { prior: at, entry },
                residual: adjusted.values[prior.unknown_idx[entry]] - prior.value[entry],
                row,
                pull: pull.collect(),
                slopes,
            });
        }
        row += n;
    }
    all
}

/// Sums behind the test of one observation.
struct Judged {
    /// T_ii, and the part of it that its own rows have.
    t: f64,
    own: f64,
    /// (P v)_i.
    pull: f64,
    redundancy: f64,
    residual_sd: f64,
    /// Rᵀ Ãᵀ b̃, with R Rᵀ = Q_x.
    seen: DMatrix<f64>,
}

fn judge(one: &Observation, root: &DMatrix<f64>, room: &Room) -> Judged {
    // Q_v = Q T Q is the same form with L⁻¹ B Q for L⁻¹ B; r_i takes one of each.
    let plan = &room.plan;
    let n = plan.n_free;
    let rows = &room.here.rows[one.row * plan.width..];
    let (mut by_slopes, mut by_pull) = (vec![0.0; n], vec![0.0; n]);
    let (mut own, mut own_mixed, mut own_pull, mut pull) = (0.0, 0.0, 0.0, 0.0);
    let pairs = one.slopes.iter().zip(&one.pull);
    for (row, (slope, of_pull)) in rows.chunks_exact(plan.width).zip(pairs) {
        own += slope * slope;
        own_mixed += slope * of_pull;
        own_pull += of_pull * of_pull;
        pull -= slope * row[plan.left()];
        for (j, a) in row[..n].iter().enumerate() {
            by_slopes[j] += slope * a;
            by_pull[j] += of_pull * a;
        }
    }
    let through = |by: Vec<f64>| root.tr_mul(&DMatrix::from_vec(n, 1, by));
    let (seen, seen_pull) = (through(by_slopes), through(by_pull));
    Judged {
        t: (own - seen.norm_squared()).max(0.0),
        own,
        pull,
        redundancy: own_mixed - seen.dot(&seen_pull),
        residual_sd: (own_pull - seen_pull.norm_squared()).max(0.0).sqrt(),
        seen,
    }
}

fn test(one: &Observation, judged: &Judged, noncentrality: f64, s0: Option<f64>) -> Test {
    let checked = REDUNDANCY_NONE * judged.own < judged.t;
    let w = checked.then(|| judged.pull / judged.t.sqrt());
    Test {
        of: one.of,
        residual: one.residual,
        residual_sd: judged.residual_sd,
        redundancy: judged.redundancy,
        w,
        tau: w.zip(s0).map(|(w, s0)| w / s0),
        mdb: checked.then(|| (noncentrality / judged.t).sqrt()),
    }
}

fn global(adjusted: &Adjusted, levels: &Levels) -> GlobalTest {
    let (chi2, dof) = (adjusted.chi2, adjusted.dof);
    let band = |p: f64| chi2_quantile(p, dof as f64).unwrap_or(f64::NAN);
    let half = levels.global_alpha / 2.0;
    let (from, to) = (band(half), band(1.0 - half));
    let fit = if dof == 0 {
        Fit::NoSurplus
    } else if chi2 < from {
        Fit::TooGood
    } else if chi2 <= to {
        Fit::AsStated
    } else {
        Fit::TooLarge
    };
    GlobalTest {
        chi2,
        dof,
        band: (from, to),
        fit,
    }
}
