//! The diagnosis page behind a check.

use holdline::machine::Machine;
use holdline::machine::joints::{ALL_JOINTS, Joints};
use holdline::tooth::attitude::Lean;
use holdline::tooth::model::ToothModel;
use holdline_geom::fault::Faults;
use holdline_geom::measured::Measured;
use holdline_sheet::figure::{DEGREES, Kind, MILLIMETRES_SIGNED};
use holdline_sheet::page::Page;
use holdline_sheet::sheets::{
    DiagnosisSheet, Found, Hypothesis, NextShot, ShotArrow, render_diagnosis,
};

use super::block::Standing;
use super::{model, pose_of_shot, words};
use crate::chain_points::chain_level;
use crate::drawings;
use crate::units::Units;
use crate::verify::{
    CAUTION_DIAGNOSIS, CheckBody, DiagnosisBody, EstimateBody, EstimateUnit, Found as FoundBody,
    FullAsk, NextShotBody, ShotBody, SuspectBody, diagnosis_view,
};

/// The pages of a diagnosis; none where there is none.
pub(super) fn pages(
    standing: &Standing,
    machine: &Machine,
    ask: &FullAsk,
    body: &CheckBody,
    units: Units,
) -> Result<Vec<Page>, Faults> {
    match sheet(standing, machine, ask, body, units)? {
        Some(sheet) => Ok(render_diagnosis(&sheet, &words())),
        None => Ok(Vec::new()),
    }
}

/// The page, not yet drawn; none where there is no diagnosis.
pub(super) fn sheet(
    standing: &Standing,
    machine: &Machine,
    ask: &FullAsk,
    body: &CheckBody,
    units: Units,
) -> Result<Option<DiagnosisSheet>, Faults> {
    let Some(diagnosis) = &body.diagnosis else {
        return Ok(None);
    };
    let view = diagnosis_view(diagnosis);
    let pose = pose_of_shot(&ask.tool, body.shots.first(), units);
    let mut findings: Vec<String> = view
        .findings
        .iter()
        .map(|f| format!("{}, {}: {}", f.code, f.place, f.text))
        .collect();
    findings.extend(
        diagnosis
            .not_tried
            .iter()
            .map(|not| format!("Not tried: {}; {}.", not.what, not.needs)),
    );
    Ok(Some(DiagnosisSheet {
        block: standing.block("Diagnosis", machine, &ask.tool, units, CAUTION_DIAGNOSIS),
        found: match diagnosis.found {
            FoundBody::NothingShown => Found::NothingShown,
            FoundBody::Single | FoundBody::Double => Found::Fault,
            FoundBody::SomethingElse => Found::Unexplained,
            FoundBody::NotLooked => Found::NotLooked,
        },
        decision: view.words.join(" "),
        rule: view.rule_text.clone(),
        shots: arrows(machine, ask, body)?,
        stands: Vec::new(),
        chi2_nothing: diagnosis.chi2_nothing,
        n_differences: diagnosis.n_differences as usize,
        hypotheses: hypotheses(diagnosis),
        set_words: set_words(diagnosis),
        look_first: view.look_first.clone(),
        next: diagnosis
            .next
            .iter()
            .map(|next| next_shot(machine, ask, next, units))
            .collect::<Result<_, _>>()?,
        machine: Some(drawings::for_paper(&model(machine, &ask.tool)?, &pose)?),
        findings,
    }))
}

fn set_words(diagnosis: &DiagnosisBody) -> String {
    let n = diagnosis.suspects.iter().filter(|s| s.in_set).count();
    match (diagnosis.found, n) {
        (FoundBody::Single, 1) => "this one alone explains the shots".to_owned(),
        (FoundBody::Single, _) => "cannot be told apart by these shots".to_owned(),
        (FoundBody::Double, _) => "two faults together".to_owned(),
        (FoundBody::NothingShown | FoundBody::SomethingElse | FoundBody::NotLooked, _) => {
            String::new()
        }
    }
}

/// How many hypotheses are drawn.
const MOST: usize = 14;

fn hypotheses(diagnosis: &DiagnosisBody) -> Vec<Hypothesis> {
    let single = matches!(diagnosis.found, FoundBody::Single);
    let mut all: Vec<Hypothesis> = diagnosis
        .doubles
        .iter()
        .filter(|double| double.in_set)
        .map(|double| Hypothesis {
            name: double.says.clone(),
            chi2_left: double.chi2_left,
            n_parameters: 2,
            aic: double.aic,
            estimates: Vec::new(),
            in_set: true,
            remark: String::new(),
        })
        .collect();
    all.extend(
        diagnosis
            .suspects
            .iter()
            .take(MOST)
            .map(|suspect| hypothesis(suspect, single)),
    );
    all
}

fn hypothesis(suspect: &SuspectBody, single: bool) -> Hypothesis {
    Hypothesis {
        name: suspect.name.clone(),
        chi2_left: suspect.chi2_left,
        n_parameters: suspect.n_parameters as usize,
        aic: suspect.aic,
        estimates: suspect.estimates.iter().map(estimate).collect(),
        in_set: suspect.in_set && single,
        remark: match suspect.says.as_slice() {
            [] | [_] => String::new(),
            [_, other @ ..] => format!("or: {}", other.join("; or ")),
        },
    }
}

fn estimate(body: &EstimateBody) -> (String, Measured, Kind) {
    let kind = match body.unit {
        EstimateUnit::M => MILLIMETRES_SIGNED,
        EstimateUnit::Rad => DEGREES,
        EstimateUnit::S => Kind {
            unit: "s",
            per_si: 1.0,
            ..MILLIMETRES_SIGNED
        },
    };
    let measured = Measured {
        value: body.size,
        sd: body.sd,
    };
    (body.name.clone(), measured, kind)
}

fn next_shot(
    machine: &Machine,
    ask: &FullAsk,
    next: &NextShotBody,
    units: Units,
) -> Result<NextShot, Faults> {
    let mut pose = pose_of_shot(&ask.tool, None, units);
    pose.joints_deg = next.joints_deg.iter().cloned().collect();
    [pose.pitch_deg, pose.roll_deg] = next.lean_deg;
    Ok(NextShot {
        words: next.words.clone(),
        separates: format!(
            "{} from {}; adds {:.0} to the expected \u{3c7}\u{b2} between them",
            next.separates[0], next.separates[1], next.adds
        ),
        machine: Some(drawings::for_paper(&model(machine, &ask.tool)?, &pose)?),
    })
}

/// Where the tooth was in each shot, and how far off.
fn arrows(machine: &Machine, ask: &FullAsk, body: &CheckBody) -> Result<Vec<ShotArrow>, Faults> {
    let model = model(machine, &ask.tool)?;
    Ok(body
        .shots
        .iter()
        .filter_map(|shot| arrow(&model, shot))
        .collect())
}

fn arrow(model: &ToothModel, shot: &ShotBody) -> Option<ShotArrow> {
    let [pitch, roll, heading] = shot.attitude_deg?;
    let angle = |name: &str| {
        let found = shot.joints_deg.iter().find(|(joint, _)| joint == name);
        found.map_or(0.0, |(_, deg)| deg.to_radians())
    };
    let mut joints = Joints::zero();
    for joint in ALL_JOINTS {
        joints = joints.with(joint, angle(joint.word()));
    }
    let lean = Lean {
        pitch: pitch.to_radians(),
        roll: roll.to_radians(),
    };
    let chain = chain_level(model, &joints, &lean);
    let tooth = chain.last().copied().unwrap_or_default();
    let heading = heading.to_radians();
    let (sin, cos) = heading.sin_cos();
    let [east, north, up] = shot.difference_m;
    let forward = east.zip(north).map(|(e, n)| e * sin + n * cos);
    let known = |axis: usize| shot.surveyed_m[axis];
    Some(ShotArrow {
        id: shot.name.clone(),
        side_m: [tooth[0], tooth[2]],
        side_off_m: [forward, up],
        plan_m: known(0).zip(known(1)).map(|(e, n)| [e, n]),
        plan_off_m: [east, north],
        chain_m: chain.iter().map(|at| [at[0], at[2]]).collect(),
    })
}
