//! The page of the reference that lists every key of a format, made from the table of its fields.

use std::fmt::Write as _;

use super::Format;
use super::table::{Dim, Field, Kind, Need, Rule, Section};

/// Every key of a format, for people, in Markdown.
pub fn page(format: &Format) -> String {
    let mut title = format.called.to_owned();
    if let Some(first) = title.get_mut(..1) {
        first.make_ascii_uppercase();
    }
    let mut out = format!(
        "# {title}, every key\n\n\
         Made from the table that the reader itself uses; a test holds that it is current.\n\
         How a sheet is written: [files in and out](file-formats.md).\n"
    );
    if format.sheet.field("units").is_some() {
        out.push_str(
            "Bare numbers are in the units that the section `[units]` names.\n\
             A value without `sd` is allowed, is said to have none, and counts as unknown wherever a tolerance is judged.\n",
        );
    }
    section(&mut out, "the top of the file", format.sheet, false);
    for field in format.sheet.fields {
        below(&mut out, field, field.key);
    }
    out
}

/// The page's part about a section, and about those inside it.
fn below(out: &mut String, field: &Field, path: &str) {
    let (of, heading) = match field.kind {
        Kind::Inside(of) if path.contains('.') => (of, format!("`{path}`")),
        Kind::Inside(of) => (of, format!("`[{path}]`")),
        Kind::List { of, .. } if path.contains('.') => (of, format!("`{path}`, a list")),
        Kind::List { of, .. } => (of, format!("`[[{path}]]`, any number of them")),
        Kind::InsideOr { of, .. } if field.key == "base" => {
            (of, "a cylinder's `base` and `rod`".to_owned())
        }
        _ => return,
    };
    section(out, &heading, of, true);
    for field in of.fields {
        below(out, field, &format!("{path}.{}", field.key));
    }
}

fn section(out: &mut String, heading: &str, of: &Section, titled: bool) {
    let title = if titled {
        format!("{}: {heading}", of.title)
    } else {
        format!("At {heading}")
    };
    let _ = writeln!(out, "\n## {title}\n");
    let ticked = |keys: &[&str]| {
        let keys: Vec<String> = keys.iter().map(|k| format!("`{k}`")).collect();
        keys.join(", ")
    };
    match of.rule {
        Rule::Free => {}
        Rule::OneOf(keys) => {
            let _ = writeln!(out, "Exactly one of {}.\n", ticked(keys));
        }
        Rule::ByWord { key, cases } => {
            let _ = writeln!(out, "| `{key}` | must have | may have |\n|---|---|---|");
            for case in cases {
                let (must, may) = (ticked(case.must), ticked(case.may));
                let _ = writeln!(out, "| `{}` | {must} | {may} |", case.word);
            }
            let _ = writeln!(out);
        }
    }
    let _ = writeln!(
        out,
        "| key | what it is | what stands there | needed |\n|---|---|---|---|"
    );
    for field in of.fields {
        let needed = match field.need {
            Need::Must => "yes".to_owned(),
            Need::May => String::new(),
            Need::When { key, words } => format!("where `{key}` is {}", words.join(" or ")),
        };
        let what = match field.help {
            "" => field.label.to_owned(),
            help => format!("{}; {help}", field.label),
        };
        let there = field.kind.in_words(&|dim| unit(dim).to_owned());
        let _ = writeln!(out, "| `{}` | {what} | {there} | {needed} |", field.key);
    }
}

fn unit(dim: Dim) -> &'static str {
    match dim {
        Dim::Length => "units of length",
        Dim::Angle => "units of angle",
        Dim::Mass => "units of mass",
        Dim::Milliseconds => "ms",
        Dim::Beside => "the unit beside it",
        Dim::LengthOrAngle => "units of length or angle",
    }
}
