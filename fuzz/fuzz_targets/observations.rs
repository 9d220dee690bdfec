//! Observations of a calibration, as a table or TOML: what reads is written both ways and reads back equal.
#![cfg_attr(fuzzing, no_main)]

holdline_fuzz::target!(
    holdline_files::fuzz::fuzz_observations,
    seeds: &[
        "demo/calibration-day.observations.csv",
        "demo/tape-only.observations.csv",
        "crates/holdline-files/src/observations/every_kind.observations.csv",
        "crates/holdline-files/src/observations/every_kind.observations.toml",
    ]
);
