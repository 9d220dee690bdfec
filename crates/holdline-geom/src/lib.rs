//! Ground floor: frames, quantities, faults, shapes, statistics.
//!
//! Not a word about excavators here, and no file, clock, environment or random source.

pub mod fault;
pub mod measured;
