//! The way to the least squares: full steps where they help, damped and shortened ones where they do not.

use super::adjusted::{Adjusted, Found};
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
const NO_DAMPING: f64 = 1e-6;

/// Beyond this damping a step is nothing.
const MOST_DAMPING: f64 = 1e16;

/// A step is halved so many times when the equations have no value where it leads.
const N_HALVINGS: usize = 12;

/// A step shorter than this, in sd, needs no fall of χ² to be taken.
const SHORT_STEP_SD: f64 = 3.0;

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
    /// Of readings that fit to the last digit the residuals show nothing, and no step would ever be
    /// short enough. 0 asks for all the digits there are.
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
    fn go(&mut self, problem: &Problem, share: f64) {
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
    let mut damping = match way {
        Way::Full => 0.0,
        Way::Careful => CAREFUL_DAMPING,
    };
    let mut growth = 4.0;
    // Length of the last step that was taken though χ² rose.
    let mut plain: Option<f64> = None;
    for n_steps in 1..=how.n_steps_at_most {
        // Here: summed up, and not worse than any place before.
        let chi2 = room.factor.chi2(layout);
        let misclosure = room.factor.misclosure(layout);
        room.factor.factor(&room.here.rows, layout, damping);
        let small = (how.small_step * small_share(chi2, room)).max(how.small_at_least);
        let length = room.factor.step_in_sd();
        room.factor.step(&mut room.step);
        let promised = room.factor.promised(&room.step, layout);
        room.go(problem, 1.0);
        let near = damping == 0.0 && misclosure <= small.max(how.small_step * 1e-2);
        if near && (length <= small || room.stands_still()) {
            return Ok(finish(room, (chi2 - promised).max(0.0), n_steps));
        }

        let looked = look_shortening(problem, room);
        let fallen = chi2 - room.factor.chi2(layout);
        // A rise within the rounding of χ² is no rise; NaN is never better.
        if looked.is_ok() && -1e-13 * chi2 <= fallen && fallen.is_finite() {
            std::mem::swap(&mut room.here, &mut room.there);
            if damping != 0.0 {
                damping = less(damping, fallen / promised);
            }
            growth = 4.0;
            continue;
        }
        // Where the readings enter the equations bent, χ² is that of a plane laid at the readings as
        // adjusted so far, and may rise on the way. A short step is taken all the same, as long as
        // each is clearly shorter than the one before.
        let shrinks = plain.map_or(length <= SHORT_STEP_SD, |last| length <= 0.7 * last);
        if looked.is_ok() && damping == 0.0 && shrinks && fallen.is_finite() {
            std::mem::swap(&mut room.here, &mut room.there);
            plain = Some(length);
            continue;
        }
        // Back to here: its sums were overwritten.
        room.factor.sum_up(&room.here.rows, layout);
        let at_the_end = promised <= 1e-12 * chi2 || room.stands_still();
        if looked.is_ok() && at_the_end && damping == 0.0 && near_enough(chi2, fallen) {
            room.step.fill(0.0);
            room.go(problem, 1.0);
            return Ok(finish(room, chi2, n_steps));
        }
        damping = if damping == 0.0 {
            FIRST_DAMPING
        } else {
            damping * growth
        };
        growth *= 2.0;
        if MOST_DAMPING < damping {
            return Err(not_settled(
                n_steps,
                "no step, however short, makes it better",
            ));
        }
    }
    Err(not_settled(how.n_steps_at_most, "the steps do not end"))
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

fn near_enough(chi2: f64, fallen: f64) -> bool {
    fallen.is_finite() && -1e-9 * chi2 <= fallen
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

/// Damping after a step that made it better: by how much it kept its promise.
fn less(damping: f64, kept: f64) -> f64 {
    let less = if 0.75 < kept {
        damping / 10.0
    } else if 0.25 < kept {
        damping / 3.0
    } else {
        damping
    };
    if less < NO_DAMPING { 0.0 } else { less }
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
