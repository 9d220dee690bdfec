//! Standard uncertainty of every joint angle, as the fitted sensors give it.

use holdline::machine::claim::Joint;
use holdline::machine::joints::{ALL_JOINTS, Joints};
use holdline::tooth::model::ToothModel;
use holdline::tooth::place::GeometryName;
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
/// u²(q) = Σ_ij (∂q/∂x_i) C_ij (∂q/∂x_j)        C the figures' covariance, and u² of every reading
/// ```
///
/// - Source: JCGM 100:2008 (GUM), 5.1.2; slopes by central differences.
pub(super) fn joint_sds_rad(model: &ToothModel, readings: &Readings<Measured>) -> AngleSds {
    let none = AngleSds::default;
    let Ok(plan) = model.plan() else {
        return none();
    };
    let geometry = model.geometry();
    let mut names: Vec<GeometryName> = Vec::new();
    geometry.map(&mut |name, _| names.push(name));
    let mut read: Vec<Option<f64>> = Vec::new();
    readings.map(&mut |_, m| read.push(m.sd));
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
    let mut joints: Vec<Vec<f64>> = vec![Vec::new(); ALL_JOINTS.len()];
    let mut attitude: Vec<f64> = Vec::new();
    for source_idx in 0..names.len() + read.len() {
        let (Some(up), Some(down)) = (solve(source_idx, STEP), solve(source_idx, -STEP)) else {
            return none();
        };
        for (slopes, joint) in joints.iter_mut().zip(ALL_JOINTS) {
            slopes.push((up.0.get(joint) - down.0.get(joint)) / (2.0 * STEP));
        }
        attitude.push((up.1 - down.1) / (2.0 * STEP));
    }
    let sd = |slopes: &[f64]| sd_rad(model, &names, &read, slopes);
    AngleSds {
        joints_rad: ALL_JOINTS
            .into_iter()
            .zip(joints.iter().map(|slopes| sd(slopes)))
            .collect(),
        attitude_rad: sd(&attitude),
    }
}

/// Standard uncertainty by slopes, figures first, then readings; none where a source that matters has none.
fn sd_rad(
    model: &ToothModel,
    names: &[GeometryName],
    read: &[Option<f64>],
    slopes: &[f64],
) -> Option<f64> {
    // A slope that is not a number is not small: it stays.
    let matters = |slope: &f64| !(slope.abs() <= NO_SLOPE);
    let (of_figures, of_readings) = slopes.split_at(names.len());
    let figures = names.iter().zip(of_figures).filter(|(_, s)| matters(s));
    let (names, of_figures): (Vec<GeometryName>, Vec<f64>) = figures.unzip();
    let covariance = model.figure_covariance(&names)?;
    let mut variance = 0.0;
    for (i, a) in of_figures.iter().enumerate() {
        for (j, b) in of_figures.iter().enumerate() {
            variance += a * covariance[(i, j)] * b;
        }
    }
    for (slope, sd) in of_readings.iter().zip(read).filter(|(s, _)| matters(s)) {
        variance += (slope * (*sd)?).powi(2);
    }
    Some(variance.sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::machine_view::load_machine;
    use holdline::calibrate::calibration::{CalibratedFigure, Calibration, FigureUnit};
    use holdline::calibrate::fit::Belief;
    use holdline::machine::front::ToolChoice;
    use holdline::tooth::attitude::Lean;

    const MACHINE: &[u8] = include_bytes!("../../../../demo/demo-23.machine.toml");
    const SD_RAD: f64 = 0.001;

    /// Stick joint and attitude with the offsets of boom and stick sensor correlated so.
    fn sds(correlation: f64) -> (f64, f64) {
        let sheet = load_machine("m", MACHINE).unwrap_or_else(|f| panic!("{f}"));
        let figure = |path: &str| CalibratedFigure {
            path: path.to_owned(),
            before: 0.0,
            value: 0.0,
            sd: Some(SD_RAD),
            unit: FigureUnit::Radian,
        };
        let calibration = Calibration {
            machine: sheet.sheet().id.clone(),
            sheet_hash: String::new(),
            tool: Default::default(),
            who: String::new(),
            on: String::new(),
            with: String::new(),
            figures: vec![
                figure("sensor[S-boom].offset"),
                figure("sensor[S-stick].offset"),
            ],
            correlations: vec![correlation],
            belief: Belief::Believed,
            not_determined: Vec::new(),
        };
        let machine = calibration
            .applied_to(&sheet)
            .unwrap_or_else(|f| panic!("{f}"));
        let choice = ToolChoice {
            coupler: Some("QC-demo".to_owned()),
            tilt: None,
            bucket: "T75".to_owned(),
            tooth: "centre".to_owned(),
        };
        let model = ToothModel::new(&machine, &choice).unwrap_or_else(|f| panic!("{f}"));
        let joints = Joints::zero()
            .with(Joint::Boom, 0.4)
            .with(Joint::Stick, -1.6)
            .with(Joint::Bucket, -0.7);
        let level = Lean {
            pitch: 0.0,
            roll: 0.0,
        };
        let read = model
            .readings_at(&joints, &level)
            .unwrap_or_else(|f| panic!("{f}"));
        let readings = model.with_sheet_sds(&read, None, [None; 3]);
        let found = joint_sds_rad(&model, &readings);
        let stick = found
            .joints_rad
            .iter()
            .find(|(joint, _)| *joint == Joint::Stick);
        let sd = stick.and_then(|(_, sd)| *sd).expect("stated");
        (sd, found.attitude_rad.expect("stated"))
    }

    /// A gravity sensor on each link: σ = stick line less boom line, so u² changes by −2 r u_boom u_stick. The attitude
    /// of the ear goes by the idler alone, whose link stands on the stick: it does not see the boom at all.
    #[test]
    fn figures_found_together_count_together() {
        let (alone, ear_alone) = sds(0.0);
        for correlation in [-0.8, 0.6] {
            let (stick, ear) = sds(correlation);
            let want = (alone * alone - 2.0 * correlation * SD_RAD * SD_RAD).sqrt();
            assert!((stick - want).abs() < 1e-6 * want, "{stick} is not {want}");
            assert!(
                (ear - ear_alone).abs() < 1e-6 * ear_alone,
                "{ear} {ear_alone}"
            );
        }
    }
}
