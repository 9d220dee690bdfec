//! What the examples share: the invented demo machine.

use holdline::machine::Machine;
use holdline_files::machine_sheet::read_machine_sheet;
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
