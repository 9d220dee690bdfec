//! `holdline explain`.

use crate::Stop;
use crate::args::Common;
use crate::out;
use holdline_geom::fault::Fault;
use holdline_steps::exit::Exit;
use holdline_steps::explain::{all_codes, explain};
use std::io::{self, Write};

/// Prints the long story of a code, or the list of codes.
pub fn run(code: Option<&str>, common: &Common) -> Result<Exit, Stop> {
    let mut to = io::stdout().lock();
    let Some(code) = code else {
        let codes = all_codes();
        if common.json {
            drop(to);
            out::json(&serde_json::json!({ "codes": codes }))?;
        } else {
            writeln!(to, "{}", codes.join("  "))?;
        }
        return Ok(Exit::Good);
    };
    let code = code.to_uppercase();
    let Some(story) = explain(&code) else {
        return Err(Fault::new(
            "F063",
            "code",
            format!("{code:?}"),
            "a code such as M012",
            "`holdline explain` without a code lists them all",
        )
        .into());
    };
    if common.json {
        drop(to);
        out::json(&serde_json::json!({ "code": code, "story": story }))?;
    } else {
        writeln!(to, "{code}\n\n{story}")?;
    }
    Ok(Exit::Good)
}
