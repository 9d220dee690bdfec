//! The calls of the interface, by what they are about. Each is a thin face on one step.

mod budget;
mod calibrate;
mod job;
mod machine;
mod records;

use axum::Router;
use axum::extract::Request;
use axum::routing::{get, post};

use crate::answer::{Answer, JobSlot};
use crate::refusal::Refusal;
use crate::server::DemoPlace;

/// What the calls share.
#[derive(Clone)]
pub struct Desk {
    /// The open job.
    pub job: JobSlot,
    /// Where a demo job is made when nobody says where.
    pub demo: DemoPlace,
}

/// All calls under `/api`.
pub fn routes(desk: Desk) -> Router {
    Router::new()
        .route("/api/state", get(job::state))
        .route("/api/job", post(job::open))
        .route("/api/job/demo", post(job::demo))
        .route("/api/job/close", post(job::close))
        .route("/api/chain", get(job::chain))
        .route("/api/documents", post(job::import))
        .route("/api/documents/{hash}", get(job::document))
        .route("/api/explain/{code}", get(job::explain))
        .route("/api/machine/{hash}/form", get(machine::form))
        .route("/api/machine/{hash}/model.glb", get(machine::model))
        .route("/api/machine/edit", post(machine::edit))
        .route("/api/machine/save", post(machine::save))
        .route("/api/pose", post(machine::pose))
        .route("/api/reach", post(machine::reach))
        .route("/api/machine/{hash}/readiness", get(calibrate::readiness))
        .route("/api/calibrate/fit", post(calibrate::fit))
        .route("/api/calibrate/next", post(calibrate::next))
        .route("/api/calibrate/hand-over", post(calibrate::hand_over))
        .route("/api/verify", post(records::verify))
        .route("/api/budget/pose", post(budget::pose))
        .route("/api/budget/map", post(budget::map))
        .route("/api/records", post(records::record))
        .route("/api/records/{seq}", get(records::show))
        .route("/api/records/{seq}/sheet.svg", get(records::sheet_svg))
        .route("/api/records/{seq}/sheet.pdf", get(records::sheet_pdf))
        .route("/api/records/{seq}/sheet.png", get(records::sheet_png))
        .route("/api/records/{seq}/card.pdf", get(records::card_pdf))
        .route("/api/records/{seq}/sign", post(records::sign))
        .route("/api/records/{seq}/supersede", post(records::supersede))
        .route("/api/records/{seq}/recompute", post(records::recompute))
        .route("/api", get(nothing_here).post(nothing_here))
        .route("/api/{*rest}", get(nothing_here).post(nothing_here))
        .method_not_allowed_fallback(nothing_here)
        .with_state(desk)
}

async fn nothing_here(request: Request) -> Answer {
    Err(Refusal::no_such_call(&format!(
        "{} {}",
        request.method(),
        request.uri().path()
    )))
}
