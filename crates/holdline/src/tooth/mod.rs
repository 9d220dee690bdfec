//! The tooth: from readings to where it is.

pub mod antennas;
pub mod attitude;
pub mod batch;
mod batch_kernel;
pub mod batch_model;
mod batch_place;
pub mod batch_spread;
#[cfg(test)]
mod batch_tests;
mod batch_work;
pub mod bounds;
pub mod edge;
pub mod fuzz;
mod lanes;
pub mod model;
pub mod place;
pub mod plan;
pub mod readings;
mod sincos;
pub mod uncertainty;
