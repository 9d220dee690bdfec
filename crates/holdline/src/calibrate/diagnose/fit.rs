//! How well a hypothesis explains the shots: the least χ² that it leaves, with its sizes.

use super::scene::{Change, Direction, Scene};
use super::whiten::{Whitener, dot};
use holdline_geom::fault::Faults;
use nalgebra::{Cholesky, DMatrix, DVector};

/// A hypothesis fitted to the shots.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Fitted {
    /// Sizes.
    pub sizes: Vec<f64>,
    /// Their covariance.
    pub covariance: DMatrix<f64>,
    /// χ² left.
    pub chi2: f64,
    /// What is left, row by row, m.
    pub left_m: Vec<f64>,
    /// Whitened slopes at the estimate.
    pub slopes: Vec<Vec<f64>>,
}

/// The equations whitened at one place.
struct At {
    y_m: Vec<f64>,
    y: Vec<f64>,
    slopes: Vec<Vec<f64>>,
    chi2: f64,
}

/// What has to be fitted.
pub(super) struct Case<'a> {
    /// Changes.
    pub changes: Vec<&'a Change>,
    /// Directions with a size.
    pub directions: Vec<&'a Direction>,
}

impl Case<'_> {
    fn at(&self, scene: &Scene, white: &Whitener, sizes: &[f64]) -> Result<At, Faults> {
        let d = scene.differences(&self.changes, &self.directions, sizes)?;
        let y = white.white(&d.y_m);
        let chi2 = dot(&y, &y);
        Ok(At {
            slopes: d.slopes.iter().map(|s| white.white(s)).collect(),
            y_m: d.y_m,
            y,
            chi2,
        })
    }

    /// The sizes that leave the least χ², by Gauss and Newton with exact slopes, evaluated again at each step.
    ///
    /// ```text
    /// χ²_h = min_p (y − h(p))ᵀ Σ⁻¹ (y − h(p))        p ← p + (Hᵀ Σ⁻¹ H)⁻¹ Hᵀ Σ⁻¹ (y − h(p))
    /// ```
    ///
    /// Without directions it is just evaluated.
    ///
    /// # Errors
    ///
    /// What the readings give at the start that cannot be: then this is not the fault.
    pub fn fit(&self, scene: &Scene, white: &Whitener) -> Result<Option<Fitted>, Faults> {
        /// A step that lowers χ² by less has arrived.
        const ARRIVED: f64 = 1e-6;
        const MOST_STEPS: usize = 20;
        let mut sizes = vec![0.0; self.directions.len()];
        let mut here = self.at(scene, white, &sizes)?;
        let mut covariance = DMatrix::zeros(0, 0);
        if !sizes.is_empty() {
            for _ in 0..MOST_STEPS {
                let Some((step, _)) = normal_step(&here) else {
                    return Ok(None);
                };
                let Some((to, there)) = self.shortened(scene, white, &sizes, &step, here.chi2)
                else {
                    break;
                };
                let gained = here.chi2 - there.chi2;
                (sizes, here) = (to, there);
                if gained < ARRIVED {
                    break;
                }
            }
            match normal_step(&here) {
                Some((_, c)) => covariance = c,
                None => return Ok(None),
            }
        }
        Ok(here.chi2.is_finite().then_some(Fitted {
            sizes,
            covariance,
            chi2: here.chi2,
            left_m: here.y_m,
            slopes: here.slopes,
        }))
    }

    /// The step, halved until χ² falls; none when it does not.
    fn shortened(
        &self,
        scene: &Scene,
        white: &Whitener,
        from: &[f64],
        step: &[f64],
        chi2: f64,
    ) -> Option<(Vec<f64>, At)> {
        let mut share = 1.0;
        for _ in 0..8 {
            let to: Vec<f64> = from.iter().zip(step).map(|(f, s)| f + share * s).collect();
            if let Ok(there) = self.at(scene, white, &to)
                && there.chi2 <= chi2
            {
                return Some((to, there));
            }
            share /= 2.0;
        }
        None
    }
}

/// (HᵀH)⁻¹ Hᵀy and (HᵀH)⁻¹, columns scaled to length 1 first; none when these shots do not see a direction.
fn normal_step(at: &At) -> Option<(Vec<f64>, DMatrix<f64>)> {
    /// Directions this much alike cannot be told apart.
    const PIVOT: f64 = 1e-9;
    let k = at.slopes.len();
    let size: Vec<f64> = at.slopes.iter().map(|s| dot(s, s).sqrt()).collect();
    if !size.iter().all(|s| 0.0 < *s && s.is_finite()) {
        return None;
    }
    let normal = DMatrix::from_fn(k, k, |i, j| {
        dot(&at.slopes[i], &at.slopes[j]) / (size[i] * size[j])
    });
    let right = DVector::from_fn(k, |i, _| dot(&at.slopes[i], &at.y) / size[i]);
    let factor = Cholesky::new(normal)?;
    let l = factor.l_dirty();
    if !(0..k).all(|i| PIVOT < l[(i, i)] * l[(i, i)]) {
        return None;
    }
    let step = factor.solve(&right);
    let inverse = factor.inverse();
    Some((
        (0..k).map(|i| step[i] / size[i]).collect(),
        DMatrix::from_fn(k, k, |i, j| inverse[(i, j)] / (size[i] * size[j])),
    ))
}
