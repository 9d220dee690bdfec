//! `cargo x fuzz TARGET SECONDS`: broken input thrown at one reader.

use std::path::PathBuf;
use std::process::Command;

use crate::needs;
use crate::run::{self, Step};
use crate::tree;

/// Runs one target: with cargo-fuzz and a nightly compiler where they are, else by our own driver.
pub fn fuzz(words: &[&str]) -> bool {
    let (target, seconds) = match words {
        [target, seconds] if seconds.parse::<u32>().is_ok() => (*target, *seconds),
        _ => {
            eprintln!("cargo x fuzz TARGET SECONDS\n\ntargets:");
            for target in targets() {
                eprintln!("  {target}");
            }
            return false;
        }
    };
    if !targets().iter().any(|known| known == target) {
        eprintln!("no target `{target}`; there are: {}", targets().join(", "));
        return false;
    }
    if guided() {
        let mut go = Command::new("cargo");
        go.args(["+nightly", "fuzz", "run", target, "--"])
            .arg(format!("-max_total_time={seconds}"))
            .current_dir(tree::root());
        return run::openly(go);
    }
    println!("by our own driver; cargo-fuzz and a nightly compiler would search deeper");
    let mut go = run::cargo(&["run", "--quiet", "--release", "--manifest-path"]);
    go.arg(manifest())
        .args(["--bin", target, "--", seconds])
        .env("CARGO_TARGET_DIR", tree::target());
    run::openly(go)
}

/// All targets must build, so that none rots; each runs for a second, with a fixed seed.
pub fn build() -> Step {
    let with = |verb: &[&str]| {
        let mut command = run::cargo(verb);
        command
            .arg("--manifest-path")
            .arg(manifest())
            .env("CARGO_TARGET_DIR", tree::target());
        command
    };
    let mut commands = vec![
        with(&["build", "--quiet", "--bins"]),
        with(&["test", "--quiet", "--lib"]),
    ];
    for target in targets() {
        let mut go = with(&["run", "--quiet", "--bin", &target]);
        go.args(["--", "1", "1"]);
        commands.push(go);
    }
    Step {
        name: "fuzz targets build and run",
        fix: "a find: its input is kept, see the log; else a reader was renamed: follow it",
        commands,
    }
}

/// Names of all targets.
pub fn targets() -> Vec<String> {
    let mut names: Vec<String> = std::fs::read_dir(tree::root().join("fuzz/fuzz_targets"))
        .into_iter()
        .flatten()
        .flatten()
        .filter_map(|entry| {
            let name = entry.file_name().to_string_lossy().into_owned();
            name.strip_suffix(".rs").map(str::to_owned)
        })
        .collect();
    names.sort();
    names
}

fn guided() -> bool {
    needs::answer("cargo-fuzz", "--version").is_some()
        && Command::new("rustc")
            .args(["+nightly", "--version"])
            .output()
            .is_ok_and(|out| out.status.success())
}

fn manifest() -> PathBuf {
    tree::root().join("fuzz/Cargo.toml")
}
