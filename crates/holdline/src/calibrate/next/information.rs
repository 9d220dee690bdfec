//! What a pose would tell: normal equations of one block, without what belongs to that pose alone.

use crate::calibrate::equations::{Observed, System};
use holdline_geom::adjust::{Equations, Linear};
use holdline_geom::fault::Fault;
use nalgebra::{DMatrix, SymmetricEigen};

/// Eigenvalues below this share of the largest tell nothing.
const NOTHING: f64 = 1e-12;

/// What each block tells of the unknowns that last: figures first, then those that several poses share.
#[derive(Debug, Clone)]
pub(super) struct Information {
    /// One matrix a block.
    pub blocks: Vec<DMatrix<f64>>,
    /// Number of figures among the lasting unknowns.
    pub n_figures: usize,
    /// Number of lasting unknowns.
    pub n_lasting: usize,
    /// The lasting unknowns, by their places among all.
    pub lasting: Vec<usize>,
}

/// ```text
/// N = Aᵀ (B Q Bᵀ)⁻¹ A          N_lasting − N_lp N_pp⁺ N_pl over the pose's own unknowns p
/// ```
pub(super) fn information(observed: &Observed) -> Result<Information, Fault> {
    let system = &observed.system;
    let n_figures = observed.figure_of_unknown.len();
    let whole: Vec<DMatrix<f64>> = (0..system.n_blocks())
        .map(|block| normal(system, block, &observed.start))
        .collect::<Result<_, Fault>>()?;
    let n = system.n_unknowns;
    let users = |unknown: usize| {
        let uses = |m: &&DMatrix<f64>| m.column(unknown).iter().any(|v| *v != 0.0);
        whole.iter().filter(uses).count()
    };
    // One block alone knows of an unknown: it is that pose's own.
    let lasting: Vec<usize> = (0..n)
        .filter(|unknown| *unknown < n_figures || 1 < users(*unknown))
        .collect();
    let own: Vec<usize> = (0..n)
        .filter(|unknown| !lasting.contains(unknown))
        .collect();
    Ok(Information {
        blocks: whole.iter().map(|m| reduced(m, &lasting, &own)).collect(),
        n_figures,
        n_lasting: lasting.len(),
        lasting,
    })
}

fn normal(system: &System, block: usize, x: &[f64]) -> Result<DMatrix<f64>, Fault> {
    let shape = system.shape(block);
    let (n_rows, n_l, n_x) = (shape.n_rows, shape.n_readings, system.n_unknowns);
    let mut linear = Linear {
        w: vec![0.0; n_rows],
        a: vec![0.0; n_rows * n_x],
        b: vec![0.0; n_rows * n_l],
    };
    system.fill(block, x, system.readings(block), &mut linear)?;
    let a = DMatrix::from_row_slice(n_rows, n_x, &linear.a);
    let b = DMatrix::from_row_slice(n_rows, n_l, &linear.b);
    let q = DMatrix::from_row_slice(n_l, n_l, system.covariance(block));
    let spread = &b * q * b.transpose();
    let Some(factor) = spread.cholesky() else {
        return Err(Fault::new(
            "C052",
            "pose",
            "readings whose uncertainties do not make up a covariance",
            "an uncertainty of every reading, above zero",
            "look at the uncertainties of the sensors on the sheet and of the shots asked for",
        ));
    };
    Ok(a.transpose() * factor.solve(&a))
}

/// Takes out the unknowns that are the pose's own.
fn reduced(whole: &DMatrix<f64>, lasting: &[usize], own: &[usize]) -> DMatrix<f64> {
    let pick = |rows: &[usize], columns: &[usize]| {
        DMatrix::from_fn(rows.len(), columns.len(), |i, j| {
            whole[(rows[i], columns[j])]
        })
    };
    let kept = pick(lasting, lasting);
    let used: Vec<usize> = own
        .iter()
        .copied()
        .filter(|unknown| whole[(*unknown, *unknown)] != 0.0)
        .collect();
    if used.is_empty() {
        return kept;
    }
    let across = pick(lasting, &used);
    kept - &across * pseudo_inverse(pick(&used, &used)) * across.transpose()
}

fn pseudo_inverse(m: DMatrix<f64>) -> DMatrix<f64> {
    // On one scale, so that metres and radians are judged alike.
    let scale: Vec<f64> = m.diagonal().iter().map(|d| 1.0 / d.sqrt()).collect();
    let n = m.nrows();
    let eigen = SymmetricEigen::new(DMatrix::from_fn(n, n, |i, j| {
        scale[i] * m[(i, j)] * scale[j]
    }));
    let least = NOTHING * eigen.eigenvalues.max();
    let mut inverse = DMatrix::zeros(n, n);
    for (value, way) in eigen
        .eigenvalues
        .iter()
        .zip(eigen.eigenvectors.column_iter())
    {
        if least < *value {
            inverse += way * way.transpose() / *value;
        }
    }
    DMatrix::from_fn(n, n, |i, j| scale[i] * inverse[(i, j)] * scale[j])
}
