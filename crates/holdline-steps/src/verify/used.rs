//! Shots that the calibration in use was fitted to: they agree with it because it was made to agree with them.

use holdline::calibrate::observations::{Observation, Target, What};
use holdline_files::points::ShotRow;

/// Unused shots without which a series that held used ones shows nothing.
pub(super) const UNUSED_AT_LEAST: usize = 4;

/// A coordinate typed twice is the same to the last digit; this is rounding alone, m.
const SAME_M: f64 = 1e-9;

/// Whether a shot is one of those observations: the same tooth point, and what was surveyed the same to the last digit.
///
/// Two coordinates never agree by chance; one alone may, and is asked for two readings that agree as well.
pub(super) fn was_used(shot: &ShotRow, tooth: &str, observations: &[Observation]) -> bool {
    let tooth = shot.tooth.as_deref().unwrap_or(tooth);
    observations.iter().any(|seen| {
        let What::Shot { target, at_m } = &seen.what else {
            return false;
        };
        if *target != Target::Tooth(tooth.to_owned()) {
            return false;
        }
        let pairs = shot.surveyed_m.iter().zip(at_m);
        let both: Vec<(f64, f64)> = pairs
            .filter_map(|(a, b)| Some(((*a)?.value, (*b)?.value)))
            .collect();
        let same = both.iter().all(|(a, b)| (a - b).abs() <= SAME_M);
        match both.len() {
            0 => false,
            1 => same && 2 <= readings_alike(shot, seen),
            _ => same,
        }
    })
}

fn readings_alike(shot: &ShotRow, seen: &Observation) -> usize {
    let alike = |(name, value): &&(String, f64)| {
        let other = seen.readings.iter().find(|(n, _)| n == name);
        other.is_some_and(|(_, other)| (other - value).abs() <= SAME_M)
    };
    shot.readings.iter().filter(alike).count()
}
