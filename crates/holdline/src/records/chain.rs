//! The chain: each record names the hash of the one before it.

use std::cmp::Ordering;

use holdline_geom::fault::Fault;

use super::hash::Hash;
use super::stamp::{Stamp, earlier_or_later};

/// One record's place in the chain.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Link {
    /// Place in the chain, from 1.
    pub seq: u64,
    /// Hash of the link before; [`Hash::ZERO`] for the first.
    pub prev_link_hash: Hash,
    /// Hash of the body.
    pub body_hash: Hash,
    /// When and by whom.
    pub stamp: Stamp,
    /// Hash of all that.
    pub link_hash: Hash,
}

impl Link {
    /// Hash that such a link must have.
    ///
    /// ```text
    /// SHA-256("holdline-record-1\n" prev_link_hash "\n" body_hash "\n" made_at "\n" made_by "\n")
    /// ```
    ///
    /// Hashes as 64 hex digits, texts as UTF-8. Texts hold no line break ([`Stamp`]), so no two
    /// links share these bytes.
    pub fn hash_of(prev_link_hash: &Hash, body_hash: &Hash, stamp: &Stamp) -> Hash {
        let (at, by) = (stamp.at(), stamp.by());
        let text = format!("holdline-record-1\n{prev_link_hash}\n{body_hash}\n{at}\n{by}\n");
        Hash::of(text.as_bytes())
    }
}

/// A chain so far: how long it is and where it ends.
///
/// Used to append, and to check a chain link by link without holding it all.
///
/// # Example
///
/// ```
/// use holdline::records::{Chain, Hash, Stamp};
///
/// let mut chain = Chain::empty();
/// let stamp = Stamp::new("2026-05-04T06:10:00Z", "A. Specialist")?;
/// let first = chain.append(Hash::of(b"{}"), stamp);
/// assert_eq!((first.seq, first.prev_link_hash), (1, Hash::ZERO));
///
/// let mut again = Chain::empty();
/// again.check(&first)?;
/// assert_eq!(again.tail(), chain.tail());
/// # Ok::<(), holdline_geom::fault::Fault>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Chain {
    n_links: u64,
    tail: Hash,
    last_at: Option<String>,
    clock_went_back: Vec<u64>,
}

impl Chain {
    /// No link yet.
    pub fn empty() -> Chain {
        Chain {
            n_links: 0,
            tail: Hash::ZERO,
            last_at: None,
            clock_went_back: Vec::new(),
        }
    }

    /// A chain known to end in this link, to append to; what came before is taken as given.
    pub fn ending_in(link: &Link) -> Chain {
        Chain {
            n_links: link.seq,
            tail: link.link_hash,
            last_at: Some(link.stamp.at().to_owned()),
            clock_went_back: Vec::new(),
        }
    }

    /// How many links.
    pub fn n_links(&self) -> u64 {
        self.n_links
    }

    /// Hash of the last link; [`Hash::ZERO`] of an empty chain. This is what a sheet prints.
    pub fn tail(&self) -> Hash {
        self.tail
    }

    /// Links that bear an earlier time than the one before them: a clock was wrong. A finding, not a break.
    pub fn clock_went_back(&self) -> &[u64] {
        &self.clock_went_back
    }

    /// The next link, and the chain with it.
    pub fn append(&mut self, body_hash: Hash, stamp: Stamp) -> Link {
        let link_hash = Link::hash_of(&self.tail, &body_hash, &stamp);
        let link = Link {
            seq: self.n_links + 1,
            prev_link_hash: self.tail,
            body_hash,
            stamp,
            link_hash,
        };
        self.take(&link);
        link
    }

    /// Takes the next link if it is the next link.
    ///
    /// # Errors
    ///
    /// `R020` if its number is not the next one, `R021` if it does not follow the link before,
    /// `R022` if its hash is not that of its contents. The chain stays as it was.
    pub fn check(&mut self, link: &Link) -> Result<(), Fault> {
        let at = |what: &str| format!("record[{}].{what}", link.seq);
        let next = self.n_links + 1;
        if link.seq != next {
            return Err(Fault::new(
                "R020",
                at("seq"),
                format!("record {} after record {}", link.seq, self.n_links),
                format!("record {next}"),
                "a record was taken out or put in; go back to a copy made before that",
            ));
        }
        if link.prev_link_hash != self.tail {
            return Err(Fault::new(
                "R021",
                at("prev_link_hash"),
                link.prev_link_hash.to_string(),
                format!("{}, the hash of the record before", self.tail),
                "the chain was cut and joined here; go back to a copy made before that",
            ));
        }
        let want = Link::hash_of(&link.prev_link_hash, &link.body_hash, &link.stamp);
        if link.link_hash != want {
            return Err(Fault::new(
                "R022",
                at("link_hash"),
                link.link_hash.to_string(),
                format!("{want}, from the body's hash, the time, the name and the record before"),
                "the time, the name or a hash was changed; trust no record from here on, go back to a copy",
            ));
        }
        self.take(link);
        Ok(())
    }

    fn take(&mut self, link: &Link) {
        let at = link.stamp.at();
        let back = |last: &String| earlier_or_later(at, last) == Ordering::Less;
        if self.last_at.as_ref().is_some_and(back) {
            self.clock_went_back.push(link.seq);
        }
        self.n_links = link.seq;
        self.tail = link.link_hash;
        self.last_at = Some(at.to_owned());
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stamp(at: &str) -> Stamp {
        Stamp::new(at, "A. Specialist").unwrap()
    }

    fn three() -> Vec<Link> {
        let mut chain = Chain::empty();
        [
            "2026-05-04T06:10:00Z",
            "2026-05-04T06:20:00Z",
            "2026-05-04T06:15:00Z",
        ]
        .map(|at| chain.append(Hash::of(at.as_bytes()), stamp(at)))
        .to_vec()
    }

    #[track_caller]
    fn check(links: &[Link], want: Result<u64, (&str, &str)>) {
        let mut chain = Chain::empty();
        let got = links
            .iter()
            .try_for_each(|link| chain.check(link))
            .map(|()| chain.n_links());
        let got = got
            .as_ref()
            .map_err(|fault| (fault.code, fault.at.as_str()));
        assert_eq!(got.copied(), want);
    }

    /// printf 'holdline-record-1\n%064d\n%s\n2026-05-04T06:10:00Z\nÄ. Specialist\n' 0 "$(printf '{}' | sha256sum | cut -c-64)" | sha256sum
    /// (coreutils 9)
    #[test]
    fn a_link_as_another_program_hashes_it() {
        let stamp = Stamp::new("2026-05-04T06:10:00Z", "Ä. Specialist").unwrap();
        let link = Chain::empty().append(Hash::of(b"{}"), stamp);
        let want = "e034399b6eb2bc43d46411efe404c6a77ceef6a27f7b8b38f15965d633ebc786";
        assert_eq!(link.link_hash.to_string(), want);
    }

    #[test]
    fn every_kind_of_change_is_found_where_it_is() {
        let good = three();
        check(&good, Ok(3));
        check(&[], Ok(0));

        let mut links = three();
        links[1].body_hash = Hash::of(b"other");
        check(&links, Err(("R022", "record[2].link_hash")));
        let mut links = three();
        links[1].stamp = stamp("2026-05-04T06:20:01Z");
        check(&links, Err(("R022", "record[2].link_hash")));
        let mut links = three();
        links[2].link_hash = Hash::ZERO;
        check(&links, Err(("R022", "record[3].link_hash")));
        check(
            &[good[0].clone(), good[2].clone()],
            Err(("R020", "record[3].seq")),
        );
        check(&good[1..], Err(("R020", "record[2].seq")));

        // A record changed and hashed again by somebody who knows the rule: the next one tells.
        let mut links = three();
        links[0].body_hash = Hash::of(b"other");
        links[0].link_hash = Link::hash_of(&Hash::ZERO, &links[0].body_hash, &links[0].stamp);
        check(&links, Err(("R021", "record[2].prev_link_hash")));
    }

    #[test]
    fn a_clock_that_went_back_is_noticed() {
        let mut chain = Chain::empty();
        three().iter().for_each(|link| chain.check(link).unwrap());
        assert_eq!(chain.clock_went_back(), [3]);
    }
}
