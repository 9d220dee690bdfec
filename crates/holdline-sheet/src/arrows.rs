//! Arrows for differences: far larger than the drawing's own scale, so with a scale of their own.

use crate::geometry::{Pt, closed_path, pt};
use crate::ink::Ink;
use crate::lengths::Lengths;
use crate::line::Line;
use crate::page::{Anchor, Page, Pen, Type};

/// The longest arrow on paper, mm.
const LONGEST_MM: f64 = 20.0;
const PEN: Pen = Pen::new(Line::Steel, Ink::Ink);
/// Length and half width of a head on paper, mm. Broader than a dimension's: these arrows are the drawing.
const HEAD_MM: [f64; 2] = [3.0, 1.1];

/// Scale of arrows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ArrowScale {
    /// Millimetres on paper for a metre of difference.
    pub mm_per_m: f64,
    /// Difference that the key shows, m.
    pub key_m: f64,
    /// What it is shown in.
    pub lengths: Lengths,
}

/// A scale at which the largest difference is at most 20 mm long on paper: 1, 2 or 5 times a power of ten.
pub fn arrow_scale(offs_m: impl IntoIterator<Item = [f64; 2]>, lengths: Lengths) -> ArrowScale {
    let all = offs_m.into_iter().map(|[x, y]| x.hypot(y));
    let largest = all.filter(|l| l.is_finite()).fold(0.0, f64::max);
    let largest = largest.max(0.000_5);
    let mm_per_m = round_down(LONGEST_MM / largest);
    let per_m = lengths.small_per_m();
    ArrowScale {
        mm_per_m,
        key_m: round_down(LONGEST_MM * 0.75 / mm_per_m * per_m) / per_m,
        lengths,
    }
}

/// The largest of 1, 2, 5 times a power of ten that is not above a value.
fn round_down(value: f64) -> f64 {
    let power = 10_f64.powf(value.log10().floor());
    [5.0, 2.0, 1.0]
        .into_iter()
        .map(|s| s * power)
        .find(|s| *s <= value * (1.0 + 1e-12))
        .unwrap_or(power)
}

impl ArrowScale {
    /// Where an arrow ends on paper.
    pub fn end(&self, from: Pt, off_m: [f64; 2]) -> Pt {
        from.by(off_m[0] * self.mm_per_m, -off_m[1] * self.mm_per_m)
    }

    /// Draws an arrow; one shorter than its head is a line.
    pub fn draw(&self, page: &mut Page, from: Pt, off_m: [f64; 2]) {
        let end = self.end(from, off_m);
        if !end.is_finite() {
            return;
        }
        let [long, half] = HEAD_MM;
        if from.to(end) < 1.2 * long {
            page.line(from, end, PEN);
            return;
        }
        let turn = (end.y - from.y).atan2(end.x - from.x);
        let back = end.along(turn + std::f64::consts::PI, long);
        let side = turn + std::f64::consts::FRAC_PI_2;
        page.line(from, back, PEN);
        let corners = [end, back.along(side, half), back.along(side, -half)];
        page.fill(closed_path(&corners), Ink::Ink);
    }

    /// Draws the key: an arrow of a round length with its figure. `at` is its left end; gives its right end.
    pub fn draw_key(&self, page: &mut Page, at: Pt, set: Type) -> f64 {
        let end = at.by(self.key_m * self.mm_per_m, 0.0);
        self.draw(page, at, [self.key_m, 0.0]);
        let text = self.key_text();
        let base = at.y + set.size_mm() * crate::font::CAPITAL / 2.0;
        page.words(pt(end.x + 1.5, base), Anchor::Start, set, &text);
        end.x + 1.5 + set.width_mm(&text)
    }

    /// The key's figure.
    fn key_text(&self) -> String {
        let number = self.key_m * self.lengths.small_per_m();
        let decimals = (-number.log10() + 1e-9).ceil().clamp(0.0, 5.0) as i32;
        self.lengths.small_number(number, decimals)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_largest_arrow_fits_and_the_key_is_round() {
        for largest in [0.0007, 0.004, 0.02, 0.039, 0.3, 2.0, 0.0, f64::NAN] {
            let scale = arrow_scale([[0.0, 0.001], [largest, 0.0]], Lengths::Metric);
            let longest = largest.max(0.001) * scale.mm_per_m;
            assert!(largest.is_nan() || longest <= 20.0 + 1e-9, "{largest}");
            let key = scale.key_m * scale.mm_per_m;
            assert!((6.0..=15.0 + 1e-9).contains(&key), "{largest}: {key}");
        }
        let scale = ArrowScale {
            mm_per_m: 500.0,
            key_m: 0.02,
            lengths: Lengths::Metric,
        };
        assert_eq!(scale.key_text(), "20 mm");
        let fine = ArrowScale {
            mm_per_m: 50_000.0,
            key_m: 0.000_2,
            lengths: Lengths::Metric,
        };
        assert_eq!(fine.key_text(), "0.2 mm");
    }
}
