//! Calibrations in a job: fitted, recorded, and taken in as documents of their own.

use holdline::calibrate::calibration::Calibration;
use holdline::calibrate::fit::Belief;
use holdline::calibrate::observations::{Observations, ObservedTool};
use holdline::machine::Machine;
use holdline::machine::front::ToolChoice;
use holdline::records::{Basis, Entry, Hash, Stamp};
use holdline_files::calibration::write_calibration;
use holdline_files::observations::{place_observation_faults, read_observations};
use holdline_files::terms::{place_term_faults, read_terms};
use holdline_geom::fault::Faults;
use holdline_store::json_of;

use super::apply::same_tool;
use super::ask::{CalibrateAsk, HandOverAsk, NextAsk};
use super::body::FitBody;
use super::hand_over_body::{HandOverView, hand_over_view};
use super::next_view::NextView;
use super::view::{FitView, fit_view};
use super::{fit, hand_over, next};
use crate::documents::Kind;
use crate::job::{Job, PROGRAM};
use crate::reading_ids::ReadingIds;
use crate::units::Units;
use crate::verify::Answer;
use crate::views::check_sd;

/// Kind of the record of a calibration.
pub const CALIBRATE_KIND: &str = "calibrate";
/// Kind of the record of a hand-over.
pub const HAND_OVER_KIND: &str = "hand-over";

/// Something worked out and not yet recorded.
#[derive(Debug, Clone, PartialEq)]
pub struct Looked<V> {
    /// What the record would say.
    pub entry: Entry,
    /// The same for a person.
    pub view: V,
}

/// A calibration recorded.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RecordedCalibration {
    /// Number of the record.
    pub seq: u64,
    /// Hash of the calibration, now a document of the job; none where the fit cannot be believed:
    /// what nobody may use is not handed out.
    pub calibration: Option<String>,
}

/// A document of observations as read.
pub(super) struct ReadObservations {
    /// Its name.
    pub name: String,
    /// Its bytes, for faults at their line.
    pub bytes: Vec<u8>,
    /// What it says.
    pub observations: Observations,
}

impl ReadObservations {
    /// The faults of the core at their lines.
    pub fn placed(&self, faults: Faults) -> Faults {
        place_observation_faults(&self.name, &self.bytes, faults)
    }
}

/// Whether the calibration of a fit may be used: only one that is believed.
fn is_believed(body: &FitBody) -> bool {
    match body.believed {
        Answer::Pass => true,
        Answer::Fail | Answer::NotShown => false,
    }
}

impl Job {
    /// A calibration from observations, looked at and not recorded.
    ///
    /// # Errors
    ///
    /// `V042`, `V043`; faults of the documents; what the fit cannot use, with its line.
    ///
    /// # Caution
    ///
    /// It speaks for the machine as measured; prove it with check shots that it has not seen.
    pub fn calibrate(
        &mut self,
        ask: &CalibrateAsk,
        today: &str,
        units: Units,
    ) -> Result<Looked<FitView>, Faults> {
        let ask = settled(ask, today);
        let (entry, body, text) = self.calibrate_settled(&ask)?;
        let name = calibration_name(&entry.title);
        let text = if is_believed(&body) {
            text
        } else {
            String::new()
        };
        Ok(Looked {
            entry,
            view: fit_view(&body, (name, text), units),
        })
    }

    /// Records a calibration and takes it into the job as a document.
    ///
    /// # Errors
    ///
    /// As [`Job::calibrate`], then as [`Job::import`] and [`holdline_store::JobFile::append_record`].
    pub fn record_calibrate(
        &mut self,
        ask: &CalibrateAsk,
        supersedes: Option<u64>,
        stamp: &Stamp,
    ) -> Result<RecordedCalibration, Faults> {
        let mut ask = settled(ask, stamp.at().get(..10).unwrap_or_default());
        if ask.who.is_empty() {
            stamp.by().clone_into(&mut ask.who);
        }
        let (entry, body, text) = self.calibrate_settled(&ask)?;
        let name = calibration_name(&entry.title);
        let calibration = if is_believed(&body) {
            Some(self.import(&name, text.as_bytes(), stamp)?.hash)
        } else {
            None
        };
        let seq = self.append(entry, supersedes, stamp)?;
        Ok(RecordedCalibration { seq, calibration })
    }

    /// A calibration as settled; depends on nothing but the ask and the documents that it names.
    pub(crate) fn calibrate_settled(
        &mut self,
        ask: &CalibrateAsk,
    ) -> Result<(Entry, FitBody, String), Faults> {
        ask.check()?;
        let machine = self.machine_of(&ask.tool)?;
        let mut rests_on = self.bases_of(&ask.tool)?;
        let read = self.observations_of(ask, &ReadingIds::of(&machine), &mut rests_on)?;
        let (mut body, calibration): (FitBody, Calibration) = fit::fit(&machine, ask, &read)?;
        let text = write_calibration(&calibration);
        body.calibration = Hash::of(text.as_bytes()).to_string();
        let entry = Entry {
            kind: CALIBRATE_KIND.to_owned(),
            title: format!(
                "{} calibrated with {}",
                machine.sheet().id,
                ask.tool.bucket_in_words()
            ),
            program: PROGRAM.to_owned(),
            outcome: Some(body.believed.word().to_owned()),
            rests_on,
            settings: json_of("settings", ask)?,
            supersedes: None,
            result: json_of("result", &body)?,
        };
        Ok((entry, body, text))
    }

    fn observations_of(
        &mut self,
        ask: &CalibrateAsk,
        ids: &ReadingIds,
        rests_on: &mut Vec<Basis>,
    ) -> Result<Vec<ReadObservations>, Faults> {
        let mut all = Vec::with_capacity(ask.observations.len());
        for hash in &ask.observations {
            let (document, basis) = self.document_of(Kind::Observations, hash)?;
            let (name, bytes) = (document.head.name, document.bytes);
            let observations = read_observations(&name, &bytes, &ids.names())?;
            rests_on.push(basis);
            all.push(ReadObservations {
                name,
                bytes,
                observations,
            });
        }
        Ok(all)
    }

    /// The best next poses to measure. Nothing is recorded.
    ///
    /// # Errors
    ///
    /// `V044`; as [`Job::calibrate`], but without observations it is the plan of a first day.
    pub fn next_poses(&mut self, ask: &NextAsk, units: Units) -> Result<NextView, Faults> {
        ask.check()?;
        let machine = self.machine_of(&ask.fit.tool)?;
        let ids = ReadingIds::of(&machine);
        let read = self.observations_of(&ask.fit, &ids, &mut Vec::new())?;
        next::next(&machine, ask, &read, units)
    }

    /// The machine's figures in the entries of the control system at hand, looked at and not recorded.
    ///
    /// # Errors
    ///
    /// As [`Job::machine_of`]; faults of the terms, with line and column.
    ///
    /// # Caution
    ///
    /// What is keyed in moves the tooth on the screen: read it back, and prove it.
    pub fn hand_over(
        &mut self,
        ask: &HandOverAsk,
        units: Units,
    ) -> Result<Looked<HandOverView>, Faults> {
        check_sd("allowed_m", ask.allowed_m)?;
        // Refuses a calibration of another sheet.
        self.machine_of(&ask.tool)?;
        let machine = self.machine(&ask.tool.machine)?;
        let mut rests_on = self.bases_of(&ask.tool)?;
        let (document, basis) = self.document_of(Kind::Terms, &ask.terms)?;
        rests_on.push(basis);
        let terms = read_terms(&document.head.name, &document.bytes)?;
        let calibration = match &ask.tool.calibration {
            Some(hash) => {
                let (name, calibration) = self.calibration(hash)?;
                // Terms that name no tool are for the one that was asked for.
                let choice = if terms.tool == ObservedTool::default() {
                    ask.tool.choice()
                } else {
                    ToolChoice {
                        coupler: terms.tool.coupler.clone(),
                        tilt: terms.tool.tilt.clone(),
                        bucket: terms.tool.bucket.clone(),
                        tooth: terms.tooth.clone(),
                    }
                };
                same_tool(&name, &calibration, &choice)?;
                calibration
            }
            None => nothing_calibrated(&machine, ask),
        };
        let body = hand_over::hand_over(&machine, ask, &calibration, &terms)
            .map_err(|faults| place_term_faults(&document.head.name, &document.bytes, faults))?;
        let entry = Entry {
            kind: HAND_OVER_KIND.to_owned(),
            title: format!(
                "{} handed over, {}",
                machine.sheet().id,
                ask.tool.in_words()
            ),
            program: PROGRAM.to_owned(),
            outcome: Some(body.outcome.word().to_owned()),
            rests_on,
            settings: json_of("settings", ask)?,
            supersedes: None,
            result: json_of("result", &body)?,
        };
        Ok(Looked {
            entry,
            view: hand_over_view(&body, units),
        })
    }

    /// Records a hand-over. Gives its number.
    ///
    /// # Errors
    ///
    /// As [`Job::hand_over`], then as [`holdline_store::JobFile::append_record`].
    pub fn record_hand_over(
        &mut self,
        ask: &HandOverAsk,
        supersedes: Option<u64>,
        stamp: &Stamp,
    ) -> Result<u64, Faults> {
        let looked = self.hand_over(ask, Units::Metric)?;
        self.append(looked.entry, supersedes, stamp)
    }
}

/// The sheet as it stands, as a calibration that changed nothing.
fn nothing_calibrated(machine: &Machine, ask: &HandOverAsk) -> Calibration {
    let choice = ask.tool.choice();
    Calibration {
        machine: machine.sheet().id.clone(),
        sheet_hash: ask.tool.machine.clone(),
        tool: ObservedTool {
            coupler: choice.coupler,
            tilt: choice.tilt,
            bucket: choice.bucket,
        },
        who: String::new(),
        on: String::new(),
        with: String::new(),
        figures: Vec::new(),
        correlations: Vec::new(),
        belief: Belief::Believed,
        not_determined: Vec::new(),
    }
}

fn settled(ask: &CalibrateAsk, today: &str) -> CalibrateAsk {
    let mut ask = ask.clone();
    ask.on.get_or_insert_with(|| today.to_owned());
    ask
}

/// `demo-23 calibrated with …` gives `demo-23.calibration.toml`.
fn calibration_name(title: &str) -> String {
    let id = title.split(" calibrated with ").next().unwrap_or("machine");
    let plain: String = id
        .chars()
        .map(|c| {
            if c.is_alphanumeric() || "-_".contains(c) {
                c
            } else {
                '-'
            }
        })
        .collect();
    format!("{plain}.calibration.toml")
}
