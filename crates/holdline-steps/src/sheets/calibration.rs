//! The calibration report.

use holdline::machine::Machine;
use holdline_geom::fault::Faults;
use holdline_geom::measured::Measured;
use holdline_sheet::page::Page;
use holdline_sheet::sheets::{
    CalibratedRow, CalibrationSheet, Correlations, Counts, Fate, PoseLine, Residual, ToothSure,
    render_calibration,
};

use std::collections::BTreeMap;

use super::block::Standing;
use super::{model, outcome, pose_of_shot, words};
use crate::calibrate::CAUTION_CALIBRATION;
use crate::calibrate::{
    CalibrateAsk, CountsIn, FitBody, FittedBody, MeasuredPoseBody, ResidualBody, Seen, State,
    alone_words, figure_label, global_words, outcome_words, some_of,
};
use crate::drawings;
use crate::units::Units;
use crate::verify::Answer;

/// The pages of a calibration.
pub(super) fn pages(
    standing: &Standing,
    machine: &Machine,
    ask: &CalibrateAsk,
    body: &FitBody,
    units: Units,
) -> Result<Vec<Page>, Faults> {
    let sheet = sheet(standing, machine, ask, body, units)?;
    Ok(render_calibration(&sheet, &words()))
}

/// The report, not yet drawn.
pub(super) fn sheet(
    standing: &Standing,
    machine: &Machine,
    ask: &CalibrateAsk,
    body: &FitBody,
    units: Units,
) -> Result<CalibrationSheet, Faults> {
    let measured: Vec<&str> = [
        ask.who.as_str(),
        ask.on.as_deref().unwrap_or_default(),
        ask.with.as_str(),
    ]
    .into_iter()
    .filter(|text| !text.is_empty())
    .collect();
    let mut findings: Vec<String> = body
        .rejected
        .iter()
        .map(|one| format!("Rejected {}: {}.", one.at, one.what))
        .collect();
    findings.extend(
        body.weak
            .iter()
            .map(|what| format!("Little more than the sheet said: {what}.")),
    );
    findings.extend(
        body.alone
            .iter()
            .flat_map(|one| alone_words(one, units))
            .map(|what| format!("By itself, {what}")),
    );
    findings.extend(some_of(&body.inseparable));
    findings.extend(
        body.findings
            .iter()
            .map(|one| format!("{}, {}: {}", one.code, one.at, one.what)),
    );
    findings.extend(body.next.iter().map(|what| format!("Next: {what}")));
    findings.push(format!(
        "Calibration {}: applied on top of the machine sheet, which stays as it was measured.",
        body.calibration.get(..12).unwrap_or(&body.calibration)
    ));
    Ok(CalibrationSheet {
        block: standing.block(
            "Calibration",
            machine,
            &ask.tool,
            units,
            CAUTION_CALIBRATION,
        ),
        outcome: outcome(body.believed),
        decision: decision(body),
        measured: measured.join(", "),
        not_determined: body.not_determined.clone(),
        figures: body.figures.iter().map(figure).collect(),
        residuals: once_together(body.residuals.iter().map(residual).collect()),
        limit: Some(body.limit),
        limit_words: format!(
            "limit {:.2}: one of 1000 good observations lies beyond",
            body.limit
        ),
        correlations: Correlations {
            rows: body
                .correlated_rows
                .iter()
                .map(|row| *row as usize)
                .collect(),
            below: body.correlations.clone(),
        },
        tooth: body
            .tooth
            .iter()
            .map(|t| ToothSure {
                name: t.name.clone(),
                side_m: [t.at_m[0], t.at_m[2]],
                sd_before_m: three(t.before_sd_m),
                sd_now_m: three(t.sd_m),
            })
            .collect(),
        machine: Some(drawings::for_paper(
            &model(machine, &ask.tool)?,
            &pose_of_shot(&ask.tool, None, units),
        )?),
        poses: body.poses.iter().map(pose).collect(),
        next: Vec::new(),
        findings,
    })
}

/// What was measured once and in no pose, such as a tape, shares a plot: one dot does not fill one.
fn once_together(mut residuals: Vec<Residual>) -> Vec<Residual> {
    let mut counts = BTreeMap::new();
    for residual in &residuals {
        *counts.entry(residual.kind.clone()).or_insert(0) += 1;
    }
    for residual in &mut residuals {
        if residual.pose.is_empty() && counts.get(&residual.kind) == Some(&1) {
            residual.kind = "measured once each, by tape and the like".to_owned();
        }
    }
    residuals
}

/// The outcome, with the global test where it does not say it already.
fn decision(body: &FitBody) -> String {
    match body.believed {
        Answer::Pass => format!("{} {}", outcome_words(body), global_words(body)),
        Answer::Fail | Answer::NotShown => outcome_words(body),
    }
}

fn three(sd: Option<[f64; 3]>) -> [Option<f64>; 3] {
    sd.map_or([None; 3], |sd| sd.map(Some))
}

fn counts(unit: CountsIn) -> Counts {
    match unit {
        CountsIn::M => Counts::Metres,
        CountsIn::Rad => Counts::Radians,
    }
}

fn figure(body: &FittedBody) -> CalibratedRow {
    CalibratedRow {
        name: figure_label(&body.path),
        counts: counts(body.unit),
        before: Measured {
            value: body.before,
            sd: body.before_sd,
        },
        now: Measured {
            value: body.value,
            sd: body.sd,
        },
        remark: Seen::of(body).word().to_owned(),
    }
}

/// The first three of many, and how many more.
fn first_of(names: &[String]) -> String {
    const N_SHOWN: usize = 3;
    let shown = names
        .iter()
        .take(N_SHOWN)
        .cloned()
        .collect::<Vec<_>>()
        .join(", ");
    match names.len().saturating_sub(N_SHOWN) {
        0 => shown,
        n => format!("{shown} and {n} more"),
    }
}

fn residual(body: &ResidualBody) -> Residual {
    Residual {
        name: body.label(),
        pose: body.pose.clone(),
        kind: body.kind.clone(),
        counts: counts(body.unit),
        off: body.off,
        in_sd: body.in_sd,
        redundancy: body.redundancy,
        detectable: body.detectable,
        at_tooth_m: body.at_tooth_m,
        fate: match body.state {
            State::Used => Fate::Kept,
            State::Unchecked => Fate::Unchecked,
            State::Rejected => Fate::Rejected(body.why.clone()),
        },
        twins: first_of(&body.twins),
    }
}

fn pose(body: &MeasuredPoseBody) -> PoseLine {
    let [used, rejected] = body.n_used_rejected;
    PoseLine {
        name: body.name.clone(),
        chain_m: body.chain_m.clone(),
        words: body.stand.clone(),
        remark: if rejected == 0 {
            String::new()
        } else {
            format!("{rejected} of {} rejected", used + rejected)
        },
    }
}
