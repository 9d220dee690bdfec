//! Single values of a sheet: words, numbers, measured values, points and lists of points.

use holdline::machine::claim::{PlanePoint, SpacePoint};
use holdline_geom::fault::{Fault, Span, number};
use holdline_geom::measured::Measured;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::node::Value;
use super::table::{Dim, Field, Kind};
use super::walk::{Walk, join, said};
use crate::readings::wants::Dimension;
use crate::targets::{read_target, target_word};
use crate::text::{nearest, quoted};

/// Most points of a line, most numbers of a list.
pub const MOST_POINTS: usize = 500;
/// Longest free text, characters.
pub const LONGEST_TEXT: usize = 2000;
/// Longest text on one line, characters: what a cell of a table may hold.
pub const LONGEST_LINE: usize = 200;
/// Longest name, characters.
pub const LONGEST_NAME: usize = 60;

type Item<'i> = Spanned<DeValue<'i>>;

impl Walk<'_> {
    /// Reads a single value by its field's kind. `None` where it cannot be used; the fault is noted.
    pub fn leaf(&mut self, field: &Field, value: &Item<'_>, path: &str) -> Option<Value> {
        let offset = value.span().start;
        match (field.kind, value.get_ref()) {
            (Kind::Name | Kind::Line | Kind::Target | Kind::Choice(_), DeValue::String(text)) => {
                self.word(field, text, path, offset)
            }
            (Kind::Text, DeValue::String(text)) => self.text(text, path, offset),
            (Kind::Texts, DeValue::Array(items)) => self.texts(field, items, path, offset),
            (Kind::Targets(n), DeValue::Array(items)) if items.len() == n => {
                self.targets(field, items, path, offset)
            }
            (Kind::Triangle, DeValue::Array(items)) => self.triangle(field, items, path, offset),
            (Kind::Readings, DeValue::Table(table)) => self.readings(field, table, path),
            (Kind::Date, DeValue::String(text)) => self.date(text, path, offset),
            (Kind::Date, DeValue::Datetime(date)) => self.date(&date.to_string(), path, offset),
            (Kind::Whole { min, max }, _) => {
                let got = self.bare(field, value, path)?;
                let whole = got.fract() == 0.0 && f64::from(min) <= got && got <= f64::from(max);
                if whole {
                    Some(Value::Number(got))
                } else {
                    self.not_in(field, got, path, offset)
                }
            }
            (Kind::Sign, _) => {
                let got = self.bare(field, value, path)?;
                if got == 1.0 || got == -1.0 {
                    Some(Value::Number(got))
                } else {
                    self.not_in(field, got, path, offset)
                }
            }
            (Kind::Number(dim), _) => self.scaled(field, dim, value, path).map(Value::Number),
            (Kind::Sd(dim), _) => self.sd(field, dim, value, path).map(Value::Number),
            (Kind::Measured(dim), _) => self.measured(field, dim, value, path).map(Value::Measured),
            (Kind::PlanePoint, _) => self
                .point(field, value, path)
                .map(|[x, z]| Value::Plane(PlanePoint { x, z })),
            (Kind::SpacePoint, _) => self
                .point(field, value, path)
                .map(|[x, y, z]| Value::Space(SpacePoint { x, y, z })),
            (Kind::PointSd { n: 2 }, _) => self
                .point_sd::<2>(field, value, path)
                .map(|sd| Value::Numbers(sd.to_vec())),
            (Kind::PointSd { .. }, _) => self
                .point_sd::<3>(field, value, path)
                .map(|sd| Value::Numbers(sd.to_vec())),
            (Kind::Two(dim, _), _) => self
                .numbers_n::<2>(field, dim, value, path)
                .map(|n| Value::Numbers(n.to_vec())),
            (Kind::Three, _) => self
                .numbers_n::<3>(field, Dim::Length, value, path)
                .map(|n| Value::Numbers(n.to_vec())),
            (Kind::Numbers(dim), DeValue::Array(items)) => self
                .many(items, path, offset, |walk, item, at| {
                    walk.scaled(field, dim, item, at)
                })
                .map(Value::Numbers),
            (Kind::PlaneLine, DeValue::Array(items)) => self
                .many(items, path, offset, |walk, item, at| {
                    walk.numbers_n::<2>(field, Dim::Length, item, at)
                })
                .map(Value::PlaneLine),
            (Kind::SpaceLine, DeValue::Array(items)) => self
                .many(items, path, offset, |walk, item, at| {
                    walk.numbers_n::<3>(field, Dim::Length, item, at)
                })
                .map(Value::SpaceLine),
            (_, other) => self.wrong_kind(field, other, path, offset),
        }
    }

    /// A text that is a value by itself.
    fn word(&mut self, field: &Field, text: &str, path: &str, offset: usize) -> Option<Value> {
        match text_value(field, path, text) {
            Ok(value) => Some(value),
            Err(fault) => {
                self.faults.push(offset, fault);
                None
            }
        }
    }

    fn text(&mut self, text: &str, path: &str, offset: usize) -> Option<Value> {
        let n_chars = text.chars().count();
        if n_chars <= LONGEST_TEXT {
            return Some(Value::Text(text.to_owned()));
        }
        let (got, want) = (
            format!("{n_chars} characters"),
            format!("{LONGEST_TEXT} at most"),
        );
        self.faults
            .push(offset, Fault::new("F020", path, got, want, "shorten it"));
        None
    }

    fn texts(
        &mut self,
        field: &Field,
        items: &[Item<'_>],
        path: &str,
        offset: usize,
    ) -> Option<Value> {
        self.many(items, path, offset, |walk, item, at| {
            let offset = item.span().start;
            match item.get_ref() {
                DeValue::String(text) => match walk.text(text, at, offset)? {
                    Value::Text(text) => Some(text),
                    _ => None,
                },
                other => walk.wrong_kind(field, other, at, offset),
            }
        })
        .map(Value::Texts)
    }

    fn targets(
        &mut self,
        field: &Field,
        items: &[Item<'_>],
        path: &str,
        offset: usize,
    ) -> Option<Value> {
        self.many(items, path, offset, |walk, item, at| {
            let offset = item.span().start;
            let DeValue::String(text) = item.get_ref() else {
                return walk.wrong_kind(field, item.get_ref(), at, offset);
            };
            match read_target(at, text) {
                Ok(target) => Some(target_word(&target)),
                Err(fault) => {
                    walk.faults.push(offset, fault);
                    None
                }
            }
        })
        .map(Value::Texts)
    }

    fn triangle(
        &mut self,
        field: &Field,
        items: &[Item<'_>],
        path: &str,
        offset: usize,
    ) -> Option<Value> {
        let rows = self.many(items, path, offset, |walk, row, at| {
            let offset = row.span().start;
            let DeValue::Array(numbers) = row.get_ref() else {
                return walk.wrong_kind(field, row.get_ref(), at, offset);
            };
            walk.many(numbers, at, offset, |walk, item, at| {
                walk.bare(field, item, at)
            })
        })?;
        if let Some((idx, row)) = (rows.iter().enumerate()).find(|(i, r)| r.len() != i + 1) {
            let got = format!("a row of {}", row.len());
            let want = format!("{} here: one for each row above it, and one", idx + 1);
            let fix = "put back what is missing; each row has one number more than the row before";
            let at = format!("{path}[{}]", idx + 1);
            self.faults.push(
                items[idx].span().start,
                Fault::new("F111", at, got, want, fix),
            );
            return None;
        }
        Some(Value::Rows(rows))
    }

    /// Readings in the order of the names that are known, so that the same readings are the same list.
    fn readings(&mut self, field: &Field, table: &DeTable<'_>, path: &str) -> Option<Value> {
        let known = self.readings;
        let mut found: Vec<(usize, f64)> = Vec::new();
        let mut all_read = true;
        for (key, value) in table.iter() {
            let name = key.get_ref().as_ref();
            let at = join(path, quoted(name).trim_matches('"'));
            let Some(idx) = known.iter().position(|r| r.name == name) else {
                let names = known.iter().map(|r| r.name.as_str());
                self.faults
                    .push(key.span().start, unknown_reading(&at, name, names));
                all_read = false;
                continue;
            };
            let quantity = known[idx].quantity;
            let dim = match quantity.dimension() {
                Dimension::Angle => Dim::Angle,
                Dimension::Length => Dim::Length,
            };
            let read = self.scaled(field, dim, value, &at).filter(|si| {
                let fault = check_span(quantity.plausible(), &at, *si).err();
                let fits = fault.is_none();
                if let Some(fault) = fault {
                    self.faults.push(value.span().start, fault);
                }
                fits
            });
            match read {
                Some(si) => found.push((idx, si)),
                None => all_read = false,
            }
        }
        found.sort_unstable_by_key(|(idx, _)| *idx);
        let named = found
            .into_iter()
            .map(|(idx, si)| (known[idx].name.clone(), si));
        all_read.then(|| Value::Named(named.collect()))
    }

    fn date(&mut self, text: &str, path: &str, offset: usize) -> Option<Value> {
        if is_date(text) {
            return Some(Value::Text(text.to_owned()));
        }
        self.faults.push(
            offset,
            Fault::new(
                "F021",
                path,
                quoted(text),
                "a date, year-month-day",
                "write it like 2025-12-01",
            ),
        );
        None
    }

    fn not_in<T>(&mut self, field: &Field, got: f64, path: &str, offset: usize) -> Option<T> {
        let want = self.wanted(field);
        self.faults.push(
            offset,
            Fault::new("F017", path, number(got), want, "correct the number"),
        );
        None
    }

    /// A finite number as it stands in the sheet.
    fn bare(&mut self, field: &Field, value: &Item<'_>, path: &str) -> Option<f64> {
        let offset = value.span().start;
        match number_of(value.get_ref()) {
            Some(got) if got.is_finite() => Some(got),
            Some(got) => {
                let want = self.wanted(field);
                let fix = "measure it, or leave it out if it may be left out";
                let got = match value.get_ref() {
                    DeValue::Integer(_) => said(value.get_ref()),
                    _ => number(got),
                };
                self.faults
                    .push(offset, Fault::new("F011", path, got, want, fix));
                None
            }
            None => self.wrong_kind(field, value.get_ref(), path, offset),
        }
    }

    /// A number in SI.
    fn scaled(&mut self, field: &Field, dim: Dim, value: &Item<'_>, path: &str) -> Option<f64> {
        let got = self.bare(field, value, path)?;
        let si = got * self.units.factor(dim);
        if si.is_finite() {
            return Some(si);
        }
        let want = self.wanted(field);
        let fix = "correct the number: it is too large for any machine";
        self.faults.push(
            value.span().start,
            Fault::new("F011", path, number(got), want, fix),
        );
        None
    }

    /// A standard uncertainty in SI: positive.
    fn sd(&mut self, field: &Field, dim: Dim, value: &Item<'_>, path: &str) -> Option<f64> {
        let sd = self.scaled(field, dim, value, path)?;
        if 0.0 < sd {
            return Some(sd);
        }
        let got = number_of(value.get_ref()).unwrap_or(sd);
        let want = match dim {
            Dim::Beside | Dim::LengthOrAngle => "a standard uncertainty above 0".to_owned(),
            _ => format!("a standard uncertainty above 0 {}", self.units.word(dim)),
        };
        let fix = "state the spread of repeated measurements";
        self.faults.push(
            value.span().start,
            Fault::new("F012", path, number(got), want, fix),
        );
        None
    }

    fn measured(
        &mut self,
        field: &Field,
        dim: Dim,
        value: &Item<'_>,
        path: &str,
    ) -> Option<Measured> {
        let DeValue::Table(table) = value.get_ref() else {
            return self
                .scaled(field, dim, value, path)
                .map(Measured::without_sd);
        };
        self.only(field, table, &["value", "sd"], path);
        let sd = table
            .get("sd")
            .map(|v| self.sd(field, dim, v, &join(path, "sd")));
        let figure = match table.get("value") {
            Some(v) => self.scaled(field, dim, v, &join(path, "value")),
            None => self.no_figure(field, "value", path, value.span().start),
        };
        match (figure, sd) {
            (Some(value), None) => Some(Measured::without_sd(value)),
            (Some(value), Some(Some(sd))) => Some(Measured::with_sd(value, sd)),
            (None, _) | (_, Some(None)) => None,
        }
    }

    fn point<const N: usize>(
        &mut self,
        field: &Field,
        value: &Item<'_>,
        path: &str,
    ) -> Option<[Measured; N]> {
        let DeValue::Table(table) = value.get_ref() else {
            let at = self.numbers_n::<N>(field, Dim::Length, value, path)?;
            return Some(at.map(Measured::without_sd));
        };
        self.only(field, table, &["at", "sd"], path);
        let sd = table
            .get("sd")
            .map(|v| self.point_sd::<N>(field, v, &join(path, "sd")));
        let at = match table.get("at") {
            Some(v) => self.numbers_n::<N>(field, Dim::Length, v, &join(path, "at")),
            None => self.no_figure(field, "at", path, value.span().start),
        };
        match (at, sd) {
            (Some(at), None) => Some(at.map(Measured::without_sd)),
            (Some(at), Some(Some(sd))) => {
                Some(std::array::from_fn(|i| Measured::with_sd(at[i], sd[i])))
            }
            (None, _) | (_, Some(None)) => None,
        }
    }

    /// One sd for all axes, or one an axis.
    fn point_sd<const N: usize>(
        &mut self,
        field: &Field,
        value: &Item<'_>,
        path: &str,
    ) -> Option<[f64; N]> {
        let DeValue::Array(items) = value.get_ref() else {
            return self.sd(field, Dim::Length, value, path).map(|sd| [sd; N]);
        };
        if items.len() != N {
            let got = format!("a list of {}", items.len());
            let want = format!("one number, or {N}: one an axis, in {}", self.units.length);
            let fault = Fault::new("F010", path, got, want, "correct the list");
            self.faults.push(value.span().start, fault);
            return None;
        }
        let sds: Vec<Option<f64>> = items
            .iter()
            .map(|item| self.sd(field, Dim::Length, item, path))
            .collect();
        all(sds)?.try_into().ok()
    }

    fn numbers_n<const N: usize>(
        &mut self,
        field: &Field,
        dim: Dim,
        value: &Item<'_>,
        path: &str,
    ) -> Option<[f64; N]> {
        match value.get_ref() {
            DeValue::Array(items) if items.len() == N => {
                let found: Vec<Option<f64>> = items
                    .iter()
                    .map(|item| self.scaled(field, dim, item, path))
                    .collect();
                all(found)?.try_into().ok()
            }
            other => self.wrong_kind(field, other, path, value.span().start),
        }
    }

    fn many<'i, T>(
        &mut self,
        items: &[Item<'i>],
        path: &str,
        offset: usize,
        mut read: impl FnMut(&mut Self, &Item<'i>, &str) -> Option<T>,
    ) -> Option<Vec<T>> {
        if MOST_POINTS < items.len() {
            self.too_many(path, offset, items.len(), MOST_POINTS);
            return None;
        }
        let found = items
            .iter()
            .enumerate()
            .map(|(idx, item)| read(self, item, &format!("{path}[{}]", idx + 1)))
            .collect();
        all(found)
    }

    fn no_figure<T>(&mut self, field: &Field, key: &str, path: &str, offset: usize) -> Option<T> {
        let want = self.wanted(field);
        let fault = Fault::new(
            "F009",
            join(path, key),
            "nothing",
            want,
            format!("add {key}"),
        );
        self.faults.push(offset, fault);
        None
    }

    fn only(&mut self, field: &Field, table: &DeTable<'_>, known: &[&str], path: &str) {
        for (key, _) in table
            .iter()
            .filter(|(k, _)| !known.contains(&k.get_ref().as_ref()))
        {
            let word = key.get_ref().as_ref();
            let fix = match nearest(word, known.iter().copied()) {
                Some(near) => {
                    format!("\"{near}\" is the nearest known key; correct it, or take it out")
                }
                None => "take it out; what holdline does not know it must not pass over".to_owned(),
            };
            let want = self.wanted(field);
            let fault = Fault::new("F008", path, format!("the key {}", quoted(word)), want, fix);
            self.faults.push(key.span().start, fault);
        }
    }
}

/// A reading that no sensor or antenna gives.
fn unknown_reading<'k>(at: &str, name: &str, known: impl Iterator<Item = &'k str>) -> Fault {
    let fix = match nearest(name, known) {
        Some(near) => format!("\"{near}\" is the nearest known name; correct it, or take it out"),
        None => {
            "use the names of the machine sheet's sensors and antennas, or those of a display's columns"
                .to_owned()
        }
    };
    let want =
        "a reading such as boom, pitch, heading, a sensor's name, or GL_easting of the antenna GL";
    let got = format!("the reading {}", quoted(name));
    Fault::new("F107", at, got, want, fix)
}

/// `value`, in metres or radians, against a row in metres or degrees. NaN fails.
///
/// # Errors
///
/// F106.
pub fn check_span(span: &Span, at: &str, value: f64) -> Result<(), Fault> {
    let shown = match span.unit {
        "°" => value.to_degrees(),
        _ => value,
    };
    // What the unit's factor leaves in the last digits is nobody's figure.
    let shown = format!("{shown:.12e}").parse().unwrap_or(shown);
    match span.check(at, shown) {
        Ok(_) => Ok(()),
        Err(fault) => Err(Fault {
            code: "F106",
            ..fault
        }),
    }
}

/// What a text says by the kind of its field: a name, a line, a point of the machine, a word of a choice.
///
/// # Errors
///
/// F016, F020, F101.
pub fn text_value(field: &Field, path: &str, text: &str) -> Result<Value, Fault> {
    match field.kind {
        Kind::Name => check_name(path, text)?,
        Kind::Line => check_line(path, text)?,
        Kind::Target => return read_target(path, text).map(|t| Value::Text(target_word(&t))),
        Kind::Choice(words) => {
            let known: Vec<&str> = words.words().into_iter().map(|(w, _)| w).collect();
            if !known.contains(&text) {
                let fix = match nearest(text, known.iter().copied()) {
                    Some(near) => format!("\"{near}\" is the nearest known word"),
                    None => "choose one of the known words".to_owned(),
                };
                let want = format!("one of: {} ({})", known.join(", "), field.label);
                return Err(Fault::new("F016", path, quoted(text), want, fix));
            }
        }
        _ => {}
    }
    Ok(Value::Text(text.to_owned()))
}

/// A text that a cell of a table can hold and give back unchanged.
///
/// # Errors
///
/// F020.
pub fn check_line(path: &str, text: &str) -> Result<(), Fault> {
    let n_chars = text.chars().count();
    if (1..=LONGEST_LINE).contains(&n_chars)
        && text.trim() == text
        && !text.contains(char::is_control)
    {
        return Ok(());
    }
    let want =
        format!("1 to {LONGEST_LINE} characters on one line, without spaces before and after");
    let got = match n_chars {
        0..=LONGEST_LINE => quoted(text),
        _ => format!("{n_chars} characters"),
    };
    let fix = "shorten it to one line; leave it out where there is nothing to say";
    Err(Fault::new("F020", path, got, want, fix))
}

/// A name that can be told on a record and stand in a path.
///
/// # Errors
///
/// F020.
pub fn check_name(path: &str, text: &str) -> Result<(), Fault> {
    if is_name(text) {
        return Ok(());
    }
    let want = format!(
        "1 to {LONGEST_NAME} characters, without brackets, quotation marks or outer spaces"
    );
    let fix = "choose a name as it is painted on the machine or tool";
    Err(Fault::new("F020", path, quoted(text), want, fix))
}

/// A name that can be told on a record and stand in a path.
pub fn is_name(text: &str) -> bool {
    let bad = |c: char| c.is_control() || matches!(c, '[' | ']' | '"');
    let n_chars = text.chars().count();
    (1..=LONGEST_NAME).contains(&n_chars) && text.trim() == text && !text.contains(bad)
}

/// The number in a value, NaN and infinities included; `None` if it is no number.
pub fn number_of(value: &DeValue<'_>) -> Option<f64> {
    match value {
        DeValue::Float(float) => float.as_str().parse().ok(),
        // TOML's whole numbers have 64 bits; a larger one is no figure of a machine.
        DeValue::Integer(int) => {
            Some(i64::from_str_radix(int.as_str(), int.radix()).map_or(f64::INFINITY, |n| n as f64))
        }
        _ => None,
    }
}

fn all<T>(found: Vec<Option<T>>) -> Option<Vec<T>> {
    found.into_iter().collect()
}

/// A calendar date in the form year-month-day. Whether February has so many days is not looked at.
fn is_date(text: &str) -> bool {
    let digits = |part: &str, n: usize| part.len() == n && part.bytes().all(|b| b.is_ascii_digit());
    let parts: Vec<&str> = text.split('-').collect();
    let [year, month, day] = parts[..] else {
        return false;
    };
    digits(year, 4)
        && digits(month, 2)
        && digits(day, 2)
        && ("01"..="12").contains(&month)
        && ("01"..="31").contains(&day)
}
