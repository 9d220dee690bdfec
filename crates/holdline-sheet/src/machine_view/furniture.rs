//! What stands around a machine: limits with their hatching, the legend.

use super::{Detail, Forbidden, Lettering, LimitLine, MachineView, View};
use crate::dimension::{draw_tooth_mark, reading_turn};
use crate::font;
use crate::geometry::{Pt, Rect, closed_path, pt};
use crate::hatch::{self, Hatch};
use crate::ink::Ink;
use crate::line::Line;
use crate::page::{AXIS, Anchor, LIMIT, Map, Page, Pen, STEEL, Type};
use crate::place::{Label, Placer};
use crate::scale::draw_scale_bar;
use crate::words::Words;

/// Width of the hatched band on the forbidden side of a limit, mm.
pub const LIMIT_BAND_MM: f64 = 3.2;

/// Draws the limits of one view: a wide line, hatched on the forbidden side, its words on the other.
pub(super) fn draw_limits(
    page: &mut Page,
    placer: &mut Placer,
    view: &MachineView,
    map: &Map,
    lettering: &Lettering,
    which: View,
) {
    for limit in view.limits.iter().filter(|l| l.view == which) {
        let ends = (map.on_paper(limit.from_m), map.on_paper(limit.to_m));
        let Some((a, b)) = inside(placer.field().inset(0.1), ends.0, ends.1) else {
            continue;
        };
        page.begin("limit", limit.words.clone());
        let turn = (b.y - a.y).atan2(b.x - a.x);
        let quarter = std::f64::consts::FRAC_PI_2;
        let away = match limit.forbidden {
            Forbidden::Left => turn - quarter,
            Forbidden::Right => turn + quarter,
        };
        let band = [
            a,
            b,
            b.along(away, LIMIT_BAND_MM),
            a.along(away, LIMIT_BAND_MM),
        ];
        hatch::draw(page, Hatch::NoGo, &band);
        page.line(a, b, LIMIT);
        placer.take(band);
        placer.avoid(a, b);
        draw_limit_words(page, placer, limit, lettering, (a, b), away);
        page.end();
    }
}

fn draw_limit_words(
    page: &mut Page,
    placer: &mut Placer,
    limit: &LimitLine,
    lettering: &Lettering,
    (a, b): (Pt, Pt),
    away: f64,
) {
    let label = Label::new(lettering.strong(), limit.words.clone());
    let read = reading_turn(a, b);
    let allowed = away + std::f64::consts::PI;
    let up = read - std::f64::consts::FRAC_PI_2;
    // Upright words on the allowed side: their foot or their head is next to the line.
    let words_go_up = (allowed - up).cos() > 0.0;
    let off = if words_go_up {
        font::BELOW
    } else {
        font::ABOVE
    } * label.size_mm()
        + 1.0;
    let width = label.width_mm();
    let length = a.to(b);
    let mut places = Vec::new();
    for share in [0.5, 0.25, 0.75, 0.12, 0.88, 0.4, 0.6] {
        if width + 2.0 < length {
            let middle = pt(a.x + (b.x - a.x) * share, a.y + (b.y - a.y) * share);
            places.push((middle.along(allowed, off).along(read, -width / 2.0), read));
        }
    }
    if placer.put_at_best(page, &label, &places).is_none() {
        placer.put_near(page, &[label], a.middle(b), 2.0);
    }
}

/// The part of a segment inside a box.
fn inside(field: Rect, a: Pt, b: Pt) -> Option<(Pt, Pt)> {
    let (mut from, mut to) = (0.0_f64, 1.0_f64);
    for (start, way, low, high) in [
        (a.x, b.x - a.x, field.left, field.right),
        (a.y, b.y - a.y, field.top, field.bottom),
    ] {
        if way.abs() < 1e-12 {
            if !(low <= start && start <= high) {
                return None;
            }
            continue;
        }
        let (one, two) = ((low - start) / way, (high - start) / way);
        from = from.max(one.min(two));
        to = to.min(one.max(two));
    }
    let at = |t: f64| pt(a.x + (b.x - a.x) * t, a.y + (b.y - a.y) * t);
    (from < to).then(|| (at(from), at(to)))
}

enum Sample {
    Line(Pen),
    Ground,
    NoGo,
    Tooth,
}

fn entries(view: &MachineView, words: &Words, which: View) -> Vec<(Sample, String)> {
    let mut list = vec![
        (Sample::Line(STEEL), words.line_steel.to_string()),
        (Sample::Line(AXIS), words.line_axis.to_string()),
    ];
    let other = Pen::new(Line::Other, Ink::Soft);
    if !view.others.is_empty() {
        list.push((Sample::Line(other), words.line_other.to_string()));
    }
    if which == View::Plan && view.tail_radius_m.is_some() {
        list.push((Sample::Line(other), words.line_tail.to_string()));
    }
    if !view.teeth.is_empty() {
        list.push((Sample::Tooth, words.tooth_mark.to_string()));
    }
    if which == View::Section && view.ground_m.is_some() {
        list.push((Sample::Ground, words.ground.to_string()));
    }
    if view.limits.iter().any(|l| l.view == which) {
        list.push((Sample::NoGo, words.no_go.to_string()));
    }
    list
}

const SAMPLE: f64 = 11.0;
const BETWEEN: f64 = 5.0;

/// Rows of entries, each with its left edge, for a width; right-aligned rows would dance, so they start left.
fn rows(list: &[(Sample, String)], width: f64, set: Type) -> Vec<Vec<(usize, f64)>> {
    let mut rows: Vec<Vec<(usize, f64)>> = vec![Vec::new()];
    let mut x = 0.0;
    for (idx, (_, text)) in list.iter().enumerate() {
        let need = SAMPLE + 1.5 + set.width_mm(text);
        if x > 0.0 && x + need > width {
            rows.push(Vec::new());
            x = 0.0;
        }
        if let Some(row) = rows.last_mut() {
            row.push((idx, x));
        }
        x += need + BETWEEN;
    }
    rows
}

/// Height of the legend in a width, mm.
fn legend_height_mm(
    view: &MachineView,
    words: &Words,
    which: View,
    width: f64,
    size_pt: f64,
) -> f64 {
    let set = Type::soft(size_pt);
    rows(&entries(view, words, which), width, set).len() as f64 * (set.line_mm() + 0.6)
}

/// Width kept for the scale bar at the foot of a field, mm.
fn bar_room_mm(field: Rect) -> f64 {
    (field.width() * 0.3).min(70.0) + 14.0
}

/// Where the legend of a field begins, and how wide it may be: right of the scale bar, left of north.
fn legend_room(field: Rect, view: &MachineView, which: View) -> (f64, f64) {
    let bar = bar_room_mm(field);
    let north = which == View::Plan && view.north_rad.is_some();
    (
        field.left + bar,
        field.width() - bar - if north { 30.0 } else { 0.0 },
    )
}

/// Height kept at the foot of a field for scale bar and legend, mm.
pub(super) fn foot_mm(
    field: Rect,
    view: &MachineView,
    lettering: &Lettering,
    words: &Words,
    which: View,
) -> f64 {
    let bar = Type::regular(lettering.size_pt).line_mm() + 4.0;
    if lettering.detail != Detail::Full {
        return bar;
    }
    let (_, width) = legend_room(field, view, which);
    legend_height_mm(view, words, which, width, lettering.size_pt).max(bar)
}

/// The scale bar and, on a full drawing, the legend beside it.
pub(super) fn draw_foot(
    page: &mut Page,
    placer: &mut Placer,
    view: &MachineView,
    map: &Map,
    lettering: &Lettering,
    words: &Words,
    which: View,
) {
    if lettering.detail == Detail::Outline {
        return;
    }
    let field = placer.field().inset(-0.5);
    let set = Type::soft(lettering.size_pt);
    let left = field.left + 2.0 + set.width_mm("0");
    let at = pt(left, field.bottom - 1.4 - 0.8 - set.line_mm() - 1.0);
    let longest = (field.width() * 0.3).min(70.0);
    let around = draw_scale_bar(page, at, map.mm_per_m, longest, set);
    placer.take(around.inset(-1.0).corners());
    if lettering.detail == Detail::Full {
        let (left, width) = legend_room(field, view, which);
        let foot = pt(left, field.bottom - 0.6);
        let legend = draw_legend(page, foot, width, view, words, which, lettering.size_pt);
        placer.take(legend.inset(-1.0).corners());
    }
}

/// Draws the legend with its lower left corner at a point; gives its box.
fn draw_legend(
    page: &mut Page,
    foot: Pt,
    width: f64,
    view: &MachineView,
    words: &Words,
    which: View,
    size_pt: f64,
) -> Rect {
    let set = Type::soft(size_pt);
    let list = entries(view, words, which);
    let rows = rows(&list, width, set);
    let step = set.line_mm() + 0.6;
    let top = foot.y - step * rows.len() as f64;
    page.begin("legend", words.legend.to_string());
    for (row_idx, row) in rows.iter().enumerate() {
        let y = top + step * row_idx as f64;
        for (idx, x) in row {
            let (sample, text) = &list[*idx];
            draw_sample(page, pt(foot.x + x, y + step / 2.0), sample, step);
            let at = pt(foot.x + x + SAMPLE + 1.5, y + 0.3 + set.drop_mm());
            page.words(at, Anchor::Start, set, text);
        }
    }
    page.end();
    Rect {
        left: foot.x,
        top,
        right: foot.x + width,
        bottom: foot.y,
    }
}

fn draw_sample(page: &mut Page, left: Pt, sample: &Sample, step: f64) {
    let right = left.by(SAMPLE, 0.0);
    match sample {
        Sample::Line(pen) => page.line(left, right, *pen),
        Sample::Ground => {
            let (a, b) = (left.by(0.0, -step * 0.35), right.by(0.0, -step * 0.35));
            hatch::draw_ground_band(page, a, b, step * 0.8);
            page.line(a, b, LIMIT);
        }
        Sample::NoGo => {
            let half = step * 0.36;
            let corners = [
                left.by(0.0, -half),
                right.by(0.0, -half),
                right.by(0.0, half),
                left.by(0.0, half),
            ];
            hatch::draw(page, Hatch::NoGo, &corners);
            page.line(corners[3], corners[2], LIMIT);
        }
        Sample::Tooth => draw_tooth_mark(page, left.by(SAMPLE / 2.0, 0.0), 1.5),
    }
}

/// An outline that says where a drawing with nothing in it would be.
pub(super) fn draw_nothing(page: &mut Page, field: Rect) {
    page.stroke(
        closed_path(&field.inset(1.0).corners()),
        Pen::new(Line::Hidden, Ink::Soft),
    );
}
