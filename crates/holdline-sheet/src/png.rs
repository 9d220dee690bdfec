//! Writes a page as PNG, drawn from the same list and the same letters as SVG and PDF.

use tiny_skia::{
    FillRule, LineCap, LineJoin, Paint, Path, PathBuilder, Pixmap, Stroke as PngStroke, StrokeDash,
    Transform,
};

use crate::geometry::{Pt, Step};
use crate::ink::{Ink, Palette};
use crate::line::Line;
use crate::page::{Item, Page, Run, Stroke};

/// Why a PNG could not be written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NotWritten(pub String);

impl std::fmt::Display for NotWritten {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "the PNG could not be written: {}", self.0)
    }
}

impl std::error::Error for NotWritten {}

/// Most dots along one edge of a picture.
pub const MAX_DOTS: f64 = 12_000.0;

/// Writes a page with so many dots to the inch. The same page gives the same bytes.
///
/// # Errors
///
/// [`NotWritten`] when the picture would have no dot, or more than [`MAX_DOTS`] along an edge.
pub fn write_png(page: &Page, palette: Palette, dots_per_inch: f64) -> Result<Vec<u8>, NotWritten> {
    let per_mm = dots_per_inch / 25.4;
    let (width, height) = (
        (page.width_mm * per_mm).ceil(),
        (page.height_mm * per_mm).ceil(),
    );
    let fits = |dots: f64| (1.0..=MAX_DOTS).contains(&dots);
    if !fits(width) || !fits(height) {
        return Err(NotWritten(format!(
            "{width} by {height} dots; 1 to {MAX_DOTS} will do"
        )));
    }
    let mut picture = Pixmap::new(width as u32, height as u32)
        .ok_or_else(|| NotWritten(format!("no room for {width} by {height} dots")))?;
    let paper = palette.of(Ink::Paper);
    picture.fill(tiny_skia::Color::from_rgba8(paper.0, paper.1, paper.2, 255));
    let to_dots = Transform::from_scale(per_mm as f32, per_mm as f32);
    for item in &page.items {
        match item {
            Item::Stroke(stroke) => draw_stroke(&mut picture, stroke, palette, to_dots),
            Item::Run(run) => draw_run(&mut picture, run, palette, to_dots),
            Item::Begin { .. } | Item::End => {}
        }
    }
    picture.encode_png().map_err(|e| NotWritten(e.to_string()))
}

fn paint(palette: Palette, ink: Ink) -> Paint<'static> {
    let colour = palette.of(ink);
    let mut paint = Paint {
        anti_alias: true,
        ..Paint::default()
    };
    paint.set_color_rgba8(colour.0, colour.1, colour.2, 255);
    paint
}

fn draw_stroke(picture: &mut Pixmap, stroke: &Stroke, palette: Palette, to_dots: Transform) {
    let mut builder = PathBuilder::new();
    add_steps(&mut builder, &stroke.steps);
    let Some(path) = builder.finish() else { return };
    if let Some(ink) = stroke.fill {
        picture.fill_path(
            &path,
            &paint(palette, ink),
            FillRule::Winding,
            to_dots,
            None,
        );
    }
    if let Some(pen) = stroke.pen {
        let round = pen.line == Line::Steel || pen.line == Line::Limit;
        let dashes = pen.line.dashes_mm();
        let how = PngStroke {
            width: pen.width_mm() as f32,
            miter_limit: 4.0,
            line_cap: if round { LineCap::Round } else { LineCap::Butt },
            line_join: if round {
                LineJoin::Round
            } else {
                LineJoin::Miter
            },
            dash: StrokeDash::new(dashes.iter().map(|d| *d as f32).collect(), 0.0),
        };
        picture.stroke_path(&path, &paint(palette, pen.ink), &how, to_dots, None);
    }
}

fn draw_run(picture: &mut Pixmap, run: &Run, palette: Palette, to_dots: Transform) {
    let Some(path) = letters(run) else { return };
    picture.fill_path(
        &path,
        &paint(palette, run.set.ink),
        FillRule::Winding,
        to_dots,
        None,
    );
}

fn letters(run: &Run) -> Option<Path> {
    let mut builder = PathBuilder::new();
    let mut at: Pt = run.at;
    for letter in run.text.chars() {
        let (glyph, advance) = run.set.face.glyph(letter);
        add_steps(
            &mut builder,
            &run.set
                .face
                .outline(glyph, at, run.turn_rad, run.set.size_pt),
        );
        at = at.along(run.turn_rad, advance * run.set.size_mm());
    }
    builder.finish()
}

fn add_steps(builder: &mut PathBuilder, steps: &[Step]) {
    for step in steps {
        match step {
            Step::Move(p) => builder.move_to(p.x as f32, p.y as f32),
            Step::Line(p) => builder.line_to(p.x as f32, p.y as f32),
            Step::Curve(a, b, c) => builder.cubic_to(
                a.x as f32, a.y as f32, b.x as f32, b.y as f32, c.x as f32, c.y as f32,
            ),
            Step::Close => builder.close(),
        }
    }
}
