//! Records: appended to the chain, signed, superseded, listed.

use std::collections::BTreeMap;

use holdline::records::{
    Basis, Body, Entry, Hash, Link, SIGN_OFF_KIND, SignOff, Stamp, check_line,
};
use holdline_geom::fault::Fault;
use rusqlite::{OptionalExtension, Row};

use crate::fault::Where;
use crate::job::{JobFile, Save};

/// What is known of a record, without its body.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RecordHead {
    /// Its place in the chain: number, hashes, when, by whom.
    pub link: Link,
    /// Kind, such as `verify` or `sign-off`.
    pub kind: String,
    /// One line for a list.
    pub title: String,
    /// Program and version that computed it.
    pub program: String,
    /// The answer in a word or two, where there is one.
    pub outcome: Option<String>,
    /// Documents that it rests on.
    pub rests_on: Vec<Basis>,
    /// Those of them that have a newer version now. Not empty: the record is stale.
    pub stale: Vec<Stale>,
    /// Link hash of the record that it takes the place of.
    pub supersedes: Option<Hash>,
    /// Number of the record that took its place.
    pub superseded_by: Option<u64>,
    /// Link hash of the record that it signs, if it is a sign-off.
    pub signs: Option<Hash>,
    /// Who signed it.
    pub signatures: Vec<Signature>,
}

/// A document that a record rests on has a newer version.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stale {
    /// The version that the record rests on.
    pub rests_on: Basis,
    /// Hash of the current version.
    pub current: Hash,
}

/// A sign-off, in short.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Signature {
    /// Number of the sign-off in the chain.
    pub seq: u64,
    /// Who.
    pub name: String,
    /// As what.
    pub role: String,
    /// Date that the person gave.
    pub date: String,
    /// True if it carries a signature by a key; [`JobFile::verify_chain`] checks it.
    pub by_key: bool,
}

/// A record with its body.
#[derive(Debug, Clone, PartialEq)]
pub struct Record {
    /// What is known of it.
    pub head: RecordHead,
    /// The bytes that are hashed and signed.
    pub body: Body,
    /// What the body says.
    pub entry: Entry,
}

/// Who signs.
#[derive(Debug, Clone, Copy)]
pub struct Signer<'a> {
    /// Name.
    pub name: &'a str,
    /// As what, such as `site engineer`.
    pub role: &'a str,
    /// Date that the person gives.
    pub date: &'a str,
}

impl JobFile {
    /// Appends a record. With `entry.supersedes` it takes the place of that one, which stays in the chain.
    ///
    /// # Errors
    ///
    /// `S031` if it rests on a document that is not in the job, `S030` if it supersedes what is not there, `S032` if
    /// that has been superseded already, `S033` if it is, or supersedes, a sign-off; `R002`, `R003`, `R011` if it
    /// cannot be written; `S007` to `S017` if it cannot be saved.
    pub fn append_record(&mut self, entry: &Entry, stamp: &Stamp) -> Result<Link, Fault> {
        if entry.kind == SIGN_OFF_KIND {
            return Err(self.here.fault(
                "S033",
                "a sign-off, given as any record",
                "a sign-off through the door for sign-offs",
                "sign the record",
            ));
        }
        let body = entry.body()?;
        let save = self.begin("saving a record")?;
        check_rests_on(&save, entry)?;
        if let Some(hash) = &entry.supersedes {
            check_supersedes(&save, hash)?;
        }
        let link = insert(&save, entry, &body, None, stamp)?;
        save.commit()?;
        Ok(link)
    }

    /// A sign-off of that record, filled in, for [`JobFile::sign`]. A person with a key signs [`SignOff::message`] and
    /// puts the signature in.
    ///
    /// # Errors
    ///
    /// `S030` if there is no such record, `S033` if it is itself a sign-off, `R011` if a text is not one line.
    pub fn draft_sign_off(&self, seq: u64, signer: &Signer) -> Result<SignOff, Fault> {
        let here = &self.here;
        check_line("name", signer.name)?;
        check_line("role", signer.role)?;
        check_line("date", signer.date)?;
        let record = self.record(seq)?;
        if record.head.kind == SIGN_OFF_KIND {
            return Err(sign_off_of_sign_off(here, seq));
        }
        Ok(SignOff {
            link_hash: record.head.link.link_hash,
            body_hash: record.body.hash(),
            name: signer.name.to_owned(),
            role: signer.role.to_owned(),
            date: signer.date.to_owned(),
            key: None,
        })
    }

    /// Appends a sign-off to the chain. `program` is the program and version that writes it.
    ///
    /// # Errors
    ///
    /// `S030` if the record is not in this job or its body is another, `S033` if it is a sign-off, `R011` if a text is
    /// not one line, `R030` if a key's signature does not fit; `S007` to `S017` if it cannot be saved.
    pub fn sign(
        &mut self,
        sign_off: &SignOff,
        program: &str,
        stamp: &Stamp,
    ) -> Result<Link, Fault> {
        let entry = sign_off.entry(program)?;
        let body = entry.body()?;
        sign_off
            .check_key("sign_off")
            .map_err(|fault| self.here.put_before(fault))?;
        let save = self.begin("saving a sign-off")?;
        let sql = "SELECT seq, kind, body_hash FROM records WHERE link_hash = ?1";
        let signed: Option<(u64, String, String)> = save
            .write
            .query_row(sql, [sign_off.link_hash.to_string()], |row| {
                Ok((row.get(0)?, row.get(1)?, row.get(2)?))
            })
            .optional()
            .map_err(|e| save.failed(&e))?;
        match signed {
            None => return Err(no_record(save.here, &sign_off.link_hash.to_string())),
            Some((seq, kind, _)) if kind == SIGN_OFF_KIND => {
                return Err(sign_off_of_sign_off(save.here, seq));
            }
            Some((seq, _, body_hash)) if body_hash != sign_off.body_hash.to_string() => {
                return Err(save.here.within(
                    &format!("record[{seq}].body_hash"),
                    "S030",
                    &format!("a sign-off of the body {}", sign_off.body_hash),
                    &body_hash,
                    "look at the record again and sign what it says now",
                ));
            }
            Some(_) => {}
        }
        let link = insert(&save, &entry, &body, Some(&sign_off.link_hash), stamp)?;
        save.commit()?;
        Ok(link)
    }

    /// All records, oldest first, sign-offs among them.
    ///
    /// # Errors
    ///
    /// `S009` to `S011` if they cannot be read; a code of `R…` with the record that is damaged.
    pub fn records(&self) -> Result<Vec<RecordHead>, Fault> {
        let mut heads = self.bare_heads()?;
        let mut rests_on = self.all_rests_on()?;
        let current: BTreeMap<String, Hash> = self
            .documents()?
            .into_iter()
            .filter(|document| document.current)
            .map(|document| (document.name, document.hash))
            .collect();
        let mut superseded_by = BTreeMap::new();
        let mut signatures: BTreeMap<Hash, Vec<Signature>> = BTreeMap::new();
        for head in &heads {
            if let Some(hash) = head.supersedes {
                superseded_by.insert(hash, head.link.seq);
            }
            if let Some(hash) = head.signs {
                signatures
                    .entry(hash)
                    .or_default()
                    .push(self.signature(head)?);
            }
        }
        for head in &mut heads {
            head.rests_on = rests_on.remove(&head.link.seq).unwrap_or_default();
            head.stale = find_stale(&head.rests_on, &current);
            head.superseded_by = superseded_by.get(&head.link.link_hash).copied();
            head.signatures = signatures.remove(&head.link.link_hash).unwrap_or_default();
        }
        Ok(heads)
    }

    /// A record by its number, its body checked against its hash.
    ///
    /// # Errors
    ///
    /// `S030` if there is none; `S041` if the body is no longer what was recorded.
    pub fn record(&self, seq: u64) -> Result<Record, Fault> {
        let head = self
            .records()?
            .into_iter()
            .find(|head| head.link.seq == seq);
        let head = head.ok_or_else(|| no_record(&self.here, &format!("number {seq}")))?;
        let body = self.body(&head.link)?;
        let at = format!("record[{seq}].body");
        let entry = Entry::read(&at, &body).map_err(|fault| self.here.put_before(fault))?;
        Ok(Record { head, body, entry })
    }

    /// The body of that link, once it is seen to have that hash.
    pub(crate) fn body(&self, link: &Link) -> Result<Body, Fault> {
        let here = &self.here;
        let place = format!("record[{}].body", link.seq);
        let bytes: Vec<u8> = self
            .connection
            .query_row(
                "SELECT body FROM records WHERE seq = ?1",
                [link.seq],
                |row| row.get(0),
            )
            .map_err(|e| here.failed(&format!("reading {place}"), &e))?;
        let got = Hash::of(&bytes);
        if got != link.body_hash {
            return Err(here.within(
                &place,
                "S041",
                &format!("a body with the hash {got}"),
                &format!("a body with the hash {}", link.body_hash),
                "the record was changed or damaged after it was made; trust it no more, go back to a copy of the job",
            ));
        }
        Body::read(&place, &bytes).map_err(|fault| here.put_before(fault))
    }

    fn signature(&self, head: &RecordHead) -> Result<Signature, Fault> {
        let seq = head.link.seq;
        let at = format!("record[{seq}].body");
        let body = self.body(&head.link)?;
        let sign_off = Entry::read(&at, &body).and_then(|entry| SignOff::read(&at, &entry));
        let sign_off = sign_off.map_err(|fault| self.here.put_before(fault))?;
        Ok(Signature {
            seq,
            name: sign_off.name,
            role: sign_off.role,
            date: sign_off.date,
            by_key: sign_off.key.is_some(),
        })
    }

    /// Heads with what stands in the table of records alone.
    pub(crate) fn bare_heads(&self) -> Result<Vec<RecordHead>, Fault> {
        let here = &self.here;
        let failed = |e| here.failed("reading the list of records", &e);
        let sql = "SELECT seq, prev_link_hash, body_hash, link_hash, made_at, made_by,
                   kind, title, program, outcome, supersedes, signs FROM records ORDER BY seq";
        let mut query = self.connection.prepare(sql).map_err(failed)?;
        let heads = query
            .query_map([], |row| Ok(read_head(row, here)))
            .map_err(failed)?;
        heads.map(|head| head.map_err(failed)?).collect()
    }

    /// What each record rests on, by its number.
    pub(crate) fn all_rests_on(&self) -> Result<BTreeMap<u64, Vec<Basis>>, Fault> {
        let here = &self.here;
        let failed = |e| here.failed("reading what the records rest on", &e);
        let sql = "SELECT seq, kind, name, hash FROM rests_on ORDER BY seq, position";
        let mut query = self.connection.prepare(sql).map_err(failed)?;
        let mut rows = query.query([]).map_err(failed)?;
        let mut all: BTreeMap<u64, Vec<Basis>> = BTreeMap::new();
        while let Some(row) = rows.next().map_err(failed)? {
            let seq: u64 = row.get(0).map_err(failed)?;
            let place = format!("record[{seq}].rests_on");
            let hash: String = row.get(3).map_err(failed)?;
            let hash = Hash::from_hex(&place, &hash).map_err(|fault| here.put_before(fault))?;
            let (kind, name) = (row.get(1).map_err(failed)?, row.get(2).map_err(failed)?);
            all.entry(seq).or_default().push(Basis { kind, name, hash });
        }
        Ok(all)
    }
}

/// A link from a row that begins with seq, prev_link_hash, body_hash, link_hash, made_at, made_by.
pub(crate) fn read_link(row: &Row, here: &Where) -> Result<Link, Fault> {
    let failed = |e: rusqlite::Error| here.damaged(&format!("a record that cannot be read: {e}"));
    let seq: u64 = row.get(0).map_err(failed)?;
    let hash = |idx: usize, what: &str| {
        let text: String = row.get(idx).map_err(failed)?;
        let hash = Hash::from_hex(&format!("record[{seq}].{what}"), &text);
        hash.map_err(|fault| here.put_before(fault))
    };
    let (at, by): (String, String) = (row.get(4).map_err(failed)?, row.get(5).map_err(failed)?);
    let stamp = Stamp::new(at, by).map_err(|fault| {
        here.put_before(Fault {
            at: format!("record[{seq}].{}", fault.at),
            ..fault
        })
    })?;
    Ok(Link {
        seq,
        prev_link_hash: hash(1, "prev_link_hash")?,
        body_hash: hash(2, "body_hash")?,
        stamp,
        link_hash: hash(3, "link_hash")?,
    })
}

fn read_head(row: &Row, here: &Where) -> Result<RecordHead, Fault> {
    let failed = |e: rusqlite::Error| here.damaged(&format!("a record that cannot be read: {e}"));
    let link = read_link(row, here)?;
    let hash = |idx: usize, what: &str| {
        let text: Option<String> = row.get(idx).map_err(failed)?;
        let place = format!("record[{}].{what}", link.seq);
        let hash = text.map(|text| Hash::from_hex(&place, &text)).transpose();
        hash.map_err(|fault| here.put_before(fault))
    };
    Ok(RecordHead {
        kind: row.get(6).map_err(failed)?,
        title: row.get(7).map_err(failed)?,
        program: row.get(8).map_err(failed)?,
        outcome: row.get(9).map_err(failed)?,
        rests_on: Vec::new(),
        stale: Vec::new(),
        supersedes: hash(10, "supersedes")?,
        superseded_by: None,
        signs: hash(11, "signs")?,
        signatures: Vec::new(),
        link,
    })
}

fn insert(
    save: &Save,
    entry: &Entry,
    body: &Body,
    signs: Option<&Hash>,
    stamp: &Stamp,
) -> Result<Link, Fault> {
    let link = save.chain()?.append(body.hash(), stamp.clone());
    save.execute(
        "INSERT INTO records (seq, kind, title, program, outcome, made_at, made_by, body_hash,
         prev_link_hash, link_hash, supersedes, signs, body)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13)",
        (
            link.seq,
            &entry.kind,
            &entry.title,
            &entry.program,
            &entry.outcome,
            stamp.at(),
            stamp.by(),
            link.body_hash.to_string(),
            link.prev_link_hash.to_string(),
            link.link_hash.to_string(),
            entry.supersedes.map(|hash| hash.to_string()),
            signs.map(Hash::to_string),
            body.bytes(),
        ),
    )?;
    for (idx, basis) in entry.rests_on.iter().enumerate() {
        save.execute(
            "INSERT INTO rests_on (seq, position, kind, name, hash) VALUES (?1, ?2, ?3, ?4, ?5)",
            (
                link.seq,
                idx as u64 + 1,
                &basis.kind,
                &basis.name,
                basis.hash.to_string(),
            ),
        )?;
    }
    Ok(link)
}

fn check_rests_on(save: &Save, entry: &Entry) -> Result<(), Fault> {
    let sql = "SELECT 1 FROM documents WHERE name = ?1 AND kind = ?2 AND hash = ?3";
    for (idx, basis) in entry.rests_on.iter().enumerate() {
        let found = save
            .write
            .query_row(
                sql,
                (&basis.name, &basis.kind, basis.hash.to_string()),
                |_| Ok(()),
            )
            .optional()
            .map_err(|e| save.failed(&e))?;
        if found.is_none() {
            return Err(save.here.within(
                &format!("record.rests_on[{}]", idx + 1),
                "S031",
                &format!(
                    "{} {:?} with the hash {}",
                    basis.kind, basis.name, basis.hash
                ),
                "a document that is in this job",
                "add the document first; a record without its documents cannot be computed again",
            ));
        }
    }
    Ok(())
}

fn check_supersedes(save: &Save, hash: &Hash) -> Result<(), Fault> {
    let sql = "SELECT r.seq, r.kind, (SELECT seq FROM records WHERE supersedes = r.link_hash)
               FROM records r WHERE r.link_hash = ?1";
    let found: Option<(u64, String, Option<u64>)> = save
        .write
        .query_row(sql, [hash.to_string()], |row| {
            Ok((row.get(0)?, row.get(1)?, row.get(2)?))
        })
        .optional()
        .map_err(|e| save.failed(&e))?;
    match found {
        None => Err(no_record(save.here, &hash.to_string())),
        Some((seq, kind, _)) if kind == SIGN_OFF_KIND => Err(sign_off_of_sign_off(save.here, seq)),
        Some((seq, _, Some(by))) => Err(save.here.within(
            &format!("record[{seq}]"),
            "S032",
            &format!("a record that record {by} has superseded already"),
            "the newest of its line",
            &format!("supersede record {by}, or the one that superseded it"),
        )),
        Some((_, _, None)) => Ok(()),
    }
}

fn find_stale(rests_on: &[Basis], current: &BTreeMap<String, Hash>) -> Vec<Stale> {
    let newer = rests_on.iter().filter_map(|basis| {
        let current = *current.get(&basis.name)?;
        (current != basis.hash).then(|| Stale {
            rests_on: basis.clone(),
            current,
        })
    });
    newer.collect()
}

fn no_record(here: &Where, which: &str) -> Fault {
    here.fault(
        "S030",
        &format!("no record {which}"),
        "a record of this job",
        "look at the list of records; the record may be in another job",
    )
}

fn sign_off_of_sign_off(here: &Where, seq: u64) -> Fault {
    here.within(
        &format!("record[{seq}]"),
        "S033",
        "a sign-off",
        "a record that holds a result",
        "sign or supersede the record that it signs",
    )
}
