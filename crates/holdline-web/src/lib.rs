//! The workbench: a page in the browser, served by this computer to this person alone.
//!
//! The interface is written down in `API.md` beside this crate.
//!
//! # Caution
//!
//! Whoever has the address with its token can do all that the person at the keyboard can do with the open job.
//! It is printed once, and a new one is made at every start.

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
