//! Every number that was measured or read, with its test; what was taken out, and why.

use super::names::{figure_words, kind_words};
use super::result::{FittedReading, ReadingState, Rejection};
use super::tested::{INSEPARABLE, Settled};
use super::told::{Case, at_tooth_m};
use super::tooth_sure::Working;
use crate::machine::figures::FigureUnit;
use holdline_geom::adjust::{Observed as About, Rejected, Test};

fn name_of(case: &Case<'_>, about: About) -> (String, String) {
    match about {
        About::Reading { block, reading } => {
            let label = &case.observed.labels[block][reading];
            let row = &case.observations.rows[label.observation_idx];
            (row.name.clone(), label.what.clone())
        }
        About::Prior { prior, entry } => {
            let unknown_idx = case.priors[prior].unknown_idx[entry];
            let n_figures = case.observed.figure_of_unknown.len();
            if n_figures <= unknown_idx {
                let words = case.observed.nuisances[unknown_idx - n_figures].words();
                return (words, String::new());
            }
            let figure_idx = case.observed.figure_of_unknown[unknown_idx];
            (
                case.observed.figures[figure_idx].path.clone(),
                "as on the sheet".to_owned(),
            )
        }
    }
}

pub(super) fn full_name(case: &Case<'_>, about: About) -> String {
    match about {
        About::Reading { .. } => {
            let (name, part) = name_of(case, about);
            format!("{name} {part}")
        }
        About::Prior { prior, .. } if case.n_stated <= prior => name_of(case, about).0,
        About::Prior { .. } => format!("the sheet's {}", figure_words(&name_of(case, about).0)),
    }
}

/// Every number that counts and was tested, and then those that were taken out.
pub(super) fn readings_of(
    case: &Case<'_>,
    settled: &Settled,
    poses: &[Working],
) -> Vec<FittedReading> {
    let mut twins: Vec<Vec<usize>> = vec![Vec::new(); settled.statistics.tests.len()];
    for (a, b, _) in settled.statistics.pairs_not_separable(INSEPARABLE) {
        twins[a].push(b);
        twins[b].push(a);
    }
    let stated =
        |test: &Test| !matches!(test.of, About::Prior { prior, .. } if case.n_stated <= prior);
    let tests = settled.statistics.tests.iter().zip(twins).enumerate();
    let tests = tests.filter(|(_, (test, _))| stated(test));
    let counted = tests.map(|(idx, (test, twins))| {
        let mut reading = reading_of(case, test, ReadingState::Used);
        if test.unchecked() {
            reading.state = ReadingState::Unchecked;
        }
        reading.at_tooth_m = test.mdb.map(|error| {
            let change = settled.statistics.effect_on_unknowns(idx, error);
            at_tooth_m(case.observed, poses, &change)
        });
        reading.twins = twins
            .iter()
            .map(|twin| full_name(case, settled.statistics.tests[*twin].of))
            .collect();
        reading
    });
    let out = settled.taken_out.iter().map(|out| {
        let mut reading = reading_of(case, &out.test, ReadingState::Rejected);
        reading.off = out.error;
        reading.twins = out
            .or_else
            .iter()
            .map(|(twin, _)| full_name(case, *twin))
            .collect();
        reading
    });
    counted.chain(out).collect()
}

fn reading_of(case: &Case<'_>, test: &Test, state: ReadingState) -> FittedReading {
    let observed = case.observed;
    let (name, part) = name_of(case, test.of);
    let (observation_idx, kind, pose, unit, measured, sd) = match test.of {
        About::Reading { block, reading } => {
            let label = &observed.labels[block][reading];
            let row = &case.observations.rows[label.observation_idx];
            let block = &observed.system.blocks[block];
            let n = block.readings.len();
            let own = label.what.starts_with("reading of ") || label.what.contains("antenna");
            let unit = if label.angle {
                FigureUnit::Radian
            } else {
                FigureUnit::Metre
            };
            (
                Some(label.observation_idx),
                if own {
                    label.what.clone()
                } else {
                    kind_words(row)
                },
                row.pose.clone(),
                unit,
                block.readings[reading],
                block.covariance[reading * n + reading].sqrt(),
            )
        }
        About::Prior { prior, entry } => {
            let prior = &case.priors[prior];
            let figure_idx = observed.figure_of_unknown[prior.unknown_idx[entry]];
            (
                None,
                "machine sheet".to_owned(),
                String::new(),
                observed.figures[figure_idx].unit,
                prior.value[entry],
                prior.covariance[(entry, entry)].sqrt(),
            )
        }
    };
    FittedReading {
        observation_idx,
        name,
        part,
        kind,
        pose,
        unit,
        measured,
        sd,
        off: -test.residual,
        in_sd: test.w.map(|w| -w),
        redundancy: test.redundancy,
        detectable: test.mdb,
        at_tooth_m: None,
        state,
        twins: Vec::new(),
    }
}

pub(super) fn rejected_of(
    case: &Case<'_>,
    settled: &Settled,
    readings: &[FittedReading],
) -> Vec<Rejection> {
    let first = readings.len() - settled.taken_out.len();
    let out = settled.taken_out.iter().enumerate();
    out.map(|(n, out)| Rejection {
        reading_idx: first + n,
        in_sd: readings[first + n].in_sd.unwrap_or(f64::NAN),
        chi2: [out.chi2.0, out.chi2.1],
        why: why(case, n, out, &readings[first + n]),
    })
    .collect()
}

/// Why a number was taken out, and what it looks like.
fn why(case: &Case<'_>, n: usize, out: &Rejected, reading: &FittedReading) -> String {
    let about = About::Reading {
        block: out.reading.block,
        reading: out.reading.reading,
    };
    let mut words = format!(
        "{}: {} from what all others say, {:.1} times its own uncertainty where {:.1} is the limit; \
         taken out as number {}",
        full_name(case, about),
        off_words(reading),
        reading.in_sd.unwrap_or(f64::NAN).abs(),
        out.critical,
        n + 1
    );
    if let Some(typed) = swapped_digits(reading) {
        words.push_str(&format!("; it would fit if {typed}"));
    }
    if !reading.twins.is_empty() {
        words.push_str(&format!(
            "; its test cannot be told from that of {}: one of these is wrong",
            reading.twins.join(", ")
        ));
    }
    words
}

pub(super) fn off_words(reading: &FittedReading) -> String {
    match reading.unit {
        FigureUnit::Metre => format!("{:+.0} mm", reading.off * 1000.0),
        FigureUnit::Radian => format!("{:+.2}°", reading.off.to_degrees()),
    }
}

/// Two neighbouring digits in the wrong order, where that explains a length.
pub(super) fn swapped_digits(reading: &FittedReading) -> Option<String> {
    if reading.unit != FigureUnit::Metre {
        return None;
    }
    let want = reading.measured - reading.off;
    let typed = format!("{:.3}", reading.measured);
    let digits: Vec<char> = typed.chars().collect();
    let places: Vec<usize> = (0..digits.len())
        .filter(|i| digits[*i].is_ascii_digit())
        .collect();
    let near = (5.0 * reading.sd).max(0.005);
    places.windows(2).find_map(|pair| {
        let mut other = digits.clone();
        other.swap(pair[0], pair[1]);
        let text: String = other.iter().collect();
        let value: f64 = text.parse().ok()?;
        let differs = digits[pair[0]] != digits[pair[1]];
        (differs && (value - want).abs() <= near)
            .then(|| format!("{text} m had been written instead of {typed} m"))
    })
}

/// Pairs of numbers whose tests cannot be told apart, in words; the closest first.
pub(super) fn inseparable(case: &Case<'_>, settled: &Settled) -> Vec<String> {
    const N_TOLD: usize = 20;
    let tests = &settled.statistics.tests;
    let mut pairs = settled.statistics.pairs_not_separable(INSEPARABLE);
    pairs.sort_by(|a, b| b.2.abs().total_cmp(&a.2.abs()));
    let n_more = pairs.len().saturating_sub(N_TOLD);
    let mut words: Vec<String> = pairs
        .iter()
        .take(N_TOLD)
        .map(|(a, b, _)| {
            format!(
                "{} and {}: an error in one looks like an error in the other",
                full_name(case, tests[*a].of),
                full_name(case, tests[*b].of)
            )
        })
        .collect();
    if n_more != 0 {
        words.push(format!("and {n_more} more pairs"));
    }
    words
}
