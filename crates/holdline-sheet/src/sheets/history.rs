//! The daily checks as they went by, and whether a full re-check is due.

use holdline_geom::measured::Measured;

use super::check::{Outcome, draw_outcome_sign};
use super::{Flow, numbered};
use crate::figure::{Coverage, MILLIMETRES_SIGNED, figure, plain};
use crate::frame::{LEAST_PT, Paper, TitleBlock, heading_mm};
use crate::geometry::{Rect, pt};
use crate::ink::Ink;
use crate::line::Line;
use crate::page::{Page, Pen, Type};
use crate::plot::{Level, Mark, Plot, draw_plot};
use crate::table::{Cell, Side, Table, column};
use crate::words::Words;

/// One daily check.
#[derive(Debug, Clone, PartialEq)]
pub struct Daily {
    /// Day, as printed.
    pub day: String,
    /// Days since the first one shown, for its place in the plot.
    pub since_first_days: f64,
    /// Shown less known, m.
    pub difference: Option<Measured>,
    /// Bucket and tooth chosen.
    pub chosen: String,
    /// Initials.
    pub who: String,
    /// What was found, in words.
    pub result: String,
}

/// Input of the history sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct History {
    /// Title block.
    pub block: TitleBlock,
    /// Name of the bench or nail and what is compared, such as `bench B1, height`.
    pub bench: String,
    /// Tolerance, m.
    pub tolerance_m: Option<[f64; 2]>,
    /// The part of it beyond which a full re-check is due, m.
    pub notice_m: Option<[f64; 2]>,
    /// Its words, such as `re-check beyond`.
    pub notice_words: String,
    /// Checks, oldest first.
    pub checks: Vec<Daily>,
    /// Whether a full re-check is due: within means it is not.
    pub outcome: Outcome,
    /// The same in words, with the reason.
    pub due: String,
}

/// The table goes below the plot if it takes no more than this part of the page.
const MOST_BELOW: f64 = 0.35;

/// Draws the history on A4.
pub fn render_history(history: &History, words: &Words) -> Vec<Page> {
    numbered(|of| {
        let mut flow = Flow::new(Paper::A4Landscape, &history.block, words, of);
        flow.start_page("–");
        let heading = format!("{}: {}", words.history, history.bench);
        flow.heading(&heading, 20.0);
        draw_due(&mut flow, history);
        let table = table(history, words);
        let table_mm = heading_mm() + table.lay(flow.field.width()).height_mm(0) + 3.0;
        let short = table_mm <= flow.field.height() * MOST_BELOW;
        let below = if short { table_mm + 2.0 } else { 0.0 };
        let height = (flow.room_mm() - below).max(30.0);
        let at = Rect::sized(flow.field.left, flow.y, flow.field.width(), height);
        draw_plot(flow.page(), at, &history_plot(history, words), LEAST_PT);
        if short {
            flow.y += height + 2.0;
        } else {
            flow.start_page("–");
        }
        flow.heading(&words.history, 0.0);
        flow.table(&table);
        for page in &mut flow.pages {
            page.description = format!("{}: {}", words.due, history.due);
        }
        flow.pages
    })
}

fn draw_due(flow: &mut Flow<'_>, history: &History) {
    let set = Type::strong(11.0);
    let (left, y, width) = (flow.field.left, flow.y, flow.field.width());
    let radius = set.size_mm() * 0.45;
    let page = flow.page();
    draw_outcome_sign(
        page,
        pt(left + radius + 0.5, y + set.line_mm() / 2.0),
        radius,
        history.outcome,
    );
    let indent = 2.0 * radius + 3.0;
    let used = page.paragraph(pt(left + indent, y), width - indent, set, &history.due);
    flow.y += used + 2.0;
}

pub(super) fn history_plot(history: &History, words: &Words) -> Plot {
    let mm = |m: f64| m * 1000.0;
    let mut levels = Vec::new();
    for limit in history.tolerance_m.iter().flatten() {
        levels.push(Level {
            y: mm(*limit),
            words: format!(
                "{} {}",
                words.tolerance,
                plain(*limit, &MILLIMETRES_SIGNED, 0)
            ),
            pen: Pen::new(Line::Steel, Ink::Ink),
        });
    }
    for limit in history.notice_m.iter().flatten() {
        levels.push(Level {
            y: mm(*limit),
            words: format!(
                "{} {}",
                history.notice_words,
                plain(*limit, &MILLIMETRES_SIGNED, 1)
            ),
            pen: Pen::new(Line::Hidden, Ink::Ink),
        });
    }
    let first = history.checks.first().map_or(0.0, |c| c.since_first_days);
    let last = history.checks.last().map_or(1.0, |c| c.since_first_days);
    let pad = ((last - first) * 0.04).max(0.5);
    Plot {
        y_title: format!("{}, mm", words.difference),
        x_title: String::new(),
        x_ticks: history
            .checks
            .iter()
            .map(|c| (c.since_first_days, c.day.clone()))
            .collect(),
        x_range: [first - pad, last + pad],
        marks: history
            .checks
            .iter()
            .filter_map(|c| {
                Some(Mark {
                    x: c.since_first_days,
                    y: c.difference?.scaled(1000.0),
                })
            })
            .collect(),
        joined: true,
        band: history.tolerance_m.map(|[low, high]| [mm(low), mm(high)]),
        mean: None,
        levels,
        k: Coverage::Twice.k(),
        ..Plot::default()
    }
}

fn table(history: &History, words: &Words) -> Table {
    let rows = history
        .checks
        .iter()
        .rev()
        .map(|c| {
            vec![
                Cell::words(c.day.clone()),
                c.difference.map_or_else(
                    || Cell::words("–"),
                    |d| Cell::Figure(figure(d, &MILLIMETRES_SIGNED, Coverage::Twice)),
                ),
                Cell::words(c.chosen.clone()),
                Cell::words(c.result.clone()),
                Cell::words(c.who.clone()),
            ]
        })
        .collect();
    Table {
        columns: vec![
            column(words.day.to_string(), Side::Left),
            column(words.difference.to_string(), Side::Right),
            column(words.tooth_point.to_string(), Side::Left),
            column(words.result.to_string(), Side::Left),
            column(words.who.to_string(), Side::Left),
        ],
        rows,
        size_pt: LEAST_PT,
    }
}
