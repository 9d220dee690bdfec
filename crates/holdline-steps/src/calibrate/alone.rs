//! What some rows say by themselves, beside the fit: as numbers of the record, and in words.

use holdline::calibrate::field_fits::{FieldFigure, FieldFit, field_fits};
use holdline::calibrate::fit::Fit;
use holdline::calibrate::observations::Observations;
use holdline::machine::Machine;
use holdline_geom::fault::Faults;
use holdline_geom::measured::Measured;
use holdline_sheet::figure::{Coverage, Sign, figure, rounded};

use super::body::{AloneBody, AloneFigureBody};
use super::fit::{finding, unit};
use super::view::fine;
use crate::units::Units;
use crate::verify::FindingBody;

/// The rows by themselves, and a finding of each figure in which the fit and they differ.
pub(super) fn alone(
    machine: &Machine,
    observations: &Observations,
    found: &Fit,
) -> (Vec<AloneBody>, Vec<FindingBody>) {
    let all = field_fits(machine, observations, Some(found));
    let differs = |one: &FieldFit| {
        let figures: Vec<FindingBody> = one
            .figures
            .iter()
            .filter(|figure| figure.differs())
            .map(|figure| apart(&one.what, figure))
            .collect();
        figures
    };
    let findings = all.iter().flat_map(differs).collect();
    (all.iter().map(body).collect(), findings)
}

/// Faults of a fit that did not settle, with what the rows say by themselves.
pub(super) fn told(machine: &Machine, observations: &Observations, mut faults: Faults) -> Faults {
    let all = field_fits(machine, observations, None);
    let words: Vec<String> = all
        .iter()
        .flat_map(|one| alone_words(&body(one), Units::Metric))
        .collect();
    if words.is_empty() {
        return faults;
    }
    for fault in faults.0.iter_mut().filter(|fault| fault.code == "A006") {
        fault.fix = format!(
            "{}; the rows by themselves say: {}",
            fault.fix,
            words.join("; ")
        );
    }
    faults
}

fn apart(what: &str, figure: &FieldFigure) -> FindingBody {
    let n = rounded(figure.apart_in_sd.unwrap_or(f64::NAN), 1, Sign::Minus);
    let says = format!(
        "{} by these rows alone is {n} sd from what the fit has: a row of them is off, or something that the fit rests on is",
        figure.name
    );
    finding("V048", what, says)
}

fn body(one: &FieldFit) -> AloneBody {
    AloneBody {
        what: one.what.clone(),
        figures: one
            .figures
            .iter()
            .map(|figure| AloneFigureBody {
                name: figure.name.clone(),
                unit: unit(figure.unit),
                alone: figure.alone.value,
                sd: figure.alone.sd,
                together: figure.together,
                apart_in_sd: figure.apart_in_sd.filter(|apart| apart.is_finite()),
            })
            .collect(),
        findings: one.findings.clone(),
    }
}

/// One field fit in sentences; ± is k = 2.
pub(crate) fn alone_words(body: &AloneBody, units: Units) -> Vec<String> {
    let mut words: Vec<String> = body
        .figures
        .iter()
        .map(|one| {
            let kind = fine(one.unit, units);
            let text = |value: f64, sd: Option<f64>| {
                figure(Measured { value, sd }, &kind, Coverage::Twice).text()
            };
            let beside = match (one.together, one.apart_in_sd) {
                (None, _) => String::new(),
                (Some(other), None) => format!("; in the fit {}", text(other, None)),
                (Some(other), Some(apart)) => format!(
                    "; in the fit {}, {} sd apart",
                    text(other, None),
                    rounded(apart, 1, Sign::Minus)
                ),
            };
            format!(
                "{}: {} {}{beside}",
                body.what,
                one.name,
                text(one.alone, one.sd)
            )
        })
        .collect();
    words.extend(
        body.findings
            .iter()
            .map(|what| format!("{}: {what}", body.what)),
    );
    words
}
