//! A machine in one pose, as plain numbers, and its two drawings: section and plan.
//!
//! Everything is in metres in one frame with its origin on the swing axis at track ground level:
//! x forward in the boom plane and level, y left, z up against gravity (`Level`).
//! Whoever fills this in turns the machine's own frames into that one.

use holdline_geom::measured::Measured;

use crate::figure::{Coverage, Kind, figure};
use crate::frame::LEAST_PT;
use crate::geometry::swept_hull;
use crate::page::Type;
use crate::place::Label;
use crate::scale::{Steps, Window};

mod backdrop;
mod furniture;
mod plan;
mod section;
mod steel;

pub use backdrop::{Backdrop, draw_backdrop};
pub use furniture::LIMIT_BAND_MM;
pub use plan::{draw_plan, plan_on_screen, plan_window};
pub use section::{draw_section, section_on_screen, section_window};
pub use steel::{draw_outlines, outlines_window};

/// What a part is; says how it is drawn and what lies in front of what.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum PartKind {
    /// A track.
    Track,
    /// The house.
    House,
    /// The counterweight.
    Counterweight,
    /// The cab.
    Cab,
    /// Boom, or a piece of it.
    Boom,
    /// Stick.
    Stick,
    /// A cylinder.
    Cylinder,
    /// Idler or bucket link.
    Linkage,
    /// Coupler.
    Coupler,
    /// Tilting device.
    Tilt,
    /// Bucket.
    Bucket,
    /// Anything else that moves along.
    Other,
}

/// All points within `radius_m` of the convex hull of some corners: a capsule, a box, a prism, a sector.
#[derive(Debug, Clone, PartialEq)]
pub struct Solid {
    /// Corners.
    pub corners_m: Vec<[f64; 3]>,
    /// Radius about them; 0 for flat-sided solids.
    pub radius_m: f64,
}

impl Solid {
    /// A capsule.
    pub fn capsule(from_m: [f64; 3], to_m: [f64; 3], radius_m: f64) -> Solid {
        Solid {
            corners_m: vec![from_m, to_m],
            radius_m,
        }
    }

    /// Seen from the side: (x, z).
    pub fn side(&self) -> Vec<[f64; 2]> {
        let flat: Vec<_> = self.corners_m.iter().map(|p| [p[0], p[2]]).collect();
        swept_hull(&flat, self.radius_m)
    }

    /// Seen from above: (x, y).
    pub fn above(&self) -> Vec<[f64; 2]> {
        let flat: Vec<_> = self.corners_m.iter().map(|p| [p[0], p[1]]).collect();
        swept_hull(&flat, self.radius_m)
    }
}

/// A part in the pose.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// What it is.
    pub kind: PartKind,
    /// Its name on the machine sheet.
    pub name: String,
    /// Its solids.
    pub solids: Vec<Solid>,
    /// Its true outline from the side (x, z) where one is known; empty: the solids' own.
    pub outline_m: Vec<[f64; 2]>,
}

impl Part {
    /// Closed outlines from the side.
    pub fn side(&self) -> Vec<Vec<[f64; 2]>> {
        if self.outline_m.len() >= 3 {
            vec![self.outline_m.clone()]
        } else {
            self.solids
                .iter()
                .map(Solid::side)
                .filter(|o| o.len() >= 3)
                .collect()
        }
    }

    /// Closed outlines from above.
    pub fn above(&self) -> Vec<Vec<[f64; 2]>> {
        self.solids
            .iter()
            .map(Solid::above)
            .filter(|o| o.len() >= 3)
            .collect()
    }
}

/// A pin with its letter.
#[derive(Debug, Clone, PartialEq)]
pub struct Pin {
    /// Its letter: A, B, C, …
    pub letter: String,
    /// Its centre.
    pub at_m: [f64; 3],
}

/// In which drawing a dimension stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum View {
    /// The section.
    Section,
    /// The plan.
    Plan,
}

/// Which way a dimension is taken on its drawing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Way {
    /// Straight from point to point.
    Along,
    /// Across the paper only: a reach, a radius.
    Across,
    /// Up the paper only: a height, a width.
    Up,
}

/// A dimension.
#[derive(Debug, Clone, PartialEq)]
pub struct Dimension {
    /// Where it stands.
    pub view: View,
    /// Which way it is taken.
    pub way: Way,
    /// One end.
    pub from_m: [f64; 3],
    /// Other end.
    pub to_m: [f64; 3],
    /// Short name before the figure, such as `A–B`; may be empty.
    pub name: String,
    /// The length.
    pub length: Measured,
    /// How it is written.
    pub kind: Kind,
}

/// A joint angle.
#[derive(Debug, Clone, PartialEq)]
pub struct JointAngle {
    /// Short name before the figure, such as `boom`.
    pub name: String,
    /// Centre of the joint.
    pub at_m: [f64; 3],
    /// Where it counts from: angle above x in the boom plane, rad.
    pub from_rad: f64,
    /// The joint's angle, counter-clockwise from there, rad.
    pub angle: Measured,
    /// True when it lies outside the joint's own range.
    pub outside: bool,
}

/// A tooth point.
#[derive(Debug, Clone, PartialEq)]
pub struct ToothPoint {
    /// Its name: left, centre, right, or a further one.
    pub name: String,
    /// Where it is.
    pub at_m: [f64; 3],
    /// Lines of figures to be written beside it: a name and its figure. Only for the leading point.
    pub figures: Vec<(String, Measured, Kind)>,
}

/// A level line with a word on it: the bench, the water table.
#[derive(Debug, Clone, PartialEq)]
pub struct LevelLine {
    /// The word.
    pub name: String,
    /// Its height.
    pub z_m: f64,
}

/// The side of a limit where nothing may be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Forbidden {
    /// Left of the way from one end to the other, on the drawing.
    Left,
    /// Right of it.
    Right,
}

/// A limit: a line with a word and a number on it, hatched on the forbidden side.
#[derive(Debug, Clone, PartialEq)]
pub struct LimitLine {
    /// Where it stands.
    pub view: View,
    /// One end on the drawing: (x, z) in the section, (x, y) in the plan.
    pub from_m: [f64; 2],
    /// Other end.
    pub to_m: [f64; 2],
    /// Its word and number.
    pub words: String,
    /// The forbidden side.
    pub forbidden: Forbidden,
}

/// A machine in one pose.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct MachineView {
    /// Name of the machine.
    pub name: String,
    /// Its parts.
    pub parts: Vec<Part>,
    /// The same machine in other positions: outlines only.
    pub others: Vec<Part>,
    /// Pins of the chain and of the linkage.
    pub pins: Vec<Pin>,
    /// The lines A, B, C, tooth of the links, as points in order.
    pub chain_m: Vec<[f64; 3]>,
    /// Tooth points; the first is the one steered by.
    pub teeth: Vec<ToothPoint>,
    /// Dimensions.
    pub dimensions: Vec<Dimension>,
    /// Joint angles.
    pub angles: Vec<JointAngle>,
    /// Two points of the ground line under the tracks, (x, z); none: no ground is drawn.
    pub ground_m: Option<[[f64; 2]; 2]>,
    /// Further level lines.
    pub levels: Vec<LevelLine>,
    /// Limits.
    pub limits: Vec<LimitLine>,
    /// Radius that the tail sweeps, for the plan.
    pub tail_radius_m: Option<f64>,
    /// Way to grid north in the plan, counter-clockwise from x, rad; none in 2D.
    pub north_rad: Option<f64>,
    /// Part of the section to be shown; none: whatever the pose needs. Fix it, and a moving pose does not jump.
    pub section_window: Option<Window>,
    /// Part of the plan to be shown.
    pub plan_window: Option<Window>,
}

impl MachineView {
    /// The same turned about the swing axis, counter-clockwise seen from above. For the plan alone.
    #[must_use]
    pub fn turned(&self, turn_rad: f64) -> MachineView {
        let (sin, cos) = turn_rad.sin_cos();
        let turn = |p: &mut [f64; 3]| {
            (p[0], p[1]) = (p[0] * cos - p[1] * sin, p[0] * sin + p[1] * cos);
        };
        let mut view = self.clone();
        for part in view.parts.iter_mut().chain(&mut view.others) {
            part.outline_m.clear();
            part.solids
                .iter_mut()
                .flat_map(|s| &mut s.corners_m)
                .for_each(turn);
        }
        view.pins.iter_mut().for_each(|p| turn(&mut p.at_m));
        view.chain_m.iter_mut().for_each(turn);
        view.teeth.iter_mut().for_each(|t| turn(&mut t.at_m));
        view.north_rad = view.north_rad.map(|north| north + turn_rad);
        view
    }

    /// The same without boom, stick, bucket and all that moves with them.
    #[must_use]
    pub fn without_front(&self) -> MachineView {
        use PartKind as K;
        let mut rest = self.clone();
        rest.parts
            .retain(|p| matches!(p.kind, K::Track | K::House | K::Counterweight | K::Cab));
        rest.pins.clear();
        rest.chain_m.clear();
        rest.teeth.clear();
        rest.dimensions.clear();
        rest.angles.clear();
        rest
    }
}

/// How a drawing is lettered.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lettering {
    /// Size of words, pt.
    pub size_pt: f64,
    /// How the scale is chosen.
    pub steps: Steps,
    /// How much is written.
    pub detail: Detail,
    /// What `±` stands for.
    pub coverage: Coverage,
    /// What is said of a number.
    pub said: Said,
}

/// What is said of a number on a drawing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Said {
    /// The value with its uncertainty, or that none was stated.
    WithUncertainty,
    /// The value alone: a pose that is to be set.
    Value,
}

/// How much is written on a drawing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Detail {
    /// Everything: dimensions, angles, letters.
    Full,
    /// Pins, angles and the tooth, for a drawing that moves.
    Moving,
    /// Outlines, the tooth and the dimensions given; for an inset.
    Bare,
    /// Outlines, limits and the tooth's mark, without scale bar; the whole field is the drawing.
    Outline,
}

impl Lettering {
    /// On a sheet.
    pub const PAPER: Lettering = Lettering {
        size_pt: LEAST_PT,
        steps: Steps::Series,
        detail: Detail::Full,
        coverage: Coverage::Twice,
        said: Said::WithUncertainty,
    };
    /// On a screen: 16 px letters on a page of 96 px to the inch.
    pub const SCREEN: Lettering = Lettering {
        size_pt: 12.0,
        steps: Steps::Free,
        detail: Detail::Moving,
        coverage: Coverage::Twice,
        said: Said::WithUncertainty,
    };

    pub(crate) fn words(&self) -> Type {
        Type::regular(self.size_pt)
    }

    pub(crate) fn strong(&self) -> Type {
        Type::strong(self.size_pt)
    }

    /// The same on one line, or on two for a drawing that moves, where room is short.
    pub(crate) fn lines(&self, name: &str, measured: Measured, kind: &Kind) -> Vec<Label> {
        let whole = self.label(name, measured, kind);
        let tail = self.uncertainty(measured, kind);
        if self.detail != Detail::Moving || tail.is_empty() {
            return vec![whole];
        }
        let mut first = whole;
        first.pieces.pop();
        vec![first, Label::new(self.words(), tail)]
    }

    /// Name, value and, lighter, its uncertainty.
    pub(crate) fn label(&self, name: &str, measured: Measured, kind: &Kind) -> Label {
        let figure = figure(measured, kind, self.coverage);
        let mut label = Label::default();
        if !name.is_empty() {
            label = label.and(self.words(), name);
        }
        label = label.and(self.strong(), figure.value_and_unit());
        let uncertainty = self.uncertainty(measured, kind);
        if uncertainty.is_empty() {
            label
        } else {
            label.and(self.words(), uncertainty)
        }
    }

    fn uncertainty(&self, measured: Measured, kind: &Kind) -> String {
        match self.said {
            Said::WithUncertainty => figure(measured, kind, self.coverage).uncertainty,
            Said::Value => String::new(),
        }
    }
}

/// Size of a drawing on a screen, CSS pixels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Viewport {
    /// Width.
    pub width_px: f64,
    /// Height.
    pub height_px: f64,
}

impl Viewport {
    /// Width and height on paper, mm, held between 160 and 8000 px.
    pub fn size_mm(&self) -> (f64, f64) {
        let hold = |px: f64| {
            if px.is_finite() {
                px.clamp(160.0, 8000.0)
            } else {
                800.0
            }
        };
        (
            hold(self.width_px) * 25.4 / 96.0,
            hold(self.height_px) * 25.4 / 96.0,
        )
    }
}
