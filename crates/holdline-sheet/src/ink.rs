//! Ink and paper: a few tokens, and what they look like by day, by night and in print.

/// What a stroke, a fill or a letter is drawn with. A token, never a colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Ink {
    /// The ground of the sheet.
    Paper,
    /// Steel seen, words, figures.
    Ink,
    /// Dimension lines, leaders, hatches, labels of cells.
    Soft,
    /// Face of steel, so that a part in front covers one behind it.
    Steel,
    /// What is yours to move or to type.
    Accent,
    /// Face of the accent.
    AccentFace,
}

impl Ink {
    /// All tokens.
    pub const ALL: [Ink; 6] = [
        Ink::Paper,
        Ink::Ink,
        Ink::Soft,
        Ink::Steel,
        Ink::Accent,
        Ink::AccentFace,
    ];

    /// The token's word in class names and CSS variables (`--sheet-ink`).
    pub const fn token(self) -> &'static str {
        match self {
            Ink::Paper => "paper",
            Ink::Ink => "ink",
            Ink::Soft => "soft",
            Ink::Steel => "steel",
            Ink::Accent => "accent",
            Ink::AccentFace => "accent-face",
        }
    }
}

/// A colour, 8 bits each of red, green and blue.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Rgb(pub u8, pub u8, pub u8);

impl Rgb {
    /// As `#rrggbb`.
    pub fn hex(self) -> String {
        format!("#{:02x}{:02x}{:02x}", self.0, self.1, self.2)
    }

    /// Relative luminance by WCAG 2.2 (from memory).
    pub fn luminance(self) -> f64 {
        let channel = |c: u8| {
            let c = f64::from(c) / 255.0;
            if c <= 0.040_45 {
                c / 12.92
            } else {
                ((c + 0.055) / 1.055).powf(2.4)
            }
        };
        0.2126 * channel(self.0) + 0.7152 * channel(self.1) + 0.0722 * channel(self.2)
    }

    /// Contrast ratio with another colour by WCAG 2.2 (from memory).
    pub fn contrast(self, other: Rgb) -> f64 {
        let (a, b) = (self.luminance(), other.luminance());
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }
}

/// What the tokens look like.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Palette {
    /// Warm paper, near-black ink.
    Day,
    /// Ink on slate.
    Night,
    /// White paper; the printer's own.
    Print,
}

impl Palette {
    /// All palettes.
    pub const ALL: [Palette; 3] = [Palette::Day, Palette::Night, Palette::Print];

    /// The colour of a token.
    pub const fn of(self, ink: Ink) -> Rgb {
        match (self, ink) {
            (Palette::Day, Ink::Paper) => Rgb(0xf7, 0xf3, 0xe8),
            (Palette::Day, Ink::Ink) => Rgb(0x1a, 0x19, 0x16),
            (Palette::Day, Ink::Soft) => Rgb(0x4a, 0x47, 0x41),
            (Palette::Day, Ink::Steel) => Rgb(0xea, 0xe4, 0xd4),
            (Palette::Day, Ink::Accent) => Rgb(0x55, 0x25, 0x83),
            (Palette::Day, Ink::AccentFace) => Rgb(0xec, 0xe3, 0xf2),
            (Palette::Night, Ink::Paper) => Rgb(0x1c, 0x23, 0x2a),
            (Palette::Night, Ink::Ink) => Rgb(0xee, 0xea, 0xdf),
            (Palette::Night, Ink::Soft) => Rgb(0xc8, 0xc6, 0xbe),
            (Palette::Night, Ink::Steel) => Rgb(0x2a, 0x33, 0x3c),
            (Palette::Night, Ink::Accent) => Rgb(0xcf, 0xb6, 0xf5),
            (Palette::Night, Ink::AccentFace) => Rgb(0x33, 0x2a, 0x42),
            (Palette::Print, Ink::Paper) => Rgb(0xff, 0xff, 0xff),
            (Palette::Print, Ink::Ink) => Rgb(0x12, 0x12, 0x10),
            (Palette::Print, Ink::Soft) => Rgb(0x4a, 0x47, 0x41),
            (Palette::Print, Ink::Steel) => Rgb(0xee, 0xec, 0xe6),
            (Palette::Print, Ink::Accent) => Rgb(0x55, 0x25, 0x83),
            (Palette::Print, Ink::AccentFace) => Rgb(0xec, 0xe3, 0xf2),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_stand_out_seven_to_one() {
        for palette in Palette::ALL {
            for face in [Ink::Paper, Ink::Steel, Ink::AccentFace] {
                for ink in [Ink::Ink, Ink::Soft, Ink::Accent] {
                    let ratio = palette.of(ink).contrast(palette.of(face));
                    assert!(ratio >= 7.0, "{palette:?} {ink:?} on {face:?}: {ratio:.2}");
                }
            }
        }
    }

    #[test]
    fn contrast_of_black_and_white() {
        assert!((Rgb(0, 0, 0).contrast(Rgb(255, 255, 255)) - 21.0).abs() < 1e-9);
    }
}
