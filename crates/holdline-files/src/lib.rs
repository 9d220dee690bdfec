#![doc = include_str!("../README.md")]

pub mod calibration;
pub mod document;
pub mod explain;
pub mod fuzz;
pub mod machine_sheet;
pub mod model;
pub mod observations;
pub mod points;
pub mod readings;
pub mod sources;
pub mod targets;
pub mod terms;
pub mod text;
