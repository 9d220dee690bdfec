//! Slips of the hand: what a figure may have been before it was mistyped.

/// A slip: what it was, and the value that was meant.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Slip {
    /// In words: `two digits changed places`.
    pub words: &'static str,
    /// The value meant, in the unit of the figure typed.
    pub meant: f64,
}

/// Feet and inches, and what a head puts in their place.
const FACTORS: [(f64, &str); 5] = [
    (0.3048, "feet typed as metres"),
    (1.0 / 0.3048, "metres turned from feet once too often"),
    (0.0254, "inches typed as metres"),
    (30.48 / 30.0, "turned from feet with 30 cm for 30.48 cm"),
    (30.0 / 30.48, "turned into feet with 30 cm for 30.48 cm"),
];

/// What may have been meant where `typed` stands, each value once.
///
/// ```text
/// digits      two neighbours change places · one left out of a doubled pair · one struck twice · any one too many
/// point       one place to the left or right
/// sign        lost
/// lengths     feet, inches, 30 for 30.48
/// ```
///
/// A figure with more than four places behind the point was not typed by a hand: it has no slips.
/// A digit that was simply left out has hundreds of values in its place; the drift of the same figure finds those.
pub(super) fn slips(typed: f64, is_length: bool) -> Vec<Slip> {
    let text = format!("{}", typed.abs());
    let behind = text.split_once('.').map_or(0, |(_, behind)| behind.len());
    if !typed.is_finite() || typed == 0.0 || 4 < behind {
        return Vec::new();
    }
    let sign = typed.signum();
    let mut found: Vec<Slip> = Vec::new();
    let mut add = |words: &'static str, meant: f64| {
        let near = |a: f64, b: f64| (a - b).abs() <= 1e-9 * (1.0 + a.abs());
        if meant.is_finite()
            && meant != 0.0
            && !near(meant, typed)
            && !found.iter().any(|s| near(s.meant, meant))
        {
            found.push(Slip { words, meant });
        }
    };
    let digits: Vec<char> = text.chars().filter(|c| *c != '.').collect();
    let point = text.find('.').unwrap_or(text.len());
    let value = |digits: &[char], point: usize| -> f64 {
        let whole: String = digits.iter().take(point).collect();
        let rest: String = digits.iter().skip(point).collect();
        sign * format!("{whole}.{rest}0").parse().unwrap_or(f64::NAN)
    };
    // A trailing zero that the sheet had and the number lost can change places too.
    let mut padded = digits.clone();
    while padded.len() < point + 3 {
        padded.push('0');
    }
    for at in 1..padded.len() {
        let mut other = padded.clone();
        other.swap(at - 1, at);
        add("two digits changed places", value(&other, point));
    }
    for at in 0..digits.len() {
        let mut other = digits.clone();
        other.insert(at, digits[at]);
        let point = point + usize::from(at < point);
        add("one of two equal digits left out", value(&other, point));
        if digits.len() > 1 {
            let mut other = digits.clone();
            other.remove(at);
            let twice =
                (at > 0 && digits[at - 1] == digits[at]) || digits.get(at + 1) == Some(&digits[at]);
            let before = point - usize::from(at < point);
            if twice {
                add("a digit struck twice", value(&other, before));
            } else {
                add("a digit too many", value(&other, before));
            }
        }
    }
    add("the point one place too far left", typed * 10.0);
    add("the point one place too far right", typed / 10.0);
    add("the sign lost", -typed);
    if is_length {
        for (factor, words) in FACTORS {
            add(words, typed * factor);
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(typed: f64, meant: f64, words: &str) {
        let all = slips(typed, true);
        let hit = all.iter().find(|s| (s.meant - meant).abs() < 1e-9);
        assert_eq!(hit.map(|s| s.words), Some(words), "{typed} for {meant}");
    }

    #[test]
    fn what_hands_do() {
        check(5.27, 5.72, "two digits changed places");
        check(2.94, 2.904, "two digits changed places"); // 2.940 on the sheet
        check(1.45, 1.445, "one of two equal digits left out");
        check(1.445, 1.454, "two digits changed places");
        check(1.445, 1.45, "a digit struck twice");
        check(0.44, 0.4, "a digit struck twice");
        check(0.6, 0.06, "two digits changed places");
        check(-0.178, 0.178, "the sign lost");
        check(9.6457, 9.6457 * 0.3048, "feet typed as metres");
    }

    #[test]
    fn what_hands_do_not() {
        assert!(slips(0.0, true).is_empty());
        assert!(slips(f64::NAN, true).is_empty());
        assert!(slips(5.718_34, true).is_empty(), "a calibrated figure");
        let all = slips(5.72, true);
        assert!(all.iter().all(|s| s.meant != 0.0 && s.meant != 5.72));
        assert!(all.len() < 30, "{}", all.len());
    }
}
