//! Computes every hash again and names the first record that is wrong.

use std::collections::BTreeSet;

use holdline::records::{Basis, Body, Chain, Entry, Hash, SIGN_OFF_KIND, SignOff};
use holdline_geom::fault::Fault;

use crate::documents::{check_hash, content, heads};
use crate::job::JobFile;
use crate::records::RecordHead;
use crate::schema::{self, MIGRATIONS};

/// A job whose every hash is right.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ChainReport {
    /// How many records, sign-offs among them.
    pub n_records: u64,
    /// How many versions of documents.
    pub n_documents: usize,
    /// Hash of the last link; compare it with the one on a printed sheet.
    pub tail: Hash,
    /// Records that bear an earlier time than the one before them: a clock was wrong. To be looked at, no break.
    pub clock_went_back: Vec<u64>,
}

impl JobFile {
    /// Computes every hash again: bodies, links, documents; compares lists with bodies; checks the file's structure and
    /// that its guards are in place.
    ///
    /// Takes time in proportion to the size of the file.
    ///
    /// # Errors
    ///
    /// The first record that is wrong, by its number, with a code of `S04…` or `R…`; `S010` if the file is damaged,
    /// `S015` if its guards are not in place.
    ///
    /// # Caution
    ///
    /// A job with its last records cut off is still a whole chain: see [`JobFile::check_printed`].
    pub fn verify_chain(&self) -> Result<ChainReport, Fault> {
        let here = &self.here;
        let failed = |e| here.failed("checking the records", &e);
        // One view of the file, whoever else is writing.
        let view = self.connection.unchecked_transaction().map_err(failed)?;
        let mut chain = Chain::empty();
        let mut good_documents = BTreeSet::new();
        let mut links = BTreeSet::new();
        let rests_on = self.all_rests_on()?;
        for head in self.bare_heads()? {
            let seq = head.link.seq;
            let body = self.body(&head.link)?;
            chain
                .check(&head.link)
                .map_err(|fault| here.put_before(fault))?;
            let documents = rests_on.get(&seq).map_or(&[][..], Vec::as_slice);
            self.check_columns(&head, documents, &body, &links)?;
            for basis in documents {
                if good_documents.insert(basis.hash) {
                    content(&self.connection, here, &basis.hash, &basis.name).map_err(|fault| {
                        Fault {
                            at: format!("{}, under record[{seq}]", fault.at),
                            ..fault
                        }
                    })?;
                }
            }
            links.insert(head.link.link_hash);
        }
        if let Some(seq) = rests_on.keys().find(|seq| chain.n_links() < **seq) {
            return Err(self.not_as_in_body(*seq, "rests_on"));
        }
        let n_documents = self.check_documents(&mut good_documents)?;
        self.check_structure()?;
        schema::check_guards(&self.connection, here, MIGRATIONS)?;
        view.finish().map_err(failed)?;
        Ok(ChainReport {
            n_records: chain.n_links(),
            n_documents,
            tail: chain.tail(),
            clock_went_back: chain.clock_went_back().to_vec(),
        })
    }

    /// Number of the record whose hash a sheet prints.
    ///
    /// # Errors
    ///
    /// `S042` if no record has that hash: records were taken off the end, or the sheet is of another job.
    pub fn check_printed(&self, hash: &Hash) -> Result<u64, Fault> {
        let heads = self.bare_heads()?;
        let found = heads.iter().find(|head| head.link.link_hash == *hash);
        found.map(|head| head.link.seq).ok_or_else(|| {
            self.here.fault(
                "S042",
                &format!("no record with the printed hash {hash}"),
                "the hash of a record in this job",
                "check that sheet and job belong together; if they do, records were taken out or exchanged after printing: go back to a copy",
            )
        })
    }

    /// The columns for lists against the body.
    fn check_columns(
        &self,
        head: &RecordHead,
        rests_on: &[Basis],
        body: &Body,
        before: &BTreeSet<Hash>,
    ) -> Result<(), Fault> {
        let seq = head.link.seq;
        let at = format!("record[{seq}].body");
        let entry = Entry::read(&at, body).map_err(|fault| self.here.put_before(fault))?;
        let mut signs = None;
        if entry.kind == SIGN_OFF_KIND {
            let sign_off = SignOff::read(&at, &entry).and_then(|sign_off| {
                sign_off.check_key(&at)?;
                Ok(sign_off)
            });
            let sign_off = sign_off.map_err(|fault| self.here.put_before(fault))?;
            signs = Some(sign_off.link_hash);
        }
        let known = |hash: Option<Hash>| hash.is_none_or(|hash| before.contains(&hash));
        let columns = [
            ("kind", head.kind == entry.kind),
            ("title", head.title == entry.title),
            ("program", head.program == entry.program),
            ("outcome", head.outcome == entry.outcome),
            (
                "supersedes",
                head.supersedes == entry.supersedes && known(entry.supersedes),
            ),
            ("signs", head.signs == signs && known(signs)),
            ("rests_on", rests_on == entry.rests_on),
        ];
        match columns.iter().find(|(_, same)| !same) {
            None => Ok(()),
            Some((name, _)) => Err(self.not_as_in_body(seq, name)),
        }
    }

    fn not_as_in_body(&self, seq: u64, column: &str) -> Fault {
        self.here.within(
            &format!("record[{seq}].{column}"),
            "S043",
            "something else than in the record's body",
            "the list as the bodies say it",
            "the list was changed or damaged; the body counts, and its hash is right; go back to a copy of the job",
        )
    }

    /// Every version of every document, also those that no record rests on.
    fn check_documents(&self, good: &mut BTreeSet<Hash>) -> Result<usize, Fault> {
        let here = &self.here;
        let doing = "checking the list of documents";
        let all = heads(&self.connection, here)?;
        for (idx, head) in all.iter().enumerate() {
            let sql = "SELECT check_hash FROM documents WHERE number = ?1";
            let got: String = self
                .connection
                .query_row(sql, [head.number], |row| row.get(0))
                .map_err(|e| here.failed(doing, &e))?;
            let want = check_hash(head).to_string();
            if got != want || head.number != idx as u64 + 1 {
                return Err(here.within(
                    &format!("document[{}]", head.number),
                    "S044",
                    "kind, name, time or number not as they were when it was added",
                    "the list of documents unchanged",
                    "the list was changed or damaged; go back to a copy of the job",
                ));
            }
            if good.insert(head.hash) {
                content(&self.connection, here, &head.hash, &head.name)?;
            }
        }
        Ok(all.len())
    }

    fn check_structure(&self) -> Result<(), Fault> {
        let failed = |e| self.here.failed("checking the structure of the file", &e);
        let said: String = self
            .connection
            .query_row("PRAGMA integrity_check(1)", [], |row| row.get(0))
            .map_err(failed)?;
        if said != "ok" {
            return Err(self.here.damaged(&said));
        }
        let mut query = self
            .connection
            .prepare("PRAGMA foreign_key_check")
            .map_err(failed)?;
        if query.exists([]).map_err(failed)? {
            return Err(self
                .here
                .damaged("a row that points at a row that is not there"));
        }
        Ok(())
    }
}
