//! What the tests of the job file share: a small job, and this test program started again as a child.
#![allow(dead_code)] // each test file uses its own part

use std::fs::{self, OpenOptions};
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::LazyLock;

use holdline::records::{Basis, Entry, Hash, Json, Link, Stamp};
use holdline_store::{DocumentHead, JobFile, NewDocument, Signer};

pub const PROGRAM: &str = "holdline 0.1.0";

/// A directory that everybody may enter, gone with the value.
pub fn open_dir() -> tempfile::TempDir {
    let dir = tempfile::tempdir().unwrap();
    #[cfg(unix)]
    rights(dir.path(), 0o777);
    dir
}

#[cfg(unix)]
pub fn rights(path: &Path, mode: u32) {
    use std::os::unix::fs::PermissionsExt as _;
    fs::set_permissions(path, fs::Permissions::from_mode(mode)).unwrap();
}

pub fn stamp(minute: u64) -> Stamp {
    let at = format!("2026-05-04T{:02}:{:02}:00Z", minute / 60 % 24, minute % 60);
    Stamp::new(at, "A. Specialist").unwrap()
}

pub fn entry(title: &str, rests_on: Vec<Basis>) -> Entry {
    Entry {
        kind: "verify".to_owned(),
        title: title.to_owned(),
        program: PROGRAM.to_owned(),
        outcome: Some("accepted".to_owned()),
        rests_on,
        settings: Json::object([("tolerance_m", Json::from(0.03))]),
        supersedes: None,
        result: Json::object([("mean_up_m", Json::from(-0.004)), ("of", Json::from(title))]),
    }
}

pub fn add(job: &mut JobFile, name: &str, bytes: &[u8]) -> DocumentHead {
    let document = NewDocument {
        kind: "holdline.machine",
        name,
        bytes,
    };
    job.add_document(&document, &stamp(0)).unwrap()
}

pub fn append(job: &mut JobFile, title: &str, rests_on: Vec<Basis>) -> Link {
    job.append_record(&entry(title, rests_on), &stamp(1))
        .unwrap()
}

pub fn sign(job: &mut JobFile, seq: u64) -> Link {
    let signer = Signer {
        name: "B. Engineer",
        role: "site engineer",
        date: "2026-05-04",
    };
    let sign_off = job.draft_sign_off(seq, &signer).unwrap();
    job.sign(&sign_off, PROGRAM, &stamp(2)).unwrap()
}

/// Two documents, one of them in two versions; three records, the second signed, the third superseding the first.
pub fn small_job(path: &Path) -> JobFile {
    let mut job = JobFile::create(path).unwrap();
    let sheet = add(&mut job, "demo-23", b"stick.length = 2.90 # the first tape");
    let shots = add(&mut job, "shots", b"point,northing_m\nB2,100.000\n");
    let first = append(&mut job, "first look", vec![sheet.basis(), shots.basis()]);
    append(&mut job, "left tooth", vec![sheet.basis()]);
    sign(&mut job, 2);
    add(&mut job, "demo-23", b"stick.length = 2.91 # taped again");
    let mut third = entry("second look", vec![shots.basis()]);
    third.supersedes = Some(first.link_hash);
    job.append_record(&third, &stamp(3)).unwrap();
    job
}

/// The file of [`small_job`], made once; the disk is then not waited for again and again.
pub fn put_small_job(path: &Path) -> &'static [u8] {
    static FILE: LazyLock<Vec<u8>> = LazyLock::new(|| {
        let dir = open_dir();
        let path = dir.path().join("demo.job");
        drop(small_job(&path));
        fs::read(path).unwrap()
    });
    fs::write(path, &*FILE).unwrap();
    &FILE
}

/// The fault's code, or "ok".
pub fn code<T>(result: Result<T, holdline_geom::fault::Fault>) -> String {
    match result {
        Ok(_) => "ok".to_owned(),
        Err(fault) => fault.code.to_owned(),
    }
}

/// Everything that a job says, to compare.
pub fn all_of(job: &JobFile) -> Result<String, holdline_geom::fault::Fault> {
    let mut all = String::new();
    for head in job.documents()? {
        all += &format!("{head:?} {:?}\n", job.document(&head.hash)?.bytes);
    }
    for head in job.records()? {
        all += &format!("{:?}\n", job.record(head.link.seq)?);
    }
    Ok(all)
}

/// A row of numbers without a pattern, the same for the same seed.
pub struct Dice(pub u64);

impl Dice {
    pub fn below(&mut self, n: u64) -> u64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % n
    }
}

/// What a child is told, by its environment.
pub fn told(what: &str) -> Option<PathBuf> {
    std::env::var_os(format!("HOLDLINE_STORE_TEST_{what}")).map(PathBuf::from)
}

/// This test program again, running the one test `name`, with what it is told.
pub fn again(name: &str, tell: &[(&str, &Path)]) -> Command {
    let mut command = Command::new(std::env::current_exe().unwrap());
    tell_child(&mut command, name, tell);
    command
}

/// `name` and what to tell, put on any command that ends in starting this program.
pub fn tell_child(command: &mut Command, name: &str, tell: &[(&str, &Path)]) {
    command.args(["--exact", name, "--test-threads=1", "--quiet"]);
    command
        .stdout(Stdio::null())
        .stderr(Stdio::inherit())
        .stdin(Stdio::null());
    for (what, value) in tell {
        command.env(format!("HOLDLINE_STORE_TEST_{what}"), value);
    }
}

pub fn start(mut command: Command) -> Child {
    command.spawn().unwrap()
}

/// Adds a line to a file of what was said to be saved. Survives the end of this process.
pub fn say(path: &Path, line: &str) {
    let mut file = OpenOptions::new()
        .create(true)
        .append(true)
        .open(path)
        .unwrap();
    file.write_all(format!("{line}\n").as_bytes()).unwrap();
}

/// Lines that were said whole.
pub fn said(path: &Path) -> Vec<String> {
    let text = fs::read_to_string(path).unwrap_or_default();
    let whole = text.rfind('\n').map_or(0, |end| end + 1);
    text[..whole].lines().map(str::to_owned).collect()
}

/// Everything that was said to be saved is there: `record SEQ LINK` or `document HASH`.
#[track_caller]
pub fn check_all_there(job: &JobFile, lines: &[String]) {
    for line in lines {
        let words: Vec<&str> = line.split(' ').collect();
        match words[..] {
            ["record", seq, link] => {
                let record = job.record(seq.parse().unwrap()).unwrap();
                assert_eq!(record.head.link.link_hash.to_string(), link, "{line}");
            }
            ["document", hash] => {
                job.document(&Hash::from_hex("said", hash).unwrap())
                    .unwrap();
            }
            _ => panic!("what was said: {line:?}"),
        }
    }
}
