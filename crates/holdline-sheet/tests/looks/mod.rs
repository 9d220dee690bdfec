//! What every page is held to: words keep apart, stay inside the frame, and are of a size to be read.

#![allow(dead_code)]

use holdline_sheet::font::MM_PER_PT;
use holdline_sheet::geometry::Rect;
use holdline_sheet::page::Page;
use holdline_sheet::place::boxes_meet;
use holdline_sheet::words::{Words, half_longer};

/// Words of a page keep apart from each other, inside `inside`, and are of a size to be read.
#[track_caller]
pub fn check(name: &str, page: &Page, inside: Rect, least_pt: f64) {
    let runs: Vec<_> = page.runs().collect();
    assert!(!runs.is_empty(), "{name}: a page without words");
    for (idx, run) in runs.iter().enumerate() {
        assert!(
            run.set.size_pt >= least_pt,
            "{name}: '{}' is {} pt",
            run.text,
            run.set.size_pt
        );
        let extent = run.extent();
        assert!(
            inside.holds(&extent, 0.01),
            "{name}: '{}' leaves the frame: {extent:?}",
            run.text
        );
        // Boxes hold the tallest letters and the lowest; lines of one paragraph may share a hair.
        let slack = 0.06 * run.set.size_pt * MM_PER_PT;
        let mine = shrunk(run.corners(), slack);
        for other in &runs[idx + 1..] {
            assert!(
                !boxes_meet(&mine, &shrunk(other.corners(), slack)),
                "{name}: '{}' and '{}' meet: {extent:?} {:?}",
                run.text,
                other.text,
                other.extent()
            );
        }
    }
}

fn shrunk(c: [holdline_sheet::geometry::Pt; 4], by: f64) -> [holdline_sheet::geometry::Pt; 4] {
    let middle = c[0].middle(c[2]);
    let half = c[0].to(c[2]) / 2.0;
    let share = (half - by).max(0.0) / half.max(1e-9);
    c.map(|p| middle.by((p.x - middle.x) * share, (p.y - middle.y) * share))
}

pub fn check_pages(name: &str, pages: &[Page], edge: [f64; 4], least_pt: f64) {
    assert!(
        !pages.is_empty() && pages.len() < 20,
        "{name}: {} pages",
        pages.len()
    );
    for (idx, page) in pages.iter().enumerate() {
        let inside = Rect {
            left: edge[0],
            top: edge[1],
            right: page.width_mm - edge[2],
            bottom: page.height_mm - edge[3],
        };
        check(&format!("{name} {}", idx + 1), page, inside, least_pt);
    }
}

pub const FRAME: [f64; 4] = [20.0, 10.0, 10.0, 10.0];

pub fn long_words() -> Words {
    Words::translated(|_, english| half_longer(english))
}

pub fn lengthen(words: &mut String) {
    *words = half_longer(words);
}

pub fn lengthen_block(block: &mut holdline_sheet::frame::TitleBlock) {
    for words in [
        &mut block.title,
        &mut block.job,
        &mut block.machine,
        &mut block.bucket,
        &mut block.tooth_point,
        &mut block.units,
        &mut block.caution,
    ] {
        lengthen(words);
    }
}

pub fn lengthen_view(view: &mut holdline_sheet::machine_view::MachineView) {
    for tooth in &mut view.teeth {
        lengthen(&mut tooth.name);
        tooth
            .figures
            .iter_mut()
            .for_each(|(name, _, _)| lengthen(name));
    }
    view.angles.iter_mut().for_each(|a| lengthen(&mut a.name));
    view.limits.iter_mut().for_each(|l| lengthen(&mut l.words));
}
