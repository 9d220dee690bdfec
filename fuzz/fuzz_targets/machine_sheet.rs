//! The machine sheet: whatever the bytes, a claim or faults that say where.
#![cfg_attr(fuzzing, no_main)]

use holdline::machine::Machine;
use holdline_files::machine_sheet::units::SI;
use holdline_files::machine_sheet::{read_machine_sheet, write_machine_sheet};

holdline_fuzz::target!(machine_sheet, seeds: &["demo/demo-23.machine.toml"]);

fn machine_sheet(bytes: &[u8]) {
    match read_machine_sheet("fuzz.machine.toml", bytes) {
        Err(faults) => assert!(!faults.is_empty(), "refused without a fault"),
        Ok(claim) => {
            let text = write_machine_sheet(&claim, SI);
            let again = read_machine_sheet("again", text.as_bytes());
            assert_eq!(again.as_ref(), Ok(&claim), "written and read again:\n{text}");
            if let Err(faults) = Machine::measured_up(claim) {
                assert!(!faults.is_empty(), "refused without a fault");
            }
        }
    }
}
