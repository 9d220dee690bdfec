//! From the edge's own structs to canonical JSON and back.
//!
//! A general JSON writer turns a number that is none into `null`, and then nobody sees that it was there.
//! This one refuses it, with its place.

use std::fmt;

use holdline::records::Json;
use holdline_geom::fault::{Fault, number};
use serde::de::DeserializeOwned;
use serde::ser::{self, Serialize};

/// Largest whole number that an `f64` holds with all below it: 2^53.
const WHOLE_AT_MOST: u64 = 1 << 53;

/// The value of a struct that can be serialized, for a record's result or settings.
///
/// # Errors
///
/// `R002` for a number that is not finite, or a whole number beyond 2^53, with its place; `R004` for what JSON does not
/// hold, such as bytes, or a map whose keys are no text.
///
/// # Example
///
/// ```
/// use holdline_store::{json_of, read_json};
///
/// #[derive(serde::Serialize, serde::Deserialize, PartialEq, Debug)]
/// struct Shot { name: String, up_m: f64, sd_m: Option<f64> }
///
/// let shot = Shot { name: "B2".to_owned(), up_m: -0.004, sd_m: None };
/// let json = json_of("shot", &shot).unwrap();
/// assert_eq!(json.render("shot").unwrap(), br#"{"name":"B2","sd_m":null,"up_m":-0.004}"#);
/// assert_eq!(read_json::<Shot>("shot", &json).unwrap(), shot);
///
/// let dead = Shot { up_m: f64::NAN, ..shot };
/// let fault = json_of("shot", &dead).unwrap_err();
/// assert_eq!((fault.code, fault.at.as_str()), ("R002", "shot.up_m"));
/// ```
pub fn json_of<T: Serialize + ?Sized>(at: &str, value: &T) -> Result<Json, Fault> {
    value
        .serialize(Writer { at: at.to_owned() })
        .map_err(|Stop(fault)| *fault)
}

/// The struct that such a value was made from.
///
/// # Errors
///
/// `R006` if it does not fit; `R002` or `R003` as [`Json::render`].
pub fn read_json<T: DeserializeOwned>(at: &str, json: &Json) -> Result<T, Fault> {
    let bytes = json.render(at)?;
    serde_json::from_slice(&bytes).map_err(|error| {
        Fault::new(
            "R006",
            at,
            error.to_string(),
            "what this version of holdline writes here",
            "open the job with the program that made the record, or a newer one",
        )
    })
}

/// Why writing stopped. Boxed, so that the good way stays small.
#[derive(Debug)]
struct Stop(Box<Fault>);

impl fmt::Display for Stop {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

impl std::error::Error for Stop {}

impl ser::Error for Stop {
    fn custom<T: fmt::Display>(message: T) -> Stop {
        not_json("", &message.to_string())
    }
}

fn not_json(at: &str, got: &str) -> Stop {
    Stop(Box::new(Fault::new(
        "R004",
        at,
        got,
        "text, numbers, yes or no, lists and named members",
        "this is a fault of the program; nothing was written; report it",
    )))
}

struct Writer {
    at: String,
}

impl Writer {
    fn within(&self, name: &str) -> Writer {
        Writer {
            at: if self.at.is_empty() {
                name.to_owned()
            } else {
                format!("{}.{name}", self.at)
            },
        }
    }

    fn item(&self, idx: usize) -> Writer {
        Writer {
            at: format!("{}[{}]", self.at, idx + 1),
        }
    }

    fn number(self, value: f64) -> Result<Json, Stop> {
        if value.is_finite() {
            return Ok(Json::Number(value));
        }
        Err(Stop(Box::new(Fault::new(
            "R002",
            self.at,
            number(value),
            "a finite number",
            "a value that is missing is left out of a record, not written as a number",
        ))))
    }

    fn whole(self, size: u64, value: f64) -> Result<Json, Stop> {
        if size <= WHOLE_AT_MOST {
            return Ok(Json::Number(value));
        }
        Err(Stop(Box::new(Fault::new(
            "R002",
            self.at,
            format!("{size}"),
            "a whole number up to 2^53, which every reader of JSON reads the same",
            "write it as text",
        ))))
    }
}

impl ser::Serializer for Writer {
    type Ok = Json;
    type Error = Stop;
    type SerializeSeq = List;
    type SerializeTuple = List;
    type SerializeTupleStruct = List;
    type SerializeTupleVariant = List;
    type SerializeMap = Members;
    type SerializeStruct = Members;
    type SerializeStructVariant = Members;

    fn serialize_bool(self, v: bool) -> Result<Json, Stop> {
        Ok(Json::Bool(v))
    }
    fn serialize_i8(self, v: i8) -> Result<Json, Stop> {
        self.serialize_i64(v.into())
    }
    fn serialize_i16(self, v: i16) -> Result<Json, Stop> {
        self.serialize_i64(v.into())
    }
    fn serialize_i32(self, v: i32) -> Result<Json, Stop> {
        self.serialize_i64(v.into())
    }
    fn serialize_i64(self, v: i64) -> Result<Json, Stop> {
        self.whole(v.unsigned_abs(), v as f64)
    }
    fn serialize_u8(self, v: u8) -> Result<Json, Stop> {
        self.serialize_u64(v.into())
    }
    fn serialize_u16(self, v: u16) -> Result<Json, Stop> {
        self.serialize_u64(v.into())
    }
    fn serialize_u32(self, v: u32) -> Result<Json, Stop> {
        self.serialize_u64(v.into())
    }
    fn serialize_u64(self, v: u64) -> Result<Json, Stop> {
        self.whole(v, v as f64)
    }
    fn serialize_f32(self, v: f32) -> Result<Json, Stop> {
        self.number(v.into())
    }
    fn serialize_f64(self, v: f64) -> Result<Json, Stop> {
        self.number(v)
    }
    fn serialize_char(self, v: char) -> Result<Json, Stop> {
        Ok(Json::Text(v.to_string()))
    }
    fn serialize_str(self, v: &str) -> Result<Json, Stop> {
        Ok(Json::from(v))
    }
    fn serialize_bytes(self, _: &[u8]) -> Result<Json, Stop> {
        Err(not_json(&self.at, "bytes"))
    }
    fn serialize_none(self) -> Result<Json, Stop> {
        Ok(Json::Null)
    }
    fn serialize_some<T: Serialize + ?Sized>(self, value: &T) -> Result<Json, Stop> {
        value.serialize(self)
    }
    fn serialize_unit(self) -> Result<Json, Stop> {
        Ok(Json::Null)
    }
    fn serialize_unit_struct(self, _: &'static str) -> Result<Json, Stop> {
        Ok(Json::Null)
    }
    fn serialize_unit_variant(
        self,
        _: &'static str,
        _: u32,
        variant: &'static str,
    ) -> Result<Json, Stop> {
        Ok(Json::from(variant))
    }
    fn serialize_newtype_struct<T: Serialize + ?Sized>(
        self,
        _: &'static str,
        value: &T,
    ) -> Result<Json, Stop> {
        value.serialize(self)
    }
    fn serialize_newtype_variant<T: Serialize + ?Sized>(
        self,
        _: &'static str,
        _: u32,
        variant: &'static str,
        value: &T,
    ) -> Result<Json, Stop> {
        let inner = value.serialize(self.within(variant))?;
        Ok(Json::object([(variant, inner)]))
    }
    fn serialize_seq(self, _: Option<usize>) -> Result<List, Stop> {
        Ok(List {
            writer: self,
            list: Vec::new(),
            variant: None,
        })
    }
    fn serialize_tuple(self, len: usize) -> Result<List, Stop> {
        self.serialize_seq(Some(len))
    }
    fn serialize_tuple_struct(self, _: &'static str, len: usize) -> Result<List, Stop> {
        self.serialize_seq(Some(len))
    }
    fn serialize_tuple_variant(
        self,
        _: &'static str,
        _: u32,
        variant: &'static str,
        _: usize,
    ) -> Result<List, Stop> {
        Ok(List {
            writer: self.within(variant),
            list: Vec::new(),
            variant: Some(variant),
        })
    }
    fn serialize_map(self, _: Option<usize>) -> Result<Members, Stop> {
        Ok(Members {
            writer: self,
            members: Vec::new(),
            name: None,
            variant: None,
        })
    }
    fn serialize_struct(self, _: &'static str, len: usize) -> Result<Members, Stop> {
        self.serialize_map(Some(len))
    }
    fn serialize_struct_variant(
        self,
        _: &'static str,
        _: u32,
        variant: &'static str,
        _: usize,
    ) -> Result<Members, Stop> {
        let writer = self.within(variant);
        Ok(Members {
            writer,
            members: Vec::new(),
            name: None,
            variant: Some(variant),
        })
    }
}

/// What is inside an enum's variant stands under the variant's name.
fn under(variant: Option<&'static str>, json: Json) -> Json {
    match variant {
        Some(name) => Json::object([(name, json)]),
        None => json,
    }
}

struct List {
    writer: Writer,
    list: Vec<Json>,
    variant: Option<&'static str>,
}

impl List {
    fn push<T: Serialize + ?Sized>(&mut self, value: &T) -> Result<(), Stop> {
        self.list
            .push(value.serialize(self.writer.item(self.list.len()))?);
        Ok(())
    }
}

macro_rules! list {
    ($name:ident, $push:ident) => {
        impl ser::$name for List {
            type Ok = Json;
            type Error = Stop;
            fn $push<T: Serialize + ?Sized>(&mut self, value: &T) -> Result<(), Stop> {
                self.push(value)
            }
            fn end(self) -> Result<Json, Stop> {
                Ok(under(self.variant, Json::List(self.list)))
            }
        }
    };
}

list!(SerializeSeq, serialize_element);
list!(SerializeTuple, serialize_element);
list!(SerializeTupleStruct, serialize_field);
list!(SerializeTupleVariant, serialize_field);

struct Members {
    writer: Writer,
    members: Vec<(String, Json)>,
    name: Option<String>,
    variant: Option<&'static str>,
}

impl Members {
    fn push<T: Serialize + ?Sized>(&mut self, name: String, value: &T) -> Result<(), Stop> {
        let json = value.serialize(self.writer.within(&name))?;
        self.members.push((name, json));
        Ok(())
    }

    fn end(self) -> Result<Json, Stop> {
        Ok(under(self.variant, Json::Object(self.members)))
    }
}

macro_rules! members {
    ($name:ident) => {
        impl ser::$name for Members {
            type Ok = Json;
            type Error = Stop;
            fn serialize_field<T: Serialize + ?Sized>(
                &mut self,
                name: &'static str,
                value: &T,
            ) -> Result<(), Stop> {
                self.push(name.to_owned(), value)
            }
            fn end(self) -> Result<Json, Stop> {
                self.end()
            }
        }
    };
}

members!(SerializeStruct);
members!(SerializeStructVariant);

impl ser::SerializeMap for Members {
    type Ok = Json;
    type Error = Stop;
    fn serialize_key<T: Serialize + ?Sized>(&mut self, key: &T) -> Result<(), Stop> {
        match key.serialize(self.writer.within("key"))? {
            Json::Text(name) => {
                self.name = Some(name);
                Ok(())
            }
            _ => Err(not_json(&self.writer.at, "a key that is no text")),
        }
    }
    fn serialize_value<T: Serialize + ?Sized>(&mut self, value: &T) -> Result<(), Stop> {
        match self.name.take() {
            Some(name) => self.push(name, value),
            None => Err(not_json(&self.writer.at, "a value without a key")),
        }
    }
    fn end(self) -> Result<Json, Stop> {
        self.end()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeMap;

    #[derive(serde::Serialize, serde::Deserialize, Debug, PartialEq)]
    enum Kind {
        Bare,
        One(f64),
        Two(u8, i64),
        Named { at: String, list: Vec<Option<bool>> },
    }

    #[track_caller]
    fn check<T>(value: T, want: &str)
    where
        T: Serialize + DeserializeOwned + PartialEq + fmt::Debug,
    {
        let json = json_of("x", &value).unwrap();
        assert_eq!(String::from_utf8(json.render("x").unwrap()).unwrap(), want);
        assert_eq!(read_json::<T>("x", &json).unwrap(), value);
        // A second witness: what another writer makes of it says the same.
        let other = serde_json::to_vec(&value).unwrap();
        assert_eq!(
            Json::read("x", &other).unwrap().render("x").unwrap(),
            want.as_bytes()
        );
    }

    #[test]
    fn there_and_back() {
        check(Kind::Bare, r#""Bare""#);
        check(Kind::One(1.0), r#"{"One":1}"#);
        check(
            Kind::Two(7, -9_007_199_254_740_992),
            r#"{"Two":[7,-9007199254740992]}"#,
        );
        let named = Kind::Named {
            at: "é\n".to_owned(),
            list: vec![None, Some(true)],
        };
        check(named, r#"{"Named":{"at":"é\n","list":[null,true]}}"#);
        check(
            BTreeMap::from([("b".to_owned(), 2_u32), ("a".to_owned(), 1)]),
            r#"{"a":1,"b":2}"#,
        );
        check((0.1, 1e21, 'x'), r#"[0.1,1e+21,"x"]"#);
    }

    #[track_caller]
    fn refused<T: Serialize>(value: T, code: &str, at: &str) {
        let fault = json_of("x", &value).unwrap_err();
        assert_eq!((fault.code, fault.at.as_str()), (code, at));
    }

    #[test]
    fn what_would_be_lost_is_refused_with_its_place() {
        refused(vec![1.0, f64::NAN], "R002", "x[2]");
        refused(Kind::One(f64::INFINITY), "R002", "x.One");
        refused(Some(f32::NAN), "R002", "x");
        refused(u64::MAX, "R002", "x");
        refused(i64::MIN, "R002", "x");
        refused(BTreeMap::from([(1_u8, 2_u8)]), "R004", "x");
    }
}
