//! No words on other words, none outside the frame, none too small: on every page, also with words
//! half as long again, and in every pose.

use holdline_geom::measured::Measured;
use holdline_sheet::figure::{Coverage, DEGREES, figure};
use holdline_sheet::frame::{State, draw_state_sign};
use holdline_sheet::geometry::{Rect, Step, pt};
use holdline_sheet::machine_view::{
    Lettering, View, Viewport, draw_section, plan_on_screen, section_on_screen,
};
use holdline_sheet::page::{Item, Page};
use holdline_sheet::sheets::{
    CARD_PT, Card, CardWarning, CheckSheet, History, MachineSheet, render_card, render_check,
    render_history, render_machine,
};
use holdline_sheet::words::{Words, half_longer};

mod looks;
mod sample;

use looks::{FRAME, check, check_pages, lengthen, lengthen_block, lengthen_view, long_words};

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

fn said(pages: &[Page]) -> String {
    let runs = pages.iter().flat_map(|page| page.runs());
    runs.map(|run| run.text.as_str())
        .collect::<Vec<_>>()
        .join(" ")
}

fn warning(head: &str, because: &str) -> CardWarning {
    CardWarning {
        head: head.to_owned(),
        because: because.to_owned(),
    }
}

#[test]
fn a_card_not_to_rely_on_says_so_first_and_large() {
    let over = [
        State::Superseded { by: "9".to_owned() },
        State::Stale {
            because: "demo-23.machine.toml has a newer version".to_owned(),
        },
    ];
    let mut cards: Vec<(Card, &str)> = over
        .into_iter()
        .map(|state| {
            let mut card = sample::card();
            card.block.state = state;
            (card, "DO NOT USE: s")
        })
        .collect();
    let mut failed = sample::card();
    failed.warnings = vec![
        warning("STOP: a limit did not hold", "No work near it."),
        warning(
            "FULL RE-CHECK DUE",
            "Welded or bent; 36.0 mm since 2025-12-04 on the same bench.",
        ),
    ];
    cards.push((failed, "STOP: a limit did not hold"));
    for (card, head) in cards {
        let pages = render_card(&card, &Words::ENGLISH).expect("few numbers");
        assert_eq!(pages.len(), 1, "{head}: one side");
        check_pages(head, &pages, [5.0; 4], CARD_PT);
        let first = pages[0].runs().next().expect("words");
        assert!(first.text.starts_with(head), "{}", first.text);
        let largest = pages[0].runs().map(|r| r.set.size_pt).fold(0.0, f64::max);
        assert_eq!(first.set.size_pt, largest);
        let text = said(&pages);
        assert!(text.contains("Nobody in the swing"), "{text}");
        assert!(text.contains("A. Example, technologist"), "{text}");
        assert!(!text.contains("wall 3.20 m"), "no picture: {text}");
        let over = card.block.state.is_over();
        assert_eq!(text.contains("Touch bench B1"), !over, "{text}");
        assert!(pages[0].description.contains(head));
    }
    let mut long = long_card();
    long.warnings = vec![warning(
        &half_longer("STOP: a limit did not hold"),
        &half_longer("No work near it until a competent person has found out why."),
    )];
    let pages = render_card(&long, &long_words()).expect("few numbers");
    check_pages("warning, long words", &pages, [5.0; 4], CARD_PT);
}

#[test]
fn a_sheet_that_no_longer_counts_says_so_where_the_decision_was() {
    let mut sheet = sample::check();
    sheet.block.state = State::Superseded { by: "9".to_owned() };
    let pages = render_check(&sheet, &Words::ENGLISH);
    check_pages("superseded", &pages, FRAME, 9.0);
    let largest = pages[0]
        .runs()
        .max_by(|a, b| a.set.size_pt.total_cmp(&b.set.size_pt))
        .expect("words");
    assert!(
        largest.text.starts_with("SUPERSEDED by"),
        "{}",
        largest.text
    );
    let text = said(&pages);
    assert!(text.contains("It said: Not within"), "{text}");
    assert!(
        text.contains("signed by A. Example, technologist"),
        "{text}"
    );
    let mut history = sample::history(21);
    history.block.state = State::Stale {
        because: "demo-23.machine.toml has a newer version".to_owned(),
    };
    let pages = render_history(&history, &Words::ENGLISH);
    check_pages("stale history", &pages, FRAME, 9.0);
    assert!(said(&pages).contains("STALE: demo-23.machine.toml"));
}

/// The signed sheets of the sample: no full disc stands in the row of the signature.
#[test]
fn signed_wears_no_full_disc() {
    let mut page = Page::new(20.0, 20.0, "sign");
    let block = sample::title_block("sign");
    draw_state_sign(&mut page, pt(10.0, 10.0), 2.0, &block.state);
    let filled = page.items.iter().any(|item| match item {
        Item::Stroke(stroke) => stroke.fill.is_some(),
        _ => false,
    });
    assert!(!filled);
}

#[test]
fn mornings_are_drawn_by_their_day_and_inside_the_frame() {
    let mut history = sample::history(21);
    history.checks.rotate_left(8);
    history.checks[3].difference = Some(Measured::with_sd(-3.0, 0.8));
    let pages = render_history(&history, &Words::ENGLISH);
    check_pages("mornings in disorder", &pages, FRAME, 9.0);
    for page in &pages {
        let inside = Rect {
            left: 19.0,
            top: 9.0,
            right: page.width_mm - 9.0,
            bottom: page.height_mm - 9.0,
        };
        // Fold marks alone stand outside the frame.
        let strokes = page.items.iter().filter_map(|item| match item {
            Item::Stroke(stroke) if 4 < stroke.steps.len() => Some(stroke),
            _ => None,
        });
        for stroke in strokes {
            for step in &stroke.steps {
                if let Step::Move(p) | Step::Line(p) = step {
                    assert!(inside.left <= p.x && p.x <= inside.right, "{p:?}");
                    assert!(inside.top <= p.y && p.y <= inside.bottom, "{p:?}");
                }
            }
        }
    }
    let days: Vec<String> = pages
        .iter()
        .flat_map(|page| page.runs())
        .map(|run| run.text.clone())
        .collect();
    let table: Vec<&String> = days
        .iter()
        .filter(|text| text.starts_with("2025-12-"))
        .rev()
        .take(21)
        .collect();
    assert!(table.is_sorted(), "newest first down the table: {table:?}");
    let text = days.join(" ");
    assert!(text.contains("full re-check due") && text.contains("a limit failed"));
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
