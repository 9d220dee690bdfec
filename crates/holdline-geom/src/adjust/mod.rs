//! A general weighted adjustment: unknowns from readings, with how sure each one is and what cannot be told.
//!
//! Nothing here knows what is adjusted. What is given are [`Equations`]: blocks of rows that hold at the truth,
//! each with its own readings and their covariance.

mod adjusted;
mod bend;
mod directions;
pub mod equations;
pub mod explain;
mod factor;
mod linearise;
mod plan;
mod search;
mod slopes;
mod small;
mod snoop;
mod solve;
mod statistics;

pub use adjusted::{Adjusted, Found};
pub use directions::{Direction, Part};
pub use equations::{Constraint, Equations, Excluded, Linear, Prior, Problem, Shape, Unknown};
pub use explain::EXPLAIN;
pub use slopes::{SlopeOff, check_slopes};
pub use snoop::{CORRELATION_SEPARABLE, Ended, Rejected, Sigma, SnoopRules, Snooped, snoop};
pub use solve::{How, Room, Start, adjust};
pub use statistics::{Fit, GlobalTest, Levels, Observed, REDUNDANCY_CHECKED, Statistics, Test};
