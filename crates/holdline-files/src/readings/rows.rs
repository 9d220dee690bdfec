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
            let trouble = if text_only && lines.oddity == Oddity::None {
                self.read_line(header, line, (start, &lines.room))
            } else {
                self.read_odd_line(header, line, start, lines.oddity)
            };
            match trouble {
                None => {}
                Some(Ok(())) => self.keep(line_number, (start, start + line.len())),
                Some(Err(trouble)) => bad(told(header, line, line_number, trouble)),
            }
            line_number += 1;
            start = next;
        }
        self.put_in_si(header);
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

    /// None for an empty line, which is no row. `room` holds the line from `start` on, and more.
    #[inline]
    fn read_line(
        &mut self,
        header: &Header,
        line: &[u8],
        (start, room): (usize, &[u8]),
    ) -> Option<Result<(), Trouble>> {
        if self.short_way(header, line, (start, room)).is_some() {
            return Some(Ok(()));
        }
        self.read_odd_line(header, line, start, Oddity::None)
    }

    #[cold]
    fn read_odd_line(
        &mut self,
        header: &Header,
        line: &[u8],
        start: usize,
        oddity: Oddity,
    ) -> Option<Result<(), Trouble>> {
        if line.iter().all(|b| b.is_ascii_whitespace()) {
            return None;
        }
        let reason = match oddity {
            Oddity::LongLine => Reason::TooLong,
            Oddity::None | Oddity::NoLineEnd if LINE_AT_MOST < line.len() => Reason::TooLong,
            Oddity::NoLineEnd => Reason::NoLineEnd,
            Oddity::None => return Some(self.careful_way(header, line, start)),
        };
        Some(Err(Trouble {
            reason,
            column_idx: None,
            at: 0,
        }))
    }

    /// A plain row: numbers and short texts, nothing quoted, nothing amiss. Else none.
    #[inline(always)]
    fn short_way(
        &mut self,
        header: &Header,
        line: &[u8],
        (start, room): (usize, &[u8]),
    ) -> Option<()> {
        let separator = header.separator;
        let mut at = 0;
        let last = header.uses.len() - 1;
        if LINE_AT_MOST < line.len() {
            return None;
        }
        for (column_idx, column_use) in header.uses.iter().enumerate() {
            match *column_use {
                Use::Read {
                    want_idx, min, max, ..
                } => {
                    let (value, n) = short_number(&room[start + at..])?;
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

    fn put_in_si(&mut self, header: &Header) {
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

/// A number at the start of a field, and how long it is. What follows the field does not matter.
///
/// Up to 15 digits the whole number they make is exact, so is the power of ten, and one division
/// rounds correctly; whatever else is there is left to a reader that takes any number.
#[inline(always)]
fn short_number(text: &[u8]) -> Option<(f64, usize)> {
    plain_number(text).or_else(|| fast_float2::parse_partial::<f64, _>(text).ok())
}

/// Up to seven digits, and up to seven more after a point, all within sixteen bytes; else none.
///
/// Where the number ends is found from all sixteen bytes at once, so that the next field need not
/// wait for the digits of this one.
#[inline(always)]
fn plain_number(text: &[u8]) -> Option<(f64, usize)> {
    let window = text.first_chunk::<16>()?;
    let word = u128::from_le_bytes(*window);
    let negative = window[0] == b'-';
    let others = other_than_digits(word) & !(0x80 * u128::from(negative));
    let first = others.trailing_zeros() as usize / 8;
    let end = match window.get(first)? {
        b'.' => (others & (others - 1)).trailing_zeros() as usize / 8,
        _ => first,
    };
    let goes_on = matches!(window.get(end)?, b'e' | b'E' | b'.');
    let start = usize::from(negative);
    let (n_whole, n_part) = (first - start, (end - first).saturating_sub(1));
    if goes_on || 7 < n_whole || 7 < n_part || n_whole + n_part == 0 {
        return None;
    }
    let whole = digits_of(word >> (8 * start), n_whole);
    let part = if n_part == 0 {
        0
    } else {
        digits_of(word >> (8 * (first + 1)), n_part)
    };
    let units = whole * TENS_WHOLE[n_part] + part;
    let size = units as i64 as f64 / TENS[n_part]; // signed is what the machine can do
    Some((if negative { -size } else { size }, end))
}

const TENS: [f64; 8] = [1.0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7];
const TENS_WHOLE: [u64; 8] = [1, 10, 100, 1_000, 10_000, 100_000, 1_000_000, 10_000_000];

/// The top bit of every byte that is no digit.
#[inline(always)]
fn other_than_digits(word: u128) -> u128 {
    const EACH: u128 = u128::MAX / 0xff; // a one in every byte
    let digits = word ^ (EACH * 0x30); // a digit's byte becomes its value, others pass 9
    let low = digits & (EACH * 0x7f);
    ((low + EACH * 0x76) | digits) & (EACH * 0x80)
}

/// The number that the first `n` bytes make, all of them digits, at most seven.
#[inline(always)]
fn digits_of(word: u128, n: usize) -> u64 {
    let digits = word as u64 ^ 0x3030_3030_3030_3030;
    // moved to the end of the word, zeros before them; then pairs, fours, all eight
    let digits = (digits << (8 * (7 - n))) << 8;
    let pairs = (digits * 10 + (digits >> 8)) & 0x00ff_00ff_00ff_00ff;
    let fours = (pairs * 100 + (pairs >> 16)) & 0x0000_ffff_0000_ffff;
    (fours * 10_000 + (fours >> 32)) & 0xffff_ffff
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_as_the_standard_library_reads_them() {
        let check = |text: &str| {
            let (value, n) = short_number(text.as_bytes()).expect("a number");
            assert_eq!(n, text.len(), "{text}");
            let want: f64 = text.parse().expect("a number");
            assert_eq!(value.to_bits(), want.to_bits(), "{text}");
        };
        for text in [
            "0",
            "-0",
            "7.",
            ".5",
            "-.25",
            "1e5",
            "1.5E-7",
            "999999999999999",
            "-88.100",
        ] {
            check(text);
        }
        for text in [
            "1234567890123456789012",
            "0.000000000000000000012345",
            "9007199254740993",
        ] {
            check(text);
        }
        let mut seed = 9_u64;
        for _ in 0..200_000 {
            seed = seed
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            let whole = (seed >> 20) % 10_u64.pow((seed >> 60) as u32);
            let decimals = (seed >> 8) % 10_u64.pow((seed & 7) as u32);
            check(&format!("{whole}.{decimals}"));
            check(&format!("-{whole}.{decimals:07}"));
            check(&format!("{whole}.{decimals:05}e{}", seed % 40));
        }
    }

    #[test]
    fn what_is_no_number_is_none() {
        for text in ["", "-", ".", "-.", "x1", "--1", "+"] {
            assert_eq!(short_number(text.as_bytes()), None, "{text}");
        }
        // what follows a number is for the caller to see
        assert_eq!(short_number(b"12,5"), Some((12.0, 2)));
        assert_eq!(short_number(b"1.2.3"), Some((1.2, 3)));
    }
}
