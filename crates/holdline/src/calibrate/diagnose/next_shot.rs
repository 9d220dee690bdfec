//! The shot that would separate the two best.

use super::Seen;
use super::rank::Tried;
use super::told::{NextShot, Suspect};
use super::whiten::dot;
use crate::calibrate::clear::Clear;
use crate::machine::claim::Joint;
use crate::machine::jacobian::joints_fitted;
use crate::machine::joints::Joints;
use crate::machine::pose::front_pose;
use crate::tooth::attitude::Lean;
use crate::tooth::model::ToothModel;
use crate::tooth::place::{Solution, solve};
use crate::tooth::readings::Readings;
use holdline_geom::frame::Point;
use nalgebra::{Cholesky, DMatrix, DVector};

/// A runner-up further behind than this in AIC needs no shot to be told apart.
const BEHIND_AT_MOST: f64 = 10.0;

/// A shot that adds less than this to the expected χ² between the two is not worth the walk.
const WORTH: f64 = 1.0;

/// Steps of the lattice of poses, from one end of each range to the other.
const STEPS: [f64; 9] = [0.06, 0.17, 0.28, 0.39, 0.5, 0.61, 0.72, 0.83, 0.94];

/// The bucket of a shot somebody can see and reach stays so high over the track ground, its tooth so low, m.
const HEIGHT_M: [f64; 2] = [0.05, 3.0];

/// A usual lean of the lean test: 4°.
const LEAN_RAD: f64 = 4.0 * std::f64::consts::PI / 180.0;

/// How the machine stands in a shot that was made.
struct Stood {
    joints: Joints,
    lean: Lean,
    heading_rad: Option<f64>,
    /// Where the swing axis meets the track ground, m.
    stand_m: [f64; 3],
    readings: Readings<f64>,
}

/// A pose to shoot, and which test it is.
#[derive(Clone)]
struct Candidate {
    joints: Joints,
    lean: Lean,
    heading_rad: Option<f64>,
    test: Test,
    /// The shot made that it stands beside.
    made: usize,
}

/// The simple test that a pose is, beside a shot that was made.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Test {
    Any,
    /// The shot made itself.
    Same,
    Curl,
    Spin,
    Reach,
    Lean,
}

/// What stands between the two: a χ² that grows with every shot.
struct Gap {
    normal: DMatrix<f64>,
    right: DVector<f64>,
    whole: f64,
}

impl Gap {
    /// What is left of the first one's effect when the second is fitted to it.
    fn left(&self) -> f64 {
        if self.normal.nrows() == 0 {
            return self.whole;
        }
        let k = self.normal.nrows();
        let small = DMatrix::identity(k, k) * (1e-12 * self.normal.trace());
        match Cholesky::new(&self.normal + small) {
            Some(factor) => (self.whole - self.right.dot(&factor.solve(&self.right))).max(0.0),
            None => 0.0,
        }
    }

    fn with(&self, difference: [f64; 3], slopes: &[[f64; 3]], usual_m2: [f64; 3]) -> Gap {
        let mut out = Gap {
            normal: self.normal.clone(),
            right: self.right.clone(),
            whole: self.whole,
        };
        for axis in (0..3).filter(|axis| 0.0 < usual_m2[*axis]) {
            out.whole += difference[axis] * difference[axis] / usual_m2[axis];
            for (i, a) in slopes.iter().enumerate() {
                out.right[i] += a[axis] * difference[axis] / usual_m2[axis];
                for (j, b) in slopes.iter().enumerate() {
                    out.normal[(i, j)] += a[axis] * b[axis] / usual_m2[axis];
                }
            }
        }
        out
    }
}

/// The next shots, best first; none when the two best are told apart already or there are no poses.
pub(super) fn propose(seen: &Seen, suspects: &[Suspect], n_next: usize) -> Vec<NextShot> {
    let [first, second, ..] = suspects else {
        return Vec::new();
    };
    if BEHIND_AT_MOST < second.aic - first.aic || !seen.scene.has_readings {
        return Vec::new();
    }
    let pair = [0, 1].map(|idx: usize| &seen.tried[seen.groups[idx][0]]);
    let stood = stood(seen);
    if stood.is_empty() {
        return Vec::new();
    }
    let candidates = candidates(seen.scene.model(), &stood);
    let (usual_m2, also) = usual(seen);
    let mut gap = gap_so_far(seen, pair);
    let mut next = Vec::new();
    for _ in 0..n_next {
        let rated = rated(seen, pair, &candidates, &stood[0], &gap, usual_m2);
        // A pose once proposed is not proposed again: another one tells about other errors as well.
        let taken = |c: &Candidate| {
            let same = |n: &NextShot| n.joints == c.joints && n.heading_rad == c.heading_rad;
            next.iter().any(same)
        };
        let level = rated.iter().filter(|r| {
            ![Test::Lean, Test::Same].contains(&r.candidate.test) && !taken(r.candidate)
        });
        let Some(best) = level.max_by(|a, b| a.adds.total_cmp(&b.adds)) else {
            break;
        };
        let (adds, with) = (best.adds, &best.with);
        if !(WORTH < adds) {
            break;
        }
        let tests = Tests::worth(&rated, adds, usual_m2);
        let best = best.candidate;
        next.push(told(seen.scene.model(), best, adds, tests, also));
        gap = Gap {
            normal: with.normal.clone(),
            right: with.right.clone(),
            whole: with.whole,
        };
    }
    next
}

/// Variance of a usual shot along each axis, m², and what the next ones should be surveyed in as well.
///
/// An axis that was not surveyed so far can be in the next shot, about as well as the others.
fn usual(seen: &Seen) -> ([f64; 3], Option<&'static str>) {
    let known = seen.scene.usual_m2;
    let most = known.iter().copied().fold(0.0, f64::max);
    let filled = known.map(|v| if 0.0 < v { v } else { most });
    let also = match (known[0] * known[1] == 0.0, known[2] == 0.0) {
        (true, _) => Some("in plan as well as in height"),
        (false, true) => Some("in height as well as in plan"),
        (false, false) => None,
    };
    (filled, also)
}

impl Tests {
    /// Those that tell enough beside a shot that adds so much.
    fn worth(rated: &[Rated], adds: f64, usual_m2: [f64; 3]) -> Tests {
        let turns = |test| turns_apart(rated, test, usual_m2);
        let simple = [Test::Curl, Test::Spin, Test::Reach]
            .into_iter()
            .map(|test| (test, turns(test)))
            .max_by(|a, b| a.1.total_cmp(&b.1))
            .filter(|(_, simple)| adds / 2.0 <= *simple);
        Tests {
            simple: simple.map(|(test, _)| test),
            lean: 2.0 * adds < turns(Test::Lean),
        }
    }
}

/// A candidate, what it adds, and how far the two best are apart there.
struct Rated<'a> {
    adds: f64,
    candidate: &'a Candidate,
    difference: [f64; 3],
    with: Gap,
}

/// Every candidate that the machine can be read in, with what it adds.
fn rated<'a>(
    seen: &Seen,
    pair: [&Tried; 2],
    candidates: &'a [Candidate],
    like: &Stood,
    gap: &Gap,
    usual_m2: [f64; 3],
) -> Vec<Rated<'a>> {
    let rate = |candidate: &'a Candidate| {
        let readings = readings_of(seen.scene.model(), candidate, like)?;
        let (difference, slopes) = apart(seen, pair, &readings)?;
        let with = gap.with(difference, &slopes, usual_m2);
        let adds = with.left() - gap.left();
        adds.is_finite().then_some(Rated {
            adds,
            candidate,
            difference,
            with,
        })
    };
    candidates.iter().filter_map(rate).collect()
}

/// What a test on one mark tells: how far what is between the two best turns or grows from pose to pose, as the χ² of
/// one touch about the middle of all; of the shot made where it does most.
fn turns_apart(rated: &[Rated], test: Test, usual_m2: [f64; 3]) -> f64 {
    let of = |made: usize| {
        let poses: Vec<[f64; 3]> = rated
            .iter()
            .filter(|r| r.candidate.made == made && [test, Test::Same].contains(&r.candidate.test))
            .map(|r| r.difference)
            .collect();
        let n = poses.len().max(1) as f64;
        (0..3)
            .filter(|axis| 0.0 < usual_m2[*axis])
            .map(|axis| {
                let mean = poses.iter().map(|d| d[axis]).sum::<f64>() / n;
                let about = poses.iter().map(|d| (d[axis] - mean) * (d[axis] - mean));
                about.sum::<f64>() / n / usual_m2[axis]
            })
            .sum::<f64>()
    };
    (0..MADE_AT_MOST).map(of).fold(0.0, f64::max)
}

/// Simple tests that go with a proposed shot.
struct Tests {
    simple: Option<Test>,
    lean: bool,
}

/// Poses of the shots made.
fn stood(seen: &Seen) -> Vec<Stood> {
    let model = seen.scene.model();
    let Ok(plan) = model.plan() else {
        return Vec::new();
    };
    let values = model.geometry().map(&mut |_, m| m.value);
    (0..seen.scene.n_shots())
        .filter_map(|shot_idx| {
            let readings = seen.scene.readings(shot_idx)?;
            let solution: Solution = solve(plan, &values, readings).ok()?;
            let mut stand_m = [0.0; 3];
            if let (Some(at), Some(heading)) = (solution.tooth_site, solution.heading_rad) {
                let arm = solution.lean.site_turn(heading)
                    * (solution.tooth_house - Point::metres(0.0, 0.0, 0.0));
                let o = at.vector() - arm.vector();
                stand_m = [o.x, o.y, o.z];
            }
            Some(Stood {
                joints: solution.joints,
                lean: solution.lean,
                heading_rad: solution.heading_rad,
                stand_m,
                readings: readings.clone(),
            })
        })
        .collect()
}

/// A lattice over the reachable poses at four headings, and beside each shot the simple tests.
fn candidates(model: &ToothModel, stood: &[Stood]) -> Vec<Candidate> {
    let Some(first) = stood.first() else {
        return Vec::new();
    };
    let machine = model.machine();
    let front = model.geometry().front.values();
    let fitted = joints_fitted(&front);
    let at = |joint: Joint, share: f64, keep: f64| match machine.range(joint) {
        Some(range) if fitted.contains(&joint) => {
            let [min, max] = range.nominal_rad;
            min + (max - min) * share
        }
        _ => keep,
    };
    let spins = |heading: Option<f64>| -> Vec<Option<f64>> {
        match heading {
            None => vec![None],
            Some(h) => (0..4)
                .map(|quarter| {
                    Some(
                        (h + f64::from(quarter) * std::f64::consts::FRAC_PI_2)
                            .rem_euclid(std::f64::consts::TAU),
                    )
                })
                .collect(),
        }
    };
    let [low, high] = HEIGHT_M;
    let Ok(clear) = Clear::of(machine, model.choice(), low) else {
        return Vec::new();
    };
    let mut out = Vec::new();
    let mut push =
        |joints: Joints, heading_rad: Option<f64>, lean: Lean, test: Test, made: usize| {
            let pose = front_pose(&front, &joints);
            // Where the machine stood already it can stand again; it is not proposed, only compared with.
            let may = test == Test::Same || clear.holds(&pose);
            if may && pose.tooth_house.z() <= high {
                out.push(Candidate {
                    joints,
                    lean,
                    heading_rad,
                    test,
                    made,
                });
            }
        };
    for heading in spins(first.heading_rad) {
        let lean = lean_at(first, heading);
        for boom in STEPS {
            for stick in STEPS {
                for bucket in STEPS {
                    let keep = first.joints;
                    let joints = keep
                        .with(Joint::Boom, at(Joint::Boom, boom, keep.boom))
                        .with(Joint::Stick, at(Joint::Stick, stick, keep.stick))
                        .with(Joint::Bucket, at(Joint::Bucket, bucket, keep.bucket));
                    push(joints, heading, lean, Test::Any, usize::MAX);
                }
            }
        }
    }
    for (idx, made) in stood.iter().enumerate().take(MADE_AT_MOST) {
        let q = made.joints;
        push(q, made.heading_rad, made.lean, Test::Same, idx);
        for share in STEPS {
            let curl = q.with(Joint::Bucket, at(Joint::Bucket, share, q.bucket));
            push(curl, made.heading_rad, made.lean, Test::Curl, idx);
            let reach = q
                .with(Joint::Boom, at(Joint::Boom, share, q.boom))
                .with(Joint::Stick, at(Joint::Stick, 1.0 - share, q.stick));
            push(reach, made.heading_rad, made.lean, Test::Reach, idx);
        }
        for heading in spins(made.heading_rad).into_iter().skip(1) {
            push(q, heading, lean_at(made, heading), Test::Spin, idx);
        }
        for lean_rad in [-LEAN_RAD, LEAN_RAD] {
            let lean = Lean {
                roll: made.lean.roll + lean_rad,
                ..made.lean
            };
            push(q, made.heading_rad, lean, Test::Lean, idx);
        }
    }
    out
}

/// Simple tests are looked at beside this many of the shots made.
const MADE_AT_MOST: usize = 8;

/// Pitch and roll at another heading on the same track plane.
///
/// ```text
/// n = R z upward normal of the tracks      x lies in their plane: tan θ = −(n_E sin ψ + n_N cos ψ) / n_U
/// y = n × x, and sin φ = y_U / cos θ
/// ```
fn lean_at(made: &Stood, heading: Option<f64>) -> Lean {
    let (Some(was), Some(now)) = (made.heading_rad, heading) else {
        return made.lean;
    };
    let up = made.lean.site_turn(was) * holdline_geom::frame::Direction::metres(0.0, 0.0, 1.0);
    let n = up.vector();
    let (sin, cos) = now.sin_cos();
    let pitch = (-(n.x * sin + n.y * cos) / n.z).atan();
    let x = [pitch.cos() * sin, pitch.cos() * cos];
    let y_up = n.x * x[1] - n.y * x[0];
    let roll = (y_up / pitch.cos()).clamp(-1.0, 1.0).asin();
    Lean { pitch, roll }
}

/// What would be read there, with the same antennas and columns as in a shot made.
fn readings_of(model: &ToothModel, candidate: &Candidate, like: &Stood) -> Option<Readings<f64>> {
    let mut readings = model.readings_at(&candidate.joints, &candidate.lean).ok()?;
    let offset = model.geometry().heading_offset_rad.map_or(0.0, |m| m.value);
    let heading = candidate.heading_rad.map(|heading| heading + offset);
    readings.heading_rad = like.readings.heading_rad.and(heading);
    for (idx, was) in like.readings.antennas_m.iter().enumerate() {
        if let (Some(_), Some(heading)) = (was, candidate.heading_rad) {
            let [x, y, z] = model.geometry().levers_m[idx].map(|m| m.value);
            let arm = candidate.lean.site_turn(heading)
                * (Point::metres(x, y, z) - Point::metres(0.0, 0.0, 0.0));
            let v = arm.vector();
            let [e, n, u] = like.stand_m;
            readings.antennas_m[idx] = Some([e + v.x, n + v.y, u + v.z]);
        }
    }
    Some(readings)
}

/// How far the two best are apart in a pose: the first's effect less the second's, and the second's slopes.
fn apart(
    seen: &Seen,
    pair: [&Tried; 2],
    readings: &Readings<f64>,
) -> Option<([f64; 3], Vec<[f64; 3]>)> {
    let effect = |tried: &Tried| {
        let hypothesis = &tried.hypothesis;
        seen.scene.effect_at(
            readings,
            &hypothesis.changes(),
            &hypothesis.directions(),
            &tried.fitted.sizes,
        )
    };
    let (first, _) = effect(pair[0])?;
    let (second, slopes) = effect(pair[1])?;
    Some(([0, 1, 2].map(|axis| first[axis] - second[axis]), slopes))
}

fn gap_so_far(seen: &Seen, [first, second]: [&Tried; 2]) -> Gap {
    // What is left by the second less what is left by the first: the first's effect less the second's.
    let difference: Vec<f64> = second
        .fitted
        .left_m
        .iter()
        .zip(&first.fitted.left_m)
        .map(|(b, a)| b - a)
        .collect();
    let r = seen.white.white(&difference);
    let slopes = &second.fitted.slopes;
    let k = slopes.len();
    Gap {
        normal: DMatrix::from_fn(k, k, |i, j| dot(&slopes[i], &slopes[j])),
        right: DVector::from_fn(k, |i, _| dot(&slopes[i], &r)),
        whole: dot(&r, &r),
    }
}

fn told(
    model: &ToothModel,
    candidate: &Candidate,
    adds: f64,
    tests: Tests,
    also: Option<&str>,
) -> NextShot {
    let front = model.geometry().front.values();
    let tooth = front_pose(&front, &candidate.joints).tooth_house;
    let q = &candidate.joints;
    let degrees = |angle: f64| format!("{:.0}°", angle.to_degrees());
    let mut words = format!(
        "Put the tooth {:.1} m ahead of the swing axis and {:.1} m above the track ground (boom {}, stick {}, bucket {})",
        tooth.x(),
        tooth.z(),
        degrees(q.boom),
        degrees(q.stick),
        degrees(q.bucket),
    );
    if let Some(heading) = candidate.heading_rad {
        words.push_str(&format!(", boom towards azimuth {}", degrees(heading)));
    }
    words.push_str(", read the sensors and survey the tooth");
    words.push_str(&also.map_or(".".to_owned(), |also| format!(" {also}.")));
    match tests.simple {
        Some(Test::Curl) => words.push_str(" A curl test tells as well: one tooth on one mark, through three or more bucket attitudes."),
        Some(Test::Spin) => words.push_str(" A spin test tells as well: the same tooth on one mark from headings 90° apart."),
        Some(Test::Reach) => words.push_str(" A reach test tells as well: one level, the tooth near, mid and far."),
        Some(Test::Any | Test::Same | Test::Lean) | None => {}
    }
    if tests.lean {
        words.push_str(" A lean test tells more: the same mark with the house leaning 3° to 5° to one side, on firm ground.");
    }
    NextShot {
        words,
        separates: [0, 1],
        adds,
        joints: candidate.joints,
        lean: candidate.lean,
        heading_rad: candidate.heading_rad,
        tooth_house_m: [tooth.x(), tooth.z()],
    }
}
