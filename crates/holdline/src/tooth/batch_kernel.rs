//! The formulas of [`batch`](super::batch), a register of epochs at a time.
//!
//! Nothing here asks whether an epoch can be used while it computes: every lane goes the same way,
//! and a mask beside the result says which lanes count.

use pulp::Simd;

use super::batch::{BatchFront, BatchLinkage, BatchSensors, HouseSensor, UPRIGHT_AT_LEAST, Zero};
use super::lanes::{Lanes, Mask};
use super::sincos::{ANGLE_AT_MOST_RAD, Turn};

/// Columns in, in this order: pitch, roll, heading, three angles of the front, east, north, up.
pub(crate) const N_COLUMNS: usize = 9;

/// Largest coordinate, either way, m. No grid on earth needs more.
pub(crate) const COORDINATE_AT_MOST_M: f64 = 1.0e9;

/// What comes out of a register of epochs.
pub(crate) struct Epochs<S: Simd> {
    /// East, north, up of the tooth, m; means nothing where not usable.
    pub tooth: [Lanes<S>; 3],
    /// All readings are numbers within bounds.
    pub read: Mask<S>,
    /// The house sensor's two values go together and the boom plane stands upright enough.
    pub upright: Mask<S>,
    /// The bucket linkage closes.
    pub closes: Mask<S>,
    /// Pin C to pin E, m, where there is a linkage.
    pub c_to_e: Lanes<S>,
}

impl<S: Simd> Epochs<S> {
    /// Where the tooth may be used.
    #[inline(always)]
    pub fn usable(&self) -> Mask<S> {
        self.read.and(self.upright).and(self.closes)
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
        let [pitch, roll, heading, boom, stick, bucket, east, north, up] = columns;
        let (front, sensors) = (&self.front, &self.sensors);
        let (house, upright) = house_turns(sensors, pitch, roll);

        let boom = zeroed(boom, sensors.boom);
        let to_stick = boom + zeroed(stick, sensors.stick);
        let to_ear = to_stick + zeroed(bucket, sensors.bucket);
        let (x, z) = chain(front, Turn::of(boom), Turn::of(to_stick), Turn::of(to_ear));

        Epochs {
            tooth: place(front, house, Turn::of(heading), (x, z), [east, north, up]),
            read: all_read(columns),
            upright,
            closes: upright,
            c_to_e: x,
        }
    }
}

impl Formula for ByGravity {
    #[inline(always)]
    fn epochs<S: Simd>(&self, columns: [Lanes<S>; N_COLUMNS]) -> Epochs<S> {
        let [pitch, roll, heading, boom, stick, idler, east, north, up] = columns;
        let (front, linkage, sensors) = (&self.front, &self.linkage, &self.sensors);
        let (house, sound) = house_turns(sensors, pitch, roll);

        // plumb-up in the boom plane; its length is the cosine of the plane's lean
        let (up_x, up_z) = (house.pitch.sin, house.pitch.cos * house.roll.cos);
        let upright = (up_x * up_x + up_z * up_z).sqrt();
        let apparent_pitch = Turn {
            sin: up_x / upright,
            cos: up_z / upright,
        };

        // link directions against plumb; the apparent pitch is one for all, so it comes off once
        let boom = Turn::of(zeroed(boom, sensors.boom));
        let stick = Turn::of(zeroed(stick, sensors.stick));
        let idler = Turn::of(zeroed(idler, sensors.bucket));
        let ear = ear_from_idler(front.stick_m, linkage, idler.back_by(stick));
        let (x, z) = chain(front, boom, stick, stick.on_by(ear.turn));
        let in_house = (
            x * apparent_pitch.cos + z * apparent_pitch.sin,
            z * apparent_pitch.cos - x * apparent_pitch.sin,
        );

        Epochs {
            tooth: place(front, house, Turn::of(heading), in_house, [east, north, up]),
            read: all_read(columns),
            upright: sound.and(upright.at_least(UPRIGHT_AT_LEAST)),
            closes: ear.closes,
            c_to_e: ear.c_to_e,
        }
    }
}

/// The angle behind a reading.
#[inline(always)]
fn zeroed<S: Simd>(reading: Lanes<S>, zero: Zero) -> Lanes<S> {
    reading * zero.sign - zero.offset_rad
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
    sensors: &BatchSensors,
    pitch: Lanes<S>,
    roll: Lanes<S>,
) -> (HouseTurns<S>, Mask<S>) {
    let pitch = Turn::of(zeroed(pitch, sensors.pitch));
    let second = Turn::of(zeroed(roll, sensors.roll));
    match sensors.house {
        HouseSensor::Euler => {
            let roll = second;
            (HouseTurns { pitch, roll }, second.sin.abs().at_most(2.0))
        }
        HouseSensor::TwoTilts => {
            let sin = second.sin / pitch.cos;
            let cos = ((sin.like(1.0) - sin) * (sin + 1.0)).sqrt();
            let sound = sin
                .abs()
                .at_most(1.0)
                .and(pitch.cos.at_least(UPRIGHT_AT_LEAST));
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

/// True where every reading is a number within bounds.
#[inline(always)]
fn all_read<S: Simd>(columns: [Lanes<S>; N_COLUMNS]) -> Mask<S> {
    let [pitch, roll, heading, a, b, c, east, north, up] = columns;
    let angle = |x: Lanes<S>| x.abs().at_most(ANGLE_AT_MOST_RAD);
    let metres = |x: Lanes<S>| x.abs().at_most(COORDINATE_AT_MOST_M);
    let attitude = angle(pitch).and(angle(roll)).and(angle(heading));
    let front = angle(a).and(angle(b)).and(angle(c));
    let antenna = metres(east).and(metres(north)).and(metres(up));
    attitude.and(front).and(antenna)
}
