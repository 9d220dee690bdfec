//! The hand-over sheet: the calibration as the numbers that a person keys in, and the proof that they do the same.

use super::answer::said;
use super::{Flow, Outcome, body, numbered};
use crate::figure::{Sign, plain};
use crate::frame::{LEAST_PT, Paper, TitleBlock};
use crate::geometry::{Rect, pt};
use crate::lengths::Lengths;
use crate::page::{Anchor, Page, STEEL, THIN, Type, paragraph_height_mm};
use crate::table::{Cell, Side, Table, column};
use crate::words::Words;

/// Input of the hand-over sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct HandOverSheet {
    /// Title block.
    pub block: TitleBlock,
    /// What the numbers are for, in the person's own words.
    pub system: String,
    /// Whether the numbers as rounded hold what was asked.
    pub outcome: Outcome,
    /// The same in words, with its figures.
    pub decision: String,
    /// The entries in the order in which they are keyed.
    pub entries: Vec<HandOverEntry>,
    /// What the system at hand has no entry for, a sentence each, with what it costs at the tooth.
    pub not_carried: Vec<String>,
    /// The tooth read back at poses.
    pub proof: Vec<ProofPose>,
    /// Who signs: roles.
    pub sign: Vec<String>,
    /// What a person must look at, a paragraph each.
    pub findings: Vec<String>,
}

/// An entry.
#[derive(Debug, Clone, PartialEq)]
pub struct HandOverEntry {
    /// Its label, as the person has typed it.
    pub label: String,
    /// The number as it is keyed, with its sign; `None`: it cannot be keyed.
    pub number: Option<String>,
    /// Its unit, as the person has typed it.
    pub unit: String,
    /// What it is on the machine.
    pub stands_for: String,
    /// The number before rounding, with its unit.
    pub exact: String,
    /// What the rounding moves at the tooth at the worst pose, m.
    pub rounding_m: Option<f64>,
    /// A remark: out of range and what then, sign turned; may be empty.
    pub remark: String,
}

/// The tooth at a pose, by the calibration and by the numbers keyed.
#[derive(Debug, Clone, PartialEq)]
pub struct ProofPose {
    /// Its name.
    pub pose: String,
    /// How to set the pose: joint angles or what the machine shows.
    pub words: String,
    /// By the calibration: forward, left, up; m.
    pub calibrated_m: [Option<f64>; 3],
    /// By the numbers as keyed: forward, left, up; m.
    pub keyed_m: [Option<f64>; 3],
    /// U (k = 2) that the display may differ by, m.
    pub allowed_m: Option<f64>,
}

/// Size of the number to be keyed, pt.
const NUMBER_PT: f64 = 18.0;
/// Size of its label, pt.
const LABEL_PT: f64 = 12.0;
/// Parts of the width: order, label, number, what it stands for.
const COLUMNS: [f64; 4] = [0.05, 0.23, 0.27, 0.45];
/// Height of a line to sign on, mm.
const SIGN_MM: f64 = 12.0;

/// Draws the hand-over sheet on A4.
pub fn render_hand_over(sheet: &HandOverSheet, words: &Words) -> Vec<Page> {
    numbered(|of| {
        let mut flow = Flow::new(Paper::A4Landscape, &sheet.block, words, of);
        flow.section(&format!("{} {}", words.hand_over, sheet.system), 10.0);
        flow.answer(12.0, (sheet.outcome, &sheet.decision));
        draw_entries(&mut flow, sheet, words);
        draw_not_carried(&mut flow, sheet, words);
        if !sheet.proof.is_empty() {
            flow.section(&words.proof, 24.0);
            flow.paragraph(body(), &words.proof_words);
            flow.table(&proof_table(sheet, words));
        }
        flow.findings(&sheet.findings);
        draw_signatures(&mut flow, sheet, words);
        for page in &mut flow.pages {
            page.description = said(&sheet.block, &words.decision, &sheet.decision, words);
        }
        flow.pages
    })
}

/// The left edges and widths of the columns, less some air.
fn columns(field: Rect) -> [(f64, f64); 4] {
    let mut left = field.left;
    COLUMNS.map(|share| {
        let at = left;
        let width = field.width() * share;
        left += width;
        (at, width - 2.0)
    })
}

struct Lines {
    number: String,
    small: String,
}

/// The number large, and all that stands small beside it.
fn lines_of(entry: &HandOverEntry, lengths: Lengths, words: &Words) -> Lines {
    let number = entry.number.clone();
    let number = number.unwrap_or_else(|| words.cannot_be_keyed.to_string());
    let rounding = match (entry.rounding_m.filter(|m| m.is_finite()), &entry.number) {
        (Some(m), _) => format!(
            "{} {}",
            words.rounding,
            lengths.small_text(Some(m.abs()), 1, Sign::Minus)
        ),
        (None, Some(_)) => words.rounding_not_known.to_string(),
        (None, None) => String::new(),
    };
    let mut parts = vec![entry.stands_for.clone()];
    if !entry.exact.is_empty() {
        parts.push(format!("{} {}", words.before_rounding, entry.exact));
    }
    parts.push(rounding);
    parts.retain(|p| !p.is_empty());
    Lines {
        number,
        small: parts.join("; "),
    }
}

fn draw_entries(flow: &mut Flow<'_>, sheet: &HandOverSheet, words: &Words) {
    let lengths = sheet.block.lengths;
    flow.section(&words.key_in, 20.0);
    for (idx, entry) in sheet.entries.iter().enumerate() {
        let height = entry_mm(flow.field, entry, lengths, words);
        let pages = flow.pages.len();
        flow.need(height);
        if flow.pages.len() != pages {
            flow.section(&format!("{}, {}", words.key_in, words.continued), height);
        }
        let (field, y) = (flow.field, flow.y);
        draw_entry(flow.page(), field, y, (idx + 1, entry, lengths), words);
        let height = entry_mm(field, entry, lengths, words);
        flow.y += height;
        let y = flow.y - 0.8;
        flow.page()
            .line(pt(field.left, y), pt(field.right, y), THIN);
    }
}

fn sets(entry: &HandOverEntry) -> (Type, Type, Type) {
    let number = if entry.number.is_some() {
        Type::strong(NUMBER_PT)
    } else {
        Type::strong(LABEL_PT)
    };
    (Type::strong(LABEL_PT), number, Type::regular(LABEL_PT))
}

fn entry_mm(field: Rect, entry: &HandOverEntry, lengths: Lengths, words: &Words) -> f64 {
    let [_, label, number, small] = columns(field);
    let (label_set, number_set, unit_set) = sets(entry);
    let lines = lines_of(entry, lengths, words);
    let unit = unit_set.width_mm(&entry.unit) + 1.5;
    let unit_below = number_set.width_mm(&lines.number) + unit > number.1;
    let number_mm = paragraph_height_mm(number.1, number_set, &lines.number)
        + if unit_below { unit_set.line_mm() } else { 0.0 };
    let small_mm = paragraph_height_mm(small.1, body(), &lines.small)
        + paragraph_height_mm(small.1, Type::strong(LEAST_PT), &entry.remark)
            * f64::from(u8::from(!entry.remark.is_empty()));
    let label_mm = paragraph_height_mm(label.1, label_set, &entry.label) + 1.2;
    number_mm.max(small_mm + 1.2).max(label_mm) + 1.8
}

fn draw_entry(
    page: &mut Page,
    field: Rect,
    y: f64,
    (order, entry, lengths): (usize, &HandOverEntry, Lengths),
    words: &Words,
) {
    let [first, label, number, small] = columns(field);
    let (label_set, number_set, unit_set) = sets(entry);
    let lines = lines_of(entry, lengths, words);
    let base = y + number_set.drop_mm();
    page.begin("entry", entry.label.clone());
    // One baseline for order, label, number and unit.
    let order_set = Type::soft(LABEL_PT);
    page.words(
        pt(first.0, base),
        Anchor::Start,
        order_set,
        &order.to_string(),
    );
    let top = base - label_set.drop_mm();
    page.paragraph(pt(label.0, top), label.1, label_set, &entry.label);
    let used = page.paragraph(pt(number.0, y), number.1, number_set, &lines.number);
    let wide = number_set.width_mm(&lines.number);
    if wide + unit_set.width_mm(&entry.unit) + 1.5 <= number.1 {
        let at = pt(number.0 + wide + 1.5, base);
        page.words(at, Anchor::Start, unit_set, &entry.unit);
    } else {
        page.paragraph(pt(number.0, y + used), number.1, unit_set, &entry.unit);
    }
    let small_y = y + 0.8;
    let used = page.paragraph(pt(small.0, small_y), small.1, body(), &lines.small);
    if !entry.remark.is_empty() {
        let at = pt(small.0, small_y + used);
        page.paragraph(at, small.1, Type::strong(LEAST_PT), &entry.remark);
    }
    page.end();
}

fn draw_not_carried(flow: &mut Flow<'_>, sheet: &HandOverSheet, words: &Words) {
    if sheet.not_carried.is_empty() {
        return;
    }
    flow.section(&words.not_carried, 8.0);
    for sentence in &sheet.not_carried {
        flow.caution(Type::regular(10.0), sentence);
    }
}

fn proof_table(sheet: &HandOverSheet, words: &Words) -> Table {
    let lengths = sheet.block.lengths;
    let ways = [&words.forward, &words.left_way, &words.up_way];
    let mut columns = vec![
        column(words.pose.to_string(), Side::Left),
        column(words.how.to_string(), Side::Left),
    ];
    columns.extend(ways.map(|way| column(way.to_string(), Side::Right)));
    columns.extend(ways.map(|way| column(format!("Δ {way}"), Side::Right)));
    columns.push(column(words.allowed_at_tooth.to_string(), Side::Right));
    let metres = |m: Option<f64>| {
        m.filter(|m| m.is_finite())
            .map_or_else(|| "–".to_owned(), |m| plain(m, &lengths.signed(), 3))
    };
    let rows = sheet.proof.iter().map(|pose| {
        let mut row = vec![
            Cell::Strong(pose.pose.clone()),
            Cell::words(pose.words.clone()),
        ];
        row.extend(pose.keyed_m.map(|m| Cell::Strong(metres(m))));
        for (keyed, calibrated) in pose.keyed_m.iter().zip(pose.calibrated_m) {
            let off = keyed.zip(calibrated).map(|(k, c)| k - c);
            let off = off.filter(|m| m.is_finite());
            let text = off.map_or_else(
                || "–".to_owned(),
                |m| lengths.small_text(Some(m), 1, Sign::Both),
            );
            row.push(Cell::words(text));
        }
        let allowed = pose.allowed_m.filter(|m| m.is_finite());
        row.push(Cell::words(allowed.map_or_else(
            || words.not_stated.to_string(),
            |m| format!("± {}", lengths.u_text(Some(m))),
        )));
        row
    });
    Table {
        columns,
        rows: rows.collect(),
        size_pt: LEAST_PT,
    }
}

/// A line a role, to be signed by hand: what was keyed is what stands here, and the tooth was read back.
fn draw_signatures(flow: &mut Flow<'_>, sheet: &HandOverSheet, words: &Words) {
    if sheet.sign.is_empty() {
        return;
    }
    let set = Type::regular(10.0);
    flow.section(&words.sign_here, SIGN_MM * sheet.sign.len() as f64);
    for role in &sheet.sign {
        flow.need(SIGN_MM);
        let (field, y) = (flow.field, flow.y + SIGN_MM - 2.0);
        let page = flow.page();
        let third = field.width() / 3.0;
        let cells = [role.as_str(), &words.name_and_signature, &words.day];
        for (idx, text) in cells.into_iter().enumerate() {
            let left = field.left + third * idx as f64;
            let width = third - 4.0;
            let used = paragraph_height_mm(width * 0.5, set, text);
            page.paragraph(pt(left, y - used + 1.0), width * 0.5, set, text);
            if idx > 0 {
                let from = left + (set.width_mm(text) + 2.0).min(width * 0.5 + 2.0);
                page.line(pt(from, y), pt(left + width, y), STEEL);
            }
        }
        flow.y += SIGN_MM;
    }
}
