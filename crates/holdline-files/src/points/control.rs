//! Control points: name, northing, easting, elevation and their uncertainty, one a line.

use holdline_geom::fault::{Fault, Faults};
use holdline_geom::measured::Measured;

use super::columns::{Column, Holds, Known, MOST_ROWS, Row, read_rows};
use super::shots::AXES;
use crate::readings::wants::Dimension;
use crate::text::{FileFaults, Lines, quoted, text_of};

/// A control point. Coordinates are easting, northing, elevation, in metres, whatever the file's order.
#[derive(Debug, Clone, PartialEq)]
pub struct ControlPoint {
    /// Line in the file, from 1.
    pub line: usize,
    /// Its name.
    pub name: String,
    /// Easting, northing, elevation; a point for height alone has no plan, one for plan alone no height.
    pub at_m: [Option<Measured>; 3],
    /// Free words.
    pub note: Option<String>,
}

const IN_WORDS: &str = "name, northing_m, easting_m, elevation_m in any order; sd_easting_m, sd_northing_m, \
    sd_elevation_m, sd_plan_m, sd_m; note";

const NAME: usize = 0;
const NOTE: usize = 1;
const AT: usize = 2;
const SD: usize = 5;
const SD_PLAN: usize = 8;
const SD_ALL: usize = 9;

/// Reads control points from a table with a header.
///
/// The header names the columns, so northing and easting may stand in either order and cannot be mixed up.
/// Standard uncertainties: `sd_easting_m`, `sd_northing_m`, `sd_elevation_m`;
/// `sd_plan_m` for both in plan; `sd_m` for all three.
///
/// # Errors
///
/// All faults at once, F001 to F039, with line and column.
pub fn read_control(file: &str, bytes: &[u8]) -> Result<Vec<ControlPoint>, Faults> {
    let text = text_of(file, bytes)?;
    let lines = Lines::of(text);
    let mut faults = FileFaults::none(file, &lines);
    let columns = columns();
    let known = Known {
        columns: &columns,
        in_words: IN_WORDS,
        traps: &[],
        n_lines_before: 0,
        most_rows: MOST_ROWS,
    };
    let Some(rows) = read_rows(&mut faults, text, &known) else {
        return Err(faults.into_faults());
    };
    if rows.header_reads {
        let missing = [
            (rows.there[NAME], "no column name"),
            (rows.there[AT..AT + 3].contains(&true), "no coordinates"),
        ];
        for (_, got) in missing.into_iter().filter(|(there, _)| !there) {
            let fix = "name the columns so in the first line";
            faults.push(0, Fault::new("F029", "header", got, IN_WORDS, fix));
        }
    }
    let mut points: Vec<ControlPoint> = Vec::with_capacity(rows.rows.len());
    for row in &rows.rows {
        let point = point_of(row);
        if rows.header_reads && !row.spoilt {
            check_point(&mut faults, row, &point, &points);
        }
        points.push(point);
    }
    if faults.is_empty() {
        Ok(points)
    } else {
        Err(faults.into_faults())
    }
}

fn columns() -> Vec<Column> {
    let mut columns = vec![
        Column::new("name", Holds::Text)
            .or_named("point")
            .or_named("mark"),
        Column::new("note", Holds::Text).or_named("description"),
    ];
    columns.extend(AXES.map(|(axis, quantity)| Column::new(axis, Holds::Reading(quantity))));
    columns.extend(
        AXES.map(|(axis, _)| Column::new(&format!("sd_{axis}"), Holds::Sd(Dimension::Length))),
    );
    columns.push(Column::new("sd_plan", Holds::Sd(Dimension::Length)));
    columns.push(Column::new("sd", Holds::Sd(Dimension::Length)));
    columns
}

fn point_of(row: &Row) -> ControlPoint {
    let sd = |axis: usize| {
        let plan = if axis < 2 { row.number(SD_PLAN) } else { None };
        row.number(SD + axis).or(plan).or(row.number(SD_ALL))
    };
    ControlPoint {
        line: row.line,
        name: row.text(NAME).unwrap_or_default(),
        at_m: [0, 1, 2].map(|axis| {
            let value = row.number(AT + axis)?;
            Some(Measured {
                value,
                sd: sd(axis),
            })
        }),
        note: row.text(NOTE),
    }
}

fn check_point(
    faults: &mut FileFaults<'_>,
    row: &Row,
    point: &ControlPoint,
    before: &[ControlPoint],
) {
    let mut push = |code, got: String, want: &str, fix: &str| {
        faults.push(
            row.offset,
            Fault::new(code, format!("line {}", row.line), got, want, fix),
        );
    };
    if point.name.is_empty() {
        push(
            "F028",
            "no name".to_owned(),
            "a name",
            "name it as the mark on site is named",
        );
    } else if let Some(first) = before.iter().find(|p| p.name == point.name) {
        let got = format!(
            "{} a second time; line {} has it",
            quoted(&point.name),
            first.line
        );
        let fix = "keep the one that is valid; two places for one mark cannot both be";
        push("F019", got, "a name of its own", fix);
    }
    if point.at_m[0].is_some() != point.at_m[1].is_some() {
        let fix = "add the other, or leave both out for a point that is for height alone";
        push(
            "F028",
            "one of easting and northing".to_owned(),
            "both or neither",
            fix,
        );
    } else if point.at_m.iter().all(Option::is_none) {
        push(
            "F028",
            "no coordinate".to_owned(),
            "at least one",
            "complete the line, or take it out",
        );
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const DEMO: &str = include_str!("../../../../demo/control.csv");

    #[test]
    fn the_demo_reads() {
        let points = read_control("c", DEMO.as_bytes()).unwrap_or_else(|f| panic!("{f}"));
        assert_eq!(points.len(), 6);
        assert_eq!(points[2].name, "C3");
        let at = points[2].at_m.map(|m| m.unwrap().value);
        assert_eq!(at, [5151.930, 2104.660, 24.571]);
    }

    #[test]
    fn the_order_is_by_name() {
        let ne = "name,northing_m,easting_m,elevation_m,sd_plan_mm,sd_elevation_mm\nA,2000,5000,24,3,2\n";
        let en = "elevation_m;easting_m;sd_m;northing_m;point\n24;5000;0.003;2000;A\n";
        let at = |text: &str| {
            read_control("c", text.as_bytes()).unwrap_or_else(|f| panic!("{f}"))[0].at_m
        };
        assert_eq!(at(ne)[0], Some(Measured::with_sd(5000.0, 0.003)));
        assert_eq!(at(ne)[2], Some(Measured::with_sd(24.0, 0.002)));
        assert_eq!(at(en)[1], Some(Measured::with_sd(2000.0, 0.003)));
    }

    #[test]
    fn what_is_amiss_is_told() {
        let refused = |text: &str| {
            read_control("c.csv", text.as_bytes())
                .unwrap_err()
                .to_string()
        };
        assert_eq!(
            refused("C1,5000.000,2000.000,24.118\n"),
            "fault F030 at c.csv:1:1 (header)\n  got   a first line with numbers in it\n  want  a first line that names every column with its unit\n  fix   put a line of names on top; holdline does not guess which column is easting and which is northing"
        );
        assert_eq!(
            refused("name,northng_m,easting,elevation_m\nA,1,2,3\n"),
            format!("fault F031 at c.csv:1:6 (column northng_m)\n  got   the column \"northng_m\"\n  want  {IN_WORDS}\n  fix   \"northing_m\" is the nearest known column; correct it, or take it out
fault F032 at c.csv:1:16 (column easting)\n  got   \"easting\" without a unit\n  want  easting_ and a unit, one of m, mm, ft, usft\n  fix   add the unit to the column's name; holdline does not guess it")
        );
        assert_eq!(
            refused("name,northing_m,easting_m\nA,1,2\nA,1,\n"),
            "fault F019 at c.csv:3:1 (line 3)\n  got   \"A\" a second time; line 2 has it\n  want  a name of its own\n  fix   keep the one that is valid; two places for one mark cannot both be
fault F028 at c.csv:3:1 (line 3)\n  got   one of easting and northing\n  want  both or neither\n  fix   add the other, or leave both out for a point that is for height alone"
        );
    }
}
