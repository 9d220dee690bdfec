//! From what the sensors read to the joint angles.

use super::attitude::{Lean, PlaneGravity};
use super::bounds::{self, angle_within};
use super::plan::{Given, Plan, Source};
use crate::machine::claim::{Joint, SensorKind};
use crate::machine::cylinder::JointRange;
use crate::machine::front::Front;
use crate::machine::joints::Joints;
use holdline_geom::fault::Fault;
use nalgebra::RealField;

/// How far past its outer stroke a joint may seem to stand before the reading is refused: 5°.
pub const BEYOND_STROKE_RAD: f64 = 5.0 * std::f64::consts::PI / 180.0;

/// What a calibration says of one sensor, rad.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SensorConstants<T> {
    /// Subtracted from the reading.
    pub offset_rad: T,
    /// Subtracted from the roll reading of a house sensor.
    pub roll_offset_rad: Option<T>,
}

/// One instant's readings, as they come off the machine, rad and metres.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Readings<T> {
    /// Pitch and roll as the house sensor gives them.
    pub house_rad: Option<[T; 2]>,
    /// One reading a sensor, in the order of the sheet; none for a sensor that gave nothing.
    pub sensors_rad: Vec<Option<T>>,
    /// Heading of the boom direction on the site grid, clockwise from north.
    pub heading_rad: Option<T>,
    /// Antenna positions on the site grid (east, north, up), in the order of the sheet.
    pub antennas_m: Vec<Option<[T; 3]>>,
}

impl<T> Readings<T> {
    /// The same readings with every value passed through `f`, with its name,
    /// always in the same order.
    pub fn map<U>(&self, f: &mut impl FnMut(ReadingName, &T) -> U) -> Readings<U> {
        use ReadingName as Name;
        Readings {
            house_rad: self
                .house_rad
                .as_ref()
                .map(|[p, r]| [f(Name::Pitch, p), f(Name::Roll, r)]),
            sensors_rad: self
                .sensors_rad
                .iter()
                .enumerate()
                .map(|(idx, reading)| {
                    reading
                        .as_ref()
                        .map(|r| f(Name::Sensor { sensor_idx: idx }, r))
                })
                .collect(),
            heading_rad: self.heading_rad.as_ref().map(|h| f(Name::Heading, h)),
            antennas_m: self
                .antennas_m
                .iter()
                .enumerate()
                .map(|(antenna_idx, at)| {
                    let mut axis_of =
                        |axis, value: &T| f(Name::Antenna { antenna_idx, axis }, value);
                    at.as_ref()
                        .map(|[e, n, u]| [axis_of(0, e), axis_of(1, n), axis_of(2, u)])
                })
                .collect(),
        }
    }
}

/// Which reading a value is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ReadingName {
    /// House pitch.
    Pitch,
    /// House roll.
    Roll,
    /// A sensor, by its place on the sheet.
    Sensor {
        /// Counted from 0.
        sensor_idx: usize,
    },
    /// Heading.
    Heading,
    /// One coordinate of an antenna.
    Antenna {
        /// Counted from 0.
        antenna_idx: usize,
        /// 0 east, 1 north, 2 up.
        axis: usize,
    },
}

/// Joint angles and lean of the house, from one instant's readings.
///
/// Used by everything that turns a log or a display's angles into a tooth.
///
/// ```text
/// in-plane, two axes   γ = a + θ*                          a = γ − θ*
/// single axis          γ = asin( cos λ sin(a + θ* + m) )   a = asin( sin γ / cos λ ) − θ* − m,
///                                                          or its mirror over the vertical
/// joint encoder        γ = joint angle
/// β = a_boom     σ = a_stick − a_boom     ε = a_ear − a_stick, or by the four-bar from
///                                         α = a_idler − a_stick
/// ```
///
/// - Symbols: γ reading after sign and offset; a the link's angle above `House` x in the boom
///   plane; m mounting angle.
/// - Frame and signs: [`crate::frames`]. Units: rad.
/// - Exact at any pitch and roll.
///
/// # Errors
///
/// `T002` a reading that is needed is missing; `T004` one is no reading; `T015` one puts a joint where
/// it cannot be; `T012` a single-axis reading that no angle gives,
/// or that two angles inside the
/// strokes give; `T010` the linkage cannot close.
pub fn joints_from_readings<S: RealField + Copy>(
    plan: &Plan,
    front: &Front<S>,
    constants: &[SensorConstants<S>],
    readings: &Readings<S>,
) -> Result<(Joints<S>, Lean<S>), Fault> {
    let lean = house_lean(plan, constants, readings)?;
    let mut q = Joints::zero();
    for source in &plan.encoders_first {
        let there = readings
            .sensors_rad
            .get(source.sensor_idx)
            .copied()
            .flatten()
            .is_some();
        if source.joint == Joint::Swing && !there {
            continue; // the tooth over the ground and on the site does not hang on it
        }
        let angle = corrected(plan, constants, readings, source.sensor_idx)?;
        let angle = near_middle(angle, source.range.as_ref());
        q = q.with(source.joint, within_stroke(plan, source, angle)?);
    }
    let gravity = lean.in_boom_plane(q.post);
    let link = |source: &Source, so_far: S| -> Result<S, Fault> {
        let reading = corrected(plan, constants, readings, source.sensor_idx)?;
        joint_of(plan, source, reading, &gravity, so_far)
    };
    q.boom = link(&plan.boom, S::zero())?;
    let mut reached = q.boom;
    if let Some(upper) = &plan.boom_upper {
        q.boom_upper = link(upper, reached)?;
        reached += q.boom_upper;
    }
    q.stick = link(&plan.stick, reached)?;
    reached += q.stick;
    q.bucket = match plan.bucket.gives {
        Given::Joint => link(&plan.bucket, reached)?,
        Given::Idler => {
            let idler = link(&plan.bucket, reached)?;
            let pose = front.linkage.ear_from_idler(front.stick_m, idler)?;
            near_middle(pose.ear_rad, plan.bucket_range.as_ref())
        }
    };
    Ok((q, lean))
}

/// Pitch and roll of the house; the machine's own sensor must have read both.
fn house_lean<S: RealField + Copy>(
    plan: &Plan,
    constants: &[SensorConstants<S>],
    readings: &Readings<S>,
) -> Result<Lean<S>, Fault> {
    let Some([pitch, roll]) = readings.house_rad else {
        return Err(missing("pitch and roll of the house"));
    };
    let Some(house) = &plan.house else {
        // No house sensor on the sheet: the caller gives the attitude itself.
        return Ok(Lean { pitch, roll });
    };
    let known = &constants[house.sensor_idx];
    let roll_offset = known.roll_offset_rad.unwrap_or(S::zero());
    let sign: S = sign_of(house.sign);
    let (x, y) = (sign * pitch - known.offset_rad, sign * roll - roll_offset);
    for (word, tilt) in [("pitch", x), ("roll", y)] {
        angle_within(&bounds::HOUSE_LEAN, || format!("{word} of the house"), tilt)?;
    }
    match house.kind {
        SensorKind::HouseTilts => Lean::from_tilts(x, y),
        SensorKind::HouseEuler
        | SensorKind::TwoAxis
        | SensorKind::SingleAxis
        | SensorKind::JointEncoder => Ok(Lean { pitch: x, roll: y }),
    }
}

/// A reading with the sensor's sign and offset undone.
fn corrected<S: RealField + Copy>(
    plan: &Plan,
    constants: &[SensorConstants<S>],
    readings: &Readings<S>,
    sensor_idx: usize,
) -> Result<S, Fault> {
    let raw = readings.sensors_rad.get(sensor_idx).copied().flatten();
    let raw = raw.ok_or_else(|| missing(&format!("sensor {}", plan.sensor_ids[sensor_idx])))?;
    let angle = sign_of::<S>(plan.signs[sensor_idx]) * raw - constants[sensor_idx].offset_rad;
    let at = || format!("sensor {}", plan.sensor_ids[sensor_idx]);
    angle_within(&bounds::ANGLE, at, angle)?;
    Ok(angle)
}

/// The joint (or idler) angle that a corrected reading gives,
/// when the links before it stand at `so_far`.
/// A new kind of sensor gets its equation here.
fn joint_of<S: RealField + Copy>(
    plan: &Plan,
    source: &Source,
    reading: S,
    gravity: &PlaneGravity<S>,
    so_far: S,
) -> Result<S, Fault> {
    let range = source.range.as_ref();
    match source.kind {
        SensorKind::JointEncoder => within_stroke(plan, source, near_middle(reading, range)),
        SensorKind::TwoAxis => {
            let angle = reading - gravity.apparent_pitch - so_far;
            within_stroke(plan, source, near_middle(angle, range))
        }
        SensorKind::SingleAxis => {
            let sine = reading.sin() / gravity.cos_lean;
            if !(-S::one() <= sine && sine <= S::one()) {
                return Err(single_axis(
                    plan,
                    source,
                    "a reading that no link angle gives at this lean",
                ));
            }
            let below = gravity.apparent_pitch + scalar(source.mount_rad) + so_far;
            let up = near_middle(sine.asin() - below, range);
            let over = near_middle(S::pi() - sine.asin() - below, range);
            match (inside(up, range), inside(over, range)) {
                (true, false) => Ok(up),
                (false, true) => Ok(over),
                (true, true) => Err(single_axis(
                    plan,
                    source,
                    "a reading that two angles inside the stroke give",
                )),
                (false, false) => Err(single_axis(
                    plan,
                    source,
                    "a reading that only angles outside the stroke give",
                )),
            }
        }
        SensorKind::HouseEuler | SensorKind::HouseTilts => Err(single_axis(
            plan,
            source,
            "a house sensor where a link sensor is needed",
        )),
    }
}

/// The angle, unless it lies where the joint cannot be.
///
/// [`BEYOND_STROKE_RAD`] leaves room for an offset not yet calibrated and for the pins' own
/// measures; what lies further out is a swapped sign or another sensor's reading, and must not become
/// a tooth. Without a known range nothing can be said, and nothing is.
fn within_stroke<S: RealField + Copy>(plan: &Plan, source: &Source, angle: S) -> Result<S, Fault> {
    let Some(range) = &source.range else {
        return Ok(angle);
    };
    let [min, max] = range.outer_rad;
    let (least, most) = (min - BEYOND_STROKE_RAD, max + BEYOND_STROKE_RAD);
    if scalar::<S>(least) <= angle && angle <= scalar(most) {
        return Ok(angle);
    }
    let got: f64 = nalgebra::convert_unchecked(angle);
    let member = match source.gives {
        Given::Joint => source.joint.word(),
        Given::Idler => "idler",
    };
    Err(Fault::new(
        "T015",
        format!("sensor {}", plan.sensor_ids[source.sensor_idx]),
        format!("{member} at {:.1}°", got.to_degrees()),
        format!(
            "{:.1}° to {:.1}°, its outer strokes, give or take {:.0}°",
            min.to_degrees(),
            max.to_degrees(),
            BEYOND_STROKE_RAD.to_degrees()
        ),
        "look at the sensor's sign, offset and column; \
         if the machine does stand there, measure the cylinder's pins and stroke again",
    ))
}

fn single_axis(plan: &Plan, source: &Source, got: &str) -> Fault {
    Fault::new(
        "T012",
        format!("sensor {}", plan.sensor_ids[source.sensor_idx]),
        got,
        format!(
            "a reading that one angle of {} gives, inside its stroke",
            source.joint.word()
        ),
        "a single-axis sensor cannot tell one side of the vertical from the other: use a two-axis one there, or check its mounting angle",
    )
}

fn missing(what: &str) -> Fault {
    Fault::new(
        "T002",
        what,
        "no reading",
        "a reading in every row that is to give a tooth",
        "give the column, or take the sensor off the sheet if the machine does not have it",
    )
}

/// The angle, turned by whole turns so that it lies within half a turn of the middle of the range.
fn near_middle<S: RealField + Copy>(angle: S, range: Option<&JointRange>) -> S {
    let middle: S = range.map_or(S::zero(), |r| {
        scalar((r.outer_rad[0] + r.outer_rad[1]) / 2.0)
    });
    let turn = S::two_pi();
    let mut a = angle;
    // Readings lie within a few turns; what does not is left as it is and found out of range later.
    for _ in 0..8 {
        if S::pi() < a - middle {
            a -= turn;
        } else if a - middle < -S::pi() {
            a += turn;
        } else {
            break;
        }
    }
    a
}

/// Whether an angle lies in the outer range. A range that is not known excludes nothing: both mirror angles
/// then pass, and the caller refuses because it has two answers.
fn inside<S: RealField + Copy>(angle: S, range: Option<&JointRange>) -> bool {
    range.is_none_or(|r| scalar::<S>(r.outer_rad[0]) <= angle && angle <= scalar(r.outer_rad[1]))
}

fn sign_of<S: RealField + Copy>(sign: f64) -> S {
    scalar(sign)
}

/// A constant as a scalar of the kind at hand.
pub(super) fn scalar<S: RealField + Copy>(value: f64) -> S {
    nalgebra::convert(value)
}

impl Joint {
    /// Whether a gravity sensor on a link can give this joint.
    pub fn in_boom_plane(self) -> bool {
        match self {
            Joint::Boom | Joint::BoomUpper | Joint::Stick | Joint::Bucket => true,
            Joint::Swing | Joint::Post | Joint::Offset | Joint::Tilt | Joint::Rotation => false,
        }
    }
}
