//! Dimension lines, angle arcs, leaders with numbered balloons. General drafting practice, ISO 129 (from memory).

use std::f64::consts::{FRAC_PI_2, PI};

use crate::font;
use crate::geometry::{Pt, arc, circle, closed_path};
use crate::ink::Ink;
use crate::page::{Anchor, Page, THIN, Type};
use crate::place::{Label, Placer};

/// Length of an arrowhead, mm.
pub const ARROW_MM: f64 = 2.6;
/// From the last dimension line to the end of its extension lines, mm.
const PAST: f64 = 1.4;

/// A filled arrowhead with its tip at `tip`, pointing along `turn_rad`.
pub fn arrowhead(page: &mut Page, tip: Pt, turn_rad: f64, ink: Ink) {
    let back = tip.along(turn_rad + PI, ARROW_MM);
    let (left, right) = (
        back.along(turn_rad + FRAC_PI_2, 0.42),
        back.along(turn_rad - FRAC_PI_2, 0.42),
    );
    page.fill(closed_path(&[tip, left, right]), ink);
}

/// The turn of a line of words along `from`–`to` that reads from the bottom or from the right.
pub fn reading_turn(from: Pt, to: Pt) -> f64 {
    let turn = (to.y - from.y).atan2(to.x - from.x);
    if turn > FRAC_PI_2 - 1e-6 {
        turn - PI
    } else if turn <= -FRAC_PI_2 - 1e-6 {
        turn + PI
    } else {
        turn
    }
}

/// A dimension between two points, its line `offset_mm` to the left of the way from `from` to `to`.
///
/// The words stand above the line where there is room for them, else near it with a leader.
pub fn draw_dimension(
    page: &mut Page,
    placer: &mut Placer,
    from: Pt,
    to: Pt,
    offset_mm: f64,
    label: &Label,
) {
    let length = from.to(to);
    if !(length > 0.1) {
        return;
    }
    let turn = (to.y - from.y).atan2(to.x - from.x);
    let side = turn - FRAC_PI_2; // left of the way, on paper with y down
    let (a, b) = (from.along(side, offset_mm), to.along(side, offset_mm));
    let sign = if offset_mm < 0.0 { -1.0 } else { 1.0 };
    for (pin, end) in [(from, a), (to, b)] {
        if offset_mm.abs() > 3.0 {
            let (near, past) = (pin.along(side, sign * 1.8), end.along(side, sign * PAST));
            page.line(near, past, THIN);
            placer.avoid(near, past);
        }
    }
    draw_dimension_line(page, a, b, turn, length);
    placer.avoid(a, b);
    let read = reading_turn(a, b);
    let width = label.width_mm();
    let above = label.size_mm() * font::BELOW + 0.9;
    let mut places = Vec::new();
    for along in [0.5, 0.34, 0.66] {
        let centre = Pt {
            x: a.x + (b.x - a.x) * along,
            y: a.y + (b.y - a.y) * along,
        };
        for up in [above, -(label.size_mm() * font::ABOVE + 0.9)] {
            let start = centre.along(read - FRAC_PI_2, up).along(read, -width / 2.0);
            if width + 2.0 < length || along == 0.5 {
                places.push((start, read));
            }
        }
    }
    let fits = width + 2.0 < length;
    if !fits || placer.put_at_best(page, label, &places).is_none() {
        placer.put_near(page, std::slice::from_ref(label), a.middle(b), 2.5);
    }
}

fn draw_dimension_line(page: &mut Page, a: Pt, b: Pt, turn: f64, length: f64) {
    if length > 3.0 * ARROW_MM {
        page.line(a, b, THIN);
        arrowhead(page, a, turn + PI, Ink::Soft);
        arrowhead(page, b, turn, Ink::Soft);
    } else {
        // Too short for arrows inside: they point inward from outside.
        page.line(
            a.along(turn, -2.0 * ARROW_MM),
            b.along(turn, 2.0 * ARROW_MM),
            THIN,
        );
        arrowhead(page, a, turn, Ink::Soft);
        arrowhead(page, b, turn + PI, Ink::Soft);
    }
}

/// An angle arc about `centre`, from one direction to another (both as on paper, clockwise), with its words.
pub fn draw_angle(
    page: &mut Page,
    placer: &mut Placer,
    centre: Pt,
    radius_mm: f64,
    from_rad: f64,
    to_rad: f64,
    lines: &[Label],
) {
    let sweep = to_rad - from_rad;
    if sweep.is_nan() {
        return;
    }
    let steps = arc(centre, radius_mm, from_rad, to_rad);
    page.stroke(steps, THIN);
    if sweep.abs() * radius_mm > 1.5 * ARROW_MM {
        let lean = ARROW_MM / radius_mm / 2.0; // the chord of an arrow leans in by half its angle
        let turn = to_rad + sweep.signum() * (FRAC_PI_2 - lean);
        arrowhead(page, centre.along(to_rad, radius_mm), turn, Ink::Soft);
    }
    let n = 8;
    for idx in 0..n {
        let at = |i: i32| centre.along(from_rad + sweep * f64::from(i) / f64::from(n), radius_mm);
        placer.avoid(at(idx), at(idx + 1));
    }
    let middle = centre.along(from_rad + sweep / 2.0, radius_mm);
    placer.put_near(page, lines, middle, 1.6);
}

/// A numbered balloon with a leader to a point.
pub fn draw_balloon(page: &mut Page, placer: &mut Placer, at: Pt, number: &str, size_pt: f64) {
    let set = Type::strong(size_pt);
    let radius = (set.width_mm(number) / 2.0 + 1.2).max(set.size_mm() * 0.75);
    for reach in [9.0, 13.0, 18.0, 24.0, 32.0, 42.0] {
        for idx in 0..12 {
            let turn = -1.0 + f64::from(idx) * PI / 6.0;
            let centre = at.along(turn, reach);
            let r = radius + 0.3;
            let corners = [
                centre.by(-r, -r),
                centre.by(r, -r),
                centre.by(r, r),
                centre.by(-r, r),
            ];
            if placer.is_free(&corners) && placer.crossings(&corners) == 0 {
                page.line(at, centre.along(turn + PI, radius), THIN);
                page.dot(at, 0.6, Ink::Soft);
                page.shape(circle(centre, radius), THIN, Ink::Paper);
                let drop = set.size_mm() * font::CAPITAL / 2.0;
                page.words(centre.by(0.0, drop), Anchor::Middle, set, number);
                placer.take(corners);
                placer.avoid(at, centre);
                return;
            }
        }
    }
}

/// A small cross-haired ring for a pin.
pub fn draw_pin(page: &mut Page, at: Pt, radius_mm: f64) {
    page.shape(
        circle(at, radius_mm),
        crate::page::Pen::new(crate::line::Line::Thin, Ink::Ink),
        Ink::Paper,
    );
    page.dot(at, 0.35, Ink::Ink);
}

/// The mark of a tooth point: a ring with its quarters filled, as on a survey target.
pub fn draw_tooth_mark(page: &mut Page, at: Pt, radius_mm: f64) {
    page.shape(
        circle(at, radius_mm),
        crate::page::Pen::new(crate::line::Line::Thin, Ink::Ink),
        Ink::Paper,
    );
    for from in [0.0, PI] {
        let mut steps = arc(at, radius_mm, from, from + FRAC_PI_2);
        steps.push(crate::geometry::Step::Line(at));
        steps.push(crate::geometry::Step::Close);
        page.fill(steps, Ink::Ink);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::pt;

    #[test]
    fn words_read_from_the_bottom_or_the_right() {
        for (to, want) in [
            (pt(1.0, 0.0), 0.0),
            (pt(-1.0, 0.0), 0.0),
            (pt(0.0, 1.0), -FRAC_PI_2),
            (pt(0.0, -1.0), -FRAC_PI_2),
            (pt(1.0, 1.0), FRAC_PI_2 / 2.0),
            (pt(-1.0, 1.0), -FRAC_PI_2 / 2.0),
        ] {
            let got = reading_turn(pt(0.0, 0.0), to);
            assert!((got - want).abs() < 1e-9, "{to:?}: {got}");
        }
    }
}
