//! The machine sheet: whatever the bytes, it reads, writes and edits without loss, or its faults say where.
#![cfg_attr(fuzzing, no_main)]

holdline_fuzz::target!(
    holdline_files::fuzz::fuzz_machine_sheet,
    seeds: &[
        "demo/demo-23.machine.toml",
        "crates/holdline-files/src/machine_sheet/every_field.machine.toml",
    ]
);
