//! A pin from the arc of a target that turns about it: nobody has to reach the pin itself.

use super::circle::{Circle, CirclePoint, SHORT_ARC_RAD, fit_circle};
use super::observations::{Observations, What};
use super::swing_circle::point_of;
use holdline_geom::fault::Faults;
use holdline_geom::measured::Measured;
use nalgebra::{DMatrix, RealField, Vector3};
use num_dual::DualSVec64;

/// Numbers that lie under the distance of two pins: two centres and two axes.
const N_INPUTS: usize = 12;

/// Two pins further out of parallel than this: a bent boom or a worn bush, rad.
pub const OUT_OF_PARALLEL_RAD: f64 = 0.2 * std::f64::consts::PI / 180.0;

/// A pin as an arc gives it.
#[derive(Debug, Clone, PartialEq)]
pub struct PinArc {
    /// The circle; its centre is on the pin's axis, in the plane that the target moves in.
    pub circle: Circle,
    /// The centre, m.
    pub pin_m: [Measured; 3],
    /// How sure the centre is towards the middle of the arc, m: the weak direction of a short arc.
    pub towards_sd_m: f64,
    /// How sure it is across that, in the plane, m.
    pub across_sd_m: f64,
    /// What to look at, in words.
    pub findings: Vec<String>,
}

/// Fits the pin that a target turns about.
///
/// Used where pins cannot be reached, and to see whether they are parallel.
///
/// ```text
/// sd of the centre = k σ/√n
/// k towards the arc, across it: 90° of arc 11 and 2.3, 180° 3.3 and 1.4, a whole turn 1.4 and 1.4
/// ```
///
/// - Move that joint alone, through its whole stroke, the house held still. It averages the play of the bush.
/// - Units: m. Equations: [`fit_circle`].
///
/// # Errors
///
/// As [`fit_circle`].
pub fn fit_pin_arc(points: &[CirclePoint]) -> Result<PinArc, Faults> {
    let circle = fit_circle(points)?;
    let covariance = circle.centre_covariance_m2();
    let across = circle.normal.cross(&circle.middle);
    let mut findings = Vec::new();
    if circle.arc_rad < SHORT_ARC_RAD {
        findings.push(format!(
            "the arc is {:.0}° long: along its middle the pin is known badly; use the whole stroke, and a tape between pins",
            circle.arc_rad.to_degrees()
        ));
    }
    if let Some(s0) = circle.s0
        && 2.0 < s0
    {
        findings.push(format!(
            "the points scatter {s0:.1} times as much as stated: another joint may have moved, or the bush has play"
        ));
    }
    Ok(PinArc {
        pin_m: [0, 1, 2]
            .map(|axis| Measured::with_sd(circle.centre_m[axis], covariance[(axis, axis)].sqrt())),
        towards_sd_m: circle.centre_sd_along_m(&circle.middle),
        across_sd_m: circle.centre_sd_along_m(&across),
        circle,
        findings,
    })
}

/// Two pins against each other, from arcs measured in one frame with the house and the first link held still.
#[derive(Debug, Clone, PartialEq)]
pub struct TwoPins {
    /// From axis to axis, square to their mean direction, m: the length of the link between.
    pub apart_m: Measured,
    /// How far they are out of parallel, rad.
    pub out_of_parallel_rad: f64,
    /// What to look at, in words.
    pub findings: Vec<String>,
}

/// How far two pins are apart, and how parallel.
///
/// ```text
/// n = (n₁ + n₂) / |n₁ + n₂|         d = c₂ − c₁         apart = |d − n (n · d)|
/// ```
///
/// - Exact slopes by dual numbers; each circle with its covariance, the two independent.
pub fn two_pins(first: &PinArc, second: &PinArc) -> TwoPins {
    let (a, b) = (&first.circle, &second.circle);
    // Both axes the same way.
    let way = if a.normal.dot(&b.normal) < 0.0 {
        -1.0
    } else {
        1.0
    };
    let numbers = [a.centre_m, a.normal, b.centre_m, b.normal * way];
    let mut lane = 0;
    let seeded = numbers.map(|v| {
        v.map(|value| {
            lane += 1;
            DualSVec64::<N_INPUTS>::from_re(value).derivative(lane - 1)
        })
    });
    let apart = apart(&seeded);
    let slopes = apart.eps.0.map_or([0.0; N_INPUTS], |slopes| {
        std::array::from_fn(|lane| slopes[lane])
    });
    let slopes = DMatrix::from_row_slice(1, N_INPUTS, &slopes);
    let mut covariance = DMatrix::zeros(N_INPUTS, N_INPUTS);
    for (at, circle, way) in [(0, a, 1.0), (6, b, way)] {
        for i in 0..6 {
            for j in 0..6 {
                let turned = |k: usize| if k < 3 { 1.0 } else { way };
                covariance[(at + i, at + j)] = turned(i) * turned(j) * circle.covariance[(i, j)];
            }
        }
    }
    let variance = (&slopes * &covariance * slopes.transpose())[(0, 0)];
    let between = a.normal.cross(&(b.normal * way)).norm();
    let out_of_parallel_rad = between.atan2(a.normal.dot(&(b.normal * way)));
    let mut findings = Vec::new();
    if OUT_OF_PARALLEL_RAD < out_of_parallel_rad {
        findings.push(format!(
            "the two pins are {:.2}° out of parallel: a bent link, a worn bush, or a target that was knocked between",
            out_of_parallel_rad.to_degrees()
        ));
    }
    TwoPins {
        apart_m: Measured::with_sd(apart.re, variance.sqrt()),
        out_of_parallel_rad,
        findings,
    }
}

fn apart<S: RealField + Copy>([c1, n1, c2, n2]: &[Vector3<S>; 4]) -> S {
    let n = (n1 + n2).normalize();
    let d = c2 - c1;
    (d - n * n.dot(&d)).norm()
}

/// The points of every pin arc among the observations: stand, set-up and name of the arc, then the points.
pub fn arcs_of(observations: &Observations) -> Vec<([String; 3], Vec<CirclePoint>)> {
    let mut all: Vec<([String; 3], Vec<CirclePoint>)> = Vec::new();
    for row in &observations.rows {
        let What::PinArc { arc, at_m, .. } = &row.what else {
            continue;
        };
        let key = [row.stand.clone(), row.setup.clone(), arc.clone()];
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

#[cfg(test)]
mod tests {
    use super::*;
    use holdline_geom::draws::Draws;

    /// A target on a link that turns about a pin lying across, heading 60°, the house leaning a little.
    fn arc(
        pin: Vector3<f64>,
        target_m: f64,
        arc_deg: f64,
        n: usize,
        sd_m: f64,
        draws: &mut Draws,
    ) -> Vec<CirclePoint> {
        let ahead =
            Vector3::new(60_f64.to_radians().sin(), 60_f64.to_radians().cos(), 0.02).normalize();
        let side = Vector3::new(-0.5, 0.866, 0.03).cross(&ahead).normalize();
        let up = side.cross(&ahead);
        (0..n)
            .map(|k| {
                let a = (arc_deg * ((k as f64 + 0.5) / n as f64 - 0.5) + 20.0).to_radians();
                let at = pin + (ahead * a.cos() + up * a.sin()) * target_m + side * 0.31;
                CirclePoint {
                    at_m: [0, 1, 2].map(|axis| at[axis] + sd_m * draws.normal()),
                    sd_m: [0.003; 3],
                }
            })
            .collect()
    }

    /// A boom's 100° at 3 mm with 40 points gives 4 to 5 mm along the bisector (field practice, from simulation);
    /// the factors k of other arcs at n = 40, from the same source, to their two digits.
    #[test]
    fn arcs_are_as_sure_as_practice_says() {
        let mut draws = Draws::new(1, 0);
        let pin = Vector3::new(5056.0, 2041.5, 26.0);
        let unit_m = 0.003 / 40_f64.sqrt();
        let rows = [
            (180.0, 3.0, 1.4),
            (120.0, 6.7, 1.8),
            (90.0, 10.8, 2.4),
            (60.0, 24.0, 3.3),
        ];
        for (arc_deg, towards, across) in rows {
            let found = fit_pin_arc(&arc(pin, 3.2, arc_deg, 40, 0.0, &mut draws)).expect("an arc");
            let got = [found.towards_sd_m / unit_m, found.across_sd_m / unit_m];
            assert!((got[0] / towards - 1.0).abs() < 0.10, "{arc_deg}: {got:?}");
            assert!((got[1] / across - 1.0).abs() < 0.05, "{arc_deg}: {got:?}");
        }
        let boom = fit_pin_arc(&arc(pin, 3.2, 100.0, 40, 0.0, &mut draws)).expect("an arc");
        assert!(
            (0.004..0.005).contains(&boom.towards_sd_m),
            "{}",
            boom.towards_sd_m
        );
        let short = fit_pin_arc(&arc(pin, 3.2, 40.0, 12, 0.0, &mut draws)).expect("an arc");
        assert!(short.findings[0].contains("whole stroke"));
    }

    #[test]
    fn two_pins_give_the_link_between() {
        let (a, b) = (
            Vector3::new(5056.0, 2041.5, 26.0),
            Vector3::new(5060.1, 2044.3, 28.0),
        );
        let mut draws = Draws::new(2, 0);
        let exact = |pin, draws: &mut Draws| {
            fit_pin_arc(&arc(pin, 2.4, 110.0, 20, 0.0, draws)).expect("an arc")
        };
        let found = two_pins(&exact(a, &mut draws), &exact(b, &mut draws));
        // Square to the pins' own direction, worked out here from the same axes.
        let ahead =
            Vector3::new(60_f64.to_radians().sin(), 60_f64.to_radians().cos(), 0.02).normalize();
        let side = Vector3::new(-0.5, 0.866, 0.03).cross(&ahead).normalize();
        let want = ((b - a) - side * side.dot(&(b - a))).norm();
        assert!(
            (found.apart_m.value - want).abs() < 1e-7,
            "{found:?} {want}"
        );
        assert!(found.out_of_parallel_rad < 1e-7 && found.findings.is_empty());
        // Stated uncertainty against what happens.
        let n_days = 300;
        let mut sum = 0.0;
        for day in 0..n_days {
            let mut draws = Draws::new(3, day);
            let shaken = |pin, draws: &mut Draws| {
                fit_pin_arc(&arc(pin, 2.4, 110.0, 20, 0.003, draws)).expect("an arc")
            };
            let found = two_pins(&shaken(a, &mut draws), &shaken(b, &mut draws));
            sum += ((found.apart_m.value - want) / found.apart_m.sd.expect("stated")).powi(2);
        }
        let mean = sum / n_days as f64;
        assert!((0.73..1.27).contains(&mean), "{mean}");
    }
}
