//! The chores of the house: `cargo x check` and its sisters.
//!
//! One verb a chore, the same on a laptop and in CI.
//! New work joins a verb; the list does not grow.

mod check;
mod checks;
mod chores;
mod demo;
mod fuzz;
mod guide;
mod needs;
mod run;
mod tidy;
mod tree;
mod ui;

use std::process::ExitCode;

/// What a person reads when no verb, or an unknown one, was given.
const VERBS: &str = "\
cargo x VERB

  check [--no-browser]      all that must pass, the same here and in CI
  test [ROOM or CRATE]      tests of one room, one crate, or all
  golden [--accept]         transcripts of the command line against what it prints today
  checks                    table of published values: source, tolerance, worst difference
  tidy                      rooms, purity, sources, sizes, links, left-overs
  docs                      the guide's examples, links and the reference pages of the code
  demo [ARGUMENTS]          build everything and run the demo job from tape to signed record
  fuzz TARGET SECONDS       throw broken input at one reader
  bench [NAME]              how long the person on site would wait
  release --dry-run         what a release would hold, without making one

Start with:  cargo x demo   then   cargo x check
";

fn main() -> ExitCode {
    let all: Vec<String> = std::env::args().skip(1).collect();
    let rest: Vec<&str> = all.iter().skip(1).map(String::as_str).collect();
    let good = match all.first().map(String::as_str) {
        Some("check") => check::check(&rest),
        Some("test") => chores::test(&rest),
        Some("golden") => chores::golden(&rest),
        Some("checks") => checks::show(),
        Some("tidy") => tidy::show(),
        Some("docs") => chores::docs(),
        Some("demo") => demo::demo(&rest),
        Some("fuzz") => fuzz::fuzz(&rest),
        Some("bench") => chores::bench(&rest),
        Some("release") => chores::release(&rest),
        None | Some("help" | "--help" | "-h") => {
            print!("{VERBS}");
            !all.is_empty()
        }
        Some(other) => {
            eprintln!("cargo x knows no verb `{other}`.\n\n{VERBS}");
            false
        }
    };
    if good {
        ExitCode::SUCCESS
    } else {
        ExitCode::FAILURE
    }
}
