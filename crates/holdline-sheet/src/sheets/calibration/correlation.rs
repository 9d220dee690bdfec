//! Correlations as a picture: a cell a pair, its number in it, its size by lightness.

use super::CalibrationSheet;
use crate::figure::{Sign, rounded};
use crate::font::{CAPITAL, wrap};
use crate::geometry::{Rect, closed_path, pt};
use crate::ink::Ink;
use crate::line::Line;
use crate::page::{Anchor, Page, Pen, THIN, Type};
use crate::words::Words;

/// Named as a strong pair from here on.
const STRONG: f64 = 0.9;
/// Strong pairs named at most.
const MOST_PAIRS: usize = 8;

/// The correlation of two entries of the matrix, the larger index first; `None` where there is none.
fn correlation(sheet: &CalibrationSheet, row: usize, column: usize) -> Option<f64> {
    let at = row * row.checked_sub(1)? / 2 + column;
    let value = sheet.correlations.below.get(at).copied()?;
    value.is_finite().then_some(value)
}

fn name(sheet: &CalibrationSheet, entry: usize) -> String {
    let row = sheet.correlations.rows.get(entry).copied();
    let figure = row.and_then(|r| sheet.figures.get(r).map(|f| (r, f)));
    figure.map_or_else(String::new, |(r, f)| format!("{} {}", r + 1, f.name))
}

/// Strong pairs in words.
pub(super) fn strong_pairs(sheet: &CalibrationSheet, words: &Words) -> String {
    let n = sheet.correlations.rows.len();
    let mut pairs = Vec::new();
    for row in 1..n {
        for column in 0..row {
            if let Some(r) = correlation(sheet, row, column).filter(|r| STRONG <= r.abs()) {
                pairs.push((r, row, column));
            }
        }
    }
    pairs.sort_by(|a, b| b.0.abs().total_cmp(&a.0.abs()));
    if pairs.is_empty() {
        return words.no_strong_pair.to_string();
    }
    let more = pairs.len().saturating_sub(MOST_PAIRS);
    let mut named: Vec<String> = pairs
        .iter()
        .take(MOST_PAIRS)
        .map(|(r, row, column)| {
            let (a, b) = (name(sheet, *column), name(sheet, *row));
            format!("{a} / {b} {}", rounded(*r, 2, Sign::Both))
        })
        .collect();
    if more > 0 {
        named.push(format!("{more} {}", words.more));
    }
    format!("{}: {}.", words.strong_pairs, named.join("; "))
}

/// Draws the matrix below its diagonal.
pub(super) fn draw(
    page: &mut Page,
    at: Rect,
    sheet: &CalibrationSheet,
    size_pt: f64,
    words: &Words,
) {
    let n = sheet.correlations.rows.len();
    if n < 2 {
        return;
    }
    let set = Type::regular(size_pt);
    let foot = set.line_mm() * 2.0 + 3.0;
    let names_mm = (0..n)
        .map(|idx| set.width_mm(&name(sheet, idx)))
        .fold(0.0, f64::max)
        .min(at.width() * 0.36);
    let cell_width = ((at.width() - names_mm - 3.0) / n as f64).min(13.0);
    let cell_height = ((at.height() - foot - set.line_mm()) / n as f64).min(9.0);
    if cell_height < set.line_mm() {
        // More figures than lines: nothing could be read. The strong pairs stand in words.
        page.paragraph(
            pt(at.left, at.top),
            at.width(),
            set,
            &words.matrix_too_large,
        );
        return;
    }
    let figures_fit = set.width_mm("−0.00") <= cell_width;
    page.begin("correlations", words.correlations.to_string());
    let left = at.left + names_mm + 3.0;
    for row in 0..n {
        let y = at.top + cell_height * row as f64;
        let base = y + cell_height / 2.0 + set.size_mm() * CAPITAL / 2.0;
        let lines = wrap(set.face, set.size_pt, &name(sheet, row), names_mm + 1e-6);
        let first = lines.first().cloned().unwrap_or_default();
        let text = if lines.len() > 1 {
            format!("{first}…")
        } else {
            first
        };
        page.words(pt(at.left, base), Anchor::Start, set, &text);
        for column in 0..row {
            let cell = Rect::sized(
                left + cell_width * column as f64,
                y,
                cell_width,
                cell_height,
            );
            draw_cell(
                page,
                cell,
                correlation(sheet, row, column),
                figures_fit,
                set,
            );
        }
        let cell = Rect::sized(left + cell_width * row as f64, y, cell_width, cell_height);
        let number = sheet.correlations.rows[row] + 1;
        let middle = pt(cell.centre().x, base);
        page.words(
            middle,
            Anchor::Middle,
            Type::soft(size_pt),
            &number.to_string(),
        );
    }
    draw_key(page, at, foot, size_pt, words);
    page.end();
}

fn draw_cell(page: &mut Page, cell: Rect, value: Option<f64>, figures_fit: bool, set: Type) {
    let pen = Pen::new(Line::Hatch, Ink::Soft);
    let Some(value) = value else {
        page.rect(cell, pen);
        return;
    };
    page.shape(closed_path(&cell.corners()), pen, face(value));
    if figures_fit {
        let set = if STRONG <= value.abs() {
            Type::strong(set.size_pt)
        } else {
            set
        };
        let base = cell.centre().y + set.size_mm() * CAPITAL / 2.0;
        let text = rounded(value, 2, Sign::Both);
        page.words(pt(cell.centre().x, base), Anchor::Middle, set, &text);
    }
}

/// Five steps of lightness for 0 to 1.
fn face(value: f64) -> Ink {
    let step = (value.abs() * 5.0).floor().clamp(0.0, 4.0) as usize;
    if step == 0 {
        Ink::Paper
    } else {
        Ink::BANDS[step]
    }
}

fn draw_key(page: &mut Page, at: Rect, foot: f64, size_pt: f64, words: &Words) {
    let set = Type::soft(size_pt);
    let y = at.bottom - foot + 2.0;
    let side = set.line_mm();
    let text: &str = &words.correlation_size;
    page.words(pt(at.left, y + set.drop_mm()), Anchor::Start, set, text);
    let mut left = at.left;
    let y = y + set.line_mm() + 0.4;
    for step in 0..5 {
        let value = f64::from(step) / 5.0 + 0.1;
        let cell = Rect::sized(left, y, side, side * 0.8);
        page.shape(closed_path(&cell.corners()), THIN, face(value));
        let text = format!(
            "{} {} {}",
            rounded(f64::from(step) / 5.0, 1, Sign::Minus),
            words.to,
            rounded(f64::from(step + 1) / 5.0, 1, Sign::Minus)
        );
        let at_words = pt(left + side + 1.2, y + set.drop_mm() - 0.1 * side);
        page.words(at_words, Anchor::Start, set, &text);
        left += side + 1.2 + set.width_mm(&text) + 4.0;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn strength_is_five_steps() {
        assert_eq!(face(0.19), Ink::Paper);
        assert_eq!(face(-0.95), Ink::Band5);
        assert_eq!(face(1.0), Ink::Band5);
        assert_eq!(face(f64::NAN), Ink::Paper);
    }
}
