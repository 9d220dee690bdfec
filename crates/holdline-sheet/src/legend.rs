//! A legend: samples with their words, in rows that fill a width.

use crate::geometry::{Pt, Rect, circle, closed_path, pt};
use crate::hatch::{self, Hatch};
use crate::ink::Ink;
use crate::line::Line;
use crate::page::{Anchor, Page, Pen, Type};
use crate::plot::{Flag, draw_flag};

/// What stands before the words.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Sample {
    /// A line.
    Line(Pen),
    /// A face with a thin edge.
    Face(Ink),
    /// A hatching with a thin edge.
    Hatch(Hatch),
    /// A full dot.
    Dot,
    /// An open dot.
    Ring,
    /// A dot with a flag about it.
    Flagged(Flag),
}

/// Width of a sample, mm.
const SAMPLE: f64 = 9.0;
/// Between entries, mm.
const BETWEEN: f64 = 5.0;

/// A sample with its words.
pub type Entry = (Sample, String);

fn rows(entries: &[Entry], width: f64, set: Type) -> Vec<Vec<(usize, f64)>> {
    let mut rows: Vec<Vec<(usize, f64)>> = vec![Vec::new()];
    let mut x = 0.0;
    for (idx, (_, text)) in entries.iter().enumerate() {
        let need = SAMPLE + 1.5 + set.width_mm(text);
        if x > 0.0 && x + need > width {
            rows.push(Vec::new());
            x = 0.0;
        }
        if let Some(row) = rows.last_mut() {
            row.push((idx, x));
        }
        x += need + BETWEEN;
    }
    rows
}

fn step_mm(set: Type) -> f64 {
    set.line_mm() + 0.6
}

/// Height in a width, mm.
pub fn legend_mm(entries: &[Entry], width: f64, size_pt: f64) -> f64 {
    let set = Type::soft(size_pt);
    let lines: usize = rows(entries, width, set)
        .iter()
        .map(|row| row_lines(entries, row, width, set))
        .sum();
    lines as f64 * step_mm(set)
}

/// An entry alone in its row may wrap.
fn row_lines(entries: &[Entry], row: &[(usize, f64)], width: f64, set: Type) -> usize {
    match row {
        [(idx, _)] => words_of(&entries[*idx].1, width, set).len(),
        _ => 1,
    }
}

fn words_of(text: &str, width: f64, set: Type) -> Vec<String> {
    crate::font::wrap(set.face, set.size_pt, text, width - SAMPLE - 1.5)
}

/// Draws it from its top left corner down; gives the height taken, mm.
pub fn draw_legend(
    page: &mut Page,
    at: Pt,
    width: f64,
    entries: &[Entry],
    size_pt: f64,
    title: &str,
) -> f64 {
    let set = Type::soft(size_pt);
    let step = step_mm(set);
    page.begin("legend", title);
    let mut y = at.y;
    for row in rows(entries, width, set) {
        for (idx, x) in &row {
            let (sample, text) = &entries[*idx];
            draw_sample(page, pt(at.x + x, y + step / 2.0), *sample, step);
            let lines = match row.as_slice() {
                [_] => words_of(text, width, set),
                _ => vec![text.clone()],
            };
            for (n, line) in lines.iter().enumerate() {
                let base = y + 0.3 + set.drop_mm() + step * n as f64;
                page.words(pt(at.x + x + SAMPLE + 1.5, base), Anchor::Start, set, line);
            }
        }
        y += step * row_lines(entries, &row, width, set) as f64;
    }
    page.end();
    y - at.y
}

fn draw_sample(page: &mut Page, left: Pt, sample: Sample, step: f64) {
    let right = left.by(SAMPLE, 0.0);
    let middle = left.middle(right);
    let half = step * 0.36;
    let face = Rect {
        left: left.x,
        right: right.x,
        top: left.y - half,
        bottom: left.y + half,
    };
    let thin = Pen::new(Line::Thin, Ink::Ink);
    match sample {
        Sample::Line(pen) => page.line(left, right, pen),
        Sample::Face(ink) => page.shape(closed_path(&face.corners()), thin, ink),
        Sample::Hatch(pattern) => {
            hatch::draw(page, pattern, &face.corners());
            page.rect(face, thin);
        }
        Sample::Dot => page.dot(middle, 1.0, Ink::Ink),
        Sample::Ring => page.shape(circle(middle, 1.1), thin, Ink::Paper),
        Sample::Flagged(flag) => {
            draw_flag(page, middle, flag);
            page.dot(middle, 1.0, Ink::Ink);
        }
    }
}
