//! Check shots in TOML: the same rows as from a table.

use holdline_geom::fault::{Fault, Faults};
use holdline_geom::measured::Measured;

use super::columns::MOST_ROWS;
use super::shots::{AXES, HELD, PER_SECOND, ShotRow};
use crate::document::leaf::check_span;
use crate::document::locate::{lines_of_entries, place_faults};
use crate::document::node::{Node, Value};
use crate::document::table::{Dim, Kind, Rule, Section, may, must, word_for};
use crate::document::units::Units;
use crate::document::walk::{Reading, entry_path, join};
use crate::document::{Format, read_document, reference, schema, write};
use crate::observations::fields::{ELEVATION, GRID, SD_LENGTH, UNITS};
use crate::observations::unbuild;
use crate::text::not_too_many;

/// The `format` word of check shots.
pub const FORMAT: &str = "holdline.shots";

/// The newest version that is known here.
pub const VERSION: u32 = 1;

/// Check shots as documents.
static SHOTS: Format = Format {
    word: FORMAT,
    version: VERSION,
    called: "check shots",
    is: "Check shots of a bucket tooth, from which holdline says whether the machine is in tolerance.",
    sheet: &DOCUMENT,
    most_bytes: 2 << 20,
};

static DOCUMENT: Section = Section {
    title: "Check shots",
    rule: Rule::Free,
    fields: &[
        must("format", "Format", Kind::Text).help(FORMAT),
        must(
            "version",
            "Version of the format",
            Kind::Whole {
                min: 1,
                max: VERSION,
            },
        ),
        must("units", "Units", Kind::Inside(&UNITS)),
        must(
            "shot",
            "Shots",
            Kind::List {
                of: &SHOT,
                named_by: "name",
                most: MOST_ROWS,
            },
        ),
    ],
};

static SHOT: Section = Section {
    title: "Shot",
    rule: Rule::Free,
    fields: &[
        must("name", "Name", Kind::Name)
            .help("one of its own, so that the sheet can say which one is off"),
        may("tooth", "Tooth point", Kind::Name),
        must("surveyed", "The tooth as surveyed", Kind::Inside(&PLACE))
            .help("elevation alone will do for height"),
        may(
            "shown",
            "The tooth as the display shows it",
            Kind::Inside(&PLACE),
        ),
        may(
            "readings",
            "What the sensors read in this pose",
            Kind::Readings,
        )
        .help("where the tooth is to be computed"),
        may(
            "per_second",
            "How far the tooth moved in a second when it was read",
            Kind::Inside(&WAY),
        )
        .help("left out: it was at rest; with it a time lag is looked for"),
        may("held", "How the bucket was held", Kind::Choice(&HELD))
            .help("with both kinds among the shots play in the pins is looked for"),
        may("by", "Who", Kind::Line),
        may("when", "When", Kind::Line),
        may("instrument", "With what", Kind::Line),
        may("note", "Note", Kind::Line),
    ],
};

static PLACE: Section = Section {
    title: "Place",
    rule: Rule::Free,
    fields: &[
        may("easting", "Easting", Kind::Measured(Dim::Length)),
        may("northing", "Northing", Kind::Measured(Dim::Length)),
        may("elevation", "Elevation", Kind::Measured(Dim::Length)),
    ],
};

static WAY: Section = Section {
    title: "Way in a second",
    rule: Rule::Free,
    fields: &[
        must("easting", "Easting", Kind::Number(Dim::Length)),
        must("northing", "Northing", Kind::Number(Dim::Length)),
        must("elevation", "Elevation", Kind::Number(Dim::Length)),
    ],
};

/// Reads check shots from TOML.
pub fn read(file: &str, text: &str, readings: &[Reading]) -> Result<Vec<ShotRow>, Faults> {
    let (node, _) = read_document(file, text, &SHOTS, readings)?;
    let lines = lines_of_entries(text, "shot");
    let mut faults = Vec::new();
    let mut shots = Vec::new();
    for (idx, entry) in node.list("shot").iter().enumerate() {
        let path = entry_path("shot", entry.text("name").as_deref(), idx);
        check(entry, &path, &mut faults);
        shots.push(shot_of(entry, lines.get(idx).copied().unwrap_or(0)));
    }
    if shots.is_empty() {
        let (got, want) = ("a list without an entry", "at least one shot");
        let fix = "pick the right file, or copy it again: it may have been cut short";
        faults.push(Fault::new("F038", "shot", got, want, fix));
    }
    if faults.is_empty() {
        Ok(shots)
    } else {
        Err(place_faults(&DOCUMENT, file, text, not_too_many(faults)))
    }
}

/// Writes check shots as TOML, in these units.
///
/// In metres and radians any shots read back equal, in other units those that were read in them.
pub fn write_shots_toml(shots: &[ShotRow], units: Units) -> String {
    let text = |text: &str| Value::Text(text.to_owned());
    let node = Node::default()
        .with("format", text(FORMAT))
        .with("version", Value::Number(f64::from(VERSION)))
        .with("units", Value::Inside(unbuild::stated(units)))
        .with("shot", Value::List(shots.iter().map(shot_node).collect()));
    write::write_document(&DOCUMENT, &node, units)
}

/// The schema of check shots in TOML, JSON Schema 2020-12.
pub fn shots_schema() -> String {
    schema::schema(&SHOTS)
}

/// Every key of check shots in TOML, for people, in Markdown.
pub fn shots_reference() -> String {
    reference::page(&SHOTS)
}

fn check(n: &Node, path: &str, faults: &mut Vec<Fault>) {
    let places = ["surveyed", "shown"].map(|key| n.inside(key).map(|p| (key, p)));
    for (key, place) in places.into_iter().flatten() {
        let path = join(path, key);
        for (axis, _) in AXES {
            let Some(Measured { value, sd }) = place.measured(axis) else {
                continue;
            };
            let span = if axis == "elevation" {
                &ELEVATION
            } else {
                &GRID
            };
            let at = join(&path, axis);
            let sd_fault = sd.and_then(|sd| check_span(&SD_LENGTH, &join(&at, "sd"), sd).err());
            faults.extend(check_span(span, &at, value).err());
            faults.extend(sd_fault);
        }
    }
    if let Some(way) = n.inside("per_second") {
        for (axis, _) in AXES {
            let at = join(&join(path, "per_second"), axis);
            let value = way.number(axis).unwrap_or(0.0);
            faults.extend(check_span(&PER_SECOND, &at, value).err());
        }
    }
    let states = |key: &str| {
        let any = |p: &Node| AXES.iter().any(|(axis, _)| p.measured(axis).is_some());
        n.inside(key).is_some_and(any)
    };
    if !states("surveyed") {
        let (got, want) = ("nothing surveyed", "at least one surveyed coordinate");
        let fix = "add what the surveyor shot, or take the shot out";
        faults.push(Fault::new("F028", join(path, "surveyed"), got, want, fix));
    }
    if !states("shown") && n.named("readings").is_empty() {
        let (got, want) = ("nothing shown", "shown coordinates or readings");
        let fix = "add what the display said, or the readings of the pose; or take the shot out";
        faults.push(Fault::new("F028", join(path, "shown"), got, want, fix));
    }
}

fn shot_of(n: &Node, line: usize) -> ShotRow {
    let place = |key: &str| {
        let place = n.inside(key);
        AXES.map(|(axis, _)| place.and_then(|p| p.measured(axis)))
    };
    ShotRow {
        line,
        name: n.text("name").unwrap_or_default(),
        tooth: n.text("tooth"),
        surveyed_m: place("surveyed"),
        shown_m: place("shown"),
        readings: n.named("readings"),
        per_second_m: n.inside("per_second").and_then(|way| {
            let [east, north, up] = AXES.map(|(axis, _)| way.number(axis));
            Some([east?, north?, up?])
        }),
        held: n.word("held", &HELD),
        by: n.text("by"),
        when: n.text("when"),
        instrument: n.text("instrument"),
        note: n.text("note"),
    }
}

fn shot_node(shot: &ShotRow) -> Node {
    let text = |text: &String| Value::Text(text.clone());
    let place = |at_m: &[Option<Measured>; 3]| {
        let [easting, northing, elevation] = at_m.map(|axis| axis.map(Value::Measured));
        Node::default()
            .with_some("easting", easting)
            .with_some("northing", northing)
            .with_some("elevation", elevation)
    };
    let shown = shot.shown_m.iter().any(Option::is_some);
    let readings = (!shot.readings.is_empty()).then(|| Value::Named(shot.readings.clone()));
    let way = shot.per_second_m.map(|way| {
        let axes = AXES.iter().zip(way);
        axes.fold(Node::default(), |node, ((axis, _), value)| {
            node.with(axis, Value::Number(value))
        })
    });
    let held = shot
        .held
        .map(|held| Value::Text(word_for(&HELD, &held).to_owned()));
    Node::default()
        .with("name", text(&shot.name))
        .with_some("tooth", shot.tooth.as_ref().map(text))
        .with("surveyed", Value::Inside(place(&shot.surveyed_m)))
        .with_some("shown", shown.then(|| Value::Inside(place(&shot.shown_m))))
        .with_some("readings", readings)
        .with_some("per_second", way.map(Value::Inside))
        .with_some("held", held)
        .with_some("by", shot.by.as_ref().map(text))
        .with_some("when", shot.when.as_ref().map(text))
        .with_some("instrument", shot.instrument.as_ref().map(text))
        .with_some("note", shot.note.as_ref().map(text))
}

#[cfg(test)]
mod tests {
    use super::super::read_shots;
    use super::*;
    use crate::document::schema::fits;
    use crate::document::units::{METRIC, SI};
    use holdline::calibrate::diagnose::Held;

    const TABLE: &str = include_str!("../../../../demo/S1.shots.csv");
    const SCHEMA: &str = include_str!("../../../../docs/reference/schema/shots.schema.json");
    const PAGE: &str = include_str!("../../../../docs/reference/shots-file.md");

    #[test]
    fn a_table_and_its_twin_are_the_same_shots() {
        let mut shots = read_shots("s.csv", TABLE.as_bytes(), &[]).unwrap();
        shots[0].shown_m = [None, None, Some(Measured::without_sd(24.5))];
        shots[0].per_second_m = Some([0.1, -0.25, 1.0 / 3.0]);
        shots[1].held = Some(Held::Hanging);
        shots[1].note = Some("a \"worn\" tip, 5 mm".to_owned());
        shots.iter_mut().for_each(|s| s.line = 0);
        for units in [SI, METRIC] {
            let text = write_shots_toml(&shots, units);
            let mut again = read_shots("s", text.as_bytes(), &[]).unwrap_or_else(|f| panic!("{f}"));
            assert_eq!(again[0].line, 8);
            again.iter_mut().for_each(|s| s.line = 0);
            assert_eq!(again, shots, "{text}");
            fits::check(SCHEMA, &text, true);
        }
    }

    #[test]
    fn what_is_missing_is_told() {
        let text = "format = \"holdline.shots\"\nversion = 1\n[units]\nlength = \"m\"\nangle = \"deg\"\n\
                    [[shot]]\nname = \"1\"\nsurveyed = { elevation = 24000 }\nreadings = { boom = 20 }\n\
                    [[shot]]\nname = \"2\"\nsurveyed = {}\n\
                    [[shot]]\nname = \"2\"\nsurvayed = { elevation = 1 }\nsurveyed = { elevation = 1 }\n";
        let told = |text: &str| {
            read_shots("s.toml", text.as_bytes(), &[])
                .unwrap_err()
                .to_string()
        };
        assert_eq!(
            told(text),
            "\
fault F019 at s.toml:13:1 (shot[2])
  got   \"2\" a second time
  want  a name of its own; entry 2 has this one
  fix   rename one of them; two of one name cannot be told apart on a record
fault F008 at s.toml:15:1 (shot[2].survayed)
  got   the key \"survayed\"
  want  one of: name, tooth, surveyed, shown, readings, per_second, held, by, when, instrument, note
  fix   \"surveyed\" is the nearest known key; correct it, or take it out"
        );
        let (first_two, _) = text.split_at(text.rfind("[[shot]]").unwrap());
        assert_eq!(
            told(first_two),
            "\
fault F106 at s.toml:8:26 (shot[1].surveyed.elevation)
  got   24000 m
  want  -1000 m to 10000 m (elevation in the set-up's frame)
  fix   give the elevation in the unit that is stated; millimetres read as metres look like this
fault F028 at s.toml:10:1 (shot[2].shown)
  got   nothing shown
  want  shown coordinates or readings
  fix   add what the display said, or the readings of the pose; or take the shot out
fault F028 at s.toml:12:1 (shot[2].surveyed)
  got   nothing surveyed
  want  at least one surveyed coordinate
  fix   add what the surveyor shot, or take the shot out"
        );
    }

    #[test]
    fn what_is_published_is_current() {
        fits::current("schema/shots.schema.json", SCHEMA, &shots_schema());
        fits::current("shots-file.md", PAGE, &shots_reference());
    }
}
