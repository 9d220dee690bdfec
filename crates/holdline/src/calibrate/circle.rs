//! A circle in space through measured points: the start of swing circles and pin arcs.

use holdline_geom::adjust::{
    Adjusted, Equations, How, Linear, Problem, Room, Shape, Start, Unknown, adjust,
};
use holdline_geom::fault::{Fault, Faults};
use nalgebra::{DMatrix, DVector, Matrix3, Matrix3xX, SMatrix, Vector3};
use std::f64::consts::TAU;

/// Points whose arc is shorter than this tell the centre worse than twenty times their own sd over √n.
pub const SHORT_ARC_RAD: f64 = std::f64::consts::FRAC_PI_3;

/// A measured point with its standard uncertainties, m.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CirclePoint {
    /// Three coordinates.
    pub at_m: [f64; 3],
    /// Standard uncertainty of each.
    pub sd_m: [f64; 3],
}

/// A circle in space.
#[derive(Debug, Clone, PartialEq)]
pub struct Circle {
    /// Centre, m.
    pub centre_m: Vector3<f64>,
    /// Unit normal of its plane; it points upward where it can.
    pub normal: Vector3<f64>,
    /// Radius, m.
    pub radius_m: f64,
    /// Covariance of centre, normal, radius, from the stated uncertainties.
    pub covariance: SMatrix<f64, 7, 7>,
    /// Spread of what is left over what the stated uncertainties let expect; none for three points.
    pub s0: Option<f64>,
    /// Equations beyond the six unknowns.
    pub dof: usize,
    /// What is left of each point: off the plane, off the circle, m.
    pub off_m: Vec<[f64; 2]>,
    /// The arc that holds all points, rad.
    pub arc_rad: f64,
    /// Unit vector from the centre to the middle of that arc.
    pub middle: Vector3<f64>,
}

/// Fits a circle in space, each point in error along all three axes.
///
/// ```text
/// n · (p − c) = 0        |p − c − n (n · (p − c))| = r
/// ```
///
/// - Unknowns: c, the two turns of n, r. Readings: the three coordinates of every point.
/// - Units: m. Source: the general adjustment of [`holdline_geom::adjust`].
///
/// # Errors
///
/// `C043` fewer than three points, or one without numbers and uncertainties; `C044` points on a line;
/// those of the adjustment.
pub fn fit_circle(points: &[CirclePoint]) -> Result<Circle, Faults> {
    check(points)?;
    let start = start(points)?;
    let equations = CircleEquations::new(points, &start);
    let unknown = |name: &str, start: f64, scale: f64| Unknown {
        name: name.to_owned(),
        start,
        scale,
    };
    let unknowns = [
        unknown("centre, first axis", 0.0, 0.01),
        unknown("centre, second axis", 0.0, 0.01),
        unknown("centre, third axis", 0.0, 0.01),
        unknown("first turn of the plane", 0.0, 0.001),
        unknown("second turn of the plane", 0.0, 0.001),
        unknown("radius", start.radius_m, 0.01),
    ];
    let how = How {
        start: Start::Given,
        // Points without any error, as a drawing has them, end here too.
        small_at_least: 1e-6,
        ..How::default()
    };
    let adjusted = adjust(&Problem::new(&equations, &unknowns), &how, &mut Room::new())?;
    equations.circle(points, &adjusted)
}

fn check(points: &[CirclePoint]) -> Result<(), Fault> {
    let refuse = |got: String| {
        Err(Fault::new(
            "C043",
            "circle",
            got,
            "three points or more, each with three coordinates and an uncertainty of each",
            "follow the point through more of its way, and state how well it was measured",
        ))
    };
    if points.len() < 3 {
        return refuse(format!("{} points", points.len()));
    }
    for (idx, point) in points.iter().enumerate() {
        let numbers = point.at_m.iter().all(|v| v.is_finite());
        let sds = point.sd_m.iter().all(|sd| 0.0 < *sd && sd.is_finite());
        if !(numbers && sds) {
            return refuse(format!(
                "point {} without numbers or uncertainties",
                idx + 1
            ));
        }
    }
    Ok(())
}

/// Where to begin: the plane by its least spread, the circle in it by a linear fit.
#[derive(Debug, Clone, Copy)]
struct Begin {
    centre_m: Vector3<f64>,
    /// Two axes in the plane and the normal.
    axes: [Vector3<f64>; 3],
    radius_m: f64,
}

fn start(points: &[CirclePoint]) -> Result<Begin, Fault> {
    let all = Matrix3xX::from_iterator(
        points.len(),
        points.iter().flat_map(|point| point.at_m.iter().copied()),
    );
    let middle = all.column_mean();
    let about = Matrix3xX::from_columns(
        &all.column_iter()
            .map(|p| p - middle)
            .collect::<Vec<Vector3<f64>>>(),
    );
    let spread = (&about * about.transpose()).symmetric_eigen();
    let mut order = [0, 1, 2];
    order.sort_by(|a, b| spread.eigenvalues[*b].total_cmp(&spread.eigenvalues[*a]));
    let e1: Vector3<f64> = spread.eigenvectors.column(order[0]).into();
    let mut e2: Vector3<f64> = spread.eigenvectors.column(order[1]).into();
    let mut normal = e1.cross(&e2);
    if normal.z < 0.0 {
        (normal, e2) = (-normal, -e2);
    }
    // u² + v² = 2 u a + 2 v b + k in the plane.
    let rows: Vec<[f64; 2]> = about
        .column_iter()
        .map(|p| [p.dot(&e1), p.dot(&e2)])
        .collect();
    let a = DMatrix::from_fn(rows.len(), 3, |i, j| match j {
        0 => 2.0 * rows[i][0],
        1 => 2.0 * rows[i][1],
        _ => 1.0,
    });
    let l = DVector::from_iterator(rows.len(), rows.iter().map(|[u, v]| u * u + v * v));
    let flat = spread.eigenvalues[order[1]] <= 1e-8 * spread.eigenvalues[order[0]];
    let svd = a.svd(true, true);
    let solved = svd.solve(&l, 1e-12 * svd.singular_values.max());
    match solved {
        Ok(x) if !flat => {
            let radius_m = (x[2] + x[0] * x[0] + x[1] * x[1]).sqrt();
            Ok(Begin {
                centre_m: middle + e1 * x[0] + e2 * x[1],
                axes: [e1, e2, normal],
                radius_m,
            })
        }
        Ok(_) | Err(_) => Err(Fault::new(
            "C044",
            "circle",
            "points on one line",
            "points along an arc",
            "turn the joint through its whole stroke while the point is followed",
        )),
    }
}

/// The equations of a circle, a block a point.
struct CircleEquations {
    readings: Vec<[f64; 3]>,
    covariances: Vec<[f64; 9]>,
    begin: Begin,
}

/// The plane's normal and its slopes by the two turns.
struct Tilted {
    normal: Vector3<f64>,
    slopes: [Vector3<f64>; 2],
}

impl CircleEquations {
    fn new(points: &[CirclePoint], begin: &Begin) -> CircleEquations {
        CircleEquations {
            // Counted from the first centre, so that large coordinates do not eat the digits.
            readings: points
                .iter()
                .map(|p| (Vector3::from(p.at_m) - begin.centre_m).into())
                .collect(),
            covariances: points
                .iter()
                .map(|p| {
                    let [x, y, z] = p.sd_m.map(|sd| sd * sd);
                    [x, 0.0, 0.0, 0.0, y, 0.0, 0.0, 0.0, z]
                })
                .collect(),
            begin: *begin,
        }
    }

    fn tilted(&self, x: &[f64]) -> Tilted {
        let [e1, e2, n0] = self.begin.axes;
        let m = n0 + e1 * x[3] + e2 * x[4];
        let long = m.norm();
        let normal = m / long;
        Tilted {
            normal,
            slopes: [e1, e2].map(|e| (e - normal * normal.dot(&e)) / long),
        }
    }

    fn circle(&self, points: &[CirclePoint], adjusted: &Adjusted) -> Result<Circle, Faults> {
        let x = &adjusted.values;
        let tilted = self.tilted(x);
        let (centre_m, normal) = (
            self.begin.centre_m + Vector3::new(x[0], x[1], x[2]),
            tilted.normal,
        );
        // Centre, normal, radius by the six unknowns.
        let mut slopes = DMatrix::zeros(7, 6);
        slopes
            .view_mut((0, 0), (3, 3))
            .copy_from(&Matrix3::identity());
        for (column, slope) in tilted.slopes.iter().enumerate() {
            slopes.view_mut((3, 3 + column), (3, 1)).copy_from(slope);
        }
        slopes[(6, 5)] = 1.0;
        let Some(covariance) = adjusted.covariance_of(&slopes) else {
            return Err(Faults(vec![Fault::new(
                "C044",
                "circle",
                "points that do not settle a circle",
                "points along an arc, not all in a few places",
                "turn the joint through its whole stroke while the point is followed",
            )]));
        };
        let from_centre: Vec<Vector3<f64>> = points
            .iter()
            .map(|point| Vector3::from(point.at_m) - centre_m)
            .collect();
        let off_m = from_centre
            .iter()
            .map(|d| {
                let off_plane = normal.dot(d);
                [off_plane, (d - normal * off_plane).norm() - x[5]]
            })
            .collect();
        let (arc_rad, middle) = arc(&from_centre, &normal);
        Ok(Circle {
            centre_m,
            normal,
            radius_m: x[5],
            covariance: SMatrix::from_iterator(covariance.iter().copied()),
            s0: adjusted.s0(),
            dof: adjusted.dof,
            off_m,
            arc_rad,
            middle,
        })
    }
}

impl Equations for CircleEquations {
    fn n_blocks(&self) -> usize {
        self.readings.len()
    }

    fn shape(&self, _block: usize) -> Shape {
        Shape {
            n_rows: 2,
            n_readings: 3,
        }
    }

    fn readings(&self, block: usize) -> &[f64] {
        &self.readings[block]
    }

    fn covariance(&self, block: usize) -> &[f64] {
        &self.covariances[block]
    }

    fn fill(&self, _block: usize, x: &[f64], l: &[f64], out: &mut Linear) -> Result<(), Fault> {
        let tilted = self.tilted(x);
        let n = tilted.normal;
        let d = Vector3::new(l[0] - x[0], l[1] - x[1], l[2] - x[2]);
        let off = n.dot(&d);
        let in_plane = d - n * off;
        let rho = in_plane.norm();
        let out_way = in_plane / rho;
        out.w.copy_from_slice(&[off, rho - x[5]]);
        for axis in 0..3 {
            out.a[axis] = -n[axis];
            out.a[6 + axis] = -out_way[axis];
            out.b[axis] = n[axis];
            out.b[3 + axis] = out_way[axis];
        }
        for (turn, slope) in tilted.slopes.iter().enumerate() {
            out.a[3 + turn] = d.dot(slope);
            out.a[9 + turn] = -off * out_way.dot(slope);
        }
        out.a[11] = -1.0;
        Ok(())
    }
}

/// The least arc that holds all points, and the way to its middle.
fn arc(from_centre: &[Vector3<f64>], normal: &Vector3<f64>) -> (f64, Vector3<f64>) {
    let flat: Vec<Vector3<f64>> = from_centre
        .iter()
        .map(|d| d - normal * normal.dot(d))
        .collect();
    let e1 = flat[0].normalize();
    let e2 = normal.cross(&e1);
    let mut angles: Vec<f64> = flat
        .iter()
        .map(|d| d.dot(&e2).atan2(d.dot(&e1)).rem_euclid(TAU))
        .collect();
    angles.sort_by(f64::total_cmp);
    let n = angles.len();
    let gap = |k: usize| match k + 1 {
        next if next < n => angles[next] - angles[k],
        _ => angles[0] + TAU - angles[k],
    };
    let widest = (0..n)
        .max_by(|a, b| gap(*a).total_cmp(&gap(*b)))
        .unwrap_or(0);
    let arc_rad = TAU - gap(widest);
    let from = angles[(widest + 1) % n];
    let (sin, cos) = (from + arc_rad / 2.0).sin_cos();
    (arc_rad, e1 * cos + e2 * sin)
}

impl Circle {
    /// Covariance of the centre, m².
    pub fn centre_covariance_m2(&self) -> Matrix3<f64> {
        self.covariance.fixed_view::<3, 3>(0, 0).into()
    }

    /// Standard uncertainty of the centre along a direction, m.
    pub fn centre_sd_along_m(&self, way: &Vector3<f64>) -> f64 {
        (way.transpose() * self.centre_covariance_m2() * way)[(0, 0)].sqrt()
    }

    /// Standard uncertainty of the radius, m.
    pub fn radius_sd_m(&self) -> f64 {
        self.covariance[(6, 6)].sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use holdline_geom::draws::Draws;
    use std::f64::consts::PI;

    /// Points on a leaning circle, evenly along an arc, with noise.
    fn points(n: usize, arc_rad: f64, sd_m: f64, draws: &mut Draws) -> Vec<CirclePoint> {
        let normal = Vector3::new(0.1, -0.05, 1.0).normalize();
        let e1 = normal.cross(&Vector3::y()).normalize();
        let e2 = normal.cross(&e1);
        (0..n)
            .map(|k| {
                let a = arc_rad * ((k as f64 + 0.5) / n as f64 - 0.5);
                let at = Vector3::new(5056.0, 2041.5, 27.2) + (e1 * a.cos() + e2 * a.sin()) * 2.127;
                CirclePoint {
                    at_m: [0, 1, 2].map(|axis| at[axis] + sd_m * draws.normal()),
                    sd_m: [0.003; 3],
                }
            })
            .collect()
    }

    #[test]
    fn a_circle_without_noise_is_found() {
        let mut draws = Draws::new(7, 0);
        for arc_rad in [2.0 * PI, PI, 1.2] {
            let circle = fit_circle(&points(12, arc_rad, 0.0, &mut draws)).expect("a circle");
            let centre = circle.centre_m - Vector3::new(5056.0, 2041.5, 27.2);
            assert!(centre.norm() < 1e-8, "{centre}");
            assert!((circle.radius_m - 2.127).abs() < 1e-8);
            let normal = Vector3::new(0.1, -0.05, 1.0).normalize();
            assert!((circle.normal - normal).norm() < 1e-8);
            assert_eq!(circle.dof, 18);
            let held = arc_rad * (1.0 - 1.0 / 12.0);
            assert!((circle.arc_rad - held).abs() < 1e-6, "{}", circle.arc_rad);
        }
    }

    /// sd of the centre = k σ/√n. Many points even along an arc of half angle h give, with the radius free,
    ///
    /// ```text
    /// k towards = 1/√(mean cos² − (mean cos)²)        k across = 1/√(mean sin²)
    /// mean cos² = 1/2 + sin 2h / 4h      mean cos = sin h / h
    /// ```
    ///
    /// derived here from the normal equations of a circle in its plane.
    #[test]
    fn the_centre_is_as_sure_as_the_arc_is_long() {
        let mut draws = Draws::new(8, 0);
        for arc_deg in [360.0_f64, 180.0, 120.0, 90.0, 60.0] {
            let n = 400;
            let circle =
                fit_circle(&points(n, arc_deg.to_radians(), 0.0, &mut draws)).expect("a circle");
            let h = arc_deg.to_radians() / 2.0;
            let cos2 = 0.5 + (2.0 * h).sin() / (4.0 * h);
            let towards = 1.0 / (cos2 - (h.sin() / h).powi(2)).sqrt();
            let across = 1.0 / (1.0 - cos2).sqrt();
            let unit_m = 0.003 / (n as f64).sqrt();
            let aside = circle.normal.cross(&circle.middle);
            let got = [&circle.middle, &aside].map(|way| circle.centre_sd_along_m(way) / unit_m);
            if arc_deg < 360.0 {
                assert!(
                    (got[0] / towards - 1.0).abs() < 2e-3,
                    "{arc_deg} {got:?} {towards}"
                );
                assert!(
                    (got[1] / across - 1.0).abs() < 2e-3,
                    "{arc_deg} {got:?} {across}"
                );
            } else {
                assert!(
                    (got[0] - 2_f64.sqrt()).abs() < 2e-3 && (got[1] - 2_f64.sqrt()).abs() < 2e-3
                );
            }
        }
    }

    /// What is stated covers what happens: 400 circles, each parameter's mean square in its own sd near one.
    #[test]
    fn errors_are_as_large_as_stated() {
        let truth = Vector3::new(5056.0, 2041.5, 27.2);
        let normal = Vector3::new(0.1, -0.05, 1.0).normalize();
        let n_trials = 400;
        let mut sums = [0.0; 7];
        for trial in 0..n_trials {
            let mut draws = Draws::new(9, trial);
            let circle = fit_circle(&points(20, 2.2, 0.003, &mut draws)).expect("a circle");
            let (off, turned) = (circle.centre_m - truth, circle.normal - normal);
            let errors = [
                off.x,
                off.y,
                off.z,
                turned.x,
                turned.y,
                turned.z,
                circle.radius_m - 2.127,
            ];
            for (k, error) in errors.iter().enumerate() {
                sums[k] += error * error / circle.covariance[(k, k)];
            }
        }
        for (k, sum) in sums.iter().enumerate() {
            // Mean of 400 squares of standard normals: 1 ± 3.3 · √(2/400) = 0.77 to 1.23.
            let mean = sum / n_trials as f64;
            assert!((0.77..1.23).contains(&mean), "parameter {k}: {mean}");
        }
    }

    #[test]
    fn lines_and_gaps_are_refused() {
        let point = |x: f64| CirclePoint {
            at_m: [x, 2.0 * x, 0.5 * x],
            sd_m: [0.003; 3],
        };
        let code = |points: &[CirclePoint]| fit_circle(points).unwrap_err().0[0].code;
        assert_eq!(code(&[point(0.0), point(1.0)]), "C043");
        assert_eq!(
            code(&[point(0.0), point(1.0), point(2.0), point(5.0)]),
            "C044"
        );
        assert_eq!(code(&[point(0.0), point(1.0), point(f64::NAN)]), "C043");
        let mut bare = [point(0.0), point(1.0), point(2.0)];
        bare[1].sd_m[2] = 0.0;
        assert_eq!(code(&bare), "C043");
    }
}
