//! The machine: what was measured of it, and how its links move.

pub mod claim;
