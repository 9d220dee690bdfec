//! The tooth at near, middle and far reach: how it moves with every figure and reading.

use super::super::equations::{Block, Heading, LeanOf, Observed, Row, Slot, Spot, System, View};
use super::super::observations::Target;
use super::super::working_poses::working_poses;
use crate::machine::Machine;
use crate::machine::front::ToolChoice;
use crate::machine::joints::Joints;
use crate::tooth::attitude::Lean;
use crate::tooth::model::ToothModel;
use holdline_geom::adjust::{Equations, Linear};
use nalgebra::DMatrix;

/// One working pose: the tooth in `Level`, and its slopes.
#[derive(Debug, Clone)]
pub(super) struct Working {
    pub name: &'static str,
    pub joints: Joints,
    pub at_m: [f64; 3],
    /// By every figure of the rig, `3 × n`.
    pub by_figure: DMatrix<f64>,
    /// By every reading, with its sd: none where the sheet states none.
    pub by_reading: Vec<([f64; 3], Option<f64>)>,
}

/// A house that leans as houses do on a job: 2° up and to one side, rad.
pub(super) const ON_A_SLOPE: Lean = Lean {
    pitch: 0.035,
    roll: -0.035,
};

/// A house that stands level.
pub(super) const LEVEL: Lean = Lean {
    pitch: 0.0,
    roll: 0.0,
};

/// Near, mid and far on track ground; where the front does not come there, three poses inside its strokes.
fn poses(machine: &Machine, choice: &ToolChoice) -> Vec<(&'static str, Joints)> {
    match working_poses(machine, choice) {
        Ok(poses) => poses.into_iter().map(|p| (p.name, p.joints)).collect(),
        Err(_) => [("near", 0.15), ("mid", 0.5), ("far", 0.9)]
            .into_iter()
            .map(|(name, share)| (name, inside_strokes(machine, choice, share)))
            .collect(),
    }
}

fn inside_strokes(machine: &Machine, choice: &ToolChoice, share: f64) -> Joints {
    let Ok(front) = machine.front(choice) else {
        return Joints::zero();
    };
    crate::machine::jacobian::joints_fitted(&front)
        .into_iter()
        .filter_map(|joint| Some((joint, machine.range(joint)?)))
        .fold(Joints::zero(), |q, (joint, range)| {
            let [min, max] = range.nominal_rad;
            q.with(joint, min + (max - min) * share)
        })
}

/// The tooth and its slopes in the working poses, for a machine with these figures and a house that leans so.
///
/// A pose in which it has no value, for want of a sensor or because the linkage does not close there,
/// is left out.
pub(super) fn working(
    machine: &Machine,
    observed: &Observed,
    choice: &ToolChoice,
    figures: &[f64],
    lean: Lean,
) -> Vec<Working> {
    let Ok(model) = ToothModel::new(machine, choice) else {
        return Vec::new();
    };
    let sheet = machine.sheet();
    let n_figures = observed.figures.len();
    let mut found = Vec::new();
    for (name, joints) in poses(machine, choice) {
        let Ok(readings) = model.readings_at(&joints, &lean) else {
            continue;
        };
        let mut l = Vec::new();
        let mut sds = Vec::new();
        let mut read = |value: f64, sd: Option<f64>| {
            l.push(value);
            sds.push(sd);
            Slot::Read(l.len() - 1)
        };
        let house = observed.system.plan.house;
        let house_sd = house.and_then(|h| sheet.sensors[h.sensor_idx].sd_rad);
        let [pitch, roll] = readings.house_rad.unwrap_or([0.0; 2]);
        let lean = LeanOf::Sensor([read(pitch, house_sd), read(roll, house_sd)]);
        let sensors = (0..observed.system.plan.sensor_ids.len())
            .map(|idx| {
                let value = readings.sensors_rad.get(idx).copied().flatten()?;
                Some(read(value, sheet.sensors.get(idx).and_then(|s| s.sd_rad)))
            })
            .collect();
        let block = Block {
            readings: l.clone(),
            covariance: Vec::new(),
            sensors,
            views: vec![View {
                // At a heading of 90° east is forward and north is left.
                heading: Heading::Is(Slot::Plain(std::f64::consts::FRAC_PI_2)),
                lean,
                origin: [Slot::Plain(0.0); 3],
            }],
            rows: (0..3)
                .map(|axis| Row::Coordinate {
                    view_idx: 0,
                    spot: Spot::Target(Target::Tooth(choice.tooth.clone())),
                    axis,
                    mark: Slot::Plain(0.0),
                    reading_idx: 0,
                })
                .collect(),
            vars: Vec::new(),
        };
        let system = System {
            unknown_of_figure: (0..n_figures).map(Some).collect(),
            n_unknowns: n_figures,
            blocks: vec![block],
            ..observed.system.clone()
        };
        let system = system.with_all_vars();
        let n_l = l.len();
        let mut out = Linear {
            w: vec![0.0; 3],
            a: vec![0.0; 3 * n_figures],
            b: vec![0.0; 3 * n_l],
        };
        if system.fill(0, figures, &l, &mut out).is_err() {
            continue;
        }
        // The row takes its first reading off, as every measured coordinate: put it back.
        let first = l[0];
        let at_m = [0, 1, 2].map(|axis| out.w[axis] + first);
        let by_reading = (0..n_l)
            .map(|k| {
                let own = if k == 0 { 1.0 } else { 0.0 };
                ([0, 1, 2].map(|axis| out.b[axis * n_l + k] + own), sds[k])
            })
            .collect();
        found.push(Working {
            name,
            joints,
            at_m,
            by_figure: DMatrix::from_row_slice(3, n_figures, &out.a),
            by_reading,
        });
    }
    found
}
