//! What a field of a sheet is: its key, its kind, whether it must be there, and the words for people.
//!
//! One table of these ([`super::fields`]) feeds the reader, the writer, the schema, the form and the edits.

/// A section of a sheet, or an entry of a list.
#[derive(Debug)]
pub struct Section {
    /// Its title for people.
    pub title: &'static str,
    /// Its fields, in the order they are shown and written.
    pub fields: &'static [Field],
    /// Where not empty: of these keys exactly one must be there.
    pub one_of: &'static [&'static str],
}

/// A field: a key and what may stand behind it.
#[derive(Debug)]
pub struct Field {
    /// Its key.
    pub key: &'static str,
    /// What it is, in the words of the trade.
    pub label: &'static str,
    /// How to find the value; may be empty.
    pub help: &'static str,
    /// Whether it must be there.
    pub need: Need,
    /// What may stand there.
    pub kind: Kind,
}

/// Whether a field must be there.
#[derive(Debug, Clone, Copy)]
pub enum Need {
    /// Always.
    Must,
    /// It may be left out.
    May,
    /// It must be there if the field `key` beside it says one of `words`, and must not be there otherwise.
    When {
        /// The deciding field.
        key: &'static str,
        /// The words that call for this one.
        words: &'static [&'static str],
    },
}

/// What may stand behind a key.
#[derive(Debug, Clone, Copy)]
pub enum Kind {
    /// A short name without brackets or control characters, unique in its list.
    Name,
    /// Free words.
    Text,
    /// A date, year-month-day.
    Date,
    /// A whole number within bounds.
    Whole {
        /// Least.
        min: u32,
        /// Largest.
        max: u32,
    },
    /// +1 or −1.
    Sign,
    /// A word from a list.
    Choice(&'static dyn Words),
    /// A number without uncertainty.
    Number(Dim),
    /// A number, or a number and its sd.
    Measured(Dim),
    /// `[x, z]`, or `{ at = [x, z], sd = … }`.
    PlanePoint,
    /// `[x, y, z]`, or `{ at = [x, y, z], sd = … }`.
    SpacePoint,
    /// Sd of the point beside it: one number, or one an axis.
    PointSd {
        /// Axes of the point.
        n: usize,
    },
    /// Bare `[a, b]`, with a word for each.
    Two(Dim, [&'static str; 2]),
    /// Bare `[x, y, z]`.
    Three,
    /// A list of numbers.
    Numbers(Dim),
    /// A list of `[x, z]`.
    PlaneLine,
    /// A list of `[x, y, z]`.
    SpaceLine,
    /// `{ link, at }`, or the word `E`.
    Pin,
    /// A section inside.
    Inside(&'static Section),
    /// A list of sections.
    List {
        /// What each entry holds.
        of: &'static Section,
        /// The key that names an entry; empty where entries have no name of their own.
        named_by: &'static str,
    },
}

/// What a number measures; the sheet's units turn it into metres, radians and kilograms.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Dim {
    /// A length.
    Length,
    /// An angle.
    Angle,
    /// A mass.
    Mass,
    /// A time in milliseconds, whatever the units; the key says so.
    Milliseconds,
}

/// A word of a choice and what it stands for inside.
#[derive(Debug)]
pub struct Word<T> {
    /// As written in the sheet.
    pub word: &'static str,
    /// As shown to people.
    pub label: &'static str,
    /// What it stands for.
    pub means: T,
}

/// A list of words, whatever they stand for.
pub trait Words: Sync + std::fmt::Debug {
    /// Word and label, in order.
    fn words(&self) -> Vec<(&'static str, &'static str)>;
}

impl<T: Sync + std::fmt::Debug, const N: usize> Words for [Word<T>; N] {
    fn words(&self) -> Vec<(&'static str, &'static str)> {
        self.iter().map(|w| (w.word, w.label)).collect()
    }
}

/// A field that must be there.
pub const fn must(key: &'static str, label: &'static str, kind: Kind) -> Field {
    Field {
        key,
        label,
        help: "",
        need: Need::Must,
        kind,
    }
}

/// A field that may be left out.
pub const fn may(key: &'static str, label: &'static str, kind: Kind) -> Field {
    Field {
        key,
        label,
        help: "",
        need: Need::May,
        kind,
    }
}

impl Field {
    /// The same, with words on how to find the value.
    pub const fn help(self, help: &'static str) -> Field {
        Field { help, ..self }
    }

    /// The same, called for by the words of the field beside it.
    pub const fn when(self, key: &'static str, words: &'static [&'static str]) -> Field {
        Field {
            need: Need::When { key, words },
            ..self
        }
    }
}

impl Section {
    /// The field with this key.
    pub fn field(&self, key: &str) -> Option<&'static Field> {
        self.fields.iter().find(|f| f.key == key)
    }
}

impl Kind {
    /// What would do, in words; `unit` says what a number of a dimension is in.
    pub fn in_words(&self, unit: &dyn Fn(Dim) -> String) -> String {
        let m = unit(Dim::Length);
        let point = |axes: &str| format!("{axes} in {m}, or {{ at = {axes}, sd = … }}");
        match self {
            Kind::Name => "a short name in quotation marks".to_owned(),
            Kind::Text => "text in quotation marks".to_owned(),
            Kind::Date => "a date, year-month-day".to_owned(),
            Kind::Whole { min, max } => format!("a whole number, {min} to {max}"),
            Kind::Sign => "1 or -1".to_owned(),
            Kind::Choice(words) => {
                let words: Vec<&str> = words.words().into_iter().map(|(w, _)| w).collect();
                format!("one of: {}", words.join(", "))
            }
            Kind::Number(dim) => format!("a number in {}", unit(*dim)),
            Kind::Measured(dim) => {
                format!("a number in {}, or {{ value = …, sd = … }}", unit(*dim))
            }
            Kind::PlanePoint => point("[x, z]"),
            Kind::SpacePoint => point("[x, y, z]"),
            Kind::PointSd { n } => format!("one number, or {n}: one an axis, in {m}"),
            Kind::Two(dim, _) => format!("two numbers in {}, such as [1.0, 2.0]", unit(*dim)),
            Kind::Three => format!("[x, y, z] in {m}"),
            Kind::Numbers(dim) => format!("a list of numbers in {}", unit(*dim)),
            Kind::PlaneLine => format!("a list of points [x, z] in {m}"),
            Kind::SpaceLine => format!("a list of points [x, y, z] in {m}"),
            Kind::Pin => {
                "{ link = …, at = [x, z] }, or \"E\" for the pin of the bucket linkage".to_owned()
            }
            Kind::Inside(_) => "a section".to_owned(),
            Kind::List { .. } => "a list of sections".to_owned(),
        }
    }
}
