//! Who looks into whom, inside `crates/holdline`.

use super::lexer::Source;
use super::paths::{self, Named};
use super::{COMMON, LAST, ROOMS, Remark};

/// Where the rooms are.
const HOUSE: &str = "crates/holdline/src/";

/// Paths that lead into a room that this one may not use.
pub fn look_at(source: &Source) -> Vec<Remark> {
    let Some(inner) = source.path.strip_prefix(HOUSE) else {
        return Vec::new();
    };
    let place = modules(inner);
    let Some(from) = place.first() else {
        return Vec::new(); // lib.rs lists the rooms
    };
    if !known(from) {
        let says = format!(
            "`{from}` is no room in the table of xtask/src/tidy.rs; put it in one, or record a decision"
        );
        return vec![Remark::fails(&source.path, 1, says)];
    }
    let mut remarks = Vec::new();
    for path in paths::named(source) {
        let Some(to) = target(&place, &path) else {
            continue;
        };
        if to == *from || !known(&to) || may(from, &to) {
            continue;
        }
        let says = format!("{from} may not use {to}; hand the value in, or record a decision");
        remarks.push(Remark::fails(inner, path.line, says));
    }
    remarks.dedup();
    remarks
}

/// Whether the table allows the arrow.
fn may(from: &str, to: &str) -> bool {
    if COMMON.contains(&to) {
        return true;
    }
    if LAST.contains(&from) {
        return !LAST.contains(&to);
    }
    let room = ROOMS.iter().find(|room| room.name == from);
    room.is_some_and(|room| room.may_use.contains(&to))
}

fn known(module: &str) -> bool {
    COMMON.contains(&module)
        || LAST.contains(&module)
        || ROOMS.iter().any(|room| room.name == module)
}

/// Modules from the top of the crate to a file.
fn modules(inner: &str) -> Vec<String> {
    let trimmed = inner.trim_end_matches(".rs");
    let mut words: Vec<String> = trimmed.split('/').map(str::to_owned).collect();
    if words
        .last()
        .is_some_and(|last| last == "mod" || last == "lib")
    {
        words.pop();
    }
    words
}

/// The first module that a path of this crate leads to, seen from the top.
fn target(place: &[String], path: &Named) -> Option<String> {
    let mut at: Vec<String> = place.iter().chain(&path.modules).cloned().collect();
    let mut words = path.words.iter();
    match words.as_slice().first().map(String::as_str) {
        Some("crate") => {
            at.clear();
            words.next();
        }
        Some("self" | "super") => {}
        _ => return None,
    }
    for word in words {
        match word.as_str() {
            "self" => {}
            "super" => {
                at.pop();
            }
            word => {
                at.push(word.to_owned());
                break;
            }
        }
    }
    at.first().cloned()
}

#[cfg(test)]
mod tests {
    use super::super::lexer::split;
    use super::*;
    use crate::tree::TextFile;

    fn remarks(path: &str, text: &str) -> Vec<String> {
        let file = TextFile {
            path: path.to_owned(),
            text: text.to_owned(),
        };
        look_at(&split(&file))
            .iter()
            .map(Remark::to_string)
            .collect()
    }

    #[test]
    fn tidy_speaks_plainly() {
        let text = "\n".repeat(9) + "use crate::limits::Plane;\n";
        assert_eq!(
            remarks("crates/holdline/src/tooth/chain_3d.rs", &text),
            [
                "tooth/chain_3d.rs:10: tooth may not use limits; hand the value in, or record a decision"
            ]
        );
    }

    #[test]
    fn groups_expressions_and_supers_are_seen_through() {
        let bad = [
            "use crate::{machine::Pins, limits::Plane};",
            "fn f() { crate::limits::g(); }",
            "use super::super::limits::Plane;",
            "mod inner { use super::super::super::limits::Plane; }",
            "pub use crate::limits as l;",
        ];
        for text in bad {
            let found = remarks("crates/holdline/src/tooth/chain.rs", text);
            assert_eq!(found.len(), 1, "{text}: {found:?}");
        }
        assert_eq!(
            remarks("crates/holdline/src/tooth/mod.rs", "use super::limits::P;").len(),
            1
        );
    }

    #[test]
    fn what_the_table_allows_passes() {
        let good = [
            (
                "tooth/chain.rs",
                "use crate::machine::{Pins, claim::Joint};",
            ),
            (
                "tooth/chain.rs",
                "use super::lever::Arm; use crate::frames::House;",
            ),
            (
                "tooth/chain.rs",
                "//! See [`crate::limits`].\nuse holdline_geom::fault::Fault;",
            ),
            (
                "tooth/chain.rs",
                "mod tests { use super::*; use super::super::lever::Arm; }",
            ),
            ("records/body.rs", "use crate::calibrate::Shot;"),
            ("lib.rs", "pub mod limits; pub use crate::limits::Plane;"),
        ];
        for (path, text) in good {
            let path = format!("crates/holdline/src/{path}");
            assert_eq!(remarks(&path, text), Vec::<String>::new(), "{path}: {text}");
        }
    }

    #[test]
    fn a_module_that_is_no_room_is_named() {
        assert_eq!(remarks("crates/holdline/src/misc/mod.rs", "").len(), 1);
    }
}
