//! What an adjustment is given: equations in blocks, unknowns, and what was known of them before.

use crate::fault::Fault;
use nalgebra::DMatrix;

/// How large a block is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Shape {
    /// Rows: equations.
    pub n_rows: usize,
    /// Readings of the block, no others share them.
    pub n_readings: usize,
}

/// A block's equations and slopes at a place.
///
/// The adjustment owns the room and hands it in zeroed; [`Equations::fill`] writes the rows of one block.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Linear {
    /// f(x, l): what is left of each equation, `n_rows`.
    pub w: Vec<f64>,
    /// ∂f/∂x, row after row, `n_rows × n_unknowns`.
    pub a: Vec<f64>,
    /// ∂f/∂l, row after row, `n_rows × n_readings`.
    pub b: Vec<f64>,
}

/// Equations that hold between unknowns x and readings l at the truth: f(x, l) = 0, block by block.
///
/// A plain observation equation l = g(x) is the block with `f = g(x) − l` and `∂f/∂l = −1`.
/// Blocks share no readings; noise common to several blocks is an unknown with a [`Prior`].
pub trait Equations {
    /// Number of blocks.
    fn n_blocks(&self) -> usize;

    /// Size of one block.
    fn shape(&self, block: usize) -> Shape;

    /// The readings of one block as read, `n_readings`.
    fn readings(&self, block: usize) -> &[f64];

    /// Their covariance, row after row, `n_readings × n_readings`; positive definite.
    fn covariance(&self, block: usize) -> &[f64];

    /// The equations of one block and their slopes at unknowns `x` and readings `l`
    /// (as adjusted so far, not as read).
    ///
    /// # Errors
    ///
    /// A fault when the equations have no value there; a step that leads there is shortened.
    fn fill(&self, block: usize, x: &[f64], l: &[f64], out: &mut Linear) -> Result<(), Fault>;
}

/// An unknown.
#[derive(Debug, Clone, PartialEq)]
pub struct Unknown {
    /// Its name, as results and faults give it.
    pub name: String,
    /// Where to begin.
    pub start: f64,
    /// Size of a usual change, to put unknowns of different units on one scale.
    pub scale: f64,
}

/// What was known of some unknowns before: an observation of them with its full covariance.
#[derive(Debug, Clone, PartialEq)]
pub struct Prior {
    /// Which unknowns.
    pub unknown_idx: Vec<usize>,
    /// Their values.
    pub value: Vec<f64>,
    /// Covariance, in the same order.
    pub covariance: DMatrix<f64>,
}

/// An equality that unknowns keep exactly: Σ factor · x = total.
#[derive(Debug, Clone, PartialEq)]
pub struct Constraint {
    /// Its name, as faults give it.
    pub name: String,
    /// Unknown and factor.
    pub terms: Vec<(usize, f64)>,
    /// What the sum comes to.
    pub total: f64,
}

/// A reading that counts for nothing, exactly as if its variance were without bound;
/// the rest of its block stays.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Excluded {
    /// The block.
    pub block: usize,
    /// The reading in it.
    pub reading: usize,
}

/// All that an adjustment is given.
#[derive(Clone, Copy)]
pub struct Problem<'a> {
    /// The equations, block by block.
    pub equations: &'a dyn Equations,
    /// The unknowns, in the order of `x`.
    pub unknowns: &'a [Unknown],
    /// What was known of them before.
    pub priors: &'a [Prior],
    /// What they keep exactly.
    pub constraints: &'a [Constraint],
    /// Readings that count for nothing.
    pub excluded: &'a [Excluded],
}

impl<'a> Problem<'a> {
    /// Equations and unknowns, nothing known before.
    pub fn new(equations: &'a dyn Equations, unknowns: &'a [Unknown]) -> Problem<'a> {
        Problem {
            equations,
            unknowns,
            priors: &[],
            constraints: &[],
            excluded: &[],
        }
    }

    /// Number of unknowns.
    pub fn n_unknowns(&self) -> usize {
        self.unknowns.len()
    }
}
