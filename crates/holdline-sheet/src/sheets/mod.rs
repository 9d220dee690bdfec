//! The sheets: pure functions from plain numbers to pages.

mod answer;
mod budget;
mod calibration;
mod card;
mod card_views;
mod card_warning;
mod card_words;
mod check;
mod diagnosis;
mod hand_over;
mod history;
mod machine;
mod on_screen;
mod readiness;

pub use answer::Outcome;
pub use budget::{BudgetSheet, Growth, PoseBudget, Share, UMap, render_budget};
pub use calibration::{
    CalibratedRow, CalibrationSheet, Correlations, Counts, Fate, PoseLine, Residual, ToothSure,
    render_calibration,
};
pub use card::{CARD_PT, Card, CardNumber, CardValue, MOST_NUMBERS, render_card};
pub use card_warning::CardWarning;
pub use check::{CheckSheet, Component, Shot, render_check};
pub use diagnosis::{DiagnosisSheet, Found, Hypothesis, NextShot, ShotArrow, render_diagnosis};
pub use hand_over::{HandOverEntry, HandOverSheet, ProofPose, render_hand_over};
pub use history::{Daily, History, MorningFlag, render_history};
pub use machine::{MachineSheet, MeasuredRow, render_machine};
pub use on_screen::{check_on_screen, history_on_screen};
pub use readiness::{ReadinessSheet, Ready, ReadyRow, render_readiness};

use crate::frame::{Frame, LEAST_PT, Paper, TitleBlock, draw_heading, framed_page, heading_mm};
use crate::geometry::{Rect, pt};
use crate::page::{Page, Type, paragraph_height_mm};
use crate::table::Table;
use crate::words::Words;

/// Air between the frame and what stands in it, mm.
const AIR: f64 = 4.0;

/// Draws pages until their number stays the same: it is printed on each of them.
fn numbered(mut draw: impl FnMut(usize) -> Vec<Page>) -> Vec<Page> {
    let mut pages = draw(1);
    for _ in 0..3 {
        let n = pages.len();
        if n == 1 {
            break;
        }
        pages = draw(n);
        if pages.len() == n {
            break;
        }
    }
    pages
}

/// One thing after the other down the pages of a sheet, a new page when there is no room.
struct Flow<'a> {
    paper: Paper,
    block: &'a TitleBlock,
    words: &'a Words,
    of: usize,
    pages: Vec<Page>,
    field: Rect,
    y: f64,
    heading: String,
}

impl<'a> Flow<'a> {
    fn new(paper: Paper, block: &'a TitleBlock, words: &'a Words, of: usize) -> Flow<'a> {
        let field = Rect::sized(0.0, 0.0, 0.0, 0.0);
        let heading = String::new();
        Flow {
            paper,
            block,
            words,
            of,
            pages: Vec::new(),
            field,
            y: 0.0,
            heading,
        }
    }

    /// Begins a page; `scale` as printed.
    fn start_page(&mut self, scale: &str) -> Frame {
        let number = self.pages.len() + 1;
        let (page, frame) = framed_page(self.paper, self.block, self.words, scale, number, self.of);
        self.pages.push(page);
        self.field = frame.field.inset(AIR);
        self.y = self.field.top;
        frame
    }

    fn page(&mut self) -> &mut Page {
        if self.pages.is_empty() {
            self.start_page("–");
        }
        let last = self.pages.len() - 1;
        &mut self.pages[last]
    }

    fn room_mm(&self) -> f64 {
        self.field.bottom - self.y
    }

    /// A heading that will not stand alone at the foot of a page.
    fn heading(&mut self, text: &str, with_mm: f64) {
        if self.pages.is_empty() || self.room_mm() < heading_mm() + with_mm {
            self.start_page("–");
        }
        let at = pt(self.field.left, self.y);
        draw_heading(self.page(), at, text);
        self.y += heading_mm();
        self.heading = text.to_owned();
    }

    /// A table, run on over as many pages as it needs.
    fn table(&mut self, table: &Table) {
        let laid = table.lay(self.field.width());
        let mut row = 0;
        while row < table.rows.len() {
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

    /// Words, kept together.
    fn paragraph(&mut self, set: Type, text: &str) {
        let height = paragraph_height_mm(self.field.width(), set, text);
        if self.pages.is_empty() || self.room_mm() < height {
            self.start_page("–");
        }
        let (at, width) = (pt(self.field.left, self.y), self.field.width());
        self.page().paragraph(at, width, set, text);
        self.y += height + 1.0;
    }
}

fn body() -> Type {
    Type::regular(LEAST_PT)
}
