//! Ways in which files go wrong on site: cut short, glued together, typed over, sent in the wrong form.

use crate::random::Random;

/// Pieces that readers trip over.
const PIECES: &[&str] = &[
    "NaN",
    "nan",
    "inf",
    "-inf",
    "1e999",
    "-0.0",
    "1e-320",
    "99999999999999999999",
    "0x7f",
    "1_0",
    "",
    " ",
    "\t",
    "\n",
    "\r\n",
    "\u{feff}",
    "\u{0}",
    "\"",
    "'",
    "\"\"\"",
    "[",
    "]",
    "[[",
    "]]",
    "{",
    "}",
    "=",
    ",",
    ";",
    ".",
    "#",
    "\\",
    "\\u0000",
    "true",
    "null",
    "é",
    "𝕏",
    "-",
    "+",
    "e",
    "sd",
    "value",
    "at",
    "[[bucket]]",
    "version = 2",
    "length = \"ft\"",
    "boom_deg",
    "10000000000",
];

/// Longest input made, in bytes.
const LONGEST: usize = 1 << 16;

/// One input of the corpus, changed in one to eight ways.
pub fn mutated(corpus: &[Vec<u8>], random: &mut Random) -> Vec<u8> {
    let mut input = corpus
        .get(random.below(corpus.len()))
        .cloned()
        .unwrap_or_default();
    for _ in 0..=random.below(8) {
        change(&mut input, corpus, random);
    }
    input.truncate(LONGEST);
    input
}

fn change(input: &mut Vec<u8>, corpus: &[Vec<u8>], random: &mut Random) {
    let at = random.below(input.len() + 1);
    let span = at..(at + 1 + random.below(16)).min(input.len()).max(at);
    match random.below(10) {
        0 => input.truncate(at),
        1 => {
            if let Some(byte) = input.get_mut(at) {
                *byte ^= 1 << random.below(8);
            }
        }
        2 => {
            if let Some(byte) = input.get_mut(at) {
                *byte = random.bits() as u8;
            }
        }
        3 => input.insert(at, random.bits() as u8),
        4 => drop(input.drain(span)),
        5 => {
            let copy = input[span].to_vec();
            let to = random.below(input.len() + 1);
            input.splice(to..to, copy);
        }
        6 | 7 => {
            let piece = random.one_of(PIECES).as_bytes();
            input.splice(at..at, piece.iter().copied());
        }
        8 => {
            let piece = random.one_of(PIECES).as_bytes();
            input.splice(span, piece.iter().copied());
        }
        _ => splice_a_line(input, corpus, random),
    }
}

/// A line of some seed, put in place of a line here.
fn splice_a_line(input: &mut Vec<u8>, corpus: &[Vec<u8>], random: &mut Random) {
    let Some(other) = corpus.get(random.below(corpus.len())) else {
        return;
    };
    let line = line_at(other, random.below(other.len() + 1));
    let line = other[line].to_vec();
    let here = line_at(input, random.below(input.len() + 1));
    input.splice(here, line);
}

/// The line around a place, its break included.
fn line_at(bytes: &[u8], at: usize) -> std::ops::Range<usize> {
    let start = bytes[..at]
        .iter()
        .rposition(|b| *b == b'\n')
        .map_or(0, |b| b + 1);
    let end = bytes[at..]
        .iter()
        .position(|b| *b == b'\n')
        .map_or(bytes.len(), |b| at + b + 1);
    start..end
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_is_taken_with_its_break() {
        assert_eq!(line_at(b"ab\ncd\nef", 4), 3..6);
        assert_eq!(line_at(b"ab\ncd\nef", 7), 6..8);
        assert_eq!(line_at(b"", 0), 0..0);
    }

    #[test]
    fn mutation_itself_never_breaks() {
        let mut random = Random::new(1);
        let corpus = [
            Vec::new(),
            b"a\n".to_vec(),
            b"key = 1.0\nother = [1, 2]\n".to_vec(),
        ];
        for _ in 0..20_000 {
            assert!(mutated(&corpus, &mut random).len() <= LONGEST);
        }
        assert!(mutated(&[], &mut random).len() <= LONGEST);
    }
}
