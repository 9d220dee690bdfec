//! holdline: where the bucket tooth is, proved.
//!
//! The rooms, in the order the work is done.

pub mod frames;
pub mod machine;
pub mod records;
pub mod sources;
pub mod tooth;
