//! What single shots say of the whole series: copies, an unknown survey, a shot outside.

use super::check_shots::{AXES, CheckShot, CommonSd, ShotDifference};
use super::decision::Decision;
use holdline_geom::measured::Measured;

/// For each shot the earlier one that it repeats to the last digit, shown and surveyed.
///
/// A shot taken again never agrees that well; a row copied does.
pub(super) fn copies(shots: &[CheckShot]) -> Vec<Option<usize>> {
    let values = |point: &[Option<Measured>; 3]| point.map(|m| m.map(|m| m.value));
    let same = |a: &CheckShot, b: &CheckShot| {
        let shown = values(&a.shown_m);
        // Two coordinates shown the same to the last digit are one reading of the machine, surveyed once more.
        let one_reading = 2 <= shown.iter().flatten().count();
        shown == values(&b.shown_m)
            && (one_reading || values(&a.surveyed_m) == values(&b.surveyed_m))
    };
    let first = |idx: usize| (0..idx).find(|earlier| same(&shots[*earlier], &shots[idx]));
    (0..shots.len()).map(first).collect()
}

/// The largest survey sd along an axis, m: a series cannot be quieter than the survey that measured it.
pub(super) fn survey_sd(shots: &[CheckShot], axis: usize) -> f64 {
    let stated = shots.iter().filter_map(|shot| shot.surveyed_m[axis]?.sd);
    stated
        .filter(|sd| sd.is_finite())
        .fold(0.0, |most, sd| if most < sd { sd } else { most })
}

/// An answer that rests on a survey of unknown uncertainty is none.
pub(super) fn only_with_survey(answer: Decision, shots: &[CheckShot], axes: &[usize]) -> Decision {
    if matches!(answer, Decision::NotShown { .. }) {
        return answer;
    }
    for shot in shots {
        for axis in axes {
            let counted = shot.shown_m[*axis].zip(shot.surveyed_m[*axis]);
            let stated = |sd: f64| 0.0 < sd && sd.is_finite();
            if counted.is_some_and(|(_, surveyed)| !surveyed.sd.is_some_and(stated)) {
                let (name, word) = (&shot.name, AXES[*axis]);
                return Decision::not_shown(&format!(
                    "shot {name}: no uncertainty was stated for its surveyed {word}: ask the surveyor"
                ));
            }
        }
    }
    answer
}

/// No tolerance is held by a series with a shot outside it; a shot that is surely outside says so.
pub(super) fn and_no_stray(
    answer: Decision,
    counted: &[ShotDifference],
    tolerance: Option<[f64; 2]>,
    common: Option<f64>,
) -> Decision {
    let (Some(tolerance_m), Some(common)) = (tolerance, common) else {
        return answer;
    };
    let [lower, upper] = tolerance_m;
    counted
        .iter()
        .fold(answer, |answer, shot| match shot.difference_m[2] {
            Some(d) if !(lower <= d.value && d.value <= upper) => {
                let half = d.sd.map_or(f64::INFINITY, |sd| 2.0 * sd + 2.0 * common);
                answer.and(stray(
                    &shot.name,
                    [d.value - half, d.value + half],
                    d.value,
                    tolerance_m,
                ))
            }
            _ => answer,
        })
}

/// The same in plan, by the distance from true.
pub(super) fn and_no_stray_in_plan(
    answer: Decision,
    counted: &[ShotDifference],
    radius: Option<f64>,
    common: &CommonSd,
) -> Decision {
    let (Some(radius_m), Some(e), Some(n)) = (radius, common[0], common[1]) else {
        return answer;
    };
    counted.iter().fold(answer, |answer, shot| {
        let (Some(east), Some(north)) = (shot.difference_m[0], shot.difference_m[1]) else {
            return answer;
        };
        let off = east.value.hypot(north.value);
        if off <= radius_m {
            return answer;
        }
        let sd = east.sd.zip(north.sd).map(|(a, b)| a.hypot(b));
        let half = sd.map_or(f64::INFINITY, |sd| 2.0 * sd + 2.0 * e.hypot(n));
        answer.and(stray(
            &shot.name,
            [off - half, off + half],
            off,
            [0.0, radius_m],
        ))
    })
}

/// What one shot outside the tolerance says: surely outside, or only not inside.
fn stray(name: &str, covered_m: [f64; 2], value_m: f64, tolerance_m: [f64; 2]) -> Decision {
    if covered_m[1] < tolerance_m[0] || tolerance_m[1] < covered_m[0] {
        return Decision::DoesNotHold {
            covered_m,
            tolerance_m,
        };
    }
    Decision::not_shown(&format!(
        "shot {name} lies outside the tolerance, at {:+.1} mm",
        value_m * 1000.0
    ))
}
