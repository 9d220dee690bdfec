//! Rows of text into columns of numbers.
//!
//! Each row goes the short way first, which takes plain rows and nothing else.
//! What it does not take goes the careful way, which alone decides what is wrong with a row.

use super::header::{Header, Use};
use super::reason::{BadRow, Reason};
use super::source::{LINE_AT_MOST, Lines, Oddity, without_end};

/// Columns read from a block of lines.
#[derive(Debug, Default)]
pub struct Rows {
    /// How many rows are good.
    pub n: usize,
    /// A column a want, radians or metres, the first `n` entries; unused where the file has none.
    pub columns: Vec<Vec<f64>>,
    /// Line of each good row, from 1.
    pub lines: Vec<u64>,
    /// Bytes of each good row in the block.
    pub spans: Vec<(usize, usize)>,
    /// Bytes of each carried field in the block, `header.carried.len()` a row.
    pub carried: Vec<(usize, usize)>,
    /// Values of the row at hand.
    values: Vec<f64>,
    /// Carried fields of the row at hand.
    carry: Vec<(usize, usize)>,
}

/// What is wrong with a row.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Trouble {
    reason: Reason,
    /// The column to blame, if one is.
    column_idx: Option<usize>,
    /// Byte of the line at which it shows.
    at: usize,
}

impl Rows {
    /// Reads the rows of a block; `bad` is told of each row that cannot be used, in order.
    pub fn read<'a>(
        &mut self,
        header: &'a Header,
        lines: &'a Lines,
        mut bad: impl FnMut(BadRow<'a>),
    ) {
        self.start(header, lines.n_lines);
        let block = lines.bytes();
        // a zero byte anywhere is a reason to look closely
        let text_only = memchr::memchr(0, block).is_none();
        let mut start = 0;
        let mut line_number = lines.first_line;
        while start < block.len() {
            let next =
                memchr::memchr(b'\n', &block[start..]).map_or(block.len(), |n| start + n + 1);
            let line = without_end(&block[start..next]);
            let trouble = self.read_line(header, line, start, (lines.oddity, text_only));
            match trouble {
                None => {}
                Some(Ok(())) => self.keep(line_number, (start, start + line.len())),
                Some(Err(trouble)) => bad(told(header, line, line_number, trouble)),
            }
            line_number += 1;
            start = next;
        }
        self.to_si(header);
    }

    fn start(&mut self, header: &Header, n_lines: usize) {
        self.n = 0;
        self.columns.resize(header.column_of.len(), Vec::new());
        for (column, at) in self.columns.iter_mut().zip(&header.column_of) {
            if at.is_some() && column.len() < n_lines {
                column.resize(n_lines, 0.0);
            }
        }
        self.values.clear();
        self.values.resize(header.column_of.len(), 0.0);
        self.carry.clear();
        self.carry.resize(header.carried.len(), (0, 0));
        self.lines.clear();
        self.spans.clear();
        self.carried.clear();
    }

    /// None for an empty line, which is no row.
    fn read_line(
        &mut self,
        header: &Header,
        line: &[u8],
        start: usize,
        (oddity, text_only): (Oddity, bool),
    ) -> Option<Result<(), Trouble>> {
        if line.iter().all(|b| b.is_ascii_whitespace()) {
            return None;
        }
        let whole = |reason| {
            Some(Err(Trouble {
                reason,
                column_idx: None,
                at: 0,
            }))
        };
        if oddity == Oddity::LongLine || LINE_AT_MOST < line.len() {
            return whole(Reason::TooLong);
        }
        if oddity == Oddity::NoLineEnd {
            return whole(Reason::NoLineEnd);
        }
        if text_only && self.short_way(header, line, start).is_some() {
            return Some(Ok(()));
        }
        Some(self.careful_way(header, line, start))
    }

    /// A plain row: numbers and short texts, nothing quoted, nothing amiss. Else none.
    #[inline]
    fn short_way(&mut self, header: &Header, line: &[u8], start: usize) -> Option<()> {
        let separator = header.separator;
        let mut at = 0;
        let last = header.uses.len() - 1;
        for (column_idx, column_use) in header.uses.iter().enumerate() {
            match *column_use {
                Use::Read {
                    want_idx, min, max, ..
                } => {
                    let (value, n) = short_number(&line[at..])?;
                    let plausible = min <= value && value <= max;
                    if !plausible {
                        return None;
                    }
                    self.values[want_idx] = value;
                    at += n;
                }
                Use::Carry(carry_idx) => {
                    let n = plain_field(&line[at..], separator)?;
                    self.carry[carry_idx] = (start + at, start + at + n);
                    at += n;
                }
                Use::Skip => at += unquoted_field(&line[at..], separator)?,
            }
            if column_idx < last {
                if line.get(at) != Some(&separator) {
                    return None;
                }
                at += 1;
            }
        }
        (at == line.len()).then_some(())
    }

    /// Any row, and what is wrong with it.
    fn careful_way(&mut self, header: &Header, line: &[u8], start: usize) -> Result<(), Trouble> {
        let fields = fields(line, header.separator)?;
        let trouble = |reason, column_idx, at| Trouble {
            reason,
            column_idx,
            at,
        };
        if line == header.line {
            return Err(trouble(Reason::HeaderAgain, None, 0));
        }
        if memchr::memchr(0, line).is_some() {
            return Err(trouble(Reason::NotText, None, 0));
        }
        if fields.len() != header.uses.len() {
            let few = fields.len() < header.uses.len();
            let reason = if few {
                Reason::TooFewFields
            } else {
                Reason::TooManyFields
            };
            return Err(trouble(reason, None, 0));
        }
        for (column_idx, (column_use, &(from, to))) in header.uses.iter().zip(&fields).enumerate() {
            let field = &line[from..to];
            match *column_use {
                Use::Skip => {}
                Use::Carry(carry_idx) => {
                    if std::str::from_utf8(field).is_err() {
                        return Err(trouble(Reason::NotText, Some(column_idx), from));
                    }
                    self.carry[carry_idx] = (start + from, start + to);
                }
                Use::Read {
                    want_idx, min, max, ..
                } => {
                    let value = careful_number(field, header.separator)
                        .map_err(|reason| trouble(reason, Some(column_idx), from))?;
                    let plausible = min <= value && value <= max;
                    if !plausible {
                        return Err(trouble(Reason::OutOfRange, Some(column_idx), from));
                    }
                    self.values[want_idx] = value;
                }
            }
        }
        Ok(())
    }

    fn keep(&mut self, line_number: u64, span: (usize, usize)) {
        for (column, value) in self.columns.iter_mut().zip(&self.values) {
            // columns that the file does not have stay empty
            if let Some(entry) = column.get_mut(self.n) {
                *entry = *value;
            }
        }
        self.lines.push(line_number);
        self.spans.push(span);
        self.carried.extend_from_slice(&self.carry);
        self.n += 1;
    }

    fn to_si(&mut self, header: &Header) {
        for column_use in &header.uses {
            if let Use::Read { want_idx, unit, .. } = *column_use {
                let one_to_one = unit.times == 1.0 && unit.by == 1.0;
                if !one_to_one {
                    for value in &mut self.columns[want_idx][..self.n] {
                        *value = unit.to_si(*value);
                    }
                }
            }
        }
    }
}

fn told<'a>(header: &'a Header, line: &'a [u8], number: u64, trouble: Trouble) -> BadRow<'a> {
    let before = String::from_utf8_lossy(&line[..trouble.at.min(line.len())]);
    BadRow {
        line: number,
        column_at: before.chars().count() + 1,
        column: trouble
            .column_idx
            .map_or("", |idx| header.names[idx].as_str()),
        reason: trouble.reason,
        row: line,
    }
}

/// A number at the start of a field, and how long it is; spaces before and after belong to it.
#[inline]
fn short_number(text: &[u8]) -> Option<(f64, usize)> {
    let (value, n) = fast_float2::parse_partial::<f64, _>(text).ok()?;
    Some((value, n))
}

/// Length of a field of plain characters.
#[inline]
fn plain_field(text: &[u8], separator: u8) -> Option<usize> {
    for (n, &b) in text.iter().enumerate() {
        if b == separator {
            return Some(n);
        }
        if b == b'"' || !(0x20..0x7f).contains(&b) {
            return None;
        }
    }
    Some(text.len())
}

/// Length of a field that is not quoted.
#[inline]
fn unquoted_field(text: &[u8], separator: u8) -> Option<usize> {
    if text.first() == Some(&b'"') {
        return None;
    }
    Some(memchr::memchr2(separator, b'"', text).unwrap_or(text.len()))
        .filter(|&n| text.get(n) != Some(&b'"'))
}

/// Where the fields of a line are, without the spaces round them; quotation marks belong to them.
fn fields(line: &[u8], separator: u8) -> Result<Vec<(usize, usize)>, Trouble> {
    let mut fields = Vec::new();
    let mut from = 0;
    let mut quoted_since = None;
    for (at, &b) in line.iter().enumerate() {
        match (b, quoted_since) {
            (b'"', Some(_)) => quoted_since = None,
            (b'"', None) => quoted_since = Some(at),
            (_, None) if b == separator => {
                fields.push(trimmed(line, from, at));
                from = at + 1;
            }
            _ => {}
        }
    }
    if let Some(at) = quoted_since {
        return Err(Trouble {
            reason: Reason::OpenQuote,
            column_idx: None,
            at,
        });
    }
    fields.push(trimmed(line, from, line.len()));
    Ok(fields)
}

fn trimmed(line: &[u8], from: usize, to: usize) -> (usize, usize) {
    let field = &line[from..to];
    let before = field.len() - field.trim_ascii_start().len();
    let inner = field.trim_ascii();
    (from + before, from + before + inner.len())
}

/// A field as a number, or why it is none.
fn careful_number(field: &[u8], separator: u8) -> Result<f64, Reason> {
    let field = match field {
        [b'"', inner @ .., b'"'] => inner.trim_ascii(),
        field => field,
    };
    if field.is_empty() {
        return Err(Reason::EmptyField);
    }
    match fast_float2::parse::<f64, _>(field) {
        Ok(value) if value.is_nan() => Err(Reason::Nan),
        Ok(value) if value.is_infinite() => Err(Reason::Infinite),
        Ok(value) => Ok(value),
        Err(_) if separator != b',' && has_decimal_comma(field) => Err(Reason::DecimalComma),
        Err(_) => Err(Reason::NotANumber),
    }
}

fn has_decimal_comma(field: &[u8]) -> bool {
    let with_point: Vec<u8> = field
        .iter()
        .map(|b| if *b == b',' { b'.' } else { *b })
        .collect();
    field.contains(&b',') && fast_float2::parse::<f64, _>(&with_point).is_ok()
}
