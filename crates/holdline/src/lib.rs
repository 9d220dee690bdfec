#![doc = include_str!("../README.md")]

pub mod frames;

pub mod machine;

pub mod tooth;

pub mod calibrate;

pub mod records;

pub mod sources;
