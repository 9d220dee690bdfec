//! The sheets of calibration, diagnosis, budget, hand-over and readiness: no words on other words, none outside
//! the frame, none too small; also with every word half as long again, with much, with little and with nothing.

use holdline_geom::measured::Measured;
use holdline_sheet::contour::Grid;
use holdline_sheet::frame::State;
use holdline_sheet::geometry::{Pt, Rect, Step};
use holdline_sheet::lengths::Lengths;
use holdline_sheet::machine_view::Viewport;
use holdline_sheet::page::{Item, Page};
use holdline_sheet::sheets::*;
use holdline_sheet::words::Words;

mod looks;
mod sample;

use looks::{FRAME, check, check_pages, lengthen, lengthen_block, lengthen_view, long_words};

fn lengthen_all<'a>(words: impl IntoIterator<Item = &'a mut String>) {
    words.into_iter().for_each(lengthen);
}

fn long_calibration(n_poses: usize) -> CalibrationSheet {
    let mut sheet = sample::calibration(n_poses);
    lengthen_block(&mut sheet.block);
    lengthen_all([
        &mut sheet.decision,
        &mut sheet.measured,
        &mut sheet.limit_words,
    ]);
    lengthen_all(&mut sheet.not_determined);
    lengthen_all(&mut sheet.findings);
    for row in &mut sheet.figures {
        lengthen_all([&mut row.name, &mut row.remark]);
    }
    for residual in &mut sheet.residuals {
        lengthen_all([&mut residual.kind, &mut residual.twins]);
        if let Fate::Rejected(why) = &mut residual.fate {
            lengthen(why);
        }
    }
    for pose in sheet.poses.iter_mut().chain(&mut sheet.next) {
        lengthen_all([&mut pose.name, &mut pose.words, &mut pose.remark]);
    }
    sheet.tooth.iter_mut().for_each(|t| lengthen(&mut t.name));
    sheet.machine.iter_mut().for_each(lengthen_view);
    sheet
}

fn long_diagnosis() -> DiagnosisSheet {
    let mut sheet = sample::diagnosis();
    lengthen_block(&mut sheet.block);
    lengthen_all([&mut sheet.decision, &mut sheet.rule, &mut sheet.set_words]);
    lengthen_all(&mut sheet.look_first);
    lengthen_all(&mut sheet.findings);
    for hypothesis in &mut sheet.hypotheses {
        lengthen_all([&mut hypothesis.name, &mut hypothesis.remark]);
        lengthen_all(hypothesis.estimates.iter_mut().map(|(name, _, _)| name));
    }
    for shot in &mut sheet.next {
        lengthen_all([&mut shot.words, &mut shot.separates]);
    }
    sheet
}

fn long_budget() -> BudgetSheet {
    let mut sheet = sample::budget();
    lengthen_block(&mut sheet.block);
    lengthen_all([&mut sheet.decision, &mut sheet.shows, &mut sheet.task]);
    lengthen_all(&mut sheet.findings);
    if let Some(pose) = &mut sheet.pose {
        lengthen_all([&mut pose.name, &mut pose.monte_carlo]);
        lengthen_all(&mut pose.help);
        lengthen_all(pose.u_m.iter_mut().map(|(name, _)| name));
        lengthen_all(pose.shares.iter_mut().map(|s| &mut s.name));
    }
    lengthen_all(sheet.growth.iter_mut().map(|g| &mut g.words));
    sheet
}

fn long_hand_over() -> HandOverSheet {
    let mut sheet = sample::hand_over();
    lengthen_block(&mut sheet.block);
    lengthen_all([&mut sheet.system, &mut sheet.decision]);
    lengthen_all(&mut sheet.not_carried);
    lengthen_all(&mut sheet.findings);
    lengthen_all(&mut sheet.sign);
    for entry in &mut sheet.entries {
        lengthen_all([&mut entry.label, &mut entry.stands_for, &mut entry.remark]);
    }
    for pose in &mut sheet.proof {
        lengthen_all([&mut pose.pose, &mut pose.words]);
    }
    sheet
}

fn long_readiness() -> ReadinessSheet {
    let mut sheet = sample::readiness();
    lengthen_block(&mut sheet.block);
    lengthen(&mut sheet.summary);
    lengthen_all(&mut sheet.findings);
    for row in &mut sheet.rows {
        lengthen_all([&mut row.job, &mut row.has, &mut row.missing]);
    }
    sheet
}

#[test]
fn every_sheet_in_english_and_long() {
    let english = Words::ENGLISH;
    let long = long_words();
    let sheets: [(&str, Vec<Page>); 10] = [
        (
            "calibration",
            render_calibration(&sample::calibration(12), &english),
        ),
        (
            "long calibration",
            render_calibration(&long_calibration(12), &long),
        ),
        (
            "diagnosis",
            render_diagnosis(&sample::diagnosis(), &english),
        ),
        ("long diagnosis", render_diagnosis(&long_diagnosis(), &long)),
        ("budget", render_budget(&sample::budget(), &english)),
        ("long budget", render_budget(&long_budget(), &long)),
        (
            "hand-over",
            render_hand_over(&sample::hand_over(), &english),
        ),
        ("long hand-over", render_hand_over(&long_hand_over(), &long)),
        (
            "readiness",
            render_readiness(&sample::readiness(), &english),
        ),
        ("long readiness", render_readiness(&long_readiness(), &long)),
    ];
    for (name, pages) in &sheets {
        check_pages(name, pages, FRAME, 9.0);
        strokes_stay_inside(name, pages);
    }
}

/// Nothing is drawn outside the frame but the fold marks.
fn strokes_stay_inside(name: &str, pages: &[Page]) {
    for page in pages {
        let inside = Rect {
            left: 19.5,
            top: 9.5,
            right: page.width_mm - 9.5,
            bottom: page.height_mm - 9.5,
        };
        let strokes = page.items.iter().filter_map(|item| match item {
            Item::Stroke(stroke) if 2 < stroke.steps.len() => Some(stroke),
            _ => None,
        });
        for step in strokes.flat_map(|s| &s.steps) {
            let points: &[Pt] = match step {
                Step::Move(p) | Step::Line(p) => &[*p],
                Step::Curve(a, b, c) => &[*a, *b, *c],
                Step::Close => &[],
            };
            for p in points {
                assert!(
                    inside.left <= p.x
                        && p.x <= inside.right
                        && inside.top <= p.y
                        && p.y <= inside.bottom,
                    "{name}: {p:?}"
                );
            }
        }
    }
}

#[test]
fn much_little_and_nothing() {
    let words = Words::ENGLISH;
    for n_poses in [1, 2, 60] {
        let pages = render_calibration(&sample::calibration(n_poses), &words);
        check_pages(&format!("calibration, {n_poses} poses"), &pages, FRAME, 9.0);
        strokes_stay_inside("calibration", &pages);
    }
    let mut many = sample::calibration(8);
    let figures = many.figures.clone();
    for n in 2..4 {
        many.figures.extend(figures.iter().cloned().map(|mut f| {
            f.name = format!("{} {n}", f.name);
            f
        }));
    }
    let n = many.figures.len();
    many.correlations = Correlations {
        rows: (0..n).collect(),
        below: (0..n * (n - 1) / 2)
            .map(|i| ((i * 37 % 200) as f64 - 100.0) / 100.0)
            .collect(),
    };
    check_pages(
        "many figures",
        &render_calibration(&many, &words),
        FRAME,
        9.0,
    );
    let mut none = sample::calibration(3);
    none.residuals.clear();
    none.figures.clear();
    none.tooth.clear();
    none.poses.clear();
    none.next.clear();
    none.not_determined.clear();
    none.correlations = Correlations::default();
    none.machine = None;
    check_pages(
        "calibration, nothing",
        &render_calibration(&none, &words),
        FRAME,
        9.0,
    );

    let mut none = sample::diagnosis();
    none.shots.clear();
    none.hypotheses.clear();
    none.next.clear();
    none.look_first.clear();
    none.chi2_nothing = None;
    check_pages(
        "diagnosis, nothing",
        &render_diagnosis(&none, &words),
        FRAME,
        9.0,
    );
    let mut many = sample::diagnosis();
    let eight = many.shots.clone();
    for n in 1..6 {
        many.shots.extend(eight.iter().cloned().map(|mut s| {
            s.id = format!("{}-{n}", s.id);
            s.side_m[0] += 0.1 * f64::from(n);
            s
        }));
    }
    many.hypotheses.iter_mut().for_each(|h| h.in_set = true);
    many.next = vec![many.next[0].clone(); 2];
    check_pages(
        "diagnosis, much",
        &render_diagnosis(&many, &words),
        FRAME,
        9.0,
    );

    let mut none = sample::budget();
    none.section = None;
    none.plan = None;
    none.pose = None;
    none.growth = None;
    none.machine = None;
    none.limit_m = None;
    check_pages("budget, nothing", &render_budget(&none, &words), FRAME, 9.0);
    let mut hand_over = sample::hand_over();
    let entries = hand_over.entries.clone();
    for _ in 0..4 {
        hand_over.entries.extend(entries.clone());
    }
    check_pages(
        "hand-over, much",
        &render_hand_over(&hand_over, &words),
        FRAME,
        9.0,
    );
    hand_over.entries.clear();
    hand_over.proof.clear();
    hand_over.sign.clear();
    check_pages(
        "hand-over, nothing",
        &render_hand_over(&hand_over, &words),
        FRAME,
        9.0,
    );
    let mut readiness = sample::readiness();
    readiness.rows.clear();
    check_pages(
        "readiness, nothing",
        &render_readiness(&readiness, &words),
        FRAME,
        9.0,
    );
}

#[test]
fn numbers_that_are_none_leave_the_sheets_standing() {
    let words = Words::ENGLISH;
    let nan = Measured::with_sd(f64::NAN, f64::INFINITY);
    let mut calibration = sample::calibration(4);
    calibration.limit = Some(f64::NAN);
    for row in &mut calibration.figures {
        (row.before, row.now) = (nan, nan);
    }
    for residual in &mut calibration.residuals {
        residual.in_sd = Some(f64::NAN);
        residual.off = Some(f64::INFINITY);
        residual.redundancy = None;
        residual.detectable = Some(f64::NAN);
    }
    calibration
        .correlations
        .below
        .iter_mut()
        .for_each(|r| *r = f64::NAN);
    for tooth in &mut calibration.tooth {
        tooth.side_m = [f64::NAN, 1.0];
        tooth.sd_now_m = [None, Some(f64::NAN), Some(f64::INFINITY)];
    }
    calibration.poses[0].chain_m = vec![[f64::NAN; 2]; 4];
    let mut diagnosis = sample::diagnosis();
    diagnosis.chi2_nothing = Some(f64::NAN);
    for hypothesis in &mut diagnosis.hypotheses {
        hypothesis.chi2_left = f64::NAN;
        hypothesis.aic = f64::INFINITY;
    }
    for shot in &mut diagnosis.shots {
        shot.side_off_m = [Some(f64::NAN), None];
        shot.plan_m = Some([f64::INFINITY, 0.0]);
    }
    let mut budget = sample::budget();
    budget.limit_m = Some(f64::NAN);
    if let Some(pose) = &mut budget.pose {
        pose.covariance_m2 = [[f64::NAN; 3]; 3];
        pose.at_m = [f64::NAN; 3];
        pose.shares[0].part = f64::NAN;
    }
    if let Some(growth) = &mut budget.growth {
        growth.u_2d_m = vec![f64::NAN; 3];
        growth.crosses_after = Some(f64::NAN);
    }
    budget.plan = Some(UMap {
        grid: Grid {
            values: vec![Some(f64::NAN); 9],
            n_right: 3,
            n_up: 3,
            ..Grid::default()
        },
        reach_m: vec![vec![[f64::NAN; 2]; 3]],
    });
    let mut hand_over = sample::hand_over();
    hand_over.entries[0].rounding_m = Some(f64::NAN);
    hand_over.proof[0].keyed_m = [None, Some(f64::NAN), Some(1.0)];
    for (name, pages) in [
        ("calibration", render_calibration(&calibration, &words)),
        ("diagnosis", render_diagnosis(&diagnosis, &words)),
        ("budget", render_budget(&budget, &words)),
        ("hand-over", render_hand_over(&hand_over, &words)),
    ] {
        check_pages(name, &pages, FRAME, 9.0);
        for run in pages.iter().flat_map(|p| p.runs()) {
            assert!(
                !run.text.contains("NaN") && !run.text.contains("inf "),
                "{name}: {}",
                run.text
            );
        }
    }
}

#[test]
fn on_screen_at_several_sizes() {
    let words = Words::ENGLISH;
    let calibration = sample::calibration(12);
    let diagnosis = sample::diagnosis();
    let budget = sample::budget();
    for (width_px, height_px) in [(900.0, 620.0), (1400.0, 900.0), (700.0, 700.0)] {
        let viewport = Viewport {
            width_px,
            height_px,
        };
        let pages = [
            residuals_on_screen(&calibration, viewport, &words),
            correlations_on_screen(&calibration, viewport, &words),
            tooth_sure_on_screen(&calibration, viewport, &words),
            poses_on_screen(&calibration, viewport, &words),
            diagnosis_on_screen(&diagnosis, viewport, &words),
            ranking_on_screen(&diagnosis, viewport, &words),
            next_shot_on_screen(&diagnosis, 0, viewport, &words),
            budget_section_on_screen(&budget, viewport, &words),
            budget_plan_on_screen(&budget, viewport, &words),
            shares_on_screen(&budget, viewport, &words),
            growth_on_screen(&budget, viewport, &words),
        ];
        for page in pages {
            let name = format!("{} {width_px}", page.title);
            check(&name, &page, page.paper(), 12.0);
            assert!(!page.description.is_empty(), "{name}");
        }
    }
    let viewport = Viewport {
        width_px: 900.0,
        height_px: 620.0,
    };
    assert!(
        budget_section_on_screen(&budget, viewport, &words)
            .map
            .is_some()
    );
    assert!(
        poses_on_screen(&calibration, viewport, &words)
            .map
            .is_some()
    );
}

fn said(pages: &[Page]) -> String {
    let runs = pages.iter().flat_map(|page| page.runs());
    runs.map(|run| run.text.as_str())
        .collect::<Vec<_>>()
        .join(" ")
}

#[test]
fn in_either_kind_of_feet() {
    let words = Words::ENGLISH;
    for (lengths, unit, boom) in [
        (Lengths::InternationalFeet, "ft (intl)", "18.7707"),
        (Lengths::UsSurveyFeet, "ft (US survey)", "18.7706"),
    ] {
        let mut check = sample::check();
        let mut history = sample::history(21);
        let mut calibration = sample::calibration(6);
        let mut diagnosis = sample::diagnosis();
        let mut budget = sample::budget();
        let mut hand_over = sample::hand_over();
        for block in [
            &mut check.block,
            &mut history.block,
            &mut calibration.block,
            &mut diagnosis.block,
            &mut budget.block,
            &mut hand_over.block,
        ] {
            block.lengths = lengths;
        }
        for (name, pages) in [
            ("check", render_check(&check, &words)),
            ("history", render_history(&history, &words)),
            ("calibration", render_calibration(&calibration, &words)),
            ("diagnosis", render_diagnosis(&diagnosis, &words)),
            ("budget", render_budget(&budget, &words)),
            ("hand-over", render_hand_over(&hand_over, &words)),
        ] {
            check_pages(&format!("{name} in {unit}"), &pages, FRAME, 9.0);
            assert!(said(&pages).contains(unit), "{name}");
        }
        // By bc 1.07: 0.025 / 0.3048 = 0.08202, 5.7213 / 0.3048 = 18.77067, 5.7213 * 3937 / 1200 = 18.77063.
        let text = said(&render_budget(&budget, &words));
        assert!(text.contains(&format!("U above 0.082 {unit}")), "{text}");
        let text = said(&render_calibration(&calibration, &words));
        assert!(text.contains(&format!("{boom} {unit}")), "{text}");
        let text = said(&render_check(&check, &words));
        assert!(text.contains("+0.082"), "{text}");
    }
}

#[test]
fn what_was_rejected_is_named_with_its_reason() {
    let text = said(&render_calibration(
        &sample::calibration(12),
        &Words::ENGLISH,
    ));
    for wanted in [
        "4c N",
        "two figures of the northing look swapped",
        "Not determined by these observations",
        "Cannot be told from 8 U.",
        "unchecked",
        "was ± 24 mm",
        "+0.030°",
        "next 1",
    ] {
        assert!(text.contains(wanted), "no '{wanted}'");
    }
}

#[test]
fn a_calibration_that_no_longer_counts_says_so_first() {
    let mut sheet = sample::calibration(6);
    sheet.block.state = State::Superseded {
        by: "19".to_owned(),
    };
    let pages = render_calibration(&sheet, &Words::ENGLISH);
    check_pages("superseded", &pages, FRAME, 9.0);
    assert!(said(&pages).contains("It said: The fit can be believed"));
}

#[test]
fn the_set_stands_first_and_nothing_is_adjusted() {
    let mut sheet = sample::diagnosis();
    sheet.hypotheses.reverse();
    let pages = render_diagnosis(&sheet, &Words::ENGLISH);
    let text = said(&pages);
    let first = text.find("bucket sensor moved χ²").expect("a bar");
    let other = text.find("linkage dimension wrong χ²").expect("a bar");
    assert!(first < other);
    assert!(text.contains("Nothing has been adjusted."));
    assert!(text.contains("8 more leave χ² of at least 95.0."));
}

#[test]
fn where_a_limit_is_not_held_is_hatched_and_named() {
    let with = said(&render_budget(&sample::budget(), &Words::ENGLISH));
    assert!(with.contains("not held: U above 25 mm") && with.contains("25 mm"));
    let mut sheet = sample::budget();
    sheet.limit_m = None;
    let without = said(&render_budget(&sheet, &Words::ENGLISH));
    assert!(!without.contains("not held: "));
}

#[test]
fn numbers_are_keyed_as_they_are_given() {
    let sheet = sample::hand_over();
    let pages = render_hand_over(&sheet, &Words::ENGLISH);
    for entry in &sheet.entries {
        let wanted = entry
            .number
            .clone()
            .unwrap_or_else(|| "cannot be keyed".to_owned());
        let run = pages
            .iter()
            .flat_map(|p| p.runs())
            .find(|r| r.text == wanted);
        let run = run.unwrap_or_else(|| panic!("no {wanted}"));
        assert!(run.set.size_pt >= 12.0);
        assert!(entry.number.is_none() || run.set.size_pt >= 18.0);
    }
}

#[test]
fn a_pose_without_a_map_is_drawn_with_its_ellipse() {
    let words = Words::ENGLISH;
    let viewport = Viewport {
        width_px: 900.0,
        height_px: 620.0,
    };
    let mut budget = sample::budget();
    budget.section = None;
    budget.plan = None;
    for draw in [budget_section_on_screen, budget_plan_on_screen] {
        let page = draw(&budget, viewport, &words);
        assert!(page.map.is_some(), "a place on it is a pose");
        let strokes = page.items.iter().filter(|i| matches!(i, Item::Stroke(_)));
        assert!(10 < strokes.count(), "machine and ellipse");
    }
    budget.pose = None;
    let page = budget_section_on_screen(&budget, viewport, &words);
    assert!(page.map.is_none(), "nothing to draw, and it says so");
}

#[test]
fn many_kinds_of_observation_make_the_screen_higher_and_not_lower() {
    let words = Words::ENGLISH;
    let viewport = Viewport {
        width_px: 900.0,
        height_px: 420.0,
    };
    let few = residuals_on_screen(&sample::calibration(4), viewport, &words);
    let mut many = sample::calibration(12);
    for (idx, residual) in many.residuals.iter_mut().enumerate() {
        residual.kind = format!("kind {}", idx % 14);
        residual.in_sd = Some(idx as f64 - 6.0);
    }
    let many = residuals_on_screen(&many, viewport, &words);
    assert_eq!(many.width_mm, few.width_mm);
    // A plot that shows anything takes three letters' height and more: 14 of them do not fit in 420 px.
    assert!(14.0 * 30.0 < many.height_mm, "{}", many.height_mm);
}
