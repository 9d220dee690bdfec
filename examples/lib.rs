//! What the examples share: the invented demo machine.

use holdline::calibrate::observations::Observations;
use holdline::machine::Machine;
use holdline::machine::front::ToolChoice;
use holdline_files::machine_sheet::read_machine_sheet;
use holdline_files::observations::{ReadingNames, read_observations};
use holdline_geom::fault::Faults;

/// The demo's machine sheet, as text.
pub const DEMO_SHEET: &str = include_str!("../demo/demo-23.machine.toml");

/// The demo machine, read and checked.
///
/// # Errors
///
/// None for the sheet as it stands; all its faults if somebody broke it.
pub fn demo_machine() -> Result<Machine, Faults> {
    Machine::measured_up(read_machine_sheet(
        "demo-23.machine.toml",
        DEMO_SHEET.as_bytes(),
    )?)
}

/// A calibration day with tape, plumb line and hand inclinometer, as text.
pub const TAPE_DAY: &str = include_str!("../demo/tape-only.observations.csv");

/// Check shots after a knock on the bucket sensor, as text.
pub const KNOCKED: &str = include_str!("../demo/S1-knocked.shots.csv");

/// What hangs on the demo machine.
pub fn demo_tool() -> ToolChoice {
    ToolChoice {
        coupler: Some("QC-demo".to_owned()),
        tilt: None,
        bucket: "T75".to_owned(),
        tooth: "centre".to_owned(),
    }
}

/// Observations of the demo machine, read.
///
/// # Errors
///
/// None for the demo's files as they stand; all faults of a file that somebody broke.
pub fn demo_observations(
    file: &str,
    text: &str,
    machine: &Machine,
) -> Result<Observations, Faults> {
    let sheet = machine.sheet();
    let sensors: Vec<String> = sheet.sensors.iter().map(|s| s.id.clone()).collect();
    let antennas: Vec<String> = sheet.antennas.iter().map(|a| a.id.clone()).collect();
    let names = ReadingNames {
        sensors: &sensors,
        antennas: &antennas,
    };
    read_observations(file, text.as_bytes(), &names)
}
