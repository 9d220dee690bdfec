//! The two faces that every sheet is lettered in, and what they measure.
//!
//! Noto Sans 2.015 under the SIL Open Font License 1.1, subset, with a few signs added and renamed;
//! `fonts/make_fonts.py` makes the files, `fonts/OFL.txt` is the licence.
//! Figures have one width. There is no kerning, so a browser, the PDF and the PNG agree on every letter.

use std::sync::OnceLock;

use crate::geometry::{Pt, Step, pt};

/// Name of the family in SVG and CSS.
pub const FAMILY: &str = "Holdline Sans";
/// Regular, TrueType; for the PDF, the PNG and a page that wants it.
pub const REGULAR_TTF: &[u8] = include_bytes!("../fonts/holdline-sans-regular.ttf");
/// Semi-bold, TrueType.
pub const SEMIBOLD_TTF: &[u8] = include_bytes!("../fonts/holdline-sans-semibold.ttf");
/// Regular, for the web page.
pub const REGULAR_WOFF2: &[u8] = include_bytes!("../fonts/holdline-sans-regular.woff2");
/// Semi-bold, for the web page.
pub const SEMIBOLD_WOFF2: &[u8] = include_bytes!("../fonts/holdline-sans-semibold.woff2");
/// Licence of the fonts, to be handed on with them.
pub const LICENCE: &str = include_str!("../fonts/OFL.txt");

/// Millimetres in a typographic point.
pub const MM_PER_PT: f64 = 25.4 / 72.0;
/// Height of a line of words, in sizes.
pub const LINE: f64 = 1.28;
/// What letters reach above the baseline, in sizes.
pub const ABOVE: f64 = 0.79;
/// What letters reach below the baseline, in sizes.
pub const BELOW: f64 = 0.24;
/// Height of a capital or a figure, in sizes.
pub const CAPITAL: f64 = 0.714;

/// Weight of a letter.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Face {
    /// Words, uncertainties.
    Regular,
    /// Values, titles.
    SemiBold,
}

impl Face {
    /// Both.
    pub const ALL: [Face; 2] = [Face::Regular, Face::SemiBold];

    /// The TrueType file.
    pub const fn ttf(self) -> &'static [u8] {
        match self {
            Face::Regular => REGULAR_TTF,
            Face::SemiBold => SEMIBOLD_TTF,
        }
    }

    /// CSS weight.
    pub const fn weight(self) -> u16 {
        match self {
            Face::Regular => 400,
            Face::SemiBold => 600,
        }
    }

    /// Width of a run of letters, mm.
    pub fn width_mm(self, text: &str, size_pt: f64) -> f64 {
        let table = self.table();
        let units: u32 = text
            .chars()
            .map(|c| u32::from(table.glyph(c).advance))
            .sum();
        f64::from(units) / table.units_per_em * size_pt * MM_PER_PT
    }

    /// Glyph number and advance in sizes of a letter; glyph 0, an empty box, for one that is missing.
    pub fn glyph(self, letter: char) -> (u16, f64) {
        let table = self.table();
        let glyph = table.glyph(letter);
        (glyph.id, f64::from(glyph.advance) / table.units_per_em)
    }

    /// True when the face has every letter of the text.
    pub fn covers(self, text: &str) -> bool {
        let table = self.table();
        text.chars().all(|c| table.glyph(c).id != 0)
    }

    /// Outline of a glyph with its baseline start at `at`, as steps on paper.
    pub fn outline(self, glyph: u16, at: Pt, turn_rad: f64, size_pt: f64) -> Vec<Step> {
        let table = self.table();
        let Some(face) = &table.face else {
            return Vec::new();
        };
        let per_unit = size_pt * MM_PER_PT / table.units_per_em;
        let mut pen = OutlinePen {
            steps: Vec::new(),
            at,
            cos: turn_rad.cos() * per_unit,
            sin: turn_rad.sin() * per_unit,
            last: (0.0, 0.0),
        };
        face.outline_glyph(ttf_parser::GlyphId(glyph), &mut pen);
        pen.steps
    }

    fn table(self) -> &'static Table {
        static REGULAR: OnceLock<Table> = OnceLock::new();
        static SEMIBOLD: OnceLock<Table> = OnceLock::new();
        match self {
            Face::Regular => REGULAR.get_or_init(|| Table::read(REGULAR_TTF)),
            Face::SemiBold => SEMIBOLD.get_or_init(|| Table::read(SEMIBOLD_TTF)),
        }
    }
}

/// Letters that can be drawn: control characters and line breaks become spaces, runs of them one.
pub fn drawable(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        let plain = if c.is_control() || matches!(c, '\u{2028}' | '\u{2029}' | '\u{feff}') {
            ' '
        } else {
            c
        };
        if !(plain == ' ' && out.ends_with(' ')) {
            out.push(plain);
        }
    }
    out.trim().to_owned()
}

/// Breaks words into lines no wider than `width_mm`; a word that is too long is broken between letters.
///
/// A line break in the text starts a new line. There is always at least one line.
pub fn wrap(face: Face, size_pt: f64, text: &str, width_mm: f64) -> Vec<String> {
    let mut lines = Vec::new();
    for paragraph in text.split('\n') {
        let mut line = String::new();
        for word in drawable(paragraph).split(' ').filter(|w| !w.is_empty()) {
            let longer = if line.is_empty() {
                word.to_owned()
            } else {
                format!("{line} {word}")
            };
            if face.width_mm(&longer, size_pt) <= width_mm {
                line = longer;
                continue;
            }
            let number = number_before_unit(&line, word).map(str::to_owned);
            if let Some(number) =
                number.filter(|n| face.width_mm(&format!("{n} {word}"), size_pt) <= width_mm)
            {
                line.truncate(line.len() - number.len() - 1);
                lines.push(std::mem::replace(&mut line, format!("{number} {word}")));
                continue;
            }
            if !line.is_empty() {
                lines.push(std::mem::take(&mut line));
            }
            line = break_word(face, size_pt, word, width_mm, &mut lines);
        }
        lines.push(line);
    }
    lines
}

/// The number at the end of a line whose unit would begin the next one: the two stay together.
fn number_before_unit<'a>(line: &'a str, word: &str) -> Option<&'a str> {
    const UNITS: [&str; 10] = ["mm", "m", "cm", "ft", "kg", "t", "s", "ms", "%", "sd"];
    let unit = word.trim_end_matches([',', '.', ';', ':', ')']);
    let (_, last) = line.rsplit_once(' ')?;
    let is_number = last.ends_with(|c: char| c.is_ascii_digit());
    (is_number && UNITS.contains(&unit)).then_some(last)
}

/// Breaks one long word; full pieces go to `lines`, the rest comes back.
fn break_word(face: Face, size: f64, word: &str, width: f64, lines: &mut Vec<String>) -> String {
    let mut piece = String::new();
    for c in word.chars() {
        piece.push(c);
        if face.width_mm(&piece, size) > width && piece.chars().count() > 1 {
            piece.pop();
            lines.push(std::mem::replace(&mut piece, c.to_string()));
        }
    }
    piece
}

#[derive(Clone, Copy, Default)]
struct Glyph {
    id: u16,
    advance: u16,
}

struct Table {
    face: Option<ttf_parser::Face<'static>>,
    units_per_em: f64,
    low: Vec<Glyph>,
    missing: Glyph,
}

/// Letters below this code are looked up once; the shipped faces hold none above it.
const LOW: u32 = 0x2300;

impl Table {
    fn read(bytes: &'static [u8]) -> Table {
        let face = ttf_parser::Face::parse(bytes, 0).ok();
        let glyph = |id: ttf_parser::GlyphId| Glyph {
            id: id.0,
            advance: face
                .as_ref()
                .and_then(|f| f.glyph_hor_advance(id))
                .unwrap_or(600),
        };
        let missing = glyph(ttf_parser::GlyphId(0));
        let low = (0..LOW)
            .map(|code| {
                char::from_u32(code)
                    .and_then(|c| face.as_ref().and_then(|f| f.glyph_index(c)))
                    .map_or(missing, glyph)
            })
            .collect();
        let units_per_em = face
            .as_ref()
            .map_or(1000.0, |f| f64::from(f.units_per_em()));
        Table {
            units_per_em,
            low,
            missing,
            face,
        }
    }

    fn glyph(&self, letter: char) -> Glyph {
        self.low
            .get(letter as usize)
            .copied()
            .unwrap_or(self.missing)
    }
}

struct OutlinePen {
    steps: Vec<Step>,
    at: Pt,
    cos: f64,
    sin: f64,
    last: (f32, f32),
}

impl OutlinePen {
    fn on_paper(&self, x: f32, y: f32) -> Pt {
        let (x, y) = (f64::from(x), -f64::from(y)); // font units go up, paper goes down
        pt(
            self.at.x + x * self.cos - y * self.sin,
            self.at.y + x * self.sin + y * self.cos,
        )
    }
}

impl ttf_parser::OutlineBuilder for OutlinePen {
    fn move_to(&mut self, x: f32, y: f32) {
        self.last = (x, y);
        self.steps.push(Step::Move(self.on_paper(x, y)));
    }

    fn line_to(&mut self, x: f32, y: f32) {
        self.last = (x, y);
        self.steps.push(Step::Line(self.on_paper(x, y)));
    }

    fn quad_to(&mut self, x1: f32, y1: f32, x: f32, y: f32) {
        let third = |from: f32, handle: f32| from + (handle - from) * 2.0 / 3.0;
        let (x0, y0) = self.last;
        let (ax, ay, bx, by) = (third(x0, x1), third(y0, y1), third(x, x1), third(y, y1));
        self.curve_to(ax, ay, bx, by, x, y);
    }

    fn curve_to(&mut self, x1: f32, y1: f32, x2: f32, y2: f32, x: f32, y: f32) {
        self.last = (x, y);
        self.steps.push(Step::Curve(
            self.on_paper(x1, y1),
            self.on_paper(x2, y2),
            self.on_paper(x, y),
        ));
    }

    fn close(&mut self) {
        self.steps.push(Step::Close);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_sign_of_the_trade_is_there() {
        let signs = "±°−×·≤≥ΔσψθφβεαΨ→←↑↓½¼¾²³≈√′″–—‘’“”…µΩ€₀₁₂ÅÄÖåäöéèêëçñßøØæłńśźžčřşğıőűœŒ";
        for face in Face::ALL {
            assert!(face.covers(signs), "{face:?}");
            assert!(!face.covers("木"));
        }
    }

    #[test]
    fn figures_have_one_width() {
        for face in Face::ALL {
            let widths: Vec<f64> = "0123456789−+±"
                .chars()
                .map(|c| face.width_mm(&c.to_string(), 10.0))
                .collect();
            assert!(
                widths.iter().all(|w| (w - widths[0]).abs() < 1e-12),
                "{widths:?}"
            );
        }
    }

    #[test]
    fn nothing_is_cut_by_wrapping() {
        let text = "boom foot pin, unspeakablylongwordwithoutanyspace end";
        for width in [8.0, 15.0, 40.0, 500.0] {
            let lines = wrap(Face::Regular, 9.0, text, width);
            assert!(
                lines
                    .iter()
                    .all(|l| Face::Regular.width_mm(l, 9.0) <= width + 1e-9)
            );
            let letters = |s: &str| s.chars().filter(|c| *c != ' ').collect::<String>();
            assert_eq!(letters(&lines.concat()), letters(text));
        }
        assert_eq!(wrap(Face::Regular, 9.0, "", 10.0), [""]);
        let text = "rounding moves the tooth by 0.4 mm, not more";
        for width in 20..60 {
            let lines = wrap(Face::Regular, 9.0, text, f64::from(width));
            assert!(lines.iter().any(|l| l.contains("0.4 mm,")), "{lines:?}");
        }
        assert_eq!(wrap(Face::Regular, 9.0, "one\ntwo", 90.0), ["one", "two"]);
    }
}
