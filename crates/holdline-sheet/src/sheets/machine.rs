//! The machine record: measured up, drawn to scale, every dimension with its uncertainty.

use holdline_geom::measured::Measured;

use super::{AIR, Flow, body, numbered};
use crate::figure::{Coverage, Kind, figure};
use crate::frame::{LEAST_PT, Paper, TitleBlock, draw_heading, frame_for, heading_mm};
use crate::geometry::{Rect, pt};
use crate::machine_view::{Lettering, MachineView, draw_plan, draw_section};
use crate::page::Page;
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

/// Draws the machine record: section on A3, then plan, then the table.
pub fn render_machine(sheet: &MachineSheet, words: &Words) -> Vec<Page> {
    numbered(|of| {
        let mut flow = Flow::new(Paper::A3Landscape, &sheet.block, words, of);
        draw_view(&mut flow, &words.section, |page, field| {
            draw_section(page, field, &sheet.machine, &Lettering::PAPER, words).0
        });
        draw_view(&mut flow, &words.plan, |page, field| {
            draw_plan(page, field, &sheet.machine, &Lettering::PAPER, words).0
        });
        flow.start_page("–");
        flow.heading(&words.figures, 20.0);
        if !sheet.measured_by.is_empty() {
            let text = format!("{}: {}", words.measured_by, sheet.measured_by);
            flow.paragraph(body(), &text);
        }
        flow.table(&table(sheet, words));
        for finding in &sheet.findings {
            flow.paragraph(body(), finding);
        }
        flow.pages
    })
}

/// A page with one drawing. The scale stands in the title block, so the drawing is tried first on an empty page.
fn draw_view(flow: &mut Flow<'_>, title: &str, draw: impl Fn(&mut Page, Rect) -> f64) {
    let below_heading = |frame: Rect| {
        let field = frame.inset(AIR);
        Rect {
            top: field.top + heading_mm(),
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
