//! The tooth of columns of epochs with its standard uncertainty, in closed form.
//!
//! ```text
//! u²(t_k) = Σ_i (∂t_k/∂x_i)² u²(x_i)
//! ```
//!
//! Every source moves the tooth by a small vector; those in the boom plane are added up there, then
//! turned to `House`, where the sources that turn the house are added, and last to the site.
//!
//! - The sources are taken as independent of each other.
//! - Source: [`sources::GUM`], 5.1.2.
//! - Exact to: rounding; against the dual numbers of the single pose to a part in 1e9,
//!   `tests/batch.rs`.

use pulp::Simd;

use super::batch_kernel::{
    Checks, Formula, HouseTurns, LinkageTurns, SolveFront, SolvedFront, on_site,
};
use super::batch_place::{Pair, PairLevers, Solve, Solved};
use super::lanes::{Lanes, Mask};
use super::sincos::Turn;
use crate::sources;

/// Squares of the standard uncertainties behind a tooth, m² and rad²; and the bucket's own frame,
/// in which those of the tooth point are given.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BatchVariances {
    /// Boom foot: forward, left, up.
    pub foot_m2: [f64; 3],
    /// Lever arms of the antenna, or of two, one after the other; zero for none.
    pub levers_m2: [[f64; 3]; 2],
    /// A to B.
    pub boom_m2: f64,
    /// B to C.
    pub stick_m2: f64,
    /// Bucket linkage, with gravity sensors.
    pub linkage: LinkageVariances,
    /// Bucket's front pin in `Ear`.
    pub pin_m2: [f64; 2],
    /// Turn of the bucket against `Ear`.
    pub turn_rad2: f64,
    /// Tooth point in `Bucket`.
    pub tooth_m2: [f64; 3],
    /// House pitch, or the first tilt: reading and offset together.
    pub pitch_rad2: f64,
    /// House roll, or the second tilt.
    pub roll_rad2: f64,
    /// Heading.
    pub heading_rad2: f64,
    /// Boom sensor.
    pub boom_rad2: f64,
    /// Stick sensor.
    pub stick_rad2: f64,
    /// Bucket or idler sensor.
    pub bucket_rad2: f64,
    /// Position of an antenna: east, north, up.
    pub antenna_m2: [f64; 3],
    /// Bucket's front pin in `Ear`, m.
    pub pin_m: [f64; 2],
    /// Bucket against `Ear`, upward positive, rad.
    pub turn_rad: f64,
}

/// Squares of the standard uncertainties of the bucket linkage, m².
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct LinkageVariances {
    /// F in `Stick`.
    pub pivot_m2: [f64; 2],
    /// F to E.
    pub idler_m2: f64,
    /// E to D.
    pub link_m2: f64,
    /// C to D.
    pub ear_m2: f64,
}

/// Lengths of the linkage that the slopes need, m.
#[derive(Debug, Clone, Copy)]
pub(crate) struct LinkageLengths {
    pub idler_m: f64,
    pub link_m: f64,
    pub ear_m: f64,
}

/// A solved epoch's tooth, and then its standard uncertainties.
pub(crate) struct WithSpread<P> {
    pub place: P,
    pub variances: BatchVariances,
    pub linkage: Option<LinkageLengths>,
    /// With two antennas.
    pub pair: Option<PairLevers>,
    /// The house sensor gives two tilts.
    pub two_tilts: bool,
}

impl<P: Solve<M>, const M: usize> Formula<M, 6> for WithSpread<P> {
    #[inline(always)]
    fn epochs<S: Simd>(&self, columns: [Lanes<S>; M]) -> ([Lanes<S>; 6], Checks<S, M>) {
        let _ = sources::GUM;
        let solved = self.place.solve(columns);
        let place = self.place.front();
        let [east, north, up] = solved.tooth(place);
        let v = &self.variances;

        let front = &solved.front;
        let plane = in_plane(place, v, self.linkage.as_ref(), front);
        let mut house = in_house(plane, front.apparent_pitch);
        house.add_along_axes([v.foot_m2[0], v.foot_m2[1] + v.tooth_m2[1], v.foot_m2[2]]);
        let arm = front.arm(place.front());
        let [mut by_pitch, mut by_roll] = by_lean(front.house, arm);
        if front.apparent_pitch.is_some() {
            by_apparent_pitch(front, &mut by_pitch, &mut by_roll);
        }
        let by_heading = by_heading(front.house, arm);

        let mut checks = solved.checks;
        let site_m2 = match (&solved.pair, &self.pair) {
            (Some(pair), Some(levers)) => {
                let lever = levers.second_from_first_m.map(|part| east.like(part));
                let slope = heading_by_lever(front.house, pair);
                let by_lever_lean = by_lean(front.house, lever);
                let [turn_pitch, turn_roll] = by_lever_lean.map_dot(slope);
                add_times(&mut by_pitch, by_heading, turn_pitch);
                add_times(&mut by_roll, by_heading, turn_roll);
                add_levers(&mut house, &v.levers_m2, slope, by_heading);
                let lean2 = self.lean_variances(front, by_lever_lean.map_dot(up_of(front.house)));
                checks.agree = checks
                    .agree
                    .and(agrees(pair, levers, v, front.house, lean2));
                pair_on_site(&solved, pair, arm, v.antenna_m2)
            }
            (None, _) | (_, None) => {
                house.add_along_axes(v.levers_m2[0]);
                house.add(by_heading, v.heading_rad2);
                v.antenna_m2.map(|part| east.like(part))
            }
        };
        if self.two_tilts {
            let (by_first, by_second) = tilts(front);
            add_times(&mut by_pitch, by_roll, by_first);
            by_roll = by_roll.scaled(by_second);
        }
        house.add(by_pitch, v.pitch_rad2);
        house.add(by_roll, v.roll_rad2);
        let [sd_east, sd_north, sd_up] = sds_on_site(&house, &solved, site_m2);
        ([east, north, up, sd_east, sd_north, sd_up], checks)
    }
}

impl<P> WithSpread<P> {
    /// Variance of what moves by these with pitch and roll.
    #[inline(always)]
    fn lean_variances<S: Simd>(
        &self,
        front: &SolvedFront<S>,
        [mut by_pitch, mut by_roll]: [Lanes<S>; 2],
    ) -> Lanes<S> {
        if self.two_tilts {
            let (by_first, by_second) = tilts(front);
            by_pitch = by_pitch + by_roll * by_first;
            by_roll = by_roll * by_second;
        }
        by_pitch * by_pitch * self.variances.pitch_rad2
            + by_roll * by_roll * self.variances.roll_rad2
    }
}

/// A vector in `House`.
type Space<S> = [Lanes<S>; 3];

/// Small sums over the three axes.
trait InSpace<S: Simd> {
    fn dot(self, other: Space<S>) -> Lanes<S>;
    fn scaled(self, factor: Lanes<S>) -> Space<S>;
}

impl<S: Simd> InSpace<S> for Space<S> {
    #[inline(always)]
    fn dot(self, other: Space<S>) -> Lanes<S> {
        self[0] * other[0] + self[1] * other[1] + self[2] * other[2]
    }

    #[inline(always)]
    fn scaled(self, factor: Lanes<S>) -> Space<S> {
        [self[0] * factor, self[1] * factor, self[2] * factor]
    }
}

/// The same for two vectors at once.
trait TwoInSpace<S: Simd> {
    fn map_dot(self, other: Space<S>) -> [Lanes<S>; 2];
}

impl<S: Simd> TwoInSpace<S> for [Space<S>; 2] {
    #[inline(always)]
    fn map_dot(self, other: Space<S>) -> [Lanes<S>; 2] {
        [self[0].dot(other), self[1].dot(other)]
    }
}

#[inline(always)]
fn add_times<S: Simd>(to: &mut Space<S>, what: Space<S>, factor: Lanes<S>) {
    for k in 0..3 {
        to[k] = to[k] + what[k] * factor;
    }
}

/// How a point moves in `House` when the house pitches, and when it rolls.
#[inline(always)]
fn by_lean<S: Simd>(house: HouseTurns<S>, [x, y, z]: Space<S>) -> [Space<S>; 2] {
    let roll = house.roll;
    [
        [-(roll.cos * z + roll.sin * y), roll.sin * x, roll.cos * x],
        [x.like(0.0), -z, y],
    ]
}

/// Plumb-up seen from the house.
#[inline(always)]
fn up_of<S: Simd>(house: HouseTurns<S>) -> Space<S> {
    let HouseTurns { pitch, roll } = house;
    [pitch.sin, pitch.cos * roll.sin, pitch.cos * roll.cos]
}

/// How a point moves in `House` when the heading grows.
#[inline(always)]
fn by_heading<S: Simd>(house: HouseTurns<S>, [x, y, z]: Space<S>) -> Space<S> {
    let [up_x, up_y, up_z] = up_of(house);
    [
        up_z * y - up_y * z,
        up_x * z - up_z * x,
        up_y * x - up_x * y,
    ]
}

/// With gravity sensors on the links, pitch and roll enter the apparent pitch that is taken off.
#[inline(always)]
fn by_apparent_pitch<S: Simd>(
    front: &SolvedFront<S>,
    by_pitch: &mut Space<S>,
    by_roll: &mut Space<S>,
) {
    let HouseTurns { pitch, roll } = front.house;
    let [up_x, _, up_z] = up_of(front.house);
    let upright2 = up_x * up_x + up_z * up_z;
    let per_pitch = roll.cos / upright2;
    let per_roll = pitch.sin * pitch.cos * roll.sin / upright2;
    let (chain_x, chain_z) = front.chain;
    by_pitch[0] = by_pitch[0] + chain_z * per_pitch;
    by_pitch[2] = by_pitch[2] - chain_x * per_pitch;
    by_roll[0] = by_roll[0] + chain_z * per_roll;
    by_roll[2] = by_roll[2] - chain_x * per_roll;
}

/// Roll by the first of two tilts, and by the second: `sin φ = sin p_y / cos p_x`.
#[inline(always)]
fn tilts<S: Simd>(front: &SolvedFront<S>) -> (Lanes<S>, Lanes<S>) {
    let HouseTurns { pitch, roll } = front.house;
    let cosines = pitch.cos * roll.cos;
    (roll.sin * pitch.sin / cosines, front.second.cos / cosines)
}

/// How the heading of a pair grows with the line between its levers, in `House`, rad/m.
#[inline(always)]
fn heading_by_lever<S: Simd>(house: HouseTurns<S>, pair: &Pair<S>) -> Space<S> {
    let [forward, left, _] = pair.level;
    let flat2 = forward * forward + left * left;
    level_row(house, (-left / flat2, forward / flat2))
}

/// Levers of two antennas: each moves the mean by half of itself, and turns the heading.
#[inline(always)]
fn add_levers<S: Simd>(
    house: &mut HouseSum<S>,
    levers_m2: &[[f64; 3]; 2],
    slope: Space<S>,
    by_heading: Space<S>,
) {
    for (lever_m2, sign) in levers_m2.iter().zip([-1.0, 1.0]) {
        for axis in 0..3 {
            let mut moved = by_heading.scaled(slope[axis] * sign);
            moved[axis] = moved[axis] - 0.5;
            house.add(moved, lever_m2[axis]);
        }
    }
}

/// Variances on the site of the positions of two antennas: the mean, and the heading they turn.
#[inline(always)]
fn pair_on_site<S: Simd, const M: usize>(
    solved: &Solved<S, M>,
    pair: &Pair<S>,
    arm: Space<S>,
    [east_m2, north_m2, up_m2]: [f64; 3],
) -> Space<S> {
    let [arm_east, arm_north, _] = on_site(solved.heading, solved.front.house.level(arm));
    let [east, north, _] = pair.on_site;
    let flat2 = east * east + north * north;
    let (per_east, per_north) = (north / flat2, east / flat2);
    // the two positions turn the heading in opposite ways, so what is mixed cancels
    let turn_rad2 = (per_east * per_east * east_m2 + per_north * per_north * north_m2) * 2.0;
    [
        arm_north * arm_north * turn_rad2 + 0.5 * east_m2,
        arm_east * arm_east * turn_rad2 + 0.5 * north_m2,
        east.like(0.5 * up_m2),
    ]
}

/// Where the pair's differences from its levers lie within three of their own uncertainties.
#[inline(always)]
fn agrees<S: Simd>(
    pair: &Pair<S>,
    levers: &PairLevers,
    v: &BatchVariances,
    house: HouseTurns<S>,
    lean_m2: Lanes<S>,
) -> Mask<S> {
    let [east, north, up] = pair.on_site;
    let [x, y, z] = levers.second_from_first_m;
    let both = |axis: usize| v.levers_m2[0][axis] + v.levers_m2[1][axis];
    let [east_m2, north_m2, up_m2] = v.antenna_m2;

    let measured = east * east * east_m2 + north * north * north_m2 + up * up * up_m2;
    let length2 = east * east + north * north + up * up;
    let of_levers = (x * x * both(0) + y * y * both(1) + z * z * both(2)) / (x * x + y * y + z * z);
    let length_m2 = measured * 2.0 / length2 + of_levers;

    let [up_x, up_y, up_z] = up_of(house);
    let of_levers = up_x * up_x * both(0) + up_y * up_y * both(1) + up_z * up_z * both(2);
    let rise_m2 = of_levers + lean_m2 + 2.0 * up_m2;

    let within = |off: Lanes<S>, m2: Lanes<S>| (off * off - m2 * 9.0).at_most(0.0);
    within(pair.length_off, length_m2).and(within(pair.rise_off, rise_m2))
}

/// A vector in the boom plane.
type Plane<S> = (Lanes<S>, Lanes<S>);

/// Sums of products in the boom plane.
#[derive(Clone, Copy)]
struct PlaneSum<S: Simd> {
    xx: Lanes<S>,
    xz: Lanes<S>,
    zz: Lanes<S>,
}

impl<S: Simd> PlaneSum<S> {
    #[inline(always)]
    fn add(&mut self, (x, z): Plane<S>, variance: Lanes<S>) {
        let (vx, vz) = (x * variance, z * variance);
        self.xx = self.xx + x * vx;
        self.xz = self.xz + x * vz;
        self.zz = self.zz + z * vz;
    }
}

/// Sums of products in `House`.
#[derive(Clone, Copy)]
struct HouseSum<S: Simd> {
    xx: Lanes<S>,
    yy: Lanes<S>,
    zz: Lanes<S>,
    xy: Lanes<S>,
    xz: Lanes<S>,
    yz: Lanes<S>,
}

impl<S: Simd> HouseSum<S> {
    #[inline(always)]
    fn add_along_axes(&mut self, [x, y, z]: [f64; 3]) {
        self.xx = self.xx + x;
        self.yy = self.yy + y;
        self.zz = self.zz + z;
    }

    #[inline(always)]
    fn add(&mut self, [x, y, z]: [Lanes<S>; 3], variance: f64) {
        let (vx, vy, vz) = (x * variance, y * variance, z * variance);
        self.xx = self.xx + x * vx;
        self.yy = self.yy + y * vy;
        self.zz = self.zz + z * vz;
        self.xy = self.xy + x * vy;
        self.xz = self.xz + x * vz;
        self.yz = self.yz + y * vz;
    }
}

/// Turned a right angle counter-clockwise: the way a point moves when what carries it turns.
#[inline(always)]
fn turned<S: Simd>((x, z): Plane<S>) -> Plane<S> {
    (-z, x)
}

#[inline(always)]
fn along<S: Simd>(turn: Turn<S>, length: f64) -> Plane<S> {
    (turn.cos * length, turn.sin * length)
}

#[inline(always)]
fn plus<S: Simd>(a: Plane<S>, b: Plane<S>) -> Plane<S> {
    (a.0 + b.0, a.1 + b.1)
}

#[inline(always)]
fn times<S: Simd>(a: Plane<S>, factor: Lanes<S>) -> Plane<S> {
    (a.0 * factor, a.1 * factor)
}

/// Sources that move the tooth in the boom plane: lengths, sensors on links, the bucket.
#[inline(always)]
fn in_plane<F: SolveFront, S: Simd>(
    place: &F,
    v: &BatchVariances,
    linkage: Option<&LinkageLengths>,
    solved: &SolvedFront<S>,
) -> PlaneSum<S> {
    let front = place.front();
    let none = solved.boom.cos.like(0.0);
    let mut sum = PlaneSum {
        xx: none,
        xz: none,
        zz: none,
    };
    let same = |variance: f64| none.like(variance);

    // C to tooth, and how it moves when ear, stick and boom turn with all that hangs on them
    let [p_x, _, p_z] = front.tooth_ear_m;
    let ear = solved.ear;
    let c_to_tooth = plus(along(ear, p_x), turned(along(ear, p_z)));
    let by_ear = turned(c_to_tooth);
    let by_stick = turned(along(solved.stick, front.stick_m));
    let by_boom = turned(along(solved.boom, front.boom_m));

    sum.add(along(solved.boom, 1.0), same(v.boom_m2));
    let stick_unit = along(solved.stick, 1.0);
    match (solved.linkage, linkage) {
        (Some(turns), Some(lengths)) => {
            let rates = Rates::of(&turns, lengths);
            let by_idler = times(by_ear, rates.by_idler);
            let by_stick = plus(by_stick, plus(by_ear, times(by_idler, same(-1.0))));
            sum.add(by_boom, same(v.boom_rad2));
            sum.add(by_stick, same(v.stick_rad2));
            sum.add(by_idler, same(v.bucket_rad2));
            sum.add(by_ear, rates.variance(&v.linkage));
            // a longer stick moves C away from F as well
            sum.add(
                plus(stick_unit, times(by_ear, rates.by_stick)),
                same(v.stick_m2),
            );
        }
        (None, _) | (_, None) => {
            let from_stick = plus(by_stick, by_ear);
            sum.add(plus(by_boom, from_stick), same(v.boom_rad2));
            sum.add(from_stick, same(v.stick_rad2));
            sum.add(by_ear, same(v.bucket_rad2));
            sum.add(stick_unit, same(v.stick_m2));
        }
    }

    let [pin_x, pin_z] = v.pin_m;
    let c_to_pin = plus(along(ear, pin_x), turned(along(ear, pin_z)));
    let pin_to_tooth = plus(c_to_tooth, times(c_to_pin, same(-1.0)));
    sum.add(turned(pin_to_tooth), same(v.turn_rad2));
    sum.add(along(ear, 1.0), same(v.pin_m2[0]));
    sum.add(turned(along(ear, 1.0)), same(v.pin_m2[1]));
    let (sin, cos) = v.turn_rad.sin_cos();
    let bucket = ear.on_by(Turn {
        sin: same(sin),
        cos: same(cos),
    });
    sum.add(along(bucket, 1.0), same(v.tooth_m2[0]));
    sum.add(turned(along(bucket, 1.0)), same(v.tooth_m2[2]));
    sum
}

/// How the ear turns with the idler, and with the lengths of the linkage.
///
/// D and E keep their distance: with `w = (D - E) / ED`, `n` a direction turned a right angle on,
///
/// ```text
/// CD (w·n_ε) δε = FE (w·n_α) δα + δED - (w·u_ε) δCD + (w·u_α) δFE + w·δF - w·δC
/// ```
struct Rates<S: Simd> {
    by_idler: Lanes<S>,
    by_stick: Lanes<S>,
    by_link: Lanes<S>,
    by_ear: Lanes<S>,
    by_idler_m: Lanes<S>,
    by_pivot: Plane<S>,
}

impl<S: Simd> Rates<S> {
    #[inline(always)]
    fn of(turns: &LinkageTurns<S>, lengths: &LinkageLengths) -> Rates<S> {
        let (idler, ear) = (turns.idler, turns.ear);
        let (d_x, d_z) = along(ear, lengths.ear_m);
        let per_link = 1.0 / lengths.link_m;
        let (w_x, w_z) = (
            (d_x - turns.e_from_c.0) * per_link,
            (d_z - turns.e_from_c.1) * per_link,
        );
        let on_ear = w_x * ear.cos + w_z * ear.sin;
        let across_ear = w_z * ear.cos - w_x * ear.sin;
        let on_idler = w_x * idler.cos + w_z * idler.sin;
        let across_idler = w_z * idler.cos - w_x * idler.sin;
        let per = w_x.like(1.0) / (across_ear * lengths.ear_m);
        Rates {
            by_idler: across_idler * per * lengths.idler_m,
            by_stick: -(w_x * per),
            by_link: per,
            by_ear: on_ear * per,
            by_idler_m: on_idler * per,
            by_pivot: (w_x * per, w_z * per),
        }
    }

    /// Of the ear's direction, from the lengths that move nothing else.
    #[inline(always)]
    fn variance(&self, v: &LinkageVariances) -> Lanes<S> {
        let part = |rate: Lanes<S>, variance: f64| rate * rate * variance;
        part(self.by_link, v.link_m2)
            + part(self.by_ear, v.ear_m2)
            + part(self.by_idler_m, v.idler_m2)
            + part(self.by_pivot.0, v.pivot_m2[0])
            + part(self.by_pivot.1, v.pivot_m2[1])
    }
}

/// From the plane's own x to `House`.
#[inline(always)]
fn in_house<S: Simd>(sum: PlaneSum<S>, apparent_pitch: Option<Turn<S>>) -> HouseSum<S> {
    let none = sum.xx.like(0.0);
    let PlaneSum { xx, xz, zz } = match apparent_pitch {
        None => sum,
        Some(Turn { sin, cos }) => {
            let (ss, sc, cc) = (sin * sin, sin * cos, cos * cos);
            let twice = sum.xz * sc * 2.0;
            PlaneSum {
                xx: sum.xx * cc + twice + sum.zz * ss,
                xz: (sum.zz - sum.xx) * sc + sum.xz * (cc - ss),
                zz: sum.xx * ss - twice + sum.zz * cc,
            }
        }
    };
    HouseSum {
        xx,
        yy: none,
        zz,
        xy: none,
        xz,
        yz: none,
    }
}

/// Standard uncertainties along the axes of the site.
#[inline(always)]
fn sds_on_site<S: Simd, const M: usize>(
    sum: &HouseSum<S>,
    solved: &Solved<S, M>,
    [east_m2, north_m2, up_m2]: Space<S>,
) -> Space<S> {
    let (house, heading) = (solved.front.house, solved.heading);
    let [east, north] = [(heading.sin, -heading.cos), (heading.cos, heading.sin)];
    [
        sd_along(sum, level_row(house, east), east_m2),
        sd_along(sum, level_row(house, north), north_m2),
        sd_along(sum, up_of(house), up_m2),
    ]
}

/// A row of `Rz(90° - ψ) Ry(-θ) Rx(φ)` that lies level: what of forward and left is in it.
#[inline(always)]
fn level_row<S: Simd>(house: HouseTurns<S>, (forward, left): Plane<S>) -> Space<S> {
    let HouseTurns { pitch, roll } = house;
    [
        pitch.cos * forward,
        roll.cos * left - pitch.sin * roll.sin * forward,
        -(pitch.sin * roll.cos * forward + roll.sin * left),
    ]
}

#[inline(always)]
fn sd_along<S: Simd>(sum: &HouseSum<S>, [x, y, z]: Space<S>, more_m2: Lanes<S>) -> Lanes<S> {
    let squares = x * x * sum.xx + y * y * sum.yy + z * z * sum.zz;
    let mixed = x * y * sum.xy + x * z * sum.xz + y * z * sum.yz;
    (squares + mixed * 2.0 + more_m2).sqrt()
}
