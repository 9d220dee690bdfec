//! Finds room for words in a drawing: never on other words, never off the field, seldom across steel.

use crate::font;
use crate::geometry::{Pt, Rect, pt};
use crate::page::{Anchor, Page, THIN, Type};

/// A few words in a row, each set its own way: a value and, lighter, its uncertainty.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Label {
    /// The pieces in order.
    pub pieces: Vec<(Type, String)>,
}

impl Label {
    /// One piece.
    pub fn new(set: Type, text: impl Into<String>) -> Label {
        Label {
            pieces: vec![(set, text.into())],
        }
    }

    /// With a piece more.
    #[must_use]
    pub fn and(mut self, set: Type, text: impl Into<String>) -> Label {
        self.pieces.push((set, text.into()));
        self
    }

    /// Width with a space between the pieces, mm.
    pub fn width_mm(&self) -> f64 {
        let mut width = 0.0;
        for (idx, (set, text)) in self.pieces.iter().enumerate() {
            width += set.width_mm(&font::drawable(text));
            if idx > 0 {
                width += set.width_mm(" ");
            }
        }
        width
    }

    /// Size of its largest piece, mm.
    pub fn size_mm(&self) -> f64 {
        self.pieces
            .iter()
            .map(|(set, _)| set.size_mm())
            .fold(0.0, f64::max)
    }

    /// Draws it with the start of its baseline at `at`.
    pub fn draw(&self, page: &mut Page, at: Pt, turn_rad: f64) {
        let mut pen = at;
        for (set, text) in &self.pieces {
            page.turned_words(pen, turn_rad, Anchor::Start, *set, text);
            let step = set.width_mm(&font::drawable(text)) + set.width_mm(" ");
            pen = pen.along(turn_rad, step);
        }
    }
}

/// Room taken in a field of a page.
#[derive(Debug, Clone, PartialEq)]
pub struct Placer {
    field: Rect,
    taken: Vec<[Pt; 4]>,
    lines: Vec<[Pt; 2]>,
}

/// Air around words, mm.
const AIR: f64 = 0.6;

impl Placer {
    /// An empty field.
    pub fn new(field: Rect) -> Placer {
        Placer {
            field,
            taken: Vec::new(),
            lines: Vec::new(),
        }
    }

    /// The field.
    pub fn field(&self) -> Rect {
        self.field
    }

    /// Keeps words off a box.
    pub fn take(&mut self, corners: [Pt; 4]) {
        self.taken.push(corners);
    }

    /// Keeps words off a line where that is possible.
    pub fn avoid(&mut self, from: Pt, to: Pt) {
        self.lines.push([from, to]);
    }

    /// Keeps words off the edges of an outline where that is possible.
    pub fn avoid_outline(&mut self, outline: &[Pt]) {
        for (idx, p) in outline.iter().enumerate() {
            self.lines.push([*p, outline[(idx + 1) % outline.len()]]);
        }
    }

    /// True when a box lies in the field and on no words.
    pub fn is_free(&self, corners: &[Pt; 4]) -> bool {
        let Some(around) = Rect::around(*corners) else {
            return false;
        };
        self.field.holds(&around, 1e-9)
            && self.taken.iter().all(|other| !boxes_meet(corners, other))
    }

    /// How many lines to be avoided run through a box.
    pub fn crossings(&self, corners: &[Pt; 4]) -> usize {
        let Some(around) = Rect::around(*corners) else {
            return usize::MAX;
        };
        self.lines
            .iter()
            .filter(|[a, b]| around.is_crossed(*a, *b) && segment_meets_box(*a, *b, corners))
            .count()
    }

    /// Puts a label at the best of some places: start of baseline and turn. Takes the room.
    ///
    /// Best: fewest lines crossed, then first in order. Gives where it went, or `None` with nothing
    /// drawn when all are taken.
    pub fn put_at_best(
        &mut self,
        page: &mut Page,
        label: &Label,
        places: &[(Pt, f64)],
    ) -> Option<(Pt, f64)> {
        let best = places
            .iter()
            .enumerate()
            .map(|(idx, (at, turn))| (idx, label_box(label, *at, *turn)))
            .filter(|(_, corners)| self.is_free(corners))
            .min_by_key(|(idx, corners)| (self.crossings(corners), *idx))?;
        let (at, turn) = places[best.0];
        if self.crossings(&best.1) > 0 {
            page.knock_out(best.1);
        }
        label.draw(page, at, turn);
        self.take(best.1);
        Some((at, turn))
    }

    /// Puts lines of labels as a block as near to `anchor` as there is room, with a leader when it had to
    /// go further than `near_mm`.
    ///
    /// Gives the block's box, or `None` with nothing drawn when the field is full.
    pub fn put_near(
        &mut self,
        page: &mut Page,
        labels: &[Label],
        anchor: Pt,
        near_mm: f64,
    ) -> Option<Rect> {
        let width = labels.iter().map(Label::width_mm).fold(0.0, f64::max) + 2.0 * AIR;
        let line = labels.iter().map(Label::size_mm).fold(0.0, f64::max) * font::LINE;
        let height = line * labels.len() as f64;
        let mut best: Option<(f64, Rect)> = None;
        let longest = self.field.width().hypot(self.field.height());
        let mut radius = near_mm;
        while radius < longest {
            for idx in 0..16 {
                let turn =
                    -std::f64::consts::FRAC_PI_4 + f64::from(idx) * std::f64::consts::TAU / 16.0;
                let block = block_around(anchor.along(turn, radius), turn, width, height);
                if !self.is_free(&block.corners()) {
                    continue;
                }
                let crossed = self.crossings(&block.corners()) as f64;
                let cost = radius + 14.0 * crossed + 0.01 * f64::from(idx);
                if best.is_none_or(|(least, _)| cost < least) {
                    best = Some((cost, block));
                }
            }
            if best.is_some_and(|(least, _)| least <= radius) {
                break;
            }
            radius += 2.5;
        }
        let (_, block) = best?;
        self.draw_block(page, labels, block, anchor, near_mm);
        Some(block)
    }

    fn draw_block(
        &mut self,
        page: &mut Page,
        labels: &[Label],
        block: Rect,
        anchor: Pt,
        near: f64,
    ) {
        let corners = block.corners();
        let end = pt(
            anchor.x.clamp(block.left, block.right),
            anchor.y.clamp(block.top, block.bottom),
        );
        if end.to(anchor) > near + 1.5 {
            page.line(anchor, end, THIN);
            page.dot(anchor, 0.5, THIN.ink);
            self.avoid(anchor, end);
        }
        if self.crossings(&corners) > 0 {
            page.knock_out(corners);
        }
        let line = block.height() / labels.len().max(1) as f64;
        for (idx, label) in labels.iter().enumerate() {
            let drop =
                label.size_mm() * (font::ABOVE + (font::LINE - font::ABOVE - font::BELOW) / 2.0);
            label.draw(
                page,
                pt(block.left + AIR, block.top + line * idx as f64 + drop),
                0.0,
            );
        }
        self.take(corners);
    }
}

/// The block whose nearest side or corner touches `touch`, seen in the direction `turn` from the anchor.
fn block_around(touch: Pt, turn: f64, width: f64, height: f64) -> Rect {
    let (cos, sin) = (turn.cos(), turn.sin());
    let left = touch.x + width * (cos - 1.0) / 2.0;
    let top = touch.y + height * (sin - 1.0) / 2.0;
    Rect::sized(left, top, width, height)
}

/// The box of a label with its baseline start at `at`, with air around it.
pub fn label_box(label: &Label, at: Pt, turn_rad: f64) -> [Pt; 4] {
    let size = label.size_mm();
    let down = turn_rad + std::f64::consts::FRAC_PI_2;
    let (up_mm, down_mm) = (
        size * font::ABOVE + AIR / 2.0,
        size * font::BELOW + AIR / 2.0,
    );
    let start = at.along(turn_rad, -AIR);
    let end = at.along(turn_rad, label.width_mm() + AIR);
    [
        start.along(down, -up_mm),
        end.along(down, -up_mm),
        end.along(down, down_mm),
        start.along(down, down_mm),
    ]
}

/// True when two turned boxes share more than an edge (separating axes).
pub fn boxes_meet(a: &[Pt; 4], b: &[Pt; 4]) -> bool {
    let apart = |axis: Pt| {
        let span = |corners: &[Pt; 4]| {
            corners
                .iter()
                .map(|p| p.x * axis.x + p.y * axis.y)
                .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), x| {
                    (low.min(x), high.max(x))
                })
        };
        let ((a_low, a_high), (b_low, b_high)) = (span(a), span(b));
        a_high <= b_low + 1e-9 || b_high <= a_low + 1e-9
    };
    let axes = |c: &[Pt; 4]| {
        let along = |p: Pt, q: Pt| {
            let length = p.to(q).max(1e-12);
            pt((q.x - p.x) / length, (q.y - p.y) / length)
        };
        [along(c[0], c[1]), along(c[1], c[2])]
    };
    !axes(a).into_iter().chain(axes(b)).any(apart)
}

fn segment_meets_box(a: Pt, b: Pt, corners: &[Pt; 4]) -> bool {
    boxes_meet(corners, &[a, b, b.by(1e-6, 1e-6), a.by(1e-6, 1e-6)])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_never_meet_however_full_the_field() {
        let mut placer = Placer::new(Rect::sized(0.0, 0.0, 60.0, 40.0));
        let mut page = Page::new(60.0, 40.0, "test");
        let label = Label::new(Type::regular(9.0), "24.690 m");
        let mut n = 0;
        while placer
            .put_near(&mut page, std::slice::from_ref(&label), pt(30.0, 20.0), 2.0)
            .is_some()
        {
            n += 1;
            assert!(n < 100);
        }
        assert!(n >= 8, "{n}");
        let boxes: Vec<_> = page.runs().map(crate::page::Run::corners).collect();
        for (idx, a) in boxes.iter().enumerate() {
            for b in &boxes[idx + 1..] {
                assert!(!boxes_meet(a, b));
            }
        }
    }
}
