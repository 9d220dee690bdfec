//! A diagnosis as a person reads it.

use holdline_sheet::figure::{Sign, rounded};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

use super::diagnosis::{DiagnosisBody, Found, NotTriedBody, RuleBody, SuspectBody};
use super::view::{RowView, findings_view, true_minus};
use crate::views::FindingView;

/// A suspect.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SuspectView {
    /// The same in every run.
    pub id: String,
    /// In the words of the trade.
    pub label: String,
    /// Cells, one a column after the first.
    pub cells: Vec<String>,
    /// Whether it belongs to the reported set.
    pub in_set: bool,
}

/// A further shot that would decide.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct NextShotView {
    /// What to do.
    pub words: String,
    /// Joint angles, degrees.
    pub joints_deg: BTreeMap<String, f64>,
    /// Heading, degrees.
    pub heading_deg: Option<f64>,
}

/// A diagnosis.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DiagnosisView {
    /// In a word.
    pub outcome: Found,
    /// In sentences, first things first.
    pub words: Vec<String>,
    /// How it was decided.
    pub rule_text: String,
    /// Heads of the table; the first is that of the labels.
    pub columns: Vec<String>,
    /// Suspects, best first.
    pub rows: Vec<SuspectView>,
    /// Pairs of faults, where no single one explains the shots.
    pub doubles: Vec<RowView>,
    /// What to look at on the machine, first things first.
    pub look_first: Vec<String>,
    /// The shots that would decide it.
    pub next_shots: Vec<NextShotView>,
    /// What could not be tried.
    pub not_tried: Vec<NotTriedBody>,
    /// What to look at.
    pub findings: Vec<FindingView>,
    /// To be read before relying on it.
    pub cautions: Vec<String>,
    /// Drawings; empty where none were asked for.
    pub sheets: DiagnosisDrawings,
}

/// Drawings of a diagnosis.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
pub struct DiagnosisDrawings {
    /// The differences as arrows at the shots, SVG.
    pub arrows: String,
    /// The faults, best first, SVG.
    pub ranking: String,
}

/// What a diagnosis speaks for.
pub const CAUTION_DIAGNOSIS: &str = "A diagnosis says where to look; nothing was adjusted. Look at the machine, mend what is found, and check again.";

/// What was looked at of a shot that is proposed.
pub const CAUTION_NEXT_SHOT: &str = "Of the shots proposed only strokes, level track ground, tracks and house were looked at: not the real ground, nor what stands about or hangs above.";

/// How many rows a person is shown.
const MOST_ROWS: usize = 12;

/// A diagnosis in words.
pub fn diagnosis_view(body: &DiagnosisBody) -> DiagnosisView {
    let n = |value: f64| rounded(value, 1, Sign::Minus);
    let set: Vec<&SuspectBody> = body.suspects.iter().filter(|s| s.in_set).collect();
    let mut look_first: Vec<String> = Vec::new();
    for suspect in &set {
        if !look_first.contains(&suspect.look_at) {
            look_first.push(suspect.look_at.clone());
        }
    }
    if body.found == Found::NothingShown {
        look_first.clear();
    }
    let one_of = body.doubles.iter().any(|double| double.in_set);
    DiagnosisView {
        outcome: body.found,
        words: body.words.iter().map(|words| true_minus(words)).collect(),
        rule_text: body.rule.as_ref().map_or_else(String::new, rule_words),
        columns: [
            "What may be wrong",
            "Estimate (k = 2)",
            "\u{3c7}\u{b2} left",
            "AIC",
            "",
        ]
        .map(str::to_owned)
        .to_vec(),
        rows: body
            .suspects
            .iter()
            .take(MOST_ROWS)
            .map(|suspect| SuspectView {
                id: suspect.id.clone(),
                label: suspect.name.clone(),
                cells: vec![
                    true_minus(&suspect.says.join("; or ")),
                    n(suspect.chi2_left),
                    n(suspect.aic),
                    if suspect.in_set
                        && 1 < set.len()
                        && !one_of
                        && body.found != Found::NothingShown
                    {
                        "not told apart from the best".to_owned()
                    } else {
                        String::new()
                    },
                ],
                in_set: suspect.in_set,
            })
            .collect(),
        doubles: body
            .doubles
            .iter()
            .take(MOST_ROWS)
            .map(|double| RowView {
                label: true_minus(&double.says),
                cells: vec![n(double.chi2_left), n(double.aic)],
            })
            .collect(),
        look_first,
        next_shots: body
            .next
            .iter()
            .map(|next| NextShotView {
                words: true_minus(&next.words),
                joints_deg: next.joints_deg.iter().cloned().collect(),
                heading_deg: next.heading_deg,
            })
            .collect(),
        not_tried: body.not_tried.clone(),
        findings: findings_view(&body.findings),
        cautions: {
            let mut cautions = vec![CAUTION_DIAGNOSIS.to_owned()];
            if !body.next.is_empty() {
                cautions.push(CAUTION_NEXT_SHOT.to_owned());
            }
            cautions
        },
        sheets: DiagnosisDrawings::default(),
    }
}

/// How it was decided.
fn rule_words(rule: &RuleBody) -> String {
    let n = |value: f64| rounded(value, 1, Sign::Minus);
    format!(
        "Rule: the largest gain of {} faults tried is {}; in {} of 100 simulated series of these shots with nothing wrong it exceeds {} ({} draws, seed {}).",
        rule.n_hypotheses,
        n(rule.statistic),
        rounded(100.0 * rule.level, 0, Sign::Minus),
        n(rule.critical),
        rule.n_draws,
        rule.seed
    )
}
