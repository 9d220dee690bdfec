//! Observations in TOML.

use holdline::calibrate::observations::Observations;
use holdline_geom::fault::{Fault, Faults};

use super::build;
use super::fields::{DOCUMENT, OBSERVATIONS};
use crate::document::locate::{lines_of_entries, place_faults};
use crate::document::read_document;
use crate::document::walk::{Reading, entry_path};
use crate::text::not_too_many;

/// Reads observations from TOML.
pub fn read(file: &str, text: &str, readings: &[Reading]) -> Result<Observations, Faults> {
    let (node, _) = read_document(file, text, &OBSERVATIONS, readings)?;
    let lines = lines_of_entries(text, "observation");
    let mut faults = Vec::new();
    let mut rows = Vec::new();
    for (idx, entry) in node.list("observation").iter().enumerate() {
        let path = entry_path("observation", entry.text("name").as_deref(), idx);
        match build::observation(entry, &path, lines.get(idx).copied().unwrap_or(0)) {
            Ok(row) => rows.push(row),
            Err(found) => faults.extend(found),
        }
    }
    if rows.is_empty() && faults.is_empty() {
        let (got, want) = ("a list without an entry", "at least one observation");
        let fix = "pick the right file, or copy it again: it may have been cut short";
        faults.push(Fault::new("F038", "observation", got, want, fix));
    }
    if !faults.is_empty() {
        return Err(place_faults(&DOCUMENT, file, text, not_too_many(faults)));
    }
    Ok(Observations {
        machine: node.text("machine").unwrap_or_default(),
        tool: build::tool(node.inside("tool")),
        rows,
    })
}
