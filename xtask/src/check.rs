//! `cargo x check`: all that must pass, the same here and in CI.

use std::time::Instant;

use crate::needs::{self, Browser};
use crate::run::{self, Outcome, Step};
use crate::{fuzz, guide, tidy, ui};

/// Runs every step, says which failed, and ends with the closing lines of the tests.
pub fn check(words: &[&str]) -> bool {
    let browser = match words {
        [] => Browser::Wanted,
        ["--no-browser"] => Browser::LeftOut,
        other => {
            eprintln!("check knows --no-browser only, not {other:?}");
            return false;
        }
    };
    println!("cargo x check: all that must pass");
    if !run::own("tools on this computer", "install it, then again", || {
        needs::missing(browser)
    }) {
        return false;
    }
    let began = Instant::now();
    let mut report = Report::default();
    sources(&mut report);
    let page = page(&mut report);
    code(&mut report);
    if browser == Browser::Wanted && page {
        report.tests("browser tests", ui::browser_tests());
    }
    report.close(began, browser)
}

/// What went wrong, and the closing lines of every test run.
#[derive(Default)]
struct Report {
    failed: Vec<&'static str>,
    closing: Vec<String>,
}

impl Report {
    fn step(&mut self, step: Step) {
        let name = step.name;
        self.plain(name, run::run(step).good);
    }

    fn plain(&mut self, name: &'static str, good: bool) {
        if !good {
            self.failed.push(name);
        }
    }

    fn tests(&mut self, name: &'static str, outcome: Option<Outcome>) {
        let Some(outcome) = outcome else { return };
        self.plain(name, outcome.good);
        self.closing.extend(closing_lines(name, &outcome.log));
    }

    fn close(self, began: Instant, browser: Browser) -> bool {
        let good = self.failed.is_empty();
        println!();
        if browser == Browser::LeftOut {
            println!("NOT RUN: the browser tests (--no-browser). This is not a whole check.");
        }
        let time = run::clock(began.elapsed());
        if good {
            println!("all that was run has passed, {time}");
        } else {
            println!("failed after {time}: {}", self.failed.join(", "));
        }
        for line in &self.closing {
            println!("{line}");
        }
        good
    }
}

/// What can be seen without building.
fn sources(report: &mut Report) {
    report.step(Step {
        name: "formatting",
        fix: "cargo fmt --all",
        commands: vec![
            run::cargo(&["fmt", "--all", "--check", "--", "--color=never"]),
            run::cargo(&[
                "fmt",
                "--manifest-path",
                "fuzz/Cargo.toml",
                "--check",
                "--",
                "--color=never",
            ]),
        ],
    });
    report.plain("tidy", tidy::step());
}

/// The page comes first: the server's tests look at what was built. True when it is there.
fn page(report: &mut Report) -> bool {
    if !ui::is_there() {
        println!("  {:<34}there is none yet", "page");
        return false;
    }
    let installed = ui::install();
    report.plain("page: fetch build tools", installed);
    if !installed {
        return false;
    }
    let built = ui::build();
    report.plain("page: check and build", built);
    report.tests("page: unit tests", ui::unit_tests());
    built
}

/// The code itself: warnings, tests, documents, fuzz targets.
fn code(report: &mut Report) {
    report.step(Step {
        name: "clippy, warnings are errors",
        fix: "mend what clippy names; cargo clippy --workspace --all-targets shows it again",
        commands: vec![run::cargo(&[
            "clippy",
            "--workspace",
            "--all-targets",
            "--quiet",
            "--",
            "-D",
            "warnings",
        ])],
    });
    report.tests("tests", Some(run::run(workspace_tests())));
    report.tests("tests in documents", Some(run::run(doc_tests())));
    report.step(rustdoc());
    report.plain("commands of the guide", guide::step());
    report.step(fuzz::build());
}

fn workspace_tests() -> Step {
    let nextest = needs::answer("cargo-nextest", "--version").is_some();
    let command = if nextest {
        run::cargo(&[
            "nextest",
            "run",
            "--workspace",
            "--no-fail-fast",
            "--color=never",
            "--hide-progress-bar",
            "--status-level=fail",
            "--final-status-level=fail",
        ])
    } else {
        let mut plain = run::cargo(&["test", "--workspace", "--lib", "--bins", "--tests"]);
        plain.args(["--examples", "--no-fail-fast"]);
        plain
    };
    Step {
        name: "tests",
        fix: "cargo x test ROOM runs the tests of one room or crate",
        commands: vec![command],
    }
}

fn doc_tests() -> Step {
    Step {
        name: "tests in documents",
        fix: "cargo test --doc -p CRATE runs the examples of one crate",
        commands: vec![run::cargo(&[
            "test",
            "--workspace",
            "--doc",
            "--no-fail-fast",
        ])],
    }
}

/// Pages of the code; a link that leads nowhere or a missing page is an error.
pub fn rustdoc() -> Step {
    let mut doc = run::cargo(&["doc", "--workspace", "--no-deps", "--quiet"]);
    doc.env("RUSTDOCFLAGS", "-D warnings");
    Step {
        name: "pages of the code",
        fix: "mend the link or write the page; RUSTDOCFLAGS='-D warnings' cargo doc --no-deps",
        commands: vec![doc],
    }
}

/// The lines in which test runners say how many passed, without those that ran nothing.
///
/// Runners of the page count in their own way; theirs are put into the words of Rust's.
fn closing_lines(name: &str, log: &str) -> Vec<String> {
    let lines = log.lines().map(str::trim);
    let ours = lines.clone().filter(|line| {
        let closing = line.starts_with("test result:") || line.starts_with("Summary [");
        closing && !line.contains(" 0 passed; 0 failed")
    });
    let mut found: Vec<String> = ours.map(str::to_owned).collect();
    let mut add = |passed: u32, failed: u32| {
        let word = if failed == 0 { "ok" } else { "FAILED" };
        found.push(format!(
            "test result: {word}. {passed} passed; {failed} failed; {name}"
        ));
    };
    // `Tests  2 failed | 26 passed (28)`
    if let Some(line) = lines.clone().find(|line| line.starts_with("Tests ")) {
        add(count_before(line, "passed"), count_before(line, "failed"));
    }
    // `# pass 26` and `# fail 0`, or with another mark before them
    let after = |word: &str| {
        let mut counts = lines.clone().filter_map(|line| count_after(line, word));
        counts.next_back()
    };
    if let (Some(passed), Some(failed)) = (after("pass"), after("fail")) {
        add(passed, failed);
    }
    found
}

/// The number before a word: 26 in `2 failed | 26 passed (28)`.
fn count_before(line: &str, word: &str) -> u32 {
    let words: Vec<&str> = line.split_whitespace().collect();
    let at = words.iter().position(|w| *w == word);
    let number = at.and_then(|at| words.get(at.checked_sub(1)?));
    number.and_then(|number| number.parse().ok()).unwrap_or(0)
}

/// The number in a line that holds one mark, the word and the number, and no more.
fn count_after(line: &str, word: &str) -> Option<u32> {
    let mut words = line.split_whitespace();
    let mark = words.next()?;
    let named = words.next() == Some(word);
    let number = words.next()?.parse().ok();
    let alone = mark.chars().count() == 1 && words.next().is_none();
    number.filter(|_| named && alone)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn closing_lines_of_all_runners_are_found() {
        let rust = "running 3 tests\n\
                    test result: ok. 3 passed; 0 failed; 0 ignored; finished in 0.00s\n\
                    test result: ok. 0 passed; 0 failed; 0 ignored; finished in 0.00s\n\
                    \x20    Summary [   0.014s] 6 tests run: 6 passed, 0 skipped\n";
        assert_eq!(
            closing_lines("tests", rust),
            [
                "test result: ok. 3 passed; 0 failed; 0 ignored; finished in 0.00s",
                "Summary [   0.014s] 6 tests run: 6 passed, 0 skipped",
            ]
        );
    }

    #[test]
    fn runners_of_the_page_are_put_into_the_same_words() {
        let unit = " Test Files  3 passed (3)\n      Tests  2 failed | 26 passed (28)\n";
        assert_eq!(
            closing_lines("unit", unit),
            ["test result: FAILED. 26 passed; 2 failed; unit"]
        );
        let browser = "# tests 30\n# suites 3\n# pass 30\n# fail 0\n# skipped 0\n";
        assert_eq!(
            closing_lines("browser", browser),
            ["test result: ok. 30 passed; 0 failed; browser"]
        );
        let words = "they pass 3 times and fail 2\n";
        assert_eq!(closing_lines("browser", words), Vec::<String>::new());
    }
}
