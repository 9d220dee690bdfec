//! The workbench's page: installed, checked, built and driven in a browser.

use std::path::PathBuf;
use std::process::Command;

use crate::guide;
use crate::needs;
use crate::run::{self, Outcome, Step};
use crate::tree;

/// Where the page's sources lie.
pub fn dir() -> PathBuf {
    tree::root().join("crates/holdline-web/ui")
}

/// True when there is a page to build.
pub fn is_there() -> bool {
    dir().join("package.json").is_file()
}

/// Fetches the page's build tools, as the lock file names them, unless they are there already.
pub fn install() -> bool {
    if installed() {
        return true;
    }
    let step = Step {
        name: "page: fetch build tools",
        fix: "npm must reach its registry once, or have everything in its cache; then try again",
        commands: vec![npm(&["ci", "--no-audit", "--no-fund"])],
    };
    let good = run::run(step).good;
    if good && let Ok(lock) = std::fs::read(dir().join("package-lock.json")) {
        let _ = std::fs::write(stamp(), lock);
    }
    good
}

/// Type-checks the page and builds it into `ui/dist`.
pub fn build() -> bool {
    let mut commands = Vec::new();
    if has_script("check") {
        commands.push(npm(&["run", "check"]));
    }
    commands.push(npm(&["run", "build"]));
    let step = Step {
        name: "page: check and build",
        fix: "mend what is named above in crates/holdline-web/ui/src",
        commands,
    };
    run::run(step).good
}

/// Tests of the page's own functions, where it has any.
pub fn unit_tests() -> Option<Outcome> {
    has_script("test").then(|| {
        run::run(Step {
            name: "page: unit tests",
            fix: "cd crates/holdline-web/ui; npm test",
            commands: vec![npm(&["test"])],
        })
    })
}

/// The page in a real browser, against the real server.
pub fn browser_tests() -> Option<Outcome> {
    if !has_script("test:browser") {
        return None;
    }
    let mut drive = npm(&["run", "test:browser"]);
    drive.env("HOLDLINE_BIN", guide::binary());
    if let Some(chromium) = needs::chromium() {
        drive.env(needs::CHROMIUM_VARIABLE, chromium);
    }
    Some(run::run(Step {
        name: "page: browser tests",
        fix: "cd crates/holdline-web/ui; npm run test:browser (needs the built binary, see the log)",
        commands: vec![run::cargo(&["build", "-p", "holdline-cli"]), drive],
    }))
}

fn npm(words: &[&str]) -> Command {
    let mut command = Command::new(needs::npm());
    command
        .args(words)
        .current_dir(dir())
        .env("NO_COLOR", "1")
        .env("NO_UPDATE_NOTIFIER", "1");
    command
}

/// A copy of the lock file that was installed from; `npm ci` removes it with the rest.
fn stamp() -> PathBuf {
    dir().join("node_modules/.holdline-lock")
}

fn installed() -> bool {
    match (
        std::fs::read(stamp()),
        std::fs::read(dir().join("package-lock.json")),
    ) {
        (Ok(was), Ok(is)) => was == is,
        _ => false,
    }
}

/// True when `package.json` has a script of that name.
fn has_script(name: &str) -> bool {
    let text = std::fs::read_to_string(dir().join("package.json")).unwrap_or_default();
    script_names(&text).iter().any(|script| script == name)
}

fn script_names(package: &str) -> Vec<String> {
    package
        .lines()
        .map(str::trim)
        .skip_while(|line| !line.starts_with("\"scripts\""))
        .skip(1)
        .take_while(|line| !line.starts_with('}'))
        .filter_map(|line| line.split('"').nth(1).map(str::to_owned))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn scripts_are_read_line_by_line() {
        let package = "{\n \"name\": \"x\",\n \"scripts\": {\n  \"check\": \"a\",\n  \"build\": \
                       \"b\"\n },\n \"devDependencies\": {\n  \"test\": \"1\"\n }\n}\n";
        assert_eq!(script_names(package), ["check", "build"]);
    }
}
