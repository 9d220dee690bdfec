//! The title block: what the job says of a record, printed on each of its pages.

use holdline::machine::Machine;
use holdline_geom::fault::Faults;
use holdline_sheet::frame::{State, TitleBlock};
use holdline_store::Record;

use crate::job::{Job, PROGRAM};
use crate::records::minutes;
use crate::units::Units;
use crate::views::ToolAsk;

/// How a record stands in its job.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Standing {
    job: String,
    date: String,
    record: String,
    chain_tail: String,
    state: State,
    signatures: String,
    program: String,
}

impl Standing {
    /// Nothing recorded yet.
    pub(super) fn preview(job: String) -> Standing {
        Standing {
            job,
            date: String::new(),
            record: String::new(),
            chain_tail: String::new(),
            state: State::Preview,
            signatures: String::new(),
            program: PROGRAM.to_owned(),
        }
    }

    /// The day of the record, `2025-12-02`; none for what is not recorded.
    pub(super) fn day(&self) -> Option<&str> {
        self.date.get(..10)
    }

    /// The title block of a sheet.
    pub(super) fn block(
        &self,
        title: &str,
        machine: &Machine,
        tool: &ToolAsk,
        units: Units,
        caution: &str,
    ) -> TitleBlock {
        TitleBlock {
            title: title.to_owned(),
            job: self.job.clone(),
            machine: tool.machine_in_words(&machine.sheet().id),
            bucket: tool.bucket_in_words(),
            tooth_point: tool.tooth.clone(),
            units: units.words().to_owned(),
            lengths: units.into(),
            date: self.date.clone(),
            record: self.record.clone(),
            chain_tail: self.chain_tail.clone(),
            state: self.state.clone(),
            signatures: self.signatures.clone(),
            program: self.program.clone(),
            caution: caution.to_owned(),
        }
    }
}

impl Job {
    /// How a record stands: superseded before stale, stale before signed.
    pub(super) fn standing(&self, record: &Record) -> Result<Standing, Faults> {
        let heads = self.file.records()?;
        let head = &record.head;
        let view = self.record_view(head, &heads)?;
        let signed: Vec<String> = head
            .signatures
            .iter()
            .map(|s| format!("{}, {}", s.name, s.role))
            .collect();
        let by = signed.join("; ");
        let dates = head.signatures.last().map(|last| last.date.clone());
        let signatures = dates
            .as_ref()
            .map_or_else(String::new, |at| format!("{by}, {at}"));
        let state = match (view.superseded_by, view.stale, dates) {
            (Some(by), _, _) => State::Superseded { by: by.to_string() },
            (None, Some(because), _) => State::Stale { because },
            (None, None, None) => State::NotSigned,
            (None, None, Some(at)) => State::Signed { by, at },
        };
        Ok(Standing {
            job: self.name(),
            date: minutes(head.link.stamp.at()),
            record: head.link.seq.to_string(),
            chain_tail: self.tail()?.to_string(),
            state,
            signatures,
            program: record.entry.program.clone(),
        })
    }
}
