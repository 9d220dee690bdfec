//! Check shots and control points as text: rows that were typed in become a document like any other.

use holdline_geom::measured::Measured;

use super::control::ControlPoint;
use super::shots::{AXES, HELD, ShotRow, antenna_column};
use crate::document::table::word_for;
use crate::document::write::dimension_of;
use crate::readings::wants::{Dimension, Quantity, STANDARD};

/// Writes check shots as a table in metres and radians that reads back equal.
///
/// Readings of sensors are written under the sensors' names.
pub fn write_shots(shots: &[ShotRow]) -> String {
    let mut header: Vec<String> = vec!["shot".to_owned(), "tooth".to_owned()];
    for whose in ["surveyed", "shown"] {
        header.extend(AXES.map(|(axis, _)| format!("{whose}_{axis}_m")));
        header.extend(AXES.map(|(axis, _)| format!("{whose}_sd_{axis}_m")));
    }
    let moving = shots.iter().any(|shot| shot.per_second_m.is_some());
    if moving {
        header.extend(AXES.map(|(axis, _)| format!("per_second_{axis}_m")));
    }
    let held = shots.iter().any(|shot| shot.held.is_some());
    if held {
        header.push("held".to_owned());
    }
    let readings = reading_names(shots);
    header.extend(readings.iter().map(|name| reading_column(name)));
    header.extend(["by", "when", "instrument", "note"].map(str::to_owned));
    let rows = shots.iter().map(|shot| {
        let mut row = vec![quoted(&shot.name), quoted_some(&shot.tooth)];
        row.extend(point(&shot.surveyed_m));
        row.extend(point(&shot.shown_m));
        if moving {
            row.extend([0, 1, 2].map(|axis| figure(shot.per_second_m.map(|way| way[axis]))));
        }
        if held {
            let word = shot.held.map(|held| word_for(&HELD, &held).to_owned());
            row.push(quoted_some(&word));
        }
        row.extend(readings.iter().map(|name| {
            let value = shot
                .readings
                .iter()
                .find(|(n, _)| n == name)
                .map(|(_, value)| *value);
            figure(value)
        }));
        row.extend([&shot.by, &shot.when, &shot.instrument, &shot.note].map(quoted_some));
        row
    });
    table(&header, rows)
}

/// Writes control points as a table in metres that reads back equal.
pub fn write_control(points: &[ControlPoint]) -> String {
    let mut header = vec!["name".to_owned()];
    header.extend(AXES.map(|(axis, _)| format!("{axis}_m")));
    header.extend(AXES.map(|(axis, _)| format!("sd_{axis}_m")));
    header.push("note".to_owned());
    let rows = points.iter().map(|at| {
        let mut row = vec![quoted(&at.name)];
        row.extend(point(&at.at_m));
        row.push(quoted_some(&at.note));
        row
    });
    table(&header, rows)
}

/// A table with a header, a comma between the fields.
pub fn table(header: &[String], rows: impl Iterator<Item = Vec<String>>) -> String {
    let mut text = header.join(",");
    text.push('\n');
    for row in rows {
        text.push_str(&row.join(","));
        text.push('\n');
    }
    text
}

/// The readings that some shot has, in the order of their first appearance.
fn reading_names(shots: &[ShotRow]) -> Vec<String> {
    let mut names: Vec<String> = Vec::new();
    for (name, _) in shots.iter().flat_map(|s| &s.readings) {
        if !names.contains(name) {
            names.push(name.clone());
        }
    }
    names
}

/// The column of a reading, in metres or radians; a position among readings says that it is an antenna's.
pub fn reading_column(name: &str) -> String {
    let position = |q: &Quantity| matches!(q, Quantity::Grid | Quantity::Elevation);
    let of_an_antenna = STANDARD.iter().any(|(n, q)| *n == name && position(q));
    match dimension_of(name) {
        Dimension::Length if of_an_antenna => format!("{}_m", antenna_column(name)),
        Dimension::Length => format!("{name}_m"),
        Dimension::Angle => format!("{name}_rad"),
    }
}

fn point(at_m: &[Option<Measured>; 3]) -> impl Iterator<Item = String> {
    let values = at_m.map(|axis| figure(axis.map(|m| m.value)));
    let sds = at_m.map(|axis| figure(axis.and_then(|m| m.sd)));
    values.into_iter().chain(sds)
}

/// A number that reads back equal; nothing where there is none.
pub fn figure(value: Option<f64>) -> String {
    value.map_or_else(String::new, |v| format!("{v:?}"))
}

fn quoted_some(text: &Option<String>) -> String {
    text.as_deref().map_or_else(String::new, quoted)
}

/// A field in quotation marks, so that separators and a leading `#` in it stay what they are.
pub fn quoted(text: &str) -> String {
    format!("\"{}\"", text.replace('"', "\"\""))
}

#[cfg(test)]
mod tests {
    use super::super::{read_control, read_shots};
    use super::*;
    use holdline::calibrate::diagnose::Held;

    #[test]
    fn what_was_written_reads_back_equal() {
        let shots = include_str!("../../../../demo/S1.shots.csv");
        let mut shots = read_shots("s", shots.as_bytes(), &[]).unwrap();
        shots[0].note = Some("# a \"worn\" tip, 5 mm".to_owned());
        shots[1].shown_m[2] = Some(Measured::without_sd(26.3));
        shots[2].per_second_m = Some([0.1, -0.25, 1.0 / 3.0]);
        shots[3].held = Some(Held::Standing);
        let mut again = read_shots("s", write_shots(&shots).as_bytes(), &[]).unwrap();
        again
            .iter_mut()
            .zip(&shots)
            .for_each(|(a, b)| a.line = b.line);
        assert_eq!(again, shots);

        let control = include_str!("../../../../demo/control.csv");
        let control = read_control("c", control.as_bytes()).unwrap();
        let mut again = read_control("c", write_control(&control).as_bytes()).unwrap();
        again
            .iter_mut()
            .zip(&control)
            .for_each(|(a, b)| a.line = b.line);
        assert_eq!(again, control);
    }
}
