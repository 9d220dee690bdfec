//! Convex hull of points in a plane.

/// Corners of the convex hull of `points`, counter-clockwise.
///
/// Where a part's solid is the hull of its outline.
///
/// - Source: monotone chain of A. M. Andrew, 1979 (from memory).
/// - Gives the points themselves, sorted, when fewer than three of them span an area.
pub fn corners(points: &[[f64; 2]]) -> Vec<[f64; 2]> {
    let mut sorted = points.to_vec();
    sorted.sort_by(|a, b| a[0].total_cmp(&b[0]).then(a[1].total_cmp(&b[1])));
    sorted.dedup();
    if sorted.len() < 3 {
        return sorted;
    }
    let half = |points: &mut dyn Iterator<Item = [f64; 2]>| {
        let mut chain: Vec<[f64; 2]> = Vec::new();
        for p in points {
            while let [.., a, b] = chain.as_slice()
                && turn(*a, *b, p) <= 0.0
            {
                chain.pop();
            }
            chain.push(p);
        }
        chain.pop(); // the last is the first of the other half
        chain
    };
    let mut hull = half(&mut sorted.iter().copied());
    hull.extend(half(&mut sorted.iter().rev().copied()));
    hull
}

/// How far `p` lies outside the convex hull of `points`; inside, negative, how far from its sides.
///
/// NaN if any coordinate is, or if the hull has no area.
pub fn distance_outside(points: &[[f64; 2]], p: [f64; 2]) -> f64 {
    let hull = corners(points);
    let known = points.iter().flatten().chain(&p).all(|c| c.is_finite());
    if hull.len() < 3 || !known {
        return f64::NAN;
    }
    let sides = || hull.iter().zip(hull.iter().cycle().skip(1));
    let beyond = sides().map(|(a, b)| -turn(*a, *b, p) / (b[0] - a[0]).hypot(b[1] - a[1]));
    let beyond = beyond.fold(f64::NEG_INFINITY, f64::max);
    if beyond <= 0.0 {
        return beyond;
    }
    sides()
        .map(|(a, b)| to_segment(*a, *b, p))
        .fold(f64::INFINITY, f64::min)
}

/// Distance from `p` to the segment from `a` to `b`.
fn to_segment(a: [f64; 2], b: [f64; 2], p: [f64; 2]) -> f64 {
    let (way, to) = ([b[0] - a[0], b[1] - a[1]], [p[0] - a[0], p[1] - a[1]]);
    let along = (to[0] * way[0] + to[1] * way[1]) / (way[0] * way[0] + way[1] * way[1]);
    let t = along.clamp(0.0, 1.0);
    (to[0] - t * way[0]).hypot(to[1] - t * way[1])
}

/// Twice the area of the triangle `a`, `b`, `c`: positive when it turns counter-clockwise.
fn turn(a: [f64; 2], b: [f64; 2], c: [f64; 2]) -> f64 {
    (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
}

#[cfg(test)]
mod tests {
    use super::*;

    const SQUARE: [[f64; 2]; 5] = [[1.0, 1.0], [0.0, 0.0], [0.5, 0.5], [1.0, 0.0], [0.0, 1.0]];

    #[test]
    fn a_point_inside_is_no_corner() {
        let want = [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]];
        assert_eq!(corners(&SQUARE), want);
    }

    #[test]
    fn distance_has_its_sign() {
        assert_eq!(distance_outside(&SQUARE, [0.5, 0.75]), -0.25);
        assert_eq!(distance_outside(&SQUARE, [0.5, 1.0]), 0.0);
        assert_eq!(distance_outside(&SQUARE, [3.0, 0.5]), 2.0);
        assert_eq!(distance_outside(&SQUARE, [4.0, 5.0]), 5.0); // beyond a corner
        assert!(distance_outside(&SQUARE, [f64::NAN, 0.5]).is_nan());
        assert!(distance_outside(&SQUARE[..2], [0.5, 0.5]).is_nan());
    }
}
