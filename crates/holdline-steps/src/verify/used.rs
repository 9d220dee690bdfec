//! Shots that the calibration in use was fitted to: they agree with it because it was made to agree with them.

use holdline::calibrate::observations::{Observation, Target, What};
use holdline_files::points::ShotRow;

/// Unused shots without which a series that held used ones shows nothing.
pub(super) const UNUSED_AT_LEAST: usize = 4;

/// Coordinates that agree like this were rounded or typed from one another, m. Nobody brings a tooth back so well.
const SAME_M: f64 = 0.0015;

/// Readings that agree like this are one reading, rounded: 0.01°.
const SAME_RAD: f64 = 1.8e-4;

/// Whether a shot is one of those observations: the same tooth point, and what was surveyed the same.
///
/// Two coordinates never agree by chance unless the tooth stood on the same nail again: then most readings differ.
/// One coordinate alone is asked for two readings that agree.
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
            _ => {
                let (alike, not) = alike_and_not(shot, seen);
                same && not <= alike
            }
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

#[cfg(test)]
mod tests {
    use super::was_used;
    use holdline::calibrate::observations::{Observation, Target, What};
    use holdline_files::points::ShotRow;
    use holdline_geom::measured::Measured;

    const READ: [(&str, f64); 4] = [
        ("boom", 0.5),
        ("stick", -1.4),
        ("idler", -0.1),
        ("pitch", 0.01),
    ];

    fn readings(change: impl Fn(usize, f64) -> f64) -> Vec<(String, f64)> {
        let read = READ.iter().enumerate();
        read.map(|(k, (name, value))| ((*name).to_owned(), change(k, *value)))
            .collect()
    }

    fn used(change: impl Fn(usize, f64) -> f64) -> bool {
        let at_m = [5060.0, 2043.0, 24.5].map(|v| Some(Measured::with_sd(v, 0.003)));
        let seen = Observation {
            name: "1".to_owned(),
            line: 1,
            what: What::Shot {
                target: Target::Tooth("centre".to_owned()),
                at_m,
            },
            pose: "P1".to_owned(),
            stand: "S1".to_owned(),
            setup: "site".to_owned(),
            readings: readings(|_, value| value),
            by: None,
            when: None,
            instrument: None,
            note: None,
        };
        let shot = ShotRow {
            line: 1,
            name: "check".to_owned(),
            tooth: None,
            surveyed_m: at_m,
            shown_m: [None; 3],
            readings: readings(change),
            per_second_m: None,
            held: None,
            by: None,
            when: None,
            instrument: None,
            note: None,
        };
        was_used(&shot, "centre", &[seen])
    }

    /// One number changed makes no new shot; the same nail reached in another pose does.
    #[test]
    fn one_changed_reading_makes_no_new_shot() {
        assert!(used(|_, value| value));
        assert!(used(|k, value| if k == 2 { value + 0.02 } else { value }));
        assert!(!used(|k, value| if k < 3 { value + 0.02 } else { value }));
    }
}
