//! Figures and observations in words that a person on site knows.

use super::super::equations::target_words;
use super::super::observations::{Observation, What};

/// A figure in words; its path where there are none.
pub(super) fn figure_words(path: &str) -> String {
    let (stem, id) = match path.split_once('[') {
        Some((stem, rest)) => (stem, rest.split_once(']').map_or(rest, |(id, _)| id)),
        None => (path, ""),
    };
    let last = path.rsplit('.').next().unwrap_or_default();
    let along = |x: &str, y: &str, z: &str| match last {
        "x" => x.to_owned(),
        "y" => y.to_owned(),
        "z" => z.to_owned(),
        _ => String::new(),
    };
    match (stem, last) {
        ("sensor", "offset") => format!("offset of sensor {id}"),
        ("sensor", "roll_offset") => format!("roll offset of sensor {id}"),
        ("bucket", _) => {
            let tooth = path.split("tooth[").nth(1);
            let tooth = tooth.and_then(|rest| rest.split(']').next());
            format!(
                "tooth {} of {id} {}",
                tooth.unwrap_or_default(),
                along("along its pins", "sideways", "across its pins")
            )
        }
        ("antenna", _) => format!(
            "lever arm of {id} {}",
            along("forward", "to the left", "upward")
        ),
        ("coupler", "rotation") => format!("turn of coupler {id}"),
        ("coupler", _) => format!(
            "front pin of coupler {id} {}",
            along("along the pins", "", "across the pins")
        ),
        ("heading.offset", _) => "offset of the heading".to_owned(),
        ("boom.length", _) => "length of the boom".to_owned(),
        ("stick.length", _) => "length of the stick".to_owned(),
        ("linkage.idler", _) => "length of the idler".to_owned(),
        ("linkage.link", _) => "length of the bucket link".to_owned(),
        ("linkage.ear", _) => "distance of pins C and D".to_owned(),
        ("linkage.idler_pivot.x" | "linkage.idler_pivot.z", _) => {
            format!(
                "idler pivot {}",
                along("along the stick", "", "across the stick")
            )
        }
        ("boom.foot.x" | "boom.foot.y" | "boom.foot.z", _) => {
            format!(
                "boom foot pin {}",
                along("forward", "to the left", "upward")
            )
        }
        _ => path.to_owned(),
    }
}

/// What an observation is, in words: the instrument where it is told, and the point.
pub(super) fn kind_words(row: &Observation) -> String {
    let with = |usual: &str| match &row.instrument {
        Some(instrument) if !instrument.trim().is_empty() => instrument.clone(),
        Some(_) | None => usual.to_owned(),
    };
    match &row.what {
        What::Shot { target, at_m } => {
            let usual = match at_m {
                [None, None, Some(_)] => "level",
                _ => "shot",
            };
            format!("{}, {}", with(usual), target_words(target))
        }
        What::Touch { target, mark, .. } => {
            format!("touch of mark {mark}, {}", target_words(target))
        }
        What::Tape { from, to, .. } => {
            format!(
                "{}, {} to {}",
                with("tape"),
                target_words(from),
                target_words(to)
            )
        }
        What::Slope { from, to, .. } => format!(
            "{}, {} to {}",
            with("inclinometer"),
            target_words(from),
            target_words(to)
        ),
        What::HouseTurn { .. } => "house turned and read".to_owned(),
        What::SwingCircle { antenna, .. } => format!("swing circle of antenna {antenna}"),
        What::PinArc { pin, arc, .. } => format!("arc of {arc} about {}", target_words(pin)),
    }
}

#[cfg(test)]
mod tests {
    use super::figure_words;

    #[test]
    fn every_figure_has_words() {
        for (path, want) in [
            ("sensor[S-boom].offset", "offset of sensor S-boom"),
            (
                "sensor[S-house].roll_offset",
                "roll offset of sensor S-house",
            ),
            (
                "bucket[T75].tooth[left].at.z",
                "tooth left of T75 across its pins",
            ),
            ("antenna[GL].lever.y", "lever arm of GL to the left"),
            ("coupler[QC].rotation", "turn of coupler QC"),
            ("linkage.idler_pivot.x", "idler pivot along the stick"),
            ("boom.foot.z", "boom foot pin upward"),
            ("boom.upper", "boom.upper"),
        ] {
            assert_eq!(figure_words(path), want);
        }
    }
}
