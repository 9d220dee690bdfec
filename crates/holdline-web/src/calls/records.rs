//! Checks and records.

use axum::body::Body;
use axum::extract::{self, Query, State};
use axum::http::HeaderMap;
use holdline_geom::fault::{Fault, Faults};
use holdline_steps::budget::{BUDGET_KIND, BudgetAsk};
use holdline_steps::calibrate::{CALIBRATE_KIND, HAND_OVER_KIND};
use holdline_steps::job::stamp_now;
use holdline_steps::pose::PageSize;
use holdline_steps::records::MEASURE_UP_KIND;
use holdline_steps::sheets::{FileForm, Which};
use holdline_steps::units::Units;
use holdline_steps::verify::{CheckView, VerifyAsk};
use serde::{Deserialize, Serialize};
use serde_json::json;

use super::Desk;
use crate::answer::{Answer, bytes, json, no_such_members, read_json, with_job};
use crate::refusal::Refusal;

#[derive(Deserialize)]
struct LookAsk {
    #[serde(flatten)]
    check: VerifyAsk,
    #[serde(default)]
    units: Units,
    #[serde(default)]
    view: Option<PlotView>,
}

#[derive(Deserialize)]
struct PlotView {
    plot: PageSize,
}

/// The plot's size where the page does not say.
const PLOT: PageSize = PageSize {
    w_mm: 160.0,
    h_mm: 110.0,
};

#[derive(Serialize)]
struct VerifyAnswer {
    result: CheckView,
    svg: String,
}

/// `POST /api/verify`
pub async fn verify(State(desk): State<Desk>, headers: HeaderMap, body: Body) -> Answer {
    let ask: LookAsk = read_json(&headers, body).await?;
    let answer = with_job(&desk.job, move |job| {
        let today = today()?;
        let checked = job.verify(&ask.check, &today, ask.units)?;
        let size = ask.view.map_or(PLOT, |view| view.plot);
        let svg = job.plot_svg(&checked, &size, ask.units)?;
        let mut result = checked.view;
        if let Some(diagnosis) = &mut result.diagnosis
            && let Some(sheets) = job.diagnosis_drawings(&checked.entry, &size, ask.units)?
        {
            diagnosis.sheets = sheets;
        }
        Ok(VerifyAnswer { result, svg })
    })
    .await?;
    json(&answer)
}

#[derive(Deserialize)]
struct RecordAsk {
    #[serde(default)]
    kind: String,
    #[serde(default)]
    made_by: String,
    #[serde(default)]
    supersedes: Option<u64>,
    /// What is recorded; its members depend on the kind.
    #[serde(flatten)]
    ask: serde_json::Value,
}

/// `POST /api/records`
pub async fn record(State(desk): State<Desk>, headers: HeaderMap, body: Body) -> Answer {
    let RecordAsk {
        kind,
        made_by,
        supersedes,
        ask,
    } = read_json(&headers, body).await?;
    let answer = with_job(&desk.job, move |job| {
        let stamp = stamp_now(&made_by)?;
        let seq = match kind.as_str() {
            MEASURE_UP_KIND => job.record_measure_up(&asked(ask)?, supersedes, &stamp)?,
            CALIBRATE_KIND => {
                let made = job.record_calibrate(&asked(ask)?, supersedes, &stamp)?;
                return Ok(json!({ "seq": made.seq, "calibration": made.calibration }));
            }
            HAND_OVER_KIND => job.record_hand_over(&asked(ask)?, supersedes, &stamp)?,
            BUDGET_KIND => {
                let mut ask: BudgetAsk = asked(ask)?;
                ask.grid.get_or_insert_default();
                ask.draws.get_or_insert_default();
                job.record_budget(&ask, supersedes, &stamp)?
            }
            _ => job.record_verify(&asked(ask)?, supersedes, &stamp)?,
        };
        Ok(json!({ "seq": seq }))
    })
    .await?;
    json(&answer)
}

/// The members that a kind of record asks for.
fn asked<T: serde::de::DeserializeOwned>(ask: serde_json::Value) -> Result<T, Fault> {
    serde_json::from_value(ask).map_err(|error| no_such_members(&error.to_string()))
}

/// The number of a record in an address.
fn number(seq: &str) -> Result<u64, Refusal> {
    seq.parse()
        .map_err(|_| Refusal::no_such_call(&format!("record {seq}")))
}

#[derive(Deserialize, Default)]
pub struct PageQuery {
    page: Option<String>,
    #[serde(default)]
    units: Units,
    /// `file` for an SVG that stands alone, fonts inside.
    #[serde(default, rename = "for")]
    wanted: String,
}

impl PageQuery {
    fn page(&self) -> Result<usize, Refusal> {
        match self.page.as_deref() {
            None | Some("") => Ok(1),
            Some(page) => page.parse().map_err(|_| {
                let want = "a page number, from 1";
                Fault::new(
                    "R043",
                    "page",
                    page,
                    want,
                    "ask for one of the pages that there are",
                )
                .into()
            }),
        }
    }
}

type Seq = extract::Path<String>;

/// `GET /api/records/{seq}`
pub async fn show(
    State(desk): State<Desk>,
    extract::Path(seq): Seq,
    Query(query): Query<PageQuery>,
) -> Answer {
    let seq = number(&seq)?;
    json(&with_job(&desk.job, move |job| job.record_body(seq, query.units)).await?)
}

/// `GET /api/records/{seq}/sheet.svg`
pub async fn sheet_svg(
    State(desk): State<Desk>,
    extract::Path(seq): Seq,
    Query(query): Query<PageQuery>,
) -> Answer {
    let (seq, page) = (number(&seq)?, query.page()?);
    if query.wanted == "file" {
        return print(&desk, seq, Which::Sheet, FileForm::Svg, page, query.units).await;
    }
    let svg = with_job(&desk.job, move |job| {
        job.sheet_on_screen(seq, page, query.units)
    })
    .await?;
    bytes("image/svg+xml", svg.into_bytes())
}

/// `GET /api/records/{seq}/sheet.pdf`
pub async fn sheet_pdf(
    State(desk): State<Desk>,
    extract::Path(seq): Seq,
    Query(query): Query<PageQuery>,
) -> Answer {
    let seq = number(&seq)?;
    print(&desk, seq, Which::Sheet, FileForm::Pdf, 1, query.units).await
}

/// `GET /api/records/{seq}/sheet.png`
pub async fn sheet_png(
    State(desk): State<Desk>,
    extract::Path(seq): Seq,
    Query(query): Query<PageQuery>,
) -> Answer {
    let (seq, page) = (number(&seq)?, query.page()?);
    print(&desk, seq, Which::Sheet, FileForm::Png, page, query.units).await
}

/// `GET /api/records/{seq}/card.pdf`
pub async fn card_pdf(
    State(desk): State<Desk>,
    extract::Path(seq): Seq,
    Query(query): Query<PageQuery>,
) -> Answer {
    let seq = number(&seq)?;
    print(&desk, seq, Which::Card, FileForm::Pdf, 1, query.units).await
}

async fn print(
    desk: &Desk,
    seq: u64,
    which: Which,
    form: FileForm,
    page: usize,
    units: Units,
) -> Answer {
    let file = with_job(&desk.job, move |job| {
        let mut files = job.sheet_files(seq, which, form, units)?;
        match page.checked_sub(1).filter(|idx| *idx < files.len()) {
            Some(idx) => Ok(files.swap_remove(idx)),
            None => Err(no_page(page, files.len()).into()),
        }
    })
    .await?;
    let kind = match form {
        FileForm::Pdf => "application/pdf",
        FileForm::Png => "image/png",
        FileForm::Svg => "image/svg+xml",
    };
    bytes(kind, file)
}

fn no_page(page: usize, n_pages: usize) -> Fault {
    let want = format!("1 to {n_pages}");
    Fault::new(
        "R043",
        "page",
        format!("page {page}"),
        want,
        "ask for one of the pages that there are",
    )
}

#[derive(Deserialize)]
struct SignAsk {
    #[serde(default)]
    name: String,
    #[serde(default)]
    role: String,
    #[serde(default)]
    date: Option<String>,
}

/// `POST /api/records/{seq}/sign`
pub async fn sign(
    State(desk): State<Desk>,
    extract::Path(seq): Seq,
    headers: HeaderMap,
    body: Body,
) -> Answer {
    let seq = number(&seq)?;
    let ask: SignAsk = read_json(&headers, body).await?;
    let signed = with_job(&desk.job, move |job| {
        let stamp = stamp_now(&ask.name)?;
        let date = ask.date.map_or_else(today, Ok)?;
        job.sign(seq, &ask.name, &ask.role, &date, &stamp)
    })
    .await?;
    json(&json!({ "seq": signed }))
}

#[derive(Deserialize)]
struct SupersedeAsk {
    by: u64,
    #[serde(default)]
    reason: String,
    #[serde(default)]
    made_by: Option<String>,
}

/// `POST /api/records/{seq}/supersede`
pub async fn supersede(
    State(desk): State<Desk>,
    extract::Path(seq): Seq,
    headers: HeaderMap,
    body: Body,
) -> Answer {
    let seq = number(&seq)?;
    let ask: SupersedeAsk = read_json(&headers, body).await?;
    let made = with_job(&desk.job, move |job| {
        let stamp = stamp_now(ask.made_by.as_deref().unwrap_or("workbench"))?;
        job.supersede(seq, ask.by, &ask.reason, &stamp)
    })
    .await?;
    json(&json!({ "seq": made }))
}

/// `POST /api/records/{seq}/recompute`
pub async fn recompute(State(desk): State<Desk>, extract::Path(seq): Seq) -> Answer {
    let seq = number(&seq)?;
    json(&with_job(&desk.job, move |job| job.recompute(seq)).await?)
}

/// The day, in UTC.
fn today() -> Result<String, Faults> {
    Ok(stamp_now("workbench")?
        .at()
        .get(..10)
        .unwrap_or_default()
        .to_owned())
}
