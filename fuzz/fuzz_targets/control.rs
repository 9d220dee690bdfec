//! Control points: whatever the bytes, every line is in the answer, or faults say why not.
#![cfg_attr(fuzzing, no_main)]

holdline_fuzz::target!(
    holdline_files::fuzz::fuzz_control,
    seeds: &["demo/control.csv"]
);
