//! The job that is open: its documents, its records, and the machines read from it.

use std::collections::BTreeMap;
use std::fs::File;
use std::io::Read;
use std::path::Path;
use std::sync::Arc;

use holdline::calibrate::calibration::Calibration;
use holdline::machine::Machine;
use holdline::records::{Basis, Hash, Json, SIGN_OFF_KIND, Stamp};
use holdline_files::calibration::read_calibration;
use holdline_geom::fault::{Fault, Faults};
use holdline_store::{Document, DocumentHead, JobFile, NewDocument, RecordHead, Signer};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::calibrate::{calibrated, other_tool, same_tool};
use crate::documents::{Kind, see};
use crate::machine_view::load_machine;
use crate::reading_ids::ReadingIds;
use crate::sheet_form::{SheetView, show_sheet};
use crate::views::{FindingView, ToolAsk};

pub use holdline_store::stamp_now;

/// Program and version, as it stands in records and on sheets.
pub const PROGRAM: &str = concat!("holdline ", env!("CARGO_PKG_VERSION"));

/// Kind of the record that says that one record took the place of another.
pub const SUPERSEDE_KIND: &str = "supersede";

/// How many machines are kept read.
const MACHINES_KEPT: usize = 8;

/// An open job.
pub struct Job {
    pub(crate) file: JobFile,
    machines: BTreeMap<(Hash, Option<Hash>), Arc<Machine>>,
}

/// The job as both faces show it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct JobView {
    /// Where its file is.
    pub path: String,
    /// Its name.
    pub name: String,
    /// Hash of the last link; 64 zeros in a job without records.
    pub chain_tail: String,
    /// True where nothing can be added.
    pub readonly: bool,
    /// All versions of all documents, oldest first.
    pub documents: Vec<DocumentView>,
    /// Records, oldest first; sign-offs stand with what they sign.
    pub records: Vec<RecordView>,
}

/// One version of a document.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DocumentView {
    /// SHA-256 of its bytes.
    pub hash: String,
    /// What it is.
    pub kind: String,
    /// Its name.
    pub name: String,
    /// Number in the order of arrival.
    pub number: u64,
    /// When, UTC.
    pub added_at: String,
    /// How many bytes.
    pub bytes: u64,
    /// Whether it is the newest of its name.
    pub current: bool,
    /// Why a calibration no longer belongs to the newest sheet; none for all else.
    pub stale: Option<String>,
}

/// A record in a list.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RecordView {
    /// Number in the chain.
    pub seq: u64,
    /// SHA-256 of its body.
    pub body_hash: String,
    /// Kind, such as `verify`.
    pub kind: String,
    /// One line.
    pub title: String,
    /// When, UTC.
    pub made_at: String,
    /// By whom.
    pub made_by: String,
    /// The answer: `pass`, `fail`, `not shown`; empty where it has none.
    pub outcome: String,
    /// Who signed it.
    pub signatures: Vec<SignatureView>,
    /// The record that took its place.
    pub superseded_by: Option<u64>,
    /// Why it no longer speaks for the current documents; none while it does.
    pub stale: Option<String>,
}

/// A sign-off in short.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SignatureView {
    /// Who.
    pub name: String,
    /// As what.
    pub role: String,
    /// Date that the person gave.
    pub at: String,
}

/// A document taken in.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ImportView {
    /// SHA-256 of its bytes.
    pub hash: String,
    /// What it is.
    pub kind: String,
    /// Its name.
    pub name: String,
    /// Number in the order of arrival.
    pub number: u64,
    /// What is in it, in a few words.
    pub text: String,
}

/// A chain checked.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ChainView {
    /// Whether every hash is right.
    pub whole: bool,
    /// In words.
    pub text: String,
    /// Hash of the last link, to hold against a printed sheet.
    pub tail: String,
    /// How many records, sign-offs among them.
    pub n_records: u64,
    /// How many versions of documents.
    pub n_documents: usize,
}

impl Job {
    /// Makes a new job. Never overwrites.
    ///
    /// # Errors
    ///
    /// As [`JobFile::create`].
    pub fn create(path: &Path) -> Result<Job, Faults> {
        Ok(Job {
            file: JobFile::create(path)?,
            machines: BTreeMap::new(),
        })
    }

    /// Opens a job; to read only where its folder cannot be written.
    ///
    /// # Errors
    ///
    /// As [`JobFile::open`] and [`JobFile::open_read_only`].
    pub fn open(path: &Path) -> Result<Job, Faults> {
        let file = match JobFile::open(path) {
            Err(fault) if matches!(fault.code, "S007" | "S012") => JobFile::open_read_only(path),
            other => other,
        };
        Ok(Job {
            file: file?,
            machines: BTreeMap::new(),
        })
    }

    /// Opens a job to read only.
    ///
    /// # Errors
    ///
    /// As [`JobFile::open_read_only`].
    pub fn open_read_only(path: &Path) -> Result<Job, Faults> {
        Ok(Job {
            file: JobFile::open_read_only(path)?,
            machines: BTreeMap::new(),
        })
    }

    /// Where it is.
    pub fn path(&self) -> &Path {
        self.file.path()
    }

    /// Its name: that of the file without its ending.
    pub fn name(&self) -> String {
        self.path()
            .file_stem()
            .map_or_else(String::new, |stem| stem.to_string_lossy().into_owned())
    }

    /// Hash of the last link.
    ///
    /// # Errors
    ///
    /// As [`JobFile::tail`].
    pub fn tail(&self) -> Result<Hash, Faults> {
        Ok(self.file.tail()?)
    }

    /// The job as it stands.
    ///
    /// # Errors
    ///
    /// What the file gives when it cannot be read.
    pub fn view(&self) -> Result<JobView, Faults> {
        let documents = self.documents()?;
        Ok(JobView {
            path: self.path().display().to_string(),
            name: self.name(),
            chain_tail: self.tail()?.to_string(),
            readonly: self.file.is_read_only(),
            documents,
            records: self.records()?,
        })
    }

    /// Records, oldest first, without sign-offs.
    ///
    /// # Errors
    ///
    /// What the file gives when it cannot be read.
    pub fn records(&self) -> Result<Vec<RecordView>, Faults> {
        let heads = self.file.records()?;
        let mut views = Vec::new();
        for head in heads.iter().filter(|head| head.kind != SIGN_OFF_KIND) {
            views.push(self.record_view(head, &heads)?);
        }
        Ok(views)
    }

    /// A record for a list. What took its place is the record that a `supersede` record names, not that record itself.
    pub(crate) fn record_view(
        &self,
        head: &RecordHead,
        heads: &[RecordHead],
    ) -> Result<RecordView, Faults> {
        let by = head
            .superseded_by
            .and_then(|seq| heads.iter().find(|h| h.link.seq == seq));
        let superseded_by = match by {
            Some(by) if by.kind == SUPERSEDE_KIND => {
                let entry = self.file.record(by.link.seq)?.entry;
                let named = entry.settings.get("by").and_then(Json::number);
                named.map_or(Some(by.link.seq), |seq| Some(seq as u64))
            }
            Some(by) => Some(by.link.seq),
            None => None,
        };
        let newer: Vec<String> = head
            .stale
            .iter()
            .map(|stale| format!("{} has a newer version", stale.rests_on.name))
            .collect();
        Ok(RecordView {
            seq: head.link.seq,
            body_hash: head.link.body_hash.to_string(),
            kind: head.kind.clone(),
            title: head.title.clone(),
            made_at: head.link.stamp.at().to_owned(),
            made_by: head.link.stamp.by().to_owned(),
            outcome: head.outcome.clone().unwrap_or_default(),
            signatures: head
                .signatures
                .iter()
                .map(|s| SignatureView {
                    name: s.name.clone(),
                    role: s.role.clone(),
                    at: s.date.clone(),
                })
                .collect(),
            superseded_by,
            stale: (!newer.is_empty()).then(|| newer.join("; ")),
        })
    }

    /// Takes a document in: finds out what it is, reads it once, keeps it.
    ///
    /// # Errors
    ///
    /// As [`see`], then as [`JobFile::add_document`]. A document with a fault stays out.
    pub fn import(
        &mut self,
        name: &str,
        bytes: &[u8],
        stamp: &Stamp,
    ) -> Result<ImportView, Faults> {
        let ids = self.reading_ids()?;
        let seen = see(name, bytes, &ids.names())?;
        // A machine is what its sheet calls it, not what the file is called: another file of it is a newer version.
        let known = match seen.kind {
            Kind::Machine => self.name_of_machine(&load_machine(name, bytes)?.sheet().id)?,
            _ => None,
        };
        let new = NewDocument {
            kind: seen.kind.word(),
            name: known.as_deref().unwrap_or(name),
            bytes,
        };
        let head = self.file.add_document(&new, stamp)?;
        let text = match known {
            Some(known) if known != name => format!(
                "{}\ntaken in as a newer version of {known}: it is the same machine",
                seen.text
            ),
            Some(_) | None => seen.text,
        };
        Ok(ImportView {
            hash: head.hash.to_string(),
            kind: head.kind,
            name: head.name,
            number: head.number,
            text,
        })
    }

    /// The name under which the sheet of a machine is kept; none for a machine that is new here.
    fn name_of_machine(&mut self, id: &str) -> Result<Option<String>, Faults> {
        for sheet in self.current_of(Kind::Machine)? {
            if self.machine(&sheet.hash)?.sheet().id == id {
                return Ok(Some(sheet.name));
            }
        }
        Ok(None)
    }

    /// Whether a file looks like a job, by its first bytes.
    pub fn is_one(path: &Path) -> bool {
        let mut first = [0; 15];
        let read = File::open(path).and_then(|mut file| file.read_exact(&mut first));
        read.is_ok() && &first == b"SQLite format 3"
    }

    /// A document by its hash in hex.
    ///
    /// # Errors
    ///
    /// `R001` for what is no hash, `S020` if there is none, `S040` if it is damaged.
    pub fn document(&self, hash: &str) -> Result<Document, Faults> {
        Ok(self.file.document(&Hash::from_hex("document", hash)?)?)
    }

    /// A document's bytes.
    ///
    /// # Errors
    ///
    /// As [`Job::document`].
    pub fn document_bytes(&self, hash: &str) -> Result<Vec<u8>, Faults> {
        Ok(self.document(hash)?.bytes)
    }

    /// A machine sheet in the job as a form.
    ///
    /// # Errors
    ///
    /// As [`Job::document`]; `F065` for a document of another kind.
    pub fn sheet(&self, hash: &str) -> Result<SheetView, Faults> {
        let (document, _) = self.document_of(Kind::Machine, hash)?;
        let name = &document.head.name;
        Ok(show_sheet(
            name,
            holdline_files::text::text_of(name, &document.bytes)?,
        ))
    }

    /// A document of a kind, by hash; what it rests on with it.
    ///
    /// # Errors
    ///
    /// As [`Job::document`]; `F065` for one of another kind.
    pub(crate) fn document_of(&self, kind: Kind, hash: &str) -> Result<(Document, Basis), Faults> {
        let document = self.document(hash)?;
        if document.head.kind != kind.word() {
            return Err(Fault::new(
                "F065",
                document.head.name.clone(),
                format!("a document of kind {}", document.head.kind),
                kind.word(),
                "choose a document of that kind",
            )
            .into());
        }
        let basis = document.head.basis();
        Ok((document, basis))
    }

    /// The newest version of each document of a kind.
    ///
    /// # Errors
    ///
    /// What the file gives when it cannot be read.
    pub fn current_of(&self, kind: Kind) -> Result<Vec<DocumentView>, Faults> {
        let mut wanted = self.documents()?;
        wanted.retain(|document| document.current && document.kind == kind.word());
        Ok(wanted)
    }

    /// The machine of a sheet in the job, by hash.
    ///
    /// # Errors
    ///
    /// As [`Job::document`]; `F065` for another kind; the sheet's own faults if this program reads it more
    /// strictly than the one that took it in.
    pub fn machine(&mut self, hash: &str) -> Result<Arc<Machine>, Faults> {
        let key = (Hash::from_hex("machine", hash)?, None);
        if let Some(machine) = self.machines.get(&key) {
            return Ok(Arc::clone(machine));
        }
        let (document, _) = self.document_of(Kind::Machine, hash)?;
        let machine = load_machine(&document.head.name, &document.bytes)?;
        Ok(self.keep(key, machine))
    }

    /// The machine that is asked of: its sheet, with the calibration on top where one is named.
    ///
    /// # Errors
    ///
    /// As [`Job::machine`]; `V040` for a calibration of another sheet.
    pub fn machine_of(&mut self, tool: &ToolAsk) -> Result<Arc<Machine>, Faults> {
        let machine = self.machine(&tool.machine)?;
        let Some(hash) = &tool.calibration else {
            return Ok(machine);
        };
        let key = (
            Hash::from_hex("machine", &tool.machine)?,
            Some(Hash::from_hex("calibration", hash)?),
        );
        if let Some(machine) = self.machines.get(&key) {
            return Ok(Arc::clone(machine));
        }
        let (name, calibration) = self.calibration(hash)?;
        let machine = calibrated(&machine, &tool.machine, &name, &calibration)?;
        Ok(self.keep(key, machine))
    }

    /// As [`Job::machine_of`], for an answer that somebody relies on: a calibration speaks for the tool that it was
    /// made with alone, because bucket sensor and tooth carry each other's errors.
    ///
    /// # Errors
    ///
    /// As [`Job::machine_of`]; `V041` for a calibration made with another tool.
    pub fn machine_to_judge(&mut self, tool: &ToolAsk) -> Result<Arc<Machine>, Faults> {
        if let Some(hash) = &tool.calibration {
            let (name, calibration) = self.calibration(hash)?;
            same_tool(&name, &calibration, &tool.choice())?;
        }
        self.machine_of(tool)
    }

    fn keep(&mut self, key: (Hash, Option<Hash>), machine: Machine) -> Arc<Machine> {
        if MACHINES_KEPT <= self.machines.len() {
            self.machines.clear();
        }
        let machine = Arc::new(machine);
        self.machines.insert(key, Arc::clone(&machine));
        machine
    }

    /// A calibration in the job with its document's name.
    ///
    /// # Errors
    ///
    /// As [`Job::document`]; `F065` for another kind.
    pub fn calibration(&self, hash: &str) -> Result<(String, Calibration), Faults> {
        let (document, _) = self.document_of(Kind::Calibration, hash)?;
        let calibration = read_calibration(&document.head.name, &document.bytes)?;
        Ok((document.head.name, calibration))
    }

    /// What a person must know who uses a calibration with this tool.
    ///
    /// # Errors
    ///
    /// As [`Job::calibration`].
    pub fn calibration_findings(&self, tool: &ToolAsk) -> Result<Vec<FindingView>, Faults> {
        let Some(hash) = &tool.calibration else {
            return Ok(Vec::new());
        };
        let (_, calibration) = self.calibration(hash)?;
        Ok(other_tool(&calibration, &tool.choice())
            .into_iter()
            .collect())
    }

    /// The documents that a machine with its tool comes from.
    ///
    /// # Errors
    ///
    /// As [`Job::document`]; `F065` for one of another kind.
    pub(crate) fn bases_of(&self, tool: &ToolAsk) -> Result<Vec<Basis>, Faults> {
        let mut bases = vec![self.document_of(Kind::Machine, &tool.machine)?.1];
        if let Some(hash) = &tool.calibration {
            bases.push(self.document_of(Kind::Calibration, hash)?.1);
        }
        Ok(bases)
    }

    /// All versions of all documents, oldest first.
    fn documents(&self) -> Result<Vec<DocumentView>, Faults> {
        let heads = self.file.documents()?;
        let mut views: Vec<DocumentView> = heads.iter().map(document_view).collect();
        for view in &mut views {
            if view.kind != Kind::Calibration.word() || !view.current {
                continue;
            }
            // One that cannot be read is told of where it is used.
            if let Ok((_, calibration)) = self.calibration(&view.hash) {
                view.stale = stale_calibration(&calibration.sheet_hash, &heads);
            }
        }
        Ok(views)
    }

    /// Ids of all sensors and antennas of the job's machines, which may name columns.
    fn reading_ids(&mut self) -> Result<ReadingIds, Faults> {
        let mut ids = ReadingIds::default();
        for sheet in self.current_of(Kind::Machine)? {
            let machine = self.machine(&sheet.hash)?;
            ids.add(&machine);
        }
        Ok(ids)
    }

    /// Signs a record. Gives the number of the sign-off.
    ///
    /// # Errors
    ///
    /// As [`JobFile::draft_sign_off`] and [`JobFile::sign`].
    ///
    /// # Caution
    ///
    /// It is a name typed by whoever holds the file; who may sign is the site's rule.
    pub fn sign(
        &mut self,
        seq: u64,
        name: &str,
        role: &str,
        date: &str,
        stamp: &Stamp,
    ) -> Result<u64, Faults> {
        let sign_off = self
            .file
            .draft_sign_off(seq, &Signer { name, role, date })?;
        Ok(self.file.sign(&sign_off, PROGRAM, stamp)?.seq)
    }

    /// The record whose link hash was printed on a sheet.
    ///
    /// # Errors
    ///
    /// `R001` for what is no hash; as [`JobFile::check_printed`] when the chain has no such link.
    pub fn check_printed(&self, hash: &str) -> Result<u64, Faults> {
        Ok(self.file.check_printed(&Hash::from_hex("printed", hash)?)?)
    }

    /// Computes every hash again.
    ///
    /// # Errors
    ///
    /// Only what keeps the file from being read at all; a broken chain is an answer.
    pub fn check_chain(&self) -> Result<ChainView, Faults> {
        match self.file.verify_chain() {
            Ok(report) => {
                let clock = match report.clock_went_back.as_slice() {
                    [] => String::new(),
                    seqs => format!(" At record {seqs:?} a clock went back: look at the times."),
                };
                Ok(ChainView {
                    whole: true,
                    text: format!(
                        "Every hash is right: {} records, {} documents. Compare the last hash with a printed sheet.{clock}",
                        report.n_records, report.n_documents
                    ),
                    tail: report.tail.to_string(),
                    n_records: report.n_records,
                    n_documents: report.n_documents,
                })
            }
            Err(fault) => Ok(ChainView {
                whole: false,
                text: format!(
                    "{}: got {}, want {}. {}.",
                    fault.at, fault.got, fault.want, fault.fix
                ),
                tail: self
                    .tail()
                    .map_or_else(|_| String::new(), |tail| tail.to_string()),
                n_records: 0,
                n_documents: 0,
            }),
        }
    }
}

/// Why a calibration no longer belongs to the newest sheet.
fn stale_calibration(sheet_hash: &str, heads: &[DocumentHead]) -> Option<String> {
    match heads
        .iter()
        .find(|head| head.hash.to_string() == sheet_hash)
    {
        None => Some("the sheet that it stands on is not in this job".to_owned()),
        Some(sheet) if !sheet.current => Some(format!("{} has a newer version", sheet.name)),
        Some(_) => None,
    }
}

fn document_view(head: &DocumentHead) -> DocumentView {
    DocumentView {
        hash: head.hash.to_string(),
        kind: head.kind.clone(),
        name: head.name.clone(),
        number: head.number,
        added_at: head.added_at.clone(),
        bytes: head.n_bytes,
        current: head.current,
        stale: None,
    }
}

/// The name nearest to one that is not there; none where nothing is near.
pub fn nearest_name(wanted: &str, there: &[String]) -> Option<String> {
    holdline_files::text::nearest(wanted, there.iter().map(String::as_str)).map(str::to_owned)
}
