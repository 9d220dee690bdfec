//! Who may come in: this computer, this page, this token. Everybody else is told why not.
//!
//! A page of another site cannot read this server's answers, since no CORS header is sent; with a name that it points
//! at this computer it could (DNS rebinding), so the host must be ours by name and port.
//! Other users of the computer can reach the port; they do not have the token.

use std::sync::Arc;

use axum::body::Body;
use axum::extract::{Request, State};
use axum::http::{HeaderMap, HeaderName, HeaderValue, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use holdline_geom::fault::Fault;

use crate::refusal::Refusal;
use crate::token::Token;

/// What the doors know.
#[derive(Debug)]
pub struct Doors {
    /// The port that is listened on.
    pub port: u16,
    /// The token.
    pub token: Token,
}

/// What every answer carries.
const HEADERS: [(HeaderName, &str); 8] = [
    (
        header::CONTENT_SECURITY_POLICY,
        "default-src 'self'; img-src 'self' blob: data:; object-src 'none'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
    ),
    (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
    (header::REFERRER_POLICY, "no-referrer"),
    (header::X_FRAME_OPTIONS, "DENY"),
    (header::CACHE_CONTROL, "no-store"),
    (
        HeaderName::from_static("cross-origin-resource-policy"),
        "same-origin",
    ),
    (
        HeaderName::from_static("cross-origin-opener-policy"),
        "same-origin",
    ),
    (
        HeaderName::from_static("permissions-policy"),
        "camera=(), geolocation=(), microphone=()",
    ),
];

/// Lets in who may come in; puts the guarding headers on every answer.
pub async fn guard(
    State(doors): State<Arc<Doors>>,
    request: Request<Body>,
    next: Next,
) -> Response {
    let mut response = match doors.check(&request) {
        Ok(()) => next.run(request).await,
        Err(refusal) => refusal.into_response(),
    };
    for (name, value) in HEADERS {
        response
            .headers_mut()
            .insert(name, HeaderValue::from_static(value));
    }
    response
}

impl Doors {
    fn check(&self, request: &Request<Body>) -> Result<(), Refusal> {
        let headers = request.headers();
        self.check_host(request)?;
        self.check_origin(headers)?;
        if !opens_the_page(request) {
            check_site(headers)?;
        }
        if request.uri().path().starts_with("/api") {
            self.check_token(headers)
        } else {
            Ok(())
        }
    }

    /// The names that this server answers to.
    fn is_ours(&self, host: &str) -> bool {
        let port = self.port;
        [
            format!("127.0.0.1:{port}"),
            format!("localhost:{port}"),
            format!("[::1]:{port}"),
        ]
        .iter()
        .any(|ours| ours.eq_ignore_ascii_case(host))
    }

    fn check_host(&self, request: &Request<Body>) -> Result<(), Refusal> {
        let mut hosts = request.headers().get_all(header::HOST).iter();
        let host = match (hosts.next(), hosts.next()) {
            (Some(one), None) => one.to_str().unwrap_or_default(),
            _ => "",
        };
        let asked = request
            .uri()
            .authority()
            .map(axum::http::uri::Authority::as_str);
        if self.is_ours(host) && asked.is_none_or(|asked| self.is_ours(asked)) {
            return Ok(());
        }
        Err(Refusal::forbidden(Fault::new(
            "W002",
            "Host",
            shown(host),
            format!("127.0.0.1:{}", self.port),
            "open the address that was printed at start; another name for this computer is not taken",
        )))
    }

    fn check_origin(&self, headers: &HeaderMap) -> Result<(), Refusal> {
        for origin in headers.get_all(header::ORIGIN) {
            let said = origin.to_str().unwrap_or_default();
            if !said
                .strip_prefix("http://")
                .is_some_and(|host| self.is_ours(host))
            {
                return Err(Refusal::forbidden(Fault::new(
                    "W003",
                    "Origin",
                    shown(said),
                    "the workbench's own page",
                    "close the page that asked; it belongs to somebody else",
                )));
            }
        }
        Ok(())
    }

    fn check_token(&self, headers: &HeaderMap) -> Result<(), Refusal> {
        let mut said = headers.get_all(header::AUTHORIZATION).iter();
        let token = match (said.next(), said.next()) {
            (Some(one), None) => one
                .to_str()
                .ok()
                .and_then(|said| said.strip_prefix("Bearer ")),
            _ => None,
        };
        if token.is_some_and(|token| self.token.is(token)) {
            return Ok(());
        }
        let got = if token.is_some() {
            "another token"
        } else {
            "no token"
        };
        Err(Refusal::no_token(Fault::new(
            "W001",
            "Authorization",
            got,
            "the token of this start",
            "open the whole address that was printed when the workbench was started, with all behind the #",
        )))
    }
}

/// The page itself may be led to from anywhere, as a file of ours does at start: it holds no secret and does nothing
/// without the token, and it cannot be framed. Nothing else may.
fn opens_the_page(request: &Request<Body>) -> bool {
    let said = |name: &str, want: &str| {
        let mut all = request.headers().get_all(name).iter();
        all.next().is_some_and(|value| value == want) && all.next().is_none()
    };
    request.method() == axum::http::Method::GET
        && request.uri().path() == "/"
        && said("sec-fetch-mode", "navigate")
        && said("sec-fetch-dest", "document")
}

/// Browsers say where a request comes from; what another site starts is refused, pages of other ports among them.
fn check_site(headers: &HeaderMap) -> Result<(), Refusal> {
    for site in headers.get_all("sec-fetch-site") {
        let said = site.to_str().unwrap_or_default();
        if said != "same-origin" && said != "none" {
            return Err(Refusal::forbidden(Fault::new(
                "W004",
                "Sec-Fetch-Site",
                shown(said),
                "same-origin, or an address that was typed",
                "type or paste the address into the browser instead of following a link to it",
            )));
        }
    }
    Ok(())
}

/// What was said, short and without control characters.
fn shown(said: &str) -> String {
    if said.is_empty() {
        return "none, or one that cannot be read".to_owned();
    }
    said.chars().filter(|c| !c.is_control()).take(80).collect()
}
