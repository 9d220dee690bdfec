//! Reasons not to rely on the tooth, first and large on the operator's card.

use super::card::{CARD_PT, PAD};
use crate::frame::{State, draw_caution_sign};
use crate::geometry::{Rect, pt};
use crate::page::{FRAME, Page, Type};
use crate::words::Words;

/// A reason not to rely on the tooth: large and first on the card, which then has no picture.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CardWarning {
    /// What to do or not to do, short.
    pub head: String,
    /// Why; may be empty.
    pub because: String,
}

/// Every reason not to rely on the tooth; that the record no longer counts stands first.
pub(super) fn warnings_of(state: &State, own: &[CardWarning], words: &Words) -> Vec<CardWarning> {
    let (what, because) = match state {
        State::Superseded { by } => (format!("{} {by}", words.no_longer), ""),
        State::Stale { because } => (words.out_of_date.to_string(), because.as_str()),
        State::Preview | State::NotSigned | State::Signed { .. } => return own.to_vec(),
    };
    let first = CardWarning {
        head: format!("{}: {what}", words.do_not_use),
        because: because.to_owned(),
    };
    std::iter::once(first).chain(own.iter().cloned()).collect()
}

/// Every warning across the whole card, the first one largest; gives the height taken.
///
/// The sizes are those of the first head and of those after it, pt.
pub(super) fn draw_warnings(
    page: &mut Page,
    inner: Rect,
    warnings: &[CardWarning],
    [first_pt, next_pt]: [f64; 2],
) -> f64 {
    let field = inner.inset(PAD);
    let mut y = field.top;
    page.begin("warning", "");
    for (idx, warning) in warnings.iter().enumerate() {
        let set = Type::strong(if idx == 0 { first_pt } else { next_pt });
        let radius = set.size_mm() * 0.48;
        draw_caution_sign(
            page,
            pt(field.left + radius, y + set.line_mm() / 2.0),
            radius,
        );
        let indent = 2.0 * radius + 2.0;
        let width = field.width() - indent;
        y += page.paragraph(pt(field.left + indent, y), width, set, &warning.head);
        if !warning.because.is_empty() {
            let body = Type::regular(CARD_PT);
            let at = pt(field.left + indent, y);
            y += page.paragraph(at, width, body, &warning.because);
        }
        y += 1.0;
    }
    page.end();
    if warnings.is_empty() {
        return 0.0;
    }
    page.line(pt(inner.left, y), pt(inner.right, y), FRAME);
    y + 1.0 - field.top
}
