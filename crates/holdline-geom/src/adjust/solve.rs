//! The way to the least squares: full steps where they help, damped and shortened ones where they do not.

use super::adjusted::{Adjusted, Found};
use super::bend;
use super::equations::Problem;
use super::factor::{Factor, Layout};
use super::linearise::{Keep, Place, Scratch, adjust_readings, linearise};
use super::plan::Plan;
use super::search;
use crate::fault::{Fault, Faults};

/// Damping, as a share of the diagonal, when a full step did not help.
const FIRST_DAMPING: f64 = 1e-3;

/// Damping at the start of a careful way.
const CAREFUL_DAMPING: f64 = 1.0;

/// Damping below this is none.
const NO_DAMPING: f64 = 1e-15;

/// Beyond this damping a step is nothing.
const MOST_DAMPING: f64 = 1e16;

/// A step is halved so many times when the equations have no value where it leads.
const N_HALVINGS: usize = 12;

/// So many full steps that promise less than χ² can show are rounding, and the end.
const N_ROUNDING: usize = 5;

/// Readings are at rest when their misclosures are below this share of what is left.
const SHARE_AT_REST: f64 = 1e-3;

/// And below this share of the step: what they leave in χ² is of their square.
const SHARE_OF_STEP: f64 = 0.03;

/// Rounds that readings get to come to rest.
const N_ROUNDS_OF_READINGS: usize = 12;

/// A change below this share of a number is rounding.
const ROUNDING: f64 = 8.0 * f64::EPSILON;

/// Where an adjustment begins.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Start {
    /// At the starts given, and there alone.
    Given,
    /// At the starts given; where that ends badly, also with bounded weights and from places
    /// drawn about the starts with this seed. Whatever finds the place, the result is the
    /// plain least squares there.
    Search {
        /// Seed of the draws.
        seed: u64,
    },
}

/// How an adjustment is run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct How {
    /// Where it begins.
    pub start: Start,
    /// The last step is shorter than this share of its own uncertainty: of every unknown's sd,
    /// and of the sd of every sum of unknowns.
    ///
    /// The step is still taken; what it leaves is smaller by as much as it was smaller than the one
    /// before, mostly a hundred times and more. So at 1e-3 some 1e-5 of an sd is left, where an sd
    /// itself is seldom known to 1e-1, and no further round is spent on it.
    pub small_step: f64,
    /// A step shorter than this, in sd as stated, is short enough whatever the residuals show.
    ///
    /// Of readings that fit to the last digit the residuals show nothing but rounding.
    /// 0 asks for all the digits there are.
    pub small_at_least: f64,
    /// Rounds at most.
    pub n_steps_at_most: usize,
}

impl Default for How {
    fn default() -> How {
        How {
            start: Start::Search { seed: 1 },
            small_step: 1e-3,
            small_at_least: 0.0,
            n_steps_at_most: 200,
        }
    }
}

/// Room to work in. Kept between adjustments, so that none of their rounds asks for memory.
#[derive(Debug, Default)]
pub struct Room {
    pub(super) plan: Plan,
    pub(super) scratch: Scratch,
    pub(super) here: Place,
    pub(super) there: Place,
    pub(super) factor: Factor,
    pub(super) step: Vec<f64>,
    pub(super) step_x: Vec<f64>,
}

impl Room {
    /// Empty room.
    pub fn new() -> Room {
        Room::default()
    }

    pub(super) fn layout(&self) -> Layout {
        Layout {
            n_free: self.plan.n_free,
            width: self.plan.width,
        }
    }

    /// Stands at `x` with the readings as read.
    pub(super) fn stand(&mut self, problem: &Problem, x: &[f64]) -> Result<(), Fault> {
        self.here.x.clear();
        self.here.x.extend_from_slice(x);
        if let Some(elimination) = &self.plan.elimination {
            elimination.keep(&mut self.here.x);
        }
        self.here.l.clear();
        for at in 0..self.plan.blocks.len() {
            self.here
                .l
                .extend_from_slice(problem.equations.readings(at));
        }
        self.look(problem, Side::Here)
    }

    /// Linearises at a place and sums its rows up.
    pub(super) fn look(&mut self, problem: &Problem, side: Side) -> Result<(), Fault> {
        let layout = self.layout();
        let place = match side {
            Side::Here => &mut self.here,
            Side::There => &mut self.there,
        };
        linearise(problem, &self.plan, &mut self.scratch, place, Keep::Rows)?;
        if self.factor.sum_up(&place.rows, layout) {
            Ok(())
        } else {
            Err(no_number())
        }
    }

    /// Writes to `there` where a share of the step leads.
    pub(super) fn go(&mut self, problem: &Problem, share: f64) {
        self.step_x.clear();
        self.step_x.resize(self.here.x.len(), 0.0);
        if share != 1.0 {
            self.step.iter_mut().for_each(|dx| *dx *= share);
        }
        match &self.plan.elimination {
            None => self.step_x.copy_from_slice(&self.step),
            Some(elimination) => elimination.spread(&self.step, &mut self.step_x),
        }
        self.there.x.clear();
        let moved = self.here.x.iter().zip(&self.step_x).map(|(x, dx)| x + dx);
        self.there.x.extend(moved);
        adjust_readings(
            problem,
            &self.plan,
            &mut self.scratch,
            &self.here,
            &self.step,
            &mut self.there.l,
        );
    }

    /// True when the step moves no unknown by more than rounding.
    fn stands_still(&self) -> bool {
        let pairs = self.here.x.iter().zip(&self.step_x);
        pairs
            .into_iter()
            .all(|(x, dx)| dx.abs() <= ROUNDING * x.abs())
    }
}

/// One of the two places a round works with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Side {
    Here,
    There,
}

fn no_number() -> Fault {
    Fault::new(
        "A007",
        "equations",
        "a value or a slope that is not a number",
        "equations with a value at the start and near it",
        "begin nearer to what was measured",
    )
}

/// Adjusts: the unknowns and readings that fulfil the equations with the least
/// `vᵀ Q⁻¹ v` of readings and priors, and how sure the unknowns are.
///
/// Used wherever something is found from more than it takes.
///
/// ```text
/// dx = −(Aᵀ M⁻¹ A + μ D)⁻¹ Aᵀ M⁻¹ w        D = diag(Aᵀ M⁻¹ A)       M = B Q Bᵀ
/// v  = −Q Bᵀ M⁻¹ (A dx + w)                 w = f(x, l̂) + B (l − l̂)
/// ```
///
/// `x` unknowns, `l` readings as read, `l̂ = l + v` adjusted, `A = ∂f/∂x` and `B = ∂f/∂l` there,
/// `Q` covariance of the readings, `μ` damping, which is 0 in the last steps and in the covariance.
///
/// - Source: K. Levenberg 1944, D. W. Marquardt 1963 for the damping; W. E. Deming 1943 and
///   A. J. Pope 1972 for readings in the equations (all from memory).
/// - Exact to: 6 digits and more on every nonlinear and linear set of NIST's that stands in `checks`.
///
/// # Errors
///
/// `A001` to `A005` for what cannot be used, all at once; `A006` when no place was found where the steps
/// end; `A007` and the equations' own faults when they have no value at the start; `A009`.
///
/// Directions that nothing determines are no fault: they are named in [`Adjusted::undetermined`],
/// and no sd is given for what they touch.
pub fn adjust(problem: &Problem, how: &How, room: &mut Room) -> Result<Adjusted, Faults> {
    let mut plan = std::mem::take(&mut room.plan);
    let laid_out = plan.lay_out(problem);
    room.plan = plan;
    laid_out?;
    let start: Vec<f64> = problem.unknowns.iter().map(|u| u.start).collect();
    let direct = settle_from(problem, how, room, &start, Way::Full, Found::AsGiven);
    match how.start {
        Start::Given => Ok(direct?),
        Start::Search { .. } if direct.as_ref().is_ok_and(fits) => Ok(direct?),
        Start::Search { seed } => Ok(search::search(problem, how, room, seed, direct)?),
    }
}

/// True when χ² is no larger than what noise makes of it, or little, and nothing is left open.
pub(super) fn fits(adjusted: &Adjusted) -> bool {
    let dof = adjusted.dof as f64;
    let small = adjusted.chi2 <= dof + 4.0 * (2.0 * dof).sqrt() + 8.0;
    small && adjusted.undetermined.is_empty()
}

/// How the steps begin.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Way {
    /// Full steps until one does not help.
    Full,
    /// Short steps until they keep their promise.
    Careful,
}

/// Plain least squares from one start.
pub(super) fn settle_from(
    problem: &Problem,
    how: &How,
    room: &mut Room,
    start: &[f64],
    way: Way,
    found: Found,
) -> Result<Adjusted, Fault> {
    room.stand(problem, start)?;
    let end = settle(problem, how, room, way)?;
    Ok(Adjusted::of(problem, room, end, found))
}

/// Steps until they are small; leaves the last place in `here`, and the undamped factor next to it.
fn settle(problem: &Problem, how: &How, room: &mut Room, way: Way) -> Result<End, Fault> {
    let layout = room.layout();
    let mut damping = Damping::begin(way);
    // Whether places are compared only after their readings came to rest.
    let mut readings_settled = false;
    let mut settled_here = false;
    // Full steps in a row that promised nothing to speak of.
    let mut rounding = 0;
    for n_steps in 1..=how.n_steps_at_most {
        // Here: summed up, and not worse than any place before.
        let chi2 = room.factor.chi2(layout);
        let misclosure = room.factor.misclosure(layout);
        room.factor.factor(&room.here.rows, layout, damping.now);
        let small = (how.small_step * small_share(chi2, room)).max(how.small_at_least);
        let length = room.factor.step_in_sd();
        room.factor.step(&mut room.step);
        let promised = room.factor.promised(&room.step, damping.now);
        if damping.now == 0.0 {
            room.go(problem, 1.0);
            let near = misclosure <= small.max(how.small_step * 1e-2);
            rounding = if promised <= 1e-14 * chi2 {
                rounding + 1
            } else {
                0
            };
            let short = length <= small || room.stands_still();
            if near && short || N_ROUNDING < rounding {
                return Ok(finish(room, (chi2 - promised).max(0.0), n_steps));
            }
        } else if length <= small {
            if damping.none_failed {
                return Err(not_settled(n_steps, NO_STEP));
            }
            damping.try_none();
            continue;
        } else {
            bend::bend(problem, room);
            room.go(problem, 1.0);
        }

        let still = room.stands_still();
        let mut looked = look_shortening(problem, room);
        if looked.is_ok() && readings_settled {
            looked = settle_readings(problem, room, Side::There, length);
        }
        let fallen = chi2 - room.factor.chi2(layout);
        // A rise within the rounding of χ² is no rise; NaN is never better.
        if looked.is_ok() && -1e-13 * chi2 <= fallen && fallen.is_finite() {
            std::mem::swap(&mut room.here, &mut room.there);
            settled_here = false;
            damping.after_better(fallen / promised);
            continue;
        }
        // Back to here: its sums were overwritten.
        room.factor.sum_up(&room.here.rows, layout);
        let noise = rounding_of(chi2, &room.plan);
        let at_the_end = promised <= noise || still;
        // What a full step promises is less than χ² can show: here is the place.
        let at_rest = misclosure <= small.max(1e-6 * chi2.sqrt());
        if damping.now == 0.0 && at_the_end && at_rest {
            room.step.fill(0.0);
            room.go(problem, 1.0);
            return Ok(finish(room, chi2, n_steps));
        }
        if !settled_here && SHARE_OF_STEP * length < misclosure {
            // χ² of here was that of planes laid where the readings have not come to rest.
            (readings_settled, settled_here) = (true, true);
            if settle_readings(problem, room, Side::Here, length).is_ok() {
                continue;
            }
        }
        damping.after_worse();
        if MOST_DAMPING < damping.now {
            return Err(not_settled(n_steps, NO_STEP));
        }
    }
    Err(not_settled(how.n_steps_at_most, "the steps do not end"))
}

/// Why a search for a better place ended.
const NO_STEP: &str = "no step, however short, makes it better";

/// Damping, and what it learns from steps.
#[derive(Debug)]
struct Damping {
    now: f64,
    /// What it goes back to when a step without any does not help.
    last: f64,
    growth: f64,
    /// Steps in a row that kept their promise, and how many it takes to try without damping.
    n_kept: usize,
    n_kept_to_try: usize,
    /// Whether a step without any did not help from here.
    none_failed: bool,
}

impl Damping {
    fn begin(way: Way) -> Damping {
        Damping {
            now: match way {
                Way::Full => 0.0,
                Way::Careful => CAREFUL_DAMPING,
            },
            last: FIRST_DAMPING,
            growth: 2.0,
            n_kept: 0,
            n_kept_to_try: 3,
            none_failed: false,
        }
    }

    fn try_none(&mut self) {
        self.last = self.now;
        self.now = 0.0;
    }

    /// By how much the step kept its promise says how much less will do.
    fn after_better(&mut self, kept: f64) {
        self.growth = 2.0;
        self.none_failed = false;
        if self.now == 0.0 {
            return;
        }
        self.n_kept = if 0.9 < kept { self.n_kept + 1 } else { 0 };
        if 0.75 < kept {
            self.now /= 10.0;
        } else if 0.25 < kept {
            self.now /= 3.0;
        }
        if self.n_kept_to_try <= self.n_kept || self.now < NO_DAMPING {
            self.try_none();
        }
    }

    fn after_worse(&mut self) {
        if self.now == 0.0 {
            self.now = self.last.max(NO_DAMPING);
            self.none_failed = true;
            self.n_kept = 0;
            self.n_kept_to_try = self.n_kept_to_try.saturating_mul(2);
        } else {
            self.now *= self.growth;
            self.growth *= 2.0;
        }
    }
}

/// Step lengths are judged against the sd that the residuals themselves show where that is smaller:
/// readings with an sd stated too large would end the search too early.
fn small_share(chi2: f64, room: &Room) -> f64 {
    let n_over = room
        .plan
        .n_rows
        .saturating_sub(room.plan.n_free + room.here.n_out);
    if n_over == 0 {
        return 1.0;
    }
    (chi2 / n_over as f64).sqrt().min(1.0)
}

/// What rounding alone makes of χ²: every reading is rounded in its last place, and so is what is left of it.
fn rounding_of(chi2: f64, plan: &Plan) -> f64 {
    let each = f64::EPSILON * plan.largest_square.sqrt();
    let n = plan.n_rows as f64;
    1e-12 * chi2 + 2.0 * (chi2 * n).sqrt() * each + n * each * each
}

/// Lets the readings of a place come to rest with its unknowns held, so that its χ² is the least that
/// readings can have there, wherever the planes were laid before.
///
/// Where readings enter bent equations, χ² of two places compares only then.
fn settle_readings(
    problem: &Problem,
    room: &mut Room,
    side: Side,
    length: f64,
) -> Result<(), Fault> {
    let layout = room.layout();
    for _ in 0..N_ROUNDS_OF_READINGS {
        let enough = SHARE_AT_REST * (1.0 + room.factor.chi2(layout).sqrt());
        let enough = enough.min(SHARE_OF_STEP * length);
        if room.factor.misclosure(layout) <= enough {
            break;
        }
        let place = match side {
            Side::Here => &mut room.here,
            Side::There => &mut room.there,
        };
        let mut l = std::mem::take(&mut place.l);
        room.step_x.clear();
        room.step_x.resize(layout.n_free, 0.0);
        let (plan, scratch) = (&room.plan, &mut room.scratch);
        adjust_readings(problem, plan, scratch, place, &room.step_x, &mut l);
        place.l = l;
        room.look(problem, side)?;
    }
    Ok(())
}

/// Looks where the step leads; where the equations have no value, half as far, and so on.
fn look_shortening(problem: &Problem, room: &mut Room) -> Result<(), Fault> {
    let mut looked = room.look(problem, Side::There);
    for _ in 0..N_HALVINGS {
        if looked.is_ok() {
            break;
        }
        room.go(problem, 0.5);
        looked = room.look(problem, Side::There);
    }
    looked
}

/// Where the steps ended.
#[derive(Debug, Clone, Copy)]
pub(super) struct End {
    /// χ² there.
    pub chi2: f64,
    pub n_steps: usize,
}

/// Takes the last, undamped step. It is so short that slopes and covariance of before it hold.
fn finish(room: &mut Room, chi2: f64, n_steps: usize) -> End {
    std::mem::swap(&mut room.here.x, &mut room.there.x);
    std::mem::swap(&mut room.here.l, &mut room.there.l);
    End { chi2, n_steps }
}

fn not_settled(n_steps: usize, why: &str) -> Fault {
    Fault::new(
        "A006",
        "adjustment",
        format!("not settled after {n_steps} steps: {why}"),
        "steps that become small",
        "begin nearer to what was measured, or look for a reading typed wrong",
    )
}
