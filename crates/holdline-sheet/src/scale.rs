//! Scale of a drawing, scale bar, north arrow.

use crate::geometry::{Pt, Rect, closed_path};
use crate::ink::Ink;
use crate::line::Line;
use crate::page::{Anchor, Map, Page, Pen, THIN, Type};

/// Scales that a sheet may have, as the number after `1 :`. ISO 5455 (from memory) and the two between.
pub const SERIES: [f64; 14] = [
    5.0, 10.0, 20.0, 25.0, 50.0, 75.0, 100.0, 125.0, 150.0, 200.0, 250.0, 500.0, 1000.0, 2000.0,
];

/// Part of a drawing's plane, metres: left, down, right, up.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Window {
    /// Least to the right.
    pub left_m: f64,
    /// Least up.
    pub down_m: f64,
    /// Largest to the right.
    pub right_m: f64,
    /// Largest up.
    pub up_m: f64,
}

impl Window {
    /// The least window around points; `None` without a finite one.
    pub fn around(points: impl IntoIterator<Item = [f64; 2]>) -> Option<Window> {
        let mut found: Option<Window> = None;
        for [x, z] in points
            .into_iter()
            .filter(|p| p[0].is_finite() && p[1].is_finite())
        {
            let w = found.get_or_insert(Window {
                left_m: x,
                down_m: z,
                right_m: x,
                up_m: z,
            });
            w.left_m = w.left_m.min(x);
            w.right_m = w.right_m.max(x);
            w.down_m = w.down_m.min(z);
            w.up_m = w.up_m.max(z);
        }
        found
    }

    /// Width, m.
    pub fn width_m(&self) -> f64 {
        self.right_m - self.left_m
    }

    /// Height, m.
    pub fn height_m(&self) -> f64 {
        self.up_m - self.down_m
    }
}

/// How a scale may be chosen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Steps {
    /// From [`SERIES`], for paper.
    Series,
    /// Whatever fills the field, for the screen.
    Free,
}

/// The largest scale at which a window fits a field with a margin, and where the window's metres then lie.
///
/// Gives the number after `1 :` and the map.
pub fn fit(window: &Window, field: Rect, margin_mm: f64, steps: Steps) -> (f64, Map) {
    let room = field.inset(margin_mm);
    let need = (window.width_m() / room.width().max(1.0))
        .max(window.height_m() / room.height().max(1.0))
        * 1000.0;
    let need = if need.is_finite() {
        need.max(1.0)
    } else {
        1000.0
    };
    let number = match steps {
        Steps::Free => need,
        Steps::Series => SERIES
            .iter()
            .copied()
            .find(|s| *s >= need - 1e-9)
            .unwrap_or_else(|| (need / 1000.0).ceil() * 1000.0),
    };
    let mm_per_m = 1000.0 / number;
    let centre = room.centre();
    let origin = centre.by(
        -(window.left_m + window.right_m) / 2.0 * mm_per_m,
        (window.down_m + window.up_m) / 2.0 * mm_per_m,
    );
    (number, Map { origin, mm_per_m })
}

/// A scale bar with its left end at `at`: alternating steps, figures below. Gives its box.
pub fn draw_scale_bar(page: &mut Page, at: Pt, mm_per_m: f64, longest_mm: f64, set: Type) -> Rect {
    let mut step_m = 0.1;
    for candidate in [0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0] {
        if candidate * mm_per_m * 4.0 <= longest_mm {
            step_m = candidate;
        }
    }
    let step = step_m * mm_per_m;
    let pen = Pen::new(Line::Thin, Ink::Ink);
    for idx in 0..4 {
        let cell = Rect::sized(at.x + step * f64::from(idx), at.y, step, 1.4);
        let face = if idx % 2 == 0 { Ink::Ink } else { Ink::Paper };
        page.shape(closed_path(&cell.corners()), pen, face);
    }
    let digits = usize::from(step_m < 1.0);
    let y = at.y + 1.4 + 0.8 + set.drop_mm();
    let mut right = at.x + 4.0 * step;
    let mut last = f64::NEG_INFINITY;
    for idx in [0, 4, 2, 1, 3] {
        let text = if idx == 4 {
            format!("{:.digits$} m", step_m * 4.0)
        } else {
            format!("{:.digits$}", step_m * f64::from(idx))
        };
        let width = set.width_mm(&text);
        let zero_half = set.width_mm("0") / 2.0;
        let x = at.x + step * f64::from(idx) - if idx == 4 { zero_half } else { width / 2.0 };
        if idx == 1 || idx == 3 {
            if step < 2.2 * width {
                continue;
            }
        } else if idx == 2 && step * 2.0 < 2.2 * width {
            continue;
        }
        page.words(Pt { x, y }, Anchor::Start, set, &text);
        last = last.max(x + width);
    }
    right = right.max(last);
    Rect {
        left: at.x - set.width_mm("0"),
        top: at.y,
        right,
        bottom: at.y + 1.4 + 0.8 + set.line_mm(),
    }
}

/// A north arrow about `centre`; `north_rad` is the way to grid north, clockwise on paper from the right.
pub fn draw_north(page: &mut Page, centre: Pt, north_rad: f64, words: &str, set: Type) -> Rect {
    let (tail, tip) = (centre.along(north_rad, -6.0), centre.along(north_rad, 6.0));
    page.line(tail, tip, Pen::new(Line::Steel, Ink::Ink));
    let side = north_rad + std::f64::consts::FRAC_PI_2;
    let (back, point) = (tip.along(north_rad, -2.6), tip.along(north_rad, 1.4));
    page.fill(
        closed_path(&[point, back.along(side, 1.3), back.along(side, -1.3)]),
        Ink::Ink,
    );
    page.line(centre.along(side, -2.2), centre.along(side, 2.2), THIN);
    let width = set.width_mm(words);
    let y = centre.y + 8.2 + set.drop_mm();
    page.words(Pt { x: centre.x, y }, Anchor::Middle, set, words);
    let half = (width / 2.0).max(7.5);
    Rect {
        left: centre.x - half,
        top: centre.y - 7.5,
        right: centre.x + half,
        bottom: centre.y + 8.2 + set.line_mm(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_window_lies_in_its_field() {
        let window = Window {
            left_m: -3.0,
            down_m: -2.0,
            right_m: 10.0,
            up_m: 6.5,
        };
        let field = Rect::sized(20.0, 10.0, 380.0, 200.0);
        for steps in [Steps::Series, Steps::Free] {
            let (number, map) = fit(&window, field, 5.0, steps);
            let box_ = Rect::around([map.on_paper([-3.0, -2.0]), map.on_paper([10.0, 6.5])]);
            assert!(field.holds(&box_.unwrap_or(field), 1e-9));
            assert!((map.mm_per_m * number - 1000.0).abs() < 1e-9);
        }
        assert_eq!(fit(&window, field, 5.0, Steps::Series).0, 50.0);
    }
}
