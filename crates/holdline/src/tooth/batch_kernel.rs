//! The formulas of [`batch`](super::batch), a register of epochs at a time.
//!
//! Nothing here asks whether an epoch can be used while it computes: every lane goes the same way,
//! and a mask beside the result says which lanes count.

use pulp::Simd;

use super::batch::{BatchFront, BatchLinkage, BatchSensors, HouseSensor, Zero};
use super::bounds;
use super::lanes::{Lanes, Mask};
use super::sincos::{ANGLE_AT_MOST_RAD, Turn};

/// Columns with one antenna: pitch, roll, heading, three angles of the front, east, north, up.
pub(crate) const ONE: usize = 9;
/// Columns with two: pitch, roll, three angles of the front, then both antennas.
pub(crate) const TWO: usize = 11;

// The sum of three angles within their bounds must be one that sine and cosine are given for.
const _: () = assert!(3.0 * bounds::ANGLE_RAD[1] < ANGLE_AT_MOST_RAD);

/// What is known of whether a register of epochs can be used.
#[derive(Clone, Copy)]
pub(crate) struct Checks<S: Simd, const M: usize> {
    /// Each reading is a number within its bounds.
    pub read: [Mask<S>; M],
    pub front: FrontChecks<S>,
    /// Two antennas stand apart; always so with one.
    pub apart: Mask<S>,
    /// Two antennas agree with their levers; always so with one.
    pub agree: Mask<S>,
}

/// The part of it that house and front decide.
#[derive(Clone, Copy)]
pub(crate) struct FrontChecks<S: Simd> {
    /// The house sensor's two values go together.
    pub sound: Mask<S>,
    /// Boom, stick and bucket or idler are where their cylinders can put them.
    pub in_stroke: [Mask<S>; 3],
    /// The bucket linkage closes.
    pub closes: Mask<S>,
    /// By how much pins C and E are too far apart, or too near if negative, m, where it does not.
    pub open_by: Lanes<S>,
}

impl<S: Simd, const M: usize> Checks<S, M> {
    /// Where the tooth may be used.
    #[inline(always)]
    pub fn usable(&self) -> Mask<S> {
        let FrontChecks {
            sound,
            in_stroke: [boom, stick, bucket],
            closes,
            ..
        } = self.front;
        let joints = boom.and(stick).and(bucket);
        let mut usable = sound
            .and(closes)
            .and(joints)
            .and(self.apart)
            .and(self.agree);
        for k in 0..M {
            usable = usable.and(self.read[k]);
        }
        usable
    }
}

/// From `M` columns to `N` answers.
pub(crate) trait Formula<const M: usize, const N: usize>: Sync {
    /// The answers of a register of epochs, and where they count.
    fn epochs<S: Simd>(&self, columns: [Lanes<S>; M]) -> ([Lanes<S>; N], Checks<S, M>);
}

/// House and front, from pitch, roll and the front's three angles.
pub(crate) trait SolveFront: Sync {
    /// What is known of the sensors.
    fn sensors(&self) -> &BatchSensors;
    /// The front with one tooth point.
    fn front(&self) -> &BatchFront;
    /// The chain of a register of epochs, from the angles behind the readings.
    fn solve<S: Simd>(&self, house: [Lanes<S>; 2], angles: [Lanes<S>; 3]) -> SolvedFront<S>;
}

/// House and front of a register of epochs, solved.
///
/// Directions in the boom plane are against the plane's own x; with gravity sensors against the
/// horizontal, and then `apparent_pitch` turns them back to `House`.
#[derive(Clone, Copy)]
pub(crate) struct SolvedFront<S: Simd> {
    pub checks: FrontChecks<S>,
    pub boom: Turn<S>,
    pub stick: Turn<S>,
    pub ear: Turn<S>,
    pub apparent_pitch: Option<Turn<S>>,
    pub linkage: Option<LinkageTurns<S>>,
    pub house: HouseTurns<S>,
    /// Sine and cosine of the second value of the house sensor.
    pub second: Turn<S>,
    /// Boom foot to tooth in the boom plane, in `House`: forward and up.
    pub chain: (Lanes<S>, Lanes<S>),
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

impl SolveFront for ByJoints {
    fn sensors(&self) -> &BatchSensors {
        &self.sensors
    }

    fn front(&self) -> &BatchFront {
        &self.front
    }

    #[inline(always)]
    fn solve<S: Simd>(
        &self,
        house: [Lanes<S>; 2],
        [boom, stick, bucket]: [Lanes<S>; 3],
    ) -> SolvedFront<S> {
        let (front, sensors) = (&self.front, &self.sensors);
        let (house, second, sound) = house_turns(sensors.house, house);

        let stick = boom + stick;
        let ear = stick + bucket;
        let (boom, stick, ear) = (Turn::of(boom), Turn::of(stick), Turn::of(ear));
        let joints = [boom, stick.back_by(boom), ear.back_by(stick)];
        let chain = chain(front, boom, stick, ear);
        SolvedFront {
            checks: FrontChecks {
                sound,
                in_stroke: in_stroke(sensors, joints),
                closes: sound,
                open_by: chain.0,
            },
            boom,
            stick,
            ear,
            apparent_pitch: None,
            linkage: None,
            house,
            second,
            chain,
        }
    }
}

impl SolveFront for ByGravity {
    fn sensors(&self) -> &BatchSensors {
        &self.sensors
    }

    fn front(&self) -> &BatchFront {
        &self.front
    }

    #[inline(always)]
    fn solve<S: Simd>(
        &self,
        house: [Lanes<S>; 2],
        [boom, stick, idler]: [Lanes<S>; 3],
    ) -> SolvedFront<S> {
        let (front, linkage, sensors) = (&self.front, &self.linkage, &self.sensors);
        let (house, second, sound) = house_turns(sensors.house, house);

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
        let closed = ear_from_idler(front.stick_m, linkage, idler);
        let ear = stick.on_by(closed.turns.ear);
        let (x, z) = chain(front, boom, stick, ear);
        SolvedFront {
            checks: FrontChecks {
                sound,
                in_stroke: in_stroke(sensors, joints),
                closes: closed.closes,
                open_by: closed.open_by,
            },
            boom,
            stick,
            ear,
            apparent_pitch: Some(apparent_pitch),
            linkage: Some(closed.turns),
            house,
            second,
            chain: (
                x * apparent_pitch.cos + z * apparent_pitch.sin,
                z * apparent_pitch.cos - x * apparent_pitch.sin,
            ),
        }
    }
}

impl<S: Simd> SolvedFront<S> {
    /// Antenna to tooth in `House`: forward, left, up.
    #[inline(always)]
    pub fn arm(&self, front: &BatchFront) -> [Lanes<S>; 3] {
        let [foot_x, foot_y, foot_z] = front.foot_from_antenna_m;
        let (x, z) = self.chain;
        let y = x.like(foot_y + front.tooth_ear_m[1]);
        [x + foot_x, y, z + foot_z]
    }
}

impl<S: Simd> HouseTurns<S> {
    /// From `House` to `Level`: `Ry(-θ) Rx(φ)`.
    #[inline(always)]
    pub fn level(&self, [x, y, z]: [Lanes<S>; 3]) -> [Lanes<S>; 3] {
        let HouseTurns { pitch, roll } = *self;
        let left = roll.cos * y - roll.sin * z;
        let above = roll.sin * y + roll.cos * z;
        [
            pitch.cos * x - pitch.sin * above,
            left,
            pitch.sin * x + pitch.cos * above,
        ]
    }
}

/// From `Level` to the axes of the site: `Rz(90° - ψ)`.
#[inline(always)]
pub(crate) fn on_site<S: Simd>(
    heading: Turn<S>,
    [forward, left, up]: [Lanes<S>; 3],
) -> [Lanes<S>; 3] {
    [
        heading.sin * forward - heading.cos * left,
        heading.cos * forward + heading.sin * left,
        up,
    ]
}

#[inline(always)]
pub(crate) fn angle_of<S: Simd>(reading: Lanes<S>, zero: Zero) -> Lanes<S> {
    reading * zero.sign - zero.offset_rad
}

/// Where a coordinate is a number within the bounds of this room.
#[inline(always)]
pub(crate) fn read_place<S: Simd>([east, north, up]: [Lanes<S>; 3]) -> [Mask<S>; 3] {
    [
        within(east, bounds::GRID_M),
        within(north, bounds::GRID_M),
        within(up, bounds::ELEVATION_M),
    ]
}

#[inline(always)]
pub(crate) fn within<S: Simd>(x: Lanes<S>, [min, max]: [f64; 2]) -> Mask<S> {
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
pub(crate) struct HouseTurns<S: Simd> {
    pub pitch: Turn<S>,
    pub roll: Turn<S>,
}

/// What the house sensor says, as pitch and roll; its second value; and where the two go together.
///
/// Two tilts `p_x = asin(u_x)`, `p_y = asin(u_y)` are `θ = p_x`, `sin φ = sin p_y / cos p_x`.
#[inline(always)]
fn house_turns<S: Simd>(
    kind: HouseSensor,
    [pitch, second]: [Lanes<S>; 2],
) -> (HouseTurns<S>, Turn<S>, Mask<S>) {
    let (pitch, second) = (Turn::of(pitch), Turn::of(second));
    match kind {
        HouseSensor::Euler => {
            let roll = second;
            (HouseTurns { pitch, roll }, second, second.sin.at_most(2.0))
        }
        HouseSensor::TwoTilts => {
            let sin = second.sin / pitch.cos;
            let cos = ((sin.like(1.0) - sin) * (sin + 1.0)).sqrt();
            let sound = sin.abs().at_most(bounds::HOUSE_LEAN_RAD[1].sin());
            let roll = Turn { sin, cos };
            (HouseTurns { pitch, roll }, second, sound)
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

/// Directions in the bucket linkage, in `Stick`.
#[derive(Clone, Copy)]
pub(crate) struct LinkageTurns<S: Simd> {
    /// F to E.
    pub idler: Turn<S>,
    /// C to D.
    pub ear: Turn<S>,
    /// Pin E from pin C, m.
    pub e_from_c: (Lanes<S>, Lanes<S>),
}

/// The linkage, where it closes.
struct Closed<S: Simd> {
    turns: LinkageTurns<S>,
    closes: Mask<S>,
    open_by: Lanes<S>,
}

/// Ear CD from idler FE, both seen from the stick, without an arc function.
///
/// ```text
/// E = F + FE (cos α, sin α)    d = E - C    r = |d|    κ = (r² + CD² - ED²) / (2 r CD)
/// ear direction = d / r turned back by the angle whose cosine is κ (on for the other branch)
/// ```
#[inline(always)]
fn ear_from_idler<S: Simd>(stick_m: f64, linkage: &BatchLinkage, idler: Turn<S>) -> Closed<S> {
    let (cd, ed) = (linkage.ear_m, linkage.link_m);
    let (nearest, furthest) = ((ed - cd).abs(), ed + cd);
    let d_x = idler.cos * linkage.idler_m + (linkage.idler_pivot_m[0] - stick_m);
    let d_z = idler.sin * linkage.idler_m + linkage.idler_pivot_m[1];
    let r2 = d_x * d_x + d_z * d_z;
    let r = r2.sqrt();
    let cos = (r2 + (cd * cd - ed * ed)) / (r * (2.0 * cd));
    let sin = ((cos.like(1.0) - cos) * (cos + 1.0)).sqrt() * linkage.branch_sign();
    let ear = Turn {
        cos: (d_x * cos + d_z * sin) / r,
        sin: (d_z * cos - d_x * sin) / r,
    };
    Closed {
        turns: LinkageTurns {
            idler,
            ear,
            e_from_c: (d_x, d_z),
        },
        closes: cos.abs().at_most(1.0),
        open_by: r.at_most(nearest).pick(r - nearest, r - furthest),
    }
}
