//! Observations of a calibration: a table or TOML in, one claim out; and the way back.
//!
//! Both forms go through one table of fields ([`fields`]) and one check of what fits together ([`build`]),
//! so that the same observations are the same claim, whichever way they were written down.

pub mod build;
pub mod fields;
mod key_lines;
mod place;
mod table;
#[cfg(test)]
mod tests;
mod toml;
pub mod unbuild;
mod write_table;

pub use self::place::place_observation_faults;
pub use self::write_table::write_observations_csv;

use holdline::calibrate::observations::Observations;
use holdline_geom::fault::Faults;

use self::fields::{DOCUMENT, OBSERVATIONS};
use crate::document::units::Units;
use crate::document::walk::Reading;
use crate::document::{is_toml, reference, schema, write};
use crate::readings::wants::{Quantity, STANDARD};
use crate::text::text_of;

/// The angle sensors and antennas whose names readings may have, beside the standard ones.
#[derive(Debug, Clone, Copy, Default)]
pub struct ReadingNames<'n> {
    /// Angle sensors, by their names on the sheets.
    pub sensors: &'n [String],
    /// Antennas, by their names on the sheets.
    pub antennas: &'n [String],
}

/// Reads observations, from TOML or from a table with a header; the file itself tells which it is.
///
/// # Errors
///
/// All faults of the file at once, with line and column. No observation is dropped: one bad cell refuses the file.
pub fn read_observations(
    file: &str,
    bytes: &[u8],
    names: &ReadingNames<'_>,
) -> Result<Observations, Faults> {
    let text = text_of(file, bytes)?;
    let readings = names.readings();
    if is_toml(file, text) {
        toml::read(file, text, &readings)
    } else {
        table::read(file, text, &readings)
    }
}

/// Writes observations as TOML, in these units.
///
/// In metres and radians ([`crate::document::units::SI`]) any observations read back equal, in other units
/// those that were read in them.
pub fn write_observations_toml(observations: &Observations, units: Units) -> String {
    write::write_document(&DOCUMENT, &unbuild::document(observations, units), units)
}

/// The schema of observations in TOML, JSON Schema 2020-12.
pub fn observations_schema() -> String {
    schema::schema(&OBSERVATIONS)
}

/// Every key of observations in TOML, for people, in Markdown.
pub fn observations_reference() -> String {
    reference::page(&OBSERVATIONS)
}

/// True for a text that is a table of observations: its header names what was measured, and of which point or pose.
///
/// For texts that state no format; see [`crate::document::kind_by_format`].
pub fn is_observations_table(text: &str) -> bool {
    table::is_one(text)
}

impl ReadingNames<'_> {
    /// Every name that a reading may have, in the order in which a claim lists them.
    pub(crate) fn readings(&self) -> Vec<Reading> {
        let mut readings: Vec<Reading> = Vec::new();
        let mut add = |name: String, quantity: Quantity| {
            if readings.iter().all(|r| r.name != name) {
                readings.push(Reading { name, quantity });
            }
        };
        for (name, quantity) in STANDARD {
            add((*name).to_owned(), *quantity);
        }
        for sensor in self.sensors {
            add(sensor.clone(), Quantity::Angle);
        }
        for antenna in self.antennas {
            add(format!("{antenna}_easting"), Quantity::Grid);
            add(format!("{antenna}_northing"), Quantity::Grid);
            add(format!("{antenna}_elevation"), Quantity::Elevation);
        }
        readings
    }
}
