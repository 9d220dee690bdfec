//! From what was measured to the machine's figures: how large, how sure, and what cannot be told.
//!
//! Used by `calibrate fit`. Nothing is adjusted on the machine or its sheet: the result is a document
//! that is applied on top of the sheet.

mod ask;
mod belief;
mod considered;
pub mod explain;
mod names;
mod near;
mod numbers;
mod open;
mod result;
mod tested;
mod told;
mod tooth_sure;

pub use ask::{FitAsk, GrossErrors};
pub use result::{
    Belief, Fit, FittedFigure, FittedPose, FittedReading, Global, Open, ReadingState, Rejection,
    Role, SetUpUnknown, ToothSure,
};

use super::equations::{Observed, ReadingSds, build};
use super::observations::{Observations, Target, What};
use super::unknowns::{check_named, is_house_sensor, is_named};
use crate::machine::Machine;
use crate::machine::cylinder::wrapped;
use crate::machine::figures::{FigureUnit, HEADING_OFFSET};
use crate::machine::front::ToolChoice;
use crate::sources;
use holdline_geom::adjust::{Prior, Problem, Unknown};
use holdline_geom::fault::{Fault, Faults};
use nalgebra::DMatrix;

/// Finds a machine's figures from what was measured of it.
///
/// Used wherever a machine is calibrated, with a total station or with tape and plumb line.
///
/// ```text
/// f(x, l) = 0 for every pose;  least vᵀ Q⁻¹ v over readings l and the sheet's own figures
/// ```
///
/// - Readings are observations too: none is taken as true. What the sheet says with an uncertainty is
///   an observation of the figure; what it says without one says nothing.
/// - Source: [`sources::LEAST_SQUARES`]; equations in `calibrate/equations`.
/// - How exact: tests `fit` (recovery without noise to 1e-9), `fit_witness` (equations against an
///   independent derivation) and `fit_coverage` (intervals of 2,000 simulated calibrations).
///
/// # Errors
///
/// `C005` to `C021` for what cannot be used of the observations, all at once; the adjustment's own
/// faults when no place is found where the steps end.
///
/// # Caution
///
/// A calibration is no proof.
/// Check the tooth against surveyed points that were not used for it.
pub fn fit(machine: &Machine, observations: &Observations, ask: &FitAsk) -> Result<Fit, Faults> {
    let _ = sources::LEAST_SQUARES;
    check_asked(machine, observations, ask)?;
    let choice = choice(machine, observations, ask)?;
    let is_house = |id: &str| is_house_sensor(machine, id);
    let all = ask.solve.is_empty();
    let named = |path: &str| is_named(&ask.solve, path, is_house);
    let held = |path: &str| is_named(&ask.hold, path, is_house);
    let has_heading_offset = machine.sheet().heading_offset.is_some();
    let observed = build(
        machine,
        &choice,
        observations,
        ReadingSds {
            heading_sd_rad: ask.heading_sd_rad,
            antenna_sd_m: ask.antenna_sd_m,
        },
        &|figure| {
            let on_sheet = figure.path != HEADING_OFFSET || has_heading_offset;
            let sought = if all { on_sheet } else { named(&figure.path) };
            let has_sd = figure.measured.sd.is_some();
            !held(&figure.path) && (sought || has_sd)
        },
    )?;
    let mut unknowns = unknowns_of(&observed);
    let mut stated = priors_of(machine, &observed);
    let n_stated = stated.len();
    stated.extend(priors_of_the_fix(&observed));
    let n_known = stated.len();
    let start: Vec<f64> = unknowns.iter().map(|u| u.start).collect();
    let vague = open::vague_priors(&observed, &start);
    let near = near::near(
        &Problem {
            priors: &[stated.clone(), vague].concat(),
            ..Problem::new(&observed.system, &unknowns)
        },
        &observed,
        ask.seed,
    );
    let near = within_one_turn(&observed, near);
    // About the place that was found the vague knowledge pulls nowhere: it bounds what is open, no more.
    let priors = [stated, open::vague_priors(&observed, &near)].concat();
    for (unknown, start) in unknowns.iter_mut().zip(near) {
        unknown.start = start;
    }
    let problem = Problem {
        priors: &priors,
        ..Problem::new(&observed.system, &unknowns)
    };
    let settled = tested::settle(&problem, ask)?;
    let roles = |path: &str| {
        if all || named(path) {
            Role::Sought
        } else {
            Role::Carried
        }
    };
    let case = told::Case {
        machine,
        observations,
        observed: &observed,
        choice: &choice,
        ask,
        priors: &priors,
        n_stated,
        n_known,
    };
    told::told(&case, settled, &roles)
}

fn check_asked(machine: &Machine, observations: &Observations, ask: &FitAsk) -> Result<(), Faults> {
    let mut faults = Faults::none();
    let id = &machine.sheet().id;
    if !observations.machine.is_empty() && observations.machine != *id {
        faults.push(Fault::new(
            "C005",
            "machine",
            format!(
                "observations of {:?} for machine {id:?}",
                observations.machine
            ),
            "observations of this very machine",
            "choose the file that was measured on this machine, or its sheet",
        ));
    }
    if observations.rows.is_empty() {
        faults.push(Fault::new(
            "C008",
            "observations",
            "none",
            "at least one observation",
            "measure something, or choose the file with the measurements",
        ));
    }
    if !(0.0 < ask.level && ask.level < 0.5) {
        faults.push(Fault::new(
            "C009",
            "level",
            format!("{}", ask.level),
            "a level between 0 and 0.5, such as 0.05",
            "take 0.05 unless the job's papers ask for another",
        ));
    }
    for names in [&ask.solve, &ask.hold] {
        if let Err(more) = check_named(names, machine) {
            faults.0.extend(more.0);
        }
    }
    faults.or(())
}

/// The tool that hung, with the tooth point to tell uncertainties for.
fn choice(
    machine: &Machine,
    observations: &Observations,
    ask: &FitAsk,
) -> Result<ToolChoice, Fault> {
    let tool = &observations.tool;
    let sheet = machine.sheet();
    let bucket = match (tool.bucket.as_str(), sheet.buckets.as_slice()) {
        ("", [only]) => only.id.clone(),
        ("", _) => {
            let there: Vec<&str> = sheet.buckets.iter().map(|b| b.id.as_str()).collect();
            return Err(Fault::new(
                "C012",
                "tool.bucket",
                "no bucket named",
                format!("the bucket that hung: {}", there.join(", ")),
                "say which bucket hung on the machine while it was measured",
            ));
        }
        (named, _) => named.to_owned(),
    };
    let teeth = &machine.bucket(&bucket)?.teeth;
    let shot = |name: &str| {
        observations.rows.iter().any(|row| {
            let is = |t: &Target| matches!(t, Target::Tooth(n) if n == name);
            match &row.what {
                What::Shot { target, .. } | What::Touch { target, .. } => is(target),
                What::Tape { from, to, .. } | What::Slope { from, to, .. } => is(from) || is(to),
                What::HouseTurn { .. } | What::SwingCircle { .. } | What::PinArc { .. } => false,
            }
        })
    };
    let tooth = match &ask.tooth {
        Some(name) => name.clone(),
        None => teeth
            .iter()
            .filter(|t| shot(&t.name))
            .chain(teeth)
            .map(|t| t.name.clone())
            .next()
            .unwrap_or_default(),
    };
    Ok(ToolChoice {
        coupler: tool.coupler.clone(),
        tilt: tool.tilt.clone(),
        bucket,
        tooth,
    })
}

/// Angles of the machine within half a turn of nothing: a whole turn more is the same machine.
fn within_one_turn(observed: &Observed, mut values: Vec<f64>) -> Vec<f64> {
    for (unknown_idx, figure_idx) in observed.figure_of_unknown.iter().enumerate() {
        let figure = &observed.figures[*figure_idx];
        if figure.unit == FigureUnit::Radian && figure.measured.sd.is_none() {
            values[unknown_idx] = wrapped(values[unknown_idx]);
        }
    }
    values
}

/// The unknowns as the adjustment wants them.
fn unknowns_of(observed: &Observed) -> Vec<Unknown> {
    let figures = observed.figure_of_unknown.iter().map(|figure_idx| {
        let figure = &observed.figures[*figure_idx];
        let usual = match figure.unit {
            FigureUnit::Metre => 0.01,
            FigureUnit::Radian => 0.01,
        };
        (figure.path.clone(), figure.measured.sd.unwrap_or(usual))
    });
    let nuisances = observed.nuisances.iter().map(|n| (n.words(), n.scale()));
    figures
        .chain(nuisances)
        .zip(&observed.start)
        .map(|((name, scale), start)| Unknown {
            name,
            start: *start,
            scale,
        })
        .collect()
}

/// What is known of the satellite fix of every stand.
fn priors_of_the_fix(observed: &Observed) -> Vec<Prior> {
    let first = observed.figure_of_unknown.len();
    let nuisances = observed.nuisances.iter().enumerate();
    nuisances
        .filter_map(|(idx, nuisance)| {
            let sd = nuisance.known_sd_m(observed.fix_sd_m)?;
            Some(Prior {
                unknown_idx: vec![first + idx],
                value: vec![0.0],
                covariance: DMatrix::from_element(1, 1, sd * sd),
            })
        })
        .collect()
}

/// What the sheet, or the calibration that the machine carries, says of the figures.
fn priors_of(machine: &Machine, observed: &Observed) -> Vec<Prior> {
    let mut priors = Vec::new();
    let mut together = Vec::new();
    for (unknown_idx, figure_idx) in observed.figure_of_unknown.iter().enumerate() {
        let figure = &observed.figures[*figure_idx];
        let row = machine
            .correlated()
            .and_then(|c| c.paths.iter().position(|p| *p == figure.path));
        match (figure.measured.sd, row) {
            (Some(_), Some(row)) => together.push((unknown_idx, row, figure.measured.value)),
            (Some(sd), None) => priors.push(Prior {
                unknown_idx: vec![unknown_idx],
                value: vec![figure.measured.value],
                covariance: DMatrix::from_element(1, 1, sd * sd),
            }),
            (None, _) => {}
        }
    }
    if let (Some(correlated), false) = (machine.correlated(), together.is_empty()) {
        let n = together.len();
        priors.push(Prior {
            unknown_idx: together.iter().map(|(u, _, _)| *u).collect(),
            value: together.iter().map(|(_, _, value)| *value).collect(),
            covariance: DMatrix::from_fn(n, n, |i, j| {
                correlated.covariance[(together[i].1, together[j].1)]
            }),
        });
    }
    priors
}
