//! The tolerant walk: a parsed sheet against the table of its fields, every fault noted on the way.

use std::collections::BTreeMap;

use holdline_geom::fault::Fault;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::leaf::is_name;
use super::node::{Node, Value};
use super::table::{Case, Field, Kind, Need, Rule, Section, keys_of_cases};
use super::units::{SI, Units};
use crate::readings::wants::Quantity;
use crate::text::{FileFaults, nearest, quoted};

/// A walk through one sheet.
#[derive(Debug)]
pub struct Walk<'a> {
    /// What was wrong so far.
    pub faults: FileFaults<'a>,
    /// The sheet's units, once they are known.
    pub units: Units,
    /// Byte offset of the end of the text; sections that are missing are missing there.
    pub end: usize,
    /// Names that readings may have.
    pub readings: &'a [Reading],
}

/// A name that a reading may have.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reading {
    /// The name, without unit.
    pub name: String,
    /// What it is a reading of.
    pub quantity: Quantity,
}

/// Where the walk stands: a path and a place.
#[derive(Debug, Clone, Copy)]
pub struct Here<'p> {
    /// Path through the sheet.
    pub path: &'p str,
    /// Byte offset in the text.
    pub offset: usize,
}

/// The keys of a table by name, with the place of key and value.
type Entries<'t, 'i> = BTreeMap<&'t str, (usize, &'t Spanned<DeValue<'i>>)>;

impl<'a> Walk<'a> {
    /// Before the first step; numbers are taken as SI until the units are read.
    pub fn new(faults: FileFaults<'a>, end: usize) -> Walk<'a> {
        Walk {
            faults,
            units: SI,
            end,
            readings: &[],
        }
    }

    /// Reads the whole sheet.
    pub fn sheet(&mut self, sheet: &Section, table: &DeTable<'_>) -> Node {
        self.units = Units::stated(table);
        self.section(
            sheet,
            table,
            Here {
                path: "",
                offset: self.end,
            },
        )
    }

    /// Reads a section: every known key by its kind, and every key that is unknown, missing or out of place.
    pub fn section(&mut self, section: &Section, table: &DeTable<'_>, here: Here<'_>) -> Node {
        let entries: Entries<'_, '_> = table
            .iter()
            .map(|(k, v)| (k.get_ref().as_ref(), (k.span().start, v)))
            .collect();
        let mut meant = Vec::new();
        for (key, (offset, _)) in &entries {
            if section.field(key).is_none() {
                meant.extend(self.unknown_key(section, key, join(here.path, key), *offset));
            }
        }
        let mut node = Node::default();
        for field in section.fields {
            let Some((key_offset, value)) = entries.get(field.key) else {
                continue;
            };
            let path = join(here.path, field.key);
            let at = Here {
                path: &path,
                offset: *key_offset,
            };
            node.set_some(field.key, self.value(field, value, at));
        }
        for field in section.fields {
            let there = entries.get(field.key).map(|(offset, _)| *offset);
            self.need(section, field, &node, there, here, &meant);
        }
        self.rule(section, &node, &entries, here);
        node
    }

    fn unknown_key(
        &mut self,
        section: &Section,
        key: &str,
        path: String,
        offset: usize,
    ) -> Option<&'static str> {
        let near = nearest(key, section.fields.iter().map(|f| f.key));
        let known: Vec<&str> = section.fields.iter().map(|f| f.key).collect();
        let fix = match near {
            Some(near) => {
                format!("\"{near}\" is the nearest known key; correct it, or take it out")
            }
            None => "take it out; what holdline does not know it must not pass over".to_owned(),
        };
        let want = format!("one of: {}", known.join(", "));
        let path = quoted_path(path);
        self.faults.push(
            offset,
            Fault::new("F008", path, format!("the key {}", quoted(key)), want, fix),
        );
        near
    }

    /// Notes a field that is missing, or that is there though the word beside it does not call for it.
    fn need(
        &mut self,
        section: &Section,
        field: &Field,
        node: &Node,
        there: Option<usize>,
        here: Here<'_>,
        meant: &[&str],
    ) {
        let called_for = match field.need {
            Need::Must => true,
            Need::May => return,
            Need::When { key, words } => match node.text(key) {
                Some(word) => words.contains(&word.as_str()),
                None => return, // the word itself is missing or wrong, and noted
            },
        };
        let path = join(here.path, field.key);
        match (called_for, there) {
            (true, None) if !meant.contains(&field.key) => {
                let want = format!("{} ({})", field.key, field.label);
                let fix = match field.help {
                    _ if here.path.is_empty() => "add it".to_owned(),
                    "" => format!("add it to the section \"{}\"", section.title),
                    help => format!("add it to the section \"{}\"; {help}", section.title),
                };
                self.faults
                    .push(here.offset, Fault::new("F009", path, "nothing", want, fix));
            }
            (false, Some(offset)) => {
                let Need::When { key, words } = field.need else {
                    return;
                };
                let got = format!(
                    "{} beside {key} = {}",
                    field.key,
                    quoted(&node.text(key).unwrap_or_default())
                );
                let want = format!("it only where {key} is {}", words.join(" or "));
                self.faults.push(
                    offset,
                    Fault::new(
                        "F023",
                        path,
                        got,
                        want,
                        format!("take it out, or correct {key}"),
                    ),
                );
            }
            (true, _) | (false, None) => {}
        }
    }

    fn rule(&mut self, section: &Section, node: &Node, entries: &Entries<'_, '_>, here: Here<'_>) {
        match section.rule {
            Rule::Free => {}
            Rule::OneOf(keys) => self.one_of(keys, entries, here),
            Rule::ByWord { key, cases } => {
                // Where the word itself is missing or wrong, that is noted already.
                let word = node.text(key).unwrap_or_default();
                if let Some(case) = cases.iter().find(|c| c.word == word) {
                    self.case(section, (key, cases), case, entries, here);
                }
            }
        }
    }

    fn case(
        &mut self,
        section: &Section,
        (decides, cases): (&str, &'static [Case]),
        case: &Case,
        entries: &Entries<'_, '_>,
        here: Here<'_>,
    ) {
        for fault in missing_and_surplus(section, (decides, cases), case, here.path, &|key| {
            entries.contains_key(key)
        }) {
            let key = fault.at.rsplit('.').next().unwrap_or("");
            let offset = entries.get(key).map_or(here.offset, |(offset, _)| *offset);
            self.faults.push(offset, fault);
        }
    }

    fn one_of(&mut self, keys: &[&str], entries: &Entries<'_, '_>, here: Here<'_>) {
        let there: Vec<&str> = keys
            .iter()
            .copied()
            .filter(|k| entries.contains_key(k))
            .collect();
        if there.len() == 1 {
            return;
        }
        let got = if there.is_empty() {
            "none of them".to_owned()
        } else {
            there.join(" and ")
        };
        let want = format!("exactly one of: {}", keys.join(", "));
        let fix = "keep one; give a second part a section of its own";
        self.faults
            .push(here.offset, Fault::new("F024", here.path, got, want, fix));
    }

    /// Reads a value by its field's kind. `None` where it cannot be used; the fault is noted.
    pub fn value(
        &mut self,
        field: &Field,
        value: &Spanned<DeValue<'_>>,
        at: Here<'_>,
    ) -> Option<Value> {
        match field.kind {
            Kind::Inside(section) => match value.get_ref() {
                DeValue::Table(table) => {
                    // An inline table sits at its value, a headed one at its header.
                    Some(Value::Inside(self.section(section, table, at)))
                }
                other => self.wrong_kind(field, other, at.path, value.span().start),
            },
            Kind::List { .. } => self.list(field, value, at),
            Kind::InsideOr {
                of: section, word, ..
            } => match value.get_ref() {
                DeValue::Table(table) => Some(Value::Inside(self.section(section, table, at))),
                DeValue::String(got) if got == word => Some(Value::Text(word.to_owned())),
                other => self.wrong_kind(field, other, at.path, value.span().start),
            },
            _ => self.leaf(field, value, at.path),
        }
    }

    fn list(&mut self, field: &Field, value: &Spanned<DeValue<'_>>, at: Here<'_>) -> Option<Value> {
        let Kind::List { of, named_by, most } = field.kind else {
            return None;
        };
        let DeValue::Array(array) = value.get_ref() else {
            return self.wrong_kind(field, value.get_ref(), at.path, value.span().start);
        };
        if most < array.len() {
            self.too_many(at.path, value.span().start, array.len(), most);
            return None;
        }
        let mut nodes = Vec::with_capacity(array.len());
        let mut seen: BTreeMap<String, usize> = BTreeMap::new();
        for (idx, entry) in array.iter().enumerate() {
            let name = entry_name(entry.get_ref(), named_by);
            let path = entry_path(at.path, name.as_deref(), idx);
            let offset = entry.span().start;
            let DeValue::Table(table) = entry.get_ref() else {
                let _: Option<Value> = self.wrong_kind(field, entry.get_ref(), &path, offset);
                continue;
            };
            if let Some(name) = name {
                if let Some(first) = seen.get(&name) {
                    self.same_name(&path, offset, &name, *first);
                }
                seen.entry(name).or_insert(idx + 1);
            }
            nodes.push(self.section(
                of,
                table,
                Here {
                    path: &path,
                    offset,
                },
            ));
        }
        Some(Value::List(nodes))
    }

    fn same_name(&mut self, path: &str, offset: usize, name: &str, first: usize) {
        let fault = Fault::new(
            "F019",
            path,
            format!("{} a second time", quoted(name)),
            format!("a name of its own; entry {first} has this one"),
            "rename one of them; two of one name cannot be told apart on a record",
        );
        self.faults.push(offset, fault);
    }

    /// Notes that a list is too long to be meant.
    pub fn too_many(&mut self, path: &str, offset: usize, got: usize, most: usize) {
        let fault = Fault::new(
            "F015",
            path,
            format!("{got} entries"),
            format!("{most} at most"),
            "pick the right file, or thin the list out",
        );
        self.faults.push(offset, fault);
    }

    /// Notes that a value is of another kind than its field asks for.
    pub fn wrong_kind<T>(
        &mut self,
        field: &Field,
        got: &DeValue<'_>,
        path: &str,
        offset: usize,
    ) -> Option<T> {
        let want = self.wanted(field);
        let fix = match (got, field.kind) {
            (
                DeValue::String(_),
                Kind::Number(_) | Kind::Measured(_) | Kind::Whole { .. } | Kind::Sign,
            ) => "write the bare number, with a point and without quotation marks or unit",
            (_, Kind::List { .. }) => {
                "start each entry with a line of its own, the key in double brackets"
            }
            _ => "correct the value",
        };
        self.faults
            .push(offset, Fault::new("F010", path, said(got), want, fix));
        None
    }

    /// What would do, for a field.
    pub fn wanted(&self, field: &Field) -> String {
        let what = field.kind.in_words(&|dim| self.units.word(dim).to_owned());
        format!("{what} ({})", field.label)
    }
}

/// The keys that the case of a section calls for and that are not there, and those that it has no use for.
///
/// `path` is that of the section; every fault's path ends in its key.
pub fn missing_and_surplus(
    section: &Section,
    (decides, cases): (&str, &'static [Case]),
    case: &Case,
    path: &str,
    there: &dyn Fn(&str) -> bool,
) -> Vec<Fault> {
    let mut faults = Vec::new();
    let beside = format!("{decides} = {}", quoted(case.word));
    for key in case.must.iter().filter(|k| !there(k)) {
        let field = section.field(key);
        let label = field.map_or("", |f| f.label);
        let fix = match field.map_or("", |f| f.help) {
            "" => format!("add {key}"),
            help => format!("add {key}; {help}"),
        };
        let want = format!("{key} ({label}) beside {beside}");
        faults.push(Fault::new("F009", join(path, key), "nothing", want, fix));
    }
    let keys = keys_of_cases(cases);
    for key in keys.into_iter().filter(|k| there(k) && !case.knows(k)) {
        let words: Vec<&str> = (cases.iter())
            .filter(|c| c.knows(key))
            .map(|c| c.word)
            .collect();
        let want = format!("it only where {decides} is {}", words.join(" or "));
        let fix = format!("take it out, or correct {decides}");
        let got = format!("{key} beside {beside}");
        faults.push(Fault::new("F023", join(path, key), got, want, fix));
    }
    faults
}

/// A TOML value, as a person would call it.
pub fn said(value: &DeValue<'_>) -> String {
    match value {
        DeValue::String(text) => format!("the text {}", quoted(text)),
        DeValue::Integer(number) => {
            format!("the number {}", quoted(number.as_str()).replace('"', ""))
        }
        DeValue::Float(number) => {
            format!("the number {}", quoted(number.as_str()).replace('"', ""))
        }
        DeValue::Boolean(yes) => format!("{yes}"),
        DeValue::Datetime(date) => format!("the date or time {date}"),
        DeValue::Array(array) => format!("a list of {}", array.len()),
        DeValue::Table(_) => "a section".to_owned(),
    }
}

/// The name of an entry, if it states one that can stand in a path.
pub fn entry_name(entry: &DeValue<'_>, named_by: &str) -> Option<String> {
    let DeValue::Table(table) = entry else {
        return None;
    };
    match table.get(named_by)?.get_ref() {
        DeValue::String(name) if is_name(name) => Some(name.to_string()),
        _ => None,
    }
}

/// Whether an entry states this name.
pub fn has_name(entry: &DeValue<'_>, named_by: &str, name: &str) -> bool {
    let stated = match entry {
        DeValue::Table(table) => table.get(named_by).and_then(|v| v.get_ref().as_str()),
        _ => None,
    };
    stated == Some(name)
}

/// The path of a key in a section.
pub fn join(path: &str, key: &str) -> String {
    if path.is_empty() {
        key.to_owned()
    } else {
        format!("{path}.{key}")
    }
}

/// The path of an entry: by its name where it has one, else by its place in the list, from 1.
pub fn entry_path(list: &str, name: Option<&str>, idx: usize) -> String {
    match name {
        Some(name) => format!("{list}[{name}]"),
        None => format!("{list}[{}]", idx + 1),
    }
}

/// A path that ends in a key of the file's own: without control characters and not too long.
fn quoted_path(path: String) -> String {
    quoted(&path).trim_matches('"').to_owned()
}
