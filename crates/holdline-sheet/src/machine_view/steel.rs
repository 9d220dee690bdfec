//! Parts as outlines on paper: what lies in front covers what lies behind.

use super::{MachineView, Part, PartKind, View};
use crate::geometry::{Pt, Rect, Step, closed_path, pt};
use crate::ink::Ink;
use crate::line::Line;
use crate::page::{Map, Page, Pen, THIN};
use crate::place::Placer;
use crate::scale::Window;

/// Which way the machine is looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum From {
    Side,
    Above,
}

impl From {
    fn of(view: View) -> From {
        match view {
            View::Section => From::Side,
            View::Plan => From::Above,
        }
    }

    pub(super) fn flat(self, p: [f64; 3]) -> [f64; 2] {
        match self {
            From::Side => [p[0], p[2]],
            From::Above => [p[0], p[1]],
        }
    }

    fn outlines(self, part: &Part) -> Vec<Vec<[f64; 2]>> {
        match self {
            From::Side => part.side(),
            From::Above => part.above(),
        }
    }

    /// Back to front.
    fn order(self, kind: PartKind) -> usize {
        use PartKind as K;
        let side = [
            K::Track,
            K::Counterweight,
            K::House,
            K::Cab,
            K::Other,
            K::Cylinder,
            K::Linkage,
            K::Boom,
            K::Stick,
            K::Tilt,
            K::Coupler,
            K::Bucket,
        ];
        let above = [
            K::Track,
            K::Bucket,
            K::Tilt,
            K::Coupler,
            K::Linkage,
            K::Stick,
            K::Counterweight,
            K::House,
            K::Other,
            K::Cylinder,
            K::Boom,
            K::Cab,
        ];
        let list = match self {
            From::Side => &side,
            From::Above => &above,
        };
        list.iter().position(|k| *k == kind).unwrap_or(list.len())
    }
}

/// The window that holds every outline.
pub(super) fn window_of(view: &MachineView, from: From) -> Option<Window> {
    let outlines = view
        .parts
        .iter()
        .chain(&view.others)
        .flat_map(|p| from.outlines(p))
        .flatten();
    let points = view
        .pins
        .iter()
        .map(|p| p.at_m)
        .chain(view.teeth.iter().map(|t| t.at_m))
        .chain(view.chain_m.iter().copied())
        .map(|p| from.flat(p));
    let which = match from {
        From::Side => View::Section,
        From::Above => View::Plan,
    };
    let limits = view
        .limits
        .iter()
        .filter(|l| l.view == which)
        .flat_map(|l| [l.from_m, l.to_m]);
    Window::around(outlines.chain(points).chain(limits))
}

/// The window that holds the outlines of all parts in a view.
pub fn outlines_window(view: &MachineView, which: View) -> Option<Window> {
    window_of(view, From::of(which))
}

/// Draws the outlines of all parts, without faces, over a drawing that must stay to be seen.
pub fn draw_outlines(
    page: &mut Page,
    placer: &mut Placer,
    view: &MachineView,
    map: &Map,
    which: View,
) {
    let from = From::of(which);
    let mut ordered: Vec<&Part> = view.parts.iter().collect();
    ordered.sort_by_key(|p| from.order(p.kind));
    for part in ordered {
        page.begin(name_for_programs(part.kind), part.name.clone());
        for outline in from.outlines(part) {
            let paper: Vec<Pt> = outline.iter().map(|p| map.on_paper(*p)).collect();
            page.stroke(closed_path(&paper), Pen::new(Line::Thin, Ink::Ink));
            placer.avoid_outline(&paper);
        }
        page.end();
    }
}

/// Draws other positions, then the parts, back to front.
pub(super) fn draw_parts(
    page: &mut Page,
    placer: &mut Placer,
    view: &MachineView,
    map: &Map,
    from: From,
) {
    for part in &view.others {
        page.begin("other", part.name.clone());
        for outline in from.outlines(part) {
            let paper: Vec<Pt> = outline.iter().map(|p| map.on_paper(*p)).collect();
            page.stroke(closed_path(&paper), Pen::new(Line::Other, Ink::Soft));
            placer.avoid_outline(&paper);
        }
        page.end();
    }
    let mut ordered: Vec<&Part> = view.parts.iter().collect();
    ordered.sort_by_key(|p| from.order(p.kind));
    for part in ordered {
        draw_part(page, placer, part, map, from);
    }
}

fn draw_part(page: &mut Page, placer: &mut Placer, part: &Part, map: &Map, from: From) {
    let outlines: Vec<Vec<Pt>> = from
        .outlines(part)
        .iter()
        .map(|outline| outline.iter().map(|p| map.on_paper(*p)).collect())
        .collect();
    if outlines.is_empty() {
        return;
    }
    page.begin(name_for_programs(part.kind), part.name.clone());
    let steps: Vec<Vec<Step>> = outlines
        .iter()
        .map(|outline| match (part.kind, from) {
            (PartKind::Track, From::Side) => track(outline),
            _ => closed_path(outline),
        })
        .collect();
    let face = match part.kind {
        PartKind::House | PartKind::Counterweight | PartKind::Boom | PartKind::Stick => Ink::Steel,
        _ => Ink::Paper,
    };
    // Twice as wide and then filled: what is left is the outline of all solids of the part together.
    for path in &steps {
        page.stroke(
            path.clone(),
            Pen {
                times: 2.0,
                ..Pen::new(Line::Steel, Ink::Ink)
            },
        );
    }
    for path in steps {
        page.fill(path, face);
    }
    match (part.kind, from) {
        (PartKind::Track, From::Side) => outlines.iter().for_each(|o| draw_wheels(page, o)),
        (PartKind::Track, From::Above) => outlines.iter().for_each(|o| draw_shoes(page, o)),
        (PartKind::Cab, From::Side) => outlines.iter().for_each(|o| draw_window(page, o)),
        _ => {}
    }
    for outline in &outlines {
        placer.avoid_outline(outline);
    }
    page.end();
}

fn name_for_programs(kind: PartKind) -> &'static str {
    match kind {
        PartKind::Track => "track",
        PartKind::House => "house",
        PartKind::Counterweight => "counterweight",
        PartKind::Cab => "cab",
        PartKind::Boom => "boom",
        PartKind::Stick => "stick",
        PartKind::Cylinder => "cylinder",
        PartKind::Linkage => "linkage",
        PartKind::Coupler => "coupler",
        PartKind::Tilt => "tilt",
        PartKind::Bucket => "bucket",
        PartKind::Other => "other-part",
    }
}

/// The box around an outline along its longest edge: lower left, lower right, upper right, upper left
/// on paper. A track of a leaning machine shows more than four corners; its box shows four.
fn quad(outline: &[Pt]) -> Option<[Pt; 4]> {
    let longest = (0..outline.len())
        .map(|idx| (outline[idx], outline[(idx + 1) % outline.len()]))
        .max_by(|(a, b), (c, d)| a.to(*b).total_cmp(&c.to(*d)))?;
    let (a, b) = longest;
    let quarter = std::f64::consts::FRAC_PI_2;
    let turn = (b.y - a.y).atan2(b.x - a.x);
    let turn = turn - (turn / quarter).round() * quarter; // the edge nearest to level on paper
    let (along, down) = (pt(turn.cos(), turn.sin()), pt(-turn.sin(), turn.cos()));
    let flat = |p: &Pt| pt(p.x * along.x + p.y * along.y, p.x * down.x + p.y * down.y);
    let r = Rect::around(outline.iter().map(flat))?;
    let back = |x: f64, y: f64| pt(x * along.x + y * down.x, x * along.y + y * down.y);
    Some([
        back(r.left, r.bottom),
        back(r.right, r.bottom),
        back(r.right, r.top),
        back(r.left, r.top),
    ])
}

/// A track from the side: its box with round ends.
fn track(outline: &[Pt]) -> Vec<Step> {
    let Some([ll, lr, ur, ul]) = quad(outline) else {
        return closed_path(outline);
    };
    let radius = ll.to(ul) * 0.46;
    if ll.to(lr) < 2.2 * radius {
        return closed_path(outline);
    }
    let corners = [ll, lr, ur, ul];
    let mut steps = Vec::new();
    for idx in 0..4 {
        let (before, corner, after) =
            (corners[(idx + 3) % 4], corners[idx], corners[(idx + 1) % 4]);
        let toward = |p: Pt, mm: f64| {
            let t = mm / corner.to(p).max(1e-9);
            pt(
                corner.x + (p.x - corner.x) * t,
                corner.y + (p.y - corner.y) * t,
            )
        };
        let (start, end) = (toward(before, radius), toward(after, radius));
        let bend = 0.447_7; // 1 − 0.5523, the handle of a quarter circle
        steps.push(if idx == 0 {
            Step::Move(start)
        } else {
            Step::Line(start)
        });
        steps.push(Step::Curve(
            toward(before, radius * bend),
            toward(after, radius * bend),
            end,
        ));
    }
    steps.push(Step::Close);
    steps
}

fn draw_wheels(page: &mut Page, outline: &[Pt]) {
    let Some([ll, lr, ur, ul]) = quad(outline) else {
        return;
    };
    let height = ll.to(ul);
    if height < 5.0 {
        return;
    }
    let share = (height * 0.46) / ll.to(lr).max(1e-9);
    for t in [share, 1.0 - share] {
        let mix = |a: Pt, b: Pt| pt(a.x + (b.x - a.x) * t, a.y + (b.y - a.y) * t);
        let centre = mix(ll, lr).middle(mix(ul, ur));
        page.stroke(crate::geometry::circle(centre, height * 0.33), THIN);
        page.dot(centre, 0.4, Ink::Soft);
    }
}

fn draw_shoes(page: &mut Page, outline: &[Pt]) {
    let Some([ll, lr, ur, ul]) = quad(outline) else {
        return;
    };
    let n = ((ll.to(lr) / 3.0).floor() as usize).clamp(2, 40);
    for idx in 1..n {
        let t = idx as f64 / n as f64;
        let mix = |a: Pt, b: Pt| pt(a.x + (b.x - a.x) * t, a.y + (b.y - a.y) * t);
        page.line(mix(ll, lr), mix(ul, ur), Pen::new(Line::Hatch, Ink::Soft));
    }
}

fn draw_window(page: &mut Page, outline: &[Pt]) {
    let Some([ll, lr, ur, ul]) = quad(outline) else {
        return;
    };
    let at = |s: f64, t: f64| {
        let mix = |a: Pt, b: Pt, t: f64| pt(a.x + (b.x - a.x) * t, a.y + (b.y - a.y) * t);
        mix(mix(ll, lr, s), mix(ul, ur, s), t)
    };
    page.stroke(
        closed_path(&[at(0.12, 0.5), at(0.9, 0.5), at(0.9, 0.92), at(0.12, 0.92)]),
        THIN,
    );
}

/// The box of everything drawn, on paper; in the plan with the sweep of the tail.
pub(super) fn extent(view: &MachineView, map: &Map, from: From) -> Option<Rect> {
    let w = window_of(view, from)?;
    let parts = [
        map.on_paper([w.left_m, w.down_m]),
        map.on_paper([w.right_m, w.up_m]),
    ];
    let tail = view
        .tail_radius_m
        .filter(|r| from == From::Above && r.is_finite());
    let sweep = tail.map_or(parts, |r| [map.on_paper([-r, -r]), map.on_paper([r, r])]);
    Rect::around(parts.into_iter().chain(sweep))
}
