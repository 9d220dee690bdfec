#![doc = include_str!("../README.md")]

pub mod adjust;
pub mod draws;
pub mod fault;
pub mod frame;
pub mod hull;
pub mod measured;
pub mod stats;
pub mod triangle;
