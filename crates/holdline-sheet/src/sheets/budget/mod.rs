//! The budget sheet: how sure the tooth is over the envelope, what makes it so, and what it is enough for.

mod input;
mod parts;

pub use input::{BudgetSheet, Growth, PoseBudget, Share, UMap};

use super::answer::said;
use super::{AIR, Flow, body, numbered};
use crate::contour::Grid;
use crate::frame::{LEAST_PT, Paper, draw_heading, heading_mm};
use crate::geometry::{Rect, pt};
use crate::machine_view::{Lettering, MachineView, View, Viewport};
use crate::page::{Page, Reading, Type};
use crate::uncertainty_map::{UncertaintyMap, draw_uncertainty_map};
use crate::words::Words;

/// Part of the width that a map takes.
const MAP: f64 = 0.6;
/// Height of the plot of growth, mm.
const GROWTH_MM: f64 = 62.0;

/// Draws the budget sheet on A3: the map in the boom plane with the verdict, then the map in plan.
pub fn render_budget(sheet: &BudgetSheet, words: &Words) -> Vec<Page> {
    numbered(|of| {
        let mut flow = Flow::new(Paper::A3Landscape, &sheet.block, words, of);
        start_with_map(&mut flow, sheet, View::Section, words);
        draw_verdict(&mut flow, sheet, words);
        let with_plan = sheet.plan.is_some();
        if with_plan {
            start_with_map(&mut flow, sheet, View::Plan, words);
        }
        draw_rest(&mut flow, sheet, words);
        for page in &mut flow.pages {
            page.description = said(&sheet.block, &words.decision, &sheet.decision, words);
        }
        flow.pages
    })
}

/// Nothing mapped: the pose alone is drawn.
static NO_MAP: Grid = Grid {
    from_m: [0.0; 2],
    step_m: [0.0; 2],
    n_right: 0,
    n_up: 0,
    values: Vec::new(),
};

/// Machine and tooth as they stand in a view.
struct Ground {
    machine: Option<MachineView>,
    tooth_m: Option<[f64; 2]>,
    covariance_m2: Option<[[f64; 2]; 2]>,
}

impl Ground {
    fn of(sheet: &BudgetSheet, view: View) -> Ground {
        let machine = sheet.machine.as_ref();
        let pose = sheet.pose.as_ref();
        let part = |p: &PoseBudget, up: usize| {
            let c = p.covariance_m2;
            [[c[0][0], c[0][up]], [c[up][0], c[up][up]]]
        };
        match view {
            View::Section => Ground {
                machine: machine.cloned(),
                tooth_m: pose.map(|p| [p.at_m[0], p.at_m[2]]),
                covariance_m2: pose.map(|p| part(p, 2)),
            },
            View::Plan => {
                // The map has grid north up the paper, so the machine stands as it is headed.
                let north = machine.and_then(|m| m.north_rad).filter(|n| n.is_finite());
                let turn = north.map_or(0.0, |n| std::f64::consts::FRAC_PI_2 - n);
                Ground {
                    machine: machine.map(|m| m.turned(turn)),
                    tooth_m: pose.map(|p| turned([p.at_m[0], p.at_m[1]], turn)),
                    covariance_m2: pose.map(|p| turned_covariance(part(p, 1), turn)),
                }
            }
        }
    }
}

fn turned([x, y]: [f64; 2], turn_rad: f64) -> [f64; 2] {
    let (sin, cos) = turn_rad.sin_cos();
    [x * cos - y * sin, x * sin + y * cos]
}

/// R C Rᵀ.
fn turned_covariance(c: [[f64; 2]; 2], turn_rad: f64) -> [[f64; 2]; 2] {
    let columns = [
        turned([c[0][0], c[1][0]], turn_rad),
        turned([c[0][1], c[1][1]], turn_rad),
    ];
    [0, 1].map(|row| turned([columns[0][row], columns[1][row]], turn_rad))
}

fn map_of<'a>(sheet: &'a BudgetSheet, ground: &'a Ground, view: View) -> UncertaintyMap<'a> {
    let map = match view {
        View::Section => sheet.section.as_ref(),
        View::Plan => sheet.plan.as_ref(),
    };
    UncertaintyMap {
        grid: map.map_or(&NO_MAP, |map| &map.grid),
        reach_m: map.map_or(&[], |map| map.reach_m.as_slice()),
        limit_m: sheet.limit_m,
        machine: ground.machine.as_ref(),
        view,
        tooth_m: ground.tooth_m,
        covariance_m2: ground.covariance_m2,
        lengths: sheet.block.lengths,
    }
}

fn title_of(sheet: &BudgetSheet, view: View, words: &Words) -> String {
    let place = match view {
        View::Section => &words.budget_map_section,
        View::Plan => &words.budget_map_plan,
    };
    format!("{}, {place}", sheet.shows)
}

/// A page with a map on its left; what follows goes beside it.
fn start_with_map(flow: &mut Flow<'_>, sheet: &BudgetSheet, view: View, words: &Words) {
    let ground = Ground::of(sheet, view);
    let map = map_of(sheet, &ground, view);
    let field = flow.next_field();
    let room = |field: Rect| Rect {
        top: field.top + heading_mm(),
        right: field.left + field.width() * MAP,
        ..field
    };
    let mut trial = Page::new(1.0, 1.0, "");
    let drawn = draw_uncertainty_map(&mut trial, room(field), &map, &Lettering::PAPER, words);
    let Some((number, _)) = drawn else {
        flow.start_page("–");
        flow.paragraph(body(), &words.no_map);
        return;
    };
    flow.start_page(&format!("1 : {number}"));
    let field = flow.field;
    let page = flow.page();
    draw_heading(
        page,
        pt(field.left, field.top),
        &title_of(sheet, view, words),
    );
    draw_uncertainty_map(page, room(field), &map, &Lettering::PAPER, words);
    flow.column(field.left + field.width() * MAP + AIR, field.right);
}

fn draw_verdict(flow: &mut Flow<'_>, sheet: &BudgetSheet, words: &Words) {
    flow.section(&words.decision, 10.0);
    flow.answer(13.0, (sheet.outcome, &sheet.decision));
    if !sheet.task.is_empty() {
        flow.paragraph(body(), &format!("{}: {}", words.task, sheet.task));
    }
    flow.y += 2.0;
    let Some(pose) = &sheet.pose else { return };
    flow.section(&format!("{} {}", words.at_pose, pose.name), 12.0);
    flow.table(&parts::u_table(pose, sheet.block.lengths, words));
    flow.paragraph(body(), &pose.monte_carlo);
    if !pose.shares.is_empty() {
        flow.section(&words.shares, 12.0);
        flow.bars(&parts::share_bars(pose, sheet.block.lengths, words));
    }
    if !pose.help.is_empty() {
        flow.section(&words.would_help, 8.0);
        flow.numbered_list(&pose.help);
    }
}

fn draw_rest(flow: &mut Flow<'_>, sheet: &BudgetSheet, words: &Words) {
    if let Some(growth) = &sheet.growth {
        flow.section(&words.growth, GROWTH_MM);
        flow.picture(GROWTH_MM, |page, at| {
            let growth = (growth, sheet.block.lengths);
            parts::draw_growth(page, at, growth, LEAST_PT, words);
        });
        flow.paragraph(Type::strong(LEAST_PT), &growth.words);
    }
    flow.findings(&sheet.findings);
}

/// The map in the boom plane with the machine and the ellipse at its tooth, for a screen.
pub fn budget_section_on_screen(sheet: &BudgetSheet, viewport: Viewport, words: &Words) -> Page {
    map_on_screen(sheet, View::Section, viewport, words)
}

/// The map in plan with the machine and the ellipse at its tooth, for a screen.
pub fn budget_plan_on_screen(sheet: &BudgetSheet, viewport: Viewport, words: &Words) -> Page {
    map_on_screen(sheet, View::Plan, viewport, words)
}

fn map_on_screen(sheet: &BudgetSheet, view: View, viewport: Viewport, words: &Words) -> Page {
    let mut page = screen(viewport, &title_of(sheet, view, words), sheet, words);
    let field = page.paper().inset(1.0);
    let ground = Ground::of(sheet, view);
    let map = map_of(sheet, &ground, view);
    let drawn = draw_uncertainty_map(&mut page, field, &map, &Lettering::SCREEN, words);
    if drawn.is_none() {
        let set = Type::regular(Lettering::SCREEN.size_pt);
        page.paragraph(pt(field.left, field.top), field.width(), set, &words.no_map);
    }
    page.map = drawn.map(|(_, map)| map);
    page
}

/// The shares by source, for a screen.
pub fn shares_on_screen(sheet: &BudgetSheet, viewport: Viewport, words: &Words) -> Page {
    let mut page = screen(viewport, &words.shares, sheet, words);
    let field = page.paper().inset(1.0);
    if let Some(pose) = &sheet.pose {
        let bars = parts::share_bars(pose, sheet.block.lengths, words);
        let at = pt(field.left, field.top);
        let size = Lettering::SCREEN.size_pt;
        bars.draw(&mut page, at, field.width(), field.height(), size);
    }
    page
}

/// 2D over moves, for a screen.
pub fn growth_on_screen(sheet: &BudgetSheet, viewport: Viewport, words: &Words) -> Page {
    let mut page = screen(viewport, &words.growth, sheet, words);
    let field = page.paper().inset(1.0);
    if let Some(growth) = &sheet.growth {
        let size = Lettering::SCREEN.size_pt;
        let drawn = (growth, sheet.block.lengths);
        parts::draw_growth(&mut page, field, drawn, size, words);
        page.description = format!("{}: {}", words.growth, growth.words);
    }
    page
}

fn screen(viewport: Viewport, title: &str, sheet: &BudgetSheet, words: &Words) -> Page {
    let (width, height) = viewport.size_mm();
    let mut page = Page::new(width, height, title);
    page.reading = Reading::Picture;
    page.description = format!("{}: {}", words.decision, sheet.decision);
    page
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_covariance_turns_with_its_axes() {
        // Long forward, headed north: long up the paper.
        let got = turned_covariance([[9.0, 0.0], [0.0, 4.0]], std::f64::consts::FRAC_PI_2);
        let want = [[4.0, 0.0], [0.0, 9.0]];
        for (g, w) in got.iter().flatten().zip(want.iter().flatten()) {
            assert!((g - w).abs() < 1e-12, "{got:?}");
        }
        let got = turned_covariance([[9.0, 0.0], [0.0, 4.0]], std::f64::consts::FRAC_PI_4);
        for (g, w) in got.iter().flatten().zip([6.5, 2.5, 2.5, 6.5]) {
            assert!((g - w).abs() < 1e-12, "{got:?}");
        }
    }
}
