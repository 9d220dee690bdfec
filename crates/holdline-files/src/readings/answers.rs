//! What is worked out from a block of rows, and its text.

use super::fixed::{write_fixed, write_whole};
use super::header::Header;
use super::reason::write_field;
use super::rows::Rows;

/// A column of the output.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AnswerColumn {
    /// Name with unit, such as `easting_m`.
    pub name: String,
    /// Digits after the point, at most nine.
    pub decimals: u8,
}

impl AnswerColumn {
    /// A column in metres, to a tenth of a millimetre.
    pub fn metres(name: &str) -> AnswerColumn {
        AnswerColumn {
            name: name.to_owned(),
            decimals: 4,
        }
    }
}

/// How the output is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Format {
    /// A header, then a line a row, fields parted by commas.
    Csv,
    /// A JSON object a line.
    JsonLines,
}

/// The readings of a block of rows, radians and metres.
#[derive(Debug, Clone, Copy)]
pub struct Readings<'a> {
    pub(super) rows: &'a Rows,
    pub(super) header: &'a Header,
}

impl<'a> Readings<'a> {
    /// How many rows.
    pub fn n_rows(&self) -> usize {
        self.rows.n
    }

    /// A reading a row for the want at this place in the list; none if the file has no such column.
    pub fn column(&self, want_idx: usize) -> Option<&'a [f64]> {
        self.header.column_of.get(want_idx).copied().flatten()?;
        self.rows
            .columns
            .get(want_idx)
            .map(|column| &column[..self.rows.n])
    }

    /// Line of the file from which a row came, from 1.
    pub fn line_of(&self, row_idx: usize) -> Option<u64> {
        self.rows.lines.get(row_idx).copied()
    }
}

/// Where answers go: a column each, an entry a row.
#[derive(Debug, Default)]
pub struct Answers {
    /// Columns in the order asked for; NaN until filled in.
    pub columns: Vec<Vec<f64>>,
    /// Rows that give no answer, in order, and why.
    pub(super) refused: Vec<(usize, &'static str)>,
}

impl Answers {
    pub(super) fn start(&mut self, n_columns: usize, n_rows: usize) {
        self.columns.resize(n_columns, Vec::new());
        for column in &mut self.columns {
            column.clear();
            column.resize(n_rows, f64::NAN);
        }
        self.refused.clear();
    }

    /// Says that a row gives no answer. The words are counted, so use few different ones.
    pub fn refuse(&mut self, row_idx: usize, why: &'static str) {
        self.refused.push((row_idx, why));
    }

    /// The row's answers, or why there is none: refused, or a value that is not finite.
    pub(super) fn trouble(&self, row_idx: usize, next_refused: &mut usize) -> Option<&'static str> {
        let mut why = None;
        while let Some((idx, words)) = self.refused.get(*next_refused)
            && *idx <= row_idx
        {
            if *idx == row_idx {
                why = Some(*words);
            }
            *next_refused += 1;
        }
        let finite = self
            .columns
            .iter()
            .all(|column| column[row_idx].is_finite());
        why.or((!finite).then_some("no number came out"))
    }
}

/// Writes the head of the output, where the format has one.
pub fn write_head(out: &mut Vec<u8>, format: Format, header: &Header, answers: &[AnswerColumn]) {
    if format == Format::JsonLines {
        return;
    }
    out.extend_from_slice(b"line");
    for idx in &header.carried {
        out.push(b',');
        write_field(out, header.names[*idx].as_bytes());
    }
    for column in answers {
        out.push(b',');
        write_field(out, column.name.as_bytes());
    }
    out.push(b'\n');
}

/// Writes rows of answers in one format.
#[derive(Debug)]
pub struct RowWriter<'a> {
    format: Format,
    decimals: Vec<u8>,
    /// What stands before each field of a JSON object.
    keys: Vec<Vec<u8>>,
    header: &'a Header,
}

impl<'a> RowWriter<'a> {
    /// For this header and these columns.
    pub fn new(format: Format, header: &'a Header, answers: &[AnswerColumn]) -> RowWriter<'a> {
        let carried = header.carried.iter().map(|idx| header.names[*idx].as_str());
        let names = carried.chain(answers.iter().map(|a| a.name.as_str()));
        let keys = names.map(|name| {
            let mut key = vec![b','];
            write_json_text(&mut key, name);
            key.push(b':');
            key
        });
        RowWriter {
            format,
            decimals: answers.iter().map(|a| a.decimals).collect(),
            keys: keys.collect(),
            header,
        }
    }

    /// Writes one row.
    pub fn write(
        &self,
        out: &mut Vec<u8>,
        rows: &Rows,
        block: &[u8],
        answers: &Answers,
        row: usize,
    ) {
        let n_carried = self.header.carried.len();
        let carried = &rows.carried[row * n_carried..(row + 1) * n_carried];
        match self.format {
            Format::Csv => {
                write_whole(out, rows.lines[row]);
                for &(from, to) in carried {
                    out.push(b',');
                    write_carried(out, &block[from..to]);
                }
                for (column, decimals) in answers.columns.iter().zip(&self.decimals) {
                    out.push(b',');
                    write_fixed(out, column[row], *decimals);
                }
                out.push(b'\n');
            }
            Format::JsonLines => {
                out.extend_from_slice(b"{\"line\":");
                write_whole(out, rows.lines[row]);
                for (&(from, to), key) in carried.iter().zip(&self.keys) {
                    out.extend_from_slice(key);
                    write_json_carried(out, &block[from..to]);
                }
                let columns = answers.columns.iter().zip(&self.decimals);
                for ((column, decimals), key) in columns.zip(&self.keys[n_carried..]) {
                    out.extend_from_slice(key);
                    write_fixed(out, column[row], *decimals);
                }
                out.extend_from_slice(b"}\n");
            }
        }
    }
}

/// A carried field; one that came between quotation marks keeps them.
fn write_carried(out: &mut Vec<u8>, field: &[u8]) {
    let closed = 2 <= field.len() && field.starts_with(b"\"") && field.ends_with(b"\"");
    if closed {
        out.extend_from_slice(field);
    } else {
        write_field(out, field);
    }
}

fn write_json_carried(out: &mut Vec<u8>, field: &[u8]) {
    if is_json_number(field) {
        out.extend_from_slice(field);
        return;
    }
    let text = String::from_utf8_lossy(field);
    match text.strip_prefix('"').and_then(|t| t.strip_suffix('"')) {
        Some(inner) => write_json_text(out, &inner.replace("\"\"", "\"")),
        None => write_json_text(out, &text),
    }
}

/// `-?(0|[1-9]\d*)(\.\d+)?`, which every reader of JSON takes; other numbers go as text.
fn is_json_number(field: &[u8]) -> bool {
    let digits = field.strip_prefix(b"-").unwrap_or(field);
    let point = digits.iter().position(|b| *b == b'.');
    let (whole, part) = match point {
        Some(at) => (&digits[..at], Some(&digits[at + 1..])),
        None => (digits, None),
    };
    let all_digits = |text: &[u8]| !text.is_empty() && text.iter().all(u8::is_ascii_digit);
    let one_zero = whole.len() == 1 || whole.first() != Some(&b'0');
    all_digits(whole) && one_zero && part.is_none_or(all_digits)
}

fn write_json_text(out: &mut Vec<u8>, text: &str) {
    out.push(b'"');
    for c in text.chars() {
        match c {
            '"' => out.extend_from_slice(b"\\\""),
            '\\' => out.extend_from_slice(b"\\\\"),
            c if u32::from(c) < 0x20 => {
                out.extend_from_slice(format!("\\u{:04x}", u32::from(c)).as_bytes());
            }
            c => out.extend_from_slice(c.encode_utf8(&mut [0; 4]).as_bytes()),
        }
    }
    out.push(b'"');
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn json_numbers_and_texts() {
        let json = |field: &str| {
            let mut out = Vec::new();
            write_json_carried(&mut out, field.as_bytes());
            String::from_utf8(out).expect("text")
        };
        for number in ["0", "-1", "12.50", "0.001", "100"] {
            assert_eq!(json(number), number);
        }
        for text in ["", "-", "01", "1.", ".5", "+1", "1e5", "NaN", "08:30:00"] {
            assert_eq!(json(text), format!("\"{text}\""));
        }
        assert_eq!(json("\"say \"\"hi\"\"\""), "\"say \\\"hi\\\"\"");
        assert_eq!(json("a\\b\u{1}"), "\"a\\\\b\\u0001\"");
    }
}
