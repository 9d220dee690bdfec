//! Differences and signatures on the scale of their own scatter.

use nalgebra::{Cholesky, DMatrix, DVector, Dyn};

/// The covariance, factored once.
#[derive(Debug, Clone)]
pub(super) struct Whitener {
    factor: Cholesky<f64, Dyn>,
}

impl Whitener {
    /// None when the covariance is not positive definite.
    pub fn new(covariance: DMatrix<f64>) -> Option<Whitener> {
        Cholesky::new(covariance).map(|factor| Whitener { factor })
    }

    /// `L⁻¹ v` with `L Lᵀ` the covariance.
    pub fn white(&self, v: &[f64]) -> Vec<f64> {
        let mut out = DVector::from_column_slice(v);
        self.factor.l_dirty().solve_lower_triangular_mut(&mut out);
        out.as_slice().to_vec()
    }
}

/// Scalar product.
pub(super) fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// Directions of length 1 at right angles to each other that span the same as `columns`.
///
/// A column that adds less than a millionth of itself is left out: the shots do not see it apart.
pub(super) fn orthonormal(columns: &[Vec<f64>]) -> Vec<Vec<f64>> {
    let mut basis: Vec<Vec<f64>> = Vec::with_capacity(columns.len());
    for column in columns {
        let size = dot(column, column).sqrt();
        let mut left = column.clone();
        for _ in 0..2 {
            // twice is enough (Kahan and Parlett)
            for q in &basis {
                let c = dot(q, &left);
                left.iter_mut().zip(q).for_each(|(l, q)| *l -= c * q);
            }
        }
        let rest = dot(&left, &left).sqrt();
        if 1e-6 * size < rest && rest.is_finite() {
            basis.push(left.into_iter().map(|l| l / rest).collect());
        }
    }
    basis
}

/// |cos| of the smallest angle between two spans given by orthonormal directions.
pub(super) fn likeness(a: &[Vec<f64>], b: &[Vec<f64>]) -> f64 {
    if a.is_empty() || b.is_empty() {
        return 0.0;
    }
    let m = DMatrix::from_fn(a.len(), b.len(), |i, j| dot(&a[i], &b[j]));
    let largest = (m.clone() * m.transpose()).symmetric_eigenvalues().max();
    largest.clamp(0.0, 1.0).sqrt()
}
