//! Ground floor: frames, quantities, faults, triangles, statistics.
//!
//! Not a word about excavators here, and no file, clock, environment or random source.

pub mod fault;
pub mod frame;
pub mod measured;
pub mod stats;
pub mod triangle;
