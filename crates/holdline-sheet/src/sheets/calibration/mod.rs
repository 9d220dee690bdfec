//! The calibration report: what the figures were and are, how sure, and what that rests on.

mod input;

pub use input::{
    CalibratedRow, CalibrationSheet, Correlations, Counts, Fate, PoseLine, Residual, ToothSure,
};

use super::{Flow, numbered};
use crate::frame::Paper;
use crate::page::{Page, Type};
use crate::words::Words;

/// Draws the calibration report.
pub fn render_calibration(sheet: &CalibrationSheet, words: &Words) -> Vec<Page> {
    numbered(|of| {
        let mut flow = Flow::new(Paper::A3Landscape, &sheet.block, words, of);
        flow.paragraph(Type::strong(11.0), &sheet.decision);
        flow.pages
    })
}
