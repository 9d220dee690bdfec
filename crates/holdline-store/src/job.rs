//! Making and opening a job file.

use std::fs::{self, File, OpenOptions};
use std::io::{ErrorKind, Read};
use std::path::Path;
use std::time::Duration;

use holdline::records::{Chain, Hash, Link};
use holdline_geom::fault::Fault;
use rusqlite::config::DbConfig;
use rusqlite::{Connection, OpenFlags, Transaction, TransactionBehavior};

use crate::fault::Where;
use crate::schema::{self, APPLICATION_ID, MIGRATIONS, Migration};

/// How long to wait for another process that is saving.
const WAIT: Duration = Duration::from_secs(5);

/// What the first bytes of the file must be.
const MAGIC: &[u8; 16] = b"SQLite format 3\0";

/// A job file, open.
///
/// One at a time may write; a second process waits its turn, up to five seconds.
/// A call that returned `Ok` is on the disk; a call that returned a fault changed nothing.
/// Except after `S011`: the disk itself failed, and the person must look whether the last save is
/// there.
pub struct JobFile {
    pub(crate) connection: Connection,
    pub(crate) here: Where,
    access: Access,
}

/// What an opening may do.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Access {
    Write,
    Read,
}

impl JobFile {
    /// Makes a new, empty job. Never overwrites.
    ///
    /// # Errors
    ///
    /// `S006` if there is a file of that name, `S007` or `S012` if the folder cannot be written, `S008` if the disk is
    /// full. No file stays behind then.
    pub fn create(path: &Path) -> Result<JobFile, Fault> {
        let here = Where::new(path);
        let doing = "making the job file";
        // Claims the name: of two who try at once, one gets it.
        OpenOptions::new()
            .write(true)
            .create_new(true)
            .open(path)
            .map_err(|e| match e.kind() {
                ErrorKind::NotFound => here.fault(
                    "S001",
                    "no such folder",
                    "a folder that is there",
                    "make the folder first, or choose another",
                ),
                _ => here.io(doing, &e),
            })?;
        let made = connect(&here, Access::Write)
            .and_then(|mut connection| {
                schema::migrate(&mut connection, &here, MIGRATIONS)?;
                Ok(connection)
            })
            .map(|connection| JobFile {
                connection,
                here,
                access: Access::Write,
            });
        if made.is_err() && fs::metadata(path).is_ok_and(|data| data.len() == 0) {
            // Only what this call made and nobody has written to. If it will not go, it is an empty file, and says so.
            let _ = fs::remove_file(path);
        }
        made
    }

    /// Opens a job to read and write. Takes back a save that a crash cut off, and brings older tables to the newest.
    ///
    /// # Errors
    ///
    /// `S001` no such file, `S002` `S003` not a job file, `S004` of a newer holdline, `S005` empty,
    /// `S007` `S012` cannot be written, `S009` in use, `S010` damaged, `S015` its tables were
    /// changed by something else. The file is left as it was.
    pub fn open(path: &Path) -> Result<JobFile, Fault> {
        JobFile::open_with(path, Access::Write, MIGRATIONS)
    }

    /// Opens a job to read only. Writes nothing, not even beside the file.
    ///
    /// # Errors
    ///
    /// As [`JobFile::open`]; also `S013` if a crash left a save half done, and `S016` if its tables are older.
    pub fn open_read_only(path: &Path) -> Result<JobFile, Fault> {
        JobFile::open_with(path, Access::Read, MIGRATIONS)
    }

    fn open_with(path: &Path, access: Access, steps: &[Migration]) -> Result<JobFile, Fault> {
        let here = Where::new(path);
        check_header(&here, steps.len())?;
        let mut connection = connect(&here, access)?;
        let failed = |e| here.failed("opening the job", &e);
        let id: i32 = connection
            .query_row("PRAGMA application_id", [], |row| row.get(0))
            .map_err(failed)?;
        // What stood in the header may have been a creation that a crash cut off; by now it is rolled back.
        let have = schema::version(&connection).map_err(failed)?;
        if id != APPLICATION_ID || have == 0 {
            return Err(empty(&here));
        }
        match access {
            Access::Write => {
                schema::migrate(&mut connection, &here, steps)?;
                schema::check_guards(&connection, &here, steps)?;
                probe(&connection, &here)?;
            }
            Access::Read => {
                schema::check_applied(&connection, &here, steps)?;
                if (have as usize) < steps.len() {
                    return Err(older(&here, have));
                }
            }
        }
        Ok(JobFile {
            connection,
            here,
            access,
        })
    }

    /// Where it is.
    pub fn path(&self) -> &Path {
        self.here.path()
    }

    /// True if it was opened to read only.
    pub fn is_read_only(&self) -> bool {
        self.access == Access::Read
    }

    /// The last link of the chain, if there is a record.
    ///
    /// # Errors
    ///
    /// `S010` or `S011` if it cannot be read, `R001`, `R010` or `R011` if it is not a link.
    pub fn last_link(&self) -> Result<Option<Link>, Fault> {
        last_link(&self.connection, &self.here)
    }

    /// Hash that a sheet prints: the last link's, or 64 zeros in a job without records.
    ///
    /// # Errors
    ///
    /// As [`JobFile::last_link`].
    pub fn tail(&self) -> Result<Hash, Fault> {
        Ok(self.last_link()?.map_or(Hash::ZERO, |link| link.link_hash))
    }

    /// Begins a save; nobody else may write until it ends. Dropped without commit, it never was.
    pub(crate) fn begin(&mut self, doing: &str) -> Result<Save<'_>, Fault> {
        if self.access == Access::Read {
            return Err(self.here.opened_to_read());
        }
        // A deleted file still takes writes on some systems; they would be gone with the last handle.
        if !self.here.path().exists() {
            return Err(self.here.moved(doing));
        }
        let here = &self.here;
        let write = self
            .connection
            .transaction_with_behavior(TransactionBehavior::Immediate)
            .map_err(|e| here.failed(doing, &e))?;
        Ok(Save {
            write,
            here,
            doing: doing.to_owned(),
        })
    }
}

/// A save under way.
pub(crate) struct Save<'a> {
    pub write: Transaction<'a>,
    pub here: &'a Where,
    doing: String,
}

impl Save<'_> {
    /// The chain as it is now, to append to.
    pub fn chain(&self) -> Result<Chain, Fault> {
        let last = last_link(&self.write, self.here)?;
        Ok(last.map_or_else(Chain::empty, |link| Chain::ending_in(&link)))
    }

    /// Runs one statement.
    pub fn execute(&self, sql: &str, params: impl rusqlite::Params) -> Result<(), Fault> {
        let done = self.write.execute(sql, params);
        done.map(|_| ()).map_err(|e| self.failed(&e))
    }

    /// The fault for this error.
    pub fn failed(&self, error: &rusqlite::Error) -> Fault {
        self.here.failed(&self.doing, error)
    }

    /// On the disk, or not at all.
    pub fn commit(self) -> Result<(), Fault> {
        let Save { write, here, doing } = self;
        write.commit().map_err(|e| here.failed(&doing, &e))
    }
}

fn last_link(connection: &Connection, here: &Where) -> Result<Option<Link>, Fault> {
    let sql = "SELECT seq, prev_link_hash, body_hash, link_hash, made_at, made_by
               FROM records ORDER BY seq DESC LIMIT 1";
    let doing = "reading the last record";
    let mut query = connection
        .prepare(sql)
        .map_err(|e| here.failed(doing, &e))?;
    let mut rows = query.query([]).map_err(|e| here.failed(doing, &e))?;
    match rows.next().map_err(|e| here.failed(doing, &e))? {
        Some(row) => crate::records::read_link(row, here).map(Some),
        None => Ok(None),
    }
}

/// Looks at the first bytes before the database does, so that a file that is not ours is left alone.
fn check_header(here: &Where, n_known: usize) -> Result<(), Fault> {
    let doing = "opening the job";
    let file = File::open(here.path()).map_err(|e| here.io(doing, &e))?;
    if file.metadata().map_err(|e| here.io(doing, &e))?.is_dir() {
        return Err(here.fault(
            "S002",
            "a folder",
            "a job file",
            "choose the file in the folder",
        ));
    }
    let mut head = Vec::new();
    file.take(100)
        .read_to_end(&mut head)
        .map_err(|e| here.io(doing, &e))?;
    let number = |at: usize| {
        head.get(at..at + 4)
            .map(|b| i32::from_be_bytes([b[0], b[1], b[2], b[3]]))
    };
    if head.is_empty() {
        return Err(empty(here));
    }
    if !head.starts_with(MAGIC) {
        return Err(here.fault(
            "S002",
            "another kind of file",
            "a job file of holdline",
            "choose the job file; a document, such as a machine sheet, is imported into a job",
        ));
    }
    let (Some(have), Some(id)) = (number(60), number(68)) else {
        return Err(here.damaged("a file that ends within its first 100 bytes"));
    };
    if id != APPLICATION_ID {
        return Err(here.fault(
            "S003",
            &format!("a database of another program (application id {id})"),
            "a job file of holdline",
            "choose the job file; this one was not touched",
        ));
    }
    if have < 0 || n_known < have as usize {
        return Err(here.newer_schema(i64::from(have), n_known));
    }
    Ok(())
}

fn connect(here: &Where, access: Access) -> Result<Connection, Fault> {
    let failed = |e| here.failed("opening the job", &e);
    let flags = match access {
        Access::Write => OpenFlags::SQLITE_OPEN_READ_WRITE,
        Access::Read => OpenFlags::SQLITE_OPEN_READ_ONLY,
    };
    let flags = flags | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let connection = Connection::open_with_flags(here.path(), flags).map_err(failed)?;
    // A file that may not be written is opened to read without a word; here that is a fault.
    let read_only = connection.is_readonly(rusqlite::MAIN_DB).map_err(failed)?;
    if access == Access::Write && read_only {
        return Err(here.read_only("opening the job"));
    }
    connection.busy_timeout(WAIT).map_err(failed)?;
    // The file may come from anybody: nothing in its schema may run code, and nobody rewrites the schema by hand.
    connection
        .set_db_config(DbConfig::SQLITE_DBCONFIG_DEFENSIVE, true)
        .map_err(failed)?;
    connection
        .set_db_config(DbConfig::SQLITE_DBCONFIG_TRUSTED_SCHEMA, false)
        .map_err(failed)?;
    // Why these, in docs/decisions/0003-job-file.md. Loosen none of them: a save would then be said to be on the
    // disk that a pulled plug can take back.
    connection
        .execute_batch(
            "PRAGMA synchronous = EXTRA; PRAGMA fullfsync = ON; PRAGMA foreign_keys = ON;
             PRAGMA cell_size_check = ON; PRAGMA mmap_size = 0; PRAGMA temp_store = MEMORY;",
        )
        .map_err(failed)?;
    if access == Access::Write {
        let mode: String = connection
            .query_row("PRAGMA journal_mode = DELETE", [], |row| row.get(0))
            .map_err(failed)?;
        if mode != "delete" {
            return Err(here.locked("going back to the rollback journal"));
        }
    }
    Ok(connection)
}

/// Finds out now, not at the first save, whether the folder lets a journal be written. Changes nothing.
fn probe(connection: &Connection, here: &Where) -> Result<(), Fault> {
    let doing = "trying whether the job can be written";
    let version = schema::version(connection).map_err(|e| here.failed(doing, &e))?;
    let tried = connection
        .execute_batch("BEGIN IMMEDIATE")
        .and_then(|()| connection.execute_batch(&format!("PRAGMA user_version = {version}")));
    if !connection.is_autocommit() {
        connection
            .execute_batch("ROLLBACK")
            .map_err(|e| here.failed(doing, &e))?;
    }
    match tried {
        Ok(()) => Ok(()),
        Err(error) => {
            let fault = here.failed(doing, &error);
            match fault.code {
                // No room: all that is there can be read, and the first save will say it.
                "S008" => Ok(()),
                // The journal could not be made: the folder, not the file.
                "S012" => Err(here.read_only(doing)),
                _ => Err(fault),
            }
        }
    }
}

fn empty(here: &Where) -> Fault {
    here.fault(
        "S005",
        "an empty file",
        "a job file of holdline",
        "making it was cut off before anything was in it; delete it and make the job again",
    )
}

fn older(here: &Where, have: i64) -> Fault {
    here.fault(
        "S016",
        &format!("a job file of version {have}, to be read only"),
        &format!("version {}", schema::newest()),
        "open it to write once, in a copy if you like; that brings its tables to the newest version",
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::documents::NewDocument;
    use holdline::records::Stamp;

    const FIRST: Migration = Migration {
        name: "first",
        sql:
            "CREATE TABLE migrations (number INTEGER PRIMARY KEY, name TEXT, checksum TEXT) STRICT;
              CREATE TABLE kept (what TEXT) STRICT; INSERT INTO kept VALUES ('all of it');",
    };
    const SECOND: Migration = Migration {
        name: "second",
        sql: "ALTER TABLE kept ADD COLUMN since TEXT",
    };
    const BROKEN: Migration = Migration {
        name: "broken",
        sql: "CREATE TABLE half (x) STRICT; CREATE TABLE kept (x)",
    };
    const OTHER_FIRST: Migration = Migration {
        name: "first",
        sql: "CREATE TABLE kept (what TEXT)",
    };

    fn made_by(steps: &[Migration]) -> (tempfile::TempDir, std::path::PathBuf) {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("demo.job");
        File::create(&path).unwrap();
        let here = Where::new(&path);
        let mut connection = connect(&here, Access::Write).unwrap();
        schema::migrate(&mut connection, &here, steps).unwrap();
        (dir, path)
    }

    fn code(opened: Result<JobFile, Fault>) -> &'static str {
        opened.err().map_or("ok", |fault| fault.code)
    }

    #[test]
    fn an_older_job_is_brought_up_to_date_with_all_that_is_in_it() {
        let (_dir, path) = made_by(&[FIRST]);
        let steps = [FIRST, SECOND];
        assert_eq!(
            code(JobFile::open_with(&path, Access::Read, &steps)),
            "S016"
        );
        let job = JobFile::open_with(&path, Access::Write, &steps).unwrap();
        let kept: (String, Option<String>) = job
            .connection
            .query_row("SELECT what, since FROM kept", [], |row| {
                Ok((row.get(0)?, row.get(1)?))
            })
            .unwrap();
        assert_eq!(kept, ("all of it".to_owned(), None));
        drop(job);
        assert_eq!(code(JobFile::open_with(&path, Access::Read, &steps)), "ok");
        // The older program now leaves it alone.
        assert_eq!(
            code(JobFile::open_with(&path, Access::Write, &[FIRST])),
            "S004"
        );
    }

    #[test]
    fn a_step_that_fails_changes_nothing() {
        let (_dir, path) = made_by(&[FIRST]);
        let before = fs::read(&path).unwrap();
        assert_eq!(
            code(JobFile::open_with(&path, Access::Write, &[FIRST, BROKEN])),
            "S099"
        );
        assert_eq!(fs::read(&path).unwrap(), before);
        assert_eq!(
            code(JobFile::open_with(&path, Access::Write, &[FIRST])),
            "ok"
        );
    }

    #[test]
    fn tables_made_by_other_steps_are_left_alone() {
        let (_dir, path) = made_by(&[FIRST]);
        let before = fs::read(&path).unwrap();
        for access in [Access::Write, Access::Read] {
            assert_eq!(
                code(JobFile::open_with(&path, access, &[OTHER_FIRST])),
                "S015"
            );
            assert_eq!(
                code(JobFile::open_with(&path, access, &[OTHER_FIRST, SECOND])),
                "S015"
            );
        }
        assert_eq!(fs::read(&path).unwrap(), before);
    }

    /// The step of version 1 is in files that people keep. To change tables, add a step.
    #[test]
    fn published_steps_stay_as_they_are() {
        // sha256sum crates/holdline-store/src/schema_1.sql
        let want = "e95f807ec5b23d976bf272b55aef27acc378d61db0b06a2d22edbab071f503ee";
        assert_eq!(Hash::of(MIGRATIONS[0].sql.as_bytes()).to_string(), want);
    }

    /// No test pulls a plug, so this one holds what stands against it; docs/decisions/0003-job-file.md.
    #[test]
    fn every_opening_has_the_settings_of_the_decision() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("demo.job");
        let made = JobFile::create(&path).unwrap();
        let opened = JobFile::open(&path).unwrap();
        let read = JobFile::open_read_only(&path).unwrap();
        for job in [&made, &opened, &read] {
            for (pragma, want) in [
                ("synchronous", "3"), // EXTRA
                ("fullfsync", "1"),
                ("journal_mode", "delete"),
                ("busy_timeout", "5000"),
                ("foreign_keys", "1"),
                ("trusted_schema", "0"),
                ("cell_size_check", "1"),
            ] {
                let sql = format!("SELECT CAST({pragma} AS TEXT) FROM pragma_{pragma}");
                let sql = sql.replace("CAST(busy_timeout", "CAST(timeout");
                let got: String = job
                    .connection
                    .query_row(&sql, [], |row| row.get(0))
                    .unwrap();
                assert_eq!(got, want, "{pragma}");
            }
            let defensive = job
                .connection
                .db_config(DbConfig::SQLITE_DBCONFIG_DEFENSIVE);
            assert!(defensive.unwrap());
        }
    }

    /// Without a full disk at hand: the database may have no more pages.
    #[test]
    fn no_more_pages_is_no_room() {
        let dir = tempfile::tempdir().unwrap();
        let mut job = JobFile::create(&dir.path().join("demo.job")).unwrap();
        let stamp = Stamp::new("2026-05-04T06:10:00Z", "A. Specialist").unwrap();
        job.connection
            .query_row("PRAGMA max_page_count = 60", [], |_| Ok(()))
            .unwrap();
        let small = NewDocument {
            kind: "k",
            name: "small",
            bytes: &[1; 10_000],
        };
        let large = NewDocument {
            kind: "k",
            name: "large",
            bytes: &[2; 400_000],
        };
        let kept = job.add_document(&small, &stamp).unwrap();
        let fault = job.add_document(&large, &stamp).unwrap_err();
        assert_eq!(fault.code, "S008", "{fault}");
        assert_eq!(job.documents().unwrap(), [kept]);
        job.connection
            .query_row("PRAGMA max_page_count = 1000", [], |_| Ok(()))
            .unwrap();
        job.add_document(&large, &stamp).unwrap();
        job.verify_chain().unwrap();
    }
}
