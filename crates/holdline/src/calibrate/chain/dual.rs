//! The chain of any machine, by dual numbers: the same answers as the closed form, slower.

use super::{ToothFrame, ToothPlace};
use crate::tooth::model::ToothModel;
use crate::tooth::place::{Geometry, Solution, solve};
use crate::tooth::plan::Plan;
use crate::tooth::readings::Readings;
use holdline_geom::fault::Fault;
use nalgebra::RealField;
use num_dual::DualSVec64;

/// How many sources one pass differentiates by.
const N_LANES: usize = 16;

type Lanes = DualSVec64<N_LANES>;

/// A machine without a closed form.
#[derive(Debug, Clone)]
pub(super) struct Dual {
    plan: Plan,
    geometry: Geometry<f64>,
    shape: Readings<f64>,
}

impl Dual {
    pub fn new(model: &ToothModel, plan: &Plan, shape: &Readings<f64>) -> Dual {
        Dual {
            plan: plan.clone(),
            geometry: model.geometry().map(&mut |_, m| m.value),
            shape: shape.clone(),
        }
    }

    fn filled<S: RealField + Copy>(
        &self,
        mut next: impl FnMut() -> S,
    ) -> (Geometry<S>, Readings<S>) {
        let geometry = self.geometry.map(&mut |_, _| next());
        let readings = self.shape.map(&mut |_, _| next());
        (geometry, readings)
    }

    pub fn solve(&self, x: &[f64]) -> Result<Solution, Fault> {
        let mut values = x.iter().copied();
        let (geometry, readings) = self.filled(|| values.next().unwrap_or(f64::NAN));
        solve(&self.plan, &geometry, &readings)
    }

    pub fn slopes(&self, x: &[f64], frame: ToothFrame, out: &mut [[f64; 3]]) -> Result<(), Fault> {
        for first in (0..x.len()).step_by(N_LANES) {
            let mut idx = 0;
            let (geometry, readings) = self.filled(|| {
                let value = Lanes::from_re(x.get(idx).copied().unwrap_or(f64::NAN));
                let lane = idx.wrapping_sub(first);
                idx += 1;
                if lane < N_LANES {
                    value.derivative(lane)
                } else {
                    value
                }
            });
            let solution = solve(&self.plan, &geometry, &readings)?;
            let at = match frame {
                ToothFrame::House => Some(solution.tooth_house.vector()),
                ToothFrame::Level => Some(solution.tooth_level.vector()),
                ToothFrame::Site => solution.tooth_site.map(|t| t.vector()),
            };
            for (lane, slope) in out[first..].iter_mut().take(N_LANES).enumerate() {
                *slope = at.map_or([f64::NAN; 3], |at| {
                    [at.x, at.y, at.z].map(|c| c.eps.0.map_or(0.0, |slopes| slopes[lane]))
                });
            }
        }
        Ok(())
    }
}

/// The place of a solution as plain numbers.
pub(super) fn place_of(solution: &Solution) -> ToothPlace {
    let three = |v: nalgebra::Vector3<f64>| [v.x, v.y, v.z];
    ToothPlace {
        house_m: three(solution.tooth_house.vector()),
        level_m: three(solution.tooth_level.vector()),
        site_m: solution.tooth_site.map(|t| three(t.vector())),
    }
}
