//! Bodies in and out: JSON read with faults, work done off the server's own threads.

use std::sync::{Arc, Mutex};

use axum::body::{Body, Bytes, to_bytes};
use axum::http::{HeaderMap, header};
use axum::response::{IntoResponse, Response};
use holdline_geom::fault::{Fault, Faults};
use holdline_steps::job::Job;
use serde::Serialize;
use serde::de::DeserializeOwned;

use crate::refusal::Refusal;

/// Largest JSON body, bytes.
pub const JSON_AT_MOST: usize = 4_000_000;
/// Largest document, bytes.
pub const DOCUMENT_AT_MOST: usize = 256_000_000;

/// The one job that is open, if any.
pub type JobSlot = Arc<Mutex<Option<Job>>>;

/// An answer or a refusal.
pub type Answer = Result<Response, Refusal>;

/// A value as JSON.
pub fn json<T: Serialize>(value: &T) -> Answer {
    let body = serde_json::to_vec(value).map_err(|error| Refusal::ours(error.to_string()))?;
    Ok(([(header::CONTENT_TYPE, "application/json")], body).into_response())
}

/// Bytes of a kind.
pub fn bytes(kind: &'static str, bytes: Vec<u8>) -> Answer {
    Ok(([(header::CONTENT_TYPE, kind)], bytes).into_response())
}

/// The whole body, up to a limit.
pub async fn whole(body: Body, limit_bytes: usize) -> Result<Bytes, Refusal> {
    to_bytes(body, limit_bytes)
        .await
        .map_err(|_| Refusal::too_large(limit_bytes))
}

/// A JSON body.
pub async fn read_json<T: DeserializeOwned>(headers: &HeaderMap, body: Body) -> Result<T, Refusal> {
    let kind = headers
        .get(header::CONTENT_TYPE)
        .and_then(|kind| kind.to_str().ok())
        .unwrap_or("none");
    let bytes = whole(body, JSON_AT_MOST).await?;
    let essence = kind.split(';').next().unwrap_or_default().trim();
    if !essence.eq_ignore_ascii_case("application/json") {
        return Err(Refusal::not_json(kind));
    }
    let text: &[u8] = if bytes.is_empty() { b"{}" } else { &bytes };
    serde_json::from_slice(text).map_err(|error| no_such_members(&error.to_string()).into())
}

/// A body with members that are missing or of another kind.
pub fn no_such_members(said: &str) -> Fault {
    Fault::new(
        "W008",
        "body",
        said,
        "the members that the interface asks for, each of its kind",
        "fill in what is named; page and server may also be of two versions: load the page again",
    )
}

/// Does work that takes time, or the disk, beside the server's own threads.
pub async fn aside<T: Send + 'static>(
    work: impl FnOnce() -> Result<T, Faults> + Send + 'static,
) -> Result<T, Refusal> {
    match tokio::task::spawn_blocking(work).await {
        Ok(done) => done.map_err(Refusal::from),
        Err(error) => Err(Refusal::ours(format!("the work stopped: {error}"))),
    }
}

/// Does something with the open job.
pub async fn with_job<T: Send + 'static>(
    slot: &JobSlot,
    work: impl FnOnce(&mut Job) -> Result<T, Faults> + Send + 'static,
) -> Result<T, Refusal> {
    with_slot(slot, move |job| match job {
        Some(job) => work(job),
        None => Err(no_job().into()),
    })
    .await
}

/// Does something with the place of the open job.
pub async fn with_slot<T: Send + 'static>(
    slot: &JobSlot,
    work: impl FnOnce(&mut Option<Job>) -> Result<T, Faults> + Send + 'static,
) -> Result<T, Refusal> {
    let slot = Arc::clone(slot);
    aside(move || {
        // After a panic the job itself is whole: every save is one transaction. So the lock is taken all the same.
        let mut job = slot
            .lock()
            .unwrap_or_else(std::sync::PoisonError::into_inner);
        work(&mut job)
    })
    .await
}

fn no_job() -> Fault {
    Fault::new(
        "W010",
        "job",
        "no job is open",
        "an open job",
        "open a job, make one, or make the demo job",
    )
}
