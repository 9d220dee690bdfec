//! A job's name with a slip in it begins no second chain of records.

use std::path::Path;
use std::process::{Command, Output};

const MACHINE: &str = concat!(
    env!("CARGO_MANIFEST_DIR"),
    "/../../demo/demo-23.machine.toml"
);
const SHOTS: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../../demo/S1-day.shots.csv");

fn check(folder: &Path, job: &str, more: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_holdline"))
        .current_dir(folder)
        .args([
            "verify",
            SHOTS,
            "--machine",
            MACHINE,
            "--coupler",
            "QC-demo",
            "--bucket",
            "T75",
        ])
        .args(["--control-sd-mm", "3,3", "--position-sd-mm", "4,6"])
        .args(["--job", job, "--by", "A. Example"])
        .args(more)
        .output()
        .expect("runs")
}

#[test]
fn a_slip_in_the_name_is_asked_about() {
    let folder = tempfile::tempdir().expect("a folder");
    let here = folder.path();
    let said = |out: &Output| String::from_utf8_lossy(&out.stderr).into_owned();
    let first = check(here, "stand-S1.job", &[]);
    assert!(
        said(&first).contains("a new job was made: stand-S1.job"),
        "{}",
        said(&first)
    );
    let again = check(here, "stand-S1.job", &[]);
    assert!(!said(&again).contains("new job"), "{}", said(&again));
    let slip = check(here, "stand-s1.job", &[]);
    assert_eq!(slip.status.code(), Some(2), "{}", said(&slip));
    assert!(
        said(&slip).contains("F069") && said(&slip).contains("stand-S1.job"),
        "{}",
        said(&slip)
    );
    assert!(!here.join("stand-s1.job").exists());
    let meant = check(here, "stand-s1.job", &["--new-job"]);
    assert!(
        said(&meant).contains("a new job was made"),
        "{}",
        said(&meant)
    );
    let other = check(here, "bridge.job", &[]);
    assert!(
        said(&other).contains("a new job was made"),
        "{}",
        said(&other)
    );
}
