//! The workbench's server over real TCP: its doors, and every call.

mod calls;
mod client;
mod doors;
