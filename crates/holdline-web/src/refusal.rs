//! What is refused, said as faults.

use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use holdline_geom::fault::{Fault, Faults};
use holdline_steps::exit::Exit;
use holdline_steps::views::FaultsView;

/// Faults and the status that goes with them.
#[derive(Debug)]
pub struct Refusal {
    status: StatusCode,
    faults: Faults,
}

impl Refusal {
    /// Another host, origin or site.
    pub fn forbidden(fault: Fault) -> Refusal {
        Refusal {
            status: StatusCode::FORBIDDEN,
            faults: fault.into(),
        }
    }

    /// No token, or another.
    pub fn no_token(fault: Fault) -> Refusal {
        Refusal {
            status: StatusCode::UNAUTHORIZED,
            faults: fault.into(),
        }
    }

    /// A body that is too large.
    pub fn too_large(limit_bytes: usize) -> Refusal {
        let fault = Fault::new(
            "W006",
            "body",
            format!("more than {} MB", limit_bytes / 1_000_000),
            format!("at most {} MB", limit_bytes / 1_000_000),
            "cut the document into parts, or import it with the command line",
        );
        Refusal {
            status: StatusCode::PAYLOAD_TOO_LARGE,
            faults: fault.into(),
        }
    }

    /// A body of another kind.
    pub fn not_json(got: &str) -> Refusal {
        let fault = Fault::new(
            "W007",
            "Content-Type",
            got.chars()
                .filter(|c| !c.is_control())
                .take(80)
                .collect::<String>(),
            "application/json",
            "send the body as JSON",
        );
        Refusal {
            status: StatusCode::UNSUPPORTED_MEDIA_TYPE,
            faults: fault.into(),
        }
    }

    /// Nothing stands at that address.
    pub fn no_such_call(what: &str) -> Refusal {
        let fault = Fault::new(
            "W005",
            what.chars()
                .filter(|c| !c.is_control())
                .take(200)
                .collect::<String>(),
            "no such call",
            "a call of the workbench's interface",
            "page and server may be of two versions: load the page again",
        );
        Refusal {
            status: StatusCode::NOT_FOUND,
            faults: fault.into(),
        }
    }

    /// The program itself failed.
    pub fn ours(got: String) -> Refusal {
        Fault::new(
            "W099",
            "workbench",
            got,
            "no such thing",
            "this is a fault of the program; nothing saved before is lost; report it",
        )
        .into()
    }
}

impl From<Faults> for Refusal {
    fn from(faults: Faults) -> Refusal {
        let code = faults.0.first().map_or("", |fault| fault.code);
        let status = match (Exit::of_faults(&faults), code) {
            (Exit::OurFault, _) => StatusCode::INTERNAL_SERVER_ERROR,
            (_, "S020" | "S030") => StatusCode::NOT_FOUND,
            (_, "W010" | "S014" | "S009" | "S007") => StatusCode::CONFLICT,
            (_, _) => StatusCode::BAD_REQUEST,
        };
        Refusal { status, faults }
    }
}

impl From<Fault> for Refusal {
    fn from(fault: Fault) -> Refusal {
        Faults::from(fault).into()
    }
}

impl IntoResponse for Refusal {
    fn into_response(self) -> Response {
        let view = FaultsView::from(&self.faults);
        let body = serde_json::to_string(&view).unwrap_or_else(|_| "{\"faults\":[]}".to_owned());
        let mut response = (
            self.status,
            [(header::CONTENT_TYPE, "application/json")],
            body,
        )
            .into_response();
        if self.status == StatusCode::UNAUTHORIZED {
            let bearer = axum::http::HeaderValue::from_static("Bearer");
            response
                .headers_mut()
                .insert(header::WWW_AUTHENTICATE, bearer);
        }
        response
    }
}
