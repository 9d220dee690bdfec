//! Which jobs a machine can do as it is fitted out, and what is missing for the next.

use holdline::calibrate::readiness::{Ready, readiness};
use holdline::machine::Machine;
use holdline::machine::front::ToolChoice;
use holdline_geom::fault::{Fault, Faults};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::job::Job;
use crate::sheets::{FileForm, readiness_files};
use crate::units::Units;
use crate::views::ToolAsk;

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

/// A room's answer in the words of both faces.
fn answer_of(ready: Ready) -> ReadyAnswer {
    match ready {
        Ready::Now => ReadyAnswer::Ready,
        Ready::NotKnown => ReadyAnswer::NotKnown,
        Ready::Missing => ReadyAnswer::Missing,
    }
}

/// The tool that is looked at where none is named: the first bucket, on the first coupler there is.
fn first_tool(machine: &Machine) -> Result<ToolChoice, Fault> {
    let sheet = machine.sheet();
    let Some(bucket) = sheet.buckets.first() else {
        return Err(Fault::new(
            "V060",
            "bucket",
            "no bucket on the sheet",
            "a [[bucket]] with its tooth points",
            "measure the bucket first: every job is one with a tooth",
        ));
    };
    let centre = bucket.teeth.iter().find(|tooth| tooth.name == "centre");
    let tooth = centre.or(bucket.teeth.first());
    Ok(ToolChoice {
        coupler: sheet.couplers.first().map(|coupler| coupler.id.clone()),
        tilt: None,
        bucket: bucket.id.clone(),
        tooth: tooth.map(|tooth| tooth.name.clone()).unwrap_or_default(),
    })
}

/// The table of one machine with one tool.
fn table(machine: &Machine, choice: &ToolChoice) -> Result<ReadinessView, Fault> {
    let jobs: Vec<ReadyRowView> = readiness(machine, choice)?
        .into_iter()
        .map(|row| ReadyRowView {
            job: row.job.to_owned(),
            answer: answer_of(row.ready),
            text: row.has.join("; "),
            missing: row.missing,
        })
        .collect();
    let named = |answer: ReadyAnswer| -> Vec<&str> {
        let rows = jobs.iter().filter(|row| row.answer == answer);
        rows.map(|row| row.job.as_str()).collect()
    };
    let now = named(ReadyAnswer::Ready);
    let open = named(ReadyAnswer::NotKnown);
    let tool = match &choice.coupler {
        Some(coupler) => format!("bucket {} on {coupler}", choice.bucket),
        None => format!("bucket {}", choice.bucket),
    };
    let first = if now.is_empty() {
        format!("With {tool} nothing is fully fitted and stated yet.")
    } else {
        format!("With {tool} fitted and stated for: {}.", now.join(", "))
    };
    let mut words = vec![first];
    if !open.is_empty() {
        words.push(format!(
            "Fitted, but an uncertainty is not stated: {}.",
            open.join(", ")
        ));
    }
    Ok(ReadinessView {
        words,
        jobs,
        cautions: vec![CAUTION_READINESS.to_owned()],
    })
}

impl Job {
    /// The table. Where the ask names no bucket, the sheet's first one is looked at, and named.
    ///
    /// # Errors
    ///
    /// As [`Job::machine_of`]; `V060` for a sheet without a bucket.
    pub fn readiness(&mut self, tool: &ToolAsk) -> Result<ReadinessView, Faults> {
        let machine = self.machine_of(tool)?;
        Ok(table(&machine, &tool_of(&machine, tool)?)?)
    }

    /// The table as files.
    ///
    /// # Errors
    ///
    /// As [`Job::readiness`].
    pub fn readiness_files(
        &mut self,
        tool: &ToolAsk,
        form: FileForm,
        units: Units,
    ) -> Result<Vec<Vec<u8>>, Faults> {
        let machine = self.machine_of(tool)?;
        let choice = tool_of(&machine, tool)?;
        let view = table(&machine, &choice)?;
        let named = ToolAsk {
            coupler: choice.coupler,
            tilt: choice.tilt,
            bucket: choice.bucket,
            tooth: choice.tooth,
            ..tool.clone()
        };
        readiness_files(&machine, &named, &view, form, units)
    }
}

fn tool_of(machine: &Machine, tool: &ToolAsk) -> Result<ToolChoice, Fault> {
    if tool.bucket.is_empty() {
        first_tool(machine)
    } else {
        Ok(tool.choice())
    }
}
