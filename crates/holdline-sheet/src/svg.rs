//! Writes a page as SVG.
//!
//! Every stroke carries its colour as an attribute, so that the drawing is right anywhere, and the
//! class of its ink and line, so that a page with [`stylesheet`] can turn it to night.
//! Words stay words: `<text>` in the shipped family, each run held to the width that we measured.

use std::fmt::Write as _;

use crate::font::{self, Face, REGULAR_WOFF2, SEMIBOLD_WOFF2};
use crate::geometry::{Pt, Step};
use crate::ink::{Ink, Palette};
use crate::line::Line;
use crate::page::{Item, Page, Reading, Run, Stroke};

/// Whether the fonts go along.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fonts {
    /// The page that shows the drawing has them.
    FromThePage,
    /// Inside the file, so that it looks the same everywhere.
    Inside,
}

/// Whether the paper is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ground {
    /// A sheet of paper behind everything.
    Paper,
    /// The page that shows the drawing is the paper.
    Clear,
}

/// What the SVG is for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Options<'a> {
    /// Colours written into it.
    pub palette: Palette,
    /// Fonts.
    pub fonts: Fonts,
    /// Ground.
    pub ground: Ground,
    /// Begins every `id`, so that two drawings can live in one document.
    pub key: &'a str,
}

impl Options<'_> {
    /// A file that stands alone.
    pub const FILE: Options<'static> = Options {
        palette: Palette::Day,
        fonts: Fonts::Inside,
        ground: Ground::Paper,
        key: "sheet",
    };
    /// Part of a page that has the fonts and the [`stylesheet`], and gives the drawing its size.
    pub const INLINE: Options<'static> = Options {
        palette: Palette::Day,
        fonts: Fonts::FromThePage,
        ground: Ground::Clear,
        key: "sheet",
    };
}

/// Writes a page. The same page gives the same bytes.
pub fn write_svg(page: &Page, options: &Options<'_>) -> String {
    let mut out = String::with_capacity(4096 + page.items.len() * 160);
    head(&mut out, page, options);
    let mut open = 0_usize;
    for item in &page.items {
        match item {
            Item::Stroke(stroke) => write_stroke(&mut out, stroke, options.palette),
            Item::Run(run) => write_run(&mut out, run, options.palette),
            Item::Begin { name, title } => {
                open += 1;
                out.push_str("<g data-part=\"");
                escape(&mut out, name);
                out.push_str("\">");
                if !title.is_empty() {
                    out.push_str("<title>");
                    escape(&mut out, title);
                    out.push_str("</title>");
                }
                out.push('\n');
            }
            Item::End => {
                if open > 0 {
                    open -= 1;
                    out.push_str("</g>\n");
                }
            }
        }
    }
    out.push_str(&"</g>\n".repeat(open));
    out.push_str("</svg>\n");
    out
}

/// CSS that lets the variables `--sheet-ink`, `--sheet-paper`, … of a page colour its drawings.
///
/// The variables themselves are set for the day sheet, and for the night sheet under
/// `[data-sheet="night"]`.
pub fn stylesheet() -> String {
    let mut css = String::new();
    for (selector, palette) in [
        (":root", Palette::Day),
        ("[data-sheet=\"night\"]", Palette::Night),
    ] {
        let _ = write!(css, "{selector} {{");
        for ink in Ink::ALL {
            let _ = write!(css, " --sheet-{}: {};", ink.token(), palette.of(ink).hex());
        }
        css.push_str(" }\n");
    }
    for ink in Ink::ALL {
        let token = ink.token();
        let _ = writeln!(css, ".sheet .s-{token} {{ stroke: var(--sheet-{token}); }}");
        let _ = writeln!(css, ".sheet .f-{token} {{ fill: var(--sheet-{token}); }}");
    }
    css
}

fn head(out: &mut String, page: &Page, options: &Options<'_>) {
    let key = options.key;
    out.push_str("<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"sheet\" viewBox=\"0 0 ");
    number(out, page.width_mm);
    out.push(' ');
    number(out, page.height_mm);
    out.push('"');
    if options.fonts == Fonts::Inside {
        out.push_str(" width=\"");
        number(out, page.width_mm);
        out.push_str("mm\" height=\"");
        number(out, page.height_mm);
        out.push_str("mm\"");
    }
    let role = match page.reading {
        Reading::Picture => "img",
        Reading::Words => "group",
    };
    let _ = write!(out, " role=\"{role}\" aria-labelledby=\"{key}-title\"");
    if !page.description.is_empty() {
        let _ = write!(out, " aria-describedby=\"{key}-description\"");
    }
    if let Some(map) = page.map {
        out.push_str(" data-origin-x=\"");
        number(out, map.origin.x);
        out.push_str("\" data-origin-y=\"");
        number(out, map.origin.y);
        out.push_str("\" data-mm-per-m=\"");
        let _ = write!(out, "{}", map.mm_per_m);
        out.push('"');
    }
    let _ = writeln!(
        out,
        " font-family=\"'{}', 'Noto Sans', sans-serif\" font-kerning=\"none\">",
        font::FAMILY
    );
    let _ = write!(out, "<title id=\"{key}-title\">");
    escape(out, &page.title);
    out.push_str("</title>\n");
    if !page.description.is_empty() {
        let _ = write!(out, "<desc id=\"{key}-description\">");
        escape(out, &page.description);
        out.push_str("</desc>\n");
    }
    if options.fonts == Fonts::Inside {
        font_faces(out);
    }
    if options.ground == Ground::Paper {
        out.push_str("<rect class=\"f-paper\" width=\"");
        number(out, page.width_mm);
        out.push_str("\" height=\"");
        number(out, page.height_mm);
        let _ = writeln!(
            out,
            "\" fill=\"{}\"/>",
            options.palette.of(Ink::Paper).hex()
        );
    }
}

fn font_faces(out: &mut String) {
    out.push_str("<style>");
    for (face, bytes) in [
        (Face::Regular, REGULAR_WOFF2),
        (Face::SemiBold, SEMIBOLD_WOFF2),
    ] {
        let _ = write!(
            out,
            "@font-face{{font-family:'{}';font-weight:{};src:url(data:font/woff2;base64,",
            font::FAMILY,
            face.weight()
        );
        base64(out, bytes);
        out.push_str(") format('woff2')}");
    }
    out.push_str("</style>\n");
}

fn write_stroke(out: &mut String, stroke: &Stroke, palette: Palette) {
    out.push_str("<path class=\"");
    if let Some(ink) = stroke.fill {
        let _ = write!(out, "f-{}", ink.token());
    }
    if let Some(pen) = stroke.pen {
        if stroke.fill.is_some() {
            out.push(' ');
        }
        let _ = write!(out, "s-{}", pen.ink.token());
    }
    out.push_str("\" fill=\"");
    match stroke.fill {
        Some(ink) => out.push_str(&palette.of(ink).hex()),
        None => out.push_str("none"),
    }
    out.push('"');
    if let Some(pen) = stroke.pen {
        let _ = write!(
            out,
            " stroke=\"{}\" stroke-width=\"",
            palette.of(pen.ink).hex()
        );
        number(out, pen.width_mm());
        out.push('"');
        if pen.line == Line::Steel || pen.line == Line::Limit {
            out.push_str(" stroke-linejoin=\"round\" stroke-linecap=\"round\"");
        }
        let dashes = pen.line.dashes_mm();
        if !dashes.is_empty() {
            out.push_str(" stroke-dasharray=\"");
            for (idx, dash) in dashes.iter().enumerate() {
                if idx > 0 {
                    out.push(' ');
                }
                number(out, *dash);
            }
            out.push('"');
        }
    }
    out.push_str(" d=\"");
    for step in &stroke.steps {
        write_step(out, step);
    }
    out.push_str("\"/>\n");
}

fn write_step(out: &mut String, step: &Step) {
    let point = |out: &mut String, p: &Pt| {
        number(out, p.x);
        out.push(' ');
        number(out, p.y);
    };
    match step {
        Step::Move(p) => {
            out.push('M');
            point(out, p);
        }
        Step::Line(p) => {
            out.push('L');
            point(out, p);
        }
        Step::Curve(a, b, c) => {
            out.push('C');
            point(out, a);
            out.push(' ');
            point(out, b);
            out.push(' ');
            point(out, c);
        }
        Step::Close => out.push('Z'),
    }
}

fn write_run(out: &mut String, run: &Run, palette: Palette) {
    out.push_str("<text class=\"f-");
    out.push_str(run.set.ink.token());
    out.push_str("\" x=\"");
    number(out, run.at.x);
    out.push_str("\" y=\"");
    number(out, run.at.y);
    out.push_str("\" font-size=\"");
    number(out, run.set.size_mm());
    out.push('"');
    if run.set.face == Face::SemiBold {
        let _ = write!(out, " font-weight=\"{}\"", Face::SemiBold.weight());
    }
    out.push_str(" textLength=\"");
    number(out, run.width_mm());
    out.push_str("\" lengthAdjust=\"spacingAndGlyphs\"");
    if run.turn_rad != 0.0 {
        out.push_str(" transform=\"rotate(");
        number(out, run.turn_rad.to_degrees());
        out.push(' ');
        number(out, run.at.x);
        out.push(' ');
        number(out, run.at.y);
        out.push_str(")\"");
    }
    let _ = write!(out, " fill=\"{}\">", palette.of(run.set.ink).hex());
    escape(out, &run.text);
    out.push_str("</text>\n");
}

/// A number with three decimals at most, no trailing zeros, never `-0`.
fn number(out: &mut String, value: f64) {
    let thousandths = (value * 1000.0).round();
    if !(thousandths.abs() < 9e15) {
        out.push('0');
        return;
    }
    let mut n = thousandths as i64;
    if n < 0 {
        out.push('-');
        n = -n;
    }
    let (whole, mut part) = (n / 1000, n % 1000);
    let _ = write!(out, "{whole}");
    if part > 0 {
        out.push('.');
        let mut digits = 3;
        while part % 10 == 0 {
            part /= 10;
            digits -= 1;
        }
        let _ = write!(out, "{part:0digits$}");
    }
}

/// Text for XML: the five signs escaped, what XML forbids left out.
fn escape(out: &mut String, text: &str) {
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            '\n' | '\t' => out.push(' '),
            c if c.is_control() || matches!(c, '\u{fffe}' | '\u{ffff}') => {}
            c => out.push(c),
        }
    }
}

fn base64(out: &mut String, bytes: &[u8]) {
    const SIGNS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    for chunk in bytes.chunks(3) {
        let n = chunk.iter().fold(0_u32, |n, b| n << 8 | u32::from(*b)) << (8 * (3 - chunk.len()));
        for idx in 0..4 {
            if idx <= chunk.len() {
                out.push(char::from(SIGNS[(n >> (18 - 6 * idx)) as usize & 63]));
            } else {
                out.push('=');
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_short() {
        for (value, want) in [
            (0.0, "0"),
            (-0.000_1, "0"),
            (1.5, "1.5"),
            (-12.034_4, "-12.034"),
            (7.05, "7.05"),
            (f64::NAN, "0"),
        ] {
            let mut out = String::new();
            number(&mut out, value);
            assert_eq!(out, want);
        }
    }

    #[test]
    fn base64_by_the_rfc() {
        // RFC 4648, section 10.
        for (plain, want) in [
            ("f", "Zg=="),
            ("fo", "Zm8="),
            ("foo", "Zm9v"),
            ("foobar", "Zm9vYmFy"),
        ] {
            let mut out = String::new();
            base64(&mut out, plain.as_bytes());
            assert_eq!(out, want);
        }
    }

    #[test]
    fn words_cannot_break_out() {
        let mut out = String::new();
        escape(&mut out, "</text><script>\"&'\u{0}");
        assert_eq!(out, "&lt;/text&gt;&lt;script&gt;&quot;&amp;&#39;");
    }
}
