//! The page itself: built files inside the binary, or words where it was built without them.

use axum::http::{StatusCode, Uri, header};
use axum::response::{IntoResponse, Response};
use rust_embed::RustEmbed;

/// The built page. A development build reads it from its folder at run time.
#[derive(RustEmbed)]
#[folder = "ui/dist"]
struct Files;

/// Whether this binary has a page to show.
pub fn is_built() -> bool {
    Files::get("index.html").is_some()
}

/// What to say where there is none.
pub const NOT_BUILT: &str = "This holdline was built without its page.\n\
The command line is whole, and the interface under /api answers.\n\
To have the page: in crates/holdline-web/ui run `npm ci` and `npm run build`, then build holdline again.\n";

/// A file of the page.
pub async fn file(uri: Uri) -> Response {
    let path = match uri.path().trim_start_matches('/') {
        "" => "index.html",
        path => path,
    };
    let text = [(header::CONTENT_TYPE, "text/plain; charset=utf-8")];
    match Files::get(path) {
        Some(file) => {
            let kind = file.metadata.mimetype().to_owned();
            ([(header::CONTENT_TYPE, kind)], file.data.into_owned()).into_response()
        }
        None if path == "index.html" => (StatusCode::OK, text, NOT_BUILT).into_response(),
        None => (
            StatusCode::NOT_FOUND,
            text,
            "Nothing here. The workbench is at /.\n",
        )
            .into_response(),
    }
}
