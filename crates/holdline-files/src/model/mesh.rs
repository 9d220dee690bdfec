//! Triangles of the solids, for a model in space.

use super::Solid;
use crate::sources;

/// Triangles without shared corners: nine coordinates each, and the normal of every corner.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Mesh {
    /// Corners, metres, three a triangle, counter-clockwise seen from outside.
    pub corners_m: Vec<[f32; 3]>,
    /// Unit normals, one a corner.
    pub normals: Vec<[f32; 3]>,
}

/// Corners of a capsule's round.
const ROUND: u32 = 16;
/// Rings from a capsule's end to its pole.
const RINGS: u32 = 4;

/// The triangles of a solid.
///
/// A capsule is cut into flat faces with its corners on the round, so the picture is a little slimmer than the solid.
pub fn mesh(solid: &Solid) -> Mesh {
    match solid {
        Solid::Capsule {
            from_m,
            to_m,
            radius_m,
        } => capsule(*from_m, *to_m, *radius_m),
        Solid::Prism { outline_m, y_m } => {
            spread(outline_m, *y_m, |p, y| [p[0], y, p[1]], Turn::Clockwise)
        }
        Solid::Slab { outline_m, z_m } => spread(
            outline_m,
            *z_m,
            |p, z| [p[0], p[1], z],
            Turn::CounterClockwise,
        ),
    }
}

/// Which way the outline's corners go round, seen from the side to which it is spread.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Turn {
    Clockwise,
    CounterClockwise,
}

/// The hull of an outline, spread between two planes.
fn spread(
    outline_m: &[[f64; 2]],
    ends: [f64; 2],
    place: impl Fn([f64; 2], f64) -> [f64; 3],
    turn: Turn,
) -> Mesh {
    let mut hull = hull(outline_m);
    if turn == Turn::Clockwise {
        hull.reverse();
    }
    let mut mesh = Mesh::default();
    let n = hull.len();
    for k in 0..n {
        let (p, q) = (hull[k], hull[(k + 1) % n]);
        let [a, b] = [place(p, ends[0]), place(q, ends[0])];
        let [c, d] = [place(q, ends[1]), place(p, ends[1])];
        mesh.flat([a, b, c]);
        mesh.flat([a, c, d]);
    }
    for k in 1..n.saturating_sub(1) {
        let [p, q, r] = [hull[0], hull[k], hull[k + 1]];
        mesh.flat([place(p, ends[1]), place(q, ends[1]), place(r, ends[1])]);
        mesh.flat([place(p, ends[0]), place(r, ends[0]), place(q, ends[0])]);
    }
    mesh
}

/// Corners of the convex hull, counter-clockwise (x to the right, the other up).
///
/// - Source: [`sources::HULL`].
fn hull(points: &[[f64; 2]]) -> Vec<[f64; 2]> {
    let _ = sources::HULL;
    let mut sorted = points.to_vec();
    sorted.sort_by(|a, b| a[0].total_cmp(&b[0]).then(a[1].total_cmp(&b[1])));
    sorted.dedup();
    if sorted.len() < 3 {
        return sorted;
    }
    let turns_left = |a: [f64; 2], b: [f64; 2], c: [f64; 2]| {
        0.0 < (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
    };
    let half = |points: &mut dyn Iterator<Item = [f64; 2]>| {
        let mut side: Vec<[f64; 2]> = Vec::new();
        for p in points {
            while let [.., a, b] = side[..] {
                if turns_left(a, b, p) {
                    break;
                }
                side.pop();
            }
            side.push(p);
        }
        side.pop(); // the other half begins with it
        side
    };
    let mut hull = half(&mut sorted.iter().copied());
    hull.extend(half(&mut sorted.iter().rev().copied()));
    hull
}

fn capsule(from_m: [f64; 3], to_m: [f64; 3], radius_m: f64) -> Mesh {
    let axis = minus(to_m, from_m);
    let long = length(axis);
    let x = if 0.0 < long {
        scaled(axis, 1.0 / long)
    } else {
        [1.0, 0.0, 0.0]
    };
    let helper = if x[1].abs() < 0.9 {
        [0.0, 1.0, 0.0]
    } else {
        [0.0, 0.0, 1.0]
    };
    let y = unit(cross(x, helper));
    let z = cross(x, y);
    // Rings from the pole behind `from_m` to the pole beyond `to_m`: normals, each at its end.
    let mut rings: Vec<(f64, [f64; 3])> = Vec::new();
    for ring in 0..=RINGS {
        let angle = std::f64::consts::FRAC_PI_2 * (f64::from(ring) / f64::from(RINGS) - 1.0);
        rings.push((angle, from_m));
    }
    for ring in 0..=RINGS {
        let angle = std::f64::consts::FRAC_PI_2 * f64::from(ring) / f64::from(RINGS);
        rings.push((angle, to_m));
    }
    let corner = |ring: (f64, [f64; 3]), k: u32| {
        let turn = std::f64::consts::TAU * f64::from(k % ROUND) / f64::from(ROUND);
        let (sin, cos) = ring.0.sin_cos();
        let (side, up) = turn.sin_cos();
        let aside = plus(scaled(y, up * cos), scaled(z, side * cos));
        let normal = unit(plus(scaled(x, sin), aside));
        (plus(ring.1, scaled(normal, radius_m)), normal)
    };
    let mut mesh = Mesh::default();
    for pair in rings.windows(2) {
        for k in 0..ROUND {
            let [a, b] = [corner(pair[0], k), corner(pair[0], k + 1)];
            let [c, d] = [corner(pair[1], k + 1), corner(pair[1], k)];
            mesh.round([a, b, c]);
            mesh.round([a, c, d]);
        }
    }
    mesh
}

impl Mesh {
    /// A flat triangle; one without area is left out.
    fn flat(&mut self, corners: [[f64; 3]; 3]) {
        let [a, b, c] = corners;
        let normal = cross(minus(b, a), minus(c, a));
        if length(normal) <= 1e-12 {
            return;
        }
        let normal = unit(normal);
        self.corners_m.extend(corners.map(single));
        self.normals.extend([single(normal); 3]);
    }

    /// A triangle of a round surface.
    fn round(&mut self, corners: [([f64; 3], [f64; 3]); 3]) {
        let [a, b, c] = corners.map(|(corner, _)| corner);
        if length(cross(minus(b, a), minus(c, a))) <= 1e-12 {
            return; // two corners at a pole are one
        }
        self.corners_m
            .extend(corners.map(|(corner, _)| single(corner)));
        self.normals
            .extend(corners.map(|(_, normal)| single(normal)));
    }
}

fn single(p: [f64; 3]) -> [f32; 3] {
    p.map(|v| v as f32)
}

fn plus(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [a[0] + b[0], a[1] + b[1], a[2] + b[2]]
}

fn minus(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [a[0] - b[0], a[1] - b[1], a[2] - b[2]]
}

fn scaled(a: [f64; 3], by: f64) -> [f64; 3] {
    a.map(|v| v * by)
}

fn cross(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [
        a[1] * b[2] - a[2] * b[1],
        a[2] * b[0] - a[0] * b[2],
        a[0] * b[1] - a[1] * b[0],
    ]
}

fn length(a: [f64; 3]) -> f64 {
    (a[0] * a[0] + a[1] * a[1] + a[2] * a[2]).sqrt()
}

fn unit(a: [f64; 3]) -> [f64; 3] {
    scaled(a, 1.0 / length(a))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Volume enclosed, by the divergence theorem: positive only where every face looks outward.
    fn volume(mesh: &Mesh) -> f64 {
        let wide = |p: [f32; 3]| p.map(f64::from);
        let (triangles, rest) = mesh.corners_m.as_chunks::<3>();
        assert!(rest.is_empty() && mesh.normals.len() == mesh.corners_m.len());
        triangles
            .iter()
            .map(|t| {
                let [a, b, c] = t.map(wide);
                let n = cross(b, c);
                (a[0] * n[0] + a[1] * n[1] + a[2] * n[2]) / 6.0
            })
            .sum()
    }

    #[test]
    fn volumes_by_closed_forms() {
        let square = vec![[1.0, 1.0], [3.0, 1.0], [3.0, 2.0], [1.0, 2.0], [2.0, 1.5]];
        let prism = Solid::Prism {
            outline_m: square.clone(),
            y_m: [-0.5, 1.0],
        };
        assert!((volume(&mesh(&prism)) - 3.0).abs() < 1e-5); // 2 × 1 × 1.5
        let slab = Solid::Slab {
            outline_m: square,
            z_m: [0.0, 4.0],
        };
        assert!((volume(&mesh(&slab)) - 8.0).abs() < 1e-5);
        let capsule = Solid::Capsule {
            from_m: [1.0, 2.0, 3.0],
            to_m: [1.0, 2.0, 5.0],
            radius_m: 0.5,
        };
        let round = std::f64::consts::PI * 0.25 * 2.0 + 4.0 / 3.0 * std::f64::consts::PI * 0.125;
        let got = volume(&mesh(&capsule));
        assert!(0.93 * round < got && got < round, "{got} of {round}");
    }

    #[test]
    fn normals_look_outward() {
        let capsule = Solid::Capsule {
            from_m: [0.0; 3],
            to_m: [2.0, 0.0, 0.0],
            radius_m: 0.5,
        };
        let mesh = mesh(&capsule);
        for (triangle, normal) in mesh.corners_m.chunks(3).zip(mesh.normals.chunks(3)) {
            let [a, b, c] = [triangle[0], triangle[1], triangle[2]].map(|p| p.map(f64::from));
            let face = cross(minus(b, a), minus(c, a));
            let n = normal[0].map(f64::from);
            assert!(0.0 < face[0] * n[0] + face[1] * n[1] + face[2] * n[2]);
            assert!((length(n) - 1.0).abs() < 1e-6);
        }
    }

    #[test]
    fn a_hull_leaves_out_what_lies_inside() {
        let points = [
            [0.0, 0.0],
            [1.0, 0.0],
            [0.5, 0.2],
            [1.0, 1.0],
            [0.0, 1.0],
            [0.5, 0.0],
        ];
        assert_eq!(
            hull(&points),
            [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]]
        );
    }
}
