//! A budget as a person reads it: ready text, made from the record's numbers.

use holdline_sheet::figure::{Sign, plain, rounded};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

use super::body::{BudgetBody, GrowthBody, PoseBudgetBody};
use crate::units::Units;
use crate::verify::{Answer, RowView, findings_view, true_minus};
use crate::views::{FigureView, FindingView};

/// Whether the task is held.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct VerdictView {
    /// The answer.
    pub answer: Answer,
    /// The same in words.
    pub text: String,
}

/// A source's share.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ShareView {
    /// The source.
    pub label: String,
    /// Its part of the variance, percent.
    pub percent: f64,
    /// Part, own uncertainty and effect at the tooth.
    pub text: String,
}

/// Growth over re-benches.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct GrowthView {
    /// Heads of the table; the first is that of the labels.
    pub columns: Vec<String>,
    /// A row a number of moves.
    pub rows: Vec<RowView>,
    /// In words.
    pub words: Vec<String>,
}

/// Monte Carlo beside the linear result.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct MonteCarloView {
    /// In words.
    pub text: String,
    /// Whether the two part.
    pub parts: bool,
}

/// Drawings of a budget.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
pub struct BudgetDrawings {
    /// The boom plane, SVG.
    pub section: String,
    /// The plan, SVG.
    pub plan: String,
    /// Shares, SVG.
    pub shares: String,
    /// Growth over re-benches, SVG.
    pub growth: String,
}

/// A budget.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BudgetView {
    /// Whether the task is held.
    pub verdict: VerdictView,
    /// What more there is to say of it.
    pub words: Vec<String>,
    /// U by direction, with ready text.
    pub figures: Vec<FigureView>,
    /// Joint angles of the pose, degrees.
    pub joints_deg: BTreeMap<String, f64>,
    /// Shares by source, the largest first.
    pub shares: Vec<ShareView>,
    /// What would help most.
    pub help: Vec<String>,
    /// Growth over re-benches, where it was asked for.
    pub growth: Option<GrowthView>,
    /// Monte Carlo, where it was run.
    pub monte_carlo: Option<MonteCarloView>,
    /// Joint angles of the worst pose of the map, degrees; empty without a map.
    pub worst_joints_deg: BTreeMap<String, f64>,
    /// Sources without a stated uncertainty.
    pub missing: Vec<String>,
    /// What to look at.
    pub findings: Vec<FindingView>,
    /// To be read before relying on it.
    pub cautions: Vec<String>,
    /// Drawings; empty where none were asked for.
    pub sheets: BudgetDrawings,
}

/// What a budget speaks for.
pub const CAUTION_BUDGET: &str =
    "A budget foretells from stated uncertainties; it proves nothing. Check shots prove the tooth.";

/// A budget in words.
pub fn budget_view(body: &BudgetBody, units: Units) -> BudgetView {
    let mut words = body.verdict.words.iter().map(|w| true_minus(w));
    let first = words.next().unwrap_or_default();
    let rest: Vec<String> = words.collect();
    let mut figures = directions(&body.pose, units);
    if let Some(map) = &body.map
        && let Some([low, high]) = map.range_m
    {
        let span = [low, high].map(|u| plain(u, &units.small(), units.small_decimals()));
        figures.push(FigureView::words(
            "Over the envelope",
            &map.shows,
            format!("{} to {}", span[0], span[1]),
        ));
        if let Some(share) = body.verdict.holds_share {
            figures.push(FigureView::words(
                "Over the envelope",
                "Part where the task is held",
                format!("{} %", rounded(100.0 * share, 0, Sign::Minus)),
            ));
        }
    }
    BudgetView {
        verdict: VerdictView {
            answer: body.verdict.answer,
            text: first,
        },
        words: rest,
        figures,
        joints_deg: body.pose.joints_deg.iter().cloned().collect(),
        shares: shares(&body.pose, units),
        help: body.pose.help.iter().map(|w| true_minus(w)).collect(),
        growth: body
            .growth
            .as_ref()
            .map(|growth| growth_view(growth, units)),
        monte_carlo: body.pose.monte_carlo.as_ref().map(|mc| MonteCarloView {
            text: true_minus(&mc.words),
            parts: mc.parts,
        }),
        worst_joints_deg: body.map.as_ref().map_or_else(BTreeMap::new, |map| {
            map.worst_joints_deg.iter().cloned().collect()
        }),
        missing: body.pose.missing.clone(),
        findings: findings_view(&body.findings),
        cautions: vec![CAUTION_BUDGET.to_owned()],
        sheets: BudgetDrawings::default(),
    }
}

/// Heading of the figures of the pose.
const GROUP_POSE: &str = "In this pose, 95 of 100 (k = 2)";

fn directions(pose: &PoseBudgetBody, units: Units) -> Vec<FigureView> {
    pose.directions
        .iter()
        .map(|direction| {
            let text = direction.u_m.map_or_else(
                || "not known: a source has no uncertainty stated".to_owned(),
                |u| format!("± {}", plain(u, &units.small(), units.small_decimals())),
            );
            let mut figure = FigureView::words(GROUP_POSE, &direction.name, text);
            figure.value = direction.u_m;
            figure.sd = direction.u_m.map(|u| u / 2.0);
            figure.unit = "m".to_owned();
            figure
        })
        .collect()
}

fn shares(pose: &PoseBudgetBody, units: Units) -> Vec<ShareView> {
    pose.shares
        .iter()
        .map(|share| {
            let percent = 100.0 * share.part;
            let at_tooth = plain(share.at_tooth_m, &units.small(), units.small_decimals());
            let own = match share.sd_text.as_str() {
                "" => String::new(),
                text => format!(", from {text}"),
            };
            ShareView {
                label: share.name.clone(),
                percent,
                text: format!(
                    "{} %, {at_tooth} at the tooth{own}",
                    rounded(percent, 0, Sign::Minus)
                ),
            }
        })
        .collect()
}

fn growth_view(growth: &GrowthBody, units: Units) -> GrowthView {
    let text = |u: f64| format!("± {}", plain(u, &units.small(), units.small_decimals()));
    let three = growth.u_3d_m.map_or_else(|| "\u{2013}".to_owned(), text);
    GrowthView {
        columns: ["Moves", "2D", "3D"].map(str::to_owned).to_vec(),
        rows: growth
            .u_2d_m
            .iter()
            .enumerate()
            .map(|(n, u)| RowView {
                label: n.to_string(),
                cells: vec![text(*u), three.clone()],
            })
            .collect(),
        words: growth.words.iter().map(|w| true_minus(w)).collect(),
    }
}
