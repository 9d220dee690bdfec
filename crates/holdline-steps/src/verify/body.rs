//! What a check found, as numbers: the result that goes into the record.

use holdline::calibrate::check_shots::{AXES, AxisSummary, CheckResult, Finding};
use holdline::calibrate::decision::Decision;
use holdline::calibrate::shared::{Satellites, Shared};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::diagnosis::{DiagnosisBody, Found};
use super::shots::{ReadyShot, ShownBy};
use super::used::UNUSED_AT_LEAST;

/// The answer to whether a tolerance is held.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Answer {
    /// Shown to hold.
    Pass,
    /// Shown not to hold.
    Fail,
    /// Neither could be shown; everything downstream treats it as not holding.
    NotShown,
}

impl Answer {
    /// The word on records and sheets.
    pub fn word(self) -> &'static str {
        match self {
            Answer::Pass => "pass",
            Answer::Fail => "fail",
            Answer::NotShown => "not shown",
        }
    }
}

/// A decision with its figures.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DecisionBody {
    /// The answer.
    pub answer: Answer,
    /// What the statement covers, m.
    pub covered_m: Option<[f64; 2]>,
    /// What is allowed, m.
    pub tolerance_m: Option<[f64; 2]>,
    /// Why it could not be shown.
    pub because: Option<String>,
}

impl From<&Decision> for DecisionBody {
    fn from(decision: &Decision) -> DecisionBody {
        let with = |answer, covered_m: &[f64; 2], tolerance_m: &[f64; 2]| DecisionBody {
            answer,
            covered_m: Some(*covered_m),
            tolerance_m: Some(*tolerance_m),
            because: None,
        };
        match decision {
            Decision::Holds {
                covered_m,
                tolerance_m,
            } => with(Answer::Pass, covered_m, tolerance_m),
            Decision::DoesNotHold {
                covered_m,
                tolerance_m,
            } => with(Answer::Fail, covered_m, tolerance_m),
            Decision::NotShown { because } => DecisionBody {
                answer: Answer::NotShown,
                covered_m: None,
                tolerance_m: None,
                because: Some(because.clone()),
            },
        }
    }
}

/// What the series says along one axis.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct AxisBody {
    /// `easting`, `northing` or `elevation`.
    pub axis: String,
    /// How many shots.
    pub n: u32,
    /// Mean difference, m.
    pub mean_m: f64,
    /// Sample standard deviation, m.
    pub sd_m: Option<f64>,
    /// Half of the 95 % statement about the mean, with what all shots share, m.
    pub mean_half_width_m: Option<f64>,
    /// The same for the next single result, m.
    pub next_half_width_m: Option<f64>,
}

/// One shot; each list holds easting, northing, elevation.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ShotBody {
    /// Its name.
    pub name: String,
    /// Where the shown side comes from.
    pub shown_by: ShownBy,
    /// As shown or computed, m.
    pub shown_m: [Option<f64>; 3],
    /// Its standard uncertainty, m.
    pub shown_sd_m: [Option<f64>; 3],
    /// As surveyed, m.
    pub surveyed_m: [Option<f64>; 3],
    /// Its standard uncertainty, m.
    pub surveyed_sd_m: [Option<f64>; 3],
    /// Shown minus surveyed, m.
    pub difference_m: [Option<f64>; 3],
    /// Its standard uncertainty, m.
    pub difference_sd_m: [Option<f64>; 3],
    /// Joint angles in the order of the machine's joints, degrees, where the shot has readings.
    pub joints_deg: Vec<(String, f64)>,
    /// Pitch, roll and heading of the house, degrees, where the shot has readings.
    pub attitude_deg: Option<[f64; 3]>,
}

/// Something a person must look at.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FindingBody {
    /// Code, for `holdline explain`.
    pub code: String,
    /// Which shot, axis or entry.
    pub at: String,
    /// What, with the figure.
    pub what: String,
}

impl From<&Finding> for FindingBody {
    fn from(finding: &Finding) -> FindingBody {
        FindingBody {
            code: finding.code.to_owned(),
            at: finding.at.clone(),
            what: finding.what.clone(),
        }
    }
}

/// A full check.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CheckBody {
    /// The whole.
    pub decision: DecisionBody,
    /// Height against its tolerance.
    pub height: DecisionBody,
    /// Plan against its tolerance, where one was given.
    pub plan: Option<DecisionBody>,
    /// Axes that were shot.
    pub axes: Vec<AxisBody>,
    /// Standard uncertainty of control and set-up, common to all shots, m.
    pub common_sd_m: [Option<f64>; 3],
    /// Where that comes from.
    pub common_sd_from: String,
    /// Standard uncertainty that the satellite positions of the shots share, m; none where no shot rests on any.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub satellites_sd_m: Option<[Option<f64>; 3]>,
    /// Shot by shot.
    pub shots: Vec<ShotBody>,
    /// What to look at.
    pub findings: Vec<FindingBody>,
    /// What drifted, where the shots carry readings. It decides nothing and changes nothing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub diagnosis: Option<DiagnosisBody>,
}

impl CheckBody {
    /// Says that nobody knows what the calibration was fitted to.
    pub(super) fn fitted_to_unknown(&mut self) {
        self.findings.push(FindingBody {
            code: "V009".to_owned(),
            at: "calibration".to_owned(),
            what: "this job does not hold what the calibration was fitted to: whether these shots were among it is not known".to_owned(),
        });
    }

    /// Says which shots were left out because the calibration was fitted to them; too few others show nothing.
    pub(super) fn leave_out(&mut self, used: &[&str]) {
        if used.is_empty() {
            return;
        }
        self.findings.push(FindingBody {
            code: "V008".to_owned(),
            at: "shots".to_owned(),
            what: format!(
                "the calibration in use was fitted to {}: left out, they prove nothing of it",
                used.join(", ")
            ),
        });
        if self.shots.len() < UNUSED_AT_LEAST {
            let because = format!(
                "only {} shots are left that the calibration was not fitted to: shoot {UNUSED_AT_LEAST} or more that it has not seen",
                self.shots.len()
            );
            let not_shown = |answer: &mut DecisionBody| {
                *answer = DecisionBody::from(&Decision::NotShown {
                    because: because.clone(),
                });
            };
            not_shown(&mut self.decision);
            not_shown(&mut self.height);
            self.plan.iter_mut().for_each(not_shown);
        }
    }

    /// Whether the diagnosis names something to look at on the machine.
    pub(super) fn found_something(&self) -> bool {
        self.diagnosis.as_ref().is_some_and(|d| match d.found {
            Found::Single | Found::Double | Found::SomethingElse => true,
            Found::NothingShown | Found::NotLooked => false,
        })
    }

    pub(super) fn of(
        result: &CheckResult,
        shots: &[ReadyShot],
        shared: &Shared,
        common_sd_from: String,
    ) -> CheckBody {
        let axes = result.axes.iter().enumerate();
        CheckBody {
            decision: (&result.decision).into(),
            height: (&result.height).into(),
            plan: result.plan.as_ref().map(DecisionBody::from),
            axes: axes
                .filter_map(|(axis, summary)| Some(axis_body(AXES[axis], summary.as_ref()?)))
                .collect(),
            common_sd_m: shared.control_m,
            common_sd_from,
            satellites_sd_m: shared.satellites.as_ref().map(Satellites::counted_m),
            shots: shots
                .iter()
                .zip(&result.differences)
                .map(shot_body)
                .collect(),
            findings: result.findings.iter().map(FindingBody::from).collect(),
            diagnosis: None,
        }
    }
}

fn axis_body(axis: &str, summary: &AxisSummary) -> AxisBody {
    AxisBody {
        axis: axis.to_owned(),
        n: u32::try_from(summary.series.n).unwrap_or(u32::MAX),
        mean_m: summary.series.mean,
        sd_m: summary.series.sd,
        mean_half_width_m: summary.mean_half_width_m,
        next_half_width_m: summary.next_half_width_m,
    }
}

fn shot_body(
    (ready, difference): (
        &ReadyShot,
        &holdline::calibrate::check_shots::ShotDifference,
    ),
) -> ShotBody {
    let values = |point: &[Option<holdline_geom::measured::Measured>; 3]| {
        (
            point.map(|m| m.map(|m| m.value)),
            point.map(|m| m.and_then(|m| m.sd)),
        )
    };
    let (shown_m, shown_sd_m) = values(&ready.shot.shown_m);
    let (surveyed_m, surveyed_sd_m) = values(&ready.shot.surveyed_m);
    let (difference_m, difference_sd_m) = values(&difference.difference_m);
    let solution = ready.fix.as_ref().map(|fix| &fix.solution);
    let joints_deg = solution.map_or_else(Vec::new, |s| {
        holdline::machine::joints::ALL_JOINTS
            .iter()
            .map(|joint| (joint.word().to_owned(), s.joints.get(*joint).to_degrees()))
            .collect()
    });
    let attitude_deg = solution.and_then(|s| {
        let heading = s.heading_rad?;
        Some([s.lean.pitch, s.lean.roll, heading].map(f64::to_degrees))
    });
    ShotBody {
        name: ready.shot.name.clone(),
        shown_by: ready.shown_by,
        shown_m,
        shown_sd_m,
        surveyed_m,
        surveyed_sd_m,
        difference_m,
        difference_sd_m,
        joints_deg,
        attitude_deg,
    }
}
