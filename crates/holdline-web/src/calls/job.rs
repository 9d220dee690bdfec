//! State, job, documents.

use std::path::{Path, PathBuf};

use axum::body::Body;
use axum::extract::{self, Query, State};
use axum::http::HeaderMap;
use holdline_geom::fault::{Fault, Faults};
use holdline_steps::demo::{DemoView, make_demo};
use holdline_steps::explain::explain as story_of;
use holdline_steps::job::{Job, JobView, PROGRAM, stamp_now};
use serde::{Deserialize, Serialize};
use serde_json::json;

use super::Desk;
use crate::answer::{Answer, DOCUMENT_AT_MOST, bytes, json, read_json, whole, with_job, with_slot};
use crate::refusal::Refusal;

/// Who adds documents where nobody is named.
const BY: &str = "workbench";

#[derive(Serialize)]
struct StateView {
    version: &'static str,
    program: &'static str,
    job: Option<JobView>,
}

/// `GET /api/state`
pub async fn state(State(desk): State<Desk>) -> Answer {
    let job = with_slot(&desk.job, |job| job.as_ref().map(Job::view).transpose()).await?;
    json(&StateView {
        version: env!("CARGO_PKG_VERSION"),
        program: PROGRAM,
        job,
    })
}

#[derive(Deserialize)]
struct OpenAsk {
    path: String,
    #[serde(default)]
    create: bool,
}

/// `POST /api/job`
pub async fn open(State(desk): State<Desk>, headers: HeaderMap, body: Body) -> Answer {
    let ask: OpenAsk = read_json(&headers, body).await?;
    let view = with_slot(&desk.job, move |slot| {
        let path = path_of(&ask.path)?;
        // The one that is open stays open until the other is.
        let job = if ask.create {
            Job::create(&path)?
        } else {
            Job::open(&path)?
        };
        let view = job.view()?;
        *slot = Some(job);
        Ok(view)
    })
    .await?;
    json(&view)
}

fn path_of(text: &str) -> Result<PathBuf, Faults> {
    if text.trim().is_empty() || text.contains('\0') {
        let fix = "type where the job file is, or is to be, on this computer";
        return Err(Fault::new("W011", "path", "no path", "the path of a job file", fix).into());
    }
    Ok(Path::new(text.trim()).to_owned())
}

#[derive(Deserialize, Default)]
struct DemoAsk {
    #[serde(default)]
    path: Option<String>,
}

#[derive(Serialize)]
struct DemoAnswer {
    #[serde(flatten)]
    job: JobView,
    steps: Vec<String>,
    files: Vec<String>,
}

/// `POST /api/job/demo`
pub async fn demo(State(desk): State<Desk>, headers: HeaderMap, body: Body) -> Answer {
    let ask: DemoAsk = read_json(&headers, body).await?;
    let place = desk.demo.clone();
    let answer = with_slot(&desk.job, move |slot| {
        let path = match &ask.path {
            Some(path) => path_of(path)?,
            None => place.free_path(),
        };
        let mut steps = Vec::new();
        let made: DemoView = make_demo(&path, &mut |step| steps.push(step.text.clone()))?;
        let job = Job::open(&path)?;
        let view = job.view()?;
        *slot = Some(job);
        Ok(DemoAnswer {
            job: view,
            steps,
            files: made.files,
        })
    })
    .await?;
    json(&answer)
}

/// `POST /api/job/close`
pub async fn close(State(desk): State<Desk>) -> Answer {
    with_slot(&desk.job, |slot| {
        *slot = None;
        Ok(())
    })
    .await?;
    json(&json!({}))
}

/// `GET /api/chain`
pub async fn chain(State(desk): State<Desk>) -> Answer {
    json(&with_job(&desk.job, |job| job.check_chain()).await?)
}

#[derive(Deserialize)]
pub struct NameQuery {
    #[serde(default)]
    name: String,
}

/// `POST /api/documents?name=NAME`
pub async fn import(
    State(desk): State<Desk>,
    Query(query): Query<NameQuery>,
    body: Body,
) -> Answer {
    let content = whole(body, DOCUMENT_AT_MOST).await?;
    let imported = with_job(&desk.job, move |job| {
        job.import(&query.name, &content, &stamp_now(BY)?)
    })
    .await?;
    json(&imported)
}

/// `GET /api/documents/{hash}`
pub async fn document(
    State(desk): State<Desk>,
    extract::Path(hash): extract::Path<String>,
) -> Answer {
    let content = with_job(&desk.job, move |job| job.document_bytes(&hash)).await?;
    bytes("application/octet-stream", content)
}

/// `GET /api/explain/{code}`
pub async fn explain(extract::Path(code): extract::Path<String>) -> Answer {
    let code = code.to_uppercase();
    match story_of(&code) {
        Some(text) => json(&json!({ "code": code, "text": text })),
        None => Err(Refusal::no_such_call(&format!("explain {code}"))),
    }
}
