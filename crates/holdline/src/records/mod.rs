//! Records: what was found, from what, and the proof that nobody changed it since.
//!
//! A [`Record`](Entry) has a [`Body`]: the result, the settings, the hashes of the documents it rests on, and the
//! program's version, as canonical JSON.
//! Outside the body stand when and by whom it was made ([`Stamp`]), and the hash of the record before it ([`Link`]).
//! A body depends on nothing but its inputs, so the same program makes the same bytes again.
//!
//! ```text
//! body_hash = SHA-256(body)
//! link_hash = SHA-256("holdline-record-1\n" prev_link_hash "\n" body_hash "\n" made_at "\n" made_by "\n")
//! ```
//!
//! The first record's `prev_link_hash` is 64 zeros.
//! The last `link_hash` is printed on every sheet; whoever holds a sheet can tell if a record before it was changed,
//! taken out or put in.
//!
//! # Caution
//!
//! The chain shows change, not truth, and not who: a record of a wrong measurement is a well-kept wrong record,
//! and whoever holds the file can write a whole new chain.
//! What stands against that is the printed hash on a sheet that has left the building, and a signature by a key.

mod chain;
mod entry;
mod explain;
mod hash;
mod json;
mod read_json;
mod sign_off;
mod stamp;

pub use chain::{Chain, Link};
pub use entry::{Basis, Body, Entry};
pub use explain::EXPLAIN;
pub use hash::Hash;
pub use json::Json;
pub use sign_off::{KeySignature, SIGN_OFF_KIND, SignOff};
pub use stamp::{Stamp, check_line};
