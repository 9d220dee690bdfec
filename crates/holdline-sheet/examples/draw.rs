//! Draws the sheets of the demo machine into a folder: `cargo run -p holdline-sheet --example draw -- FOLDER`.

use std::path::Path;

use holdline_sheet::ink::Palette;
use holdline_sheet::lengths::Lengths;
use holdline_sheet::machine_view::{Viewport, plan_on_screen, section_on_screen};
use holdline_sheet::page::Page;
use holdline_sheet::sheets::*;
use holdline_sheet::words::{Words, half_longer};
use holdline_sheet::{pdf, png, svg};

#[path = "../tests/sample/mod.rs"]
mod sample;

fn save(folder: &Path, name: &str, pages: &[Page]) -> Result<(), Box<dyn std::error::Error>> {
    let about = pdf::About {
        title: name.to_owned(),
        ..pdf::About::default()
    };
    std::fs::write(
        folder.join(format!("{name}.pdf")),
        pdf::write_pdf(pages, Palette::Print, &about)?,
    )?;
    for (idx, page) in pages.iter().enumerate() {
        let stem = folder.join(format!("{name}-{}", idx + 1));
        std::fs::write(
            stem.with_extension("png"),
            png::write_png(page, Palette::Day, 110.0)?,
        )?;
        std::fs::write(
            stem.with_extension("svg"),
            svg::write_svg(page, &svg::Options::FILE),
        )?;
    }
    Ok(())
}

/// Sheets of calibration, diagnosis, budget and hand-over, and what the screen shows of them.
fn draw_calibrate(folder: &Path, words: &Words) -> Result<(), Box<dyn std::error::Error>> {
    let viewport = Viewport {
        width_px: 900.0,
        height_px: 620.0,
    };
    let long = Words::translated(|_, english| half_longer(english));
    let calibration = sample::calibration(12);
    save(
        folder,
        "calibration",
        &render_calibration(&calibration, words),
    )?;
    save(
        folder,
        "long-calibration",
        &render_calibration(&calibration, &long),
    )?;
    let pages = [
        residuals_on_screen(&calibration, viewport, words),
        correlations_on_screen(&calibration, viewport, words),
        tooth_sure_on_screen(&calibration, viewport, words),
        poses_on_screen(&calibration, viewport, words),
    ];
    save(folder, "screen-calibration", &pages)?;
    let diagnosis = sample::diagnosis();
    save(folder, "diagnosis", &render_diagnosis(&diagnosis, words))?;
    save(
        folder,
        "long-diagnosis",
        &render_diagnosis(&diagnosis, &long),
    )?;
    let pages = [
        diagnosis_on_screen(&diagnosis, viewport, words),
        ranking_on_screen(&diagnosis, viewport, words),
        next_shot_on_screen(&diagnosis, 0, viewport, words),
    ];
    save(folder, "screen-diagnosis", &pages)?;
    save(
        folder,
        "hand-over",
        &render_hand_over(&sample::hand_over(), words),
    )?;
    save(
        folder,
        "long-hand-over",
        &render_hand_over(&sample::hand_over(), &long),
    )?;
    save(
        folder,
        "readiness",
        &render_readiness(&sample::readiness(), words),
    )?;
    let budget = sample::budget();
    save(folder, "budget", &render_budget(&budget, words))?;
    save(folder, "long-budget", &render_budget(&budget, &long))?;
    let mut feet = sample::check();
    feet.block.lengths = Lengths::InternationalFeet;
    save(folder, "feet-check", &render_check(&feet, words))?;
    let pages = [
        budget_section_on_screen(&budget, viewport, words),
        budget_plan_on_screen(&budget, viewport, words),
        shares_on_screen(&budget, viewport, words),
        growth_on_screen(&budget, viewport, words),
    ];
    save(folder, "screen-budget", &pages)?;
    Ok(())
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let folder = std::env::args().nth(1).ok_or("name a folder")?;
    let folder = Path::new(&folder);
    std::fs::create_dir_all(folder)?;
    let words = Words::ENGLISH;
    let view = sample::machine(28.0, -110.0, 57.0);
    let viewport = Viewport {
        width_px: 900.0,
        height_px: 560.0,
    };
    save(
        folder,
        "screen-section",
        &[section_on_screen(&view, viewport, &words)],
    )?;
    save(
        folder,
        "screen-plan",
        &[plan_on_screen(&view, viewport, &words)],
    )?;
    for (idx, (boom, stick, ear)) in [
        (-45.0, -36.0, -40.0),
        (61.0, -152.0, 126.0),
        (0.0, -90.0, 100.0),
    ]
    .into_iter()
    .enumerate()
    {
        let view = sample::machine(boom, stick, ear);
        let page = section_on_screen(&view, viewport, &words);
        let night = png::write_png(&page, Palette::Night, 96.0)?;
        std::fs::write(folder.join(format!("pose-{}.png", idx + 1)), night)?;
    }
    save(folder, "check", &render_check(&sample::check(), &words))?;
    draw_calibrate(folder, &words)?;
    save(
        folder,
        "history",
        &render_history(&sample::history(21), &words),
    )?;
    save(
        folder,
        "machine",
        &render_machine(&sample::machine_sheet(), &words),
    )?;
    let long = Words::translated(|_, english| half_longer(english));
    save(folder, "long-check", &render_check(&sample::check(), &long))?;
    let card = render_card(&sample::card(), &long).ok_or("too many numbers")?;
    save(folder, "long-card", &card)?;
    save(
        folder,
        "card",
        &render_card(&sample::card(), &words).ok_or("too many numbers")?,
    )?;
    Ok(())
}
