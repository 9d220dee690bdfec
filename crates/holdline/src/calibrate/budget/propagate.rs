//! From the sources' scatter to the tooth's covariance.

use super::terms::{Scatter, Term};
use crate::sources;
use holdline_geom::fault::Fault;
use nalgebra::{DMatrix, SymmetricEigen};

/// Below this slope, m per unit, a source does not move the tooth: what is left is rounding.
pub(super) const NO_SLOPE: f64 = 1e-9;

/// As many figures found together need no allocation.
const FEW: usize = 32;

/// A symmetric 3 × 3 matrix: xx, xy, xz, yy, yz, zz.
pub(super) type Six = [f64; 6];

/// Sources that were found together, with a root of their covariance: Q = L Lᵀ.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Together {
    /// Their places among the terms.
    pub places: Vec<usize>,
    /// L, row after row, square.
    pub root: Vec<f64>,
    /// Q.
    pub covariance: DMatrix<f64>,
}

/// The sources made ready for many poses.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Mixer {
    /// Place and sd of the sources that stand alone.
    pub alone: Vec<(usize, f64)>,
    pub together: Option<Together>,
    /// Places of the sources that nobody stated.
    pub not_stated: Vec<usize>,
}

impl Mixer {
    /// Sorts the sources. `found_together` has places and covariance of a calibration's figures.
    pub fn new(
        terms: &[Term],
        found_together: Option<(Vec<usize>, DMatrix<f64>)>,
    ) -> Result<Mixer, Fault> {
        let together = found_together.map(|(p, q)| together(p, q)).transpose()?;
        let mut mixer = Mixer::default();
        for (place, term) in terms.iter().enumerate() {
            if together.as_ref().is_some_and(|t| t.places.contains(&place)) {
                continue;
            }
            match term.scatter {
                Scatter::NotStated => mixer.not_stated.push(place),
                Scatter::Normal { sd: 0.0 } | Scatter::Rectangular { half: 0.0 } => {}
                scatter => mixer.alone.extend(scatter.sd().map(|sd| (place, sd))),
            }
        }
        mixer.together = together;
        Ok(mixer)
    }

    /// The covariance of what is stated, m².
    ///
    /// ```text
    /// Σ_t = Σ_i J_i J_iᵀ u_i² + (J L)(J L)ᵀ        Q = L Lᵀ of the figures found together
    /// ```
    ///
    /// - Source: [`sources::GUM`], 5.2.
    pub fn covariance(&self, slopes: &[[f64; 3]]) -> Six {
        let _ = sources::GUM;
        let mut sum = [0.0; 6];
        for &(place, sd) in &self.alone {
            add_square(&mut sum, slopes[place], sd);
        }
        if let Some(together) = &self.together {
            let n = together.places.len();
            let (mut few, mut many);
            let mixed: &mut [[f64; 3]] = if n <= FEW {
                few = [[0.0; 3]; FEW];
                &mut few[..n]
            } else {
                many = vec![[0.0; 3]; n];
                &mut many
            };
            for (&place, root) in together.places.iter().zip(together.root.chunks_exact(n)) {
                let slope = slopes[place];
                for (v, l) in mixed.iter_mut().zip(root) {
                    for axis in 0..3 {
                        v[axis] += slope[axis] * l;
                    }
                }
            }
            for v in mixed {
                add_square(&mut sum, *v, 1.0);
            }
        }
        sum
    }

    /// Places of the sources that move the tooth and that nobody stated.
    pub fn missing<'a>(&'a self, slopes: &'a [[f64; 3]]) -> impl Iterator<Item = usize> + 'a {
        // A slope that is not a number is not small: it stays and takes the whole away.
        let still = |slope: &[f64; 3]| slope.iter().all(|s| s.abs() <= NO_SLOPE);
        let all = self.not_stated.iter().copied();
        all.filter(move |place| !still(&slopes[*place]))
    }
}

fn add_square(sum: &mut Six, v: [f64; 3], sd: f64) {
    let v = v.map(|c| c * sd);
    sum[0] += v[0] * v[0];
    sum[1] += v[0] * v[1];
    sum[2] += v[0] * v[2];
    sum[3] += v[1] * v[1];
    sum[4] += v[1] * v[2];
    sum[5] += v[2] * v[2];
}

/// Variance along a direction: nᵀ Σ n.
pub(super) fn along(sum: &Six, n: [f64; 3]) -> f64 {
    let [xx, xy, xz, yy, yz, zz] = *sum;
    n[0] * n[0] * xx
        + n[1] * n[1] * yy
        + n[2] * n[2] * zz
        + 2.0 * (n[0] * n[1] * xy + n[0] * n[2] * xz + n[1] * n[2] * yz)
}

/// Variance along the horizontal direction where it is largest.
pub(super) fn largest_in_plan(sum: &Six) -> f64 {
    let [xx, xy, _, yy, _, _] = *sum;
    let half = (xx - yy) / 2.0;
    (xx + yy) / 2.0 + (half * half + xy * xy).sqrt()
}

/// As rows.
pub(super) fn rows(sum: &Six) -> [[f64; 3]; 3] {
    let [xx, xy, xz, yy, yz, zz] = *sum;
    [[xx, xy, xz], [xy, yy, yz], [xz, yz, zz]]
}

/// The root of a covariance, by its eigenvalues on the scale of the correlations.
fn together(places: Vec<usize>, covariance: DMatrix<f64>) -> Result<Together, Fault> {
    let n = places.len();
    let refuse = |got: String| {
        Fault::new(
            "B004",
            "calibration.correlations",
            got,
            "correlations that can hold together: no combination of the figures with a negative variance",
            "take the calibration as it was written; rounding its correlations by hand breaks it",
        )
    };
    let sds: Vec<f64> = (0..n).map(|k| covariance[(k, k)].sqrt()).collect();
    if !sds.iter().all(|sd| 0.0 < *sd && sd.is_finite()) {
        return Err(refuse("a figure without a standard uncertainty".to_owned()));
    }
    let correlation = DMatrix::from_fn(n, n, |i, j| covariance[(i, j)] / (sds[i] * sds[j]));
    if !correlation.iter().all(|r| r.abs() <= 1.0 + 1e-9) {
        return Err(refuse("a correlation beyond 1".to_owned()));
    }
    let eigen = SymmetricEigen::new(correlation);
    // Correlations are written with about nine digits; what lies below that is rounding.
    let rounding = 1e-7 * n as f64;
    if let Some(low) = eigen.eigenvalues.iter().find(|v| !(-rounding <= **v)) {
        return Err(refuse(format!("a combination of variance {low:.3e}")));
    }
    let mut root = vec![0.0; n * n];
    for row in 0..n {
        for column in 0..n {
            let size = eigen.eigenvalues[column].max(0.0).sqrt();
            root[row * n + column] = sds[row] * eigen.eigenvectors[(row, column)] * size;
        }
    }
    Ok(Together {
        places,
        root,
        covariance,
    })
}
