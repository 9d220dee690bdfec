//! The calibration in the entries of the control system at hand, as numbers and as a person reads it.

use holdline_sheet::figure::plain;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::units::Units;
use crate::verify::{Answer, FindingBody, findings_view, true_minus};
use crate::views::FindingView;

/// An entry.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct EntryBody {
    /// Its label, as the person typed it.
    pub label: String,
    /// The number as it is keyed, with its sign; none: it cannot be keyed.
    pub number: Option<String>,
    /// Its unit, as the person typed it.
    pub unit: String,
    /// What it is on the machine.
    pub stands_for: String,
    /// The number before rounding, in the entry's unit.
    pub exact: Option<f64>,
    /// The number that the sheet alone would give.
    pub before: Option<f64>,
    /// What the rounding moves at the tooth at the worst pose, m.
    pub rounding_m: Option<f64>,
    /// Out of range and what then, sign turned; may be empty.
    pub remark: String,
}

/// The tooth at a pose, by the calibration and by what is keyed in: forward, left, up of the house.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ProofBody {
    /// Its name.
    pub pose: String,
    /// Joint angles, degrees.
    pub joints_deg: Vec<(String, f64)>,
    /// Pitch and roll of the house, degrees.
    pub lean_deg: [f64; 2],
    /// By the calibration, m.
    pub calibrated_m: [f64; 3],
    /// By what is keyed in, m; none where an entry cannot be keyed.
    pub keyed_m: Option<[f64; 3]>,
    /// How far apart the two are, m: the larger of machine and site.
    pub apart_m: Option<f64>,
    /// How far the display may differ, m.
    pub allowed_m: Option<f64>,
}

/// A hand-over.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct HandOverBody {
    /// What the numbers are for, in the person's own words.
    pub system: String,
    /// Whether what is keyed in puts the tooth where the calibration does.
    pub outcome: Answer,
    /// The same in words.
    pub words: Vec<String>,
    /// The entries in the order in which they are keyed.
    pub entries: Vec<EntryBody>,
    /// What the system has no entry for, with what it costs at the tooth.
    pub not_carried: Vec<String>,
    /// The tooth read back.
    pub proof: Vec<ProofBody>,
    /// What to look at.
    pub findings: Vec<FindingBody>,
}

/// An entry with ready text.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct EntryView {
    /// Its label.
    pub label: String,
    /// The number to key in, with its unit.
    pub text: String,
    /// Its unit.
    pub unit: String,
    /// What it is on the machine.
    pub stands_for: String,
    /// The number before rounding.
    pub exact_text: String,
    /// What the rounding moves at the tooth.
    pub tooth_text: String,
    /// What to know of it; may be empty.
    pub remark: String,
}

/// A pose of the proof with ready text.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct ProofView {
    /// Its name.
    pub label: String,
    /// Joint angles.
    pub joints_text: String,
    /// The tooth by the calibration: forward, left, up.
    pub want_text: String,
    /// The tooth by what is keyed in.
    pub entered_text: String,
    /// How far they are apart, and what is allowed.
    pub difference_text: String,
}

/// Drawings of a hand-over.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
pub struct HandOverDrawings {
    /// The whole sheet, SVG.
    pub page: String,
}

/// A hand-over with ready text.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct HandOverView {
    /// Whether what is keyed in puts the tooth where the calibration does.
    pub outcome: Answer,
    /// The same in words.
    pub words: Vec<String>,
    /// The entries in the order in which they are keyed.
    pub entries: Vec<EntryView>,
    /// What the system has no entry for.
    pub not_carried: Vec<String>,
    /// The tooth read back.
    pub poses: Vec<ProofView>,
    /// What to look at.
    pub findings: Vec<FindingView>,
    /// To be read before relying on it.
    pub cautions: Vec<String>,
    /// Drawings; empty where none were asked for.
    pub sheets: HandOverDrawings,
}

/// What a hand-over speaks for.
pub const CAUTION_HAND_OVER: &str = "What no entry keys is taken to stand in the system as on the machine sheet: read it off and compare. Write down what stood there before. After keying in, set the poses, read the tooth back, and prove it with check shots.";

/// A hand-over in words.
pub fn hand_over_view(body: &HandOverBody, units: Units) -> HandOverView {
    HandOverView {
        outcome: body.outcome,
        words: body.words.iter().map(|w| true_minus(w)).collect(),
        entries: body.entries.iter().map(|e| entry_view(e, units)).collect(),
        not_carried: body.not_carried.iter().map(|w| true_minus(w)).collect(),
        poses: body.proof.iter().map(|p| proof_view(p, units)).collect(),
        findings: findings_view(&body.findings),
        cautions: vec![CAUTION_HAND_OVER.to_owned()],
        sheets: HandOverDrawings::default(),
    }
}

fn entry_view(entry: &EntryBody, units: Units) -> EntryView {
    let small = units.small();
    EntryView {
        label: entry.label.clone(),
        text: entry.number.as_ref().map_or_else(
            || "cannot be keyed in".to_owned(),
            |number| format!("{} {}", true_minus(number), entry.unit),
        ),
        unit: entry.unit.clone(),
        stands_for: entry.stands_for.clone(),
        exact_text: exact_text(entry),
        tooth_text: entry.rounding_m.map_or_else(
            || "not known".to_owned(),
            |m| plain(m, &small, units.small_decimals()),
        ),
        remark: true_minus(&entry.remark),
    }
}

/// The number before rounding, with its unit.
pub(crate) fn exact_text(entry: &EntryBody) -> String {
    entry.exact.map_or_else(
        || "not known".to_owned(),
        |exact| {
            // Two digits more than are keyed: enough to see the rounding, no more than that.
            let keyed = entry.number.as_deref().unwrap_or_default();
            let decimals = keyed.split_once('.').map_or(0, |(_, after)| after.len()) + 2;
            true_minus(&format!("{exact:.decimals$} {}", entry.unit))
        },
    )
}

/// Joint angles in a line.
pub(crate) fn joints_text(joints_deg: &[(String, f64)]) -> String {
    let each: Vec<String> = joints_deg
        .iter()
        .map(|(name, deg)| true_minus(&format!("{name} {deg:.2}°")))
        .collect();
    each.join(", ")
}

/// How the pose is set: joints, and how the house leans.
pub(crate) fn proof_pose_text(proof: &ProofBody) -> String {
    let [pitch, roll] = proof.lean_deg;
    let lean = true_minus(&format!("pitch {pitch:.2}°, roll {roll:.2}°"));
    format!("{}, {lean}", joints_text(&proof.joints_deg))
}

fn proof_view(proof: &ProofBody, units: Units) -> ProofView {
    let place = |at: [f64; 3]| at.map(|m| plain(m, &units.signed(), 3)).join(", ");
    let small = |m: f64| plain(m, &units.small(), units.small_decimals());
    ProofView {
        label: proof.pose.clone(),
        joints_text: proof_pose_text(proof),
        want_text: place(proof.calibrated_m),
        entered_text: proof
            .keyed_m
            .map_or_else(|| "an entry cannot be keyed in".to_owned(), place),
        difference_text: match (proof.apart_m, proof.allowed_m) {
            (None, _) => "not known".to_owned(),
            (Some(d), None) => small(d),
            (Some(d), Some(allowed)) => {
                format!("{}, display may differ by {}", small(d), small(allowed))
            }
        },
    }
}
