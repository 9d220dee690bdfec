//! The check sheet.

use holdline::machine::Machine;
use holdline_geom::fault::Faults;
use holdline_geom::measured::Measured;
use holdline_sheet::page::Page;
use holdline_sheet::sheets::{CheckSheet, Component, Outcome, Shot, render_check};

use super::block::Standing;
use super::shot_notes::ShotNotes;
use super::{answer_word, model, pose_of_shot, words};
use crate::drawings;
use crate::units::Units;
use crate::verify::{
    Answer, CheckBody, DecisionBody, FullAsk, ShotBody, ShownBy, ToleranceAsk, check_view,
    decision_words,
};

/// Axes in the order of paper: northing, easting, elevation.
const ON_PAPER: [(usize, &str, &str); 3] = [
    (1, "N", "northing"),
    (0, "E", "easting"),
    (2, "U", "elevation"),
];

/// The pages of a check.
pub(super) fn pages(
    standing: &Standing,
    machine: &Machine,
    ask: &FullAsk,
    body: &CheckBody,
    notes: &ShotNotes,
    units: Units,
) -> Result<Vec<Page>, Faults> {
    Ok(render_check(
        &sheet(standing, machine, ask, body, notes, units)?,
        &words(),
    ))
}

/// The sheet of a check, not yet drawn.
pub(super) fn sheet(
    standing: &Standing,
    machine: &Machine,
    ask: &FullAsk,
    body: &CheckBody,
    notes: &ShotNotes,
    units: Units,
) -> Result<CheckSheet, Faults> {
    let view = check_view(body, units);
    let caution = view.cautions.join(" ");
    let axes: Vec<_> = ON_PAPER
        .iter()
        .filter(|(_, _, axis)| body.axes.iter().any(|a| a.axis == *axis))
        .collect();
    let mut findings: Vec<String> = view
        .findings
        .iter()
        .map(|f| format!("{}, {}: {}", f.code, f.place, f.text))
        .collect();
    findings.push(format!(
        "Rule: the mean and the next single result, each with its 95 % width (Student's t, and twice the uncertainty common to all shots), must lie inside the tolerance. Common to all shots: {}{}.",
        body.common_sd_from,
        if body.satellites_sd_m.is_some() {
            "; and what the satellite positions share"
        } else {
            ""
        }
    ));
    let model = model(machine, &ask.tool)?;
    let pose = pose_of_shot(&ask.tool, body.shots.first(), units);
    Ok(CheckSheet {
        block: standing.block("Check of the tooth", machine, &ask.tool, units, &caution),
        components: axes
            .iter()
            .map(|(axis, letter, name)| {
                component(body, &ask.tolerance, *axis, (letter, name), units)
            })
            .collect(),
        shots: body
            .shots
            .iter()
            .map(|shot| {
                self::shot(
                    shot,
                    &axes.iter().map(|(axis, ..)| *axis).collect::<Vec<_>>(),
                )
            })
            .collect(),
        outcome: outcome(body.decision.answer),
        decision: view.decision,
        measured: notes.measured.clone(),
        warning: notes.warning.clone(),
        findings,
        machine: Some(drawings::for_paper(&model, &pose)?),
    })
}

/// An answer as a shape.
pub(super) fn outcome(answer: Answer) -> Outcome {
    match answer {
        Answer::Pass => Outcome::Within,
        Answer::Fail => Outcome::Outside,
        Answer::NotShown => Outcome::NotShown,
    }
}

/// One direction. What was allowed is drawn also where nothing could be shown: it comes from what was asked.
fn component(
    body: &CheckBody,
    allowed: &ToleranceAsk,
    axis: usize,
    (letter, name): (&str, &str),
    units: Units,
) -> Component {
    let summary = body.axes.iter().find(|a| a.axis == name);
    let (decision, asked_m) = if axis == 2 {
        let height = allowed.up_m.zip(allowed.down_m);
        (Some(&body.height), height.map(|(up, down)| [-down, up]))
    } else {
        let plan = allowed.plan_m.map(|radius| [-radius, radius]);
        (body.plan.as_ref(), plan)
    };
    let decided_m = decision.and_then(|d| d.tolerance_m).map(|[low, high]| {
        if axis == 2 {
            [low, high]
        } else {
            [-high, high]
        }
    });
    let tolerance_m = decided_m.or(asked_m);
    Component {
        name: letter.to_owned(),
        tolerance_m,
        mean_m: summary.map(|s| s.mean_m),
        sd_m: summary.and_then(|s| s.sd_m),
        half_95_m: summary.and_then(|s| s.mean_half_width_m),
        decision: decision.map_or_else(|| "not judged".to_owned(), |d| short(d, units)),
    }
}

fn short(decision: &DecisionBody, units: Units) -> String {
    match decision.answer {
        Answer::Pass | Answer::Fail => answer_word(decision.answer).to_owned(),
        Answer::NotShown => decision_words(decision, units),
    }
}

fn shot(shot: &ShotBody, axes: &[usize]) -> Shot {
    let column = |values: &[Option<f64>; 3], sds: &[Option<f64>; 3]| {
        axes.iter()
            .map(|axis| {
                values[*axis].map(|value| Measured {
                    value,
                    sd: sds[*axis],
                })
            })
            .collect()
    };
    Shot {
        id: shot.name.clone(),
        shown: column(&shot.shown_m, &shot.shown_sd_m),
        control: column(&shot.surveyed_m, &shot.surveyed_sd_m),
        difference: column(&shot.difference_m, &shot.difference_sd_m),
        remark: match shot.shown_by {
            ShownBy::Display => "display",
            ShownBy::Readings => "readings",
        }
        .to_owned(),
    }
}
