//! What a record says, and its body: the bytes that are hashed and signed.

use holdline_geom::fault::Fault;

use super::hash::Hash;
use super::json::Json;
use super::stamp::check_line;

const FORMAT: &str = "holdline.record";
const VERSION: f64 = 1.0;

/// The hashed bytes of a record: canonical JSON, and nothing else.
///
/// Made by [`Entry::body`]; read back by [`Body::read`], which refuses bytes that say the same in another way.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Body {
    bytes: Vec<u8>,
    hash: Hash,
}

impl Body {
    /// A body from its bytes.
    ///
    /// # Errors
    ///
    /// `R004` or `R003` if they are not JSON, `R005` if they are, but not in the canonical form.
    pub fn read(at: &str, bytes: &[u8]) -> Result<Body, Fault> {
        let canonical = Json::read(at, bytes)?.render(at)?;
        let differs = canonical.iter().zip(bytes).position(|(a, b)| a != b);
        if canonical == bytes {
            return Ok(Body {
                hash: Hash::of(bytes),
                bytes: canonical,
            });
        }
        let byte = differs.unwrap_or(canonical.len().min(bytes.len()));
        Err(Fault::new(
            "R005",
            at,
            format!("another way of writing the same, from byte {byte} on"),
            "canonical JSON: sorted names, no spaces, shortest numbers",
            "a body is written by holdline, not by hand; take the record from a copy of the job",
        ))
    }

    /// The bytes.
    pub fn bytes(&self) -> &[u8] {
        &self.bytes
    }

    /// SHA-256 of the bytes; what a sign-off signs.
    pub fn hash(&self) -> Hash {
        self.hash
    }
}

/// A document that a record rests on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Basis {
    /// Kind of document, such as `holdline.machine`.
    pub kind: String,
    /// Its name in the job; the record is stale once this name has a newer version.
    pub name: String,
    /// Hash of the version used.
    pub hash: Hash,
}

/// What a record says. All of it goes into the body, so all of it is under the hash.
///
/// Nothing here may depend on the clock, the machine it ran on, or the number of threads:
/// the same inputs and program must give the same bytes.
///
/// # Example
///
/// ```
/// use holdline::records::{Entry, Json};
///
/// let entry = Entry {
///     kind: "verify".to_owned(),
///     title: "Left tooth against bench B2".to_owned(),
///     program: "holdline 0.1.0".to_owned(),
///     outcome: Some("accepted".to_owned()),
///     rests_on: Vec::new(),
///     settings: Json::object([("tolerance_m", Json::from(0.03))]),
///     supersedes: None,
///     result: Json::object([("mean_up_m", Json::from(-0.004))]),
/// };
/// let body = entry.body()?;
/// assert_eq!(Entry::read("body", &body)?, entry);
/// # Ok::<(), holdline_geom::fault::Fault>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// Kind of record: the command that makes it, such as `verify`; [`super::SIGN_OFF_KIND`] for a sign-off.
    pub kind: String,
    /// One line for a list.
    pub title: String,
    /// Program and version that computed it.
    pub program: String,
    /// The answer in a word or two, such as `accepted`, where there is one.
    pub outcome: Option<String>,
    /// The documents it rests on.
    pub rests_on: Vec<Basis>,
    /// What was chosen that is in no document: tolerances, the tooth, the bucket.
    pub settings: Json,
    /// Link hash of the record that this one takes the place of.
    pub supersedes: Option<Hash>,
    /// What was found.
    pub result: Json,
}

impl Entry {
    /// The bytes that are hashed and signed.
    ///
    /// # Errors
    ///
    /// `R002` or `R003` from [`Json::render`]; `R011` for a kind, title, program, outcome or name that is not one line.
    pub fn body(&self) -> Result<Body, Fault> {
        check_line("kind", &self.kind)?;
        check_line("title", &self.title)?;
        check_line("program", &self.program)?;
        let mut members = vec![
            ("format", Json::from(FORMAT)),
            ("kind", Json::from(self.kind.as_str())),
            ("program", Json::from(self.program.as_str())),
            ("result", self.result.clone()),
            ("settings", self.settings.clone()),
            ("title", Json::from(self.title.as_str())),
            ("version", Json::from(VERSION)),
        ];
        if let Some(outcome) = &self.outcome {
            members.push(("outcome", Json::from(check_line("outcome", outcome)?)));
        }
        if let Some(hash) = &self.supersedes {
            members.push(("supersedes", Json::from(hash.to_string())));
        }
        let mut rests_on = Vec::new();
        for (idx, basis) in self.rests_on.iter().enumerate() {
            let at = |what: &str| format!("rests_on[{}].{what}", idx + 1);
            rests_on.push(Json::object([
                ("hash", Json::from(basis.hash.to_string())),
                ("kind", Json::from(check_line(&at("kind"), &basis.kind)?)),
                ("name", Json::from(check_line(&at("name"), &basis.name)?)),
            ]));
        }
        members.push(("rests_on", Json::List(rests_on)));
        let bytes = Json::object(members).render("body")?;
        Ok(Body {
            hash: Hash::of(&bytes),
            bytes,
        })
    }

    /// What a body says. `at` is where the body stands, for the fault.
    ///
    /// # Errors
    ///
    /// `R006` if the bytes are canonical JSON but not a record of a version that this program knows.
    pub fn read(at: &str, body: &Body) -> Result<Entry, Fault> {
        let json = Json::read(at, &body.bytes)?;
        let entry = read_members(at, json)?;
        // What this program would not write again in these very bytes, it has not understood.
        if entry.body()?.bytes != body.bytes {
            return Err(not_a_record(at, "a member that this program does not know"));
        }
        Ok(entry)
    }
}

fn read_members(at: &str, json: Json) -> Result<Entry, Fault> {
    let Json::Object(mut members) = json else {
        return Err(not_a_record(at, "no object"));
    };
    let mut take = |name: &str| {
        let idx = members.iter().position(|(n, _)| n == name)?;
        Some(members.swap_remove(idx).1)
    };
    if take("format") != Some(Json::from(FORMAT)) {
        return Err(not_a_record(&format!("{at}.format"), "another format"));
    }
    if take("version") != Some(Json::from(VERSION)) {
        return Err(not_a_record(&format!("{at}.version"), "another version"));
    }
    let (kind, title, program) = (take("kind"), take("title"), take("program"));
    let (outcome, supersedes) = (take("outcome"), take("supersedes"));
    let (settings, result, rests_on) = (take("settings"), take("result"), take("rests_on"));
    let text = |name: &str, value: Option<Json>| match value {
        Some(Json::Text(text)) => Ok(text),
        _ => Err(not_a_record(&format!("{at}.{name}"), "no text")),
    };
    let any = |name: &str, value: Option<Json>| {
        value.ok_or_else(|| not_a_record(&format!("{at}.{name}"), "nothing"))
    };
    let Some(Json::List(rests_on)) = rests_on else {
        return Err(not_a_record(&format!("{at}.rests_on"), "no list"));
    };
    Ok(Entry {
        kind: text("kind", kind)?,
        title: text("title", title)?,
        program: text("program", program)?,
        outcome: outcome
            .map(|value| text("outcome", Some(value)))
            .transpose()?,
        rests_on: rests_on
            .iter()
            .enumerate()
            .map(|(idx, value)| read_basis(&format!("{at}.rests_on[{}]", idx + 1), value))
            .collect::<Result<_, _>>()?,
        settings: any("settings", settings)?,
        supersedes: supersedes
            .map(|value| {
                Hash::from_hex(
                    &format!("{at}.supersedes"),
                    &text("supersedes", Some(value))?,
                )
            })
            .transpose()?,
        result: any("result", result)?,
    })
}

fn read_basis(at: &str, value: &Json) -> Result<Basis, Fault> {
    let text = |name: &str| {
        let found = value.get(name).and_then(Json::text);
        found.ok_or_else(|| not_a_record(&format!("{at}.{name}"), "no text"))
    };
    Ok(Basis {
        kind: text("kind")?.to_owned(),
        name: text("name")?.to_owned(),
        hash: Hash::from_hex(&format!("{at}.hash"), text("hash")?)?,
    })
}

fn not_a_record(at: &str, got: &str) -> Fault {
    Fault::new(
        "R006",
        at,
        got,
        "a record of holdline, version 1",
        "open the job with the program that made the record, or a newer one",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn entry() -> Entry {
        Entry {
            kind: "verify".to_owned(),
            title: "Left tooth".to_owned(),
            program: "holdline 0.1.0".to_owned(),
            outcome: None,
            rests_on: vec![Basis {
                kind: "holdline.machine".to_owned(),
                name: "demo-23".to_owned(),
                hash: Hash::of(b"abc"),
            }],
            settings: Json::Null,
            supersedes: Some(Hash::of(b"x")),
            result: Json::object([("z", Json::from(1.0)), ("a", Json::from(0.1))]),
        }
    }

    #[test]
    fn there_and_back() {
        let body = entry().body().unwrap();
        let again = Body::read("body", body.bytes()).unwrap();
        assert_eq!(again, body);
        let read = Entry::read("body", &again).unwrap();
        assert_eq!(read.body().unwrap(), body);
        assert_eq!(read.rests_on, entry().rests_on);
        assert_eq!(read.supersedes, entry().supersedes);
    }

    #[test]
    fn the_order_that_members_were_given_in_does_not_count() {
        let mut other = entry();
        other.result = Json::object([("a", Json::from(0.1)), ("z", Json::from(1.0))]);
        assert_eq!(other.body(), entry().body());
    }

    #[track_caller]
    fn check(text: &str, code: &str) {
        let got = Body::read("body", text.as_bytes()).and_then(|body| Entry::read("body", &body));
        assert_eq!(got.expect_err(text).code, code, "{text}");
    }

    #[test]
    fn what_is_no_body() {
        let good = String::from_utf8(entry().body().unwrap().bytes().to_vec()).unwrap();
        check("", "R004");
        check("{", "R004");
        check("[]", "R006");
        check("{}", "R006");
        check(&format!("{good} "), "R005");
        check(&good.replace("0.1,", "0.10,"), "R005");
        check(&good.replace("\"version\":1", "\"version\":2"), "R006");
        check(&good.replace("\"title\"", "\"titles\""), "R006");
        check(
            &good.replace("\"version\":1", "\"version\":1,\"zone\":1"),
            "R006",
        );
        check(&good.replace("Left tooth", ""), "R011");
        check(
            &good.replace("\"supersedes\":\"", "\"supersedes\":\"0"),
            "R001",
        );
    }

    #[test]
    fn one_line_is_one_line() {
        let mut bad = entry();
        bad.rests_on[0].name = "a\nb".to_owned();
        let fault = bad.body().unwrap_err();
        assert_eq!(
            (fault.code, fault.at.as_str()),
            ("R011", "rests_on[1].name")
        );
    }
}
