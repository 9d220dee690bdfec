//! What can go wrong with a file, said so that a person can mend it.

use std::io;
use std::path::{Path, PathBuf};

use holdline_geom::fault::Fault;
use rusqlite::{Error, ffi};

/// The file that is worked on, to say where.
#[derive(Debug, Clone)]
pub(crate) struct Where {
    path: PathBuf,
}

impl Where {
    /// This file.
    pub fn new(path: &Path) -> Where {
        Where {
            path: path.to_owned(),
        }
    }

    /// The file.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// A fault at this file.
    pub fn fault(&self, code: &'static str, got: &str, want: &str, fix: &str) -> Fault {
        Fault::new(code, self.path.display().to_string(), got, want, fix)
    }

    /// A fault at a place within this file, such as `record[7].body`.
    pub fn within(
        &self,
        place: &str,
        code: &'static str,
        got: &str,
        want: &str,
        fix: &str,
    ) -> Fault {
        Fault::new(code, self.place(place), got, want, fix)
    }

    /// The same fault, with this file before its place.
    pub fn put_before(&self, fault: Fault) -> Fault {
        Fault {
            at: self.place(&fault.at),
            ..fault
        }
    }

    fn place(&self, place: &str) -> String {
        format!("{}: {place}", self.path.display())
    }

    /// The database said no, while `doing` something.
    pub fn failed(&self, doing: &str, error: &Error) -> Fault {
        let Error::SqliteFailure(code, message) = error else {
            return self.ours(doing, &error.to_string());
        };
        let said = message.clone().unwrap_or_else(|| code.to_string());
        let got = format!("{said}, while {doing}");
        match (code.extended_code, code.extended_code & 0xff) {
            (ffi::SQLITE_READONLY_ROLLBACK | ffi::SQLITE_READONLY_RECOVERY, _) => self.unfinished(),
            (ffi::SQLITE_READONLY_DBMOVED, _) => self.moved(doing),
            (ffi::SQLITE_CONSTRAINT_TRIGGER, _) => self.fault(
                "S060",
                &got,
                "records and documents are only ever added",
                "this is a fault of the program; nothing was changed; report it",
            ),
            (_, ffi::SQLITE_BUSY | ffi::SQLITE_LOCKED) => self.locked(doing),
            (_, ffi::SQLITE_READONLY) => self.read_only(doing),
            (_, ffi::SQLITE_FULL) => self.full(doing),
            (_, ffi::SQLITE_CORRUPT | ffi::SQLITE_NOTADB) => self.damaged(&got),
            (_, ffi::SQLITE_IOERR) => self.fault(
                "S011",
                &got,
                "a disk that reads and writes",
                "nothing saved before is lost; check the disk, the stick or the network drive, then open the job again",
            ),
            (_, ffi::SQLITE_CANTOPEN | ffi::SQLITE_PERM) => self.cannot_open(&got),
            (_, ffi::SQLITE_TOOBIG) => self.fault(
                "S022",
                &got,
                "a document under 500 MB",
                "cut the document into parts, by day or by machine",
            ),
            _ => self.ours(doing, &said),
        }
    }

    /// The file system said no, while `doing` something.
    pub fn io(&self, doing: &str, error: &io::Error) -> Fault {
        let got = format!("{error}, while {doing}");
        match error.kind() {
            io::ErrorKind::NotFound => self.fault(
                "S001",
                "no such file",
                "a job file",
                "check the name and the folder; a stick may not be plugged in",
            ),
            io::ErrorKind::AlreadyExists => self.fault(
                "S006",
                "a file of that name",
                "a name that is free",
                "open the file that is there, or choose another name; nothing was overwritten",
            ),
            io::ErrorKind::PermissionDenied => self.cannot_open(&got),
            io::ErrorKind::ReadOnlyFilesystem => self.read_only(doing),
            io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => self.full(doing),
            _ => self.fault(
                "S011",
                &got,
                "a disk that reads and writes",
                "nothing saved before is lost; check the disk, the stick or the network drive, then try again",
            ),
        }
    }

    /// The tables are of a version that this program does not know.
    pub fn newer_schema(&self, have: i64, known: usize) -> Fault {
        self.fault(
            "S004",
            &format!("a job file of version {have}"),
            &format!("version 1 to {known}"),
            "open it with a newer holdline; this one changed nothing and shows nothing that it might misread",
        )
    }

    /// The tables or their guards are not what this program would have made.
    pub fn other_schema(&self, what: &str) -> Fault {
        self.fault(
            "S015",
            &format!("{what} not as holdline makes it"),
            "the tables and guards of this version, unchanged",
            "something else worked on this file; open it to read, check it, and go on from a copy made before",
        )
    }

    /// It was opened to read, and something was to be written.
    pub fn opened_to_read(&self) -> Fault {
        self.fault(
            "S014",
            "the job, opened to read only",
            "the job, opened to write",
            "open it again to write; nothing was changed",
        )
    }

    /// File, folder or disk cannot be written.
    pub fn read_only(&self, doing: &str) -> Fault {
        self.fault(
            "S007",
            &format!("a file or folder that cannot be written, while {doing}"),
            "a folder that can be written, with room for a second file beside the job",
            "open it to read only, or copy the job to a folder of your own and open that; nothing saved before is lost",
        )
    }

    /// Present, but not for us to open.
    fn cannot_open(&self, got: &str) -> Fault {
        self.fault(
            "S012",
            got,
            "a file and folder that this user may read and write",
            "check the rights of the file and its folder; to look at it only, open it to read",
        )
    }

    /// No room.
    fn full(&self, doing: &str) -> Fault {
        self.fault(
            "S008",
            &format!("no room left on the disk, while {doing}"),
            "room for what is to be saved, about twice its size",
            "make room and save again; this was not saved, all that was saved before is there",
        )
    }

    /// Another process writes.
    pub fn locked(&self, doing: &str) -> Fault {
        self.fault(
            "S009",
            &format!("the job in use by another program for more than 5 seconds, while {doing}"),
            "the job free for a moment",
            "close it in the other window or program and try again; this was not saved, nothing is lost",
        )
    }

    /// A crash left a journal, and this opening may not use it.
    fn unfinished(&self) -> Fault {
        self.fault(
            "S013",
            "a save that a crash cut off, with its -journal file beside it",
            "a job that was closed in order",
            "copy the job and its -journal file together to a folder that can be written and open it there; that takes back the half save and loses nothing that was saved",
        )
    }

    /// The file was moved or deleted while it was open.
    pub fn moved(&self, doing: &str) -> Fault {
        self.fault(
            "S017",
            &format!("the file moved, renamed or deleted since it was opened, while {doing}"),
            "the file where it was opened",
            "put it back, or open it where it is now; this was not saved",
        )
    }

    /// Not readable as what it says it is.
    pub fn damaged(&self, got: &str) -> Fault {
        self.fault(
            "S010",
            got,
            "an undamaged job file",
            "do not work on; keep this file as it is and go on from a copy, then compare the last hash with a printed sheet",
        )
    }

    fn ours(&self, doing: &str, said: &str) -> Fault {
        self.fault(
            "S099",
            &format!("{said}, while {doing}"),
            "no such thing",
            "this is a fault of the program; nothing saved before is lost; report it",
        )
    }
}
