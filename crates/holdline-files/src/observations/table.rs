//! Observations in a table: key lines, a header that names the columns, one row an observation.

use std::collections::BTreeMap;

use holdline::calibrate::observations::{Observation, Observations, ObservedTool};
use holdline_geom::fault::{Fault, Faults};
use holdline_geom::measured::Measured;

use super::build;
use super::fields::{ANGLE, CASES, ELEVATION, GRID, LENGTH, MOST_OBSERVATIONS, OBSERVATION, TURN};
use super::key_lines::{KeyLines, key_and_value, read_key_lines};
use crate::document::leaf::text_value;
use crate::document::node::{Node, Value};
use crate::document::table::Field;
use crate::document::walk::{Reading, entry_path, join, missing_and_surplus};
use crate::points::cells;
use crate::points::columns::{Column, Holds, Known, Row, Rows, plain, read_rows};
use crate::points::shots::antenna_column;
use crate::readings::wants::{Dimension, Quantity, STANDARD};
use crate::text::{FileFaults, Lines, quoted};

/// Columns of words: their key, and other names for the same.
const TEXTS: [(&str, &[&str]); 13] = [
    ("name", &["observation"]),
    ("kind", &[]),
    ("pose", &[]),
    ("stand", &[]),
    ("setup", &["set-up"]),
    ("target", &["from"]),
    ("to", &[]),
    ("mark", &[]),
    ("arc", &[]),
    ("by", &["who", "surveyor"]),
    ("when", &["time", "date"]),
    ("instrument", &[]),
    ("note", &[]),
];
/// The axes, in the order of the coordinates.
const AXES: [&str; 3] = ["easting", "northing", "elevation"];

const AT: usize = TEXTS.len();
const SD: usize = AT + 3;
const SD_PLAN: usize = SD + 3;
const SD_ALL: usize = SD_PLAN + 1;
const SD_ANGLE: usize = SD_ALL + 1;
const LENGTH_AT: usize = SD_ANGLE + 1;
const ANGLE_AT: usize = LENGTH_AT + 1;
const TURN_AT: usize = ANGLE_AT + 1;
const READINGS: usize = TURN_AT + 1;

const IN_WORDS: &str = "name, kind, pose, stand, setup, target, to, mark, arc, by, when, instrument, note; easting_m, \
    northing_m, elevation_m, sd_easting_m, sd_northing_m, sd_elevation_m, sd_plan_m, sd_m, sd_deg; length_m, angle_deg, \
    turn_deg; readings such as boom_deg, or GL_easting_m of the antenna GL";

const TRAPS: &[(&str, &str)] = &[
    ("sd", "write sd_m or sd_mm for lengths, sd_deg for angles"),
    ("surveyed_easting_m", SHOTS),
    ("surveyed_northing_m", SHOTS),
    ("surveyed_elevation_m", SHOTS),
    ("machine", TOOL),
    ("coupler", TOOL),
    ("tilt", TOOL),
    ("bucket", TOOL),
];
const SHOTS: &str = "write easting_m, northing_m, elevation_m here; surveyed_… belongs to check shots, which are not calibrated from";
const TOOL: &str = "write it once, on a line of its own above this one: the key in the first cell, its value in the second";

/// True for a text whose header names what was measured, and of which point or pose.
pub fn is_one(text: &str) -> bool {
    let separator = cells::separator(text);
    let header = cells::lines(text)
        .find(|(_, offset, line)| key_and_value(line, *offset, separator).is_none());
    let names: Vec<String> = header
        .map_or("", |(_, _, line)| line)
        .trim_start_matches('\u{feff}')
        .split(separator)
        .map(|name| plain(name.trim_matches(['"', ' '])))
        .collect();
    let has = |name: &str| names.iter().any(|n| n == name);
    has("kind") && ["target", "from", "pose", "stand"].iter().any(|n| has(n))
}

/// Reads observations from a table.
pub fn read(file: &str, text: &str, readings: &[Reading]) -> Result<Observations, Faults> {
    let lines = Lines::of(text);
    let mut faults = FileFaults::none(file, &lines);
    let Some(keys) = read_key_lines(&mut faults, text) else {
        return Err(faults.into_faults());
    };
    let columns = columns(readings);
    let known = Known {
        columns: &columns,
        in_words: IN_WORDS,
        traps: TRAPS,
        n_lines_before: keys.n_lines,
        most_rows: MOST_OBSERVATIONS,
    };
    let Some(rows) = read_rows(&mut faults, text, &known) else {
        return Err(faults.into_faults());
    };
    if rows.header_reads {
        check_columns(&mut faults, &rows);
    }
    let mut read = Reader {
        faults: &mut faults,
        rows: &rows,
        readings,
        seen: BTreeMap::new(),
    };
    let found: Vec<Option<Observation>> = rows
        .rows
        .iter()
        .enumerate()
        .map(|(idx, row)| read.observation(idx, row))
        .collect();
    if !faults.is_empty() {
        return Err(faults.into_faults());
    }
    Ok(Observations {
        machine: keys.get("machine").unwrap_or_default(),
        tool: tool(&keys),
        rows: found.into_iter().flatten().collect(),
    })
}

fn tool(keys: &KeyLines) -> ObservedTool {
    ObservedTool {
        coupler: keys.get("coupler"),
        tilt: keys.get("tilt"),
        bucket: keys.get("bucket").unwrap_or_default(),
    }
}

/// The columns that a table of observations may have.
fn columns(readings: &[Reading]) -> Vec<Column> {
    let mut columns: Vec<Column> = TEXTS
        .iter()
        .map(|(name, others)| {
            let column = Column::new(name, Holds::Text);
            others.iter().fold(column, |c, other| c.or_named(other))
        })
        .collect();
    for axis in AXES {
        let span = if axis == "elevation" {
            &ELEVATION
        } else {
            &GRID
        };
        columns.push(Column::new(axis, Holds::Figure(span)));
    }
    let sd_of_length = Holds::Sd(Dimension::Length);
    columns.extend(AXES.map(|axis| Column::new(&format!("sd_{axis}"), sd_of_length)));
    columns.push(Column::new("sd_plan", sd_of_length));
    columns.push(Column::new("sd", sd_of_length));
    columns.push(Column::new("sd", Holds::Sd(Dimension::Angle)).or_named("sd_angle"));
    columns.push(Column::new("length", Holds::Figure(&LENGTH)));
    columns.push(Column::new("angle", Holds::Figure(&ANGLE)));
    columns.push(Column::new("turn", Holds::Figure(&TURN)));
    columns.extend(readings.iter().map(|reading| {
        let name = reading_name(reading);
        Column::new(&name, Holds::Reading(reading.quantity))
    }));
    columns
}

/// A position among readings is an antenna's; here it must say so.
fn reading_name(reading: &Reading) -> String {
    let standard = STANDARD.iter().any(|(name, _)| *name == reading.name);
    match reading.quantity {
        Quantity::Grid | Quantity::Elevation if standard => antenna_column(&reading.name),
        _ => reading.name.clone(),
    }
}

/// The known column where a key's value stands, and with it the place of a fault at that key.
fn column_of(key: &str, readings: &[Reading]) -> Option<usize> {
    let text = TEXTS.iter().position(|(name, _)| *name == key);
    let axis = AXES
        .iter()
        .position(|axis| *axis == key)
        .map(|idx| AT + idx);
    let other = match key {
        "sd" => Some(SD_ALL),
        "sd_angle" => Some(SD_ANGLE),
        "length" => Some(LENGTH_AT),
        "angle" => Some(ANGLE_AT),
        "turn" => Some(TURN_AT),
        _ => None,
    };
    let reading = || {
        let idx = readings.iter().position(|r| r.name == key)?;
        Some(READINGS + idx)
    };
    text.or(axis).or(other).or_else(reading)
}

/// A table needs names and kinds; what else a row needs hangs on its kind.
fn check_columns(faults: &mut FileFaults<'_>, rows: &Rows) {
    for (key, fix) in [
        (
            "name",
            "give every observation a name, so that the report can say which one is off",
        ),
        (
            "kind",
            "say what was measured: shot, level, touch, tape, slope, plumb, house-turn, swing-circle or pin-arc",
        ),
    ] {
        let idx = column_of(key, &[]).unwrap_or(0);
        if !rows.there[idx] {
            let (got, want) = (format!("no column {key}"), format!("a column {key}"));
            faults.push(0, Fault::new("F029", "header", got, want, fix));
        }
    }
}

/// A table on its way to a claim.
struct Reader<'r, 'f, 'l> {
    faults: &'r mut FileFaults<'f>,
    rows: &'r Rows,
    readings: &'l [Reading],
    /// Names so far, with the line of each.
    seen: BTreeMap<String, usize>,
}

impl Reader<'_, '_, '_> {
    /// A row's observation; `None` where it cannot be used, and the faults are noted.
    fn observation(&mut self, idx: usize, row: &Row) -> Option<Observation> {
        let mut found: Vec<Fault> = Vec::new();
        let name = row.text(0).filter(|n| crate::document::leaf::is_name(n));
        let path = entry_path("observation", name.as_deref(), idx);
        let node = node_of(row, &path, self.readings, &mut found);
        let whole = self.rows.header_reads && !row.spoilt && found.is_empty();
        let mut observation = None;
        if whole {
            self.needed(&node, &path, &mut found);
            let word = node.text("kind").unwrap_or_default();
            if let Some(case) = CASES.iter().find(|c| c.word == word) {
                let there = |key: &str| node.get(key).is_some();
                let kind = ("kind", CASES.as_slice());
                found.extend(missing_and_surplus(&OBSERVATION, kind, case, &path, &there));
            }
            if found.is_empty() {
                match build::observation(&node, &path, row.line) {
                    Ok(read) => observation = Some(read),
                    Err(more) => found.extend(more),
                }
            }
            if let Some(name) = name {
                self.once(&path, &name, row, &mut found);
            }
        }
        for fault in found {
            let key = fault.at.strip_prefix(&path).unwrap_or("");
            let key = key.trim_start_matches('.').split('.').next().unwrap_or("");
            let column = column_of(key, self.readings);
            let offset = column.map_or(row.offset, |c| self.rows.offset_of(row, c));
            self.faults.push(offset, fault);
        }
        observation
    }

    fn needed(&self, node: &Node, path: &str, found: &mut Vec<Fault>) {
        for key in ["name", "kind"] {
            // Where the whole column is missing, the header was told so.
            let column = column_of(key, &[]).unwrap_or(0);
            if node.get(key).is_none() && self.rows.there[column] {
                let field = OBSERVATION.field(key);
                let want = format!("{key} ({})", field.map_or("", |f| f.label));
                let fix = "complete the row, or take it out";
                found.push(Fault::new("F028", join(path, key), "nothing", want, fix));
            }
        }
    }

    fn once(&mut self, path: &str, name: &str, row: &Row, found: &mut Vec<Fault>) {
        match self.seen.get(name) {
            Some(first) => {
                let got = format!("{} a second time; line {first} has it", quoted(name));
                let fix = "rename it, or take out the line that was copied";
                found.push(Fault::new(
                    "F019",
                    join(path, "name"),
                    got,
                    "a name of its own",
                    fix,
                ));
            }
            None => {
                self.seen.insert(name.to_owned(), row.line);
            }
        }
    }
}

/// The keys and values that a row states.
fn node_of(row: &Row, path: &str, readings: &[Reading], found: &mut Vec<Fault>) -> Node {
    let mut node = Node::default();
    for (idx, (key, _)) in TEXTS.iter().enumerate() {
        let (Some(text), Some(field)) = (row.text(idx), OBSERVATION.field(key)) else {
            continue;
        };
        match value_of(field, path, &text) {
            Ok(value) => node.set(field.key, value),
            Err(fault) => found.push(fault),
        }
    }
    let word = node.text("kind").unwrap_or_default();
    let (sd_m, sd_rad) = (row.number(SD_ALL), row.number(SD_ANGLE));
    let figure = |at: usize, sd: Option<f64>| {
        let value = row.number(at)?;
        Some(Value::Measured(Measured { value, sd }))
    };
    // What an sd belongs to hangs on the kind; where a kind has no use for it, it stays and is told.
    let (mut sd_taken, mut sd_angle_taken) = (false, false);
    match word.as_str() {
        "shot" | "level" | "swing-circle" | "pin-arc" | "tape" => sd_taken = true,
        "slope" | "house-turn" => sd_angle_taken = true,
        _ => {}
    }
    for (axis_idx, axis) in AXES.into_iter().enumerate() {
        let own = row.number(SD + axis_idx);
        let plan = row.number(SD_PLAN).filter(|_| axis_idx < 2);
        if own.is_some() && row.number(AT + axis_idx).is_none() {
            let got = format!("an sd of {axis} without {axis}");
            let fix = "add the coordinate, or empty the cell of its sd";
            found.push(Fault::new(
                "F028",
                join(path, axis),
                got,
                "both or neither",
                fix,
            ));
        }
        node.set_some(axis, figure(AT + axis_idx, own.or(plan).or(sd_m)));
    }
    let length_sd = sd_m.filter(|_| sd_taken);
    node.set_some("length", figure(LENGTH_AT, length_sd));
    node.set_some("angle", figure(ANGLE_AT, sd_rad));
    node.set_some("turn", figure(TURN_AT, sd_rad));
    node.set_some("sd", sd_m.filter(|_| !sd_taken).map(Value::Number));
    let sd_angle = sd_rad.filter(|_| !sd_angle_taken);
    node.set_some("sd_angle", sd_angle.map(Value::Number));
    let named: Vec<(String, f64)> = readings
        .iter()
        .enumerate()
        .filter_map(|(idx, r)| Some((r.name.clone(), row.number(READINGS + idx)?)))
        .collect();
    node.set_some(
        "readings",
        (!named.is_empty()).then_some(Value::Named(named)),
    );
    node
}

fn value_of(field: &'static Field, path: &str, text: &str) -> Result<Value, Fault> {
    text_value(field, &join(path, field.key), text)
}
