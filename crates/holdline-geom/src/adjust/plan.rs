//! What is laid out before the first step: which rows and readings belong to which block,
//! what priors and constraints come to, and whether all of it can be used.

use super::equations::{Constraint, Prior, Problem, Unknown};
use super::small;
use crate::fault::{Fault, Faults, number};

/// Where a block's rows and readings lie.
#[derive(Debug, Clone, Copy)]
pub(super) struct Block {
    pub n_rows: usize,
    pub n_readings: usize,
    /// First of its rows among all rows.
    pub row: usize,
    /// First of its readings among all readings.
    pub reading: usize,
    /// First of its entries in lists with `n_rows × n_readings` entries a block.
    pub entry: usize,
    /// True when the covariance of its readings is diagonal.
    pub diagonal: bool,
    /// Its readings that count for nothing: a range of [`Plan::excluded`].
    pub excluded: (usize, usize),
}

/// The layout of a problem.
#[derive(Debug, Default)]
pub(super) struct Plan {
    pub blocks: Vec<Block>,
    /// Rows of all blocks; those of the priors come after them.
    pub n_block_rows: usize,
    pub n_rows: usize,
    pub n_readings: usize,
    pub n_entries: usize,
    /// Unknowns left once the constraints are used up.
    pub n_free: usize,
    /// Distance of rows: the free unknowns, two columns of what is left, up to a multiple of four.
    pub width: usize,
    /// The largest square of a reading in units of its sd.
    pub largest_square: f64,
    /// Position of the reading in its block, sorted by block.
    pub excluded: Vec<usize>,
    /// The rows of the priors, whitened, without what is left.
    pub prior_rows: Vec<f64>,
    /// Whitening matrix of each prior, one after the other.
    pub prior_whitening: Vec<f64>,
    /// What the constraints leave, if there are any.
    pub elimination: Option<Elimination>,
}

impl Plan {
    /// Column of what is left, reduced to the readings as read.
    pub fn left(&self) -> usize {
        self.n_free
    }

    /// Column of what is left at the adjusted readings.
    pub fn misclosure(&self) -> usize {
        self.n_free + 1
    }

    /// Lays out a problem.
    ///
    /// # Errors
    ///
    /// Faults `A001` to `A005`: what cannot be used, all at once.
    pub fn lay_out(&mut self, problem: &Problem) -> Result<(), Faults> {
        let mut faults = Faults::none();
        check_unknowns(problem.unknowns, &mut faults);
        check_places(problem, &mut faults);
        if !faults.is_empty() {
            return faults.or(());
        }
        self.elimination = faults.keep(Elimination::of(problem)).flatten();
        self.n_free = match &self.elimination {
            Some(elimination) => elimination.n_free,
            None => problem.n_unknowns(),
        };
        self.width = (self.n_free + 2).next_multiple_of(4);
        self.lay_out_blocks(problem, &mut faults);
        self.lay_out_priors(problem, &mut faults);
        faults.or(())
    }

    fn lay_out_blocks(&mut self, problem: &Problem, faults: &mut Faults) {
        self.blocks.clear();
        self.excluded.clear();
        (self.n_block_rows, self.n_readings, self.n_entries) = (0, 0, 0);
        self.largest_square = 0.0;
        for at in 0..problem.equations.n_blocks() {
            let shape = problem.equations.shape(at);
            let diagonal = check_block(problem, at, faults);
            self.largest_square = self.largest_square.max(largest_square(problem, at));
            let first_excluded = self.excluded.len();
            let of_block = problem.excluded.iter().filter(|e| e.block == at);
            self.excluded.extend(of_block.map(|e| e.reading));
            self.excluded[first_excluded..].sort_unstable();
            self.blocks.push(Block {
                n_rows: shape.n_rows,
                n_readings: shape.n_readings,
                row: self.n_block_rows,
                reading: self.n_readings,
                entry: self.n_entries,
                diagonal,
                excluded: (first_excluded, self.excluded.len()),
            });
            self.n_block_rows += shape.n_rows;
            self.n_readings += shape.n_readings;
            self.n_entries += shape.n_rows * shape.n_readings;
        }
    }

    fn lay_out_priors(&mut self, problem: &Problem, faults: &mut Faults) {
        self.prior_rows.clear();
        self.prior_whitening.clear();
        let mut row_x = vec![0.0; problem.n_unknowns()];
        for (prior_idx, prior) in problem.priors.iter().enumerate() {
            let Some(whitening) = faults.keep(whitening_of(prior_idx, prior)) else {
                continue;
            };
            for row in whitening.chunks_exact(prior.value.len()) {
                row_x.fill(0.0);
                for (&idx, &factor) in prior.unknown_idx.iter().zip(row) {
                    row_x[idx] += factor;
                }
                let from = self.prior_rows.len();
                self.prior_rows.resize(from + self.width, 0.0);
                write_row(&self.elimination, &row_x, &mut self.prior_rows[from..]);
            }
            self.prior_whitening.extend_from_slice(&whitening);
        }
        self.n_rows = self.n_block_rows + self.prior_rows.len() / self.width;
    }
}

/// Writes a row of slopes by all unknowns as one by the free ones.
#[inline(always)]
pub(super) fn write_row(elimination: &Option<Elimination>, row_x: &[f64], out: &mut [f64]) {
    match elimination {
        None => out[..row_x.len()].copy_from_slice(row_x),
        Some(elimination) => elimination.reduce(row_x, out),
    }
}

fn check_unknowns(unknowns: &[Unknown], faults: &mut Faults) {
    if unknowns.is_empty() {
        faults.push(Fault::new(
            "A001",
            "unknowns",
            "none",
            "one at least",
            "say what is to be found",
        ));
    }
    for unknown in unknowns {
        let fine = unknown.start.is_finite() && 0.0 < unknown.scale && unknown.scale.is_finite();
        if !fine {
            faults.push(Fault::new(
                "A002",
                unknown.name.as_str(),
                format!(
                    "start {}, scale {}",
                    number(unknown.start),
                    number(unknown.scale)
                ),
                "a start that is a number, and the size of a usual change, above zero",
                "give the unknown a first guess and its usual size",
            ));
        }
    }
}

/// Indices that lead nowhere and lists that do not fit together.
fn check_places(problem: &Problem, faults: &mut Faults) {
    let n = problem.n_unknowns();
    let mut wrong = |at: String, got: String, want: String| {
        let fix = "this is how the adjustment was asked; the lists must fit together";
        faults.push(Fault::new("A004", at, got, want, fix));
    };
    for (idx, prior) in problem.priors.iter().enumerate() {
        let (n_idx, n_values) = (prior.unknown_idx.len(), prior.value.len());
        let (rows, columns) = prior.covariance.shape();
        if n_idx == 0 || [n_values, rows, columns] != [n_idx; 3] {
            let got = format!("{n_idx} unknowns, {n_values} values, covariance {rows} × {columns}");
            wrong(format!("prior[{}]", idx + 1), got, "as many of each".into());
        }
        for &unknown_idx in prior.unknown_idx.iter().filter(|idx| n <= **idx) {
            let got = format!("unknown {unknown_idx}");
            wrong(format!("prior[{}]", idx + 1), got, format!("below {n}"));
        }
    }
    for constraint in problem.constraints {
        for &(unknown_idx, _) in constraint.terms.iter().filter(|(idx, _)| n <= *idx) {
            let got = format!("unknown {unknown_idx}");
            wrong(constraint.name.clone(), got, format!("below {n}"));
        }
    }
    let n_blocks = problem.equations.n_blocks();
    for (idx, excluded) in problem.excluded.iter().enumerate() {
        let there = excluded.block < n_blocks
            && excluded.reading < problem.equations.shape(excluded.block).n_readings;
        if !there || problem.excluded[..idx].contains(excluded) {
            let got = format!("reading {} of block {}", excluded.reading, excluded.block);
            wrong(
                "excluded".into(),
                got,
                "a reading that is there, once".into(),
            );
        }
    }
}

/// Looks at a block's readings and covariance; true when the covariance is diagonal.
fn check_block(problem: &Problem, at: usize, faults: &mut Faults) -> bool {
    let shape = problem.equations.shape(at);
    let n = shape.n_readings;
    let (readings, covariance) = (
        problem.equations.readings(at),
        problem.equations.covariance(at),
    );
    if shape.n_rows == 0 || n == 0 || readings.len() != n || covariance.len() != n * n {
        faults.push(Fault::new(
            "A004",
            format!("block[{}]", at + 1),
            format!(
                "{} rows, {} of {n} readings, {} of {} covariances",
                shape.n_rows,
                readings.len(),
                covariance.len(),
                n * n
            ),
            "a row and a reading at least, and all that belong to them",
            "this is how the adjustment was asked; the lists must fit together",
        ));
        return false;
    }
    let mut diagonal = true;
    let mut positive = true;
    for (idx, row) in covariance.chunks_exact(n).enumerate() {
        positive &= 0.0 < row[idx] && row[idx].is_finite();
        diagonal &= row[..idx].iter().all(|&q| q == 0.0);
    }
    if !diagonal {
        positive &= small::cholesky(n, &mut covariance.to_vec(), n).is_some();
    }
    if !positive || !readings.iter().all(|l| l.is_finite()) {
        faults.push(not_positive(format!("block[{}]", at + 1)));
    }
    diagonal
}

/// Largest l² / q of a block.
fn largest_square(problem: &Problem, at: usize) -> f64 {
    let readings = problem.equations.readings(at);
    let variances = problem.equations.covariance(at).iter();
    let squares = readings
        .iter()
        .zip(variances.step_by(readings.len() + 1))
        .map(|(l, q)| l * l / q);
    squares.fold(0.0, f64::max)
}

fn not_positive(at: String) -> Fault {
    Fault::new(
        "A003",
        at,
        "values or a covariance that cannot be",
        "numbers, each with an uncertainty above zero, and correlations that can exist together",
        "look at the uncertainties and correlations given",
    )
}

/// Inverse of the lower Cholesky factor of a prior's covariance, row after row.
fn whitening_of(prior_idx: usize, prior: &Prior) -> Result<Vec<f64>, Fault> {
    let n = prior.value.len();
    let mut factor = vec![0.0; n * n];
    for i in 0..n {
        for j in 0..=i {
            factor[i * n + j] = prior.covariance[(i, j)];
        }
    }
    let symmetric = (0..n).all(|i| {
        (0..i).all(|j| {
            let (a, b) = (prior.covariance[(i, j)], prior.covariance[(j, i)]);
            let size = (prior.covariance[(i, i)] * prior.covariance[(j, j)])
                .abs()
                .sqrt();
            (a - b).abs() <= 1e-9 * size
        })
    });
    let fine = symmetric && prior.value.iter().all(|v| v.is_finite());
    if !fine || small::cholesky(n, &mut factor, n).is_none() {
        return Err(not_positive(format!("prior[{}]", prior_idx + 1)));
    }
    let mut whitening = vec![0.0; n * n];
    small::lower_inverse(n, &factor, n, &mut whitening);
    Ok(whitening)
}

/// Unknowns as a place that keeps the constraints plus what the free unknowns move:
/// each constraint gives one unknown as a sum of free ones.
#[derive(Debug, Clone)]
pub(super) struct Elimination {
    pub n_free: usize,
    /// Free unknowns, by number.
    pub free: Vec<usize>,
    /// Unknowns that follow, what they start from, and their factors of the free ones.
    follows: Vec<(usize, f64, Vec<f64>)>,
}

impl Elimination {
    /// Solves the constraints by elimination with the largest pivot, in units of the unknowns' scale.
    fn of(problem: &Problem) -> Result<Option<Elimination>, Fault> {
        if problem.constraints.is_empty() {
            return Ok(None);
        }
        let n = problem.n_unknowns();
        let mut rows: Vec<Vec<f64>> = problem
            .constraints
            .iter()
            .map(|constraint| scaled_row(constraint, problem.unknowns))
            .collect();
        let mut pivots = Vec::new();
        for row_idx in 0..rows.len() {
            let row = &rows[row_idx];
            let mut pivot = 0;
            for column in 0..n {
                if row[pivot].abs() < row[column].abs() {
                    pivot = column;
                }
            }
            if !(1e-10 < row[pivot].abs()) {
                return Err(contradiction(&problem.constraints[row_idx]));
            }
            let by = row[pivot];
            rows[row_idx].iter_mut().for_each(|value| *value /= by);
            let used = rows[row_idx].clone();
            for (other_idx, other) in rows.iter_mut().enumerate() {
                let factor = other[pivot];
                if other_idx != row_idx && factor != 0.0 {
                    for (value, by) in other.iter_mut().zip(&used) {
                        *value -= factor * by;
                    }
                    other[pivot] = 0.0;
                }
            }
            pivots.push(pivot);
        }
        let free: Vec<usize> = (0..n).filter(|idx| !pivots.contains(idx)).collect();
        let scale = |idx: usize| problem.unknowns[idx].scale;
        let follows = pivots.iter().zip(&rows).map(|(&pivot, row)| {
            let factors = free
                .iter()
                .map(|&idx| -row[idx] * scale(pivot) / scale(idx));
            (pivot, row[n] * scale(pivot), factors.collect())
        });
        Ok(Some(Elimination {
            n_free: free.len(),
            follows: follows.collect(),
            free,
        }))
    }

    /// Moves the unknowns that follow to where the constraints hold.
    pub fn keep(&self, x: &mut [f64]) {
        for (idx, from, factors) in &self.follows {
            let moved: f64 = self
                .free
                .iter()
                .zip(factors)
                .map(|(&f, by)| x[f] * by)
                .sum();
            x[*idx] = from + moved;
        }
    }

    fn reduce(&self, row_x: &[f64], out: &mut [f64]) {
        for (position, (out, &idx)) in out.iter_mut().zip(&self.free).enumerate() {
            *out = row_x[idx];
            for (follower, _, factors) in &self.follows {
                *out += row_x[*follower] * factors[position];
            }
        }
    }

    /// Change of all unknowns for a change of the free ones.
    pub fn spread(&self, free: &[f64], out: &mut [f64]) {
        for (&idx, &value) in self.free.iter().zip(free) {
            out[idx] = value;
        }
        for (idx, _, factors) in &self.follows {
            out[*idx] = free.iter().zip(factors).map(|(a, b)| a * b).sum();
        }
    }
}

/// Factors in units of scale, largest 1, with the total behind them.
fn scaled_row(constraint: &Constraint, unknowns: &[Unknown]) -> Vec<f64> {
    let n = unknowns.len();
    let mut row = vec![0.0; n + 1];
    for &(idx, factor) in &constraint.terms {
        row[idx] += factor * unknowns[idx].scale;
    }
    row[n] = constraint.total;
    let largest = row[..n].iter().fold(0.0, |a: f64, b| a.max(b.abs()));
    if 0.0 < largest {
        row.iter_mut().for_each(|value| *value /= largest);
    }
    row
}

fn contradiction(constraint: &Constraint) -> Fault {
    Fault::new(
        "A005",
        constraint.name.as_str(),
        "a constraint that the others already give, or that contradicts them",
        "constraints that each say something new",
        "leave it out, or correct the others",
    )
}
