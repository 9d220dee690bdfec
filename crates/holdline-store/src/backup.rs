//! A copy of the job, whole and checked, while others may be writing.

use std::fs::{self, OpenOptions};
use std::path::Path;
use std::time::{Duration, Instant};

use holdline_geom::fault::Fault;
use rusqlite::Connection;
use rusqlite::backup::{Backup, StepResult};

use crate::fault::Where;
use crate::job::JobFile;
use crate::verify::ChainReport;

impl JobFile {
    /// Copies the job to a new file, as it is at one moment, and checks the copy. Never overwrites.
    ///
    /// # Errors
    ///
    /// `S006` if there is a file of that name, `S007`, `S008`, `S011` or `S012` if the copy cannot
    /// be written, `S009` if somebody writes all the time; what [`JobFile::verify_chain`] says of
    /// the copy. No half copy stays behind, and this job is not touched.
    pub fn copy_to(&self, path: &Path) -> Result<ChainReport, Fault> {
        let there = Where::new(path);
        let doing = "copying the job";
        OpenOptions::new()
            .write(true)
            .create_new(true)
            .open(path)
            .map_err(|e| there.io(doing, &e))?;
        let copied = copy_pages(&self.connection, &there)
            .and_then(|()| JobFile::open_read_only(path)?.verify_chain());
        if copied.is_err() {
            // This call made it, and it is not what was asked for.
            let _ = fs::remove_file(path);
        }
        copied
    }
}

fn copy_pages(from: &Connection, there: &Where) -> Result<(), Fault> {
    let doing = "copying the job";
    let failed = |e| there.failed(doing, &e);
    let mut to = Connection::open(there.path()).map_err(failed)?;
    to.execute_batch("PRAGMA synchronous = EXTRA; PRAGMA fullfsync = ON")
        .map_err(failed)?;
    {
        let backup = Backup::new(from, &mut to).map_err(failed)?;
        let give_up = Instant::now() + Duration::from_secs(5);
        // All pages in one step, so that the copy is of one moment.
        while backup.step(-1).map_err(failed)? != StepResult::Done {
            if give_up < Instant::now() {
                return Err(there.locked(doing));
            }
            std::thread::sleep(Duration::from_millis(20));
        }
    }
    to.close().map_err(|(_, e)| failed(e))?;
    let synced = OpenOptions::new()
        .write(true)
        .open(there.path())
        .and_then(|file| file.sync_all());
    synced.map_err(|e| there.io(doing, &e))
}
