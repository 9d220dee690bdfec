//! Equations for the laws of the adjustment: closures over blocks.
#![allow(dead_code)] // each file of laws uses its own part

use holdline_geom::adjust::{Equations, Linear, Prior, Shape, Unknown};
use holdline_geom::draws::Draws;
use holdline_geom::fault::Fault;
use nalgebra::DMatrix;

type Fill = Box<dyn Fn(usize, &[f64], &[f64], &mut Linear) -> Result<(), Fault>>;

/// Blocks of one kind.
pub struct Rows {
    pub n_rows: usize,
    pub l: Vec<Vec<f64>>,
    pub q: Vec<Vec<f64>>,
    pub fill: Fill,
}

impl Equations for Rows {
    fn n_blocks(&self) -> usize {
        self.l.len()
    }

    fn shape(&self, block: usize) -> Shape {
        Shape {
            n_rows: self.n_rows,
            n_readings: self.l[block].len(),
        }
    }

    fn readings(&self, block: usize) -> &[f64] {
        &self.l[block]
    }

    fn covariance(&self, block: usize) -> &[f64] {
        &self.q[block]
    }

    fn fill(&self, block: usize, x: &[f64], l: &[f64], out: &mut Linear) -> Result<(), Fault> {
        (self.fill)(block, x, l, out)
    }
}

/// Linear observation equations l = A x, a block of `n_rows` rows each, with a covariance of their own.
pub fn linear(a: DMatrix<f64>, l: &[f64], q: Vec<DMatrix<f64>>) -> Rows {
    let n_rows = q[0].nrows();
    Rows {
        n_rows,
        l: l.chunks(n_rows).map(<[f64]>::to_vec).collect(),
        q: q.iter().map(row_major).collect(),
        fill: Box::new(move |block, x, l, out| {
            let n = x.len();
            for i in 0..n_rows {
                out.w[i] = -l[i];
                for (j, x) in x.iter().enumerate() {
                    let slope = a[(block * n_rows + i, j)];
                    out.w[i] += slope * x;
                    out.a[i * n + j] = slope;
                }
                out.b[i * n_rows + i] = -1.0;
            }
            Ok(())
        }),
    }
}

/// Points near a circle: unknown centre and radius, both coordinates are readings of one equation.
pub fn circle(points: &[[f64; 2]], q: &DMatrix<f64>) -> Rows {
    Rows {
        n_rows: 1,
        l: points.iter().map(|p| p.to_vec()).collect(),
        q: vec![row_major(q); points.len()],
        fill: Box::new(|_, x, l, out| {
            let (e, n) = (l[0] - x[0], l[1] - x[1]);
            out.w[0] = e * e + n * n - x[2] * x[2];
            out.a.copy_from_slice(&[-2.0 * e, -2.0 * n, -2.0 * x[2]]);
            out.b.copy_from_slice(&[2.0 * e, 2.0 * n]);
            Ok(())
        }),
    }
}

/// Points of an arc with noise.
pub fn arc_points(n: usize, sd: f64, seed: u64) -> Vec<[f64; 2]> {
    let mut draws = Draws::new(seed, 0);
    (0..n)
        .map(|k| {
            let turn = 2.2 * k as f64 / n as f64;
            [
                3.0 + 5.0 * turn.cos() + sd * draws.normal(),
                -1.0 + 5.0 * turn.sin() + sd * draws.normal(),
            ]
        })
        .collect()
}

pub fn row_major(matrix: &DMatrix<f64>) -> Vec<f64> {
    matrix.transpose().as_slice().to_vec()
}

pub fn unknowns(starts: &[f64]) -> Vec<Unknown> {
    let unknown = |(idx, &start): (usize, &f64)| Unknown {
        name: format!("x{}", idx + 1),
        start,
        scale: 1.0,
    };
    starts.iter().enumerate().map(unknown).collect()
}

pub fn prior(unknown_idx: &[usize], value: &[f64], covariance: DMatrix<f64>) -> Prior {
    Prior {
        unknown_idx: unknown_idx.to_vec(),
        value: value.to_vec(),
        covariance,
    }
}

/// A positive definite matrix with correlations in it.
pub fn correlated(n: usize, draws: &mut Draws) -> DMatrix<f64> {
    let root = DMatrix::from_fn(n, n, |_, _| draws.normal());
    &root * root.transpose() + DMatrix::identity(n, n) * 0.2
}

#[track_caller]
pub fn near(got: f64, want: f64, by: f64) {
    let off = (got - want).abs();
    assert!(off <= by, "got {got}, want {want}, off by {off:e}");
}

#[track_caller]
pub fn all_near(got: &[f64], want: &[f64], by: f64) {
    assert_eq!(got.len(), want.len());
    for (got, want) in got.iter().zip(want) {
        near(*got, *want, by);
    }
}
