//! The machine as a ground for something else: outlines, ground line and scale bar, and what room is left.

use super::{Lettering, MachineView, View, draw_outlines, outlines_window};
use crate::geometry::{Rect, pt};
use crate::ink::Ink;
use crate::line::Line;
use crate::page::{Map, Page, Pen, Type};
use crate::place::Placer;
use crate::scale::{Window, draw_scale_bar, fit};

/// A drawing begun: where its metres lie, what room is taken, the number after `1 :`.
pub struct Backdrop {
    /// Where its metres lie.
    pub map: Map,
    /// What room is taken.
    pub placer: Placer,
    /// The number after `1 :`.
    pub number: f64,
}

/// Draws the machine's outlines so that they and `points` fit the field. `None` without anything to show.
pub fn draw_backdrop(
    page: &mut Page,
    field: Rect,
    machine: Option<&MachineView>,
    points_m: &[[f64; 2]],
    which: View,
    lettering: &Lettering,
) -> Option<Backdrop> {
    let own = machine.and_then(|m| outlines_window(m, which));
    let corners = own.map(|w| [[w.left_m, w.down_m], [w.right_m, w.up_m]]);
    let points = points_m.iter().copied();
    let window = Window::around(points.chain(corners.into_iter().flatten()))?;
    let set = Type::soft(lettering.size_pt);
    let foot = set.line_mm() + 4.5;
    let room = Rect {
        bottom: field.bottom - foot,
        ..field
    };
    let (number, map) = fit(&window, room, 2.0 + set.line_mm(), lettering.steps);
    let mut placer = Placer::new(room);
    if let Some(machine) = machine {
        if which == View::Section {
            draw_ground(page, &mut placer, machine, &map, room);
        }
        draw_outlines(page, &mut placer, machine, &map, which);
    }
    let at = pt(field.left + 2.0 + set.width_mm("0"), room.bottom + 1.4);
    draw_scale_bar(page, at, map.mm_per_m, (field.width() * 0.4).min(70.0), set);
    Some(Backdrop {
        map,
        placer,
        number,
    })
}

fn draw_ground(page: &mut Page, placer: &mut Placer, machine: &MachineView, map: &Map, room: Rect) {
    let Some([a, b]) = machine.ground_m else {
        return;
    };
    let (a, b) = (map.on_paper(a), map.on_paper(b));
    let fall = (b.y - a.y) / (b.x - a.x);
    let put = |x: f64| pt(x, a.y + (x - a.x) * fall);
    let (left, right) = (put(room.left + 1.0), put(room.right - 1.0));
    if room.top < left.y.min(right.y) && left.y.max(right.y) < room.bottom {
        page.line(left, right, Pen::new(Line::Steel, Ink::Ink));
        placer.avoid(left, right);
    }
}
