//! The paper of a sheet: frame, title block bottom right, caution beside it.
//!
//! General drafting practice, ISO 5457 and ISO 7200 (from memory): 20 mm at the binding edge, 10 mm elsewhere,
//! a title block at most 180 mm wide.

use crate::font;
use crate::geometry::{Pt, Rect, closed_path, open_path, pt};
use crate::ink::Ink;
use crate::lengths::Lengths;
use crate::line::Line;
use crate::page::{Anchor, FRAME, Page, Pen, THIN, Type, paragraph_height_mm};
use crate::words::Words;

/// Least size of words on paper, pt.
pub const LEAST_PT: f64 = 9.0;

/// Paper of a sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Paper {
    /// 420 by 297 mm.
    A3Landscape,
    /// 297 by 210 mm.
    A4Landscape,
}

impl Paper {
    /// Width and height, mm.
    pub const fn size_mm(self) -> (f64, f64) {
        match self {
            Paper::A3Landscape => (420.0, 297.0),
            Paper::A4Landscape => (297.0, 210.0),
        }
    }
}

/// Whether a sheet counts, said on every page.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum State {
    /// Shown before anything is recorded.
    Preview,
    /// Recorded, not signed.
    NotSigned,
    /// Signed.
    Signed {
        /// Name and role.
        by: String,
        /// When.
        at: String,
    },
    /// A later record stands in its place.
    Superseded {
        /// Number of that record.
        by: String,
    },
    /// What it came from has changed since.
    Stale {
        /// What has changed.
        because: String,
    },
}

impl State {
    /// The state in words.
    pub fn in_words(&self, words: &Words) -> String {
        match self {
            State::Preview => words.preview.to_string(),
            State::NotSigned => words.not_signed.to_string(),
            State::Signed { by, at } => format!("{} {by}, {at}", words.signed_by),
            State::Superseded { by } => format!("{} {by}", words.superseded_by),
            State::Stale { because } => format!("{}: {because}", words.stale),
        }
    }

    /// Whether the sheet did count once and does no longer: superseded or stale.
    pub fn is_over(&self) -> bool {
        matches!(self, State::Superseded { .. } | State::Stale { .. })
    }
}

/// What the title block says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TitleBlock {
    /// Title of the sheet.
    pub title: String,
    /// Job.
    pub job: String,
    /// Machine.
    pub machine: String,
    /// Bucket, with its coupler if it hangs on one.
    pub bucket: String,
    /// Tooth point.
    pub tooth_point: String,
    /// Units, as printed.
    pub units: String,
    /// What the sheet shows lengths in.
    pub lengths: Lengths,
    /// Date and time of the record.
    pub date: String,
    /// Number of the record; empty for a preview.
    pub record: String,
    /// Last hash of the chain; empty for a preview.
    pub chain_tail: String,
    /// Whether the sheet counts.
    pub state: State,
    /// Who has signed, as printed; empty: nobody. It stays to be read when the sheet no longer counts.
    pub signatures: String,
    /// Program and version.
    pub program: String,
    /// Cautions of this sheet.
    pub caution: String,
}

impl TitleBlock {
    /// The state in words; of a sheet that no longer counts, who had signed it too.
    pub fn state_in_words(&self, words: &Words) -> String {
        let state = self.state.in_words(words);
        if self.state.is_over() && !self.signatures.is_empty() {
            format!("{state}. {} {}", words.was_signed_by, self.signatures)
        } else {
            state
        }
    }
}

/// Height of the strip at the foot of a page, and the field above it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Frame {
    /// Inside of the frame.
    pub inner: Rect,
    /// Left for the drawing.
    pub field: Rect,
    block: Rect,
}

const BLOCK_WIDTH: f64 = 180.0;
const PAD: f64 = 1.4;

/// A page with its frame, title block and caution; the field is left to the caller.
///
/// `number` and `of` count the pages; `scale` is printed as given.
pub fn framed_page(
    paper: Paper,
    block: &TitleBlock,
    words: &Words,
    scale: &str,
    number: usize,
    of: usize,
) -> (Page, Frame) {
    let (width, height) = paper.size_mm();
    let mut page = Page::new(width, height, block.title.clone());
    let frame = frame_for(paper, block, words, scale, number, of);
    page.rect(frame.inner, FRAME);
    draw_fold_marks(&mut page, &frame.inner);
    page.begin("title-block", block.title.clone());
    let sheet = format!("{number} {} {of}", words.of);
    draw_block(
        &mut page,
        frame.block,
        &rows(block, words, scale, &sheet),
        block,
        words,
    );
    page.end();
    draw_caution(&mut page, &frame, block, words);
    (page, frame)
}

/// The frame that such a page will have, without drawing it.
pub fn frame_for(
    paper: Paper,
    block: &TitleBlock,
    words: &Words,
    scale: &str,
    number: usize,
    of: usize,
) -> Frame {
    let (width, height) = paper.size_mm();
    let inner = Rect {
        left: 20.0,
        top: 10.0,
        right: width - 10.0,
        bottom: height - 10.0,
    };
    let sheet = format!("{number} {} {of}", words.of);
    let block_mm = block_height_mm(&rows(block, words, scale, &sheet), block, words);
    let caution_width = inner.width() - BLOCK_WIDTH - 2.0 * PAD - 2.0;
    let caution_mm = caution_height_mm(caution_width, block, words);
    let strip_mm = block_mm.max(caution_mm);
    let block_rect = Rect {
        left: inner.right - BLOCK_WIDTH,
        top: inner.bottom - strip_mm,
        right: inner.right,
        bottom: inner.bottom,
    };
    let field = Rect {
        bottom: block_rect.top,
        ..inner
    };
    Frame {
        inner,
        field,
        block: block_rect,
    }
}

type Row = Vec<(String, String, f64)>;

fn rows(block: &TitleBlock, words: &Words, scale: &str, sheet: &str) -> Vec<Row> {
    let cell = |label: &str, value: &str, share: f64| (label.to_owned(), value.to_owned(), share);
    vec![
        vec![
            cell(&words.job, &block.job, 0.34),
            cell(&words.machine, &block.machine, 0.20),
            cell(&words.bucket, &block.bucket, 0.26),
            cell(&words.tooth_point, &block.tooth_point, 0.20),
        ],
        vec![
            cell(&words.units, &block.units, 0.34),
            cell(&words.date, &block.date, 0.32),
            cell(&words.scale, scale, 0.20),
            cell(&words.sheet, sheet, 0.14),
        ],
        vec![
            cell(&words.record, &block.record, 0.34),
            cell(&words.chain, &block.chain_tail, 0.66),
        ],
    ]
}

fn cell_types() -> (Type, Type) {
    (Type::soft(LEAST_PT), Type::strong(LEAST_PT))
}

fn row_height_mm(row: &Row) -> f64 {
    let (label_set, value_set) = cell_types();
    row.iter()
        .map(|(label, value, share)| {
            let width = BLOCK_WIDTH * share - 2.0 * PAD;
            let value = if value.is_empty() { "–" } else { value };
            paragraph_height_mm(width, label_set, label)
                + paragraph_height_mm(width, value_set, value)
        })
        .fold(0.0, f64::max)
        + 1.0
}

fn head_heights_mm(block: &TitleBlock, words: &Words) -> (f64, f64) {
    let width = BLOCK_WIDTH - 2.0 * PAD;
    let title = paragraph_height_mm(width, Type::strong(13.0), &block.title);
    let state = state_text(block, words);
    let sign = Type::strong(11.0).size_mm() * 1.2;
    (
        title + 1.0,
        paragraph_height_mm(width - sign - 2.0, Type::strong(11.0), &state) + 1.0,
    )
}

fn state_text(block: &TitleBlock, words: &Words) -> String {
    let state = block.state_in_words(words);
    if block.program.is_empty() {
        state
    } else {
        format!("{state}. {} {}", words.made_by, block.program)
    }
}

fn block_height_mm(rows: &[Row], block: &TitleBlock, words: &Words) -> f64 {
    let (title, state) = head_heights_mm(block, words);
    title + state + rows.iter().map(row_height_mm).sum::<f64>()
}

fn draw_block(page: &mut Page, at: Rect, rows: &[Row], block: &TitleBlock, words: &Words) {
    page.shape(closed_path(&at.corners()), FRAME, Ink::Paper);
    let (title_mm, state_mm) = head_heights_mm(block, words);
    let spare = at.height() - block_height_mm(rows, block, words);
    let mut y = at.top + spare.max(0.0) / 2.0;
    let width = at.width() - 2.0 * PAD;
    page.paragraph(
        pt(at.left + PAD, y + 0.5),
        width,
        Type::strong(13.0),
        &block.title,
    );
    y = at.top + spare.max(0.0) + title_mm;
    page.line(pt(at.left, y), pt(at.right, y), THIN);
    let set = Type::strong(11.0);
    let sign = set.size_mm() * 1.2;
    let sign_at = pt(at.left + PAD + sign / 2.0, y + 0.5 + set.line_mm() / 2.0);
    draw_state_sign(page, sign_at, sign * 0.38, &block.state);
    let left = at.left + PAD + sign + 2.0;
    let text = state_text(block, words);
    page.paragraph(pt(left, y + 0.5), width - sign - 2.0, set, &text);
    y += state_mm;
    for row in rows {
        page.line(pt(at.left, y), pt(at.right, y), THIN);
        draw_row(page, at, y, row);
        y += row_height_mm(row);
    }
}

fn draw_row(page: &mut Page, at: Rect, y: f64, row: &Row) {
    let (label_set, value_set) = cell_types();
    let height = row_height_mm(row);
    let mut left = at.left;
    for (idx, (label, value, share)) in row.iter().enumerate() {
        let width = BLOCK_WIDTH * share;
        if idx > 0 {
            page.line(pt(left, y), pt(left, y + height), THIN);
        }
        let inner = width - 2.0 * PAD;
        let used = page.paragraph(pt(left + PAD, y + 0.4), inner, label_set, label);
        let value = if value.is_empty() { "–" } else { value };
        page.paragraph(pt(left + PAD, y + 0.4 + used), inner, value_set, value);
        left += width;
    }
}

/// The state as a shape, so that it is seen without reading: a stroke of the pen is signed, an open ring is not,
/// a struck ring no longer stands, a triangle is to be looked at. A full disc is a decision's: it holds.
pub fn draw_state_sign(page: &mut Page, at: Pt, radius: f64, state: &State) {
    let pen = Pen::new(Line::Steel, Ink::Ink);
    match state {
        State::Signed { .. } => {
            let stroke = PEN_STROKE.map(|[x, y]| at.by(x * radius, y * radius));
            page.stroke(open_path(&stroke), pen);
        }
        State::NotSigned | State::Preview => page.stroke(crate::geometry::circle(at, radius), pen),
        State::Superseded { .. } => {
            page.stroke(crate::geometry::circle(at, radius), pen);
            page.line(at.by(-radius, radius), at.by(radius, -radius), pen);
        }
        State::Stale { .. } => page.stroke(closed_path(&triangle(at, radius)), pen),
    }
}

/// A name written in haste, in parts of the sign's radius.
const PEN_STROKE: [[f64; 2]; 7] = [
    [-1.1, 0.4],
    [-0.6, -0.9],
    [-0.35, 0.7],
    [0.05, -0.3],
    [0.3, 0.5],
    [0.6, -0.1],
    [1.2, 0.3],
];

/// A triangle about a point, one corner up.
pub(crate) fn triangle(at: Pt, radius: f64) -> [Pt; 3] {
    [
        at.by(0.0, -radius),
        at.by(radius, radius * 0.8),
        at.by(-radius, radius * 0.8),
    ]
}

fn caution_sets() -> (Type, Type) {
    (Type::strong(11.0), Type::regular(LEAST_PT))
}

fn caution_text(block: &TitleBlock, words: &Words) -> String {
    let own = block.caution.trim();
    let people = &words.caution_people;
    if own.is_empty() {
        format!("{people}\n{}", words.caution_plan)
    } else {
        format!("{people} {own}\n{}", words.caution_plan)
    }
}

fn caution_height_mm(width: f64, block: &TitleBlock, words: &Words) -> f64 {
    let (head, body) = caution_sets();
    head.line_mm()
        + paragraph_height_mm(width, body, &caution_text(block, words))
        + paragraph_height_mm(width, Type::soft(LEAST_PT), &words.coverage_twice)
        + 2.0 * PAD
}

fn draw_caution(page: &mut Page, frame: &Frame, block: &TitleBlock, words: &Words) {
    let (head, body) = caution_sets();
    let left = frame.inner.left + PAD;
    let width = frame.block.left - frame.inner.left - 2.0 * PAD - 2.0;
    let top = frame.block.top;
    page.line(pt(frame.inner.left, top), pt(frame.block.left, top), THIN);
    page.begin("caution", words.caution.to_string());
    let mut y = top + PAD;
    let radius = head.size_mm() * 0.45;
    let mark = pt(left + radius, y + head.line_mm() / 2.0);
    draw_caution_sign(page, mark, radius);
    page.words(
        pt(left + 2.0 * radius + 2.0, y + head.drop_mm()),
        Anchor::Start,
        head,
        &words.caution,
    );
    y += head.line_mm();
    y += page.paragraph(pt(left, y), width, body, &caution_text(block, words));
    let foot = paragraph_height_mm(width, Type::soft(LEAST_PT), &words.coverage_twice);
    let y = (frame.block.bottom - PAD - foot).max(y);
    page.paragraph(
        pt(left, y),
        width,
        Type::soft(LEAST_PT),
        &words.coverage_twice,
    );
    page.end();
}

/// A triangle with a bar and a dot: look here before you go on.
pub fn draw_caution_sign(page: &mut Page, at: Pt, radius: f64) {
    let pen = Pen::new(Line::Steel, Ink::Ink);
    page.stroke(closed_path(&triangle(at, radius)), pen);
    page.line(at.by(0.0, -radius * 0.3), at.by(0.0, radius * 0.25), pen);
    page.dot(at.by(0.0, radius * 0.55), 0.25 + radius * 0.03, Ink::Ink);
}

/// Short strokes at the middle of each side, for folding and copying.
fn draw_fold_marks(page: &mut Page, inner: &Rect) {
    let middle = inner.centre();
    let mark = 4.0;
    for (from, to) in [
        (pt(inner.left, middle.y), pt(inner.left - mark, middle.y)),
        (pt(inner.right, middle.y), pt(inner.right + mark, middle.y)),
        (pt(middle.x, inner.top), pt(middle.x, inner.top - mark)),
        (
            pt(middle.x, inner.bottom),
            pt(middle.x, inner.bottom + mark),
        ),
    ] {
        page.line(from, to, THIN);
    }
}

/// Height of a heading above a field, mm.
pub fn heading_mm() -> f64 {
    Type::strong(11.0).line_mm() + 1.0
}

/// A heading with its top left corner at a point.
pub fn draw_heading(page: &mut Page, at: Pt, text: &str) {
    let set = Type::strong(11.0);
    page.words(pt(at.x, at.y + set.drop_mm()), Anchor::Start, set, text);
}

/// Size of a capital on the least size of words, mm. For marks that stand beside words.
pub fn capital_mm() -> f64 {
    LEAST_PT * font::MM_PER_PT * font::CAPITAL
}
