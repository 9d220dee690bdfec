//! Points, boxes and paths on paper: millimetres, x to the right, y down, origin top left.

/// A point on paper, mm.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Pt {
    /// To the right.
    pub x: f64,
    /// Down.
    pub y: f64,
}

/// Short for a point.
pub const fn pt(x: f64, y: f64) -> Pt {
    Pt { x, y }
}

impl Pt {
    /// The point `dx` to the right and `dy` down from here.
    #[must_use]
    pub fn by(self, dx: f64, dy: f64) -> Pt {
        pt(self.x + dx, self.y + dy)
    }

    /// The point `length_mm` away in the direction `turn_rad`, clockwise on paper from the right.
    #[must_use]
    pub fn along(self, turn_rad: f64, length_mm: f64) -> Pt {
        self.by(turn_rad.cos() * length_mm, turn_rad.sin() * length_mm)
    }

    /// Distance to another point, mm.
    pub fn to(self, other: Pt) -> f64 {
        (other.x - self.x).hypot(other.y - self.y)
    }

    /// The point half way to another.
    #[must_use]
    pub fn middle(self, other: Pt) -> Pt {
        pt((self.x + other.x) / 2.0, (self.y + other.y) / 2.0)
    }

    /// True when both numbers are finite.
    pub fn is_finite(self) -> bool {
        self.x.is_finite() && self.y.is_finite()
    }
}

/// A box along the edges of the paper, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rect {
    /// Left edge.
    pub left: f64,
    /// Upper edge.
    pub top: f64,
    /// Right edge.
    pub right: f64,
    /// Lower edge.
    pub bottom: f64,
}

impl Rect {
    /// From corner and size.
    pub fn sized(left: f64, top: f64, width: f64, height: f64) -> Rect {
        Rect {
            left,
            top,
            right: left + width,
            bottom: top + height,
        }
    }

    /// The least box around points; `None` without any finite point.
    pub fn around(points: impl IntoIterator<Item = Pt>) -> Option<Rect> {
        let mut found: Option<Rect> = None;
        for p in points.into_iter().filter(|p| p.is_finite()) {
            let here = Rect {
                left: p.x,
                top: p.y,
                right: p.x,
                bottom: p.y,
            };
            found = Some(found.map_or(here, |r| r.union(here)));
        }
        found
    }

    /// Width, mm.
    pub fn width(&self) -> f64 {
        self.right - self.left
    }

    /// Height, mm.
    pub fn height(&self) -> f64 {
        self.bottom - self.top
    }

    /// Centre.
    pub fn centre(&self) -> Pt {
        pt(
            (self.left + self.right) / 2.0,
            (self.top + self.bottom) / 2.0,
        )
    }

    /// The least box around both.
    #[must_use]
    pub fn union(self, other: Rect) -> Rect {
        Rect {
            left: self.left.min(other.left),
            top: self.top.min(other.top),
            right: self.right.max(other.right),
            bottom: self.bottom.max(other.bottom),
        }
    }

    /// Smaller by `by_mm` on every side; larger when negative.
    #[must_use]
    pub fn inset(self, by_mm: f64) -> Rect {
        Rect {
            left: self.left + by_mm,
            top: self.top + by_mm,
            right: self.right - by_mm,
            bottom: self.bottom - by_mm,
        }
    }

    /// True when the other box lies inside this one, with `slack_mm` to spare.
    pub fn holds(&self, other: &Rect, slack_mm: f64) -> bool {
        self.left - slack_mm <= other.left
            && other.right <= self.right + slack_mm
            && self.top - slack_mm <= other.top
            && other.bottom <= self.bottom + slack_mm
    }

    /// True when the two boxes share more than an edge.
    pub fn meets(&self, other: &Rect) -> bool {
        self.left < other.right
            && other.left < self.right
            && self.top < other.bottom
            && other.top < self.bottom
    }

    /// True when the segment from `a` to `b` runs through the box.
    pub fn is_crossed(&self, a: Pt, b: Pt) -> bool {
        let (mut from, mut to) = (0.0_f64, 1.0_f64);
        for (start, way, low, high) in [
            (a.x, b.x - a.x, self.left, self.right),
            (a.y, b.y - a.y, self.top, self.bottom),
        ] {
            if way.abs() < 1e-12 {
                if start < low || high < start {
                    return false;
                }
                continue;
            }
            let (one, two) = ((low - start) / way, (high - start) / way);
            from = from.max(one.min(two));
            to = to.min(one.max(two));
        }
        from < to
    }

    /// The four corners, clockwise from the top left.
    pub fn corners(&self) -> [Pt; 4] {
        [
            pt(self.left, self.top),
            pt(self.right, self.top),
            pt(self.right, self.bottom),
            pt(self.left, self.bottom),
        ]
    }
}

/// A step of a path.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Step {
    /// Lifts the pen to a point.
    Move(Pt),
    /// A straight line to a point.
    Line(Pt),
    /// A cubic curve: two handles and the end.
    Curve(Pt, Pt, Pt),
    /// Back to the last `Move`.
    Close,
}

/// An open path through points.
pub fn open_path(points: &[Pt]) -> Vec<Step> {
    points
        .iter()
        .enumerate()
        .map(|(idx, p)| {
            if idx == 0 {
                Step::Move(*p)
            } else {
                Step::Line(*p)
            }
        })
        .collect()
}

/// A closed path through points.
pub fn closed_path(points: &[Pt]) -> Vec<Step> {
    let mut steps = open_path(points);
    if !steps.is_empty() {
        steps.push(Step::Close);
    }
    steps
}

/// Part of a circle from `from_rad` to `to_rad`, clockwise on paper from the right when growing.
///
/// Cubic curves of at most 45° each; off by less than 5e-6 of the radius.
pub fn arc(centre: Pt, radius_mm: f64, from_rad: f64, to_rad: f64) -> Vec<Step> {
    let sweep = to_rad - from_rad;
    let n = ((sweep.abs() / std::f64::consts::FRAC_PI_4).ceil() as usize).clamp(1, 64);
    let step = sweep / n as f64;
    // Handle of a cubic that follows a circle.
    let reach = radius_mm * 4.0 / 3.0 * (step / 4.0).tan();
    let mut steps = vec![Step::Move(centre.along(from_rad, radius_mm))];
    for idx in 0..n {
        let (a, b) = (
            from_rad + step * idx as f64,
            from_rad + step * (idx + 1) as f64,
        );
        let (start, end) = (centre.along(a, radius_mm), centre.along(b, radius_mm));
        let quarter = std::f64::consts::FRAC_PI_2;
        steps.push(Step::Curve(
            start.along(a + quarter, reach),
            end.along(b - quarter, reach),
            end,
        ));
    }
    steps
}

/// A whole circle.
pub fn circle(centre: Pt, radius_mm: f64) -> Vec<Step> {
    let mut steps = arc(centre, radius_mm, 0.0, std::f64::consts::TAU);
    steps.push(Step::Close);
    steps
}

/// Convex hull, without points on its edges; any order in, one way round out.
///
/// Andrew's monotone chain (from memory).
pub fn hull(points: &[[f64; 2]]) -> Vec<[f64; 2]> {
    let mut sorted: Vec<[f64; 2]> = points
        .iter()
        .copied()
        .filter(|p| p[0].is_finite() && p[1].is_finite())
        .collect();
    sorted.sort_by(|a, b| a[0].total_cmp(&b[0]).then(a[1].total_cmp(&b[1])));
    sorted.dedup();
    if sorted.len() < 3 {
        return sorted;
    }
    let cross = |o: [f64; 2], a: [f64; 2], b: [f64; 2]| {
        (a[0] - o[0]) * (b[1] - o[1]) - (a[1] - o[1]) * (b[0] - o[0])
    };
    let half = |order: &mut dyn Iterator<Item = [f64; 2]>| {
        let mut chain: Vec<[f64; 2]> = Vec::new();
        for p in order {
            while chain.len() >= 2
                && cross(chain[chain.len() - 2], chain[chain.len() - 1], p) <= 0.0
            {
                chain.pop();
            }
            chain.push(p);
        }
        chain.pop();
        chain
    };
    let mut lower = half(&mut sorted.iter().copied());
    lower.extend(half(&mut sorted.iter().rev().copied()));
    lower
}

/// All points within `radius` of the convex hull of `points`, as a polygon that contains it.
///
/// Corners are rounded by chords of 15° or less that lie outside the circle.
pub fn swept_hull(points: &[[f64; 2]], radius: f64) -> Vec<[f64; 2]> {
    if radius.is_nan() || radius <= 0.0 {
        return hull(points);
    }
    const N: usize = 24;
    let outside = radius / (std::f64::consts::PI / N as f64).cos();
    let mut grown = Vec::with_capacity(points.len() * N);
    for p in hull(points) {
        for idx in 0..N {
            let turn = std::f64::consts::TAU * idx as f64 / N as f64;
            grown.push([p[0] + outside * turn.cos(), p[1] + outside * turn.sin()]);
        }
    }
    hull(&grown)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_segment_crosses_a_box_or_not() {
        let r = Rect::sized(0.0, 0.0, 10.0, 5.0);
        assert!(r.is_crossed(pt(-1.0, 2.0), pt(11.0, 2.0)));
        assert!(r.is_crossed(pt(2.0, 2.0), pt(3.0, 3.0)));
        assert!(!r.is_crossed(pt(-1.0, 6.0), pt(11.0, 6.0)));
        assert!(!r.is_crossed(pt(-3.0, 0.0), pt(0.0, -3.0)));
    }

    #[test]
    fn an_arc_stays_on_its_circle() {
        let steps = arc(pt(0.0, 0.0), 100.0, 0.3, 5.0);
        let mut from = pt(0.0, 0.0);
        for step in steps {
            match step {
                Step::Move(p) | Step::Line(p) => from = p,
                Step::Curve(a, b, end) => {
                    for idx in 0..=10 {
                        let t = f64::from(idx) / 10.0;
                        let u = 1.0 - t;
                        let mix = |p: f64, q: f64, r: f64, s: f64| {
                            u * u * u * p
                                + 3.0 * u * u * t * q
                                + 3.0 * u * t * t * r
                                + t * t * t * s
                        };
                        let on = pt(mix(from.x, a.x, b.x, end.x), mix(from.y, a.y, b.y, end.y));
                        assert!((on.to(pt(0.0, 0.0)) - 100.0).abs() < 5e-4);
                    }
                    from = end;
                }
                Step::Close => {}
            }
        }
    }

    #[test]
    fn a_swept_hull_contains_the_capsule() {
        let around = swept_hull(&[[0.0, 0.0], [4.0, 0.0]], 1.0);
        let least_x = around.iter().map(|p| p[0]).fold(f64::INFINITY, f64::min);
        let largest_z = around
            .iter()
            .map(|p| p[1])
            .fold(f64::NEG_INFINITY, f64::max);
        assert!((-1.01..=-1.0).contains(&least_x));
        assert!((1.0..=1.01).contains(&largest_z));
        assert_eq!(
            hull(&[[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0], [0.5, 0.5]]).len(),
            4
        );
    }
}
