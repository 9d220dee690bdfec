//! SHA-256, as a value that prints as 64 hex digits.

use std::fmt;

use holdline_geom::fault::Fault;
use sha2::{Digest, Sha256};

/// A SHA-256 hash: the name of a document, of a record's body, or of a link in the chain.
///
/// - Source: [`SECURE_HASH`](crate::sources::SECURE_HASH); computed by the crate `sha2`.
///
/// # Example
///
/// ```
/// use holdline::records::Hash;
///
/// let hash = Hash::of(b"abc"); // the example of FIPS 180-4
/// assert_eq!(
///     hash.to_string(),
///     "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
/// );
/// assert_eq!(Hash::from_hex("here", &hash.to_string()), Ok(hash));
/// ```
#[derive(Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Hash([u8; 32]);

impl Hash {
    /// 64 zeros: what stands before the first record.
    pub const ZERO: Hash = Hash([0; 32]);

    /// Hash of these bytes.
    pub fn of(bytes: &[u8]) -> Hash {
        Hash(Sha256::digest(bytes).into())
    }

    /// Reads 64 lower-case hex digits.
    ///
    /// # Errors
    ///
    /// Fault `R001`. Upper case is refused too: one hash has one spelling.
    pub fn from_hex(at: &str, text: &str) -> Result<Hash, Fault> {
        let mut bytes = [0; 32];
        let ok = text.len() == 64
            && text
                .as_bytes()
                .chunks_exact(2)
                .zip(&mut bytes)
                .all(|(pair, byte)| match (nibble(pair[0]), nibble(pair[1])) {
                    (Some(high), Some(low)) => {
                        *byte = high << 4 | low;
                        true
                    }
                    _ => false,
                });
        if ok {
            return Ok(Hash(bytes));
        }
        let shown: String = text.chars().take(80).collect();
        Err(Fault::new(
            "R001",
            at,
            format!("{shown:?}"),
            "a SHA-256 hash: 64 digits, 0 to 9 and a to f",
            "copy the whole hash; a short one is not looked up",
        ))
    }

    /// The 32 bytes.
    pub fn bytes(&self) -> &[u8; 32] {
        &self.0
    }

    /// The first twelve digits, for a list or a title; never to look something up by.
    pub fn short(&self) -> String {
        self.to_string()[..12].to_owned()
    }
}

impl fmt::Display for Hash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|byte| write!(f, "{byte:02x}"))
    }
}

impl fmt::Debug for Hash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

fn nibble(digit: u8) -> Option<u8> {
    match digit {
        b'0'..=b'9' => Some(digit - b'0'),
        b'a'..=b'f' => Some(digit - b'a' + 10),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn empty_is_the_known_hash() {
        let want = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855";
        assert_eq!(Hash::of(b"").to_string(), want); // printf '' | sha256sum, coreutils 9
    }

    #[test]
    fn only_64_small_hex_digits_are_a_hash() {
        let good = "0123456789abcdef".repeat(4);
        assert_eq!(Hash::from_hex("x", &good).unwrap().to_string(), good);
        let upper = good.to_uppercase();
        let wide = "é".repeat(32); // 64 bytes, not 64 digits
        for bad in ["", "0", &good[1..], &upper, &wide, &format!("{good}0")] {
            assert_eq!(Hash::from_hex("x", bad).unwrap_err().code, "R001", "{bad}");
        }
    }
}
