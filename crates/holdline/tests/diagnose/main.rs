//! Simulated machines: a fault is put into the steel, the readings or the survey, and the diagnosis has to name it.
//!
//! Seeds are printed. The quick size always runs; `HOLDLINE_SLOW=1` runs the full one.

#[path = "../common/mod.rs"]
mod common;
mod edges;
mod faults;
mod thousands;
mod world;
