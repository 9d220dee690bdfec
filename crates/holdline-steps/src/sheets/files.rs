//! Sheets as files: the bytes of a whole sheet, or of its pages.

use holdline::machine::Machine;
use holdline::records::Entry;
use holdline_geom::fault::Faults;
use holdline_sheet::ink::Palette;
use holdline_sheet::page::Page;
use holdline_sheet::pdf::{About, write_pdf};
use holdline_sheet::png::write_png;
use holdline_sheet::svg::{Options, write_svg};

use super::block::Standing;
use super::{DOTS_PER_INCH, measured, ours};
use crate::job::{Job, PROGRAM};
use crate::pose::{PoseAsk, pose};
use crate::units::Units;

/// What a sheet is written as.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FileForm {
    /// One file, all pages.
    Pdf,
    /// A picture a page.
    Png,
    /// A drawing a page.
    Svg,
}

/// A record's sheet, or the operator's card made from it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Which {
    /// The sheet.
    Sheet,
    /// The card.
    Card,
}

impl Job {
    /// The files of a record's sheet or card, in the order of its pages.
    ///
    /// # Errors
    ///
    /// As [`Job::sheet_pages`]; `R042` for a record that no card can be made from.
    pub fn sheet_files(
        &mut self,
        seq: u64,
        which: Which,
        form: FileForm,
        units: Units,
    ) -> Result<Vec<Vec<u8>>, Faults> {
        let record = self.file.record(seq)?;
        let pages = match which {
            Which::Sheet => self.sheet_pages(seq, units)?,
            Which::Card => self.card_pages(&record, units)?,
        };
        let about = About {
            title: record.entry.title.clone(),
            subject: format!("record {seq}, {}", record.entry.kind),
            author: record.head.link.stamp.by().to_owned(),
            creator: PROGRAM.to_owned(),
            id: record.head.link.link_hash.to_string(),
        };
        files_of(&pages, form, &about)
    }
}

impl Job {
    /// The files of the sheet of what was looked at and not recorded.
    ///
    /// # Errors
    ///
    /// As [`Job::preview_pages`].
    pub fn preview_files(
        &mut self,
        entry: &Entry,
        form: FileForm,
        units: Units,
    ) -> Result<Vec<Vec<u8>>, Faults> {
        let pages = self.preview_pages(entry, units)?;
        let about = About {
            title: entry.title.clone(),
            subject: "no record".to_owned(),
            author: String::new(),
            creator: PROGRAM.to_owned(),
            id: String::new(),
        };
        files_of(&pages, form, &about)
    }
}

/// The files of a drawing of a pose; it is no record, and says so.
///
/// # Errors
///
/// As [`pose`].
pub fn pose_files(
    machine: &Machine,
    ask: &PoseAsk,
    form: FileForm,
) -> Result<Vec<Vec<u8>>, Faults> {
    let view = pose(machine, ask)?;
    let pages = measured::pose_pages(&Standing::preview(String::new()), machine, ask, &view)?;
    let about = About {
        title: format!("{} in a pose", machine.sheet().id),
        subject: "no record".to_owned(),
        author: String::new(),
        creator: PROGRAM.to_owned(),
        id: String::new(),
    };
    files_of(&pages, form, &about)
}

/// A PDF of all pages, or a file a page.
pub(super) fn files_of(
    pages: &[Page],
    form: FileForm,
    about: &About,
) -> Result<Vec<Vec<u8>>, Faults> {
    let options = Options {
        palette: Palette::Print,
        ..Options::FILE
    };
    match form {
        FileForm::Pdf => {
            let pdf = write_pdf(pages, Palette::Print, about);
            Ok(vec![pdf.map_err(|e| ours(&e.to_string()))?])
        }
        FileForm::Svg => Ok(pages
            .iter()
            .map(|page| write_svg(page, &options).into_bytes())
            .collect()),
        FileForm::Png => pages
            .iter()
            .map(|page| {
                let png = write_png(page, Palette::Print, DOTS_PER_INCH);
                png.map_err(|e| ours(&e.to_string()))
            })
            .collect(),
    }
}
