//! Is the tooth where the screen says? The full check against survey, and the morning's on one bench.

mod ask;
mod body;
mod daily;
mod diagnosis;
mod diagnosis_view;
mod shots;
mod used;
mod view;

pub use ask::{DailyAsk, DailyEntryAsk, FullAsk, ToleranceAsk, TypedShot, VerifyAsk};
pub use body::{Answer, AxisBody, CheckBody, DecisionBody, FindingBody, ShotBody};
pub use daily::{DailyBody, daily_view};
pub(crate) use diagnosis::joints_deg;
pub use diagnosis::{
    DiagnoseSettings, DiagnosisBody, DoubleBody, EstimateBody, EstimateUnit, Found, NextShotBody,
    SuspectBody,
};
pub use diagnosis_view::{
    CAUTION_DIAGNOSIS, DiagnosisDrawings, DiagnosisView, NextShotView, SuspectView, diagnosis_view,
};
pub use shots::{
    ReadyShot, ShownBy, common_sd, document_shots, readings_of, satellites, typed_shots,
};
pub use view::{CheckView, RowView, check_view, decision_words};
pub(crate) use view::{findings_view, true_minus};

use holdline::calibrate::check_shots::check_shots;
use holdline::calibrate::observations::Observation;
use holdline::calibrate::shared::Shared;
use holdline::machine::Machine;
use holdline::records::{Entry, Hash};
use holdline::tooth::model::ToothModel;
use holdline_files::observations::read_observations;
use holdline_files::points::{ControlPoint, ShotRow, read_control, read_shots};
use holdline_geom::fault::{Fault, Faults};
use holdline_store::{json_of, read_json};

use crate::calibrate::{CALIBRATE_KIND, CalibrateAsk, FitBody};
use crate::documents::Kind;
use crate::job::{Job, PROGRAM};
use crate::reading_ids::ReadingIds;
use crate::units::Units;
use crate::views::ToolAsk;

/// Kind of the record of a full check.
pub const VERIFY_KIND: &str = "verify";
/// Kind of the record of a morning's check.
pub const DAILY_KIND: &str = "daily";

/// A check done and not yet recorded.
#[derive(Debug, Clone, PartialEq)]
pub struct Checked {
    /// What the record would say.
    pub entry: Entry,
    /// The same for a person.
    pub view: CheckView,
}

/// A full check without a job: machine and documents in hand.
///
/// # Errors
///
/// `V030` to `V033` for what was asked; what the shots' readings give that cannot be used.
///
/// # Caution
///
/// A check speaks for the poses, the tool and the day it was made.
pub fn check_full(
    machine: &Machine,
    ask: &FullAsk,
    document: Option<(&str, &[ShotRow])>,
    control: Option<&[ControlPoint]>,
    fitted_to: &[Observation],
) -> Result<CheckBody, Faults> {
    let tolerance = ask.check()?;
    let choice = ask.tool.choice();
    machine.front(&choice)?;
    let (file, rows): (_, Vec<ShotRow>) = match document {
        None => (None, Vec::new()),
        Some((file, rows)) => {
            let unused = |row: &&ShotRow| !used::was_used(row, &choice.tooth, fitted_to);
            (Some(file), rows.iter().filter(unused).cloned().collect())
        }
    };
    let shots = match (file, &ask.rows) {
        (Some(file), _) => document_shots(file, &rows, machine, &choice, ask)?,
        (None, Some(rows)) => typed_shots(rows),
        (None, None) => Vec::new(),
    };
    let (common_sd_m, common_from) = common_sd(ask, control);
    let for_core: Vec<_> = shots.iter().map(|ready| ready.shot.clone()).collect();
    let shared = Shared {
        control_m: common_sd_m,
        satellites: satellites(ask, &shots),
    };
    let result = check_shots(&for_core, &tolerance, &shared);
    let mut body = CheckBody::of(&result, &shots, &shared, common_from);
    let all = document.map_or(&[][..], |(_, rows)| rows);
    let used: Vec<&str> = all
        .iter()
        .filter(|row| used::was_used(row, &choice.tooth, fitted_to))
        .map(|row| row.name.as_str())
        .collect();
    body.leave_out(&used);
    if ask.tool.calibration.is_some() && fitted_to.is_empty() {
        body.fitted_to_unknown();
    }
    let model = ToothModel::new(machine, &choice)?;
    body.diagnosis = diagnosis::look(&model, ask, document, common_sd_m);
    Ok(body)
}

impl Job {
    /// A check, looked at and not recorded. `today` is the day of a morning's check that names none.
    ///
    /// # Errors
    ///
    /// As [`check_full`]; a document that is not there or of another kind; `V034` for a morning's entry.
    pub fn verify(
        &mut self,
        ask: &VerifyAsk,
        today: &str,
        units: Units,
    ) -> Result<Checked, Faults> {
        match ask.as_daily() {
            Some(daily) => {
                let daily = self.settle_daily(daily, today)?;
                self.daily(&daily, units)
            }
            None => {
                let full = self.settle_full(ask.full.clone())?;
                self.full(&full, units)
            }
        }
    }

    /// Fills in what the job knows: the control document, where there is just one; and that the diagnosis follows.
    fn settle_full(&self, mut ask: FullAsk) -> Result<FullAsk, Faults> {
        if ask.shots.is_some() {
            ask.diagnose.get_or_insert_default();
        }
        if ask.control.is_none()
            && ask.control_sd_m.is_none()
            && let [only] = self.current_of(Kind::Control)?.as_slice()
        {
            ask.control = Some(only.hash.clone());
        }
        ask.fitted_to = self.fitted_to(ask.tool.calibration.as_deref())?;
        Ok(ask)
    }

    /// Observations that a calibration was fitted to, and those of the one that it was fitted on top of, as far as this
    /// job's records know.
    fn fitted_to(&self, calibration: Option<&str>) -> Result<Vec<String>, Faults> {
        let mut found: Vec<String> = Vec::new();
        let mut next: Vec<String> = calibration.map(str::to_owned).into_iter().collect();
        let mut done: Vec<String> = Vec::new();
        while let Some(hash) = next.pop() {
            if done.contains(&hash) {
                continue;
            }
            for view in self.records()? {
                if view.kind != CALIBRATE_KIND {
                    continue;
                }
                let record = self.file.record(view.seq)?;
                let body: FitBody = read_json("result", &record.entry.result)?;
                if body.calibration != hash {
                    continue;
                }
                let fit: CalibrateAsk = read_json("settings", &record.entry.settings)?;
                for hash in fit.observations {
                    if !found.contains(&hash) {
                        found.push(hash);
                    }
                }
                next.extend(fit.tool.calibration);
            }
            done.push(hash);
        }
        Ok(found)
    }

    /// A full check as settled; depends on nothing but the ask and the documents that it names.
    pub(crate) fn full(&mut self, ask: &FullAsk, units: Units) -> Result<Checked, Faults> {
        ask.check()?;
        let machine = self.machine_to_judge(&ask.tool)?;
        let mut rests_on = self.bases_of(&ask.tool)?;
        let sensors: Vec<String> = machine
            .sheet()
            .sensors
            .iter()
            .map(|s| s.id.clone())
            .collect();
        let shots = match &ask.shots {
            None => None,
            Some(hash) => {
                let (document, basis) = self.document_of(Kind::Shots, hash)?;
                rests_on.push(basis);
                let rows = read_shots(&document.head.name, &document.bytes, &sensors)?;
                Some((document.head.name, rows))
            }
        };
        let control = match &ask.control {
            None => None,
            Some(hash) => {
                let (document, basis) = self.document_of(Kind::Control, hash)?;
                rests_on.push(basis);
                Some(read_control(&document.head.name, &document.bytes)?)
            }
        };
        let document = shots
            .as_ref()
            .map(|(name, rows)| (name.as_str(), rows.as_slice()));
        let ids = ReadingIds::of(&machine);
        let mut fitted_to = Vec::new();
        for hash in &ask.fitted_to {
            let (document, basis) = self.document_of(Kind::Observations, hash)?;
            rests_on.push(basis);
            let read = read_observations(&document.head.name, &document.bytes, &ids.names())?;
            fitted_to.extend(read.rows);
        }
        let body = check_full(&machine, ask, document, control.as_deref(), &fitted_to)?;
        let view = check_view(&body, units);
        let title = format!(
            "{}: check of {} shots",
            ask.tool.in_words(),
            body.shots.len()
        );
        let entry = Entry {
            kind: VERIFY_KIND.to_owned(),
            title,
            program: PROGRAM.to_owned(),
            outcome: Some(body.decision.answer.word().to_owned()),
            rests_on,
            settings: json_of("settings", ask)?,
            supersedes: None,
            result: json_of("result", &body)?,
        };
        Ok(Checked { entry, view })
    }

    /// Fills in the day, and the entry before on the same bench with the same tool.
    fn settle_daily(&self, mut ask: DailyAsk, today: &str) -> Result<DailyAsk, Faults> {
        let date = ask.daily.date.get_or_insert_with(|| today.to_owned());
        daily::not_in_the_future(date, today)?;
        ask.still_open = self.still_open(&ask)?;
        for view in self.records()?.iter().rev() {
            if view.kind != DAILY_KIND || view.superseded_by.is_some() {
                continue;
            }
            let record = self.file.record(view.seq)?;
            let before: DailyAsk = read_json("settings", &record.entry.settings)?;
            let hung = |tool: &ToolAsk| ToolAsk {
                machine: String::new(),
                calibration: None,
                ..tool.clone()
            };
            let same_tool = hung(&before.tool) == hung(&ask.tool);
            if same_tool && before.daily.bench == ask.daily.bench {
                ask.before = Some(record.head.link.link_hash.to_string());
                break;
            }
        }
        Ok(ask)
    }

    /// Why a full re-check is due already: no full check of this tool holds, or a morning since then asked for one.
    fn still_open(&self, ask: &DailyAsk) -> Result<Vec<String>, Faults> {
        // A check that holds proves one machine, with one tool, by one calibration: no other's morning rests on it.
        // One that does not hold speaks of the steel: it counts by whichever calibration it was judged.
        let name_of = |hash: &str| self.document(hash).map(|found| found.head.name);
        let machine = name_of(&ask.tool.machine)?;
        let same_tool = |tool: &ToolAsk| {
            (&tool.coupler, &tool.tilt, &tool.bucket)
                == (&ask.tool.coupler, &ask.tool.tilt, &ask.tool.bucket)
                && name_of(&tool.machine).is_ok_and(|name| name == machine)
        };
        let mut open = vec!["no full check of this tool is in the job".to_owned()];
        let mut judged = Vec::new();
        for view in self.records()? {
            if view.superseded_by.is_some() {
                continue;
            }
            let record = self.file.record(view.seq)?;
            match view.kind.as_str() {
                VERIFY_KIND => {
                    let full: FullAsk = read_json("settings", &record.entry.settings)?;
                    if !same_tool(&full.tool) {
                        continue;
                    }
                    // What was surveyed of one tooth point says nothing of another's measured point.
                    let by_another = full.tool.calibration != ask.tool.calibration
                        || full.tool.tooth != ask.tool.tooth;
                    if view.outcome == Answer::Pass.word() && by_another {
                        continue;
                    }
                    // The same shots judged again prove nothing of what happened since they were taken.
                    let shots = (full.shots.clone(), full.rows.clone());
                    if view.outcome == Answer::Pass.word() && judged.contains(&shots) {
                        continue;
                    }
                    judged.push(shots);
                    let body: CheckBody = read_json("result", &record.entry.result)?;
                    if view.outcome == Answer::Pass.word() && body.found_something() {
                        open = vec![format!(
                            "the full check, record {}, holds, and its diagnosis found something to look at",
                            view.seq
                        )];
                        continue;
                    }
                    open = match (view.outcome.as_str(), &view.stale) {
                        (outcome, None) if outcome == Answer::Pass.word() => Vec::new(),
                        (_, Some(why)) => vec![format!(
                            "the full check, record {}, is stale: {why}",
                            view.seq
                        )],
                        _ => vec![format!(
                            "the full check, record {}, was not shown to hold",
                            view.seq
                        )],
                    };
                }
                DAILY_KIND => {
                    let morning: DailyAsk = read_json("settings", &record.entry.settings)?;
                    let body: DailyBody = read_json("result", &record.entry.result)?;
                    let new = body
                        .recheck_because
                        .iter()
                        .filter(|why| !morning.still_open.contains(why));
                    open.extend(new.map(|why| format!("since {}: {why}", body.date)));
                }
                _ => {}
            }
        }
        open.dedup();
        Ok(open)
    }

    /// A morning's check as settled.
    pub(crate) fn daily(&mut self, ask: &DailyAsk, units: Units) -> Result<Checked, Faults> {
        let entry = daily::entry_of(ask)?;
        let machine = self.machine_to_judge(&ask.tool)?;
        machine.front(&ask.tool.choice())?;
        let rests_on = self.bases_of(&ask.tool)?;
        let before = match &ask.before {
            None => None,
            Some(hash) => self.daily_by_link(hash)?,
        };
        let body = daily::judge(&entry, before, &ask.still_open);
        let view = daily_view(&ask.daily, &body, units);
        let word = body.decision.answer.word();
        let outcome = if body.recheck_because.is_empty() {
            word.to_owned()
        } else {
            format!("{word}, re-check due")
        };
        let title = format!("{}: {} on {}", ask.tool.in_words(), body.bench, body.date);
        let entry = Entry {
            kind: DAILY_KIND.to_owned(),
            title,
            program: PROGRAM.to_owned(),
            outcome: Some(outcome),
            rests_on,
            settings: json_of("settings", ask)?,
            supersedes: None,
            result: json_of("result", &body)?,
        };
        Ok(Checked { entry, view })
    }

    /// The morning's entry under a link hash; none if the chain does not hold it.
    fn daily_by_link(
        &self,
        hash: &str,
    ) -> Result<Option<holdline::calibrate::daily::DailyEntry>, Faults> {
        let hash = Hash::from_hex("settings.before", hash)?;
        let heads = self.file.records()?;
        let Some(head) = heads.iter().find(|head| head.link.link_hash == hash) else {
            return Err(Fault::new(
                "V036",
                "settings.before",
                format!("the morning {}", hash.short()),
                "a morning that is in the chain",
                "take the job from a copy that holds it",
            )
            .into());
        };
        let record = self.file.record(head.link.seq)?;
        let ask: DailyAsk = read_json("settings", &record.entry.settings)?;
        Ok(Some(daily::entry_of(&ask)?))
    }
}
