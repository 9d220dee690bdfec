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
    /// Least of five bands of a map, the lightest by day.
    Band1,
    /// Second band.
    Band2,
    /// Third band.
    Band3,
    /// Fourth band.
    Band4,
    /// Largest band.
    Band5,
}

impl Ink {
    /// All tokens.
    pub const ALL: [Ink; 11] = [
        Ink::Paper,
        Ink::Ink,
        Ink::Soft,
        Ink::Steel,
        Ink::Accent,
        Ink::AccentFace,
        Ink::Band1,
        Ink::Band2,
        Ink::Band3,
        Ink::Band4,
        Ink::Band5,
    ];

    /// The bands of a map, least to largest. Equal steps of lightness, so that they are told apart in grey and
    /// by every eye; the hue, from sand over green to blue, only repeats it.
    pub const BANDS: [Ink; 5] = [Ink::Band1, Ink::Band2, Ink::Band3, Ink::Band4, Ink::Band5];

    /// The token's word in class names and CSS variables (`--sheet-ink`).
    pub const fn token(self) -> &'static str {
        match self {
            Ink::Paper => "paper",
            Ink::Ink => "ink",
            Ink::Soft => "soft",
            Ink::Steel => "steel",
            Ink::Accent => "accent",
            Ink::AccentFace => "accent-face",
            Ink::Band1 => "band-1",
            Ink::Band2 => "band-2",
            Ink::Band3 => "band-3",
            Ink::Band4 => "band-4",
            Ink::Band5 => "band-5",
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
            (Palette::Day | Palette::Print, Ink::Band1) => Rgb(0xf0, 0xe9, 0xd6),
            (Palette::Day | Palette::Print, Ink::Band2) => Rgb(0xce, 0xdf, 0xc7),
            (Palette::Day | Palette::Print, Ink::Band3) => Rgb(0xa5, 0xd4, 0xc7),
            (Palette::Day | Palette::Print, Ink::Band4) => Rgb(0x83, 0xc6, 0xd2),
            (Palette::Day | Palette::Print, Ink::Band5) => Rgb(0x7f, 0xb2, 0xd9),
            (Palette::Night, Ink::Band1) => Rgb(0x2b, 0x28, 0x1c),
            (Palette::Night, Ink::Band2) => Rgb(0x27, 0x32, 0x23),
            (Palette::Night, Ink::Band3) => Rgb(0x1b, 0x3d, 0x35),
            (Palette::Night, Ink::Band4) => Rgb(0x04, 0x46, 0x4e),
            (Palette::Night, Ink::Band5) => Rgb(0x1b, 0x4b, 0x67),
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
    fn bands_are_equal_steps_of_lightness_and_carry_lines_in_ink() {
        // CIE 1976 lightness (from memory).
        let lightness = |rgb: Rgb| 116.0 * rgb.luminance().cbrt() - 16.0;
        for palette in Palette::ALL {
            let all = Ink::BANDS.map(|band| lightness(palette.of(band)));
            let steps: Vec<f64> = all.windows(2).map(|w| w[1] - w[0]).collect();
            for step in &steps {
                assert!(
                    (step / steps[0] - 1.0).abs() < 0.15,
                    "{palette:?} {steps:?}"
                );
                assert!(step.abs() > 3.0, "{palette:?} {steps:?}");
            }
            for band in Ink::BANDS {
                let ratio = palette.of(Ink::Ink).contrast(palette.of(band));
                assert!(ratio >= 7.0, "{palette:?} {band:?}: {ratio:.2}");
            }
        }
    }

    #[test]
    fn contrast_of_black_and_white() {
        assert!((Rgb(0, 0, 0).contrast(Rgb(255, 255, 255)) - 21.0).abs() < 1e-9);
    }
}
