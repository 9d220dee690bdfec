//! Sources of formulas: every one used, every link to one leading somewhere.

use std::collections::BTreeMap;

use super::Remark;
use super::lexer;
use crate::tree::TextFile;

/// The mark of a value without its source in hand, in two parts so that this file holds none.
const MARK: (&str, &str) = ("from mem", "ory");

/// A source by its item's name, with where it stands.
type Items = BTreeMap<String, (String, usize)>;

/// Sources nobody uses, and names of sources that do not exist.
pub fn look_at(files: &[TextFile]) -> Vec<Remark> {
    let items = items(files);
    let mut used: BTreeMap<&str, bool> = items.keys().map(|name| (name.as_str(), false)).collect();
    let mut remarks = Vec::new();
    for file in files.iter().filter(|file| reads_sources(file)) {
        for (idx, line) in file.text.lines().enumerate() {
            for name in names_in(line) {
                match used.get_mut(name) {
                    Some(seen) => *seen = true,
                    None => {
                        let says = format!("no source `{name}` in any sources.rs");
                        remarks.push(Remark::fails(&file.path, idx + 1, says));
                    }
                }
            }
        }
    }
    for (name, seen) in used {
        if !seen {
            let (path, line) = &items[name];
            let says = format!(
                "nobody uses the source `{name}`; link it where it is used, or take it out"
            );
            remarks.push(Remark::fails(path, *line, says));
        }
    }
    remarks
}

/// How many times a text says that it has a value without the source in hand.
pub fn from_memory(files: &[TextFile]) -> usize {
    let mark = format!("{}{}", MARK.0, MARK.1);
    let kept = files.iter().filter(|file| {
        matches!(file.ending(), "rs" | "md" | "toml" | "json") && !file.path.starts_with("xtask/")
    });
    kept.map(|file| file.text.matches(&mark).count()).sum()
}

fn reads_sources(file: &TextFile) -> bool {
    let code = file.ending() == "rs" && !file.path.starts_with("xtask/");
    code && !is_list(&file.path)
}

fn is_list(path: &str) -> bool {
    path.starts_with("crates/") && path.ends_with("/src/sources.rs")
}

/// All public constants of all `sources.rs`, their tests left out.
fn items(files: &[TextFile]) -> Items {
    let mut items = Items::new();
    for file in files.iter().filter(|file| is_list(&file.path)) {
        let source = lexer::split(file);
        for (number, line) in source.product_lines() {
            let Some(rest) = line.trim_start().strip_prefix("pub const ") else {
                continue;
            };
            let name = rest.split(':').next().unwrap_or_default().trim();
            let list = rest.contains("&[") || rest.contains("[&") || rest.contains("[Source");
            if !name.is_empty() && !list {
                items.insert(name.to_owned(), (file.path.clone(), number));
            }
        }
    }
    items
}

/// Names that follow `sources::` in a line and look like an item.
fn names_in(line: &str) -> Vec<&str> {
    let mut names = Vec::new();
    for (at, path) in line.match_indices("sources::") {
        let rest = &line[at + path.len()..];
        let end = rest
            .find(|c: char| !(c.is_ascii_uppercase() || c.is_ascii_digit() || c == '_'))
            .unwrap_or(rest.len());
        let whole = !rest[end..].starts_with(|c: char| c.is_ascii_lowercase());
        if end > 1 && whole {
            names.push(&rest[..end]);
        }
    }
    names
}

#[cfg(test)]
mod tests {
    use super::*;

    fn remarks(list: &str, code: &str) -> Vec<String> {
        let files = [
            TextFile {
                path: "crates/holdline/src/sources.rs".to_owned(),
                text: list.to_owned(),
            },
            TextFile {
                path: "crates/holdline/src/machine/pins.rs".to_owned(),
                text: code.to_owned(),
            },
        ];
        look_at(&files).iter().map(Remark::to_string).collect()
    }

    #[test]
    fn a_source_nobody_uses_is_named() {
        let list = "/// A book.\npub const BOOK: Source = Source {};\n";
        assert_eq!(
            remarks(list, ""),
            [
                "crates/holdline/src/sources.rs:2: nobody uses the source `BOOK`; link it where it is used, or take it out"
            ]
        );
        assert!(
            remarks(
                list,
                "/// - Source: [`sources::BOOK`](crate::sources::BOOK)"
            )
            .is_empty()
        );
    }

    #[test]
    fn a_link_that_leads_nowhere_is_named() {
        assert_eq!(remarks("", "/// [`crate::sources::NOWHERE`]").len(), 1);
        assert_eq!(remarks("", "use crate::sources::Source;").len(), 0);
    }

    #[test]
    fn marks_are_counted_outside_this_tool() {
        let text = format!("one {0}{1}, two {0}{1}", MARK.0, MARK.1);
        let file = |path: &str| TextFile {
            path: path.to_owned(),
            text: text.clone(),
        };
        assert_eq!(from_memory(&[file("docs/a.md"), file("xtask/src/b.rs")]), 2);
    }
}
