//! The words of the operator's card: blocks whose heading is run in.

use crate::font::{Face, drawable, wrap};
use crate::frame::draw_caution_sign;
use crate::geometry::{Rect, pt};
use crate::page::{Anchor, Page, Type};

/// A block of words down the right side: a run-in heading and its text.
pub(super) struct Block {
    pub(super) heading: String,
    pub(super) text: String,
    pub(super) caution: bool,
}

/// Height of a block in a width, mm.
pub(super) fn block_height_mm(width: f64, body: Type, block: &Block) -> f64 {
    let indent = if block.caution {
        body.size_mm() * 1.3
    } else {
        0.0
    };
    let rows = run_in(width - indent, body, block)
        .last()
        .map_or(0, |piece| piece.row + 1);
    rows as f64 * body.line_mm()
}

/// Draws a block from the top of a field.
pub(super) fn draw_block(page: &mut Page, at: Rect, body: Type, block: &Block) {
    let indent = if block.caution {
        body.size_mm() * 1.3
    } else {
        0.0
    };
    if block.caution {
        let radius = body.size_mm() * 0.48;
        draw_caution_sign(
            page,
            pt(at.left + radius, at.top + body.line_mm() / 2.0),
            radius,
        );
    }
    for piece in run_in(at.width() - indent, body, block) {
        let y = at.top + body.drop_mm() + piece.row as f64 * body.line_mm();
        page.words(
            pt(at.left + indent + piece.x, y),
            Anchor::Start,
            piece.set,
            &piece.text,
        );
    }
}

/// A piece of run-in words.
struct Piece {
    row: usize,
    x: f64,
    set: Type,
    text: String,
}

/// Wrapped words whose heading is strong and whose text runs on behind it.
fn run_in(width: f64, body: Type, block: &Block) -> Vec<Piece> {
    let strong = Type {
        face: Face::SemiBold,
        ..body
    };
    let heading = wrap(
        Face::SemiBold,
        body.size_pt,
        &format!("{}:", block.heading),
        width,
    );
    let text = drawable(&block.text);
    let words = heading
        .iter()
        .flat_map(|l| l.split(' '))
        .map(|w| (strong, w.to_owned()))
        .chain(
            text.split(' ')
                .flat_map(|w| wrap(body.face, body.size_pt, w, width))
                .map(|w| (body, w)),
        );
    let mut pieces: Vec<Piece> = Vec::new();
    let (mut row, mut x) = (0, 0.0);
    for (set, word) in words {
        let wide = set.width_mm(&word);
        if x > 0.0 && x + wide > width + 1e-6 {
            (row, x) = (row + 1, 0.0);
        }
        match pieces.last_mut() {
            Some(last) if last.row == row && last.set == set => {
                last.text.push(' ');
                last.text.push_str(&word);
            }
            _ => pieces.push(Piece {
                row,
                x,
                set,
                text: word,
            }),
        }
        x += wide + set.width_mm(" ");
    }
    pieces
}
