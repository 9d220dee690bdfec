//! One thing after the other down the pages of a sheet, a new page when there is no room.

use super::answer::{Outcome, answer_height_mm, draw_answer};
use super::{AIR, body};
use crate::bars::Bars;
use crate::frame::{
    Frame, LEAST_PT, Paper, TitleBlock, draw_caution_sign, draw_heading, frame_for, framed_page,
    heading_mm,
};
use crate::geometry::{Rect, pt};
use crate::page::{Page, Type, paragraph_height_mm};
use crate::table::Table;
use crate::words::Words;

/// The pages so far, and where the next thing goes.
pub(super) struct Flow<'a> {
    pub(super) paper: Paper,
    pub(super) block: &'a TitleBlock,
    pub(super) words: &'a Words,
    pub(super) of: usize,
    pub(super) pages: Vec<Page>,
    pub(super) field: Rect,
    pub(super) y: f64,
    heading: String,
    in_column: bool,
}

impl<'a> Flow<'a> {
    pub(super) fn new(
        paper: Paper,
        block: &'a TitleBlock,
        words: &'a Words,
        of: usize,
    ) -> Flow<'a> {
        Flow {
            paper,
            block,
            words,
            of,
            pages: Vec::new(),
            field: Rect::sized(0.0, 0.0, 0.0, 0.0),
            y: 0.0,
            heading: String::new(),
            in_column: false,
        }
    }

    /// The field that the next page will have, without beginning it.
    pub(super) fn next_field(&self) -> Rect {
        let number = self.pages.len() + 1;
        let frame = frame_for(
            self.paper, self.block, self.words, "1 : 000", number, self.of,
        );
        frame.field.inset(AIR)
    }

    /// Begins a page; `scale` as printed.
    pub(super) fn start_page(&mut self, scale: &str) -> Frame {
        let number = self.pages.len() + 1;
        let (page, frame) = framed_page(self.paper, self.block, self.words, scale, number, self.of);
        self.pages.push(page);
        self.field = frame.field.inset(AIR);
        self.y = self.field.top;
        self.in_column = false;
        frame
    }

    pub(super) fn page(&mut self) -> &mut Page {
        if self.pages.is_empty() {
            self.start_page("–");
        }
        let last = self.pages.len() - 1;
        &mut self.pages[last]
    }

    pub(super) fn room_mm(&self) -> f64 {
        self.field.bottom - self.y
    }

    /// A new page unless there is room for so much.
    pub(super) fn need(&mut self, mm: f64) {
        let at_top = self.y <= self.field.top + 1e-9 && !self.in_column;
        if self.pages.is_empty() || (self.room_mm() < mm && !at_top) {
            self.start_page("–");
        }
    }

    /// What is left of the page beside a column; what overflows goes to a page of its own, full width.
    pub(super) fn column(&mut self, left: f64, right: f64) {
        (self.field.left, self.field.right) = (left, right);
        self.y = self.field.top;
        self.in_column = true;
    }

    /// Whether what comes next stands in a column beside something else.
    pub(super) fn is_in_column(&self) -> bool {
        self.in_column
    }

    /// A heading that will not stand alone at the foot of a page.
    pub(super) fn heading(&mut self, text: &str, with_mm: f64) {
        self.need(heading_mm() + with_mm);
        let at = pt(self.field.left, self.y);
        draw_heading(self.page(), at, text);
        self.y += heading_mm();
        self.heading = text.to_owned();
    }

    /// A heading with air above it, unless it stands at the top.
    pub(super) fn section(&mut self, text: &str, with_mm: f64) {
        if self.field.top < self.y {
            self.y += 2.0;
        }
        self.heading(text, with_mm);
    }

    /// A table, run on over as many pages as it needs.
    pub(super) fn table(&mut self, table: &Table) {
        let mut row = 0;
        while row < table.rows.len() {
            let laid = table.lay(self.field.width());
            let (at, room) = (pt(self.field.left, self.y), self.room_mm());
            let (next, height) = laid.draw(self.page(), at, row, room);
            self.y += height + 3.0;
            if next == row && self.y <= self.field.top + heading_mm() + 4.0 {
                break; // a single row higher than a page: nothing more can be done
            }
            row = next;
            if row < table.rows.len() {
                self.start_page("–");
                let text = format!("{}, {}", self.heading, self.words.continued);
                let at = pt(self.field.left, self.y);
                draw_heading(self.page(), at, &text);
                self.y += heading_mm();
            }
        }
    }

    /// A table in several columns side by side.
    pub(super) fn table_in_columns(&mut self, table: &Table, n: usize) {
        let n = n.max(1);
        let mut row = 0;
        while row < table.rows.len() {
            let width = (self.field.width() - AIR * (n - 1) as f64) / n as f64;
            let laid = table.lay(width);
            let (left, top, room) = (self.field.left, self.y, self.room_mm());
            let first = row;
            // The last page shares its rows out evenly.
            let rest = laid.height_mm(row) - laid.height_mm(table.rows.len());
            let head = laid.height_mm(table.rows.len());
            let even = rest / n as f64 + head + laid.tallest_mm();
            let room = room.min(even);
            let mut lowest = top;
            for column in 0..n {
                if row == table.rows.len() {
                    break;
                }
                let at = pt(left + (width + AIR) * column as f64, top);
                let (next, height) = laid.draw(self.page(), at, row, room);
                lowest = lowest.max(top + height);
                row = next;
            }
            self.y = lowest + 3.0;
            if row == first && top <= self.field.top + heading_mm() + 4.0 {
                break;
            }
            if row < table.rows.len() {
                self.start_page("–");
                let text = format!("{}, {}", self.heading, self.words.continued);
                let at = pt(self.field.left, self.y);
                draw_heading(self.page(), at, &text);
                self.y += heading_mm();
            }
        }
    }

    /// Words, kept together.
    pub(super) fn paragraph(&mut self, set: Type, text: &str) {
        if text.trim().is_empty() {
            return;
        }
        let height = paragraph_height_mm(self.field.width(), set, text);
        self.need(height);
        let height = paragraph_height_mm(self.field.width(), set, text);
        let (at, width) = (pt(self.field.left, self.y), self.field.width());
        self.page().paragraph(at, width, set, text);
        self.y += height + 1.0;
    }

    /// Sentences with their numbers, in an order that matters.
    pub(super) fn numbered_list(&mut self, items: &[String]) {
        let set = body();
        let indent = set.width_mm(&format!("{}  ", items.len()));
        for (idx, text) in items.iter().enumerate() {
            let height = paragraph_height_mm(self.field.width() - indent, set, text);
            self.need(height);
            let (left, y, width) = (self.field.left, self.y, self.field.width() - indent);
            let strong = Type::strong(LEAST_PT);
            let page = self.page();
            page.paragraph(pt(left, y), indent, strong, &(idx + 1).to_string());
            let height = page.paragraph(pt(left + indent, y), width, set, text);
            self.y += height + 1.0;
        }
    }

    /// Words to be wary of, with the sign before them.
    pub(super) fn caution(&mut self, set: Type, text: &str) {
        if text.trim().is_empty() {
            return;
        }
        let radius = set.size_mm() * 0.5;
        let indent = 2.0 * radius + 3.0;
        let height = paragraph_height_mm(self.field.width() - indent, set, text);
        self.need(height);
        let (left, y, width) = (self.field.left, self.y, self.field.width() - indent);
        let sign = pt(left + radius + 0.5, y + set.line_mm() / 2.0);
        let page = self.page();
        draw_caution_sign(page, sign, radius);
        self.y += page.paragraph(pt(left + indent, y), width, set, text) + 1.0;
    }

    /// The answer of the sheet, as a shape and in words.
    pub(super) fn answer(&mut self, size_pt: f64, answer: (Outcome, &str)) {
        let width = self.field.width();
        self.need(answer_height_mm(
            width, size_pt, self.block, answer.1, self.words,
        ));
        let at = Rect {
            top: self.y,
            ..self.field
        };
        let (block, words) = (self.block, self.words);
        let page = self.page();
        page.begin("decision", words.decision.to_string());
        let height = draw_answer(page, at, size_pt, block, answer, words);
        page.end();
        self.y += height + 1.0;
    }

    /// Bars, run on over as many pages as they need.
    pub(super) fn bars(&mut self, bars: &Bars) {
        let mut bars = bars.clone();
        for _ in 0..20 {
            let (at, width, room) = (
                pt(self.field.left, self.y),
                self.field.width(),
                self.room_mm(),
            );
            let (height, left) = bars.draw(self.page(), at, width, room, LEAST_PT);
            self.y += height + 2.0;
            if left == 0 {
                return;
            }
            let done = bars.bars.len() - left;
            bars.bars.drain(..done);
            bars.bracket = bars.bracket.saturating_sub(done);
            self.start_page("–");
        }
    }

    /// A picture of a height, and a gap below it.
    pub(super) fn picture(&mut self, height: f64, draw: impl FnOnce(&mut Page, Rect)) {
        self.need(height);
        let at = Rect {
            top: self.y,
            bottom: (self.y + height).min(self.field.bottom),
            ..self.field
        };
        draw(self.page(), at);
        self.y += height + 2.0;
    }

    /// Findings, a paragraph each, below what stands so far.
    pub(super) fn findings(&mut self, findings: &[String]) {
        if findings.iter().all(|f| f.trim().is_empty()) {
            return;
        }
        self.section(&self.words.findings, body().line_mm());
        for finding in findings {
            self.paragraph(body(), finding);
        }
    }
}
