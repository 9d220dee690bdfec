//! Splits a Rust source into code and comments, and marks the parts that are tests.
//!
//! Strings and comments are blanked out of the code, so that a rule never trips over a word in them.

use crate::tree::TextFile;

/// A Rust source, split.
pub struct Source {
    /// Path from the top of the project.
    pub path: String,
    /// Lines as written.
    pub lines: Vec<String>,
    /// Lines of code alone: comments and what stands in strings are spaces.
    pub code: Vec<String>,
    /// Lines of comments alone.
    pub comments: Vec<String>,
    /// For each line, whether it is part of a test.
    pub test: Vec<bool>,
}

impl Source {
    /// Every line of code outside tests, with its number from 1.
    pub fn product_lines(&self) -> impl Iterator<Item = (usize, &str)> {
        let all = self.code.iter().zip(&self.test).enumerate();
        all.filter(|(_, (_, test))| !**test)
            .map(|(idx, (line, _))| (idx + 1, line.as_str()))
    }
}

/// What the splitter is inside of.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Inside {
    Code,
    LineComment,
    BlockComment(usize),
    Text,
    RawText(usize),
}

/// Splits one file.
pub fn split(file: &TextFile) -> Source {
    let chars: Vec<char> = file.text.chars().collect();
    let mut code = String::with_capacity(chars.len());
    let mut comments = String::with_capacity(chars.len());
    let mut inside = Inside::Code;
    let mut idx = 0;
    while idx < chars.len() {
        let (next, taken) = step(inside, &chars[idx..], word_before(&chars, idx));
        for &c in &chars[idx..idx + taken] {
            let comment = matches!(
                (inside, next),
                (Inside::LineComment | Inside::BlockComment(_), _)
                    | (_, Inside::LineComment | Inside::BlockComment(_))
            );
            // A character literal is blanked too: it is the only code taken in threes and more.
            let text = |part| matches!(part, Inside::Text | Inside::RawText(_));
            let literal = text(inside)
                || text(next)
                || (inside == Inside::Code && next == Inside::Code && taken > 1);
            code.push(if c == '\n' || !(comment || literal) {
                c
            } else {
                ' '
            });
            comments.push(if c == '\n' || comment { c } else { ' ' });
        }
        idx += taken;
        inside = next;
    }
    let lines = |text: &str| text.lines().map(str::to_owned).collect::<Vec<_>>();
    let code = lines(&code);
    let test = test_lines(&file.path, &code);
    Source {
        path: file.path.clone(),
        lines: lines(&file.text),
        comments: lines(&comments),
        code,
        test,
    }
}

/// True when the character before `idx` belongs to a word, so that `r"` there opens no raw string.
fn word_before(chars: &[char], idx: usize) -> bool {
    idx > 0 && (chars[idx - 1].is_alphanumeric() || chars[idx - 1] == '_')
}

/// What comes next and how many characters belong to it.
fn step(inside: Inside, rest: &[char], in_word: bool) -> (Inside, usize) {
    let two = (rest[0], rest.get(1).copied());
    match inside {
        Inside::Code => match two {
            ('/', Some('/')) => (Inside::LineComment, 2),
            ('/', Some('*')) => (Inside::BlockComment(1), 2),
            ('"', _) => (Inside::Text, 1),
            ('r', Some('"' | '#')) if !in_word => raw_start(rest),
            ('\'', _) => (Inside::Code, quoted_char(rest)),
            _ => (Inside::Code, 1),
        },
        Inside::LineComment if rest[0] == '\n' => (Inside::Code, 1),
        Inside::LineComment => (Inside::LineComment, 1),
        Inside::BlockComment(depth) => match two {
            ('*', Some('/')) if depth == 1 => (Inside::Code, 2),
            ('*', Some('/')) => (Inside::BlockComment(depth - 1), 2),
            ('/', Some('*')) => (Inside::BlockComment(depth + 1), 2),
            _ => (Inside::BlockComment(depth), 1),
        },
        Inside::Text => match two {
            ('\\', Some(_)) => (Inside::Text, 2),
            ('"', _) => (Inside::Code, 1),
            _ => (Inside::Text, 1),
        },
        Inside::RawText(hashes) => {
            let closes =
                rest[0] == '"' && rest.len() > hashes && rest[1..=hashes].iter().all(|c| *c == '#');
            if closes {
                (Inside::Code, hashes + 1)
            } else {
                (Inside::RawText(hashes), 1)
            }
        }
    }
}

fn raw_start(rest: &[char]) -> (Inside, usize) {
    let hashes = rest[1..].iter().take_while(|c| **c == '#').count();
    match rest.get(hashes + 1) {
        Some('"') => (Inside::RawText(hashes), hashes + 2),
        _ => (Inside::Code, 1), // a raw identifier
    }
}

/// Length of a character literal, or 1 for the tick of a lifetime.
fn quoted_char(rest: &[char]) -> usize {
    match rest.get(1) {
        Some('\\') => {
            let close = rest.iter().skip(3).position(|c| *c == '\'');
            close.map_or(1, |at| at + 4)
        }
        Some(_) if rest.get(2) == Some(&'\'') => 3,
        _ => 1,
    }
}

/// Which lines are tests: whole files by their place, and modules and functions marked so.
fn test_lines(path: &str, code: &[String]) -> Vec<bool> {
    let dirs = ["/tests/", "/benches/", "/examples/", "/fuzz_targets/"];
    let rooted = format!("/{path}");
    let whole = dirs.iter().any(|dir| rooted.contains(dir))
        || rooted.ends_with("/tests.rs")
        || rooted.ends_with("_tests.rs")
        || code.iter().any(|line| line.contains("#![cfg(test)]"));
    let mut test = vec![whole; code.len()];
    let mut idx = 0;
    while !whole && idx < code.len() {
        if code[idx].contains("#[cfg(test)]") || code[idx].contains("#[cfg(any(test") {
            let end = item_end(code, idx);
            test[idx..=end].fill(true);
            idx = end;
        }
        idx += 1;
    }
    test
}

/// The line on which the item that begins at `start` ends: its closing brace, or its semicolon.
fn item_end(code: &[String], start: usize) -> usize {
    let mut depth = 0;
    for (idx, line) in code.iter().enumerate().skip(start) {
        for c in line.chars() {
            match c {
                '{' => depth += 1,
                '}' if depth == 1 => return idx,
                '}' => depth -= 1,
                ';' if depth == 0 => return idx,
                _ => {}
            }
        }
    }
    code.len() - 1
}

#[cfg(test)]
mod tests {
    use super::*;

    fn source(text: &str) -> Source {
        split(&TextFile {
            path: "crates/x/src/y.rs".to_owned(),
            text: text.to_owned(),
        })
    }

    #[track_caller]
    fn check(text: &str, code: &str, comment: &str) {
        let source = source(text);
        assert_eq!(source.code.join("\n").trim_end(), code);
        assert_eq!(source.comments.join("\n").trim(), comment);
    }

    #[test]
    fn words_in_strings_and_comments_are_not_code() {
        check("let a = 1; // std::fs", "let a = 1;", "// std::fs");
        check(
            "f(\"std::fs \\\" x\");",
            &format!("f({});", " ".repeat(14)),
            "",
        );
        check(
            "f(r#\"a \" std\"#);",
            &format!("f({});", " ".repeat(12)),
            "",
        );
        check(
            "a /* b /* c */ d */ e",
            "a                   e",
            "/* b /* c */ d */",
        );
        check(
            "let c = '\"'; let d = 'x';",
            "let c =    ; let d =    ;",
            "",
        );
        check("fn f<'a>(x: &'a str) {}", "fn f<'a>(x: &'a str) {}", "");
        check("let q = '\\''; g()", "let q =     ; g()", "");
    }

    #[test]
    fn tests_are_marked_to_their_closing_brace() {
        let source = source("fn a() {}\n#[cfg(test)]\nmod tests {\n  fn b() {}\n}\nfn c() {}\n");
        assert_eq!(source.test, [false, true, true, true, true, false]);
    }

    #[test]
    fn a_brace_in_a_string_does_not_end_a_test() {
        let source = source("#[cfg(test)]\nmod tests {\n  f(\"}\");\n  g();\n}\nfn c() {}\n");
        assert_eq!(source.test, [true, true, true, true, true, false]);
    }
}
