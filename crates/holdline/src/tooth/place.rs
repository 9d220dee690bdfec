//! The tooth in the house, over the ground, and on the site.

use super::antennas::{self, PairCheck, Seen};
use super::attitude::Lean;
use super::bounds::{self, angle_within};
use super::plan::Plan;
use super::readings::{Readings, SensorConstants, joints_from_readings, scalar};
use crate::frames::{House, Level, Site};
use crate::machine::front::Front;
use crate::machine::joints::{ALL_JOINTS, Joints};
use crate::machine::pose::front_pose;
use holdline_geom::fault::Fault;
use holdline_geom::frame::{Direction, Point};
use nalgebra::RealField;

/// Everything that a tooth is worked out from, apart from the readings.
#[derive(Debug, Clone, PartialEq)]
pub struct Geometry<T> {
    /// House to tooth.
    pub front: Front<T>,
    /// Sensor constants, in the order of the sheet.
    pub constants: Vec<SensorConstants<T>>,
    /// Antenna phase centres in `House`, in the order of the sheet.
    pub levers_m: Vec<[T; 3]>,
    /// Taken off a heading that is read.
    pub heading_offset_rad: Option<T>,
}

/// A tooth, and what was found on the way.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Solution<S: nalgebra::Scalar = f64> {
    /// Joint angles.
    pub joints: Joints<S>,
    /// Pitch and roll of the house.
    pub lean: Lean<S>,
    /// Heading, as given or from the pair of antennas.
    pub heading_rad: Option<S>,
    /// Tooth in `House`.
    pub tooth_house: Point<House, S>,
    /// Tooth in `Level`: forward, left, and up over the swing axis at track ground level.
    pub tooth_level: Point<Level, S>,
    /// Tooth on the site; none without an antenna position and a heading.
    pub tooth_site: Option<Point<Site, S>>,
    /// How the pair of antennas agrees with its levers.
    pub pair: Option<PairCheck<S>>,
}

impl<T> Geometry<T> {
    /// The same geometry with every value passed through `f`, with its name,
    /// always in the same order.
    pub fn map<U>(&self, f: &mut impl FnMut(GeometryName, &T) -> U) -> Geometry<U> {
        use GeometryName as Name;
        Geometry {
            front: self
                .front
                .map(&mut |name, value| f(Name::Front(name), value)),
            constants: self
                .constants
                .iter()
                .enumerate()
                .map(|(sensor_idx, known)| SensorConstants {
                    offset_rad: f(Name::Offset { sensor_idx }, &known.offset_rad),
                    roll_offset_rad: known
                        .roll_offset_rad
                        .as_ref()
                        .map(|o| f(Name::RollOffset { sensor_idx }, o)),
                })
                .collect(),
            levers_m: self
                .levers_m
                .iter()
                .enumerate()
                .map(|(antenna_idx, [x, y, z])| {
                    let mut one = |axis, value: &T| f(Name::Lever { antenna_idx, axis }, value);
                    [one(0, x), one(1, y), one(2, z)]
                })
                .collect(),
            heading_offset_rad: self
                .heading_offset_rad
                .as_ref()
                .map(|offset| f(Name::HeadingOffset, offset)),
        }
    }
}

/// Which figure of the geometry a value is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum GeometryName {
    /// A length or fixed angle of the front.
    Front(&'static str),
    /// A sensor's offset.
    Offset {
        /// Counted from 0.
        sensor_idx: usize,
    },
    /// A house sensor's roll offset.
    RollOffset {
        /// Counted from 0.
        sensor_idx: usize,
    },
    /// One coordinate of an antenna's lever arm.
    Lever {
        /// Counted from 0.
        antenna_idx: usize,
        /// 0 forward, 1 left, 2 up.
        axis: usize,
    },
    /// What is taken off a heading that is read.
    HeadingOffset,
}

/// The tooth from one instant's readings, in 2D and, where the site position is known, in 3D.
///
/// ```text
/// level:  T_level = Ry(−θ) Rx(φ) T_house
/// site:   T_site  = mean over the antennas of  a_n + R (T_house − a_house)
///         R       = Rz(90° − ψ) Ry(−θ) Rx(φ)
/// ```
///
/// - Symbols: a_n antenna phase centre on the site, a_house its lever arm;
///   ψ read, less the heading's offset where the sheet has one, or from the pair of antennas.
/// - Units: m, rad. Exact at any attitude.
///
/// # Errors
///
/// As [`joints_from_readings`] and [`place`].
pub fn solve<S: RealField + Copy>(
    plan: &Plan,
    geometry: &Geometry<S>,
    readings: &Readings<S>,
) -> Result<Solution<S>, Fault> {
    let (joints, lean) =
        joints_from_readings(plan, &geometry.front, &geometry.constants, readings)?;
    place(geometry, readings, joints, lean)
}

/// As [`solve`], with joint angles and lean already known.
///
/// # Errors
///
/// `T004` for what is not a number or no angle or place of a machine; `T014` when two antennas stand
/// at one place, `T016` when they contradict their levers, `T017` when a heading given contradicts them.
pub fn place<S: RealField + Copy>(
    geometry: &Geometry<S>,
    readings: &Readings<S>,
    joints: Joints<S>,
    lean: Lean<S>,
) -> Result<Solution<S>, Fault> {
    check_pose(&joints, &lean)?;
    let tooth_house = front_pose(&geometry.front, &joints).tooth_house;
    let tooth_level = lean.level_from_house() * tooth_house;
    let seen = antennas_seen(geometry, readings);
    antennas::check_positions(&seen)?;
    if let Some(heading) = readings.heading_rad {
        angle_within(&bounds::HEADING, || "heading".to_owned(), heading)?;
    }
    let read = match (readings.heading_rad, geometry.heading_offset_rad) {
        (Some(heading), Some(offset)) => Some(heading - offset),
        (heading, _) => heading,
    };
    let pair = antennas::heading_of_pair(&lean, &seen, read)?;
    let heading_rad = read.or(pair.map(|(heading, _)| heading));
    let tooth_site = match (heading_rad, seen.first()) {
        (Some(heading), Some(first)) => {
            let turn = lean.site_turn(heading);
            let origin: Point<Site, S> = site_point(first.at_m);
            let sum = seen
                .iter()
                .fold(nalgebra::Vector3::zeros(), |sum, antenna| {
                    let [x, y, z] = antenna.lever_m;
                    let arm: Direction<House, S> = tooth_house - Point::metres(x, y, z);
                    sum + ((site_point(antenna.at_m) + turn * arm) - origin).vector()
                });
            let share: S = scalar(1.0 / seen.len() as f64);
            Some(origin + Direction::from_vector(sum * share))
        }
        (None, _) | (_, None) => None,
    };
    Ok(Solution {
        joints,
        lean,
        heading_rad,
        tooth_house,
        tooth_level,
        tooth_site,
        pair: pair.map(|(_, check)| check),
    })
}

fn check_pose<S: RealField + Copy>(joints: &Joints<S>, lean: &Lean<S>) -> Result<(), Fault> {
    for joint in ALL_JOINTS {
        let at = || format!("joint {}", joint.word());
        angle_within(&bounds::ANGLE, at, joints.get(joint))?;
    }
    for (word, tilt) in [("pitch", lean.pitch), ("roll", lean.roll)] {
        angle_within(&bounds::HOUSE_LEAN, || format!("{word} of the house"), tilt)?;
    }
    Ok(())
}

/// The antennas that gave a position.
fn antennas_seen<S: RealField + Copy>(
    geometry: &Geometry<S>,
    readings: &Readings<S>,
) -> Vec<Seen<S>> {
    let both = geometry.levers_m.iter().zip(&readings.antennas_m);
    both.enumerate()
        .filter_map(|(antenna_idx, (lever_m, at_m))| {
            Some(Seen {
                antenna_idx,
                lever_m: *lever_m,
                at_m: (*at_m)?,
            })
        })
        .collect()
}

fn site_point<S: RealField + Copy>([east, north, up]: [S; 3]) -> Point<Site, S> {
    Point::metres(east, north, up)
}
