//! The calibration in the terms of the control system at hand, and the proof that the numbers do the same.

pub mod terms;
