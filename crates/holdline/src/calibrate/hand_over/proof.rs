//! The tooth at the working poses from the same readings, by one machine and by another.

use super::ReadBack;
use crate::calibrate::working_poses::WorkingPose;
use crate::machine::Machine;
use crate::machine::front::ToolChoice;
use crate::tooth::attitude::Lean;
use crate::tooth::model::ToothModel;
use crate::tooth::place::Solution;
use crate::tooth::readings::Readings;
use holdline_geom::fault::Faults;
use holdline_geom::frame::Point;
use nalgebra::Vector3;

/// How the house leans and looks, so that every offset shows, degrees.
const PITCH_DEG: f64 = 1.5;
const ROLL_DEG: f64 = -1.0;
const HEADING_DEG: f64 = 30.0;
/// Where the swing axis meets the track ground, m; any place does.
const STAND_M: [f64; 3] = [5000.0, 2000.0, 20.0];

/// A tooth on the machine and on the site, m.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct ToothAt {
    pub level_m: [f64; 3],
    pub site_m: Option<[f64; 3]>,
}

/// Poses with the readings that the calibrated machine gives there.
#[derive(Debug, Clone)]
pub(super) struct Prover {
    tool: ToolChoice,
    lean: Lean,
    poses: Vec<(WorkingPose, Readings<f64>)>,
    /// By the calibrated machine, pose by pose.
    calibrated: Vec<ToothAt>,
    /// Poses in which even the calibrated machine gives no tooth, and why.
    pub without_tooth: Vec<(&'static str, String)>,
}

impl Prover {
    pub fn new(
        calibrated: &Machine,
        tool: &ToolChoice,
        poses: [WorkingPose; 3],
    ) -> Result<Prover, Faults> {
        let model = ToothModel::new(calibrated, tool)?;
        let lean = Lean {
            pitch: PITCH_DEG.to_radians(),
            roll: ROLL_DEG.to_radians(),
        };
        let (mut kept, mut teeth) = (Vec::new(), Vec::new());
        let mut without_tooth = Vec::new();
        for pose in poses {
            let mut readings = model.readings_at(&pose.joints, &lean)?;
            give_position(&model, &lean, &mut readings);
            match model.tooth(&readings) {
                Ok(solution) => {
                    teeth.push(tooth_at(&solution));
                    kept.push((pose, readings));
                }
                Err(faults) => {
                    let why = faults.0.first().map_or(String::new(), |f| f.got.clone());
                    without_tooth.push((pose.name, why));
                }
            }
        }
        Ok(Prover {
            tool: tool.clone(),
            lean,
            poses: kept,
            calibrated: teeth,
            without_tooth,
        })
    }

    /// The tooth at every pose by this machine; none where its figures give none.
    pub fn teeth(&self, machine: &Machine) -> Vec<Option<ToothAt>> {
        let Ok(model) = ToothModel::new(machine, &self.tool) else {
            return self.no_teeth();
        };
        self.poses
            .iter()
            .map(|(_, readings)| {
                let solution = model.tooth(readings).ok()?;
                Some(tooth_at(&solution))
            })
            .collect()
    }

    /// As many unknowns as poses.
    pub fn no_teeth(&self) -> Vec<Option<ToothAt>> {
        vec![None; self.poses.len()]
    }

    /// Pose by pose: keyed against calibrated, and against what the numbers would do unrounded.
    pub fn read_back(
        &self,
        keyed: &[Option<ToothAt>],
        unrounded: &[Option<ToothAt>],
    ) -> Vec<ReadBack> {
        let mut all = Vec::new();
        for (idx, (pose, _)) in self.poses.iter().enumerate() {
            let calibrated = self.calibrated[idx];
            let difference = |a: Option<[f64; 3]>, b: Option<[f64; 3]>| {
                let (a, b) = (Vector3::from(a?), Vector3::from(b?));
                Some((a - b).into())
            };
            all.push(ReadBack {
                name: pose.name.to_owned(),
                joints: pose.joints,
                lean: self.lean,
                calibrated_m: calibrated.level_m,
                keyed_m: keyed[idx].map(|tooth| tooth.level_m),
                site_difference_m: difference(
                    keyed[idx].and_then(|tooth| tooth.site_m),
                    calibrated.site_m,
                ),
                apart_m: apart_m(keyed[idx], Some(calibrated)),
                rounding_m: apart_m(keyed[idx], unrounded[idx]),
            });
        }
        all
    }
}

fn tooth_at(solution: &Solution) -> ToothAt {
    ToothAt {
        level_m: solution.tooth_level.vector().into(),
        site_m: solution.tooth_site.map(|tooth| tooth.vector().into()),
    }
}

/// Antenna positions as they stand at the heading; with one antenna the heading is read too.
fn give_position(model: &ToothModel, lean: &Lean, readings: &mut Readings<f64>) {
    let heading_rad = HEADING_DEG.to_radians();
    let site_from_house = lean.site_turn(heading_rad).after_shift(STAND_M);
    let levers = &model.geometry().levers_m;
    for (at, lever) in readings.antennas_m.iter_mut().zip(levers) {
        let [x, y, z] = lever.map(|m| m.value);
        *at = Some((site_from_house * Point::metres(x, y, z)).vector().into());
    }
    if levers.len() == 1 {
        let offset = model.geometry().heading_offset_rad;
        readings.heading_rad = Some(heading_rad + offset.map_or(0.0, |m| m.value));
    }
}

/// How far two teeth are apart: the larger of machine and site. One that is not known is not near.
fn apart_m(a: Option<ToothAt>, b: Option<ToothAt>) -> Option<f64> {
    let (a, b) = (a?, b?);
    let long = |p: [f64; 3], q: [f64; 3]| (Vector3::from(p) - Vector3::from(q)).norm();
    let level_m = long(a.level_m, b.level_m);
    match (a.site_m, b.site_m) {
        (None, None) => Some(level_m),
        (Some(p), Some(q)) => {
            let site_m = long(p, q);
            Some(if level_m < site_m { site_m } else { level_m })
        }
        (Some(_), None) | (None, Some(_)) => None,
    }
}

/// The largest distance over the poses; none when one of them is not known.
pub(super) fn worst_m(a: &[Option<ToothAt>], b: &[Option<ToothAt>]) -> Option<f64> {
    let mut worst = 0.0;
    for (a, b) in a.iter().zip(b) {
        let apart = apart_m(*a, *b).filter(|m| m.is_finite())?;
        if worst < apart {
            worst = apart;
        }
    }
    Some(worst)
}
