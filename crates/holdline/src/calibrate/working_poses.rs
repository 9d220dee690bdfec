//! Three poses in which a machine is spoken of: tooth on the ground near, mid and far.

use crate::machine::Machine;
use crate::machine::front::ToolChoice;
use crate::machine::joints::Joints;
use crate::machine::pose::front_pose;
use crate::machine::reach::reach_in_plane;
use holdline_geom::fault::Fault;
use holdline_geom::frame::Point;
use std::f64::consts::PI;

/// A pose by name.
#[derive(Debug, Clone, PartialEq)]
pub struct WorkingPose {
    /// `near`, `mid`, `far`.
    pub name: &'static str,
    /// Joint angles; swing, post, offset, tilt and rotation at zero.
    pub joints: Joints,
}

/// Names and shares of the reach at which the tooth stands.
const PLACES: [(&str, f64); 3] = [("near", 0.15), ("mid", 0.50), ("far", 0.90)];
/// Step along the ground, m.
const STEP_M: f64 = 0.05;
/// Steps tried: 40 m, further than any front reaches.
const N_STEPS: u32 = 800;
/// Turns of the tooth's line from straight down that are tried, in this order, rad.
const TURNS_RAD: [f64; 7] = [
    0.0,
    PI / 12.0,
    -PI / 12.0,
    PI / 6.0,
    -PI / 6.0,
    PI / 4.0,
    -PI / 4.0,
];

/// Tooth on track ground at 15, 50 and 90 hundredths of what it reaches there, its line from the bucket pin
/// hanging down, or as near to that as the strokes allow.
///
/// Used wherever one figure must stand for the working range: a calibration's tooth, the proof of a hand-over.
///
/// - Frame: the boom plane of `House`, which stands level. Units: m, rad.
/// - What a stroke does not allow is left out; a joint without a known range is taken to reach.
///
/// # Errors
///
/// `T001` for an unknown tool; `C042` when the tooth does not come to the ground.
pub fn working_poses(machine: &Machine, choice: &ToolChoice) -> Result<[WorkingPose; 3], Fault> {
    let front = machine.front(choice)?.values();
    let flat = front_pose(&front, &Joints::zero());
    let tool = (flat.house_from_ear.inverse() * flat.tooth_house).vector();
    // Attitude of the ear line that hangs the tooth straight under the bucket pin.
    let hanging_rad = -PI / 2.0 - tool.z.atan2(tool.x);
    let at = |x_m: f64| {
        let target = Point::metres(x_m, flat.tooth_house.y(), 0.0);
        TURNS_RAD.iter().find_map(|turn_rad| {
            let ear_rad = hanging_rad + turn_rad;
            let reached = reach_in_plane(machine, &front, target, ear_rad, &Joints::zero());
            reached.ok().map(|reached| reached.joints)
        })
    };

    let reached: Vec<Joints> = (1..N_STEPS)
        .filter_map(|step| at(f64::from(step) * STEP_M))
        .collect();
    if reached.is_empty() {
        return Err(Fault::new(
            "C042",
            "tool",
            format!(
                "bucket {} does not come to the track ground in any pose",
                choice.bucket
            ),
            "a machine whose tooth reaches the ground it stands on",
            "look at the boom foot's height, the lengths and the strokes on the sheet",
        ));
    }
    Ok(PLACES.map(|(name, share)| {
        let idx = (share * (reached.len() - 1) as f64).round() as usize;
        WorkingPose {
            name,
            joints: reached[idx],
        }
    }))
}
