//! Which jobs a machine can do as it is fitted out, and what is missing for the next.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Whether a job can be done.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum ReadyAnswer {
    /// It can.
    Ready,
    /// Something is missing.
    Missing,
    /// A figure or an uncertainty is not stated.
    NotKnown,
}

impl ReadyAnswer {
    /// The word in tables.
    pub fn word(self) -> &'static str {
        match self {
            ReadyAnswer::Ready => "ready",
            ReadyAnswer::Missing => "missing",
            ReadyAnswer::NotKnown => "not known",
        }
    }
}

/// A job.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct ReadyRowView {
    /// The job, such as `2D depth and slope`.
    pub job: String,
    /// Whether it can be done now.
    pub answer: ReadyAnswer,
    /// What the machine has for it.
    pub text: String,
    /// What is missing.
    pub missing: Vec<String>,
}

/// The table.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct ReadinessView {
    /// The answer in a sentence or two.
    pub words: Vec<String>,
    /// The jobs, in the order of what they need.
    pub jobs: Vec<ReadyRowView>,
    /// To be read before relying on it.
    pub cautions: Vec<String>,
}

/// What the table speaks for.
pub const CAUTION_READINESS: &str = "The table speaks of what is fitted and stated. It does not say that the tooth is right: check shots do.";

impl crate::job::Job {
    /// The table.
    ///
    /// # Errors
    ///
    /// As [`crate::job::Job::machine_of`].
    pub fn readiness(
        &mut self,
        _: &crate::views::ToolAsk,
    ) -> Result<ReadinessView, holdline_geom::fault::Faults> {
        crate::stub::not_yet()
    }

    /// The table as files.
    ///
    /// # Errors
    ///
    /// As [`crate::job::Job::readiness`].
    pub fn readiness_files(
        &mut self,
        _: &crate::views::ToolAsk,
        _: crate::sheets::FileForm,
        _: crate::units::Units,
    ) -> Result<Vec<Vec<u8>>, holdline_geom::fault::Faults> {
        crate::stub::not_yet()
    }
}
