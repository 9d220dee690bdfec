//! The writers: same bytes twice, the same words in each, nothing from outside.

use holdline_sheet::ink::Palette;
use holdline_sheet::machine_view::{MachineView, Viewport, plan_on_screen, section_on_screen};
use holdline_sheet::page::{Anchor, Page, Type};
use holdline_sheet::sheets::*;
use holdline_sheet::words::Words;
use holdline_sheet::{geometry::pt, pdf, png, svg};

mod sample;

fn pages() -> Vec<Page> {
    let mut pages = render_check(&sample::check(), &Words::ENGLISH);
    pages.extend(render_machine(&sample::machine_sheet(), &Words::ENGLISH));
    pages.extend(render_card(&sample::card(), &Words::ENGLISH).expect("few numbers"));
    pages.extend(render_calibration(&sample::calibration(6), &Words::ENGLISH));
    pages.extend(render_diagnosis(&sample::diagnosis(), &Words::ENGLISH));
    pages.extend(render_budget(&sample::budget(), &Words::ENGLISH));
    pages.extend(render_hand_over(&sample::hand_over(), &Words::ENGLISH));
    pages.extend(render_readiness(&sample::readiness(), &Words::ENGLISH));
    pages
}

#[test]
fn the_same_bytes_twice() {
    let (one, two) = (pages(), pages());
    let about = pdf::About {
        title: "test".to_owned(),
        ..pdf::About::default()
    };
    assert_eq!(
        pdf::write_pdf(&one, Palette::Print, &about),
        pdf::write_pdf(&two, Palette::Print, &about)
    );
    for (a, b) in one.iter().zip(&two) {
        assert_eq!(
            svg::write_svg(a, &svg::Options::FILE),
            svg::write_svg(b, &svg::Options::FILE)
        );
        assert_eq!(
            png::write_png(a, Palette::Day, 50.0),
            png::write_png(b, Palette::Day, 50.0)
        );
    }
}

#[test]
fn svg_names_its_parts_and_asks_for_nothing() {
    for page in pages() {
        let text = svg::write_svg(&page, &svg::Options::FILE);
        assert!(text.contains("<title id=\"sheet-title\">"));
        assert_eq!(text.matches("<g ").count(), text.matches("</g>").count());
        assert!(!text.contains("href") && !text.contains("url(http") && !text.contains("<script"));
        for run in page.runs() {
            let plain = !run.text.contains(['<', '>', '&', '"', '\'']);
            assert!(
                !plain || text.contains(&format!(">{}</text>", run.text)),
                "{}",
                run.text
            );
        }
    }
    let view = sample::machine(28.0, -110.0, 57.0);
    let viewport = Viewport {
        width_px: 800.0,
        height_px: 500.0,
    };
    let page = section_on_screen(&view, viewport, &Words::ENGLISH);
    let text = svg::write_svg(&page, &svg::Options::INLINE);
    assert!(text.contains("role=\"img\"") && text.contains("data-part=\"boom\""));
    assert!(text.contains("data-mm-per-m=") && !text.contains("<style"));
    assert!(
        page.description.contains("boom +28.00° ± 0.10°"),
        "{}",
        page.description
    );
}

#[test]
fn the_stylesheet_knows_every_class() {
    let css = svg::stylesheet();
    let view = sample::machine(28.0, -110.0, 57.0);
    let viewport = Viewport {
        width_px: 800.0,
        height_px: 500.0,
    };
    let mut text = String::new();
    for page in [
        plan_on_screen(&view, viewport, &Words::ENGLISH),
        budget_section_on_screen(&sample::budget(), viewport, &Words::ENGLISH),
    ] {
        text.push_str(&svg::write_svg(&page, &svg::Options::INLINE));
    }
    for classes in text
        .split("class=\"")
        .skip(1)
        .filter_map(|rest| rest.split('"').next())
    {
        for class in classes
            .split(' ')
            .filter(|c| !c.is_empty() && *c != "sheet")
        {
            assert!(css.contains(&format!(".{class} ")), "{class}");
        }
    }
}

#[test]
fn what_cannot_be_written_is_said() {
    assert!(pdf::write_pdf(&[], Palette::Print, &pdf::About::default()).is_err());
    let page = Page::new(f64::NAN, 10.0, "bad");
    assert!(
        pdf::write_pdf(
            std::slice::from_ref(&page),
            Palette::Print,
            &pdf::About::default()
        )
        .is_err()
    );
    assert!(png::write_png(&page, Palette::Day, 96.0).is_err());
    assert!(png::write_png(&Page::new(1e9, 10.0, "wide"), Palette::Day, 96.0).is_err());
}

#[test]
fn numbers_that_are_none_leave_a_drawing_standing() {
    let mut view = sample::machine(f64::NAN, -110.0, f64::INFINITY);
    view.ground_m = Some([[f64::NAN, 0.0], [1.0, f64::INFINITY]]);
    view.tail_radius_m = Some(f64::NAN);
    view.north_rad = Some(f64::NAN);
    let viewport = Viewport {
        width_px: f64::NAN,
        height_px: 1e12,
    };
    for view in [view, MachineView::default()] {
        for page in [
            section_on_screen(&view, viewport, &Words::ENGLISH),
            plan_on_screen(&view, viewport, &Words::ENGLISH),
        ] {
            let text = svg::write_svg(&page, &svg::Options::INLINE);
            assert!(!text.contains("NaN") && !text.contains("inf"), "{text}");
            assert!(pdf::write_pdf(&[page], Palette::Print, &pdf::About::default()).is_ok());
        }
    }
}

#[test]
fn letters_that_no_font_has_become_boxes_not_gaps() {
    let mut page = Page::new(80.0, 20.0, "test");
    page.words(
        pt(2.0, 10.0),
        Anchor::Start,
        Type::regular(12.0),
        "木 pier\u{0} <&>",
    );
    assert!(
        pdf::write_pdf(
            std::slice::from_ref(&page),
            Palette::Print,
            &pdf::About::default()
        )
        .is_ok()
    );
    let text = svg::write_svg(&page, &svg::Options::FILE);
    assert!(text.contains(">木 pier &lt;&amp;&gt;</text>"));
    assert!(page.runs().all(|run| run.width_mm() > 20.0));
}
