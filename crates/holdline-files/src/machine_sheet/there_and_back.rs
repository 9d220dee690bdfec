//! A sheet there and back.

use super::*;
use crate::document::node::Value;
use crate::document::table::{Kind, Section};
use crate::document::units::{METRIC, SI};

const DEMO: &str = include_str!("../../../../demo/demo-23.machine.toml");
const EVERY_FIELD: &str = include_str!("every_field.machine.toml");

#[track_caller]
fn reads_back(text: &str, units: Units) {
    let read = read_machine_sheet("a", text.as_bytes()).unwrap_or_else(|f| panic!("{f}"));
    let written = write_machine_sheet(&read, units);
    let again =
        read_machine_sheet("b", written.as_bytes()).unwrap_or_else(|f| panic!("{f}\n{written}"));
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
        write_machine_sheet(
            // cannot fail: both texts are this crate's own, and are read by tests of their own
            &read_machine_sheet("a", text.as_bytes()).expect("reads"),
            METRIC,
        )
    });
    // cannot fail: both texts are this crate's own, and are read by tests of their own
    let nodes = texts.map(|text| read_node("a", &text).expect("reads").0);
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
            Kind::Inside(of) | Kind::List { of, .. } | Kind::InsideOr { of, .. } => {
                look(of, &inner, &path, missing);
            }
            _ => {}
        }
    }
}
