//! The answer of a sheet, as a shape and in words; of a sheet that no longer counts, that first.

use super::body;
use crate::frame::{TitleBlock, draw_state_sign};
use crate::geometry::{Rect, pt};
use crate::page::{Page, Type, paragraph_height_mm};
use crate::sign::{Sign, draw_sign};
use crate::words::Words;

/// A decision's answer, for its shape.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    /// Within the tolerance, by the rule.
    Within,
    /// Not within it.
    Outside,
    /// Cannot be shown: something is missing.
    NotShown,
}

impl Outcome {
    /// Its shape.
    pub const fn sign(self) -> Sign {
        match self {
            Outcome::Within => Sign::Holds,
            Outcome::Outside => Sign::Fails,
            Outcome::NotShown => Sign::NotKnown,
        }
    }
}

/// The decision with its shape. On a sheet that no longer counts that stands large in its place, and what it said
/// once stands small below. Gives the height.
pub(super) fn draw_answer(
    page: &mut Page,
    at: Rect,
    size_pt: f64,
    block: &TitleBlock,
    (outcome, decision): (Outcome, &str),
    words: &Words,
) -> f64 {
    let over = block.state.is_over();
    let set = Type::strong(if over { 2.0 * size_pt } else { size_pt });
    let radius = set.size_mm() * if over { 0.4 } else { 0.5 };
    let sign = pt(at.left + radius + 0.5, at.top + set.line_mm() / 2.0);
    let indent = 2.0 * radius + 3.0;
    let beside = pt(at.left + indent, at.top);
    let width = at.width() - indent;
    if !over {
        draw_sign(page, sign, radius, outcome.sign());
        return page.paragraph(beside, width, set, decision) + 1.0;
    }
    draw_state_sign(page, sign, radius, &block.state);
    let used = page.paragraph(beside, width, set, &block.state.in_words(words)) + 1.0;
    let once = format!("{}: {decision}", words.it_said);
    used + page.paragraph(pt(at.left, at.top + used), at.width(), body(), &once) + 1.0
}

/// Height that the answer takes, mm.
pub(super) fn answer_height_mm(
    width: f64,
    size_pt: f64,
    block: &TitleBlock,
    decision: &str,
    words: &Words,
) -> f64 {
    let over = block.state.is_over();
    let set = Type::strong(if over { 2.0 * size_pt } else { size_pt });
    let radius = set.size_mm() * if over { 0.4 } else { 0.5 };
    let room = width - 2.0 * radius - 3.0;
    if !over {
        return paragraph_height_mm(room, set, decision) + 1.0;
    }
    let once = format!("{}: {decision}", words.it_said);
    let state = block.state.in_words(words);
    paragraph_height_mm(room, set, &state) + paragraph_height_mm(width, body(), &once) + 2.0
}

/// A decision for those who hear the sheet read: first whether it counts at all.
pub(super) fn said(block: &TitleBlock, head: &str, decision: &str, words: &Words) -> String {
    if block.state.is_over() {
        let state = block.state_in_words(words);
        format!("{state}. {}: {decision}", words.it_said)
    } else {
        format!("{head}: {decision}")
    }
}
