//! The page of the reference that lists every key of the machine sheet, made from the table of its fields.

use std::fmt::Write as _;

use super::fields::{PIN, SHEET};
use super::table::{Dim, Field, Kind, Need, Section};

/// Every key of a machine sheet, for people, in Markdown.
pub fn machine_sheet_reference() -> String {
    let mut out = String::from(
        "# Machine sheet, every key\n\n\
         Made from the table that the reader itself uses; a test holds that it is current.\n\
         How a sheet is written: [files in and out](file-formats.md).\n\
         Bare numbers are in the units that the section `[units]` names.\n\
         A value without `sd` is allowed, is said to have none, and counts as unknown wherever a tolerance is judged.\n",
    );
    section(&mut out, "the top of the file", &SHEET, false);
    for field in SHEET.fields {
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
        Kind::Pin if field.key == "base" => (&PIN, "a cylinder's `base` and `rod`".to_owned()),
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
    if !of.one_of.is_empty() {
        let keys: Vec<String> = of.one_of.iter().map(|k| format!("`{k}`")).collect();
        let _ = writeln!(out, "Exactly one of {}.\n", keys.join(", "));
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
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PUBLISHED: &str = include_str!("../../../../docs/reference/machine-sheet.md");

    #[test]
    fn the_page_is_current() {
        let now = machine_sheet_reference();
        if std::env::var_os("HOLDLINE_ACCEPT").is_some() {
            let path = concat!(
                env!("CARGO_MANIFEST_DIR"),
                "/../../docs/reference/machine-sheet.md"
            );
            std::fs::write(path, &now).unwrap();
        }
        assert!(
            now == PUBLISHED,
            "docs/reference/machine-sheet.md is not what the table of fields gives; \
             HOLDLINE_ACCEPT=1 cargo test -p holdline-files reference writes it anew"
        );
    }

    #[test]
    fn every_key_is_on_the_page() {
        let page = machine_sheet_reference();
        for key in [
            "`idler_pivot`",
            "`along_linkage`",
            "`stroke_tolerance`",
            "`latency_ms`",
            "`tooth`",
        ] {
            assert!(page.contains(key), "no {key}");
        }
    }
}
