//! The calibration in the entries of the control system at hand: from what the core found to the record.

use holdline::calibrate::calibration::Calibration;
use holdline::calibrate::decision::Decision;
use holdline::calibrate::hand_over::terms::Terms;
use holdline::calibrate::hand_over::{
    HandOver, KeyedEntry, Part, ReadBack, WORTH_A_LINE_M, hand_over as by_core,
};
use holdline::machine::Machine;
use holdline::machine::jacobian::joints_fitted;
use holdline::machine::joints::Joints;
use holdline_geom::fault::{Fault, Faults};
use holdline_sheet::figure::plain;

use super::ask::HandOverAsk;
use super::hand_over_body::{EntryBody, HandOverBody, ProofBody};
use super::names::figure_label;
use crate::units::Units;
use crate::verify::{Answer, FindingBody};

/// The numbers to key in, and what they do. `sheet` is the machine without the calibration.
pub(super) fn hand_over(
    sheet: &Machine,
    ask: &HandOverAsk,
    calibration: &Calibration,
    terms: &Terms,
) -> Result<HandOverBody, Faults> {
    let terms = with_tool(ask, terms)?;
    let found = by_core(sheet, calibration, &terms, ask.allowed_m)?;
    let front = sheet.front(&found.tool)?.values();
    let joints_deg = |joints: &Joints| {
        joints_fitted(&front)
            .into_iter()
            .map(|joint| (joint.word().to_owned(), joints.get(joint).to_degrees()))
            .collect::<Vec<_>>()
    };
    let proof = found.proof.iter();
    Ok(HandOverBody {
        system: terms.system.clone(),
        outcome: answer(&found.decision),
        words: words(&found, ask),
        entries: found.entries.iter().map(entry).collect(),
        not_carried: not_carried(&found),
        proof: proof
            .map(|pose| proof_body(pose, joints_deg(&pose.joints), ask.allowed_m))
            .collect(),
        findings: found
            .findings
            .iter()
            // What no entry takes over stands in sentences of its own.
            .filter(|finding| finding.code != "H022")
            .map(FindingBody::from)
            .collect(),
    })
}

/// The terms for the tool that was chosen; what the document leaves open is filled in.
fn with_tool(ask: &HandOverAsk, terms: &Terms) -> Result<Terms, Faults> {
    let choice = ask.tool.choice();
    let mut terms = terms.clone();
    let mut faults = Faults::none();
    let mut same = |at: &str, said: &str, chosen: &str| {
        if !said.is_empty() && said != chosen {
            faults.push(Fault::new(
                "V045",
                at,
                format!("terms for {said}, and {chosen} was chosen"),
                "one and the same",
                "choose the tool that the entries are for, or describe the entries for this one",
            ));
        }
    };
    let tool = &terms.tool;
    if !tool.bucket.is_empty() {
        let none = "none";
        let named = |name: &Option<String>| name.clone().unwrap_or_else(|| none.to_owned());
        same("tool.bucket", &tool.bucket, &choice.bucket);
        same(
            "tool.coupler",
            &named(&tool.coupler),
            &named(&choice.coupler),
        );
        same("tool.tilt", &named(&tool.tilt), &named(&choice.tilt));
    }
    same("tool.tooth", &terms.tooth, &choice.tooth);
    terms.tool.bucket = choice.bucket;
    terms.tool.coupler = choice.coupler;
    terms.tool.tilt = choice.tilt;
    terms.tooth = choice.tooth;
    faults.or(terms)
}

fn answer(decision: &Decision) -> Answer {
    match decision {
        Decision::Holds { .. } => Answer::Pass,
        Decision::DoesNotHold { .. } => Answer::Fail,
        Decision::NotShown { .. } => Answer::NotShown,
    }
}

fn mm(value_m: f64) -> String {
    plain(value_m, &Units::Metric.small(), 1)
}

fn words(found: &HandOver, ask: &HandOverAsk) -> Vec<String> {
    let worst = found
        .proof
        .iter()
        .map(|pose| pose.apart_m)
        .try_fold(0.0_f64, |worst, apart| {
            let apart = apart?;
            Some(if worst < apart { apart } else { worst })
        });
    let apart = worst.map_or_else(
        || "With what is keyed in there is no tooth at one of the poses.".to_owned(),
        |worst| {
            format!(
                "At the worst of {} poses the tooth by what is keyed in lies {} from the tooth by the calibration.",
                found.proof.len(),
                mm(worst)
            )
        },
    );
    let said = match &found.decision {
        Decision::Holds { .. } => ask.allowed_m.map_or_else(
            || "Holds.".to_owned(),
            |allowed| format!("Holds: the display may differ by {}.", mm(allowed)),
        ),
        Decision::DoesNotHold { .. } => ask.allowed_m.map_or_else(
            || "Does not hold.".to_owned(),
            |allowed| {
                format!(
                    "Does not hold: the display may differ by {} alone.",
                    mm(allowed)
                )
            },
        ),
        Decision::NotShown { because } => format!("Not shown: {because}."),
    };
    vec![said, apart]
}

fn entry(entry: &KeyedEntry) -> EntryBody {
    EntryBody {
        label: entry.label.clone(),
        number: entry.number.clone(),
        unit: entry.unit.word().to_owned(),
        stands_for: figure_label(&entry.stands_for),
        exact: Some(entry.exact).filter(|exact| exact.is_finite()),
        before: Some(entry.before).filter(|before| before.is_finite()),
        rounding_m: entry.rounding_m,
        remark: entry.remark.clone(),
    }
}

fn not_carried(found: &HandOver) -> Vec<String> {
    let little = |m: Option<f64>| m.is_some_and(|m| m <= WORTH_A_LINE_M);
    let (small, worth): (Vec<_>, Vec<_>) = found
        .not_carried
        .iter()
        .partition(|one| little(one.at_tooth_m));
    let mut sentences: Vec<String> = worth
        .into_iter()
        .map(|one| {
            let part = match one.part {
                Part::All => "no entry takes it over",
                Part::Some => "the entries take only part of it over",
            };
            let cost = one
                .at_tooth_m
                .map_or_else(|| "an unknown amount".to_owned(), mm);
            format!(
                "{}: {part}; it moves the tooth by {cost}.",
                figure_label(&one.path)
            )
        })
        .collect();
    if !small.is_empty() {
        sentences.push(format!(
            "{} more figures that no entry takes over move the tooth by {} at most each.",
            small.len(),
            mm(WORTH_A_LINE_M)
        ));
    }
    sentences
}

fn proof_body(
    pose: &ReadBack,
    joints_deg: Vec<(String, f64)>,
    allowed_m: Option<f64>,
) -> ProofBody {
    ProofBody {
        pose: pose.name.clone(),
        joints_deg,
        lean_deg: [pose.lean.pitch, pose.lean.roll].map(f64::to_degrees),
        calibrated_m: pose.calibrated_m,
        keyed_m: pose.keyed_m,
        apart_m: pose.apart_m,
        allowed_m,
    }
}
