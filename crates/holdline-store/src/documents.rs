//! Documents: every version kept, under the hash of its content.

use holdline::records::{Basis, Hash, Stamp, check_line};
use holdline_geom::fault::Fault;
use rusqlite::{Connection, OptionalExtension, Row};

use crate::fault::Where;
use crate::job::JobFile;

/// Larger than this is refused: it would have to fit into memory, twice.
const N_BYTES_AT_MOST: usize = 500_000_000;

/// A document to add.
#[derive(Debug, Clone, Copy)]
pub struct NewDocument<'a> {
    /// Kind, such as `holdline.machine`.
    pub kind: &'a str,
    /// Name in the job; adding the same name again makes a new version.
    pub name: &'a str,
    /// Content, kept byte for byte.
    pub bytes: &'a [u8],
}

/// What is known of a version of a document, without its content.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DocumentHead {
    /// Number in the job, from 1, in the order of adding.
    pub number: u64,
    /// SHA-256 of the content.
    pub hash: Hash,
    /// Kind, such as `holdline.machine`.
    pub kind: String,
    /// Name in the job.
    pub name: String,
    /// When it was added, RFC 3339 in UTC.
    pub added_at: String,
    /// By whom.
    pub added_by: String,
    /// Size of the content.
    pub n_bytes: u64,
    /// True for the newest version of its name.
    pub current: bool,
}

impl DocumentHead {
    /// This version as something that a record rests on.
    pub fn basis(&self) -> Basis {
        Basis {
            kind: self.kind.clone(),
            name: self.name.clone(),
            hash: self.hash,
        }
    }
}

/// A version of a document with its content.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Document {
    /// What is known of it; the newest entry, if the same content was added more than once.
    pub head: DocumentHead,
    /// Content, byte for byte as it was added, and checked against its hash.
    pub bytes: Vec<u8>,
}

impl JobFile {
    /// Adds a document, or a new version of one. The current version added again changes nothing.
    ///
    /// # Errors
    ///
    /// `S022` too large, `S024` if the name belongs to a document of another kind, `R011` if kind or name is not one
    /// line; `S007` to `S017` if it cannot be saved.
    pub fn add_document(
        &mut self,
        new: &NewDocument,
        stamp: &Stamp,
    ) -> Result<DocumentHead, Fault> {
        check_line("kind", new.kind)?;
        check_line("name", new.name)?;
        if N_BYTES_AT_MOST < new.bytes.len() {
            return Err(self.here.within(
                &format!("document[{}]", new.name),
                "S022",
                &format!("{} MB", new.bytes.len() / 1_000_000),
                "a document under 500 MB",
                "cut the document into parts, by day or by machine",
            ));
        }
        let hash = Hash::of(new.bytes);
        let save = self.begin("adding a document")?;
        if let Some(current) = current(&save.write, save.here, new.name)? {
            if current.kind != new.kind {
                return Err(other_kind(save.here, &current, new.kind));
            }
            if current.hash == hash {
                return Ok(current);
            }
        }
        let known = save
            .write
            .query_row(
                "SELECT 1 FROM contents WHERE hash = ?1",
                [hash.to_string()],
                |_| Ok(()),
            )
            .optional()
            .map_err(|e| save.failed(&e))?;
        if known.is_none() {
            let sql = "INSERT INTO contents (hash, bytes) VALUES (?1, ?2)";
            save.execute(sql, (hash.to_string(), new.bytes))?;
        }
        let number: u64 = save
            .write
            .query_row(
                "SELECT coalesce(max(number), 0) + 1 FROM documents",
                [],
                |row| row.get(0),
            )
            .map_err(|e| save.failed(&e))?;
        let head = DocumentHead {
            number,
            hash,
            kind: new.kind.to_owned(),
            name: new.name.to_owned(),
            added_at: stamp.at().to_owned(),
            added_by: stamp.by().to_owned(),
            n_bytes: new.bytes.len() as u64,
            current: true,
        };
        save.execute(
            "INSERT INTO documents (number, kind, name, hash, added_at, added_by, check_hash)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
            (
                number,
                new.kind,
                new.name,
                hash.to_string(),
                stamp.at(),
                stamp.by(),
                check_hash(&head).to_string(),
            ),
        )?;
        save.commit()?;
        Ok(head)
    }

    /// All versions of all documents, oldest first.
    ///
    /// # Errors
    ///
    /// `S009` to `S011` if they cannot be read.
    pub fn documents(&self) -> Result<Vec<DocumentHead>, Fault> {
        heads(&self.connection, &self.here)
    }

    /// The newest version of a name, if there is such a name.
    ///
    /// # Errors
    ///
    /// `S009` to `S011` if it cannot be read.
    pub fn current_document(&self, name: &str) -> Result<Option<DocumentHead>, Fault> {
        current(&self.connection, &self.here, name)
    }

    /// A document by the hash of its content.
    ///
    /// # Errors
    ///
    /// `S020` if there is none; `S040` if the content is no longer what was added.
    pub fn document(&self, hash: &Hash) -> Result<Document, Fault> {
        let here = &self.here;
        let failed = |e| here.failed("reading a document", &e);
        let sql = format!("{HEAD} WHERE d.hash = ?1 ORDER BY d.number DESC LIMIT 1");
        let head = self
            .connection
            .query_row(&sql, [hash.to_string()], |row| Ok(read_head(row, here)))
            .optional()
            .map_err(failed)?
            .transpose()?;
        let Some(head) = head else {
            return Err(here.fault(
                "S020",
                &format!("no document with the hash {hash}"),
                "the hash of a document in this job",
                "look at the list of documents; the document may be in another job",
            ));
        };
        let bytes = content(&self.connection, here, hash, &head.name)?;
        Ok(Document { head, bytes })
    }
}

const HEAD: &str =
    "SELECT d.number, d.hash, d.kind, d.name, d.added_at, d.added_by, length(c.bytes),
    d.number = (SELECT max(number) FROM documents WHERE name = d.name)
    FROM documents d JOIN contents c ON c.hash = d.hash";

pub(crate) fn heads(connection: &Connection, here: &Where) -> Result<Vec<DocumentHead>, Fault> {
    let failed = |e| here.failed("reading the list of documents", &e);
    let mut query = connection
        .prepare(&format!("{HEAD} ORDER BY d.number"))
        .map_err(failed)?;
    let heads = query
        .query_map([], |row| Ok(read_head(row, here)))
        .map_err(failed)?;
    heads.map(|head| head.map_err(failed)?).collect()
}

/// The content of that hash, once it is seen to have that hash.
pub(crate) fn content(
    connection: &Connection,
    here: &Where,
    hash: &Hash,
    name: &str,
) -> Result<Vec<u8>, Fault> {
    let place = format!("document[{name}]");
    let bytes: Option<Vec<u8>> = connection
        .query_row(
            "SELECT bytes FROM contents WHERE hash = ?1",
            [hash.to_string()],
            |row| row.get(0),
        )
        .optional()
        .map_err(|e| here.failed(&format!("reading {place}"), &e))?;
    let got = match &bytes {
        None => "nothing".to_owned(),
        Some(bytes) => format!("content with the hash {}", Hash::of(bytes)),
    };
    match bytes {
        Some(bytes) if Hash::of(&bytes) == *hash => Ok(bytes),
        _ => Err(here.within(
            &place,
            "S040",
            &got,
            &format!("content with the hash {hash}"),
            "the document was changed or damaged after it was added; add it again from where it came from, or go back to a copy of the job",
        )),
    }
}

/// Hash over what the list says of a version, so that damage to the list is found.
pub(crate) fn check_hash(head: &DocumentHead) -> Hash {
    let DocumentHead {
        number,
        hash,
        kind,
        name,
        added_at,
        added_by,
        n_bytes: _,
        current: _,
    } = head;
    let text =
        format!("holdline-document-1\n{number}\n{hash}\n{kind}\n{name}\n{added_at}\n{added_by}\n");
    Hash::of(text.as_bytes())
}

fn current(
    connection: &Connection,
    here: &Where,
    name: &str,
) -> Result<Option<DocumentHead>, Fault> {
    let sql = format!("{HEAD} WHERE d.name = ?1 ORDER BY d.number DESC LIMIT 1");
    connection
        .query_row(&sql, [name], |row| Ok(read_head(row, here)))
        .optional()
        .map_err(|e| here.failed("looking up a document", &e))?
        .transpose()
}

fn read_head(row: &Row, here: &Where) -> Result<DocumentHead, Fault> {
    let read = || -> rusqlite::Result<(DocumentHead, String)> {
        let head = DocumentHead {
            number: row.get(0)?,
            hash: Hash::ZERO,
            kind: row.get(2)?,
            name: row.get(3)?,
            added_at: row.get(4)?,
            added_by: row.get(5)?,
            n_bytes: row.get(6)?,
            current: row.get(7)?,
        };
        Ok((head, row.get(1)?))
    };
    let (mut head, hash) = read().map_err(|e| here.damaged(&e.to_string()))?;
    let place = format!("document[{}].hash", head.number);
    head.hash = Hash::from_hex(&place, &hash).map_err(|fault| here.put_before(fault))?;
    Ok(head)
}

fn other_kind(here: &Where, current: &DocumentHead, kind: &str) -> Fault {
    here.within(
        &format!("document[{}]", current.name),
        "S024",
        &format!("{kind}, under a name that belongs to {}", current.kind),
        "one kind of document under one name",
        "add it under another name",
    )
}
