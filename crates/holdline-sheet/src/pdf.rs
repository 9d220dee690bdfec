//! Writes pages as PDF, with the fonts inside as subsets.
//!
//! The words stay words: they can be searched, copied and read aloud.
//! Nothing in the file depends on a clock or a random number.

use krilla::Document;
use krilla::SerializeSettings;
use krilla::color::rgb;
use krilla::geom::{Path, PathBuilder, Point, Transform};
use krilla::metadata::{Metadata, TextDirection};
use krilla::num::NormalizedF32;
use krilla::page::PageSettings;
use krilla::paint::{Fill, LineCap, LineJoin, Stroke as PdfStroke, StrokeDash};
use krilla::surface::Surface;
use krilla::tagging::{Artifact, ArtifactType, ContentTag, SpanTag, Tag, TagGroup, TagTree};
use krilla::text::{Font, GlyphId, KrillaGlyph};

use crate::font::Face;
use crate::geometry::{Rect, Step, closed_path};
use crate::ink::{Ink, Palette};
use crate::line::Line;
use crate::page::{Item, Page, Run, Stroke};

/// What a PDF says about itself.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct About {
    /// Title of the document.
    pub title: String,
    /// What it shows.
    pub subject: String,
    /// Who made the record.
    pub author: String,
    /// Program and version.
    pub creator: String,
    /// Hash or number that this file belongs to; the same one gives the same file.
    pub id: String,
}

/// Why a PDF could not be written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NotWritten(pub String);

impl std::fmt::Display for NotWritten {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "the PDF could not be written: {}", self.0)
    }
}

impl std::error::Error for NotWritten {}

const PT_PER_MM: f64 = 72.0 / 25.4;

/// Writes pages as one PDF. The same pages and words about them give the same bytes.
///
/// # Errors
///
/// [`NotWritten`] when there is no page, or a page has no size.
pub fn write_pdf(pages: &[Page], palette: Palette, about: &About) -> Result<Vec<u8>, NotWritten> {
    if pages.is_empty() {
        return Err(NotWritten("there is no page".to_owned()));
    }
    let mut document = Document::new_with(SerializeSettings::default());
    document.set_metadata(metadata(about));
    let faces = Faces::load()?;
    let mut tags = TagTree::new();
    for page in pages {
        let settings = PageSettings::from_wh(points(page.width_mm), points(page.height_mm))
            .ok_or_else(|| NotWritten(format!("page '{}' has no size", page.title)))?;
        let mut sheet = document.start_page_with(settings);
        let mut surface = sheet.surface();
        if palette != Palette::Print {
            surface.start_tagged(ContentTag::Artifact(Artifact::with_kind(
                ArtifactType::Layout,
            )));
            let ground = Rect::sized(0.0, 0.0, page.width_mm, page.height_mm);
            let steps = closed_path(&ground.corners());
            draw_stroke(
                &mut surface,
                &Stroke {
                    steps,
                    pen: None,
                    fill: Some(Ink::Paper),
                },
                palette,
            );
            surface.end_tagged();
        }
        tags.push(draw_items(&mut surface, page, palette, &faces));
        surface.finish();
        sheet.finish();
    }
    document.set_tag_tree(tags);
    document.finish().map_err(|e| NotWritten(format!("{e:?}")))
}

/// Groups that are one picture, to be read as their title and the page's description.
const PICTURES: [&str; 3] = ["section", "plan", "plot"];

/// Draws a page's items and tags them: pictures with their words, other words one after the other,
/// other strokes as what they are, mere lines.
fn draw_items(surface: &mut Surface<'_>, page: &Page, palette: Palette, faces: &Faces) -> TagGroup {
    let mut whole = TagGroup::new(Tag::Section);
    let mut depth = 0_usize;
    let mut picture: Option<(TagGroup, usize)> = None;
    for item in &page.items {
        match item {
            Item::Begin { name, title } => {
                depth += 1;
                if picture.is_none() && PICTURES.contains(&name.as_str()) {
                    let alt = format!("{title}. {}", page.description);
                    let mut group = TagGroup::new(Tag::Figure(Some(alt)));
                    group.push(surface.start_tagged(ContentTag::Other));
                    picture = Some((group, depth));
                }
            }
            Item::End => {
                if let Some((group, _)) = picture.take_if(|(_, at)| *at == depth) {
                    surface.end_tagged();
                    whole.push(group);
                }
                depth = depth.saturating_sub(1);
            }
            Item::Stroke(stroke) if picture.is_some() => draw_stroke(surface, stroke, palette),
            Item::Run(run) if picture.is_some() => draw_run(surface, run, palette, faces),
            Item::Stroke(stroke) => {
                surface.start_tagged(ContentTag::Artifact(Artifact::with_kind(
                    ArtifactType::Layout,
                )));
                draw_stroke(surface, stroke, palette);
                surface.end_tagged();
            }
            Item::Run(run) => {
                let mut paragraph = TagGroup::new(Tag::P);
                paragraph.push(surface.start_tagged(ContentTag::Span(SpanTag::empty())));
                draw_run(surface, run, palette, faces);
                surface.end_tagged();
                whole.push(paragraph);
            }
        }
    }
    if let Some((group, _)) = picture {
        surface.end_tagged();
        whole.push(group);
    }
    whole
}

struct Faces {
    regular: Font,
    semibold: Font,
}

impl Faces {
    fn load() -> Result<Faces, NotWritten> {
        let load = |face: Face| {
            Font::new(face.ttf().into(), 0)
                .ok_or_else(|| NotWritten(format!("the shipped font {face:?} cannot be read")))
        };
        Ok(Faces {
            regular: load(Face::Regular)?,
            semibold: load(Face::SemiBold)?,
        })
    }

    fn of(&self, face: Face) -> Font {
        match face {
            Face::Regular => self.regular.clone(),
            Face::SemiBold => self.semibold.clone(),
        }
    }
}

fn metadata(about: &About) -> Metadata {
    let mut meta = Metadata::new()
        .language("en".to_owned())
        .text_direction(TextDirection::LeftToRight)
        .producer("holdline".to_owned());
    if !about.title.is_empty() {
        meta = meta.title(about.title.clone());
    }
    if !about.subject.is_empty() {
        meta = meta.description(about.subject.clone());
    }
    if !about.author.is_empty() {
        meta = meta.authors(vec![about.author.clone()]);
    }
    if !about.creator.is_empty() {
        meta = meta.creator(about.creator.clone());
    }
    if !about.id.is_empty() {
        meta = meta.document_id(about.id.clone());
    }
    meta
}

fn points(mm: f64) -> f32 {
    (mm * PT_PER_MM) as f32
}

fn draw_stroke(surface: &mut Surface<'_>, stroke: &Stroke, palette: Palette) {
    let Some(path) = path(&stroke.steps) else {
        return;
    };
    surface.set_fill(stroke.fill.map(|ink| fill(palette, ink)));
    surface.set_stroke(stroke.pen.map(|pen| {
        let round = pen.line == Line::Steel || pen.line == Line::Limit;
        let dashes = pen.line.dashes_mm();
        PdfStroke {
            paint: colour(palette, pen.ink).into(),
            width: points(pen.width_mm()),
            miter_limit: 4.0,
            line_cap: if round { LineCap::Round } else { LineCap::Butt },
            line_join: if round {
                LineJoin::Round
            } else {
                LineJoin::Miter
            },
            opacity: NormalizedF32::ONE,
            dash: (!dashes.is_empty()).then(|| StrokeDash {
                array: dashes.iter().map(|d| points(*d)).collect(),
                offset: 0.0,
            }),
        }
    }));
    surface.draw_path(&path);
}

fn path(steps: &[Step]) -> Option<Path> {
    let mut builder = PathBuilder::new();
    for step in steps {
        match step {
            Step::Move(p) => builder.move_to(points(p.x), points(p.y)),
            Step::Line(p) => builder.line_to(points(p.x), points(p.y)),
            Step::Curve(a, b, c) => builder.cubic_to(
                points(a.x),
                points(a.y),
                points(b.x),
                points(b.y),
                points(c.x),
                points(c.y),
            ),
            Step::Close => builder.close(),
        }
    }
    builder.finish()
}

fn draw_run(surface: &mut Surface<'_>, run: &Run, palette: Palette, faces: &Faces) {
    let glyphs: Vec<KrillaGlyph> = run
        .text
        .char_indices()
        .map(|(at, letter)| {
            let (glyph, advance) = run.set.face.glyph(letter);
            KrillaGlyph::new(
                GlyphId::new(u32::from(glyph)),
                advance as f32,
                0.0,
                0.0,
                0.0,
                at..at + letter.len_utf8(),
                None,
            )
        })
        .collect();
    surface.set_fill(Some(fill(palette, run.set.ink)));
    surface.set_stroke(None);
    let at = Point::from_xy(points(run.at.x), points(run.at.y));
    let turned = run.turn_rad != 0.0;
    if turned {
        let degrees = run.turn_rad.to_degrees() as f32;
        surface.push_transform(&Transform::from_rotate_at(degrees, at.x, at.y));
    }
    let size = run.set.size_pt as f32;
    surface.draw_glyphs(at, &glyphs, faces.of(run.set.face), &run.text, size, false);
    if turned {
        surface.pop();
    }
}

fn colour(palette: Palette, ink: Ink) -> rgb::Color {
    let c = palette.of(ink);
    rgb::Color::new(c.0, c.1, c.2)
}

fn fill(palette: Palette, ink: Ink) -> Fill {
    Fill {
        paint: colour(palette, ink).into(),
        opacity: NormalizedF32::ONE,
        rule: krilla::paint::FillRule::NonZero,
    }
}
