//! The budget over the working envelope, in the boom plane.

use super::extras::Parts;
use super::propagate::{Six, along, largest_in_plan};
use super::reach_cell::Searcher;
use super::{Budget, BudgetPose};
use crate::calibrate::chain::{ClosedPose, Stand};
use crate::machine::claim::Joint;
use crate::machine::jacobian::joints_fitted;
use crate::machine::joints::Joints;
use crate::machine::pose::front_pose;
use crate::tooth::attitude::Lean;
use holdline_geom::fault::{Fault, Faults};
use rayon::prelude::*;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

/// What a map is asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct MapAsk {
    /// Pitch and roll of the house.
    pub lean: Lean,
    /// Azimuth of the boom direction; in 3D it is needed.
    pub heading_rad: Option<f64>,
    /// Joints that the search leaves as they are: swing, post, upper boom, offset, tilt, rotation.
    pub keep: Joints,
    /// Points of the grid, along the radius and up: 2 to 400 each.
    pub n_points: [usize; 2],
    /// From where to where, forward of the swing axis, m; none: as far as it reaches.
    pub radius_m: Option<[f64; 2]>,
    /// From where to where, over the track ground, m; likewise.
    pub height_m: Option<[f64; 2]>,
    /// Bucket angles that the work uses, rad; none: its whole stroke. At full curl a bucket sensed at the idler is
    /// several times as unsure as in the middle of its stroke.
    pub bucket_rad: Option<[f64; 2]>,
    /// Attitudes of the bucket that are tried at each point, evenly all round: 8 to 360; 36 is one every 10°.
    pub n_curls: usize,
}

impl MapAsk {
    /// A map of `n_points` points over all that the machine reaches, on level ground.
    pub fn of_all(n_points: [usize; 2], heading_rad: Option<f64>) -> MapAsk {
        MapAsk {
            lean: Lean {
                pitch: 0.0,
                roll: 0.0,
            },
            heading_rad,
            keep: Joints::zero(),
            n_points,
            radius_m: None,
            height_m: None,
            bucket_rad: None,
            n_curls: 36,
        }
    }
}

/// A way to follow long work and to end it.
#[derive(Clone, Copy)]
pub struct Work<'a> {
    /// Called with how much is done, of how much; from any thread, in no certain order.
    pub progress: &'a (dyn Fn(usize, usize) + Sync),
    /// Set to end the work early.
    pub cancel: &'a AtomicBool,
}

/// The budget over a grid of points in the boom plane.
#[derive(Debug, Clone, PartialEq)]
pub struct EnvelopeMap {
    /// The lowest, innermost point: forward of the swing axis and over the track ground, in `House`, m.
    pub from_m: [f64; 2],
    /// From point to point, m.
    pub step_m: [f64; 2],
    /// Points along the radius and up.
    pub n_points: [usize; 2],
    /// Row after row from the lowest, each from the innermost outward.
    pub cells: Vec<Cell>,
    /// The factor of every U.
    pub k: f64,
    /// Sources that move the tooth somewhere and that nobody stated.
    pub missing: Vec<String>,
    /// Joints whose range the sheet does not give: the map takes them as free.
    pub ranges_unknown: Vec<Joint>,
    /// Poses that were worked out.
    pub n_poses: usize,
    /// Why the slower way was taken; none where it was not.
    pub slower_because: Option<&'static str>,
}

/// One point of the map.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Cell {
    /// No attitude that was tried puts the tooth here.
    OutOfReach,
    /// The work was ended before this point.
    NotLookedAt,
    /// The tooth gets here, but something is not stated: these figures are lower bounds.
    NotKnown(CellBudget),
    /// The largest over all attitudes that put the tooth here.
    Known(CellBudget),
}

/// The largest uncertainties over the attitudes at one point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CellBudget {
    /// Standard uncertainty along the axes of the budget's frame, m.
    pub sd_m: [f64; 3],
    /// Along the horizontal direction where it is largest, m.
    pub plan_sd_m: f64,
    /// Along the normal that was asked for, m; NaN without one.
    pub normal_sd_m: f64,
    /// The joint angles where the height is least sure.
    pub worst: Joints,
    /// How many attitudes were worked out.
    pub n_curls: usize,
}

impl EnvelopeMap {
    /// Where a point lies, forward of the swing axis and over the track ground, m.
    pub fn place_m(&self, idx: usize) -> [f64; 2] {
        let (column, row) = (idx % self.n_points[0], idx / self.n_points[0]);
        [
            self.from_m[0] + self.step_m[0] * column as f64,
            self.from_m[1] + self.step_m[1] * row as f64,
        ]
    }

    /// One figure of every known point, for a drawing: row after row from the lowest.
    pub fn values(&self, mut pick: impl FnMut(&CellBudget) -> f64) -> Vec<Option<f64>> {
        self.cells
            .iter()
            .map(|cell| match cell {
                Cell::Known(budget) => Some(pick(budget)).filter(|v| v.is_finite()),
                Cell::OutOfReach | Cell::NotLookedAt | Cell::NotKnown(_) => None,
            })
            .collect()
    }

    /// The known point where a figure is largest, and the one where it is least.
    pub fn extremes(
        &self,
        mut pick: impl FnMut(&CellBudget) -> f64,
    ) -> Option<[(usize, CellBudget); 2]> {
        let mut ends: Option<[(usize, CellBudget); 2]> = None;
        for (idx, cell) in self.cells.iter().enumerate() {
            let Cell::Known(budget) = cell else { continue };
            let [most, least] = ends.unwrap_or([(idx, *budget); 2]);
            let most = if pick(&most.1) < pick(budget) {
                (idx, *budget)
            } else {
                most
            };
            let least = if pick(budget) < pick(&least.1) {
                (idx, *budget)
            } else {
                least
            };
            ends = Some([most, least]);
        }
        ends
    }
}

/// What one thread works in.
pub(super) struct Desk<'a> {
    budget: &'a Budget,
    values: &'a [f64],
    lean: Lean,
    heading_rad: Option<f64>,
    stand: Option<Stand>,
    slopes: Vec<[f64; 3]>,
}

/// What one pose gives.
pub(super) struct Looked {
    pub sum: Six,
    pub missing: bool,
}

impl<'a> Desk<'a> {
    pub fn new(budget: &'a Budget, values: &'a [f64], ask: &MapAsk) -> Desk<'a> {
        Desk {
            budget,
            values,
            lean: ask.lean,
            heading_rad: ask.heading_rad,
            stand: None,
            slopes: vec![[f64::NAN; 3]; budget.terms.len()],
        }
    }

    /// Covariance of one pose; none where the linkage cannot close.
    pub fn look(&mut self, joints: &Joints) -> Option<Looked> {
        let budget = self.budget;
        match budget.chain.closed() {
            Some(chain) => {
                let stand = self
                    .stand
                    .get_or_insert_with(|| chain.stand(self.values, self.lean));
                let pose: ClosedPose = chain.at_joints(self.values, *joints, stand)?;
                let (listed, extra) = self.slopes.split_at_mut(budget.chain.names().len());
                let ear = chain.slopes(self.values, &pose, budget.frame, listed);
                let parts = Parts::of_closed(budget, &pose, ear);
                budget.extra_slopes(&parts, joints, &self.lean, listed, extra);
            }
            None => {
                let pose = BudgetPose {
                    joints: *joints,
                    lean: self.lean,
                    heading_rad: self.heading_rad,
                };
                self.slopes = budget.slopes(&pose).ok()?.by_term;
            }
        }
        Some(Looked {
            sum: budget.mixer.covariance(&self.slopes),
            missing: budget.mixer.missing(&self.slopes).next().is_some(),
        })
    }

    /// Marks the sources that are missing in the pose looked at last.
    pub fn note_missing(&self, noted: &mut [bool]) {
        for place in self.budget.mixer.missing(&self.slopes) {
            noted[place] = true;
        }
    }
}

/// The map: at every point of a grid the largest uncertainty over all the attitudes that put the tooth there.
///
/// The grid lies in the boom plane of `House`. The rows are shared out over all cores; the result is the same on any
/// number of them.
///
/// - Attitudes: evenly all round, and the ends of every run of them, where a stroke ends.
/// - Units: m. Method: as [`super::at_pose`], point by point.
///
/// # Errors
///
/// `B005` no heading in 3D; `B007` a grid that cannot be meant; `B008` a machine that reaches nothing there.
pub fn map(budget: &Budget, ask: &MapAsk, work: &Work<'_>) -> Result<EnvelopeMap, Faults> {
    let Prepared {
        values,
        from_m,
        step_m,
    } = prepared(budget, ask)?;
    let searcher = Searcher::new(budget, ask);
    let [n_right, n_up] = ask.n_points;
    let done = AtomicUsize::new(0);
    let rows: Vec<Row> = (0..n_up)
        .into_par_iter()
        .map(|row| {
            let mut result = Row::new(n_right, budget.terms.len());
            let mut desk = Desk::new(budget, &values, ask);
            for column in 0..n_right {
                if work.cancel.load(Ordering::Relaxed) {
                    break;
                }
                let at = [
                    from_m[0] + step_m[0] * column as f64,
                    from_m[1] + step_m[1] * row as f64,
                ];
                result.look(&searcher, &mut desk, at, column);
            }
            (work.progress)(1 + done.fetch_add(1, Ordering::Relaxed), n_up);
            result
        })
        .collect();
    finished(budget, ask, rows, from_m, step_m)
}

/// One row of the map, as a thread makes it.
struct Row {
    cells: Vec<Cell>,
    missing: Vec<bool>,
    n_poses: usize,
}

impl Row {
    fn new(n: usize, n_terms: usize) -> Row {
        Row {
            cells: vec![Cell::NotLookedAt; n],
            missing: vec![false; n_terms],
            n_poses: 0,
        }
    }

    fn look(
        &mut self,
        searcher: &Searcher<'_>,
        desk: &mut Desk<'_>,
        at_m: [f64; 2],
        column: usize,
    ) {
        let normal = desk.budget.ask.normal;
        let mut worst: Option<CellBudget> = None;
        let mut missing = false;
        searcher.poses_at(at_m, |joints| {
            let Some(looked) = desk.look(joints) else {
                return;
            };
            if looked.missing && !missing {
                missing = true;
                desk.note_missing(&mut self.missing);
            }
            self.n_poses += 1;
            let one = cell_of(&looked.sum, normal, joints);
            worst = Some(match worst {
                None => one,
                Some(worst) => larger(worst, one),
            });
        });
        self.cells[column] = match worst {
            None => Cell::OutOfReach,
            Some(budget) if !missing && is_number(&budget, normal.is_some()) => Cell::Known(budget),
            Some(budget) => Cell::NotKnown(budget),
        };
    }
}

fn is_number(budget: &CellBudget, normal: bool) -> bool {
    budget.sd_m.iter().all(|s| s.is_finite())
        && budget.plan_sd_m.is_finite()
        && (!normal || budget.normal_sd_m.is_finite())
}

pub(super) fn cell_of(sum: &Six, normal: Option<[f64; 3]>, joints: &Joints) -> CellBudget {
    CellBudget {
        sd_m: [sum[0].sqrt(), sum[3].sqrt(), sum[5].sqrt()],
        plan_sd_m: largest_in_plan(sum).sqrt(),
        normal_sd_m: normal.map_or(f64::NAN, |n| along(sum, n).sqrt()),
        worst: *joints,
        n_curls: 1,
    }
}

/// The larger of each figure; what is not a number stays.
pub(super) fn larger(a: CellBudget, b: CellBudget) -> CellBudget {
    let most = |a: f64, b: f64| if a.is_nan() || b <= a { a } else { b };
    CellBudget {
        sd_m: [0, 1, 2].map(|k| most(a.sd_m[k], b.sd_m[k])),
        plan_sd_m: most(a.plan_sd_m, b.plan_sd_m),
        normal_sd_m: most(a.normal_sd_m, b.normal_sd_m),
        worst: if a.sd_m[2] < b.sd_m[2] {
            b.worst
        } else {
            a.worst
        },
        n_curls: a.n_curls + b.n_curls,
    }
}

/// What all points of a map share.
pub(super) struct Prepared {
    /// The chain's list, with the readings of the stand.
    pub values: Vec<f64>,
    pub from_m: [f64; 2],
    pub step_m: [f64; 2],
}

/// The list of values with the readings of the stand, and the grid.
pub(super) fn prepared(budget: &Budget, ask: &MapAsk) -> Result<Prepared, Faults> {
    let [n_right, n_up] = ask.n_points;
    let counts = (2..=400).contains(&n_right) && (2..=400).contains(&n_up);
    if !(counts && (8..=360).contains(&ask.n_curls)) {
        return Err(Fault::new(
            "B007",
            "map",
            format!("{n_right} × {n_up} points, {} attitudes", ask.n_curls),
            "2 to 400 points each way, 8 to 360 attitudes",
            "a finer map takes longer and shows no more than the sheet can print",
        )
        .into());
    }
    let envelope = envelope(budget, &ask.keep);
    let span = |asked: Option<[f64; 2]>, reached: [f64; 2]| asked.unwrap_or(reached);
    let (radius, height) = (
        span(ask.radius_m, envelope[0]),
        span(ask.height_m, envelope[1]),
    );
    let turned = ask.bucket_rad.unwrap_or([0.0, 1.0]);
    for (at, [from, to]) in [
        ("map.radius", radius),
        ("map.height", height),
        ("map.bucket", turned),
    ] {
        if !(from < to && from.is_finite() && to.is_finite() && to - from <= 200.0) {
            return Err(Fault::new(
                "B008",
                at,
                format!("{from} m to {to} m"),
                "from a smaller to a larger number, at most 200 m apart",
                "leave it out to see all that the machine reaches",
            )
            .into());
        }
    }
    let middle = Joints {
        boom: middle(budget, Joint::Boom),
        stick: middle(budget, Joint::Stick),
        bucket: middle(budget, Joint::Bucket),
        ..ask.keep
    };
    let readings = budget.readings(&BudgetPose {
        joints: middle,
        lean: ask.lean,
        heading_rad: ask.heading_rad,
    })?;
    let values = budget.chain.values(&budget.model, &readings);
    let step = |[from, to]: [f64; 2], n: usize| (to - from) / (n - 1) as f64;
    Ok(Prepared {
        values,
        from_m: [radius[0], height[0]],
        step_m: [step(radius, n_right), step(height, n_up)],
    })
}

fn middle(budget: &Budget, joint: Joint) -> f64 {
    let range = budget.model.machine().range(joint);
    range.map_or(0.0, |r| (r.nominal_rad[0] + r.nominal_rad[1]) / 2.0)
}

/// The box about all that the tooth reaches, forward of the swing axis and up, m; a little more on every side.
fn envelope(budget: &Budget, keep: &Joints) -> [[f64; 2]; 2] {
    const N_STEPS: usize = 16;
    let front = budget.model.geometry().front.values();
    let angle = |joint: Joint, idx: usize| {
        let range = budget.model.machine().range(joint);
        let [min, max] = range.map_or([-3.1, 3.1], |r| r.nominal_rad);
        min + (max - min) * idx as f64 / N_STEPS as f64
    };
    let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
    for boom in 0..=N_STEPS {
        for stick in 0..=N_STEPS {
            for bucket in 0..=N_STEPS {
                let q = Joints {
                    boom: angle(Joint::Boom, boom),
                    stick: angle(Joint::Stick, stick),
                    bucket: angle(Joint::Bucket, bucket),
                    ..*keep
                };
                let tooth = front_pose(&front, &q).tooth_house;
                for (k, c) in [tooth.x(), tooth.z()].into_iter().enumerate() {
                    low[k] = low[k].min(c);
                    high[k] = high[k].max(c);
                }
            }
        }
    }
    const MORE_M: f64 = 0.05;
    [
        [(low[0] - MORE_M).max(0.0), high[0] + MORE_M],
        [low[1] - MORE_M, high[1] + MORE_M],
    ]
}

fn finished(
    budget: &Budget,
    ask: &MapAsk,
    rows: Vec<Row>,
    from_m: [f64; 2],
    step_m: [f64; 2],
) -> Result<EnvelopeMap, Faults> {
    let mut names: Vec<String> = Vec::new();
    for (place, term) in budget.terms.iter().enumerate() {
        if rows.iter().any(|row| row.missing[place]) && !names.contains(&term.group) {
            names.push(term.group.clone());
        }
    }
    let front = &budget.model.geometry().front;
    let unknown = joints_fitted(front)
        .into_iter()
        .filter(|joint| *joint != Joint::Swing && budget.model.machine().range(*joint).is_none());
    Ok(EnvelopeMap {
        from_m,
        step_m,
        n_points: ask.n_points,
        k: budget.k(),
        missing: names,
        ranges_unknown: unknown.collect(),
        n_poses: rows.iter().map(|row| row.n_poses).sum(),
        cells: rows.into_iter().flat_map(|row| row.cells).collect(),
        slower_because: budget.slower_because(),
    })
}
