//! Points of the machine by the words that people write: `tooth[centre]`, `pin C`, `antenna[GL]`, `swing axis`.

use holdline::calibrate::observations::Target;
use holdline_geom::fault::Fault;

use crate::document::leaf::is_name;
use crate::text::quoted;

/// The words in one line, for messages.
pub const IN_WORDS: &str =
    "tooth[NAME], pin A to pin F, front pin, antenna[NAME] or swing axis, such as tooth[centre]";

/// The words as a pattern of a schema.
pub const PATTERN: &str =
    "^(tooth\\[[^\\[\\]\"]+\\]|antenna\\[[^\\[\\]\"]+\\]|pin [A-F]|front pin|swing axis)$";

/// Points without a name of their own.
const PLAIN: [(&str, Target); 8] = [
    ("pin A", Target::BoomFoot),
    ("pin B", Target::BoomStick),
    ("pin C", Target::StickBucket),
    ("pin D", Target::LinkPin),
    ("pin E", Target::LinkageE),
    ("pin F", Target::IdlerPivot),
    ("front pin", Target::BucketFrontPin),
    ("swing axis", Target::SwingAxis),
];

/// The words for a point.
pub fn target_word(target: &Target) -> String {
    match target {
        Target::Tooth(name) => format!("tooth[{name}]"),
        Target::Antenna(name) => format!("antenna[{name}]"),
        other => PLAIN
            .iter()
            .find(|(_, t)| t == other)
            .map_or("", |(word, _)| word)
            .to_owned(),
    }
}

/// The point that words mean. Capital letters make no difference outside of names.
///
/// # Errors
///
/// F101.
pub fn read_target(path: &str, text: &str) -> Result<Target, Fault> {
    let words: Vec<&str> = text.split_whitespace().collect();
    let plain = words.join(" ");
    let found = PLAIN.iter().find(|(w, _)| w.eq_ignore_ascii_case(&plain));
    if let Some((_, target)) = found {
        return Ok(target.clone());
    }
    let named = |what: &str| {
        let (head, rest) = plain.split_at_checked(what.len())?;
        let name = rest.trim().strip_prefix('[')?.strip_suffix(']')?.trim();
        (head.eq_ignore_ascii_case(what) && is_name(name)).then(|| name.to_owned())
    };
    if let Some(name) = named("tooth") {
        return Ok(Target::Tooth(name));
    }
    if let Some(name) = named("antenna") {
        return Ok(Target::Antenna(name));
    }
    Err(Fault::new(
        "F101",
        path,
        quoted(text),
        IN_WORDS,
        fix_for(&plain),
    ))
}

const WHICH: &str = "say which: tooth[left], tooth[centre] or tooth[right], as seen from the seat";

/// What was probably meant.
fn fix_for(plain: &str) -> String {
    let lower = plain.to_lowercase();
    let rest = |word: &str| {
        let rest = lower.strip_prefix(word)?;
        let rest = rest.trim_matches([' ', '-', '_', '[', ']', '(', ')', '.', ':']);
        Some(rest.to_owned()).filter(|r| r.chars().all(|c| c.is_alphanumeric()))
    };
    match (lower.as_str(), rest("tooth"), rest("antenna")) {
        ("teeth" | "edge", ..) => WHICH.to_owned(),
        ("left" | "centre" | "right", ..) => format!("write tooth[{lower}]"),
        ("center" | "middle", ..) => "write tooth[centre]".to_owned(),
        ("antenna", ..) => "say which: antenna[NAME], by its name on the sheet".to_owned(),
        ("a" | "b" | "c" | "d" | "e" | "f", ..) => format!("write pin {}", lower.to_uppercase()),
        (_, Some(name), _) if !name.is_empty() => format!("write tooth[{name}]"),
        (_, Some(_), _) => WHICH.to_owned(),
        (_, _, Some(_)) => "write antenna[NAME], by its name on the sheet".to_owned(),
        _ => "A boom foot, B boom-stick, C stick-bucket, D bucket link to ear, E idler to bucket link, F idler on stick"
            .to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(text: &str, want: Target, word: &str) {
        assert_eq!(read_target("x", text), Ok(want.clone()), "{text}");
        assert_eq!(target_word(&want), word);
        assert_eq!(read_target("x", word), Ok(want));
    }

    #[test]
    fn points_by_their_words() {
        check(
            "tooth[centre]",
            Target::Tooth("centre".into()),
            "tooth[centre]",
        );
        check(
            " Tooth [ left ]",
            Target::Tooth("left".into()),
            "tooth[left]",
        );
        check("pin A", Target::BoomFoot, "pin A");
        check("Pin b", Target::BoomStick, "pin B");
        check("pin C", Target::StickBucket, "pin C");
        check("pin  D", Target::LinkPin, "pin D");
        check("pin E", Target::LinkageE, "pin E");
        check("pin F", Target::IdlerPivot, "pin F");
        check("front pin", Target::BucketFrontPin, "front pin");
        check("antenna[GL]", Target::Antenna("GL".into()), "antenna[GL]");
        check("Swing axis", Target::SwingAxis, "swing axis");
    }

    #[track_caller]
    fn refused(text: &str, fix: &str) {
        let fault = read_target("observation[1].target", text).unwrap_err();
        assert_eq!(
            fault.to_string(),
            format!(
                "fault F101 at observation[1].target\n  got   \"{text}\"\n  want  {IN_WORDS}\n  fix   {fix}"
            )
        );
    }

    #[test]
    fn words_that_leave_something_to_guess() {
        refused(
            "tooth",
            "say which: tooth[left], tooth[centre] or tooth[right], as seen from the seat",
        );
        refused("left", "write tooth[left]");
        refused("center", "write tooth[centre]");
        refused("tooth-left", "write tooth[left]");
        refused("C", "write pin C");
        refused(
            "antenna",
            "say which: antenna[NAME], by its name on the sheet",
        );
        refused(
            "antenna GL",
            "write antenna[NAME], by its name on the sheet",
        );
        refused(
            "pin G",
            "A boom foot, B boom-stick, C stick-bucket, D bucket link to ear, E idler to bucket link, F idler on stick",
        );
        refused(
            "tooth[]",
            "say which: tooth[left], tooth[centre] or tooth[right], as seen from the seat",
        );
    }
}
