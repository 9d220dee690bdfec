//! The formulas of [`batch`](super::batch), a register of epochs at a time.
//!
//! Nothing here asks whether an epoch can be used while it computes: every lane goes the same way,
//! and a mask beside the result says which lanes count.

use pulp::Simd;

use super::batch::{BatchFront, BatchLinkage, BatchSensors, HouseSensor, Zero};
use super::bounds;
use super::lanes::{Lanes, Mask};
use super::sincos::{ANGLE_AT_MOST_RAD, Turn};

/// Columns in, in this order: pitch, roll, heading, three angles of the front, east, north, up.
pub(crate) const N_COLUMNS: usize = 9;

// The sum of three angles within their bounds must be one that sine and cosine are given for.
const _: () = assert!(3.0 * bounds::ANGLE_RAD[1] < ANGLE_AT_MOST_RAD);

/// What comes out of a register of epochs.
pub(crate) struct Epochs<S: Simd> {
    /// East, north, up of the tooth, m; means nothing where not usable.
    pub tooth: [Lanes<S>; 3],
    /// Each reading is a number within its bounds.
    pub read: [Mask<S>; N_COLUMNS],
    /// The house sensor's two values go together.
    pub sound: Mask<S>,
    /// Boom, stick and bucket or idler are where their cylinders can put them.
    pub in_stroke: [Mask<S>; 3],
    /// The bucket linkage closes.
    pub closes: Mask<S>,
    /// Pin C to pin E, m, where there is a linkage.
    pub c_to_e: Lanes<S>,
}

impl<S: Simd> Epochs<S> {
    /// Where the tooth may be used.
    #[inline(always)]
    pub fn usable(&self) -> Mask<S> {
        let [pitch, roll, heading, a, b, c, east, north, up] = self.read;
        let attitude = pitch.and(roll).and(heading);
        let front = a.and(b).and(c);
        let antenna = east.and(north).and(up);
        let [boom, stick, bucket] = self.in_stroke;
        let joints = boom.and(stick).and(bucket);
        attitude
            .and(front)
            .and(antenna)
            .and(joints)
            .and(self.sound)
            .and(self.closes)
    }
}

/// From nine columns to a tooth.
pub(crate) trait Formula: Sync {
    /// The tooth of a register of epochs.
    fn epochs<S: Simd>(&self, columns: [Lanes<S>; N_COLUMNS]) -> Epochs<S>;
}

/// The front's three angles are the joints' own.
pub(crate) struct ByJoints {
    pub front: BatchFront,
    pub sensors: BatchSensors,
}

/// The front's three angles are what in-plane gravity sensors on boom, stick and idler read.
pub(crate) struct ByGravity {
    pub front: BatchFront,
    pub linkage: BatchLinkage,
    pub sensors: BatchSensors,
}

impl Formula for ByJoints {
    #[inline(always)]
    fn epochs<S: Simd>(&self, columns: [Lanes<S>; N_COLUMNS]) -> Epochs<S> {
        let (front, sensors) = (&self.front, &self.sensors);
        let columns = zeroed(columns, sensors);
        let [pitch, roll, heading, boom, stick, bucket, east, north, up] = columns;
        let (house, sound) = house_turns(sensors.house, pitch, roll);

        let to_stick = boom + stick;
        let to_ear = to_stick + bucket;
        let (boom, to_stick, to_ear) = (Turn::of(boom), Turn::of(to_stick), Turn::of(to_ear));
        let joints = [boom, to_stick.back_by(boom), to_ear.back_by(to_stick)];
        let (x, z) = chain(front, boom, to_stick, to_ear);

        Epochs {
            tooth: place(front, house, Turn::of(heading), (x, z), [east, north, up]),
            read: read(columns),
            sound,
            in_stroke: in_stroke(sensors, joints),
            closes: sound,
            c_to_e: x,
        }
    }
}

impl Formula for ByGravity {
    #[inline(always)]
    fn epochs<S: Simd>(&self, columns: [Lanes<S>; N_COLUMNS]) -> Epochs<S> {
        let (front, linkage, sensors) = (&self.front, &self.linkage, &self.sensors);
        let columns = zeroed(columns, sensors);
        let [pitch, roll, heading, boom, stick, idler, east, north, up] = columns;
        let (house, sound) = house_turns(sensors.house, pitch, roll);

        // plumb-up in the boom plane; its length is the cosine of the plane's lean
        let (up_x, up_z) = (house.pitch.sin, house.pitch.cos * house.roll.cos);
        let upright = (up_x * up_x + up_z * up_z).sqrt();
        let apparent_pitch = Turn {
            sin: up_x / upright,
            cos: up_z / upright,
        };

        // link directions against plumb; the apparent pitch is one for all, so it comes off once
        let (boom, stick, idler) = (Turn::of(boom), Turn::of(stick), Turn::of(idler));
        let idler = idler.back_by(stick);
        let joints = [boom.back_by(apparent_pitch), stick.back_by(boom), idler];
        let ear = ear_from_idler(front.stick_m, linkage, idler);
        let (x, z) = chain(front, boom, stick, stick.on_by(ear.turn));
        let in_house = (
            x * apparent_pitch.cos + z * apparent_pitch.sin,
            z * apparent_pitch.cos - x * apparent_pitch.sin,
        );

        Epochs {
            tooth: place(front, house, Turn::of(heading), in_house, [east, north, up]),
            read: read(columns),
            sound,
            in_stroke: in_stroke(sensors, joints),
            closes: ear.closes,
            c_to_e: ear.c_to_e,
        }
    }
}

/// The angles behind the readings.
#[inline(always)]
fn zeroed<S: Simd>(
    columns: [Lanes<S>; N_COLUMNS],
    sensors: &BatchSensors,
) -> [Lanes<S>; N_COLUMNS] {
    let [pitch, roll, heading, boom, stick, bucket, east, north, up] = columns;
    [
        angle_of(pitch, sensors.pitch),
        angle_of(roll, sensors.roll),
        heading,
        angle_of(boom, sensors.boom),
        angle_of(stick, sensors.stick),
        angle_of(bucket, sensors.bucket),
        east,
        north,
        up,
    ]
}

#[inline(always)]
fn angle_of<S: Simd>(reading: Lanes<S>, zero: Zero) -> Lanes<S> {
    reading * zero.sign - zero.offset_rad
}

/// Where each angle and coordinate is a number within the bounds of this room.
#[inline(always)]
fn read<S: Simd>(columns: [Lanes<S>; N_COLUMNS]) -> [Mask<S>; N_COLUMNS] {
    let [pitch, roll, heading, a, b, c, east, north, up] = columns;
    [
        within(pitch, bounds::HOUSE_LEAN_RAD),
        within(roll, bounds::HOUSE_LEAN_RAD),
        within(heading, bounds::HEADING_RAD),
        within(a, bounds::ANGLE_RAD),
        within(b, bounds::ANGLE_RAD),
        within(c, bounds::ANGLE_RAD),
        within(east, bounds::GRID_M),
        within(north, bounds::GRID_M),
        within(up, bounds::ELEVATION_M),
    ]
}

#[inline(always)]
fn within<S: Simd>(x: Lanes<S>, [min, max]: [f64; 2]) -> Mask<S> {
    x.at_least(min).and(x.at_most(max))
}

/// Where the joints are where their cylinders can put them, in any number of turns.
#[inline(always)]
fn in_stroke<S: Simd>(sensors: &BatchSensors, [boom, stick, bucket]: [Turn<S>; 3]) -> [Mask<S>; 3] {
    [
        sensors.boom_stroke.holds(boom),
        sensors.stick_stroke.holds(stick),
        sensors.bucket_stroke.holds(bucket),
    ]
}

/// Pitch θ and roll φ of the house.
#[derive(Clone, Copy)]
struct HouseTurns<S: Simd> {
    pitch: Turn<S>,
    roll: Turn<S>,
}

/// What the house sensor says, as pitch and roll.
///
/// Two tilts `p_x = asin(u_x)`, `p_y = asin(u_y)` are `θ = p_x`, `sin φ = sin p_y / cos p_x`.
#[inline(always)]
fn house_turns<S: Simd>(
    kind: HouseSensor,
    pitch: Lanes<S>,
    roll: Lanes<S>,
) -> (HouseTurns<S>, Mask<S>) {
    let pitch = Turn::of(pitch);
    let second = Turn::of(roll);
    match kind {
        HouseSensor::Euler => {
            let roll = second;
            (HouseTurns { pitch, roll }, second.sin.at_most(2.0))
        }
        HouseSensor::TwoTilts => {
            let sin = second.sin / pitch.cos;
            let cos = ((sin.like(1.0) - sin) * (sin + 1.0)).sqrt();
            let sound = sin.abs().at_most(bounds::HOUSE_LEAN_RAD[1].sin());
            let roll = Turn { sin, cos };
            (HouseTurns { pitch, roll }, sound)
        }
    }
}

/// Tooth from the boom foot, in the boom plane: `AB u_boom + BC u_stick + Rp(ear) p`.
#[inline(always)]
fn chain<S: Simd>(
    front: &BatchFront,
    boom: Turn<S>,
    stick: Turn<S>,
    ear: Turn<S>,
) -> (Lanes<S>, Lanes<S>) {
    let [p_x, _, p_z] = front.tooth_ear_m;
    let x = boom.cos * front.boom_m + stick.cos * front.stick_m + (ear.cos * p_x - ear.sin * p_z);
    let z = boom.sin * front.boom_m + stick.sin * front.stick_m + (ear.sin * p_x + ear.cos * p_z);
    (x, z)
}

/// From the boom plane to the site: `a_n + Rz(90° - ψ) Ry(-θ) Rx(φ) (t_b - a_b)`.
#[inline(always)]
fn place<S: Simd>(
    front: &BatchFront,
    house: HouseTurns<S>,
    heading: Turn<S>,
    (x, z): (Lanes<S>, Lanes<S>),
    [east, north, up]: [Lanes<S>; 3],
) -> [Lanes<S>; 3] {
    let [foot_x, foot_y, foot_z] = front.foot_from_antenna_m;
    let y = foot_y + front.tooth_ear_m[1];
    let (x, z) = (x + foot_x, z + foot_z);
    let HouseTurns { pitch, roll } = house;

    let left = roll.cos * y - roll.sin * z;
    let above = roll.sin * y + roll.cos * z;
    let forward = pitch.cos * x - pitch.sin * above;
    let high = pitch.sin * x + pitch.cos * above;
    [
        east + (heading.sin * forward - heading.cos * left),
        north + (heading.cos * forward + heading.sin * left),
        up + high,
    ]
}

/// The ear's direction from the stick, and whether the linkage closes.
struct Ear<S: Simd> {
    turn: Turn<S>,
    closes: Mask<S>,
    c_to_e: Lanes<S>,
}

/// Ear CD from idler FE, both seen from the stick, without an arc function.
///
/// ```text
/// E = F + FE (cos α, sin α)    d = E - C    r = |d|    κ = (r² + CD² - ED²) / (2 r CD)
/// ear direction = d / r turned back by the angle whose cosine is κ (on for the other branch)
/// ```
#[inline(always)]
fn ear_from_idler<S: Simd>(stick_m: f64, linkage: &BatchLinkage, idler: Turn<S>) -> Ear<S> {
    let (cd, ed) = (linkage.ear_m, linkage.link_m);
    let d_x = idler.cos * linkage.idler_m + (linkage.idler_pivot_m[0] - stick_m);
    let d_z = idler.sin * linkage.idler_m + linkage.idler_pivot_m[1];
    let r2 = d_x * d_x + d_z * d_z;
    let r = r2.sqrt();
    let cos = (r2 + (cd * cd - ed * ed)) / (r * (2.0 * cd));
    let sin = ((cos.like(1.0) - cos) * (cos + 1.0)).sqrt() * linkage.branch_sign();
    Ear {
        turn: Turn {
            cos: (d_x * cos + d_z * sin) / r,
            sin: (d_z * cos - d_x * sin) / r,
        },
        closes: cos.abs().at_most(1.0),
        c_to_e: r,
    }
}
