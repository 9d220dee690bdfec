//! A check as a person reads it: ready text, made from the record's numbers.

use holdline_geom::measured::Measured;
use holdline_sheet::figure::{Kind, NONE_STATED, plain};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::body::{Answer, AxisBody, CheckBody, DecisionBody, FindingBody, ShotBody};
use super::diagnosis_view::{DiagnosisView, diagnosis_view};
use super::shots::ShownBy;
use crate::units::Units;
use crate::views::{FigureView, FindingView};

/// What either check says.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CheckView {
    /// The answer.
    pub outcome: Answer,
    /// The same in words, with its figures.
    pub decision: String,
    /// Figures of the whole.
    pub summary: Vec<FigureView>,
    /// Heads of the table; the first is that of the labels.
    pub columns: Vec<String>,
    /// Rows of the table.
    pub rows: Vec<RowView>,
    /// What to look at.
    pub findings: Vec<FindingView>,
    /// Why a full re-check is due; empty: it is not.
    pub recheck: Vec<String>,
    /// To be read before relying on it.
    pub cautions: Vec<String>,
    /// What drifted, where the shots carry readings.
    pub diagnosis: Option<DiagnosisView>,
}

/// A row of ready text.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RowView {
    /// What it is.
    pub label: String,
    /// Cells, one a column after the first.
    pub cells: Vec<String>,
}

/// What a full check speaks for.
pub const CAUTION_CHECK: &str = "A check speaks for the poses, the tool and the day it was made. Wear, another bucket or a knocked sensor end it.";
/// What one bench speaks for.
pub const CAUTION_DAILY: &str = "One bench proves one pose. A limit that failed stops work near it until a competent person has found out why.";

/// A full check in words.
pub fn check_view(body: &CheckBody, units: Units) -> CheckView {
    let mut summary = Vec::new();
    for axis in &body.axes {
        summary.extend(axis_figures(axis, units));
    }
    summary.push(FigureView::words(
        "Tolerance",
        "Height",
        decision_words(&body.height, units),
    ));
    if let Some(plan) = &body.plan {
        summary.push(FigureView::words(
            "Tolerance",
            "Plan",
            decision_words(plan, units),
        ));
    }
    summary.push(common_figure(body, units));
    summary.extend(
        body.satellites_sd_m
            .map(|sd_m| satellite_figure(body, sd_m, units)),
    );
    let mut recheck: Vec<String> = body
        .findings
        .iter()
        .filter(|f| f.code == "V005")
        .map(|f| format!("shot {}: {}", f.at, true_minus(&f.what)))
        .collect();
    if body.decision.answer != Answer::Pass {
        recheck.push("the tolerance was not shown to hold".to_owned());
    }
    if body.found_something() {
        recheck.push("the diagnosis found something to look at on the machine".to_owned());
    }
    CheckView {
        outcome: body.decision.answer,
        decision: whole_words(body, units),
        summary,
        columns: ["Shot", "Easting", "Northing", "Elevation", "Shown by"]
            .map(str::to_owned)
            .to_vec(),
        rows: body.shots.iter().map(|shot| row(shot, units)).collect(),
        findings: findings_view(&body.findings),
        recheck,
        cautions: vec![CAUTION_CHECK.to_owned()],
        diagnosis: body.diagnosis.as_ref().map(diagnosis_view),
    }
}

/// The decision on the whole, with the figures that it rests on.
fn whole_words(body: &CheckBody, units: Units) -> String {
    if body.decision.answer == Answer::NotShown {
        return decision_words(&body.decision, units);
    }
    let mut words = match body.decision.answer {
        Answer::Pass => "Holds.".to_owned(),
        Answer::Fail | Answer::NotShown => "Does not hold.".to_owned(),
    };
    let (kind, decimals) = (units.difference(), units.small_decimals());
    let span = |low: f64, high: f64| {
        format!(
            "{} to {}",
            plain(low, &kind, decimals),
            plain(high, &kind, decimals)
        )
    };
    let axis = |name: &str| body.axes.iter().find(|axis| axis.axis == name);
    if let (Some(up), Some([low, high])) = (axis("elevation"), body.height.tolerance_m)
        && let (Some(mean), Some(next)) = (up.mean_half_width_m, up.next_half_width_m)
    {
        words.push_str(&format!(
            " Height: mean {}, next single result {}, allowed {}.",
            span(up.mean_m - mean, up.mean_m + mean),
            span(up.mean_m - next, up.mean_m + next),
            span(low, high)
        ));
    }
    let plan = body.plan.as_ref().and_then(|plan| plan.tolerance_m);
    if let (Some(east), Some(north), Some([_, radius])) = (axis("easting"), axis("northing"), plan)
        && let (Some(e), Some(n)) = (east.next_half_width_m, north.next_half_width_m)
    {
        let most = (east.mean_m.abs() + e).hypot(north.mean_m.abs() + n);
        let small = units.small();
        words.push_str(&format!(
            " Plan: next single result at most {} off, allowed {}.",
            plain(most, &small, decimals),
            plain(radius, &small, decimals)
        ));
    }
    words
}

/// Findings as a person reads them; shots without a stated uncertainty are one line, however many axes they have.
pub(crate) fn findings_view(findings: &[FindingBody]) -> Vec<FindingView> {
    let (bare, other): (Vec<_>, Vec<_>) = findings.iter().partition(|f| f.code == "V002");
    let mut views: Vec<FindingView> = other
        .into_iter()
        .map(|finding| FindingView {
            code: finding.code.clone(),
            text: true_minus(&finding.what),
            place: finding.at.clone(),
        })
        .collect();
    let mut shots: Vec<&str> = bare
        .iter()
        .map(|finding| {
            finding
                .at
                .rsplit_once(", ")
                .map_or(finding.at.as_str(), |(shot, _)| shot)
        })
        .collect();
    shots.dedup();
    if !bare.is_empty() {
        views.push(FindingView {
            code: "V002".to_owned(),
            text: format!(
                "no uncertainty was stated for {} of the differences",
                bare.len()
            ),
            place: format!("shots {}", shots.join(", ")),
        });
    }
    views
}

/// The same words with a true minus before every negative number.
pub(crate) fn true_minus(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut before = ' ';
    let mut letters = text.chars().peekable();
    while let Some(letter) = letters.next() {
        let number_next = letters.peek().is_some_and(char::is_ascii_digit);
        let minus = letter == '-' && number_next && !before.is_alphanumeric();
        out.push(if minus { '\u{2212}' } else { letter });
        before = letter;
    }
    out
}

/// A decision in words, with its figures.
pub fn decision_words(decision: &DecisionBody, units: Units) -> String {
    let kind = units.difference();
    let span = |[low, high]: [f64; 2]| {
        let decimals = units.small_decimals();
        format!(
            "{} to {}",
            plain(low, &kind, decimals),
            plain(high, &kind, decimals)
        )
    };
    let because = true_minus(decision.because.as_deref().unwrap_or("a figure is missing"));
    match (decision.answer, decision.covered_m, decision.tolerance_m) {
        (Answer::Pass, Some(covered), Some(tolerance)) => format!(
            "Holds: with their uncertainty the differences lie within {}, allowed is {}.",
            span(covered),
            span(tolerance)
        ),
        (Answer::Fail, Some(covered), Some(tolerance)) => format!(
            "Does not hold: even with the uncertainty taken off the differences lie at {}, allowed is {}.",
            span(covered),
            span(tolerance)
        ),
        (Answer::Pass | Answer::Fail | Answer::NotShown, _, _) => format!("Not shown: {because}."),
    }
}

fn axis_figures(axis: &AxisBody, units: Units) -> [FigureView; 2] {
    let mut letters = axis.axis.chars();
    let name: String = letters
        .next()
        .map_or_else(String::new, |c| c.to_uppercase().chain(letters).collect());
    let kind = units.difference();
    let half = |half: Option<f64>| match half {
        Some(half) => format!("± {} (95 %)", bare(half, &kind, units)),
        None => NONE_STATED.to_owned(),
    };
    let decimals = units.small_decimals();
    let group = format!("{name}, {} shots", axis.n);
    let mut mean = FigureView::words(
        &group,
        "Mean difference, shown \u{2212} surveyed",
        plain(axis.mean_m, &kind, decimals),
    );
    mean.value = Some(axis.mean_m);
    mean.unit = "m".to_owned();
    mean.sd = None;
    mean.uncertainty_text = half(axis.mean_half_width_m);
    let sd = axis.sd_m.map_or_else(
        || "not known: one shot has no spread".to_owned(),
        |sd| plain(sd, &units.small(), decimals),
    );
    let mut spread = FigureView::words(&group, "Spread of one shot (sd)", sd);
    spread.value = axis.sd_m;
    spread.unit = "m".to_owned();
    if axis.next_half_width_m.is_some() {
        spread.uncertainty_text = format!("next single result {}", half(axis.next_half_width_m));
    }
    [mean, spread]
}

/// A length without sign and unit, for after a `±`.
fn bare(value_m: f64, kind: &Kind, units: Units) -> String {
    holdline_sheet::figure::rounded(
        value_m * kind.per_si,
        units.small_decimals(),
        holdline_sheet::figure::Sign::Minus,
    )
}

fn common_figure(body: &CheckBody, units: Units) -> FigureView {
    let text = by_axis(body.common_sd_m, units);
    let mut figure = FigureView::words("Control", "Common to all shots (k = 1)", text);
    figure.uncertainty_text.clone_from(&body.common_sd_from);
    figure
}

fn satellite_figure(body: &CheckBody, sd_m: [Option<f64>; 3], units: Units) -> FigureView {
    let text = by_axis(sd_m, units);
    let mut figure = FigureView::words("Satellite positions", "Common to all shots (k = 1)", text);
    let assumed = body.findings.iter().any(|f| f.code == "V007");
    figure.uncertainty_text = if assumed {
        "not stated: as of one position"
    } else {
        "as stated"
    }
    .to_owned();
    figure
}

fn by_axis(sd_m: [Option<f64>; 3], units: Units) -> String {
    let [east, north, up] = sd_m.map(|sd| {
        sd.map_or_else(
            || "not stated".to_owned(),
            |sd| plain(sd, &units.small(), units.small_decimals()),
        )
    });
    format!("E {east}, N {north}, El {up}")
}

fn row(shot: &ShotBody, units: Units) -> RowView {
    let kind = units.difference();
    let mut cells: Vec<String> = (0..3)
        .map(|axis| match shot.difference_m[axis] {
            None => "\u{2013}".to_owned(),
            Some(value) => {
                let measured = Measured {
                    value,
                    sd: shot.difference_sd_m[axis],
                };
                FigureView::measured("", "", measured, &kind).text_with_uncertainty()
            }
        })
        .collect();
    cells.push(
        match shot.shown_by {
            ShownBy::Display => "display",
            ShownBy::Readings => "readings",
        }
        .to_owned(),
    );
    RowView {
        label: shot.name.clone(),
        cells,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_minus_is_a_minus_and_a_date_a_date() {
        let got = true_minus("-12.7 mm to -3 mm since 2025-12-03, two-axis (-1)");
        let want = "\u{2212}12.7 mm to \u{2212}3 mm since 2025-12-03, two-axis (\u{2212}1)";
        assert_eq!(got, want);
    }
}
