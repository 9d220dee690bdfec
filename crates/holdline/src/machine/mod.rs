//! The machine: what was measured of it, and how its links move.

pub mod claim;
pub mod correlated;
pub mod cylinder;
pub mod explain;
pub mod figures;
pub mod four_bar;
pub mod front;
pub mod jacobian;
pub mod joints;
mod measured_solids;
mod measured_tools;
mod measured_up;
pub mod outlines;
pub mod pose;
pub mod reach;
pub mod spans;

use correlated::Correlated;
use std::sync::Arc;

use claim::{ClaimedBucket, ClaimedMachine, Joint};
use cylinder::{CylinderTriangle, JointRange};
use four_bar::{FourBar, FourBarPose};
use front::{Front, ToolChoice};
use holdline_geom::fault::{Fault, Faults};
use holdline_geom::measured::Measured;
use joints::Joints;

/// A machine whose sheet has been checked: every figure plausible, every pin closes,
/// every range follows.
///
/// There is no other way to one than [`Machine::measured_up`],
/// and nothing in it can be changed afterwards.
#[derive(Debug, Clone, PartialEq)]
pub struct Machine {
    sheet: ClaimedMachine,
    ranges: Vec<JointRange>,
    triangles: Vec<CylinderTriangle>,
    correlated: Option<Arc<Correlated>>,
}

impl Machine {
    /// Checks a claimed sheet and works out the joint ranges.
    ///
    /// # Errors
    ///
    /// All faults at once, each with its path through the sheet.
    pub fn measured_up(sheet: ClaimedMachine) -> Result<Machine, Faults> {
        measured_up::checked(sheet)
    }

    /// The sheet as checked.
    pub fn sheet(&self) -> &ClaimedMachine {
        &self.sheet
    }

    /// The front with this tool and tooth point.
    ///
    /// # Errors
    ///
    /// Fault `T001` that lists what the sheet has.
    pub fn front(&self, choice: &ToolChoice) -> Result<Front<Measured>, Fault> {
        front::chosen(&self.sheet, choice)
    }

    /// A bucket by name.
    ///
    /// # Errors
    ///
    /// Fault `T001` that lists the buckets there are.
    pub fn bucket(&self, id: &str) -> Result<&ClaimedBucket, Fault> {
        front::pick(&self.sheet.buckets, id, |b| &b.id, "bucket")
    }

    /// Ranges of the joints that have one.
    pub fn ranges(&self) -> &[JointRange] {
        &self.ranges
    }

    /// The range of one joint; none when neither a cylinder nor a `[[range]]` gives it:
    /// then it is unknown, not free.
    pub fn range(&self, joint: Joint) -> Option<&JointRange> {
        self.ranges.iter().find(|range| range.joint == joint)
    }

    /// The range of the idler, above the stick's line; none when the bucket's range is not known.
    pub fn idler_range(&self) -> Option<JointRange> {
        let idx = self
            .sheet
            .cylinders
            .iter()
            .position(|c| c.moves == Joint::Bucket)?;
        let cylinder = &self.sheet.cylinders[idx];
        cylinder::stroke_range(cylinder, &self.triangles[idx], idx, "").ok()
    }

    /// Cylinder triangles in the order of the sheet.
    pub fn cylinder_triangles(&self) -> &[CylinderTriangle] {
        &self.triangles
    }

    /// Every cylinder's length in a pose, in the order of the sheet, m.
    ///
    /// # Errors
    ///
    /// Faults of the four-bar, if the bucket linkage cannot close there.
    pub fn cylinder_lengths_m(&self, q: &Joints) -> Result<Vec<f64>, Fault> {
        let moves = self.sheet.cylinders.iter().map(|c| c.moves);
        moves
            .zip(&self.triangles)
            .map(|(joint, triangle)| match joint {
                Joint::Bucket => Ok(triangle.length_at(self.linkage_pose(q.bucket)?.idler_rad)),
                _ => Ok(triangle.length_at(q.get(joint))),
            })
            .collect()
    }

    /// The linkage at a bucket angle.
    ///
    /// # Errors
    ///
    /// `T010` or `T011` when it cannot close there.
    pub fn linkage_pose(&self, bucket_rad: f64) -> Result<FourBarPose<f64>, Fault> {
        self.linkage()
            .idler_from_ear(self.sheet.stick.length.value, bucket_rad)
    }

    /// The bucket linkage's figures.
    pub fn linkage(&self) -> FourBar<f64> {
        let claimed = &self.sheet.linkage;
        FourBar {
            pivot_m: [claimed.idler_pivot.x.value, claimed.idler_pivot.z.value],
            idler_m: claimed.idler.value,
            link_m: claimed.link.value,
            ear_m: claimed.ear.value,
            branch: claimed.branch,
        }
    }

    /// The fault of an angle outside the joint's nominal range: which stroke, and by how much.
    /// `None` inside, or when unknown.
    pub fn beyond_range(&self, joint: Joint, angle_rad: f64) -> Option<Fault> {
        /// What rounding may add to an angle that was made from the very end of a stroke.
        const ROUNDING_RAD: f64 = 1e-9;
        let range = self.range(joint)?;
        let [min, max] = range.nominal_rad;
        if min - ROUNDING_RAD <= angle_rad && angle_rad <= max + ROUNDING_RAD {
            return None;
        }
        let got = match range
            .cylinder_idx
            .and_then(|idx| self.stroke_words(idx, angle_rad))
        {
            Some(words) => format!("{:.1}°: {words}", angle_rad.to_degrees()),
            None => format!("{:.1}°", angle_rad.to_degrees()),
        };
        Some(Fault::new(
            "T021",
            format!("joint {}", joint.word()),
            got,
            format!("{:.1}° to {:.1}°", min.to_degrees(), max.to_degrees()),
            "ask for a pose inside the strokes; if the machine does reach it, measure the cylinder's pins and stroke again",
        ))
    }

    fn stroke_words(&self, cylinder_idx: usize, angle_rad: f64) -> Option<String> {
        let cylinder = &self.sheet.cylinders[cylinder_idx];
        let mut q = Joints::zero();
        q = q.with(cylinder.moves, angle_rad);
        let triangle = &self.triangles[cylinder_idx];
        let length_m = match cylinder.moves {
            Joint::Bucket => match self.linkage_pose(q.bucket) {
                Ok(pose) => triangle.length_at(pose.idler_rad),
                Err(_) => return Some("the bucket linkage cannot close there".to_owned()),
            },
            joint => triangle.length_at(q.get(joint)),
        };
        let (short, long) = (cylinder.retracted.value, cylinder.extended.value);
        let word = cylinder.moves.word();
        if length_m < short {
            Some(format!(
                "the {word} cylinder would be {:.0} mm short of fully in",
                (short - length_m) * 1000.0
            ))
        } else if long < length_m {
            Some(format!(
                "the {word} cylinder would be {:.0} mm past fully out",
                (length_m - long) * 1000.0
            ))
        } else {
            Some(format!(
                "the {word} cylinder would stand on the other side of its pins"
            ))
        }
    }
}
