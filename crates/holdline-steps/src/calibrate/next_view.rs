//! The best next poses to measure, as a list that a person can do in order.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// A pose to measure.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct NextPoseView {
    /// Which, in the order in which to go through them.
    pub number: u32,
    /// A name for its rows in the file.
    pub label: String,
    /// Joint angles, degrees.
    pub joints_deg: BTreeMap<String, f64>,
    /// Which way the house is to be turned from where it stands first, counter-clockwise from above +, degrees.
    pub swing_deg: f64,
    /// How the house is to lean, in words; empty where it does not matter.
    pub lean_text: String,
    /// What to do, in a sentence.
    pub words: String,
    /// What it is good for.
    pub gain_text: String,
    /// The machine in that pose, SVG; empty where none was asked for.
    pub section: String,
}

/// The poses.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct NextView {
    /// What they lead to.
    pub words: Vec<String>,
    /// Poses to measure, in this order.
    pub poses: Vec<NextPoseView>,
    /// Poses to shoot and not use in the fit.
    pub check_poses: Vec<NextPoseView>,
    /// A file of observations with a row a shot, to be filled in.
    pub csv: String,
    /// To be read before.
    pub cautions: Vec<String>,
}

/// Said before a machine is moved for measuring.
pub const CAUTION_NEXT: &str = "Only strokes, level track ground, tracks and house were looked at: not the real ground, nor what stands about or hangs above. Clear the swing, keep people out of reach, and let the operator decide what can be reached safely.";
