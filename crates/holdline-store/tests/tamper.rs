//! Somebody, or a failing disk, changes the file: it is refused, or found and named.

mod common;

use std::fs;
use std::path::Path;

use common::*;
use holdline::records::{Chain, Hash, Link};
use holdline_store::{JobFile, Signer};
use rusqlite::Connection;

/// Runs statements on the file as any other program would.
fn raw(path: &Path, sql: &str) -> rusqlite::Result<()> {
    let connection = Connection::open(path)?;
    connection.execute_batch("PRAGMA foreign_keys = OFF; PRAGMA synchronous = OFF")?;
    connection.execute_batch(sql)
}

#[test]
fn the_guards_refuse_every_change() {
    let dir = open_dir();
    let path = dir.path().join("demo.job");
    put_small_job(&path);
    let before = fs::read(&path).unwrap();
    let zeros = Hash::ZERO;
    let tables = ["migrations", "contents", "documents", "records", "rests_on"];
    let mut tries: Vec<String> = Vec::new();
    for table in tables {
        tries.push(format!("DELETE FROM {table}"));
        tries.push(format!("REPLACE INTO {table} SELECT * FROM {table}"));
        tries.push(format!("INSERT INTO {table} SELECT * FROM {table}"));
    }
    tries.extend(
        [
            "UPDATE migrations SET checksum = ''",
            "UPDATE contents SET bytes = x'00' WHERE id = 1",
            "UPDATE documents SET name = 'x'",
            "UPDATE records SET title = 'x' WHERE seq = 1",
            "UPDATE records SET body = x'7b7d' WHERE seq = 2",
            "UPDATE OR REPLACE records SET seq = 1 WHERE seq = 2",
            "UPDATE rests_on SET name = 'x'",
            "DELETE FROM records WHERE seq = 4",
            "INSERT OR REPLACE INTO contents (id, hash, bytes) SELECT 1, lower(hex(zeroblob(32))), x'00'",
            "INSERT OR REPLACE INTO contents (hash, bytes) SELECT hash, x'00' FROM contents",
            "INSERT INTO documents (number, kind, name, hash, added_at, added_by, check_hash)
             SELECT 9, kind, name, hash, added_at, added_by, check_hash FROM documents",
            "INSERT INTO rests_on (seq, position, kind, name, hash)
             SELECT 1, 3, kind, name, hash FROM rests_on LIMIT 1",
        ]
        .map(str::to_owned),
    );
    // The next number, but beside the end of the chain; and a second record that supersedes the first.
    let insert =
        "INSERT OR REPLACE INTO records (seq, kind, title, program, made_at, made_by, body_hash,
                  prev_link_hash, link_hash, supersedes, body)
                  SELECT 5, 'k', 't', 'p', 'a', 'b', body_hash";
    tries.push(format!(
        "{insert}, '{zeros}', lower(hex(randomblob(32))), NULL, x'' FROM records"
    ));
    tries.push(format!(
        "{insert}, link_hash, lower(hex(randomblob(32))), supersedes, x'' FROM records WHERE seq = 4"
    ));
    for sql in &tries {
        let error = raw(&path, sql).expect_err(sql);
        assert!(error.to_string().contains("append-only"), "{sql}: {error}");
    }
    assert_eq!(fs::read(&path).unwrap(), before);
    JobFile::open(&path).unwrap().verify_chain().unwrap();
}

/// Changes the file with its guards taken off and put back, and says what the check finds.
#[track_caller]
fn check_found(sql: &str, want_code: &str, want_at: &str) {
    let dir = open_dir();
    let path = dir.path().join("demo.job");
    put_small_job(&path);
    let connection = Connection::open(&path).unwrap();
    connection
        .execute_batch("PRAGMA foreign_keys = OFF; PRAGMA synchronous = OFF; BEGIN")
        .unwrap();
    let guards: Vec<(String, String)> = connection
        .prepare("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'")
        .unwrap()
        .query_map([], |row| Ok((row.get(0)?, row.get(1)?)))
        .unwrap()
        .collect::<Result<_, _>>()
        .unwrap();
    for (name, _) in &guards {
        connection
            .execute_batch(&format!("DROP TRIGGER {name}"))
            .unwrap();
    }
    connection.execute_batch(sql).expect(sql);
    for (_, sql) in &guards {
        connection.execute_batch(sql).unwrap();
    }
    connection.execute_batch("COMMIT").unwrap();
    drop(connection);
    let fault = JobFile::open(&path).unwrap().verify_chain().expect_err(sql);
    assert_eq!(fault.code, want_code, "{fault}");
    assert!(fault.at.contains(want_at), "{fault}");
}

#[test]
fn a_change_behind_the_guards_is_found_and_named() {
    // Bodies and links.
    check_found(
        "UPDATE records SET body = CAST(replace(body, '0.004', '0.003') AS BLOB) WHERE seq = 2",
        "S041",
        "record[2]",
    );
    check_found(
        "UPDATE records SET body = x'' WHERE seq = 4",
        "S041",
        "record[4].body",
    );
    check_found(
        "UPDATE records SET made_by = 'C. Other' WHERE seq = 2",
        "R022",
        "record[2].link_hash",
    );
    check_found(
        "UPDATE records SET made_at = '2026-05-04T00:09:00Z' WHERE seq = 1",
        "R022",
        "record[1]",
    );
    check_found(
        "UPDATE records SET made_at = 'noon' WHERE seq = 3",
        "R010",
        "record[3].made_at",
    );
    check_found(
        "UPDATE records SET link_hash = replace(link_hash, 'a', 'b') WHERE seq = 4",
        "R022",
        "record[4]",
    );
    check_found(
        "UPDATE records SET link_hash = upper(link_hash) WHERE seq = 4",
        "R001",
        "record[4].link_hash",
    );
    check_found(
        "UPDATE records SET prev_link_hash = replace(prev_link_hash, '1', '2') WHERE seq = 4",
        "R021",
        "record[4].prev_link_hash",
    );
    check_found(
        "UPDATE records SET body_hash = replace(body_hash, '1', '2') WHERE seq = 2",
        "S041",
        "record[2]",
    );
    check_found("DELETE FROM records WHERE seq = 1", "R020", "record[2].seq");
    check_found("DELETE FROM records WHERE seq = 3", "R020", "record[4].seq");
    // What stands beside the body, for lists.
    check_found(
        "UPDATE records SET title = 'x' WHERE seq = 2",
        "S043",
        "record[2].title",
    );
    check_found(
        "UPDATE records SET kind = 'x' WHERE seq = 2",
        "S043",
        "record[2].kind",
    );
    check_found(
        "UPDATE records SET outcome = NULL WHERE seq = 2",
        "S043",
        "record[2].outcome",
    );
    check_found(
        "UPDATE records SET program = 'x' WHERE seq = 3",
        "S043",
        "record[3].program",
    );
    check_found(
        "UPDATE records SET supersedes = NULL WHERE seq = 4",
        "S043",
        "record[4].supersedes",
    );
    check_found(
        "UPDATE records SET signs = NULL WHERE seq = 3",
        "S043",
        "record[3].signs",
    );
    check_found(
        "UPDATE records SET signs = (SELECT link_hash FROM records WHERE seq = 1) WHERE seq = 3",
        "S043",
        "record[3].signs",
    );
    check_found(
        "DELETE FROM rests_on WHERE seq = 1 AND position = 2",
        "S043",
        "record[1].rests_on",
    );
    check_found(
        "UPDATE rests_on SET name = 'x' WHERE seq = 2",
        "S043",
        "record[2].rests_on",
    );
    check_found(
        "INSERT INTO rests_on SELECT 7, 1, kind, name, hash FROM rests_on WHERE seq = 2",
        "S043",
        "record[7].rests_on",
    );
    // Documents: under the first record that rests on them, or by themselves.
    check_found(
        "UPDATE contents SET bytes = x'00' WHERE id = 1",
        "S040",
        "document[demo-23], under record[1]",
    );
    check_found(
        "UPDATE contents SET bytes = x'00' WHERE id = 2",
        "S040",
        "document[shots], under record[1]",
    );
    check_found(
        "UPDATE contents SET bytes = x'00' WHERE id = 3",
        "S040",
        "document[demo-23]",
    );
    check_found(
        "DELETE FROM contents WHERE id = 2",
        "S040",
        "document[shots], under record[1]",
    );
    check_found(
        "UPDATE documents SET name = 'x' WHERE number = 3",
        "S044",
        "document[3]",
    );
    check_found(
        "UPDATE documents SET added_by = 'x' WHERE number = 1",
        "S044",
        "document[1]",
    );
    check_found(
        "DELETE FROM documents WHERE number = 2",
        "S044",
        "document[3]",
    );
}

#[test]
fn a_record_made_again_by_somebody_who_knows_the_rule() {
    // The body is changed and hashed and linked anew; the next record still names the old link.
    let dir = open_dir();
    let path = dir.path().join("demo.job");
    let job = small_job(&path);
    let record = job.record(2).unwrap();
    drop(job);
    let body = String::from_utf8(record.body.bytes().to_vec())
        .unwrap()
        .replace("-0.004", "0.001");
    let body_hash = Hash::of(body.as_bytes());
    let old = record.head.link;
    let link_hash = Link::hash_of(&old.prev_link_hash, &body_hash, &old.stamp);
    let sql = format!(
        "UPDATE records SET body = CAST('{body}' AS BLOB), body_hash = '{body_hash}',
         link_hash = '{link_hash}' WHERE seq = 2"
    );
    check_found(&sql, "R021", "record[3].prev_link_hash");
}

#[test]
fn a_forged_signature_in_a_whole_chain_is_found() {
    // Appended as another program might, with every hash right; only the key never signed this.
    let dir = open_dir();
    let path = dir.path().join("demo.job");
    let job = small_job(&path);
    let signer = Signer {
        name: "B. Engineer",
        role: "site engineer",
        date: "2026-05-04",
    };
    let mut sign_off = job.draft_sign_off(4, &signer).unwrap();
    sign_off.sign_with(&[7; 32]);
    sign_off.role = "safety lead".to_owned();
    let body = sign_off.entry(PROGRAM).unwrap().body().unwrap();
    let link = Chain::ending_in(&job.last_link().unwrap().unwrap()).append(body.hash(), stamp(9));
    drop(job);
    let text = String::from_utf8(body.bytes().to_vec()).unwrap();
    let sql = format!(
        "INSERT INTO records VALUES (5, 'sign-off', 'Sign-off of {}', '{PROGRAM}', NULL, '{}', '{}',
         '{}', '{}', '{}', NULL, '{}', CAST('{text}' AS BLOB))",
        sign_off.link_hash.short(),
        link.stamp.at(),
        link.stamp.by(),
        link.body_hash,
        link.prev_link_hash,
        link.link_hash,
        sign_off.link_hash,
    );
    raw(&path, &sql).unwrap();
    let fault = JobFile::open(&path).unwrap().verify_chain().unwrap_err();
    assert_eq!(fault.code, "R030", "{fault}");
    assert!(fault.at.contains("record[5].body.signature"), "{fault}");
}

#[test]
fn records_cut_off_the_end_are_told_by_the_printed_hash() {
    let dir = open_dir();
    let path = dir.path().join("demo.job");
    let printed = small_job(&path).tail().unwrap();
    raw(
        &path,
        "DROP TRIGGER records_kept_2; DELETE FROM records WHERE seq = 4",
    )
    .unwrap();
    let fault = JobFile::open_read_only(&path)
        .unwrap()
        .check_printed(&printed)
        .unwrap_err();
    assert_eq!(fault.code, "S042");
}

#[test]
fn a_guard_that_is_gone_or_changed_stops_writing_and_is_told() {
    for sql in [
        "DROP TRIGGER records_kept_1",
        "DROP INDEX documents_by_name",
        "CREATE TRIGGER mine BEFORE INSERT ON records BEGIN SELECT 1; END",
        "CREATE TABLE mine (x)",
        "DROP TRIGGER contents_kept_3; CREATE TRIGGER contents_kept_3 BEFORE INSERT ON contents BEGIN SELECT 1; END",
    ] {
        let dir = open_dir();
        let path = dir.path().join("demo.job");
        put_small_job(&path);
        raw(&path, sql).unwrap();
        assert_eq!(code(JobFile::open(&path)), "S015", "{sql}");
        let job = JobFile::open_read_only(&path).unwrap();
        assert_eq!(job.records().unwrap().len(), 4);
        assert_eq!(code(job.verify_chain()), "S015", "{sql}");
    }
}

/// Where `what` stands in the file.
fn places(file: &[u8], what: &[u8]) -> Vec<usize> {
    file.windows(what.len())
        .enumerate()
        .filter(|(_, w)| *w == what)
        .map(|(at, _)| at)
        .collect()
}

#[track_caller]
fn check_flipped(what: &[u8], want_code: &str, want_at: &str) {
    let dir = open_dir();
    let path = dir.path().join("demo.job");
    put_small_job(&path);
    let whole = fs::read(&path).unwrap();
    let places = places(&whole, what);
    assert!(!places.is_empty(), "{what:?} is not in the file");
    let mut codes = Vec::new();
    for at in places {
        let mut flipped = whole.clone();
        flipped[at + what.len() / 2] ^= 1;
        fs::write(&path, &flipped).unwrap();
        let fault = JobFile::open(&path)
            .and_then(|job| job.verify_chain())
            .expect_err("found");
        codes.push(format!("{} at {}", fault.code, fault.at));
    }
    let named = |text: &String| text.starts_with(want_code) && text.contains(want_at);
    assert!(codes.iter().any(named), "{codes:?}");
}

#[test]
fn a_flipped_byte_is_found_and_named() {
    check_flipped(b"-0.004,\"of\":\"left tooth\"", "S041", "record[2].body");
    check_flipped(
        b"2.90 # the first tape",
        "S040",
        "document[demo-23], under record[1]",
    );
    let dir = open_dir();
    let job = small_job(&dir.path().join("demo.job"));
    let link = job.record(4).unwrap().head.link;
    check_flipped(
        link.link_hash.to_string().as_bytes(),
        "R",
        "record[4].link_hash",
    );
    check_flipped(link.prev_link_hash.to_string().as_bytes(), "R", "record[");
}

/// Anywhere at all: the check finds it, or nothing that the job says has changed (a byte that is not used).
#[test]
fn no_flipped_byte_goes_unnoticed() {
    let dir = open_dir();
    let path = dir.path().join("demo.job");
    let job = small_job(&path);
    let want = all_of(&job).unwrap();
    drop(job);
    let whole = fs::read(&path).unwrap();
    let mut dice = Dice(7);
    let (mut n_found, mut n_unused) = (0, 0);
    let lattice = (0..200).chain((200..whole.len()).step_by(211));
    for place in lattice {
        let at = if place < 200 {
            place
        } else {
            place + dice.below(211) as usize
        };
        let Some(byte) = whole.get(at) else { continue };
        let mut flipped = whole.clone();
        flipped[at] = byte ^ (1 << dice.below(8));
        fs::write(&path, &flipped).unwrap();
        let checked = JobFile::open_read_only(&path).and_then(|job| {
            job.verify_chain()?;
            all_of(&job)
        });
        match checked {
            Err(_) => n_found += 1,
            Ok(all) => {
                assert_eq!(all, want, "byte {at} was changed and not noticed");
                n_unused += 1;
            }
        }
    }
    println!("{n_found} found, {n_unused} in bytes that nothing uses");
    assert!(100 < n_found);
}
