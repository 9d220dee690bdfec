//! A document as text: what was claimed, written so that it reads back the same.

use std::fmt::Write as _;

use holdline_geom::measured::Measured;

use super::node::{Node, Value};
use super::table::{Dim, Field, Kind, Section};
use super::units::Units;
use crate::readings::wants::{Dimension, Quantity, STANDARD};

/// Writes a document, in these units.
///
/// What was read in these units reads back equal, bit for bit; in metres and radians anything does.
/// A point of which only some axes have an uncertainty is written without any: unknown, not guessed.
pub fn write_document(sheet: &Section, node: &Node, units: Units) -> String {
    let mut out = String::new();
    for field in sheet.fields {
        match (field.kind, node.get(field.key)) {
            (Kind::Inside(of), Some(Value::Inside(inner))) => {
                write_block(&mut out, &format!("[{}]", field.key), of, inner, units);
            }
            (Kind::List { of, .. }, Some(Value::List(entries))) => {
                for entry in entries {
                    write_block(&mut out, &format!("[[{}]]", field.key), of, entry, units);
                }
            }
            (_, Some(value)) => {
                let _ = writeln!(out, "{} = {}", field.key, inline(field, value, units));
            }
            (_, None) => {}
        }
    }
    out
}

fn write_block(out: &mut String, header: &str, section: &Section, node: &Node, units: Units) {
    let _ = writeln!(out, "\n{header}");
    for field in section.fields {
        if let Some(value) = node.get(field.key) {
            let _ = writeln!(out, "{} = {}", field.key, inline(field, value, units));
        }
    }
}

/// A value as it stands behind its key.
fn inline(field: &Field, value: &Value, units: Units) -> String {
    let length = |si: f64| figure(si, units.factor(Dim::Length));
    match (field.kind, value) {
        (_, Value::Text(text)) => toml::Value::String(text.clone()).to_string(),
        (Kind::Number(dim) | Kind::Sd(dim), Value::Number(number)) => {
            figure(*number, units.factor(dim))
        }
        (_, Value::Number(number)) => format!("{number}"), // whole numbers and signs
        (Kind::Measured(dim), Value::Measured(m)) => measured(*m, units.factor(dim)),
        (_, Value::Measured(m)) => measured(*m, 1.0),
        (_, Value::Plane(p)) => point(&[p.x, p.z], units.factor(Dim::Length)),
        (_, Value::Space(p)) => point(&[p.x, p.y, p.z], units.factor(Dim::Length)),
        (Kind::Numbers(dim) | Kind::Two(dim, _), Value::Numbers(numbers)) => {
            bracketed(numbers.iter().map(|n| figure(*n, units.factor(dim))))
        }
        (Kind::PointSd { .. }, Value::Numbers(sd)) if sd.iter().all(|s| *s == sd[0]) => {
            length(sd[0])
        }
        (_, Value::Numbers(numbers)) => bracketed(numbers.iter().map(|n| length(*n))),
        (_, Value::PlaneLine(points)) => bracketed(
            points
                .iter()
                .map(|p| bracketed(p.iter().map(|n| length(*n)))),
        ),
        (_, Value::SpaceLine(points)) => bracketed(
            points
                .iter()
                .map(|p| bracketed(p.iter().map(|n| length(*n)))),
        ),
        (Kind::Inside(of) | Kind::InsideOr { of, .. }, Value::Inside(node)) => {
            braced(of, node, units)
        }
        (_, Value::Inside(_)) => "{}".to_owned(), // no other kind holds a section
        (Kind::Targets(_), Value::Texts(texts)) => bracketed(
            texts
                .iter()
                .map(|text| toml::Value::String(text.clone()).to_string()),
        ),
        (_, Value::Texts(texts)) => stacked(
            texts
                .iter()
                .map(|text| toml::Value::String(text.clone()).to_string()),
        ),
        (_, Value::Rows(rows)) => stacked(
            rows.iter()
                .map(|row| bracketed(row.iter().map(|n| format!("{n:?}")))),
        ),
        (_, Value::Named(named)) => named_numbers(named, units),
        (Kind::List { of, .. }, Value::List(nodes)) => {
            stacked(nodes.iter().map(|n| braced(of, n, units)))
        }
        (_, Value::List(_)) => "[]".to_owned(),
    }
}

fn braced(section: &Section, node: &Node, units: Units) -> String {
    let fields: Vec<String> = section
        .fields
        .iter()
        .filter_map(|f| {
            Some(format!(
                "{} = {}",
                f.key,
                inline(f, node.get(f.key)?, units)
            ))
        })
        .collect();
    format!("{{ {} }}", fields.join(", "))
}

/// A list, one entry a line.
fn stacked(items: impl Iterator<Item = String>) -> String {
    let entries: String = items.map(|item| format!("  {item},\n")).collect();
    format!("[\n{entries}]")
}

fn named_numbers(named: &[(String, f64)], units: Units) -> String {
    let one = |(name, si): &(String, f64)| {
        let bare = |c: char| c.is_ascii_alphanumeric() || matches!(c, '_' | '-');
        let key = match !name.is_empty() && name.chars().all(bare) {
            true => name.clone(),
            false => toml::Value::String(name.clone()).to_string(),
        };
        let dim = match dimension_of(name) {
            Dimension::Angle => Dim::Angle,
            Dimension::Length => Dim::Length,
        };
        format!("{key} = {}", figure(*si, units.factor(dim)))
    };
    let named: Vec<String> = named.iter().map(one).collect();
    format!("{{ {} }}", named.join(", "))
}

/// What a reading of this name is in: a coordinate of an antenna says so at its end.
pub fn dimension_of(name: &str) -> Dimension {
    let standard = STANDARD.iter().find(|(n, _)| *n == name);
    let axis = ["_easting", "_northing", "_elevation"]
        .iter()
        .any(|axis| name.ends_with(axis));
    match standard {
        Some((_, quantity)) => quantity.dimension(),
        None if axis => Quantity::Grid.dimension(),
        None => Quantity::Angle.dimension(),
    }
}

fn bracketed(items: impl Iterator<Item = String>) -> String {
    format!("[{}]", items.collect::<Vec<_>>().join(", "))
}

fn measured(m: Measured, factor: f64) -> String {
    match m.sd {
        Some(sd) => {
            format!(
                "{{ value = {}, sd = {} }}",
                figure(m.value, factor),
                figure(sd, factor)
            )
        }
        None => figure(m.value, factor),
    }
}

fn point(axes: &[Measured], factor: f64) -> String {
    let at = bracketed(axes.iter().map(|m| figure(m.value, factor)));
    let sds: Option<Vec<f64>> = axes.iter().map(|m| m.sd).collect();
    match sds.as_deref() {
        None => at,
        Some([first, rest @ ..]) if rest.iter().all(|sd| sd == first) => {
            format!("{{ at = {at}, sd = {} }}", figure(*first, factor))
        }
        Some(sds) => {
            let sds = bracketed(sds.iter().map(|sd| figure(*sd, factor)));
            format!("{{ at = {at}, sd = {sds} }}")
        }
    }
}

/// A number in the sheet's unit that gives exactly `si` again when it is read, as text.
fn figure(si: f64, factor: f64) -> String {
    format!("{:?}", in_units(si, factor))
}

/// A number in the sheet's unit that gives exactly `si` again when it is read.
///
/// Dividing and multiplying by the factor may come out one step beside; then the neighbours are tried.
/// Few digits come first, so that 2.94 does not turn into 2.9400000000000004.
pub fn in_units(si: f64, factor: f64) -> f64 {
    let near = si / factor;
    let short = format!("{near:.12e}").parse().unwrap_or(near);
    let back = |candidate: f64| (candidate * factor).to_bits() == si.to_bits();
    let (mut down, mut up) = (near, near);
    let mut best = [short, near].into_iter().find(|c| back(*c));
    for _ in 0..4 {
        (down, up) = (down.next_down(), up.next_up());
        best = best.or_else(|| [down, up].into_iter().find(|c| back(*c)));
    }
    best.unwrap_or(near)
}
