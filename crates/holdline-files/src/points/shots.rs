//! Check shots: one a line, the tooth as surveyed beside the tooth as shown or the readings it follows from.

use holdline::calibrate::diagnose::Held;
use holdline_geom::fault::{Fault, Faults, Span};
use holdline_geom::measured::Measured;

use super::columns::{Column, Holds, Known, MOST_ROWS, Row, Rows, read_rows};
use super::shots_toml;
use crate::document::is_toml;
use crate::document::table::Word;
use crate::observations::ReadingNames;
use crate::readings::wants::{Dimension, Quantity, STANDARD};
use crate::text::{FileFaults, Lines, quoted, text_of};

/// A check shot as a file states it. Coordinates are easting, northing, elevation, in metres.
#[derive(Debug, Clone, PartialEq)]
pub struct ShotRow {
    /// Line in the file, from 1.
    pub line: usize,
    /// Its name.
    pub name: String,
    /// Tooth point, if stated.
    pub tooth: Option<String>,
    /// The tooth as surveyed.
    pub surveyed_m: [Option<Measured>; 3],
    /// The tooth as the display shows it, if stated.
    pub shown_m: [Option<Measured>; 3],
    /// Readings of the pose by name without unit, in metres and radians.
    pub readings: Vec<(String, f64)>,
    /// How far the tooth moved in a second when it was read, east, north, up, m; none for a tooth at rest.
    pub per_second_m: Option<[f64; 3]>,
    /// Which way the play in the pins was taken up, if stated.
    pub held: Option<Held>,
    /// Who shot it.
    pub by: Option<String>,
    /// When, as written.
    pub when: Option<String>,
    /// With what.
    pub instrument: Option<String>,
    /// Free words.
    pub note: Option<String>,
}

/// Words for the way in which the bucket was held.
pub static HELD: [Word<Held>; 2] = [
    Word {
        word: "hanging",
        label: "hung free",
        means: Held::Hanging,
    },
    Word {
        word: "standing",
        label: "stood on the ground and carried weight",
        means: Held::Standing,
    },
];

/// How fast a tooth is that somebody surveys.
pub const PER_SECOND: Span = Span {
    code: "F037",
    what: "how far the tooth moves in a second",
    unit: "m",
    min: -10.0,
    max: 10.0,
    fix: "look at the unit: millimetres read as metres look like this",
};

/// Words that name the columns of the axes, in the order of the coordinates.
pub const AXES: [(&str, Quantity); 3] = [
    ("easting", Quantity::Grid),
    ("northing", Quantity::Grid),
    ("elevation", Quantity::Elevation),
];

const IN_WORDS: &str = "shot, tooth, by, when, instrument, note; surveyed_ or shown_ with easting_m, northing_m, \
    elevation_m, sd_easting_m, sd_northing_m, sd_elevation_m; readings such as boom_deg; held; per_second_ with \
    easting_m, northing_m, elevation_m";

/// Bare coordinates do not say whose they are.
const TRAPS: &[(&str, &str)] = &[
    ("easting_m", WHOSE),
    ("northing_m", WHOSE),
    ("elevation_m", WHOSE),
];
const WHOSE: &str = "write surveyed_… for what the surveyor shot, shown_… for what the display said, antenna_… for an antenna";

/// Where the columns of a shot stand in the list that [`columns`] makes.
#[derive(Debug)]
struct Places {
    text: [usize; 6],
    surveyed: usize,
    surveyed_sd: usize,
    shown: usize,
    shown_sd: usize,
    per_second: usize,
    held: usize,
    readings: usize,
}

/// Reads check shots from a table with a header (comma, semicolon or tab between the fields), or from TOML.
///
/// `sensors` are names of angle sensors that may stand as columns beside the standard ones, such as `S-boom_deg`.
/// A cell that is empty says that nobody states it.
///
/// # Errors
///
/// All faults at once, F001 to F039, with line and column. No row is dropped: one bad cell refuses the file.
pub fn read_shots(file: &str, bytes: &[u8], sensors: &[String]) -> Result<Vec<ShotRow>, Faults> {
    let text = text_of(file, bytes)?;
    if is_toml(file, text) {
        let names = ReadingNames {
            sensors,
            antennas: &[],
        };
        return shots_toml::read(file, text, &names.readings());
    }
    let lines = Lines::of(text);
    let mut faults = FileFaults::none(file, &lines);
    let (columns, readings) = columns(sensors);
    let known = Known {
        columns: &columns,
        in_words: IN_WORDS,
        traps: TRAPS,
        n_lines_before: 0,
        most_rows: MOST_ROWS,
    };
    let Some(rows) = read_rows(&mut faults, text, &known) else {
        return Err(faults.into_faults());
    };
    let places = Places {
        text: [0, 1, 2, 3, 4, 5],
        surveyed: 6,
        surveyed_sd: 9,
        shown: 12,
        shown_sd: 15,
        per_second: 18,
        held: 21,
        readings: 22,
    };
    if rows.header_reads {
        check_columns(&mut faults, &rows, &places);
    }
    let mut shots: Vec<ShotRow> = Vec::with_capacity(rows.rows.len());
    for row in &rows.rows {
        let shot = shot_of(row, &places, &readings);
        if rows.header_reads && !row.spoilt {
            check_shot(&mut faults, row, &shot, &shots, &places);
        }
        shots.push(shot);
    }
    if faults.is_empty() {
        Ok(shots)
    } else {
        Err(faults.into_faults())
    }
}

/// The columns that a file of shots may have, and the names of its readings.
fn columns(sensors: &[String]) -> (Vec<Column>, Vec<String>) {
    let text = |name: &str| Column::new(name, Holds::Text);
    let mut columns = vec![
        text("shot").or_named("name").or_named("point"),
        text("tooth").or_named("tooth_point"),
        text("by").or_named("who").or_named("surveyor"),
        text("when").or_named("time").or_named("date"),
        text("instrument"),
        text("note"),
    ];
    for (whose, holds_sd) in [
        ("surveyed", false),
        ("surveyed", true),
        ("shown", false),
        ("shown", true),
    ] {
        for (axis, quantity) in AXES {
            columns.push(match holds_sd {
                false => Column::new(&format!("{whose}_{axis}"), Holds::Reading(quantity)),
                true => Column::new(&format!("{whose}_sd_{axis}"), Holds::Sd(Dimension::Length)),
            });
        }
    }
    for (axis, _) in AXES {
        let name = format!("per_second_{axis}");
        columns.push(Column::new(&name, Holds::Figure(&PER_SECOND)));
    }
    columns.push(text("held"));
    let mut readings = Vec::new();
    for (name, quantity) in STANDARD {
        let column = match quantity {
            Quantity::Grid | Quantity::Elevation => antenna_column(name),
            Quantity::Attitude | Quantity::Heading | Quantity::Angle => (*name).to_owned(),
        };
        columns.push(Column::new(&column, Holds::Reading(*quantity)));
        readings.push((*name).to_owned());
    }
    for sensor in sensors {
        columns.push(Column::new(sensor, Holds::Reading(Quantity::Angle)));
        readings.push(sensor.clone());
    }
    (columns, readings)
}

/// A position among readings is an antenna's; here it must say so.
pub fn antenna_column(name: &str) -> String {
    match name.strip_suffix("_2") {
        Some(axis) => format!("antenna_2_{axis}"),
        None => format!("antenna_{name}"),
    }
}

/// A file of shots needs names, something surveyed, and something to hold against it.
fn check_columns(faults: &mut FileFaults<'_>, rows: &Rows, places: &Places) {
    let any = |from: usize, n: usize| rows.there.iter().skip(from).take(n).any(|there| *there);
    let mut missing = |what: &str, want: &str, fix: &str| {
        faults.push(
            0,
            Fault::new("F029", "header", format!("no column {what}"), want, fix),
        );
    };
    if !rows.there[places.text[0]] {
        let fix = "give every shot a name, so that the sheet can say which one is off";
        missing("shot", "a column shot", fix);
    }
    if !any(places.surveyed, 3) {
        let want = "surveyed_easting_m, surveyed_northing_m, surveyed_elevation_m; elevation alone will do for height";
        missing(
            "of what was surveyed",
            want,
            "add the tooth as the surveyor shot it",
        );
    }
    if !any(places.shown, 3) && !any(places.readings, usize::MAX) {
        let want =
            "shown_easting_m, shown_northing_m, shown_elevation_m, or readings such as boom_deg";
        missing(
            "of what was shown",
            want,
            "add what the display said, or the readings of the pose",
        );
    }
}

fn shot_of(row: &Row, places: &Places, names: &[String]) -> ShotRow {
    let point = |at: usize, sd: usize| {
        [0, 1, 2].map(|axis| {
            let value = row.number(at + axis)?;
            Some(Measured {
                value,
                sd: row.number(sd + axis),
            })
        })
    };
    let text = |idx: usize| row.text(places.text[idx]);
    let readings = names
        .iter()
        .enumerate()
        .filter_map(|(idx, name)| Some((name.clone(), row.number(places.readings + idx)?)));
    ShotRow {
        line: row.line,
        name: text(0).unwrap_or_default(),
        tooth: text(1),
        surveyed_m: point(places.surveyed, places.surveyed_sd),
        shown_m: point(places.shown, places.shown_sd),
        readings: readings.collect(),
        per_second_m: per_second(row, places),
        held: row.text(places.held).and_then(|word| held_of(&word)),
        by: text(2),
        when: text(3),
        instrument: text(4),
        note: text(5),
    }
}

/// All three, or none: a way with one part missing is no way.
fn per_second(row: &Row, places: &Places) -> Option<[f64; 3]> {
    let [east, north, up] = [0, 1, 2].map(|axis| row.number(places.per_second + axis));
    Some([east?, north?, up?])
}

fn held_of(word: &str) -> Option<Held> {
    let word = word.trim();
    let known = HELD.iter().find(|w| w.word.eq_ignore_ascii_case(word));
    known.map(|w| w.means)
}

fn check_shot(
    faults: &mut FileFaults<'_>,
    row: &Row,
    shot: &ShotRow,
    before: &[ShotRow],
    places: &Places,
) {
    let mut push = |code, what: &str, got: String, want: &str, fix: &str| {
        let at = format!("line {}{what}", row.line);
        faults.push(row.offset, Fault::new(code, at, got, want, fix));
    };
    if shot.name.is_empty() {
        let fix = "give every shot a name, so that the sheet can say which one is off";
        push("F028", ", shot", "no name".to_owned(), "a name", fix);
    } else if let Some(first) = before.iter().find(|s| s.name == shot.name) {
        let got = format!(
            "{} a second time; line {} has it",
            quoted(&shot.name),
            first.line
        );
        let fix = "rename it, or take out the line that was copied";
        push("F019", ", shot", got, "a name of its own", fix);
    }
    for (axis_idx, (axis, _)) in AXES.iter().enumerate() {
        for (whose, at, sd) in [
            ("surveyed", places.surveyed, places.surveyed_sd),
            ("shown", places.shown, places.shown_sd),
        ] {
            if row.number(at + axis_idx).is_none() && row.number(sd + axis_idx).is_some() {
                let fix = "add the coordinate, or empty the cell of its sd";
                let got = format!("an sd of {whose} {axis} without a {whose} {axis}");
                push("F028", "", got, "both or neither", fix);
            }
        }
    }
    if shot.per_second_m.is_none() && (0..3).any(|k| row.number(places.per_second + k).is_some()) {
        let got = "a part of the way per second".to_owned();
        let fix = "add the parts that are missing, 0 where there is none, or empty all three";
        push(
            "F028",
            ", per_second",
            got,
            "easting, northing and elevation",
            fix,
        );
    }
    if let (None, Some(word)) = (shot.held, row.text(places.held)) {
        let fix = "leave the cell empty if nobody looked how the bucket was held";
        push(
            "F016",
            ", held",
            quoted(&word),
            "one of: hanging, standing",
            fix,
        );
    }
    if shot.surveyed_m.iter().all(Option::is_none) {
        let fix = "add what the surveyor shot, or take the line out";
        push(
            "F028",
            "",
            "nothing surveyed".to_owned(),
            "at least one surveyed coordinate",
            fix,
        );
    }
    if shot.shown_m.iter().all(Option::is_none) && shot.readings.is_empty() {
        let fix = "add what the display said, or the readings of the pose; or take the line out";
        push(
            "F028",
            "",
            "nothing shown".to_owned(),
            "shown coordinates or readings",
            fix,
        );
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const DEMO: &str = include_str!("../../../../demo/S1.shots.csv");

    #[track_caller]
    fn refused(text: &str, want: &str) {
        assert_eq!(
            read_shots("s.csv", text.as_bytes(), &[])
                .unwrap_err()
                .to_string(),
            want
        );
    }

    #[test]
    fn the_demo_reads() {
        let shots = read_shots("s", DEMO.as_bytes(), &[]).unwrap_or_else(|f| panic!("{f}"));
        assert_eq!(shots.len(), 8);
        let third = &shots[2];
        assert_eq!(third.name, "3");
        assert_eq!(third.tooth.as_deref(), Some("centre"));
        assert_eq!(third.surveyed_m[2], Some(Measured::with_sd(24.2285, 0.003)));
        assert_eq!(third.shown_m, [None; 3]);
        let heading = third.readings.iter().find(|(name, _)| name == "heading");
        assert_eq!(
            heading,
            Some(&("heading".to_owned(), 150.0_f64.to_radians()))
        );
        assert_eq!(third.by.as_deref(), Some("A. Example"));
    }

    #[test]
    fn a_shot_on_the_move_and_how_the_bucket_was_held() {
        let text = "shot,surveyed_elevation_m,shown_elevation_m,per_second_easting_mm,per_second_northing_mm,per_second_elevation_mm,held\n\
                    1,24.5,24.51,500,-250,0,hanging\n2,24.5,24.51,,,,Standing\n3,24.5,24.51,,,,\n";
        let shots = read_shots("s", text.as_bytes(), &[]).unwrap_or_else(|f| panic!("{f}"));
        assert_eq!(shots[0].per_second_m, Some([0.5, -0.25, 0.0]));
        assert_eq!(shots[0].held, Some(Held::Hanging));
        assert_eq!(
            (shots[1].per_second_m, shots[1].held),
            (None, Some(Held::Standing))
        );
        assert_eq!(shots[2].held, None);
        refused(
            &text.replace("500,-250,0,hanging", "500,,0,swinging"),
            "fault F028 at s.csv:2:1 (line 2, per_second)\n  got   a part of the way per second\n  want  easting, northing and elevation\n  \
             fix   add the parts that are missing, 0 where there is none, or empty all three\n\
             fault F016 at s.csv:2:1 (line 2, held)\n  got   \"swinging\"\n  want  one of: hanging, standing\n  \
             fix   leave the cell empty if nobody looked how the bucket was held",
        );
    }

    #[test]
    fn units_semicolons_quotes_and_what_nobody_states() {
        let text = "Shot;Shown Elevation (mm);surveyed_elevation_ft;surveyed_sd_elevation_mm;note\n\
                    \"a; b\";24500;80.3;;\"said \"\"fine\"\"\"\r\n";
        let shots = read_shots("s", text.as_bytes(), &[]).unwrap_or_else(|f| panic!("{f}"));
        assert_eq!(shots[0].name, "a; b");
        assert_eq!(shots[0].shown_m[2], Some(Measured::without_sd(24.5)));
        assert_eq!(
            shots[0].surveyed_m[2],
            Some(Measured::without_sd(80.3 * 0.3048))
        );
        assert_eq!(shots[0].note.as_deref(), Some("said \"fine\""));
    }

    #[test]
    fn sensors_by_their_names() {
        let text = "shot,surveyed_elevation_m,S-boom_deg\n1,24.5,28.1\n";
        let shots = read_shots("s", text.as_bytes(), &["S-boom".to_owned()]).unwrap();
        assert_eq!(
            shots[0].readings,
            [("S-boom".to_owned(), 28.1_f64.to_radians())]
        );
    }

    #[test]
    fn every_bad_cell_is_told_with_line_and_column() {
        refused(
            "shot,surveyed_elevation_m,surveyed_sd_elevation_m,shown_elevation_m\n\
             1,24.1,0.003,24.1\n\
             1,\"24,1\",0.003,24.1\n\
             3,24.1,0,nan\n\
             4,24100000,0.003,24.1\n\
             5,24.1\n\
             6,,0.003,24.1\n\
             1,24.1,,24.1\n",
            "fault F035 at s.csv:3:3 (line 3, surveyed_elevation)\n  got   \"24,1\"\n  want  a number in m\n  fix   write numbers with a decimal point, not a comma
fault F012 at s.csv:4:8 (line 4, surveyed_sd_elevation)\n  got   0\n  want  a standard uncertainty above 0 m\n  fix   state the spread of repeated measurements
fault F036 at s.csv:4:10 (line 4, shown_elevation)\n  got   not a number (NaN)\n  want  a number in m\n  fix   leave the cell empty if nobody knows the value
fault F037 at s.csv:5:3 (line 5, surveyed_elevation)\n  got   24100000 m\n  want  -1000 m to 10000 m\n  fix   give the elevation in metres over the site's datum
fault F034 at s.csv:6:1 (line 6)\n  got   2 fields\n  want  4, one a column of the header\n  fix   put text with a separator in quotation marks, or complete the line
fault F028 at s.csv:7:1 (line 7)\n  got   an sd of surveyed elevation without a surveyed elevation\n  want  both or neither\n  fix   add the coordinate, or empty the cell of its sd
fault F028 at s.csv:7:1 (line 7)\n  got   nothing surveyed\n  want  at least one surveyed coordinate\n  fix   add what the surveyor shot, or take the line out
fault F019 at s.csv:8:1 (line 8, shot)\n  got   \"1\" a second time; line 2 has it\n  want  a name of its own\n  fix   rename it, or take out the line that was copied",
        );
    }

    #[test]
    fn a_header_that_leaves_something_to_guess_is_refused() {
        refused(
            "shot,easting_m,surveyed_elevation,shown_elevaton_m,shot,colour\na,1,2,3,4,5\n",
            &format!("fault F031 at s.csv:1:6 (column easting_m)\n  got   \"easting_m\"\n  want  a name that says whose it is\n  fix   write surveyed_… for what the surveyor shot, shown_… for what the display said, antenna_… for an antenna
fault F032 at s.csv:1:16 (column surveyed_elevation)\n  got   \"surveyed_elevation\" without a unit\n  want  surveyed_elevation_ and a unit, one of m, mm, ft, usft\n  fix   add the unit to the column's name; holdline does not guess it
fault F031 at s.csv:1:35 (column shown_elevaton_m)\n  got   the column \"shown_elevaton_m\"\n  want  {IN_WORDS}\n  fix   \"shown_elevation_m\" is the nearest known column; correct it, or take it out
fault F033 at s.csv:1:52 (column shot)\n  got   a second column shot\n  want  one column each\n  fix   keep one and take the other out; holdline does not choose
fault F031 at s.csv:1:57 (column colour)\n  got   the column \"colour\"\n  want  {IN_WORDS}\n  fix   take the column out, or give it one of these names"),
        );
        refused(
            "shot,note\na,b\n",
            "fault F029 at s.csv:1:1 (header)\n  got   no column of what was surveyed\n  want  surveyed_easting_m, surveyed_northing_m, surveyed_elevation_m; elevation alone will do for height\n  fix   add the tooth as the surveyor shot it
fault F029 at s.csv:1:1 (header)\n  got   no column of what was shown\n  want  shown_easting_m, shown_northing_m, shown_elevation_m, or readings such as boom_deg\n  fix   add what the display said, or the readings of the pose
fault F028 at s.csv:2:1 (line 2)\n  got   nothing surveyed\n  want  at least one surveyed coordinate\n  fix   add what the surveyor shot, or take the line out
fault F028 at s.csv:2:1 (line 2)\n  got   nothing shown\n  want  shown coordinates or readings\n  fix   add what the display said, or the readings of the pose; or take the line out",
        );
        refused(
            "5060.0259,2043.7686,24.4907\n5059.4500,2043.4076,26.3134\n",
            "fault F030 at s.csv:1:1 (header)\n  got   a first line with numbers in it\n  want  a first line that names every column with its unit\n  fix   put a line of names on top; holdline does not guess which column is easting and which is northing",
        );
        refused(
            "shot,surveyed_elevation_m,shown_elevation_m\n",
            "fault F038 at s.csv:1:44\n  got   a header and no line below it\n  want  at least one line\n  fix   pick the right file, or copy it again: it may have been cut short",
        );
    }
}
