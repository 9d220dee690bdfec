//! holdline: where the bucket tooth is, proved.
//!
//! The rooms, in the order the work is done.

pub mod machine;
