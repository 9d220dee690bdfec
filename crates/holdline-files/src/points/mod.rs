//! Files of one point a line: check shots and control points.

pub mod cells;
pub mod columns;
mod control;
pub mod shots;
mod shots_toml;
pub mod write;

pub use self::control::{ControlPoint, read_control};
pub use self::shots::{ShotRow, read_shots};
pub use self::shots_toml::{shots_reference, shots_schema, write_shots_toml};
pub use self::write::{write_control, write_shots};
