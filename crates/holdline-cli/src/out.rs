//! What goes to the person: words on standard output, faults on standard error, JSON when asked.

use holdline_geom::fault::Faults;
use holdline_steps::views::FaultsView;
use serde::Serialize;
use std::io::{self, Write};

/// Prints one JSON object.
///
/// # Errors
///
/// When standard output cannot be written.
pub fn json<T: Serialize>(value: &T) -> io::Result<()> {
    let mut out = io::stdout().lock();
    serde_json::to_writer_pretty(&mut out, value)?;
    writeln!(out)
}

/// Prints faults on standard error; with `as_json` the same as one object on standard output.
///
/// # Errors
///
/// When standard output cannot be written.
pub fn faults(faults: &Faults, as_json: bool) -> io::Result<()> {
    if as_json {
        return json(&FaultsView::from(faults));
    }
    eprintln!("{faults}");
    if let Some(first) = faults.0.first() {
        eprintln!(
            "\n{} in all; `holdline explain {}` tells more",
            count(faults.0.len(), "fault"),
            first.code
        );
    }
    Ok(())
}

/// `3 faults`, `1 fault`.
pub fn count(n: usize, what: &str) -> String {
    if n == 1 {
        format!("1 {what}")
    } else {
        format!("{n} {what}s")
    }
}

/// A table of words: columns padded, two spaces between, no rules.
pub fn table(rows: &[Vec<String>]) -> String {
    let n_columns = rows.iter().map(Vec::len).max().unwrap_or(0);
    let width = |c: usize| {
        rows.iter()
            .filter_map(|r| r.get(c))
            .map(|s| s.chars().count())
            .max()
            .unwrap_or(0)
    };
    let widths: Vec<usize> = (0..n_columns).map(width).collect();
    let mut text = String::new();
    for row in rows {
        let mut line = String::new();
        for (c, cell) in row.iter().enumerate() {
            line.push_str(cell);
            line.push_str(&" ".repeat(widths[c] - cell.chars().count() + 2));
        }
        text.push_str(line.trim_end());
        text.push('\n');
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_table_lines_up() {
        let rows = [["a", "bb", "c"], ["dddd", "e", ""]];
        let rows: Vec<Vec<String>> = rows
            .iter()
            .map(|r| r.iter().map(ToString::to_string).collect())
            .collect();
        assert_eq!(table(&rows), "a     bb  c\ndddd  e\n");
    }

    #[test]
    fn counts_have_their_plural() {
        assert_eq!(
            (count(1, "fault"), count(0, "fault")),
            ("1 fault".to_owned(), "0 faults".to_owned())
        );
    }
}
