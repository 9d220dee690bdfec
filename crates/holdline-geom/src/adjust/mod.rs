//! A general weighted adjustment: unknowns from readings, with how sure each one is and what cannot be told.
//!
//! Nothing here knows what is adjusted. What is given are [`Equations`]: blocks of rows that hold at the truth,
//! each with its own readings and their covariance.

pub mod equations;

pub use equations::{Equations, Linear, Prior, Shape, Unknown};
