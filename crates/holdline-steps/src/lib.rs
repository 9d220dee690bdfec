#![doc = include_str!("../README.md")]

pub mod exit;
pub mod units;
pub mod views;

pub mod documents;
pub mod job;

pub mod machine_view;
pub mod sheet_form;

pub mod open_formats;
pub mod pose;
pub mod reach;
pub mod tooth_stream;

pub mod calibrate;

pub mod verify;

pub mod budget;

pub mod readiness;

pub mod records;
pub mod sheets;

pub mod demo;

pub mod explain;

mod chain_points;
mod drawings;
mod picture;
mod reading_ids;
mod stories;
