//! A file is one idea, and a line fits the screen.

use super::Remark;
use super::lexer::Source;
use crate::tree::TextFile;

/// Past this, look for the second idea.
const LOOK: usize = 600;

/// Past this, there is a second idea.
const MOST: usize = 800;

/// The same for a file of tests, whose ideas stand side by side.
const MOST_TESTS: usize = 1200;

/// Columns of a line.
const COLUMNS: usize = 100;

/// Columns of a line that is all comment: one sentence a line may need a few more.
const COMMENT_COLUMNS: usize = 120;

/// Endings of sources that people read.
const SOURCES: &[&str] = &["rs", "ts", "svelte", "css"];

/// Files that grew too long.
pub fn length(file: &TextFile) -> Option<Remark> {
    let n_lines = file.text.lines().count();
    if !SOURCES.contains(&file.ending()) || n_lines <= LOOK {
        return None;
    }
    let tests = file.path.contains("/tests/") || file.path.ends_with("tests.rs");
    let most = if tests { MOST_TESTS } else { MOST };
    Some(if n_lines > most {
        let says = format!("{n_lines} lines; lift the second idea out into a sister file");
        Remark::fails(&file.path, n_lines, says)
    } else {
        let says = format!("{n_lines} lines; is there a second idea in it?");
        Remark::warns(&file.path, n_lines, says)
    })
}

/// Lines wider than the screen, unless a string or a link makes them so.
pub fn width(source: &Source) -> Vec<Remark> {
    let wide = source.lines.iter().enumerate().filter(|(idx, line)| {
        let columns = line.chars().count();
        let fit = if line.trim_start().starts_with("//") {
            COMMENT_COLUMNS
        } else {
            COLUMNS
        };
        // A row of a table cannot be broken.
        let row = source.comments[*idx].contains("| ");
        columns > fit && !row && !line.contains("://") && !held_by_string(source, *idx, columns)
    });
    wide.map(|(idx, line)| {
        let says = format!(
            "{} columns; {COLUMNS} fit, {COMMENT_COLUMNS} in a comment",
            line.chars().count()
        );
        Remark::fails(&source.path, idx + 1, says)
    })
    .collect()
}

/// Whether the line would fit without what stands in its strings.
fn held_by_string(source: &Source, idx: usize, columns: usize) -> bool {
    let seen = |line: &str| line.chars().filter(|c| !c.is_whitespace()).count();
    let hidden = seen(&source.lines[idx])
        .saturating_sub(seen(&source.code[idx]))
        .saturating_sub(seen(&source.comments[idx]));
    columns.saturating_sub(hidden) <= COLUMNS
}

#[cfg(test)]
mod tests {
    use super::super::lexer::split;
    use super::*;
    use crate::tidy::Weight;

    fn file(text: String) -> TextFile {
        TextFile {
            path: "crates/x/src/y.rs".to_owned(),
            text,
        }
    }

    #[test]
    fn long_files_warn_and_longer_ones_fail() {
        assert_eq!(length(&file("\n".repeat(600))), None);
        let weight = |n: usize| length(&file("\n".repeat(n))).map(|remark| remark.weight);
        assert_eq!(weight(601), Some(Weight::Warns));
        assert_eq!(weight(801), Some(Weight::Fails));
    }

    #[test]
    fn wide_lines_fail_unless_a_string_makes_them_so() {
        let comment = format!("// {}", "word ".repeat(24));
        assert_eq!(width(&split(&file(comment))).len(), 1);
        let string = format!("let a = \"{}\";", "word".repeat(30));
        assert_eq!(width(&split(&file(string))).len(), 0);
        let table = format!("/// {}", "é".repeat(96));
        assert_eq!(width(&split(&file(table))).len(), 0);
    }
}
