//! The readiness sheet: which jobs this machine can do as it is fitted out, and what is missing for the next.

use super::{Flow, numbered};
use crate::frame::{Paper, TitleBlock};
use crate::page::{Page, Type};
use crate::words::Words;

/// Whether a job can be done now.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ready {
    /// It can.
    Now,
    /// Something is missing.
    Missing,
    /// Not known: a figure or an uncertainty is not stated.
    NotKnown,
}

/// Input of the readiness sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct ReadinessSheet {
    /// Title block.
    pub block: TitleBlock,
    /// The answer in a sentence or two.
    pub summary: String,
    /// The jobs.
    pub rows: Vec<ReadyRow>,
    /// What a person must look at, a paragraph each.
    pub findings: Vec<String>,
}

/// A job.
#[derive(Debug, Clone, PartialEq)]
pub struct ReadyRow {
    /// The job: `2D depth and slope`, `3D`, `height limit`.
    pub job: String,
    /// Whether it can be done.
    pub ready: Ready,
    /// What the machine has for it.
    pub has: String,
    /// What is missing; empty: nothing.
    pub missing: String,
}

/// Draws the readiness sheet.
pub fn render_readiness(sheet: &ReadinessSheet, words: &Words) -> Vec<Page> {
    numbered(|of| {
        let mut flow = Flow::new(Paper::A4Landscape, &sheet.block, words, of);
        flow.paragraph(Type::strong(11.0), &sheet.summary);
        flow.pages
    })
}
