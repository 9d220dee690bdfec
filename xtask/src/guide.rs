//! Runs every command that the guide shows, so that none of them rots.

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use crate::run;
use crate::tree::{self, TextFile};

/// Files that the guide speaks of as the reader's own, and what stands in for them here.
const STAND_INS: &[(&str, &str)] = &[
    ("my-machine.toml", "demo/demo-23.machine.toml"),
    ("shots.csv", "demo/S1-day.shots.csv"),
    ("readings.csv", "demo/S1-day.readings.csv"),
    ("control.csv", "demo/control.csv"),
    (
        "day.observations.csv",
        "demo/calibration-day.observations.csv",
    ),
    ("my-system.terms.toml", "demo/demo-23.terms.toml"),
];

/// Commands that wait for a person.
const WAITS: &[&str] = &["serve"];

/// A command of the guide, with the place where it stands.
#[derive(Debug, PartialEq, Eq)]
struct Shown {
    at: String,
    words: Vec<String>,
}

/// As a step: the program is built, then every command of the guide is run, in order, in a folder of its own.
pub fn step() -> bool {
    let built = run::run(run::Step {
        name: "program",
        fix: "mend what the compiler names",
        commands: vec![run::cargo(&["build", "-p", "holdline-cli"])],
    });
    built.good
        && run::own(
            "commands of the guide",
            "docs/guide shows a command that the program refuses; mend whichever is wrong",
            wrong,
        )
}

/// Commands that the program refused (exit code 2) or broke on (3); 0 and 1 are answers.
fn wrong() -> Vec<String> {
    let folder = match prepare() {
        Ok(folder) => folder,
        Err(why) => return vec![format!("no folder to run in: {why}")],
    };
    let program = binary();
    let mut wrong = Vec::new();
    for shown in tree::text_files(&tree::root()).iter().flat_map(commands) {
        if WAITS
            .iter()
            .any(|wait| shown.words.get(1).is_some_and(|word| word == wait))
        {
            continue;
        }
        let out = Command::new(&program)
            .args(&shown.words[1..])
            .current_dir(&folder)
            .stdin(Stdio::null())
            .output();
        match out {
            Ok(out) if matches!(out.status.code(), Some(0 | 1)) => {}
            Ok(out) => {
                wrong.push(format!("{}: {}", shown.at, shown.words.join(" ")));
                let said = String::from_utf8_lossy(&out.stderr).into_owned();
                wrong.extend(said.lines().take(6).map(|line| format!("  {line}")));
            }
            Err(why) => wrong.push(format!("{}: {why}", program.display())),
        }
    }
    wrong
}

/// The program as `cargo build` left it.
pub fn binary() -> PathBuf {
    let name = if cfg!(windows) {
        "holdline.exe"
    } else {
        "holdline"
    };
    tree::target().join("debug").join(name)
}

/// An empty folder with the stand-ins in it.
fn prepare() -> std::io::Result<PathBuf> {
    let folder = tree::target().join("x").join("guide");
    match std::fs::remove_dir_all(&folder) {
        Err(why) if why.kind() != std::io::ErrorKind::NotFound => return Err(why),
        _ => std::fs::create_dir_all(&folder)?,
    }
    for (name, source) in STAND_INS {
        std::fs::copy(tree::root().join(source), folder.join(name))?;
    }
    Ok(folder)
}

/// Commands in the `sh` blocks of a page of the guide.
fn commands(page: &TextFile) -> Vec<Shown> {
    if !Path::new(&page.path).starts_with("docs/guide") || page.ending() != "md" {
        return Vec::new();
    }
    let mut found = Vec::new();
    let mut inside = false;
    let mut pending: Option<(usize, String)> = None;
    for (idx, line) in page.text.lines().enumerate() {
        if line.starts_with("```") {
            inside = line == "```sh";
            continue;
        }
        if !inside {
            continue;
        }
        let (start, so_far) = pending.take().unwrap_or((idx + 1, String::new()));
        let (line, more) = match line.strip_suffix('\\') {
            Some(line) => (line, true),
            None => (line, false),
        };
        let joined = format!("{so_far} {line}");
        if more {
            pending = Some((start, joined));
            continue;
        }
        let words = words(&joined);
        if words.first().is_some_and(|first| first == "holdline") {
            let at = format!("{}:{start}", page.path);
            found.push(Shown { at, words });
        }
    }
    found
}

/// Words as a shell would split them, double quotes kept together.
fn words(line: &str) -> Vec<String> {
    let mut words = Vec::new();
    for (nth, piece) in line.split('"').enumerate() {
        if nth % 2 == 1 {
            words.push(piece.to_owned());
        } else {
            words.extend(piece.split_whitespace().map(str::to_owned));
        }
    }
    words
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn commands_are_taken_with_their_line_and_quotes() {
        let page = TextFile {
            path: "docs/guide/a.md".to_owned(),
            text: "# A\n\n```sh\nholdline a \\\n  --by \"A. B\" c\nls\n```\n\n```text\nholdline x\n```\n"
                .to_owned(),
        };
        let want = Shown {
            at: "docs/guide/a.md:4".to_owned(),
            words: ["holdline", "a", "--by", "A. B", "c"]
                .map(str::to_owned)
                .to_vec(),
        };
        assert_eq!(commands(&page), [want]);
    }
}
