//! Files of one point a line: check shots and control points.

pub mod cells;
pub mod columns;
mod control;
pub mod shots;
pub mod write;

pub use self::control::{ControlPoint, read_control};
pub use self::shots::{ShotRow, read_shots};
pub use self::write::{write_control, write_shots};
