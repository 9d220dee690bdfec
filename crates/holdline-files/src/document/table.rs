//! What a field of a sheet is: its key, its kind, whether it must be there, and the words for people.
//!
//! One table of these a format feeds the reader, the writer, the schema, and, for the machine sheet, the form and
//! the edits.

/// A section of a sheet, or an entry of a list.
#[derive(Debug)]
pub struct Section {
    /// Its title for people.
    pub title: &'static str,
    /// Its fields, in the order they are shown and written.
    pub fields: &'static [Field],
    /// Which of its keys go together.
    pub rule: Rule,
}

/// Which keys of a section go together, beyond what each field asks for by itself.
#[derive(Debug, Clone, Copy)]
pub enum Rule {
    /// Each stands for itself.
    Free,
    /// Of these keys exactly one must be there.
    OneOf(&'static [&'static str]),
    /// What must and may be there hangs on the word of one key.
    ByWord {
        /// The deciding key.
        key: &'static str,
        /// One entry a word.
        cases: &'static [Case],
    },
}

/// The keys that a word calls for; of the keys that any case names, a case must not have others.
#[derive(Debug)]
pub struct Case {
    /// The word of the deciding key.
    pub word: &'static str,
    /// Keys that must be there.
    pub must: &'static [&'static str],
    /// Keys that may be there.
    pub may: &'static [&'static str],
}

impl Case {
    /// True where this word has a use for the key.
    pub fn knows(&self, key: &str) -> bool {
        self.must.contains(&key) || self.may.contains(&key)
    }
}

/// The keys that some case names.
pub fn keys_of_cases(cases: &'static [Case]) -> Vec<&'static str> {
    let mut keys: Vec<&str> = Vec::new();
    for key in cases.iter().flat_map(|c| c.must.iter().chain(c.may)) {
        if !keys.contains(key) {
            keys.push(key);
        }
    }
    keys
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
    /// Free words on one line of at most [`LONGEST_LINE`](super::leaf::LONGEST_LINE) characters,
    /// such as a cell of a table can hold.
    Line,
    /// A list of free words.
    Texts,
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
    /// A point of the machine, in the words of [`crate::targets`].
    Target,
    /// So many points of the machine.
    Targets(usize),
    /// A number without uncertainty.
    Number(Dim),
    /// A standard uncertainty, above zero.
    Sd(Dim),
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
    /// A section inside, or a word in its place.
    InsideOr {
        /// What the section holds.
        of: &'static Section,
        /// The word.
        word: &'static str,
        /// Both, for people.
        in_words: &'static str,
    },
    /// Rows of bare numbers, each row one longer than the row before: what stands below a diagonal.
    Triangle,
    /// Numbers by names of the writer's own: what sensors read.
    Readings,
    /// A section inside.
    Inside(&'static Section),
    /// A list of sections.
    List {
        /// What each entry holds.
        of: &'static Section,
        /// The key that names an entry; empty where entries have no name of their own.
        named_by: &'static str,
        /// Most entries that can be meant.
        most: usize,
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
    /// In the unit that the entry itself states beside it.
    Beside,
    /// A length or an angle; which one, the entry itself states beside it.
    LengthOrAngle,
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
            Kind::Line => "text on one line, in quotation marks".to_owned(),
            Kind::Texts => "a list of texts in quotation marks".to_owned(),
            Kind::Date => "a date, year-month-day".to_owned(),
            Kind::Whole { min, max } => format!("a whole number, {min} to {max}"),
            Kind::Sign => "1 or -1".to_owned(),
            Kind::Choice(words) => {
                let words: Vec<&str> = words.words().into_iter().map(|(w, _)| w).collect();
                format!("one of: {}", words.join(", "))
            }
            Kind::Targets(n) => format!("a list of {n} points: {}", crate::targets::IN_WORDS),
            Kind::Target => crate::targets::IN_WORDS.to_owned(),
            Kind::Number(dim) => format!("a number in {}", unit(*dim)),
            Kind::Sd(dim) => format!("a number above 0 in {}", unit(*dim)),
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
            Kind::InsideOr { in_words, .. } => (*in_words).to_owned(),
            Kind::Triangle => "rows of numbers, each one longer than the row before".to_owned(),
            Kind::Readings => format!(
                "names and numbers such as {{ boom = 28.9 }}, in {} and {m}",
                unit(Dim::Angle)
            ),
            Kind::Inside(_) => "a section".to_owned(),
            Kind::List { .. } => "a list of sections".to_owned(),
        }
    }
}

/// What a word stands for.
pub fn meaning<T: Copy>(words: &[Word<T>], word: &str) -> Option<T> {
    words.iter().find(|w| w.word == word).map(|w| w.means)
}

/// The word for a meaning.
pub fn word_for<T: PartialEq>(words: &[Word<T>], means: &T) -> &'static str {
    words
        .iter()
        .find(|w| w.means == *means)
        .map_or("", |w| w.word)
}
