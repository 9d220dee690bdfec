//! The machine: its sheet as a form, its pose, its model.

use axum::body::Body;
use axum::extract::{self, Query, State};
use axum::http::HeaderMap;
use holdline_steps::job::stamp_now;
use holdline_steps::machine_view::MachineAndTool;
use holdline_steps::open_formats::glb;
use holdline_steps::pose::PoseAsk;
use holdline_steps::reach::ReachAsk;
use holdline_steps::sheet_form::{SheetEditAsk, edit_sheet};
use holdline_steps::views::ToolAsk;
use holdline_steps::{pose as pose_step, reach as reach_step};
use serde::Deserialize;

use super::Desk;
use crate::answer::{Answer, aside, bytes, json, read_json, with_job};

/// Who adds documents where nobody is named.
const BY: &str = "workbench";

/// `GET /api/machine/{hash}/form`
pub async fn form(State(desk): State<Desk>, extract::Path(hash): extract::Path<String>) -> Answer {
    json(&with_job(&desk.job, move |job| job.sheet(&hash)).await?)
}

/// `POST /api/machine/edit`
pub async fn edit(headers: HeaderMap, body: Body) -> Answer {
    let ask: SheetEditAsk = read_json(&headers, body).await?;
    json(&aside(move || Ok(edit_sheet("machine sheet", &ask))).await?)
}

#[derive(Deserialize)]
struct SaveAsk {
    name: String,
    text: String,
}

/// `POST /api/machine/save`
pub async fn save(State(desk): State<Desk>, headers: HeaderMap, body: Body) -> Answer {
    let ask: SaveAsk = read_json(&headers, body).await?;
    let saved = with_job(&desk.job, move |job| {
        job.import(&ask.name, ask.text.as_bytes(), &stamp_now(BY)?)
    })
    .await?;
    json(&saved)
}

/// `POST /api/pose`
pub async fn pose(State(desk): State<Desk>, headers: HeaderMap, body: Body) -> Answer {
    let ask: PoseAsk = read_json(&headers, body).await?;
    let tool = ask.tool.clone();
    let (machine, findings) = with_job(&desk.job, move |job| {
        Ok((job.machine_of(&tool)?, job.calibration_findings(&tool)?))
    })
    .await?;
    let mut view = aside(move || pose_step::pose(&machine, &ask)).await?;
    view.findings.extend(findings);
    json(&view)
}

/// `POST /api/reach`
pub async fn reach(State(desk): State<Desk>, headers: HeaderMap, body: Body) -> Answer {
    let ask: ReachAsk = read_json(&headers, body).await?;
    let tool = ask.pose.tool.clone();
    let machine = with_job(&desk.job, move |job| job.machine_of(&tool)).await?;
    json(&aside(move || reach_step::reach(&machine, &ask)).await?)
}

#[derive(Deserialize)]
pub struct ToolQuery {
    #[serde(default)]
    calibration: Option<String>,
    #[serde(default)]
    coupler: Option<String>,
    #[serde(default)]
    tilt: Option<String>,
    #[serde(default)]
    bucket: String,
    #[serde(default)]
    tooth: String,
}

/// `GET /api/machine/{hash}/model.glb?calibration=&coupler=&tilt=&bucket=&tooth=`
pub async fn model(
    State(desk): State<Desk>,
    extract::Path(hash): extract::Path<String>,
    Query(ToolQuery {
        calibration,
        coupler,
        tilt,
        bucket,
        tooth,
    }): Query<ToolQuery>,
) -> Answer {
    let tool = ToolAsk {
        machine: hash,
        calibration: calibration.filter(|hash| !hash.is_empty()),
        coupler,
        tilt,
        bucket,
        tooth,
    };
    let asked = tool.clone();
    let machine = with_job(&desk.job, move |job| job.machine_of(&asked)).await?;
    let glb = aside(move || {
        let choice = tool.choice();
        let ask = PoseAsk {
            tool,
            ..PoseAsk::default()
        };
        glb(
            &MachineAndTool {
                machine: (*machine).clone(),
                choice,
                calibration: None,
                findings: Vec::new(),
            },
            &ask,
        )
    })
    .await?;
    bytes("model/gltf-binary", glb)
}
