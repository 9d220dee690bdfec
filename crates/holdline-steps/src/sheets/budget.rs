//! The budget sheet.

use holdline::machine::Machine;
use holdline_geom::fault::Faults;
use holdline_sheet::contour::Grid;
use holdline_sheet::page::Page;
use holdline_sheet::sheets::{BudgetSheet, Growth, PoseBudget, Share, UMap, render_budget};

use super::block::Standing;
use super::{model, outcome, words};
use crate::budget::{BudgetAsk, BudgetBody, CAUTION_BUDGET, GridBody, PoseBudgetBody};
use crate::calibrate::joints_text;
use crate::drawings;
use crate::units::Units;
use crate::verify::true_minus;

/// The pages of a budget.
pub(super) fn pages(
    standing: &Standing,
    machine: &Machine,
    ask: &BudgetAsk,
    body: &BudgetBody,
    units: Units,
) -> Result<Vec<Page>, Faults> {
    let sheet = sheet(standing, machine, ask, body, units)?;
    Ok(render_budget(&sheet, &words()))
}

/// The sheet, not yet drawn.
pub(super) fn sheet(
    standing: &Standing,
    machine: &Machine,
    ask: &BudgetAsk,
    body: &BudgetBody,
    units: Units,
) -> Result<BudgetSheet, Faults> {
    let mut findings: Vec<String> = body
        .findings
        .iter()
        .map(|one| format!("{}, {}: {}", one.code, one.at, one.what))
        .collect();
    if !body.pose.missing.is_empty() {
        findings.insert(
            0,
            format!(
                "No uncertainty stated for {}.",
                body.pose.missing.join(", ")
            ),
        );
    }
    Ok(BudgetSheet {
        block: standing.block(
            "Uncertainty budget",
            machine,
            &ask.tool,
            units,
            CAUTION_BUDGET,
        ),
        outcome: outcome(body.verdict.answer),
        decision: true_minus(&body.verdict.words.join(" ")),
        shows: body
            .map
            .as_ref()
            .map_or_else(String::new, |map| map.shows.clone()),
        task: ask.task_words(),
        limit_m: body.verdict.limit_m,
        section: body.map.as_ref().map(|map| u_map(&map.section)),
        plan: body
            .map
            .as_ref()
            .and_then(|map| map.plan.as_ref())
            .map(u_map),
        machine: Some(drawings::for_paper(
            &model(machine, &ask.tool)?,
            &ask.pose(units),
        )?),
        pose: Some(pose(&body.pose)),
        growth: body.growth.as_ref().map(|growth| Growth {
            u_2d_m: growth.u_2d_m.clone(),
            u_3d_m: growth.u_3d_m,
            crosses_after: growth.crosses_after,
            words: true_minus(&growth.words.join(" ")),
        }),
        findings,
    })
}

fn u_map(grid: &GridBody) -> UMap {
    let mut values = grid.u_m.clone();
    for idx in &grid.not_known {
        if let Some(value) = values.get_mut(*idx as usize) {
            *value = Some(f64::NAN); // drawn as reached and not known
        }
    }
    UMap {
        grid: Grid {
            from_m: grid.from_m,
            step_m: grid.step_m,
            n_right: grid.n_right as usize,
            n_up: grid.n_up as usize,
            values,
        },
        reach_m: Vec::new(),
    }
}

fn pose(body: &PoseBudgetBody) -> PoseBudget {
    PoseBudget {
        name: joints_text(&body.joints_deg),
        at_m: body.at_m,
        covariance_m2: body.covariance_m2,
        u_m: body
            .directions
            .iter()
            .map(|direction| (direction.name.clone(), direction.u_m))
            .collect(),
        shares: body
            .shares
            .iter()
            .map(|share| Share {
                name: share.name.clone(),
                part: share.part,
                sd: share.sd_text.clone(),
                at_tooth_m: Some(share.at_tooth_m),
            })
            .collect(),
        help: body.help.clone(),
        monte_carlo: body
            .monte_carlo
            .as_ref()
            .map_or_else(String::new, |mc| mc.words.clone()),
    }
}
