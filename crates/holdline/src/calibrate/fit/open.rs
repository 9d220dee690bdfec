//! What the observations leave open, in words, with what would settle it.

use super::names::figure_words;
use super::result::Open;
use super::tested::Settled;
use super::told::{Case, at_tooth_m};
use super::tooth_sure::Working;
use crate::calibrate::equations::Observed;
use crate::machine::figures::FigureUnit;
use crate::tooth::plan::Given;
use holdline_geom::adjust::{Adjusted, Prior};
use nalgebra::DMatrix;

/// A direction that moves the tooth by less than this, per millimetre or milliradian of its largest part,
/// does it no harm, m.
pub(super) const HARMLESS_M: f64 = 1e-6;

/// Parts below this share of the largest are not named.
const SHARE_NAMED: f64 = 0.15;

/// How far off a figure can be that nobody stated an uncertainty for: half a metre, 0.3 rad.
///
/// It only keeps a search from running away along what is open; what it decides counts as not determined.
const VAGUE: [f64; 2] = [0.5, 0.3];

/// A figure or direction of which this share of the vague variance or more is left was not determined.
const SHARE_OPEN: f64 = 0.05;

/// A figure whose variance comes from open directions by more than this share has no uncertainty.
pub(super) const SHARE_FROM_OPEN: f64 = 0.01;

pub(super) fn vague_sd(unit: FigureUnit) -> f64 {
    match unit {
        FigureUnit::Metre => VAGUE[0],
        FigureUnit::Radian => VAGUE[1],
    }
}

/// Unknown figures that nothing was stated of.
fn free(observed: &Observed) -> Vec<(usize, FigureUnit)> {
    let figures = observed.figure_of_unknown.iter().enumerate();
    figures
        .map(|(unknown_idx, figure_idx)| (unknown_idx, &observed.figures[*figure_idx]))
        .filter(|(_, figure)| figure.measured.sd.is_none())
        .map(|(unknown_idx, figure)| (unknown_idx, figure.unit))
        .collect()
}

/// Vague knowledge of every figure that nothing was stated of, about these values.
pub(super) fn vague_priors(observed: &Observed, values: &[f64]) -> Vec<Prior> {
    let free = free(observed).into_iter();
    free.map(|(unknown_idx, unit)| Prior {
        unknown_idx: vec![unknown_idx],
        value: vec![values[unknown_idx]],
        covariance: DMatrix::from_element(1, 1, vague_sd(unit).powi(2)),
    })
    .collect()
}

/// Directions along which only the vague knowledge bounds the figures.
#[derive(Debug, Clone)]
pub(super) struct OpenDirections {
    /// A change of one standard uncertainty along each, by unknown, a column each; no two name the same
    /// figure first.
    changes: DMatrix<f64>,
    /// sd after over the vague sd.
    ratios: Vec<f64>,
    /// Figures, by their places among the unknowns, that have no uncertainty for that.
    pub without_sd: Vec<bool>,
}

/// Finds them: eigenvectors of the free figures' covariance, in units of what was vaguely known.
///
/// ```text
/// D⁻¹ Σ D⁻¹ v = λ v        open: λ ≥ 0.05        change of all unknowns: Σ D⁻¹ v / √λ
/// ```
pub(super) fn open_directions(observed: &Observed, adjusted: &Adjusted) -> OpenDirections {
    let n = adjusted.values.len();
    let mut found = OpenDirections {
        changes: DMatrix::zeros(n, 0),
        ratios: Vec::new(),
        without_sd: vec![false; observed.figure_of_unknown.len()],
    };
    let free = free(observed);
    if free.is_empty() {
        return found;
    }
    let k = free.len();
    // An unknown that is no figure can be open all the same; a figure never is, for it has a prior.
    let covariance = |a: usize, b: usize| adjusted.covariance(a, b).unwrap_or(0.0);
    let unit = DMatrix::from_fn(k, k, |i, j| {
        let ((a, unit_a), (b, unit_b)) = (free[i], free[j]);
        covariance(a, b) / (vague_sd(unit_a) * vague_sd(unit_b))
    });
    let eigen = unit.symmetric_eigen();
    let open: Vec<usize> = (0..k)
        .filter(|i| !(eigen.eigenvalues[*i] < SHARE_OPEN))
        .collect();
    let mut changes = DMatrix::zeros(n, open.len());
    for (column, i) in open.iter().enumerate() {
        let lambda = eigen.eigenvalues[*i];
        found.ratios.push(lambda.sqrt());
        for row in 0..n {
            let sum: f64 = free
                .iter()
                .enumerate()
                .map(|(j, (b, unit))| {
                    covariance(row, *b) / vague_sd(*unit) * eigen.eigenvectors[(j, *i)]
                })
                .sum();
            changes[(row, column)] = sum / lambda.sqrt();
        }
    }
    for (unknown_idx, without) in found.without_sd.iter_mut().enumerate() {
        let part: f64 = changes.row(unknown_idx).iter().map(|c| c * c).sum();
        let is_free = free.iter().any(|(u, _)| *u == unknown_idx);
        let share = part / covariance(unknown_idx, unknown_idx);
        *without = is_free && !(share <= SHARE_FROM_OPEN);
    }
    let figures: Vec<usize> = free.iter().map(|(u, _)| *u).collect();
    found.changes = told_apart(changes, &figures, &free);
    found
}

/// A basis of the same directions in which each has a figure that the others have not.
fn told_apart(
    mut changes: DMatrix<f64>,
    figures: &[usize],
    free: &[(usize, FigureUnit)],
) -> DMatrix<f64> {
    let mut used = vec![false; figures.len()];
    for done in 0..changes.ncols() {
        let (mut best, mut at) = (0.0, (0, done));
        for column in done..changes.ncols() {
            for (place, unknown_idx) in figures.iter().enumerate().filter(|(p, _)| !used[*p]) {
                let size = changes[(*unknown_idx, column)].abs() / vague_sd(free[place].1);
                if best < size {
                    (best, at) = (size, (place, column));
                }
            }
        }
        changes.swap_columns(done, at.1);
        used[at.0] = true;
        let row = figures[at.0];
        let pivot = changes[(row, done)];
        if pivot == 0.0 {
            continue;
        }
        let unit = changes.column(done) / pivot;
        for other in (0..changes.ncols()).filter(|other| *other != done) {
            let factor = changes[(row, other)];
            let less = changes.column(other) - &unit * factor;
            changes.set_column(other, &less);
        }
    }
    changes
}

/// What nothing but vague knowledge determines.
pub(super) fn not_determined(
    case: &Case<'_>,
    open: &OpenDirections,
    poses: &[Working],
) -> Vec<Open> {
    let columns = open.changes.column_iter().zip(&open.ratios);
    columns
        .filter_map(|(change, ratio)| {
            let change: Vec<f64> = change.iter().copied().collect();
            told(case, poses, &change, *ratio)
        })
        .collect()
}

/// What was hardly learned of and moves the tooth.
pub(super) fn weak(case: &Case<'_>, settled: &Settled, poses: &[Working]) -> Vec<Open> {
    let directions = settled.adjusted.weak();
    let n = settled.adjusted.values.len();
    let is_free = |u: usize| {
        let figure_idx = case.observed.figure_of_unknown.get(u);
        figure_idx.is_some_and(|idx| case.observed.figures[*idx].measured.sd.is_none())
    };
    directions
        .iter()
        .filter(|direction| !direction.parts.iter().any(|part| is_free(part.unknown_idx)))
        .filter_map(|direction| {
            let mut change = vec![0.0; n];
            for part in &direction.parts {
                change[part.unknown_idx] = part.part * settled.scales[part.unknown_idx];
            }
            told(case, poses, &change, direction.sd_ratio)
        })
        .filter(|open| HARMLESS_M < open.at_tooth_m)
        .collect()
}

/// A direction of figures; none where only set-ups, headings or marks are in it.
fn told(case: &Case<'_>, poses: &[Working], change: &[f64], sd_ratio: f64) -> Option<Open> {
    let observed = case.observed;
    let n_figures = observed.figure_of_unknown.len();
    let mut change = change[..n_figures].to_vec();
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
        sd_ratio,
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
