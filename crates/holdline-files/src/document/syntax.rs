//! Lines that are not TOML: how they are told, and how the rest of the sheet is read all the same.
//!
//! A forgotten bracket makes nonsense of everything below it. So where the text is not TOML, its
//! blocks, each from a header line to the next, are tried one by one; a broken one is told at its
//! first bad place and blanked out, and what is left is read as usual.

use std::borrow::Cow;
use std::ops::Range;

use holdline_geom::fault::Fault;
use toml::de::{DeTable, Error};

use crate::text::{FileFaults, quoted};

/// The blocks that are not TOML, as byte ranges of the text.
#[derive(Debug, Default)]
pub struct Broken {
    bodies: Vec<Range<usize>>,
    /// Some header line is broken or the end of the file is missing, so that a section may only seem to be missing.
    header: bool,
    /// The lines before the first header are broken.
    head: bool,
}

/// Notes the first bad place of every block that is not TOML.
pub fn note(faults: &mut FileFaults<'_>, text: &str) -> Broken {
    let mut broken = Broken::default();
    let whole = syntax_errors(text);
    let Some(first) = whole.first() else {
        return broken;
    };
    for block in blocks(text) {
        let piece = &text[block.clone()];
        let errors = syntax_errors(piece);
        let Some(error) = errors.first() else {
            continue;
        };
        let place = shifted(error, block.start, piece.len());
        let fault = at_break(text, place.clone(), error.message());
        broken.header |= fault.code == "F018";
        faults.push(place.start, fault);
        let header_end = block.start + piece.find('\n').map_or(piece.len(), |i| i + 1);
        let header_reads =
            piece.starts_with('[') && syntax_errors(&text[block.start..header_end]).is_empty();
        broken.header |= piece.starts_with('[') && !header_reads;
        broken.head |= !piece.starts_with('[');
        let start = if header_reads {
            header_end
        } else {
            block.start
        };
        broken.bodies.push(start..block.end);
    }
    if broken.bodies.is_empty() {
        // Every block reads by itself and the whole does not: tell that and look no further.
        let place = shifted(first, 0, text.len());
        faults.push(place.start, at_break(text, place, first.message()));
        broken.bodies.push(0..text.len());
        (broken.header, broken.head) = (true, true);
    }
    broken
}

/// Notes keys and sections that are there twice.
pub fn note_duplicates(faults: &mut FileFaults<'_>, text: &str, errors: &[Error]) {
    for error in errors.iter().filter(|e| is_duplicate(e)) {
        let span = shifted(error, 0, text.len());
        let key = text.get(span.clone()).unwrap_or("");
        let got = format!("the key {} a second time", quoted(key));
        let want = "each key once in its section";
        let fix = "keep the right one and take the other out";
        faults.push(span.start, Fault::new("F007", "", got, want, fix));
    }
}

impl Broken {
    /// The text with its broken blocks blanked out; every other byte stays at its place.
    pub fn blanked<'t>(&self, text: &'t str) -> Cow<'t, str> {
        if self.bodies.is_empty() {
            return Cow::Borrowed(text);
        }
        let mut blanked = String::with_capacity(text.len());
        let mut from = 0;
        for body in &self.bodies {
            blanked.push_str(&text[from..body.start]);
            blanked.extend(
                text[body.clone()]
                    .bytes()
                    .map(|b| if b == b'\n' { '\n' } else { ' ' }),
            );
            from = body.end;
        }
        blanked.push_str(&text[from..]);
        Cow::Owned(blanked)
    }

    /// True where the format and version lines may be among what is broken.
    pub fn hides_the_head(&self) -> bool {
        self.head
    }

    /// True where the last block of the text is TOML.
    pub fn reads_to_the_end(&self, text: &str) -> bool {
        self.bodies.last().is_none_or(|last| last.end < text.len())
    }

    /// Takes out what may only seem to be missing: keys of a broken block, and sections whose header is broken.
    pub fn drop_consequences(&self, faults: &mut FileFaults<'_>) {
        if self.bodies.is_empty() {
            return;
        }
        let blocks: Vec<(usize, usize)> = self
            .bodies
            .iter()
            .map(|b| {
                (
                    faults.line_of(b.start).saturating_sub(1),
                    faults.line_of(b.end),
                )
            })
            .collect();
        faults.retain(|fault| {
            if !matches!(fault.code, "F009" | "F024") {
                return true;
            }
            let line = fault.place.as_ref().map_or(0, |p| p.line);
            let in_broken = blocks
                .iter()
                .any(|(first, last)| *first <= line && line <= *last);
            let of_the_sheet = !fault.at.contains('.') && !fault.at.contains('[');
            !in_broken && !(of_the_sheet && (self.header || self.head))
        });
    }
}

fn is_duplicate(error: &Error) -> bool {
    error.message().starts_with("duplicate key")
}

/// Errors of a text that make it no TOML, doubled keys left aside.
fn syntax_errors(text: &str) -> Vec<Error> {
    let (_, errors) = DeTable::parse_recoverable(text);
    errors.into_iter().filter(|e| !is_duplicate(e)).collect()
}

fn shifted(error: &Error, start: usize, len: usize) -> Range<usize> {
    let span = error.span().unwrap_or(len..len);
    start + span.start.min(len)..start + span.end.min(len)
}

/// The text from each header line to the next; the first block may have no header.
fn blocks(text: &str) -> Vec<Range<usize>> {
    let mut starts = vec![0];
    let mut offset = 0;
    for line in text.split_inclusive('\n') {
        if 0 < offset && is_header(line) {
            starts.push(offset);
        }
        offset += line.len();
    }
    let ends = starts.iter().skip(1).copied().chain([text.len()]);
    starts
        .iter()
        .copied()
        .zip(ends)
        .map(|(start, end)| start..end)
        .collect()
}

/// A line that was meant as a header: a bracket at its start and a letter after it.
fn is_header(line: &str) -> bool {
    line.strip_prefix('[')
        .map(|rest| rest.trim_start_matches('['))
        .is_some_and(|rest| rest.starts_with(|c: char| c.is_ascii_alphabetic()))
}

fn at_break(text: &str, span: Range<usize>, message: &str) -> Fault {
    if text.trim_end().len() <= span.start {
        let got = format!("the end of the file in the middle of something ({message})");
        let fix = "copy the file again: it was cut short; if it is whole, complete its last line";
        return Fault::new("F018", "", got, "a whole file", fix);
    }
    let got = match text.get(span) {
        Some(piece) if !piece.trim().is_empty() => quoted(piece.lines().next().unwrap_or("")),
        _ => "something else".to_owned(),
    };
    let fix = "correct this line; the rest of its section is looked at once it reads";
    Fault::new("F006", "", got, format!("TOML ({message})"), fix)
}
