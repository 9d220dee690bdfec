//! Line and column for a path, so that faults found in the core point into the file.

use holdline_geom::fault::{Fault, Faults, Place};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::path::{Step, steps};
use super::table::{Kind, Section};
use super::walk::has_name;
use crate::text::Lines;

/// Where a path leads in a sheet; where it leads nowhere, the nearest place on the way.
///
/// `None` if not even its first step is in the sheet.
pub fn locate(sheet: &Section, file: &str, text: &str, path: &str) -> Option<Place> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let (table, _) = DeTable::parse_recoverable(text);
    let offset = in_section(sheet, table.get_ref(), &steps(path))?;
    Some(Lines::of(text).place(file, offset))
}

/// Faults of the core with the places that their paths have in the sheet, in the order of the file.
/// A fault whose path leads nowhere points at the file's first line.
#[must_use]
pub fn place_faults(sheet: &Section, file: &str, text: &str, faults: Faults) -> Faults {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let (table, _) = DeTable::parse_recoverable(text);
    let lines = Lines::of(text);
    let placed = |mut fault: Fault| {
        let offset = in_section(sheet, table.get_ref(), &steps(&fault.at)).unwrap_or(0);
        fault.place.get_or_insert_with(|| lines.place(file, offset));
        fault
    };
    let mut placed: Vec<Fault> = faults.0.into_iter().map(placed).collect();
    placed.sort_by_key(|f| f.place.as_ref().map(|p| (p.line, p.column)));
    Faults(placed)
}

/// The line on which each entry of a list of the document begins, from 1.
pub fn lines_of_entries(text: &str, list: &str) -> Vec<usize> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let (table, _) = DeTable::parse_recoverable(text);
    let lines = Lines::of(text);
    match table.get_ref().get(list).map(Spanned::get_ref) {
        Some(DeValue::Array(entries)) => entries
            .iter()
            .map(|entry| lines.place("", entry.span().start).line)
            .collect(),
        _ => Vec::new(),
    }
}

/// What each entry of a list of the document says behind a key.
pub fn texts_of_entries(text: &str, list: &str, key: &str) -> Vec<Option<String>> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let (table, _) = DeTable::parse_recoverable(text);
    let said = |entry: &Spanned<DeValue<'_>>| match entry.get_ref() {
        DeValue::Table(table) => table.get(key)?.get_ref().as_str().map(str::to_owned),
        _ => None,
    };
    match table.get_ref().get(list).map(Spanned::get_ref) {
        Some(DeValue::Array(entries)) => entries.iter().map(said).collect(),
        _ => Vec::new(),
    }
}

fn in_section(section: &Section, table: &DeTable<'_>, path: &[Step]) -> Option<usize> {
    let (step, rest) = path.split_first()?;
    let (key, value) = table.get_key_value(step.key.as_str())?;
    let here = key.span().start;
    let found = match section.field(&step.key).map(|f| f.kind) {
        Some(Kind::Inside(of)) => match value.get_ref() {
            DeValue::Table(inside) => in_section(of, inside, rest).or(Some(here)),
            _ => None,
        },
        Some(Kind::List { of, named_by, .. }) => {
            in_list(of, named_by, value, step.entry.as_deref(), rest).or(Some(here))
        }
        Some(Kind::InsideOr { of, .. }) => match value.get_ref() {
            DeValue::Table(inside) => in_section(of, inside, rest),
            _ => None,
        },
        _ => in_value(value, step, rest),
    };
    found.or(Some(value.span().start))
}

fn in_list(
    of: &Section,
    named_by: &str,
    value: &Spanned<DeValue<'_>>,
    entry: Option<&str>,
    rest: &[Step],
) -> Option<usize> {
    let DeValue::Array(entries) = value.get_ref() else {
        return None;
    };
    let wanted = entry?;
    let by_name = |e: &&Spanned<DeValue<'_>>| has_name(e.get_ref(), named_by, wanted);
    let by_place = || entries.get(wanted.parse::<usize>().ok()?.checked_sub(1)?);
    let entry = entries.iter().find(by_name).or_else(by_place)?;
    let DeValue::Table(inside) = entry.get_ref() else {
        return Some(entry.span().start);
    };
    in_section(of, inside, rest).or(Some(entry.span().start))
}

/// Inside a single value: the figure or sd of a measured value, an axis of a point, a point of a line.
fn in_value(value: &Spanned<DeValue<'_>>, step: &Step, rest: &[Step]) -> Option<usize> {
    match value.get_ref() {
        DeValue::Table(table) => {
            let next = rest.first();
            let inner = match next.map(|s| s.key.as_str()) {
                Some("sd") => table.get("sd"),
                Some("x" | "y" | "z") if rest.get(1).is_some_and(|s| s.key == "sd") => {
                    table.get("sd")
                }
                Some(key) => (table.get(key)) // a reading by its name
                    .or_else(|| table.get("at"))
                    .or_else(|| table.get("value")),
                None => table.get("at").or_else(|| table.get("value")),
            }?;
            in_value(inner, step, rest).or(Some(inner.span().start))
        }
        DeValue::Array(items) => {
            let idx = match (&step.entry, rest.first().map(|s| s.key.as_str())) {
                (Some(place), _) => place.parse::<usize>().ok()?.checked_sub(1)?,
                (None, Some("x" | "min")) => 0,
                (None, Some("z" | "max")) => items.len().checked_sub(1)?,
                (None, Some("y")) => 1,
                (None, _) => return None,
            };
            items.get(idx).map(|item| item.span().start)
        }
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use crate::machine_sheet::{locate, place_faults};
    use holdline_geom::fault::{Fault, Faults};

    const DEMO: &str = include_str!("../../../../demo/demo-23.machine.toml");

    /// The path leads to the place where `want` begins.
    #[track_caller]
    fn check(path: &str, want: &str) {
        let place = locate("m.toml", DEMO, path).expect("the path leads somewhere");
        let line = DEMO.lines().nth(place.line - 1).unwrap();
        let from: String = line.chars().skip(place.column - 1).collect();
        assert!(from.starts_with(want), "{path} leads to {from:?}");
    }

    #[test]
    fn paths_lead_to_their_values() {
        check("machine.id", "\"demo-23\"");
        check("stick.length", "2.940"); // the figure, not the bracket before it
        check("stick.length.value", "2.940");
        check("stick.length.sd", "0.003 }");
        check("boom.foot", "[0.150");
        check("boom.foot.y", "-0.045");
        check("boom.foot.z", "1.850");
        check("boom.foot.y.sd", "0.003 }");
        check("house.eye.x", "0.720");
        check("cylinder[2].retracted", "1.930");
        check("cylinder[2].base.at.z", "0.900]");
        check("bucket[T75].tooth[left].at", "[-0.178, 0.375");
        check("bucket[T75].tooth[left].at.y", "0.375");
        check("bucket[G180].heel.z", "-0.620]");
        check("bucket[T75].outline[2]", "[0.020, -1.330]");
        check("solid[10].sector.z.max", "2.15]");
        check("sensor[S-idler].offset", "0.0, sd");
    }

    #[test]
    fn what_is_not_there_leads_to_its_section() {
        check("stick.colour", "stick]");
        check("boom.upper", "boom]");
        check("bucket[T75].edge", "[[bucket]]");
        check("bucket[X]", "bucket]]");
        assert_eq!(locate("m.toml", DEMO, "swing_post.at"), None);
        assert_eq!(locate("m.toml", "not toml [", ""), None);
    }

    #[test]
    fn faults_of_the_core_get_their_places() {
        let fault = |at: &str| Fault::new("M012", at, "13.1 m", "less", "measure again");
        let faults = Faults(vec![
            fault("bucket[T75].width"),
            fault("stick.length"),
            fault("x"),
        ]);
        let placed = place_faults("m.toml", DEMO, faults).to_string();
        let heads: Vec<&str> = placed.lines().filter(|l| l.starts_with("fault")).collect();
        assert_eq!(
            heads,
            [
                "fault M012 at m.toml:1:1 (x)",
                "fault M012 at m.toml:37:20 (stick.length)",
                "fault M012 at m.toml:92:19 (bucket[T75].width)"
            ]
        );
    }
}
