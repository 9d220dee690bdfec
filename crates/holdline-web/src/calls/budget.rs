//! Budgets: of a pose as it is dragged, and over the envelope.

use axum::body::Body;
use axum::extract::State;
use axum::http::HeaderMap;
use holdline_steps::budget::{BudgetAsk, BudgetView, MapGrid, Work};
use holdline_steps::pose::Views;
use holdline_steps::units::Units;
use serde::Deserialize;

use super::Desk;
use crate::answer::{Answer, json, read_json, with_job};

#[derive(Deserialize)]
struct Look {
    #[serde(flatten)]
    ask: BudgetAsk,
    #[serde(default)]
    units: Units,
    #[serde(default)]
    view: Option<Views>,
}

/// `POST /api/budget/pose`
pub async fn pose(State(desk): State<Desk>, headers: HeaderMap, body: Body) -> Answer {
    let mut look: Look = read_json(&headers, body).await?;
    look.ask.grid = None;
    look.ask.draws = None;
    looked(&desk, look).await
}

/// `POST /api/budget/map`
pub async fn map(State(desk): State<Desk>, headers: HeaderMap, body: Body) -> Answer {
    let mut look: Look = read_json(&headers, body).await?;
    look.ask.grid.get_or_insert_with(MapGrid::default);
    look.ask.draws.get_or_insert_default();
    looked(&desk, look).await
}

async fn looked(desk: &Desk, look: Look) -> Answer {
    let view: BudgetView = with_job(&desk.job, move |job| {
        let looked = job.budget(&look.ask, &Work::QUIET, look.units)?;
        let views = look.view.unwrap_or_default();
        let mut view = looked.view;
        view.sheets = job.budget_drawings(&looked.entry, &views, look.units)?;
        Ok(view)
    })
    .await?;
    json(&view)
}
