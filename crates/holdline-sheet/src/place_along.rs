//! Words that sit on a line, as contours carry their figures.

use crate::dimension::reading_turn;
use crate::font;
use crate::geometry::{Pt, pt};
use crate::place::Label;

/// Length of a line through points, mm.
pub fn length_of(line: &[Pt]) -> f64 {
    line.windows(2).map(|w| w[0].to(w[1])).sum()
}

/// Starts of a baseline, with its turn, that sit on a line: the straightest stretch nearest to its middle first.
/// None on a line hardly longer than the words.
pub fn places_along(line: &[Pt], label: &Label) -> Vec<(Pt, f64)> {
    let width = label.width_mm();
    let whole = length_of(line);
    if whole < 1.6 * width {
        return Vec::new();
    }
    let n = ((whole / 4.0) as usize).clamp(5, 60);
    let mut found: Vec<(f64, Pt, f64)> = Vec::new();
    for idx in 0..n {
        let middle = whole * (idx as f64 + 0.5) / n as f64;
        let ends = (
            point_along(line, middle - width / 2.0),
            point_along(line, middle + width / 2.0),
        );
        let (Some(a), Some(b), Some(on)) = (ends.0, ends.1, point_along(line, middle)) else {
            continue;
        };
        let bent = width - a.to(b) + on.to(a.middle(b));
        let away = (idx as f64 + 0.5 - n as f64 / 2.0).abs() / n as f64;
        let turn = reading_turn(a, b);
        let start = on.along(turn, -width / 2.0).along(
            turn + std::f64::consts::FRAC_PI_2,
            label.size_mm() * font::CAPITAL / 2.0,
        );
        found.push((bent + 0.5 * away, start, turn));
    }
    found.sort_by(|a, b| a.0.total_cmp(&b.0));
    found.into_iter().map(|(_, at, turn)| (at, turn)).collect()
}

fn point_along(line: &[Pt], mut along: f64) -> Option<Pt> {
    if along < 0.0 {
        return None;
    }
    for pair in line.windows(2) {
        let length = pair[0].to(pair[1]);
        if along <= length && 0.0 < length {
            let t = along / length;
            return Some(pt(
                pair[0].x + (pair[1].x - pair[0].x) * t,
                pair[0].y + (pair[1].y - pair[0].y) * t,
            ));
        }
        along -= length;
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::page::Type;

    #[test]
    fn words_sit_on_the_straight_part_and_read_from_the_bottom_or_the_right() {
        let label = Label::new(Type::regular(9.0), "25 mm");
        let mut line: Vec<Pt> = (0..20)
            .map(|n| pt(0.0, 0.0).along(f64::from(n) * 0.3, 6.0))
            .collect();
        let end = line[19];
        line.extend((1..30).map(|n| end.by(f64::from(n) * 3.0, 0.0)));
        let (at, turn) = places_along(&line, &label)[0];
        assert!(turn.abs() < 1e-9, "{turn}");
        // The middle of the letters lies on the line.
        let up = label.size_mm() * font::CAPITAL / 2.0;
        assert!((at.y - up - end.y).abs() < 1e-9, "{at:?}");
        assert!(places_along(&line[..2], &label).is_empty());
        assert!(places_along(&[], &label).is_empty());
    }

    #[test]
    fn a_point_along_is_so_far_from_the_beginning() {
        let line = [pt(0.0, 0.0), pt(3.0, 0.0), pt(3.0, 0.0), pt(3.0, 4.0)];
        assert_eq!(length_of(&line), 7.0);
        assert_eq!(point_along(&line, 5.0), Some(pt(3.0, 2.0)));
        assert_eq!(point_along(&line, 7.5), None);
        assert_eq!(point_along(&line, -0.1), None);
    }
}
