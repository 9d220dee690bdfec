//! holdline: where the bucket tooth is, proved.
//!
//! The rooms, in the order the work is done. Every frame and sign: [`frames`].

pub mod frames;

pub mod machine;

pub mod tooth;

pub mod calibrate;

pub mod records;

pub mod sources;
