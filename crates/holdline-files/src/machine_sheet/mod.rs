//! The machine sheet: TOML in, a claim out; and the way back.
//!
//! One table of fields ([`fields`]) says what a sheet holds; [`crate::document`] reads and writes by it.

pub mod build;
pub mod edit;
pub mod fields;
pub mod form;
mod layout;
mod unbuild;
pub mod words;

use holdline::machine::claim::ClaimedMachine;
use holdline_geom::fault::{Faults, Place};

use self::fields::{MACHINE_SHEET, SHEET};
use crate::document::node::Node;
use crate::document::units::Units;
use crate::document::{locate, our_bug, read_document, reference, schema, write};
use crate::text::text_of;

/// Reads a machine sheet.
///
/// `file` is the name that the person gave it; faults carry it.
///
/// # Errors
///
/// All faults of the file at once, F001 to F024, in the order of the file.
pub fn read_machine_sheet(file: &str, bytes: &[u8]) -> Result<ClaimedMachine, Faults> {
    let (node, _) = read_node(file, text_of(file, bytes)?)?;
    build::machine(&node).ok_or_else(|| our_bug("a machine").into())
}

/// Reads a sheet as far as its table of fields goes, with the units that it states.
pub(crate) fn read_node(file: &str, text: &str) -> Result<(Node, Units), Faults> {
    read_document(file, text, &MACHINE_SHEET, &[])
}

/// Writes a claim as a machine sheet, in these units.
///
/// A sheet that was read in these units reads back equal, bit for bit.
/// A point of which only some axes have an uncertainty is written without any: unknown, not guessed.
pub fn write_machine_sheet(machine: &ClaimedMachine, units: Units) -> String {
    write::write_document(&SHEET, &unbuild::machine(machine, units), units)
}

/// The schema of a machine sheet, JSON Schema 2020-12, as it is published in the reference.
pub fn machine_sheet_schema() -> String {
    schema::schema(&MACHINE_SHEET)
}

/// Every key of a machine sheet, for people, in Markdown.
pub fn machine_sheet_reference() -> String {
    reference::page(&MACHINE_SHEET)
}

/// Where a path leads in a sheet; where it leads nowhere, the nearest place on the way.
///
/// `None` if not even its first step is in the sheet.
pub fn locate(file: &str, text: &str, path: &str) -> Option<Place> {
    locate::locate(&SHEET, file, text, path)
}

/// Faults of the core with the places that their paths have in the sheet, in the order of the file.
/// A fault whose path leads nowhere points at the file's first line.
#[must_use]
pub fn place_faults(file: &str, text: &str, faults: Faults) -> Faults {
    locate::place_faults(&SHEET, file, text, faults)
}

#[cfg(test)]
mod published;
#[cfg(test)]
mod tests;
#[cfg(test)]
mod there_and_back;
