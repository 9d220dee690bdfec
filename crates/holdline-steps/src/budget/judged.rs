//! The task's tolerances, judged one by one and together.

use holdline::calibrate::budget::{Fitness, Held, HeldWhere, Judged, Tolerance, Verdict};
use holdline_sheet::figure::{MILLIMETRES, Sign, plain, rounded};

use super::ask::BudgetAsk;
use super::body::VerdictBody;
use crate::verify::Answer;

/// One tolerance of the task.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Task {
    /// What it is held against.
    pub judged: Judged,
    /// The tolerance.
    pub tolerance: Tolerance,
}

impl Task {
    /// Those that were stated: height, face, plan.
    pub fn of(ask: &BudgetAsk) -> Vec<Task> {
        let task = &ask.tolerance;
        let mut tasks = Vec::new();
        let mut push = |judged, tolerance| tasks.push(Task { judged, tolerance });
        match (task.down_m, task.up_m, ask.one_sided) {
            (None, None, _) => {}
            (Some(one), None, _) | (None, Some(one), _) => {
                push(Judged::Up, Tolerance::OneLimit { margin_m: one });
            }
            (Some(down), Some(up), true) => push(
                Judged::Up,
                Tolerance::OneLimit {
                    margin_m: if down < up { down } else { up },
                },
            ),
            (Some(down), Some(up), false) => push(
                Judged::Up,
                Tolerance::Between {
                    lower_m: -down,
                    upper_m: up,
                    // Who steers by the design aims at it, unless it is itself a limit.
                    aim_m: (0.0 < down && 0.0 < up).then_some(0.0),
                },
            ),
        }
        for (judged, amount) in [(Judged::Normal, task.normal_m), (Judged::Plan, task.plan_m)] {
            if let Some(amount) = amount {
                push(
                    judged,
                    if ask.one_sided && judged != Judged::Plan {
                        Tolerance::OneLimit { margin_m: amount }
                    } else {
                        Tolerance::Between {
                            lower_m: -amount,
                            upper_m: amount,
                            aim_m: None,
                        }
                    },
                );
            }
        }
        tasks
    }

    fn sd_at_most_m(&self) -> Option<f64> {
        self.tolerance.sd_at_most_m(self.judged)
    }

    fn name(&self) -> &'static str {
        match self.judged {
            Judged::Up => "height",
            Judged::Plan => "plan",
            Judged::Normal => "along the face's normal",
        }
    }
}

/// One tolerance judged.
pub(super) struct Judgement {
    task: Task,
    verdict: Verdict,
    area: Option<HeldWhere>,
}

impl Judgement {
    /// In one pose.
    pub fn at_pose(task: Task, verdict: Verdict) -> Judgement {
        Judgement {
            task,
            verdict,
            area: None,
        }
    }

    /// Over the envelope.
    pub fn over(task: Task, area: HeldWhere) -> Judgement {
        Judgement {
            task,
            verdict: area.verdict.clone(),
            area: Some(area),
        }
    }

    fn words(&self) -> String {
        let where_words = if self.area.is_some() {
            "everywhere that was looked at"
        } else {
            "in this pose"
        };
        let name = self.task.name();
        match &self.verdict {
            Verdict::Holds(held) => {
                format!("Holds {where_words}, {name}: {}.", held_words(held))
            }
            Verdict::DoesNotHold(held) => {
                let not = if self.area.is_some() {
                    "Does not hold everywhere that was looked at"
                } else {
                    "Does not hold in this pose"
                };
                format!("{not}, {name}: {}.{}", held_words(held), self.part_words())
            }
            Verdict::NotShown { because } => format!("Not shown, {name}: {because}."),
        }
    }

    /// The part of the envelope where it holds.
    fn part_words(&self) -> String {
        let Some(area) = &self.area else {
            return String::new();
        };
        let share = rounded(100.0 * area.share_held, 0, Sign::Minus);
        let band = area.reach_band_m.map_or_else(
            || " There is no run of reach over which it holds at every height.".to_owned(),
            |[from, to]| {
                format!(
                    " From {} m to {} m of reach it holds at every height.",
                    rounded(from, 1, Sign::Minus),
                    rounded(to, 1, Sign::Minus)
                )
            },
        );
        format!(" It holds in {share} % of what was reached.{band}")
    }
}

fn held_words(held: &Held) -> String {
    let mm = |m: f64| plain(m, &MILLIMETRES, 1);
    let fits = match held.fitness() {
        Fitness::Comfortable => "a third of the tolerance at most, comfortable",
        Fitness::WithChecks => "two thirds of the tolerance at most, with check shots",
        Fitness::TooCoarse => "more than two thirds of the tolerance",
    };
    format!(
        "U is at most {} (k = {}) against {}: {fits}",
        mm(held.u_at_most_m()),
        rounded(held.k(), 2, Sign::Minus),
        mm(held.half_m())
    )
}

/// All tolerances together: the worst answer, and each in words.
pub(super) fn verdict_body(judgements: &[Judgement], ask: &BudgetAsk) -> VerdictBody {
    let one = |judgement: &Judgement| match &judgement.verdict {
        Verdict::Holds(_) => Answer::Pass,
        Verdict::DoesNotHold(_) => Answer::Fail,
        Verdict::NotShown { .. } => Answer::NotShown,
    };
    let any = |answer: Answer| judgements.iter().any(|judgement| one(judgement) == answer);
    let answer = if any(Answer::Fail) {
        Answer::Fail
    } else if any(Answer::NotShown) || judgements.is_empty() {
        Answer::NotShown
    } else {
        Answer::Pass
    };
    let mut words: Vec<String> = judgements.iter().map(Judgement::words).collect();
    if words.is_empty() {
        words.push("Not shown: no tolerance was given.".to_owned());
    }
    if let (Some(_), Some([from, to])) = (ask.grid, ask.work_reach_m) {
        words.push(format!("Looked at from {from} m to {to} m of reach."));
    }
    if let (Some(_), Some([from, to])) = (ask.grid, ask.work_height_m) {
        words.push(format!(
            "Looked at from {from} m to {to} m over the track ground."
        ));
    }
    let first = judgements.first();
    VerdictBody {
        answer,
        words,
        holds_share: first.and_then(|judgement| Some(judgement.area.as_ref()?.share_held)),
        limit_m: first
            .and_then(|judgement| judgement.task.sd_at_most_m())
            .map(|sd| 2.0 * sd),
    }
}
