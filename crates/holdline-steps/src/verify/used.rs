//! Shots that the calibration in use was fitted to: they agree with it because it was made to agree with them.

use holdline::calibrate::observations::{Observation, Target, What};
use holdline_files::points::ShotRow;

/// Unused shots without which a series that held used ones shows nothing.
pub(super) const UNUSED_AT_LEAST: usize = 4;

/// Coordinates that agree like this were rounded or typed from one another, m. Nobody brings a tooth back so well.
const SAME_M: f64 = 0.0015;

/// Readings that agree like this are one reading, rounded: 0.01°, and a centimetre of an antenna that stood still.
const SAME_RAD: f64 = 1.8e-4;

/// Whether a shot is one of those observations: the same tooth point, and what was surveyed the same to the last digit.
///
/// Two coordinates never agree by chance unless the tooth stood on the same nail again: where both have readings, these
/// must agree as well. One coordinate alone is asked for two readings.
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
            1 => same && 2 <= alike_and_not(shot, seen).0,
            _ => same && alike_and_not(shot, seen).1 == 0,
        }
    })
}

/// Readings of both: how many agree, and how many do not.
fn alike_and_not(shot: &ShotRow, seen: &Observation) -> (usize, usize) {
    let both = shot.readings.iter().filter_map(|(name, value)| {
        let other = seen.readings.iter().find(|(n, _)| n == name)?;
        Some((other.1 - value).abs() <= SAME_RAD)
    });
    let (alike, not): (Vec<bool>, Vec<bool>) = both.partition(|same| *same);
    (alike.len(), not.len())
}
