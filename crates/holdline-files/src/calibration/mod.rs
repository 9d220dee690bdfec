//! A calibration as a document: TOML in, a claim out; and the way back, always the same bytes.

mod fields;
#[cfg(test)]
mod tests;

use holdline::calibrate::calibration::{CalibratedFigure, Calibration, FigureUnit};
use holdline::calibrate::fit::Belief;
use holdline_geom::fault::{Fault, Faults, number};

use self::fields::{BELIEVED, CALIBRATION, DOCUMENT, FORMAT, UNITS, VERSION};
use crate::document::node::{Node, Value};
use crate::document::path::is_path;
use crate::document::table::word_for;
use crate::document::units::SI;
use crate::document::{locate, our_bug, read_document, reference, schema, write};
use crate::observations::{build, unbuild};
use crate::text::{not_too_many, quoted, text_of};

/// Reads a calibration.
///
/// Whether its figures are those of a machine, and whether its correlations can be, is for the core to say:
/// [`Calibration::applied_to`].
///
/// # Errors
///
/// All faults of the file at once, with line and column.
pub fn read_calibration(file: &str, bytes: &[u8]) -> Result<Calibration, Faults> {
    let text = text_of(file, bytes)?;
    let (node, _) = read_document(file, text, &CALIBRATION, &[])?;
    let mut faults = Vec::new();
    check_sheet(&node, &mut faults);
    check_paths(&node, &mut faults);
    check_correlations(&node, &mut faults);
    if !faults.is_empty() {
        return Err(place_calibration_faults(file, bytes, not_too_many(faults)));
    }
    calibration(&node).ok_or_else(|| our_bug("a calibration").into())
}

/// Faults of the core with the places that their paths have in the document.
///
/// Paths are those of the document, such as `figure[2].sd` or `correlations.below_diagonal[3]`, or that of a
/// figure, such as `boom.length`; a path that leads nowhere points at the first line.
#[must_use]
pub fn place_calibration_faults(file: &str, bytes: &[u8], mut faults: Faults) -> Faults {
    let Ok(text) = std::str::from_utf8(bytes) else {
        return faults;
    };
    let paths = locate::texts_of_entries(text, "figure", "path");
    for fault in &mut faults.0 {
        if let Some(idx) = paths.iter().position(|p| p.as_deref() == Some(&fault.at)) {
            let entry = format!("figure[{}].value", idx + 1);
            fault.place = locate::locate(&DOCUMENT, file, text, &entry);
        }
    }
    locate::place_faults(&DOCUMENT, file, text, faults)
}

/// Writes a calibration, in metres and radians, each number with as many digits as it takes to read back equal.
///
/// The same calibration gives the same bytes.
pub fn write_calibration(calibration: &Calibration) -> String {
    write::write_document(&DOCUMENT, &node_of(calibration), SI)
}

/// The schema of a calibration, JSON Schema 2020-12.
pub fn calibration_schema() -> String {
    schema::schema(&CALIBRATION)
}

/// Every key of a calibration, for people, in Markdown.
pub fn calibration_reference() -> String {
    reference::page(&CALIBRATION)
}

fn check_sheet(node: &Node, faults: &mut Vec<Fault>) {
    let hash = node.text("sheet").unwrap_or_default();
    let hex = |b: u8| b.is_ascii_digit() || (b'a'..=b'f').contains(&b);
    if hash.len() == 64 && hash.bytes().all(hex) {
        return;
    }
    let want = "64 hexadecimal digits in small letters";
    let fix = "take the calibration from the job again; without the hash nobody can say which sheet it stands on";
    faults.push(Fault::new("F112", "sheet", quoted(&hash), want, fix));
}

fn check_paths(node: &Node, faults: &mut Vec<Fault>) {
    let paths: Vec<String> = (node.list("figure").iter())
        .map(|figure| figure.text("path").unwrap_or_default())
        .collect();
    for (idx, path) in paths.iter().enumerate() {
        let at = format!("figure[{}].path", idx + 1);
        if !is_path(path) {
            let want = "a path through the machine sheet";
            let fix = "write it as the sheet's list of figures has it, such as boom.length or sensor[S-boom].offset";
            faults.push(Fault::new("F113", at, quoted(path), want, fix));
        } else if let Some(first) = paths[..idx].iter().position(|p| p == path) {
            let got = format!("{} a second time", quoted(path));
            let want = format!("each figure once; entry {} has this one", first + 1);
            let fix = "keep the right one, and its row of correlations";
            faults.push(Fault::new("F019", at, got, want, fix));
        }
    }
}

fn check_correlations(node: &Node, faults: &mut Vec<Fault>) {
    let n_figures = node.list("figure").len();
    let rows = rows(node);
    if rows.len() + 1 != n_figures.max(1) {
        let got = format!("{} rows for {n_figures} figures", rows.len());
        let want = "one row for each figure but the first";
        let fix = "take the calibration from the job again; figures or correlations were lost";
        let at = "correlations.below_diagonal";
        faults.push(Fault::new("F111", at, got, want, fix));
    }
    for (row_idx, row) in rows.iter().enumerate() {
        if let Some(r) = row.iter().find(|r| !(-1.0 <= **r && **r <= 1.0)) {
            let at = format!("correlations.below_diagonal[{}]", row_idx + 1);
            let want = "a correlation, -1 to 1";
            let fix = "take the calibration from the job again; covariances do not belong here";
            faults.push(Fault::new("F114", at, number(*r), want, fix));
        }
    }
}

fn rows(node: &Node) -> Vec<Vec<f64>> {
    node.inside("correlations")
        .map(|c| c.rows("below_diagonal"))
        .unwrap_or_default()
}

fn calibration(n: &Node) -> Option<Calibration> {
    let figure = |f: &Node| {
        let (unit, factor) = f.word("unit", &UNITS)?;
        Some(CalibratedFigure {
            path: f.text("path")?,
            before: f.number("before")? * factor,
            value: f.number("value")? * factor,
            sd: f.number("sd").map(|sd| sd * factor),
            unit,
        })
    };
    // A reason not to believe it outweighs a yes.
    let belief = match (n.word("believed", &BELIEVED)?, n.texts("why_not")) {
        (true, why) if why.is_empty() => Belief::Believed,
        (_, why) => Belief::NotBelieved(why),
    };
    Some(Calibration {
        machine: n.text("machine")?,
        sheet_hash: n.text("sheet")?,
        tool: build::tool(n.inside("tool")),
        who: n.text("calibrated_by").unwrap_or_default(),
        on: n.text("calibrated_on").unwrap_or_default(),
        with: n.text("calibrated_with").unwrap_or_default(),
        figures: n.list("figure").iter().map(figure).collect::<Option<_>>()?,
        correlations: rows(n).into_iter().flatten().collect(),
        belief,
        not_determined: n.texts("not_determined"),
    })
}

fn node_of(c: &Calibration) -> Node {
    let text = |text: &str| Value::Text(text.to_owned());
    let words = |words: &str| (!words.is_empty()).then(|| text(words));
    let unit = |unit: FigureUnit| text(word_for(&UNITS, &(unit, 1.0)));
    let figure = |f: &CalibratedFigure| {
        Node::default()
            .with("path", text(&f.path))
            .with("unit", unit(f.unit))
            .with("before", Value::Number(f.before))
            .with("value", Value::Number(f.value))
            .with_some("sd", f.sd.map(Value::Number))
    };
    let texts = (!c.not_determined.is_empty()).then(|| Value::Texts(c.not_determined.clone()));
    let (believed, why_not) = match &c.belief {
        Belief::Believed => (true, &[][..]),
        Belief::NotBelieved(why) => (false, why.as_slice()),
    };
    let why_not = (!why_not.is_empty()).then(|| Value::Texts(why_not.to_vec()));
    let rows = Value::Rows(triangle(&c.correlations));
    let correlations = Node::default().with("below_diagonal", rows);
    Node::default()
        .with("format", text(FORMAT))
        .with("version", Value::Number(f64::from(VERSION)))
        .with("machine", text(&c.machine))
        .with("sheet", text(&c.sheet_hash))
        .with("believed", text(word_for(&BELIEVED, &believed)))
        .with_some("why_not", why_not)
        .with_some("calibrated_by", words(&c.who))
        .with_some("calibrated_on", words(&c.on))
        .with_some("calibrated_with", words(&c.with))
        .with_some("not_determined", texts)
        .with_some("tool", unbuild::tool(&c.tool).map(Value::Inside))
        .with(
            "figure",
            Value::List(c.figures.iter().map(figure).collect()),
        )
        .with("correlations", Value::Inside(correlations))
}

/// Rows of one, two, three, … numbers; what is left over makes a short last row, which does not read.
fn triangle(numbers: &[f64]) -> Vec<Vec<f64>> {
    let mut rows = Vec::new();
    let mut rest = numbers;
    while !rest.is_empty() {
        let n = (rows.len() + 1).min(rest.len());
        let (row, more) = rest.split_at(n);
        rows.push(row.to_vec());
        rest = more;
    }
    rows
}
