//! Measure up: from a machine sheet to a checked machine with its joint ranges.
//!
//! `cargo run -p holdline-examples --example 01-measure-up`

use holdline_examples::{DEMO_SHEET, demo_machine};
use holdline_files::machine_sheet::{place_faults, read_machine_sheet};
use holdline_geom::fault::Faults;

/// Shows the ranges, and what a slip of the pen looks like.
///
/// # Errors
///
/// The faults of the demo sheet, if somebody broke it.
pub fn main() -> Result<(), Faults> {
    let machine = demo_machine()?;
    println!("{}: {}", machine.sheet().id, machine.sheet().note);
    for range in machine.ranges() {
        let [least, most] = range.outer_rad.map(f64::to_degrees);
        println!(
            "{:8} {least:8.2}° to {most:7.2}° with the stroke's tolerance",
            range.joint.word()
        );
    }

    // Feet typed as metres: the reader finds the line, the machine room finds the slip.
    let slipped = DEMO_SHEET.replace("length = { value = 2.940", "length = { value = 13.1");
    let claimed = read_machine_sheet("slipped.machine.toml", slipped.as_bytes())?;
    if let Err(faults) = holdline::machine::Machine::measured_up(claimed) {
        println!(
            "\n{}",
            place_faults("slipped.machine.toml", &slipped, faults)
        );
    }
    Ok(())
}
