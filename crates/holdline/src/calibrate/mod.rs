//! Is the tooth where the screen says, how sure is that, and if it is not, what is off?
//!
//! In the order of the work: what was measured, what follows from it, the proof, what drifted, what can be held.

pub mod observations;

pub mod calibration;

pub mod circle;
pub mod hand_over;
pub mod linear_start;
pub mod next;
pub mod pin_arc;
pub mod swing_circle;
pub mod two_face;
pub mod working_poses;

pub mod check_shots;
mod clear;
pub mod daily;
pub mod decision;
pub mod shared;
mod single_shots;

mod equations;
pub mod field_fits;
pub mod fit;
pub mod unknowns;

pub mod diagnose;

pub mod readiness;

pub mod budget;
pub mod chain;

pub mod explain;
