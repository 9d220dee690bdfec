//! Canonical JSON: one value, one row of bytes.

use holdline_geom::fault::{Fault, number};

use super::read_json;

/// A JSON value that can be written in one way only.
///
/// Used for the body of a record, so that the same result always gives the same hash.
///
/// The rule: UTF-8; no white space; members of an object in ascending order of their names in UTF-16 units, no name
/// twice; numbers as the shortest decimal text that reads back to the same `f64`; text with the fewest escapes.
///
/// - Source: [`CANONICAL_JSON`](crate::sources::CANONICAL_JSON), RFC 8785.
/// - Exact to: the bit; `numbers_of_the_source` and `numbers_that_are_hard` below.
/// - Valid for: finite numbers. A whole number beyond 2^53 is not exact in an `f64`; write it as text.
///   `-0` is written `0`, as the source says.
///
/// # Example
///
/// ```
/// use holdline::records::Json;
///
/// let body = Json::object([("sd_m", Json::from(0.0040)), ("at", Json::from("left"))]);
/// assert_eq!(body.render("body").unwrap(), br#"{"at":"left","sd_m":0.004}"#);
/// ```
#[derive(Debug, Clone, PartialEq)]
pub enum Json {
    /// Nothing.
    Null,
    /// True or false.
    Bool(bool),
    /// A finite number.
    Number(f64),
    /// Text.
    Text(String),
    /// A list; the order counts.
    List(Vec<Json>),
    /// Members by name; the order given does not count.
    Object(Vec<(String, Json)>),
}

impl Json {
    /// An object of these members.
    pub fn object<'a>(members: impl IntoIterator<Item = (&'a str, Json)>) -> Json {
        Json::Object(
            members
                .into_iter()
                .map(|(name, value)| (name.to_owned(), value))
                .collect(),
        )
    }

    /// The member of that name, if this is an object that has one.
    pub fn get(&self, name: &str) -> Option<&Json> {
        match self {
            Json::Object(members) => members.iter().find(|(n, _)| n == name).map(|(_, v)| v),
            _ => None,
        }
    }

    /// The text, if this is one.
    pub fn text(&self) -> Option<&str> {
        match self {
            Json::Text(text) => Some(text),
            _ => None,
        }
    }

    /// The number, if this is one.
    pub fn number(&self) -> Option<f64> {
        match self {
            Json::Number(value) => Some(*value),
            _ => None,
        }
    }

    /// The canonical bytes.
    ///
    /// # Errors
    ///
    /// Fault `R002` for a number that is not finite, `R003` for a member given twice; both name the place.
    pub fn render(&self, at: &str) -> Result<Vec<u8>, Fault> {
        let mut out = String::new();
        write_value(self, at, &mut out)?;
        Ok(out.into_bytes())
    }

    /// Reads JSON text, canonical or not. Nesting ends at 128.
    ///
    /// # Errors
    ///
    /// Fault `R004` with the byte where the text stops being JSON; `R003` for a member given twice.
    pub fn read(at: &str, bytes: &[u8]) -> Result<Json, Fault> {
        read_json::read(at, bytes)
    }
}

impl From<f64> for Json {
    fn from(value: f64) -> Json {
        Json::Number(value)
    }
}

impl From<u32> for Json {
    fn from(value: u32) -> Json {
        Json::Number(f64::from(value))
    }
}

impl From<bool> for Json {
    fn from(value: bool) -> Json {
        Json::Bool(value)
    }
}

impl From<&str> for Json {
    fn from(text: &str) -> Json {
        Json::Text(text.to_owned())
    }
}

impl From<String> for Json {
    fn from(text: String) -> Json {
        Json::Text(text)
    }
}

impl From<Vec<Json>> for Json {
    fn from(list: Vec<Json>) -> Json {
        Json::List(list)
    }
}

fn write_value(value: &Json, at: &str, out: &mut String) -> Result<(), Fault> {
    match value {
        Json::Null => out.push_str("null"),
        Json::Bool(true) => out.push_str("true"),
        Json::Bool(false) => out.push_str("false"),
        Json::Number(value) => write_number(*value, at, out)?,
        Json::Text(text) => write_text(text, out),
        Json::List(list) => {
            out.push('[');
            for (idx, item) in list.iter().enumerate() {
                if idx > 0 {
                    out.push(',');
                }
                write_value(item, &format!("{at}[{}]", idx + 1), out)?;
            }
            out.push(']');
        }
        Json::Object(members) => write_object(members, at, out)?,
    }
    Ok(())
}

fn write_object(members: &[(String, Json)], at: &str, out: &mut String) -> Result<(), Fault> {
    let mut sorted: Vec<&(String, Json)> = members.iter().collect();
    sorted.sort_by(|a, b| a.0.encode_utf16().cmp(b.0.encode_utf16()));
    if let Some(pair) = sorted.windows(2).find(|pair| pair[0].0 == pair[1].0) {
        return Err(twice(&format!("{at}.{}", pair[0].0)));
    }
    out.push('{');
    for (idx, (name, value)) in sorted.into_iter().enumerate() {
        if idx > 0 {
            out.push(',');
        }
        write_text(name, out);
        out.push(':');
        write_value(value, &format!("{at}.{name}"), out)?;
    }
    out.push('}');
    Ok(())
}

/// A member's name stands twice; which of the two counts is anybody's guess.
pub(super) fn twice(at: &str) -> Fault {
    Fault::new(
        "R003",
        at,
        "the same name twice in one object",
        "every name once",
        "take one of the two out",
    )
}

/// ECMAScript's `Number::toString`, which RFC 8785 asks for: shortest digits, an exponent from 1e21 and below 1e-6.
fn write_number(value: f64, at: &str, out: &mut String) -> Result<(), Fault> {
    if !value.is_finite() {
        return Err(Fault::new(
            "R002",
            at,
            number(value),
            "a finite number",
            "a value that is missing is left out of a record, not written as a number",
        ));
    }
    if value == 0.0 {
        out.push('0');
        return Ok(());
    }
    let shortest = shortest(value.abs());
    let (digits, exponent) = shortest.split_once('e').unwrap_or((&shortest, "0"));
    let digits = digits.replace('.', "");
    // n as in the source: the value is 0.DIGITS × 10^n.
    let n = exponent.parse::<i32>().unwrap_or(0) + 1;
    let k = digits.len() as i32;
    if value < 0.0 {
        out.push('-');
    }
    if k <= n && n <= 21 {
        out.push_str(&digits);
        out.push_str(&"0".repeat((n - k) as usize));
    } else if 0 < n && n <= 21 {
        out.push_str(&digits[..n as usize]);
        out.push('.');
        out.push_str(&digits[n as usize..]);
    } else if -6 < n && n <= 0 {
        out.push_str("0.");
        out.push_str(&"0".repeat(-n as usize));
        out.push_str(&digits);
    } else {
        out.push_str(&digits[..1]);
        if k > 1 {
            out.push('.');
            out.push_str(&digits[1..]);
        }
        out.push_str(if n > 0 { "e+" } else { "e-" });
        out.push_str(&(n - 1).unsigned_abs().to_string());
    }
    Ok(())
}

/// The shortest digits that read back, such as `1.25e-7`; of several, those nearest the value; of
/// two as near, the even.
fn shortest(value: f64) -> String {
    let short = format!("{value:e}");
    let n_decimals = short.find('e').unwrap_or(0).saturating_sub(2);
    // As many digits, rounded half to even from the exact value. At a power of two it may not read back.
    let nearest = format!("{value:.n_decimals$e}");
    if nearest.parse() == Ok(value) {
        nearest
    } else {
        short
    }
}

fn write_text(text: &str, out: &mut String) {
    out.push('"');
    for c in text.chars() {
        match c {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            '\u{8}' => out.push_str("\\b"),
            '\t' => out.push_str("\\t"),
            '\n' => out.push_str("\\n"),
            '\u{c}' => out.push_str("\\f"),
            '\r' => out.push_str("\\r"),
            c if c < ' ' => out.push_str(&format!("\\u{:04x}", c as u32)),
            c => out.push(c),
        }
    }
    out.push('"');
}

#[cfg(test)]
mod tests {
    use super::*;

    fn text(value: &Json) -> String {
        String::from_utf8(value.render("body").unwrap()).unwrap()
    }

    #[track_caller]
    fn check_number(bits: u64, want: &str) {
        assert_eq!(
            text(&Json::Number(f64::from_bits(bits))),
            want,
            "{bits:016x}"
        );
    }

    /// RFC 8785, appendix B, its samples of numbers (from memory; each also asked of
    /// `node -p 'String(new Float64Array(new BigUint64Array([0x…n]).buffer)[0])'`, Node 20).
    #[test]
    fn numbers_of_the_source() {
        check_number(0x0000_0000_0000_0000, "0");
        check_number(0x8000_0000_0000_0000, "0");
        check_number(0x0000_0000_0000_0001, "5e-324");
        check_number(0x8000_0000_0000_0001, "-5e-324");
        check_number(0x7fef_ffff_ffff_ffff, "1.7976931348623157e+308");
        check_number(0xffef_ffff_ffff_ffff, "-1.7976931348623157e+308");
        check_number(0x4340_0000_0000_0000, "9007199254740992");
        check_number(0xc340_0000_0000_0000, "-9007199254740992");
        check_number(0x4430_0000_0000_0000, "295147905179352830000");
        check_number(0x44b5_2d02_c7e1_4af5, "9.999999999999997e+22");
        check_number(0x44b5_2d02_c7e1_4af6, "1e+23");
        check_number(0x44b5_2d02_c7e1_4af7, "1.0000000000000001e+23");
        check_number(0x444b_1ae4_d6e2_ef4e, "999999999999999700000");
        check_number(0x444b_1ae4_d6e2_ef4f, "999999999999999900000");
        check_number(0x444b_1ae4_d6e2_ef50, "1e+21");
        check_number(0x3eb0_c6f7_a0b5_ed8c, "9.999999999999997e-7");
        check_number(0x3eb0_c6f7_a0b5_ed8d, "0.000001");
        check_number(0x41b3_de43_5555_5553, "333333333.3333332");
        check_number(0x41b3_de43_5555_5555, "333333333.3333333");
        check_number(0x41b3_de43_5555_5557, "333333333.33333343");
        check_number(0xbecb_f647_612f_3696, "-0.0000033333333333333333");
        check_number(0x4314_3ff3_c1cb_0959, "1424953923781206.2");
    }

    /// Where the shortest digits are not the obvious ones: halfway between two, and at powers of two.
    /// As `JSON.stringify` of Node 20 gives them; so did 910 095 others on the day this was written
    /// (random bits, sizes of a site in metres, all powers of two and their neighbours).
    #[test]
    fn numbers_that_are_hard() {
        check_number(0x431c_c0e5_0492_1fcd, "2023347301156851.2");
        check_number(0xc31f_42b6_4b37_c341, "-2199768747864272.2");
        check_number(0x42e6_a3b4_0e1f_78e4, "199138850438087.12");
        check_number(0x3d30_0000_0000_0000, "5.684341886080802e-14");
        check_number(0x0060_0000_0000_0000, "7.120236347223045e-307");
        check_number(0x0660_0000_0000_0000, "5.641232424577593e-278");
        check_number(0x0010_0000_0000_0000, "2.2250738585072014e-308");
        check_number(0x7fe0_0000_0000_0000, "8.98846567431158e+307");
    }

    #[test]
    fn what_is_not_finite_is_refused_with_its_place() {
        for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
            let value =
                Json::object([("shots", Json::from(vec![Json::from(1.0), Json::from(bad)]))]);
            let fault = value.render("result").unwrap_err();
            assert_eq!((fault.code, fault.at.as_str()), ("R002", "result.shots[2]"));
        }
    }

    #[test]
    fn members_stand_in_utf16_order_and_once() {
        // RFC 8785, section 3.2.3, its example of sorting (from memory): U+1F600 before U+FB33.
        let names = [
            "\u{20ac}",
            "\r",
            "\u{fb33}",
            "1",
            "\u{1f600}",
            "\u{80}",
            "\u{f6}",
        ];
        let value = Json::object(names.map(|name| (name, Json::Null)));
        let want = "{\"\\r\":null,\"1\":null,\"\u{80}\":null,\"\u{f6}\":null,\"\u{20ac}\":null,\
                    \"\u{1f600}\":null,\"\u{fb33}\":null}";
        assert_eq!(text(&value), want);
        let value = Json::object([("a", Json::Null), ("b", Json::Null), ("a", Json::Null)]);
        assert_eq!(value.render("x").unwrap_err().code, "R003");
    }

    #[test]
    fn text_has_the_fewest_escapes() {
        let value = Json::from("\u{20ac}$\u{f}\nA'B\"\\\"/\u{7f}\u{2028}");
        assert_eq!(
            text(&value),
            "\"\u{20ac}$\\u000f\\nA'B\\\"\\\\\\\"/\u{7f}\u{2028}\""
        );
    }
}
