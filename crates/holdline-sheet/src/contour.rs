//! Contours: lines of equal value over a grid, and the areas not below a value.
//!
//! Marching squares (from memory): a value at every point of a grid, straight lines between neighbours;
//! a saddle is settled by the mean of its cell. Of a cell with one corner missing the other three make a triangle;
//! with more missing it stays blank, and so does what is out of reach.

use std::collections::BTreeMap;

/// Values at the points of a grid.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Grid {
    /// The lower left point, right and up, m.
    pub from_m: [f64; 2],
    /// From point to point, right and up, m.
    pub step_m: [f64; 2],
    /// Points in a row.
    pub n_right: usize,
    /// Rows.
    pub n_up: usize,
    /// Row after row from the lowest, left to right: `None` is out of reach; what is not finite is within reach
    /// and not known.
    pub values: Vec<Option<f64>>,
}

impl Grid {
    /// Where a point of the grid lies, m.
    pub fn at_m(&self, right: usize, up: usize) -> [f64; 2] {
        [
            self.from_m[0] + self.step_m[0] * right as f64,
            self.from_m[1] + self.step_m[1] * up as f64,
        ]
    }

    /// The value at a point of the grid.
    pub fn value(&self, right: usize, up: usize) -> Option<f64> {
        if self.n_right <= right || self.n_up <= up {
            return None;
        }
        let value = self.values.get(up * self.n_right + right).copied()?;
        value.filter(|v| v.is_finite())
    }

    /// A grid of the same points that is known wherever this one is within reach: 1 where this one is not known,
    /// else 0.
    #[must_use]
    pub fn reach(&self) -> Grid {
        let of = |value: &Option<f64>| value.map(|v| f64::from(u8::from(!v.is_finite())));
        Grid {
            values: self.values.iter().map(of).collect(),
            ..self.clone()
        }
    }

    /// Least and largest value; `None` without any.
    pub fn range(&self) -> Option<[f64; 2]> {
        let finite = || self.values.iter().flatten().filter(|v| v.is_finite());
        let low = finite().copied().fold(f64::INFINITY, f64::min);
        let high = finite().copied().fold(f64::NEG_INFINITY, f64::max);
        (low <= high).then_some([low, high])
    }

    /// The part of all points with a value where it is not above a limit; `None` without any.
    pub fn share_within(&self, limit: f64) -> Option<f64> {
        let finite = || self.values.iter().flatten().filter(|v| v.is_finite());
        let within = finite().filter(|v| **v <= limit).count();
        let all = finite().count();
        (0 < all).then(|| within as f64 / all as f64)
    }
}

/// A point of an outline, by where it came from, so that neighbours find each other without comparing numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Key {
    Corner(usize, usize),
    /// Where a line crosses the side between two points of the grid, the lesser first.
    Side((usize, usize), (usize, usize)),
}

type Vertex = (Key, [f64; 2]);

/// Lines along which the value is `level`, joined; closed ones end where they begin.
pub fn lines(grid: &Grid, level: f64) -> Vec<Vec<[f64; 2]>> {
    let mut edges = Vec::new();
    for polygon in polygons(grid, level) {
        for (idx, from) in polygon.iter().enumerate() {
            let to = polygon[(idx + 1) % polygon.len()];
            if matches!((from.0, to.0), (Key::Side(..), Key::Side(..))) {
                edges.push((*from, to));
            }
        }
    }
    chains(edges)
}

/// Closed outlines of the area whose value is known and not below `level`: counter-clockwise, holes clockwise.
///
/// With `f64::NEG_INFINITY`: all that is known.
pub fn areas_from(grid: &Grid, level: f64) -> Vec<Vec<[f64; 2]>> {
    let mut edges: BTreeMap<(Key, Key), (Vertex, Vertex)> = BTreeMap::new();
    for polygon in polygons(grid, level) {
        for (idx, from) in polygon.iter().enumerate() {
            let to = polygon[(idx + 1) % polygon.len()];
            // A side walked both ways lies inside the area.
            if edges.remove(&(to.0, from.0)).is_none() {
                edges.insert((from.0, to.0), (*from, to));
            }
        }
    }
    chains(edges.into_values().collect())
}

/// Joins directed edges end to end.
fn chains(edges: Vec<(Vertex, Vertex)>) -> Vec<Vec<[f64; 2]>> {
    let mut from: BTreeMap<Key, Vec<usize>> = BTreeMap::new();
    let mut into: BTreeMap<Key, usize> = BTreeMap::new();
    for (idx, (a, b)) in edges.iter().enumerate() {
        from.entry(a.0).or_default().push(idx);
        *into.entry(b.0).or_default() += 1;
    }
    // Open lines first, from their own beginning; what is left is closed.
    let starts = edges.iter().enumerate();
    let open = starts.filter(|(_, (a, _))| !into.contains_key(&a.0));
    let order: Vec<usize> = open.map(|(idx, _)| idx).chain(0..edges.len()).collect();
    let mut used = vec![false; edges.len()];
    let mut found = Vec::new();
    for first in order {
        if used[first] {
            continue;
        }
        let mut line = vec![edges[first].0.1];
        let mut next = Some(first);
        while let Some(idx) = next {
            used[idx] = true;
            line.push(edges[idx].1.1);
            let onward = from.get(&edges[idx].1.0);
            next = onward.and_then(|list| list.iter().copied().find(|i| !used[*i]));
        }
        found.push(line);
    }
    found
}

/// The part of each cell that is not below the level, counter-clockwise.
fn polygons(grid: &Grid, level: f64) -> Vec<Vec<Vertex>> {
    let mut found = Vec::new();
    for up in 0..grid.n_up.saturating_sub(1) {
        for right in 0..grid.n_right.saturating_sub(1) {
            let around = [
                (right, up),
                (right + 1, up),
                (right + 1, up + 1),
                (right, up + 1),
            ];
            let corners: Vec<((usize, usize), f64)> = around
                .into_iter()
                .filter_map(|(r, u)| Some(((r, u), grid.value(r, u)?)))
                .collect();
            if corners.len() >= 3 {
                cell(grid, &corners, level, &mut found);
            }
        }
    }
    found
}

fn cell(grid: &Grid, corners: &[((usize, usize), f64)], level: f64, found: &mut Vec<Vec<Vertex>>) {
    let above: Vec<bool> = corners.iter().map(|(_, value)| level <= *value).collect();
    let mut polygon = Vec::new();
    for (idx, (at, value)) in corners.iter().enumerate() {
        let after = (idx + 1) % corners.len();
        if above[idx] {
            polygon.push((Key::Corner(at.0, at.1), grid.at_m(at.0, at.1)));
        }
        if above[idx] != above[after] {
            polygon.push(crossing(grid, (*at, *value), corners[after], level));
        }
    }
    let saddle = corners.len() == 4 && above[0] == above[2] && above[1] == above[3];
    let mean = corners.iter().map(|(_, value)| value).sum::<f64>() / corners.len() as f64;
    if saddle && above[0] != above[1] && mean < level {
        // Two corners that do not meet: crossing, corner, crossing; twice.
        let shift = usize::from(matches!(polygon[0].0, Key::Corner(..)));
        polygon.rotate_right(shift);
        found.push(polygon.split_off(3));
    }
    if polygon.len() >= 3 {
        found.push(polygon);
    }
}

fn crossing(grid: &Grid, a: ((usize, usize), f64), b: ((usize, usize), f64), level: f64) -> Vertex {
    // Always from the lesser corner, so that both cells beside a side get the same number.
    let (a, b) = if a.0 < b.0 { (a, b) } else { (b, a) };
    let t = ((level - a.1) / (b.1 - a.1)).clamp(0.0, 1.0);
    let (p, q) = (grid.at_m(a.0.0, a.0.1), grid.at_m(b.0.0, b.0.1));
    let at = [p[0] + (q[0] - p[0]) * t, p[1] + (q[1] - p[1]) * t];
    (Key::Side(a.0, b.0), at)
}

/// A line with the points left out that lie within `within` of what is left (Douglas and Peucker, from memory).
pub fn simplified(line: &[[f64; 2]], within: f64) -> Vec<[f64; 2]> {
    let closed = line.len() > 3 && line.first() == line.last();
    if closed {
        // A closed line has no chord: it is cut at the point furthest from its beginning.
        let far = (1..line.len() - 1)
            .max_by(|a, b| apart(line[0], line[*a]).total_cmp(&apart(line[0], line[*b])))
            .unwrap_or(1);
        let mut first = simplified_open(&line[..=far], within);
        first.pop();
        first.extend(simplified_open(&line[far..], within));
        return first;
    }
    simplified_open(line, within)
}

fn simplified_open(line: &[[f64; 2]], within: f64) -> Vec<[f64; 2]> {
    let mut keep = vec![false; line.len()];
    let mut waiting = vec![(0, line.len().saturating_sub(1))];
    while let Some((from, to)) = waiting.pop() {
        if line.is_empty() {
            break;
        }
        (keep[from], keep[to]) = (true, true);
        let furthest = (from + 1..to)
            .map(|idx| (idx, off_chord(line[idx], line[from], line[to])))
            .max_by(|a, b| a.1.total_cmp(&b.1));
        if let Some((idx, off)) = furthest.filter(|(_, off)| within < *off) {
            debug_assert!(off.is_finite());
            waiting.extend([(from, idx), (idx, to)]);
        }
    }
    let kept = line.iter().zip(keep).filter(|(_, keep)| *keep);
    kept.map(|(p, _)| *p).collect()
}

fn apart(a: [f64; 2], b: [f64; 2]) -> f64 {
    (b[0] - a[0]).hypot(b[1] - a[1])
}

fn off_chord(p: [f64; 2], a: [f64; 2], b: [f64; 2]) -> f64 {
    let length = apart(a, b);
    if length < 1e-12 {
        return apart(p, a);
    }
    let along = ((p[0] - a[0]) * (b[0] - a[0]) + (p[1] - a[1]) * (b[1] - a[1])) / length;
    let t = (along / length).clamp(0.0, 1.0);
    apart(p, [a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t])
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grid(n: usize, value: impl Fn([f64; 2]) -> Option<f64>) -> Grid {
        let mut grid = Grid {
            from_m: [-2.0, -2.0],
            step_m: [4.0 / (n - 1) as f64; 2],
            n_right: n,
            n_up: n,
            values: Vec::new(),
        };
        for up in 0..n {
            for right in 0..n {
                grid.values.push(value(grid.at_m(right, up)));
            }
        }
        grid
    }

    fn area(outlines: &[Vec<[f64; 2]>]) -> f64 {
        let twice: f64 = outlines
            .iter()
            .flat_map(|o| o.windows(2))
            .map(|w| w[0][0] * w[1][1] - w[1][0] * w[0][1])
            .sum();
        twice / 2.0
    }

    #[test]
    fn a_cone_has_round_contours() {
        let cone = grid(81, |[x, y]| Some(x.hypot(y)));
        for radius in [0.5, 1.0, 1.5] {
            let found = lines(&cone, radius);
            assert_eq!(found.len(), 1);
            assert_eq!(found[0].first(), found[0].last(), "closed");
            for [x, y] in &found[0] {
                // Linear between points 0.05 m apart: off by at most a quarter of h²/2r.
                assert!((x.hypot(*y) - radius).abs() < 0.002, "{x} {y}");
            }
            let outside = area(&areas_from(&cone, radius));
            let want = 16.0 - std::f64::consts::PI * radius * radius;
            assert!((outside - want).abs() < 0.01, "{outside} {want}");
        }
    }

    #[test]
    fn a_plane_has_straight_contours_that_end_at_the_edge() {
        let plane = grid(11, |[x, _]| Some(x));
        let found = lines(&plane, 0.3);
        assert_eq!(found.len(), 1);
        assert!(found[0].iter().all(|p| (p[0] - 0.3).abs() < 1e-12));
        let ends = [found[0][0][1], found[0][found[0].len() - 1][1]];
        assert_eq!(ends.map(f64::abs), [2.0, 2.0]);
        assert_eq!(simplified(&found[0], 1e-9).len(), 2);
        assert!((area(&areas_from(&plane, 0.3)) - 1.7 * 4.0).abs() < 1e-9);
    }

    #[test]
    fn a_saddle_is_settled_by_its_mean() {
        for (low, joined) in [(0.0, true), (-2.0, false)] {
            let cell = Grid {
                from_m: [0.0, 0.0],
                step_m: [1.0, 1.0],
                n_right: 2,
                n_up: 2,
                values: vec![Some(1.0), Some(low), Some(low), Some(1.0)],
            };
            assert_eq!(lines(&cell, 0.4).len(), 2);
            let outlines = areas_from(&cell, 0.4);
            assert_eq!(outlines.len(), if joined { 1 } else { 2 });
            let corner = (0.6_f64 / (1.0 - low)).powi(2) / 2.0; // of the part above at one corner
            let below = ((0.4 - low) / (1.0 - low)).powi(2) / 2.0;
            let want = if joined {
                1.0 - 2.0 * below
            } else {
                2.0 * corner
            };
            assert!((area(&outlines) - want).abs() < 1e-12);
        }
    }

    #[test]
    fn what_is_missing_stays_blank() {
        let ring = grid(41, |[x, y]| {
            let r = x.hypot(y);
            (0.8..=1.8).contains(&r).then_some(r)
        });
        let known = areas_from(&ring, f64::NEG_INFINITY);
        assert_eq!(known.len(), 2, "an outline and a hole");
        let want = std::f64::consts::PI * (1.8 * 1.8 - 0.8 * 0.8);
        let got = area(&known);
        assert!(got < want && want * 0.9 < got, "{got} {want}");
        assert!(lines(&ring, 0.5).is_empty());
        let holes = grid(5, |_| Some(f64::NAN));
        assert!(areas_from(&holes, f64::NEG_INFINITY).is_empty());
        let reach = areas_from(&holes.reach(), f64::NEG_INFINITY);
        assert!(
            (area(&reach) - 16.0).abs() < 1e-12,
            "within reach, not known"
        );
        let half = grid(5, |[x, _]| Some(if x < 0.0 { f64::NAN } else { 0.02 }));
        let not_known = areas_from(&half.reach(), 0.5);
        assert!((area(&not_known) - 4.0 * 1.5).abs() < 1e-12);
        assert_eq!(holes.range(), None);
        assert!(lines(&Grid::default(), 1.0).is_empty());
    }

    #[test]
    fn share_within_a_limit() {
        let plane = grid(41, |[x, _]| (x >= 0.0).then_some(x));
        let share = plane.share_within(1.05).expect("values");
        assert!((share - 11.0 / 21.0).abs() < 1e-9, "{share}");
        assert_eq!(Grid::default().share_within(1.0), None);
    }

    #[test]
    fn few_points_stay_close_to_many() {
        let cone = grid(81, |[x, y]| Some(x.hypot(y)));
        let found = lines(&cone, 1.0).remove(0);
        let few = simplified(&found, 0.01);
        assert!(few.len() < found.len() / 3, "{} {}", few.len(), found.len());
        assert_eq!(few.first(), few.last());
        for p in &found {
            let off = few
                .windows(2)
                .map(|w| off_chord(*p, w[0], w[1]))
                .fold(f64::INFINITY, f64::min);
            assert!(off <= 0.01 + 1e-12, "{off}");
        }
    }
}
