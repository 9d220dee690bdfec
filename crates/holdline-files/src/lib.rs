//! Formats in and out.

pub mod explain;
pub mod fuzz;
pub mod machine_sheet;
pub mod points;
pub mod readings;
pub mod text;
