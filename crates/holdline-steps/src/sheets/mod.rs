//! The sheet of a record: pages, as SVG, PDF or PNG. The same record and job give the same bytes.

mod block;
mod budget;
mod calibration;
mod card;
mod check;
mod diagnosis;
mod files;
mod hand_over;
mod history;
mod measured;
mod on_screen;
mod readiness;
mod shot_notes;

pub use files::{FileForm, Which, pose_files};
pub(crate) use readiness::readiness_files;

use holdline::machine::Machine;
use holdline::records::Entry;
use holdline::tooth::model::ToothModel;
use holdline_files::points::{ShotRow, read_shots};
use holdline_geom::fault::{Fault, Faults};
use holdline_sheet::page::Page;
use holdline_sheet::sheets::{Outcome, check_on_screen, history_on_screen};
use holdline_sheet::svg::{Options, write_svg};
use holdline_sheet::words::Words;
use holdline_store::{Record, read_json};

use crate::budget::{BUDGET_KIND, BudgetAsk};
use crate::calibrate::{CALIBRATE_KIND, CalibrateAsk, HAND_OVER_KIND, HandOverAsk};
use crate::documents::Kind;
use crate::drawings;
use crate::job::{Job, SUPERSEDE_KIND};
use crate::pose::{PageSize, PoseAsk};
use crate::records::MEASURE_UP_KIND;
use crate::units::Units;
use crate::verify::{
    Answer, Checked, DAILY_KIND, DailyAsk, DailyBody, FullAsk, ShotBody, VERIFY_KIND,
};
use crate::views::ToolAsk;
use block::Standing;
use shot_notes::ShotNotes;

/// Dots to the inch of a PNG.
const DOTS_PER_INCH: f64 = 150.0;

impl Job {
    /// The pages of a record's sheet.
    ///
    /// # Errors
    ///
    /// `S030` if there is no such record; `R042` for a kind that has no sheet; faults of the documents it rests on.
    pub fn sheet_pages(&mut self, seq: u64, units: Units) -> Result<Vec<Page>, Faults> {
        let record = self.file.record(seq)?;
        let standing = self.standing(&record)?;
        let seq = record.head.link.seq;
        self.pages_of(&record.entry, Some(seq), &standing, units)
    }

    /// The pages of what was looked at and not recorded; they say so.
    ///
    /// # Errors
    ///
    /// `R042` for a kind that has no sheet; faults of the documents it rests on.
    pub fn preview_pages(&mut self, entry: &Entry, units: Units) -> Result<Vec<Page>, Faults> {
        let standing = Standing::preview(self.name());
        self.pages_of(entry, None, &standing, units)
    }

    /// One page of a record's sheet, from 1, for a page that has the fonts.
    ///
    /// # Errors
    ///
    /// As [`Job::sheet_pages`]; `R043` for a page that there is not.
    pub fn sheet_on_screen(
        &mut self,
        seq: u64,
        page: usize,
        units: Units,
    ) -> Result<String, Faults> {
        let pages = self.sheet_pages(seq, units)?;
        Ok(write_svg(
            nth(&pages, page)?,
            &Options {
                key: "record",
                ..Options::INLINE
            },
        ))
    }

    /// The plots of a check that is looked at and not recorded, for the screen: the differences against the
    /// tolerance, or the mornings on the bench.
    ///
    /// # Errors
    ///
    /// Faults of the documents it rests on.
    pub fn plot_svg(
        &mut self,
        checked: &Checked,
        size: &PageSize,
        units: Units,
    ) -> Result<String, Faults> {
        let entry = &checked.entry;
        let standing = Standing::preview(self.name());
        let viewport = drawings::viewport(size);
        let page = if entry.kind == DAILY_KIND {
            let ask: DailyAsk = read_json("settings", &entry.settings)?;
            let body: DailyBody = read_json("result", &entry.result)?;
            let machine = self.machine_of(&ask.tool)?;
            let mut mornings = self.mornings(&ask, None)?;
            mornings.push((ask.daily.clone(), body));
            let history = history::sheet(&standing, &machine, &ask.tool, &mornings, units);
            history.map(|history| history_on_screen(&history, viewport, &words()))
        } else {
            let ask: FullAsk = read_json("settings", &entry.settings)?;
            let body = read_json("result", &entry.result)?;
            let machine = self.machine_of(&ask.tool)?;
            let notes = ShotNotes::default();
            let sheet = check::sheet(&standing, &machine, &ask, &body, &notes, units)?;
            Some(check_on_screen(&sheet, viewport, &words()))
        };
        let page = page.ok_or_else(|| ours("a history without a morning"))?;
        Ok(write_svg(
            &page,
            &Options {
                key: "plot",
                ..Options::INLINE
            },
        ))
    }

    fn pages_of(
        &mut self,
        entry: &Entry,
        seq: Option<u64>,
        standing: &Standing,
        units: Units,
    ) -> Result<Vec<Page>, Faults> {
        match entry.kind.as_str() {
            VERIFY_KIND => {
                let ask: FullAsk = read_json("settings", &entry.settings)?;
                let machine = self.machine_of(&ask.tool)?;
                let body = read_json("result", &entry.result)?;
                let rows = self.shot_rows(&ask, &machine)?;
                let notes = ShotNotes::of(rows.as_deref(), standing.day());
                let mut pages = check::pages(standing, &machine, &ask, &body, &notes, units)?;
                pages.extend(diagnosis::pages(standing, &machine, &ask, &body, units)?);
                Ok(pages)
            }
            DAILY_KIND => {
                let ask: DailyAsk = read_json("settings", &entry.settings)?;
                let machine = self.machine_of(&ask.tool)?;
                let mornings = self.mornings(&ask, seq)?;
                Ok(history::pages(
                    standing, &machine, &ask.tool, &mornings, units,
                ))
            }
            MEASURE_UP_KIND => {
                let tool: ToolAsk = read_json("settings", &entry.settings)?;
                let machine = self.machine_of(&tool)?;
                measured::pages(standing, &machine, &tool, units)
            }
            CALIBRATE_KIND => {
                let ask: CalibrateAsk = read_json("settings", &entry.settings)?;
                let machine = self.machine_of(&ask.tool)?;
                let body = read_json("result", &entry.result)?;
                calibration::pages(standing, &machine, &ask, &body, units)
            }
            BUDGET_KIND => {
                let ask: BudgetAsk = read_json("settings", &entry.settings)?;
                let machine = self.machine_of(&ask.tool)?;
                let body = read_json("result", &entry.result)?;
                budget::pages(standing, &machine, &ask, &body, units)
            }
            HAND_OVER_KIND => {
                let ask: HandOverAsk = read_json("settings", &entry.settings)?;
                let machine = self.machine_of(&ask.tool)?;
                let body = read_json("result", &entry.result)?;
                Ok(hand_over::pages(standing, &machine, &ask, &body, units))
            }
            kind => Err(no_sheet(seq.unwrap_or_default(), kind).into()),
        }
    }

    fn card_pages(&mut self, record: &Record, units: Units) -> Result<Vec<Page>, Faults> {
        let entry = &record.entry;
        let standing = self.standing(record)?;
        let (tool, said, allowed) = match entry.kind.as_str() {
            VERIFY_KIND => {
                let ask: FullAsk = read_json("settings", &entry.settings)?;
                let body = read_json("result", &entry.result)?;
                let said = card::check_said(&body, units);
                (ask.tool, said, ask.tolerance)
            }
            DAILY_KIND => {
                let ask: DailyAsk = read_json("settings", &entry.settings)?;
                let body = read_json("result", &entry.result)?;
                let said = card::daily_said(&ask.daily, &body, units);
                (ask.tool, said, ask.tolerance)
            }
            kind => return Err(no_sheet(record.head.link.seq, kind).into()),
        };
        let machine = self.machine_of(&tool)?;
        let by = record.head.link.stamp.by();
        card::pages(&standing, &machine, &tool, said, &allowed, by, units)
    }

    /// The rows of the shots document that a check rests on; none where the shots were typed by hand.
    fn shot_rows(&self, ask: &FullAsk, machine: &Machine) -> Result<Option<Vec<ShotRow>>, Faults> {
        let Some(hash) = &ask.shots else {
            return Ok(None);
        };
        let (document, _) = self.document_of(Kind::Shots, hash)?;
        let sensors = machine.sheet().sensors.iter().map(|s| s.id.clone());
        let sensors: Vec<String> = sensors.collect();
        let rows = read_shots(&document.head.name, &document.bytes, &sensors)?;
        Ok(Some(rows))
    }

    /// Mornings on the same bench with the same tool, oldest first, up to a record's number.
    fn mornings(
        &self,
        ask: &DailyAsk,
        up_to: Option<u64>,
    ) -> Result<Vec<(crate::verify::DailyEntryAsk, DailyBody)>, Faults> {
        let mut found = Vec::new();
        for view in self.records()? {
            let later = up_to.is_some_and(|last| last < view.seq);
            if view.kind != DAILY_KIND
                || later
                || view.superseded_by.is_some() && Some(view.seq) != up_to
            {
                continue;
            }
            let entry = self.file.record(view.seq)?.entry;
            let other: DailyAsk = read_json("settings", &entry.settings)?;
            let same = other.daily.bench == ask.daily.bench
                && other.tool.bucket == ask.tool.bucket
                && other.tool.tooth == ask.tool.tooth;
            if same {
                found.push((other.daily, read_json("result", &entry.result)?));
            }
        }
        Ok(found)
    }
}

fn nth(pages: &[Page], page: usize) -> Result<&Page, Fault> {
    page.checked_sub(1)
        .and_then(|idx| pages.get(idx))
        .ok_or_else(|| {
            Fault::new(
                "R043",
                "page",
                format!("page {page}"),
                format!("1 to {}", pages.len()),
                "ask for one of the pages that there are",
            )
        })
}

fn ours(said: &str) -> Faults {
    Fault::new(
        "W099",
        "sheet",
        said,
        "a sheet",
        "this is a fault of the program; report it",
    )
    .into()
}

fn no_sheet(seq: u64, kind: &str) -> Fault {
    let want = if kind == SUPERSEDE_KIND {
        "the record that it names"
    } else {
        "a check, a morning's check, a machine as measured up, a calibration, a budget or a hand-over"
    };
    Fault::new(
        "R042",
        format!("record[{seq}]"),
        format!("a record of kind {kind}"),
        want,
        "print the sheet of the record that it names",
    )
}

/// The machine with its front in the pose of a shot, or at rest where no shot has a pose.
fn pose_of_shot(tool: &ToolAsk, shot: Option<&ShotBody>, units: Units) -> PoseAsk {
    let mut ask = PoseAsk {
        tool: tool.clone(),
        units,
        ..PoseAsk::default()
    };
    if let Some(shot) = shot
        && !shot.joints_deg.is_empty()
    {
        ask.joints_deg = shot.joints_deg.iter().cloned().collect();
        if let Some([pitch, roll, heading]) = shot.attitude_deg {
            (ask.pitch_deg, ask.roll_deg, ask.heading_deg) = (pitch, roll, heading);
        }
    }
    ask
}

fn model(machine: &Machine, tool: &ToolAsk) -> Result<ToothModel, Fault> {
    ToothModel::new(machine, &tool.choice())
}

/// The answer as the drawings take it.
fn outcome(answer: Answer) -> Outcome {
    match answer {
        Answer::Pass => Outcome::Within,
        Answer::Fail => Outcome::Outside,
        Answer::NotShown => Outcome::NotShown,
    }
}

/// One word for one answer, on every sheet.
fn answer_word(answer: Answer) -> &'static str {
    match answer {
        Answer::Pass => "holds",
        Answer::Fail => "does not hold",
        Answer::NotShown => "not shown",
    }
}

fn words() -> Words {
    Words::ENGLISH
}
