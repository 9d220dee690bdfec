//! The calibration report: what the figures were and are, how sure, and what that rests on.

mod correlation;
mod input;
mod poses;
mod residual_plot;
mod tables;

pub use input::{
    CalibratedRow, CalibrationSheet, Correlations, Counts, Fate, PoseLine, Residual, ToothSure,
};

use super::answer::said;
use super::{AIR, Flow, body, numbered};
use crate::frame::{LEAST_PT, Paper, heading_mm};
use crate::geometry::{Rect, pt};
use crate::legend::{draw_legend, legend_mm};
use crate::machine_view::{Lettering, Viewport};
use crate::page::{Page, Reading, Type};
use crate::words::Words;

/// Height of a plot of residuals, mm.
const PLOT_MM: f64 = 34.0;
/// Height of the drawing of the tooth near, mid and far, mm.
const TOOTH_MM: f64 = 78.0;

/// Draws the calibration report on A3.
pub fn render_calibration(sheet: &CalibrationSheet, words: &Words) -> Vec<Page> {
    numbered(|of| {
        let mut flow = Flow::new(Paper::A3Landscape, &sheet.block, words, of);
        draw_first(&mut flow, sheet, words);
        draw_residuals(&mut flow, sheet, words);
        draw_together(&mut flow, sheet, words);
        draw_reliability(&mut flow, sheet, words);
        for page in &mut flow.pages {
            page.description = said(&sheet.block, &words.decision, &sheet.decision, words);
        }
        flow.pages
    })
}

/// What was not determined, the answer, the figures, the tooth.
fn draw_first(flow: &mut Flow<'_>, sheet: &CalibrationSheet, words: &Words) {
    flow.start_page("–");
    draw_not_determined(flow, sheet, words);
    let top = flow.y;
    let field = flow.field;
    let split = field.left + field.width() * 0.6;
    let first = flow.pages.len();
    flow.column(split + AIR, field.right);
    flow.y = top;
    flow.section(&words.decision, 10.0);
    flow.answer(13.0, (sheet.outcome, &sheet.decision));
    flow.paragraph(body(), &sheet.measured);
    if !sheet.tooth.is_empty() {
        flow.section(&words.tooth_sure, TOOTH_MM);
        flow.table(&tables::tooth_table(sheet, words));
        let room = flow.room_mm().clamp(TOOTH_MM * 0.6, 1.5 * TOOTH_MM);
        flow.picture(room, |page, at| {
            poses::draw_tooth(page, at, sheet, &Lettering::PAPER, words);
        });
    }
    // The figures on the left of the same page, and on from there.
    let on_first = flow.pages.len() == first;
    if on_first {
        flow.column(field.left, split);
        flow.y = top;
    }
    flow.section(&words.calibrated_figures, 12.0);
    flow.table(&tables::figures_table(sheet, words));
    flow.findings(&sheet.findings);
}

fn draw_not_determined(flow: &mut Flow<'_>, sheet: &CalibrationSheet, words: &Words) {
    if sheet.not_determined.is_empty() {
        return;
    }
    flow.section(&words.not_determined, 8.0);
    for sentence in &sheet.not_determined {
        flow.caution(Type::strong(10.0), sentence);
    }
    flow.y += 1.0;
}

fn draw_residuals(flow: &mut Flow<'_>, sheet: &CalibrationSheet, words: &Words) {
    if sheet.residuals.is_empty() {
        return;
    }
    flow.start_page("–");
    let key = residual_plot::key(sheet, words);
    let key_mm = legend_mm(&key, flow.field.width(), LEAST_PT);
    flow.section(&words.residuals, key_mm + PLOT_MM);
    flow.picture(key_mm, |page, at| {
        let top_left = pt(at.left, at.top);
        draw_legend(page, top_left, at.width(), &key, LEAST_PT, &words.legend);
    });
    let kinds = residual_plot::kinds(&sheet.residuals);
    let poses = residual_plot::poses(&sheet.residuals, words);
    let rejected = tables::rejected_table(sheet, words);
    let rejected_mm = if rejected.rows.is_empty() {
        0.0
    } else {
        heading_mm() + 6.0 + rejected.lay(flow.field.width()).height_mm(0)
    };
    let room = flow.room_mm() - rejected_mm;
    let each = (room / kinds.len() as f64 - 2.01).clamp(PLOT_MM, 1.6 * PLOT_MM);
    for kind in &kinds {
        flow.picture(each, |page, at| {
            residual_plot::draw(page, at, sheet, kind, &poses, LEAST_PT, words);
        });
    }
    if !rejected.rows.is_empty() {
        flow.section(&words.rejected, 12.0);
        flow.table(&rejected);
    }
}

/// Correlations on the left, poses on the right, each as large as the page is high.
fn draw_together(flow: &mut Flow<'_>, sheet: &CalibrationSheet, words: &Words) {
    let with_poses = !(sheet.poses.is_empty() && sheet.next.is_empty());
    let with_matrix = 1 < sheet.correlations.rows.len();
    if !with_poses && !with_matrix {
        return;
    }
    flow.start_page("–");
    let field = flow.field;
    let split = field.left + field.width() * 0.52;
    if with_matrix {
        let right = if with_poses { split } else { field.right };
        flow.column(field.left, right);
        let page = flow.pages.len();
        flow.section(&words.correlations, 30.0);
        let strong = correlation::strong_pairs(sheet, words);
        let words_mm = crate::page::paragraph_height_mm(right - field.left, body(), &strong);
        let room = flow.room_mm() - words_mm - 3.0;
        flow.picture(room, |page, at| {
            correlation::draw(page, at, sheet, LEAST_PT, words);
        });
        flow.paragraph(body(), &strong);
        if flow.pages.len() != page {
            flow.start_page("–");
        }
    }
    if with_poses {
        let left = if with_matrix { split + AIR } else { field.left };
        flow.column(left, field.right);
        flow.section(&words.poses_measured, 60.0);
        let height = (flow.room_mm() * 0.55).min(110.0);
        flow.picture(height, |page, at| {
            poses::draw_poses(page, at, sheet, &Lettering::PAPER, words);
        });
        let key = poses::key(sheet, words);
        let key_mm = legend_mm(&key, flow.field.width(), LEAST_PT);
        flow.picture(key_mm, |page, at| {
            let top_left = pt(at.left, at.top);
            draw_legend(page, top_left, at.width(), &key, LEAST_PT, &words.legend);
        });
        if !sheet.next.is_empty() {
            flow.section(&words.next_poses, 12.0);
            flow.table(&tables::pose_table(&sheet.next, words));
        }
        if !sheet.poses.is_empty() {
            flow.section(&words.at_each_pose, 12.0);
            flow.table(&tables::pose_table(&sheet.poses, words));
        }
    }
}

fn draw_reliability(flow: &mut Flow<'_>, sheet: &CalibrationSheet, words: &Words) {
    if sheet.residuals.is_empty() {
        return;
    }
    // Below what has run on to a page of its own; never beside the matrix.
    if flow.is_in_column() {
        flow.start_page("–");
    }
    flow.section(&words.reliability, 12.0);
    flow.paragraph(body(), &words.reliability_words);
    flow.table(&tables::reliability_by_kind(sheet, words));
    let all = sheet.residuals.len() <= tables::LIST_ALL;
    if all {
        flow.section(&words.every_observation, 12.0);
    } else {
        flow.section(&words.to_look_at, 12.0);
        flow.paragraph(body(), &words.to_look_at_words);
    }
    flow.table_in_columns(&tables::observations_table(sheet, words), 2);
}

/// Least height of one kind's plot on a screen, mm.
const PLOT_AT_LEAST_MM: f64 = 38.0;

/// Residuals by kind and pose, for a screen: as wide as it is, and as high as its plots need.
pub fn residuals_on_screen(sheet: &CalibrationSheet, viewport: Viewport, words: &Words) -> Page {
    let size = Lettering::SCREEN.size_pt;
    let key = residual_plot::key(sheet, words);
    let (width_mm, height_mm) = viewport.size_mm();
    let key_mm = legend_mm(&key, width_mm - 2.0, size);
    let least_mm = key_mm + 3.0 + PLOT_AT_LEAST_MM * n_residual_plots(sheet) as f64;
    let high = Page::new(width_mm, height_mm.max(least_mm), &*words.residuals);
    let mut page = on_screen(high, sheet, words);
    let field = page.paper().inset(1.0);
    let at = pt(field.left, field.top);
    let used = draw_legend(&mut page, at, field.width(), &key, size, &words.legend) + 1.0;
    let kinds = residual_plot::kinds(&sheet.residuals);
    let poses = residual_plot::poses(&sheet.residuals, words);
    let each = (field.height() - used) / kinds.len().max(1) as f64;
    for (idx, kind) in kinds.iter().enumerate() {
        let top = field.top + used + each * idx as f64;
        let at = Rect::sized(field.left, top, field.width(), each - 1.5);
        residual_plot::draw(&mut page, at, sheet, kind, &poses, size, words);
    }
    page
}

/// Kinds of observations in a sheet: how many plots `residuals_on_screen` puts below each other.
pub fn n_residual_plots(sheet: &CalibrationSheet) -> usize {
    residual_plot::kinds(&sheet.residuals).len()
}

/// Correlations, for a screen.
pub fn correlations_on_screen(sheet: &CalibrationSheet, viewport: Viewport, words: &Words) -> Page {
    let mut page = screen(viewport, &words.correlations, sheet, words);
    page.description = correlation::strong_pairs(sheet, words);
    let field = page.paper().inset(1.0);
    correlation::draw(&mut page, field, sheet, Lettering::SCREEN.size_pt, words);
    page
}

/// The tooth near, mid and far, for a screen.
pub fn tooth_sure_on_screen(sheet: &CalibrationSheet, viewport: Viewport, words: &Words) -> Page {
    let mut page = screen(viewport, &words.tooth_sure, sheet, words);
    let field = page.paper().inset(1.0);
    page.map = poses::draw_tooth(&mut page, field, sheet, &Lettering::SCREEN, words);
    page
}

/// Poses measured and next, for a screen.
pub fn poses_on_screen(sheet: &CalibrationSheet, viewport: Viewport, words: &Words) -> Page {
    let mut page = screen(viewport, &words.poses_measured, sheet, words);
    let field = page.paper().inset(1.0);
    page.map = poses::draw_poses(&mut page, field, sheet, &Lettering::SCREEN, words);
    page
}

fn screen(viewport: Viewport, title: &str, sheet: &CalibrationSheet, words: &Words) -> Page {
    let (width, height) = viewport.size_mm();
    on_screen(Page::new(width, height, title), sheet, words)
}

fn on_screen(mut page: Page, sheet: &CalibrationSheet, words: &Words) -> Page {
    page.reading = Reading::Picture;
    page.description = format!("{}: {}", words.decision, sheet.decision);
    page
}
