//! What a bare machine must have, found or said to be missing in plain words.

use std::path::PathBuf;
use std::process::{Command, Stdio};

/// Least Node that the page's build tools run on.
const NODE_LEAST: [u32; 2] = [20, 19];

/// Names under which a Chromium may stand on the path.
const CHROMIUMS: &[&str] = &["chromium", "chromium-browser", "google-chrome"];

/// Variable that names the Chromium to use.
pub const CHROMIUM_VARIABLE: &str = "HOLDLINE_CHROMIUM";

/// Whether the browser tests take part.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Browser {
    /// They must run.
    Wanted,
    /// The person left them out.
    LeftOut,
}

/// What is missing to build and test everything, one line each; empty when nothing is.
pub fn missing(browser: Browser) -> Vec<String> {
    let mut lines = missing_for_build();
    for (program, component) in [("cargo-fmt", "rustfmt"), ("cargo-clippy", "clippy")] {
        if answer(program, "--version").is_none() {
            lines.push(format!(
                "{component} is missing: rustup component add {component}"
            ));
        }
    }
    if browser == Browser::Wanted && chromium().is_none() {
        lines.push(format!(
            "Chromium is missing; the page is tested in it. Debian, Ubuntu: apt-get install \
             chromium. Elsewhere: set {CHROMIUM_VARIABLE} to its program. \
             Without: cargo x check --no-browser"
        ));
    }
    lines
}

/// What is missing to build everything.
pub fn missing_for_build() -> Vec<String> {
    let mut lines = Vec::new();
    if c_compiler().is_none() {
        lines.push(
            "A C compiler is missing; the job file's data base is compiled from C. \
             Debian, Ubuntu: apt-get install gcc libc6-dev"
                .to_owned(),
        );
    }
    lines.extend(missing_node());
    lines
}

/// What is missing to build the page.
pub fn missing_node() -> Vec<String> {
    let mut lines = Vec::new();
    let least = format!("{}.{}", NODE_LEAST[0], NODE_LEAST[1]);
    match answer("node", "--version") {
        None => lines.push(format!(
            "Node is missing; the workbench's page is built with it. Install Node {least} or \
             newer from nodejs.org or your system's packages"
        )),
        Some(version) if !at_least(&version, NODE_LEAST) => lines.push(format!(
            "Node {version} is too old for the page's build tools; install {least} or newer \
             from nodejs.org"
        )),
        Some(_) => {}
    }
    if answer(npm(), "--version").is_none() {
        lines.push("npm is missing; it comes with Node. Debian: apt-get install npm".to_owned());
    }
    lines
}

/// npm's name on this system.
pub fn npm() -> &'static str {
    if cfg!(windows) { "npm.cmd" } else { "npm" }
}

/// The Chromium to test in.
pub fn chromium() -> Option<PathBuf> {
    if let Some(path) = std::env::var_os(CHROMIUM_VARIABLE).filter(|path| !path.is_empty()) {
        return Some(PathBuf::from(path)).filter(|path| path.is_file());
    }
    let path = std::env::var_os("PATH")?;
    std::env::split_paths(&path)
        .flat_map(|dir| CHROMIUMS.iter().map(move |name| dir.join(name)))
        .find(|program| program.is_file())
}

fn c_compiler() -> Option<String> {
    if cfg!(windows) {
        return Some(String::new()); // the Windows toolchain of Rust brings its own check
    }
    if let Ok(cc) = std::env::var("CC") {
        return answer(&cc, "--version");
    }
    answer("cc", "--version").or_else(|| answer("gcc", "--version"))
}

/// First line of what a program says, if it is there and content.
pub fn answer(program: &str, word: &str) -> Option<String> {
    let out = Command::new(program)
        .arg(word)
        .stdin(Stdio::null())
        .output()
        .ok()?;
    let text = String::from_utf8_lossy(&out.stdout);
    out.status
        .success()
        .then(|| text.lines().next().unwrap_or_default().trim().to_owned())
}

fn at_least(version: &str, least: [u32; 2]) -> bool {
    let mut parts = version.trim_start_matches('v').split('.');
    let mut next = || parts.next().and_then(|p| p.parse::<u32>().ok());
    match (next(), next()) {
        (Some(major), Some(minor)) => [major, minor] >= least,
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn versions_are_numbers_not_words() {
        assert!(at_least("v20.19.0", NODE_LEAST));
        assert!(at_least("v22.0.0", NODE_LEAST));
        assert!(at_least("v100.1.0", NODE_LEAST));
        assert!(!at_least("v20.9.0", NODE_LEAST));
        assert!(!at_least("v18.20.4", NODE_LEAST));
        assert!(!at_least("", NODE_LEAST));
    }

    #[test]
    fn a_program_that_is_not_there_answers_nothing() {
        assert_eq!(answer("no-such-command-here", "--version"), None);
    }
}
