//! What several checks share: a curve fitted to points, with exact slopes.
#![allow(dead_code)] // each check uses its own part

use holdline_geom::adjust::{Equations, Linear, Shape, Unknown};
use holdline_geom::fault::Fault;
use nalgebra::DVector;
use num_dual::{DualDVec64, gradient};

/// A curve: the value at the given columns for given parameters.
pub type Curve = fn(&[DualDVec64], &[f64]) -> DualDVec64;

/// Points and a curve through them; one block a point.
pub struct Points {
    pub curve: Curve,
    pub y: Vec<f64>,
    pub x: Vec<Vec<f64>>,
    /// Variance stated for each y.
    pub variance: [f64; 1],
}

impl Equations for Points {
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
        &self.variance
    }

    fn fill(&self, block: usize, b: &[f64], l: &[f64], out: &mut Linear) -> Result<(), Fault> {
        let at = &self.x[block];
        let curve = |b: DVector<DualDVec64>| (self.curve)(b.as_slice(), at);
        let (value, slopes) = gradient(curve, &DVector::from_column_slice(b));
        out.w[0] = value - l[0];
        out.a.copy_from_slice(slopes.as_slice());
        out.b[0] = -1.0;
        Ok(())
    }
}

/// Unknowns that begin at `start`; a usual change is as large as the start itself.
pub fn unknowns(start: &[f64]) -> Vec<Unknown> {
    let unknown = |(idx, &start): (usize, &f64)| Unknown {
        name: format!("b{}", idx + 1),
        start,
        scale: if start == 0.0 { 1.0 } else { start.abs() },
    };
    start.iter().enumerate().map(unknown).collect()
}
