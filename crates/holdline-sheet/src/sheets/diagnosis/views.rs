//! The shots' differences as arrows: in the boom plane, where a link's fault turns with the link, and in the plan,
//! where a fault of the house turns with the heading and a fault of the survey does not.

use super::DiagnosisSheet;
use crate::arrows::{ArrowScale, arrow_scale};
use crate::figure::{Sign, rounded};
use crate::frame::heading_mm;
use crate::geometry::{Pt, Rect, circle, pt};
use crate::ink::Ink;
use crate::lengths::Lengths;
use crate::line::Line;
use crate::machine_view::{Backdrop, Lettering, MachineView, View, draw_backdrop};
use crate::page::{AXIS, Map, Page, Pen, Type};
use crate::place::Label;
use crate::scale::{Steps, draw_north};
use crate::words::Words;

/// A shot in one view.
struct Shot<'a> {
    id: &'a str,
    at_m: [f64; 2],
    off_m: [Option<f64>; 2],
}

impl Shot<'_> {
    /// What is missing counts as none, and the mark says so.
    fn off(&self) -> [f64; 2] {
        self.off_m.map(|off| off.unwrap_or(0.0))
    }

    fn is_whole(&self) -> bool {
        self.off_m.iter().all(Option::is_some)
    }

    fn has_any(&self) -> bool {
        self.off_m.iter().any(Option::is_some)
    }
}

/// Draws the section above and the plan below, or beside each other on a wide field.
pub(super) fn draw(
    page: &mut Page,
    field: Rect,
    sheet: &DiagnosisSheet,
    lettering: &Lettering,
    words: &Words,
) {
    let with_plan = sheet.shots.iter().any(|s| s.plan_m.is_some());
    let wide = field.width() > 1.35 * field.height();
    let (first, second) = match (with_plan, wide) {
        (false, _) => (field, None),
        (true, true) => {
            let middle = field.left + field.width() * 0.52;
            (
                Rect {
                    right: middle - 2.0,
                    ..field
                },
                Some(Rect {
                    left: middle + 2.0,
                    ..field
                }),
            )
        }
        (true, false) => {
            let middle = field.top + field.height() * 0.5;
            (
                Rect {
                    bottom: middle - 1.5,
                    ..field
                },
                Some(Rect {
                    top: middle + 1.5,
                    ..field
                }),
            )
        }
    };
    draw_section_view(page, first, sheet, lettering, words);
    if let Some(second) = second {
        draw_plan_view(page, second, sheet, lettering, words);
    }
}

/// The heading with the scale behind it, and the field below it.
fn head(page: &mut Page, field: Rect, title: &str, size_pt: f64) -> Rect {
    let set = Type::strong(size_pt.max(11.0));
    let used = page.paragraph(pt(field.left, field.top), field.width(), set, title) + 1.0;
    Rect {
        top: field.top + used.max(heading_mm()),
        ..field
    }
}

fn draw_section_view(
    page: &mut Page,
    field: Rect,
    sheet: &DiagnosisSheet,
    lettering: &Lettering,
    words: &Words,
) {
    let shots: Vec<Shot<'_>> = sheet
        .shots
        .iter()
        .map(|s| Shot {
            id: &s.id,
            at_m: s.side_m,
            off_m: s.side_off_m,
        })
        .collect();
    // A front would be a pose among poses: the shots' own chains stand for it.
    let machine = sheet.machine.as_ref().map(MachineView::without_front);
    page.begin("section", words.section.to_string());
    let chains: Vec<&Vec<[f64; 2]>> = sheet.shots.iter().map(|s| &s.chain_m).collect();
    let more: Vec<[f64; 2]> = chains.iter().flat_map(|c| c.iter().copied()).collect();
    let view = Place {
        machine: machine.as_ref(),
        view: View::Section,
        more: &more,
        lengths: sheet.block.lengths,
    };
    draw_shots(
        page,
        field,
        &shots,
        &view,
        lettering,
        words,
        |page, ground| {
            let pen = Pen::new(Line::Other, Ink::Soft);
            for chain in &chains {
                let points: Vec<Pt> = chain.iter().map(|p| ground.map.on_paper(*p)).collect();
                for pair in points.windows(2) {
                    ground.placer.avoid(pair[0], pair[1]);
                }
                page.stroke(crate::geometry::open_path(&points), pen);
            }
        },
    );
    page.end();
}

fn draw_plan_view(
    page: &mut Page,
    field: Rect,
    sheet: &DiagnosisSheet,
    lettering: &Lettering,
    words: &Words,
) {
    let shots: Vec<Shot<'_>> = sheet
        .shots
        .iter()
        .filter_map(|s| {
            Some(Shot {
                id: &s.id,
                at_m: s.plan_m?,
                off_m: s.plan_off_m,
            })
        })
        .collect();
    let stands: Vec<[f64; 2]> = sheet.stands.iter().map(|(_, at)| *at).collect();
    page.begin("plan", words.plan.to_string());
    let view = Place {
        machine: None,
        view: View::Plan,
        more: &stands,
        lengths: sheet.block.lengths,
    };
    draw_shots(
        page,
        field,
        &shots,
        &view,
        lettering,
        words,
        |page, ground| {
            let set = Type::soft(lettering.size_pt);
            let room = ground.placer.field();
            let north = pt(room.right - 12.0, room.top + 10.0);
            let around = draw_north(
                page,
                north,
                -std::f64::consts::FRAC_PI_2,
                &words.grid_north,
                set,
            );
            ground.placer.take(around.inset(-0.5).corners());
            for (name, at) in &sheet.stands {
                let at = ground.map.on_paper(*at);
                page.line(at.by(-4.0, 0.0), at.by(4.0, 0.0), AXIS);
                page.line(at.by(0.0, -4.0), at.by(0.0, 4.0), AXIS);
                let r = 4.0;
                ground
                    .placer
                    .take(Rect::sized(at.x - r, at.y - r, 2.0 * r, 2.0 * r).corners());
                let label = Label::new(Type::regular(lettering.size_pt), name.clone());
                ground.placer.put_near(page, &[label], at, 4.5);
            }
        },
    );
    page.end();
}

/// What the shots are drawn on.
struct Place<'a> {
    machine: Option<&'a MachineView>,
    view: View,
    more: &'a [[f64; 2]],
    lengths: Lengths,
}

fn draw_shots(
    page: &mut Page,
    field: Rect,
    shots: &[Shot<'_>],
    place: &Place<'_>,
    lettering: &Lettering,
    words: &Words,
    before: impl FnOnce(&mut Page, &mut Backdrop),
) {
    let arrows = arrow_scale(shots.iter().map(Shot::off), place.lengths);
    let title = match place.view {
        View::Section => &words.off_in_section,
        View::Plan => &words.off_in_plan,
    };
    // The arrows' ends need room too, and how far they reach in metres depends on the scale found.
    let mut points: Vec<[f64; 2]> = shots.iter().map(|s| s.at_m).collect();
    points.extend(place.more);
    let own = points.len();
    let plain = Rect {
        top: field.top + heading_mm(),
        ..field
    };
    for _ in 0..3 {
        let mut trial = Page::new(1.0, 1.0, "");
        let ground = draw_backdrop(
            &mut trial,
            plain,
            place.machine,
            &points,
            place.view,
            lettering,
        );
        let Some(ground) = ground else { break };
        let metres = arrows.mm_per_m / ground.map.mm_per_m;
        points.truncate(own);
        let ends = shots.iter().map(|s| {
            let off = s.off();
            [s.at_m[0] + off[0] * metres, s.at_m[1] + off[1] * metres]
        });
        points.extend(ends.collect::<Vec<_>>());
    }
    let number = {
        let mut trial = Page::new(1.0, 1.0, "");
        draw_backdrop(
            &mut trial,
            plain,
            place.machine,
            &points,
            place.view,
            lettering,
        )
        .map(|g| g.number)
    };
    let title = match (number, lettering.steps) {
        (Some(number), Steps::Series) => {
            format!("{title}, 1 : {}", rounded(number, 0, Sign::Minus))
        }
        _ => title.to_string(),
    };
    let room = head(page, field, &title, lettering.size_pt);
    let ground = draw_backdrop(page, room, place.machine, &points, place.view, lettering);
    let Some(mut ground) = ground else { return };
    draw_key(page, &ground, room, &arrows, lettering);
    before(page, &mut ground);
    draw_marks(page, &mut ground, shots, &arrows, lettering);
}

/// The arrows' own scale, right of the scale bar.
fn draw_key(
    page: &mut Page,
    ground: &Backdrop,
    room: Rect,
    arrows: &ArrowScale,
    lettering: &Lettering,
) {
    let set = Type::soft(lettering.size_pt);
    let y = ground.placer.field().bottom + 2.2;
    let left =
        room.right - 24.0 - set.width_mm("0000 ") - set.width_mm(arrows.lengths.small_unit());
    arrows.draw_key(page, pt(left, y + 0.8), set);
}

fn draw_marks(
    page: &mut Page,
    ground: &mut Backdrop,
    shots: &[Shot<'_>],
    arrows: &ArrowScale,
    lettering: &Lettering,
) {
    let map: Map = ground.map;
    for shot in shots {
        let at = map.on_paper(shot.at_m);
        if shot.has_any() {
            arrows.draw(page, at, shot.off());
            ground.placer.avoid(at, arrows.end(at, shot.off()));
        }
        if shot.is_whole() {
            page.dot(at, 0.9, Ink::Ink);
        } else {
            let pen = Pen::new(Line::Thin, Ink::Ink);
            page.shape(circle(at, 1.0), pen, Ink::Paper);
        }
        let r = 1.3;
        ground
            .placer
            .take(Rect::sized(at.x - r, at.y - r, 2.0 * r, 2.0 * r).corners());
    }
    for shot in shots {
        let at = map.on_paper(shot.at_m);
        let label = Label::new(Type::strong(lettering.size_pt), shot.id);
        ground.placer.put_near(page, &[label], at, 1.8);
    }
}
