//! Bars: a name, a length that stands for a number, the number in figures.

use crate::font::wrap;
use crate::geometry::{Pt, Rect, closed_path, pt};
use crate::ink::Ink;
use crate::line::Line;
use crate::page::{Anchor, Page, Pen, STEEL, Type};

/// One bar.
#[derive(Debug, Clone, PartialEq)]
pub struct Bar {
    /// Words before it.
    pub name: String,
    /// What its length stands for; negative or not finite: no bar, the figures still stand.
    pub value: f64,
    /// Figures after it.
    pub figures: String,
    /// Drawn full, to stand out.
    pub strong: bool,
}

/// Bars below each other.
#[derive(Debug, Clone, PartialEq)]
pub struct Bars {
    /// The bars, in order.
    pub bars: Vec<Bar>,
    /// The value of the longest possible bar; none: the largest.
    pub longest: Option<f64>,
    /// A value to be marked across all bars, with its words.
    pub mark: Option<(f64, String)>,
    /// How many of the first are held together by a bracket.
    pub bracket: usize,
    /// Words at the bracket.
    pub bracket_words: String,
}

/// How the width is shared out.
struct Share {
    name_mm: f64,
    bar_mm: f64,
    figures_mm: f64,
    bracket_mm: f64,
}

const GAP: f64 = 2.0;
const BRACKET: f64 = 3.0;

impl Bars {
    fn share(&self, width: f64, set: Type) -> Share {
        let widest = |texts: &mut dyn Iterator<Item = f64>| texts.fold(0.0, f64::max);
        let strong = Type::strong(set.size_pt);
        let figures = widest(&mut self.bars.iter().map(|b| set.width_mm(&b.figures)));
        let names = widest(&mut self.bars.iter().map(|b| strong.width_mm(&b.name)));
        let bracket_mm = if self.bracket > 0 { BRACKET + GAP } else { 0.0 };
        let figures_mm = figures.min(width * 0.4);
        let room = width - bracket_mm - figures_mm - 2.0 * GAP;
        let name_mm = names.min(room * 0.62);
        Share {
            name_mm,
            bar_mm: (room - name_mm).max(1.0),
            figures_mm,
            bracket_mm,
        }
    }

    fn row_mm(&self, bar: &Bar, share: &Share, set: Type) -> f64 {
        let lines = self.lines(bar, share, set);
        lines.0.len().max(lines.1.len()) as f64 * set.line_mm() + 1.0
    }

    fn lines(&self, bar: &Bar, share: &Share, set: Type) -> (Vec<String>, Vec<String>) {
        let face = self.set_of(bar, set);
        (
            wrap(face.face, face.size_pt, &bar.name, share.name_mm + 1e-6),
            wrap(set.face, set.size_pt, &bar.figures, share.figures_mm + 1e-6),
        )
    }

    fn set_of(&self, bar: &Bar, set: Type) -> Type {
        if bar.strong {
            Type::strong(set.size_pt)
        } else {
            set
        }
    }

    fn foot_mm(&self, set: Type) -> f64 {
        if self.mark.is_some() {
            set.line_mm() + 0.6
        } else {
            0.0
        }
    }

    fn bracket_words_mm(&self, width: f64, set: Type) -> f64 {
        if self.bracket == 0 || self.bracket_words.is_empty() {
            return 0.0;
        }
        crate::page::paragraph_height_mm(width, Type::strong(set.size_pt), &self.bracket_words)
            + 1.0
    }

    /// Height in a width, mm.
    pub fn height_mm(&self, width: f64, size_pt: f64) -> f64 {
        let set = Type::regular(size_pt);
        let share = self.share(width, set);
        let rows = self.bars.iter().map(|b| self.row_mm(b, &share, set));
        rows.sum::<f64>() + self.foot_mm(set) + self.bracket_words_mm(width, set)
    }

    /// Draws as many as fit from the top left corner down; gives the height taken and how many are left.
    pub fn draw(
        &self,
        page: &mut Page,
        at: Pt,
        width: f64,
        most_mm: f64,
        size_pt: f64,
    ) -> (f64, usize) {
        let set = Type::regular(size_pt);
        let share = self.share(width, set);
        let longest = self.longest.unwrap_or_else(|| {
            let all = self.bars.iter().map(|b| b.value);
            all.filter(|v| v.is_finite()).fold(0.0, f64::max)
        });
        let mut y = at.y;
        if self.bracket_words_mm(width, set) > 0.0 {
            let strong = Type::strong(size_pt);
            y += page.paragraph(pt(at.x, y), width, strong, &self.bracket_words) + 1.0;
        }
        let start = y;
        let name_left = at.x + share.bracket_mm;
        let bar_left = name_left + share.name_mm + GAP;
        let per_unit = share.bar_mm / longest.max(1e-300);
        let mut left_over = 0;
        let mut bracket_end = start;
        for (idx, bar) in self.bars.iter().enumerate() {
            let height = self.row_mm(bar, &share, set);
            if y + height + self.foot_mm(set) > at.y + most_mm + 1e-6 {
                left_over = self.bars.len() - idx;
                break;
            }
            self.draw_bar(page, bar, (name_left, bar_left, y), &share, set, per_unit);
            y += height;
            if idx < self.bracket {
                bracket_end = y - 1.0;
            }
        }
        if self.bracket > 0 && start < bracket_end {
            draw_bracket(page, at.x, start, bracket_end);
        }
        let axis = Pen::new(Line::Thin, Ink::Ink);
        page.line(pt(bar_left, start), pt(bar_left, y - 0.5), axis);
        if let Some((value, words)) = &self.mark {
            let x = bar_left + (value * per_unit).clamp(0.0, share.bar_mm);
            page.line(pt(x, start), pt(x, y), Pen::new(Line::Hidden, Ink::Ink));
            let wide = set.width_mm(words);
            let right = at.x + width;
            let left = (x - wide / 2.0).min(right - wide).max(at.x);
            page.words(pt(left, y + set.drop_mm()), Anchor::Start, set, words);
            y += self.foot_mm(set);
        }
        (y - at.y, left_over)
    }

    fn draw_bar(
        &self,
        page: &mut Page,
        bar: &Bar,
        (name_left, bar_left, y): (f64, f64, f64),
        share: &Share,
        set: Type,
        per_unit: f64,
    ) {
        let (names, figures) = self.lines(bar, share, set);
        for (n, line) in names.iter().enumerate() {
            let base = y + set.drop_mm() + set.line_mm() * n as f64;
            page.words(
                pt(name_left, base),
                Anchor::Start,
                self.set_of(bar, set),
                line,
            );
        }
        let length = bar.value * per_unit;
        let held = if length.is_finite() {
            length.clamp(0.0, share.bar_mm)
        } else {
            0.0
        };
        let face = Rect::sized(bar_left, y + 0.6, held, set.line_mm() - 1.2);
        if held > 0.05 {
            let ink = if bar.strong { Ink::Soft } else { Ink::Steel };
            page.shape(
                closed_path(&face.corners()),
                Pen::new(Line::Thin, Ink::Ink),
                ink,
            );
        }
        if length > share.bar_mm + 1e-6 {
            // Longer than there is room for: two strokes across its end.
            for off in [2.0, 3.4] {
                let x = bar_left + share.bar_mm - off;
                page.line(pt(x - 0.8, face.bottom), pt(x + 0.8, face.top), STEEL);
            }
        }
        let left = bar_left + share.bar_mm + GAP;
        for (n, line) in figures.iter().enumerate() {
            let base = y + set.drop_mm() + set.line_mm() * n as f64;
            page.words(pt(left, base), Anchor::Start, set, line);
        }
    }
}

fn draw_bracket(page: &mut Page, x: f64, top: f64, bottom: f64) {
    let pen = STEEL;
    page.line(pt(x + 0.5, top), pt(x + 0.5, bottom), pen);
    page.line(pt(x + 0.5, top), pt(x + BRACKET, top), pen);
    page.line(pt(x + 0.5, bottom), pt(x + BRACKET, bottom), pen);
}
