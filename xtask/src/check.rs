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
        self.closing.extend(closing_lines(&outcome.log));
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
fn closing_lines(log: &str) -> Vec<String> {
    log.lines()
        .map(str::trim)
        .filter(|line| {
            line.starts_with("test result:")
                || line.starts_with("Summary [")
                || is_count(line, "passed")
                || is_count(line, "failed")
        })
        .filter(|line| !line.contains(" 0 passed; 0 failed"))
        .map(str::to_owned)
        .collect()
}

/// `32 passed; 0 failed`, `32 passed (4.1s)`, `# 32 passed`: a number, then the word.
fn is_count(line: &str, word: &str) -> bool {
    let mut words = line.trim_start_matches("# ").split_whitespace();
    let count = words
        .next()
        .is_some_and(|first| first.parse::<u32>().is_ok());
    let named = words.next().is_some_and(|second| second.starts_with(word));
    count && named
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn closing_lines_of_all_runners_are_found() {
        let log = "running 3 tests\n\
                   test result: ok. 3 passed; 0 failed; 0 ignored; finished in 0.00s\n\
                   test result: ok. 0 passed; 0 failed; 0 ignored; finished in 0.00s\n\
                   \x20    Summary [   0.014s] 6 tests run: 6 passed, 0 skipped\n\
                   \x20 12 passed (4.1s)\n\
                   32 passed; 1 failed\n\
                   they passed 3 times\n";
        assert_eq!(
            closing_lines(log),
            [
                "test result: ok. 3 passed; 0 failed; 0 ignored; finished in 0.00s",
                "Summary [   0.014s] 6 tests run: 6 passed, 0 skipped",
                "12 passed (4.1s)",
                "32 passed; 1 failed",
            ]
        );
    }
}
