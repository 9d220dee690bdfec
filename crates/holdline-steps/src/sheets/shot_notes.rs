//! When, by whom and with what the shots of a check were measured, and whether they are old.

use holdline_files::points::ShotRow;

use super::history::day_number;

/// Older shots are warned of, days: a month of work wears a tooth and moves a site.
const OLD_DAYS: i64 = 31;

/// Words for the check sheet.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(super) struct ShotNotes {
    /// When, by whom, with what; or that nobody said.
    pub(super) measured: String,
    /// What to be wary of; empty: nothing.
    pub(super) warning: String,
}

impl ShotNotes {
    /// From the rows of the document; none were typed by hand. `record_day` is the record's date.
    pub(super) fn of(rows: Option<&[ShotRow]>, record_day: Option<&str>) -> ShotNotes {
        let Some(rows) = rows else {
            return ShotNotes {
                measured: "Shots typed by hand: nobody stated when, by whom or with what they were measured."
                    .to_owned(),
                warning: String::new(),
            };
        };
        let days: Vec<&str> = rows.iter().filter_map(|row| row.when.as_deref()).collect();
        let parts = [
            stated(rows, "by", "by whom", |row| row.by.as_deref()),
            when(&days, rows.len()),
            stated(rows, "with", "with what", |row| row.instrument.as_deref()),
        ];
        ShotNotes {
            measured: format!("Shots measured {}.", parts.join(", ")),
            warning: warning(&days, rows.len(), record_day),
        }
    }
}

/// The different values of a column, and how many shots have none.
fn stated<'a>(
    rows: &'a [ShotRow],
    word: &str,
    whose: &str,
    of: impl Fn(&'a ShotRow) -> Option<&'a str>,
) -> String {
    let mut values: Vec<&str> = Vec::new();
    let mut without = 0;
    for row in rows {
        match of(row).map(str::trim).filter(|value| !value.is_empty()) {
            Some(value) if values.contains(&value) => {}
            Some(value) => values.push(value),
            None => without += 1,
        }
    }
    if values.is_empty() {
        return format!("{whose} was not stated");
    }
    let all = format!("{word} {}", values.join(" and "));
    if without == 0 {
        all
    } else {
        format!(
            "{all} ({whose}: not stated for {without} of {})",
            rows.len()
        )
    }
}

/// From the first to the last, as written.
fn when(days: &[&str], of: usize) -> String {
    // Times as ISO 8601 writes them stand in the order of their letters.
    let (Some(first), Some(last)) = (days.iter().min(), days.iter().max()) else {
        return "when was not stated".to_owned();
    };
    let readable = |time: &str| time.replacen('T', " ", 1);
    let span = if first == last {
        readable(first)
    } else if first.get(..10) == last.get(..10) && last.len() > 11 {
        format!("{} to {}", readable(first), &last[11..])
    } else {
        format!("{} to {}", readable(first), readable(last))
    };
    if days.len() == of {
        span
    } else {
        format!("{span} (when: not stated for {} of {of})", of - days.len())
    }
}

/// Words on the age of the oldest shot at the day of the record.
fn warning(days: &[&str], of: usize, record_day: Option<&str>) -> String {
    let Some(made) = record_day.and_then(day_number) else {
        return String::new();
    };
    let known: Vec<i64> = days.iter().filter_map(|day| day_number(day)).collect();
    let oldest = known.iter().min().map(|day| made - day);
    let newest = known.iter().max().map(|day| made - day);
    match (oldest, newest) {
        (Some(age), _) if OLD_DAYS < age => format!(
            "Old shots: measured {age} days before this record. Wear, weld or a knock since then is not in it."
        ),
        // A day either way is the time of another place.
        (_, Some(age)) if age < -1 => {
            "Shots are dated after this record: look at the dates.".to_owned()
        }
        _ if known.len() < of => {
            "Age of the shots not known: not every shot has a date.".to_owned()
        }
        _ => String::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(when: Option<&str>, by: Option<&str>) -> ShotRow {
        ShotRow {
            line: 1,
            name: "1".to_owned(),
            tooth: None,
            surveyed_m: [None; 3],
            shown_m: [None; 3],
            readings: Vec::new(),
            per_second_m: None,
            held: None,
            by: by.map(str::to_owned),
            when: when.map(str::to_owned),
            instrument: Some("total station".to_owned()),
            note: None,
        }
    }

    #[test]
    fn who_when_and_with_what() {
        let rows = [
            row(Some("2025-12-02T08:15"), Some("A. Example")),
            row(Some("2025-12-02T08:10"), Some("A. Example")),
        ];
        let notes = ShotNotes::of(Some(&rows), Some("2025-12-02"));
        assert_eq!(
            notes.measured,
            "Shots measured by A. Example, 2025-12-02 08:10 to 08:15, with total station."
        );
        assert_eq!(notes.warning, "");
    }

    #[test]
    fn what_was_not_stated_is_said() {
        let rows = [row(None, None), row(Some("2025-12-02"), Some("A. Example"))];
        let notes = ShotNotes::of(Some(&rows), Some("2025-12-02"));
        assert!(
            notes.measured.contains("by whom: not stated for 1 of 2"),
            "{notes:?}"
        );
        assert!(
            notes.measured.contains("when: not stated for 1 of 2"),
            "{notes:?}"
        );
        assert!(notes.warning.contains("not known"), "{notes:?}");
        let notes = ShotNotes::of(None, Some("2025-12-02"));
        assert!(notes.measured.contains("nobody stated"), "{notes:?}");
    }

    /// 2025-12-02 and 31 and 32 days on: `date -d '2025-12-02 +31 days'` (coreutils 9) gives 2026-01-02.
    #[test]
    fn more_than_31_days_are_warned_of() {
        let rows = [
            row(Some("2025-12-02T08:10"), None),
            row(Some("2025-12-20"), None),
        ];
        let on = |day| ShotNotes::of(Some(&rows), Some(day)).warning;
        assert_eq!(on("2026-01-02"), "");
        assert!(on("2026-01-03").contains("32 days"), "{}", on("2026-01-03"));
        assert!(on("2025-12-01").contains("after this record"));
    }
}
