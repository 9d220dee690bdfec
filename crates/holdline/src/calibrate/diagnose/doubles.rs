//! Two faults at once, where no single one explains the shots.

use super::asked::DiagnoseAsk;
use super::fit::Case;
use super::rank::{Tried, WITHIN, explanation};
use super::simulate::Pairs;
use super::told::{DoubleFault, Rule, Suspect};
use super::whiten::dot;
use super::{Seen, rank};

/// The pairs that were looked at.
#[derive(Debug, Default)]
pub(super) struct Doubles {
    /// Best first.
    pub doubles: Vec<DoubleFault>,
    /// How they were judged.
    pub rule: Option<Rule>,
}

/// How many pairs are fitted in full, of those that the slopes at the start rank best.
const FITTED_IN_FULL: usize = 40;

/// Looks at all pairs.
///
/// A pair is one suspect's drift with another's, or a fault that is or is not with a drift.
/// The gain of the best over the best single one is held against series in which that single one is all there is.
pub(super) fn look(seen: &Seen, suspects: &[Suspect], ask: &DiagnoseAsk, by_rule: f64) -> Doubles {
    let members = members(seen);
    let rays = members
        .iter()
        .map(|(_, idx)| seen.tried[*idx].ray.clone())
        .collect();
    let pairs = Pairs::new(rays);
    let whole = dot(seen.y, seen.y);
    let best = &seen.tried[seen.groups[0][0]];
    let single = (whole - best.fitted.chi2, best.n_parameters());
    let mut ranked = pairs.gains(seen.y);
    ranked.retain(|(ends, _)| members[ends[0]].0 != members[ends[1]].0);
    ranked.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    ranked.truncate(FITTED_IN_FULL);
    let mut found = Vec::new();
    let mut statistic = 0.0_f64;
    for (ends, _) in ranked {
        let ids = ends.map(|end| members[end]);
        let [a, b] = ids.map(|(_, idx)| &seen.tried[idx]);
        let Some(double) = both(seen, [a, b], ids.map(|(group, _)| group), by_rule) else {
            continue;
        };
        let beats_both = suspects[double.suspects[0]].chi2_left > double.chi2_left
            && suspects[double.suspects[1]].chi2_left > double.chi2_left;
        if beats_both {
            let gain = pairs.over_single(ends, whole - double.chi2_left, single);
            statistic = statistic.max(gain);
        }
        found.push(double);
    }
    found.sort_by(|a: &DoubleFault, b| a.aic.total_cmp(&b.aic).then(a.suspects.cmp(&b.suspects)));
    // The signal of the best single one: what it puts into the differences.
    let left = seen.white.white(&best.fitted.left_m);
    let signal: Vec<f64> = seen.y.iter().zip(&left).map(|(y, left)| y - left).collect();
    let maxima = pairs.with_single_true(&signal, ask.seed, ask.n_draws);
    let rule = Rule {
        level: ask.level,
        statistic,
        critical: maxima.critical(ask.level),
        p_value: maxima.p_value(statistic),
        n_draws: ask.n_draws,
        seed: ask.seed,
        n_hypotheses: pairs.len(),
    };
    if rule.rejects() {
        mark_set(&mut found);
    }
    found.truncate(12);
    Doubles {
        doubles: found,
        rule: Some(rule),
    }
}

/// Who can be one of a pair: each suspect's drift, or its best where it has none; with its suspect.
fn members(seen: &Seen) -> Vec<(usize, usize)> {
    let lead = |group: &Vec<usize>| rank::signature(seen.tried, group);
    seen.groups.iter().map(lead).enumerate().collect()
}

fn both(seen: &Seen, pair: [&Tried; 2], groups: [usize; 2], by_rule: f64) -> Option<DoubleFault> {
    let [a, b] = pair.map(|tried| &tried.hypothesis);
    let case = Case {
        changes: [a.changes(), b.changes()].concat(),
        directions: [a.directions(), b.directions()].concat(),
    };
    let fitted = case.fit(seen.scene, seen.white).ok()??;
    let split = a.directions().len();
    let part = |tried: &Tried, from: usize, to: usize| Tried {
        fitted: super::fit::Fitted {
            sizes: fitted.sizes[from..to].to_vec(),
            covariance: fitted
                .covariance
                .view((from, from), (to - from, to - from))
                .into_owned(),
            ..fitted.clone()
        },
        ..tried.clone()
    };
    let first = explanation(&part(pair[0], 0, split), by_rule);
    let second = explanation(&part(pair[1], split, fitted.sizes.len()), by_rule);
    let n_parameters = a.n_parameters() + b.n_parameters();
    Some(DoubleFault {
        suspects: groups,
        says: format!("{}; and {}", first.says, second.says),
        chi2_left: fitted.chi2,
        n_parameters,
        aic: fitted.chi2 + 2.0 * n_parameters as f64,
        in_set: false,
        weight: None,
        estimates: [first.estimates, second.estimates].concat(),
    })
}

fn mark_set(doubles: &mut [DoubleFault]) {
    let least = doubles.iter().map(|d| d.aic).fold(f64::INFINITY, f64::min);
    let share = |aic: f64| libm::exp(-(aic - least) / 2.0);
    let inside = |aic: f64| aic - least < WITHIN;
    let whole: f64 = doubles
        .iter()
        .filter(|d| inside(d.aic))
        .map(|d| share(d.aic))
        .sum();
    for double in doubles {
        double.in_set = inside(double.aic);
        double.weight = double.in_set.then(|| share(double.aic) / whole);
    }
}
