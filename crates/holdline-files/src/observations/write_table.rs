//! Observations as a table that a spreadsheet opens.

use holdline::calibrate::observations::Observations;
use holdline_geom::measured::Measured;

use super::fields::{FORMAT, VERSION};
use super::unbuild;
use crate::document::node::{Node, Value};
use crate::points::write::{figure, quoted, reading_column, table};

/// Columns of words, in the order of the header; the last four stand at its end.
const TEXTS: [&str; 13] = [
    "name",
    "kind",
    "pose",
    "stand",
    "setup",
    "target",
    "to",
    "mark",
    "arc",
    "by",
    "when",
    "instrument",
    "note",
];
const N_FRONT: usize = 9;

/// Columns of figures: key, column, column of its sd.
const FIGURES: [(&str, &str, &str); 6] = [
    ("easting", "easting_m", "sd_easting_m"),
    ("northing", "northing_m", "sd_northing_m"),
    ("elevation", "elevation_m", "sd_elevation_m"),
    ("length", "length_m", "sd_m"),
    ("angle", "angle_rad", "sd_rad"),
    ("turn", "turn_rad", "sd_rad"),
];

/// Columns of bare sds.
const SDS: [(&str, &str); 2] = [("sd", "sd_m"), ("sd_angle", "sd_rad")];

/// Writes observations as a table in metres and radians that reads back equal.
///
/// Columns that no observation uses are left out.
pub fn write_observations_csv(observations: &Observations) -> String {
    let mut text = key_lines(observations);
    let rows: Vec<Vec<(String, String)>> = (observations.rows.iter())
        .map(|o| cells(&unbuild::observation(o)))
        .collect();
    let header = header(&rows);
    let lines = rows.iter().map(|row| {
        let cell = |column: &String| {
            let found = row.iter().find(|(c, _)| c == column);
            found.map_or_else(String::new, |(_, cell)| cell.clone())
        };
        header.iter().map(cell).collect()
    });
    text.push_str(&table(&header, lines));
    text
}

fn key_lines(o: &Observations) -> String {
    let mut text = format!("format,{FORMAT}\nversion,{VERSION}\n");
    let stated = [
        ("machine", Some(&o.machine).filter(|m| !m.is_empty())),
        ("coupler", o.tool.coupler.as_ref()),
        ("tilt", o.tool.tilt.as_ref()),
        ("bucket", Some(&o.tool.bucket).filter(|b| !b.is_empty())),
    ];
    for (key, value) in stated {
        if let Some(value) = value {
            text.push_str(&format!("{key},{}\n", quoted(value)));
        }
    }
    text
}

/// The cells of a row that say something, by their columns.
fn cells(n: &Node) -> Vec<(String, String)> {
    let mut cells: Vec<(String, String)> = Vec::new();
    for key in TEXTS {
        if let Some(text) = n.text(key) {
            cells.push((key.to_owned(), quoted(&text)));
        }
    }
    for (key, column, sd_column) in FIGURES {
        if let Some(Measured { value, sd }) = n.measured(key) {
            cells.push((column.to_owned(), figure(Some(value))));
            if sd.is_some() {
                cells.push((sd_column.to_owned(), figure(sd)));
            }
        }
    }
    for (key, column) in SDS {
        if let Some(Value::Number(sd)) = n.get(key) {
            cells.push((column.to_owned(), figure(Some(*sd))));
        }
    }
    for (name, value) in n.named("readings") {
        cells.push((reading_column(&name), figure(Some(value))));
    }
    cells
}

/// The columns that some row uses: words, figures, readings in the order of their first appearance, and who and when.
fn header(rows: &[Vec<(String, String)>]) -> Vec<String> {
    let used = |column: &str| rows.iter().flatten().any(|(c, _)| c == column);
    let fixed: Vec<&str> = (TEXTS.iter().take(N_FRONT).copied())
        .chain(FIGURES.iter().flat_map(|(_, column, sd)| [*column, *sd]))
        .chain(SDS.iter().map(|(_, column)| *column))
        .collect();
    let mut header: Vec<String> = Vec::new();
    let last = &TEXTS[N_FRONT..];
    for column in fixed {
        if used(column) && !header.iter().any(|h| h == column) {
            header.push(column.to_owned());
        }
    }
    for (column, _) in rows.iter().flatten() {
        if !last.contains(&column.as_str()) && !header.contains(column) {
            header.push(column.clone());
        }
    }
    header.extend(last.iter().filter(|c| used(c)).map(|c| (*c).to_owned()));
    header
}
