//! The published JSON Schema of a format, made from the table of its fields.

use serde_json::{Map, Value, json};

use super::Format;
use super::leaf::{LONGEST_LINE, LONGEST_NAME, LONGEST_TEXT, MOST_POINTS};
use super::table::{Dim, Field, Kind, Need, Rule, Section, keys_of_cases};
use crate::targets::PATTERN;

/// The schema of a format, JSON Schema 2020-12, as it is published in the reference.
///
/// It says what the reader says but for what needs more than one value to judge: names of a list
/// that are the same, and everything that the core finds implausible.
///
/// The tests try it with the few rules that it uses. The published schema of the machine sheet was also
/// tried with a general validator (the Python package jsonschema 4.26.0, draft 2020-12):
/// both sheets of the tests fit, the spoilt ones do not.
pub fn schema(format: &Format) -> String {
    let mut schema = section(format.sheet);
    let units = match format.sheet.field("units") {
        Some(_) => " Bare numbers are in the units that the section units states;",
        None => "",
    };
    let head = json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": format!("holdline:{}:{}", format.word, format.version),
        "title": format!("{}, version {}", format.word, format.version),
        "description": format!("{}{units} sd is a standard uncertainty (k = 1).", format.is),
    });
    merge(&mut schema, head);
    if let Some(properties) = schema.get_mut("properties") {
        merge(
            properties,
            json!({ "format": { "const": format.word }, "version": { "const": format.version } }),
        );
    }
    let mut text = serde_json::to_string_pretty(&schema).unwrap_or_default();
    text.push('\n');
    text
}

fn section(section: &Section) -> Value {
    let mut properties = Map::new();
    for field in section.fields {
        let mut schema = kind(field);
        let mut words = field.label.to_owned();
        if let Some(unit) = unit(field.kind) {
            words.push_str(", in ");
            words.push_str(unit);
        }
        for more in [field.help, when_words(field).as_str()] {
            if !more.is_empty() {
                words.push_str("; ");
                words.push_str(more);
            }
        }
        merge(&mut schema, json!({ "description": words }));
        properties.insert(field.key.to_owned(), schema);
    }
    let must = section
        .fields
        .iter()
        .filter(|f| matches!(f.need, Need::Must))
        .map(|f| f.key);
    let mut schema = json!({
        "type": "object",
        "additionalProperties": false,
        "properties": properties,
        "required": must.collect::<Vec<_>>(),
    });
    let mut conditions: Vec<Value> = section.fields.iter().filter_map(condition).collect();
    if let Rule::ByWord { key, cases } = section.rule {
        let keys = keys_of_cases(cases);
        conditions.extend(cases.iter().map(|case| {
            let not: Vec<Value> = (keys.iter())
                .filter(|k| !case.knows(k))
                .map(|k| json!({ "required": [k] }))
                .collect();
            if not.is_empty() {
                return json!({
                    "if": { "properties": { key: { "const": case.word } }, "required": [key] },
                    "then": { "required": case.must },
                });
            }
            json!({
                "if": { "properties": { key: { "const": case.word } }, "required": [key] },
                "then": { "required": case.must, "not": { "anyOf": not } },
            })
        }));
    }
    if !conditions.is_empty() {
        merge(&mut schema, json!({ "allOf": conditions }));
    }
    if let Rule::OneOf(keys) = section.rule {
        let one: Vec<Value> = keys.iter().map(|k| json!({ "required": [k] })).collect();
        merge(&mut schema, json!({ "oneOf": one }));
    }
    schema
}

/// A field that another one calls for: it must be there then, and must not otherwise.
fn condition(field: &Field) -> Option<Value> {
    let Need::When { key, words } = field.need else {
        return None;
    };
    Some(json!({
        "if": { "properties": { key: { "enum": words } }, "required": [key] },
        "then": { "required": [field.key] },
        "else": { "not": { "required": [field.key] } },
    }))
}

fn when_words(field: &Field) -> String {
    match field.need {
        Need::When { key, words } => format!("only where {key} is {}", words.join(" or ")),
        Need::Must | Need::May => String::new(),
    }
}

fn kind(field: &Field) -> Value {
    let number = || json!({ "type": "number" });
    let sd = || json!({ "type": "number", "exclusiveMinimum": 0 });
    let n_numbers = |n: usize| json!({ "type": "array", "items": { "type": "number" }, "minItems": n, "maxItems": n });
    let point = |n: usize| {
        json!({ "oneOf": [n_numbers(n), {
            "type": "object",
            "additionalProperties": false,
            "required": ["at"],
            "properties": { "at": n_numbers(n), "sd": n_sd(n) },
        }]})
    };
    let many = |items: Value| json!({ "type": "array", "items": items, "maxItems": MOST_POINTS });
    match field.kind {
        Kind::Name => {
            json!({ "type": "string", "minLength": 1, "maxLength": LONGEST_NAME, "pattern": "^[^\\[\\]\"]+$" })
        }
        Kind::Text => json!({ "type": "string", "maxLength": LONGEST_TEXT }),
        Kind::Line => json!({ "type": "string", "minLength": 1, "maxLength": LONGEST_LINE }),
        Kind::Date => {
            json!({ "type": "string", "pattern": "^[0-9]{4}-(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01])$" })
        }
        Kind::Whole { min, max } => json!({ "type": "integer", "minimum": min, "maximum": max }),
        Kind::Sign => json!({ "enum": [1, -1] }),
        Kind::Choice(words) => {
            json!({ "enum": words.words().into_iter().map(|(w, _)| w).collect::<Vec<_>>() })
        }
        Kind::Targets(n) => json!({
            "type": "array",
            "items": { "type": "string", "pattern": PATTERN },
            "minItems": n,
            "maxItems": n,
        }),
        Kind::Target => json!({ "type": "string", "pattern": PATTERN }),
        Kind::Number(_) => number(),
        Kind::Sd(_) => sd(),
        Kind::Measured(_) => json!({ "oneOf": [number(), {
            "type": "object",
            "additionalProperties": false,
            "required": ["value"],
            "properties": { "value": number(), "sd": sd() },
        }]}),
        Kind::PlanePoint => point(2),
        Kind::SpacePoint => point(3),
        Kind::PointSd { n } => n_sd(n),
        Kind::Two(..) => n_numbers(2),
        Kind::Three => n_numbers(3),
        Kind::Numbers(_) => many(number()),
        Kind::PlaneLine => many(n_numbers(2)),
        Kind::SpaceLine => many(n_numbers(3)),
        Kind::Texts => many(json!({ "type": "string", "maxLength": LONGEST_TEXT })),
        Kind::Triangle => many(many(number())),
        Kind::Readings => json!({ "type": "object", "additionalProperties": number() }),
        Kind::InsideOr { of, word, .. } => json!({ "oneOf": [{ "const": word }, section(of)] }),
        Kind::Inside(of) => section(of),
        Kind::List { of, most, .. } => {
            json!({ "type": "array", "items": section(of), "maxItems": most })
        }
    }
}

/// One sd for all axes, or one an axis.
fn n_sd(n: usize) -> Value {
    let sd = json!({ "type": "number", "exclusiveMinimum": 0 });
    json!({ "oneOf": [sd.clone(), { "type": "array", "items": sd, "minItems": n, "maxItems": n }] })
}

fn unit(kind: Kind) -> Option<&'static str> {
    let dim = match kind {
        Kind::Number(dim)
        | Kind::Sd(dim)
        | Kind::Measured(dim)
        | Kind::Two(dim, _)
        | Kind::Numbers(dim) => dim,
        Kind::PlanePoint
        | Kind::SpacePoint
        | Kind::PointSd { .. }
        | Kind::Three
        | Kind::PlaneLine
        | Kind::SpaceLine => Dim::Length,
        _ => return None,
    };
    Some(match dim {
        Dim::Length => "units.length",
        Dim::Angle => "units.angle",
        Dim::Mass => "units.mass",
        Dim::Milliseconds => "milliseconds",
        Dim::Beside => "the unit beside it",
        Dim::LengthOrAngle => "units of length or angle",
    })
}

fn merge(into: &mut Value, more: Value) {
    if let (Value::Object(into), Value::Object(more)) = (into, more) {
        into.extend(more);
    }
}

#[cfg(test)]
pub(crate) mod fits {
    use super::*;

    /// A published file is what the table of fields gives now; `HOLDLINE_ACCEPT=1` writes it anew.
    #[track_caller]
    pub fn current(in_docs: &str, published: &str, now: &str) {
        if std::env::var_os("HOLDLINE_ACCEPT").is_some() {
            let docs = concat!(env!("CARGO_MANIFEST_DIR"), "/../../docs/reference/");
            std::fs::write(format!("{docs}{in_docs}"), now).unwrap();
            return;
        }
        assert!(
            now == published,
            "docs/reference/{in_docs} is not what the table of fields gives; \
             HOLDLINE_ACCEPT=1 cargo test -p holdline-files published writes it anew"
        );
    }

    /// Whether a document fits a published schema, by the few rules that ours use.
    #[track_caller]
    pub fn check(published: &str, sheet: &str, want: bool) {
        let schema = serde_json::from_str(published).unwrap();
        let table: toml::Table = sheet.parse().unwrap();
        let (mut fits, mut why) = (true, String::new());
        if let Err(path) = fit(&schema, &as_json(&toml::Value::Table(table)), "") {
            (fits, why) = (false, path);
        }
        assert_eq!(fits, want, "{why}");
    }

    fn as_json(value: &toml::Value) -> Value {
        match value {
            toml::Value::Table(t) => t.iter().map(|(k, v)| (k.clone(), as_json(v))).collect(),
            toml::Value::Array(a) => a.iter().map(as_json).collect(),
            toml::Value::Float(f) => json!(f),
            toml::Value::Integer(i) => json!(i),
            toml::Value::Boolean(b) => json!(b),
            toml::Value::String(s) => json!(s),
            toml::Value::Datetime(d) => json!(d.to_string()),
        }
    }

    /// The part of JSON Schema that the published one uses, patterns left out.
    fn fit(schema: &Value, value: &Value, path: &str) -> Result<(), String> {
        let no = |keyword: &str| Err(format!("{path}: {keyword}"));
        for (keyword, rule) in schema.as_object().unwrap() {
            match keyword.as_str() {
                "type" if !is_type(value, rule.as_str().unwrap()) => return no("type"),
                "const" if value != rule => return no("const"),
                "enum" if !rule.as_array().unwrap().contains(value) => return no("enum"),
                "exclusiveMinimum" if value.as_f64() <= rule.as_f64() => return no("sd"),
                "minimum" if value.as_f64() < rule.as_f64() => return no("minimum"),
                "maximum" if rule.as_f64() < value.as_f64() => return no("maximum"),
                "minLength" if (value.as_str().unwrap().len() as u64) < rule.as_u64().unwrap() => {
                    return no("minLength");
                }
                "minItems"
                    if value.as_array().map_or(0, Vec::len) < rule.as_u64().unwrap() as usize =>
                {
                    return no("minItems");
                }
                "maxItems"
                    if (rule.as_u64().unwrap() as usize) < value.as_array().map_or(0, Vec::len) =>
                {
                    return no("maxItems");
                }
                "required" => {
                    for key in rule.as_array().unwrap() {
                        if value.get(key.as_str().unwrap()).is_none() {
                            return no(&format!("required {key}"));
                        }
                    }
                }
                "properties" => {
                    for (key, inner) in value.as_object().into_iter().flatten() {
                        match rule.get(key) {
                            Some(rule) => fit(rule, inner, &format!("{path}.{key}"))?,
                            None if schema["additionalProperties"] == json!(false) => {
                                return no(key);
                            }
                            None => {}
                        }
                    }
                }
                "items" => {
                    for item in value.as_array().into_iter().flatten() {
                        fit(rule, item, path)?;
                    }
                }
                "oneOf" => {
                    let n = rule
                        .as_array()
                        .unwrap()
                        .iter()
                        .filter(|s| fit(s, value, path).is_ok());
                    if n.count() != 1 {
                        return no("oneOf");
                    }
                }
                "allOf" => {
                    for schema in rule.as_array().unwrap() {
                        fit(schema, value, path)?;
                    }
                }
                "anyOf" => {
                    let mut any = rule.as_array().unwrap().iter();
                    if !any.any(|s| fit(s, value, path).is_ok()) {
                        return no("anyOf");
                    }
                }
                "if" => {
                    let branch = if fit(rule, value, path).is_ok() {
                        "then"
                    } else {
                        "else"
                    };
                    if let Some(branch) = schema.get(branch) {
                        fit(branch, value, path)?;
                    }
                }
                "not" if fit(rule, value, path).is_ok() => return no("not"),
                _ => {}
            }
        }
        Ok(())
    }

    fn is_type(value: &Value, word: &str) -> bool {
        match word {
            "object" => value.is_object(),
            "array" => value.is_array(),
            "number" => value.is_number(),
            "integer" => value.is_i64(),
            "string" => value.is_string(),
            other => panic!("no rule for type {other}"),
        }
    }
}
