//! Lines say what things are.
//!
//! General drafting practice, ISO 128 (from memory): two widths, one twice the other.

/// What a line stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Line {
    /// Steel seen; the curve of a plot.
    Steel,
    /// Dimensions, leaders, ticks, cells of a table.
    Thin,
    /// Hatching.
    Hatch,
    /// Axes, boom plane, alignments: long dash, dot.
    Axis,
    /// Hidden or buried: dashed.
    Hidden,
    /// Other positions: long dash, two dots.
    Other,
    /// Frame of the sheet and of the title block.
    Frame,
    /// Ground, and limits with a word and a number on them.
    Limit,
}

impl Line {
    /// All kinds.
    pub const ALL: [Line; 8] = [
        Line::Steel,
        Line::Thin,
        Line::Hatch,
        Line::Axis,
        Line::Hidden,
        Line::Other,
        Line::Frame,
        Line::Limit,
    ];

    /// Width on paper, mm.
    pub const fn width_mm(self) -> f64 {
        match self {
            Line::Steel => 0.5,
            Line::Thin | Line::Axis | Line::Hidden | Line::Other => 0.25,
            Line::Hatch => 0.18,
            Line::Frame => 0.7,
            Line::Limit => 0.7,
        }
    }

    /// Lengths of dash, gap, dash, gap…, mm; empty for a continuous line.
    pub const fn dashes_mm(self) -> &'static [f64] {
        match self {
            Line::Axis => &[6.0, 0.9, 0.4, 0.9],
            Line::Hidden => &[2.4, 1.0],
            Line::Other => &[6.0, 0.9, 0.4, 0.9, 0.4, 0.9],
            Line::Steel | Line::Thin | Line::Hatch | Line::Frame | Line::Limit => &[],
        }
    }
}
