//! The budget sheet: how sure the tooth is over the envelope, what makes it so, and what it is enough for.

mod input;

pub use input::{BudgetSheet, Growth, PoseBudget, Share, UMap};

use super::{Flow, numbered};
use crate::frame::Paper;
use crate::page::{Page, Type};
use crate::words::Words;

/// Draws the budget sheet.
pub fn render_budget(sheet: &BudgetSheet, words: &Words) -> Vec<Page> {
    numbered(|of| {
        let mut flow = Flow::new(Paper::A3Landscape, &sheet.block, words, of);
        flow.paragraph(Type::strong(11.0), &sheet.decision);
        flow.pages
    })
}
