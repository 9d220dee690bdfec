//! Data snooping: the worst reading out, one at a time, and the adjustment run again.
//!
//! One wrong reading pulls the residuals of others; two at once are rejected only after a look at what
//! is left without the first. Nothing is rejected without its reason on the list, and when a tenth
//! of the readings is gone the fault is elsewhere: in the equations, or in the uncertainties stated.
//!
//! - Source: W. Baarda, A testing procedure for use in geodetic networks, 1968 (from memory).

use super::adjusted::Adjusted;
use super::equations::{Excluded, Problem, Unknown};
use super::solve::{How, Room, adjust};
use super::statistics::{Levels, Observed, Statistics, Test};
use crate::fault::Faults;

/// Above this correlation of their w, two readings cannot be told apart.
pub const CORRELATION_SEPARABLE: f64 = 0.9;

/// Which sd the residuals are judged by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sigma {
    /// As stated: Baarda's w.
    AsStated,
    /// From the residuals themselves: Pope's τ.
    FromResiduals,
}

/// Rules of the snooping.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SnoopRules {
    /// Levels of the tests.
    pub levels: Levels,
    /// Which sd they go by.
    pub sigma: Sigma,
    /// Share of the readings that may go before it stops.
    pub share_at_most: f64,
}

impl Default for SnoopRules {
    fn default() -> SnoopRules {
        SnoopRules {
            levels: Levels::default(),
            sigma: Sigma::AsStated,
            share_at_most: 0.1,
        }
    }
}

/// A reading taken out, and why.
#[derive(Debug, Clone, PartialEq)]
pub struct Rejected {
    /// Which.
    pub reading: Excluded,
    /// Its test before it went: residual, w, τ.
    pub test: Test,
    /// What its w or τ was held against.
    pub critical: f64,
    /// Readings and priors that could as well be the wrong one, with the correlation of their w.
    pub or_else: Vec<(Observed, f64)>,
    /// χ² with it and without it.
    pub chi2: (f64, f64),
    /// What the adjustment without it says of it: the error that it has, l as read less l as the others say.
    pub error: f64,
}

/// Why the snooping ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ended {
    /// Nothing sticks out any more.
    Clean,
    /// Something does still, but too many are gone: look for another cause.
    TooMany,
    /// What sticks out is something known before, not a reading: it is left in and named by its test.
    Prior,
}

/// What is left after snooping.
#[derive(Debug, Clone)]
pub struct Snooped {
    /// The adjustment without the readings rejected.
    pub adjusted: Adjusted,
    /// Its tests.
    pub statistics: Statistics,
    /// What was rejected, in order.
    pub rejected: Vec<Rejected>,
    /// Why it ended.
    pub ended: Ended,
}

/// Adjusts, and takes out what does not fit, one reading at a time.
///
/// # Errors
///
/// Those of [`adjust`].
pub fn snoop(
    problem: &Problem,
    how: &How,
    rules: &SnoopRules,
    room: &mut Room,
) -> Result<Snooped, Faults> {
    let mut excluded = problem.excluded.to_vec();
    let mut unknowns = problem.unknowns.to_vec();
    let mut rejected: Vec<Rejected> = Vec::new();
    let n_readings: usize = (0..problem.equations.n_blocks())
        .map(|block| problem.equations.shape(block).n_readings)
        .sum();
    let n_at_most = (rules.share_at_most * (n_readings - excluded.len()) as f64).floor() as usize;
    loop {
        let current = Problem {
            unknowns: &unknowns,
            excluded: &excluded,
            ..*problem
        };
        let adjusted = adjust(&current, how, room)?;
        let statistics = Statistics::of(&current, &adjusted, &rules.levels, room)?;
        if let Some(last) = rejected.last_mut() {
            last.chi2.1 = adjusted.chi2;
            last.error = -adjusted.residuals(last.reading.block)[last.reading.reading];
        }
        let worst = worst(&statistics, rules.sigma);
        let ended = match worst {
            None => Some(Ended::Clean),
            Some(_) if n_at_most <= rejected.len() => Some(Ended::TooMany),
            Some((at, _)) if as_reading(&statistics.tests[at]).is_none() => Some(Ended::Prior),
            Some(_) => None,
        };
        let next = worst
            .and_then(|(at, critical)| Some((at, critical, as_reading(&statistics.tests[at])?)));
        let (Some((at, critical, reading)), None) = (next, ended) else {
            return Ok(Snooped {
                adjusted,
                statistics,
                rejected,
                ended: ended.unwrap_or(Ended::Clean),
            });
        };
        let others = statistics.not_separable_from(at, CORRELATION_SEPARABLE);
        rejected.push(Rejected {
            reading,
            test: statistics.tests[at],
            critical,
            or_else: others
                .into_iter()
                .map(|(other, correlation)| (statistics.tests[other].of, correlation))
                .collect(),
            chi2: (adjusted.chi2, f64::NAN),
            error: f64::NAN,
        });
        excluded.push(reading);
        begin_at(&mut unknowns, &adjusted);
    }
}

/// The next round begins where the last one ended.
fn begin_at(unknowns: &mut [Unknown], adjusted: &Adjusted) {
    for (unknown, value) in unknowns.iter_mut().zip(&adjusted.values) {
        unknown.start = *value;
    }
}

/// The test that sticks out most, with its limit; the first of equals.
fn worst(statistics: &Statistics, sigma: Sigma) -> Option<(usize, f64)> {
    let (size, critical): (fn(&Test) -> Option<f64>, f64) = match sigma {
        Sigma::AsStated => (|test| test.w, statistics.critical_w),
        Sigma::FromResiduals => (|test| test.tau, statistics.critical_tau?),
    };
    let mut worst: Option<(usize, f64)> = None;
    for (at, test) in statistics.tests.iter().enumerate() {
        let Some(size) = size(test).map(f64::abs) else {
            continue;
        };
        if critical < size && worst.is_none_or(|(_, largest)| largest < size) {
            worst = Some((at, size));
        }
    }
    worst.map(|(at, _)| (at, critical))
}

fn as_reading(test: &Test) -> Option<Excluded> {
    match test.of {
        Observed::Reading { block, reading } => Some(Excluded { block, reading }),
        Observed::Prior { .. } => None,
    }
}
