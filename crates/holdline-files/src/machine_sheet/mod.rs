//! The machine sheet: TOML in, a claim out; and the way back.
//!
//! One table of fields ([`fields`]) says what a sheet holds. The reader walks the parsed text by it
//! and tells all faults at once, each with path, line and column.

pub mod build;
pub mod edit;
pub mod fields;
pub mod form;
mod layout;
mod leaf;
mod locate;
pub mod node;
pub mod path;
mod reference;
mod schema;
mod syntax;
pub mod table;
mod unbuild;
pub mod units;
pub mod walk;
pub mod words;
mod write;

pub use self::locate::{locate, place_faults};
pub use self::reference::machine_sheet_reference;
pub use self::schema::machine_sheet_schema;
pub use self::write::write_machine_sheet;

use holdline::machine::claim::ClaimedMachine;
use holdline_geom::fault::{Fault, Faults};
use toml::de::{DeTable, DeValue};

use self::node::Node;
use self::syntax::Broken;
use self::units::Units;
use self::walk::Walk;
use crate::text::{FileFaults, LARGEST_SHEET_BYTES, Lines, check_size, quoted, text_of};

/// Reads a machine sheet.
///
/// `file` is the name that the person gave it; faults carry it.
///
/// # Errors
///
/// All faults of the file at once, F001 to F024, in the order of the file.
pub fn read_machine_sheet(file: &str, bytes: &[u8]) -> Result<ClaimedMachine, Faults> {
    let (node, _) = read_node(file, text_of(file, bytes)?)?;
    build::machine(&node).ok_or_else(|| our_bug().into())
}

/// Reads a sheet as far as its table of fields goes, with the units that it states.
pub(crate) fn read_node(file: &str, text: &str) -> Result<(Node, Units), Faults> {
    check_size(file, text.len(), LARGEST_SHEET_BYTES)?;
    let lines = Lines::of(text);
    let end = text.trim_end().len();
    let mut faults = FileFaults::none(file, &lines);
    let broken = syntax::note(&mut faults, text);
    let mended = broken.blanked(text);
    let (table, errors) = DeTable::parse_recoverable(&mended);
    syntax::note_duplicates(&mut faults, text, &errors);
    if broken.reads_to_the_end(text) {
        faults.check_last_line(text);
    }
    let table = table.get_ref();
    if !kind_is_known(&mut faults, table, &broken, end) {
        return Err(faults.into_faults());
    }
    let mut walk = Walk::new(faults, end);
    let node = walk.sheet(&fields::SHEET, table);
    broken.drop_consequences(&mut walk.faults);
    let units = walk.units;
    if walk.faults.is_empty() {
        Ok((node, units))
    } else {
        Err(walk.faults.into_faults())
    }
}

/// True where the rest of the file is worth reading: it says that it is a machine sheet, of a version known here.
fn kind_is_known(
    faults: &mut FileFaults<'_>,
    table: &DeTable<'_>,
    broken: &Broken,
    end: usize,
) -> bool {
    let want = format!("format = \"{}\"", fields::FORMAT);
    match table.get("format").map(|v| (v.span().start, v.get_ref())) {
        Some((_, DeValue::String(word))) if word == fields::FORMAT => {}
        Some((offset, DeValue::String(word))) => {
            let fix = "pick the machine sheet; this file says that it is something else";
            faults.push(
                offset,
                Fault::new("F013", "format", quoted(word), want, fix),
            );
            return false;
        }
        Some(_) => {} // wrong type: the walk says so
        None if broken.hides_the_head() => {}
        None => {
            let fix = "pick the machine sheet; if this is one, put this line at its top";
            let offset = if table.is_empty() { end } else { 0 };
            faults.push(offset, Fault::new("F013", "format", "no format", want, fix));
            return false;
        }
    }
    let Some(version) = table.get("version") else {
        return true;
    };
    let DeValue::Integer(number) = version.get_ref() else {
        return true;
    };
    let newer = i128::from_str_radix(number.as_str(), number.radix())
        .is_ok_and(|v| i128::from(fields::VERSION) < v);
    if newer {
        let got = format!("version {}", quoted(number.as_str()).trim_matches('"'));
        let want = format!("version {} at most", fields::VERSION);
        let fix = "this sheet was written for a newer holdline; get that one, as this one could misread it";
        faults.push(
            version.span().start,
            Fault::new("F014", "version", got, want, fix),
        );
    }
    !newer
}

fn our_bug() -> Fault {
    Fault::new(
        "F059",
        "",
        "a sheet without fault that could not be put together",
        "a machine",
        "this is a bug in holdline; please send the sheet to its makers",
    )
}

#[cfg(test)]
mod tests;
