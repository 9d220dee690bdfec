//! Lines above the header of a table that hold a key and its value: which machine, which tool.
//!
//! A spreadsheet has the key in the first cell and the value in the second; the rest of the row is empty.

use holdline_geom::fault::Fault;

use super::fields::OBSERVATIONS;
use crate::document::leaf::check_name;
use crate::document::{newer_version, other_format};
use crate::points::cells::{self, Cell};
use crate::text::{FileFaults, Lines, quoted};

/// The keys that such a line may have.
pub const KEYS: [&str; 6] = ["format", "version", "machine", "coupler", "tilt", "bucket"];

/// What the key lines say.
#[derive(Debug, Default)]
pub struct KeyLines {
    /// How many there are.
    pub n_lines: usize,
    values: [Option<String>; KEYS.len()],
}

impl KeyLines {
    /// The value of a key, if stated.
    pub fn get(&self, key: &str) -> Option<String> {
        let idx = KEYS.iter().position(|k| *k == key)?;
        self.values[idx].clone()
    }
}

/// Reads the key lines of a table. Faults are noted; `None` where the rest is not worth reading.
pub fn read_key_lines(faults: &mut FileFaults<'_>, text: &str) -> Option<KeyLines> {
    let separator = cells::separator(text);
    let mut read = KeyLines::default();
    for (_, offset, line) in cells::lines(text) {
        let Some((idx, value)) = key_and_value(line, offset, separator) else {
            break;
        };
        read.n_lines += 1;
        let key = KEYS[idx];
        let Some(value) = value else {
            continue; // an empty cell says that nobody states it, here as everywhere
        };
        if read.values[idx].is_some() {
            let got = format!("the key {key} a second time");
            let fix = "keep the right line and take the other out";
            faults.push(offset, Fault::new("F104", key, got, "each key once", fix));
            continue;
        }
        match check(key, &value.text) {
            Ok(()) => read.values[idx] = Some(value.text),
            Err(fault) => {
                let useless = matches!(fault.code, "F013" | "F014");
                faults.push(value.offset, fault);
                if useless {
                    return None;
                }
            }
        }
    }
    Some(read)
}

/// The key of a line that is one of ours, and its value where there is one; `None` for any other line.
pub fn key_and_value(line: &str, offset: usize, separator: char) -> Option<(usize, Option<Cell>)> {
    let lines = Lines::of("");
    let mut none = FileFaults::none("", &lines);
    let mut cells = cells::split(&mut none, offset, line, separator)?.into_iter();
    let key = cells.next()?;
    let idx = KEYS
        .iter()
        .position(|k| k.eq_ignore_ascii_case(key.text.trim()))?;
    let value = cells.next();
    if cells.any(|cell| !cell.text.trim().is_empty()) {
        return None; // a header whose first column has this name
    }
    let value = value.map(|cell| Cell {
        text: cell.text.trim().to_owned(),
        ..cell
    });
    Some((idx, value.filter(|cell| !cell.text.is_empty())))
}

fn check(key: &str, value: &str) -> Result<(), Fault> {
    match key {
        "format" if value == OBSERVATIONS.word => Ok(()),
        "format" => Err(other_format(value, &OBSERVATIONS)),
        "version" => match value.parse::<u32>() {
            Ok(number) if 1 <= number && number <= OBSERVATIONS.version => Ok(()),
            Ok(number) if OBSERVATIONS.version < number => Err(newer_version(value, &OBSERVATIONS)),
            Ok(_) | Err(_) => {
                let want = format!("a whole number, 1 to {}", OBSERVATIONS.version);
                Err(Fault::new(
                    "F017",
                    key,
                    quoted(value),
                    want,
                    "correct the number",
                ))
            }
        },
        _ => check_name(key, value),
    }
}
