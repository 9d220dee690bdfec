//! Plots: points with error bars, a tolerance band, a mean with its interval; axes with words and units.

use holdline_geom::measured::Measured;

use crate::figure::{Sign, rounded};
use crate::font::wrap;
use crate::frame::triangle;
use crate::geometry::{Pt, Rect, circle, closed_path, open_path, pt};
use crate::hatch::{self, Hatch};
use crate::ink::Ink;
use crate::line::Line;
use crate::page::{Anchor, Page, Pen, STEEL, THIN, Type};

/// A point of a plot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mark {
    /// Along the axis across.
    pub x: f64,
    /// Up, in the plot's unit, with the standard uncertainty.
    pub y: Measured,
    /// What stands about it.
    pub flag: Flag,
}

/// A shape about a point that is to be looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Flag {
    /// Nothing to look at.
    #[default]
    None,
    /// A triangle.
    Triangle,
    /// A cross.
    Cross,
}

/// Draws a flag about a point.
pub fn draw_flag(page: &mut Page, at: Pt, flag: Flag) {
    let r = FLAG_MM;
    match flag {
        Flag::None => {}
        Flag::Triangle => page.stroke(closed_path(&triangle(at, r * 1.2)), STEEL),
        Flag::Cross => {
            page.line(at.by(-r, -r), at.by(r, r), STEEL);
            page.line(at.by(-r, r), at.by(r, -r), STEEL);
        }
    }
}

/// Half the size of a flag, mm.
pub const FLAG_MM: f64 = 2.0;

/// A level of a plot with words at its right end.
#[derive(Debug, Clone, PartialEq)]
pub struct Level {
    /// Up, in the plot's unit.
    pub y: f64,
    /// Its words.
    pub words: String,
    /// How it is drawn.
    pub pen: Pen,
}

/// What a plot shows. Numbers are in its own unit.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Plot {
    /// Words up the left side, with the unit.
    pub y_title: String,
    /// Words below, with the unit where there is one.
    pub x_title: String,
    /// Ticks across: where, and their words. Those without room are left out; the last one stays.
    pub x_ticks: Vec<(f64, String)>,
    /// Least and largest across.
    pub x_range: [f64; 2],
    /// Points.
    pub marks: Vec<Mark>,
    /// Whether points are joined.
    pub joined: bool,
    /// Tolerance band.
    pub band: Option<[f64; 2]>,
    /// Mean and half of its interval.
    pub mean: Option<(f64, Option<f64>)>,
    /// Levels with words.
    pub levels: Vec<Level>,
    /// Factor k of the error bars.
    pub k: f64,
    /// When the figures of the axis up carry a plus.
    pub y_sign: Sign,
    /// Width for the words of the levels, mm, so that plots above each other line up; 0: as needed.
    pub side_mm: f64,
    /// Width for the figures of the axis up, mm, for the same reason; 0: as needed.
    pub axis_mm: f64,
}

/// Draws a plot into a box.
pub fn draw_plot(page: &mut Page, at: Rect, plot: &Plot, size_pt: f64) {
    let set = Type::soft(size_pt);
    let Some([low, high]) = y_range(plot) else {
        page.rect(at, THIN);
        return;
    };
    let ticks = ticks_of([low, high], at.height());
    let tick_width = plot.axis_mm.max(axis_words_mm(plot, at.height(), size_pt));
    let title = wrap(set.face, size_pt, &plot.y_title, at.height());
    let title_mm = set.line_mm() * title.len() as f64;
    let words_mm = plot.side_mm.max(side_words_mm(plot, at.width(), size_pt));
    let field = Rect {
        left: at.left + title_mm + tick_width + 3.5,
        top: at.top + 1.0,
        right: at.right - words_mm,
        bottom: at.bottom - foot_mm(plot, size_pt),
    };
    let y_of = |y: f64| field.bottom - (y - low) / (high - low) * field.height();
    let span = (plot.x_range[1] - plot.x_range[0]).max(1e-9);
    let x_of = |x: f64| field.left + (x - plot.x_range[0]) / span * field.width();
    let frame = Plane {
        field,
        set,
        x_of: &x_of,
        y_of: &y_of,
    };
    draw_band(page, plot, &frame);
    draw_y_axis(page, &frame, &ticks, tick_width, plot.y_sign);
    for (idx, line) in title.iter().enumerate() {
        let x = at.left + set.drop_mm() + set.line_mm() * idx as f64;
        let middle = pt(x, field.centre().y);
        page.turned_words(
            middle,
            -std::f64::consts::FRAC_PI_2,
            Anchor::Middle,
            set,
            line,
        );
    }
    draw_x_axis(page, plot, &frame, at.bottom);
    draw_mean(page, plot, &frame);
    draw_levels(page, plot, &frame, words_mm);
    draw_marks(page, plot, &frame);
    page.rect(field, Pen::new(Line::Thin, Ink::Ink));
}

struct Plane<'a> {
    field: Rect,
    set: Type,
    x_of: &'a dyn Fn(f64) -> f64,
    y_of: &'a dyn Fn(f64) -> f64,
}

fn foot_mm(plot: &Plot, size_pt: f64) -> f64 {
    let line = Type::soft(size_pt).line_mm();
    let title = if plot.x_title.is_empty() { 0.0 } else { line };
    1.6 + line + title
}

/// Width that the words of the levels want beside a plot of a width, mm.
pub fn side_words_mm(plot: &Plot, width_mm: f64, size_pt: f64) -> f64 {
    let set = Type::regular(size_pt);
    let natural = plot
        .levels
        .iter()
        .map(|l| set.width_mm(&l.words))
        .fold(0.0, f64::max);
    if natural == 0.0 {
        1.0
    } else {
        natural.min(width_mm * 0.24) + 7.0
    }
}

fn y_range(plot: &Plot) -> Option<[f64; 2]> {
    let mut all: Vec<f64> = vec![0.0];
    for mark in &plot.marks {
        let bar = mark.y.sd.filter(|sd| sd.is_finite()).unwrap_or(0.0) * plot.k;
        all.extend([mark.y.value - bar, mark.y.value + bar]);
    }
    all.extend(plot.band.iter().flatten());
    all.extend(plot.levels.iter().map(|l| l.y));
    if let Some((mean, half)) = plot.mean {
        let half = half.unwrap_or(0.0);
        all.extend([mean - half, mean + half]);
    }
    let finite = || all.iter().copied().filter(|y| y.is_finite());
    let (low, high) = (
        finite().fold(f64::INFINITY, f64::min),
        finite().fold(f64::NEG_INFINITY, f64::max),
    );
    let pad = (high - low) * 0.08;
    (low < high).then_some([low - pad, high + pad])
}

fn ticks_of([low, high]: [f64; 2], height_mm: f64) -> Vec<f64> {
    nice_ticks(low, high, (height_mm / 6.5).clamp(3.0, 9.0))
}

/// Width that the figures of the axis up want in a plot of a height, mm.
pub fn axis_words_mm(plot: &Plot, height_mm: f64, size_pt: f64) -> f64 {
    let set = Type::soft(size_pt);
    let ticks = y_range(plot)
        .map(|range| ticks_of(range, height_mm))
        .unwrap_or_default();
    ticks
        .iter()
        .map(|t| set.width_mm(&tick_text(*t, &ticks, plot.y_sign)))
        .fold(0.0, f64::max)
}

/// Ticks at 1, 2 or 5 times a power of ten, about `most` of them.
pub(crate) fn nice_ticks(low: f64, high: f64, most: f64) -> Vec<f64> {
    let rough = (high - low) / most;
    let power = 10_f64.powf(rough.log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .map(|s| s * power)
        .find(|s| *s >= rough);
    let step = step.unwrap_or(10.0 * power);
    let first = (low / step).ceil() as i64;
    let last = (high / step).floor() as i64;
    (first..=last).map(|n| n as f64 * step).collect()
}

pub(crate) fn tick_text(tick: f64, ticks: &[f64], sign: Sign) -> String {
    let step = if ticks.len() > 1 {
        (ticks[1] - ticks[0]).abs()
    } else {
        1.0
    };
    let decimals = (-step.log10()).ceil().clamp(0.0, 6.0) as i32;
    rounded(tick, decimals, sign)
}

fn draw_band(page: &mut Page, plot: &Plot, plane: &Plane<'_>) {
    let Some([low, high]) = plot.band else { return };
    let hold = |y: f64| (plane.y_of)(y).clamp(plane.field.top, plane.field.bottom);
    let band = Rect {
        top: hold(high),
        bottom: hold(low),
        ..plane.field
    };
    if band.top < band.bottom {
        page.fill(closed_path(&band.corners()), Ink::Steel);
    }
    // The forbidden side of each limit.
    for (y, away) in [((plane.y_of)(high), -1.6), ((plane.y_of)(low), 1.6)] {
        let (left, right) = (plane.field.left, plane.field.right);
        let strip = Rect {
            left,
            right,
            top: y.min(y + away),
            bottom: y.max(y + away),
        };
        if plane.field.holds(&strip, 0.0) {
            hatch::draw(page, Hatch::Cut, &strip.corners());
        }
    }
}

fn draw_y_axis(page: &mut Page, plane: &Plane<'_>, ticks: &[f64], tick_width: f64, sign: Sign) {
    let field = plane.field;
    let drop = plane.set.size_mm() * crate::font::CAPITAL / 2.0;
    for tick in ticks {
        let y = (plane.y_of)(*tick);
        page.line(pt(field.left - 1.5, y), pt(field.left, y), THIN);
        let text = tick_text(*tick, ticks, sign);
        let right = field.left - 2.0;
        debug_assert!(plane.set.width_mm(&text) <= tick_width + 1e-9);
        let y = (y + drop).clamp(field.top + 2.0 * drop, field.bottom + drop);
        page.words(pt(right, y), Anchor::End, plane.set, &text);
    }
    let zero = (plane.y_of)(0.0);
    if field.top < zero && zero < field.bottom {
        page.line(
            pt(field.left, zero),
            pt(field.right, zero),
            Pen::new(Line::Axis, Ink::Soft),
        );
    }
}

fn draw_x_axis(page: &mut Page, plot: &Plot, plane: &Plane<'_>, bottom: f64) {
    let field = plane.field;
    let set = plane.set;
    let y = field.bottom + 1.6 + set.drop_mm();
    let mut taken: Vec<[f64; 2]> = Vec::new();
    let last = plot.x_ticks.len().saturating_sub(1);
    // The last tick first, so that it is never the one left out.
    let order = (0..plot.x_ticks.len()).rev().take(1).chain(0..last);
    for idx in order {
        let (x, text) = &plot.x_ticks[idx];
        let x = (plane.x_of)(*x);
        page.line(pt(x, field.bottom), pt(x, field.bottom + 1.2), THIN);
        let half = set.width_mm(text) / 2.0;
        let middle = x.min(field.right + 4.0 - half).max(field.left - 2.0 + half);
        let room = [middle - half - 1.5, middle + half + 1.5];
        if taken.iter().any(|t| t[0] < room[1] && room[0] < t[1]) {
            continue;
        }
        taken.push(room);
        page.words(pt(middle, y), Anchor::Middle, set, text);
    }
    if !plot.x_title.is_empty() {
        let y = bottom - set.line_mm() + set.drop_mm();
        page.words(pt(field.centre().x, y), Anchor::Middle, set, &plot.x_title);
    }
}

fn draw_mean(page: &mut Page, plot: &Plot, plane: &Plane<'_>) {
    let Some((mean, half)) = plot.mean.filter(|(mean, _)| mean.is_finite()) else {
        return;
    };
    let field = plane.field;
    let y = (plane.y_of)(mean);
    page.line(
        pt(field.left, y),
        pt(field.right, y),
        Pen::new(Line::Thin, Ink::Ink),
    );
    if let Some(half) = half.filter(|h| h.is_finite()) {
        let x = field.right - 4.0;
        let (top, bottom) = ((plane.y_of)(mean + half), (plane.y_of)(mean - half));
        let bar = Rect {
            left: x - 1.2,
            right: x + 1.2,
            top,
            bottom,
        };
        page.shape(closed_path(&bar.corners()), STEEL, Ink::Paper);
        page.line(pt(bar.left, y), pt(bar.right, y), STEEL);
    }
}

/// Words of the levels down the right side, moved apart where they would meet, each with its leader.
fn draw_levels(page: &mut Page, plot: &Plot, plane: &Plane<'_>, words_mm: f64) {
    let field = plane.field;
    let set = Type::regular(plane.set.size_pt);
    let mut blocks: Vec<(f64, f64, Vec<String>)> = Vec::new();
    let mut levels: Vec<&Level> = plot.levels.iter().filter(|l| l.y.is_finite()).collect();
    levels.sort_by(|a, b| b.y.total_cmp(&a.y));
    for level in &levels {
        let y = (plane.y_of)(level.y);
        page.line(pt(field.left, y), pt(field.right, y), level.pen);
        let lines = wrap(set.face, set.size_pt, &level.words, words_mm - 6.5);
        let height = lines.len() as f64 * set.line_mm();
        blocks.push((y - height / 2.0, height, lines));
    }
    spread(
        &mut blocks,
        field.top - 1.0,
        field.bottom + foot_mm(plot, plane.set.size_pt),
    );
    for (level, (top, height, lines)) in levels.iter().zip(&blocks) {
        let y = (plane.y_of)(level.y);
        let middle = top + height / 2.0;
        let bend = pt(field.right + 4.5, middle);
        page.stroke(
            open_path(&[pt(field.right, y), bend, bend.by(1.0, 0.0)]),
            THIN,
        );
        for (idx, line) in lines.iter().enumerate() {
            let y = top + set.drop_mm() + set.line_mm() * idx as f64;
            page.words(pt(field.right + 6.5, y), Anchor::Start, set, line);
        }
    }
}

/// Moves blocks (top, height) apart between two bounds, keeping their order.
fn spread(blocks: &mut [(f64, f64, Vec<String>)], top: f64, bottom: f64) {
    let mut free = top;
    for block in blocks.iter_mut() {
        block.0 = block.0.max(free);
        free = block.0 + block.1 + 0.3;
    }
    let mut free = bottom;
    for block in blocks.iter_mut().rev() {
        block.0 = block.0.min(free - block.1);
        free = block.0 - 0.3;
    }
}

fn draw_marks(page: &mut Page, plot: &Plot, plane: &Plane<'_>) {
    let field = plane.field;
    // Whatever the numbers are, a point stays in the frame.
    let hold = |p: Pt| {
        pt(
            p.x.clamp(field.left, field.right),
            p.y.clamp(field.top, field.bottom),
        )
    };
    let at = |mark: &Mark| hold(pt((plane.x_of)(mark.x), (plane.y_of)(mark.y.value)));
    let known: Vec<&Mark> = plot
        .marks
        .iter()
        .filter(|m| m.x.is_finite() && m.y.value.is_finite())
        .collect();
    if plot.joined {
        let points: Vec<Pt> = known.iter().map(|m| at(m)).collect();
        page.stroke(open_path(&points), THIN);
    }
    for mark in known {
        let middle = at(mark);
        draw_flag(page, middle, mark.flag);
        match mark.y.sd.filter(|sd| sd.is_finite() && 0.0 < *sd) {
            Some(sd) => {
                let (top, bottom) = (
                    hold(pt(middle.x, (plane.y_of)(mark.y.value + plot.k * sd))),
                    hold(pt(middle.x, (plane.y_of)(mark.y.value - plot.k * sd))),
                );
                let pen = Pen::new(Line::Thin, Ink::Ink);
                page.line(top, bottom, pen);
                for end in [top, bottom] {
                    page.line(end.by(-1.1, 0.0), end.by(1.1, 0.0), pen);
                }
                page.dot(middle, 1.0, Ink::Ink);
            }
            None => page.shape(
                circle(middle, 1.1),
                Pen::new(Line::Thin, Ink::Ink),
                Ink::Paper,
            ),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_numbers() {
        assert_eq!(
            nice_ticks(-23.0, 24.0, 6.0),
            [-20.0, -10.0, 0.0, 10.0, 20.0]
        );
        assert_eq!(tick_text(-20.0, &[-20.0, -10.0], Sign::Both), "−20");
        assert_eq!(tick_text(0.05, &[0.0, 0.05], Sign::Both), "+0.05");
    }

    #[test]
    fn a_plot_without_a_number_is_an_empty_box() {
        let mut page = Page::new(100.0, 100.0, "test");
        let marks = vec![Mark {
            x: 1.0,
            y: Measured::without_sd(f64::NAN),
            flag: Flag::None,
        }];
        let plot = Plot {
            marks,
            k: 2.0,
            ..Plot::default()
        };
        draw_plot(&mut page, Rect::sized(0.0, 0.0, 80.0, 40.0), &plot, 9.0);
        assert_eq!(page.runs().count(), 0);
    }

    #[test]
    fn words_at_the_side_move_apart() {
        let mut blocks = vec![
            (10.0, 5.0, vec![]),
            (11.0, 5.0, vec![]),
            (12.0, 5.0, vec![]),
            (50.0, 5.0, vec![]),
        ];
        spread(&mut blocks, 0.0, 52.0);
        for pair in blocks.windows(2) {
            assert!(pair[0].0 + pair[0].1 <= pair[1].0);
        }
        assert!(blocks[3].0 + 5.0 <= 52.0);
    }
}
