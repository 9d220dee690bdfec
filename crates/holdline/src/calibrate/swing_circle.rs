//! The swing axis from an antenna that is followed through a turn of the house, and the antenna's lever arm from it.

use super::circle::{Circle, CirclePoint, fit_circle};
use super::observations::{Observations, What};
use holdline_geom::fault::{Fault, Faults};
use holdline_geom::measured::Measured;
use nalgebra::{DMatrix, RealField, Vector3};
use num_dual::DualSVec64;
use std::f64::consts::PI;

/// A turn shorter than this tells the axis badly along the middle of the arc, rad.
pub const SHORT_TURN_RAD: f64 = PI;
/// Numbers that a lever arm is worked out from.
const N_INPUTS: usize = 15;

/// A value with its slopes by the numbers that a lever arm is worked out from.
type Slopes = DualSVec64<N_INPUTS>;

/// The swing axis as an antenna's circle gives it.
#[derive(Debug, Clone, PartialEq)]
pub struct SwingCircle {
    /// The circle, in the frame that the positions are in.
    pub circle: Circle,
    /// Where the axis passes the antenna's height: easting, northing, elevation, m.
    pub axis_m: [Measured; 3],
    /// The antenna's distance from the axis, m.
    pub radius_m: Measured,
    /// How far the axis stands off plumb, rad.
    pub lean_rad: Measured,
    /// Azimuth towards which it leans, clockwise from the frame's north, rad; none for a plumb axis.
    pub leans_to_rad: Option<f64>,
    /// What to look at, in words.
    pub findings: Vec<String>,
}

/// Fits the circle that an antenna goes round the swing axis.
///
/// Used for the body's lean, for the axis on the site, and as the start of the lever arms.
///
/// ```text
/// normal of the circle = swing axis        centre = axis at the antenna's height
/// radius = √(x² + y²) of the lever arm
/// ```
///
/// - `n_independent`: how many of the positions are independent, minutes over correlation time;
///   none: not stated, and said.
///   Satellite positions of one minute share their error, so all sds are larger by √(n / n_independent).
/// - Units: m, rad. Source of the equations: [`fit_circle`].
///
/// # Errors
///
/// As [`fit_circle`]; `C045` for a number of independent positions that is none.
pub fn fit_swing_circle(
    positions: &[CirclePoint],
    n_independent: Option<f64>,
) -> Result<SwingCircle, Faults> {
    let mut circle = fit_circle(positions)?;
    let n = positions.len() as f64;
    let mut findings = Vec::new();
    match n_independent {
        Some(few) if 3.0 <= few && few <= n => circle.covariance *= n / few,
        Some(few) => {
            return Err(Faults(vec![Fault::new(
                "C045",
                "n_independent",
                format!("{few}"),
                format!("3 to {n}: minutes of measuring over the correlation time"),
                "satellite positions stay alike for one to ten minutes; ten epochs of one second are one",
            )]));
        }
        None => findings.push(
            "how many positions are independent was not stated; taken as all of them, which satellite positions never are: the uncertainty is too small"
                .to_owned(),
        ),
    }
    if circle.arc_rad < SHORT_TURN_RAD {
        findings.push(format!(
            "the house was turned through {:.0}° only: a whole turn makes the axis several times surer",
            circle.arc_rad.to_degrees()
        ));
    }
    if let Some(s0) = circle.s0
        && 2.0 < s0
    {
        findings.push(format!(
            "the positions scatter {s0:.1} times as much as stated: look for a position that was not fixed, or for play in the swing ring"
        ));
    }
    let covariance = circle.centre_covariance_m2();
    let c = circle.centre_m;
    let flat = circle.normal.x.hypot(circle.normal.y);
    let lean_sd_rad = lean_sd_rad(&circle, flat);
    let lean_rad = flat.atan2(circle.normal.z);
    Ok(SwingCircle {
        axis_m: [0, 1, 2].map(|axis| Measured::with_sd(c[axis], covariance[(axis, axis)].sqrt())),
        radius_m: Measured::with_sd(circle.radius_m, circle.radius_sd_m()),
        lean_rad: Measured::with_sd(lean_rad, lean_sd_rad),
        leans_to_rad: (3.0 * lean_sd_rad < lean_rad)
            .then(|| circle.normal.x.atan2(circle.normal.y).rem_euclid(2.0 * PI)),
        circle,
        findings,
    })
}

/// Along the lean where there is one, else the larger of the two horizontal parts.
fn lean_sd_rad(circle: &Circle, flat: f64) -> f64 {
    let variance = |e: f64, n: f64| {
        let c = &circle.covariance;
        e * e * c[(3, 3)] + 2.0 * e * n * c[(3, 4)] + n * n * c[(4, 4)]
    };
    if 1e-6 < flat {
        variance(circle.normal.x / flat, circle.normal.y / flat).sqrt()
    } else {
        let (e, n) = (variance(1.0, 0.0), variance(0.0, 1.0));
        (if e < n { n } else { e }).sqrt()
    }
}

/// What settles the one turn about the axis that a circle leaves open: a point of the bucket near and far
/// along the boom.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BoomLine {
    /// The antenna while the house stands still.
    pub antenna: CirclePoint,
    /// A tooth point or pin near the house.
    pub near: CirclePoint,
    /// The same point reached out, the house not turned.
    pub far: CirclePoint,
}

/// A lever arm from the swing axis, m.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LeverArm {
    /// Forward, in the boom's direction.
    pub forward_m: Measured,
    /// Left.
    pub left_m: Measured,
    /// How far left of the axis the followed point moves: the boom plane, and the point's own place beside it.
    pub line_left_m: Measured,
}

/// The antenna's lever arm, forward and left of the swing axis.
///
/// ```text
/// x = far − near, square to the axis, to length one        y = axis × x
/// forward = (antenna − centre) · x        left = (antenna − centre) · y
/// ```
///
/// - How high the antenna is over the track ground no turn can tell: measure it by level or tape.
/// - Exact slopes by dual numbers; centre and axis with their covariance, the three points independent.
///
/// # Errors
///
/// `C043` for a point without numbers or uncertainties; `C046` when near and far lie closer together than a metre.
pub fn lever_arm(circle: &SwingCircle, line: &BoomLine) -> Result<LeverArm, Fault> {
    let points = [line.antenna, line.near, line.far];
    for point in points {
        let numbers = point.at_m.iter().all(|v| v.is_finite());
        if !(numbers && point.sd_m.iter().all(|sd| 0.0 < *sd && sd.is_finite())) {
            return Err(Fault::new(
                "C043",
                "boom line",
                "a point without numbers or uncertainties",
                "three coordinates and an uncertainty of each",
                "measure the point again",
            ));
        }
    }
    let circle = &circle.circle;
    let reach_m = (Vector3::from(line.far.at_m) - Vector3::from(line.near.at_m)).norm();
    if !(1.0 <= reach_m) {
        return Err(Fault::new(
            "C046",
            "boom line",
            format!("{reach_m:.2} m from near to far"),
            "1 m at least, better half the reach",
            "reach out with boom and stick alone, the house held still",
        ));
    }
    let mut x = [0.0; N_INPUTS];
    x[..3].copy_from_slice(circle.centre_m.as_slice());
    x[3..6].copy_from_slice(circle.normal.as_slice());
    let mut covariance = DMatrix::zeros(N_INPUTS, N_INPUTS);
    covariance
        .view_mut((0, 0), (6, 6))
        .copy_from(&circle.covariance.fixed_view::<6, 6>(0, 0));
    for (idx, point) in points.iter().enumerate() {
        for axis in 0..3 {
            let at = 6 + 3 * idx + axis;
            x[at] = point.at_m[axis];
            covariance[(at, at)] = point.sd_m[axis] * point.sd_m[axis];
        }
    }
    let mut lane = 0;
    let seeded = x.map(|value| {
        lane += 1;
        Slopes::from_re(value).derivative(lane - 1)
    });
    let [forward_m, left_m, line_left_m] = arms(&seeded).map(|value| {
        let slopes = value.eps.0.map_or([0.0; N_INPUTS], |slopes| {
            std::array::from_fn(|lane| slopes[lane])
        });
        let slopes = DMatrix::from_row_slice(1, N_INPUTS, &slopes);
        let variance = (&slopes * &covariance * slopes.transpose())[(0, 0)];
        Measured::with_sd(value.re, variance.sqrt())
    });
    Ok(LeverArm {
        forward_m,
        left_m,
        line_left_m,
    })
}

fn arms<S: RealField + Copy>(x: &[S; N_INPUTS]) -> [S; 3] {
    let at = |first: usize| Vector3::new(x[first], x[first + 1], x[first + 2]);
    let (centre, axis, antenna, near, far) = (at(0), at(3), at(6), at(9), at(12));
    let along = far - near;
    let forward = (along - axis * axis.dot(&along)).normalize();
    let left = axis.cross(&forward);
    let arm = antenna - centre;
    [
        arm.dot(&forward),
        arm.dot(&left),
        (near - centre).dot(&left),
    ]
}

/// The positions of every swing circle among the observations: stand, set-up and antenna, then the positions.
///
/// Positions without all three coordinates or without uncertainties are left out, and [`fit_swing_circle`] then asks.
pub fn circles_of(observations: &Observations) -> Vec<([String; 3], Vec<CirclePoint>)> {
    let mut all: Vec<([String; 3], Vec<CirclePoint>)> = Vec::new();
    for row in &observations.rows {
        let What::SwingCircle { antenna, at_m } = &row.what else {
            continue;
        };
        let key = [row.stand.clone(), row.setup.clone(), antenna.clone()];
        let place = match all.iter().position(|(there, _)| *there == key) {
            Some(place) => place,
            None => {
                all.push((key, Vec::new()));
                all.len() - 1
            }
        };
        all[place].1.extend(point_of(at_m));
    }
    all
}

/// A point with all that a circle needs.
pub(super) fn point_of(at_m: &[Option<Measured>; 3]) -> Option<CirclePoint> {
    let [x, y, z] = *at_m;
    let (x, y, z) = (x?, y?, z?);
    Some(CirclePoint {
        at_m: [x.value, y.value, z.value],
        sd_m: [x.sd?, y.sd?, z.sd?],
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use holdline_geom::draws::Draws;

    const LEVER_M: [f64; 3] = [-1.850, 1.050, 3.020];
    const LEAN_DEG: f64 = 4.0;

    /// The axis leans by 4° towards the east. Points of the house at a swing angle, in the site, by plain rotation.
    fn at(swing_deg: f64, house_m: [f64; 3]) -> Vector3<f64> {
        let (sin, cos) = swing_deg.to_radians().sin_cos();
        let tracks = Vector3::new(
            cos * house_m[0] - sin * house_m[1],
            sin * house_m[0] + cos * house_m[1],
            house_m[2],
        );
        let (sin, cos) = LEAN_DEG.to_radians().sin_cos();
        Vector3::new(5056.0, 2041.5, 24.2)
            + Vector3::new(
                cos * tracks.x + sin * tracks.z,
                tracks.y,
                -sin * tracks.x + cos * tracks.z,
            )
    }

    fn measured(at: Vector3<f64>, sd_m: f64, draws: &mut Draws) -> CirclePoint {
        CirclePoint {
            at_m: [0, 1, 2].map(|axis| at[axis] + sd_m * draws.normal()),
            sd_m: [0.004, 0.004, 0.006],
        }
    }

    fn turn(n: usize, sd_m: f64, draws: &mut Draws) -> Vec<CirclePoint> {
        (0..n)
            .map(|k| measured(at(360.0 * k as f64 / n as f64, LEVER_M), sd_m, draws))
            .collect()
    }

    fn line(swing_deg: f64, draws: &mut Draws) -> BoomLine {
        BoomLine {
            antenna: measured(at(swing_deg, LEVER_M), 0.0, draws),
            near: measured(at(swing_deg, [3.0, -0.045, 0.4]), 0.0, draws),
            far: measured(at(swing_deg, [8.5, -0.045, 1.1]), 0.0, draws),
        }
    }

    #[test]
    fn axis_lean_and_lever_arm_come_back() {
        let mut draws = Draws::new(3, 0);
        let circle = fit_swing_circle(&turn(12, 0.0, &mut draws), Some(12.0)).expect("a circle");
        assert!((circle.radius_m.value - 1.850_f64.hypot(1.050)).abs() < 1e-8);
        assert!((circle.lean_rad.value.to_degrees() - LEAN_DEG).abs() < 1e-6);
        let east = circle.leans_to_rad.expect("it leans").to_degrees();
        assert!((east - 90.0).abs() < 1e-5, "{east}");
        let on_axis = at(0.0, [0.0, 0.0, 3.020]);
        for axis in 0..3 {
            assert!((circle.axis_m[axis].value - on_axis[axis]).abs() < 1e-7);
        }
        for swing_deg in [0.0, 75.0, -140.0] {
            let arm = lever_arm(&circle, &line(swing_deg, &mut draws)).expect("an arm");
            assert!((arm.forward_m.value + 1.850).abs() < 1e-7, "{arm:?}");
            assert!((arm.left_m.value - 1.050).abs() < 1e-7);
            assert!((arm.line_left_m.value + 0.045).abs() < 1e-7);
        }
        assert!(circle.findings.is_empty(), "{:?}", circle.findings);
    }

    /// The centre of a whole turn is as sure as 1.41 σ/√n along both axes of the circle; a quarter as many independent
    /// positions make it half as sure.
    #[test]
    fn few_independent_positions_make_it_less_sure() {
        let mut draws = Draws::new(4, 0);
        let positions = turn(24, 0.004, &mut draws);
        let all = fit_swing_circle(&positions, Some(24.0)).expect("a circle");
        let few = fit_swing_circle(&positions, Some(6.0)).expect("a circle");
        let north_m = all.axis_m[1].sd.expect("stated");
        assert!(
            (north_m / (0.004 * (2.0_f64 / 24.0).sqrt()) - 1.0).abs() < 0.02,
            "{north_m}"
        );
        for axis in 0..3 {
            let ratio = few.axis_m[axis].sd.expect("stated") / all.axis_m[axis].sd.expect("stated");
            assert!((ratio - 2.0).abs() < 1e-9);
        }
        let silent = fit_swing_circle(&positions, None).expect("a circle");
        assert!(silent.findings[0].contains("not stated"));
        assert_eq!(
            fit_swing_circle(&positions, Some(0.0)).unwrap_err().0[0].code,
            "C045"
        );
        assert_eq!(
            fit_swing_circle(&positions, Some(f64::NAN)).unwrap_err().0[0].code,
            "C045"
        );
    }

    /// Stated uncertainty of the lever arm against what happens in 300 days of measuring.
    #[test]
    fn the_lever_arm_is_as_sure_as_stated() {
        let n_days = 300;
        let mut sums = [0.0; 2];
        for day in 0..n_days {
            let mut draws = Draws::new(5, day);
            let positions: Vec<CirclePoint> = (0..12)
                .map(|k| {
                    let at = at(30.0 * f64::from(k), LEVER_M);
                    CirclePoint {
                        at_m: [0, 1, 2]
                            .map(|axis| at[axis] + [0.004, 0.004, 0.006][axis] * draws.normal()),
                        sd_m: [0.004, 0.004, 0.006],
                    }
                })
                .collect();
            let circle = fit_swing_circle(&positions, Some(12.0)).expect("a circle");
            let mut shaken = line(20.0, &mut draws);
            for point in [&mut shaken.antenna, &mut shaken.near, &mut shaken.far] {
                for axis in 0..3 {
                    point.at_m[axis] += point.sd_m[axis] * draws.normal();
                }
            }
            let arm = lever_arm(&circle, &shaken).expect("an arm");
            sums[0] += ((arm.forward_m.value + 1.850) / arm.forward_m.sd.expect("stated")).powi(2);
            sums[1] += ((arm.left_m.value - 1.050) / arm.left_m.sd.expect("stated")).powi(2);
        }
        for sum in sums {
            // Mean of 300 squares of standard normals: 1 ± 3.3 · √(2/300) = 0.73 to 1.27.
            let mean = sum / f64::from(n_days as u32);
            assert!((0.73..1.27).contains(&mean), "{mean}");
        }
    }

    #[test]
    fn a_point_that_was_not_moved_gives_no_line() {
        let mut draws = Draws::new(6, 0);
        let circle = fit_swing_circle(&turn(12, 0.0, &mut draws), Some(12.0)).expect("a circle");
        let mut still = line(0.0, &mut draws);
        still.far = still.near;
        assert_eq!(lever_arm(&circle, &still).unwrap_err().code, "C046");
        still.far.at_m[0] = f64::NAN;
        assert_eq!(lever_arm(&circle, &still).unwrap_err().code, "C043");
    }
}
