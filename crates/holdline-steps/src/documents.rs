//! Documents in: what kind a file is, whether it can be read, and into the job with it.

use holdline_files::calibration::read_calibration;
use holdline_files::document::kind_by_format;
use holdline_files::observations::{ReadingNames, is_observations_table, read_observations};
use holdline_files::points::{read_control, read_shots};
use holdline_files::readings::header::read_header;
use holdline_files::readings::wants::{CARRIED, STANDARD, Want};
use holdline_files::terms::read_terms;
use holdline_files::text::text_of;
use holdline_geom::fault::{Fault, Faults};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::machine_view::load_machine;

/// Kinds of document.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
pub enum Kind {
    /// Machine sheet.
    #[serde(rename = "holdline.machine")]
    Machine,
    /// Check shots.
    #[serde(rename = "holdline.shots")]
    Shots,
    /// Control points.
    #[serde(rename = "holdline.control")]
    Control,
    /// Sensor readings.
    #[serde(rename = "holdline.readings")]
    Readings,
    /// What was measured of a machine to calibrate it.
    #[serde(rename = "holdline.observations")]
    Observations,
    /// A calibration, on top of a machine sheet.
    #[serde(rename = "holdline.calibration")]
    Calibration,
    /// The entries of a control system, as a person describes them.
    #[serde(rename = "holdline.terms")]
    Terms,
}

impl Kind {
    /// The word in the job file.
    pub fn word(self) -> &'static str {
        match self {
            Kind::Machine => "holdline.machine",
            Kind::Shots => "holdline.shots",
            Kind::Control => "holdline.control",
            Kind::Readings => "holdline.readings",
            Kind::Observations => "holdline.observations",
            Kind::Calibration => "holdline.calibration",
            Kind::Terms => "holdline.terms",
        }
    }
}

/// The JSON Schema of a kind of document that is written as TOML; none for one that is a table.
pub fn document_schema(kind: Kind) -> Option<String> {
    match kind {
        Kind::Machine => Some(holdline_files::machine_sheet::machine_sheet_schema()),
        Kind::Observations => Some(holdline_files::observations::observations_schema()),
        Kind::Calibration => Some(holdline_files::calibration::calibration_schema()),
        Kind::Terms => Some(holdline_files::terms::terms_schema()),
        Kind::Shots | Kind::Control | Kind::Readings => None,
    }
}

/// A document read once, to see that it can be used.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Seen {
    /// What it is.
    pub kind: Kind,
    /// What is in it, in a few words.
    pub text: String,
}

/// Finds out what a file is and reads it once.
///
/// `names` are the ids of angle sensors and antennas that the job's machines have; they may name columns.
///
/// # Errors
///
/// `F064` for a file that is none of ours, else all faults of its kind, with line and column.
pub fn see(name: &str, bytes: &[u8], names: &ReadingNames<'_>) -> Result<Seen, Faults> {
    let text = text_of(name, bytes)?;
    let kind = kind_of(name, text)?;
    let text = match kind {
        Kind::Machine => {
            let machine = load_machine(name, bytes)?;
            let sheet = machine.sheet();
            format!(
                "machine {}, {} buckets, {} sensors",
                sheet.id,
                sheet.buckets.len(),
                sheet.sensors.len()
            )
        }
        Kind::Shots => {
            let shots = read_shots(name, bytes, names.sensors)?;
            let computed = shots
                .iter()
                .filter(|s| s.shown_m.iter().all(Option::is_none))
                .count();
            format!(
                "{} check shots, {computed} of them with readings instead of a shown tooth",
                shots.len()
            )
        }
        Kind::Control => format!("{} control points", read_control(name, bytes)?.len()),
        Kind::Readings => {
            let (number, line) = header_line(text).unwrap_or((1, ""));
            let wants: Vec<Want> = STANDARD
                .iter()
                .map(|(name, _)| Want::optional(name))
                .collect();
            let carried: Vec<String> = CARRIED.iter().map(|name| (*name).to_owned()).collect();
            read_header(name, line.as_bytes(), number, &wants, &carried)?;
            format!(
                "{} rows of readings",
                text.lines().count().saturating_sub(number as usize)
            )
        }
        Kind::Observations => {
            let observations = read_observations(name, bytes, names)?;
            format!("{} observations", observations.rows.len())
        }
        Kind::Calibration => {
            let calibration = read_calibration(name, bytes)?;
            format!(
                "calibration of {}, {} figures",
                calibration.machine,
                calibration.figures.len()
            )
        }
        Kind::Terms => {
            let terms = read_terms(name, bytes)?;
            format!("{} entries of a control system", terms.entries.len())
        }
    };
    Ok(Seen { kind, text })
}

/// What a text is: by its `format` line, or by the names in its header.
fn kind_of(name: &str, text: &str) -> Result<Kind, Fault> {
    let word = kind_by_format(text);
    let named = [Kind::Observations, Kind::Calibration, Kind::Terms];
    if let Some(kind) = named
        .into_iter()
        .find(|kind| word.as_deref() == Some(kind.word()))
    {
        return Ok(kind);
    }
    // Any other format word goes to the reader of machine sheets too, which says what is wrong with it.
    if word.is_some() || name.to_lowercase().ends_with(".toml") {
        return Ok(Kind::Machine);
    }
    if is_observations_table(text) {
        return Ok(Kind::Observations);
    }
    let header = header_line(text)
        .map_or("", |(_, line)| line)
        .to_lowercase();
    let names: Vec<&str> = header
        .split([',', ';', '\t'])
        .map(|name| name.trim_matches(['"', ' ', '\u{feff}']))
        .collect();
    let any = |wanted: &[&str]| {
        names
            .iter()
            .any(|name| wanted.iter().any(|w| name.starts_with(w)))
    };
    if any(&["surveyed", "shown_", "shown "]) {
        return Ok(Kind::Shots);
    }
    let angles = ["boom_", "stick_", "idler_", "bucket_", "pitch_", "roll_"];
    if any(&angles) {
        return Ok(Kind::Readings);
    }
    if any(&["northing", "easting", "elevation"]) {
        return Ok(Kind::Control);
    }
    Err(Fault::new(
        "F064",
        name,
        "a file whose first line says nothing that is known here",
        "a document with its format line (format = \"holdline.machine\"), observations (name, kind, target, …), shots (surveyed_…), control (name, northing_m, …) or readings (boom_deg, …)",
        "name the columns in the first line; docs/reference/formats has an example of each",
    ))
}

/// The first line that is neither empty nor a remark, and its number from 1.
fn header_line(text: &str) -> Option<(u64, &str)> {
    let mut lines = (1..).zip(text.lines());
    lines.find(|(_, line)| !line.trim().is_empty() && !line.starts_with('#'))
}

#[cfg(test)]
mod tests {
    use super::*;

    const MACHINE: &[u8] = include_bytes!("../../../demo/demo-23.machine.toml");
    const SHOTS: &[u8] = include_bytes!("../../../demo/S1.shots.csv");
    const CONTROL: &[u8] = include_bytes!("../../../demo/control.csv");

    #[track_caller]
    fn check(name: &str, bytes: &[u8], want: Result<Kind, &str>) {
        let names = ReadingNames {
            sensors: &[],
            antennas: &[],
        };
        let got = see(name, bytes, &names).map(|seen| seen.kind);
        let got = got.map_err(|faults| faults.0[0].code);
        assert_eq!(got, want, "{name}");
    }

    #[test]
    fn kinds_by_what_is_in_them() {
        check("a", MACHINE, Ok(Kind::Machine));
        check("b.csv", SHOTS, Ok(Kind::Shots));
        check("c.txt", CONTROL, Ok(Kind::Control));
        check(
            "d.csv",
            b"time_s,boom_deg,stick_deg\n0,1,2\n",
            Ok(Kind::Readings),
        );
        check("e.csv", b"a,b,c\n1,2,3\n", Err("F064"));
        check("f.csv", b"", Err("F004"));
        check("g.bin", b"\x00\x01\x02", Err("F003"));
        check("h.toml", b"x = 1\n", Err("F013"));
    }
}
