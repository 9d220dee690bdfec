//! Table, bars and plot of the budget sheet.

use holdline_geom::measured::Measured;

use super::{Growth, PoseBudget};
use crate::bars::{Bar, Bars};
use crate::figure::{MILLIMETRES, NOT_KNOWN, Sign, plain, rounded};
use crate::frame::LEAST_PT;
use crate::geometry::Rect;
use crate::ink::Ink;
use crate::line::Line;
use crate::page::{Page, Pen};
use crate::plot::{Flag, Level, Mark, Plot, draw_plot};
use crate::table::{Cell, Side, Table, column};
use crate::words::Words;

/// U as it is printed: whole millimetres from 10 up, tenths below.
pub(super) fn u_text(u_m: Option<f64>) -> String {
    match u_m.filter(|u| u.is_finite()) {
        None => NOT_KNOWN.to_owned(),
        Some(u) => plain(u, &MILLIMETRES, if u.abs() < 0.009_95 { 1 } else { 0 }),
    }
}

pub(super) fn u_table(pose: &PoseBudget, words: &Words) -> Table {
    let rows = pose.u_m.iter().map(|(name, u)| {
        let text = match u {
            Some(_) => format!("± {}", u_text(*u)),
            None => u_text(None),
        };
        vec![Cell::words(name.clone()), Cell::Strong(text)]
    });
    Table {
        columns: vec![
            column(words.direction.to_string(), Side::Left),
            column(words.u_twice.to_string(), Side::Right),
        ],
        rows: rows.collect(),
        size_pt: LEAST_PT,
    }
}

pub(super) fn share_bars(pose: &PoseBudget, words: &Words) -> Bars {
    let bars = pose.shares.iter().map(|share| {
        let part = if share.part.is_finite() {
            format!("{} %", rounded(share.part * 100.0, 0, Sign::Minus))
        } else {
            NOT_KNOWN.to_owned()
        };
        let makes = share
            .at_tooth_m
            .map(|m| format!("{} {}", words.makes, u_text(Some(m))));
        let name = if share.sd.is_empty() {
            share.name.clone()
        } else {
            format!("{}, {}", share.name, share.sd)
        };
        let figures = std::iter::once(part).chain(makes);
        Bar {
            name,
            value: share.part,
            figures: figures.collect::<Vec<_>>().join(", "),
            strong: false,
        }
    });
    Bars {
        bars: bars.collect(),
        longest: Some(1.0),
        mark: None,
        bracket: 0,
        bracket_words: String::new(),
    }
}

pub(super) fn draw_growth(page: &mut Page, at: Rect, growth: &Growth, size_pt: f64, words: &Words) {
    let mut levels = Vec::new();
    if let Some(u) = growth.u_3d_m.filter(|u| u.is_finite()) {
        levels.push(Level {
            y: u * 1000.0,
            words: format!("{} {}", words.three_d, u_text(Some(u))),
            pen: Pen::new(Line::Steel, Ink::Ink),
        });
    }
    let n = growth.u_2d_m.len();
    let mut marks: Vec<Mark> = growth
        .u_2d_m
        .iter()
        .enumerate()
        .map(|(idx, u)| mark(idx as f64, *u, Flag::None))
        .collect();
    let crosses = growth.crosses_after.zip(growth.u_3d_m);
    if let Some((moves, u)) = crosses.filter(|(moves, _)| *moves <= n as f64 - 1.0) {
        marks.push(mark(moves, u, Flag::Triangle));
    }
    marks.sort_by(|a, b| a.x.total_cmp(&b.x));
    let plot = Plot {
        y_title: format!("{}, mm", words.u_twice),
        x_title: words.moves.to_string(),
        x_ticks: (0..n).map(|idx| (idx as f64, idx.to_string())).collect(),
        x_range: [-0.4, (n as f64 - 0.6).max(0.6)],
        marks,
        joined: true,
        levels,
        k: 1.0,
        y_sign: Sign::Minus,
        ..Plot::default()
    };
    page.begin("growth", words.growth.to_string());
    draw_plot(page, at, &plot, size_pt);
    page.end();
}

fn mark(x: f64, y_m: f64, flag: Flag) -> Mark {
    Mark {
        x,
        y: Measured {
            value: y_m * 1000.0,
            sd: None,
        },
        flag,
    }
}
