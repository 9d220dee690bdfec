//! Tables: columns that share the width, cells that wrap, rows that run on to the next page.

use crate::figure::Figure;
use crate::font::{drawable, wrap};
use crate::geometry::{Pt, Rect, pt};
use crate::page::{Anchor, Page, Pen, THIN, Type};
use crate::sign::{Sign, draw_sign};
use crate::{ink::Ink, line::Line};

/// Which side of its column a cell keeps to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// Left, for words.
    Left,
    /// Right, for figures.
    Right,
}

/// Head of a column.
#[derive(Debug, Clone, PartialEq)]
pub struct Column {
    /// Its words.
    pub title: String,
    /// Side.
    pub side: Side,
}

/// Short for a column; its title begins with a capital.
pub fn column(title: impl Into<String>, side: Side) -> Column {
    let title: String = title.into();
    let mut letters = title.chars();
    let first = letters
        .next()
        .map(|c| c.to_uppercase().collect::<String>())
        .unwrap_or_default();
    Column {
        title: format!("{first}{}", letters.as_str()),
        side,
    }
}

/// A cell.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// Words.
    Words(String),
    /// Words that matter most in their row.
    Strong(String),
    /// A value and, lighter, its uncertainty.
    Figure(Figure),
    /// A sign and its word.
    Signed(Sign, String),
}

impl Cell {
    /// Words.
    pub fn words(text: impl Into<String>) -> Cell {
        Cell::Words(text.into())
    }

    fn pieces(&self, size_pt: f64) -> Vec<(Type, String)> {
        match self {
            Cell::Words(text) => vec![(Type::regular(size_pt), text.clone())],
            Cell::Strong(text) | Cell::Signed(_, text) => {
                vec![(Type::strong(size_pt), text.clone())]
            }
            Cell::Figure(figure) => vec![
                (Type::strong(size_pt), figure.value_and_unit()),
                (Type::regular(size_pt), figure.uncertainty.clone()),
            ],
        }
    }

    /// Lines of pieces at a width: a figure stays on one line if it can, else breaks before its uncertainty.
    fn lines(&self, size_pt: f64, width_mm: f64) -> Vec<Vec<(Type, String)>> {
        let width_mm = width_mm - self.indent_mm(size_pt);
        let pieces = self.pieces(size_pt);
        if let [(value_set, value), (set, uncertainty)] = pieces.as_slice() {
            let whole = value_set.width_mm(value) + set.width_mm(" ") + set.width_mm(uncertainty);
            if whole <= width_mm {
                return vec![pieces.clone()];
            }
        }
        let mut lines = Vec::new();
        for (set, text) in pieces.iter().filter(|(_, text)| !text.is_empty()) {
            for line in wrap(set.face, set.size_pt, text, width_mm) {
                lines.push(vec![(*set, line)]);
            }
        }
        if lines.is_empty() {
            lines.push(Vec::new());
        }
        lines
    }

    fn widths(&self, size_pt: f64) -> (f64, f64) {
        let mut least = 0.0_f64;
        let mut whole = 0.0_f64;
        for (idx, (set, text)) in self.pieces(size_pt).iter().enumerate() {
            let text = drawable(text);
            for word in text.split(' ') {
                least = least.max(set.width_mm(word));
            }
            if matches!(self, Cell::Figure(_)) && idx == 0 {
                least = least.max(set.width_mm(&text));
            }
            let gap = if idx > 0 { set.width_mm(" ") } else { 0.0 };
            whole += set.width_mm(&text) + gap;
        }
        let indent = self.indent_mm(size_pt);
        (least + indent, whole + indent)
    }

    /// Room for the sign before the words.
    fn indent_mm(&self, size_pt: f64) -> f64 {
        match self {
            Cell::Signed(..) => 2.0 * SIGN_MM + 0.1 * size_pt + 1.0,
            Cell::Words(_) | Cell::Strong(_) | Cell::Figure(_) => 0.0,
        }
    }
}

impl From<Figure> for Cell {
    fn from(figure: Figure) -> Cell {
        Cell::Figure(figure)
    }
}

impl From<String> for Cell {
    fn from(text: String) -> Cell {
        Cell::Words(text)
    }
}

/// A table.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// Heads.
    pub columns: Vec<Column>,
    /// Rows, each with a cell a column.
    pub rows: Vec<Vec<Cell>>,
    /// Size of its words, pt.
    pub size_pt: f64,
}

/// Radius of a sign in a cell, mm.
const SIGN_MM: f64 = 1.5;
const PAD_X: f64 = 1.6;
const PAD_Y: f64 = 0.5;

/// A table at a width, ready to be drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct Laid<'a> {
    table: &'a Table,
    widths: Vec<f64>,
    head_mm: f64,
    rows_mm: Vec<f64>,
}

impl Table {
    /// Shares out a width: every column gets its longest word, what is left goes to those that would wrap.
    pub fn lay(&self, width_mm: f64) -> Laid<'_> {
        let size = self.size_pt;
        let mut least = Vec::new();
        let mut whole = Vec::new();
        for (idx, head) in self.columns.iter().enumerate() {
            let (mut low, mut high) = Cell::Words(head.title.clone()).widths(size);
            high = low.max(high / 2.0); // a head may take two lines
            for row in &self.rows {
                if let Some(cell) = row.get(idx) {
                    let (l, w) = cell.widths(size);
                    low = low.max(l);
                    high = high.max(w);
                }
            }
            least.push(low + 2.0 * PAD_X);
            whole.push(high + 2.0 * PAD_X);
        }
        let widths = share(width_mm, &least, &whole);
        let height = |cells: &mut dyn Iterator<Item = (f64, Cell)>| {
            let n = cells
                .map(|(width, cell)| cell.lines(size, width - 2.0 * PAD_X + 1e-9).len())
                .max()
                .unwrap_or(1);
            n as f64 * Type::regular(size).line_mm() + 2.0 * PAD_Y
        };
        let heads = self.columns.iter().map(|c| Cell::Words(c.title.clone()));
        let head_mm = height(&mut widths.iter().copied().zip(heads));
        let rows_mm = self
            .rows
            .iter()
            .map(|row| height(&mut widths.iter().copied().zip(row.iter().cloned())))
            .collect();
        Laid {
            table: self,
            widths,
            head_mm,
            rows_mm,
        }
    }
}

impl Laid<'_> {
    /// Height of the head and all rows from one on, mm.
    pub fn height_mm(&self, from_row: usize) -> f64 {
        self.head_mm + self.rows_mm.iter().skip(from_row).sum::<f64>()
    }

    /// Height of the tallest row, mm.
    pub fn tallest_mm(&self) -> f64 {
        self.rows_mm.iter().copied().fold(0.0, f64::max)
    }

    /// Width, mm.
    pub fn width_mm(&self) -> f64 {
        self.widths.iter().sum()
    }

    /// Draws head and rows from `from_row` on, as many as fit `most_mm`.
    ///
    /// Gives the row that comes next and the height taken. Without room for a single row nothing is drawn.
    pub fn draw(&self, page: &mut Page, at: Pt, from_row: usize, most_mm: f64) -> (usize, f64) {
        let mut next = from_row;
        let mut height = self.head_mm;
        while next < self.rows_mm.len() && height + self.rows_mm[next] <= most_mm + 1e-9 {
            height += self.rows_mm[next];
            next += 1;
        }
        if next == from_row && from_row < self.rows_mm.len() {
            return (from_row, 0.0);
        }
        let size = self.table.size_pt;
        page.begin("table", "");
        let mut y = at.y;
        let heads: Vec<Cell> = self
            .table
            .columns
            .iter()
            .map(|c| Cell::Words(c.title.clone()))
            .collect();
        self.draw_row(page, pt(at.x, y), &heads, Some(Type::soft(size)));
        y += self.head_mm;
        page.line(
            pt(at.x, y),
            pt(at.x + self.width_mm(), y),
            Pen::new(Line::Steel, Ink::Ink),
        );
        for idx in from_row..next {
            self.draw_row(page, pt(at.x, y), &self.table.rows[idx], None);
            y += self.rows_mm[idx];
            page.line(pt(at.x, y), pt(at.x + self.width_mm(), y), THIN);
        }
        page.end();
        (next, height)
    }

    fn draw_row(&self, page: &mut Page, at: Pt, cells: &[Cell], set: Option<Type>) {
        let mut left = at.x;
        for (idx, cell) in cells.iter().enumerate().take(self.widths.len()) {
            let width = self.widths[idx];
            let size = self.table.size_pt;
            let lines = cell.lines(size, width - 2.0 * PAD_X + 1e-9);
            let indent = cell.indent_mm(size);
            if let Cell::Signed(sign, _) = cell {
                let y = at.y + PAD_Y + Type::regular(size).line_mm() / 2.0;
                draw_sign(page, pt(left + PAD_X + SIGN_MM, y), SIGN_MM, *sign);
            }
            for (line_idx, pieces) in lines.into_iter().enumerate() {
                let set_line = Type::regular(self.table.size_pt);
                let y = at.y + PAD_Y + set_line.drop_mm() + line_idx as f64 * set_line.line_mm();
                let pieces: Vec<(Type, String)> = pieces
                    .into_iter()
                    .map(|(s, t)| (set.unwrap_or(s), t))
                    .collect();
                self.draw_pieces(page, left + indent, width - indent, y, &pieces, idx);
            }
            left += width;
        }
    }

    fn draw_pieces(
        &self,
        page: &mut Page,
        left: f64,
        width: f64,
        y: f64,
        pieces: &[(Type, String)],
        column_idx: usize,
    ) {
        let pieces: Vec<_> = pieces.iter().filter(|(_, text)| !text.is_empty()).collect();
        let gap = Type::regular(self.table.size_pt).width_mm(" ");
        let total: f64 = pieces.iter().map(|(s, t)| s.width_mm(t)).sum::<f64>()
            + gap * pieces.len().saturating_sub(1) as f64;
        let mut x = match self.table.columns[column_idx].side {
            Side::Left => left + PAD_X,
            Side::Right => left + width - PAD_X - total,
        };
        for (set, text) in pieces {
            page.words(pt(x, y), Anchor::Start, *set, text);
            x += set.width_mm(text) + gap;
        }
    }

    /// The box that the table fills when drawn whole at a point.
    pub fn extent(&self, at: Pt) -> Rect {
        Rect::sized(at.x, at.y, self.width_mm(), self.height_mm(0))
    }
}

fn share(width: f64, least: &[f64], whole: &[f64]) -> Vec<f64> {
    let (sum_least, sum_whole) = (least.iter().sum::<f64>(), whole.iter().sum::<f64>());
    if sum_whole <= width {
        let spare = (width - sum_whole) / whole.len().max(1) as f64;
        return whole.iter().map(|w| w + spare).collect();
    }
    if sum_least >= width {
        // Words will break between letters.
        return least.iter().map(|l| l / sum_least * width).collect();
    }
    let part = (width - sum_least) / (sum_whole - sum_least);
    least
        .iter()
        .zip(whole)
        .map(|(l, w)| l + (w - l) * part)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_width_is_shared_out_whole() {
        for width in [20.0, 60.0, 100.0, 300.0] {
            let got = share(width, &[10.0, 20.0, 15.0], &[30.0, 60.0, 20.0]);
            assert!((got.iter().sum::<f64>() - width).abs() < 1e-9);
        }
    }

    #[test]
    fn rows_run_on() {
        let table = Table {
            columns: vec![column("one", Side::Left), column("two", Side::Right)],
            rows: (0..20)
                .map(|n| vec![Cell::words(n.to_string()), Cell::words("words")])
                .collect(),
            size_pt: 9.0,
        };
        let laid = table.lay(80.0);
        let mut page = Page::new(100.0, 100.0, "test");
        let (next, height) = laid.draw(&mut page, pt(5.0, 5.0), 0, 60.0);
        assert!(0 < next && next < 20 && height <= 60.0);
        let (end, _) = laid.draw(&mut page, pt(5.0, 5.0), next, 1000.0);
        assert_eq!(end, 20);
    }
}
