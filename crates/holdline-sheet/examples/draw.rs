//! Draws the sheets of the demo machine into a folder: `cargo run -p holdline-sheet --example draw -- FOLDER`.

use std::path::Path;

use holdline_sheet::ink::Palette;
use holdline_sheet::machine_view::{Lettering, draw_section, section_on_screen, plan_on_screen, Viewport, draw_plan};
use holdline_sheet::page::Page;
use holdline_sheet::words::Words;
use holdline_sheet::{frame, pdf, png, svg};

#[path = "../tests/sample/mod.rs"]
mod sample;

fn save(folder: &Path, name: &str, pages: &[Page]) -> Result<(), Box<dyn std::error::Error>> {
    let about = pdf::About { title: name.to_owned(), ..pdf::About::default() };
    std::fs::write(
        folder.join(format!("{name}.pdf")),
        pdf::write_pdf(pages, Palette::Print, &about)?,
    )?;
    for (idx, page) in pages.iter().enumerate() {
        let stem = folder.join(format!("{name}-{}", idx + 1));
        std::fs::write(stem.with_extension("png"), png::write_png(page, Palette::Day, 110.0)?)?;
        std::fs::write(stem.with_extension("svg"), svg::write_svg(page, &svg::Options::FILE))?;
    }
    Ok(())
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let folder = std::env::args().nth(1).ok_or("name a folder")?;
    let folder = Path::new(&folder);
    std::fs::create_dir_all(folder)?;
    let words = Words::ENGLISH;
    let view = sample::machine(28.0, -110.0, 57.0);
    let viewport = Viewport { width_px: 900.0, height_px: 560.0 };
    save(folder, "screen-section", &[section_on_screen(&view, viewport, &words)])?;
    save(folder, "screen-plan", &[plan_on_screen(&view, viewport, &words)])?;
    let block = sample::title_block("Machine in the pose of shot 1");
    let (mut page, frame) =
        frame::framed_page(frame::Paper::A3Landscape, &block, &words, "1 : 50", 1, 1);
    draw_section(&mut page, frame.field, &view, &Lettering::PAPER, &words);
    let (mut page2, frame) =
        frame::framed_page(frame::Paper::A4Landscape, &block, &words, "1 : 50", 1, 1);
    draw_plan(&mut page2, frame.field, &view, &Lettering::PAPER, &words);
    save(folder, "section", &[page, page2])?;
    Ok(())
}
