//! The daily checks as they went by, and whether a full re-check is due.

use holdline_geom::measured::Measured;

use super::answer::{Outcome, draw_answer, said};
use super::{Flow, numbered};
use crate::figure::{Coverage, figure, plain};
use crate::frame::{LEAST_PT, Paper, TitleBlock, heading_mm};
use crate::geometry::{Rect, pt};
use crate::ink::Ink;
use crate::line::Line;
use crate::page::{Page, Pen, Type};
use crate::plot::{FLAG_MM, Flag, Level, Mark, Plot, draw_flag, draw_plot};
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
    /// What is to be looked at.
    pub flag: MorningFlag,
}

/// What one morning called for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum MorningFlag {
    /// Nothing.
    #[default]
    None,
    /// A full re-check.
    RecheckDue,
    /// A limit did not hold; that is more than a re-check due.
    LimitFailed,
}

impl MorningFlag {
    fn shape(self) -> Flag {
        match self {
            MorningFlag::None => Flag::None,
            MorningFlag::RecheckDue => Flag::Triangle,
            MorningFlag::LimitFailed => Flag::Cross,
        }
    }
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
    /// Checks, in any order; they are drawn by their day.
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
        draw_due(&mut flow, history, words);
        draw_flag_key(&mut flow, history, words);
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
            page.description = said(&history.block, &words.due, &history.due, words);
        }
        flow.pages
    })
}

fn draw_due(flow: &mut Flow<'_>, history: &History, words: &Words) {
    let at = Rect {
        top: flow.y,
        ..flow.field
    };
    let answer = (history.outcome, history.due.as_str());
    flow.y += draw_answer(flow.page(), at, 11.0, &history.block, answer, words) + 1.0;
}

/// What the shapes about the points mean, where there are any.
fn draw_flag_key(flow: &mut Flow<'_>, history: &History, words: &Words) {
    let set = Type::strong(LEAST_PT);
    let (left, y, width) = (flow.field.left, flow.y, flow.field.width());
    let mut used: f64 = 0.0;
    for flag in [MorningFlag::RecheckDue, MorningFlag::LimitFailed] {
        if history.checks.iter().all(|check| check.flag != flag) {
            continue;
        }
        let means = if flag == MorningFlag::LimitFailed {
            &words.limit_failed
        } else {
            &words.recheck_due
        };
        let row = y + used;
        let page = flow.page();
        let sign = pt(left + 2.0 * FLAG_MM, row + set.line_mm() / 2.0 + 0.5);
        draw_flag(page, sign, flag.shape());
        let indent = 4.0 * FLAG_MM + 1.0;
        used += page.paragraph(pt(left + indent, row + 0.5), width - indent, set, means) + 1.5;
    }
    flow.y += used;
}

/// Checks whose day is known, oldest first.
fn by_day(history: &History) -> Vec<&Daily> {
    let known = |c: &&Daily| c.since_first_days.is_finite();
    let mut checks: Vec<&Daily> = history.checks.iter().filter(known).collect();
    checks.sort_by(|a, b| a.since_first_days.total_cmp(&b.since_first_days));
    checks
}

pub(super) fn history_plot(history: &History, words: &Words) -> Plot {
    let lengths = history.block.lengths;
    let per_m = lengths.small_per_m();
    let shown = |m: f64| m * per_m;
    let kind = lengths.difference();
    let mut levels = Vec::new();
    for limit in history.tolerance_m.iter().flatten() {
        levels.push(Level {
            y: shown(*limit),
            words: format!(
                "{} {}",
                words.tolerance,
                plain(*limit, &kind, lengths.decimals(0))
            ),
            pen: Pen::new(Line::Steel, Ink::Ink),
        });
    }
    for limit in history.notice_m.iter().flatten() {
        levels.push(Level {
            y: shown(*limit),
            words: format!(
                "{} {}",
                history.notice_words,
                plain(*limit, &kind, lengths.decimals(1))
            ),
            pen: Pen::new(Line::Hidden, Ink::Ink),
        });
    }
    let checks = by_day(history);
    let first = checks.first().map_or(0.0, |c| c.since_first_days);
    let last = checks.last().map_or(1.0, |c| c.since_first_days);
    let pad = ((last - first) * 0.04).max(0.5);
    Plot {
        y_title: format!("{}, {}", words.difference, lengths.small_unit()),
        x_title: String::new(),
        x_ticks: checks
            .iter()
            .map(|c| (c.since_first_days, c.day.clone()))
            .collect(),
        x_range: [first - pad, last + pad],
        marks: checks
            .iter()
            .filter_map(|c| {
                Some(Mark {
                    x: c.since_first_days,
                    y: c.difference?.scaled(per_m),
                    flag: c.flag.shape(),
                })
            })
            .collect(),
        joined: true,
        band: history
            .tolerance_m
            .map(|[low, high]| [shown(low), shown(high)]),
        mean: None,
        levels,
        k: Coverage::Twice.k(),
        ..Plot::default()
    }
}

fn table(history: &History, words: &Words) -> Table {
    let kind = history.block.lengths.difference();
    // Newest first; one without a day stands at the head, to be seen.
    let mut checks: Vec<&Daily> = history.checks.iter().collect();
    checks.sort_by(|a, b| b.since_first_days.total_cmp(&a.since_first_days));
    let rows = checks
        .into_iter()
        .map(|c| {
            vec![
                Cell::words(c.day.clone()),
                c.difference.map_or_else(
                    || Cell::words("–"),
                    |d| Cell::Figure(figure(d, &kind, Coverage::Twice)),
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
