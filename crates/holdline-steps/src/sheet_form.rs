//! The machine sheet as a form: shown, edited, checked; the text stays the person's own.

use holdline::machine::Machine;
use holdline_files::machine_sheet::edit::{Edit, apply_edits};
use holdline_files::machine_sheet::form::{FieldKind, Given, form};
use holdline_geom::fault::Faults;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::machine_view::load_machine;
use crate::views::FaultView;

/// A sheet: its text, its form, what hangs on the machine, and what is wrong.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SheetView {
    /// The text, comments and all.
    pub text: String,
    /// The form.
    pub form: FormView,
    /// What can be chosen for a pose; empty where faults keep the sheet from being read.
    pub parts: PartsView,
    /// All faults, with their paths and places.
    pub faults: Vec<FaultView>,
}

/// Groups of fields.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FormView {
    /// A group a section or entry.
    pub groups: Vec<GroupView>,
}

/// A section or an entry of a list.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct GroupView {
    /// Title for people.
    pub title: String,
    /// Path of the section.
    pub path: String,
    /// Its fields.
    pub fields: Vec<FieldView>,
}

/// A number, text, or nothing.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(untagged)]
pub enum ValueView {
    /// A number in the field's unit.
    Number(f64),
    /// Text, or what stands where a number should.
    Text(String),
}

/// A field.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FieldView {
    /// Path; faults about it have this path or one that begins with it.
    pub path: String,
    /// Label for people.
    pub label: String,
    /// Unit; empty where it has none.
    pub unit: String,
    /// `number`, `text` or `choice`.
    pub kind: String,
    /// Words to choose from.
    pub choices: Vec<String>,
    /// What stands there.
    pub value: Option<ValueView>,
    /// Its standard uncertainty, if stated.
    pub sd: Option<f64>,
    /// Whether one may be stated.
    pub has_sd: bool,
    /// Whether the value must be there.
    pub needed: bool,
    /// How to find the value.
    pub help: String,
}

/// What can be hung on the stick.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
pub struct PartsView {
    /// Couplers.
    pub couplers: Vec<String>,
    /// Tilting devices.
    pub tilts: Vec<String>,
    /// Buckets and their tooth points.
    pub buckets: Vec<BucketParts>,
}

/// A bucket and its tooth points.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BucketParts {
    /// Name.
    pub id: String,
    /// Tooth points.
    pub teeth: Vec<String>,
}

/// One change of a field.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct EditAsk {
    /// Path of the field.
    pub path: String,
    /// New value; none takes the field out.
    #[serde(default)]
    pub value: Option<ValueView>,
    /// New standard uncertainty; none says that nobody states one.
    #[serde(default)]
    pub sd: Option<f64>,
}

/// A text and the changes to make to it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SheetEditAsk {
    /// The sheet's text.
    pub text: String,
    /// The changes, one after the other.
    #[serde(default)]
    pub edits: Vec<EditAsk>,
}

/// The sheet as a form, with all its faults. `name` is what faults call the file.
pub fn show_sheet(name: &str, text: &str) -> SheetView {
    view(name, text, Faults::none())
}

/// The sheet after edits, checked. Comments, order and layout stay.
pub fn edit_sheet(name: &str, ask: &SheetEditAsk) -> SheetView {
    let edits: Vec<Edit> = ask
        .edits
        .iter()
        .map(|edit| Edit {
            path: edit.path.clone(),
            value: match &edit.value {
                None => Given::Nothing,
                Some(ValueView::Number(number)) => Given::Number(*number),
                Some(ValueView::Text(text)) => Given::Text(text.clone()),
            },
            sd: edit.sd,
        })
        .collect();
    let edited = apply_edits(&ask.text, &edits);
    view(name, &edited.text, edited.faults)
}

fn view(name: &str, text: &str, before: Faults) -> SheetView {
    let read = load_machine(name, text.as_bytes());
    let mut faults = before;
    let parts = match read {
        Ok(machine) => parts(&machine),
        Err(more) => {
            faults.0.extend(more.0);
            PartsView::default()
        }
    };
    SheetView {
        text: text.to_owned(),
        form: form_view(text),
        parts,
        faults: faults.0.iter().map(FaultView::from).collect(),
    }
}

/// What can be hung on a machine.
pub fn parts(machine: &Machine) -> PartsView {
    let sheet = machine.sheet();
    PartsView {
        couplers: sheet.couplers.iter().map(|c| c.id.clone()).collect(),
        tilts: sheet.tilts.iter().map(|t| t.id.clone()).collect(),
        buckets: sheet
            .buckets
            .iter()
            .map(|bucket| BucketParts {
                id: bucket.id.clone(),
                teeth: bucket.teeth.iter().map(|t| t.name.clone()).collect(),
            })
            .collect(),
    }
}

fn form_view(text: &str) -> FormView {
    let groups = form(text)
        .groups
        .into_iter()
        .map(|group| GroupView {
            title: group.title,
            path: group.path,
            fields: group
                .fields
                .into_iter()
                .map(|field| FieldView {
                    path: field.path,
                    label: field.label,
                    unit: field.unit.to_owned(),
                    kind: match field.kind {
                        FieldKind::Number => "number",
                        FieldKind::Text => "text",
                        FieldKind::Choice => "choice",
                    }
                    .to_owned(),
                    choices: field
                        .choices
                        .iter()
                        .map(|(word, _)| (*word).to_owned())
                        .collect(),
                    value: match field.value {
                        Given::Nothing => None,
                        Given::Number(number) if number.is_finite() => {
                            Some(ValueView::Number(number))
                        }
                        Given::Number(number) => Some(ValueView::Text(number.to_string())),
                        Given::Text(text) => Some(ValueView::Text(text)),
                    },
                    sd: field.sd.filter(|sd| sd.is_finite()),
                    has_sd: field.has_sd,
                    needed: field.needed,
                    help: field.help.to_owned(),
                })
                .collect(),
        })
        .collect();
    FormView { groups }
}

#[cfg(test)]
mod tests {
    use super::*;

    const DEMO: &str = include_str!("../../../demo/demo-23.machine.toml");

    #[test]
    fn an_edit_with_a_fault_points_at_its_field_and_keeps_the_rest() {
        let good = show_sheet("m", DEMO);
        assert!(good.faults.is_empty(), "{:?}", good.faults);
        assert_eq!(good.parts.buckets[0].teeth, ["left", "centre", "right"]);
        let edit = EditAsk {
            path: "stick.length".into(),
            value: Some(ValueView::Number(13.1)),
            sd: Some(0.003),
        };
        let ask = SheetEditAsk {
            text: DEMO.to_owned(),
            edits: vec![edit],
        };
        let bad = edit_sheet("m", &ask);
        let fault = &bad.faults[0];
        assert_eq!(
            (fault.code.as_str(), fault.at.as_str()),
            ("M012", "stick.length")
        );
        assert!(fault.line.is_some() && bad.parts.buckets.is_empty());
        assert!(bad.text.contains("# Machine sheet of the demo machine"));
        assert_eq!(bad.form.groups.len(), good.form.groups.len());
    }
}
