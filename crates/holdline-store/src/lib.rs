#![doc = include_str!("../README.md")]

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
