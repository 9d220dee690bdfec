//! What must not stay: work left undone, guesses that panic, and words of one machine.

use super::Remark;
use super::lexer::Source;
use crate::tree::TextFile;

/// Macros and marks of work left undone, in two parts so that this file holds none.
const UNDONE: &[(&str, &str)] = &[
    ("TO", "DO"),
    ("FIX", "ME"),
    ("XX", "X"),
    ("to", "do!"),
    ("unimple", "mented!"),
    ("db", "g!"),
];

/// Starts of absolute paths that only one machine has; likewise in two parts.
const PLACES: &[(&str, &str)] = &[
    ("/ho", "me/"),
    ("/ro", "ot/"),
    ("/wo", "rk/"),
    ("/Us", "ers/"),
    ("/bu", "ild/"),
    ("/wor", "kspace/"),
];

/// Addresses of registries: they belong to a person's own settings.
const REGISTRIES: &[(&str, &str)] = &[
    ("registry.npm", "js.org"),
    ("registry.yarn", "pkg.com"),
    ("static.cra", "tes.io"),
    ("index.cra", "tes.io"),
    ("proxy.gol", "ang.org"),
];

/// What stands in a comment where an `expect` may stay.
const REASON: &str = "cannot fail:";

/// Endings of files in which the marks of undone work are looked for.
const WRITTEN: &[&str] = &["rs", "ts", "svelte", "css", "md", "toml", "json"];

/// Rules for Rust alone: panics on a guess, and tests that are left out.
pub fn in_rust(source: &Source) -> Vec<Remark> {
    let mut remarks = Vec::new();
    for (number, line) in source.product_lines() {
        if line.contains(".unwrap()") {
            let says = "`unwrap` lives in tests; give a fault, or match";
            remarks.push(Remark::fails(&source.path, number, says));
        }
        if line.contains(".expect(") && !reason_given(source, number) {
            let says = format!("`expect` outside tests: give a fault, or say `// {REASON} …`");
            remarks.push(Remark::fails(&source.path, number, says));
        }
    }
    for (idx, line) in source.code.iter().enumerate() {
        if line.trim_start().starts_with("#[ignore") {
            let says = "no test is left out; a slow one asks for HOLDLINE_SLOW=1 itself";
            remarks.push(Remark::fails(&source.path, idx + 1, says));
        }
    }
    remarks
}

/// A reason on the line itself or up to four lines above.
fn reason_given(source: &Source, number: usize) -> bool {
    let first = number.saturating_sub(5);
    source.comments[first..number]
        .iter()
        .any(|line| line.contains(REASON))
}

/// Rules for every text.
pub fn in_text(file: &TextFile) -> Vec<Remark> {
    let mut remarks = Vec::new();
    let written = WRITTEN.contains(&file.ending());
    for (idx, line) in file.text.lines().enumerate() {
        let mut fails = |says: String| remarks.push(Remark::fails(&file.path, idx + 1, says));
        if let Some(mark) = joined(UNDONE).find(|mark| written && has_word(line, mark)) {
            fails(format!(
                "`{mark}`: finish it, or file an issue and take the mark out"
            ));
        }
        if let Some(place) = joined(PLACES).find(|place| has_place(line, place)) {
            fails(format!("`{place}` is a place of one machine"));
        }
        if let Some(host) = joined(REGISTRIES).find(|host| line.contains(host.as_str())) {
            fails(format!(
                "`{host}` belongs to a person's own settings, not into the tree"
            ));
        }
        if file.path.ends_with("package-lock.json")
            && line.trim().starts_with("\"resolved\": \"http")
        {
            fails("addresses in the lock file; npm config omit-lockfile-registry-resolved".into());
        }
    }
    remarks
}

fn joined(parts: &'static [(&'static str, &'static str)]) -> impl Iterator<Item = String> {
    parts.iter().map(|(a, b)| format!("{a}{b}"))
}

/// Whether the mark stands alone, not inside a longer word.
fn has_word(line: &str, mark: &str) -> bool {
    let in_word = |c: char| c.is_alphanumeric() || c == '_';
    line.match_indices(mark).any(|(at, _)| {
        let before = line[..at].chars().next_back();
        let after = line[at + mark.len()..].chars().next();
        let open = mark.ends_with('!');
        !before.is_some_and(in_word) && (open || !after.is_some_and(in_word))
    })
}

/// Whether an absolute path begins with it; `a/home/` and `$HOME/` do not count.
fn has_place(line: &str, place: &str) -> bool {
    line.match_indices(place).any(|(at, _)| {
        let before = line[..at].chars().next_back();
        !before.is_some_and(|c| c.is_alphanumeric() || "._-/}~".contains(c))
    })
}

#[cfg(test)]
mod tests {
    use super::super::lexer::split;
    use super::*;

    fn file(path: &str, text: &str) -> TextFile {
        TextFile {
            path: path.to_owned(),
            text: text.to_owned(),
        }
    }

    fn rust(text: &str) -> usize {
        in_rust(&split(&file("crates/x/src/y.rs", text))).len()
    }

    fn text(line: &str) -> usize {
        in_text(&file("docs/a.md", line)).len()
    }

    #[test]
    fn guesses_that_panic_are_named_outside_tests() {
        assert_eq!(rust("let a = b.unwrap();"), 1);
        assert_eq!(rust("let a = b.expect(\"x\");"), 1);
        assert_eq!(
            rust("// cannot fail: b was made here\nlet a = b.expect(\"x\");"),
            0
        );
        assert_eq!(
            rust("#[cfg(test)]\nmod tests {\n let a = b.unwrap();\n}\n"),
            0
        );
        assert_eq!(rust("//! let a = b.unwrap();"), 0);
        assert_eq!(rust("let a = b.unwrap_or(1);"), 0);
    }

    #[test]
    fn a_test_that_is_left_out_is_named() {
        assert_eq!(
            rust("#[cfg(test)]\nmod tests {\n #[ignore]\n fn a() {}\n}\n"),
            1
        );
    }

    #[test]
    fn undone_work_is_named() {
        for (a, b) in UNDONE {
            assert_eq!(text(&format!("here {a}{b} there")), 1, "{a}{b}");
        }
        assert_eq!(text(&format!("a method of work: {}{}", "to", "do")), 0);
    }

    #[test]
    fn places_of_one_machine_are_named() {
        for (a, b) in PLACES {
            assert_eq!(text(&format!("see {a}{b}x")), 1, "{a}{b}");
        }
        assert_eq!(text(&format!("node_modules{}{}x", "/ho", "me/")), 0);
        assert_eq!(text(&format!("https://a{}{}", "registry.npm", "js.org")), 1);
    }
}
