//! The section: the machine in elevation, looked at square to the boom plane, boom to the right.

use super::furniture::{draw_foot, draw_limits, draw_nothing, foot_mm};
use super::steel::{From, draw_parts, extent, window_of};
use super::{Detail, Lettering, MachineView, View, Viewport, Way};
use crate::dimension::{draw_angle, draw_dimension, draw_pin, draw_tooth_mark};
use crate::geometry::{Pt, Rect, open_path, pt};
use crate::hatch;
use crate::ink::Ink;
use crate::line::Line;
use crate::page::{AXIS, LIMIT, Map, Page, Pen, Reading, THIN, Type};
use crate::place::{Label, Placer};
use crate::scale::{Window, fit};
use crate::words::Words;

/// Depth of the hatched band under a ground line, mm.
const GROUND_BAND: f64 = 5.0;

/// Draws the section into a field of a page. Gives the number after `1 :` and where its metres lie.
pub fn draw_section(
    page: &mut Page,
    field: Rect,
    view: &MachineView,
    lettering: &Lettering,
    words: &Words,
) -> (f64, Map) {
    let room = drawing_room(field, view, lettering, words);
    let Some(window) = section_window(view) else {
        draw_nothing(page, field);
        return (
            0.0,
            Map {
                origin: field.centre(),
                mm_per_m: 1.0,
            },
        );
    };
    let (number, map) = fit(&window, room, 1.0, lettering.steps);
    let mut placer = Placer::new(field.inset(0.5));
    page.begin("section", words.section.to_string());
    draw_ground(page, &mut placer, field, view, &map, lettering);
    draw_swing_axis(page, &mut placer, view, &map, field);
    draw_parts(page, &mut placer, view, &map, From::Side);
    draw_chain(page, &mut placer, view, &map);
    draw_foot(
        page,
        &mut placer,
        view,
        &map,
        lettering,
        words,
        View::Section,
    );
    draw_limits(page, &mut placer, view, &map, lettering, View::Section);
    draw_marks(page, &mut placer, view, &map, lettering);
    draw_levels(page, &mut placer, view, &map, lettering, words);
    if matches!(lettering.detail, Detail::Full | Detail::Bare) {
        draw_dimensions(
            page,
            &mut placer,
            view,
            &map,
            lettering,
            View::Section,
            field,
        );
    }
    if lettering.detail != Detail::Outline {
        draw_tooth_figures(page, &mut placer, view, &map, lettering);
    }
    if matches!(lettering.detail, Detail::Full | Detail::Moving) {
        draw_angles(page, &mut placer, view, &map, lettering, words);
    }
    page.end();
    (number, map)
}

/// The part of the section to be shown: as given, else all parts and the ground under the tracks.
pub fn section_window(view: &MachineView) -> Option<Window> {
    view.section_window.or_else(|| {
        let mut window = window_of(view, From::Side)?;
        window.down_m = window.down_m.min(0.0);
        Some(window)
    })
}

/// The section alone, for a screen.
pub fn section_on_screen(view: &MachineView, viewport: Viewport, words: &Words) -> Page {
    let (width, height) = viewport.size_mm();
    let mut page = Page::new(width, height, format!("{}: {}", words.section, view.name));
    page.reading = Reading::Picture;
    page.description = describe(view, &Lettering::SCREEN, words);
    let field = page.paper().inset(1.0);
    let (_, map) = draw_section(&mut page, field, view, &Lettering::SCREEN, words);
    page.map = Some(map);
    page
}

/// What the section shows, in words: joint angles, then the tooth.
pub(super) fn describe(view: &MachineView, lettering: &Lettering, words: &Words) -> String {
    let mut parts = Vec::new();
    for angle in &view.angles {
        let figure =
            crate::figure::figure(angle.angle, &crate::figure::DEGREES, lettering.coverage).text();
        let outside = if angle.outside {
            format!(", {}", words.outside_range)
        } else {
            String::new()
        };
        parts.push(format!("{} {figure}{outside}", angle.name));
    }
    if let Some(tooth) = view.teeth.first() {
        for (name, measured, kind) in &tooth.figures {
            let figure = crate::figure::figure(*measured, kind, lettering.coverage).text();
            parts.push(format!(
                "{} {}: {name} {figure}",
                words.tooth_mark, tooth.name
            ));
        }
    }
    if parts.is_empty() {
        String::new()
    } else {
        format!("{}.", parts.join("; "))
    }
}

/// Room for the outlines: what dimensions around them and the scale bar below leave.
fn drawing_room(field: Rect, view: &MachineView, lettering: &Lettering, words: &Words) -> Rect {
    if lettering.detail == Detail::Outline {
        return field;
    }
    let line = Type::regular(lettering.size_pt).line_mm();
    let has = |way: Way| {
        lettering.detail != Detail::Moving
            && view
                .dimensions
                .iter()
                .any(|d| d.view == View::Section && d.way == way)
    };
    let foot = foot_mm(field, view, lettering, words, View::Section);
    let below = GROUND_BAND + foot + if has(Way::Across) { line + 5.0 } else { 0.0 };
    let beside = match lettering.detail {
        Detail::Moving => (6.0 * line).min(field.width() * 0.15),
        Detail::Full | Detail::Bare | Detail::Outline if has(Way::Up) => line + 6.0,
        Detail::Full | Detail::Bare | Detail::Outline => 3.0,
    };
    let above = match lettering.detail {
        Detail::Full => 2.0 * line + 8.0,
        Detail::Moving => line + 3.0,
        Detail::Bare | Detail::Outline => 2.0,
    };
    Rect {
        left: field.left
            + if lettering.detail == Detail::Full {
                14.0
            } else {
                2.0
            },
        top: field.top + above,
        right: field.right - beside,
        bottom: field.bottom - below,
    }
}

fn draw_ground(
    page: &mut Page,
    placer: &mut Placer,
    field: Rect,
    view: &MachineView,
    map: &Map,
    lettering: &Lettering,
) {
    let Some([a, b]) = view.ground_m else { return };
    let (a, b) = (map.on_paper(a), map.on_paper(b));
    if !((b.x - a.x).abs() > 1e-6) {
        return;
    }
    let fall = (b.y - a.y) / (b.x - a.x);
    let at = |x: f64| pt(x, a.y + (x - a.x) * fall);
    let (left, right) = (at(field.left + 1.0), at(field.right - 1.0));
    let band = if lettering.detail == Detail::Outline {
        GROUND_BAND * 0.7
    } else {
        GROUND_BAND
    };
    page.begin("ground", "");
    hatch::draw_ground_band(page, left, right, band);
    page.line(left, right, LIMIT);
    page.end();
    placer.avoid(left, right);
    placer.take([left, right, right.by(0.0, band), left.by(0.0, band)]);
}

fn draw_swing_axis(
    page: &mut Page,
    placer: &mut Placer,
    view: &MachineView,
    map: &Map,
    field: Rect,
) {
    let Some(around) = extent(view, map, From::Side) else {
        return;
    };
    let foot = map.on_paper([0.0, 0.0]);
    let top = pt(foot.x, (around.top - 4.0).max(field.top + 1.0));
    let bottom = pt(foot.x, foot.y + GROUND_BAND + 2.0);
    page.line(top, bottom, AXIS);
    placer.avoid(top, bottom);
}

fn draw_chain(page: &mut Page, placer: &mut Placer, view: &MachineView, map: &Map) {
    let chain: Vec<Pt> = view
        .chain_m
        .iter()
        .map(|p| map.on_paper([p[0], p[2]]))
        .collect();
    if chain.len() > 1 {
        page.stroke(open_path(&chain), AXIS);
        chain
            .windows(2)
            .for_each(|pair| placer.avoid(pair[0], pair[1]));
    }
}

fn draw_marks(
    page: &mut Page,
    placer: &mut Placer,
    view: &MachineView,
    map: &Map,
    lettering: &Lettering,
) {
    let small = matches!(lettering.detail, Detail::Bare | Detail::Outline);
    let radius = if small { 0.7 } else { 1.1 };
    page.begin("pins", "");
    for pin in &view.pins {
        let at = map.on_paper([pin.at_m[0], pin.at_m[2]]);
        draw_pin(page, at, radius);
        let r = radius + 0.3;
        placer.take([at.by(-r, -r), at.by(r, -r), at.by(r, r), at.by(-r, r)]);
    }
    page.end();
    page.begin("tooth", "");
    for tooth in view.teeth.iter().take(1) {
        let at = map.on_paper([tooth.at_m[0], tooth.at_m[2]]);
        draw_tooth_mark(page, at, 1.6);
        placer.take([
            at.by(-2.0, -2.0),
            at.by(2.0, -2.0),
            at.by(2.0, 2.0),
            at.by(-2.0, 2.0),
        ]);
    }
    page.end();
    if !small {
        for pin in &view.pins {
            let at = map.on_paper([pin.at_m[0], pin.at_m[2]]);
            let label = Label::new(lettering.strong(), pin.letter.clone());
            placer.put_near(page, &[label], at, radius + 0.9);
        }
    }
}

fn draw_levels(
    page: &mut Page,
    placer: &mut Placer,
    view: &MachineView,
    map: &Map,
    lettering: &Lettering,
    words: &Words,
) {
    let field = placer.field();
    for level in &view.levels {
        let y = map.on_paper([0.0, level.z_m]).y;
        if !(field.top < y && y < field.bottom) {
            continue;
        }
        let (from, to) = (pt(field.left, y), pt(field.right, y));
        page.line(from, to, Pen::new(Line::Axis, Ink::Ink));
        placer.avoid(from, to);
        let name = if level.name.is_empty() {
            words.bench.to_string()
        } else {
            level.name.clone()
        };
        let label = Label::new(lettering.words(), name);
        let width = label.width_mm();
        let lift = 1.0 + label.size_mm() * crate::font::BELOW;
        let places: Vec<(Pt, f64)> = (0..40)
            .map(|idx| pt(to.x - width - 2.0 - 8.0 * f64::from(idx), y - lift))
            .take_while(|p| field.left < p.x)
            .map(|p| (p, 0.0))
            .collect();
        if placer.put_at_best(page, &label, &places).is_none() {
            placer.put_near(page, &[label], from.middle(to), 2.0);
        }
    }
}

/// Dimensions of one view: those along a link close to it, those across below, those up beside.
pub(super) fn draw_dimensions(
    page: &mut Page,
    placer: &mut Placer,
    view: &MachineView,
    map: &Map,
    lettering: &Lettering,
    which: View,
    field: Rect,
) {
    let from = if which == View::Section {
        From::Side
    } else {
        From::Above
    };
    page.begin("dimensions", "");
    let mut rank = 0.0;
    let line = lettering.words().line_mm();
    let below = extent(view, map, from).map_or(field.bottom, |around| around.bottom)
        + if which == View::Section {
            GROUND_BAND
        } else {
            0.0
        };
    for dim in view.dimensions.iter().filter(|d| d.view == which) {
        let (a, b) = (
            map.on_paper(from.flat(dim.from_m)),
            map.on_paper(from.flat(dim.to_m)),
        );
        let label = lettering.label(&dim.name, dim.length, &dim.kind);
        match dim.way {
            Way::Along => {
                let offset = best_offset(placer, a, b, &label);
                draw_dimension(page, placer, a, b, offset, &label);
            }
            Way::Across => {
                let y = (below + 3.0 + line + rank).min(field.bottom - line - 6.0);
                rank += line + 3.0;
                draw_across(page, placer, a, b, y, &label);
            }
            Way::Up => draw_up(page, placer, a, b, field, &label),
        }
    }
    page.end();
}

/// The offset, left (+) or right (−) of the way, whose line and words cross least steel.
fn best_offset(placer: &Placer, a: Pt, b: Pt, label: &Label) -> f64 {
    let turn = (b.y - a.y).atan2(b.x - a.x);
    let side = turn - std::f64::consts::FRAC_PI_2;
    let mut best = (usize::MAX, 12.0);
    for offset in [
        9.0, -9.0, 13.0, -13.0, 18.0, -18.0, 24.0, -24.0, 31.0, -31.0, 40.0, -40.0, 50.0, -50.0,
        60.0, -60.0,
    ] {
        let (p, q) = (a.along(side, offset), b.along(side, offset));
        let up = if offset > 0.0 {
            label.size_mm() + 1.5
        } else {
            -label.size_mm() - 1.5
        };
        let band = [p, q, q.along(side, up), p.along(side, up)];
        if !placer.is_free(&band) {
            continue;
        }
        let crossed = placer.crossings(&band);
        if crossed < best.0 {
            best = (crossed, offset);
        }
    }
    best.1
}

fn draw_across(page: &mut Page, placer: &mut Placer, a: Pt, b: Pt, y: f64, label: &Label) {
    for p in [a, b] {
        page.line(
            pt(p.x, p.y + 2.2 * (y - p.y).signum()),
            pt(p.x, y + 1.4),
            THIN,
        );
        placer.avoid(p, pt(p.x, y));
    }
    let (from, to) = if a.x <= b.x { (a, b) } else { (b, a) };
    draw_dimension(page, placer, pt(from.x, y), pt(to.x, y), 0.0, label);
}

fn draw_up(page: &mut Page, placer: &mut Placer, a: Pt, b: Pt, field: Rect, label: &Label) {
    let x = field.right - label.size_mm() - 3.5;
    for p in [a, b] {
        page.line(
            pt(p.x + 2.2 * (x - p.x).signum(), p.y),
            pt(x + 1.4, p.y),
            THIN,
        );
        placer.avoid(p, pt(x, p.y));
    }
    let (low, high) = if a.y >= b.y { (a, b) } else { (b, a) };
    draw_dimension(page, placer, pt(x, low.y), pt(x, high.y), 0.0, label);
}

/// Name and figures of the leading tooth point, as near to it as there is room.
pub(super) fn draw_tooth_figures(
    page: &mut Page,
    placer: &mut Placer,
    view: &MachineView,
    map: &Map,
    lettering: &Lettering,
) {
    let Some(tooth) = view.teeth.first() else {
        return;
    };
    let at = map.on_paper([tooth.at_m[0], tooth.at_m[2]]);
    let mut lines = vec![Label::new(lettering.strong(), tooth.name.clone())];
    for (name, measured, kind) in &tooth.figures {
        lines.push(lettering.label(name, *measured, kind));
    }
    page.begin("tooth-figures", "");
    if placer.put_near(page, &lines, at, 3.0).is_none() {
        placer.put_near(page, &lines[..1], at, 3.0);
    }
    page.end();
}

fn draw_angles(
    page: &mut Page,
    placer: &mut Placer,
    view: &MachineView,
    map: &Map,
    lettering: &Lettering,
    words: &Words,
) {
    page.begin("angles", "");
    for angle in &view.angles {
        let at = map.on_paper([angle.at_m[0], angle.at_m[2]]);
        let radius = (0.9 * map.mm_per_m).clamp(8.0, 16.0);
        // Angles grow counter-clockwise in the boom plane, clockwise on paper.
        let (from, to) = (-angle.from_rad, -(angle.from_rad + angle.angle.value));
        if !from.is_finite() || !to.is_finite() {
            continue;
        }
        page.line(at, at.along(from, radius + 4.0), AXIS);
        placer.avoid(at, at.along(from, radius + 4.0));
        let mut lines = lettering.lines(&angle.name, angle.angle, &crate::figure::DEGREES);
        if angle.outside {
            lines.push(Label::new(
                lettering.strong(),
                words.outside_range.to_string(),
            ));
        }
        draw_angle(page, placer, at, radius, from, to, &lines);
    }
    page.end();
}
