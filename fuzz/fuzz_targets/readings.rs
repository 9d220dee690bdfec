//! A stream of readings: whatever the bytes, every row is answered or counted.
#![cfg_attr(fuzzing, no_main)]

holdline_fuzz::target!(
    holdline_files::fuzz::fuzz_readings,
    seeds: &["fuzz/seeds/readings.csv"]
);
