//! The wait for a calibration.

fn main() {}
