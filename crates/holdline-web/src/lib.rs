#![doc = include_str!("../README.md")]

mod answer;
mod calls;
mod doors;
mod page;
mod refusal;
mod server;
mod token;

pub use page::{NOT_BUILT, is_built};
pub use server::{
    OnReady, ServeOptions, Workbench, run_blocking, serve, serve_blocking, told_to_stop,
};
