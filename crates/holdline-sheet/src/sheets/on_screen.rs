//! The plots of a check alone, for a screen that shows the words and tables itself.

use super::check::{CheckSheet, component_plot};
use super::history::{History, history_plot};
use crate::geometry::Rect;
use crate::machine_view::Viewport;
use crate::page::{Page, Reading};
use crate::plot::{Plot, draw_plot, side_words_mm};
use crate::words::Words;

/// Size of words, pt: 16 px on a page of 96 px to the inch.
const SCREEN_PT: f64 = 12.0;

/// The differences of a check, a plot a direction.
pub fn check_on_screen(sheet: &CheckSheet, viewport: Viewport, words: &Words) -> Page {
    let plots = sheet.components.iter().enumerate();
    let plots = plots
        .map(|(idx, c)| component_plot(sheet, c, idx, words))
        .collect();
    let said = format!("{}: {}", words.decision, sheet.decision);
    plots_page(plots, viewport, &words.differences, said)
}

/// The differences of the daily checks, day by day.
pub fn history_on_screen(history: &History, viewport: Viewport, words: &Words) -> Page {
    let said = format!("{}: {}", words.due, history.due);
    plots_page(
        vec![history_plot(history, words)],
        viewport,
        &words.history,
        said,
    )
}

fn plots_page(mut plots: Vec<Plot>, viewport: Viewport, title: &str, said: String) -> Page {
    let (width, height) = viewport.size_mm();
    let mut page = Page::new(width, height, title);
    page.reading = Reading::Picture;
    page.description = said;
    let field = page.paper().inset(1.0);
    let side = plots
        .iter()
        .map(|p| side_words_mm(p, field.width(), SCREEN_PT));
    let side = side.fold(0.0, f64::max);
    let each = field.height() / plots.len().max(1) as f64;
    let last = plots.len().saturating_sub(1);
    for (idx, plot) in plots.iter_mut().enumerate() {
        plot.side_mm = side;
        if idx < last {
            plot.x_title.clear();
        }
        let top = field.top + each * idx as f64;
        let at = Rect::sized(field.left, top, field.width(), each - 1.5);
        page.begin("plot", plot.y_title.clone());
        draw_plot(&mut page, at, plot, SCREEN_PT);
        page.end();
    }
    page
}
