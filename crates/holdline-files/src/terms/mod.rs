//! A control system's terms as a document: TOML in, a claim out; and the way back.

mod fields;
#[cfg(test)]
mod tests;

use holdline::calibrate::hand_over::terms::{
    Channel, Dimension, Entry, EntrySign, EntryUnit, Quantity, Terms,
};
use holdline::calibrate::observations::Target;
use holdline_geom::fault::{Fault, Faults, number};

use self::fields::{AXES, CHANNELS, DOCUMENT, ENTRY_UNITS, FORMAT, TERMS, VERSION};
use crate::document::node::{Node, Value};
use crate::document::path::is_path;
use crate::document::table::{Dim, word_for};
use crate::document::units::Units;
use crate::document::walk::{entry_path, join};
use crate::document::write::in_units;
use crate::document::{locate, our_bug, read_document, reference, schema, write};
use crate::observations::{build, unbuild};
use crate::targets::{read_target, target_word};
use crate::text::{not_too_many, quoted, text_of};

/// Reads a control system's terms.
///
/// # Errors
///
/// All faults of the file at once, with line and column.
pub fn read_terms(file: &str, bytes: &[u8]) -> Result<Terms, Faults> {
    let text = text_of(file, bytes)?;
    let (node, units) = read_document(file, text, &TERMS, &[])?;
    let mut faults = Vec::new();
    for (idx, entry) in node.list("entry").iter().enumerate() {
        let label = entry
            .text("label")
            .filter(|l| crate::document::leaf::is_name(l));
        check_entry(
            entry,
            &entry_path("entry", label.as_deref(), idx),
            &mut faults,
        );
    }
    if !faults.is_empty() {
        return Err(place_term_faults(file, bytes, not_too_many(faults)));
    }
    terms(&node, units).ok_or_else(|| our_bug("terms").into())
}

/// Faults of the core with the places that their paths have in the document, such as `entry[Boom length].unit`.
#[must_use]
pub fn place_term_faults(file: &str, bytes: &[u8], faults: Faults) -> Faults {
    match std::str::from_utf8(bytes) {
        Ok(text) => locate::place_faults(&DOCUMENT, file, text, faults),
        Err(_) => faults,
    }
}

/// Writes terms, in these units of our own quantities.
///
/// In metres and radians any terms read back equal, in other units those that were read in them.
pub fn write_terms(terms: &Terms, units: Units) -> String {
    write::write_document(&DOCUMENT, &node_of(terms, units), units)
}

/// The schema of terms, JSON Schema 2020-12.
pub fn terms_schema() -> String {
    schema::schema(&TERMS)
}

/// Every key of terms, for people, in Markdown.
pub fn terms_reference() -> String {
    reference::page(&TERMS)
}

fn check_entry(n: &Node, path: &str, faults: &mut Vec<Fault>) {
    let mut push = |code, key: &str, got: String, want: &str, fix: &str| {
        faults.push(Fault::new(code, join(path, key), got, want, fix));
    };
    if let Some(figure) = n.text("is").filter(|p| !is_path(p)) {
        let fix = "write it as the sheet's list of figures has it, such as boom.length or sensor[S-boom].offset";
        push(
            "F113",
            "is",
            quoted(&figure),
            "a path through the machine sheet",
            fix,
        );
    }
    if let Some(step) = n.number("resolution").filter(|r| !(0.0 < *r)) {
        let fix = "key two numbers next to each other and write their difference; leave it out if nobody tried";
        push("F115", "resolution", number(step), "a step above 0", fix);
    }
    if let Some([min, max]) = n.numbers_n::<2>("range").filter(|[min, max]| !(min < max)) {
        let got = format!("{} to {}", number(min), number(max));
        let fix = "write the least number first, then the largest; leave it out if nobody tried";
        push(
            "F116",
            "range",
            got,
            "a least number below the largest",
            fix,
        );
    }
}

fn terms(n: &Node, units: Units) -> Option<Terms> {
    let entries = n.list("entry").iter().map(|e| entry(e, units));
    let tool = n.inside("tool");
    Some(Terms {
        machine: n.text("machine").unwrap_or_default(),
        system: n.text("system").unwrap_or_default(),
        tool: build::tool(tool),
        tooth: tool.and_then(|t| t.text("tooth")).unwrap_or_default(),
        described_by: n.text("described_by").unwrap_or_default(),
        described_on: n.text("described_on").unwrap_or_default(),
        note: n.text("note").unwrap_or_default(),
        entries: entries.collect::<Option<_>>()?,
    })
}

/// SI in one unit of our quantity, for an entry that counts in `unit`.
fn factor(units: Units, unit: EntryUnit) -> f64 {
    units.factor(match unit.dimension() {
        Dimension::Length => Dim::Length,
        Dimension::Angle => Dim::Angle,
    })
}

fn entry(n: &Node, units: Units) -> Option<Entry> {
    let unit = n.word("unit", &ENTRY_UNITS)?;
    Some(Entry {
        label: n.text("label")?,
        quantity: quantity(n)?,
        sign: match n.number("sign") {
            Some(sign) if sign < 0.0 => EntrySign::Turned,
            Some(_) | None => EntrySign::Same,
        },
        zero: n
            .number("zero")
            .map_or(0.0, |zero| zero * factor(units, unit)),
        unit,
        resolution: n.number("resolution"),
        range: n.numbers_n("range"),
        note: n.text("note").unwrap_or_default(),
    })
}

fn quantity(n: &Node) -> Option<Quantity> {
    let point = |n: &Node, key: &str| read_target("", &n.text(key)?).ok();
    let points = |key: &str| -> Option<Vec<Target>> {
        let points = n.texts(key);
        points.iter().map(|p| read_target("", p).ok()).collect()
    };
    let two = |key: &str| <[Target; 2]>::try_from(points(key)?).ok();
    if let Some(path) = n.text("is") {
        return Some(Quantity::Figure { path });
    }
    if let Some([from, to]) = two("distance") {
        return Some(Quantity::Distance { from, to });
    }
    if let Some([from, to]) = two("plan_distance") {
        return Some(Quantity::PlanDistance { from, to });
    }
    if let Some(along) = n.inside("along") {
        return Some(Quantity::Along {
            from: point(along, "from")?,
            to: point(along, "to")?,
            axis: along.word("axis", &AXES)?,
        });
    }
    if let Some([from, at, to]) = points("corner").and_then(|p| <[Target; 3]>::try_from(p).ok()) {
        return Some(Quantity::Corner { from, at, to });
    }
    if let Some([from, to]) = two("plan_direction") {
        return Some(Quantity::PlanDirection { from, to });
    }
    if let Some([from, to]) = two("rise") {
        return Some(Quantity::Rise { from, to });
    }
    let reading = n.inside("reading")?;
    Some(Quantity::Reading {
        sensor: reading.text("sensor")?,
        channel: reading.word("channel", &CHANNELS).unwrap_or(Channel::Main),
        at_rad: reading.number("at")?,
    })
}

fn node_of(t: &Terms, units: Units) -> Node {
    let tool = unbuild::tool(&t.tool).unwrap_or_default();
    let tool = tool.with_some("tooth", words(&t.tooth));
    let stated = (tool != Node::default()).then_some(Value::Inside(tool));
    let entries = t.entries.iter().map(|e| entry_node(e, units)).collect();
    Node::default()
        .with("format", text(FORMAT))
        .with("version", Value::Number(f64::from(VERSION)))
        .with_some("machine", words(&t.machine))
        .with_some("system", words(&t.system))
        .with_some("described_by", words(&t.described_by))
        .with_some("described_on", words(&t.described_on))
        .with_some("note", words(&t.note))
        .with("units", Value::Inside(unbuild::stated(units)))
        .with_some("tool", stated)
        .with("entry", Value::List(entries))
}

fn entry_node(e: &Entry, units: Units) -> Node {
    let zero = in_units(e.zero, factor(units, e.unit));
    let (key, value) = quantity_value(&e.quantity);
    Node::default()
        .with("label", text(&e.label))
        .with("unit", text(word_for(&ENTRY_UNITS, &e.unit)))
        .with("sign", Value::Number(e.sign.factor()))
        .with("zero", Value::Number(zero))
        .with_some("resolution", e.resolution.map(Value::Number))
        .with_some("range", e.range.map(|r| Value::Numbers(r.to_vec())))
        .with(key, value)
        .with_some("note", words(&e.note))
}

fn quantity_value(quantity: &Quantity) -> (&'static str, Value) {
    let points = |points: &[&Target]| Value::Texts(points.iter().map(|p| target_word(p)).collect());
    match quantity {
        Quantity::Figure { path } => ("is", text(path)),
        Quantity::Distance { from, to } => ("distance", points(&[from, to])),
        Quantity::PlanDistance { from, to } => ("plan_distance", points(&[from, to])),
        Quantity::Along { from, to, axis } => {
            let along = Node::default()
                .with("axis", text(axis.word()))
                .with("from", text(&target_word(from)))
                .with("to", text(&target_word(to)));
            ("along", Value::Inside(along))
        }
        Quantity::Corner { from, at, to } => ("corner", points(&[from, at, to])),
        Quantity::PlanDirection { from, to } => ("plan_direction", points(&[from, to])),
        Quantity::Rise { from, to } => ("rise", points(&[from, to])),
        Quantity::Reading {
            sensor,
            channel,
            at_rad,
        } => {
            let reading = Node::default()
                .with("sensor", text(sensor))
                .with("channel", text(word_for(&CHANNELS, channel)))
                .with("at", Value::Number(*at_rad));
            ("reading", Value::Inside(reading))
        }
    }
}

fn text(text: &str) -> Value {
    Value::Text(text.to_owned())
}

fn words(words: &str) -> Option<Value> {
    (!words.is_empty()).then(|| text(words))
}
