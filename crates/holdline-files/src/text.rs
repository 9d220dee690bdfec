//! From bytes to text, and from a place in the text to line and column.
//!
//! Every reader of text files starts here, so that a file that is not text at all is refused
//! in the same words whatever it was meant to be.

use holdline_geom::fault::{Fault, Faults, Place};

/// Largest text document read, bytes.
pub const LARGEST_BYTES: usize = 4 << 20;

/// Largest machine sheet read, bytes; one in use has some ten thousand.
/// A larger text of nothing but faults would take gigabytes to tell.
pub const LARGEST_SHEET_BYTES: usize = 256 << 10;

/// Most faults told at once; the rest are counted.
pub const MOST_FAULTS: usize = 100;

/// The text of a file, without a byte order mark, or the fault that says what it is instead.
///
/// # Errors
///
/// F001 to F005: not UTF-8, UTF-16, binary, empty, too large.
pub fn text_of<'a>(file: &str, bytes: &'a [u8]) -> Result<&'a str, Fault> {
    check_size(file, bytes.len(), LARGEST_BYTES)?;
    if bytes.starts_with(&[0xFF, 0xFE]) || bytes.starts_with(&[0xFE, 0xFF]) || looks_utf16(bytes) {
        return Err(whole_file(
            "F002",
            file,
            "text in UTF-16, two bytes a character",
            "text in UTF-8",
            "save it again and choose UTF-8 as the encoding",
        ));
    }
    if let Some(idx) = bytes.iter().position(|b| *b == 0) {
        return Err(whole_file(
            "F003",
            file,
            format!("a zero byte at byte {}: this is not a text file", idx + 1),
            "plain text in UTF-8",
            "pick the right file; a spreadsheet or drawing must be exported as text first",
        ));
    }
    let bytes = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes);
    let text = std::str::from_utf8(bytes).map_err(|e| not_utf8(file, bytes, e.valid_up_to()))?;
    if text.trim().is_empty() {
        return Err(whole_file(
            "F004",
            file,
            "an empty file",
            "a document",
            "pick the right file, or copy it again: the copy may have failed",
        ));
    }
    Ok(text)
}

/// Refuses what is larger than any document of its kind.
///
/// # Errors
///
/// F005.
pub fn check_size(file: &str, n_bytes: usize, most: usize) -> Result<(), Fault> {
    if n_bytes <= most {
        return Ok(());
    }
    Err(whole_file(
        "F005",
        file,
        format!("{n_bytes} bytes"),
        format!("{most} bytes at most"),
        "pick the right file; no document of this kind is so large",
    ))
}

/// Text of mostly Latin letters in UTF-16 without a mark: every second byte is zero.
fn looks_utf16(bytes: &[u8]) -> bool {
    let head = &bytes[..bytes.len().min(64)];
    let (pairs, rest) = head.as_chunks::<2>();
    let low = pairs.iter().all(|p| p[0] != 0 && p[1] == 0);
    let high = pairs.iter().all(|p| p[0] == 0 && p[1] != 0);
    4 <= pairs.len() && rest.len() <= 1 && (low || high)
}

fn not_utf8(file: &str, bytes: &[u8], valid_up_to: usize) -> Fault {
    // The part before the bad byte is text, so line and column can be counted in it.
    let before = std::str::from_utf8(&bytes[..valid_up_to]).unwrap_or("");
    let mut fault = Fault::new(
        "F001",
        "",
        format!(
            "byte 0x{:02X}, which is not UTF-8",
            bytes.get(valid_up_to).unwrap_or(&0)
        ),
        "plain text in UTF-8",
        "save it again and choose UTF-8 as the encoding; or the file is damaged or not text",
    );
    fault.place = Some(Lines::of(before).place(file, valid_up_to));
    fault
}

fn whole_file(
    code: &'static str,
    file: &str,
    got: impl Into<String>,
    want: impl Into<String>,
    fix: impl Into<String>,
) -> Fault {
    let mut fault = Fault::new(code, "", got, want, fix);
    fault.place = Some(Place {
        file: file.to_owned(),
        line: 1,
        column: 1,
    });
    fault
}

/// Where the lines of a text begin.
#[derive(Debug)]
pub struct Lines<'a> {
    text: &'a str,
    starts: Vec<usize>,
}

impl<'a> Lines<'a> {
    /// Finds the lines of a text.
    pub fn of(text: &'a str) -> Lines<'a> {
        let mut starts = vec![0];
        starts.extend(
            text.bytes()
                .enumerate()
                .filter(|(_, b)| *b == b'\n')
                .map(|(i, _)| i + 1),
        );
        Lines { text, starts }
    }

    /// Line and column of a byte offset; both from 1, columns in characters.
    pub fn place(&self, file: &str, offset: usize) -> Place {
        let offset = offset.min(self.text.len());
        let line = self.starts.partition_point(|s| *s <= offset).max(1);
        let start = self.starts[line - 1];
        let before = self.text.get(start..offset).unwrap_or("");
        Place {
            file: file.to_owned(),
            line,
            column: before.chars().count() + 1,
        }
    }
}

/// Faults of one file as they are found, with their places, up to [`MOST_FAULTS`].
#[derive(Debug)]
pub struct FileFaults<'a> {
    file: &'a str,
    lines: &'a Lines<'a>,
    found: Vec<Fault>,
    n_more: usize,
}

impl<'a> FileFaults<'a> {
    /// None yet.
    pub fn none(file: &'a str, lines: &'a Lines<'a>) -> FileFaults<'a> {
        FileFaults {
            file,
            lines,
            found: Vec::new(),
            n_more: 0,
        }
    }

    /// Notes a fault at a byte offset of the text.
    pub fn push(&mut self, offset: usize, mut fault: Fault) {
        if MOST_FAULTS <= self.found.len() {
            self.n_more += 1;
            return;
        }
        fault.place = Some(self.lines.place(self.file, offset));
        self.found.push(fault);
    }

    /// Notes a last line without a line end: its last number may have lost digits, and nothing else would show it.
    pub fn check_last_line(&mut self, text: &str) {
        if text.ends_with('\n') {
            return;
        }
        let fault = Fault::new(
            "F018",
            "",
            "a last line without a line end",
            "a whole file",
            "copy the file again: it may have been cut short; if it is whole, add an empty line at its end",
        );
        self.push(text.len(), fault);
    }

    /// The line of a byte offset, from 1.
    pub fn line_of(&self, offset: usize) -> usize {
        self.lines.place(self.file, offset).line
    }

    /// True when nothing is wrong so far.
    pub fn is_empty(&self) -> bool {
        self.found.is_empty()
    }

    /// How many there are so far.
    pub fn count(&self) -> usize {
        self.found.len() + self.n_more
    }

    /// Keeps only the faults that `keep` accepts.
    pub fn retain(&mut self, keep: impl FnMut(&Fault) -> bool) {
        self.found.retain(keep);
    }

    /// The faults in the order of the file; where there are too many, the last one counts the rest.
    pub fn into_faults(self) -> Faults {
        let mut found = self.found;
        found.sort_by_key(|f| f.place.as_ref().map(|p| (p.line, p.column)));
        if 0 < self.n_more {
            let mut rest = rest(self.n_more, String::new());
            rest.place = found.last().and_then(|f| f.place.clone());
            found.push(rest);
        }
        Faults(found)
    }
}

/// As many faults as are told at once; where there are more, the last one counts the rest.
pub fn not_too_many(mut faults: Vec<Fault>) -> Faults {
    let n_more = faults.len().saturating_sub(MOST_FAULTS);
    faults.truncate(MOST_FAULTS);
    if 0 < n_more {
        let at = faults.last().map_or(String::new(), |f| f.at.clone());
        faults.push(rest(n_more, at));
    }
    Faults(faults)
}

fn rest(n_more: usize, at: String) -> Fault {
    let got = format!("{n_more} more faults");
    let fix = "correct those above first, then read the file again";
    Fault::new("F022", at, got, "none", fix)
}

/// The known word nearest to `word`, if one is near enough to be meant.
pub fn nearest<'k>(word: &str, known: impl IntoIterator<Item = &'k str>) -> Option<&'k str> {
    if 40 < word.len() {
        return None;
    }
    let allowed = (word.chars().count() / 3).clamp(1, 4);
    known
        .into_iter()
        .map(|k| (steps_between(word, k), k))
        .filter(|(steps, _)| *steps <= allowed)
        .min_by_key(|(steps, _)| *steps)
        .map(|(_, k)| k)
}

/// Least number of single changes, a swap of neighbours counting as one, that turn one word into the other.
fn steps_between(a: &str, b: &str) -> usize {
    let a: Vec<char> = a.chars().flat_map(char::to_lowercase).collect();
    let b: Vec<char> = b.chars().flat_map(char::to_lowercase).collect();
    let mut rows: Vec<Vec<usize>> = vec![(0..=b.len()).collect()];
    for i in 1..=a.len() {
        let mut row = vec![i];
        for j in 1..=b.len() {
            let change = usize::from(a[i - 1] != b[j - 1]);
            let mut best = (rows[i - 1][j] + 1)
                .min(row[j - 1] + 1)
                .min(rows[i - 1][j - 1] + change);
            if 1 < i && 1 < j && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1] {
                best = best.min(rows[i - 2][j - 2] + 1);
            }
            row.push(best);
        }
        rows.push(row);
    }
    rows[a.len()][b.len()]
}

/// A word from a file as it may be repeated in a message: short, and without control characters.
pub fn quoted(word: &str) -> String {
    let shown: String = word
        .chars()
        .take(60)
        .map(|c| if c.is_control() { '·' } else { c })
        .collect();
    let more = if word.chars().nth(60).is_some() {
        "…"
    } else {
        ""
    };
    format!("\"{shown}{more}\"")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(bytes: &[u8], want: &str) {
        assert_eq!(text_of("a.toml", bytes).unwrap_err().to_string(), want);
    }

    #[test]
    fn what_is_not_text_is_named() {
        check(
            b"\xFF\xFEf\0o\0",
            "fault F002 at a.toml:1:1\n  got   text in UTF-16, two bytes a character\n  want  text in UTF-8\n  fix   save it again and choose UTF-8 as the encoding",
        );
        check(
            b"f\0o\0r\0m\0a\0t\0",
            "fault F002 at a.toml:1:1\n  got   text in UTF-16, two bytes a character\n  want  text in UTF-8\n  fix   save it again and choose UTF-8 as the encoding",
        );
        check(
            b"PK\x03\x04\0\0\0",
            "fault F003 at a.toml:1:1\n  got   a zero byte at byte 5: this is not a text file\n  want  plain text in UTF-8\n  fix   pick the right file; a spreadsheet or drawing must be exported as text first",
        );
        check(
            b"\xEF\xBB\xBF  \r\n",
            "fault F004 at a.toml:1:1\n  got   an empty file\n  want  a document\n  fix   pick the right file, or copy it again: the copy may have failed",
        );
        check(
            "a\nbü\u{e9}".as_bytes().split_last().unwrap().1,
            "fault F001 at a.toml:2:3\n  got   byte 0xC3, which is not UTF-8\n  want  plain text in UTF-8\n  fix   save it again and choose UTF-8 as the encoding; or the file is damaged or not text",
        );
        check(
            &vec![b' '; LARGEST_BYTES + 1],
            "fault F005 at a.toml:1:1\n  got   4194305 bytes\n  want  4194304 bytes at most\n  fix   pick the right file; no document of this kind is so large",
        );
    }

    #[test]
    fn places_count_characters_from_one() {
        let text = "ab\r\nüx\n";
        let lines = Lines::of(text);
        let place = |at: usize| (lines.place("f", at).line, lines.place("f", at).column);
        assert_eq!(place(0), (1, 1));
        assert_eq!(place(4), (2, 1));
        assert_eq!(place(6), (2, 2)); // after the two bytes of ü
        assert_eq!(place(99), (3, 1));
    }

    #[test]
    fn the_nearest_word_is_near() {
        assert_eq!(nearest("lenght", ["width", "length"]), Some("length"));
        assert_eq!(nearest("Length", ["width", "length"]), Some("length"));
        assert_eq!(nearest("colour", ["width", "length"]), None);
        assert_eq!(nearest("id", ["at", "in"]), Some("in"));
    }
}
