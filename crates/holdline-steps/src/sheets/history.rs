//! The sheet of the morning's checks on one bench.

use holdline::machine::Machine;
use holdline_geom::measured::Measured;
use holdline_sheet::page::Page;
use holdline_sheet::sheets::{Daily, History, MorningFlag, Outcome, render_history};

use super::block::Standing;
use super::check::outcome;
use super::{answer_word, words};
use crate::units::Units;
use crate::verify::{DailyBody, DailyEntryAsk, daily_view};
use crate::views::ToolAsk;

/// The pages of the history that ends with the last of these mornings.
pub(super) fn pages(
    standing: &Standing,
    machine: &Machine,
    tool: &ToolAsk,
    mornings: &[(DailyEntryAsk, DailyBody)],
    units: Units,
) -> Vec<Page> {
    sheet(standing, machine, tool, mornings, units)
        .map_or_else(Vec::new, |h| render_history(&h, &words()))
}

/// The history, not yet drawn; none without a morning.
pub(super) fn sheet(
    standing: &Standing,
    machine: &Machine,
    tool: &ToolAsk,
    mornings: &[(DailyEntryAsk, DailyBody)],
    units: Units,
) -> Option<History> {
    let (said, body) = mornings.last()?;
    let view = daily_view(said, body, units);
    let days = mornings
        .iter()
        .filter_map(|(_, body)| day_number(&body.date));
    let first_day = days.clone().min().unwrap_or(0);
    let last_day = days.max().unwrap_or(0);
    let mut without_day = 0;
    let mut place = |date: &str| match day_number(date) {
        Some(day) => (day - first_day) as f64,
        // A date that is none still gets a place of its own, after all others.
        None => {
            without_day += 1;
            (last_day - first_day + without_day) as f64
        }
    };
    let mut checks: Vec<Daily> = mornings
        .iter()
        .map(|(said, body)| Daily {
            day: body.date.clone(),
            since_first_days: place(&body.date),
            difference: Some(Measured {
                value: body.difference_m,
                sd: body.difference_sd_m,
            }),
            chosen: tool.in_words(),
            who: said.initials.clone(),
            result: result(said, body),
            flag: flag(said, body),
        })
        .collect();
    checks.sort_by(|a, b| a.since_first_days.total_cmp(&b.since_first_days));
    let due = view.recheck.join("; ");
    let mut caution = view.cautions.join(" ");
    for finding in &view.findings {
        caution = format!("{}: {}. {caution}", finding.code, finding.text);
    }
    Some(History {
        block: standing.block("Morning checks", machine, tool, units, &caution),
        bench: format!("{}, height", body.bench),
        tolerance_m: body.allowed_m.map(|allowed| [-allowed, allowed]),
        notice_m: body
            .allowed_m
            .map(|allowed| [-allowed * 2.0 / 3.0, allowed * 2.0 / 3.0]),
        notice_words: "re-check beyond".to_owned(),
        checks,
        outcome: if !due.is_empty() || limit_failed(said) {
            Outcome::Outside
        } else {
            outcome(body.decision.answer)
        },
        due: {
            let told = view.decision.contains("STOP") || due.contains("STOP");
            let stop = if limit_failed(said) && !told {
                "STOP: a limit did not hold. "
            } else {
                ""
            };
            let recheck = if due.is_empty() {
                "No full re-check is due".to_owned()
            } else {
                format!("A full re-check is due: {due}")
            };
            format!("{}: {stop}{} {recheck}.", body.date, view.decision)
        },
    })
}

/// Whether a limit was tried this morning and did not hold.
pub(super) fn limit_failed(said: &DailyEntryAsk) -> bool {
    said.limits_tried == "failed"
}

fn flag(said: &DailyEntryAsk, body: &DailyBody) -> MorningFlag {
    if limit_failed(said) {
        MorningFlag::LimitFailed
    } else if body.recheck_because.is_empty() {
        MorningFlag::None
    } else {
        MorningFlag::RecheckDue
    }
}

/// The answer of a morning, with what it called for.
fn result(said: &DailyEntryAsk, body: &DailyBody) -> String {
    let mut words = vec![answer_word(body.decision.answer)];
    if limit_failed(said) {
        words.push("a limit failed");
    }
    if !body.recheck_because.is_empty() {
        words.push("full re-check due");
    }
    words.join(", ")
}

/// Days since a fixed day, for a date as ISO 8601 writes it.
///
/// - Source: days from civil, counted over eras of 400 years (from memory).
pub(super) fn day_number(date: &str) -> Option<i64> {
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
