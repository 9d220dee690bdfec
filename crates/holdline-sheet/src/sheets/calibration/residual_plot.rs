//! Residuals in their own sd, by pose, a plot a kind of observation: what stands beyond the limit, what was
//! rejected and what nothing checks is seen by its shape and named.

use super::{CalibrationSheet, Fate, Residual};
use crate::figure::{Sign, rounded};
use crate::font::{CAPITAL, wrap};
use crate::geometry::{Pt, Rect, circle, closed_path, pt};
use crate::hatch::{self, Hatch};
use crate::ink::Ink;
use crate::legend::{Entry, Sample};
use crate::line::Line;
use crate::page::{Anchor, Page, Pen, STEEL, THIN, Type};
use crate::place::{Label, Placer};
use crate::plot::{Flag, draw_flag, nice_ticks, tick_text};
use crate::words::Words;

const PEN: Pen = Pen::new(Line::Thin, Ink::Ink);

/// Kinds in the order of their first residual.
pub(super) fn kinds(residuals: &[Residual]) -> Vec<String> {
    in_order(residuals.iter().map(|r| r.kind.clone()))
}

/// Poses in the order of their first residual, with the words for those that belong to none.
pub(super) fn poses(residuals: &[Residual], words: &Words) -> Vec<String> {
    // A kind without any pose has a plot by name.
    let posed: Vec<&str> = residuals
        .iter()
        .filter(|r| !r.pose.is_empty())
        .map(|r| r.kind.as_str())
        .collect();
    let shown = residuals
        .iter()
        .filter(|r| posed.contains(&r.kind.as_str()));
    in_order(shown.map(|r| pose_of(r, words)))
}

fn pose_of(residual: &Residual, words: &Words) -> String {
    if residual.pose.is_empty() {
        words.no_pose.to_string()
    } else {
        residual.pose.clone()
    }
}

fn in_order(names: impl Iterator<Item = String>) -> Vec<String> {
    let mut found: Vec<String> = Vec::new();
    for name in names {
        if !found.contains(&name) {
            found.push(name);
        }
    }
    found
}

/// What the signs mean; only those that are on the sheet.
pub(super) fn key(sheet: &CalibrationSheet, words: &Words) -> Vec<Entry> {
    let any = |wanted: fn(&Residual) -> bool| sheet.residuals.iter().any(wanted);
    let mut entries = vec![(Sample::Dot, words.residual_kept.to_string())];
    if any(|r| r.fate == Fate::Unchecked) {
        entries.push((Sample::Ring, words.residual_unchecked.to_string()));
    }
    if any(|r| matches!(r.fate, Fate::Rejected(_))) {
        let sample = Sample::Flagged(Flag::Cross);
        entries.push((sample, words.residual_rejected.to_string()));
    }
    let limit = sheet.limit.unwrap_or(f64::INFINITY);
    if sheet.residuals.iter().any(|r| is_beyond(r, limit)) {
        let sample = Sample::Flagged(Flag::Triangle);
        entries.push((sample, words.residual_beyond.to_string()));
    }
    if !sheet.limit_words.is_empty() {
        entries.push((Sample::Line(STEEL), sheet.limit_words.clone()));
    }
    entries
}

fn is_beyond(residual: &Residual, limit: f64) -> bool {
    residual.fate == Fate::Kept && residual.in_sd.is_some_and(|w| limit < w.abs())
}

/// A mark keeps so far inside the frame, mm.
const HELD_MM: f64 = 2.4;

struct Field {
    at: Rect,
    half: f64,
    n_poses: usize,
}

impl Field {
    fn y(&self, in_sd: f64) -> f64 {
        self.at.centre().y - in_sd / self.half * self.at.height() / 2.0
    }

    /// Where a mark stands: whatever its number is, wholly inside.
    fn y_held(&self, in_sd: f64) -> f64 {
        // Room too low for a mark leaves its middle; it must not end the drawing.
        let room = (self.at.height() / 2.0 - HELD_MM).max(0.0);
        let middle = self.at.centre().y;
        self.y(in_sd).clamp(middle - room, middle + room)
    }

    fn x(&self, pose_idx: usize, share: f64) -> f64 {
        let slot = self.at.width() / self.n_poses.max(1) as f64;
        self.at.left + slot * (pose_idx as f64 + 0.12 + 0.76 * share)
    }
}

/// Draws the plot of one kind.
pub(super) fn draw(
    page: &mut Page,
    at: Rect,
    sheet: &CalibrationSheet,
    kind: &str,
    poses: &[String],
    size_pt: f64,
    words: &Words,
) {
    let set = Type::soft(size_pt);
    let mine: Vec<&Residual> = sheet.residuals.iter().filter(|r| r.kind == kind).collect();
    let limit = sheet.limit.filter(|l| l.is_finite() && 0.0 < *l);
    let largest = mine.iter().filter_map(|r| r.in_sd).map(f64::abs);
    let largest = largest.filter(|w| w.is_finite()).fold(1.0, f64::max);
    // A blunder of a hundred sd does not press the others flat: it stands at the edge with its figure.
    let half = limit.map_or(
        1.12 * largest,
        |l| if largest <= l { 1.4 * l } else { 2.0 * l },
    );
    let own: Vec<String> = mine.iter().map(|r| r.name.clone()).collect();
    let by_name = mine.iter().all(|r| r.pose.is_empty());
    let poses = if by_name { own.as_slice() } else { poses };
    let title = format!("{kind} ({})", mine.len());
    page.begin("plot", title.clone());
    let strong = Type::strong(size_pt);
    let title_mm = page.paragraph(pt(at.left, at.top), at.width(), strong, &title);
    let ticks = nice_ticks(-half, half, (at.height() / 7.0).clamp(3.0, 7.0));
    let tick_mm = ticks
        .iter()
        .map(|t| set.width_mm(&tick_text(*t, &ticks, Sign::Both)))
        .fold(0.0, f64::max);
    let field = Field {
        at: Rect {
            left: at.left + tick_mm + set.line_mm() + 3.0,
            top: at.top + title_mm + 0.6,
            right: at.right - 1.0,
            bottom: at.bottom - set.line_mm() - 1.8,
        },
        half,
        n_poses: poses.len(),
    };
    draw_limits(page, &field, limit);
    draw_axes(page, &field, at, &ticks, poses, set, words);
    draw_marks(page, &field, &mine, poses, limit, size_pt, words);
    page.rect(field.at, PEN);
    page.end();
}

fn draw_limits(page: &mut Page, field: &Field, limit: Option<f64>) {
    let Some(limit) = limit.filter(|l| *l < field.half) else {
        return;
    };
    let (high, low) = (field.y(limit), field.y(-limit));
    let inside = Rect {
        top: high,
        bottom: low,
        ..field.at
    };
    page.fill(closed_path(&inside.corners()), Ink::Steel);
    for (y, away) in [(high, -1.4), (low, 1.4)] {
        let strip = Rect {
            top: y.min(y + away),
            bottom: y.max(y + away),
            ..field.at
        };
        if field.at.holds(&strip, 1e-9) {
            hatch::draw(page, Hatch::Cut, &strip.corners());
        }
        page.line(pt(field.at.left, y), pt(field.at.right, y), STEEL);
    }
}

fn draw_axes(
    page: &mut Page,
    field: &Field,
    at: Rect,
    ticks: &[f64],
    poses: &[String],
    set: Type,
    words: &Words,
) {
    let r = field.at;
    let zero = field.y(0.0);
    page.line(
        pt(r.left, zero),
        pt(r.right, zero),
        Pen::new(Line::Axis, Ink::Soft),
    );
    let drop = set.size_mm() * CAPITAL / 2.0;
    let mut last = f64::INFINITY;
    for tick in ticks {
        let y = field.y(*tick);
        page.line(pt(r.left - 1.2, y), pt(r.left, y), THIN);
        if last - y < set.line_mm() * 0.85 {
            continue;
        }
        last = y;
        let text = tick_text(*tick, ticks, Sign::Both);
        page.words(pt(r.left - 1.8, y + drop), Anchor::End, set, &text);
    }
    // Along the axis if it fits, else left to the key.
    let unit: &str = &words.in_its_sd;
    if set.width_mm(unit) <= r.height() {
        let middle = pt(at.left + set.drop_mm(), r.centre().y);
        let turn = -std::f64::consts::FRAC_PI_2;
        page.turned_words(middle, turn, Anchor::Middle, set, unit);
    }
    draw_pose_names(page, field, poses, set);
}

fn draw_pose_names(page: &mut Page, field: &Field, poses: &[String], set: Type) {
    let r = field.at;
    let slot = r.width() / poses.len().max(1) as f64;
    let mut free = f64::NEG_INFINITY;
    for (idx, name) in poses.iter().enumerate() {
        let left = r.left + slot * idx as f64;
        if idx > 0 {
            let pen = Pen::new(Line::Hatch, Ink::Soft);
            page.line(pt(left, r.bottom - 1.2), pt(left, r.bottom + 0.8), pen);
        }
        let lines = wrap(set.face, set.size_pt, name, slot.max(set.width_mm("000")));
        let [line] = lines.as_slice() else { continue };
        let half = set.width_mm(line) / 2.0;
        let middle = (left + slot / 2.0).clamp(r.left + half, (r.right - half).max(r.left + half));
        if middle - half < free + 1.0 {
            continue;
        }
        free = middle + half;
        let y = r.bottom + 1.2 + set.drop_mm();
        page.words(pt(middle, y), Anchor::Middle, set, line);
    }
}

fn draw_marks(
    page: &mut Page,
    field: &Field,
    mine: &[&Residual],
    poses: &[String],
    limit: Option<f64>,
    size_pt: f64,
    words: &Words,
) {
    let mut placer = Placer::new(field.at.inset(0.4));
    let lines = limit.map_or(vec![0.0], |l| vec![-l, 0.0, l]);
    for y in lines.into_iter().map(|w| field.y(w)) {
        placer.avoid(pt(field.at.left, y), pt(field.at.right, y));
    }
    let mut to_name: Vec<(Pt, &Residual)> = Vec::new();
    let mut done = vec![0_usize; poses.len()];
    for residual in mine {
        let slot = |r: &Residual| {
            let pose = pose_of(r, words);
            let place = poses.iter().position(|p| *p == pose);
            place.or_else(|| poses.iter().position(|p| *p == r.name))
        };
        let idx = slot(residual).unwrap_or(0);
        let of_pose = mine.iter().filter(|r| slot(r) == Some(idx)).count();
        let share = (done[idx] as f64 + 0.5) / of_pose.max(1) as f64;
        done[idx] += 1;
        let Some(in_sd) = residual.in_sd.filter(|w| w.is_finite()) else {
            continue;
        };
        let middle = pt(field.x(idx, share), field.y_held(in_sd));
        let beyond = is_beyond(residual, limit.unwrap_or(f64::INFINITY));
        draw_mark(page, middle, &residual.fate, beyond);
        let r = 1.6;
        placer.take(Rect::sized(middle.x - r, middle.y - r, 2.0 * r, 2.0 * r).corners());
        if beyond || matches!(residual.fate, Fate::Rejected(_)) {
            to_name.push((middle, residual));
        }
    }
    for (at, residual) in to_name {
        let in_sd = residual.in_sd.unwrap_or(f64::NAN);
        let figure = rounded(in_sd, 1, Sign::Both);
        let label = Label::new(Type::strong(size_pt), residual.name.clone())
            .and(Type::regular(size_pt), figure);
        placer.put_near(page, &[label], at, 2.2);
    }
}

fn draw_mark(page: &mut Page, at: Pt, fate: &Fate, beyond: bool) {
    match fate {
        Fate::Kept => {
            if beyond {
                draw_flag(page, at, Flag::Triangle);
            }
            page.dot(at, 0.8, Ink::Ink);
        }
        Fate::Unchecked => page.shape(circle(at, 0.9), PEN, Ink::Paper),
        Fate::Rejected(_) => {
            draw_flag(page, at, Flag::Cross);
            page.dot(at, 0.8, Ink::Ink);
        }
    }
}
