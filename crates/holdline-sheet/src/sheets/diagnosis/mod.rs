//! The diagnosis page: which fault the shots point to, and which they cannot tell from it.

mod input;
mod ranking;
mod views;

pub use input::{DiagnosisSheet, Found, Hypothesis, NextShot, ShotArrow};

use super::answer::{Outcome, said};
use super::{AIR, Flow, body, numbered};
use crate::frame::{LEAST_PT, Paper};
use crate::geometry::{Rect, pt};
use crate::machine_view::{Detail, Lettering, Said, Viewport, draw_section};
use crate::page::{Page, Reading, Type, paragraph_height_mm};
use crate::words::Words;

/// Part of the width that the views of the shots take.
const VIEWS: f64 = 0.56;
/// Height of the drawing of a next shot, mm.
const NEXT_MM: f64 = 62.0;

/// Draws the diagnosis on A3.
pub fn render_diagnosis(sheet: &DiagnosisSheet, words: &Words) -> Vec<Page> {
    numbered(|of| {
        let mut flow = Flow::new(Paper::A3Landscape, &sheet.block, words, of);
        flow.start_page("–");
        let field = flow.field;
        let left = Rect {
            right: field.left + field.width() * VIEWS,
            ..field
        };
        views::draw(flow.page(), left, sheet, &Lettering::PAPER, words);
        flow.column(left.right + AIR, field.right);
        draw_words(&mut flow, sheet, words);
        draw_next(&mut flow, sheet, words);
        flow.findings(&sheet.findings);
        for page in &mut flow.pages {
            page.description = said(&sheet.block, &words.diagnosis, &sheet.decision, words);
        }
        flow.pages
    })
}

fn outcome(found: Found) -> Outcome {
    match found {
        Found::NothingShown => Outcome::Within,
        Found::Fault => Outcome::Outside,
        Found::Unexplained | Found::NotLooked => Outcome::NotShown,
    }
}

fn draw_words(flow: &mut Flow<'_>, sheet: &DiagnosisSheet, words: &Words) {
    flow.section(&words.diagnosis, 10.0);
    flow.answer(13.0, (outcome(sheet.found), &sheet.decision));
    flow.caution(Type::strong(10.0), &words.nothing_adjusted);
    if !sheet.look_first.is_empty() {
        flow.section(&words.look_first, 8.0);
        flow.numbered_list(&sheet.look_first);
    }
    if !sheet.hypotheses.is_empty() {
        flow.section(&words.hypotheses, 20.0);
        flow.bars(&ranking::bars(sheet, words));
        let rest = ranking::rest_in_words(sheet, words);
        flow.paragraph(Type::soft(LEAST_PT), &rest);
        let table = ranking::estimates_table(sheet, words);
        if !table.rows.is_empty() {
            flow.y += 1.0;
            flow.section(&words.estimates, 12.0);
            flow.table(&table);
        }
    }
    flow.paragraph(Type::soft(LEAST_PT), &sheet.rule);
}

fn draw_next(flow: &mut Flow<'_>, sheet: &DiagnosisSheet, words: &Words) {
    if sheet.next.is_empty() {
        return;
    }
    for (idx, shot) in sheet.next.iter().enumerate() {
        // Words and picture of a shot stay together.
        let picture_mm = shot.machine.as_ref().map_or(0.0, |_| 0.7 * NEXT_MM);
        let words_mm = shot_words_mm(flow.field.width(), shot);
        if idx == 0 {
            flow.section(&words.next_shot, words_mm + picture_mm + 2.0);
        } else {
            flow.need(words_mm + picture_mm);
        }
        flow.paragraph(Type::strong(10.0), &shot.words);
        flow.paragraph(body(), &shot.separates);
        if shot.machine.is_some() {
            let most = if flow.is_in_column() {
                NEXT_MM
            } else {
                2.0 * NEXT_MM
            };
            let height = flow.room_mm().clamp(0.7 * NEXT_MM, most);
            flow.picture(height, |page, at| {
                draw_pose(page, at, shot, &Lettering::PAPER, words);
            });
        }
    }
}

fn shot_words_mm(width: f64, shot: &NextShot) -> f64 {
    paragraph_height_mm(width, Type::strong(10.0), &shot.words)
        + paragraph_height_mm(width, body(), &shot.separates)
        + 2.0
}

fn draw_pose(page: &mut Page, at: Rect, shot: &NextShot, lettering: &Lettering, words: &Words) {
    if let Some(machine) = &shot.machine {
        let lettering = Lettering {
            detail: Detail::Moving,
            // A pose to be set has no uncertainty.
            said: Said::Value,
            ..*lettering
        };
        draw_section(page, at, machine, &lettering, words);
    }
}

/// The shots' differences in section and plan, for a screen.
pub fn diagnosis_on_screen(sheet: &DiagnosisSheet, viewport: Viewport, words: &Words) -> Page {
    let mut page = screen(viewport, &words.differences, sheet, words);
    let field = page.paper().inset(1.0);
    views::draw(&mut page, field, sheet, &Lettering::SCREEN, words);
    page
}

/// The ranking of what may be wrong, for a screen.
pub fn ranking_on_screen(sheet: &DiagnosisSheet, viewport: Viewport, words: &Words) -> Page {
    let mut page = screen(viewport, &words.hypotheses, sheet, words);
    let field = page.paper().inset(1.0);
    let bars = ranking::bars(sheet, words);
    let at = pt(field.left, field.top);
    let size = Lettering::SCREEN.size_pt;
    bars.draw(&mut page, at, field.width(), field.height(), size);
    page
}

/// A next shot as a pose, for a screen; the first has number 0.
pub fn next_shot_on_screen(
    sheet: &DiagnosisSheet,
    number: usize,
    viewport: Viewport,
    words: &Words,
) -> Page {
    let mut page = screen(viewport, &words.next_shot, sheet, words);
    let field = page.paper().inset(1.0);
    if let Some(shot) = sheet.next.get(number) {
        draw_pose(&mut page, field, shot, &Lettering::SCREEN, words);
        page.description = format!("{} {}", shot.words, shot.separates);
    }
    page
}

fn screen(viewport: Viewport, title: &str, sheet: &DiagnosisSheet, words: &Words) -> Page {
    let (width, height) = viewport.size_mm();
    let mut page = Page::new(width, height, title);
    page.reading = Reading::Picture;
    page.description = format!("{}: {}", words.diagnosis, sheet.decision);
    page
}
