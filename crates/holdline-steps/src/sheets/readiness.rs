//! The readiness table as a sheet.

use holdline::machine::Machine;
use holdline_geom::fault::Faults;
use holdline_sheet::sheets::{ReadinessSheet, Ready, ReadyRow, render_readiness};
use holdline_sheet::words::Words;

use super::block::Standing;
use super::files::{FileForm, files_of};
use crate::job::PROGRAM;
use crate::readiness::{ReadinessView, ReadyAnswer};
use crate::units::Units;
use crate::views::ToolAsk;
use holdline_sheet::pdf::About;

/// The files of the readiness table; it is no record, and says so.
///
/// # Errors
///
/// Faults of the drawing.
pub fn readiness_files(
    machine: &Machine,
    tool: &ToolAsk,
    view: &ReadinessView,
    form: FileForm,
    units: Units,
) -> Result<Vec<Vec<u8>>, Faults> {
    let title = format!("{}: what it can do now", machine.sheet().id);
    let block = Standing::preview(String::new()).block(
        &title,
        machine,
        tool,
        units,
        &view.cautions.join(" "),
    );
    let rows = view.jobs.iter().map(|row| ReadyRow {
        job: row.job.clone(),
        ready: match row.answer {
            ReadyAnswer::Ready => Ready::Now,
            ReadyAnswer::Missing => Ready::Missing,
            ReadyAnswer::NotKnown => Ready::NotKnown,
        },
        has: row.text.clone(),
        missing: row.missing.join("; "),
    });
    let sheet = ReadinessSheet {
        block,
        summary: view.words.join(" "),
        rows: rows.collect(),
        findings: Vec::new(),
    };
    let about = About {
        title,
        subject: "no record".to_owned(),
        author: String::new(),
        creator: PROGRAM.to_owned(),
        id: String::new(),
    };
    files_of(&render_readiness(&sheet, &Words::ENGLISH), form, &about)
}
