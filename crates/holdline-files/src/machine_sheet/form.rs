//! A sheet as a form: groups of fields with label, unit and value, for a person who does not type TOML.
//!
//! The form is made from the table of fields and the text, so it shows a sheet with faults as well:
//! a value that cannot be used is shown as it stands.

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::fields::{MOST_ENTRIES, SHEET};
use crate::document::leaf::number_of;
use crate::document::syntax;
use crate::document::table::{Dim, Field, Kind, Need, Section};
use crate::document::units::Units;
use crate::document::walk::{entry_name, entry_path, join};
use crate::text::{FileFaults, LARGEST_SHEET_BYTES, Lines};

/// A sheet as a form.
#[derive(Debug, Clone, PartialEq)]
pub struct Form {
    /// A group a section or entry.
    pub groups: Vec<FormGroup>,
}

/// A section or an entry of a list.
#[derive(Debug, Clone, PartialEq)]
pub struct FormGroup {
    /// Title for people, such as `Bucket T75`.
    pub title: String,
    /// Path of the section.
    pub path: String,
    /// Its fields.
    pub fields: Vec<FormField>,
}

/// A field of the form.
#[derive(Debug, Clone, PartialEq)]
pub struct FormField {
    /// Path of the value; faults about it have this path or one that begins with it.
    pub path: String,
    /// Label for people.
    pub label: String,
    /// Unit of the value and its sd; empty where it has none.
    pub unit: &'static str,
    /// What to offer for editing.
    pub kind: FieldKind,
    /// Words to choose from, with their labels.
    pub choices: Vec<(&'static str, &'static str)>,
    /// The value as it stands.
    pub value: Given,
    /// Its standard uncertainty, if stated.
    pub sd: Option<f64>,
    /// True where a standard uncertainty may be stated.
    pub has_sd: bool,
    /// True where the value must be there.
    pub needed: bool,
    /// How to find the value.
    pub help: &'static str,
}

/// What to offer for editing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FieldKind {
    /// A number.
    Number,
    /// Text; a list of points is text in TOML's brackets.
    Text,
    /// A word of a list.
    Choice,
}

/// A value as it stands in a form.
#[derive(Debug, Clone, PartialEq)]
pub enum Given {
    /// Nothing: the field is empty.
    Nothing,
    /// A number in the sheet's unit.
    Number(f64),
    /// Text, or what stands where a number should.
    Text(String),
}

type Item<'i> = Spanned<DeValue<'i>>;

/// The form of a sheet. What is not TOML in it is left out; the reader tells that, and a text too large.
pub fn form(text: &str) -> Form {
    if LARGEST_SHEET_BYTES < text.len() {
        return Form { groups: Vec::new() };
    }
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let lines = Lines::of(text);
    let broken = syntax::note(&mut FileFaults::none("", &lines), text);
    let mended = broken.blanked(text);
    let (table, _) = DeTable::parse_recoverable(&mended);
    let table = table.get_ref();
    let mut making = Making {
        text,
        units: Units::stated(table),
        groups: Vec::new(),
    };
    for field in SHEET.fields {
        making.top(field, table.get(field.key));
    }
    Form {
        groups: making.groups,
    }
}

struct Making<'a> {
    text: &'a str,
    units: Units,
    groups: Vec<FormGroup>,
}

impl Making<'_> {
    fn top(&mut self, field: &Field, value: Option<&Item<'_>>) {
        match (field.kind, value.map(Spanned::get_ref)) {
            (Kind::Inside(of), Some(DeValue::Table(inside))) => {
                self.group(of.title.to_owned(), field.key.to_owned(), of, Some(inside));
            }
            (Kind::Inside(of), None) if matches!(field.need, Need::Must) => {
                self.group(of.title.to_owned(), field.key.to_owned(), of, None);
            }
            (Kind::List { of, named_by, .. }, Some(DeValue::Array(entries))) => {
                for (idx, entry) in entries.iter().take(MOST_ENTRIES).enumerate() {
                    let DeValue::Table(inside) = entry.get_ref() else {
                        continue;
                    };
                    let name = entry_name(entry.get_ref(), named_by);
                    let title = title_of(of, inside, name.as_deref(), idx);
                    let path = entry_path(field.key, name.as_deref(), idx);
                    self.group(title, path, of, Some(inside));
                }
            }
            _ => {}
        }
    }

    fn group(&mut self, title: String, path: String, of: &Section, table: Option<&DeTable<'_>>) {
        let mut fields = Vec::new();
        self.section(of, table, &path, "", &mut fields);
        self.groups.push(FormGroup {
            title,
            path,
            fields,
        });
    }

    fn section(
        &self,
        of: &Section,
        table: Option<&DeTable<'_>>,
        path: &str,
        before: &str,
        out: &mut Vec<FormField>,
    ) {
        let get = |key: &str| table.and_then(|t| t.get(key));
        let beside = of
            .fields
            .iter()
            .any(|f| matches!(f.kind, Kind::PointSd { .. }));
        for field in of.fields {
            let value = get(field.key);
            if !is_shown(field, table) {
                continue;
            }
            let path = join(path, field.key);
            let label = format!("{before}{}", field.label);
            match (field.kind, value.map(Spanned::get_ref)) {
                (Kind::Inside(of), Some(DeValue::Table(inside))) => {
                    self.section(of, Some(inside), &path, &format!("{label}: "), out);
                }
                (Kind::InsideOr { of, .. }, Some(DeValue::Table(inside))) => {
                    self.section(of, Some(inside), &path, &format!("{label}: "), out);
                }
                (Kind::List { of, named_by, .. }, Some(DeValue::Array(entries))) => {
                    for (idx, entry) in entries.iter().take(MOST_ENTRIES).enumerate() {
                        let DeValue::Table(inside) = entry.get_ref() else {
                            continue;
                        };
                        let name = entry_name(entry.get_ref(), named_by);
                        let path = entry_path(&path, name.as_deref(), idx);
                        let before =
                            format!("{} {}: ", of.title, name.unwrap_or(format!("{}", idx + 1)));
                        self.section(of, Some(inside), &path, &before, out);
                    }
                }
                (Kind::Inside(_) | Kind::List { .. } | Kind::PointSd { .. }, _) => {}
                (Kind::Two(..) | Kind::Three, _) if field.key == "at" && beside => {
                    self.axes(field, value, get("sd"), true, &path, &label, out);
                }
                _ => self.leaf(field, value, &path, &label, out),
            }
        }
    }

    fn leaf(
        &self,
        field: &Field,
        value: Option<&Item<'_>>,
        path: &str,
        label: &str,
        out: &mut Vec<FormField>,
    ) {
        let one = |kind, value| FormField {
            path: path.to_owned(),
            label: label.to_owned(),
            unit: self.unit(field.kind),
            kind,
            choices: Vec::new(),
            value,
            sd: None,
            has_sd: false,
            needed: !matches!(field.need, Need::May),
            help: field.help,
        };
        let inner = |key: &str| match value.map(Spanned::get_ref) {
            Some(DeValue::Table(table)) => table.get(key),
            _ => None,
        };
        match field.kind {
            Kind::Choice(words) => out.push(FormField {
                choices: words.words(),
                ..one(FieldKind::Choice, self.given(value))
            }),
            Kind::Sign => out.push(FormField {
                choices: vec![("1", "1"), ("-1", "-1")],
                ..one(FieldKind::Choice, self.as_words(value))
            }),
            Kind::Number(_) | Kind::Whole { .. } => {
                out.push(one(FieldKind::Number, self.given(value)));
            }
            Kind::Measured(_) => {
                let figure = inner("value").or(value);
                let sd = inner("sd").and_then(|v| number_of(v.get_ref()));
                let field = one(FieldKind::Number, self.given(figure));
                out.push(FormField {
                    sd,
                    has_sd: true,
                    ..field
                });
            }
            Kind::PlanePoint | Kind::SpacePoint => {
                self.axes(
                    field,
                    inner("at").or(value),
                    inner("sd"),
                    true,
                    path,
                    label,
                    out,
                );
            }
            Kind::Two(..) | Kind::Three => {
                self.axes(field, value, None, false, path, label, out);
            }
            _ => out.push(one(FieldKind::Text, self.as_words(value))),
        }
    }

    /// A field an axis of a point.
    #[allow(clippy::too_many_arguments)] // a field's parts, in one place
    fn axes(
        &self,
        field: &Field,
        at: Option<&Item<'_>>,
        sd: Option<&Item<'_>>,
        has_sd: bool,
        path: &str,
        label: &str,
        out: &mut Vec<FormField>,
    ) {
        for (idx, axis) in axes_of(field.kind).iter().enumerate() {
            let value = match at.map(Spanned::get_ref) {
                Some(DeValue::Array(items)) => self.given(items.get(idx)),
                _ => self.given(at),
            };
            let sd = match sd.map(Spanned::get_ref) {
                Some(DeValue::Array(items)) => items.get(idx).and_then(|v| number_of(v.get_ref())),
                Some(one) => number_of(one),
                None => None,
            };
            out.push(FormField {
                path: join(path, axis),
                label: format!("{label}, {axis}"),
                unit: self.unit(field.kind),
                kind: FieldKind::Number,
                choices: Vec::new(),
                value,
                sd,
                has_sd,
                needed: !matches!(field.need, Need::May),
                help: field.help,
            });
        }
    }

    fn given(&self, value: Option<&Item<'_>>) -> Given {
        let Some(value) = value else {
            return Given::Nothing;
        };
        match (value.get_ref(), number_of(value.get_ref())) {
            (_, Some(number)) if number.is_finite() => Given::Number(number),
            (DeValue::Float(_), Some(_)) => Given::Nothing, // NaN and infinities are no values
            (DeValue::String(text), _) => Given::Text(text.to_string()),
            _ => self.as_words(Some(value)),
        }
    }

    /// The value as it stands in the text; strings without their quotation marks.
    fn as_words(&self, value: Option<&Item<'_>>) -> Given {
        let Some(value) = value else {
            return Given::Nothing;
        };
        match value.get_ref() {
            DeValue::String(text) => Given::Text(text.to_string()),
            _ => Given::Text(self.text.get(value.span()).unwrap_or("").to_owned()),
        }
    }

    fn unit(&self, kind: Kind) -> &'static str {
        match kind {
            Kind::Number(dim) | Kind::Measured(dim) | Kind::Two(dim, _) | Kind::Numbers(dim) => {
                self.units.word(dim)
            }
            Kind::PlanePoint
            | Kind::SpacePoint
            | Kind::PointSd { .. }
            | Kind::Three
            | Kind::PlaneLine
            | Kind::SpaceLine => self.units.word(Dim::Length),
            _ => "",
        }
    }
}

/// The axes of a point, as the last step of a path names them.
pub fn axes_of(kind: Kind) -> &'static [&'static str] {
    match kind {
        Kind::Two(_, ["x", "z"]) | Kind::PlanePoint => &["x", "z"],
        Kind::Two(..) => &["min", "max"],
        Kind::Three | Kind::SpacePoint => &["x", "y", "z"],
        _ => &[],
    }
}

fn is_shown(field: &Field, table: Option<&DeTable<'_>>) -> bool {
    let there = table.is_some_and(|t| t.contains_key(field.key));
    match field.need {
        Need::Must | Need::May => true,
        Need::When { key, words } => {
            let word = table.and_then(|t| t.get(key)).map(Spanned::get_ref);
            there || matches!(word, Some(DeValue::String(w)) if words.contains(&w.as_ref()))
        }
    }
}

/// The title of an entry: its own name, else the word that tells it from the others.
fn title_of(of: &Section, table: &DeTable<'_>, name: Option<&str>, idx: usize) -> String {
    let word = ["part", "moves", "joint"]
        .iter()
        .find_map(|key| match table.get(*key)?.get_ref() {
            DeValue::String(word) => Some(word.to_string()),
            _ => None,
        });
    match name.map(str::to_owned).or(word) {
        Some(name) => format!("{} {name}", of.title),
        None => format!("{} {}", of.title, idx + 1),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const DEMO: &str = include_str!("../../../../demo/demo-23.machine.toml");

    fn field(text: &str, path: &str) -> FormField {
        let form = form(text);
        let found = form
            .groups
            .into_iter()
            .flat_map(|g| g.fields)
            .find(|f| f.path == path);
        found.unwrap_or_else(|| panic!("no field {path}"))
    }

    #[test]
    fn values_stand_in_their_fields() {
        let stick = field(DEMO, "stick.length");
        assert_eq!(stick.label, "Stick, pin B to pin C");
        assert_eq!((stick.unit, stick.kind), ("m", FieldKind::Number));
        assert_eq!(
            (stick.value, stick.sd, stick.has_sd),
            (Given::Number(2.94), Some(0.003), true)
        );
        let foot = field(DEMO, "boom.foot.y");
        assert_eq!((foot.value, foot.sd), (Given::Number(-0.045), Some(0.003)));
        let tooth = field(DEMO, "bucket[T75].tooth[right].at.y");
        assert_eq!(tooth.label, "Tooth point right: Tip, y");
        assert_eq!(
            (tooth.value, tooth.sd),
            (Given::Number(-0.375), Some(0.004))
        );
        let kind = field(DEMO, "boom.kind");
        assert_eq!(
            (kind.kind, kind.value),
            (FieldKind::Choice, Given::Text("mono".into()))
        );
        assert_eq!(
            field(DEMO, "cylinder[3].rod").value,
            Given::Text("E".into())
        );
        assert_eq!(field(DEMO, "house.eye.x").sd, None);
        assert_eq!(
            field(DEMO, "solid[10].sector.z.max").value,
            Given::Number(2.15)
        );
        assert_eq!(field(DEMO, "coupler[QC-demo].rotation").unit, "deg");
    }

    #[test]
    fn a_sheet_with_faults_is_shown_all_the_same() {
        let spoilt = DEMO.replacen(
            "length = { value = 2.940, sd = 0.003 }",
            "length = \"2,94\"",
            1,
        );
        assert_eq!(
            field(&spoilt, "stick.length").value,
            Given::Text("2,94".into())
        );
        let broken = DEMO.replacen("[stick]\nlength", "[stick]\nlength = = 1", 1);
        assert_eq!(field(&broken, "stick.length").value, Given::Nothing);
        assert_eq!(field(&broken, "linkage.ear").value, Given::Number(0.44));
        assert_eq!(field("", "stick.length").value, Given::Nothing);
    }

    #[test]
    fn groups_follow_the_sheet() {
        let titles: Vec<String> = form(DEMO).groups.into_iter().map(|g| g.title).collect();
        assert_eq!(&titles[..3], ["Units of this sheet", "Machine", "House"]);
        assert!(titles.contains(&"Bucket G180".to_owned()));
        assert!(titles.contains(&"Cylinder stick".to_owned()));
    }
}
