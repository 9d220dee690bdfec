//! `cargo x tidy`: the rules of the house that a compiler does not hold.
//!
//! The tables below are the rules.
//! A new arrow in them is a decision (`docs/decisions`), not a by-product.

mod codes;
mod depends;
mod leftovers;
mod lexer;
mod links;
mod paths;
mod purity;
mod rooms;
mod sizes;
mod sources;

use std::fmt;

use crate::checks;
use crate::run;
use crate::tree::{self, TextFile};

/// One room of `crates/holdline` and the rooms it may look into.
pub struct Room {
    /// Its name: a module of `crates/holdline/src`.
    pub name: &'static str,
    /// The rooms it may use. The ground floor is open to all.
    pub may_use: &'static [&'static str],
}

/// Who may look into whom, in the order the work is done.
pub const ROOMS: &[Room] = &[
    room("machine", &[]),
    room("tooth", &["machine"]),
    room("site", &["machine", "tooth"]),
    room("calibrate", &["machine", "tooth", "site"]),
    room("design", &["machine", "tooth", "site"]),
    // Not design: a limit holds whatever is to be dug. Not calibrate: uncertainties are handed in.
    room("limits", &["machine", "tooth", "site"]),
    room("proof", &["machine", "tooth", "site", "limits"]),
    room("scale", &["machine", "tooth"]),
    room("sight", &["machine", "tooth"]),
    room(
        "log",
        &[
            "machine",
            "tooth",
            "site",
            "calibrate",
            "design",
            "limits",
            "scale",
            "sight",
        ],
    ),
    room(
        "records",
        &[
            "machine",
            "tooth",
            "site",
            "calibrate",
            "design",
            "limits",
            "proof",
            "scale",
            "sight",
            "log",
        ],
    ),
];

/// Modules of `crates/holdline` that are no rooms: any room may read them, they read no room.
pub const COMMON: &[&str] = &["frames", "sources"];

/// Modules of `crates/holdline` that may read any room and are read by none.
pub const LAST: &[&str] = &["demo", "explain"];

/// One crate, the sisters it may depend on, and those its tests may use besides.
pub struct Crate {
    /// Its name.
    pub name: &'static str,
    /// Sisters that it may use.
    pub may_use: &'static [&'static str],
}

/// Everything below the faces.
const LIBRARIES: &[&str] = &[
    "holdline-geom",
    "holdline",
    "holdline-sheet",
    "holdline-files",
    "holdline-store",
    "holdline-steps",
];

/// Arrows between crates, ground floor first.
pub const CRATES: &[Crate] = &[
    member("holdline-geom", &[]),
    member("holdline", &["holdline-geom"]),
    member("holdline-sheet", &["holdline-geom", "holdline"]),
    member("holdline-files", &["holdline-geom", "holdline"]),
    member("holdline-store", &["holdline-geom", "holdline"]),
    member(
        "holdline-steps",
        &[
            "holdline-geom",
            "holdline",
            "holdline-sheet",
            "holdline-files",
            "holdline-store",
        ],
    ),
    member("holdline-web", &["holdline-geom", "holdline-steps"]),
    member(
        "holdline-cli",
        &["holdline-geom", "holdline-steps", "holdline-web"],
    ),
    // Checks and examples stand outside and may look at anything below the faces.
    member("holdline-checks", LIBRARIES),
    member("holdline-examples", LIBRARIES),
    member("holdline-fuzz", &["holdline", "holdline-files"]),
    member("xtask", &[]),
];

/// A crate that reads no file, clock, environment or random source, and all it may build on.
pub struct Pure {
    /// Where its sources lie.
    pub src: &'static str,
    /// Crates of others that it may use.
    pub may_use: &'static [&'static str],
}

/// The pure crates: the same input gives the same bytes.
pub const PURE: &[Pure] = &[
    Pure {
        src: "crates/holdline-geom/",
        may_use: &["nalgebra", "statrs", "num-dual", "libm", "rand_pcg"],
    },
    Pure {
        src: "crates/holdline/",
        // rayon shares work out over the cores; the bytes stay those of serial work.
        // ed25519-dalek checks signatures; keys are made and used at the edges.
        may_use: &[
            "nalgebra",
            "statrs",
            "num-dual",
            "libm",
            "sha2",
            "pulp",
            "rayon",
            "ed25519-dalek",
        ],
    },
];

const fn room(name: &'static str, may_use: &'static [&'static str]) -> Room {
    Room { name, may_use }
}

const fn member(name: &'static str, may_use: &'static [&'static str]) -> Crate {
    Crate { name, may_use }
}

/// Whether a remark stops a change.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Weight {
    /// It does.
    Fails,
    /// Somebody should look.
    Warns,
}

/// One thing that is not as the house wants it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Remark {
    /// `path:line`.
    pub at: String,
    /// What is wrong; what to do.
    pub says: String,
    /// Whether it stops a change.
    pub weight: Weight,
}

impl Remark {
    fn fails(path: &str, line: usize, says: impl Into<String>) -> Remark {
        Remark {
            at: format!("{path}:{line}"),
            says: says.into(),
            weight: Weight::Fails,
        }
    }

    fn warns(path: &str, line: usize, says: impl Into<String>) -> Remark {
        Remark {
            weight: Weight::Warns,
            ..Remark::fails(path, line, says)
        }
    }
}

impl fmt::Display for Remark {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.at, self.says)
    }
}

/// All that is to be remarked in these files.
pub fn look_at(files: &[TextFile]) -> Vec<Remark> {
    let mut remarks = Vec::new();
    for file in files.iter().filter(|file| file.ending() == "rs") {
        let source = lexer::split(file);
        remarks.extend(rooms::look_at(&source));
        remarks.extend(purity::look_at(&source));
        remarks.extend(leftovers::in_rust(&source));
        remarks.extend(sizes::width(&source));
    }
    for file in files {
        remarks.extend(sizes::length(file));
        remarks.extend(leftovers::in_text(file));
    }
    remarks.extend(depends::look_at(files));
    remarks.extend(sources::look_at(files));
    remarks.extend(links::look_at(files));
    remarks.extend(codes::look_at(files));
    remarks.extend(headers(files));
    remarks
}

/// Checks that do not open with their six lines.
fn headers(files: &[TextFile]) -> Vec<Remark> {
    let checks = files.iter().filter(|file| checks::is_check(&file.path));
    checks
        .filter_map(|file| {
            let gaps = checks::gaps(&checks::read(file));
            (!gaps.is_empty()).then(|| {
                let says = format!("the head of a check lacks: {}", gaps.join(", "));
                Remark::fails(&file.path, 1, says)
            })
        })
        .collect()
}

/// Prints everything; true when nothing stops a change.
pub fn show() -> bool {
    let files = tree::text_files(&tree::root());
    let remarks = look_at(&files);
    for remark in &remarks {
        match remark.weight {
            Weight::Fails => println!("{remark}"),
            Weight::Warns => println!("{remark} (look again)"),
        }
    }
    let fails = count(&remarks, Weight::Fails);
    let warns = count(&remarks, Weight::Warns);
    println!(
        "tidy: {} files, {fails} to mend, {warns} to look at again, {} marks `from memory`",
        files.len(),
        sources::from_memory(&files)
    );
    fails == 0
}

/// As a step of `cargo x check`.
pub fn step() -> bool {
    let fix = "mend each line, or record a decision; cargo x tidy shows them again";
    run::own("tidy", fix, || failing(&look_at(&all_files())))
}

/// Links alone, as a step of `cargo x docs`.
pub fn links_step() -> bool {
    run::own(
        "links in documents",
        "mend the link or write the page",
        || failing(&links::look_at(&all_files())),
    )
}

fn all_files() -> Vec<TextFile> {
    tree::text_files(&tree::root())
}

fn failing(remarks: &[Remark]) -> Vec<String> {
    let fails = remarks.iter().filter(|r| r.weight == Weight::Fails);
    fails.map(Remark::to_string).collect()
}

fn count(remarks: &[Remark], weight: Weight) -> usize {
    remarks.iter().filter(|r| r.weight == weight).count()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn may(from: &str, to: &str) -> bool {
        let room = ROOMS.iter().find(|room| room.name == from);
        room.is_some_and(|room| room.may_use.contains(&to))
    }

    #[test]
    fn the_table_says_what_was_decided() {
        assert!(
            !may("limits", "design"),
            "a limit holds whatever is to be dug"
        );
        assert!(
            !may("limits", "calibrate"),
            "uncertainties are handed in as values"
        );
        assert!(!may("log", "proof"));
        for room in ROOMS {
            assert!(!may(room.name, "records"), "{} reads records", room.name);
        }
    }

    #[test]
    fn arrows_point_back_to_earlier_rooms_and_crates_only() {
        for (idx, room) in ROOMS.iter().enumerate() {
            for used in room.may_use {
                let before = ROOMS[..idx].iter().any(|r| r.name == *used);
                assert!(before, "{} uses {used}, which comes later", room.name);
            }
        }
        for (idx, member) in CRATES.iter().enumerate() {
            for used in member.may_use {
                let before = CRATES[..idx].iter().any(|c| c.name == *used);
                assert!(before, "{} uses {used}, which comes later", member.name);
            }
        }
    }

    #[test]
    fn the_tree_is_tidy() {
        let wrong = failing(&look_at(&all_files()));
        assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    }
}
