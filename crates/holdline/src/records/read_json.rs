//! Reads JSON text (RFC 8259) into [`Json`], strictly: no comments, no trailing commas, no name twice.

use holdline_geom::fault::Fault;

use super::json::{Json, twice};

/// Deeper than this nobody writes; a text of ten thousand brackets must not exhaust the stack.
const DEPTH_AT_MOST: usize = 128;

/// The value that `bytes` hold. The place in a fault is the byte, from 0.
pub(super) fn read(at: &str, bytes: &[u8]) -> Result<Json, Fault> {
    let text = std::str::from_utf8(bytes)
        .map_err(|e| not_json(at, e.valid_up_to(), "bytes that are not UTF-8"))?;
    let mut reader = Reader { at, text, pos: 0 };
    let value = reader.value(0)?;
    reader.skip_space();
    if reader.pos < text.len() {
        return Err(reader.stop("something after the end"));
    }
    Ok(value)
}

struct Reader<'a> {
    at: &'a str,
    text: &'a str,
    pos: usize,
}

impl Reader<'_> {
    fn value(&mut self, depth: usize) -> Result<Json, Fault> {
        if depth > DEPTH_AT_MOST {
            return Err(self.stop("more than 128 brackets inside one another"));
        }
        self.skip_space();
        match self.peek() {
            Some(b'n') => self.word("null", Json::Null),
            Some(b't') => self.word("true", Json::Bool(true)),
            Some(b'f') => self.word("false", Json::Bool(false)),
            Some(b'"') => Ok(Json::Text(self.string()?)),
            Some(b'[') => self.list(depth),
            Some(b'{') => self.object(depth),
            Some(b'-' | b'0'..=b'9') => self.number(),
            Some(_) => Err(self.stop("something that starts no value")),
            None => Err(self.stop("the end of the text")),
        }
    }

    fn list(&mut self, depth: usize) -> Result<Json, Fault> {
        self.pos += 1;
        let mut list = Vec::new();
        if self.take_after_space(b']') {
            return Ok(Json::List(list));
        }
        loop {
            list.push(self.value(depth + 1)?);
            if self.take_after_space(b']') {
                return Ok(Json::List(list));
            }
            self.want(b',')?;
        }
    }

    fn object(&mut self, depth: usize) -> Result<Json, Fault> {
        self.pos += 1;
        let mut members: Vec<(String, Json)> = Vec::new();
        let mut names = std::collections::BTreeSet::new();
        if self.take_after_space(b'}') {
            return Ok(Json::Object(members));
        }
        loop {
            self.skip_space();
            if self.peek() != Some(b'"') {
                return Err(self.stop("something that is no name"));
            }
            let name = self.string()?;
            if !names.insert(name.clone()) {
                return Err(twice(&format!("{}.{name}", self.at)));
            }
            self.skip_space();
            self.want(b':')?;
            members.push((name, self.value(depth + 1)?));
            if self.take_after_space(b'}') {
                return Ok(Json::Object(members));
            }
            self.want(b',')?;
        }
    }

    fn string(&mut self) -> Result<String, Fault> {
        self.pos += 1;
        let mut out = String::new();
        loop {
            let Some(c) = self.text[self.pos..].chars().next() else {
                return Err(self.stop("the end of the text, inside quotes"));
            };
            match c {
                '"' => {
                    self.pos += 1;
                    return Ok(out);
                }
                '\\' => out.push(self.escape()?),
                c if c < ' ' => return Err(self.stop("a control character inside quotes")),
                c => {
                    self.pos += c.len_utf8();
                    out.push(c);
                }
            }
        }
    }

    fn escape(&mut self) -> Result<char, Fault> {
        self.pos += 1;
        let plain = match self.peek() {
            Some(b'"') => '"',
            Some(b'\\') => '\\',
            Some(b'/') => '/',
            Some(b'b') => '\u{8}',
            Some(b'f') => '\u{c}',
            Some(b'n') => '\n',
            Some(b'r') => '\r',
            Some(b't') => '\t',
            Some(b'u') => return self.escaped_unit(),
            _ => return Err(self.stop("an unknown escape")),
        };
        self.pos += 1;
        Ok(plain)
    }

    /// `\uXXXX`, or two of them where the first is the high half of a pair.
    fn escaped_unit(&mut self) -> Result<char, Fault> {
        let first = self.four_hex()?;
        if !(0xd800..0xdc00).contains(&first) {
            return char::from_u32(first).ok_or_else(|| self.stop("half of a surrogate pair"));
        }
        if !self.text[self.pos..].starts_with("\\u") {
            return Err(self.stop("half of a surrogate pair"));
        }
        self.pos += 1;
        let second = self.four_hex()?;
        if !(0xdc00..0xe000).contains(&second) {
            return Err(self.stop("half of a surrogate pair"));
        }
        char::from_u32(0x1_0000 + ((first - 0xd800) << 10) + (second - 0xdc00))
            .ok_or_else(|| self.stop("half of a surrogate pair"))
    }

    /// At `u`; takes it and the four digits.
    fn four_hex(&mut self) -> Result<u32, Fault> {
        let digits = self.text.get(self.pos + 1..self.pos + 5).unwrap_or("");
        if digits.len() != 4 || !digits.bytes().all(|b| b.is_ascii_hexdigit()) {
            return Err(self.stop("an escape without four hex digits"));
        }
        self.pos += 5;
        u32::from_str_radix(digits, 16).map_err(|_| self.stop("an escape without four hex digits"))
    }

    fn number(&mut self) -> Result<Json, Fault> {
        let start = self.pos;
        self.take(b'-');
        if !self.take(b'0') && self.digits() == 0 {
            return Err(self.stop("a number without digits"));
        }
        if self.take(b'.') && self.digits() == 0 {
            return Err(self.stop("a point without digits"));
        }
        if self.take(b'e') || self.take(b'E') {
            let _ = self.take(b'+') || self.take(b'-');
            if self.digits() == 0 {
                return Err(self.stop("an exponent without digits"));
            }
        }
        match self.text[start..self.pos].parse::<f64>() {
            Ok(value) if value.is_finite() => Ok(Json::Number(value)),
            _ => Err(self.stop("a number too large for an f64")),
        }
    }

    fn digits(&mut self) -> usize {
        let start = self.pos;
        while self.peek().is_some_and(|b| b.is_ascii_digit()) {
            self.pos += 1;
        }
        self.pos - start
    }

    fn word(&mut self, word: &str, value: Json) -> Result<Json, Fault> {
        if !self.text[self.pos..].starts_with(word) {
            return Err(self.stop("something that starts no value"));
        }
        self.pos += word.len();
        Ok(value)
    }

    fn peek(&self) -> Option<u8> {
        self.text.as_bytes().get(self.pos).copied()
    }

    fn take(&mut self, byte: u8) -> bool {
        let here = self.peek() == Some(byte);
        self.pos += usize::from(here);
        here
    }

    fn take_after_space(&mut self, byte: u8) -> bool {
        self.skip_space();
        self.take(byte)
    }

    fn want(&mut self, byte: u8) -> Result<(), Fault> {
        if self.take(byte) {
            return Ok(());
        }
        Err(self.stop(&format!(
            "something else where {:?} should stand",
            byte as char
        )))
    }

    fn skip_space(&mut self) {
        while matches!(self.peek(), Some(b' ' | b'\t' | b'\n' | b'\r')) {
            self.pos += 1;
        }
    }

    fn stop(&self, got: &str) -> Fault {
        not_json(self.at, self.pos, got)
    }
}

fn not_json(at: &str, byte: usize, got: &str) -> Fault {
    Fault::new(
        "R004",
        at,
        format!("{got}, at byte {byte}"),
        "JSON text",
        "a record is written by holdline, not by hand; take the record from a copy of the job",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(text: &str, want: &str) {
        let value = read("x", text.as_bytes()).expect(text);
        assert_eq!(
            String::from_utf8(value.render("x").unwrap()).unwrap(),
            want,
            "{text}"
        );
    }

    #[test]
    fn reads_what_json_is() {
        check(" null ", "null");
        check("[true , false,[],{}]", "[true,false,[],{}]");
        check(
            "{\"b\":1,\"a\":[1.50,-0.0,1E3,2e-7]}",
            "{\"a\":[1.5,0,1000,2e-7],\"b\":1}",
        );
        check(r#""\u20ac\ud83d\ude00\/\b""#, "\"\u{20ac}\u{1f600}/\\b\"");
    }

    #[test]
    fn refuses_what_json_is_not() {
        let deep = "[".repeat(100_000);
        let bad = [
            "",
            " ",
            "nul",
            "[1,]",
            "[1 2]",
            "{a:1}",
            "{\"a\"}",
            "{\"a\":1,}",
            "01",
            "-",
            "1.",
            ".5",
            "+1",
            "1e",
            "1e999",
            "NaN",
            "Infinity",
            "\"a",
            "\"\t\"",
            "\"\\x\"",
            "\"\\u12\"",
            "\"\\ud800\"",
            "\"\\ud800\\u0041\"",
            "\"\\udc00\"",
            "\"\\u+123\"",
            "1 2",
            "[1]]",
            &deep,
        ];
        for text in bad {
            assert_eq!(
                read("x", text.as_bytes()).expect_err(text).code,
                "R004",
                "{text:.20}"
            );
        }
        assert_eq!(read("x", b"\"\xff\"").unwrap_err().code, "R004");
        assert_eq!(read("x", b"{\"a\":1,\"a\":1}").unwrap_err().code, "R003");
    }

    #[test]
    fn there_and_back_for_many_numbers() {
        let mut bits = 0x9e37_79b9_7f4a_7c15_u64;
        for _ in 0..20_000 {
            bits = bits
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            let value = f64::from_bits(bits);
            if !value.is_finite() {
                continue;
            }
            let text = Json::Number(value).render("x").unwrap();
            assert_eq!(read("x", &text), Ok(Json::Number(value)));
        }
    }
}
