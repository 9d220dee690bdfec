//! The operator's card: one side of A5, read at arm's length through rain.

use holdline_geom::measured::Measured;

use super::card_views::draw_views;
use super::card_warning::{CardWarning, draw_warnings, warnings_of};
use super::card_words::{Block, block_height_mm, draw_block};
use super::numbered;
use crate::figure::{Coverage, Kind, figure};
use crate::frame::{TitleBlock, draw_state_sign};
use crate::geometry::{Rect, pt};
use crate::machine_view::MachineView;
use crate::page::{Anchor, FRAME, Page, THIN, Type, paragraph_height_mm};
use crate::words::Words;

/// Least size of words on the card, pt.
pub const CARD_PT: f64 = 14.0;
/// Numbers on the card at most.
pub const MOST_NUMBERS: usize = 5;

/// A number on the card.
#[derive(Debug, Clone, PartialEq)]
pub struct CardNumber {
    /// What it is.
    pub name: String,
    /// The figure.
    pub value: CardValue,
}

/// A figure of the card.
#[derive(Debug, Clone, PartialEq)]
pub enum CardValue {
    /// Measured, with its uncertainty.
    Measured(Measured, Kind),
    /// Set or allowed by somebody, as it is to be read.
    Stated(String),
    /// A figure as it is to be read, and what stands lighter beside it.
    Beside(String, String),
}

/// Input of the card.
#[derive(Debug, Clone, PartialEq)]
pub struct Card {
    /// Title block; its caution is the card's.
    pub block: TitleBlock,
    /// Reasons not to rely on the tooth, the worst first. A record that no longer counts says so by itself, from
    /// the title block.
    pub warnings: Vec<CardWarning>,
    /// Coupler, or words that there is none.
    pub coupler: String,
    /// The machine in the pose drawn, with its limits.
    pub machine: MachineView,
    /// Numbers, at most [`MOST_NUMBERS`]; more are refused.
    pub numbers: Vec<CardNumber>,
    /// What is not covered.
    pub not_covered: String,
    /// What to try at the start of a shift.
    pub shift_test: String,
    /// Whom to call.
    pub call: String,
}

const WIDTH: f64 = 210.0;
const HEIGHT: f64 = 148.0;
const EDGE: f64 = 5.0;
pub(super) const PAD: f64 = 2.0;
const GAP: f64 = 1.4;

/// Draws the card. `None` when there are more than [`MOST_NUMBERS`] numbers.
///
/// Words that do not fit one side go to a second one; none is cut.
pub fn render_card(card: &Card, words: &Words) -> Option<Vec<Page>> {
    if card.numbers.len() > MOST_NUMBERS {
        return None;
    }
    if !warnings_of(&card.block.state, &card.warnings, words).is_empty() {
        let full = draw(card, words, 1, Layout::NoPicture);
        if full.len() == 1 {
            return Some(full);
        }
        return Some(numbered(|of| draw(card, words, of, Layout::WordsAlone)));
    }
    // Long words get more room, and the drawings less, before they go to a second side.
    for layout in LAYOUTS {
        let pages = draw(card, words, 1, layout);
        if pages.len() == 1 {
            return Some(pages);
        }
    }
    Some(numbered(|of| draw(card, words, of, Layout::WordsBelow)))
}

/// How a side is shared out.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Layout {
    /// Drawings left, numbers and words right; the drawings take this part of the width.
    WordsBeside(f64),
    /// Drawings left, numbers right, words below both.
    WordsBelow,
    /// A card with a warning: no picture that invites to dig.
    NoPicture,
    /// The same when its words are many: no numbers either, and smaller heads.
    WordsAlone,
}

/// The best first.
const LAYOUTS: [Layout; 4] = [
    Layout::WordsBeside(0.46),
    Layout::WordsBeside(0.40),
    Layout::WordsBeside(0.34),
    Layout::WordsBelow,
];

fn draw(card: &Card, words: &Words, of: usize, layout: Layout) -> Vec<Page> {
    let body = Type::regular(CARD_PT);
    let own = card.block.caution.trim();
    let caution = format!("{} {} {own}", words.caution_people, words.caution_card);
    let caution = caution.trim_end().to_owned();
    // What a record said that no longer counts is no test for this shift.
    let shift_test = if card.block.state.is_over() {
        String::new()
    } else {
        card.shift_test.clone()
    };
    let blocks = [
        (&words.caution, &caution, true),
        (&words.shift_test, &shift_test, false),
        (&words.call, &card.call, false),
        (&words.not_covered, &card.not_covered, false),
    ];
    let mut waiting: Vec<Block> = blocks
        .into_iter()
        .filter(|(_, text, _)| !text.is_empty())
        .map(|(heading, text, caution)| Block {
            heading: heading.to_string(),
            text: text.clone(),
            caution,
        })
        .collect();
    let mut pages = Vec::new();
    let (mut page, field) = side(card, words, 1, of, layout);
    let mut right = draw_head(&mut page, field, card, words, layout);
    loop {
        while let Some(block) = waiting.first() {
            let height = block_height_mm(right.width(), body, block);
            if right.top + height > right.bottom + 1e-6 {
                break;
            }
            draw_block(&mut page, right, body, block);
            right.top += height + GAP;
            waiting.remove(0);
        }
        pages.push(page);
        if waiting.is_empty() || pages.len() > 4 {
            return pages;
        }
        let next = side(card, words, pages.len() + 1, of, layout);
        page = next.0;
        right = next.1;
    }
}

/// Drawings and numbers; gives what is left for words.
fn draw_head(page: &mut Page, field: Rect, card: &Card, words: &Words, layout: Layout) -> Rect {
    if matches!(layout, Layout::NoPicture | Layout::WordsAlone) {
        let used = if layout == Layout::WordsAlone || card.block.state.is_over() {
            0.0
        } else {
            draw_numbers(page, field, card)
        };
        return Rect {
            top: field.top + used,
            ..field
        };
    }
    let share = match layout {
        Layout::WordsBeside(share) => share,
        Layout::WordsBelow | Layout::NoPicture | Layout::WordsAlone => 0.46,
    };
    let split = field.left + field.width() * share;
    let right = Rect {
        left: split + PAD,
        ..field
    };
    let numbers_mm = draw_numbers(page, right, card);
    let bottom = match layout {
        Layout::WordsBeside(_) => field.bottom,
        Layout::WordsBelow | Layout::NoPicture | Layout::WordsAlone => {
            field.top + numbers_mm.max(BAND_MM)
        }
    };
    page.line(pt(split, field.top), pt(split, bottom), THIN);
    let left = Rect {
        right: split - PAD,
        bottom,
        ..field
    };
    draw_views(page, left, &card.machine, words);
    match layout {
        Layout::WordsBeside(_) => Rect {
            top: right.top + numbers_mm,
            ..right
        },
        Layout::WordsBelow | Layout::NoPicture | Layout::WordsAlone => {
            page.line(pt(field.left, bottom), pt(field.right, bottom), THIN);
            Rect {
                top: bottom + GAP,
                ..field
            }
        }
    }
}

/// Least height of drawings and numbers above the words, mm.
const BAND_MM: f64 = 42.0;

/// One side with its frame, title above and record below; gives what is left between them.
fn side(card: &Card, words: &Words, number: usize, of: usize, layout: Layout) -> (Page, Rect) {
    let mut page = Page::new(WIDTH, HEIGHT, card.block.title.clone());
    let warnings = warnings_of(&card.block.state, &card.warnings, words);
    let heads: Vec<String> = warnings.iter().map(|w| format!("{}. ", w.head)).collect();
    let heads = heads.concat();
    page.description = format!("{heads}{}: {}", words.not_covered, card.not_covered);
    let inner = page.paper().inset(EDGE);
    page.rect(inner, FRAME);
    let heads_pt = if layout == Layout::WordsAlone {
        [20.0, 16.0]
    } else {
        [26.0, 20.0]
    };
    let mut field = inner.inset(PAD);
    field.top += draw_warnings(&mut page, inner, &warnings, heads_pt);
    let title = Type::strong(18.0);
    let head = if of > 1 {
        format!(
            "{}: {} ({number} {} {of})",
            words.card, card.block.machine, words.of
        )
    } else {
        format!("{}: {}", words.card, card.block.machine)
    };
    let top = field.top + page.paragraph(pt(field.left, field.top), field.width(), title, &head);
    page.line(pt(inner.left, top + 0.5), pt(inner.right, top + 0.5), THIN);
    let chosen = chosen_words(card, words);
    let top = top + 1.2;
    let top = top
        + page.paragraph(
            pt(field.left, top),
            field.width(),
            Type::strong(CARD_PT),
            &chosen,
        );
    page.line(pt(inner.left, top + 0.5), pt(inner.right, top + 0.5), THIN);
    let foot = draw_foot(&mut page, inner, field, card, words);
    (
        page,
        Rect {
            top: top + PAD,
            bottom: foot - PAD,
            ..field
        },
    )
}

/// Bucket, coupler and tooth point: a wrong one of these is the commonest fault.
fn chosen_words(card: &Card, words: &Words) -> String {
    let mut parts = vec![(&words.bucket, &card.block.bucket)];
    // The bucket may already say on which coupler it hangs.
    if !card.block.bucket.contains(&card.coupler) {
        parts.push((&words.coupler, &card.coupler));
    }
    parts.push((&words.tooth_point, &card.block.tooth_point));
    parts.retain(|(_, value)| !value.is_empty());
    let parts: Vec<String> = parts
        .into_iter()
        .map(|(label, value)| format!("{label} {value}"))
        .collect();
    parts.join(" · ")
}

/// State, record, chain and date along the bottom; gives the top of that strip.
fn draw_foot(page: &mut Page, inner: Rect, field: Rect, card: &Card, words: &Words) -> f64 {
    let body = Type::regular(CARD_PT);
    let strong = Type::strong(CARD_PT);
    let block = &card.block;
    let short: String = block.chain_tail.chars().take(12).collect();
    let mut parts = vec![block.job.clone()];
    if !block.record.is_empty() {
        parts.push(format!("{} {}", words.record, block.record));
    }
    if !short.is_empty() {
        parts.push(format!("{} {short}…", words.chain));
    }
    parts.push(block.date.clone());
    if !block.units.is_empty() {
        parts.push(format!("{}: {}", words.units, block.units));
    }
    let any_interval = card
        .numbers
        .iter()
        .any(|n| matches!(n.value, CardValue::Measured(..)));
    if any_interval {
        parts.push(words.coverage_short.to_string());
    }
    parts.retain(|p| !p.is_empty());
    let text = parts.join(" · ");
    let state = block.state_in_words(words);
    let radius = strong.size_mm() * 0.36;
    let indent = 2.0 * radius + 2.0;
    let state_mm = paragraph_height_mm(field.width() - indent, strong, &state);
    let text_mm = paragraph_height_mm(field.width(), body, &text);
    let top = field.bottom - state_mm - text_mm;
    page.line(pt(inner.left, top - 0.8), pt(inner.right, top - 0.8), THIN);
    draw_state_sign(
        page,
        pt(field.left + radius, top + strong.line_mm() / 2.0),
        radius,
        &block.state,
    );
    page.paragraph(
        pt(field.left + indent, top),
        field.width() - indent,
        strong,
        &state,
    );
    page.paragraph(pt(field.left, top + state_mm), field.width(), body, &text);
    top
}

/// The numbers down the right side; gives the height taken.
fn draw_numbers(page: &mut Page, at: Rect, card: &Card) -> f64 {
    let body = Type::regular(CARD_PT);
    let strong = Type::strong(CARD_PT + 2.0);
    let mut y = at.top;
    page.begin("numbers", "");
    for number in &card.numbers {
        let (value, rest) = match &number.value {
            CardValue::Stated(text) => (text.clone(), String::new()),
            CardValue::Beside(value, rest) => (value.clone(), rest.clone()),
            CardValue::Measured(measured, kind) => {
                let figure = figure(*measured, kind, Coverage::Twice);
                (figure.value_and_unit(), figure.uncertainty)
            }
        };
        let value_mm = strong.width_mm(&value)
            + if rest.is_empty() {
                0.0
            } else {
                1.5 + body.width_mm(&rest)
            };
        let name_width = at.width() - value_mm - 3.0;
        let least = Type::regular(CARD_PT).width_mm("mmmmmm");
        let beside = name_width > least && body.width_mm(&number.name) <= 2.0 * name_width;
        let used = if beside {
            let used = page.paragraph(pt(at.left, y), name_width, body, &number.name);
            let base = y + strong.drop_mm();
            let mut right = at.right;
            if !rest.is_empty() {
                page.words(pt(right, base), Anchor::End, body, &rest);
                right -= body.width_mm(&rest) + 1.5;
            }
            page.words(pt(right, base), Anchor::End, strong, &value);
            used.max(strong.line_mm())
        } else {
            let used = page.paragraph(pt(at.left, y), at.width(), body, &number.name);
            let text = if rest.is_empty() {
                value
            } else {
                format!("{value} {rest}")
            };
            used + page.paragraph(pt(at.left, y + used), at.width(), strong, &text)
        };
        y += used + 0.4;
        page.line(pt(at.left, y), pt(at.right, y), THIN);
        y += 0.4;
    }
    page.end();
    y - at.top + GAP
}
