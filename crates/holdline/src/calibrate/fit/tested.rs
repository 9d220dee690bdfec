//! The adjustment, and every number tested against the others.

use super::ask::{FitAsk, GrossErrors};
use holdline_geom::adjust::{
    Adjusted, Ended, Excluded, Fit, How, Levels, Observed, Problem, Rejected, Room, SnoopRules,
    Start, Statistics, adjust, snoop,
};
use holdline_geom::fault::Faults;

/// Two tests that go together by more than this cannot be told apart.
pub(super) const INSEPARABLE: f64 = 0.9;

/// A step of this many sd is none, though the observations fit to the last digit.
const SMALL_STEP_SD: f64 = 1e-6;

/// A figure of the sheet that counts for nothing, m or rad.
const WITHOUT_BOUND: f64 = 10.0;

/// How it came out.
pub(super) struct Settled {
    pub adjusted: Adjusted,
    pub statistics: Statistics,
    pub taken_out: Vec<Rejected>,
    /// Other choices that leave as little: the unknowns with the twin out in the place of the one taken out.
    pub other_choices: Vec<OtherChoice>,
    pub ended: Option<Ended>,
    /// Whether the place was looked for from several starts.
    pub searched: bool,
    /// Of every unknown.
    pub scales: Vec<f64>,
}

/// What could as well have been taken out, and what would have come out then.
#[derive(Debug, Clone)]
pub(super) struct OtherChoice {
    /// The place among those taken out.
    pub taken_out_idx: usize,
    /// What could as well be wrong.
    pub twin: Observed,
    /// The unknowns then; none where they could not be found.
    pub values: Option<Vec<f64>>,
}

/// Adjusts from a near start, takes gross errors out if so asked, and searches where that ends badly.
pub(super) fn settle(problem: &Problem<'_>, ask: &FitAsk) -> Result<Settled, Faults> {
    let mut settled = settle_once(problem, ask)?;
    settled.other_choices = other_choices(problem, &settled);
    Ok(settled)
}

/// The adjustment again with each twin out instead, where that leaves no more than chance does beyond the
/// choice that was made.
fn other_choices(problem: &Problem<'_>, settled: &Settled) -> Vec<OtherChoice> {
    let mut room = Room::new();
    let how = How {
        start: Start::Given,
        small_at_least: SMALL_STEP_SD,
        ..How::default()
    };
    let mut unknowns = problem.unknowns.to_vec();
    for (unknown, value) in unknowns.iter_mut().zip(&settled.adjusted.values) {
        unknown.start = *value;
    }
    let beyond_chance = settled.statistics.critical_w.powi(2);
    let mut found = Vec::new();
    for (taken_out_idx, out) in settled.taken_out.iter().enumerate() {
        for (twin, _) in &out.or_else {
            let others = settled.taken_out.iter().map(|other| other.reading);
            let mut excluded: Vec<Excluded> =
                others.filter(|reading| *reading != out.reading).collect();
            let mut priors = problem.priors.to_vec();
            match *twin {
                Observed::Reading { block, reading } => excluded.push(Excluded { block, reading }),
                Observed::Prior { prior, entry } => {
                    let variance = &mut priors[prior].covariance[(entry, entry)];
                    *variance += WITHOUT_BOUND * WITHOUT_BOUND;
                }
            }
            let problem = Problem {
                unknowns: &unknowns,
                priors: &priors,
                excluded: &excluded,
                ..*problem
            };
            let values = match adjust(&problem, &how, &mut room) {
                Ok(other) if settled.adjusted.chi2 + beyond_chance < other.chi2 => continue,
                Ok(other) => Some(other.values),
                Err(_) => None,
            };
            found.push(OtherChoice {
                taken_out_idx,
                twin: *twin,
                values,
            });
        }
    }
    found
}

fn settle_once(problem: &Problem<'_>, ask: &FitAsk) -> Result<Settled, Faults> {
    let mut room = Room::new();
    let given = How {
        start: Start::Given,
        small_at_least: SMALL_STEP_SD,
        ..How::default()
    };
    let first = from(problem, &given, ask, &mut room);
    if first.as_ref().is_ok_and(is_fine) {
        return first;
    }
    let search = How {
        start: Start::Search { seed: ask.seed },
        ..given
    };
    // One search; what it finds is where the taking out begins.
    let found = adjust(problem, &search, &mut room);
    let second = found.and_then(|found| {
        let mut unknowns = problem.unknowns.to_vec();
        for (unknown, value) in unknowns.iter_mut().zip(&found.values) {
            unknown.start = *value;
        }
        let problem = Problem {
            unknowns: &unknowns,
            ..*problem
        };
        from(&problem, &given, ask, &mut room)
    });
    match (first, second) {
        (Ok(first), Ok(mut second)) if better(&second, &first) => {
            second.searched = true;
            Ok(second)
        }
        (Ok(first), _) => Ok(first),
        (Err(_), Ok(mut second)) => {
            second.searched = true;
            Ok(second)
        }
        (Err(faults), Err(_)) => Err(faults),
    }
}

fn is_fine(settled: &Settled) -> bool {
    settled.statistics.global.fit != Fit::TooLarge && settled.ended != Some(Ended::TooMany)
}

/// Fewer taken out for a fit; else the smaller sum.
fn better(new: &Settled, old: &Settled) -> bool {
    match (is_fine(new), is_fine(old)) {
        (true, false) => true,
        (false, true) => false,
        _ => {
            let (n, o) = (new.taken_out.len(), old.taken_out.len());
            n < o || (n == o && new.adjusted.chi2 < old.adjusted.chi2 * (1.0 - 1e-6))
        }
    }
}

fn from(
    problem: &Problem<'_>,
    how: &How,
    ask: &FitAsk,
    room: &mut Room,
) -> Result<Settled, Faults> {
    let levels = Levels {
        global_alpha: ask.level,
        ..Levels::default()
    };
    let scales = problem.unknowns.iter().map(|u| u.scale).collect();
    match ask.gross_errors {
        GrossErrors::KeepAll => {
            let adjusted = adjust(problem, how, room)?;
            let statistics = Statistics::of(problem, &adjusted, &levels, room)?;
            Ok(Settled {
                adjusted,
                statistics,
                taken_out: Vec::new(),
                other_choices: Vec::new(),
                ended: None,
                searched: false,
                scales,
            })
        }
        GrossErrors::TakeOut => {
            let rules = SnoopRules {
                levels,
                ..SnoopRules::default()
            };
            let snooped = snoop(problem, how, &rules, room)?;
            Ok(Settled {
                adjusted: snooped.adjusted,
                statistics: snooped.statistics,
                taken_out: snooped.rejected,
                other_choices: Vec::new(),
                ended: Some(snooped.ended),
                searched: false,
                scales,
            })
        }
    }
}
