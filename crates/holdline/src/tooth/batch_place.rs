//! Where the house stands: by one antenna and a heading, or by two antennas.

use pulp::Simd;

use super::antennas::{BASELINE_AT_LEAST_M, PAIR_OFF_AT_MOST_M};
use super::batch_kernel::{
    Checks, Formula, HouseTurns, ONE, SolveFront, SolvedFront, TWO, angle_of, on_site, read_place,
    within,
};
use super::bounds;
use super::lanes::{Lanes, Mask};
use super::sincos::Turn;

/// One antenna, and a heading beside it.
pub(crate) struct ByOne<F> {
    pub front: F,
}

/// Two antennas: the heading is that of the line between them, and the mean of both counts.
pub(crate) struct ByTwo<F> {
    pub front: F,
    pub pair: PairLevers,
}

/// The line between two antennas in `House`, m.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct PairLevers {
    /// First to second: forward, left, up.
    pub second_from_first_m: [f64; 3],
}

/// A register of epochs with everything that the tooth is made from.
pub(crate) struct Solved<S: Simd, const M: usize> {
    pub front: SolvedFront<S>,
    pub heading: Turn<S>,
    /// The antenna, or the mean of two.
    pub antenna: [Lanes<S>; 3],
    pub checks: Checks<S, M>,
    pub pair: Option<Pair<S>>,
}

/// Two antennas of a register of epochs.
#[derive(Clone, Copy)]
pub(crate) struct Pair<S: Simd> {
    /// First to second on the site.
    pub on_site: [Lanes<S>; 3],
    /// What the levers give for it in `Level`.
    pub level: [Lanes<S>; 3],
    /// Measured length less that of the levers, m.
    pub length_off: Lanes<S>,
    /// Measured rise less that of the levers, m.
    pub rise_off: Lanes<S>,
}

/// From `M` columns to a register of epochs, solved.
pub(crate) trait Solve<const M: usize>: Sync {
    type Front: SolveFront;
    fn front(&self) -> &Self::Front;
    fn solve<S: Simd>(&self, columns: [Lanes<S>; M]) -> Solved<S, M>;
}

/// The tooth alone.
pub(crate) struct Tooth<P>(pub P);

impl<P: Solve<M>, const M: usize> Formula<M, 3> for Tooth<P> {
    #[inline(always)]
    fn epochs<S: Simd>(&self, columns: [Lanes<S>; M]) -> ([Lanes<S>; 3], Checks<S, M>) {
        let solved = self.0.solve(columns);
        (solved.tooth(self.0.front()), solved.checks)
    }
}

impl<S: Simd, const M: usize> Solved<S, M> {
    /// The tooth: `a_n + Rz(90° - ψ) Ry(-θ) Rx(φ) (t_b - a_b)`.
    #[inline(always)]
    pub fn tooth<F: SolveFront>(&self, front: &F) -> [Lanes<S>; 3] {
        let level = self.front.house.level(self.front.arm(front.front()));
        let [east, north, up] = on_site(self.heading, level);
        let [from_east, from_north, from_up] = self.antenna;
        [from_east + east, from_north + north, from_up + up]
    }
}

impl<F: SolveFront> Solve<ONE> for ByOne<F> {
    type Front = F;

    fn front(&self) -> &F {
        &self.front
    }

    #[inline(always)]
    fn solve<S: Simd>(&self, columns: [Lanes<S>; ONE]) -> Solved<S, ONE> {
        let [pitch, roll, heading, boom, stick, bucket, east, north, up] = columns;
        let (house, angles) = angles(&self.front, [pitch, roll], [boom, stick, bucket]);
        let front = self.front.solve(house, angles);
        let antenna = [east, north, up];
        let [pitch, roll] = read_house(house);
        let [boom, stick, bucket] = read_angles(angles);
        let [east, north, up] = read_place(antenna);
        let heading_read = within(heading, bounds::HEADING_RAD);
        Solved {
            front,
            heading: Turn::of(heading),
            antenna,
            checks: Checks {
                read: [
                    pitch,
                    roll,
                    heading_read,
                    boom,
                    stick,
                    bucket,
                    east,
                    north,
                    up,
                ],
                front: front.checks,
                apart: heading_read,
                agree: heading_read,
            },
            pair: None,
        }
    }
}

impl<F: SolveFront> Solve<TWO> for ByTwo<F> {
    type Front = F;

    fn front(&self) -> &F {
        &self.front
    }

    #[inline(always)]
    fn solve<S: Simd>(&self, columns: [Lanes<S>; TWO]) -> Solved<S, TWO> {
        let [pitch, roll, boom, stick, bucket, e1, n1, u1, e2, n2, u2] = columns;
        let (house, angles) = angles(&self.front, [pitch, roll], [boom, stick, bucket]);
        let front = self.front.solve(house, angles);
        let (pair, heading, apart) = self.pair.compare(front.house, [e2 - e1, n2 - n1, u2 - u1]);
        let [pitch, roll] = read_house(house);
        let [boom, stick, bucket] = read_angles(angles);
        let [e1_read, n1_read, u1_read] = read_place([e1, n1, u1]);
        let [e2_read, n2_read, u2_read] = read_place([e2, n2, u2]);
        let off = PAIR_OFF_AT_MOST_M;
        Solved {
            front,
            heading,
            antenna: [(e1 + e2) * 0.5, (n1 + n2) * 0.5, (u1 + u2) * 0.5],
            checks: Checks {
                read: [
                    pitch, roll, boom, stick, bucket, e1_read, n1_read, u1_read, e2_read, n2_read,
                    u2_read,
                ],
                front: front.checks,
                apart,
                agree: (pair.length_off.abs().at_most(off)).and(pair.rise_off.abs().at_most(off)),
            },
            pair: Some(pair),
        }
    }
}

impl PairLevers {
    /// The pair, the heading it gives, and where the two stand apart.
    ///
    /// ```text
    /// v = Ry(-θ) Rx(φ) (b_house - a_house)        ψ = 90° + atan2(v_y, v_x) - atan2(ΔN, ΔE)
    /// ```
    #[inline(always)]
    fn compare<S: Simd>(
        &self,
        house: HouseTurns<S>,
        measured: [Lanes<S>; 3],
    ) -> (Pair<S>, Turn<S>, Mask<S>) {
        let [east, north, up] = measured;
        let [x, y, z] = self.second_from_first_m;
        let level = house.level([east.like(x), east.like(y), east.like(z)]);
        let [forward, left, high] = level;

        let flat = (forward * forward + left * left).sqrt();
        let flat_measured = (east * east + north * north).sqrt();
        let bearing = Turn {
            sin: east / flat_measured,
            cos: north / flat_measured,
        };
        let heading = bearing.on_by(Turn {
            sin: left / flat,
            cos: forward / flat,
        });
        let length = (x * x + y * y + z * z).sqrt();
        let pair = Pair {
            on_site: measured,
            level,
            length_off: (east * east + north * north + up * up).sqrt() - length,
            rise_off: up - high,
        };
        let apart = flat
            .more_than(BASELINE_AT_LEAST_M)
            .and(flat_measured.more_than(BASELINE_AT_LEAST_M));
        (pair, heading, apart)
    }
}

/// The angles behind the readings of house and front.
#[inline(always)]
fn angles<F: SolveFront, S: Simd>(
    front: &F,
    [pitch, roll]: [Lanes<S>; 2],
    [boom, stick, bucket]: [Lanes<S>; 3],
) -> ([Lanes<S>; 2], [Lanes<S>; 3]) {
    let sensors = front.sensors();
    (
        [angle_of(pitch, sensors.pitch), angle_of(roll, sensors.roll)],
        [
            angle_of(boom, sensors.boom),
            angle_of(stick, sensors.stick),
            angle_of(bucket, sensors.bucket),
        ],
    )
}

#[inline(always)]
fn read_house<S: Simd>([pitch, roll]: [Lanes<S>; 2]) -> [Mask<S>; 2] {
    [
        within(pitch, bounds::HOUSE_LEAN_RAD),
        within(roll, bounds::HOUSE_LEAN_RAD),
    ]
}

#[inline(always)]
fn read_angles<S: Simd>([boom, stick, bucket]: [Lanes<S>; 3]) -> [Mask<S>; 3] {
    [
        within(boom, bounds::ANGLE_RAD),
        within(stick, bounds::ANGLE_RAD),
        within(bucket, bounds::ANGLE_RAD),
    ]
}
