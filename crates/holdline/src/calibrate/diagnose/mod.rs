//! Which thing drifted?
//!
//! From check shots that are off, the single faults, and where no single one explains them the pairs, ranked by how
//! well they explain the differences; which of them these shots cannot tell apart; what to look at first; and the
//! shots that would decide it. It adjusts nothing.

mod asked;
mod doubles;
mod fit;
mod hypothesis;
mod list;
mod list_survey;
mod list_tools;
mod next_shot;
mod noise;
mod rank;
mod scale;
#[cfg(test)]
mod scenario_tests;
mod scene;
mod simulate;
mod slips;
mod told;
mod whiten;
mod words;

pub mod explain;

pub use asked::{DRAWS_AT_LEAST, DiagnoseAsk, DiagnosedShot, Held, LEVEL};
pub use told::{
    Diagnosis, DoubleFault, Estimate, Explanation, Likeness, NextShot, NotTried, Outcome, Rule,
    Suspect, Unit,
};

use crate::calibrate::check_shots::Finding;
use crate::sources;
use crate::tooth::model::ToothModel;
use doubles::Doubles;
use holdline_geom::fault::{Fault, Faults};
use rank::{NONCENTRALITY, Tried, WITHIN};
use scale::{ln_chi2_tail, on_one_scale};
use scene::Scene;
use simulate::{Maxima, Ray};
use whiten::{Whitener, dot, likeness};

/// A suspect that leaves a χ² less likely than this does not explain the shots: pairs are looked at.
const EXPLAINS_AT_LEAST: f64 = 0.02;

/// An explanation that leaves a χ² less likely than this is not believed.
const BELIEVED_AT_LEAST: f64 = 0.002;

/// Suspects more alike than this are reported as inseparable.
const INSEPARABLE: f64 = 0.95;

/// Ranks what may have drifted.
///
/// Used by `holdline verify`, after the decision.
///
/// ```text
/// y = shown − surveyed          Σ = scatter of each shot + sheet's figures + control and satellite fix
/// χ²_h = min_p (y − h(p))ᵀ Σ⁻¹ (y − h(p))            AIC_h = χ²_h + 2 k
/// gain_h = χ²_0 − χ²_h, of k parameters put on the scale of one by its χ²(k) tail
/// something is wrong      max over all h of gain_h > critical value, simulated for these shots and this list
/// reported                all h with AIC_h − min AIC < 4
/// a pair                  only if no single one explains the shots, and if the best pair gains more over the best
///                         single one than a critical value simulated with that single one true
/// ```
///
/// - Symbols: h(p) what fault h of size p does to the differences, exact, evaluated again at the estimate.
///   Faults that are or are not (another bucket, a missing coupler, a slip of the hand) are computed again in full.
/// - The correction of the AIC for few data has no place here: the covariance is known, not estimated.
/// - Units: m, rad. Source: [`sources::DRIFT`]. Simulation: `n_draws` series from `seed`;
///   the same on any number of threads.
///
/// # Errors
///
/// `D001` for too few shots, `D002` and `D003` where an uncertainty is missing, `D004` for a simulation that cannot be;
/// what the readings give that cannot be used.
///
/// # Caution
///
/// It names what fits these shots, from a list. It is no proof, and a size below the detectable one stays unseen.
/// Look at the machine before anything is changed, and never trim out an error in a figure that is not its cause.
pub fn diagnose(
    model: &ToothModel,
    shots: &[DiagnosedShot],
    ask: &DiagnoseAsk,
) -> Result<Diagnosis, Faults> {
    let _ = sources::DRIFT;
    check_ask(ask)?;
    let mut scene = Scene::new(model, shots, ask)?;
    let Some(white) = Whitener::new(scene.covariance_m2.clone()) else {
        return Err(no_covariance().into());
    };
    let list = list::all(&mut scene);
    let mut not_tried = list.not_tried;
    let y_m = scene.differences(&[], &[], &[])?.y_m;
    let y = white.white(&y_m);
    let chi2_nothing = dot(&y, &y);
    if !chi2_nothing.is_finite() {
        return Err(no_covariance().into());
    }
    let tried = rank::tried(&scene, &white, list.hypotheses, &y, &mut not_tried);
    not_tried.dedup();
    let groups = rank::grouped(&tried);
    let rule = judged(&tried, &groups, &y, ask);
    let by_rule = (rule.critical.sqrt() + POWER_80) / NONCENTRALITY.sqrt();
    let mut suspects: Vec<Suspect> = groups
        .iter()
        .map(|group| rank::suspect(&scene, &tried, group, &y_m, chi2_nothing, by_rule))
        .collect();
    let (closest, inseparable) = likenesses(&tried, &groups);
    let seen = Seen {
        scene: &scene,
        white: &white,
        tried: &tried,
        groups: &groups,
        y: &y,
    };
    let (outcome, found) = decide(&seen, &mut suspects, &rule, ask, by_rule);
    let next = match outcome {
        Outcome::NothingShown => Vec::new(),
        Outcome::Single | Outcome::Double | Outcome::SomethingElse => {
            next_shot::propose(&seen, &suspects, ask.n_next)
        }
    };
    let mut diagnosis = Diagnosis {
        outcome,
        words: Vec::new(),
        rule,
        n_differences: y.len(),
        chi2_nothing,
        suspects,
        doubles: found.doubles,
        double_rule: found.rule,
        closest,
        inseparable,
        next,
        not_tried,
        findings: findings(&scene, ask),
    };
    diagnosis.words = words::of(&diagnosis);
    Ok(diagnosis)
}

/// The standard normal value that 80 of 100 lie below.
const POWER_80: f64 = 0.841_621;

/// All that was worked out, for the steps that follow.
struct Seen<'a> {
    scene: &'a Scene,
    white: &'a Whitener,
    tried: &'a [Tried],
    groups: &'a [Vec<usize>],
    y: &'a [f64],
}

/// Rays of the simulation: of each suspect its drift, or all that are or are not where there is none.
///
/// A slip of a figure lies on the line of its drift and gains no more than that.
fn rays(tried: &[Tried], groups: &[Vec<usize>]) -> Vec<Ray> {
    let mut rays = Vec::new();
    for group in groups {
        let lead = rank::signature(tried, group);
        rays.push(tried[lead].ray.clone());
        if !tried[lead].hypothesis.is_sized() {
            let others = group.iter().filter(|idx| **idx != lead);
            rays.extend(others.map(|idx| tried[*idx].ray.clone()));
        }
    }
    rays
}

fn judged(tried: &[Tried], groups: &[Vec<usize>], y: &[f64], ask: &DiagnoseAsk) -> Rule {
    let chi2 = dot(y, y);
    let maxima: Maxima =
        simulate::nothing_wrong(&rays(tried, groups), true, y.len(), ask.seed, ask.n_draws);
    let single = tried
        .iter()
        .map(|t| rank::gain_of(t, chi2))
        .fold(0.0, f64::max);
    let statistic = single.max(on_one_scale(y.len(), chi2));
    Rule {
        level: ask.level,
        statistic,
        critical: maxima.critical(ask.level),
        p_value: maxima.p_value(statistic),
        n_draws: ask.n_draws,
        seed: ask.seed,
        n_hypotheses: tried.len() + 1, // and that something is wrong which is not on the list
    }
}

fn decide(
    seen: &Seen,
    suspects: &mut [Suspect],
    rule: &Rule,
    ask: &DiagnoseAsk,
    by_rule: f64,
) -> (Outcome, Doubles) {
    let none = Doubles::default();
    let Some(best) = suspects.first() else {
        let outcome = if rule.rejects() {
            Outcome::SomethingElse
        } else {
            Outcome::NothingShown
        };
        return (outcome, none);
    };
    if !rule.rejects() {
        return (Outcome::NothingShown, none);
    }
    let n = seen.y.len();
    let left = likelihood_left(best.chi2_left, n, best.n_parameters);
    let best_gain = suspects.iter().map(|s| s.gain).fold(0.0, f64::max);
    if best_gain <= rule.critical {
        return (Outcome::SomethingElse, none);
    }
    mark_set(suspects);
    if EXPLAINS_AT_LEAST <= left {
        return (Outcome::Single, none);
    }
    let found = doubles::look(seen, suspects, ask, by_rule);
    let accepted = found.rule.is_some_and(|rule| rule.rejects());
    if let (true, Some(double)) = (accepted, found.doubles.first()) {
        suspects
            .iter_mut()
            .for_each(|s| (s.in_set, s.weight) = (false, None));
        let believed =
            BELIEVED_AT_LEAST <= likelihood_left(double.chi2_left, n, double.n_parameters);
        let outcome = if believed {
            Outcome::Double
        } else {
            Outcome::SomethingElse
        };
        return (outcome, found);
    }
    let outcome = if BELIEVED_AT_LEAST <= left {
        Outcome::Single
    } else {
        Outcome::SomethingElse
    };
    (outcome, found)
}

/// How likely a χ² as large as the one left is, when that fault is all there is.
fn likelihood_left(chi2: f64, n: usize, k: usize) -> f64 {
    libm::exp(ln_chi2_tail(n.saturating_sub(k).max(1), chi2))
}

/// All within 4 of the least AIC, with their weights among each other.
fn mark_set(suspects: &mut [Suspect]) {
    let least = suspects.iter().map(|s| s.aic).fold(f64::INFINITY, f64::min);
    let share = |aic: f64| libm::exp(-(aic - least) / 2.0);
    let inside = |aic: f64| aic - least < WITHIN;
    let whole: f64 = suspects
        .iter()
        .filter(|s| inside(s.aic))
        .map(|s| share(s.aic))
        .sum();
    for suspect in suspects {
        suspect.in_set = inside(suspect.aic);
        suspect.weight = suspect.in_set.then(|| share(suspect.aic) / whole);
    }
}

fn likenesses(tried: &[Tried], groups: &[Vec<usize>]) -> (Vec<Likeness>, Vec<Vec<usize>>) {
    const TOLD_FROM: f64 = 0.5;
    let basis = |group: &Vec<usize>| &tried[rank::signature(tried, group)].basis;
    let mut closest = Vec::new();
    let mut clusters: Vec<Vec<usize>> = Vec::new();
    for (b, second) in groups.iter().enumerate() {
        let mut mine = vec![b];
        for (a, first) in groups[..b].iter().enumerate() {
            let cos = likeness(basis(first), basis(second));
            if TOLD_FROM <= cos {
                closest.push(Likeness {
                    suspects: [a, b],
                    cos,
                });
            }
            if INSEPARABLE < cos {
                mine.push(a);
            }
        }
        let (joined, apart): (Vec<_>, Vec<_>) = clusters
            .into_iter()
            .partition(|c| c.iter().any(|idx| mine.contains(idx)));
        clusters = apart;
        let mut cluster: Vec<usize> = joined.concat();
        cluster.push(b);
        clusters.push(cluster);
    }
    closest.sort_by(|a, b| b.cos.total_cmp(&a.cos).then(a.suspects.cmp(&b.suspects)));
    let mut inseparable: Vec<Vec<usize>> = clusters.into_iter().filter(|c| 1 < c.len()).collect();
    inseparable.iter_mut().for_each(|c| c.sort_unstable());
    inseparable.sort();
    (closest, inseparable)
}

fn findings(scene: &Scene, ask: &DiagnoseAsk) -> Vec<Finding> {
    let mut found = Vec::new();
    for shot in &scene.left_out {
        found.push(Finding {
            code: "D010",
            at: shot.clone(),
            what: "no readings: left out of the diagnosis".to_owned(),
        });
    }
    for (axis, word) in crate::calibrate::check_shots::AXES.iter().enumerate() {
        let there = scene.rows.iter().any(|(_, of)| *of == axis);
        if there && ask.common_sd_m[axis].is_none() {
            found.push(Finding {
                code: "D011",
                at: (*word).to_owned(),
                what: "nobody stated the uncertainty of control and set-up: a shift along it counts as the control's own".to_owned(),
            });
        }
        if let Some(sd) = scene.assumed_fix_m[axis] {
            found.push(Finding {
                code: "D012",
                at: (*word).to_owned(),
                what: format!(
                    "nobody stated what the satellite positions of the series share: the {:.1} mm of one position counts as shared (k = 1)",
                    sd * 1000.0
                ),
            });
        }
    }
    found
}

fn check_ask(ask: &DiagnoseAsk) -> Result<(), Fault> {
    const DRAWS_AT_MOST: usize = 10_000_000;
    let level_fits = 0.0 < ask.level && ask.level < 0.5;
    if (DRAWS_AT_LEAST..=DRAWS_AT_MOST).contains(&ask.n_draws) && level_fits {
        return Ok(());
    }
    Err(Fault::new(
        "D004",
        "diagnose",
        format!("{} draws at level {}", ask.n_draws, ask.level),
        format!("{DRAWS_AT_LEAST} to {DRAWS_AT_MOST} draws, a level between 0 and 0.5"),
        "leave both as they are: 20 000 draws and a level of 0.04 are usual",
    ))
}

fn no_covariance() -> Fault {
    Fault::new(
        "D003",
        "uncertainties",
        "no covariance that a calculation could stand on",
        "uncertainties of like sizes, each a number",
        "look for a survey or reading whose stated uncertainty is far too small or too large",
    )
}
