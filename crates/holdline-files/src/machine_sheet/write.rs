//! A machine sheet as text: what was claimed, written so that it reads back the same.

use std::fmt::Write as _;

use holdline::machine::claim::ClaimedMachine;
use holdline_geom::measured::Measured;

use super::fields::{PIN, SHEET};
use super::node::{Node, Value};
use super::table::{Dim, Field, Kind, Section};
use super::unbuild;
use super::units::Units;

/// Writes a claim as a machine sheet, in these units.
///
/// A sheet that was read in these units reads back equal, bit for bit.
/// A point of which only some axes have an uncertainty is written without any: unknown, not guessed.
pub fn write_machine_sheet(machine: &ClaimedMachine, units: Units) -> String {
    let node = unbuild::machine(machine, units);
    let mut out = String::new();
    for field in SHEET.fields {
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
        (Kind::Number(dim), Value::Number(number)) => figure(*number, units.factor(dim)),
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
        (Kind::Inside(of), Value::Inside(node)) => braced(of, node, units),
        (_, Value::Inside(node)) => braced(&PIN, node, units),
        (Kind::List { of, .. }, Value::List(nodes)) => {
            let entries: String = nodes
                .iter()
                .map(|n| format!("  {},\n", braced(of, n, units)))
                .collect();
            format!("[\n{entries}]")
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

/// A number in the sheet's unit that gives exactly `si` again when it is read.
///
/// Dividing and multiplying by the factor may come out one step beside; then the neighbours are tried.
/// Few digits come first, so that 2.94 does not turn into 2.9400000000000004.
fn figure(si: f64, factor: f64) -> String {
    let near = si / factor;
    let short = format!("{near:.12e}").parse().unwrap_or(near);
    let back = |candidate: f64| (candidate * factor).to_bits() == si.to_bits();
    let (mut down, mut up) = (near, near);
    let mut best = [short, near].into_iter().find(|c| back(*c));
    for _ in 0..4 {
        (down, up) = (down.next_down(), up.next_up());
        best = best.or_else(|| [down, up].into_iter().find(|c| back(*c)));
    }
    format!("{:?}", best.unwrap_or(near))
}

#[cfg(test)]
mod tests {
    use super::super::read_machine_sheet;
    use super::super::units::{METRIC, SI};
    use super::*;

    const DEMO: &str = include_str!("../../../../demo/demo-23.machine.toml");
    const EVERY_FIELD: &str = include_str!("every_field.machine.toml");

    #[track_caller]
    fn reads_back(text: &str, units: Units) {
        let read = read_machine_sheet("a", text.as_bytes()).unwrap_or_else(|f| panic!("{f}"));
        let written = write_machine_sheet(&read, units);
        let again = read_machine_sheet("b", written.as_bytes())
            .unwrap_or_else(|f| panic!("{f}\n{written}"));
        assert_eq!(again, read);
    }

    #[test]
    fn what_was_written_reads_back_equal() {
        reads_back(DEMO, METRIC);
        reads_back(DEMO, SI);
        reads_back(EVERY_FIELD, METRIC);
        reads_back(EVERY_FIELD, SI);
        let feet = EVERY_FIELD.replace("length = \"m\"", "length = \"us-ft\"");
        reads_back(
            &feet,
            Units {
                length: "us-ft",
                angle: "deg",
                mass: "t",
            },
        );
    }

    #[test]
    fn no_field_is_forgotten() {
        // Everything that the table knows stands in one of two sheets and survives the way there and back.
        let mut missing = Vec::new();
        let texts = [DEMO, EVERY_FIELD].map(|text| {
            write_machine_sheet(&read_machine_sheet("a", text.as_bytes()).unwrap(), METRIC)
        });
        let nodes = texts.map(|text| super::super::read_node("a", &text).unwrap().0);
        look(&SHEET, &nodes.iter().collect::<Vec<_>>(), "", &mut missing);
        assert_eq!(missing, Vec::<String>::new());
    }

    fn look(section: &Section, nodes: &[&Node], path: &str, missing: &mut Vec<String>) {
        for field in section.fields {
            let path = format!("{path}.{}", field.key);
            let values: Vec<&Value> = nodes.iter().filter_map(|n| n.get(field.key)).collect();
            if values.is_empty() {
                missing.push(path.clone());
            }
            let inner: Vec<&Node> = values
                .iter()
                .flat_map(|v| match v {
                    Value::Inside(node) => vec![node],
                    Value::List(nodes) => nodes.iter().collect(),
                    _ => vec![],
                })
                .collect();
            match field.kind {
                Kind::Inside(of) | Kind::List { of, .. } => look(of, &inner, &path, missing),
                Kind::Pin => look(&PIN, &inner, &path, missing),
                _ => {}
            }
        }
    }
}
