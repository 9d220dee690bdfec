//! Files of one point a line: which column is what, in which unit, and every bad cell told.
//!
//! A column is known by its name, never by its place, so that easting and northing cannot change places.
//! The unit stands at the end of the name, as in files of readings: `surveyed_easting_m`.

use holdline_geom::fault::{Fault, Span, number};

use super::cells::{self, Cell};
use crate::document::leaf::LONGEST_LINE;
use crate::readings::wants::{Dimension, Quantity, UNITS, Unit};
use crate::text::{FileFaults, nearest, quoted};

/// Most lines of a file of points.
pub const MOST_ROWS: usize = 50_000;
/// Most columns of it.
pub const MOST_COLUMNS: usize = 200;

/// A column that a file of points may have.
#[derive(Debug, Clone)]
pub struct Column {
    /// Its name without unit, and other full names for the same.
    pub names: Vec<String>,
    /// What stands in it.
    pub holds: Holds,
}

/// What stands in a column.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Holds {
    /// Text.
    Text,
    /// A coordinate or an angle.
    Reading(Quantity),
    /// A figure, plausible within a row in metres or degrees.
    Figure(&'static Span),
    /// A standard uncertainty.
    Sd(Dimension),
}

impl Column {
    /// A column of this name.
    pub fn new(name: &str, holds: Holds) -> Column {
        Column {
            names: vec![name.to_owned()],
            holds,
        }
    }

    /// The same column under one more name.
    #[must_use]
    pub fn or_named(mut self, name: &str) -> Column {
        self.names.push(name.to_owned());
        self
    }

    /// The name for messages, with its usual unit.
    pub fn shown(&self) -> String {
        let name = self.names.first().map_or("", String::as_str);
        match self.dimension() {
            Some(Dimension::Length) => format!("{name}_m"),
            Some(Dimension::Angle) => format!("{name}_deg"),
            None => name.to_owned(),
        }
    }

    fn dimension(&self) -> Option<Dimension> {
        match self.holds {
            Holds::Text => None,
            Holds::Reading(quantity) => Some(quantity.dimension()),
            Holds::Figure(span) if span.unit == "°" => Some(Dimension::Angle),
            Holds::Figure(_) => Some(Dimension::Length),
            Holds::Sd(dimension) => Some(dimension),
        }
    }
}

/// A value of a cell, in metres or radians.
#[derive(Debug, Clone, PartialEq)]
pub enum Got {
    /// Text, not empty.
    Text(String),
    /// A number.
    Number(f64),
}

/// A line that could be read, by the known columns' order; an empty cell is `None`.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Line in the file, from 1.
    pub line: usize,
    /// Byte offset of the line.
    pub offset: usize,
    /// Byte offset of every cell of the file, by the file's columns.
    pub cells: Vec<usize>,
    /// A value a known column.
    pub values: Vec<Option<Got>>,
    /// True where a cell of this line could not be used; the fault is noted.
    pub spoilt: bool,
}

impl Row {
    /// The text of a column, if there.
    pub fn text(&self, column_idx: usize) -> Option<String> {
        match self.values.get(column_idx)? {
            Some(Got::Text(text)) => Some(text.clone()),
            _ => None,
        }
    }

    /// The number of a column, if there.
    pub fn number(&self, column_idx: usize) -> Option<f64> {
        match self.values.get(column_idx)? {
            Some(Got::Number(number)) => Some(*number),
            _ => None,
        }
    }
}

/// A file of points: which known columns it has, and its lines.
#[derive(Debug)]
pub struct Rows {
    /// True where nothing is wrong with the header; otherwise what seems missing may only be misnamed.
    pub header_reads: bool,
    /// True for each known column that the header names.
    pub there: Vec<bool>,
    /// The place of each known column among the file's.
    pub places: Vec<Option<usize>>,
    /// The lines below the header.
    pub rows: Vec<Row>,
}

/// A column of the file that is used.
#[derive(Debug, Clone, Copy)]
struct Used {
    column_idx: usize,
    unit: Option<&'static Unit>,
}

/// The columns that a kind of file may have, and what to say about others.
#[derive(Debug)]
pub struct Known<'a> {
    /// The columns.
    pub columns: &'a [Column],
    /// The columns in a few words.
    pub in_words: &'a str,
    /// Names that leave something to guess, and what to write instead.
    pub traps: &'a [(&'a str, &'a str)],
    /// Lines before the header that were read already.
    pub n_lines_before: usize,
    /// Most lines that can be meant.
    pub most_rows: usize,
}

impl Rows {
    /// Where the cell of a known column stands; where there is no such column, the line.
    pub fn offset_of(&self, row: &Row, column_idx: usize) -> usize {
        let place = self.places.get(column_idx).copied().flatten();
        place
            .and_then(|p| row.cells.get(p).copied())
            .unwrap_or(row.offset)
    }
}

/// Reads a file of points by its header. Faults are noted; `None` if the header cannot be used.
pub fn read_rows(faults: &mut FileFaults<'_>, text: &str, known: &Known<'_>) -> Option<Rows> {
    let columns = known.columns;
    let separator = cells::separator(text);
    let mut lines = cells::lines(text).skip(known.n_lines_before);
    let Some((_, offset, header)) = lines.next() else {
        let fix = "pick the right file, or copy it again: it may have been cut short";
        let want = "a header and at least one line";
        faults.push(
            text.len(),
            Fault::new("F038", "", "nothing but comments", want, fix),
        );
        return None;
    };
    let names = cells::split(faults, offset, header, separator)?;
    let n_before = faults.count();
    let used = read_header(faults, known, &names)?;
    let header_reads = faults.count() == n_before;
    let mut places = vec![None; columns.len()];
    for (place, column) in used.iter().enumerate() {
        if let Some(column) = column {
            places[column.column_idx].get_or_insert(place);
        }
    }
    let mut rows = Vec::new();
    for (line, offset, content) in lines {
        if known.most_rows <= rows.len() {
            let got = format!("more than {} lines", known.most_rows);
            let fix = "pick the right file; a log of readings goes to holdline tooth";
            let want = format!("{} at most", known.most_rows);
            faults.push(
                offset,
                Fault::new("F015", format!("line {line}"), got, want, fix),
            );
            break;
        }
        let Some(cells) = cells::split(faults, offset, content, separator) else {
            continue;
        };
        if cells.len() != used.len() {
            let got = format!("{} fields", cells.len());
            let want = format!("{}, one a column of the header", used.len());
            let fix = "put text with a separator in quotation marks, or complete the line";
            faults.push(
                offset,
                Fault::new("F034", format!("line {line}"), got, want, fix),
            );
            continue;
        }
        rows.push(read_row(faults, columns, &used, line, offset, &cells));
    }
    faults.check_last_line(text);
    if rows.is_empty() && faults.is_empty() {
        let fix = "pick the right file, or copy it again: it may have been cut short";
        let got = "a header and no line below it";
        faults.push(
            text.trim_end().len(),
            Fault::new("F038", "", got, "at least one line", fix),
        );
    }
    Some(Rows {
        header_reads,
        there: places.iter().map(Option::is_some).collect(),
        places,
        rows,
    })
}

fn read_header(
    faults: &mut FileFaults<'_>,
    known: &Known<'_>,
    names: &[Cell],
) -> Option<Vec<Option<Used>>> {
    if MOST_COLUMNS < names.len() {
        let got = format!("{} columns", names.len());
        let want = format!("{MOST_COLUMNS} at most");
        faults.push(
            0,
            Fault::new("F015", "header", got, want, "pick the right file"),
        );
        return None;
    }
    let numbers = names
        .iter()
        .filter(|n| n.text.trim().parse::<f64>().is_ok())
        .count();
    if 0 < numbers {
        let offset = names.first().map_or(0, |n| n.offset);
        let got = "a first line with numbers in it";
        let want = "a first line that names every column with its unit";
        let fix = "put a line of names on top; holdline does not guess which column is easting and which is northing";
        faults.push(offset, Fault::new("F030", "header", got, want, fix));
        return None;
    }
    let mut used: Vec<Option<Used>> = Vec::with_capacity(names.len());
    for name in names {
        let found = column_of(known, name);
        let found = match found {
            Ok(found) => found,
            Err(fault) => {
                faults.push(name.offset, fault);
                used.push(None);
                continue;
            }
        };
        if used
            .iter()
            .flatten()
            .any(|u| u.column_idx == found.column_idx)
        {
            let at = format!("column {}", quoted(&name.text).trim_matches('"'));
            let got = format!(
                "a second column {}",
                known.columns[found.column_idx].shown()
            );
            let fix = "keep one and take the other out; holdline does not choose";
            faults.push(
                name.offset,
                Fault::new("F033", at, got, "one column each", fix),
            );
        }
        used.push(Some(found));
    }
    Some(used)
}

/// Which known column a name of the header means.
fn column_of(known: &Known<'_>, cell: &Cell) -> Result<Used, Fault> {
    let name = plain(&cell.text);
    let at = format!("column {}", quoted(&cell.text).trim_matches('"'));
    if let Some((_, fix)) = known.traps.iter().find(|(trap, _)| *trap == name) {
        let want = "a name that says whose it is";
        return Err(Fault::new("F031", at, quoted(&cell.text), want, *fix));
    }
    for (column_idx, column) in known.columns.iter().enumerate() {
        for stem in column.names.iter().map(|n| plain(n)) {
            let Some(dimension) = column.dimension() else {
                if name == stem {
                    return Ok(Used {
                        column_idx,
                        unit: None,
                    });
                }
                continue;
            };
            let of = |u: &&Unit| u.dimension == dimension;
            if name == stem {
                let want = format!("{stem}_ and a unit, one of {}", units_of(dimension));
                let fix = "add the unit to the column's name; holdline does not guess it";
                return Err(Fault::new(
                    "F032",
                    at,
                    format!("{} without a unit", quoted(&cell.text)),
                    want,
                    fix,
                ));
            }
            let Some(suffix) = name.strip_prefix(&stem).and_then(|s| s.strip_prefix('_')) else {
                continue;
            };
            if let Some(unit) = UNITS.iter().find(|u| of(u) && u.suffix == suffix) {
                return Ok(Used {
                    column_idx,
                    unit: Some(unit),
                });
            }
        }
    }
    if let Some(fault) = odd_unit(known, &name, &at) {
        return Err(fault);
    }
    let shown: Vec<String> = known.columns.iter().map(Column::shown).collect();
    let fix = match nearest(&name, shown.iter().map(String::as_str)) {
        Some(near) => format!("\"{near}\" is the nearest known column; correct it, or take it out"),
        None => "take the column out, or give it one of these names".to_owned(),
    };
    let got = format!("the column {}", quoted(&cell.text));
    Err(Fault::new("F031", at, got, known.in_words, fix))
}

fn units_of(dimension: Dimension) -> String {
    let units = UNITS.iter().filter(|u| u.dimension == dimension);
    units.map(|u| u.suffix).collect::<Vec<_>>().join(", ")
}

/// Endings that are meant as units and are none here.
const ODD_UNITS: &[&str] = &[
    "feet", "foot", "inch", "inches", "in", "cm", "km", "metre", "metres", "meter", "meters",
    "degree", "degrees", "radian", "radians", "grad", "mrad", "percent", "pct", "%", "°",
];

/// A known column whose name ends in a unit that is not known: the most likely meaning, and the one to ask about.
fn odd_unit(known: &Known<'_>, name: &str, at: &str) -> Option<Fault> {
    let (stem, ending) = name.rsplit_once('_')?;
    let column = known.columns.iter().find(|c| {
        c.dimension().is_some() && c.names.iter().any(|known_name| plain(known_name) == stem)
    })?;
    let other = UNITS.iter().any(|u| u.suffix == ending);
    if !other && !ODD_UNITS.contains(&ending) {
        return None;
    }
    let fix = match ending {
        "feet" | "foot" => {
            "write ft for international feet, usft for US survey feet; holdline does not guess which"
        }
        _ => "write the figures in one of these units, and the unit at the end of the name",
    };
    let units = units_of(column.dimension()?);
    let got = format!("{} as unit", quoted(ending));
    let want = format!("{stem}_ and a unit, one of {units}");
    Some(Fault::new("F032", at, got, want, fix))
}

fn read_row(
    faults: &mut FileFaults<'_>,
    columns: &[Column],
    used: &[Option<Used>],
    line: usize,
    offset: usize,
    cells: &[Cell],
) -> Row {
    let mut row = Row {
        line,
        offset,
        cells: cells.iter().map(|cell| cell.offset).collect(),
        values: vec![None; columns.len()],
        spoilt: false,
    };
    for (cell, used) in cells.iter().zip(used) {
        let (Some(used), text) = (used, cell.text.trim()) else {
            continue;
        };
        if text.is_empty() {
            continue;
        }
        let column = &columns[used.column_idx];
        match value_of(column, used.unit, line, text) {
            Ok(got) => row.values[used.column_idx] = Some(got),
            Err(fault) => {
                row.spoilt = true;
                faults.push(cell.offset, fault);
            }
        }
    }
    row
}

fn value_of(
    column: &Column,
    unit: Option<&'static Unit>,
    line: usize,
    text: &str,
) -> Result<Got, Fault> {
    let at = format!(
        "line {line}, {}",
        column.names.first().map_or("", String::as_str)
    );
    let Some(unit) = unit else {
        let n_chars = text.chars().count();
        if n_chars <= LONGEST_LINE {
            return Ok(Got::Text(text.to_owned()));
        }
        let want = format!("{LONGEST_LINE} characters at most");
        return Err(Fault::new(
            "F020",
            at,
            format!("{n_chars} characters"),
            want,
            "shorten it",
        ));
    };
    let want = format!("a number in {}", unit.suffix);
    let Ok(figure) = text.parse::<f64>() else {
        let comma = text.contains(',') && text.replace(',', ".").parse::<f64>().is_ok();
        let fix = if comma {
            "write numbers with a decimal point, not a comma"
        } else {
            "correct the cell, or leave it empty if nobody knows the value"
        };
        return Err(Fault::new("F035", at, quoted(text), want, fix));
    };
    if !figure.is_finite() {
        let fix = "leave the cell empty if nobody knows the value";
        return Err(Fault::new("F036", at, number(figure), want, fix));
    }
    let (min, max, fix) = match column.holds {
        Holds::Reading(quantity) => {
            let (min, max) = unit.span(quantity.plausible());
            (min, max, quantity.plausible().fix)
        }
        Holds::Figure(span) => {
            let (min, max) = unit.span(span);
            (min, max, span.fix)
        }
        Holds::Sd(_) if figure <= 0.0 => {
            let want = format!("a standard uncertainty above 0 {}", unit.suffix);
            let fix = "state the spread of repeated measurements";
            return Err(Fault::new("F012", at, number(figure), want, fix));
        }
        Holds::Sd(Dimension::Length) | Holds::Text => (
            0.0,
            unit.by / unit.times,
            "millimetres in a column of metres look like this",
        ),
        Holds::Sd(Dimension::Angle) => (
            0.0,
            unit.by / unit.times,
            "degrees in a column of radians look like this",
        ),
    };
    if min <= figure && figure <= max {
        return Ok(Got::Number(unit.to_si(figure)));
    }
    let got = format!("{} {}", number(figure), unit.suffix);
    let want = format!(
        "{} {} to {} {}",
        number(min),
        unit.suffix,
        number(max),
        unit.suffix
    );
    Err(Fault::new("F037", at, got, want, fix))
}

/// True where a name of the header means this column, whatever its unit.
pub fn means(header: &str, column: &str) -> bool {
    let (header, column) = (plain(header), plain(column));
    let rest = header.strip_prefix(&column);
    rest.is_some_and(|rest| {
        let unit = rest.strip_prefix('_');
        rest.is_empty() || unit.is_some_and(|u| UNITS.iter().any(|known| known.suffix == u))
    })
}

/// A name as it is compared: lower case, one underscore for what stands between words. Any other character stays,
/// so that a damaged name is told and does not turn into another column's.
pub fn plain(name: &str) -> String {
    let between = |c: char| matches!(c, ' ' | '_' | '-' | '(' | ')');
    let spaced: String = name
        .chars()
        .map(|c| if between(c) { ' ' } else { c })
        .flat_map(char::to_lowercase)
        .collect();
    spaced
        .split(' ')
        .filter(|w| !w.is_empty())
        .collect::<Vec<_>>()
        .join("_")
}
