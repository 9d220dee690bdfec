//! `cargo x demo`: everything built, then the invented machine from tape to signed record.

use crate::needs;
use crate::run;
use crate::ui;

/// Builds the page and the program, then hands over to `holdline demo`.
///
/// A development build: the figures are the same as in a release, and it is built in a third of the time.
/// `--release` among the words builds the other one.
pub fn demo(words: &[&str]) -> bool {
    println!("cargo x demo: builds everything, then runs the demo job");
    if !run::own(
        "tools on this computer",
        "install it, then again",
        needs::missing_for_build,
    ) {
        return false;
    }
    if ui::is_there() && !(ui::install() && ui::build()) {
        return false;
    }
    let (profile, rest): (Vec<&str>, Vec<&str>) = words.iter().partition(|w| **w == "--release");
    let mut build = run::cargo(&["build", "-p", "holdline-cli"]);
    build.args(&profile);
    let step = run::Step {
        name: "program",
        fix: "mend what the compiler names; on a fresh clone this is a fault of ours: report it",
        commands: vec![build],
    };
    if !run::run(step).good {
        return false;
    }
    println!();
    let mut go = run::cargo(&["run", "--quiet", "-p", "holdline-cli"]);
    go.args(&profile).args(["--", "demo"]).args(&rest);
    run::openly(go)
}
