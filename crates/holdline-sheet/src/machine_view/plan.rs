//! The plan: the machine from above, boom to the right, left of the machine up the paper.

use super::furniture::{draw_foot, draw_limits, draw_nothing, foot_mm};
use super::section::{describe, draw_dimensions};
use super::steel::{From, draw_parts, window_of};
use super::{Detail, Lettering, MachineView, View, Viewport, Way};
use crate::dimension::draw_tooth_mark;
use crate::geometry::{Rect, circle, pt};
use crate::ink::Ink;
use crate::line::Line;
use crate::page::{AXIS, Map, Page, Pen, Reading, Type};
use crate::place::{Label, Placer};
use crate::scale::{Window, draw_north, fit};
use crate::words::Words;

/// Draws the plan into a field of a page. Gives the number after `1 :` and where its metres lie.
pub fn draw_plan(
    page: &mut Page,
    field: Rect,
    view: &MachineView,
    lettering: &Lettering,
    words: &Words,
) -> (f64, Map) {
    let Some(window) = plan_window(view) else {
        draw_nothing(page, field);
        return (
            0.0,
            Map {
                origin: field.centre(),
                mm_per_m: 1.0,
            },
        );
    };
    let (number, map) = fit(
        &window,
        drawing_room(field, view, lettering, words),
        1.0,
        lettering.steps,
    );
    let mut placer = Placer::new(field.inset(0.5));
    page.begin("plan", words.plan.to_string());
    draw_axes(page, &mut placer, view, &map, field, &window);
    draw_parts(page, &mut placer, view, &map, From::Above);
    draw_centre(page, &map);
    let set = Type::soft(lettering.size_pt);
    draw_foot(page, &mut placer, view, &map, lettering, words, View::Plan);
    draw_limits(page, &mut placer, view, &map, lettering, View::Plan);
    if let Some(north) = view.north_rad.filter(|n| n.is_finite()) {
        let centre = pt(
            field.right - 12.0,
            field.bottom - 10.0 - set.line_mm() - 1.0,
        );
        let around = draw_north(page, centre, -north, &words.grid_north, set);
        placer.take(around.inset(-0.5).corners());
    }
    draw_teeth(page, &mut placer, view, &map, lettering);
    if matches!(lettering.detail, Detail::Full | Detail::Bare) {
        draw_dimensions(page, &mut placer, view, &map, lettering, View::Plan, field);
    }
    page.end();
    (number, map)
}

/// The part of the plan to be shown: as given, else all parts and the sweep of the tail.
pub fn plan_window(view: &MachineView) -> Option<Window> {
    view.plan_window.or_else(|| {
        let mut window = window_of(view, From::Above)?;
        let tail = view.tail_radius_m.unwrap_or(0.0);
        window.left_m = window.left_m.min(-tail);
        window.down_m = window.down_m.min(-tail);
        window.up_m = window.up_m.max(tail);
        Some(window)
    })
}

/// The plan alone, for a screen.
pub fn plan_on_screen(view: &MachineView, viewport: Viewport, words: &Words) -> Page {
    let (width, height) = viewport.size_mm();
    let mut page = Page::new(width, height, format!("{}: {}", words.plan, view.name));
    page.reading = Reading::Picture;
    page.description = describe(view, &Lettering::SCREEN, words);
    let field = page.paper().inset(1.0);
    let (_, map) = draw_plan(&mut page, field, view, &Lettering::SCREEN, words);
    page.map = Some(map);
    page
}

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
                .any(|d| d.view == View::Plan && d.way == way)
    };
    let foot = foot_mm(field, view, lettering, words, View::Plan);
    let below = foot + 1.0 + if has(Way::Across) { line + 5.0 } else { 0.0 };
    Rect {
        left: field.left + 2.0,
        top: field.top + 2.0,
        right: field.right - if has(Way::Up) { line + 6.0 } else { 2.0 },
        bottom: field.bottom - below,
    }
}

fn draw_axes(
    page: &mut Page,
    placer: &mut Placer,
    view: &MachineView,
    map: &Map,
    field: Rect,
    window: &Window,
) {
    let y_m = view.chain_m.first().map_or(0.0, |p| p[1]);
    let past = 5.0;
    let left = map.on_paper([window.left_m, y_m]);
    let right = map.on_paper([window.right_m, y_m]);
    let from = pt((left.x - past).max(field.left + 0.5), left.y);
    let to = pt((right.x + past).min(field.right - 0.5), right.y);
    page.line(from, to, AXIS);
    placer.avoid(from, to);
    if let Some(radius) = view.tail_radius_m.filter(|r| r.is_finite() && 0.0 < *r) {
        let centre = map.on_paper([0.0, 0.0]);
        let radius = radius * map.mm_per_m;
        page.stroke(circle(centre, radius), Pen::new(Line::Other, Ink::Soft));
        for idx in 0..24 {
            let turn = |i: i32| f64::from(i) * std::f64::consts::TAU / 24.0;
            placer.avoid(
                centre.along(turn(idx), radius),
                centre.along(turn(idx + 1), radius),
            );
        }
    }
}

fn draw_centre(page: &mut Page, map: &Map) {
    let centre = map.on_paper([0.0, 0.0]);
    page.line(centre.by(-5.0, 0.0), centre.by(5.0, 0.0), AXIS);
    page.line(centre.by(0.0, -5.0), centre.by(0.0, 5.0), AXIS);
}

fn draw_teeth(
    page: &mut Page,
    placer: &mut Placer,
    view: &MachineView,
    map: &Map,
    lettering: &Lettering,
) {
    page.begin("tooth", "");
    for (idx, tooth) in view.teeth.iter().enumerate() {
        let at = map.on_paper([tooth.at_m[0], tooth.at_m[1]]);
        if idx == 0 {
            draw_tooth_mark(page, at, 1.6);
        } else {
            page.shape(circle(at, 0.8), Pen::new(Line::Thin, Ink::Ink), Ink::Paper);
        }
        placer.take([
            at.by(-2.0, -2.0),
            at.by(2.0, -2.0),
            at.by(2.0, 2.0),
            at.by(-2.0, 2.0),
        ]);
    }
    for (idx, tooth) in view.teeth.iter().enumerate() {
        if lettering.detail == Detail::Outline || (lettering.detail == Detail::Bare && idx > 0) {
            continue;
        }
        let at = map.on_paper([tooth.at_m[0], tooth.at_m[1]]);
        let set = if idx == 0 {
            lettering.strong()
        } else {
            lettering.words()
        };
        placer.put_near(page, &[Label::new(set, tooth.name.clone())], at, 3.0);
    }
    page.end();
}
