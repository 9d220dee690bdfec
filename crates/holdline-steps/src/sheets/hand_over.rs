//! The hand-over sheet.

use holdline::machine::Machine;
use holdline_sheet::page::Page;
use holdline_sheet::sheets::{HandOverEntry, HandOverSheet, ProofPose, render_hand_over};

use super::block::Standing;
use super::{outcome, words};
use crate::calibrate::{
    CAUTION_HAND_OVER, EntryBody, HandOverAsk, HandOverBody, ProofBody, exact_text, proof_pose_text,
};
use crate::units::Units;

/// The pages of a hand-over.
pub(super) fn pages(
    standing: &Standing,
    machine: &Machine,
    ask: &HandOverAsk,
    body: &HandOverBody,
    units: Units,
) -> Vec<Page> {
    let block = standing.block("Hand-over", machine, &ask.tool, units, CAUTION_HAND_OVER);
    let sheet = HandOverSheet {
        block,
        system: body.system.clone(),
        outcome: outcome(body.outcome),
        decision: body.words.join(" "),
        entries: body.entries.iter().map(entry).collect(),
        not_carried: body.not_carried.clone(),
        proof: body.proof.iter().map(proof).collect(),
        sign: vec!["Keyed in by".to_owned(), "Read back by".to_owned()],
        findings: body
            .findings
            .iter()
            .map(|one| format!("{}, {}: {}", one.code, one.at, one.what))
            .collect(),
    };
    render_hand_over(&sheet, &words())
}

fn entry(body: &EntryBody) -> HandOverEntry {
    HandOverEntry {
        label: body.label.clone(),
        number: body.number.clone(),
        unit: body.unit.clone(),
        stands_for: body.stands_for.clone(),
        exact: exact_text(body),
        rounding_m: body.rounding_m,
        remark: body.remark.clone(),
    }
}

fn proof(body: &ProofBody) -> ProofPose {
    ProofPose {
        pose: body.pose.clone(),
        words: proof_pose_text(body),
        calibrated_m: body.calibrated_m.map(Some),
        keyed_m: body.keyed_m.map_or([None; 3], |at| at.map(Some)),
        allowed_m: body.allowed_m,
    }
}
