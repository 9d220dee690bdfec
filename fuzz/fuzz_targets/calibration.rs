//! Calibrations: what reads is written as the same bytes again and reads back equal.
#![cfg_attr(fuzzing, no_main)]

holdline_fuzz::target!(
    holdline_files::fuzz::fuzz_calibration,
    seeds: &["crates/holdline-files/src/calibration/example.calibration.toml"]
);
