//! What a crate builds on: its sisters by the table, others by a decision note.

use super::{CRATES, PURE, Remark};
use crate::tree::TextFile;

/// Where the notes of decisions lie.
const NOTES: &str = "docs/decisions/";

/// One line of a manifest that names something to build on.
#[derive(Debug, PartialEq, Eq)]
struct Dependency {
    line: usize,
    name: String,
    kind: Kind,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    /// Goes into the product.
    Product,
    /// Serves the tests alone.
    Test,
}

/// Arrows that the table does not have, and crates that no note names.
pub fn look_at(files: &[TextFile]) -> Vec<Remark> {
    let notes: String = files
        .iter()
        .filter(|file| file.path.starts_with(NOTES))
        .map(|file| file.text.as_str())
        .collect();
    let mut remarks = Vec::new();
    for file in files {
        if file.path.ends_with("/Cargo.toml") {
            remarks.extend(manifest(file, &notes));
        } else if file.path.ends_with("/package.json") {
            remarks.extend(package(file, &notes));
        }
    }
    remarks
}

fn manifest(file: &TextFile, notes: &str) -> Vec<Remark> {
    let Some(name) = crate_name(&file.text) else {
        return Vec::new();
    };
    let Some(member) = CRATES.iter().find(|member| member.name == name) else {
        let says = format!("{name} is not in the table of xtask/src/tidy.rs");
        return vec![Remark::fails(&file.path, 1, says)];
    };
    let pure = PURE.iter().find(|pure| file.path.starts_with(pure.src));
    let mut remarks = Vec::new();
    for dependency in dependencies(&file.text) {
        let used = dependency.name.as_str();
        let product = dependency.kind == Kind::Product;
        let mut fails = |says| remarks.push(Remark::fails(&file.path, dependency.line, says));
        if CRATES.iter().any(|sister| sister.name == used) {
            if product && !member.may_use.contains(&used) {
                fails(format!(
                    "{name} may not use {used}; hand the value in, or record a decision"
                ));
            }
            continue;
        }
        if product && pure.is_some_and(|pure| !pure.may_use.contains(&used)) {
            fails(format!("{name} is pure and may not build on {used}"));
        }
        if !named(notes, used) {
            fails(format!(
                "{used} stands in no decision note; say in {NOTES} what it gives and how we would live without it"
            ));
        }
    }
    remarks
}

/// The page's build tools are dependencies too.
fn package(file: &TextFile, notes: &str) -> Vec<Remark> {
    let mut remarks = Vec::new();
    let mut inside = false;
    for (idx, line) in file.text.lines().enumerate() {
        let trimmed = line.trim();
        if trimmed.starts_with("\"dependencies\"") || trimmed.starts_with("\"devDependencies\"") {
            inside = !trimmed.contains('}');
        } else if trimmed.starts_with('}') {
            inside = false;
        } else if inside
            && let Some(used) = trimmed.split('"').nth(1)
            && !named(notes, used)
        {
            let says = format!("{used} stands in no decision note under {NOTES}");
            remarks.push(Remark::fails(&file.path, idx + 1, says));
        }
    }
    remarks
}

/// Whether a note names the crate, set in backquotes.
fn named(notes: &str, name: &str) -> bool {
    notes.contains(&format!("`{name}`"))
}

fn crate_name(manifest: &str) -> Option<&str> {
    let line = manifest.lines().find(|line| line.starts_with("name = "))?;
    line.split('"').nth(1)
}

/// Lines under `[dependencies]`, `[dev-dependencies]`, `[build-dependencies]`, targets included.
fn dependencies(manifest: &str) -> Vec<Dependency> {
    let mut found = Vec::new();
    let mut kind = None;
    for (idx, line) in manifest.lines().enumerate() {
        let line = line.trim();
        if let Some(section) = line.strip_prefix('[') {
            let section = section.trim_end_matches(']');
            let last = section.rsplit('.').next().unwrap_or_default();
            kind = match last {
                "dev-dependencies" => Some(Kind::Test),
                "dependencies" | "build-dependencies" => Some(Kind::Product),
                _ => None,
            };
        } else if let Some(kind) = kind
            && line.starts_with(|c: char| c.is_ascii_alphabetic())
        {
            let end = line.find(['.', ' ', '=']).unwrap_or(line.len());
            found.push(Dependency {
                line: idx + 1,
                name: line[..end].to_owned(),
                kind,
            });
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    fn remarks(path: &str, manifest: &str, notes: &str) -> Vec<String> {
        let files = [
            TextFile {
                path: path.to_owned(),
                text: manifest.to_owned(),
            },
            TextFile {
                path: "docs/decisions/0002-x.md".to_owned(),
                text: notes.to_owned(),
            },
        ];
        look_at(&files).iter().map(Remark::to_string).collect()
    }

    #[test]
    fn an_arrow_that_the_table_lacks_is_named() {
        let manifest = "[package]\nname = \"holdline-sheet\"\n\n[dependencies]\nholdline-store.workspace = true\n";
        assert_eq!(
            remarks("crates/holdline-sheet/Cargo.toml", manifest, ""),
            [
                "crates/holdline-sheet/Cargo.toml:5: holdline-sheet may not use holdline-store; hand the value in, or record a decision"
            ]
        );
        let tests = manifest.replace("[dependencies]", "[dev-dependencies]");
        assert!(remarks("crates/holdline-sheet/Cargo.toml", &tests, "").is_empty());
    }

    #[test]
    fn a_crate_of_others_needs_a_note() {
        let manifest =
            "[package]\nname = \"holdline-files\"\n[dependencies]\ntoml = { version = \"1\" }\n";
        let path = "crates/holdline-files/Cargo.toml";
        assert_eq!(remarks(path, manifest, "toml reads sheets").len(), 1);
        assert_eq!(remarks(path, manifest, "- `toml`: reads sheets").len(), 0);
    }

    #[test]
    fn a_pure_crate_takes_only_what_its_row_names() {
        let manifest =
            "[package]\nname = \"holdline\"\n[dependencies]\nrusqlite.workspace = true\n";
        let found = remarks("crates/holdline/Cargo.toml", manifest, "`rusqlite`");
        assert_eq!(
            found,
            ["crates/holdline/Cargo.toml:4: holdline is pure and may not build on rusqlite"]
        );
    }

    #[test]
    fn build_tools_of_the_page_need_a_note_too() {
        let package =
            "{\n \"devDependencies\": {\n  \"svelte\": \"5\",\n  \"vite\": \"8\"\n }\n}\n";
        let path = "crates/holdline-web/ui/package.json";
        assert_eq!(remarks(path, package, "`svelte`").len(), 1);
    }
}
