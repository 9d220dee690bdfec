//! A figure's path through the sheet in the words of the trade.

/// `sensor[S-boom].offset` as `Sensor S-boom, offset`; a path without a name of its own stays as it is.
pub fn figure_label(path: &str) -> String {
    for (head, words) in PLAIN {
        if path == *head {
            return (*words).to_owned();
        }
    }
    if let Some((id, rest)) = entry(path, "sensor") {
        let what = match rest {
            "offset" => "offset",
            "roll_offset" => "roll offset",
            other => other,
        };
        return format!("Sensor {id}, {what}");
    }
    if let Some((id, rest)) = entry(path, "antenna") {
        if rest == "lever" {
            return format!("Antenna {id}");
        }
        return format!("Antenna {id}, {}", axis(rest, ["forward", "left", "up"]));
    }
    if let Some((bucket, rest)) = entry(path, "bucket") {
        if let Some((tooth, rest)) = entry(rest, "tooth") {
            if rest == "at" {
                return format!("Bucket {bucket}, {tooth} tooth");
            }
            let which = axis(rest, ["along the pins", "left", "across the pins"]);
            return format!("Bucket {bucket}, {tooth} tooth, {which}");
        }
        let which = axis(rest, ["along the pins", "left", "across the pins"]);
        return format!("Bucket {bucket}, {which}");
    }
    if let Some((id, rest)) = entry(path, "coupler") {
        return match rest {
            "rotation" => format!("Coupler {id}, turn"),
            "front_pin" => format!("Coupler {id}, front pin"),
            _ => format!(
                "Coupler {id}, front pin {}",
                axis(rest, ["along", "left", "across"])
            ),
        };
    }
    if let Some((id, rest)) = entry(path, "tilt") {
        return format!("Tilt {id}, {}", rest.replace(['.', '_'], " "));
    }
    path.to_owned()
}

const PLAIN: &[(&str, &str)] = &[
    ("boom.length", "Boom, A\u{2013}B"),
    ("boom.lower", "Lower boom, A\u{2013}M"),
    ("boom.upper", "Upper boom, M\u{2013}B"),
    ("boom.foot", "Boom foot pin A"),
    ("linkage.idler_pivot", "Idler pivot F"),
    ("heading.offset", "Heading, offset"),
    ("boom.foot.x", "Boom foot pin A, forward"),
    ("boom.foot.y", "Boom foot pin A, left"),
    ("boom.foot.z", "Boom foot pin A, up"),
    ("stick.length", "Stick, B\u{2013}C"),
    ("linkage.idler", "Idler, F\u{2013}E"),
    ("linkage.link", "Bucket link, E\u{2013}D"),
    ("linkage.ear", "Ear, C\u{2013}D"),
    ("linkage.idler_pivot.x", "Idler pivot F, along the stick"),
    ("linkage.idler_pivot.z", "Idler pivot F, across the stick"),
];

/// `kind[id].rest` taken apart.
fn entry<'a>(path: &'a str, kind: &str) -> Option<(&'a str, &'a str)> {
    let inside = path.strip_prefix(kind)?.strip_prefix('[')?;
    let (id, rest) = inside.split_once(']')?;
    Some((id, rest.strip_prefix('.').unwrap_or(rest)))
}

/// The axis at the end of a path, in words.
fn axis(rest: &str, [x, y, z]: [&'static str; 3]) -> String {
    match rest.rsplit('.').next() {
        Some("x") => x.to_owned(),
        Some("y") => y.to_owned(),
        Some("z") => z.to_owned(),
        _ => rest.replace(['.', '_'], " "),
    }
}

#[cfg(test)]
mod tests {
    use super::figure_label;

    #[test]
    fn paths_in_words() {
        let rows = [
            ("boom.length", "Boom, A\u{2013}B"),
            ("sensor[S-boom].offset", "Sensor S-boom, offset"),
            ("sensor[S-house].roll_offset", "Sensor S-house, roll offset"),
            ("antenna[GL].lever.x", "Antenna GL, forward"),
            (
                "bucket[T75].tooth[centre].at.z",
                "Bucket T75, centre tooth, across the pins",
            ),
            (
                "coupler[QC-demo].front_pin.x",
                "Coupler QC-demo, front pin along",
            ),
            ("bucket[T75].tooth[left].at", "Bucket T75, left tooth"),
            ("coupler[QC-demo].front_pin", "Coupler QC-demo, front pin"),
            ("antenna[GL].lever", "Antenna GL"),
            ("coupler[QC-demo].rotation", "Coupler QC-demo, turn"),
            ("something.else", "something.else"),
        ];
        for (path, want) in rows {
            assert_eq!(figure_label(path), want);
        }
    }
}
