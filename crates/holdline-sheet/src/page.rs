//! A page: strokes, fills and words in the order they are drawn.

use crate::font::{self, Face};
use crate::geometry::{Pt, Rect, Step, circle, closed_path, open_path, pt};
use crate::ink::Ink;
use crate::line::Line;

/// Which end of a run of words is placed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Anchor {
    /// Its start.
    Start,
    /// Its middle.
    Middle,
    /// Its end.
    End,
}

/// A stroke's kind and ink.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pen {
    /// What the line stands for.
    pub line: Line,
    /// What it is drawn with.
    pub ink: Ink,
    /// Times the line's own width. One, but for silhouettes and signs.
    pub times: f64,
}

impl Pen {
    /// A pen of the line's own width.
    pub const fn new(line: Line, ink: Ink) -> Pen {
        Pen {
            line,
            ink,
            times: 1.0,
        }
    }

    /// Width on paper, mm.
    pub fn width_mm(&self) -> f64 {
        self.line.width_mm() * self.times
    }
}

/// Steel seen.
pub const STEEL: Pen = Pen::new(Line::Steel, Ink::Ink);
/// Dimensions, leaders, ticks.
pub const THIN: Pen = Pen::new(Line::Thin, Ink::Soft);
/// Hatching.
pub const HATCH: Pen = Pen::new(Line::Hatch, Ink::Soft);
/// Axes.
pub const AXIS: Pen = Pen::new(Line::Axis, Ink::Soft);
/// Frame.
pub const FRAME: Pen = Pen::new(Line::Frame, Ink::Ink);
/// Ground and limits.
pub const LIMIT: Pen = Pen::new(Line::Limit, Ink::Ink);

/// How words are set.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Type {
    /// Weight.
    pub face: Face,
    /// Size, pt.
    pub size_pt: f64,
    /// Ink.
    pub ink: Ink,
}

impl Type {
    /// Regular, in ink.
    pub const fn regular(size_pt: f64) -> Type {
        Type {
            face: Face::Regular,
            size_pt,
            ink: Ink::Ink,
        }
    }

    /// Semi-bold, in ink.
    pub const fn strong(size_pt: f64) -> Type {
        Type {
            face: Face::SemiBold,
            size_pt,
            ink: Ink::Ink,
        }
    }

    /// Regular, in the soft ink of labels.
    pub const fn soft(size_pt: f64) -> Type {
        Type {
            face: Face::Regular,
            size_pt,
            ink: Ink::Soft,
        }
    }

    /// The same in another ink.
    #[must_use]
    pub const fn in_ink(self, ink: Ink) -> Type {
        Type { ink, ..self }
    }

    /// Width of words set so, mm.
    pub fn width_mm(&self, text: &str) -> f64 {
        self.face.width_mm(text, self.size_pt)
    }

    /// Height of a line, mm.
    pub fn line_mm(&self) -> f64 {
        self.size_pt * font::MM_PER_PT * font::LINE
    }

    /// Size, mm.
    pub fn size_mm(&self) -> f64 {
        self.size_pt * font::MM_PER_PT
    }

    /// From the top of a line to its baseline, mm.
    pub fn drop_mm(&self) -> f64 {
        let spare = font::LINE - font::ABOVE - font::BELOW;
        self.size_mm() * (font::ABOVE + spare / 2.0)
    }
}

/// A run of words on one baseline.
#[derive(Debug, Clone, PartialEq)]
pub struct Run {
    /// Start of the baseline.
    pub at: Pt,
    /// Turn of the baseline, clockwise on paper from the right, rad.
    pub turn_rad: f64,
    /// The words.
    pub text: String,
    /// How they are set.
    pub set: Type,
}

impl Run {
    /// Width, mm.
    pub fn width_mm(&self) -> f64 {
        self.set.width_mm(&self.text)
    }

    /// The four corners of the box that its letters may fill, clockwise from the top left of the run.
    pub fn corners(&self) -> [Pt; 4] {
        let size = self.set.size_mm();
        let (width, up, down) = (self.width_mm(), size * font::ABOVE, size * font::BELOW);
        let down_way = self.turn_rad + std::f64::consts::FRAC_PI_2;
        let end = self.at.along(self.turn_rad, width);
        [
            self.at.along(down_way, -up),
            end.along(down_way, -up),
            end.along(down_way, down),
            self.at.along(down_way, down),
        ]
    }

    /// The box along the paper's edges around it.
    pub fn extent(&self) -> Rect {
        let corners = self.corners();
        Rect::around(corners).unwrap_or(Rect::sized(self.at.x, self.at.y, 0.0, 0.0))
    }
}

/// A path with what it is drawn with.
#[derive(Debug, Clone, PartialEq)]
pub struct Stroke {
    /// The steps.
    pub steps: Vec<Step>,
    /// The line along it.
    pub pen: Option<Pen>,
    /// The face inside it.
    pub fill: Option<Ink>,
}

/// One entry of a page.
#[derive(Debug, Clone, PartialEq)]
pub enum Item {
    /// A stroke or a face.
    Stroke(Stroke),
    /// Words.
    Run(Run),
    /// Begins a group that belongs together.
    Begin {
        /// A short name for programs, such as `boom`.
        name: String,
        /// What it is, in words.
        title: String,
    },
    /// Ends the last group begun.
    End,
}

/// How a reading program should take a page.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reading {
    /// One picture with a description.
    Picture,
    /// Words to be read one after the other.
    Words,
}

/// Where metres of a drawing lie on its page: `paper = origin + per_m · (right, −up)`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Map {
    /// Where the drawing's own origin lies.
    pub origin: Pt,
    /// Millimetres on paper for a metre.
    pub mm_per_m: f64,
}

impl Map {
    /// A point of the drawing on paper.
    pub fn on_paper(&self, right_up_m: [f64; 2]) -> Pt {
        self.origin.by(
            right_up_m[0] * self.mm_per_m,
            -right_up_m[1] * self.mm_per_m,
        )
    }
}

/// A page: its size, what it shows in words, and what is drawn on it.
#[derive(Debug, Clone, PartialEq)]
pub struct Page {
    /// Width, mm.
    pub width_mm: f64,
    /// Height, mm.
    pub height_mm: f64,
    /// Title, a few words.
    pub title: String,
    /// What it shows, for those who do not see it.
    pub description: String,
    /// How a reading program should take it.
    pub reading: Reading,
    /// Where metres lie, for a drawing without a frame.
    pub map: Option<Map>,
    /// What is drawn, first to last.
    pub items: Vec<Item>,
}

impl Page {
    /// An empty page.
    pub fn new(width_mm: f64, height_mm: f64, title: impl Into<String>) -> Page {
        Page {
            width_mm,
            height_mm,
            title: title.into(),
            description: String::new(),
            reading: Reading::Words,
            map: None,
            items: Vec::new(),
        }
    }

    /// The whole paper.
    pub fn paper(&self) -> Rect {
        Rect::sized(0.0, 0.0, self.width_mm, self.height_mm)
    }

    /// Begins a group.
    pub fn begin(&mut self, name: impl Into<String>, title: impl Into<String>) {
        self.items.push(Item::Begin {
            name: name.into(),
            title: title.into(),
        });
    }

    /// Ends the last group begun.
    pub fn end(&mut self) {
        self.items.push(Item::End);
    }

    /// Draws along steps. Steps that are not finite are left out with their whole path.
    pub fn stroke(&mut self, steps: Vec<Step>, pen: Pen) {
        self.put(Stroke {
            steps,
            pen: Some(pen),
            fill: None,
        });
    }

    /// Fills a closed path.
    pub fn fill(&mut self, steps: Vec<Step>, ink: Ink) {
        self.put(Stroke {
            steps,
            pen: None,
            fill: Some(ink),
        });
    }

    /// Fills a closed path and draws along it.
    pub fn shape(&mut self, steps: Vec<Step>, pen: Pen, ink: Ink) {
        self.put(Stroke {
            steps,
            pen: Some(pen),
            fill: Some(ink),
        });
    }

    fn put(&mut self, stroke: Stroke) {
        let finite = stroke.steps.iter().all(|step| match step {
            Step::Move(p) | Step::Line(p) => p.is_finite(),
            Step::Curve(a, b, c) => a.is_finite() && b.is_finite() && c.is_finite(),
            Step::Close => true,
        });
        if finite && !stroke.steps.is_empty() {
            self.items.push(Item::Stroke(stroke));
        }
    }

    /// A straight line.
    pub fn line(&mut self, from: Pt, to: Pt, pen: Pen) {
        self.stroke(open_path(&[from, to]), pen);
    }

    /// The outline of a box.
    pub fn rect(&mut self, rect: Rect, pen: Pen) {
        self.stroke(closed_path(&rect.corners()), pen);
    }

    /// A filled dot.
    pub fn dot(&mut self, at: Pt, radius_mm: f64, ink: Ink) {
        self.fill(circle(at, radius_mm), ink);
    }

    /// Words with their baseline at `at`.
    pub fn words(&mut self, at: Pt, anchor: Anchor, set: Type, text: &str) {
        self.turned_words(at, 0.0, anchor, set, text);
    }

    /// Words on a turned baseline.
    pub fn turned_words(&mut self, at: Pt, turn_rad: f64, anchor: Anchor, set: Type, text: &str) {
        let text = font::drawable(text);
        if text.is_empty() || !at.is_finite() || !turn_rad.is_finite() {
            return;
        }
        let back = match anchor {
            Anchor::Start => 0.0,
            Anchor::Middle => set.width_mm(&text) / 2.0,
            Anchor::End => set.width_mm(&text),
        };
        let at = at.along(turn_rad, -back);
        self.items.push(Item::Run(Run {
            at,
            turn_rad,
            text,
            set,
        }));
    }

    /// Wrapped words from the top left corner down; gives the height taken, mm.
    pub fn paragraph(&mut self, top_left: Pt, width_mm: f64, set: Type, text: &str) -> f64 {
        let lines = font::wrap(set.face, set.size_pt, text, width_mm);
        for (idx, line) in lines.iter().enumerate() {
            let y = top_left.y + set.drop_mm() + idx as f64 * set.line_mm();
            self.words(pt(top_left.x, y), Anchor::Start, set, line);
        }
        lines.len() as f64 * set.line_mm()
    }

    /// Paper behind words that must be read across lines.
    pub fn knock_out(&mut self, corners: [Pt; 4]) {
        self.fill(closed_path(&corners), Ink::Paper);
    }

    /// All runs of words.
    pub fn runs(&self) -> impl Iterator<Item = &Run> {
        self.items.iter().filter_map(|item| match item {
            Item::Run(run) => Some(run),
            _ => None,
        })
    }
}

/// Height of wrapped words, mm.
pub fn paragraph_height_mm(width_mm: f64, set: Type, text: &str) -> f64 {
    font::wrap(set.face, set.size_pt, text, width_mm).len() as f64 * set.line_mm()
}
