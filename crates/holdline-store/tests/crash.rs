//! Killed at any moment, or two at once: everything that was said to be saved is there.
//!
//! A kill ends a process, not a computer: what the operating system was given, it still writes.
//! Against a pulled plug stand the journal and the flushes of docs/decisions/0003-job-file.md;
//! no test here pulls one.

mod common;

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Child;
use std::time::{Duration, Instant, SystemTime};

use common::*;
use holdline::records::Hash;
use holdline_store::{JobFile, NewDocument, RecordHead};

/// The child: saves without end, and says what was saved once the call has returned.
#[test]
fn child_saves() {
    let (Some(path), Some(log)) = (told("JOB"), told("LOG")) else {
        return;
    };
    let until = told("UNTIL").map(|n| n.to_str().unwrap().parse::<u64>().unwrap());
    let mut job = JobFile::open(&path).unwrap();
    let mut dice = Dice(u64::from(std::process::id()));
    for n in 0.. {
        if until == Some(n) {
            break;
        }
        // Larger than the database's memory for pages not yet written, now and then: the file itself is then
        // written in the middle of a save.
        let n_bytes = if dice.below(4) == 0 {
            3_000_000
        } else {
            20_000
        };
        let noise: Vec<u8> = (0..n_bytes / 4)
            .flat_map(|_| (dice.below(1 << 31) as u32).to_le_bytes())
            .collect();
        let name = format!("log-{}-{n}", std::process::id());
        let document = NewDocument {
            kind: "holdline.log",
            name: &name,
            bytes: &noise,
        };
        let head = job.add_document(&document, &stamp(n)).unwrap();
        say(&log, &format!("document {}", head.hash));
        let link = job
            .append_record(&entry(&name, vec![head.basis()]), &stamp(n))
            .unwrap();
        say(&log, &format!("record {} {}", link.seq, link.link_hash));
        let link = sign(&mut job, link.seq);
        say(&log, &format!("record {} {}", link.seq, link.link_hash));
    }
}

fn child(job: &Path, log: &Path, until: &str) -> Child {
    start(again(
        "child_saves",
        &[("JOB", job), ("LOG", log), ("UNTIL", Path::new(until))],
    ))
}

/// `UNTIL` of a child that never ends by itself.
const NEVER: &str = "18446744073709551615";

fn journal_of(path: &Path) -> PathBuf {
    PathBuf::from(format!("{}-journal", path.display()))
}

#[test]
fn killed_at_any_moment_nothing_that_was_saved_is_lost() {
    let dir = open_dir();
    let path = dir.path().join("demo.job");
    drop(JobFile::create(&path).unwrap());
    let seed = SystemTime::UNIX_EPOCH.elapsed().unwrap().as_nanos() as u64;
    println!("seed {seed}");
    let mut dice = Dice(seed);
    let (mut n_cut_off, mut n_said) = (0, 0);
    let mut all = Vec::new();
    for round in 0..24 {
        let log = dir.path().join(format!("said-{round}"));
        let mut child = child(&path, &log, NEVER);
        let give_up = Instant::now() + Duration::from_secs(20);
        while said(&log).is_empty() && Instant::now() < give_up {
            std::thread::sleep(Duration::from_millis(1));
        }
        std::thread::sleep(Duration::from_micros(dice.below(60_000)));
        child.kill().unwrap(); // SIGKILL
        child.wait().unwrap();
        n_cut_off += usize::from(journal_of(&path).exists());
        let lines = said(&log);
        assert!(!lines.is_empty(), "round {round}: the child saved nothing");
        n_said += lines.len();
        let job = JobFile::open(&path).unwrap_or_else(|fault| panic!("round {round}: {fault}"));
        check_all_there(&job, &lines);
        all.extend(lines);
        assert!(!journal_of(&path).exists());
    }
    let job = JobFile::open_read_only(&path).unwrap();
    check_all_there(&job, &all);
    let report = job.verify_chain().unwrap();
    println!(
        "24 kills, {n_cut_off} in the middle of a save, {n_said} saves said, {} records",
        report.n_records
    );
}

/// The child: stops dead in the middle of a save, half of it already in the file.
#[test]
fn child_stops_dead() {
    let Some(path) = told("DEAD") else { return };
    let connection = rusqlite::Connection::open(path).unwrap();
    connection
        .execute_batch(&format!(
            "PRAGMA cache_size = 2; BEGIN IMMEDIATE;
             INSERT INTO contents (hash, bytes) VALUES ('{}', randomblob(2000000));",
            Hash::of(b"half")
        ))
        .unwrap();
    std::process::abort();
}

#[test]
fn a_save_cut_off_halfway_is_taken_back_at_the_next_opening() {
    let dir = open_dir();
    let path = dir.path().join("demo.job");
    let job = small_job(&path);
    let want = all_of(&job).unwrap();
    drop(job);
    let before = fs::metadata(&path).unwrap().len();
    let mut command = again("child_stops_dead", &[("DEAD", &path)]);
    command.stderr(std::process::Stdio::null());
    assert!(!start(command).wait().unwrap().success());
    assert!(journal_of(&path).exists());
    assert!(
        before + 1_000_000 < fs::metadata(&path).unwrap().len(),
        "half of it is in the file"
    );

    // To read only, it cannot be taken back, and is not; the person is told to keep the two together.
    let fault = JobFile::open_read_only(&path).err().unwrap();
    assert_eq!(fault.code, "S013", "{fault}");
    assert!(journal_of(&path).exists());

    let job = JobFile::open(&path).unwrap();
    assert_eq!(all_of(&job).unwrap(), want);
    job.verify_chain().unwrap();
    drop(job);
    assert!(!journal_of(&path).exists());
    assert_eq!(fs::metadata(&path).unwrap().len(), before);
}

/// The child: makes a job.
#[test]
fn child_makes() {
    let (Some(path), Some(log)) = (told("MAKE"), told("LOG")) else {
        return;
    };
    match JobFile::create(&path) {
        Ok(_) => say(&log, "made"),
        Err(fault) => say(&log, fault.code),
    }
}

#[test]
fn killed_while_making_a_job_leaves_a_job_or_an_empty_file_that_says_so() {
    let dir = open_dir();
    let mut dice = Dice(11);
    for round in 0..20 {
        let path = dir.path().join(format!("{round}.job"));
        let log = dir.path().join(format!("{round}.said"));
        let mut child = start(again("child_makes", &[("MAKE", &path), ("LOG", &log)]));
        let give_up = Instant::now() + Duration::from_secs(20);
        while !path.exists() && Instant::now() < give_up {
            std::thread::yield_now();
        }
        std::thread::sleep(Duration::from_micros(dice.below(4_000)));
        child.kill().unwrap();
        child.wait().unwrap();
        let made = said(&log) == ["made"];
        match code(JobFile::open(&path)).as_str() {
            "ok" => {}
            "S005" if !made => {}
            other => panic!("round {round}: {other}, made {made}"),
        }
    }
}

#[test]
fn of_two_who_make_the_same_job_one_makes_it() {
    let dir = open_dir();
    let path = dir.path().join("demo.job");
    let log = dir.path().join("said");
    let start_one = || start(again("child_makes", &[("MAKE", &path), ("LOG", &log)]));
    let children = [start_one(), start_one(), start_one()];
    for mut child in children {
        assert!(child.wait().unwrap().success());
    }
    let mut lines = said(&log);
    lines.sort();
    assert_eq!(lines, ["S006", "S006", "made"]);
    JobFile::open(&path).unwrap().verify_chain().unwrap();
}

#[test]
fn two_at_once_lose_no_record() {
    let dir = open_dir();
    let path = dir.path().join("demo.job");
    drop(JobFile::create(&path).unwrap());
    let logs = [dir.path().join("said-a"), dir.path().join("said-b")];
    let children = [0, 1].map(|idx| child(&path, &logs[idx], "25"));
    // A third one looks on all the while: what it sees is always whole.
    let mut n_looks = 0;
    let mut running = children;
    while running
        .iter_mut()
        .any(|child| child.try_wait().unwrap().is_none())
    {
        JobFile::open_read_only(&path)
            .and_then(|job| job.verify_chain())
            .unwrap();
        n_looks += 1;
        std::thread::sleep(Duration::from_millis(100));
    }
    for mut child in running {
        assert!(child.wait().unwrap().success());
    }
    let job = JobFile::open(&path).unwrap();
    let report = job.verify_chain().unwrap();
    assert_eq!((report.n_records, report.n_documents), (100, 50));
    for log in &logs {
        assert_eq!(said(log).len(), 75);
        check_all_there(&job, &said(log));
    }
    let of_a = said(&logs[0]);
    let by_a = |head: &RecordHead| {
        of_a.contains(&format!("record {} {}", head.link.seq, head.link.link_hash))
    };
    let turns = job
        .records()
        .unwrap()
        .iter()
        .map(by_a)
        .collect::<Vec<bool>>();
    let n_turns = turns.windows(2).filter(|pair| pair[0] != pair[1]).count();
    println!("{n_looks} looks; the two took turns {n_turns} times");
}

#[test]
fn somebody_who_never_lets_go_is_named_after_five_seconds() {
    let dir = open_dir();
    let path = dir.path().join("demo.job");
    let mut job = small_job(&path);
    let other = rusqlite::Connection::open(&path).unwrap();
    other.execute_batch("BEGIN IMMEDIATE").unwrap();
    let began = Instant::now();
    let fault = job
        .append_record(&entry("late", Vec::new()), &stamp(5))
        .unwrap_err();
    assert_eq!(fault.code, "S009", "{fault}");
    assert!(Duration::from_secs(4) < began.elapsed());
    assert_eq!(job.records().unwrap().len(), 4); // to look is possible all the while
    other.execute_batch("ROLLBACK").unwrap();
    append(&mut job, "in time", Vec::new());
    job.verify_chain().unwrap();
}
