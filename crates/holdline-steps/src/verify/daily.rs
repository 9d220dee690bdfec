//! The morning check: one bench, one reading; its result as numbers and in words.

use holdline::calibrate::daily::{Change, DailyEntry, DailyResult, LimitsTried, judge_morning};
use holdline_geom::fault::{Fault, Faults, Span};
use holdline_geom::measured::Measured;
use holdline_sheet::figure::plain;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::ask::{DailyAsk, DailyEntryAsk};
use super::body::{DecisionBody, FindingBody};
use super::view::{CAUTION_DAILY, CheckView, RowView, decision_words, findings_view, true_minus};
use crate::units::Units;
use crate::views::{FigureView, check_sd};

/// A morning's result.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DailyBody {
    /// Day.
    pub date: String,
    /// Bench or nail.
    pub bench: String,
    /// Shown minus known, m.
    pub difference_m: f64,
    /// Its standard uncertainty, m.
    pub difference_sd_m: Option<f64>,
    /// What is allowed either way, m: the smaller of up and down.
    pub allowed_m: Option<f64>,
    /// Against what is allowed.
    pub decision: DecisionBody,
    /// Why a full re-check is due; empty: it is not.
    pub recheck_because: Vec<String>,
    /// What to look at.
    pub findings: Vec<FindingBody>,
}

const HEIGHT: Span = Span {
    code: "V034",
    what: "height",
    unit: "m",
    min: -1e4,
    max: 1e4,
    fix: "type the height in metres, as the display and the bench's list give it",
};
const WEAR: Span = Span {
    what: "wear of the tooth",
    min: 0.0,
    max: 0.5,
    fix: "hold the gauge to the tooth",
    ..HEIGHT
};

/// An entry as the core takes it.
///
/// # Errors
///
/// `V030`, `V031`, `V034`; all at once.
pub(super) fn entry_of(ask: &DailyAsk) -> Result<DailyEntry, Faults> {
    let mut faults = Faults::none();
    let said = &ask.daily;
    let tolerance = match ask.tolerance.checked() {
        Ok(tolerance) => tolerance,
        Err(more) => {
            faults.0.extend(more.0);
            holdline::calibrate::check_shots::Tolerance::default()
        }
    };
    if said.bench.trim().is_empty() {
        faults.push(missing("daily.bench", "the name of the bench or nail"));
    }
    let mut height = |word: &str, value: Option<f64>| match value {
        None => {
            faults.push(missing(&format!("daily.{word}"), "a height in metres"));
            None
        }
        Some(value) => faults.keep(HEIGHT.check(&format!("daily.{word}"), value)),
    };
    let (shown, known) = (
        height("shown_m", said.shown_m),
        height("known_m", said.known_m),
    );
    faults.keep(check_sd("daily.shown_sd_m", said.shown_sd_m));
    faults.keep(check_sd("daily.known_sd_m", said.known_sd_m));
    if let Some(wear) = said.wear_m {
        faults.keep(WEAR.check("daily.wear_m", wear));
    }
    if let Some(date) = &said.date {
        faults.keep(check_date(date));
    }
    let limits = faults.keep(limits_of(&said.limits_tried));
    let changes: Vec<Change> = said
        .changes
        .iter()
        .filter_map(|word| faults.keep(change_of(word)))
        .collect();
    let (Some(shown), Some(known), Some(limits), true) = (shown, known, limits, faults.is_empty())
    else {
        return Err(faults);
    };
    Ok(DailyEntry {
        on: said.date.clone().unwrap_or_default(),
        bench: said.bench.clone(),
        bucket: ask.tool.bucket.clone(),
        tooth: ask.tool.tooth.clone(),
        shown_m: Measured {
            value: shown,
            sd: said.shown_sd_m,
        },
        known_m: Measured {
            value: known,
            sd: said.known_sd_m,
        },
        // One figure either way: the smaller of the two is the safe one.
        allowed_m: tolerance.height_m.map(|[down, up]| up.min(-down)),
        wear_m: said.wear_m,
        limits,
        changes,
        initials: said.initials.clone(),
    })
}

fn missing(at: &str, want: &str) -> Fault {
    Fault::new("V034", at, "nothing", want, "fill it in")
}

/// A day of the calendar, `2025-12-08`.
fn check_date(date: &str) -> Result<(), Fault> {
    let digits = |text: Option<&str>| text.and_then(|t| t.parse::<u32>().ok());
    let shaped = date.len() == 10
        && date.bytes().enumerate().all(|(idx, byte)| match idx {
            4 | 7 => byte == b'-',
            _ => byte.is_ascii_digit(),
        });
    let parts = (
        digits(date.get(..4)),
        digits(date.get(5..7)),
        digits(date.get(8..)),
    );
    let there = match parts {
        (Some(year), Some(month @ 1..=12), Some(day)) => {
            let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
            let days = match month {
                2 => 28 + u32::from(leap),
                4 | 6 | 9 | 11 => 30,
                _ => 31,
            };
            2000 <= year && 1 <= day && day <= days
        }
        _ => false,
    };
    if shaped && there {
        return Ok(());
    }
    Err(Fault::new(
        "V034",
        "daily.date",
        format!("{date:?}"),
        "a day of the calendar, such as 2025-12-08",
        "type year, month and day with a line between",
    ))
}

/// A morning that has not come yet is none.
pub(super) fn not_in_the_future(date: &str, today: &str) -> Result<(), Fault> {
    if today.is_empty() || date <= today {
        return Ok(());
    }
    Err(Fault::new(
        "V034",
        "daily.date",
        date,
        format!("{today} or earlier"),
        "look at the date, and at this computer's clock",
    ))
}

fn limits_of(word: &str) -> Result<LimitsTried, Fault> {
    match word {
        "held" => Ok(LimitsTried::Held),
        "failed" => Ok(LimitsTried::Failed),
        "none_set" => Ok(LimitsTried::NoneSet),
        "not_tried" | "" => Ok(LimitsTried::NotTried),
        other => Err(Fault::new(
            "V034",
            "daily.limits_tried",
            format!("{other:?}"),
            "held, failed, not_tried or none_set",
            "say what came of touching each limit at low speed",
        )),
    }
}

fn change_of(word: &str) -> Result<Change, Fault> {
    match word {
        "tooth" | "tool" => Ok(Change::Tool),
        "weld" => Ok(Change::Weld),
        "sensor" => Ok(Change::Sensor),
        "tracks" => Ok(Change::Tracks),
        "frost" => Ok(Change::Frost),
        "localization" => Ok(Change::Localization),
        other => Err(Fault::new(
            "V034",
            "daily.changes",
            format!("{other:?}"),
            "tooth, weld, sensor, tracks, frost or localization",
            "say what happened since the last entry",
        )),
    }
}

/// Judges a morning, with the entry before on the same bench.
pub(super) fn judge(
    entry: &DailyEntry,
    before: Option<DailyEntry>,
    still_open: &[String],
) -> DailyBody {
    let before: Vec<DailyEntry> = before.into_iter().collect();
    let result: DailyResult = judge_morning(entry, &before, still_open);
    DailyBody {
        date: entry.on.clone(),
        bench: entry.bench.clone(),
        difference_m: result.difference_m.value,
        difference_sd_m: result.difference_m.sd,
        allowed_m: entry.allowed_m,
        decision: (&result.decision).into(),
        recheck_because: result.recheck_because,
        findings: result.findings.iter().map(FindingBody::from).collect(),
    }
}

/// A morning in words.
pub fn daily_view(said: &DailyEntryAsk, body: &DailyBody, units: Units) -> CheckView {
    let height = |group: &str, label: &str, value: Option<f64>, sd: Option<f64>| match value {
        Some(value) => FigureView::measured(group, label, Measured { value, sd }, &units.length()),
        None => FigureView::words(group, label, "not stated"),
    };
    let measured = Measured {
        value: body.difference_m,
        sd: body.difference_sd_m,
    };
    let mut summary = vec![
        height("Bench", &body.bench, said.known_m, said.known_sd_m),
        height(
            "Display",
            "Tooth on the bench",
            said.shown_m,
            said.shown_sd_m,
        ),
        FigureView::measured(
            "Difference",
            "Shown \u{2212} known",
            measured,
            &units.difference(),
        ),
    ];
    let allowed = body.allowed_m.map_or_else(
        || "not stated".to_owned(),
        |allowed| {
            format!(
                "± {}",
                plain(allowed, &units.small(), units.small_decimals())
            )
        },
    );
    summary.push(FigureView::words("Difference", "Allowed", allowed));
    let wear = said.wear_m.map_or_else(
        || "not looked at".to_owned(),
        |wear| plain(wear, &units.small(), units.small_decimals()),
    );
    let tried = match said.limits_tried.as_str() {
        "held" => "all held",
        "failed" => "one did not hold",
        "none_set" => "none set today",
        _ => "not tried",
    };
    let rows = vec![
        RowView {
            label: "Tooth wear".to_owned(),
            cells: vec![wear],
        },
        RowView {
            label: "Limits, at low speed".to_owned(),
            cells: vec![tried.to_owned()],
        },
        RowView {
            label: "Initials".to_owned(),
            cells: vec![said.initials.clone()],
        },
    ];
    CheckView {
        outcome: body.decision.answer,
        decision: decision_words(&body.decision, units),
        summary,
        columns: vec!["Looked at".to_owned(), "Found".to_owned()],
        rows,
        findings: findings_view(&body.findings),
        recheck: body
            .recheck_because
            .iter()
            .map(|why| true_minus(why))
            .collect(),
        cautions: vec![CAUTION_DAILY.to_owned()],
        diagnosis: None,
    }
}
