//! A sheet that has been read by its table: keys and values in SI, before they become a claim.

use std::collections::BTreeMap;

use holdline::machine::claim::{PlanePoint, SpacePoint};
use holdline_geom::measured::Measured;

use super::table::{Word, meaning};

/// A value of a field; lengths in metres, angles in radians, masses in kilograms, times in seconds.
#[derive(Debug, Clone, PartialEq)]
pub enum Value {
    /// Name, text, date or word.
    Text(String),
    /// Number, whole number or sign.
    Number(f64),
    /// Number with or without sd.
    Measured(Measured),
    /// Point in a plane.
    Plane(PlanePoint),
    /// Point in space.
    Space(SpacePoint),
    /// A list of numbers, of any length.
    Numbers(Vec<f64>),
    /// A list of plane points.
    PlaneLine(Vec<[f64; 2]>),
    /// A list of points in space.
    SpaceLine(Vec<[f64; 3]>),
    /// A list of texts.
    Texts(Vec<String>),
    /// Rows of numbers.
    Rows(Vec<Vec<f64>>),
    /// Numbers by their names.
    Named(Vec<(String, f64)>),
    /// A section.
    Inside(Node),
    /// A list of sections.
    List(Vec<Node>),
}

/// The values of a section that could be used.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Node {
    values: BTreeMap<&'static str, Value>,
}

impl Node {
    /// Notes a value.
    pub fn set(&mut self, key: &'static str, value: Value) {
        self.values.insert(key, value);
    }

    /// Notes a value if there is one.
    pub fn set_some(&mut self, key: &'static str, value: Option<Value>) {
        if let Some(value) = value {
            self.set(key, value);
        }
    }

    /// The same section with one more value.
    #[must_use]
    pub fn with(mut self, key: &'static str, value: Value) -> Node {
        self.set(key, value);
        self
    }

    /// The same section, with one more value if there is one.
    #[must_use]
    pub fn with_some(mut self, key: &'static str, value: Option<Value>) -> Node {
        self.set_some(key, value);
        self
    }

    /// The same section with the bare point `at` and, where every axis has one, the `sd` beside it.
    #[must_use]
    pub fn with_point<const N: usize>(self, axes: [Measured; N]) -> Node {
        let sds: Option<Vec<f64>> = axes.iter().map(|m| m.sd).collect();
        self.with("at", Value::Numbers(axes.iter().map(|m| m.value).collect()))
            .with_some("sd", sds.map(Value::Numbers))
    }

    /// The value of a field.
    pub fn get(&self, key: &str) -> Option<&Value> {
        self.values.get(key)
    }

    /// A text, if there.
    pub fn text(&self, key: &str) -> Option<String> {
        match self.get(key)? {
            Value::Text(text) => Some(text.clone()),
            _ => None,
        }
    }

    /// What a word stands for, if there.
    pub fn word<T: Copy>(&self, key: &str, words: &[Word<T>]) -> Option<T> {
        meaning(words, &self.text(key)?)
    }

    /// A number, if there.
    pub fn number(&self, key: &str) -> Option<f64> {
        match self.get(key)? {
            Value::Number(number) => Some(*number),
            _ => None,
        }
    }

    /// A measured value, if there.
    pub fn measured(&self, key: &str) -> Option<Measured> {
        match self.get(key)? {
            Value::Measured(measured) => Some(*measured),
            _ => None,
        }
    }

    /// A point in a plane, if there.
    pub fn plane(&self, key: &str) -> Option<PlanePoint> {
        match self.get(key)? {
            Value::Plane(point) => Some(*point),
            _ => None,
        }
    }

    /// A point in space, if there.
    pub fn space(&self, key: &str) -> Option<SpacePoint> {
        match self.get(key)? {
            Value::Space(point) => Some(*point),
            _ => None,
        }
    }

    /// Exactly `N` numbers, if there.
    pub fn numbers_n<const N: usize>(&self, key: &str) -> Option<[f64; N]> {
        match self.get(key)? {
            Value::Numbers(numbers) => numbers.as_slice().try_into().ok(),
            _ => None,
        }
    }

    /// The bare point `at` with the `sd` beside it, if stated.
    pub fn point_with_sd<const N: usize>(&self) -> Option<[Measured; N]> {
        let at = self.numbers_n::<N>("at")?;
        let sd = self.numbers_n::<N>("sd");
        Some(std::array::from_fn(|i| Measured {
            value: at[i],
            sd: sd.map(|sd| sd[i]),
        }))
    }

    /// A list of numbers, if there.
    pub fn numbers(&self, key: &str) -> Option<Vec<f64>> {
        match self.get(key)? {
            Value::Numbers(numbers) => Some(numbers.clone()),
            _ => None,
        }
    }

    /// Plane points; none where the field was left out.
    pub fn plane_line(&self, key: &str) -> Vec<[f64; 2]> {
        match self.get(key) {
            Some(Value::PlaneLine(points)) => points.clone(),
            _ => Vec::new(),
        }
    }

    /// Points in space; none where the field was left out.
    pub fn space_line(&self, key: &str) -> Vec<[f64; 3]> {
        match self.get(key) {
            Some(Value::SpaceLine(points)) => points.clone(),
            _ => Vec::new(),
        }
    }

    /// Texts; none where the field was left out.
    pub fn texts(&self, key: &str) -> Vec<String> {
        match self.get(key) {
            Some(Value::Texts(texts)) => texts.clone(),
            _ => Vec::new(),
        }
    }

    /// Rows of numbers; none where the field was left out.
    pub fn rows(&self, key: &str) -> Vec<Vec<f64>> {
        match self.get(key) {
            Some(Value::Rows(rows)) => rows.clone(),
            _ => Vec::new(),
        }
    }

    /// Numbers by their names; none where the field was left out.
    pub fn named(&self, key: &str) -> Vec<(String, f64)> {
        match self.get(key) {
            Some(Value::Named(named)) => named.clone(),
            _ => Vec::new(),
        }
    }

    /// A section inside, if there.
    pub fn inside(&self, key: &str) -> Option<&Node> {
        match self.get(key)? {
            Value::Inside(node) => Some(node),
            _ => None,
        }
    }

    /// The entries of a list; none where it was left out.
    pub fn list(&self, key: &str) -> &[Node] {
        match self.get(key) {
            Some(Value::List(nodes)) => nodes,
            _ => &[],
        }
    }
}
