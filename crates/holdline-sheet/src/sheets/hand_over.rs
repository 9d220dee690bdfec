//! The hand-over sheet: the calibration as the numbers that a person keys in, and the proof that they do the same.

use super::{Flow, Outcome, numbered};
use crate::frame::{Paper, TitleBlock};
use crate::page::{Page, Type};
use crate::words::Words;

/// Input of the hand-over sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct HandOverSheet {
    /// Title block.
    pub block: TitleBlock,
    /// What the numbers are for, in the person's own words.
    pub system: String,
    /// Whether the numbers as rounded hold what was asked.
    pub outcome: Outcome,
    /// The same in words, with its figures.
    pub decision: String,
    /// The entries in the order in which they are keyed.
    pub entries: Vec<HandOverEntry>,
    /// What the system at hand has no entry for, a sentence each, with what it costs at the tooth.
    pub not_carried: Vec<String>,
    /// The tooth read back at poses.
    pub proof: Vec<ProofPose>,
    /// Who signs: roles.
    pub sign: Vec<String>,
    /// What a person must look at, a paragraph each.
    pub findings: Vec<String>,
}

/// An entry.
#[derive(Debug, Clone, PartialEq)]
pub struct HandOverEntry {
    /// Its label, as the person has typed it.
    pub label: String,
    /// The number as it is keyed, with its sign; `None`: it cannot be keyed.
    pub number: Option<String>,
    /// Its unit, as the person has typed it.
    pub unit: String,
    /// What it is on the machine.
    pub stands_for: String,
    /// The number before rounding, with its unit.
    pub exact: String,
    /// What the rounding moves at the tooth at the worst pose, m.
    pub rounding_m: Option<f64>,
    /// A remark: out of range and what then, sign turned; may be empty.
    pub remark: String,
}

/// The tooth at a pose, by the calibration and by the numbers keyed.
#[derive(Debug, Clone, PartialEq)]
pub struct ProofPose {
    /// Its name.
    pub pose: String,
    /// How to set the pose: joint angles or what the machine shows.
    pub words: String,
    /// By the calibration: forward, left, up; m.
    pub calibrated_m: [Option<f64>; 3],
    /// By the numbers as keyed: forward, left, up; m.
    pub keyed_m: [Option<f64>; 3],
    /// U (k = 2) that the display may differ by, m.
    pub allowed_m: Option<f64>,
}

/// Draws the hand-over sheet.
pub fn render_hand_over(sheet: &HandOverSheet, words: &Words) -> Vec<Page> {
    numbered(|of| {
        let mut flow = Flow::new(Paper::A4Landscape, &sheet.block, words, of);
        flow.paragraph(Type::strong(11.0), &sheet.decision);
        flow.pages
    })
}
