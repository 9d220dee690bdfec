//! All ways in which the machine can hold the tooth at one place of the boom plane.

use super::Budget;
use super::map::MapAsk;
use crate::calibrate::chain::numbers::{atan2, sin_cos};
use crate::frames::House;
use crate::machine::claim::Joint;
use crate::machine::front::{Boom, Front};
use crate::machine::joints::Joints;
use crate::machine::reach::reach_in_plane;
use holdline_geom::frame::Point;
use holdline_geom::triangle::corner_over_base;
use std::f64::consts::{PI, TAU};

/// Halvings that find where a stroke ends: 10° come down to a sixth of one.
const N_HALVINGS: usize = 6;

/// What rounding may add to an angle that was made from the very end of a stroke, rad.
const ROUNDING_RAD: f64 = 1e-9;

/// The front as the search needs it.
#[derive(Debug, Clone)]
pub(super) struct Searcher<'a> {
    budget: &'a Budget,
    front: Front<f64>,
    keep: Joints,
    n_curls: usize,
    bucket_rad: [f64; 2],
    /// Direction of every attitude that is tried.
    ways: Vec<[f64; 2]>,
    plain: Option<Plain>,
}

/// A mono boom without post and tilt.
#[derive(Debug, Clone, Copy)]
struct Plain {
    foot_m: [f64; 2],
    boom_m: f64,
    stick_m: f64,
    tool_m: [f64; 2],
    ranges: [[f64; 2]; 3],
    /// Squares of the least and largest way from A to C that the stick's stroke allows; a little more.
    way_m2: [f64; 2],
    /// The stick is never straight nor folded, so that B stands above the line from A to C.
    above: bool,
}

impl<'a> Searcher<'a> {
    pub fn new(budget: &'a Budget, ask: &MapAsk) -> Searcher<'a> {
        let front = budget.model.geometry().front.values();
        let range = |joint: Joint| {
            let range = budget.model.machine().range(joint);
            range.map_or([-TAU, TAU], |r| r.nominal_rad)
        };
        let plain = match front.boom {
            Boom::Mono { length_m } if front.post_m.is_none() && front.tilt.is_none() => {
                let ranges = [Joint::Boom, Joint::Stick, Joint::Bucket].map(range);
                Some(Plain::new(&front, length_m, ranges))
            }
            _ => None,
        };
        Searcher {
            budget,
            front,
            keep: ask.keep,
            n_curls: ask.n_curls,
            bucket_rad: ask.bucket_rad.unwrap_or([f64::NEG_INFINITY, f64::INFINITY]),
            ways: (0..=ask.n_curls)
                .map(|idx| sin_cos(-PI + idx as f64 * TAU / ask.n_curls as f64))
                .collect(),
            plain,
        }
    }

    /// Calls `each` with every pose found: the attitudes looked at, and the ends of each run of them.
    ///
    /// An end is where a stroke ends, and there the linkage is often at its most sensitive.
    pub fn poses_at(&self, at_m: [f64; 2], mut each: impl FnMut(&Joints)) {
        let step = TAU / self.n_curls as f64;
        for elbow in [1.0, -1.0] {
            let mut before: Option<f64> = None;
            // Once round and one more, so that a run over the start is seen whole.
            for idx in 0..=self.n_curls {
                let attitude = -PI + idx as f64 * step;
                let here = self.pose(at_m, attitude, self.ways[idx], elbow);
                match (&here, before) {
                    (Some(pose), None) if 0 < idx => {
                        let end = self.end(at_m, elbow, attitude, attitude - step);
                        end.iter().for_each(&mut each);
                        each(pose);
                    }
                    (Some(pose), _) if idx < self.n_curls => each(pose),
                    (None, Some(last)) => {
                        let end = self.end(at_m, elbow, last, attitude);
                        end.iter().for_each(&mut each);
                    }
                    _ => {}
                }
                before = here.map(|_| attitude);
            }
            if self.plain.is_none_or(|plain| plain.above) {
                return; // the other side cannot be, or the general search looks at both itself
            }
        }
    }

    /// The last pose that can be held on the way from one attitude to another.
    fn end(&self, at_m: [f64; 2], elbow: f64, held: f64, lost: f64) -> Option<Joints> {
        let (mut held, mut lost) = (held, lost);
        let mut last = None;
        for _ in 0..N_HALVINGS {
            let middle = (held + lost) / 2.0;
            match self.pose(at_m, middle, sin_cos(middle), elbow) {
                Some(pose) => {
                    last = Some(pose);
                    held = middle;
                }
                None => lost = middle,
            }
        }
        last
    }

    fn pose(&self, at_m: [f64; 2], ear_rad: f64, way: [f64; 2], elbow: f64) -> Option<Joints> {
        let [least, most] = self.bucket_rad;
        self.in_strokes(at_m, ear_rad, way, elbow)
            .filter(|q| least <= q.bucket && q.bucket <= most)
    }

    fn in_strokes(
        &self,
        at_m: [f64; 2],
        ear_rad: f64,
        way: [f64; 2],
        elbow: f64,
    ) -> Option<Joints> {
        let Some(plain) = &self.plain else {
            let target: Point<House> = Point::metres(at_m[0], 0.0, at_m[1]);
            let machine = self.budget.model.machine();
            let reached = reach_in_plane(machine, &self.front, target, ear_rad, &self.keep);
            return reached.ok().map(|r| r.joints);
        };
        let [boom, stick, bucket] = plain.pose(at_m, ear_rad, way, elbow)?;
        Some(Joints {
            boom,
            stick,
            bucket,
            ..self.keep
        })
    }
}

impl Plain {
    fn new(front: &Front<f64>, boom_m: f64, ranges: [[f64; 2]; 3]) -> Plain {
        let stick_m = front.stick_m;
        let [min, max] = ranges[1];
        let above = -PI < min && max < 0.0;
        // |AC|² = AB² + BC² + 2 AB BC cos σ, which grows with σ from folded to straight.
        let square = |stick: f64| {
            boom_m * boom_m + stick_m * stick_m + 2.0 * boom_m * stick_m * sin_cos(stick)[0]
        };
        Plain {
            foot_m: [front.foot_m[0], front.foot_m[2]],
            boom_m,
            stick_m,
            tool_m: tool(front),
            ranges,
            way_m2: if above {
                [square(min) - 1e-6, square(max) + 1e-6]
            } else {
                [0.0, f64::INFINITY]
            },
            above,
        }
    }

    /// As [`reach_in_plane`], without words for what cannot be reached.
    fn pose(
        &self,
        at_m: [f64; 2],
        ear_rad: f64,
        [cos, sin]: [f64; 2],
        elbow: f64,
    ) -> Option<[f64; 3]> {
        let [px, pz] = self.tool_m;
        let way = [
            at_m[0] - (cos * px - sin * pz) - self.foot_m[0],
            at_m[1] - (sin * px + cos * pz) - self.foot_m[1],
        ];
        let square = way[0] * way[0] + way[1] * way[1];
        if !(self.way_m2[0] <= square && square <= self.way_m2[1]) {
            return None;
        }
        let r = square.sqrt();
        let [x, y] = corner_over_base(r, self.boom_m, self.stick_m)?;
        let b = [
            (x * way[0] - elbow * y * way[1]) / r,
            (x * way[1] + elbow * y * way[0]) / r,
        ];
        let boom = near(atan2(b[1], b[0]), self.ranges[0])?;
        let stick_dir = atan2(way[1] - b[1], way[0] - b[0]);
        let stick = near(stick_dir - boom, self.ranges[1])?;
        let bucket = near(ear_rad - stick_dir, self.ranges[2])?;
        Some([boom, stick, bucket])
    }
}

/// The turn of an angle nearest to the middle of its range, if it lies inside.
fn near(angle: f64, [min, max]: [f64; 2]) -> Option<f64> {
    let middle = (min + max) / 2.0;
    let mut a = angle;
    while PI < a - middle {
        a -= TAU;
    }
    while a - middle < -PI {
        a += TAU;
    }
    (min - ROUNDING_RAD <= a && a <= max + ROUNDING_RAD).then_some(a)
}

/// The tooth in the ear frame, x and z.
fn tool(front: &Front<f64>) -> [f64; 2] {
    let [x, _, z] = front.tooth_m;
    match &front.coupler {
        None => [x, z],
        Some(c) => {
            let [cos, sin] = sin_cos(c.rotation_rad);
            [
                c.front_pin_m[0] + cos * x - sin * z,
                c.front_pin_m[1] + sin * x + cos * z,
            ]
        }
    }
}
