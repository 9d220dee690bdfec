//! The readiness sheet: which jobs this machine can do as it is fitted out, and what is missing for the next.

use super::{Flow, numbered};
use crate::frame::{Paper, TitleBlock};
use crate::page::{Page, Type};
use crate::sign::Sign;
use crate::table::{Cell, Side, Table, column};
use crate::words::Words;

/// Whether a job can be done now.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ready {
    /// It can.
    Now,
    /// Something is missing.
    Missing,
    /// Not known: a figure or an uncertainty is not stated.
    NotKnown,
}

/// Input of the readiness sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct ReadinessSheet {
    /// Title block.
    pub block: TitleBlock,
    /// The answer in a sentence or two.
    pub summary: String,
    /// The jobs.
    pub rows: Vec<ReadyRow>,
    /// What a person must look at, a paragraph each.
    pub findings: Vec<String>,
}

/// A job.
#[derive(Debug, Clone, PartialEq)]
pub struct ReadyRow {
    /// The job: `2D depth and slope`, `3D`, `height limit`.
    pub job: String,
    /// Whether it can be done.
    pub ready: Ready,
    /// What the machine has for it.
    pub has: String,
    /// What is missing; empty: nothing.
    pub missing: String,
}

/// Draws the readiness sheet on A4.
pub fn render_readiness(sheet: &ReadinessSheet, words: &Words) -> Vec<Page> {
    numbered(|of| {
        let mut flow = Flow::new(Paper::A4Landscape, &sheet.block, words, of);
        flow.section(&words.readiness, 12.0);
        flow.paragraph(Type::strong(11.0), &sheet.summary);
        flow.y += 1.0;
        flow.table(&table(sheet, words));
        flow.findings(&sheet.findings);
        for page in &mut flow.pages {
            page.description = format!("{}: {}", words.readiness, sheet.summary);
        }
        flow.pages
    })
}

fn table(sheet: &ReadinessSheet, words: &Words) -> Table {
    let rows = sheet.rows.iter().map(|row| {
        let (sign, word) = match row.ready {
            Ready::Now => (Sign::Holds, &words.ready_now),
            Ready::Missing => (Sign::Fails, &words.not_yet),
            Ready::NotKnown => (Sign::NotKnown, &words.not_known),
        };
        let missing = if row.missing.is_empty() {
            "–".to_owned()
        } else {
            row.missing.clone()
        };
        vec![
            Cell::Strong(row.job.clone()),
            Cell::Signed(sign, word.to_string()),
            Cell::words(row.has.clone()),
            Cell::words(missing),
        ]
    });
    Table {
        columns: vec![
            column(words.task.to_string(), Side::Left),
            column(words.ready.to_string(), Side::Left),
            column(words.has.to_string(), Side::Left),
            column(words.missing.to_string(), Side::Left),
        ],
        rows: rows.collect(),
        size_pt: 10.0,
    }
}
