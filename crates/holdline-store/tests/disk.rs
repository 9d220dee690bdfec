//! The disk is full, or may not be written, or the file goes away: a fault that says so, and nothing lost.
#![cfg(unix)]

mod common;

use std::fs;
use std::os::unix::fs::MetadataExt as _;
use std::os::unix::process::CommandExt as _;
use std::path::{Path, PathBuf};
use std::process::Command;

use common::*;
use holdline_store::{JobFile, NewDocument};

/// A user without rights; used where these tests run as root, whom no rights stop.
const NOBODY: u32 = 65_534;

fn is_root() -> bool {
    fs::metadata("/proc/self").is_ok_and(|data| data.uid() == 0)
}

/// The child: tries one thing and says how it went.
#[test]
fn child_tries() {
    let (Some(what), Some(path), Some(log)) = (told("TRY"), told("JOB"), told("LOG")) else {
        return;
    };
    let go = || match what.to_str().unwrap() {
        "create" => JobFile::create(&path).map(|_| ()),
        "open" => JobFile::open(&path).map(|_| ()),
        "read" => JobFile::open_read_only(&path)?.verify_chain().map(|_| ()),
        "copy" => JobFile::open_read_only(&told("FROM").unwrap())?
            .copy_to(&path)
            .map(|_| ()),
        "fill" => fill(&mut JobFile::open(&path)?, &log),
        other => panic!("{other}"),
    };
    match go() {
        Ok(()) => say(&log, "ok"),
        Err(fault) => say(&log, fault.code),
    }
}

/// Adds documents until it is refused; says what was saved.
fn fill(job: &mut JobFile, log: &Path) -> Result<(), holdline_geom::fault::Fault> {
    for n in 0..10_000 {
        let mut bytes = vec![b'x'; 30_000];
        bytes.extend(format!("{n}").bytes());
        let name = format!("log-{n}");
        let head = job.add_document(
            &NewDocument {
                kind: "k",
                name: &name,
                bytes: &bytes,
            },
            &stamp(n),
        )?;
        say(log, &format!("document {}", head.hash));
        let link = job.append_record(&entry(&name, vec![head.basis()]), &stamp(n))?;
        say(log, &format!("record {} {}", link.seq, link.link_hash));
    }
    Ok(())
}

/// What a user without rights gets.
fn tried_by_nobody(what: &str, tell: &[(&str, &Path)], log: &Path) -> Option<String> {
    let _ = fs::remove_file(log);
    let mut command = again("child_tries", &[("TRY", Path::new(what)), ("LOG", log)]);
    for (name, value) in tell {
        command.env(format!("HOLDLINE_STORE_TEST_{name}"), value);
    }
    if is_root() {
        command.uid(NOBODY).gid(NOBODY);
    }
    match command.status() {
        Ok(status) if status.success() => said(log).last().cloned(),
        failed => {
            eprintln!(
                "SKIPPED: cannot run {:?} as another user: {failed:?}",
                command.get_program()
            );
            None
        }
    }
}

#[test]
fn a_file_or_folder_that_may_not_be_written() {
    let dir = open_dir();
    let log = dir.path().join("said");
    let folder = dir.path().join("folder");
    fs::create_dir(&folder).unwrap();
    let path = folder.join("demo.job");
    drop(small_job(&path));
    let before = fs::read(&path).unwrap();
    let check = |what: &str, tell: &[(&str, &Path)], want: &str| {
        if let Some(got) = tried_by_nobody(what, tell, &log) {
            assert_eq!(got, want, "{what} with {tell:?}");
        }
        let names: Vec<_> = fs::read_dir(&folder)
            .unwrap()
            .map(|e| e.unwrap().file_name())
            .collect();
        assert_eq!(names, ["demo.job"], "after {what}");
        assert_eq!(fs::read(&path).unwrap(), before);
    };
    let new = folder.join("new.job");

    rights(&path, 0o444); // the file
    rights(&folder, 0o777);
    check("open", &[("JOB", &path)], "S007");
    check("read", &[("JOB", &path)], "ok");

    rights(&path, 0o666); // the folder
    rights(&folder, 0o555);
    check("open", &[("JOB", &path)], "S007");
    check("read", &[("JOB", &path)], "ok");
    check("create", &[("JOB", &new)], "S012");
    check("copy", &[("FROM", &path), ("JOB", &new)], "S012");

    rights(&path, 0o000); // not even to read
    check("open", &[("JOB", &path)], "S012");
    check("read", &[("JOB", &path)], "S012");
    rights(&folder, 0o755);
}

/// A small disk of its own; needs root and the right to mount.
struct SmallDisk(PathBuf);

impl SmallDisk {
    fn mount(at: PathBuf, options: &str) -> Option<SmallDisk> {
        fs::create_dir_all(&at).unwrap();
        let mut command = Command::new("mount");
        command
            .args(["-t", "tmpfs", "-o", options, "tmpfs"])
            .arg(&at);
        let mounted = is_root() && command.status().is_ok_and(|status| status.success());
        if !mounted {
            eprintln!("SKIPPED: a disk of one megabyte needs root and the right to mount");
        }
        mounted.then_some(SmallDisk(at))
    }
}

impl Drop for SmallDisk {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg("-l").arg(&self.0).status();
    }
}

#[test]
fn a_full_disk_loses_nothing_and_goes_on_once_there_is_room() {
    let dir = open_dir();
    let Some(disk) = SmallDisk::mount(dir.path().join("disk"), "size=1m") else {
        return;
    };
    let (path, log) = (disk.0.join("demo.job"), dir.path().join("said"));
    let ballast = disk.0.join("ballast");
    fs::write(&ballast, vec![0; 400_000]).unwrap();
    let mut job = JobFile::create(&path).unwrap();
    let fault = fill(&mut job, &log).unwrap_err();
    assert_eq!(fault.code, "S008", "{fault}");
    let lines = said(&log);
    assert!(3 < lines.len());
    check_all_there(&job, &lines);
    job.verify_chain().unwrap();

    // No room at all: it opens all the same, and says it again at the save.
    drop(job);
    while fs::write(
        disk.0
            .join(format!("more-{}", fs::read_dir(&disk.0).unwrap().count())),
        [0; 4096],
    )
    .is_ok()
    {}
    let mut job = JobFile::open(&path).unwrap();
    check_all_there(&job, &lines);
    let big = NewDocument {
        kind: "k",
        name: "big",
        bytes: &[7; 100_000],
    };
    assert_eq!(code(job.add_document(&big, &stamp(0))), "S008");
    assert_eq!(code(job.copy_to(&disk.0.join("copy.job"))), "S008");
    assert!(
        !disk.0.join("copy.job").exists(),
        "half a copy stayed behind"
    );
    assert_eq!(code(JobFile::create(&disk.0.join("new.job"))), "S008");
    assert!(!disk.0.join("new.job").exists(), "half a job stayed behind");

    fs::remove_file(&ballast).unwrap();
    job.add_document(&big, &stamp(0)).unwrap();
    append(&mut job, "there is room again", Vec::new());
    check_all_there(&job, &lines);
    job.verify_chain().unwrap();
}

#[test]
fn a_disk_that_is_mounted_to_read_only() {
    let dir = open_dir();
    let Some(disk) = SmallDisk::mount(dir.path().join("disk"), "size=1m") else {
        return;
    };
    let path = disk.0.join("demo.job");
    drop(small_job(&path));
    let mut command = Command::new("mount");
    if !command
        .args(["-o", "remount,ro"])
        .arg(&disk.0)
        .status()
        .is_ok_and(|s| s.success())
    {
        eprintln!("SKIPPED: cannot remount to read only");
        return;
    }
    assert_eq!(code(JobFile::open(&path)), "S007");
    assert_eq!(code(JobFile::create(&disk.0.join("new.job"))), "S007");
    JobFile::open_read_only(&path)
        .unwrap()
        .verify_chain()
        .unwrap();
}

/// Works without root: the system refuses to let any file grow beyond a size, in the middle of a save.
#[test]
fn a_write_that_fails_halfway_loses_nothing() {
    let dir = open_dir();
    let (path, log) = (dir.path().join("demo.job"), dir.path().join("said"));
    drop(small_job(&path));
    let mut command = Command::new("sh");
    // In blocks of 512 bytes; the signal is ignored, so that the write reports an error, as a bad disk would.
    command.args(["-c", "trap '' XFSZ; ulimit -f 800; exec \"$0\" \"$@\""]);
    command.arg(std::env::current_exe().unwrap());
    let what = Path::new("fill");
    tell_child(
        &mut command,
        "child_tries",
        &[("TRY", what), ("JOB", &path), ("LOG", &log)],
    );
    assert!(start(command).wait().unwrap().success());
    let mut lines = said(&log);
    let last = lines.pop().unwrap();
    assert!(["S008", "S011"].contains(&last.as_str()), "{last}");
    assert!(3 < lines.len());
    let mut job = JobFile::open(&path).unwrap();
    check_all_there(&job, &lines);
    job.verify_chain().unwrap();
    append(&mut job, "on a disk that works again", Vec::new());
    assert!(fs::metadata(&path).unwrap().len() < 800 * 1024);
}

#[test]
fn a_file_that_went_away_takes_no_save() {
    let dir = open_dir();
    let path = dir.path().join("demo.job");
    let elsewhere = dir.path().join("elsewhere.job");
    let mut job = small_job(&path);
    fs::rename(&path, &elsewhere).unwrap();
    let document = NewDocument {
        kind: "k",
        name: "n",
        bytes: b"x",
    };
    assert_eq!(code(job.add_document(&document, &stamp(0))), "S017");
    // Another file under the old name is not ours to write to either.
    fs::write(&path, "somebody's notes").unwrap();
    assert_eq!(code(job.add_document(&document, &stamp(0))), "S017");
    assert_eq!(fs::read(&path).unwrap(), b"somebody's notes");
    fs::remove_file(&path).unwrap();
    fs::rename(&elsewhere, &path).unwrap();
    job.add_document(&document, &stamp(0)).unwrap();
    job.verify_chain().unwrap();
}
