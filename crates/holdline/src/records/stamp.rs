//! When and by whom, as handed in by whoever holds the clock.

use std::cmp::Ordering;

use holdline_geom::fault::Fault;

/// When something was made and by whom. Both are handed in; this room has no clock.
///
/// The time is RFC 3339 in UTC with a `Z`, such as `2026-05-04T06:10:00Z`, up to nine decimals of a second.
/// The name is one line of text.
///
/// - Source: [`TIMESTAMP`](crate::sources::TIMESTAMP), RFC 3339.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stamp {
    at: String,
    by: String,
}

impl Stamp {
    /// A stamp, once both texts are checked.
    ///
    /// # Errors
    ///
    /// Fault `R010` for a time that is not such a text or no day of the calendar, `R011` for a name that is empty,
    /// longer than 200 characters, or holds a line break or another control character.
    ///
    /// # Example
    ///
    /// ```
    /// use holdline::records::Stamp;
    ///
    /// let stamp = Stamp::new("2026-05-04T06:10:00Z", "A. Specialist").unwrap();
    /// assert_eq!(stamp.by(), "A. Specialist");
    /// assert_eq!(Stamp::new("2026-05-04 08:10", "A. Specialist").unwrap_err().code, "R010");
    /// ```
    pub fn new(at: impl Into<String>, by: impl Into<String>) -> Result<Stamp, Fault> {
        let (at, by) = (at.into(), by.into());
        if !is_utc_time(&at) {
            return Err(Fault::new(
                "R010",
                "made_at",
                format!("{:?}", at.chars().take(60).collect::<String>()),
                "a time in UTC, such as 2026-05-04T06:10:00Z",
                "write year-month-day, T, hour:minute:second, and Z for UTC",
            ));
        }
        check_line("made_by", &by)?;
        Ok(Stamp { at, by })
    }

    /// When, RFC 3339 in UTC.
    pub fn at(&self) -> &str {
        &self.at
    }

    /// By whom.
    pub fn by(&self) -> &str {
        &self.by
    }
}

/// `text` if it is one line that a person can read: not empty, at most 200 characters, no control characters.
///
/// Used for names, roles, titles and kinds, because a line break in one of them would let two different records
/// give the same bytes to hash.
///
/// # Errors
///
/// Fault `R011`.
pub fn check_line<'a>(at: &str, text: &'a str) -> Result<&'a str, Fault> {
    let n_chars = text.chars().count();
    let odd = text
        .chars()
        .find(|c| c.is_control() || matches!(c, '\u{2028}' | '\u{2029}'));
    let got = if text.trim().is_empty() {
        "nothing".to_owned()
    } else if let Some(c) = odd {
        format!("a control character, U+{:04X}", c as u32)
    } else if n_chars > 200 {
        format!("{n_chars} characters")
    } else {
        return Ok(text);
    };
    Err(Fault::new(
        "R011",
        at,
        got,
        "one line of 1 to 200 characters",
        "write it as one short line, without tabs or line breaks",
    ))
}

/// Earlier or later of two times that [`Stamp`] accepted; decimals of a second count.
pub(super) fn earlier_or_later(a: &str, b: &str) -> Ordering {
    fn parts(at: &str) -> (&str, &str) {
        let (second, rest) = at.split_at_checked(19).unwrap_or((at, ""));
        (
            second,
            rest.trim_start_matches('.')
                .trim_end_matches('Z')
                .trim_end_matches('0'),
        )
    }
    parts(a).cmp(&parts(b))
}

fn is_utc_time(at: &str) -> bool {
    let b = at.as_bytes();
    let shape = b.len() >= 20
        && b.iter()
            .zip(b"0000-00-00T00:00:00")
            .all(|(got, want)| match want {
                b'0' => got.is_ascii_digit(),
                mark => got == mark,
            });
    if !shape {
        return false;
    }
    let part = |from: usize, to: usize| {
        b[from..to]
            .iter()
            .fold(0_u32, |n, digit| n * 10 + u32::from(digit - b'0'))
    };
    let (year, month, day) = (part(0, 4), part(5, 7), part(8, 10));
    let (hour, minute, second) = (part(11, 13), part(14, 16), part(17, 19));
    let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    let n_days = match month {
        1 | 3 | 5 | 7 | 8 | 10 | 12 => 31,
        4 | 6 | 9 | 11 => 30,
        2 if leap => 29,
        2 => 28,
        _ => 0,
    };
    let decimals = match (b[19], &b[20..]) {
        (b'Z', []) => true,
        (b'.', [digits @ .., b'Z']) => {
            matches!(digits.len(), 1..=9) && digits.iter().all(u8::is_ascii_digit)
        }
        _ => false,
    };
    let leap_second = second == 60 && hour == 23 && minute == 59;
    let clock = hour < 24 && minute < 60 && (second < 60 || leap_second);
    1 <= day && day <= n_days && clock && decimals
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_that_are_and_are_not() {
        for good in [
            "2026-05-04T06:10:00Z",
            "2024-02-29T00:00:00.5Z",
            "2000-02-29T23:59:59.123456789Z",
            "2016-12-31T23:59:60Z",
        ] {
            assert!(Stamp::new(good, "N").is_ok(), "{good}");
        }
        for bad in [
            "",
            "2026-05-04",
            "2026-05-04T06:10:00",
            "2026-05-04T06:10:00+02:00",
            "2026-05-04 06:10:00Z",
            "2026-02-29T06:10:00Z",
            "1900-02-29T06:10:00Z",
            "2026-13-01T06:10:00Z",
            "2026-00-01T06:10:00Z",
            "2026-04-31T06:10:00Z",
            "2026-05-00T06:10:00Z",
            "2026-05-04T24:00:00Z",
            "2026-05-04T06:60:00Z",
            "2026-05-04T06:10:60Z",
            "2026-05-04T06:10:00.Z",
            "2026-05-04T06:10:00.1234567890Z",
            "2026-05-04T06:10:00Z\n",
            "２026-05-04T06:10:00Z",
        ] {
            assert_eq!(Stamp::new(bad, "N").unwrap_err().code, "R010", "{bad}");
        }
    }

    #[test]
    fn names_are_one_line() {
        for bad in ["", "  ", "a\nb", "a\tb", "a\u{2028}b", &"x".repeat(201)] {
            assert_eq!(
                Stamp::new("2026-05-04T06:10:00Z", bad).unwrap_err().code,
                "R011",
                "{bad}"
            );
        }
        assert!(Stamp::new("2026-05-04T06:10:00Z", "Ö. Müller-Łuk").is_ok());
    }

    #[test]
    fn decimals_of_a_second_count() {
        let order = earlier_or_later("2026-05-04T06:10:00Z", "2026-05-04T06:10:00.5Z");
        assert_eq!(order, Ordering::Less);
        let order = earlier_or_later("2026-05-04T06:10:00.50Z", "2026-05-04T06:10:00.5Z");
        assert_eq!(order, Ordering::Equal);
    }
}
