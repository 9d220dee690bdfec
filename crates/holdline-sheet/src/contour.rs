//! Contours: lines of equal value over a grid, and the areas above a value.
//!
//! Marching squares (from memory): a value on every point of a grid, straight lines between neighbours;
//! a saddle is settled by the mean of its cell. A cell with a missing corner draws nothing: out of reach stays blank.

/// Values at the points of a grid.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Grid {
    /// The lower left point, right and up, m.
    pub from_m: [f64; 2],
    /// From point to point, right and up, m.
    pub step_m: [f64; 2],
    /// Points in a row.
    pub n_right: usize,
    /// Rows.
    pub n_up: usize,
    /// Row after row from the lowest, left to right.
    pub values: Vec<Option<f64>>,
}
