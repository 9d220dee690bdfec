//! Check shots: whatever the bytes, every line is in the answer, or faults say why not.
#![cfg_attr(fuzzing, no_main)]

holdline_fuzz::target!(
    holdline_files::fuzz::fuzz_shots,
    seeds: &["demo/S1.shots.csv", "demo/S1-knocked.shots.csv"]
);
