//! The tooth in the house, over the ground, and on the site.

use super::attitude::Lean;
use super::plan::Plan;
use super::readings::{Readings, SensorConstants, joints_from_readings, scalar};
use crate::frames::{House, Level, Site};
use crate::machine::front::Front;
use crate::machine::joints::Joints;
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

/// The measured line between the two antennas against the one their levers give.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PairCheck<S> {
    /// Measured length less the levers' length, m.
    pub length_difference_m: S,
    /// Measured rise less the one that levers and lean give, m.
    pub rise_difference_m: S,
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
///   ψ given, or from the pair of antennas.
/// - Units: m, rad. Exact at any attitude.
///
/// # Errors
///
/// As [`joints_from_readings`]; `T014` when two antennas stand at one place.
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
/// `T014` when two antennas stand at one place.
pub fn place<S: RealField + Copy>(
    geometry: &Geometry<S>,
    readings: &Readings<S>,
    joints: Joints<S>,
    lean: Lean<S>,
) -> Result<Solution<S>, Fault> {
    let tooth_house = front_pose(&geometry.front, &joints).tooth_house;
    let tooth_level = lean.level_from_house() * tooth_house;
    let seen: Vec<([S; 3], [S; 3])> = geometry
        .levers_m
        .iter()
        .zip(&readings.antennas_m)
        .filter_map(|(lever, at)| Some((*lever, (*at)?)))
        .collect();
    let pair = match seen.as_slice() {
        [a, b, ..] => Some(pair_heading(&lean, *a, *b)?),
        _ => None,
    };
    let heading_rad = readings.heading_rad.or(pair.map(|(heading, _)| heading));
    let tooth_site = heading_rad.filter(|_| !seen.is_empty()).map(|heading| {
        let turn = lean.site_turn(heading);
        let share: S = scalar(1.0 / seen.len() as f64);
        let sum = seen
            .iter()
            .fold(nalgebra::Vector3::zeros(), |sum, (lever, at)| {
                let arm: Direction<House, S> =
                    tooth_house - Point::metres(lever[0], lever[1], lever[2]);
                sum + (Point::<Site, S>::metres(at[0], at[1], at[2]) + turn * arm).vector()
            });
        Point::from_vector(sum * share)
    });
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

/// Heading from two antennas, and how well the pair agrees with its levers.
///
/// ```text
/// v = Ry(−θ) Rx(φ) (b_house − a_house)        ψ = 90° + atan2(v_y, v_x) − atan2(ΔN, ΔE)
/// ```
fn pair_heading<S: RealField + Copy>(
    lean: &Lean<S>,
    a: ([S; 3], [S; 3]),
    b: ([S; 3], [S; 3]),
) -> Result<(S, PairCheck<S>), Fault> {
    let between = |p: [S; 3], q: [S; 3]| [q[0] - p[0], q[1] - p[1], q[2] - p[2]];
    let lever = between(a.0, b.0);
    let v = (lean.level_from_house() * Direction::<House, S>::metres(lever[0], lever[1], lever[2]))
        .vector();
    let d = between(a.1, b.1);
    let near: S = scalar(0.1); // two antennas nearer than this give no heading worth the name
    let flat = |x: S, y: S| (x * x + y * y).sqrt();
    if !(near < flat(v.x, v.y) && near < flat(d[0], d[1])) {
        return Err(Fault::new(
            "T014",
            "antennas",
            "two antennas at one place",
            "positions and lever arms at least 0.1 m apart",
            "check which column belongs to which antenna, and the lever arms on the sheet",
        ));
    }
    let mut heading = S::frac_pi_2() + v.y.atan2(v.x) - d[1].atan2(d[0]);
    for _ in 0..2 {
        if heading < S::zero() {
            heading += S::two_pi();
        } else if S::two_pi() <= heading {
            heading -= S::two_pi();
        }
    }
    let long = |p: [S; 3]| (p[0] * p[0] + p[1] * p[1] + p[2] * p[2]).sqrt();
    Ok((
        heading,
        PairCheck {
            length_difference_m: long(d) - long(lever),
            rise_difference_m: d[2] - v.z,
        },
    ))
}
