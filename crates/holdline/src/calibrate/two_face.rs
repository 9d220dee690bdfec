//! The house sensor by itself: turned on its tracks and read at several headings, offset and slope come apart.

use super::chain::numbers::{atan2, sin_cos};
use super::observations::{Observations, What};
use crate::tooth::readings::SensorConstants;
use holdline_geom::fault::{Fault, Faults, number};
use holdline_geom::measured::Measured;
use holdline_geom::stats::chi2_share_above;
use nalgebra::{Matrix2, Matrix2x4, Matrix4, RealField, Vector2, Vector4};

/// Codes of this page, for `holdline explain`.
pub const EXPLAIN: &[(&str, &str)] = &[
    (
        "C060",
        "Too few headings to tell the house sensor's offset from the slope that the machine stands on.\nTurn the house right round and read it at two headings half a turn apart, better at four, and at the first again.\nThe tracks must not move meanwhile.",
    ),
    (
        "C061",
        "A reading of the house that is no number, or no lean of a house on its tracks.\nLook at the unit: degrees read as radians look like this.",
    ),
];

/// Readings at headings nearer than this are taken for one heading, rad: 5°.
const SAME_HEADING_RAD: f64 = 5.0 * std::f64::consts::PI / 180.0;

/// Most that a house on its tracks leans, rad: 46°.
const MOST_LEAN_RAD: f64 = 46.0 * std::f64::consts::PI / 180.0;

/// One stop of the turn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HouseStop {
    /// Heading, or how far the house was turned, clockwise from above, rad.
    pub turn: Measured,
    /// Pitch as the sensor gives it, after its sign alone, rad.
    pub pitch_rad: f64,
    /// Roll, likewise.
    pub roll_rad: f64,
}

/// What the two values of the sensor are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HouseValues {
    /// Pitch and roll as turns.
    Turns,
    /// Two tilts, each the arc sine of one axis.
    Tilts,
}

/// Offsets of the house sensor and the slope under the tracks.
#[derive(Debug, Clone, PartialEq)]
pub struct TwoFace {
    /// What to take off the readings. Without a stated uncertainty of a reading they have none either.
    pub constants: SensorConstants<Measured>,
    /// How steeply the plane of the tracks lies, rad.
    pub slope_rad: f64,
    /// The turn at which the house faces down it, rad; of no meaning on level ground.
    pub falls_towards_rad: f64,
    /// What is left of each stop, pitch and roll, rad.
    pub left_rad: Vec<[f64; 2]>,
    /// Last reading less the first of the same heading, pitch and roll, rad; none where none was repeated.
    pub closure_rad: Option<[f64; 2]>,
    /// Readings beyond the four unknowns.
    pub dof: usize,
    /// Probability of leftovers this large by chance; none without a stated uncertainty or without any left over.
    pub chance: Option<f64>,
    /// What is not stated.
    pub missing: Vec<String>,
}

/// Offsets of a house sensor from stops of one turn of the house.
///
/// Used on any ground, level or not, with nothing but the machine itself.
///
/// ```text
/// u_x = −(n_a cos ψ + n_b sin ψ)        pitch = o_p + asin u_x
/// u_y =   n_b cos ψ − n_a sin ψ         roll  = o_r + asin( u_y / cos θ )      for two tilts  o_r + asin u_y
/// ```
///
/// - Symbols: ψ turn, clockwise; n_a, n_b the swing axis's lean towards ψ = 0 and ψ = 90°; u plumb-up seen from the
///   house; o the offsets.
/// - Weights: one sd for all readings, and the turn's own, which moves pitch and roll together.
/// - Two headings half a turn apart give offset = half the sum, slope = half the difference.
/// - Valid while the swing axis stays where it is: repeat the first heading last.
/// - Source: both readings of a turned level are on either side of the truth; common practice, derived here.
///
/// # Errors
///
/// `C060` headings that do not tell offset from slope; `C061` what is no lean of a house.
pub fn two_face(
    stops: &[HouseStop],
    values: HouseValues,
    reading_sd_rad: Option<f64>,
) -> Result<TwoFace, Faults> {
    check(stops)?;
    let stated = |sd: Option<f64>| sd.filter(|sd| 0.0 < *sd && sd.is_finite());
    let looked_at = |sd: Option<f64>| sd.filter(|sd| 0.0 <= *sd && sd.is_finite());
    let mut missing = Vec::new();
    let sd = stated(reading_sd_rad);
    if sd.is_none() {
        missing.push("uncertainty of a reading of the house".to_owned());
    }
    if stops.iter().any(|stop| looked_at(stop.turn.sd).is_none()) {
        missing.push("uncertainty of the turn".to_owned());
    }
    let noise = |stop: &HouseStop| [sd.unwrap_or(1e-3), looked_at(stop.turn.sd).unwrap_or(0.0)];
    let mut x = Vector4::zeros();
    let mut inverse = Matrix4::identity();
    // The sums are as good as linear: two steps settle a slope of ten degrees, six are plenty.
    for _ in 0..6 {
        let (mut normal, mut right) = (Matrix4::zeros(), Vector4::zeros());
        for stop in stops {
            let row = Row::of(stop, values, &x, noise(stop));
            normal += row.slopes.transpose() * row.weight * row.slopes;
            right += row.slopes.transpose() * row.weight * row.left;
        }
        let Some(found) = normal.try_inverse() else {
            return Err(too_few(stops.len()).into());
        };
        inverse = found;
        x += inverse * right;
    }
    let rows: Vec<Row> = stops
        .iter()
        .map(|s| Row::of(s, values, &x, noise(s)))
        .collect();
    let chi2: f64 = rows
        .iter()
        .map(|row| (row.left.transpose() * row.weight * row.left)[0])
        .sum();
    let dof = 2 * stops.len() - 4;
    let whole = missing.is_empty();
    let measured = |k: usize| Measured {
        value: x[k],
        sd: whole.then(|| inverse[(k, k)].sqrt()),
    };
    Ok(TwoFace {
        constants: SensorConstants {
            offset_rad: measured(0),
            roll_offset_rad: Some(measured(1)),
        },
        slope_rad: RealField::atan2(lean(&x), (1.0 - lean(&x) * lean(&x)).sqrt()),
        falls_towards_rad: atan2(x[3], x[2]),
        left_rad: rows.iter().map(|row| [row.left[0], row.left[1]]).collect(),
        closure_rad: closure(stops),
        dof,
        chance: (whole && 0 < dof)
            .then(|| chi2_share_above(chi2, dof as f64))
            .flatten(),
        missing,
    })
}

/// The stops among the observations, stand by stand in their order; `sign` is the house sensor's.
///
/// A turn without readings of pitch and roll is left out: the adjustment of all observations names it.
pub fn stops_of(observations: &Observations, sign: f64) -> Vec<(String, Vec<HouseStop>)> {
    let mut stands: Vec<(String, Vec<HouseStop>)> = Vec::new();
    for row in &observations.rows {
        let What::HouseTurn { turn } = row.what else {
            continue;
        };
        let read = |name: &str| {
            row.readings
                .iter()
                .find(|(n, _)| n == name)
                .map(|(_, v)| *v)
        };
        let (Some(pitch), Some(roll)) = (read("pitch"), read("roll")) else {
            continue;
        };
        let stop = HouseStop {
            turn,
            pitch_rad: sign * pitch,
            roll_rad: sign * roll,
        };
        match stands.iter_mut().find(|(stand, _)| *stand == row.stand) {
            Some((_, stops)) => stops.push(stop),
            None => stands.push((row.stand.clone(), vec![stop])),
        }
    }
    stands
}

fn lean(x: &Vector4<f64>) -> f64 {
    (x[2] * x[2] + x[3] * x[3]).sqrt()
}

/// One stop's two equations.
struct Row {
    left: Vector2<f64>,
    slopes: Matrix2x4<f64>,
    weight: Matrix2<f64>,
}

impl Row {
    fn of(
        stop: &HouseStop,
        values: HouseValues,
        x: &Vector4<f64>,
        [reading_sd, turn_sd]: [f64; 2],
    ) -> Row {
        let [c, s] = sin_cos(stop.turn.value);
        let (na, nb) = (x[2], x[3]);
        let (ux, uy) = (-(na * c + nb * s), nb * c - na * s);
        let ct = (1.0 - ux * ux).sqrt();
        let pitch = atan2(ux, ct);
        // Roll by u_y and, for turns, by the pitch too.
        let (sine, by_uy, by_ux) = match values {
            HouseValues::Turns => (uy / ct, 1.0 / ct, uy * ux / (ct * ct * ct)),
            HouseValues::Tilts => (uy, 1.0, 0.0),
        };
        let cr = (1.0 - sine * sine).sqrt();
        let roll = atan2(sine, cr);
        let by = |dux: f64, duy: f64| [dux / ct, (by_uy * duy + by_ux * dux) / cr];
        let (a, b, turn) = (by(-c, -s), by(-s, c), by(-uy, ux));
        let g = Vector2::new(turn[0], turn[1]) * turn_sd;
        let covariance = Matrix2::identity() * (reading_sd * reading_sd) + g * g.transpose();
        Row {
            left: Vector2::new(stop.pitch_rad - x[0] - pitch, stop.roll_rad - x[1] - roll),
            slopes: Matrix2x4::new(1.0, 0.0, a[0], b[0], 0.0, 1.0, a[1], b[1]),
            weight: covariance
                .try_inverse()
                .unwrap_or_else(|| Matrix2::from_element(f64::NAN)),
        }
    }
}

/// How far two turns are apart, rad, at most half a turn.
fn apart(a: f64, b: f64) -> f64 {
    let [c, s] = sin_cos(a - b);
    atan2(s, c).abs()
}

/// The last stop against the first, where they have the same heading.
fn closure(stops: &[HouseStop]) -> Option<[f64; 2]> {
    let (first, last) = (stops.first()?, stops.last()?);
    let same = apart(first.turn.value, last.turn.value) <= SAME_HEADING_RAD;
    let off = [
        last.pitch_rad - first.pitch_rad,
        last.roll_rad - first.roll_rad,
    ];
    (2 < stops.len() && same).then_some(off)
}

fn check(stops: &[HouseStop]) -> Result<(), Faults> {
    let mut faults = Faults::none();
    for (idx, stop) in stops.iter().enumerate() {
        for (word, value) in [("pitch", stop.pitch_rad), ("roll", stop.roll_rad)] {
            if !(value.abs() <= MOST_LEAN_RAD) {
                faults.push(no_lean(idx, word, value.to_degrees()));
            }
        }
        if !stop.turn.value.is_finite() {
            faults.push(no_lean(idx, "turn", stop.turn.value));
        }
    }
    if faults.is_empty() {
        // Two headings a third of a turn apart or more; nearer ones hardly tell offset from slope.
        let far = |a: &HouseStop| {
            let third = std::f64::consts::TAU / 3.0;
            stops
                .iter()
                .any(|b| third <= apart(a.turn.value, b.turn.value))
        };
        if !stops.iter().any(far) {
            faults.push(too_few(stops.len()));
        }
    }
    faults.or(())
}

fn no_lean(idx: usize, word: &str, value: f64) -> Fault {
    Fault::new(
        "C061",
        format!("stop {}.{word}", idx + 1),
        format!("{}°", number(value)),
        "pitch and roll within 46°, a heading that is a number",
        "read the sensor again; degrees read as radians look like this",
    )
}

fn too_few(n: usize) -> Fault {
    Fault::new(
        "C060",
        "house turn",
        format!("{n} stops, none a third of a turn from another"),
        "headings half a turn apart, better four of them",
        "turn the house right round, read it every quarter, and at the first heading again",
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::frames::Site;
    use crate::tooth::attitude::Lean;
    use holdline_geom::draws::Draws;
    use holdline_geom::frame::Direction;

    /// A house on tracks whose axis leans: the attitude through the frames of the tooth, not the formulas above.
    fn attitude(slope: f64, falls_towards: f64, turn: f64) -> Lean {
        let axis = nalgebra::Vector3::new(
            slope.sin() * falls_towards.sin(),
            slope.sin() * falls_towards.cos(),
            slope.cos(),
        );
        // Forward: the horizontal way at ψ = 0 laid into the plane of the tracks, then turned about the axis.
        let north = nalgebra::Vector3::new(0.0, 1.0, 0.0);
        let zero = (north - axis * axis.dot(&north)).normalize();
        let forward =
            nalgebra::Rotation3::from_axis_angle(&nalgebra::Unit::new_normalize(axis), -turn)
                * zero;
        let left = axis.cross(&forward);
        let lean = Lean {
            pitch: forward.z.asin(),
            roll: left.z.atan2(axis.z),
        };
        // The frames agree: plumb-up seen from the house is what stands in the third row.
        let up = lean.site_turn(0.0).inverse() * Direction::<Site>::metres(0.0, 0.0, 1.0);
        assert!((up.vector() - nalgebra::Vector3::new(forward.z, left.z, axis.z)).norm() < 1e-12);
        lean
    }

    fn stops(
        turns_deg: &[f64],
        slope: f64,
        falls_deg: f64,
        offsets: [f64; 2],
        tilts: bool,
    ) -> Vec<HouseStop> {
        turns_deg
            .iter()
            .map(|turn_deg| {
                let turn = turn_deg.to_radians();
                let lean = attitude(slope, falls_deg.to_radians(), turn);
                let up = lean.up().vector();
                let [pitch, roll] = if tilts {
                    [up.x.asin(), up.y.asin()]
                } else {
                    [lean.pitch, lean.roll]
                };
                HouseStop {
                    turn: Measured::with_sd(turn, 0.0),
                    pitch_rad: pitch + offsets[0],
                    roll_rad: roll + offsets[1],
                }
            })
            .collect()
    }

    #[test]
    fn offset_and_slope_come_apart_on_any_ground() {
        for (tilts, values) in [(false, HouseValues::Turns), (true, HouseValues::Tilts)] {
            for slope_deg in [0.0_f64, 1.0, 8.0] {
                for turns in [&[0.0, 180.0][..], &[20.0, 110.0, 200.0, 290.0, 20.0]] {
                    let slope = slope_deg.to_radians();
                    let stops = stops(turns, slope, 35.0, [0.004, -0.007], tilts);
                    let found = two_face(&stops, values, Some(0.0007)).expect("told apart");
                    let roll = found.constants.roll_offset_rad.expect("found").value;
                    // North laid into the tracks is off the azimuth by half the slope squared;
                    // both headings of a pair are off alike.
                    assert!(
                        (found.constants.offset_rad.value - 0.004).abs() < 1e-9,
                        "{found:?}"
                    );
                    assert!((roll + 0.007).abs() < 1e-9, "{found:?}");
                    assert!((found.slope_rad - slope).abs() < 1e-4);
                    assert!(found.left_rad.iter().flatten().all(|l| l.abs() < 1e-9));
                    if 0.0 < slope {
                        let off = apart(found.falls_towards_rad, 35_f64.to_radians());
                        assert!(off < 0.01, "{off}");
                    }
                }
            }
        }
    }

    #[test]
    fn two_headings_are_half_the_sum() {
        let at = |turn_deg: f64, pitch: f64, roll: f64| HouseStop {
            turn: Measured::with_sd(turn_deg.to_radians(), 0.0),
            pitch_rad: pitch,
            roll_rad: roll,
        };
        let sd = 0.0007;
        let found = two_face(
            &[at(0.0, 0.021, 0.001), at(180.0, -0.013, 0.005)],
            HouseValues::Turns,
            Some(sd),
        )
        .expect("told apart");
        let (pitch, roll) = (
            found.constants.offset_rad,
            found.constants.roll_offset_rad.expect("found"),
        );
        assert!((pitch.value - 0.004).abs() < 1e-7 && (roll.value - 0.003).abs() < 1e-7);
        for offset in [pitch, roll] {
            assert!((offset.sd.expect("stated") / (sd / 2_f64.sqrt()) - 1.0).abs() < 1e-3);
        }
        assert_eq!(
            (found.dof, found.chance, found.closure_rad),
            (0, None, None)
        );
    }

    /// The offsets scatter over drawn days as their own sds say, also with a turn that is read roughly.
    #[test]
    fn the_stated_sd_is_the_scatter() {
        let clean = stops(
            &[0.0, 90.0, 180.0, 270.0, 0.0],
            0.05,
            70.0,
            [0.004, -0.007],
            false,
        );
        let (sd, turn_sd) = (0.0007, 0.02);
        let n = 2_000;
        let mut draws = Draws::new(60, 1);
        let mut sum = [0.0; 2];
        let mut small_chance = 0;
        for _ in 0..n {
            let noisy: Vec<HouseStop> = clean
                .iter()
                .map(|stop| HouseStop {
                    turn: Measured::with_sd(stop.turn.value + turn_sd * draws.normal(), turn_sd),
                    pitch_rad: stop.pitch_rad + sd * draws.normal(),
                    roll_rad: stop.roll_rad + sd * draws.normal(),
                })
                .collect();
            let found = two_face(&noisy, HouseValues::Turns, Some(sd)).expect("told apart");
            let (pitch, roll) = (
                found.constants.offset_rad,
                found.constants.roll_offset_rad.expect("found"),
            );
            for (k, (got, want)) in [(pitch, 0.004), (roll, -0.007)].into_iter().enumerate() {
                let off = (got.value - want) / got.sd.expect("stated");
                sum[k] += off * off;
            }
            small_chance += usize::from(found.chance.expect("six left over") < 0.05);
        }
        for square in sum {
            // Of 2,000 draws a variance is known to 3 %; four of those.
            assert!(
                (square / f64::from(n) - 1.0).abs() < 0.13,
                "{}",
                square / f64::from(n)
            );
        }
        assert!(
            (60..150).contains(&small_chance),
            "{small_chance} of {n} at 5 %"
        );
    }

    #[test]
    fn tracks_that_settled_do_not_close() {
        let mut turned = stops(
            &[0.0, 90.0, 180.0, 270.0, 2.0],
            0.03,
            10.0,
            [0.0, 0.0],
            false,
        );
        turned[4].pitch_rad += 0.006;
        let found = two_face(&turned, HouseValues::Turns, Some(0.0007)).expect("told apart");
        let closure = found.closure_rad.expect("repeated");
        assert!((closure[0] - 0.006).abs() < 5e-4 && closure[1].abs() < 2e-3);
        assert!(found.chance.expect("left over") < 1e-3);
    }

    #[test]
    fn what_is_not_stated_has_no_uncertainty_and_what_cannot_be_is_refused() {
        let good = stops(&[0.0, 180.0], 0.03, 10.0, [0.001, 0.0], false);
        let found = two_face(&good, HouseValues::Turns, None).expect("told apart");
        assert!((found.constants.offset_rad.value - 0.001).abs() < 1e-9);
        assert_eq!(found.constants.offset_rad.sd, None);
        assert_eq!(found.missing, ["uncertainty of a reading of the house"]);
        let code = |stops: &[HouseStop]| {
            two_face(stops, HouseValues::Turns, Some(0.0007))
                .unwrap_err()
                .0[0]
                .code
        };
        assert_eq!(code(&[]), "C060");
        assert_eq!(code(&good[..1]), "C060");
        assert_eq!(
            code(&stops(&[0.0, 30.0, 60.0], 0.03, 10.0, [0.0; 2], false)),
            "C060"
        );
        for bad in [f64::NAN, f64::INFINITY, 2.0] {
            let mut stops = good.clone();
            stops[1].roll_rad = bad;
            assert_eq!(code(&stops), "C061");
        }
    }
}
