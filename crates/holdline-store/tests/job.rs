//! Documents, records, sign-offs, what supersedes what, what is stale; and opening what is not a job.

mod common;

use std::fs;
use std::path::Path;

use common::*;
use holdline::records::{Hash, Json};
use holdline_store::{JobFile, NewDocument, Signer};

#[test]
fn what_was_put_in_comes_out() {
    let dir = open_dir();
    let path = dir.path().join("demo.job");
    put_small_job(&path);
    let job = JobFile::open(&path).unwrap();

    let names: Vec<(u64, String, bool)> = job
        .documents()
        .unwrap()
        .into_iter()
        .map(|d| (d.number, d.name, d.current))
        .collect();
    let want = [
        (1, "demo-23", false),
        (2, "shots", true),
        (3, "demo-23", true),
    ];
    assert_eq!(
        names,
        want.map(|(number, name, current)| (number, name.to_owned(), current))
    );
    let current = job.current_document("demo-23").unwrap().unwrap();
    assert_eq!(
        job.document(&current.hash).unwrap().bytes,
        b"stick.length = 2.91 # taped again"
    );
    assert_eq!(job.current_document("nobody").unwrap(), None);

    let records = job.records().unwrap();
    let seqs: Vec<u64> = records.iter().map(|r| r.link.seq).collect();
    assert_eq!(seqs, [1, 2, 3, 4]);
    let kinds: Vec<&str> = records.iter().map(|r| r.kind.as_str()).collect();
    assert_eq!(kinds, ["verify", "verify", "sign-off", "verify"]);

    // The first two rest on the old sheet; the last one on shots alone.
    let stale: Vec<usize> = records.iter().map(|r| r.stale.len()).collect();
    assert_eq!(stale, [1, 1, 0, 0]);
    assert_eq!(records[0].stale[0].rests_on.name, "demo-23");
    assert_eq!(records[0].stale[0].current, current.hash);

    assert_eq!(records[0].superseded_by, Some(4));
    assert_eq!(records[3].supersedes, Some(records[0].link.link_hash));
    assert_eq!(records[1].signatures.len(), 1);
    assert_eq!(records[1].signatures[0].name, "B. Engineer");
    assert_eq!(records[2].signs, Some(records[1].link.link_hash));

    let record = job.record(2).unwrap();
    assert_eq!(
        record.entry.result.get("mean_up_m"),
        Some(&Json::from(-0.004))
    );
    assert_eq!(Hash::of(record.body.bytes()), record.head.link.body_hash);

    let report = job.verify_chain().unwrap();
    assert_eq!((report.n_records, report.n_documents), (4, 3));
    assert_eq!(report.tail, job.tail().unwrap());
    assert_eq!(job.check_printed(&report.tail), Ok(4));
    assert_eq!(code(job.check_printed(&Hash::ZERO)), "S042");
    assert!(!job.is_read_only());
}

/// A server hands the job from thread to thread, one at a time.
#[test]
fn a_job_can_move_to_another_thread() {
    let dir = open_dir();
    let mut job = small_job(&dir.path().join("demo.job"));
    let job = std::thread::spawn(move || {
        append(&mut job, "from elsewhere", Vec::new());
        job
    });
    assert_eq!(job.join().unwrap().records().unwrap().len(), 5);
}

#[test]
fn a_sheet_put_back_as_it_was_is_no_longer_newer() {
    let dir = open_dir();
    let mut job = small_job(&dir.path().join("demo.job"));
    assert_eq!(job.records().unwrap()[0].stale.len(), 1);
    add(&mut job, "demo-23", b"stick.length = 2.90 # the first tape");
    assert_eq!(job.records().unwrap()[0].stale.len(), 0);
    assert_eq!(job.documents().unwrap().len(), 4);
    job.verify_chain().unwrap();
}

#[test]
fn the_same_document_again_changes_nothing() {
    let dir = open_dir();
    let mut job = small_job(&dir.path().join("demo.job"));
    let before = job.current_document("shots").unwrap().unwrap();
    assert_eq!(
        add(&mut job, "shots", b"point,northing_m\nB2,100.000\n"),
        before
    );
    assert_eq!(job.documents().unwrap().len(), 3);
    // The same content under another name is another document with the same hash.
    assert_eq!(
        add(&mut job, "shots again", b"point,northing_m\nB2,100.000\n").hash,
        before.hash
    );
    assert_eq!(add(&mut job, "nothing in it", b"").n_bytes, 0);
    job.verify_chain().unwrap();
}

#[test]
fn an_empty_job_is_whole() {
    let dir = open_dir();
    let path = dir.path().join("demo.job");
    let job = JobFile::create(&path).unwrap();
    assert_eq!(job.tail().unwrap(), Hash::ZERO);
    assert_eq!(job.verify_chain().unwrap().n_records, 0);
    drop(job);
    assert_eq!(
        JobFile::open_read_only(&path).unwrap().records().unwrap(),
        []
    );
    // One file and nothing beside it.
    assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 1);
}

#[test]
fn what_does_not_belong_is_refused() {
    let dir = open_dir();
    let mut job = small_job(&dir.path().join("demo.job"));
    let before = all_of(&job).unwrap();
    let first = job.record(1).unwrap().head;
    let signature = job.record(3).unwrap().head;

    let other = NewDocument {
        kind: "holdline.shots",
        name: "demo-23",
        bytes: b"",
    };
    assert_eq!(code(job.add_document(&other, &stamp(0))), "S024");
    let unnamed = NewDocument {
        kind: "holdline.shots",
        name: "a\nb",
        bytes: b"",
    };
    assert_eq!(code(job.add_document(&unnamed, &stamp(0))), "R011");
    assert_eq!(code(job.document(&Hash::ZERO)), "S020");
    assert_eq!(code(job.record(0)), "S030");
    assert_eq!(code(job.record(5)), "S030");

    let mut lost = entry("x", first.rests_on.clone());
    lost.rests_on[1].hash = Hash::ZERO;
    let fault = job.append_record(&lost, &stamp(4)).unwrap_err();
    assert_eq!(fault.code, "S031");
    assert!(fault.at.ends_with("record.rests_on[2]"), "{}", fault.at);
    lost.rests_on = vec![first.rests_on[0].clone()];
    lost.rests_on[0].name = "shots".to_owned(); // a hash that is there, under another name
    assert_eq!(code(job.append_record(&lost, &stamp(4))), "S031");

    let mut next = entry("x", Vec::new());
    next.supersedes = Some(first.link.link_hash);
    assert_eq!(code(job.append_record(&next, &stamp(4))), "S032");
    next.supersedes = Some(signature.link.link_hash);
    assert_eq!(code(job.append_record(&next, &stamp(4))), "S033");
    next.supersedes = Some(Hash::ZERO);
    assert_eq!(code(job.append_record(&next, &stamp(4))), "S030");
    next.supersedes = None;
    next.kind = "sign-off".to_owned();
    assert_eq!(code(job.append_record(&next, &stamp(4))), "S033");
    next.kind = "verify".to_owned();
    next.result = Json::from(f64::NAN);
    assert_eq!(code(job.append_record(&next, &stamp(4))), "R002");

    let signer = Signer {
        name: "B. Engineer",
        role: "site engineer",
        date: "2026-05-04",
    };
    assert_eq!(code(job.draft_sign_off(3, &signer)), "S033");
    assert_eq!(code(job.draft_sign_off(9, &signer)), "S030");
    assert_eq!(
        code(job.draft_sign_off(1, &Signer { name: "", ..signer })),
        "R011"
    );
    let mut sign_off = job.draft_sign_off(1, &signer).unwrap();
    sign_off.body_hash = Hash::ZERO;
    assert_eq!(code(job.sign(&sign_off, PROGRAM, &stamp(4))), "S030");
    sign_off.link_hash = Hash::ZERO;
    assert_eq!(code(job.sign(&sign_off, PROGRAM, &stamp(4))), "S030");
    sign_off.link_hash = signature.link.link_hash;
    assert_eq!(code(job.sign(&sign_off, PROGRAM, &stamp(4))), "S033");

    assert_eq!(all_of(&job).unwrap(), before);
    job.verify_chain().unwrap();
}

#[test]
fn a_key_signs_and_a_wrong_signature_is_refused() {
    let dir = open_dir();
    let mut job = small_job(&dir.path().join("demo.job"));
    let signer = Signer {
        name: "B. Engineer",
        role: "site engineer",
        date: "2026-05-04",
    };
    let mut sign_off = job.draft_sign_off(4, &signer).unwrap();
    sign_off.sign_with(&[7; 32]);
    let link = job.sign(&sign_off, PROGRAM, &stamp(4)).unwrap();
    let signature = job.record(4).unwrap().head.signatures[0].clone();
    assert_eq!((signature.seq, signature.by_key), (link.seq, true));
    sign_off.date = "2026-05-05".to_owned(); // after signing
    assert_eq!(code(job.sign(&sign_off, PROGRAM, &stamp(4))), "R030");
    assert_eq!(job.verify_chain().unwrap().n_records, 5);
}

#[test]
fn read_only_writes_nothing() {
    let dir = open_dir();
    let path = dir.path().join("demo.job");
    put_small_job(&path);
    let before = fs::read(&path).unwrap();
    let mut job = JobFile::open_read_only(&path).unwrap();
    assert!(job.is_read_only());
    assert_eq!(
        code(job.append_record(&entry("x", Vec::new()), &stamp(4))),
        "S014"
    );
    let document = NewDocument {
        kind: "k",
        name: "n",
        bytes: b"x",
    };
    assert_eq!(code(job.add_document(&document, &stamp(4))), "S014");
    job.verify_chain().unwrap();
    drop(job);
    assert_eq!(fs::read(&path).unwrap(), before);
}

#[test]
fn a_copy_is_whole_and_overwrites_nothing() {
    let dir = open_dir();
    let path = dir.path().join("demo.job");
    let copy = dir.path().join("copy.job");
    let mut job = small_job(&path);
    let report = job.copy_to(&copy).unwrap();
    assert_eq!(report, job.verify_chain().unwrap());
    assert_eq!(code(job.copy_to(&copy)), "S006");
    assert_eq!(code(job.copy_to(&path)), "S006");
    assert_eq!(code(job.copy_to(&dir.path().join("no/where.job"))), "S001");
    let again = JobFile::open(&copy).unwrap();
    assert_eq!(all_of(&again).unwrap(), all_of(&job).unwrap());
    drop(again);
    append(&mut job, "later", Vec::new());
    assert_eq!(JobFile::open(&copy).unwrap().records().unwrap().len(), 4);
    assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 2);
}

#[test]
fn a_file_that_is_there_is_never_overwritten() {
    let dir = open_dir();
    let path = dir.path().join("demo.job");
    fs::write(&path, "my notes").unwrap();
    assert_eq!(code(JobFile::create(&path)), "S006");
    assert_eq!(fs::read(&path).unwrap(), b"my notes");
    assert_eq!(
        code(JobFile::create(&dir.path().join("no/where.job"))),
        "S001"
    );
    assert_eq!(code(JobFile::create(dir.path())), "S006");
}

/// Opens what is not a job of ours, both ways, and sees that it stays as it was.
#[track_caller]
fn check_refused(path: &Path, want: &str) {
    let before = fs::read(path).ok();
    assert_eq!(code(JobFile::open(path)), want);
    assert_eq!(code(JobFile::open_read_only(path)), want);
    assert_eq!(fs::read(path).ok(), before, "the file was changed");
}

#[test]
fn what_is_not_a_job_is_left_alone() {
    let dir = open_dir();
    let at = |name: &str| dir.path().join(name);
    check_refused(&at("nowhere"), "S001");
    assert!(!at("nowhere").exists());
    check_refused(dir.path(), "S002");
    for (name, bytes, want) in [
        ("empty", &b""[..], "S005"),
        ("text", b"stick.length = 2.9\n", "S002"),
        ("short", b"SQLite format 3\0", "S010"),
        ("zeros", &[0; 4096], "S002"),
        ("binary", &[0xff; 5000], "S002"),
        ("wide text", &[0xff, 0xfe, b's', 0, b't', 0], "S002"),
    ] {
        fs::write(at(name), bytes).unwrap();
        check_refused(&at(name), want);
    }
    let other = rusqlite::Connection::open(at("other")).unwrap();
    other
        .execute_batch("CREATE TABLE birds (name TEXT); PRAGMA user_version = 1")
        .unwrap();
    drop(other);
    check_refused(&at("other"), "S003");
    let names: Vec<_> = fs::read_dir(dir.path())
        .unwrap()
        .map(|e| e.unwrap().file_name())
        .collect();
    assert_eq!(names.len(), 7, "something was left beside them: {names:?}");
}

#[test]
fn a_newer_version_is_left_alone() {
    let dir = open_dir();
    let path = dir.path().join("demo.job");
    put_small_job(&path);
    for version in [2, 99, -1] {
        let raw = rusqlite::Connection::open(&path).unwrap();
        raw.execute_batch(&format!("PRAGMA user_version = {version}"))
            .unwrap();
        drop(raw);
        check_refused(&path, "S004");
    }
    let fault = JobFile::open(&path).err().unwrap();
    assert!(
        fault.to_string().contains("open it with a newer holdline"),
        "{fault}"
    );
}

#[test]
fn a_file_cut_short_is_said_to_be_damaged_and_left_alone() {
    let dir = open_dir();
    let path = dir.path().join("demo.job");
    put_small_job(&path);
    let whole = fs::read(&path).unwrap();
    for n_bytes in [
        20,
        99,
        100,
        1000,
        4096,
        4097,
        whole.len() / 2,
        whole.len() - 4096,
        whole.len() - 1,
    ] {
        fs::write(&path, &whole[..n_bytes]).unwrap();
        check_refused(&path, "S010");
    }
}

#[test]
fn a_journal_mode_set_by_another_program_is_set_back() {
    let dir = open_dir();
    let path = dir.path().join("demo.job");
    put_small_job(&path);
    let raw = rusqlite::Connection::open(&path).unwrap();
    raw.query_row("PRAGMA journal_mode = WAL", [], |row| {
        row.get::<_, String>(0)
    })
    .unwrap();
    drop(raw);
    let mut job = JobFile::open(&path).unwrap();
    append(&mut job, "later", Vec::new());
    drop(job);
    assert_eq!(fs::read(&path).unwrap()[18..20], [1, 1]); // rollback journal, in the header
    assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 1);
}
