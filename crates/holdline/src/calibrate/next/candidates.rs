//! Poses that a machine can go to, on a coarse grid.

use super::NextAsk;
use crate::calibrate::clear::Clear;
use crate::machine::Machine;
use crate::machine::claim::Joint;
use crate::machine::front::Front;
use crate::machine::jacobian::joints_fitted;
use crate::machine::joints::Joints;
use crate::machine::pose::{FrontPose, front_pose};
use crate::tooth::attitude::Lean;
use holdline_geom::fault::{Fault, Faults};

/// Shares of a joint's stroke that are tried. Its very ends are left out: a stop hit hard is no still pose.
const SHARES: [f64; 5] = [0.06, 0.27, 0.50, 0.73, 0.94];
/// No more poses than these are weighed against each other; of more, these lie evenly among them.
const AT_MOST: usize = 480;

/// A pose that could be measured.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Candidate {
    pub joints: Joints,
    pub lean: Lean,
    pub heading_rad: f64,
    pub pose: FrontPose,
}

/// Poses of the grid that the machine can go to, 480 at most.
///
/// # Errors
///
/// `C050` when the range of boom, stick or bucket is not known, `C051` when nothing is left.
pub(super) fn candidates(
    machine: &Machine,
    front: &Front<f64>,
    ask: &NextAsk,
) -> Result<Vec<Candidate>, Faults> {
    let mut faults = Faults::none();
    let mut grid = vec![Joints::zero()];
    for joint in joints_fitted(front) {
        if joint == Joint::Swing {
            continue; // the headings stand for it
        }
        let Some(range) = machine.range(joint) else {
            // What is not known to turn stays straight; the front itself must be known.
            if in_front(joint) {
                faults.push(unknown_range(joint));
            }
            continue;
        };
        let [min, max] = range.nominal_rad;
        // Three places do for the joints that only add to the front's own three.
        let shares: &[f64] = if in_front(joint) {
            &SHARES
        } else {
            &SHARES[1..4]
        };
        grid = grid
            .iter()
            .flat_map(|q| {
                shares
                    .iter()
                    .map(|share| q.with(joint, min + share * (max - min)))
            })
            .collect();
    }
    faults.or(())?;
    let clear = Clear::of(machine, &ask.choice, ask.floor_m)?;
    let mut all = Vec::new();
    for heading_rad in &ask.headings_rad {
        let lean = ask.lean(*heading_rad);
        for joints in &grid {
            let pose = front_pose(front, joints);
            let low_enough = pose.tooth_house.z() <= ask.ceiling_m;
            if machine.linkage_pose(joints.bucket).is_ok() && low_enough && clear.holds(&pose) {
                all.push(Candidate {
                    joints: *joints,
                    lean,
                    heading_rad: *heading_rad,
                    pose,
                });
            }
        }
    }
    if all.is_empty() {
        return Err(Faults(vec![Fault::new(
            "C051",
            "floor",
            format!(
                "no pose with the bucket {} m above the track ground or more, the tooth {} m or less, and all of it clear of tracks and house",
                ask.floor_m, ask.ceiling_m
            ),
            "a floor and a ceiling that the tooth can stay between, and at least one heading",
            "look at the floor, the ceiling and the headings asked for",
        )]));
    }
    let n = all.len();
    if AT_MOST < n {
        let picked = (0..AT_MOST).map(|k| all[k * n / AT_MOST].clone());
        return Ok(picked.collect());
    }
    Ok(all)
}

fn in_front(joint: Joint) -> bool {
    match joint {
        Joint::Boom | Joint::Stick | Joint::Bucket => true,
        Joint::Swing
        | Joint::Post
        | Joint::BoomUpper
        | Joint::Offset
        | Joint::Tilt
        | Joint::Rotation => false,
    }
}

fn unknown_range(joint: Joint) -> Fault {
    Fault::new(
        "C050",
        format!("joint {}", joint.word()),
        "no range",
        "a cylinder or a [[range]] on the sheet",
        "measure the cylinder's pins and stroke, so that only poses are proposed that the machine can go to",
    )
}
