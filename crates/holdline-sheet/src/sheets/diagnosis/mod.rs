//! The diagnosis page: which fault the shots point to, and which they cannot tell from it.

mod input;

pub use input::{DiagnosisSheet, Found, Hypothesis, NextShot, ShotArrow};

use super::{Flow, numbered};
use crate::frame::Paper;
use crate::page::{Page, Type};
use crate::words::Words;

/// Draws the diagnosis.
pub fn render_diagnosis(sheet: &DiagnosisSheet, words: &Words) -> Vec<Page> {
    numbered(|of| {
        let mut flow = Flow::new(Paper::A3Landscape, &sheet.block, words, of);
        flow.paragraph(Type::strong(11.0), &sheet.decision);
        flow.pages
    })
}
