//! Two small sections: how sure the tooth is near, mid and far; and the poses measured with the best next ones.

use super::tables::twice;
use super::{CalibrationSheet, PoseLine};
use crate::dimension::draw_tooth_mark;
use crate::geometry::{Pt, Rect, circle, open_path};
use crate::ink::Ink;
use crate::legend::{Entry, Sample};
use crate::line::Line;
use crate::machine_view::{Lettering, MachineView, View, draw_backdrop};
use crate::page::{Map, Page, Pen, Type};
use crate::place::{Label, Placer};
use crate::words::Words;

const MEASURED: Pen = Pen::new(Line::Other, Ink::Soft);
const NEXT: Pen = Pen::new(Line::Steel, Ink::Accent);

/// What the lines mean.
pub(super) fn key(sheet: &CalibrationSheet, words: &Words) -> Vec<Entry> {
    let mut entries = vec![(Sample::Line(MEASURED), words.pose_line.to_string())];
    if !sheet.next.is_empty() {
        entries.push((Sample::Line(NEXT), words.next_line.to_string()));
    }
    entries
}

/// Draws the tooth near, mid and far with its uncertainty up.
pub(super) fn draw_tooth(
    page: &mut Page,
    at: Rect,
    sheet: &CalibrationSheet,
    lettering: &Lettering,
    words: &Words,
) -> Option<Map> {
    let points: Vec<[f64; 2]> = sheet.tooth.iter().map(|t| t.side_m).collect();
    page.begin("tooth-sure", words.tooth_sure.to_string());
    let machine = sheet.machine.as_ref();
    let ground = draw_backdrop(page, at, machine, &points, View::Section, lettering);
    let Some(mut ground) = ground else {
        page.end();
        return None;
    };
    let marks: Vec<Pt> = points.iter().map(|p| ground.map.on_paper(*p)).collect();
    for mark in &marks {
        draw_tooth_mark(page, *mark, 1.5);
        take(&mut ground.placer, *mark, 1.8);
    }
    for (tooth, mark) in sheet.tooth.iter().zip(&marks) {
        let set = Type::regular(lettering.size_pt);
        let name = Label::new(Type::strong(lettering.size_pt), tooth.name.clone()).and(
            set,
            format!(
                "{} {}",
                words.up_way,
                twice(sheet.block.lengths, tooth.sd_now_m[2])
            ),
        );
        let was = Label::new(
            Type::soft(lettering.size_pt),
            format!(
                "{} {}",
                words.was,
                twice(sheet.block.lengths, tooth.sd_before_m[2])
            ),
        );
        ground.placer.put_near(page, &[name, was], *mark, 2.4);
    }
    page.end();
    Some(ground.map)
}

/// Draws the poses measured as lines through their pins, and the next ones in the accent.
pub(super) fn draw_poses(
    page: &mut Page,
    at: Rect,
    sheet: &CalibrationSheet,
    lettering: &Lettering,
    words: &Words,
) -> Option<Map> {
    let all = sheet.poses.iter().chain(&sheet.next);
    let points: Vec<[f64; 2]> = all.flat_map(|p| p.chain_m.iter().copied()).collect();
    page.begin("poses", words.poses_measured.to_string());
    // The front would be one pose more: the machine without it.
    let machine = sheet.machine.as_ref().map(MachineView::without_front);
    let machine = machine.as_ref();
    let ground = draw_backdrop(page, at, machine, &points, View::Section, lettering);
    let Some(mut ground) = ground else {
        page.end();
        return None;
    };
    let (measured, next) = (MEASURED, NEXT);
    for pose in &sheet.poses {
        draw_chain(page, &mut ground.placer, &ground.map, pose, measured);
    }
    for pose in &sheet.next {
        draw_chain(page, &mut ground.placer, &ground.map, pose, next);
    }
    let mut named: Vec<(Pt, Label)> = Vec::new();
    for (pose, ink) in sheet
        .next
        .iter()
        .map(|p| (p, Ink::Accent))
        .chain(sheet.poses.iter().map(|p| (p, Ink::Ink)))
    {
        let Some(tooth) = pose.chain_m.last().map(|p| ground.map.on_paper(*p)) else {
            continue;
        };
        if ink == Ink::Accent {
            page.shape(circle(tooth, 1.4), Pen::new(Line::Steel, ink), Ink::Paper);
        } else {
            page.dot(tooth, 0.8, ink);
        }
        take(&mut ground.placer, tooth, 1.5);
        let set = Type::strong(lettering.size_pt).in_ink(ink);
        named.push((tooth, Label::new(set, pose.name.clone())));
    }
    for (tooth, label) in named {
        ground.placer.put_near(page, &[label], tooth, 2.0);
    }
    page.end();
    Some(ground.map)
}

fn draw_chain(page: &mut Page, placer: &mut Placer, map: &Map, pose: &PoseLine, pen: Pen) {
    let chain: Vec<Pt> = pose.chain_m.iter().map(|p| map.on_paper(*p)).collect();
    if chain.len() > 1 {
        page.stroke(open_path(&chain), pen);
        chain.windows(2).for_each(|w| placer.avoid(w[0], w[1]));
    }
}

fn take(placer: &mut Placer, at: Pt, r: f64) {
    placer.take(Rect::sized(at.x - r, at.y - r, 2.0 * r, 2.0 * r).corners());
}
