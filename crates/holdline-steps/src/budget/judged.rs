//! The task's tolerances, judged one by one and together.

use holdline::calibrate::budget::{
    Fitness, Held, HeldWhere, Judged, MonteCarlo, Tolerance, Verdict,
};
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
    /// The tooth point that it goes by.
    tooth: String,
    /// Whether the others were looked at and are no worse.
    of_all: bool,
}

impl Judgement {
    /// In one pose.
    pub fn at_pose(task: Task, tooth: &str, verdict: Verdict) -> Judgement {
        Judgement {
            task,
            verdict,
            area: None,
            tooth: tooth.to_owned(),
            of_all: false,
        }
    }

    /// Over the envelope.
    pub fn over(task: Task, tooth: &str, area: HeldWhere) -> Judgement {
        Judgement {
            task,
            verdict: area.verdict.clone(),
            area: Some(area),
            tooth: tooth.to_owned(),
            of_all: false,
        }
    }

    /// The worst of one judgement a tooth point; the first of equals.
    ///
    /// A bucket is good for what its worst tooth is good for, whichever one is steered by.
    pub fn worst(each: Vec<Judgement>) -> Option<Judgement> {
        let rank = |one: &Judgement| match &one.verdict {
            Verdict::DoesNotHold(held) => (2, held.u_at_most_m()),
            Verdict::NotShown { .. } => (1, 0.0),
            Verdict::Holds(held) => (0, held.u_at_most_m()),
        };
        let n = each.len();
        let worst = each.into_iter().reduce(|a, b| {
            let ((class_a, u_a), (class_b, u_b)) = (rank(&a), rank(&b));
            if (class_a, u_a) < (class_b, u_b) {
                b
            } else {
                a
            }
        })?;
        Some(Judgement {
            of_all: 1 < n,
            ..worst
        })
    }

    /// Not shown where draws and the linear figures part: neither is to be relied on.
    pub fn parted(mut self, drawn: &MonteCarlo) -> Judgement {
        let axes = match self.task.judged {
            Judged::Up => vec![Some(drawn.axes[2])],
            Judged::Plan => vec![Some(drawn.axes[0]), Some(drawn.axes[1])],
            Judged::Normal => vec![drawn.normal],
        };
        let parts = axes.iter().any(|axis| axis.is_none_or(|axis| axis.parts));
        let because = if 0 < drawn.n_without_tooth {
            format!(
                "{} of {} draws gave no tooth: this pose lies at the edge of what the linkage does",
                drawn.n_without_tooth,
                drawn.n + drawn.n_without_tooth
            )
        } else if parts {
            "Monte Carlo and the linear figures part here, and the linear ones are what is judged"
                .to_owned()
        } else {
            return self;
        };
        self.verdict = Verdict::NotShown { because };
        self
    }

    fn words(&self) -> String {
        let where_words = if self.area.is_some() {
            "everywhere that was looked at"
        } else {
            "in this pose"
        };
        let tooth = match (self.of_all, self.tooth.as_str()) {
            (true, tooth) => format!(" The worst tooth point is {tooth}."),
            (false, _) => String::new(),
        };
        let name = self.task.name();
        match &self.verdict {
            Verdict::Holds(held) => {
                format!("Holds {where_words}, {name}: {}.{tooth}", held_words(held))
            }
            Verdict::DoesNotHold(held) => {
                let not = match &self.area {
                    Some(area) if area.n_held == 0 => "Does not hold anywhere that was looked at",
                    Some(_) => "Does not hold everywhere that was looked at",
                    None => "Does not hold in this pose",
                };
                let held = held_words(held);
                format!("{not}, {name}: {held}.{tooth}{}", self.part_words())
            }
            Verdict::NotShown { because } => {
                format!("Not shown, {name}, tooth point {}: {because}.", self.tooth)
            }
        }
    }

    /// The part of the envelope where it holds.
    fn part_words(&self) -> String {
        let Some(area) = self.area.as_ref().filter(|area| 0 < area.n_held) else {
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
        Fitness::TooCoarse if held.half_m() < held.u_at_most_m() => {
            "more than the tolerance itself"
        }
        Fitness::TooCoarse => "more than two thirds of the tolerance",
    };
    // 2, 1.64 and 2.45 as people know them.
    let k = rounded(held.k(), 2, Sign::Minus);
    let k = k.trim_end_matches('0').trim_end_matches('.').to_owned();
    format!(
        "U is at most {} (k = {}) against {}: {fits}",
        mm(held.u_at_most_m()),
        k,
        mm(held.half_m())
    )
}

/// All tolerances together: the worst answer, and each in words.
pub(super) fn verdict_body(judgements: &[Judgement]) -> VerdictBody {
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
    if let Some(area) = judgements.iter().find_map(|one| one.area.as_ref())
        && let Some([reach, height]) = area.reached_m
    {
        let m = |value: f64| rounded(value, 1, Sign::Minus);
        words.push(format!(
            "Looked at: {} points from {} m to {} m of reach and {} m to {} m over the track ground, where the tooth gets: \
             {} % of the part asked for.",
            area.n_reached,
            m(reach[0]),
            m(reach[1]),
            m(height[0]),
            m(height[1]),
            rounded((100.0 * area.share_reached).floor(), 0, Sign::Minus)
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
