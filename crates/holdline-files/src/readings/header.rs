//! The header of a file of readings: which column is what, in which unit.

use holdline_geom::fault::{Fault, Faults, Place};

use super::wants::{Dimension, Need, STANDARD, UNITS, Unit, Want};
use crate::text::{self, quoted};

/// More columns than any log has.
const COLUMNS_AT_MOST: usize = 2000;

/// What is done with a column.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Use {
    /// Passed over.
    Skip,
    /// Copied to the output as it stands; counted from 0.
    Carry(usize),
    /// Read as a number for this want.
    Read {
        /// Which want, counted from 0.
        want_idx: usize,
        /// Unit of the column.
        unit: &'static Unit,
        /// Least plausible value in that unit.
        min: f64,
        /// Largest plausible value in that unit.
        max: f64,
    },
}

/// A header understood.
#[derive(Debug, Clone, PartialEq)]
pub struct Header {
    /// Name of the file, for messages.
    pub file: String,
    /// The line itself.
    pub line: Vec<u8>,
    /// What stands between fields.
    pub separator: u8,
    /// Names, as written.
    pub names: Vec<String>,
    /// What is done with each column.
    pub uses: Vec<Use>,
    /// Column of each want, if there is one.
    pub column_of: Vec<Option<usize>>,
    /// Columns copied to the output.
    pub carried: Vec<usize>,
    /// Columns that nobody asked for.
    pub not_used: Vec<String>,
}

/// Reads a header.
///
/// # Errors
///
/// All that is wrong with it: `F001` to `F004` not text, `T601` no names, `T602` a column missing,
/// `T603` twice the same, `T604` no unit, `T605` a wrong one, `T606` too many columns.
pub fn read_header(
    file: &str,
    line: &[u8],
    line_number: u64,
    wants: &[Want],
    carried: &[String],
) -> Result<Header, Faults> {
    let text = text::text_of(file, line)?;
    let separator = separator_of(text);
    let names = fields(text, separator);
    let place = |column: usize| Place {
        file: file.to_owned(),
        line: usize::try_from(line_number).unwrap_or(usize::MAX),
        column,
    };
    if COLUMNS_AT_MOST < names.len() || names.iter().all(|n| n.text.parse::<f64>().is_ok()) {
        return Err(at(no_header(&names), place(1)).into());
    }

    let mut faults = Faults::none();
    let mut header = Header {
        file: file.to_owned(),
        line: text.as_bytes().to_vec(),
        separator,
        names: names.iter().map(|n| n.text.clone()).collect(),
        uses: vec![Use::Skip; names.len()],
        column_of: vec![None; wants.len()],
        carried: Vec::new(),
        not_used: Vec::new(),
    };
    let mut unfit: Vec<Option<Fault>> = vec![None; wants.len()];
    for (column_idx, name) in names.iter().enumerate() {
        if let Some(first) = names[..column_idx]
            .iter()
            .position(|n| same(&n.text, &name.text))
        {
            let first = first + 1;
            faults.push(at(twice(&name.text, first, column_idx + 1), place(name.at)));
            continue;
        }
        match use_of(&name.text, wants, carried, header.carried.len()) {
            Meant::Use(Use::Skip) => header.pass_over(&name.text),
            Meant::Use(Use::Carry(carry_idx)) => {
                header.uses[column_idx] = Use::Carry(carry_idx);
                header.carried.push(column_idx);
            }
            Meant::Use(read @ Use::Read { want_idx, .. }) => {
                header.uses[column_idx] = read;
                match header.column_of[want_idx] {
                    None => header.column_of[want_idx] = Some(column_idx),
                    Some(first) => {
                        let fault = same_thing(&header.names[first], &name.text);
                        faults.push(at(fault, place(name.at)));
                    }
                }
            }
            Meant::Unfit(want_idx, fault) => {
                header.pass_over(&name.text);
                unfit[want_idx].get_or_insert(at(fault, place(name.at)));
            }
        }
    }
    for ((want, column), unfit) in wants.iter().zip(&header.column_of).zip(unfit) {
        match (column, unfit) {
            (Some(_), _) => {} // `boom_raw` beside `boom_deg` is just not used
            (None, Some(fault)) => faults.push(fault),
            (None, None) if want.need == Need::Needed => {
                faults.push(at(missing(want, &header.not_used), place(1)));
            }
            (None, None) => {}
        }
    }
    faults.or(header)
}

/// A name in the header and the character where it starts, from 1.
struct Name {
    text: String,
    at: usize,
}

/// Tab, semicolon or comma: whichever parts the header into most names.
fn separator_of(text: &str) -> u8 {
    let count = |separator: u8| fields(text, separator).len();
    let most = [b'\t', b';', b','].into_iter().max_by_key(|s| count(*s));
    most.filter(|s| 1 < count(*s)).unwrap_or(b',')
}

/// Names between separators; a separator between quotation marks parts nothing.
fn fields(text: &str, separator: u8) -> Vec<Name> {
    let mut names = Vec::new();
    let (mut from, mut at, mut quoted) = (0, 1, false);
    let ends = text.char_indices().filter(|(_, c)| {
        quoted ^= *c == '"';
        !quoted && *c == char::from(separator)
    });
    for end in ends.map(|(end, _)| end).chain([text.len()]) {
        let field = &text[from..end];
        let name = field.trim().trim_matches('"').trim();
        names.push(Name {
            text: name.to_owned(),
            at,
        });
        at += field.chars().count() + 1;
        from = end + 1;
    }
    names
}

fn same(a: &str, b: &str) -> bool {
    !a.is_empty() && a.eq_ignore_ascii_case(b)
}

impl Header {
    fn pass_over(&mut self, name: &str) {
        if !name.is_empty() {
            self.not_used.push(name.to_owned());
        }
    }
}

/// What a column is for, by its name.
enum Meant {
    Use(Use),
    /// It looks like this want, but its unit is missing or wrong.
    Unfit(usize, Fault),
}

fn use_of(name: &str, wants: &[Want], carried: &[String], next_carry_idx: usize) -> Meant {
    if let Some((stem, suffix)) = name.rsplit_once('_')
        && let Some(want_idx) = wanted(stem, wants)
    {
        let want = &wants[want_idx];
        let dimension = want.quantity.dimension();
        let unit = UNITS.iter().find(|u| u.suffix.eq_ignore_ascii_case(suffix));
        return match unit.filter(|u| u.dimension == dimension) {
            Some(unit) => {
                let (min, max) = unit.span(want.quantity.plausible());
                Meant::Use(Use::Read {
                    want_idx,
                    unit,
                    min,
                    max,
                })
            }
            // `boom_upper` is a joint of its own, not a boom in a unit "upper"
            None if is_standard(name) => Meant::Use(Use::Skip),
            None => Meant::Unfit(want_idx, wrong_unit(want, name, suffix, dimension)),
        };
    }
    if let Some(want_idx) = wanted(name, wants) {
        return Meant::Unfit(want_idx, no_unit(&wants[want_idx], name));
    }
    let carry = carried.iter().any(|c| same(c, name));
    Meant::Use(if carry {
        Use::Carry(next_carry_idx)
    } else {
        Use::Skip
    })
}

fn wanted(stem: &str, wants: &[Want]) -> Option<usize> {
    wants
        .iter()
        .position(|want| want.names.iter().any(|n| same(n, stem)))
}

fn is_standard(name: &str) -> bool {
    STANDARD.iter().any(|(n, _)| same(n, name))
}

fn units_of(dimension: Dimension) -> String {
    let ours: Vec<&str> = UNITS
        .iter()
        .filter(|u| u.dimension == dimension)
        .map(|u| u.suffix)
        .collect();
    ours.join(", ")
}

fn usual_unit(want: &Want) -> &'static str {
    match want.quantity.dimension() {
        Dimension::Angle => "deg",
        Dimension::Length => "m",
    }
}

fn at(mut fault: Fault, place: Place) -> Fault {
    fault.place = Some(place);
    fault
}

fn no_header(names: &[Name]) -> Fault {
    if COLUMNS_AT_MOST < names.len() {
        return Fault::new(
            "T606",
            "header",
            format!("{} columns", names.len()),
            format!("{COLUMNS_AT_MOST} columns at most"),
            "pick the right file, or keep only the columns that are needed",
        );
    }
    Fault::new(
        "T601",
        "header",
        "numbers only",
        "a first line that names the columns with their units, such as boom_deg",
        "put a line of names before the readings; holdline does not guess what a column is",
    )
}

fn twice(name: &str, first: usize, second: usize) -> Fault {
    Fault::new(
        "T603",
        format!("column {name}"),
        format!("the same name for columns {first} and {second}"),
        "every column named once",
        "rename or take out the one that is not meant; holdline does not choose",
    )
}

fn same_thing(first: &str, second: &str) -> Fault {
    Fault::new(
        "T603",
        format!("column {second}"),
        format!(
            "{} and {} hold the same reading",
            quoted(first),
            quoted(second)
        ),
        "one column a reading",
        "take out the one that is not meant; holdline does not choose",
    )
}

fn no_unit(want: &Want, name: &str) -> Fault {
    let unit = usual_unit(want);
    Fault::new(
        "T604",
        format!("column {}", want.name()),
        format!("{} without a unit", quoted(name)),
        format!(
            "{name}_{unit}, or another of {}",
            units_of(want.quantity.dimension())
        ),
        "add the unit to the column's name; holdline does not guess it",
    )
}

fn wrong_unit(want: &Want, name: &str, suffix: &str, dimension: Dimension) -> Fault {
    let known = UNITS
        .iter()
        .filter(|u| u.dimension == dimension)
        .map(|u| u.suffix);
    let near =
        text::nearest(suffix, known).map_or(String::new(), |u| format!("; did you mean {u}?"));
    Fault::new(
        "T605",
        format!("column {}", want.name()),
        format!("{} with the unit {}", quoted(name), quoted(suffix)),
        format!("one of {}{near}", units_of(dimension)),
        "give the readings in one of these units and say so in the column's name",
    )
}

fn missing(want: &Want, not_used: &[String]) -> Fault {
    let unit = usual_unit(want);
    let full = format!("{}_{unit}", want.name());
    let near = text::nearest(&full, not_used.iter().map(String::as_str));
    let got = match near {
        Some(near) => format!("no such column; the nearest is {}", quoted(near)),
        None => "no such column".to_owned(),
    };
    let mut or = want.names[1..]
        .iter()
        .map(|n| format!(", or {n}_{unit}"))
        .collect::<String>();
    or.insert_str(0, &full);
    Fault::new(
        "T602",
        format!("column {}", want.name()),
        got,
        format!("a column {or}"),
        "name the column so in the first line, or export it from the log as well",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn wants() -> Vec<Want> {
        vec![
            Want::needed("boom"),
            Want::needed("stick").or_named("S-stick"),
            Want::needed("easting"),
            Want::optional("roll"),
        ]
    }

    fn read(line: &str) -> Result<Header, Faults> {
        read_header(
            "a.csv",
            line.as_bytes(),
            1,
            &wants(),
            &["time_s".to_owned()],
        )
    }

    #[track_caller]
    fn refused(line: &str, want: &[&str]) {
        let faults = read(line).unwrap_err();
        let told: Vec<String> = faults.0.iter().map(ToString::to_string).collect();
        assert_eq!(told, want);
    }

    #[test]
    fn columns_by_name_and_unit() {
        let header = read("time_s, Boom_DEG,S-stick_rad,note,easting_usft").expect("good");
        assert_eq!(header.separator, b',');
        assert_eq!(header.column_of, [Some(1), Some(2), Some(4), None]);
        assert_eq!(header.carried, [0]);
        assert_eq!(header.not_used, ["note"]);
        let Use::Read { unit, max, .. } = header.uses[2] else {
            panic!("{:?}", header.uses)
        };
        assert_eq!(unit.suffix, "rad");
        assert!((max - 720_f64.to_radians()).abs() < 1e-12);
    }

    #[test]
    fn separators() {
        for (line, separator) in [
            ("boom_deg;stick_deg;easting_m", b';'),
            ("boom_deg\tstick_deg\teasting_m", b'\t'),
            ("\"boom_deg\",\"stick_deg\",easting_m", b','),
            ("boom_deg,\"a; b; c; d, e\",stick_deg,easting_m", b','),
        ] {
            assert_eq!(read(line).expect("good").separator, separator);
        }
    }

    #[test]
    fn all_faults_at_once() {
        refused(
            "boom,stick_m,eastnig_m,roll_deg,roll_deg",
            &[
                "fault T603 at a.csv:1:33 (column roll_deg)\n  \
                 got   the same name for columns 4 and 5\n  want  every column named once\n  \
                 fix   rename or take out the one that is not meant; holdline does not choose",
                "fault T604 at a.csv:1:1 (column boom)\n  got   \"boom\" without a unit\n  \
                 want  boom_deg, or another of deg, rad, gon\n  \
                 fix   add the unit to the column's name; holdline does not guess it",
                "fault T605 at a.csv:1:6 (column stick)\n  \
                 got   \"stick_m\" with the unit \"m\"\n  want  one of deg, rad, gon\n  \
                 fix   give the readings in one of these units and say so in the column's name",
                "fault T602 at a.csv:1:1 (column easting)\n  \
                 got   no such column; the nearest is \"eastnig_m\"\n  want  a column easting_m\n  \
                 fix   name the column so in the first line, or export it from the log as well",
            ],
        );
    }

    #[test]
    fn two_columns_for_one_reading() {
        refused(
            "boom_deg,stick_deg,s-stick_rad,easting_m",
            &["fault T603 at a.csv:1:20 (column s-stick_rad)\n  \
                 got   \"stick_deg\" and \"s-stick_rad\" hold the same reading\n  \
                 want  one column a reading\n  \
                 fix   take out the one that is not meant; holdline does not choose"],
        );
    }

    #[test]
    fn what_is_no_header() {
        refused(
            "22.1,-88,35",
            &["fault T601 at a.csv:1:1 (header)\n  got   numbers only\n  \
               want  a first line that names the columns with their units, such as boom_deg\n  \
               fix   put a line of names before the readings; holdline does not guess what a \
               column is"],
        );
        for (bytes, code) in [
            (&b"b\0o\0o\0m\0_\0d\0"[..], "F002"),
            (b"PK\x03\x04\0\0\0", "F003"),
            (b"boom_deg,\xff", "F001"),
            (b"  ", "F004"),
        ] {
            let faults = read_header("a.csv", bytes, 1, &wants(), &[]).unwrap_err();
            assert_eq!(faults.0[0].code, code);
        }
        let wide = "x,".repeat(COLUMNS_AT_MOST + 1);
        assert_eq!(read(&wide).unwrap_err().0[0].code, "T606");
    }

    #[test]
    fn a_longer_name_is_another_column() {
        // boom_upper is a joint of its own, and not a boom in an unknown unit
        let header = read("boom_raw,boom_deg,boom_upper,stick_deg,easting_m,,").expect("good");
        assert_eq!(header.not_used, ["boom_raw", "boom_upper"]);
        // but an optional column in a wrong unit is not left out in silence
        let faults = read("boom_deg,stick_deg,easting_m,roll_degrees").unwrap_err();
        assert_eq!(faults.0.len(), 1);
        assert_eq!(faults.0[0].code, "T605");
    }
}
