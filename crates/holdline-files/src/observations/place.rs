//! Line and column for what the core finds in observations, whichever way they were written down.

use holdline_geom::fault::{Fault, Faults};

use super::fields::DOCUMENT;
use super::key_lines::{KEYS, key_and_value};
use crate::document::is_toml;
use crate::document::locate::place_faults;
use crate::document::path::{entry_idx, steps};
use crate::points::cells::{self, Cell};
use crate::points::columns::{means, plain};
use crate::points::shots::antenna_column;
use crate::readings::wants::{Dimension, UNITS};
use crate::text::{FileFaults, Lines};

/// Faults of the core with their places in the file, in its order.
///
/// Their paths begin with `observation[NAME]`, such as `observation[P1].easting` or
/// `observation[P1].readings.boom`; with `tool`, such as `tool.bucket`; or with `machine`.
/// A path that leads nowhere points at the nearest thing on the way.
#[must_use]
pub fn place_observation_faults(file: &str, bytes: &[u8], faults: Faults) -> Faults {
    let Ok(text) = std::str::from_utf8(bytes) else {
        return faults;
    };
    if is_toml(file, text) {
        return place_faults(&DOCUMENT, file, text, faults);
    }
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let table = Table::of(text);
    let lines = Lines::of(text);
    let placed = |mut fault: Fault| {
        let offset = table.offset_of(&fault.at);
        fault.place.get_or_insert_with(|| lines.place(file, offset));
        fault
    };
    let mut placed: Vec<Fault> = faults.0.into_iter().map(placed).collect();
    placed.sort_by_key(|f| f.place.as_ref().map(|p| (p.line, p.column)));
    Faults(placed)
}

/// Where things stand in a table.
struct Table {
    keys: [usize; KEYS.len()],
    header: Vec<Cell>,
    header_at: usize,
    names: Vec<Option<String>>,
    rows: Vec<(usize, Vec<Cell>)>,
}

impl Table {
    fn of(text: &str) -> Table {
        let separator = cells::separator(text);
        let lines = Lines::of("");
        let mut unused = FileFaults::none("", &lines);
        let mut split =
            |offset, line| cells::split(&mut unused, offset, line, separator).unwrap_or_default();
        let mut table = Table {
            keys: [0; KEYS.len()],
            header: Vec::new(),
            header_at: 0,
            names: Vec::new(),
            rows: Vec::new(),
        };
        let mut lines = cells::lines(text);
        for (_, offset, line) in lines.by_ref() {
            match key_and_value(line, offset, separator) {
                Some((idx, value)) => table.keys[idx] = value.map_or(offset, |v| v.offset),
                None => {
                    (table.header, table.header_at) = (split(offset, line), offset);
                    break;
                }
            }
        }
        let is_name = |c: &Cell| means(&c.text, "name") || means(&c.text, "observation");
        let name_at = table.header.iter().position(is_name);
        for (_, offset, line) in lines {
            let cells = split(offset, line);
            let name = name_at.and_then(|at| cells.get(at));
            table
                .names
                .push(name.map(|cell| cell.text.trim().to_owned()));
            table.rows.push((offset, cells));
        }
        table
    }

    fn offset_of(&self, path: &str) -> usize {
        let steps = steps(path);
        let step = |idx: usize| steps.get(idx).map(|s| s.key.as_str());
        let key = match (step(0), step(1)) {
            (Some("tool"), Some(key)) => key,
            (Some(key), _) => key,
            (None, _) => "",
        };
        if let Some(idx) = KEYS.iter().position(|k| *k == key) {
            return self.keys[idx];
        }
        let entry = steps.first().and_then(|s| s.entry.as_deref());
        let Some(idx) = entry.and_then(|entry| entry_idx(entry, &self.names)) else {
            return self.header_at;
        };
        let Some((row_at, cells)) = self.rows.get(idx) else {
            return self.header_at;
        };
        let column = match (step(1), step(2)) {
            (Some("readings"), Some(name)) => self.column(name, true),
            (Some(key), _) => self.column(key, false),
            (None, _) => None,
        };
        let cell = column.and_then(|c| cells.get(c));
        cell.map_or(*row_at, |cell| cell.offset)
    }

    fn column(&self, key: &str, reading: bool) -> Option<usize> {
        let find = |name: &str| self.header.iter().position(|c| means(&c.text, name));
        let find_sd = |dimension: Dimension| {
            let mut header = self.header.iter().map(|c| plain(&c.text));
            header.position(|name| {
                let unit = name.strip_prefix("sd_");
                UNITS
                    .iter()
                    .any(|u| u.dimension == dimension && unit == Some(u.suffix))
            })
        };
        match key {
            _ if reading => find(&antenna_column(key)).or_else(|| find(key)),
            "sd" => find_sd(Dimension::Length),
            "sd_angle" => find_sd(Dimension::Angle).or_else(|| find(key)),
            "target" => find(key).or_else(|| find("from")),
            _ => find(key),
        }
    }
}
