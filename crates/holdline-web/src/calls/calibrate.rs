//! Calibrations: looked at, planned, handed over. What is recorded goes through `records`.

use axum::body::Body;
use axum::extract::{self, Query, State};
use axum::http::HeaderMap;
use holdline_steps::calibrate::{CalibrateAsk, FitView, HandOverAsk, HandOverView, NextAsk};
use holdline_steps::job::stamp_now;
use holdline_steps::pose::PageSize;
use holdline_steps::units::Units;
use holdline_steps::views::ToolAsk;
use serde::Deserialize;

use super::Desk;
use crate::answer::{Answer, json, read_json, with_job};

#[derive(Deserialize)]
struct FitLook {
    #[serde(flatten)]
    ask: CalibrateAsk,
    #[serde(default)]
    units: Units,
    #[serde(default)]
    view: Option<PlotView>,
}

#[derive(Deserialize)]
struct PlotView {
    plot: PageSize,
}

/// The plots' size where the page does not say.
const PLOT: PageSize = PageSize {
    w_mm: 160.0,
    h_mm: 110.0,
};

/// `POST /api/calibrate/fit`
pub async fn fit(State(desk): State<Desk>, headers: HeaderMap, body: Body) -> Answer {
    let look: FitLook = read_json(&headers, body).await?;
    let view: FitView = with_job(&desk.job, move |job| {
        let now = stamp_now("workbench")?;
        let today = now.at().get(..10).unwrap_or_default();
        let looked = job.calibrate(&look.ask, today, look.units)?;
        let size = look.view.map_or(PLOT, |view| view.plot);
        let mut view = looked.view;
        view.sheets = job.fit_drawings(&looked.entry, &size, look.units)?;
        Ok(view)
    })
    .await?;
    json(&view)
}

#[derive(Deserialize)]
struct NextLook {
    #[serde(flatten)]
    ask: NextAsk,
    #[serde(default)]
    units: Units,
}

/// `POST /api/calibrate/next`
pub async fn next(State(desk): State<Desk>, headers: HeaderMap, body: Body) -> Answer {
    let look: NextLook = read_json(&headers, body).await?;
    json(&with_job(&desk.job, move |job| job.next_poses(&look.ask, look.units)).await?)
}

#[derive(Deserialize)]
struct HandOverLook {
    #[serde(flatten)]
    ask: HandOverAsk,
    #[serde(default)]
    units: Units,
}

/// `POST /api/calibrate/hand-over`
pub async fn hand_over(State(desk): State<Desk>, headers: HeaderMap, body: Body) -> Answer {
    let look: HandOverLook = read_json(&headers, body).await?;
    let view: HandOverView = with_job(&desk.job, move |job| {
        let looked = job.hand_over(&look.ask, look.units)?;
        let mut view = looked.view;
        view.sheets.page = job.preview_on_screen(&looked.entry, 1, look.units)?;
        Ok(view)
    })
    .await?;
    json(&view)
}

#[derive(Deserialize)]
pub struct ReadyQuery {
    #[serde(default)]
    calibration: Option<String>,
}

/// `GET /api/machine/{hash}/readiness?calibration=`
pub async fn readiness(
    State(desk): State<Desk>,
    extract::Path(hash): extract::Path<String>,
    Query(query): Query<ReadyQuery>,
) -> Answer {
    let tool = ToolAsk {
        machine: hash,
        calibration: query.calibration.filter(|hash| !hash.is_empty()),
        ..ToolAsk::default()
    };
    json(&with_job(&desk.job, move |job| job.readiness(&tool)).await?)
}
