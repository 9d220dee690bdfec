//! Standard uncertainty of every joint angle, as the fitted sensors give it.

use holdline::machine::claim::Joint;
use holdline::machine::joints::{ALL_JOINTS, Joints};
use holdline::tooth::model::ToothModel;
use holdline::tooth::readings::{Readings, joints_from_readings};
use holdline_geom::measured::Measured;

/// Half the step over which slopes are taken, rad and m: at this size neither rounding nor curvature shows
/// in three digits.
const STEP: f64 = 1e-6;
/// Below this slope a source does not move a joint.
const NO_SLOPE: f64 = 1e-7;

/// Standard uncertainties of angles, rad; none where a source that matters has none.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct AngleSds {
    /// Joint by joint.
    pub joints_rad: Vec<(Joint, Option<f64>)>,
    /// Of the pins that the tool hangs on, above level.
    pub attitude_rad: Option<f64>,
}

/// Standard uncertainty of each joint, rad; none where a source that matters has none.
///
/// ```text
/// u²(q) = Σ_i (∂q/∂x_i)² u²(x_i)
/// ```
///
/// - Source: JCGM 100:2008 (GUM), 5.1.2; slopes by central differences.
pub(super) fn joint_sds_rad(model: &ToothModel, readings: &Readings<Measured>) -> AngleSds {
    let none = AngleSds::default;
    let Ok(plan) = model.plan() else {
        return none();
    };
    let geometry = model.geometry();
    let mut sources: Vec<Option<f64>> = Vec::new();
    geometry.map(&mut |_, m| sources.push(m.sd));
    readings.map(&mut |_, m| sources.push(m.sd));
    let solve = |source_idx: usize, step: f64| -> Option<(Joints, f64)> {
        let mut idx = 0;
        let mut moved = |m: &Measured| {
            let value = m.value + if idx == source_idx { step } else { 0.0 };
            idx += 1;
            value
        };
        let geometry = geometry.map(&mut |_, m| moved(m));
        let readings = readings.map(&mut |_, m| moved(m));
        let (q, lean) =
            joints_from_readings(plan, &geometry.front, &geometry.constants, &readings).ok()?;
        let coupler_rad = geometry.front.coupler.map_or(0.0, |c| c.rotation_rad);
        let plane_rad = q.boom + q.boom_upper + q.stick + q.bucket;
        let attitude_rad = plane_rad + coupler_rad + lean.in_boom_plane(q.post).apparent_pitch;
        Some((q, attitude_rad))
    };
    let mut joints: Vec<(Joint, Option<f64>)> =
        ALL_JOINTS.iter().map(|joint| (*joint, Some(0.0))).collect();
    let mut attitude = Some(0.0);
    for (source_idx, sd) in sources.iter().enumerate() {
        let (Some(up), Some(down)) = (solve(source_idx, STEP), solve(source_idx, -STEP)) else {
            return none();
        };
        for (joint, variance) in &mut joints {
            add(variance, up.0.get(*joint) - down.0.get(*joint), *sd);
        }
        add(&mut attitude, up.1 - down.1, *sd);
    }
    AngleSds {
        joints_rad: joints
            .into_iter()
            .map(|(joint, v)| (joint, v.map(f64::sqrt)))
            .collect(),
        attitude_rad: attitude.map(f64::sqrt),
    }
}

/// Adds one source's part to a variance; a source that matters and has no uncertainty takes it away.
fn add(variance: &mut Option<f64>, difference: f64, sd: Option<f64>) {
    let slope = difference / (2.0 * STEP);
    if slope.abs() <= NO_SLOPE {
        return; // a slope that is not a number is not small: it stays
    }
    *variance = variance.zip(sd).map(|(sum, sd)| sum + (slope * sd).powi(2));
}
