//! What the machine is good enough for: U against the tolerance of a task, and over which part of its reach.

use super::ask::Coverage;
use super::at_pose::PoseBudget;
use super::map::{Cell, CellBudget, EnvelopeMap};
use crate::sources;

/// A tolerance as the task gives it, about the design, m.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Tolerance {
    /// Between two limits: judged with k = 2. `lower_m` may be positive and `upper_m` negative, as in +0/−50 mm.
    Between {
        /// Lowest that passes.
        lower_m: f64,
        /// Highest that passes.
        upper_m: f64,
        /// Where one steers to; none: the middle.
        aim_m: Option<f64>,
    },
    /// Never beyond one limit: judged with k = 1.64.
    OneLimit {
        /// How far from the limit one steers.
        margin_m: f64,
    },
}

/// Which uncertainty a task is judged by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Judged {
    /// Height.
    Up,
    /// The worst horizontal direction.
    Plan,
    /// Along the normal that the budget was asked for.
    Normal,
}

/// k of a circle that holds 95 % of a plane normal distribution: √(−2 ln 0.05).
///
/// With the sd along the worst horizontal direction the circle holds 95 % or more.
pub const K_IN_A_CIRCLE: f64 = 2.447_746_830_680_816;

/// How well U fits into the tolerance.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Fitness {
    /// U <= t/3.
    Comfortable,
    /// U <= 2t/3: with check shots.
    WithChecks,
    /// More: another method, or another tolerance.
    TooCoarse,
}

/// The answer to "can this machine hold it?". Not knowing is an answer.
#[derive(Debug, Clone, PartialEq)]
pub enum Verdict {
    /// Shown, everywhere that was looked at: U is at most 2t/3.
    Holds(Held),
    /// Shown the other way: somewhere that was looked at U is larger.
    DoesNotHold(Held),
    /// Neither could be shown. Everything downstream treats it as not holding.
    NotShown {
        /// What is missing.
        because: String,
    },
}

/// The figures of an answer. There is no way to one but through [`judge`], [`judge_map`] and [`verdict`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Held {
    u_at_most_m: f64,
    half_m: f64,
    aim_m: f64,
    k: f64,
    fitness: Fitness,
}

impl Held {
    /// The largest U that was looked at, m.
    pub fn u_at_most_m(&self) -> f64 {
        self.u_at_most_m
    }

    /// What U is held against: the way from where one steers to the nearer limit, m.
    pub fn half_m(&self) -> f64 {
        self.half_m
    }

    /// Where one steers to, from the design, m; from the limit where there is only one.
    pub fn aim_m(&self) -> f64 {
        self.aim_m
    }

    /// The factor of U.
    pub fn k(&self) -> f64 {
        self.k
    }

    /// How well the largest U fits.
    pub fn fitness(&self) -> Fitness {
        self.fitness
    }
}

impl Verdict {
    /// The one reading of the answer that may be built on.
    pub fn holds(&self) -> bool {
        match self {
            Verdict::Holds(_) => true,
            Verdict::DoesNotHold(_) | Verdict::NotShown { .. } => false,
        }
    }

    fn not_shown(because: impl Into<String>) -> Verdict {
        Verdict::NotShown {
            because: because.into(),
        }
    }
}

impl Tolerance {
    /// The factor that this tolerance is judged with.
    pub fn coverage(&self) -> Coverage {
        match self {
            Tolerance::Between { .. } => Coverage::TwoSided,
            Tolerance::OneLimit { .. } => Coverage::OneSided,
        }
    }

    /// The way from the aim to the nearer limit, and the aim, m; none for what is no tolerance.
    pub fn half_and_aim_m(&self) -> Option<[f64; 2]> {
        let (half, aim) = match *self {
            Tolerance::Between {
                lower_m,
                upper_m,
                aim_m,
            } => {
                let aim = aim_m.unwrap_or((lower_m + upper_m) / 2.0);
                let (below, above) = (aim - lower_m, upper_m - aim);
                (if above < below { above } else { below }, aim)
            }
            Tolerance::OneLimit { margin_m } => (margin_m, margin_m),
        };
        (0.0 < half && half.is_finite() && aim.is_finite()).then_some([half, aim])
    }

    /// The factor with which something is judged by it: in plan a circle is meant, and a circle has no one side.
    pub fn k(&self, judged: Judged) -> f64 {
        match judged {
            Judged::Plan => K_IN_A_CIRCLE,
            Judged::Up | Judged::Normal => self.coverage().k(),
        }
    }

    /// Standard uncertainty up to which the task can be done with checks, m: 2t/3k.
    pub fn sd_at_most_m(&self, judged: Judged) -> Option<f64> {
        let [half, _] = self.half_and_aim_m()?;
        Some(2.0 * half / 3.0 / self.k(judged))
    }
}

/// Judges one standard uncertainty.
///
/// ```text
/// comfortable   U <= t/3        usable with checks   U <= 2t/3        else another method or tolerance
/// U = k u,  k = 2 between two limits, 1.64 against one, 2.45 in a circle
/// ```
///
/// - Symbols: t the way from where one steers to the nearer limit. Units: m.
/// - Source: [`sources::GUARDED_DECISION`] for judging a tolerance with its uncertainty; the thirds are trade practice.
/// - A figure that is missing or not a number never holds.
pub fn judge(sd_m: Option<f64>, judged: Judged, tolerance: &Tolerance) -> Verdict {
    let _ = sources::GUARDED_DECISION;
    let Some([half_m, aim_m]) = tolerance.half_and_aim_m() else {
        return Verdict::not_shown(
            "the tolerance leaves nothing between where one steers and its limit",
        );
    };
    let k = tolerance.k(judged);
    let Some(u) = sd_m.map(|sd| k * sd).filter(|u| 0.0 < *u && u.is_finite()) else {
        return Verdict::not_shown("the tooth has no uncertainty here");
    };
    let fitness = fitness_of(u, half_m);
    let held = Held {
        u_at_most_m: u,
        half_m,
        aim_m,
        k,
        fitness,
    };
    match fitness {
        Fitness::Comfortable | Fitness::WithChecks => Verdict::Holds(held),
        Fitness::TooCoarse => Verdict::DoesNotHold(held),
    }
}

fn fitness_of(u: f64, half_m: f64) -> Fitness {
    if 3.0 * u <= half_m {
        Fitness::Comfortable
    } else if 3.0 * u <= 2.0 * half_m {
        Fitness::WithChecks
    } else {
        Fitness::TooCoarse
    }
}

/// Judges one pose.
pub fn verdict(pose: &PoseBudget, judged: Judged, tolerance: &Tolerance) -> Verdict {
    if !pose.missing.is_empty() {
        return Verdict::not_shown(format!("not stated: {}", pose.missing.join(", ")));
    }
    let sd_m = match judged {
        Judged::Up => pose.sd_m.map(|sd| sd[2]),
        Judged::Plan => pose.plan_sd_m(),
        Judged::Normal => match &pose.normal {
            None => return Verdict::not_shown("no face was asked for"),
            Some(normal) => normal.sd_m,
        },
    };
    judge(sd_m, judged, tolerance)
}

/// A part of the envelope that a task needs; all of it where nothing is said.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Working {
    /// Forward of the swing axis, m.
    pub radius_m: Option<[f64; 2]>,
    /// Over the track ground, m.
    pub height_m: Option<[f64; 2]>,
}

/// The answer over the envelope.
#[derive(Debug, Clone, PartialEq)]
pub struct HeldWhere {
    /// The answer for all of the part that the task needs.
    pub verdict: Verdict,
    /// Points that the tooth gets to, within the part.
    pub n_reached: usize,
    /// Those where it holds.
    pub n_held: usize,
    /// Those where it is comfortable.
    pub n_comfortable: usize,
    /// Part of the points reached where it holds, 0 to 1.
    pub share_held: f64,
    /// Area of the boom plane where it holds, and area reached, m²: a grid's square a point.
    pub area_held_m2: f64,
    /// Area reached, m².
    pub area_reached_m2: f64,
    /// The widest run of radii where it holds at every height that is reached, m; none where there is none.
    pub reach_band_m: Option<[f64; 2]>,
    /// Part of the points asked for that the tooth gets to, 0 to 1; all of them where no box was named.
    pub share_reached: f64,
    /// From where to where the tooth gets within the part, forward and up, m; none where it gets nowhere.
    pub reached_m: Option<[[f64; 2]; 2]>,
}

/// With less of the part that was named within reach than this the answer would speak of another part.
pub const REACHED_AT_LEAST: f64 = 0.95;

/// With fewer points of the part than this the worst of it may lie between them.
pub const POINTS_AT_LEAST: usize = 50;

/// Judges a map: for all of the part that a task needs, and where in it.
///
/// A part that the tooth does not get to from end to end, or of which fewer than [`POINTS_AT_LEAST`] points were looked
/// at, shows nothing: what was not looked at is not known to hold.
pub fn judge_map(
    map: &EnvelopeMap,
    working: &Working,
    judged: Judged,
    tolerance: &Tolerance,
) -> HeldWhere {
    let pick = |cell: &CellBudget| match judged {
        Judged::Up => cell.sd_m[2],
        Judged::Plan => cell.plan_sd_m,
        Judged::Normal => cell.normal_sd_m,
    };
    let mut tally = Tally::new(map.n_points[0]);
    for (idx, cell) in map.cells.iter().enumerate() {
        let [radius, height] = map.place_m(idx);
        if !(inside(radius, working.radius_m) && inside(height, working.height_m)) {
            continue;
        }
        tally.n_in_part += 1;
        tally.add(
            cell,
            idx % map.n_points[0],
            [radius, height],
            |budget| judge(Some(pick(budget)), judged, tolerance),
            pick,
        );
    }
    let square = map.step_m[0] * map.step_m[1];
    HeldWhere {
        verdict: tally.verdict(map, working, judged, tolerance),
        share_reached: tally.share_reached(working),
        reached_m: tally.reached_m,
        n_reached: tally.n_reached,
        n_held: tally.n_held,
        n_comfortable: tally.n_comfortable,
        share_held: if 0 < tally.n_reached {
            tally.n_held as f64 / tally.n_reached as f64
        } else {
            0.0
        },
        area_held_m2: tally.n_held as f64 * square,
        area_reached_m2: tally.n_reached as f64 * square,
        reach_band_m: tally
            .band()
            .map(|ends| ends.map(|column| map.place_m(column)[0])),
    }
}

fn inside(value: f64, span: Option<[f64; 2]>) -> bool {
    span.is_none_or(|[from, to]| from <= value && value <= to)
}

/// The finest grid that a map takes, points each way.
const MOST_POINTS: usize = 400;

/// Points counted.
struct Tally {
    n_reached: usize,
    n_held: usize,
    n_comfortable: usize,
    n_not_known: usize,
    n_not_looked_at: usize,
    largest_sd_m: f64,
    n_in_part: usize,
    reached_m: Option<[[f64; 2]; 2]>,
    /// By column: points reached, and points where it holds.
    columns: Vec<[usize; 2]>,
}

impl Tally {
    fn new(n_columns: usize) -> Tally {
        Tally {
            n_reached: 0,
            n_held: 0,
            n_comfortable: 0,
            n_not_known: 0,
            n_not_looked_at: 0,
            largest_sd_m: 0.0,
            n_in_part: 0,
            reached_m: None,
            columns: vec![[0, 0]; n_columns],
        }
    }

    fn add(
        &mut self,
        cell: &Cell,
        column: usize,
        at_m: [f64; 2],
        judge: impl Fn(&CellBudget) -> Verdict,
        pick: impl Fn(&CellBudget) -> f64,
    ) {
        let budget = match cell {
            Cell::OutOfReach => return,
            Cell::NotLookedAt => {
                self.n_not_looked_at += 1;
                return;
            }
            Cell::NotKnown(_) => {
                self.reach(at_m);
                self.n_not_known += 1;
                self.n_reached += 1;
                self.columns[column][0] += 1;
                return;
            }
            Cell::Known(budget) => budget,
        };
        self.reach(at_m);
        self.n_reached += 1;
        self.columns[column][0] += 1;
        let sd = pick(budget);
        if !(sd <= self.largest_sd_m) {
            self.largest_sd_m = sd;
        }
        if let Verdict::Holds(held) = judge(budget) {
            self.n_held += 1;
            self.columns[column][1] += 1;
            self.n_comfortable += usize::from(held.fitness() == Fitness::Comfortable);
        }
    }

    fn reach(&mut self, at_m: [f64; 2]) {
        let spans = self.reached_m.get_or_insert(at_m.map(|at| [at, at]));
        for ([low, high], at) in spans.iter_mut().zip(at_m) {
            *low = low.min(at);
            *high = high.max(at);
        }
    }

    fn share_reached(&self, working: &Working) -> f64 {
        let named = working.radius_m.is_some() && working.height_m.is_some();
        if named && 0 < self.n_in_part {
            self.n_reached as f64 / self.n_in_part as f64
        } else {
            1.0
        }
    }

    /// What was asked for and is not reached, to within a step of the grid.
    fn not_reached(&self, map: &EnvelopeMap, working: &Working) -> Option<String> {
        let reached = self.reached_m?;
        let asked = [working.radius_m, working.height_m];
        let words = ["of reach", "over the track ground"];
        (0..2).find_map(|axis| {
            let [from, to] = asked[axis]?;
            let [low, high] = reached[axis];
            let step = map.step_m[axis];
            let ends = from >= low - step && to <= high + step;
            (!ends).then(|| {
                format!(
                    "the tooth does not get to all of {from} m to {to} m {}: within the part asked for it gets from \
                     {low:.1} m to {high:.1} m",
                    words[axis]
                )
            })
        })
    }

    fn verdict(
        &self,
        map: &EnvelopeMap,
        working: &Working,
        judged: Judged,
        tolerance: &Tolerance,
    ) -> Verdict {
        if 0 < self.n_not_looked_at {
            return Verdict::not_shown("the map was ended before all of it was looked at");
        }
        if self.n_reached == 0 {
            return Verdict::not_shown("the tooth gets to no point of the part that was asked for");
        }
        if 0 < self.n_not_known {
            return Verdict::not_shown(if map.missing.is_empty() {
                "a figure is not a number".to_owned()
            } else {
                format!("not stated: {}", map.missing.join(", "))
            });
        }
        let judged = judge(Some(self.largest_sd_m), judged, tolerance);
        // That it does not hold somewhere is shown by the point where it does not.
        if !judged.holds() {
            return judged;
        }
        if let Some(because) = self.not_reached(map, working) {
            return Verdict::not_shown(because);
        }
        let share = self.share_reached(working);
        if !(REACHED_AT_LEAST <= share) {
            return Verdict::not_shown(format!(
                "the tooth gets to {:.0} % of the part asked for: name the part that the job needs and the machine reaches",
                100.0 * share
            ));
        }
        if self.n_reached < POINTS_AT_LEAST {
            let finer = (POINTS_AT_LEAST as f64 / self.n_reached as f64)
                .sqrt()
                .ceil() as usize
                + 1;
            let [n_right, n_up] = map.n_points.map(|n| (n * finer).min(MOST_POINTS));
            return Verdict::not_shown(format!(
                "looked at too coarsely: {} points of that part; ask for a grid of {n_right} × {n_up}",
                self.n_reached
            ));
        }
        judged
    }

    /// The widest run of columns that hold wherever they are reached.
    fn band(&self) -> Option<[usize; 2]> {
        let mut widest: Option<[usize; 2]> = None;
        let mut from: Option<usize> = None;
        for (column, [reached, held]) in self.columns.iter().enumerate() {
            if 0 < *reached && reached == held {
                let start = *from.get_or_insert(column);
                if widest.is_none_or(|[a, b]| b - a < column - start) {
                    widest = Some([start, column]);
                }
            } else {
                from = None;
            }
        }
        widest
    }
}

impl PoseBudget {
    /// Standard uncertainty along the horizontal direction where it is largest, m; none when something is missing.
    pub fn plan_sd_m(&self) -> Option<f64> {
        self.sd_m?;
        let [[xx, xy, _], [_, yy, _], _] = self.known_m2;
        let half = (xx - yy) / 2.0;
        let sd = ((xx + yy) / 2.0 + (half * half + xy * xy).sqrt()).sqrt();
        sd.is_finite().then_some(sd)
    }
}
