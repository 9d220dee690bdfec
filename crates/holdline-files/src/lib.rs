//! Formats in and out.

pub mod machine_sheet;
pub mod text;
