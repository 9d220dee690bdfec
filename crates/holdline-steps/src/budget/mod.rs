//! What accuracy the machine can hold: in a pose, over its envelope, from bench to bench, against a task.

mod ask;
mod body;
mod core;
mod judged;
mod view;

pub use ask::{BudgetAsk, DrawsSettings, FaceAsk, MapGrid, TaskAsk};
pub use body::{
    BudgetBody, DirectionBody, GridBody, GrowthBody, MapBody, MonteCarloBody, PoseBudgetBody,
    ShareBody, VerdictBody,
};
pub use view::{
    BudgetDrawings, BudgetView, CAUTION_BUDGET, GrowthView, MonteCarloView, ShareView, VerdictView,
    budget_view,
};

use std::sync::atomic::AtomicBool;

use holdline::records::{Entry, Stamp};
use holdline_geom::fault::Faults;
use holdline_store::json_of;

use crate::calibrate::Looked;
use crate::job::{Job, PROGRAM};
use crate::units::Units;

/// Kind of the record of a budget.
pub const BUDGET_KIND: &str = "budget";

/// Who hears how far long work is, and may stop it.
pub struct Work<'a> {
    /// So many points done, of so many.
    pub progress: &'a (dyn Fn(usize, usize) + Sync),
    /// Set from outside to stop.
    pub cancel: &'a AtomicBool,
}

/// Never set: work that nobody stops.
static NEVER: AtomicBool = AtomicBool::new(false);

impl Work<'static> {
    /// Nobody listens, nobody stops it.
    pub const QUIET: Work<'static> = Work {
        progress: &|_, _| {},
        cancel: &NEVER,
    };
}

impl Job {
    /// A budget, looked at and not recorded.
    ///
    /// # Errors
    ///
    /// `V030`, `V050` for what was asked; as [`Job::machine_of`]; a pose that the machine cannot take;
    /// `V051` where it was stopped.
    ///
    /// # Caution
    ///
    /// A budget foretells from stated uncertainties; check shots prove.
    pub fn budget(
        &mut self,
        ask: &BudgetAsk,
        work: &Work<'_>,
        units: Units,
    ) -> Result<Looked<BudgetView>, Faults> {
        ask.check()?;
        let machine = self.machine_to_judge(&ask.tool)?;
        let rests_on = self.bases_of(&ask.tool)?;
        let body = core::budget(&machine, ask, work)?;
        let entry = Entry {
            kind: BUDGET_KIND.to_owned(),
            title: format!(
                "{}: uncertainty budget, {}",
                ask.tool.in_words(),
                ask.mode_words()
            ),
            program: PROGRAM.to_owned(),
            outcome: Some(body.verdict.answer.word().to_owned()),
            rests_on,
            settings: json_of("settings", ask)?,
            supersedes: None,
            result: json_of("result", &body)?,
        };
        Ok(Looked {
            entry,
            view: budget_view(&body, units),
        })
    }

    /// Records a budget. Gives its number.
    ///
    /// # Errors
    ///
    /// As [`Job::budget`], then as [`holdline_store::JobFile::append_record`].
    pub fn record_budget(
        &mut self,
        ask: &BudgetAsk,
        supersedes: Option<u64>,
        stamp: &Stamp,
    ) -> Result<u64, Faults> {
        let looked = self.budget(ask, &Work::QUIET, Units::Metric)?;
        self.append(looked.entry, supersedes, stamp)
    }
}
