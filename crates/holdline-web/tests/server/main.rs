//! The workbench's server over real TCP: its doors, and every call.

mod calibrate;
mod calls;
mod client;
mod doors;
