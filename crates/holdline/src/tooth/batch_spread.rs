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

use super::batch_kernel::{Checks, Formula, HouseTurns, LinkageTurns, N_COLUMNS, Solve, Solved};
use super::lanes::Lanes;
use super::sincos::Turn;
use crate::sources;

/// Squares of the standard uncertainties behind a tooth, m² and rad²; and the bucket's own frame,
/// in which those of the tooth point are given.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BatchVariances {
    /// Boom foot and the antenna's lever arm together: forward, left, up.
    pub foot_and_lever_m2: [f64; 3],
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
    /// Position of the antenna: east, north, up.
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
pub(crate) struct WithSpread<F> {
    pub solve: F,
    pub variances: BatchVariances,
    pub linkage: Option<LinkageLengths>,
    /// The house sensor gives two tilts.
    pub two_tilts: bool,
}

impl<F: Solve> Formula<6> for WithSpread<F> {
    #[inline(always)]
    fn epochs<S: Simd>(&self, columns: [Lanes<S>; N_COLUMNS]) -> ([Lanes<S>; 6], Checks<S>) {
        let _ = sources::GUM;
        let solved = self.solve.solve(columns);
        let front = self.solve.front();
        let [east, north, up] = solved.tooth(front);

        let mut house = in_house(self.in_plane(&solved), solved.apparent_pitch);
        let [x, y, z] = self.variances.foot_and_lever_m2;
        house.xx = house.xx + x;
        house.yy = house.yy + (y + self.variances.tooth_m2[1]);
        house.zz = house.zz + z;
        self.add_attitude(&mut house, &solved);
        let [sd_east, sd_north, sd_up] = on_site(&house, &solved, self.variances.antenna_m2);
        ([east, north, up, sd_east, sd_north, sd_up], solved.checks)
    }
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

impl<F: Solve> WithSpread<F> {
    /// Sources that move the tooth in the boom plane: lengths, sensors on links, the bucket.
    #[inline(always)]
    fn in_plane<S: Simd>(&self, solved: &Solved<S>) -> PlaneSum<S> {
        let (v, front) = (&self.variances, self.solve.front());
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
        match (solved.linkage, self.linkage) {
            (Some(turns), Some(lengths)) => {
                let rates = Rates::of(&turns, &lengths);
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

        let [pin_x, pin_z] = self.variances.pin_m;
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

    /// Sources that turn the house: pitch, roll, heading. With gravity sensors on the links, pitch
    /// and roll also enter the apparent pitch that is taken off them.
    #[inline(always)]
    fn add_attitude<S: Simd>(&self, house: &mut HouseSum<S>, solved: &Solved<S>) {
        let v = &self.variances;
        let HouseTurns { pitch, roll } = solved.house;
        let [x, y, z] = solved.arm(self.solve.front());

        let mut by_pitch = [-(roll.cos * z + roll.sin * y), roll.sin * x, roll.cos * x];
        let mut by_roll = [x.like(0.0), -z, y];
        if solved.apparent_pitch.is_some() {
            let (up_x, up_z) = (pitch.sin, pitch.cos * roll.cos);
            let upright2 = up_x * up_x + up_z * up_z;
            let per_pitch = roll.cos / upright2;
            let per_roll = pitch.sin * pitch.cos * roll.sin / upright2;
            let (chain_x, chain_z) = solved.chain;
            by_pitch[0] = by_pitch[0] + chain_z * per_pitch;
            by_pitch[2] = by_pitch[2] - chain_x * per_pitch;
            by_roll[0] = by_roll[0] + chain_z * per_roll;
            by_roll[2] = by_roll[2] - chain_x * per_roll;
        }
        if self.two_tilts {
            // sin φ = sin p_y / cos p_x
            let roll_by_first = (roll.sin * pitch.sin) / (roll.cos * pitch.cos);
            let roll_by_second = solved.second.cos / (pitch.cos * roll.cos);
            for k in 0..3 {
                by_pitch[k] = by_pitch[k] + by_roll[k] * roll_by_first;
                by_roll[k] = by_roll[k] * roll_by_second;
            }
        }
        house.add(by_pitch, v.pitch_rad2);
        house.add(by_roll, v.roll_rad2);

        let (up_x, up_y, up_z) = (pitch.sin, pitch.cos * roll.sin, pitch.cos * roll.cos);
        let by_heading = [
            up_z * y - up_y * z,
            up_x * z - up_z * x,
            up_y * x - up_x * y,
        ];
        house.add(by_heading, v.heading_rad2);
    }
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
fn on_site<S: Simd>(sum: &HouseSum<S>, solved: &Solved<S>, antenna_m2: [f64; 3]) -> [Lanes<S>; 3] {
    let HouseTurns { pitch, roll } = solved.house;
    let heading = solved.heading;
    let up = [pitch.sin, pitch.cos * roll.sin, pitch.cos * roll.cos];
    let [east, north] = [(heading.sin, -heading.cos), (heading.cos, heading.sin)];
    [
        sd_along(sum, level_row(solved.house, east), antenna_m2[0]),
        sd_along(sum, level_row(solved.house, north), antenna_m2[1]),
        sd_along(sum, up, antenna_m2[2]),
    ]
}

/// A row of `Rz(90° - ψ) Ry(-θ) Rx(φ)` that lies level: what of forward and left is in it.
#[inline(always)]
fn level_row<S: Simd>(house: HouseTurns<S>, (forward, left): Plane<S>) -> [Lanes<S>; 3] {
    let HouseTurns { pitch, roll } = house;
    [
        pitch.cos * forward,
        roll.cos * left - pitch.sin * roll.sin * forward,
        -(pitch.sin * roll.cos * forward + roll.sin * left),
    ]
}

#[inline(always)]
fn sd_along<S: Simd>(sum: &HouseSum<S>, [x, y, z]: [Lanes<S>; 3], more_m2: f64) -> Lanes<S> {
    let squares = x * x * sum.xx + y * y * sum.yy + z * z * sum.zz;
    let mixed = x * y * sum.xy + x * z * sum.xz + y * z * sum.yz;
    (squares + mixed * 2.0 + more_m2).sqrt()
}
