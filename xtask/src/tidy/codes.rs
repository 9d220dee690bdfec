//! Every fault that can be given has its long story, once: `holdline explain CODE`.

use std::collections::BTreeMap;

use super::Remark;
use super::lexer::{self, Source};
use crate::tree::TextFile;

/// What stands before the code where a fault is made.
const MADE_BY: [&str; 2] = ["Fault::new(", "code: "];

/// Codes without a story, and codes with two.
pub fn look_at(files: &[TextFile]) -> Vec<Remark> {
    let mut told: BTreeMap<String, String> = BTreeMap::new();
    let mut made = Vec::new();
    let mut remarks = Vec::new();
    for file in files.iter().filter(|file| is_product(file)) {
        let source = lexer::split(file);
        for (line, code) in told_in(&source) {
            let at = format!("{}:{line}", file.path);
            if let Some(before) = told.insert(code.clone(), at) {
                let says = format!("{code} has a story already, at {before}");
                remarks.push(Remark::fails(&file.path, line, says));
            }
        }
        made.extend(made_in(&source).into_iter().map(|found| (file, found)));
    }
    for (file, (line, code)) in made {
        if !told.contains_key(&code) {
            let says = format!("{code} has no story for `holdline explain`; write it");
            remarks.push(Remark::fails(&file.path, line, says));
        }
    }
    remarks
}

fn is_product(file: &TextFile) -> bool {
    file.ending() == "rs" && file.path.starts_with("crates/") && file.path.contains("/src/")
}

/// Codes that open a pair in a list of stories: `("CODE", "text")`.
fn told_in(source: &Source) -> Vec<(usize, String)> {
    codes(source, |before| {
        let call = |c: char| c.is_alphanumeric() || c == '_' || c == '!';
        before
            .strip_suffix('(')
            .is_some_and(|rest| !rest.ends_with(call))
    })
}

/// Codes of faults that are made.
fn made_in(source: &Source) -> Vec<(usize, String)> {
    codes(source, |before| {
        MADE_BY.iter().any(|made| before.ends_with(made.trim_end()))
    })
}

/// Codes in strings outside tests, by what stands before them, line breaks left out.
fn codes(source: &Source, wanted: impl Fn(&str) -> bool) -> Vec<(usize, String)> {
    let mut found = Vec::new();
    let mut before = String::new();
    for (idx, line) in source.lines.iter().enumerate() {
        if source.test[idx] || line.trim_start().starts_with("//") {
            continue;
        }
        for (at, _) in line.match_indices('"') {
            let Some(code) = line.get(at + 1..at + 5) else {
                continue;
            };
            let closed = line[at + 5..].starts_with('"');
            let start = format!("{before}{}", line[..at].trim());
            if closed && is_code(code) && wanted(start.trim_end()) {
                found.push((idx + 1, code.to_owned()));
            }
        }
        before = line.trim().to_owned();
    }
    found
}

/// A letter and three digits.
fn is_code(word: &str) -> bool {
    let mut chars = word.chars();
    chars.next().is_some_and(|c| c.is_ascii_uppercase()) && chars.all(|c| c.is_ascii_digit())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn remarks(code: &str, story: &str) -> Vec<String> {
        let file = |path: &str, text: &str| TextFile {
            path: path.to_owned(),
            text: text.to_owned(),
        };
        let files = [
            file("crates/x/src/a.rs", code),
            file("crates/x/src/explain.rs", story),
        ];
        look_at(&files).iter().map(Remark::to_string).collect()
    }

    #[test]
    fn a_code_without_a_story_is_named() {
        for code in [
            "Fault::new(\"T041\", at)",
            "Fault::new(\n    \"T041\",\n    at,\n)",
            "Span {\n    code: \"T041\",\n}",
        ] {
            assert_eq!(remarks(code, "").len(), 1, "{code}");
            assert!(
                remarks(code, "&[(\"T041\", \"long\")]").is_empty(),
                "{code}"
            );
            assert!(
                remarks(code, "&[(\n    \"T041\",\n    \"long\",\n)]").is_empty(),
                "{code}"
            );
        }
    }

    #[test]
    fn two_stories_for_one_code_are_one_too_many() {
        assert_eq!(
            remarks("", "&[(\"T041\", \"a\"), (\"T041\", \"b\")]").len(),
            1
        );
    }

    #[test]
    fn other_words_are_no_codes() {
        assert!(remarks("let bucket = \"G180\";", "").is_empty());
        assert!(remarks("#[cfg(test)]\nmod t { f(Fault::new(\"T041\")); }", "").is_empty());
    }
}
