//! The machine record: measured up, drawn to scale, every dimension with its uncertainty.

use holdline_geom::measured::Measured;

use super::{AIR, Flow, body, numbered};
use crate::figure::{Coverage, Kind, figure};
use crate::frame::{LEAST_PT, Paper, TitleBlock, draw_heading, frame_for, heading_mm};
use crate::geometry::{Rect, pt};
use crate::machine_view::{Lettering, MachineView, draw_plan, draw_section};
use crate::page::{Page, paragraph_height_mm};
use crate::table::{Cell, Side, Table, column};
use crate::words::Words;

/// One measured value.
#[derive(Debug, Clone, PartialEq)]
pub struct MeasuredRow {
    /// What it is, in the words of the trade.
    pub name: String,
    /// Between which points, such as `A–B`; may be empty.
    pub between: String,
    /// The value.
    pub value: Measured,
    /// How it is written.
    pub kind: Kind,
    /// A remark.
    pub remark: String,
}

/// Input of the machine record.
#[derive(Debug, Clone, PartialEq)]
pub struct MachineSheet {
    /// Title block.
    pub block: TitleBlock,
    /// Who measured, when, with what.
    pub measured_by: String,
    /// The machine in the pose drawn.
    pub machine: MachineView,
    /// All measured values.
    pub rows: Vec<MeasuredRow>,
    /// What a person must look at, a paragraph each.
    pub findings: Vec<String>,
}

/// Draws the machine record on A3: the section; the plan with the table beside it, or after it when long.
pub fn render_machine(sheet: &MachineSheet, words: &Words) -> Vec<Page> {
    let table = table(sheet, words);
    numbered(|of| {
        let mut flow = Flow::new(Paper::A3Landscape, &sheet.block, words, of);
        let state = &sheet.block.state;
        let title = if state.is_over() {
            format!("{}. {}", state.in_words(words), words.section)
        } else {
            words.section.to_string()
        };
        draw_view(&mut flow, &title, 1.0, |page, field| {
            draw_section(page, field, &sheet.machine, &Lettering::PAPER, words).0
        });
        let plan = |page: &mut Page, field: Rect| {
            draw_plan(page, field, &sheet.machine, &Lettering::PAPER, words).0
        };
        let number = flow.pages.len() + 1;
        let frame = frame_for(flow.paper, flow.block, words, "1 : 000", number, of);
        let field = frame.field.inset(AIR);
        let beside = field.width() * (1.0 - BESIDE) - AIR;
        if rest_height_mm(sheet, &table, beside, words) <= field.height() - 4.0 {
            draw_view(&mut flow, &words.plan, BESIDE, plan);
            flow.field.left = flow.field.right - beside;
        } else {
            draw_view(&mut flow, &words.plan, 1.0, plan);
            flow.start_page("–");
        }
        draw_rest(&mut flow, sheet, &table, words);
        flow.pages
    })
}

/// Part of the width that the plan takes when the table stands beside it.
const BESIDE: f64 = 0.52;

fn measured_by(sheet: &MachineSheet, words: &Words) -> String {
    format!("{}: {}", words.measured_by, sheet.measured_by)
}

fn rest_height_mm(sheet: &MachineSheet, table: &Table, width: f64, words: &Words) -> f64 {
    let by = paragraph_height_mm(width, body(), &measured_by(sheet, words)) + 1.0;
    let findings: f64 = sheet
        .findings
        .iter()
        .map(|f| paragraph_height_mm(width, body(), f) + 1.0)
        .sum();
    heading_mm() + by + table.lay(width).height_mm(0) + 3.0 + findings
}

/// Heading, who measured, table and findings, from the top of the field on.
fn draw_rest(flow: &mut Flow<'_>, sheet: &MachineSheet, table: &Table, words: &Words) {
    flow.heading(&words.figures, 0.0);
    if !sheet.measured_by.is_empty() {
        flow.paragraph(body(), &measured_by(sheet, words));
    }
    flow.table(table);
    for finding in &sheet.findings {
        flow.paragraph(body(), finding);
    }
}

/// A page with one drawing. The scale stands in the title block, so the drawing is tried first on an empty page.
///
/// `share` is the part of the page's width that it may take.
fn draw_view(flow: &mut Flow<'_>, title: &str, share: f64, draw: impl Fn(&mut Page, Rect) -> f64) {
    let below_heading = |frame: Rect| {
        let field = frame.inset(AIR);
        Rect {
            top: field.top + heading_mm(),
            right: field.left + field.width() * share,
            ..field
        }
    };
    let number = flow.pages.len() + 1;
    let frame = frame_for(
        flow.paper, flow.block, flow.words, "1 : 000", number, flow.of,
    );
    let mut trial = Page::new(1.0, 1.0, "");
    let scale = draw(&mut trial, below_heading(frame.field));
    let text = if scale > 0.0 {
        format!("1 : {scale}")
    } else {
        "–".to_owned()
    };
    let frame = flow.start_page(&text);
    let field = below_heading(frame.field);
    let at = pt(flow.field.left, flow.field.top);
    draw_heading(flow.page(), at, title);
    draw(flow.page(), field);
}

fn table(sheet: &MachineSheet, words: &Words) -> Table {
    let rows = sheet
        .rows
        .iter()
        .map(|row| {
            vec![
                Cell::words(row.name.clone()),
                Cell::words(row.between.clone()),
                Cell::Figure(figure(row.value, &row.kind, Coverage::Twice)),
                Cell::words(row.remark.clone()),
            ]
        })
        .collect();
    Table {
        columns: vec![
            column(words.dimension.to_string(), Side::Left),
            column(words.between.to_string(), Side::Left),
            column(words.value.to_string(), Side::Left),
            column(words.remark.to_string(), Side::Left),
        ],
        rows,
        size_pt: LEAST_PT,
    }
}
