//! What an adjustment gives: values, how sure they are, and what nothing determines.

use nalgebra::DMatrix;

use super::directions::{self, Direction};
use super::equations::Problem;
use super::solve::{End, Room};

/// A function that moves by more than this share along a direction left open is not determined.
const SHARE_OPEN: f64 = 1e-6;

/// How the place of the least squares was found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Found {
    /// From the starts given.
    AsGiven,
    /// By bounded weights first, from the starts given (0) or from the nth place drawn about them.
    Searched {
        /// Which place.
        from: usize,
    },
}

/// Unknowns and readings adjusted.
#[derive(Debug, Clone)]
pub struct Adjusted {
    /// The unknowns, in their order.
    pub values: Vec<f64>,
    /// `vᵀ Q⁻¹ v` of readings and priors, for covariances as stated.
    pub chi2: f64,
    /// Equations and priors more than it takes.
    pub dof: usize,
    /// Rounds it took.
    pub n_steps: usize,
    /// How the place was found.
    pub found: Found,
    /// Changes of the unknowns that nothing given would notice: there the values are those of the start,
    /// and what they touch has no sd.
    pub undetermined: Vec<Direction>,
    pub(super) covariance: DMatrix<f64>,
    /// Directions left open, one a column, scaled to a length of 1 in units of scale.
    pub(super) open: DMatrix<f64>,
    pub(super) scale: Vec<f64>,
    /// What the priors alone say, as normal matrix by the unknowns.
    pub(super) prior_normal: DMatrix<f64>,
    pub(super) basis: Option<DMatrix<f64>>,
    adjusted: Vec<f64>,
    residuals: Vec<f64>,
    first: Vec<usize>,
}

impl Adjusted {
    /// Reads the result off the room where the steps ended.
    pub(super) fn of(problem: &Problem, room: &Room, end: End, found: Found) -> Adjusted {
        let plan = &room.plan;
        let basis = basis(problem, room);
        let all = |free: DMatrix<f64>| match &basis {
            None => free,
            Some(basis) => basis * free,
        };
        let scale: Vec<f64> = problem.unknowns.iter().map(|u| u.scale).collect();
        let half = all(room.factor.covariance());
        let covariance = match &basis {
            None => half,
            Some(basis) => half * basis.transpose(),
        };
        let open = match room.factor.open_directions() {
            None => DMatrix::zeros(scale.len(), 0),
            Some(open) => all(open),
        };
        let open = in_units_of(open, &scale);
        let mut residuals = Vec::with_capacity(plan.n_readings);
        let mut first = Vec::with_capacity(plan.blocks.len() + 1);
        for (at, block) in plan.blocks.iter().enumerate() {
            first.push(block.reading);
            let read = problem.equations.readings(at);
            let adjusted = &room.here.l[block.reading..block.reading + block.n_readings];
            residuals.extend(adjusted.iter().zip(read).map(|(a, l)| a - l));
        }
        first.push(plan.n_readings);
        let n_rows = plan.n_rows - room.here.n_out;
        Adjusted {
            values: room.here.x.clone(),
            chi2: end.chi2,
            dof: n_rows.saturating_sub(room.factor.rank()),
            n_steps: end.n_steps,
            found,
            undetermined: directions::open(&open),
            covariance,
            open,
            scale,
            prior_normal: prior_normal(room),
            basis,
            adjusted: room.here.l.clone(),
            residuals,
            first,
        }
    }

    /// Standard deviation of an unknown, for covariances as stated; none where nothing determines it.
    pub fn sd(&self, unknown_idx: usize) -> Option<f64> {
        self.covariance(unknown_idx, unknown_idx).map(f64::sqrt)
    }

    /// Covariance of two unknowns; none where nothing determines one of them.
    pub fn covariance(&self, a: usize, b: usize) -> Option<f64> {
        let shut = |idx: usize| {
            self.open
                .row(idx)
                .iter()
                .all(|part| part.abs() <= SHARE_OPEN)
        };
        (shut(a) && shut(b)).then(|| self.covariance[(a, b)])
    }

    /// Correlation of two unknowns; none where one of them has no sd.
    pub fn correlation(&self, a: usize, b: usize) -> Option<f64> {
        Some(self.covariance(a, b)? / (self.sd(a)? * self.sd(b)?))
    }

    /// Covariance of all unknowns; none where something is not determined.
    pub fn covariances(&self) -> Option<&DMatrix<f64>> {
        self.undetermined.is_empty().then_some(&self.covariance)
    }

    /// Covariance of functions of the unknowns, from their slopes, a row a function.
    ///
    /// None where one of the functions is not determined.
    /// A function can be determined where the unknowns in it are not, each by itself:
    /// the sum of two that cannot be told apart.
    pub fn covariance_of(&self, slopes: &DMatrix<f64>) -> Option<DMatrix<f64>> {
        if slopes.ncols() != self.values.len() || !slopes.iter().all(|s| s.is_finite()) {
            return None;
        }
        for row in slopes.row_iter() {
            let scaled = row.iter().zip(&self.scale).map(|(s, scale)| s * scale);
            let scaled: Vec<f64> = scaled.collect();
            let size = scaled.iter().map(|s| s * s).sum::<f64>().sqrt();
            let moves = |open: nalgebra::DVectorView<f64>| {
                scaled
                    .iter()
                    .zip(open.iter())
                    .map(|(a, b)| a * b)
                    .sum::<f64>()
                    .abs()
            };
            if self
                .open
                .column_iter()
                .any(|open| SHARE_OPEN * size < moves(open))
            {
                return None;
            }
        }
        Some(slopes * &self.covariance * slopes.transpose())
    }

    /// √(χ² / dof): how the residuals compare with what was stated; none without surplus.
    pub fn s0(&self) -> Option<f64> {
        (0 < self.dof).then(|| (self.chi2 / self.dof as f64).sqrt())
    }

    /// A block's readings as adjusted, l̂.
    pub fn adjusted_readings(&self, block: usize) -> &[f64] {
        &self.adjusted[self.first[block]..self.first[block + 1]]
    }

    /// What a block's readings had to give way, v = l̂ − l.
    pub fn residuals(&self, block: usize) -> &[f64] {
        &self.residuals[self.first[block]..self.first[block + 1]]
    }

    /// A root R of the free unknowns' covariance: R Rᵀ = Q.
    pub(super) fn free_root(&self) -> DMatrix<f64> {
        directions::square_root(&directions::free_covariance(self))
    }

    /// Directions in which the observations told little that the priors had not said:
    /// sd after more than 0.9 of the sd before. See [`Direction::sd_ratio`].
    ///
    /// Empty without priors; what nothing determines stands in [`Adjusted::undetermined`].
    pub fn weak(&self) -> Vec<Direction> {
        directions::weak(self)
    }
}

/// Change of all unknowns by the free ones, where constraints tie them.
fn basis(problem: &Problem, room: &Room) -> Option<DMatrix<f64>> {
    let elimination = room.plan.elimination.as_ref()?;
    let (n, n_free) = (problem.n_unknowns(), elimination.n_free);
    let mut basis = DMatrix::zeros(n, n_free);
    let mut free = vec![0.0; n_free];
    let mut moved = vec![0.0; n];
    for column in 0..n_free {
        free.fill(0.0);
        free[column] = 1.0;
        elimination.spread(&free, &mut moved);
        basis.column_mut(column).copy_from_slice(&moved);
    }
    Some(basis)
}

/// Columns in units of scale, each of length 1.
fn in_units_of(mut columns: DMatrix<f64>, scale: &[f64]) -> DMatrix<f64> {
    for (mut row, scale) in columns.row_iter_mut().zip(scale) {
        row /= *scale;
    }
    if columns.ncols() == 0 {
        return columns;
    }
    // One basis of the same space whose columns stand square on each other.
    columns.qr().q()
}

/// Products of the priors' rows, by the free unknowns.
fn prior_normal(room: &Room) -> DMatrix<f64> {
    let n = room.plan.n_free;
    let mut normal = DMatrix::zeros(n, n);
    for row in room.plan.prior_rows.chunks_exact(room.plan.width) {
        for i in 0..n {
            for j in 0..n {
                normal[(i, j)] += row[i] * row[j];
            }
        }
    }
    normal
}
