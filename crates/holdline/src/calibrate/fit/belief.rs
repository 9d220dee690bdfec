//! Whether a fit can be believed, and what a person must look at.

use super::considered::Considered;
use super::names::figure_words;
use super::near::is_length;
use super::numbers::{off_words, swapped_digits};
use super::result::{Belief, Fit, FittedFigure, FittedReading, Global, Open, ReadingState};
use super::tested::Settled;
use super::told::{Case, moves_tooth};
use super::tooth_sure::Working;
use crate::calibrate::observations::{Observation, Observations, Target, What};
use holdline_geom::adjust::Ended;
use holdline_geom::measured::Measured;

/// With some dozens of figures on a sheet one of them is so many of its own uncertainties off by chance
/// once in some thousand fits.
pub(super) const BEYOND_CHANCE: f64 = 4.5;

/// Below so many degrees of freedom a small sum of squares is soon chance.
const DOF_AT_LEAST: usize = 10;

/// Residuals of less than this share of what was stated, on average, are no careful person's caution any more.
const SHARE_TOO_GOOD: f64 = 1.0 / 3.0;

/// Whether what is left over is too small to have been measured.
fn too_good(global: &Global) -> bool {
    let mean = global.chi2 / global.dof as f64;
    DOF_AT_LEAST <= global.dof && global.chi2 < global.within[0] && mean.sqrt() < SHARE_TOO_GOOD
}

/// Figures that counted as exact though the sheet does not say how sure they are: those that the
/// equations depend on, or the tooth.
pub(super) fn held(case: &Case<'_>, considered: &Considered, poses: &[Working]) -> Vec<String> {
    let figures = case.observed.figures.as_slice();
    considered
        .figure_idx
        .iter()
        .zip(&considered.touched)
        .filter(|(figure_idx, touched)| {
            let moves = poses.iter().any(|pose| {
                (0..3).any(|axis| !(pose.by_figure[(axis, **figure_idx)].abs() <= 1e-9))
            });
            figures[**figure_idx].measured.sd.is_none() && (**touched || moves)
        })
        .map(|(figure_idx, _)| figures[*figure_idx].path.clone())
        .collect()
}

pub(super) fn findings(case: &Case<'_>, fit: &Fit) -> Vec<String> {
    let mut words = Vec::new();
    let untouched: Vec<String> = case
        .observed
        .untouched
        .iter()
        .map(|idx| figure_words(&case.observed.figures[*idx].path))
        .collect();
    let named = !case.ask.solve.is_empty();
    if named && !untouched.is_empty() {
        words.push(format!(
            "nothing measured depends on {}: it stays as on the sheet",
            untouched.join(", ")
        ));
    }
    if !fit.held.is_empty() {
        let held: Vec<String> = fit.held.iter().map(|p| figure_words(p)).collect();
        words.push(format!(
            "the sheet states no uncertainty for {}; it counted as exact, so the tooth that it moves and the figures that lean on it have none",
            held.join(", ")
        ));
    }
    if let Some(global) = &fit.global
        && global.chi2 < global.within[0]
        && DOF_AT_LEAST <= global.dof
    {
        words.push(format!(
            "what is left over is smaller than the uncertainties stated allow (χ² {:.1} on {} degrees of freedom, at \
             least {:.1} expected): they are stated too large, and so are those that come out; or rows were copied",
            global.chi2, global.dof, global.within[0]
        ));
    }
    let unchecked = fit
        .readings
        .iter()
        .filter(|r| r.state == ReadingState::Unchecked && r.observation_idx.is_some())
        .count();
    if unchecked != 0 {
        words.push(format!(
            "{unchecked} of {} numbers are checked by next to nothing: a gross error in one of them would hide",
            fit.readings.len()
        ));
    }
    words
}

/// Whether it can be believed. What is not shown to be in order is not.
pub(super) fn belief(settled: &Settled, fit: &Fit, coin_tosses: Vec<String>) -> Belief {
    let mut why = coin_tosses;
    match &fit.global {
        None => why.push(
            "nothing is left over to check it with: measure more poses than the unknowns need".to_owned(),
        ),
        Some(global) if global.holds() => {}
        Some(global) if too_good(global) => why.push(format!(
            "what is left over is less than a third of what the uncertainties stated make (χ² {:.1} on {} degrees of \
             freedom): no instrument is so much better than its hands; state what it really gives, and look for rows \
             that were computed or copied and not measured",
            global.chi2, global.dof
        )),
        // Uncertainties stated too large make what comes out less sure than it is: that is told, and does no harm.
        Some(global) if global.chi2 < global.within[0] => {}
        Some(global) => why.push(format!(
            "what is left over is too large for the uncertainties stated (χ² {:.1} on {} degrees of freedom, \
             at most {:.1} expected): something measured is wrong, or the sheet's form of the machine is",
            global.chi2, global.dof, global.within[1]
        )),
    }
    if settled.ended == Some(Ended::Prior)
        && let Some((words, in_sd)) = sheet_contradicts(fit)
        && !(in_sd <= BEYOND_CHANCE)
    {
        why.push(words);
    }
    let sticks_out = |reading: &&FittedReading| {
        let counts = reading.observation_idx.is_some() && reading.state != ReadingState::Rejected;
        // Where all count, one of some hundred passes the limit by chance.
        let limit = match settled.ended {
            Some(_) => fit.limit,
            None => BEYOND_CHANCE,
        };
        counts && reading.in_sd.is_some_and(|w| !(w.abs() <= limit))
    };
    if let Some(worst) = fit.readings.iter().filter(sticks_out).max_by(|a, b| {
        let size = |r: &FittedReading| r.in_sd.map_or(0.0, f64::abs);
        size(a).total_cmp(&size(b))
    }) {
        why.push(format!(
            "{} {} is {} from what all others say, {:.1} times its own uncertainty, and counts: find out why before it is used",
            worst.name,
            worst.part,
            off_words(worst),
            worst.in_sd.map_or(f64::NAN, f64::abs)
        ));
    }
    let turned_over = |f: &&FittedFigure| is_length(&f.path) && !(0.0 < f.value);
    for figure in fit.figures.iter().filter(turned_over) {
        why.push(format!(
            "{} came out as {:.3} m: the search began too far off, give a better guess on the sheet",
            figure_words(&figure.path),
            figure.value
        ));
    }
    if !fit.copied.is_empty() {
        why.push(format!(
            "rows agree to the last digit, which nothing measured twice does: {}",
            fit.copied.join(", ")
        ));
    }
    if settled.ended == Some(Ended::TooMany) {
        why.push(
            "more than a tenth of the numbers would have to go: look for what they have in common before anything is taken out"
                .to_owned(),
        );
    }
    let moving: Vec<&Open> = fit
        .not_determined
        .iter()
        .filter(|open| moves_tooth(open))
        .collect();
    if !moving.is_empty() {
        let words: Vec<&str> = moving.iter().map(|o| o.words.as_str()).collect();
        why.push(format!(
            "not determined, and it moves the tooth: {}",
            words.join("; ")
        ));
    }
    if why.is_empty() {
        Belief::Believed
    } else {
        Belief::NotBelieved(why)
    }
}

/// The figure of the sheet that the observations contradict most, and what it looks like.
pub(super) fn sheet_contradicts(fit: &Fit) -> Option<(String, f64)> {
    let size = |reading: &&FittedReading| reading.in_sd.map_or(0.0, f64::abs);
    let on_sheet = fit.readings.iter().filter(|r| r.observation_idx.is_none());
    let worst = on_sheet.max_by(|a, b| size(a).total_cmp(&size(b)))?;
    let mut words = format!(
        "the sheet's {} is {} from what was measured, {:.1} times its own uncertainty: look at the sheet first",
        figure_words(&worst.name),
        off_words(worst),
        size(&worst)
    );
    if let Some(typed) = swapped_digits(worst) {
        words.push_str(&format!("; it would fit if {typed}"));
    }
    Some((words, size(&worst)))
}

/// Numbers of two rows that agree to the last digit and are no chance, whatever name and date they carry.
const N_NO_CHANCE: usize = 3;

/// Rows that are copies of another: the same point, and every measured digit the same.
///
/// Names, dates, poses and set-ups are not looked at where three numbers or more agree: they are typed, the
/// numbers are measured. A point that is fixed to the house may well be where it was in another pose.
pub(super) fn copied(observations: &Observations) -> Vec<String> {
    let rows = &observations.rows;
    let mut pairs = Vec::new();
    for (idx, row) in rows.iter().enumerate() {
        let other = rows[..idx].iter().find(|other| is_copy(row, other));
        if let Some(first) = other {
            pairs.push(format!("{} and {}", first.name, row.name));
        }
    }
    pairs
}

/// Coordinates of two poses that agree like this were not measured twice, m: nobody brings a tooth back so well.
const NEAR_M: f64 = 0.001;

/// The same of readings, rad or m.
const NEAR_READING: f64 = 1e-4;

fn is_copy(row: &Observation, other: &Observation) -> bool {
    let same_pose = (&row.pose, &row.stand) == (&other.pose, &other.stand);
    if !same_pose && is_near_copy(row, other) {
        return true;
    }
    if row.readings != other.readings {
        return false;
    }
    let same_time = row.when == other.when && row.setup == other.setup;
    let n_readings = row.readings.len();
    match &row.what {
        // The sensors stood still to the last digit, and the machine did not.
        What::Touch { target, .. } => {
            let same = matches!(&other.what, What::Touch { target: t, .. } if t == target);
            same && !same_pose && N_NO_CHANCE <= n_readings
        }
        What::Shot { target, at_m } => {
            let fixed = matches!(
                target,
                Target::BoomFoot | Target::SwingAxis | Target::Antenna(_)
            );
            let n = n_readings + at_m.iter().flatten().count();
            let may_stay = fixed && n_readings == 0 && !same_pose;
            row.what == other.what && !may_stay && (same_time || N_NO_CHANCE <= n)
        }
        What::SwingCircle { at_m, .. } | What::PinArc { at_m, .. } => {
            let n = n_readings + at_m.iter().flatten().count();
            row.what == other.what && (same_time || N_NO_CHANCE <= n)
        }
        What::HouseTurn { .. } => row.what == other.what && same_time,
        // A tape read twice to the millimetre may well agree; coordinates and readings do not.
        What::Tape { .. } | What::Slope { .. } => false,
    }
}

/// A shot in another pose with everything the same but for less than anybody can bring back.
fn is_near_copy(row: &Observation, other: &Observation) -> bool {
    let (
        What::Shot { target, at_m },
        What::Shot {
            target: other_target,
            at_m: other_m,
        },
    ) = (&row.what, &other.what)
    else {
        return false;
    };
    let fixed = matches!(
        target,
        Target::BoomFoot | Target::SwingAxis | Target::Antenna(_)
    );
    let pairs = at_m.iter().zip(other_m);
    let near = |(a, b): (&Option<Measured>, &Option<Measured>)| match (a, b) {
        (Some(a), Some(b)) => Some((a.value - b.value).abs() <= NEAR_M),
        (None, None) => None,
        _ => Some(false),
    };
    let coordinates: Vec<bool> = pairs.filter_map(near).collect();
    let same_names = row.readings.len() == other.readings.len()
        && row
            .readings
            .iter()
            .zip(&other.readings)
            .all(|((a, x), (b, y))| a == b && (x - y).abs() <= NEAR_READING);
    let n = coordinates.len() + row.readings.len();
    target == other_target
        && !fixed
        && same_names
        && coordinates.iter().all(|near| *near)
        && N_NO_CHANCE <= n
}
