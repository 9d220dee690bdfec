//! Documents in TOML: text in, keys and values out; and the way back.
//!
//! A format is one table of fields ([`table`]). The reader walks the parsed text by it and tells all
//! faults at once, each with path, line and column; writer, schema and reference come from the same table.

pub mod leaf;
pub mod locate;
pub mod node;
pub mod path;
pub mod reference;
pub mod schema;
pub mod syntax;
pub mod table;
pub mod units;
pub mod walk;
pub mod write;

use holdline_geom::fault::{Fault, Faults};
use toml::de::{DeTable, DeValue};

use self::node::Node;
use self::syntax::Broken;
use self::table::Section;
use self::units::Units;
use self::walk::{Reading, Walk};
use crate::text::{FileFaults, Lines, check_size, quoted};

/// A kind of document: what its first lines say and what it holds.
#[derive(Debug)]
pub struct Format {
    /// Its `format` word.
    pub word: &'static str,
    /// The newest version that is known here.
    pub version: u32,
    /// What a person calls it.
    pub called: &'static str,
    /// What it is for, in a sentence.
    pub is: &'static str,
    /// Its table of fields.
    pub sheet: &'static Section,
    /// Largest text read, bytes.
    pub most_bytes: usize,
}

/// Reads a document as far as its table of fields goes, with the units that it states.
///
/// `readings` are the names that readings of sensors may have; empty where the format has none.
///
/// # Errors
///
/// All faults of the file at once, F001 to F024 and F101 to F111, in the order of the file.
pub fn read_document(
    file: &str,
    text: &str,
    format: &Format,
    readings: &[Reading],
) -> Result<(Node, Units), Faults> {
    check_size(file, text.len(), format.most_bytes)?;
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
    if !kind_is_known(&mut faults, table, format, &broken, end) {
        return Err(faults.into_faults());
    }
    let mut walk = Walk::new(faults, end);
    walk.readings = readings;
    let node = walk.sheet(format.sheet, table);
    broken.drop_consequences(&mut walk.faults);
    let units = walk.units;
    if walk.faults.is_empty() {
        Ok((node, units))
    } else {
        Err(walk.faults.into_faults())
    }
}

/// True where the rest of the file is worth reading: it says that it is of this format, in a version known here.
fn kind_is_known(
    faults: &mut FileFaults<'_>,
    table: &DeTable<'_>,
    format: &Format,
    broken: &Broken,
    end: usize,
) -> bool {
    match table.get("format").map(|v| (v.span().start, v.get_ref())) {
        Some((offset, DeValue::String(word))) if word != format.word => {
            faults.push(offset, other_format(word, format));
            return false;
        }
        Some(_) => {} // right, or of a wrong type, and then the walk says so
        None if broken.hides_the_head() => {}
        None => {
            let want = format!("format = \"{}\"", format.word);
            let fix = format!(
                "pick the {}; if this is one, put this line at its top",
                format.called
            );
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
        .is_ok_and(|v| i128::from(format.version) < v);
    if newer {
        faults.push(version.span().start, newer_version(number.as_str(), format));
    }
    !newer
}

/// The file says that it is something else.
pub fn other_format(word: &str, format: &Format) -> Fault {
    let want = format!("format = \"{}\"", format.word);
    let fix = format!(
        "pick the {}; this file says that it is something else",
        format.called
    );
    Fault::new("F013", "format", quoted(word), want, fix)
}

/// The file has a version that is not known here.
pub fn newer_version(number: &str, format: &Format) -> Fault {
    let got = format!("version {}", quoted(number).trim_matches('"'));
    let want = format!("version {} at most", format.version);
    let fix =
        "this sheet was written for a newer holdline; get that one, as this one could misread it";
    Fault::new("F014", "version", got, want, fix)
}

/// A document without fault that could not be put together.
pub fn our_bug(want: &str) -> Fault {
    Fault::new(
        "F059",
        "",
        "a sheet without fault that could not be put together",
        want,
        "this is a bug in holdline; please send the sheet to its makers",
    )
}

/// True for a text that says its format as TOML does, or whose first line is a header or a key of TOML.
pub fn is_toml(file: &str, text: &str) -> bool {
    let first = text
        .lines()
        .map(str::trim)
        .find(|line| !line.is_empty() && !line.starts_with('#'));
    let key = |line: &str| {
        line.split_once('=')
            .is_some_and(|(k, _)| !k.contains([',', ';', '\t']))
    };
    file.to_lowercase().ends_with(".toml")
        || first.is_some_and(|line| line.starts_with('[') || key(line))
}

/// The word that a text states as its format, in TOML or in a key line of a table; `None` where it states none.
pub fn kind_by_format(text: &str) -> Option<String> {
    let said = |line: &str| {
        let rest = line.trim_start_matches(['\u{feff}', ' ', '"']);
        let rest = rest.strip_prefix("format")?.trim_start_matches([' ', '"']);
        let rest = rest.strip_prefix(['=', ',', ';', '\t'])?;
        let word = rest.trim_start_matches([' ', '"', '\'']);
        let end = word.find(|c: char| !(c.is_ascii_alphanumeric() || matches!(c, '.' | '-' | '_')));
        Some(word[..end.unwrap_or(word.len())].to_owned())
    };
    text.lines().find_map(said)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_word_of_the_format() {
        let word = |text: &str| kind_by_format(text).unwrap_or_default();
        assert_eq!(
            word("# x\nformat = \"holdline.machine\"\n"),
            "holdline.machine"
        );
        assert_eq!(
            word("\u{feff}format,holdline.observations,,,\r\n"),
            "holdline.observations"
        );
        assert_eq!(
            word("format;\"holdline.observations\"\n"),
            "holdline.observations"
        );
        assert_eq!(word("name,kind\n"), "");
        assert_eq!(word("formation,kind\n"), "");
    }
}
