//! What the observations leave open, in words, with what would settle it.

use super::names::figure_words;
use super::result::Open;
use super::tested::Settled;
use super::told::{Case, at_tooth_m};
use super::tooth_sure::Working;
use crate::machine::figures::FigureUnit;
use crate::tooth::plan::Given;
use holdline_geom::adjust::Direction;

/// A direction that moves the tooth by less than this, per millimetre or milliradian of its largest part,
/// does it no harm, m.
pub(super) const HARMLESS_M: f64 = 1e-5;

/// Parts below this share of the largest are not named.
const SHARE_NAMED: f64 = 0.15;

/// What nothing determines.
pub(super) fn not_determined(case: &Case<'_>, settled: &Settled, poses: &[Working]) -> Vec<Open> {
    let directions = &settled.adjusted.undetermined;
    directions
        .iter()
        .filter_map(|direction| told(case, settled, poses, direction))
        .collect()
}

/// What was hardly learned of.
pub(super) fn weak(case: &Case<'_>, settled: &Settled, poses: &[Working]) -> Vec<Open> {
    let directions = settled.adjusted.weak();
    directions
        .iter()
        .filter_map(|direction| told(case, settled, poses, direction))
        .collect()
}

/// A direction of figures; none where only set-ups, headings or marks are in it.
fn told(
    case: &Case<'_>,
    settled: &Settled,
    poses: &[Working],
    direction: &Direction,
) -> Option<Open> {
    let observed = case.observed;
    let n_figures = observed.figure_of_unknown.len();
    let scales = &settled.scales;
    let mut change = vec![0.0; n_figures];
    for part in &direction.parts {
        if part.unknown_idx < n_figures {
            change[part.unknown_idx] = part.part * scales[part.unknown_idx];
        }
    }
    let largest = change.iter().fold(0.0, |a: f64, c| a.max(c.abs()));
    if !(0.0 < largest) {
        return None;
    }
    // Per millimetre or milliradian of the largest part.
    change.iter_mut().for_each(|c| *c *= 1e-3 / largest);
    let mut parts: Vec<(usize, f64)> = change
        .iter()
        .copied()
        .enumerate()
        .filter(|(_, c)| SHARE_NAMED * 1e-3 <= c.abs())
        .collect();
    parts.sort_by(|a, b| b.1.abs().total_cmp(&a.1.abs()));
    let paths: Vec<String> = parts
        .iter()
        .map(|(u, _)| {
            observed.figures[observed.figure_of_unknown[*u]]
                .path
                .clone()
        })
        .collect();
    let at_tooth_m = at_tooth_m(observed, poses, &change);
    Some(Open {
        words: words(case, &parts, &paths, at_tooth_m),
        parts: paths
            .iter()
            .cloned()
            .zip(parts.iter().map(|(_, c)| *c))
            .collect(),
        at_tooth_m,
        sd_ratio: direction.sd_ratio,
    })
}

fn words(case: &Case<'_>, parts: &[(usize, f64)], paths: &[String], at_tooth_m: f64) -> String {
    let names: Vec<String> = paths.iter().take(6).map(|p| figure_words(p)).collect();
    let mut words = match names.as_slice() {
        [one] => format!("{one} is not settled by these observations"),
        [first, last] => format!("{first} and {last} cannot be told apart by these observations"),
        _ => format!(
            "{} cannot be told apart by these observations",
            names.join(", ")
        ),
    };
    if let (Some((a, first)), Some((b, second))) = (parts.first(), parts.get(1)) {
        let unit = |u: usize, change: f64| {
            let figure_idx = case.observed.figure_of_unknown[u];
            match case.observed.figures[figure_idx].unit {
                FigureUnit::Metre => format!("{:+.1} mm", change * 1000.0),
                FigureUnit::Radian => format!("{:+.3}°", change.to_degrees()),
            }
        };
        words.push_str(&format!(
            " ({} in one and {} in the other look the same)",
            unit(*a, *first),
            unit(*b, *second)
        ));
    }
    if at_tooth_m <= HARMLESS_M {
        words.push_str(": harmless at the tooth, not for heel, pins or limits");
    }
    if let Some(cure) = cure(case, paths) {
        words.push_str(": ");
        words.push_str(cure);
    }
    words
}

/// What would settle a direction, by what is in it. A rule a row; the first that fits is told.
fn cure(case: &Case<'_>, paths: &[String]) -> Option<&'static str> {
    let plan = &case.observed.system.plan;
    let sensor_path = |idx: usize| format!("sensor[{}].offset", plan.sensor_ids[idx]);
    let last = sensor_path(plan.bucket.sensor_idx);
    let has = |what: &str| paths.iter().any(|p| p.starts_with(what));
    let lengths = [
        "boom.length",
        "boom.lower",
        "boom.upper",
        "boom.link",
        "stick.length",
    ];
    let has_length = lengths.iter().any(|l| has(l));
    let n_links = [plan.boom.sensor_idx, plan.stick.sensor_idx]
        .iter()
        .filter(|idx| has(&sensor_path(**idx)))
        .count();
    let house = plan.house.map(|h| plan.sensor_ids[h.sensor_idx].clone());
    let has_house = house.is_some_and(|id| has(&format!("sensor[{id}]")));
    let has_roll = paths.iter().any(|p| p.ends_with("roll_offset"));
    let sideways = paths.iter().any(|p| p.ends_with(".y"));
    let by_idler = plan.bucket.gives == Given::Idler;
    let rules = [
        (
            has(&last) && has("linkage") && by_idler,
            "read five bucket attitudes or more over the whole stroke, or tape the linkage",
        ),
        (
            has(&last) && (has("bucket[") || has("coupler[") || has("tilt[")),
            "shoot pins C and D, or two points on the bucket",
        ),
        (
            has("antenna[") || has("heading"),
            "shoot the tooth at two reaches from three headings or more",
        ),
        (
            has_roll || (sideways && !has_length),
            "shoot poses with the house rolled 3° to 5° each way",
        ),
        (
            has("linkage") && !has_length,
            "shoot pins D, E or F, or tape the linkage",
        ),
        (
            n_links == 2,
            "move boom and stick independently of each other",
        ),
        (
            n_links == 1 && (has("boom.foot") || has_length),
            "change the attitude of that link by 60° or more between poses",
        ),
        (
            has_house && (has("boom.foot") || n_links != 0),
            "read the house in two faces, 180° apart",
        ),
        (
            has("coupler[") || has("bucket["),
            "shoot two points on the bucket at several attitudes, or tape them",
        ),
        (has_length, "tape at least one of these lengths"),
        (has("boom.foot"), "shoot pin A, or points on the house"),
    ];
    rules
        .into_iter()
        .find_map(|(fits, cure)| fits.then_some(cure))
        .or(Some(
            "measure one of them by itself, or poses in which they change differently",
        ))
}
