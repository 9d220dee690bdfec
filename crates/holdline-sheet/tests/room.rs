//! No words on other words, none outside the frame, none too small: on every page, also with words
//! half as long again, and in every pose.

use holdline_sheet::figure::{Coverage, DEGREES, figure};
use holdline_sheet::font::MM_PER_PT;
use holdline_sheet::geometry::Rect;
use holdline_sheet::machine_view::{
    Lettering, View, Viewport, draw_section, plan_on_screen, section_on_screen,
};
use holdline_sheet::page::Page;
use holdline_sheet::place::boxes_meet;
use holdline_sheet::sheets::{
    CARD_PT, Card, CheckSheet, History, MachineSheet, render_card, render_check, render_history,
    render_machine,
};
use holdline_sheet::words::{Words, half_longer};

mod sample;

/// Words of a page keep apart from each other, inside `inside`, and are of a size to be read.
#[track_caller]
fn check(name: &str, page: &Page, inside: Rect, least_pt: f64) {
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

fn check_pages(name: &str, pages: &[Page], edge: [f64; 4], least_pt: f64) {
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

const FRAME: [f64; 4] = [20.0, 10.0, 10.0, 10.0];

fn long_words() -> Words {
    Words::translated(|_, english| half_longer(english))
}

fn lengthen(words: &mut String) {
    *words = half_longer(words);
}

fn lengthen_block(block: &mut holdline_sheet::frame::TitleBlock) {
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

fn lengthen_view(view: &mut holdline_sheet::machine_view::MachineView) {
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

fn long_check() -> CheckSheet {
    let mut sheet = sample::check();
    lengthen_block(&mut sheet.block);
    lengthen(&mut sheet.decision);
    sheet.findings.iter_mut().for_each(lengthen);
    sheet
        .components
        .iter_mut()
        .for_each(|c| lengthen(&mut c.decision));
    sheet.shots.iter_mut().for_each(|s| lengthen(&mut s.remark));
    sheet.machine.iter_mut().for_each(lengthen_view);
    sheet
}

fn long_history(n: u32) -> History {
    let mut history = sample::history(n);
    lengthen_block(&mut history.block);
    lengthen(&mut history.bench);
    lengthen(&mut history.notice_words);
    lengthen(&mut history.due);
    history
        .checks
        .iter_mut()
        .for_each(|c| lengthen(&mut c.result));
    history
}

fn long_machine() -> MachineSheet {
    let mut sheet = sample::machine_sheet();
    lengthen_block(&mut sheet.block);
    lengthen(&mut sheet.measured_by);
    lengthen_view(&mut sheet.machine);
    for row in &mut sheet.rows {
        lengthen(&mut row.name);
        lengthen(&mut row.remark);
    }
    sheet
}

fn long_card() -> Card {
    let mut card = sample::card();
    lengthen_block(&mut card.block);
    lengthen_view(&mut card.machine);
    lengthen(&mut card.not_covered);
    lengthen(&mut card.shift_test);
    lengthen(&mut card.call);
    card.numbers.iter_mut().for_each(|n| lengthen(&mut n.name));
    card
}

#[test]
fn check_sheet() {
    let pages = render_check(&sample::check(), &Words::ENGLISH);
    assert_eq!(pages.len(), 1, "eight shots fit one page");
    check_pages("check", &pages, FRAME, 9.0);
    check_pages(
        "check, long words",
        &render_check(&long_check(), &long_words()),
        FRAME,
        9.0,
    );
}

#[test]
fn check_sheet_with_many_shots_or_none() {
    let mut many = sample::check();
    let eight = many.shots.clone();
    for n in 1..12 {
        many.shots.extend(eight.iter().cloned().map(|mut shot| {
            shot.id = format!("{}-{n}", shot.id);
            shot
        }));
    }
    let pages = render_check(&many, &Words::ENGLISH);
    assert!(pages.len() > 2);
    check_pages("many shots", &pages, FRAME, 9.0);
    let mut none = sample::check();
    none.shots.clear();
    check_pages(
        "no shots",
        &render_check(&none, &Words::ENGLISH),
        FRAME,
        9.0,
    );
}

#[test]
fn history_sheet() {
    for n in [0, 1, 2, 21, 90] {
        let pages = render_history(&sample::history(n), &Words::ENGLISH);
        check_pages(&format!("history of {n}"), &pages, FRAME, 9.0);
        let pages = render_history(&long_history(n), &long_words());
        check_pages(&format!("history of {n}, long words"), &pages, FRAME, 9.0);
    }
}

#[test]
fn machine_sheet() {
    check_pages(
        "machine",
        &render_machine(&sample::machine_sheet(), &Words::ENGLISH),
        FRAME,
        9.0,
    );
    check_pages(
        "machine, long words",
        &render_machine(&long_machine(), &long_words()),
        FRAME,
        9.0,
    );
}

#[test]
fn operators_card() {
    let pages = render_card(&sample::card(), &Words::ENGLISH).expect("few numbers");
    assert_eq!(pages.len(), 1, "the card is one side");
    check_pages("card", &pages, [5.0; 4], CARD_PT);
    let pages = render_card(&long_card(), &long_words()).expect("few numbers");
    check_pages("card, long words", &pages, [5.0; 4], CARD_PT);
    let mut six = sample::card();
    six.numbers = vec![six.numbers[0].clone(); 6];
    assert!(render_card(&six, &Words::ENGLISH).is_none());
}

#[test]
fn every_pose_on_screen_and_on_paper() {
    for boom in [-45.0, -10.0, 28.0, 61.0] {
        for stick in [-152.0, -110.0, -70.0, -36.0] {
            for ear in [-40.0, 20.0, 57.0, 126.0] {
                let mut view = sample::machine(boom, stick, ear);
                let name = format!("pose {boom} {stick} {ear}");
                for size in [(900.0, 560.0), (420.0, 420.0), (1600.0, 500.0)] {
                    let viewport = Viewport {
                        width_px: size.0,
                        height_px: size.1,
                    };
                    let page = section_on_screen(&view, viewport, &Words::ENGLISH);
                    check(
                        &format!("{name} section {size:?}"),
                        &page,
                        page.paper(),
                        12.0,
                    );
                    let page = plan_on_screen(&view, viewport, &Words::ENGLISH);
                    check(&format!("{name} plan {size:?}"), &page, page.paper(), 12.0);
                }
                lengthen_view(&mut view);
                let mut page = Page::new(360.0, 220.0, "test");
                let field = page.paper();
                draw_section(&mut page, field, &view, &Lettering::PAPER, &long_words());
                check(&format!("{name} paper"), &page, field, 9.0);
                let all: Vec<&str> = page.runs().map(|run| run.text.as_str()).collect();
                for angle in &view.angles {
                    let text = figure(angle.angle, &DEGREES, Coverage::Twice).value_and_unit();
                    assert!(
                        all.contains(&text.as_str()),
                        "{name}: no {} {text}",
                        angle.name
                    );
                }
                for dimension in view.dimensions.iter().filter(|d| d.view == View::Section) {
                    let figure = figure(dimension.length, &dimension.kind, Coverage::Twice);
                    let text = figure.value_and_unit();
                    assert!(all.contains(&text.as_str()), "{name}: no {text}");
                }
            }
        }
    }
}
