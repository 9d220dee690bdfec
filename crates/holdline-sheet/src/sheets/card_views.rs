//! The two views of the operator's card: to one scale, above each other or side by side.

use super::card::CARD_PT;
use crate::figure::Coverage;
use crate::geometry::{Pt, Rect, pt};
use crate::machine_view::{
    Detail, LIMIT_BAND_MM, Lettering, MachineView, Said, View, draw_plan, draw_section,
    plan_window, section_window,
};
use crate::page::{Page, Type};
use crate::scale::{Steps, Window, draw_scale_bar};
use crate::words::Words;

/// Depth of the hatched ground under the section, mm.
const GROUND: f64 = 5.0;

/// Draws section and plan to the largest scale that the field allows, and the scale bar at its foot.
pub(super) fn draw_views(page: &mut Page, field: Rect, view: &MachineView, words: &Words) {
    let set = Type::soft(CARD_PT);
    let bar_mm = 1.4 + 0.8 + set.line_mm() + 1.5;
    let (Some(side), Some(above)) = (section_window(view), plan_window(view)) else {
        return;
    };
    let (left_m, right_m) = (
        side.left_m.min(above.left_m),
        side.right_m.max(above.right_m),
    );
    let side = Window {
        left_m,
        right_m,
        ..side
    };
    let above = Window {
        left_m,
        right_m,
        ..above
    };
    let room = Rect {
        bottom: field.bottom - bar_mm,
        ..field
    };
    let arranged = arrange(room, view, &side, &above);
    if !(arranged.mm_per_m > 0.0) {
        return;
    }
    let lettering = Lettering {
        size_pt: CARD_PT,
        steps: Steps::Free,
        detail: Detail::Outline,
        coverage: Coverage::Twice,
        said: Said::WithUncertainty,
    };
    let section = MachineView {
        section_window: Some(side),
        ..view.clone()
    };
    let plan = MachineView {
        plan_window: Some(above),
        ..view.clone()
    };
    let sized = |at: Pt, w: &Window| {
        // A drawing fits its window into its field with 1 mm to spare on every side.
        let (width, height) = (
            w.width_m() * arranged.mm_per_m,
            w.height_m() * arranged.mm_per_m,
        );
        Rect::sized(at.x, at.y, width + 2.0, height + 2.0)
    };
    draw_section(
        page,
        sized(arranged.section, &side),
        &section,
        &lettering,
        words,
    );
    draw_plan(page, sized(arranged.plan, &above), &plan, &lettering, words);
    let bar = pt(field.left + set.width_mm("0"), field.bottom - bar_mm + 0.5);
    draw_scale_bar(page, bar, arranged.mm_per_m, field.width() * 0.55, set);
}

/// Where the two drawings begin, and their scale.
struct Arranged {
    section: Pt,
    plan: Pt,
    mm_per_m: f64,
}

fn arrange(room: Rect, view: &MachineView, side: &Window, above: &Window) -> Arranged {
    let band = |which| {
        let any = view.limits.iter().any(|l| l.view == which);
        if any { LIMIT_BAND_MM } else { 0.0 }
    };
    let width_m = side.width_m().max(1e-9);
    let (section_m, plan_m) = (side.height_m(), above.height_m());
    let bands = band(View::Section) + band(View::Plan);
    let stacked = ((room.width() - 4.0) / width_m)
        .min((room.height() - GROUND - bands - 5.0) / (section_m + plan_m));
    let most_band = band(View::Section).max(band(View::Plan));
    let beside = ((room.width() - 7.0) / 2.0 / width_m)
        .min((room.height() - GROUND - most_band - 3.0) / section_m.max(plan_m));
    if stacked >= beside {
        let left = room.centre().x - (width_m * stacked + 2.0) / 2.0;
        let top = room.top + band(View::Section);
        let below = top + section_m * stacked + 2.0 + GROUND + band(View::Plan);
        return Arranged {
            section: pt(left, top),
            plan: pt(left, below),
            mm_per_m: stacked,
        };
    }
    let each = width_m * beside + 2.0;
    let left = room.centre().x - each - 1.0;
    let top = room.top + most_band;
    Arranged {
        section: pt(left, top),
        plan: pt(left + each + 2.0, top),
        mm_per_m: beside,
    }
}
