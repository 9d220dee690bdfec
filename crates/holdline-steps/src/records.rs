//! Records: made, looked at, superseded, computed again.

use holdline::records::{Json, SIGN_OFF_KIND, Stamp};
use holdline_geom::fault::{Fault, Faults, number};
use holdline_store::{Record, json_of, read_json};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::job::{Job, PROGRAM, RecordView, SUPERSEDE_KIND};
use crate::machine_view::machine_view;
pub use holdline::records::Entry;

use crate::budget::{BUDGET_KIND, BudgetAsk, BudgetBody, Work};
use crate::calibrate::{
    CALIBRATE_KIND, CalibrateAsk, FitBody, HAND_OVER_KIND, HandOverAsk, HandOverBody, global_words,
    outcome_words,
};
use crate::units::Units;
use crate::verify::{
    CheckBody, CheckView, DAILY_KIND, DailyAsk, DailyBody, FullAsk, VERIFY_KIND, VerifyAsk,
    check_view, daily_view, true_minus,
};
use crate::views::{FigureView, FindingView, ToolAsk};

/// Kind of the record of a machine as measured up.
pub const MEASURE_UP_KIND: &str = "measure-up";

/// Kinds of record that have a sheet, about a machine with a tool.
const WITH_SHEET: &[&str] = &[
    VERIFY_KIND,
    DAILY_KIND,
    MEASURE_UP_KIND,
    CALIBRATE_KIND,
    BUDGET_KIND,
    HAND_OVER_KIND,
];

/// A record as both faces show it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RecordBodyView {
    /// Number in the chain.
    pub seq: u64,
    /// Its line in the list.
    pub record: RecordView,
    /// The hashed body, as JSON.
    pub body: serde_json::Value,
    /// How many pages its sheet has.
    pub pages: usize,
    /// What its title block says.
    pub about: AboutView,
    /// A check's result with ready text.
    pub result: Option<CheckView>,
    /// What a calibration, a budget or a hand-over says, in sentences; empty for other kinds.
    pub words: Vec<String>,
    /// Figures of a check; empty for other kinds.
    pub figures: Vec<FigureView>,
    /// What to look at.
    pub findings: Vec<FindingView>,
}

/// What a record is about, as its title block says it.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
pub struct AboutView {
    /// Machine.
    pub machine: String,
    /// Bucket, with what it hangs on.
    pub bucket: String,
    /// Tooth point.
    pub tooth: String,
    /// Calibration that was applied, in words; empty where there was none.
    pub calibration: String,
    /// Units of the sheet.
    pub units: String,
    /// Date and time of the record.
    pub date: String,
}

/// A record computed again.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RecomputeView {
    /// Whether every value came out the same.
    pub same: bool,
    /// Whether every byte did.
    pub same_bytes: bool,
    /// In words.
    pub text: String,
    /// What came out differently.
    pub differences: Vec<String>,
}

/// What stands in a `supersede` record's settings.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
struct SupersedeAsk {
    /// The record that stands in its place.
    by: u64,
    /// Body hash of that record.
    by_body_hash: String,
    /// Why.
    reason: String,
}

impl Job {
    /// Records a check. Gives its number. With `supersedes` it takes the place of that record.
    ///
    /// # Errors
    ///
    /// As [`Job::verify`], then as [`holdline_store::JobFile::append_record`].
    pub fn record_verify(
        &mut self,
        ask: &VerifyAsk,
        supersedes: Option<u64>,
        stamp: &Stamp,
    ) -> Result<u64, Faults> {
        let today = stamp.at().get(..10).unwrap_or_default();
        let checked = self.verify(ask, today, Units::Metric)?;
        self.append(checked.entry, supersedes, stamp)
    }

    /// Records a machine as measured up.
    ///
    /// # Errors
    ///
    /// As [`Job::machine`]; `T001` for an unknown tool.
    pub fn record_measure_up(
        &mut self,
        tool: &ToolAsk,
        supersedes: Option<u64>,
        stamp: &Stamp,
    ) -> Result<u64, Faults> {
        let entry = self.measure_up(tool)?;
        self.append(entry, supersedes, stamp)
    }

    pub(crate) fn append(
        &mut self,
        mut entry: Entry,
        supersedes: Option<u64>,
        stamp: &Stamp,
    ) -> Result<u64, Faults> {
        if let Some(seq) = supersedes {
            entry.supersedes = Some(self.file.record(seq)?.head.link.link_hash);
        }
        Ok(self.file.append_record(&entry, stamp)?.seq)
    }

    fn measure_up(&mut self, tool: &ToolAsk) -> Result<Entry, Faults> {
        let machine = self.machine_of(tool)?;
        machine.front(&tool.choice())?;
        let rests_on = self.bases_of(tool)?;
        Ok(Entry {
            kind: MEASURE_UP_KIND.to_owned(),
            title: format!("{} measured up, {}", machine.sheet().id, tool.in_words()),
            program: PROGRAM.to_owned(),
            outcome: None,
            rests_on,
            settings: json_of("settings", tool)?,
            supersedes: None,
            result: json_of("result", &machine_view(&machine))?,
        })
    }

    /// Says that the record `by` takes the place of the record `seq`.
    ///
    /// # Errors
    ///
    /// `R040` where the one named is not a later record; `S030`, `S032`, `S033`; `R011` for a reason that is
    /// not one line.
    pub fn supersede(
        &mut self,
        seq: u64,
        by: u64,
        reason: &str,
        stamp: &Stamp,
    ) -> Result<u64, Faults> {
        let old = self.file.record(seq)?;
        let new = self.file.record(by)?;
        // A morning on one bench stands in for no full check.
        let alike = new.head.kind == old.head.kind;
        if by <= seq || !alike || [SIGN_OFF_KIND, SUPERSEDE_KIND].contains(&new.head.kind.as_str())
        {
            return Err(Fault::new(
                "R040",
                format!("record[{seq}]"),
                format!("record {by}, {}, in its place", new.head.kind),
                "a later record of the same kind",
                "make the new record first, then say that it takes the place of the old one",
            )
            .into());
        }
        holdline::records::check_line("reason", reason)?;
        let ask = SupersedeAsk {
            by,
            by_body_hash: new.body.hash().to_string(),
            reason: reason.to_owned(),
        };
        let entry = supersede_entry(&ask, seq, &old)?;
        Ok(self.file.append_record(&entry, stamp)?.seq)
    }

    /// A record with its body.
    ///
    /// # Errors
    ///
    /// `S030` if there is none, `S041` if it is damaged, `R006` if this program cannot read what it says.
    pub fn record_body(&mut self, seq: u64, units: Units) -> Result<RecordBodyView, Faults> {
        let record = self.file.record(seq)?;
        let heads = self.file.records()?;
        let result = result_view(&record, units)?;
        let body = serde_json::from_slice(record.body.bytes()).map_err(|error| {
            Fault::new(
                "R006",
                format!("record[{seq}].body"),
                error.to_string(),
                "JSON",
                "take the record from a copy of the job",
            )
        })?;
        Ok(RecordBodyView {
            seq,
            record: self.record_view(&record.head, &heads)?,
            body,
            words: words_of(&record)?,
            about: self.about(&record, units)?,
            pages: if self.has_sheet(&record) {
                self.sheet_pages(seq, units)?.len()
            } else {
                0
            },
            figures: result
                .as_ref()
                .map_or_else(Vec::new, |view| view.summary.clone()),
            findings: result
                .as_ref()
                .map_or_else(Vec::new, |view| view.findings.clone()),
            result,
        })
    }

    /// The result of a record, as the kind has it.
    ///
    /// # Errors
    ///
    /// `S030` if there is none; `S0xx` where it says something else.
    pub(crate) fn record_json<T: serde::de::DeserializeOwned>(
        &self,
        seq: u64,
    ) -> Result<T, Faults> {
        Ok(read_json("result", &self.file.record(seq)?.entry.result)?)
    }

    /// What a record is about; empty words for a record that is about no machine.
    fn about(&mut self, record: &Record, units: Units) -> Result<AboutView, Faults> {
        let date = minutes(record.head.link.stamp.at());
        let kind = record.entry.kind.as_str();
        if !WITH_SHEET.contains(&kind) {
            return Ok(AboutView {
                date,
                ..AboutView::default()
            });
        }
        let tool: ToolAsk = read_json("settings", &record.entry.settings)?;
        let machine = self.machine(&tool.machine)?;
        Ok(AboutView {
            calibration: tool.calibration_in_words(),
            machine: machine.sheet().id.clone(),
            bucket: tool.bucket_in_words(),
            tooth: tool.tooth.clone(),
            units: if [VERIFY_KIND, DAILY_KIND].contains(&kind) {
                Units::Metric
            } else {
                units
            }
            .words()
            .to_owned(),
            date,
        })
    }

    fn has_sheet(&self, record: &Record) -> bool {
        WITH_SHEET.contains(&record.entry.kind.as_str())
    }

    /// Does a record again from its documents and settings, and compares.
    ///
    /// The same version must give the same bytes, another version the same values.
    ///
    /// # Errors
    ///
    /// `R041` for a sign-off, which nothing was computed for; faults of the documents it rests on.
    pub fn recompute(&mut self, seq: u64) -> Result<RecomputeView, Faults> {
        let record = self.file.record(seq)?;
        let mut again = self.entry_again(seq, &record)?;
        again.supersedes = record.entry.supersedes;
        let same_version = record.entry.program == PROGRAM;
        again.program.clone_from(&record.entry.program);
        let same_bytes = again.body()?.bytes() == record.body.bytes();
        let mut differences = Vec::new();
        if !same_bytes {
            compare(
                "result",
                &record.entry.result,
                &again.result,
                &mut differences,
            );
            compare(
                "settings",
                &record.entry.settings,
                &again.settings,
                &mut differences,
            );
            let of = |entry: &Entry| Json::from(entry.outcome.clone().unwrap_or_default());
            compare("outcome", &of(&record.entry), &of(&again), &mut differences);
        }
        let values = differences.iter().filter(|d| d.counts).count();
        let same = values == 0 && (same_bytes || !same_version);
        let text = match (same_bytes, same_version, values) {
            (true, true, _) => format!(
                "Record {seq} computed again: the same bytes, hash {}.",
                record.body.hash().short()
            ),
            (true, false, _) => format!(
                "Record {seq} of {} computed again by {PROGRAM}: the same bytes.",
                record.entry.program
            ),
            (false, false, 0) => format!(
                "Record {seq} of {} computed again by {PROGRAM}: the same values, other words.",
                record.entry.program
            ),
            (false, _, n) => format!(
                "Record {seq} computed again: NOT the same, {n} values differ. Do not rely on it until it is known why."
            ),
        };
        let differences = differences.into_iter().map(|d| d.text).collect();
        Ok(RecomputeView {
            same,
            same_bytes,
            text,
            differences,
        })
    }

    fn entry_again(&mut self, seq: u64, record: &Record) -> Result<Entry, Faults> {
        let settings = &record.entry.settings;
        match record.entry.kind.as_str() {
            VERIFY_KIND => Ok(self
                .full(&read_json::<FullAsk>("settings", settings)?, Units::Metric)?
                .entry),
            DAILY_KIND => Ok(self
                .daily(&read_json::<DailyAsk>("settings", settings)?, Units::Metric)?
                .entry),
            MEASURE_UP_KIND => self.measure_up(&read_json::<ToolAsk>("settings", settings)?),
            CALIBRATE_KIND => Ok(self
                .calibrate_settled(&read_json::<CalibrateAsk>("settings", settings)?)?
                .0),
            HAND_OVER_KIND => Ok(self
                .hand_over(
                    &read_json::<HandOverAsk>("settings", settings)?,
                    Units::Metric,
                )?
                .entry),
            BUDGET_KIND => {
                let ask: BudgetAsk = read_json("settings", settings)?;
                Ok(self.budget(&ask, &Work::QUIET, Units::Metric)?.entry)
            }
            SUPERSEDE_KIND => {
                let ask: SupersedeAsk = read_json("settings", settings)?;
                let old = self.file.records()?;
                let old = old
                    .iter()
                    .find(|h| Some(h.link.link_hash) == record.entry.supersedes);
                let old = old
                    .map(|head| head.link.seq)
                    .ok_or_else(|| nothing_to_compute(seq, record))?;
                supersede_entry(&ask, old, &self.file.record(old)?)
            }
            _ => Err(nothing_to_compute(seq, record).into()),
        }
    }
}

fn supersede_entry(ask: &SupersedeAsk, seq: u64, old: &Record) -> Result<Entry, Faults> {
    Ok(Entry {
        kind: SUPERSEDE_KIND.to_owned(),
        title: format!("Record {} takes the place of record {seq}", ask.by),
        program: PROGRAM.to_owned(),
        outcome: None,
        rests_on: Vec::new(),
        settings: json_of("settings", ask)?,
        supersedes: Some(old.head.link.link_hash),
        result: Json::Null,
    })
}

fn nothing_to_compute(seq: u64, record: &Record) -> Fault {
    Fault::new(
        "R041",
        format!("record[{seq}]"),
        format!("a record of kind {}", record.entry.kind),
        "a check, a machine as measured up, a calibration, a budget or a hand-over",
        "a sign-off is a person's word; there is nothing to compute again, `record verify` checks its hash",
    )
}

/// A check's result for a person; none for other kinds.
pub(crate) fn result_view(record: &Record, units: Units) -> Result<Option<CheckView>, Faults> {
    let (settings, result) = (&record.entry.settings, &record.entry.result);
    Ok(match record.entry.kind.as_str() {
        VERIFY_KIND => Some(check_view(
            &read_json::<CheckBody>("result", result)?,
            units,
        )),
        DAILY_KIND => {
            let ask: DailyAsk = read_json("settings", settings)?;
            Some(daily_view(
                &ask.daily,
                &read_json::<DailyBody>("result", result)?,
                units,
            ))
        }
        _ => None,
    })
}

/// What a record says in sentences, where it is no check.
fn words_of(record: &Record) -> Result<Vec<String>, Faults> {
    let result = &record.entry.result;
    let words = match record.entry.kind.as_str() {
        CALIBRATE_KIND => {
            let body: FitBody = read_json("result", result)?;
            let mut words = vec![outcome_words(&body), global_words(&body)];
            let rejected = body.rejected.iter();
            words.extend(rejected.map(|one| format!("Rejected {}: {}.", one.at, one.what)));
            words.extend(body.not_determined);
            words
        }
        BUDGET_KIND => read_json::<BudgetBody>("result", result)?.verdict.words,
        HAND_OVER_KIND => read_json::<HandOverBody>("result", result)?.words,
        _ => Vec::new(),
    };
    Ok(words.iter().map(|sentence| true_minus(sentence)).collect())
}

/// `2025-12-02T08:10:44Z` as `2025-12-02 08:10 UTC`.
pub(crate) fn minutes(at: &str) -> String {
    match (at.get(..10), at.get(11..16)) {
        (Some(day), Some(time)) => format!("{day} {time} UTC"),
        _ => at.to_owned(),
    }
}

/// A place where two values differ.
struct Difference {
    text: String,
    /// Whether it is more than other words.
    counts: bool,
}

/// Members that hold words for people; another version may say the same in other words.
const WORDS: &[&str] = &[
    "because",
    "what",
    "common_sd_from",
    "recheck_because",
    "note",
    "kind",
];

/// Another version may round the last digits otherwise.
const SAME_TO: f64 = 1e-9;

fn compare(at: &str, was: &Json, is: &Json, found: &mut Vec<Difference>) {
    match (was, is) {
        (Json::Object(a), Json::Object(b)) => {
            for (name, value) in a {
                let other = b
                    .iter()
                    .find(|(n, _)| n == name)
                    .map_or(&Json::Null, |(_, v)| v);
                compare(&format!("{at}.{name}"), value, other, found);
            }
            for (name, value) in b
                .iter()
                .filter(|(name, _)| a.iter().all(|(n, _)| n != name))
            {
                compare(&format!("{at}.{name}"), &Json::Null, value, found);
            }
        }
        (Json::List(a), Json::List(b)) if a.len() == b.len() => {
            for (idx, (a, b)) in a.iter().zip(b).enumerate() {
                compare(&format!("{at}[{}]", idx + 1), a, b, found);
            }
        }
        (Json::Number(a), Json::Number(b)) if (a - b).abs() <= SAME_TO * a.abs().max(1.0) => {}
        (a, b) if a == b => {}
        (a, b) => {
            let member = at.rsplit('.').next().unwrap_or_default();
            let word = member.split('[').next().unwrap_or_default();
            let both_text = matches!((a, b), (Json::Text(_), Json::Text(_)));
            found.push(Difference {
                text: format!("{at}: was {}, is {}", shown(a), shown(b)),
                counts: !(both_text && WORDS.contains(&word)),
            });
        }
    }
}

fn shown(value: &Json) -> String {
    match value {
        Json::Null => "nothing".to_owned(),
        Json::Bool(value) => value.to_string(),
        Json::Number(value) => number(*value),
        Json::Text(text) => format!("{text:?}"),
        Json::List(list) => format!("a list of {}", list.len()),
        Json::Object(_) => "an object".to_owned(),
    }
}
