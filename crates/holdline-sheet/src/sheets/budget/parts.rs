//! Table, bars and plot of the budget sheet.

use holdline_geom::measured::Measured;

use super::{Growth, PoseBudget};
use crate::bars::{Bar, Bars};
use crate::figure::{NOT_KNOWN, Sign, rounded};
use crate::frame::LEAST_PT;
use crate::geometry::Rect;
use crate::ink::Ink;
use crate::lengths::Lengths;
use crate::line::Line;
use crate::page::{Page, Pen};
use crate::plot::{Flag, Level, Mark, Plot, draw_plot};
use crate::table::{Cell, Side, Table, column};
use crate::words::Words;

pub(super) fn u_table(pose: &PoseBudget, lengths: Lengths, words: &Words) -> Table {
    let rows = pose.u_m.iter().map(|(name, u)| {
        let text = match u {
            Some(_) => format!("± {}", lengths.u_text(*u)),
            None => lengths.u_text(None),
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

pub(super) fn share_bars(pose: &PoseBudget, lengths: Lengths, words: &Words) -> Bars {
    let bars = pose.shares.iter().map(|share| {
        let part = if share.part.is_finite() {
            format!("{} %", rounded(share.part * 100.0, 0, Sign::Minus))
        } else {
            NOT_KNOWN.to_owned()
        };
        let makes = share
            .at_tooth_m
            .map(|m| format!("{} {}", words.makes, lengths.u_text(Some(m))));
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

pub(super) fn draw_growth(
    page: &mut Page,
    at: Rect,
    (growth, lengths): (&Growth, Lengths),
    size_pt: f64,
    words: &Words,
) {
    let mut levels = Vec::new();
    if let Some(u) = growth.u_3d_m.filter(|u| u.is_finite()) {
        levels.push(Level {
            y: u * lengths.small_per_m(),
            words: format!("{} {}", words.three_d, lengths.u_text(Some(u))),
            pen: Pen::new(Line::Steel, Ink::Ink),
        });
    }
    let n = growth.u_2d_m.len();
    let mut marks: Vec<Mark> = growth
        .u_2d_m
        .iter()
        .enumerate()
        .map(|(idx, u)| mark(idx as f64, u * lengths.small_per_m(), Flag::None))
        .collect();
    let crosses = growth.crosses_after.zip(growth.u_3d_m);
    if let Some((moves, u)) = crosses.filter(|(moves, _)| *moves <= n as f64 - 1.0) {
        marks.push(mark(moves, u * lengths.small_per_m(), Flag::Triangle));
    }
    marks.sort_by(|a, b| a.x.total_cmp(&b.x));
    let plot = Plot {
        y_title: format!("{}, {}", words.u_twice, lengths.small_unit()),
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

fn mark(x: f64, y: f64, flag: Flag) -> Mark {
    Mark {
        x,
        y: Measured { value: y, sd: None },
        flag,
    }
}
