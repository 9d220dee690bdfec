//! The job file: a job's documents and records, in one file.
//!
//! Every version of every document is kept, under the hash of its content.
//! Records are kept in a chain; none is ever changed or taken out, a new one supersedes.
//! What was said to be saved is saved: a call that returned `Ok` is on the disk.
//!
//! One file is the whole job: send it, back it up, open it anywhere.
//! While holdline is saving, a second file with `-journal` at the end of its name stands beside it for a moment.
//! If one is left behind after a crash, it belongs to the job: keep the two together, and the next opening mends it.
//!
//! # Example
//!
//! ```
//! use holdline::records::{Basis, Entry, Json};
//! use holdline_store::{JobFile, NewDocument, Signer, stamp_now};
//!
//! # fn main() -> Result<(), Box<dyn std::error::Error>> {
//! # let dir = tempfile::tempdir()?;
//! # let path = dir.path().join("demo.job");
//! let stamp = stamp_now("A. Specialist")?;
//! let mut job = JobFile::create(&path)?;
//! let sheet = NewDocument { kind: "holdline.machine", name: "demo-23", bytes: b"stick.length = 2.9\n" };
//! let sheet = job.add_document(&sheet, &stamp)?;
//! let entry = Entry {
//!     kind: "verify".to_owned(),
//!     title: "Left tooth against bench B2".to_owned(),
//!     program: "holdline 0.1.0".to_owned(),
//!     outcome: Some("accepted".to_owned()),
//!     rests_on: vec![sheet.basis()],
//!     settings: Json::Null,
//!     supersedes: None,
//!     result: Json::object([("mean_up_m", Json::from(-0.004))]),
//! };
//! let link = job.append_record(&entry, &stamp)?;
//! let signer = Signer { name: "A. Specialist", role: "machine-control specialist", date: "2026-05-04" };
//! let sign_off = job.draft_sign_off(link.seq, &signer)?;
//! job.sign(&sign_off, "holdline 0.1.0", &stamp)?;
//!
//! let report = job.verify_chain()?;
//! assert_eq!(report.n_records, 2);
//! assert_eq!(job.records()?[0].signatures[0].role, "machine-control specialist");
//! # Ok(())
//! # }
//! ```
//!
//! # Caution
//!
//! A whole file can be exchanged for another that is whole.
//! Compare the last hash of the chain with the one printed on a sheet that left the building
//! ([`JobFile::check_printed`]).

mod backup;
mod clock;
mod documents;
mod explain;
mod fault;
mod job;
mod json;
mod records;
mod schema;
mod verify;

pub use clock::stamp_now;
pub use documents::{Document, DocumentHead, NewDocument};
pub use explain::EXPLAIN;
pub use job::JobFile;
pub use json::{json_of, read_json};
pub use records::{Record, RecordHead, Signature, Signer, Stale};
pub use verify::ChainReport;
