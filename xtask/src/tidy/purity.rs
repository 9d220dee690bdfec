//! The pure crates read no file, no clock, no environment and no random source, and print nothing.

use super::lexer::Source;
use super::{PURE, Remark, paths};

/// Starts of paths that reach outside, and what to do instead.
const OUTSIDE: &[(&[&str], &str)] = &[
    (
        &["std", "fs"],
        "files belong to the edges; hand the bytes in",
    ),
    (
        &["std", "env"],
        "settings belong to the edges; hand the value in",
    ),
    (
        &["std", "time"],
        "clocks belong to the edges; hand the time in",
    ),
    (&["std", "net"], "the network belongs to the edges"),
    (
        &["std", "process"],
        "processes belong to the edges; return a fault",
    ),
    (
        &["std", "thread"],
        "threads belong to the edges; offer a piece of work that can be shared out",
    ),
    (
        &["std", "io", "stdin"],
        "reading belongs to the edges; hand the bytes in",
    ),
    (
        &["std", "io", "stdout"],
        "writing belongs to the edges; return the value",
    ),
    (
        &["std", "io", "stderr"],
        "writing belongs to the edges; return the value",
    ),
    (&["rand"], "chance belongs to the edges; hand a seed in"),
    (
        &["getrandom"],
        "chance belongs to the edges; hand a seed in",
    ),
    (
        &["std", "hash", "RandomState"],
        "its order is random; use BTreeMap",
    ),
    (
        &["std", "collections", "HashMap"],
        "its order is random; use BTreeMap",
    ),
    (
        &["std", "collections", "HashSet"],
        "its order is random; use BTreeSet",
    ),
];

/// Macros that print.
const PRINTS: &[&str] = &["println!", "eprintln!", "print!", "eprint!"];

/// What reaches outside in a pure crate, its tests left out.
pub fn look_at(source: &Source) -> Vec<Remark> {
    let pure = PURE.iter().find(|pure| source.path.starts_with(pure.src));
    if pure.is_none() || !source.path.contains("/src/") {
        return Vec::new();
    }
    let mut remarks = Vec::new();
    for path in paths::named(source) {
        if source.test[path.line - 1] {
            continue;
        }
        if let Some((reached, instead)) = OUTSIDE.iter().find(|(start, _)| {
            path.words.len() >= start.len() && path.words.iter().zip(*start).all(|(a, b)| a == b)
        }) {
            let says = format!("a pure crate may not use {}: {instead}", reached.join("::"));
            remarks.push(Remark::fails(&source.path, path.line, says));
        }
    }
    for (number, line) in source.product_lines() {
        if let Some(print) = PRINTS.iter().find(|print| starts_word(line, print)) {
            let says = format!("a pure crate may not print ({print}); return the value");
            remarks.push(Remark::fails(&source.path, number, says));
        }
    }
    remarks
}

/// Whether `word` stands in the line and no longer word ends in it.
fn starts_word(line: &str, word: &str) -> bool {
    line.match_indices(word).any(|(at, _)| {
        let before = line[..at].chars().next_back();
        !before.is_some_and(|c| c.is_alphanumeric() || c == '_')
    })
}

#[cfg(test)]
mod tests {
    use super::super::lexer::split;
    use super::*;
    use crate::tree::TextFile;

    fn count(path: &str, text: &str) -> usize {
        let file = TextFile {
            path: path.to_owned(),
            text: text.to_owned(),
        };
        look_at(&split(&file)).len()
    }

    const TOOTH: &str = "crates/holdline/src/tooth/chain.rs";

    #[test]
    fn what_reaches_outside_is_named() {
        for bad in [
            "use std::fs;",
            "use std::{fmt, fs::File};",
            "let t = std::time::Instant::now();",
            "use std::collections::{BTreeMap, HashMap};",
            "fn f() { println!(\"x\"); }",
            "let r = rand::random::<f64>();",
        ] {
            assert_eq!(count(TOOTH, bad), 1, "{bad}");
        }
    }

    #[test]
    fn the_edges_and_tests_may() {
        assert_eq!(count("crates/holdline-files/src/a.rs", "use std::fs;"), 0);
        assert_eq!(count("crates/holdline/tests/laws.rs", "use std::fs;"), 0);
        assert_eq!(
            count(TOOTH, "#[cfg(test)]\nmod tests {\n use std::fs;\n}\n"),
            0
        );
        assert_eq!(count(TOOTH, "// use std::fs;\nuse std::fmt;"), 0);
    }
}
