//! Why a row could not be used, how often, and where first.

use std::collections::BTreeMap;

use holdline_geom::fault::{Fault, Place};

use crate::text::quoted;

/// Why a row could not be used.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Reason {
    /// Fewer fields than the header names.
    TooFewFields,
    /// More fields than the header names.
    TooManyFields,
    /// Nothing between two separators.
    EmptyField,
    /// Something that is not a number.
    NotANumber,
    /// A number with a comma for its point.
    DecimalComma,
    /// The words for "not a number" in a field of readings.
    Nan,
    /// An infinite reading.
    Infinite,
    /// A reading outside of what is plausible.
    OutOfRange,
    /// A line longer than any row of readings.
    TooLong,
    /// A quotation mark that is not closed on its line.
    OpenQuote,
    /// Bytes that are not text.
    NotText,
    /// The header once more.
    HeaderAgain,
    /// The last line stops without a line end.
    NoLineEnd,
    /// The readings give no answer; the words say why.
    NoAnswer(&'static str),
}

impl Reason {
    /// Code for `holdline explain`.
    pub fn code(self) -> &'static str {
        match self {
            Reason::TooFewFields => "T620",
            Reason::TooManyFields => "T621",
            Reason::EmptyField => "T622",
            Reason::NotANumber => "T623",
            Reason::DecimalComma => "T624",
            Reason::Nan => "T625",
            Reason::Infinite => "T626",
            Reason::OutOfRange => "T627",
            Reason::TooLong => "T628",
            Reason::OpenQuote => "T629",
            Reason::NotText => "T630",
            Reason::HeaderAgain => "T631",
            Reason::NoLineEnd => "T632",
            Reason::NoAnswer(_) => "T633",
        }
    }

    /// In a few words.
    pub fn words(self) -> &'static str {
        match self {
            Reason::TooFewFields => "fewer fields than the header",
            Reason::TooManyFields => "more fields than the header",
            Reason::EmptyField => "an empty field",
            Reason::NotANumber => "not a number",
            Reason::DecimalComma => "a comma for the decimal point",
            Reason::Nan => "NaN for a reading",
            Reason::Infinite => "an infinite reading",
            Reason::OutOfRange => "a reading that is not plausible",
            Reason::TooLong => "a line longer than any row of readings",
            Reason::OpenQuote => "a quotation mark not closed on its line",
            Reason::NotText => "bytes that are not text",
            Reason::HeaderAgain => "the header once more",
            Reason::NoLineEnd => "the last line has no line end",
            Reason::NoAnswer(why) => why,
        }
    }

    fn want_and_fix(self) -> (&'static str, &'static str) {
        match self {
            Reason::TooFewFields | Reason::TooManyFields => (
                "as many fields as the header names",
                "look at the row; a text with a separator in it needs quotation marks",
            ),
            Reason::EmptyField => (
                "a reading in every column that is used",
                "leave the row out where the sensor gave nothing; never fill in a zero",
            ),
            Reason::NotANumber => (
                "a number such as -22.75",
                "look at the row; units belong in the header",
            ),
            Reason::DecimalComma => (
                "a decimal point",
                "export again with points; a comma could also part thousands",
            ),
            Reason::Nan | Reason::Infinite => (
                "a reading",
                "leave the row out, or see why the sensor gave nothing there",
            ),
            Reason::OutOfRange => (
                "a reading that a machine can have",
                "check the unit in the column's name and the order of the columns",
            ),
            Reason::TooLong => (
                "rows of up to 64 KiB",
                "look for a missing line end, or pick the right file",
            ),
            Reason::OpenQuote => (
                "quotation marks in pairs on one line",
                "close the quotation, or write \"\" for a mark inside one",
            ),
            Reason::NotText => (
                "plain text in UTF-8",
                "copy the file again; zero bytes appear where a logger lost power",
            ),
            Reason::HeaderAgain => (
                "one header",
                "harmless where logs were put end to end with the same columns",
            ),
            Reason::NoLineEnd => (
                "a line end after every row",
                "the file may be cut short; if the row is whole, add a line end",
            ),
            Reason::NoAnswer(_) => (
                "readings that the machine can have at one time",
                "compare with the rows around it; a stuck or swapped sensor looks like this",
            ),
        }
    }
}

/// A row that could not be used.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct BadRow<'a> {
    /// Line of the file, from 1.
    pub line: u64,
    /// Where in the line the trouble starts, in characters from 1.
    pub column_at: usize,
    /// Name of the column, if one is to blame.
    pub column: &'a str,
    /// Why.
    pub reason: Reason,
    /// The row, or its start where it is very long.
    pub row: &'a [u8],
}

/// Most rows told with their lines; the rest are counted and stand in the side file.
pub const MOST_TOLD: usize = 10;
/// Longest piece of a row that is repeated in a message.
const SHOWN_BYTES: usize = 60;

/// Counts of rows that could not be used.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Tally {
    by_reason: BTreeMap<(Reason, String), u64>,
    first: Vec<Fault>,
}

impl Tally {
    /// Counts a row, and keeps it to be told if it is among the first.
    pub fn count(&mut self, file: &str, bad: &BadRow<'_>) {
        match self.by_reason.get_mut(&(bad.reason, bad.column.to_owned())) {
            Some(n) => *n += 1,
            None => {
                self.by_reason
                    .insert((bad.reason, bad.column.to_owned()), 1);
            }
        }
        if self.first.len() < MOST_TOLD {
            self.first.push(told(file, bad));
        }
    }

    /// Adds the tally of the rows that follow.
    pub fn add(&mut self, later: Tally) {
        for (key, n) in later.by_reason {
            *self.by_reason.entry(key).or_insert(0) += n;
        }
        let room = MOST_TOLD - self.first.len();
        self.first.extend(later.first.into_iter().take(room));
    }

    /// How many rows in all.
    pub fn n_bad(&self) -> u64 {
        self.by_reason.values().sum()
    }

    /// Reason, column (empty where none is to blame) and how many rows, in a fixed order.
    pub fn by_reason(&self) -> impl Iterator<Item = (Reason, &str, u64)> {
        self.by_reason
            .iter()
            .map(|((reason, column), n)| (*reason, column.as_str(), *n))
    }

    /// The first rows that could not be used, with their lines.
    pub fn first(&self) -> &[Fault] {
        &self.first
    }
}

fn told(file: &str, bad: &BadRow<'_>) -> Fault {
    let (want, fix) = bad.reason.want_and_fix();
    let row = String::from_utf8_lossy(&bad.row[..bad.row.len().min(SHOWN_BYTES)]);
    let got = format!("{} in row {}", bad.reason.words(), quoted(&row));
    let at = if bad.column.is_empty() {
        String::new()
    } else {
        format!("column {}", bad.column)
    };
    let mut fault = Fault::new(bad.reason.code(), at, got, want, fix);
    fault.place = Some(Place {
        file: file.to_owned(),
        line: usize::try_from(bad.line).unwrap_or(usize::MAX),
        column: bad.column_at,
    });
    fault
}

/// Head of the side file.
pub const SIDE_HEADER: &str = "line,code,reason,column,row\n";
/// Most of a row that goes to the side file.
const SIDE_ROW_BYTES: usize = 4096;

/// Writes a row that could not be used as a line of the side file, the row between quotation marks.
pub fn write_side_line(side: &mut Vec<u8>, bad: &BadRow<'_>) {
    super::fixed::write_whole(side, bad.line);
    side.push(b',');
    side.extend_from_slice(bad.reason.code().as_bytes());
    side.push(b',');
    write_field(side, bad.reason.words().as_bytes());
    side.push(b',');
    write_field(side, bad.column.as_bytes());
    side.push(b',');
    write_quoted(side, &bad.row[..bad.row.len().min(SIDE_ROW_BYTES)]);
    side.push(b'\n');
}

/// A field of a comma-separated line, between quotation marks where it needs them.
pub(super) fn write_field(out: &mut Vec<u8>, text: &[u8]) {
    let plain = text
        .iter()
        .all(|b| !matches!(b, b',' | b'"' | b'\r' | b'\n'));
    if plain {
        out.extend_from_slice(text);
    } else {
        write_quoted(out, text);
    }
}

/// A field between quotation marks, with the marks inside doubled.
fn write_quoted(out: &mut Vec<u8>, text: &[u8]) {
    out.push(b'"');
    let mut rest = text;
    while let Some(at) = memchr::memchr(b'"', rest) {
        out.extend_from_slice(&rest[..=at]);
        out.push(b'"');
        rest = &rest[at + 1..];
    }
    out.extend_from_slice(rest);
    out.push(b'"');
}
