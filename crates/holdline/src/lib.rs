#![doc = include_str!("../README.md")]

// The tests in this crate and the ones beside it share their machines.
#[cfg(test)]
extern crate self as holdline;

pub mod frames;

pub mod machine;

pub mod tooth;

pub mod calibrate;

pub mod records;

pub mod sources;
