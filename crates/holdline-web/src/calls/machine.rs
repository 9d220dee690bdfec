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
    let hash = ask.tool.machine.clone();
    let machine = with_job(&desk.job, move |job| job.machine(&hash)).await?;
    json(&aside(move || pose_step::pose(&machine, &ask)).await?)
}

/// `POST /api/reach`
pub async fn reach(State(desk): State<Desk>, headers: HeaderMap, body: Body) -> Answer {
    let ask: ReachAsk = read_json(&headers, body).await?;
    let hash = ask.pose.tool.machine.clone();
    let machine = with_job(&desk.job, move |job| job.machine(&hash)).await?;
    json(&aside(move || reach_step::reach(&machine, &ask)).await?)
}

#[derive(Deserialize)]
pub struct ToolQuery {
    #[serde(default)]
    coupler: Option<String>,
    #[serde(default)]
    tilt: Option<String>,
    #[serde(default)]
    bucket: String,
    #[serde(default)]
    tooth: String,
}

/// `GET /api/machine/{hash}/model.glb?coupler=&tilt=&bucket=&tooth=`
pub async fn model(
    State(desk): State<Desk>,
    extract::Path(hash): extract::Path<String>,
    Query(ToolQuery {
        coupler,
        tilt,
        bucket,
        tooth,
    }): Query<ToolQuery>,
) -> Answer {
    let machine = with_job(&desk.job, move |job| job.machine(&hash)).await?;
    let glb = aside(move || {
        let tool = ToolAsk {
            machine: String::new(),
            coupler,
            tilt,
            bucket,
            tooth,
        };
        let choice = tool.choice();
        let ask = PoseAsk {
            tool,
            ..PoseAsk::default()
        };
        glb(
            &MachineAndTool {
                machine: (*machine).clone(),
                choice,
            },
            &ask,
        )
    })
    .await?;
    bytes("model/gltf-binary", glb)
}
