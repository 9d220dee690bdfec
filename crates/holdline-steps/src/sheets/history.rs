//! The sheet of the morning's checks on one bench.

use holdline::machine::Machine;
use holdline_geom::measured::Measured;
use holdline_sheet::page::Page;
use holdline_sheet::sheets::{Daily, History, Outcome, render_history};

use super::block::Standing;
use super::words;
use crate::units::Units;
use crate::verify::{DailyBody, DailyEntryAsk, daily_view};
use crate::views::ToolAsk;

/// The pages of the history that ends with the last of these mornings.
pub(super) fn pages(
    standing: &Standing,
    machine: &Machine,
    tool: &ToolAsk,
    mornings: &[(DailyEntryAsk, DailyBody)],
) -> Vec<Page> {
    sheet(standing, machine, tool, mornings).map_or_else(Vec::new, |h| render_history(&h, &words()))
}

/// The history, not yet drawn; none without a morning.
pub(super) fn sheet(
    standing: &Standing,
    machine: &Machine,
    tool: &ToolAsk,
    mornings: &[(DailyEntryAsk, DailyBody)],
) -> Option<History> {
    let (said, body) = mornings.last()?;
    let view = daily_view(said, body, Units::Metric);
    let first_day = mornings.iter().find_map(|(_, body)| day_number(&body.date));
    let checks = mornings
        .iter()
        .enumerate()
        .map(|(idx, (said, body))| Daily {
            day: body.date.clone(),
            // A date that is none still gets a place of its own.
            since_first_days: day_number(&body.date)
                .zip(first_day)
                .map_or(idx as f64, |(day, first)| (day - first) as f64),
            difference: Some(Measured {
                value: body.difference_m,
                sd: body.difference_sd_m,
            }),
            chosen: tool.in_words(),
            who: said.initials.clone(),
            result: body.decision.answer.word().to_owned(),
        })
        .collect();
    let due = view.recheck.join("; ");
    let mut caution = view.cautions.join(" ");
    for finding in &view.findings {
        caution = format!("{}: {} {caution}", finding.code, finding.text);
    }
    Some(History {
        block: standing.block("Morning checks", machine, tool, Units::Metric, &caution),
        bench: format!("{}, height", body.bench),
        tolerance_m: body.allowed_m.map(|allowed| [-allowed, allowed]),
        notice_m: body
            .allowed_m
            .map(|allowed| [-allowed * 2.0 / 3.0, allowed * 2.0 / 3.0]),
        notice_words: "re-check beyond".to_owned(),
        checks,
        outcome: if due.is_empty() {
            Outcome::Within
        } else {
            Outcome::Outside
        },
        due: if due.is_empty() {
            format!("No full re-check is due. {}", view.decision)
        } else {
            format!("A full re-check is due: {due}. {}", view.decision)
        },
    })
}

/// Days since a fixed day, for a date as ISO 8601 writes it.
///
/// - Source: days from civil, counted over eras of 400 years (from memory).
fn day_number(date: &str) -> Option<i64> {
    let mut parts = date.get(..10)?.split('-');
    let mut part = || parts.next()?.parse::<i64>().ok();
    let (year, month, day) = (part()?, part()?, part()?);
    if !((1..=12).contains(&month) && (1..=31).contains(&day)) {
        return None;
    }
    let from_march = (month + 9) % 12;
    let year = if month <= 2 { year - 1 } else { year };
    let era = year.div_euclid(400);
    let of_era = year.rem_euclid(400);
    let of_year = (153 * from_march + 2) / 5 + day - 1;
    Some(era * 146_097 + of_era * 365 + of_era / 4 - of_era / 100 + of_year)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// `date -u -d DAY +%s`, divided by 86400 (coreutils 9).
    #[test]
    fn days_as_another_program_counts_them() {
        let epoch = day_number("1970-01-01").unwrap();
        for (date, want) in [
            ("1970-01-02", 1),
            ("2000-02-29", 11016),
            ("2025-12-02", 20424),
        ] {
            assert_eq!(day_number(date).unwrap() - epoch, want, "{date}");
        }
        for bad in ["", "2025-13-01", "2025-1-1", "yesterday!"] {
            assert_eq!(day_number(bad), None, "{bad}");
        }
    }
}
