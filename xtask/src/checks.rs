//! `cargo x checks`: the published values we compare ourselves with, one file a source.

use std::collections::BTreeMap;

use crate::run;
use crate::tree::{self, TextFile};

/// The six lines that open a check, in this order.
pub const HEADER: [&str; 6] = [
    "Source",
    "Place",
    "Exercises",
    "Tolerance",
    "Rights",
    "Not used",
];

/// What a test prints when it tells its worst difference: `worst NAME: FIGURE UNIT`.
const WORST: &str = "worst ";

/// One file under `checks/tests`.
#[derive(Debug, PartialEq, Eq)]
pub struct Check {
    /// Its name without the ending.
    pub name: String,
    /// What follows each word of [`HEADER`]; a missing one is empty.
    pub header: [String; 6],
}

/// Prints the table, running the checks to learn their worst differences.
pub fn show() -> bool {
    let checks: Vec<Check> = files().iter().map(read).collect();
    if checks.is_empty() {
        println!("no checks yet under checks/tests");
        return true;
    }
    let mut test = run::cargo(&["test", "--quiet", "-p", "holdline-checks", "--tests"]);
    test.args(["--", "--nocapture", "--test-threads=1"]);
    let outcome = run::run(run::Step {
        name: "checks",
        fix: "a published value is not met: look at the code first, the source next",
        commands: vec![test],
    });
    let worst = worst_differences(&outcome.log);
    println!();
    for check in &checks {
        println!("{}", check.name);
        for (word, text) in HEADER.iter().zip(&check.header) {
            println!(
                "  {word:<10} {}",
                if text.is_empty() { "MISSING" } else { text }
            );
        }
        for line in worst.get(&check.name).into_iter().flatten() {
            println!("  {:<10} {line}", "Worst");
        }
        println!();
    }
    println!("{} sources", checks.len());
    outcome.good && checks.iter().all(|check| gaps(check).is_empty())
}

/// Words of the header that are missing.
pub fn gaps(check: &Check) -> Vec<&'static str> {
    let pairs = HEADER.iter().zip(&check.header);
    pairs
        .filter(|(_, text)| text.is_empty())
        .map(|(word, _)| *word)
        .collect()
}

/// Reads the six lines; a line that begins with spaces carries on the one before.
pub fn read(file: &TextFile) -> Check {
    let name = file.path.rsplit('/').next().unwrap_or_default();
    let mut header: [String; 6] = Default::default();
    let mut current = None;
    for line in file.text.lines().take_while(|line| line.starts_with("//!")) {
        let line = &line[3..];
        let named = HEADER
            .iter()
            .position(|word| line.trim_start().starts_with(word));
        match (named, current) {
            (Some(idx), _) => {
                current = Some(idx);
                header[idx] = line.trim_start()[HEADER[idx].len()..].trim().to_owned();
            }
            (None, Some(idx)) if line.starts_with("  ") => {
                let kept: &mut String = &mut header[idx];
                kept.push(' ');
                kept.push_str(line.trim());
            }
            (None, _) => current = None,
        }
    }
    Check {
        name: name.trim_end_matches(".rs").to_owned(),
        header,
    }
}

/// The files of checks, sorted by name.
fn files() -> Vec<TextFile> {
    tree::text_files(&tree::root())
        .into_iter()
        .filter(|file| is_check(&file.path))
        .collect()
}

/// Whether a path is a check's.
pub fn is_check(path: &str) -> bool {
    path.starts_with("checks/tests/") && path.ends_with(".rs") && path.matches('/').count() == 2
}

/// `worst gum: sd of the mean 3e-10` under the check `gum`.
fn worst_differences(log: &str) -> BTreeMap<String, Vec<String>> {
    let mut found: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for line in log.lines() {
        // A test's own line may follow the runner's dot without a break.
        let Some(at) = line.find(WORST) else { continue };
        if let Some((name, figure)) = line[at + WORST.len()..].split_once(": ") {
            let figures = found.entry(name.to_owned()).or_default();
            figures.push(figure.to_owned());
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn six_lines_and_what_carries_on() {
        let file = TextFile {
            path: "checks/tests/gum.rs".to_owned(),
            text: "//! Source     Guide, 2008\n//! Place      H.2\n//!            and H.3\n\
                   //! Exercises  stats::mean\n//! Tolerance  1e-9\n//! Rights     numbers only\n\
                   //!\n//! More words.\n"
                .to_owned(),
        };
        let check = read(&file);
        assert_eq!(check.name, "gum");
        assert_eq!(check.header[1], "H.2 and H.3");
        assert_eq!(gaps(&check), ["Not used"]);
    }

    #[test]
    fn worst_differences_are_found_behind_the_dots_of_the_runner() {
        let found = worst_differences(".worst gum: mean 3e-10\nworst gum: sd 1e-9\nworst case\n");
        assert_eq!(found["gum"], ["mean 3e-10", "sd 1e-9"]);
        assert_eq!(found.len(), 1);
    }
}
