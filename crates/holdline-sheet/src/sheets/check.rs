//! The check sheet: what the shots say about the tooth, and the decision.

use holdline_geom::measured::Measured;

use super::answer::{Outcome, draw_answer, said};
use super::{AIR, Flow, body, numbered};
use crate::figure::{Coverage, Sign, figure, plain, rounded};
use crate::frame::{LEAST_PT, Paper, TitleBlock, draw_caution_sign, draw_heading, heading_mm};
use crate::geometry::{Pt, Rect, circle, pt};
use crate::ink::Ink;
use crate::lengths::Lengths;
use crate::line::Line;
use crate::machine_view::{Detail, Lettering, MachineView, draw_section};
use crate::page::{Page, Pen, STEEL, Type, paragraph_height_mm};
use crate::plot::{Flag, Level, Mark, Plot, axis_words_mm, draw_plot, side_words_mm};
use crate::table::{Cell, Side, Table, column};
use crate::words::Words;

/// One direction of the check.
#[derive(Debug, Clone, PartialEq)]
pub struct Component {
    /// Its letter on paper: N, E, U, or a word.
    pub name: String,
    /// Tolerance, least and largest difference, m.
    pub tolerance_m: Option<[f64; 2]>,
    /// Mean difference, m.
    pub mean_m: Option<f64>,
    /// Sample standard deviation, m.
    pub sd_m: Option<f64>,
    /// Half of the 95 % interval of the mean, m.
    pub half_95_m: Option<f64>,
    /// Decision in words.
    pub decision: String,
}

/// One shot; each list has an entry a component, in the same order.
#[derive(Debug, Clone, PartialEq)]
pub struct Shot {
    /// Its number or name.
    pub id: String,
    /// What the machine showed, m.
    pub shown: Vec<Option<Measured>>,
    /// What the survey gave, m.
    pub control: Vec<Option<Measured>>,
    /// Shown less control, m.
    pub difference: Vec<Option<Measured>>,
    /// A remark, such as why it was left out.
    pub remark: String,
}

/// Input of the check sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct CheckSheet {
    /// Title block.
    pub block: TitleBlock,
    /// Directions.
    pub components: Vec<Component>,
    /// Shots.
    pub shots: Vec<Shot>,
    /// The decision on the whole.
    pub outcome: Outcome,
    /// The same in words, with its figures.
    pub decision: String,
    /// When, by whom and with what the shots were measured, or that nobody said.
    pub measured: String,
    /// What to be wary of before anything else, such as old shots; empty: nothing.
    pub warning: String,
    /// What a person must look at, and how the decision was made, a paragraph each.
    pub findings: Vec<String>,
    /// The machine in the pose of a shot; a small drawing.
    pub machine: Option<MachineView>,
}

/// Draws the check sheet on A3: one page where the table of shots is short, else more.
pub fn render_check(sheet: &CheckSheet, words: &Words) -> Vec<Page> {
    // The scale of the inset stands in the title block, so it is found on a first try.
    let (_, number) = draw_all(sheet, words, 1, "–");
    let scale = if number > 0.0 {
        format!("1 : {number}")
    } else {
        "–".to_owned()
    };
    numbered(|of| draw_all(sheet, words, of, &scale).0)
}

fn draw_all(sheet: &CheckSheet, words: &Words, of: usize, scale: &str) -> (Vec<Page>, f64) {
    let mut flow = Flow::new(Paper::A3Landscape, &sheet.block, words, of);
    flow.start_page(scale);
    let table = shots_table(sheet, words);
    let rest_mm = rest_height_mm(sheet, &table, flow.field.width());
    let field = flow.field;
    let short = rest_mm <= field.height() * MOST_BELOW;
    let above = if short {
        Rect {
            bottom: field.bottom - rest_mm - AIR,
            ..field
        }
    } else {
        field
    };
    let number = draw_above(flow.page(), above, sheet, words);
    if short {
        flow.y = field.bottom - rest_mm;
    } else {
        flow.start_page("–");
    }
    flow.heading(&words.figures, 0.0);
    flow.table(&table);
    for finding in &sheet.findings {
        flow.paragraph(body(), finding);
    }
    for page in &mut flow.pages {
        page.description = said(&sheet.block, &words.decision, &sheet.decision, words);
    }
    (flow.pages, number)
}

/// The table of shots and the findings go below the plots if they take no more than this part of the page.
const MOST_BELOW: f64 = 0.45;

fn rest_height_mm(sheet: &CheckSheet, table: &Table, width: f64) -> f64 {
    let findings: f64 = sheet
        .findings
        .iter()
        .map(|f| paragraph_height_mm(width, body(), f) + 1.0)
        .sum();
    heading_mm() + table.lay(width).height_mm(0) + 3.0 + findings
}

/// Plots on the left; decision, summary and machine on the right. Gives the scale of the machine.
fn draw_above(page: &mut Page, field: Rect, sheet: &CheckSheet, words: &Words) -> f64 {
    let split = field.left + field.width() * 0.6;
    let left = Rect {
        right: split - AIR,
        ..field
    };
    draw_heading(page, pt(left.left, left.top), &words.differences);
    let note = key_height_mm(left.width(), words);
    let top = left.top + heading_mm();
    let each = (left.bottom - note - top) / sheet.components.len().max(1) as f64;
    let mut plots: Vec<Plot> = sheet
        .components
        .iter()
        .enumerate()
        .map(|(idx, component)| component_plot(sheet, component, idx, words))
        .collect();
    let side = plots
        .iter()
        .map(|p| side_words_mm(p, left.width(), LEAST_PT))
        .fold(0.0, f64::max);
    let axis = plots
        .iter()
        .map(|p| axis_words_mm(p, each - 1.5, LEAST_PT))
        .fold(0.0, f64::max);
    let last = plots.len().saturating_sub(1);
    for (idx, plot) in plots.iter_mut().enumerate() {
        plot.side_mm = side;
        plot.axis_mm = axis;
        if idx < last {
            plot.x_title.clear();
        }
        let at = Rect::sized(left.left, top + each * idx as f64, left.width(), each - 1.5);
        page.begin("plot", plot.y_title.clone());
        draw_plot(page, at, plot, LEAST_PT);
        page.end();
    }
    draw_key(page, pt(left.left, left.bottom - note), left.width(), words);
    draw_right(
        page,
        Rect {
            left: split,
            ..field
        },
        sheet,
        words,
    )
}

pub(super) fn component_plot(
    sheet: &CheckSheet,
    component: &Component,
    idx: usize,
    words: &Words,
) -> Plot {
    let lengths = sheet.block.lengths;
    let per_m = lengths.small_per_m();
    let shown = |m: f64| m * per_m;
    let marks = sheet
        .shots
        .iter()
        .enumerate()
        .filter_map(|(n, shot)| {
            let y = (*shot.difference.get(idx)?)?.scaled(per_m);
            Some(Mark {
                x: n as f64 + 1.0,
                y,
                flag: Flag::None,
            })
        })
        .collect();
    let mut levels = Vec::new();
    if let Some([low, high]) = component.tolerance_m {
        for limit in [low, high] {
            levels.push(Level {
                y: shown(limit),
                words: format!(
                    "{} {}",
                    words.tolerance,
                    plain(limit, &lengths.difference(), lengths.decimals(0))
                ),
                pen: Pen::new(Line::Steel, Ink::Ink),
            });
        }
    }
    if let Some(mean) = component.mean_m.filter(|m| m.is_finite()) {
        levels.push(Level {
            y: shown(mean),
            words: format!("{} {}", words.mean, mean_text(component, lengths)),
            pen: Pen::new(Line::Thin, Ink::Ink),
        });
    }
    Plot {
        y_title: format!("{}, {}", component.name, lengths.small_unit()),
        x_title: words.shot.to_string(),
        x_ticks: sheet
            .shots
            .iter()
            .enumerate()
            .map(|(n, shot)| (n as f64 + 1.0, shot.id.clone()))
            .collect(),
        x_range: [0.4, sheet.shots.len() as f64 + 1.2],
        marks,
        joined: false,
        band: component
            .tolerance_m
            .map(|[low, high]| [shown(low), shown(high)]),
        mean: component
            .mean_m
            .map(|mean| (shown(mean), component.half_95_m.map(shown))),
        levels,
        k: Coverage::Twice.k(),
        ..Plot::default()
    }
}

/// Mean with half of its 95 % interval, to the same digits as any figure.
fn mean_text(component: &Component, lengths: Lengths) -> String {
    let Some(mean) = component.mean_m else {
        return "–".to_owned();
    };
    // The half width is what is printed; half of it goes in because the figure doubles it.
    let measured = Measured {
        value: mean,
        sd: component.half_95_m.map(|half| half / 2.0),
    };
    figure(measured, &lengths.difference(), Coverage::Twice).text()
}

fn key_height_mm(width: f64, words: &Words) -> f64 {
    let half = width / 2.0 - 8.0;
    paragraph_height_mm(half, Type::soft(LEAST_PT), &words.bar_is_95).max(paragraph_height_mm(
        half,
        Type::soft(LEAST_PT),
        &words.bar_not_known,
    )) + paragraph_height_mm(width - 8.0, Type::soft(LEAST_PT), &words.mean_95)
        + 2.0
}

fn draw_key(page: &mut Page, at: Pt, width: f64, words: &Words) {
    let set = Type::soft(LEAST_PT);
    let pen = Pen::new(Line::Thin, Ink::Ink);
    let row = at.y + 1.0 + set.line_mm() / 2.0;
    let half = width / 2.0;
    let first = pt(at.x + 2.0, row);
    page.line(first.by(0.0, -1.8), first.by(0.0, 1.8), pen);
    page.dot(first, 1.0, Ink::Ink);
    let used = page.paragraph(
        pt(at.x + 6.0, at.y + 1.0),
        half - 8.0,
        set,
        &words.bar_is_95,
    );
    page.shape(circle(pt(at.x + half + 2.0, row), 1.1), pen, Ink::Paper);
    let second = pt(at.x + half + 6.0, at.y + 1.0);
    let used = used.max(page.paragraph(second, half - 8.0, set, &words.bar_not_known));
    let bar = Rect::sized(at.x + 0.8, at.y + 1.4 + used, 2.4, set.line_mm() - 0.8);
    page.rect(bar, STEEL);
    page.line(
        pt(bar.left, bar.centre().y),
        pt(bar.right, bar.centre().y),
        STEEL,
    );
    page.paragraph(
        pt(at.x + 6.0, at.y + 1.0 + used),
        width - 8.0,
        set,
        &words.mean_95,
    );
}

fn draw_right(page: &mut Page, at: Rect, sheet: &CheckSheet, words: &Words) -> f64 {
    let mut y = at.top;
    draw_heading(page, pt(at.left, y), &words.decision);
    y += heading_mm();
    page.begin("decision", words.decision.to_string());
    let top = Rect { top: y, ..at };
    y += draw_answer(
        page,
        top,
        13.0,
        &sheet.block,
        (sheet.outcome, &sheet.decision),
        words,
    );
    y += page.paragraph(pt(at.left, y), at.width(), body(), &sheet.measured);
    if !sheet.warning.is_empty() {
        let set = Type::strong(11.0);
        let radius = set.size_mm() * 0.5;
        let sign = pt(at.left + radius + 0.5, y + set.line_mm() / 2.0);
        draw_caution_sign(page, sign, radius);
        let indent = 2.0 * radius + 3.0;
        let words_at = pt(at.left + indent, y);
        y += page.paragraph(words_at, at.width() - indent, set, &sheet.warning);
    }
    y += 3.0;
    page.end();
    let table = summary_table(sheet, words);
    let laid = table.lay(at.width());
    let (_, height) = laid.draw(page, pt(at.left, y), 0, at.bottom - y);
    y += height + 3.0;
    if let Some(machine) = &sheet.machine {
        let room = Rect { top: y, ..at };
        if room.height() > 35.0 {
            let lettering = Lettering {
                detail: Detail::Bare,
                ..Lettering::PAPER
            };
            // The pose of a shot: its own dimensions belong to the machine record.
            let pose = MachineView {
                dimensions: Vec::new(),
                ..machine.clone()
            };
            return draw_section(page, room, &pose, &lettering, words).0;
        }
    }
    0.0
}

fn summary_table(sheet: &CheckSheet, words: &Words) -> Table {
    let lengths = sheet.block.lengths;
    let number = |m: Option<f64>, sign: Sign| {
        m.filter(|m| m.is_finite())
            .map_or_else(|| "–".to_owned(), |m| lengths.small_text(Some(m), 1, sign))
    };
    let rows = sheet
        .components
        .iter()
        .map(|c| {
            let tolerance = c.tolerance_m.map_or_else(
                || words.not_stated.to_string(),
                |[low, high]| {
                    let low = low * lengths.small_per_m();
                    let low = rounded(low, lengths.decimals(0), Sign::Both);
                    format!("{low} / {}", lengths.small_text(Some(high), 0, Sign::Both))
                },
            );
            vec![
                Cell::Strong(c.name.clone()),
                Cell::words(mean_text(c, lengths)),
                Cell::words(number(c.sd_m, Sign::Minus)),
                Cell::words(tolerance),
                Cell::words(c.decision.clone()),
            ]
        })
        .collect();
    Table {
        columns: vec![
            column(words.component.to_string(), Side::Left),
            column(words.mean_95.to_string(), Side::Right),
            column(words.sd.to_string(), Side::Right),
            column(words.tolerance.to_string(), Side::Right),
            column(words.decision.to_string(), Side::Left),
        ],
        rows,
        size_pt: LEAST_PT,
    }
}

fn shots_table(sheet: &CheckSheet, words: &Words) -> Table {
    let lengths = sheet.block.lengths;
    let (length, difference) = (lengths.length(), lengths.difference());
    let mut columns = vec![column(words.shot.to_string(), Side::Left)];
    for c in &sheet.components {
        columns.push(column(format!("{} {}", c.name, words.shown), Side::Right));
        columns.push(column(format!("{} {}", c.name, words.control), Side::Right));
        columns.push(column(format!("Δ{}", c.name), Side::Right));
    }
    let with_remarks = sheet.shots.iter().any(|s| !s.remark.is_empty());
    if with_remarks {
        columns.push(column(words.remark.to_string(), Side::Left));
    }
    let cell = |value: Option<&Option<Measured>>, kind| match value {
        Some(Some(measured)) => Cell::Figure(figure(*measured, kind, Coverage::Twice)),
        _ => Cell::words("–"),
    };
    let rows = sheet
        .shots
        .iter()
        .map(|shot| {
            let mut row = vec![Cell::Strong(shot.id.clone())];
            for idx in 0..sheet.components.len() {
                row.push(cell(shot.shown.get(idx), &length));
                row.push(cell(shot.control.get(idx), &length));
                row.push(cell(shot.difference.get(idx), &difference));
            }
            if with_remarks {
                row.push(Cell::words(shot.remark.clone()));
            }
            row
        })
        .collect();
    Table {
        columns,
        rows,
        size_pt: LEAST_PT,
    }
}
