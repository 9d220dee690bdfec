//! A control system's terms: what reads is written and reads back equal.
#![cfg_attr(fuzzing, no_main)]

holdline_fuzz::target!(
    holdline_files::fuzz::fuzz_terms,
    seeds: &["demo/demo-23.terms.toml", "crates/holdline-files/src/terms/every_quantity.terms.toml"]
);
