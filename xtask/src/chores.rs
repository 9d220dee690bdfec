//! The short chores: test, golden, docs, bench, release.

use crate::run::{self, Step};
use crate::{check, guide, needs, tidy, tree, ui};

/// Tests of one room, one crate, or all.
pub fn test(words: &[&str]) -> bool {
    let mut go = run::cargo(&["test"]);
    match words {
        [] => {
            go.arg("--workspace");
        }
        [name, rest @ ..] => {
            match package(name) {
                Some(package) => go.args(["-p", &package]),
                None => go.args(["-p", "holdline", &format!("{name}::")]),
            };
            go.args(rest);
        }
    }
    run::openly(go)
}

/// The crate meant by `name`, with or without its first word; a room is none.
fn package(name: &str) -> Option<String> {
    let crates = tree::root().join("crates");
    match name {
        "xtask" => Some("xtask".to_owned()),
        "checks" => Some("holdline-checks".to_owned()),
        "holdline" => Some("holdline".to_owned()),
        _ => [name.to_owned(), format!("holdline-{name}")]
            .into_iter()
            .find(|package| crates.join(package).is_dir()),
    }
}

/// Transcripts of the command line, published schemas and the page of every key, against today's.
pub fn golden(words: &[&str]) -> bool {
    let accept = match words {
        [] => false,
        ["--accept"] => true,
        other => {
            eprintln!("golden knows --accept only, not {other:?}");
            return false;
        }
    };
    if accept {
        println!("accepting: read the difference (git diff) as the person on site would");
    }
    let golden: [&[&str]; 3] = [
        &[
            "test",
            "-p",
            "holdline-files",
            "--lib",
            "--",
            "schema",
            "reference",
        ],
        &["test", "-p", "holdline-steps", "--test", "schema"],
        &["test", "-p", "holdline-cli", "--test", "golden"],
    ];
    let mut good = true;
    for words in golden {
        let mut go = run::cargo(words);
        if accept {
            go.env("HOLDLINE_ACCEPT", "1").env("TRYCMD", "overwrite");
        }
        good &= run::openly(go);
    }
    good
}

/// What the guide and the reference show is run; their links are followed.
pub fn docs() -> bool {
    println!("cargo x docs: what the documents show, run");
    let links = tidy::links_step();
    let golden = run::run(Step {
        name: "transcripts in the guide",
        fix: "cargo x golden shows the difference; --accept takes it over",
        commands: vec![run::cargo(&[
            "test",
            "--quiet",
            "-p",
            "holdline-cli",
            "--test",
            "golden",
        ])],
    });
    let examples = run::run(Step {
        name: "examples in the pages of the code",
        fix: "cargo test --doc -p CRATE",
        commands: vec![run::cargo(&["test", "--workspace", "--doc", "--quiet"])],
    });
    let pages = run::run(check::rustdoc());
    let guide = guide::step();
    let good = links && guide && golden.good && examples.good && pages.good;
    if good {
        let index = tree::target().join("doc/holdline/index.html");
        println!("\npages of the code: {}", index.display());
        println!("the guide begins at docs/guide/README.md");
    }
    good
}

/// Benches, each named after a job of the person on site.
pub fn bench(words: &[&str]) -> bool {
    let mut go = run::cargo(&["bench", "--workspace", "--benches"]);
    if !words.is_empty() {
        go.arg("--").args(words);
    }
    run::openly(go)
}

/// What a release would hold. Making one is a person's decision, not a chore's.
pub fn release(words: &[&str]) -> bool {
    if words != ["--dry-run"] {
        eprintln!("only `cargo x release --dry-run` exists: a release is made by a person");
        return false;
    }
    println!("cargo x release --dry-run");
    if !run::own(
        "tools on this computer",
        "install it",
        needs::missing_for_build,
    ) {
        return false;
    }
    let noted = run::own(
        "CHANGELOG names this version",
        "add a section `## VERSION` to CHANGELOG.md",
        || changelog_gap(&read("CHANGELOG.md"), env!("CARGO_PKG_VERSION")),
    );
    let page = !ui::is_there() || (ui::install() && ui::build());
    let built = run::run(Step {
        name: "program, as released",
        fix: "mend what the compiler names",
        commands: vec![run::cargo(&["build", "--release", "-p", "holdline-cli"])],
    });
    if built.good {
        show_binary();
    }
    noted && page && built.good
}

fn changelog_gap(changelog: &str, version: &str) -> Vec<String> {
    let heading = format!("## {version}");
    if changelog.lines().any(|line| line.starts_with(&heading)) {
        Vec::new()
    } else {
        vec![format!("CHANGELOG.md has no section `{heading}`")]
    }
}

fn show_binary() {
    let name = if cfg!(windows) {
        "holdline.exe"
    } else {
        "holdline"
    };
    let path = tree::target().join("release").join(name);
    match std::fs::metadata(&path) {
        Ok(about) => println!(
            "\n{}: {:.1} MB; goes out with README.md, CHANGELOG.md and both licences",
            path.display(),
            about.len() as f64 / 1e6
        ),
        Err(why) => println!("\n{}: {why}", path.display()),
    }
}

fn read(path: &str) -> String {
    std::fs::read_to_string(tree::root().join(path)).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_version_without_a_section_is_named() {
        assert!(changelog_gap("# Changes\n\n## 0.1.0, not released\n", "0.1.0").is_empty());
        assert_eq!(changelog_gap("# Changes\n", "0.1.0").len(), 1);
    }

    #[test]
    fn crates_go_by_their_short_names_and_rooms_are_none() {
        assert_eq!(package("geom").as_deref(), Some("holdline-geom"));
        assert_eq!(package("checks").as_deref(), Some("holdline-checks"));
        assert_eq!(package("machine"), None);
    }
}
