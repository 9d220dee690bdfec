//! What drifted, if the shots say: the diagnosis that follows the decision. It changes nothing by itself.

use holdline::machine::jacobian::joints_fitted;
use holdline::machine::joints::Joints;
use holdline::tooth::model::ToothModel;
use holdline_files::points::ShotRow;
use holdline_geom::fault::Faults;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::ask::FullAsk;
use super::body::FindingBody;
use super::shots::readings_of;
use holdline::calibrate::check_shots::CommonSd;

/// How the diagnosis is simulated; it stands on the record.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct DiagnoseSettings {
    /// Seed.
    pub seed: u32,
    /// Draws; at least 20 000.
    pub n_draws: u32,
}

impl Default for DiagnoseSettings {
    fn default() -> DiagnoseSettings {
        DiagnoseSettings {
            seed: 1,
            n_draws: 20_000,
        }
    }
}

/// What was found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Found {
    /// Nothing wrong is shown: not that nothing is wrong.
    NothingShown,
    /// One fault, or several that these shots cannot tell apart.
    Single,
    /// Two faults together.
    Double,
    /// Something is wrong that nothing in the list explains.
    SomethingElse,
    /// It could not be looked for.
    NotLooked,
}

/// How it was decided.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RuleBody {
    /// In how many of a hundred healthy machines something may be called wrong, as a share.
    pub level: f64,
    /// Largest gain of all that was tried, on the scale of one parameter.
    pub statistic: f64,
    /// What it must exceed.
    pub critical: f64,
    /// Share of simulated series with a larger gain.
    pub p_value: f64,
    /// Draws.
    pub n_draws: u32,
    /// Seed.
    pub seed: u32,
    /// Hypotheses in the maximum.
    pub n_hypotheses: u32,
}

/// Unit of an estimate.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum EstimateUnit {
    /// Metres.
    M,
    /// Radians.
    Rad,
    /// Seconds.
    S,
}

/// An estimate of a fault's size.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct EstimateBody {
    /// Which figure, in words.
    pub name: String,
    /// Size.
    pub size: f64,
    /// Its standard uncertainty.
    pub sd: Option<f64>,
    /// Unit.
    pub unit: EstimateUnit,
    /// Least size that is found in 80 of 100 series.
    pub detectable: f64,
}

/// A single thing that may be wrong.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SuspectBody {
    /// The same in every run.
    pub id: String,
    /// In the words of the trade.
    pub name: String,
    /// All explanations with the same signature, each with its figure.
    pub says: Vec<String>,
    /// What to look at on the machine first.
    pub look_at: String,
    /// χ² that it leaves.
    pub chi2_left: f64,
    /// Parameters that it takes.
    pub n_parameters: u32,
    /// χ² + 2 × parameters.
    pub aic: f64,
    /// Whether it belongs to the reported set.
    pub in_set: bool,
    /// Its weight within the set.
    pub weight: Option<f64>,
    /// Estimates of its best explanation.
    pub estimates: Vec<EstimateBody>,
}

/// Two faults together.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DoubleBody {
    /// Ids of the two.
    pub ids: [String; 2],
    /// With the figures.
    pub says: String,
    /// χ² left.
    pub chi2_left: f64,
    /// χ² + 2 × parameters.
    pub aic: f64,
    /// Whether it belongs to the reported set.
    pub in_set: bool,
}

/// A further shot that would decide.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct NextShotBody {
    /// What to do.
    pub words: String,
    /// The two that it separates.
    pub separates: [String; 2],
    /// What it adds to the expected difference in χ².
    pub adds: f64,
    /// Joint angles, degrees.
    pub joints_deg: Vec<(String, f64)>,
    /// Pitch and roll of the house, degrees.
    pub lean_deg: [f64; 2],
    /// Heading, degrees.
    pub heading_deg: Option<f64>,
}

/// A fault that could not be tried.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct NotTriedBody {
    /// Which.
    pub what: String,
    /// What it would need.
    pub needs: String,
}

/// A diagnosis.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DiagnosisBody {
    /// In a word.
    pub found: Found,
    /// In sentences.
    pub words: Vec<String>,
    /// How "nothing wrong" was judged; none where it could not be looked for.
    pub rule: Option<RuleBody>,
    /// Differences used.
    pub n_differences: u32,
    /// χ² with nothing wrong.
    pub chi2_nothing: Option<f64>,
    /// Every single fault tried, best first.
    pub suspects: Vec<SuspectBody>,
    /// Pairs of faults, best first.
    pub doubles: Vec<DoubleBody>,
    /// Groups of suspects that these shots cannot tell apart, by id.
    pub inseparable: Vec<Vec<String>>,
    /// The shots that would decide.
    pub next: Vec<NextShotBody>,
    /// What could not be tried.
    pub not_tried: Vec<NotTriedBody>,
    /// What to look at.
    pub findings: Vec<FindingBody>,
}

/// Looks for what drifted, where shots carry readings; none where none does.
pub(super) fn look(
    model: &ToothModel,
    ask: &FullAsk,
    document: Option<(&str, &[ShotRow])>,
    common_sd_m: CommonSd,
) -> Option<DiagnosisBody> {
    let settings = ask.diagnose?;
    let (file, rows) = document?;
    if rows.iter().all(|row| row.readings.is_empty()) {
        return None;
    }
    Some(
        match found(model, ask, settings, (file, rows), common_sd_m) {
            Ok(body) => body,
            Err(faults) => not_looked(&faults),
        },
    )
}

fn found(
    _: &ToothModel,
    _: &FullAsk,
    _: DiagnoseSettings,
    _: (&str, &[ShotRow]),
    _: CommonSd,
) -> Result<DiagnosisBody, Faults> {
    crate::stub::not_yet()
}

fn not_looked(faults: &Faults) -> DiagnosisBody {
    let words = faults
        .0
        .iter()
        .map(|fault| format!("{}: {}; {}", fault.at, fault.got, fault.fix))
        .collect();
    DiagnosisBody {
        found: Found::NotLooked,
        words,
        rule: None,
        n_differences: 0,
        chi2_nothing: None,
        suspects: Vec::new(),
        doubles: Vec::new(),
        inseparable: Vec::new(),
        next: Vec::new(),
        not_tried: Vec::new(),
        findings: Vec::new(),
    }
}

/// Angles of the joints that this machine has, degrees.
pub(crate) fn joints_deg(model: &ToothModel, joints: &Joints) -> Vec<(String, f64)> {
    joints_fitted(&model.geometry().front.values())
        .into_iter()
        .map(|joint| (joint.word().to_owned(), joints.get(joint).to_degrees()))
        .collect()
}
