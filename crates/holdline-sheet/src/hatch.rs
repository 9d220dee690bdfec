//! Hatching: areas by pattern, clipped to their outline.
//!
//! General drafting practice (from memory); every pattern used on a sheet is named in its legend.

use crate::geometry::{Pt, Rect, pt};
use crate::ink::Ink;
use crate::line::Line;
use crate::page::{HATCH, Page, Pen};

/// A pattern.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Hatch {
    /// Ground: groups of three strokes, alternating.
    Ground,
    /// Concrete: small triangles and dots.
    Concrete,
    /// Water: broken level strokes.
    Water,
    /// No-go: crossed strokes.
    NoGo,
    /// Material to cut: strokes rising to the right.
    Cut,
    /// Material to fill: strokes falling to the right.
    Fill,
}

impl Hatch {
    /// All patterns.
    pub const ALL: [Hatch; 6] = [
        Hatch::Ground,
        Hatch::Concrete,
        Hatch::Water,
        Hatch::NoGo,
        Hatch::Cut,
        Hatch::Fill,
    ];
}

/// Strokes of a pattern inside a closed outline (even-odd), as pairs of points.
pub fn strokes(hatch: Hatch, outline: &[Pt]) -> Vec<[Pt; 2]> {
    strokes_of(hatch, &[outline])
}

/// Strokes of a pattern inside several closed outlines, holes among them (even-odd).
pub fn strokes_of(hatch: Hatch, outlines: &[&[Pt]]) -> Vec<[Pt; 2]> {
    let all = outlines.iter().flat_map(|o| o.iter().copied());
    let Some(around) = Rect::around(all) else {
        return Vec::new();
    };
    if around.width() > 5000.0 || around.height() > 5000.0 {
        return Vec::new(); // not on any paper
    }
    let mut raw = Vec::new();
    match hatch {
        Hatch::Ground => ground(&around, &mut raw),
        Hatch::Concrete => concrete(&around, &mut raw),
        Hatch::Water => water(&around, &mut raw),
        Hatch::NoGo => {
            slanted(&around, 2.4, 1.0, &mut raw);
            slanted(&around, 2.4, -1.0, &mut raw);
        }
        Hatch::Cut => slanted(&around, 3.0, -1.0, &mut raw),
        Hatch::Fill => slanted(&around, 3.0, 1.0, &mut raw),
    }
    let mut kept = Vec::new();
    for stroke in raw {
        clip(stroke, outlines, &mut kept);
    }
    kept
}

/// Draws a pattern inside a closed outline.
pub fn draw(page: &mut Page, hatch: Hatch, outline: &[Pt]) {
    draw_all(page, hatch, &[outline]);
}

/// Draws a pattern inside several closed outlines, holes among them.
pub fn draw_all(page: &mut Page, hatch: Hatch, outlines: &[&[Pt]]) {
    let pen = match hatch {
        Hatch::NoGo => Pen::new(Line::Hatch, Ink::Ink),
        _ => HATCH,
    };
    let steps = strokes_of(hatch, outlines)
        .into_iter()
        .flat_map(|[a, b]| {
            [
                crate::geometry::Step::Move(a),
                crate::geometry::Step::Line(b),
            ]
        })
        .collect();
    page.stroke(steps, pen);
}

/// Ground under a line from left to right: groups of three strokes, alternating, one row deep.
pub fn draw_ground_band(page: &mut Page, left: Pt, right: Pt, depth_mm: f64) {
    let n = (left.to(right) / 5.2).floor().clamp(1.0, 2000.0) as usize;
    let mut steps = Vec::with_capacity(n * 6);
    let fall = (right.y - left.y) / (right.x - left.x).max(1e-9);
    let at = |x: f64, down: f64| pt(x, left.y + (x - left.x) * fall + down);
    for cell in 0..n {
        let start = left.x + (right.x - left.x) * cell as f64 / n as f64;
        let slant = depth_mm * 0.62;
        for idx in 0..3 {
            let off = 0.5 + 1.25 * f64::from(idx);
            let (top, bottom) = if cell % 2 == 0 {
                (slant, 0.0)
            } else {
                (0.0, slant)
            };
            let a = at((start + off + top).min(right.x), depth_mm * 0.12);
            let b = at((start + off + bottom).min(right.x), depth_mm * 0.74);
            steps.extend([
                crate::geometry::Step::Move(a),
                crate::geometry::Step::Line(b),
            ]);
        }
    }
    page.stroke(steps, HATCH);
}

/// Lines at 45° through the box; `fall` is +1 for falling to the right on paper, −1 for rising.
fn slanted(around: &Rect, apart_mm: f64, fall: f64, out: &mut Vec<[Pt; 2]>) {
    let step = apart_mm * std::f64::consts::SQRT_2;
    let height = around.height();
    // The pattern is fixed to the paper, not to the outline, so that neighbours line up.
    let (low, high) = if fall > 0.0 {
        (around.left - around.bottom, around.right - around.top)
    } else {
        (around.left + around.top, around.right + around.bottom)
    };
    let mut foot = (low / step).floor() * step;
    while foot <= high {
        if fall > 0.0 {
            let x = foot + around.top;
            out.push([pt(x, around.top), pt(x + height, around.bottom)]);
        } else {
            let x = foot - around.top;
            out.push([pt(x, around.top), pt(x - height, around.bottom)]);
        }
        foot += step;
    }
}

fn ground(around: &Rect, out: &mut Vec<[Pt; 2]>) {
    const CELL: f64 = 5.0;
    let (first_row, last_row) = cells(around.top, around.bottom, CELL);
    let (first_col, last_col) = cells(around.left, around.right, CELL);
    for row in first_row..=last_row {
        for col in first_col..=last_col {
            let corner = pt(col as f64 * CELL, row as f64 * CELL);
            let rising = (row + col).rem_euclid(2) == 0;
            for idx in 0..3 {
                let off = 1.4 * f64::from(idx);
                let (a, b) = (corner.by(off, 4.2 - 1.4), corner.by(off + 2.2, 4.2 - 3.6));
                let flip = |p: Pt| pt(2.0 * corner.x + CELL - p.x, p.y);
                out.push(if rising { [a, b] } else { [flip(a), flip(b)] });
            }
        }
    }
}

fn concrete(around: &Rect, out: &mut Vec<[Pt; 2]>) {
    const CELL: f64 = 4.0;
    let (first_row, last_row) = cells(around.top, around.bottom, CELL);
    let (first_col, last_col) = cells(around.left, around.right, CELL);
    for row in first_row..=last_row {
        for col in first_col..=last_col {
            let spread = (row * 7 + col * 13).rem_euclid(5) as f64 * 0.35;
            let at = pt(
                col as f64 * CELL + 0.8 + spread,
                row as f64 * CELL + 1.0 + spread / 2.0,
            );
            if (row + 2 * col).rem_euclid(3) == 0 {
                let (b, c) = (at.by(1.5, 0.2), at.by(0.6, 1.3));
                out.extend([[at, b], [b, c], [c, at]]);
            } else {
                out.push([at, at.by(0.3, 0.0)]);
            }
        }
    }
}

fn water(around: &Rect, out: &mut Vec<[Pt; 2]>) {
    const APART: f64 = 1.8;
    let (first, last) = cells(around.top, around.bottom, APART);
    for row in first..=last {
        let y = row as f64 * APART;
        let shift = row.rem_euclid(3) as f64 * 2.3;
        let (first_col, last_col) = cells(around.left - shift, around.right - shift, 7.0);
        for col in first_col..=last_col {
            let x = col as f64 * 7.0 + shift;
            out.push([pt(x, y), pt(x + 4.6, y)]);
        }
    }
}

fn cells(low: f64, high: f64, size: f64) -> (i64, i64) {
    ((low / size).floor() as i64 - 1, (high / size).ceil() as i64)
}

/// Parts of a stroke that lie inside the outlines.
fn clip([a, b]: [Pt; 2], outlines: &[&[Pt]], out: &mut Vec<[Pt; 2]>) {
    let mut cuts = vec![0.0, 1.0];
    for (p, q) in outlines.iter().flat_map(|o| edges(o)) {
        let (dx, dy) = (b.x - a.x, b.y - a.y);
        let (ex, ey) = (q.x - p.x, q.y - p.y);
        let across = dx * ey - dy * ex;
        if across.abs() < 1e-12 {
            continue;
        }
        let t = ((p.x - a.x) * ey - (p.y - a.y) * ex) / across;
        let u = ((p.x - a.x) * dy - (p.y - a.y) * dx) / across;
        if (0.0..=1.0).contains(&u) && (0.0..=1.0).contains(&t) {
            cuts.push(t);
        }
    }
    cuts.sort_by(f64::total_cmp);
    for pair in cuts.windows(2) {
        let at = |t: f64| pt(a.x + (b.x - a.x) * t, a.y + (b.y - a.y) * t);
        let middle = at((pair[0] + pair[1]) / 2.0);
        let inside = outlines.iter().filter(|o| is_inside(middle, o)).count() % 2 == 1;
        if pair[1] - pair[0] > 1e-6 && inside {
            out.push([at(pair[0]), at(pair[1])]);
        }
    }
}

fn edges(outline: &[Pt]) -> impl Iterator<Item = (Pt, Pt)> {
    let next = outline.iter().cycle().skip(1);
    outline.iter().zip(next).map(|(p, q)| (*p, *q))
}

/// True when a point lies inside a closed outline (even-odd).
pub fn is_inside(at: Pt, outline: &[Pt]) -> bool {
    let mut inside = false;
    for (p, q) in edges(outline) {
        if (p.y > at.y) != (q.y > at.y) && at.x < (q.x - p.x) * (at.y - p.y) / (q.y - p.y) + p.x {
            inside = !inside;
        }
    }
    inside
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn strokes_stay_inside_their_outline() {
        let notched = [
            pt(0.0, 0.0),
            pt(40.0, 0.0),
            pt(40.0, 30.0),
            pt(20.0, 10.0),
            pt(0.0, 30.0),
        ];
        for hatch in Hatch::ALL {
            let found = strokes(hatch, &notched);
            assert!(found.len() > 5, "{hatch:?}");
            for [a, b] in found {
                assert!(is_inside(a.middle(b), &notched), "{hatch:?} {a:?} {b:?}");
            }
        }
        assert!(strokes(Hatch::Cut, &[]).is_empty());
    }

    #[test]
    fn strokes_stay_out_of_holes() {
        let outer = Rect::sized(0.0, 0.0, 40.0, 40.0).corners();
        let hole = Rect::sized(10.0, 10.0, 20.0, 20.0).corners();
        let found = strokes_of(Hatch::Fill, &[&outer, &hole]);
        assert!(found.len() > 10);
        for [a, b] in found {
            let middle = a.middle(b);
            assert!(is_inside(middle, &outer) && !is_inside(middle, &hole));
        }
    }
}
