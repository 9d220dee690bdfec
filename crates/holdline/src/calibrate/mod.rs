//! Is the tooth where the screen says? Check shots against control, and the morning check.

pub mod check_shots;
pub mod daily;
pub mod decision;
pub mod explain;
mod single_shots;
