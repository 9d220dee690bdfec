//! Lines of a file of points, and the fields of a line.

use holdline_geom::fault::Fault;

use crate::text::FileFaults;

/// A field and the byte offset where it starts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cell {
    /// Its text, without quotation marks.
    pub text: String,
    /// Where it starts in the file.
    pub offset: usize,
}

/// The lines that say something: line number from 1, byte offset, text.
/// Empty lines, rows of empty cells as a spreadsheet leaves them, and lines that start with `#` are passed over.
pub fn lines(text: &str) -> impl Iterator<Item = (usize, usize, &str)> {
    let mut offset = 0;
    text.split('\n')
        .enumerate()
        .map(move |(idx, line)| {
            let at = offset;
            offset += line.len() + 1;
            (idx + 1, at, line.strip_suffix('\r').unwrap_or(line))
        })
        .filter(|(_, _, line)| !is_empty(line) && !line.starts_with('#'))
}

fn is_empty(line: &str) -> bool {
    line.chars()
        .all(|c| c.is_whitespace() || matches!(c, ',' | ';'))
}

/// What stands between fields: tab, semicolon or comma, whichever the first line has most of.
pub fn separator(text: &str) -> char {
    let header = lines(text).next().map_or("", |(_, _, line)| line);
    let count = |separator: char| header.matches(separator).count();
    let most = ['\t', ';', ','].into_iter().max_by_key(|s| count(*s));
    most.filter(|s| 0 < count(*s)).unwrap_or(',')
}

/// The fields of a line. A field may stand in quotation marks; two of them inside stand for one.
/// `None` where a quotation mark is not closed on the line; the fault is noted.
pub fn split(
    faults: &mut FileFaults<'_>,
    offset: usize,
    line: &str,
    separator: char,
) -> Option<Vec<Cell>> {
    let mut cells = Vec::new();
    let mut rest = line;
    loop {
        let start = offset + (line.len() - rest.len());
        let trimmed = rest.trim_start_matches(' ');
        let (text, after) = if let Some(inside) = trimmed.strip_prefix('"') {
            let Some((text, after)) = quoted_field(inside) else {
                let fault = Fault::new(
                    "F039",
                    "",
                    "a quotation mark that is not closed on its line",
                    "one before and one after the text",
                    "close it; write two of them for one inside the text",
                );
                faults.push(start, fault);
                return None;
            };
            // What stands between the closing mark and the separator is kept, so that nothing is lost unseen.
            let end = after.find(separator).unwrap_or(after.len());
            (text + after[..end].trim(), &after[end..])
        } else {
            let end = rest.find(separator).unwrap_or(rest.len());
            (rest[..end].trim().to_owned(), &rest[end..])
        };
        cells.push(Cell {
            text,
            offset: start,
        });
        match after.strip_prefix(separator) {
            Some(more) => rest = more,
            None => return Some(cells),
        }
    }
}

fn quoted_field(inside: &str) -> Option<(String, &str)> {
    let mut text = String::new();
    let mut rest = inside;
    loop {
        let end = rest.find('"')?;
        text.push_str(&rest[..end]);
        rest = &rest[end + 1..];
        match rest.strip_prefix('"') {
            Some(more) => {
                text.push('"');
                rest = more;
            }
            None => return Some((text, rest)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::text::Lines;

    #[track_caller]
    fn check(line: &str, want: &[&str]) {
        let lines = Lines::of(line);
        let mut faults = FileFaults::none("a.csv", &lines);
        let cells = split(&mut faults, 0, line, ',').expect("closed");
        assert_eq!(
            cells.iter().map(|c| c.text.as_str()).collect::<Vec<_>>(),
            want
        );
    }

    #[test]
    fn fields_of_a_line() {
        check("a,b,c", &["a", "b", "c"]);
        check("", &[""]);
        check("a,,", &["a", "", ""]);
        check(
            " a , \"b, c\" ,\"say \"\"so\"\"\"",
            &["a", "b, c", "say \"so\""],
        );
    }

    #[test]
    fn a_mark_left_open_is_a_fault() {
        let lines = Lines::of("a,\"b");
        let mut faults = FileFaults::none("a.csv", &lines);
        assert_eq!(split(&mut faults, 0, "a,\"b", ','), None);
        assert_eq!(
            faults.into_faults().to_string(),
            "fault F039 at a.csv:1:3\n  got   a quotation mark that is not closed on its line\n  want  one before and one after the text\n  fix   close it; write two of them for one inside the text"
        );
    }

    #[test]
    fn lines_that_say_something() {
        let numbers: Vec<usize> = lines("# note\r\n;;\na;b\n1;2\n,,\n")
            .map(|(n, _, _)| n)
            .collect();
        assert_eq!(numbers, [3, 4]);
        assert_eq!(separator("# a,b,c,d\na;b\n"), ';');
    }
}
