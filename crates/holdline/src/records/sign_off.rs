//! A sign-off: a person, by name and role, stands for a record. It is a record of its own.

use ed25519_dalek::{Signature, Signer as _, SigningKey, VerifyingKey};
use holdline_geom::fault::Fault;

use super::entry::Entry;
use super::hash::Hash;
use super::json::Json;
use super::stamp::check_line;

/// Kind of the record that a sign-off is.
pub const SIGN_OFF_KIND: &str = "sign-off";

/// A person's sign-off of a record.
///
/// Names both the record's link, so that it counts for this record and no other, and its body, so that what was signed
/// can be shown without the chain.
///
/// # Caution
///
/// Without a key it is a name typed by whoever held the file.
/// It is worth what a name in a paper log is worth; who may sign is the site's rule, not this program's.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SignOff {
    /// Link hash of the record signed.
    pub link_hash: Hash,
    /// Hash of its body.
    pub body_hash: Hash,
    /// Who signs.
    pub name: String,
    /// As what: machine-control specialist, site engineer, operator.
    pub role: String,
    /// Date that the person gives, as one line.
    pub date: String,
    /// Signature by a key, where the person has one.
    pub key: Option<KeySignature>,
}

/// An Ed25519 signature (RFC 8032) over [`SignOff::message`].
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeySignature {
    /// The public key.
    pub public_key: [u8; 32],
    /// The signature.
    pub signature: [u8; 64],
}

impl SignOff {
    /// The bytes that a key signs.
    ///
    /// ```text
    /// "holdline-sign-off-1\n" link_hash "\n" body_hash "\n" name "\n" role "\n" date "\n"
    /// ```
    pub fn message(&self) -> Vec<u8> {
        let SignOff {
            link_hash,
            body_hash,
            name,
            role,
            date,
            key: _,
        } = self;
        format!("holdline-sign-off-1\n{link_hash}\n{body_hash}\n{name}\n{role}\n{date}\n")
            .into_bytes()
    }

    /// Signs with a secret key of 32 bytes. The same key and sign-off always give the same signature.
    ///
    /// - Source: [`KEY_SIGNATURE`](crate::sources::KEY_SIGNATURE); computed by the crate `ed25519-dalek`.
    pub fn sign_with(&mut self, secret_key: &[u8; 32]) {
        let key = SigningKey::from_bytes(secret_key);
        self.key = Some(KeySignature {
            public_key: key.verifying_key().to_bytes(),
            signature: key.sign(&self.message()).to_bytes(),
        });
    }

    /// Checks the key's signature, where there is one. `at` is where the sign-off stands.
    ///
    /// # Errors
    ///
    /// `R030` if it does not fit the key and what is signed.
    ///
    /// # Caution
    ///
    /// It shows that the holder of that key signed, not whose key it is: compare the public key with one that the
    /// person gave by another way.
    pub fn check_key(&self, at: &str) -> Result<(), Fault> {
        let Some(KeySignature {
            public_key,
            signature,
        }) = &self.key
        else {
            return Ok(());
        };
        let signature = Signature::from_bytes(signature);
        let checked = VerifyingKey::from_bytes(public_key)
            .and_then(|key| key.verify_strict(&self.message(), &signature));
        checked.map_err(|_| {
            Fault::new(
                "R030",
                format!("{at}.signature"),
                "a signature that does not fit",
                format!(
                    "the signature of this sign-off by the key {}",
                    hex(public_key)
                ),
                "the record counts as unsigned by that key; sign it again",
            )
        })
    }

    /// The record that this sign-off is. `program` is the program and version that writes it.
    ///
    /// # Errors
    ///
    /// `R011` for a name, role or date that is not one line.
    pub fn entry(&self, program: &str) -> Result<Entry, Fault> {
        check_line("name", &self.name)?;
        check_line("role", &self.role)?;
        check_line("date", &self.date)?;
        let mut members = vec![
            ("body_hash", Json::from(self.body_hash.to_string())),
            ("date", Json::from(self.date.as_str())),
            ("link_hash", Json::from(self.link_hash.to_string())),
            ("name", Json::from(self.name.as_str())),
            ("role", Json::from(self.role.as_str())),
        ];
        if let Some(key) = &self.key {
            members.push(("public_key", Json::from(hex(&key.public_key))));
            members.push(("signature", Json::from(hex(&key.signature))));
        }
        Ok(Entry {
            kind: SIGN_OFF_KIND.to_owned(),
            title: format!("Sign-off of {}", self.link_hash.short()),
            program: program.to_owned(),
            outcome: None,
            rests_on: Vec::new(),
            settings: Json::Null,
            supersedes: None,
            result: Json::object(members),
        })
    }

    /// The sign-off that a record of kind [`SIGN_OFF_KIND`] holds. `at` is where the record stands.
    ///
    /// # Errors
    ///
    /// `R007` if something of it is missing or is not what it should be.
    pub fn read(at: &str, entry: &Entry) -> Result<SignOff, Fault> {
        let text = |name: &str| {
            let found = entry.result.get(name).and_then(Json::text);
            found.ok_or_else(|| not_a_sign_off(&format!("{at}.{name}"), "no text"))
        };
        if entry.kind != SIGN_OFF_KIND {
            return Err(not_a_sign_off(&format!("{at}.kind"), &entry.kind));
        }
        let key = match (
            entry.result.get("public_key"),
            entry.result.get("signature"),
        ) {
            (None, None) => None,
            _ => Some(KeySignature {
                public_key: unhex(&format!("{at}.public_key"), text("public_key")?)?,
                signature: unhex(&format!("{at}.signature"), text("signature")?)?,
            }),
        };
        let sign_off = SignOff {
            link_hash: Hash::from_hex(&format!("{at}.link_hash"), text("link_hash")?)?,
            body_hash: Hash::from_hex(&format!("{at}.body_hash"), text("body_hash")?)?,
            name: text("name")?.to_owned(),
            role: text("role")?.to_owned(),
            date: text("date")?.to_owned(),
            key,
        };
        if sign_off.entry(&entry.program)?.body()? != entry.body()? {
            return Err(not_a_sign_off(
                at,
                "a member that this program does not know",
            ));
        }
        Ok(sign_off)
    }
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

fn unhex<const N: usize>(at: &str, text: &str) -> Result<[u8; N], Fault> {
    let small = text.bytes().all(|b| matches!(b, b'0'..=b'9' | b'a'..=b'f'));
    let mut bytes = [0; N];
    if text.len() != 2 * N || !small {
        return Err(not_a_sign_off(
            at,
            &format!("{} characters", text.chars().count()),
        ));
    }
    for (byte, idx) in bytes.iter_mut().zip((0..).step_by(2)) {
        *byte = u8::from_str_radix(&text[idx..idx + 2], 16)
            .map_err(|_| not_a_sign_off(at, "no hex digits"))?;
    }
    Ok(bytes)
}

fn not_a_sign_off(at: &str, got: &str) -> Fault {
    Fault::new(
        "R007",
        at,
        got,
        "a sign-off: link_hash, body_hash, name, role, date; public_key and signature both or neither",
        "sign again; the damaged sign-off stays in the chain and counts for nothing",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sign_off(key: Option<KeySignature>) -> SignOff {
        SignOff {
            link_hash: Hash::of(b"link"),
            body_hash: Hash::of(b"body"),
            name: "A. Specialist".to_owned(),
            role: "machine-control specialist".to_owned(),
            date: "2026-05-04".to_owned(),
            key,
        }
    }

    #[test]
    fn there_and_back() {
        let key = KeySignature {
            public_key: [0xa5; 32],
            signature: [0x0f; 64],
        };
        for key in [None, Some(key)] {
            let entry = sign_off(key.clone()).entry("holdline 0.1.0").unwrap();
            assert_eq!(SignOff::read("x", &entry), Ok(sign_off(key)));
        }
    }

    /// The secret key of RFC 8032, section 7.1, test 1 (from memory); signed by another program, OpenSSL 3:
    /// ```sh
    /// printf '302e020100300506032b657004220420%s' "$SECRET" | xxd -r -p > key.der
    /// printf 'holdline-sign-off-1\n%s\n%s\n%s\n%s\n%s\n' "$(printf link | sha256sum | cut -c-64)" \
    ///   "$(printf body | sha256sum | cut -c-64)" 'A. Specialist' 'machine-control specialist' 2026-05-04 > message
    /// openssl pkeyutl -sign -inkey key.der -keyform DER -rawin -in message | xxd -p -c 64
    /// ```
    #[test]
    fn a_signature_as_another_program_makes_it() {
        let secret = "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60";
        let public = "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a";
        let want = "5fc2960808e2661833d67949a8ad283e9db8373b29213845303a24ac46f01fbdd4beef2b0c691836a00b7785bb1a90e5fee62f3e0a703a41e640ff493c70ad01";
        let mut signed = sign_off(None);
        signed.sign_with(&unhex("secret", secret).unwrap());
        let key = signed.key.clone().unwrap();
        assert_eq!(hex(&key.public_key), public);
        assert_eq!(hex(&key.signature), want);
        assert_eq!(signed.check_key("x"), Ok(()));
    }

    #[test]
    fn a_signature_fits_nothing_else() {
        let mut good = sign_off(None);
        assert_eq!(good.check_key("x"), Ok(())); // none to check
        good.sign_with(&[7; 32]);
        let mut other_name = good.clone();
        other_name.name = "B. Engineer".to_owned();
        let mut other_record = good.clone();
        other_record.link_hash = Hash::of(b"other");
        let mut other_key = good.clone();
        other_key.sign_with(&[8; 32]);
        if let (Some(key), Some(good)) = (&mut other_key.key, &good.key) {
            key.signature = good.signature;
        }
        let mut flipped = good.clone();
        if let Some(key) = &mut flipped.key {
            key.signature[63] ^= 1;
        }
        let mut no_key = good.clone();
        if let Some(key) = &mut no_key.key {
            key.public_key = [0; 32]; // a key that would accept much, refused
        }
        for bad in [other_name, other_record, other_key, flipped, no_key] {
            assert_eq!(bad.check_key("x").unwrap_err().code, "R030");
        }
    }

    #[test]
    fn half_a_key_is_none_and_other_kinds_are_none() {
        let key = KeySignature {
            public_key: [1; 32],
            signature: [2; 64],
        };
        let mut entry = sign_off(Some(key)).entry("p").unwrap();
        if let Json::Object(members) = &mut entry.result {
            members.retain(|(name, _)| name != "signature");
        }
        assert_eq!(SignOff::read("x", &entry).unwrap_err().code, "R007");
        let mut entry = sign_off(None).entry("p").unwrap();
        if let Json::Object(members) = &mut entry.result {
            members.push(("withdrawn".to_owned(), Json::Bool(true))); // a newer program's word
        }
        assert_eq!(SignOff::read("x", &entry).unwrap_err().code, "R007");
        let mut entry = sign_off(None).entry("p").unwrap();
        entry.kind = "verify".to_owned();
        assert_eq!(SignOff::read("x", &entry).unwrap_err().code, "R007");
    }

    #[test]
    fn a_line_break_in_a_name_cannot_forge_a_role() {
        let mut forged = sign_off(None);
        forged.name = "A. Specialist\nsite engineer".to_owned();
        assert_eq!(forged.entry("p").unwrap_err().code, "R011");
    }
}
