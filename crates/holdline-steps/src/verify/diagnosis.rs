//! What drifted, if the shots say: the diagnosis that follows the decision. It changes nothing by itself.

use holdline::calibrate::diagnose::{
    DiagnoseAsk, DiagnosedShot, Diagnosis, Estimate, Outcome, Rule, Suspect, Unit, diagnose,
};
use holdline::machine::jacobian::joints_fitted;
use holdline::machine::joints::Joints;
use holdline::tooth::model::ToothModel;
use holdline_files::points::ShotRow;
use holdline_geom::fault::{Faults, Place};
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
    model: &ToothModel,
    ask: &FullAsk,
    settings: DiagnoseSettings,
    (file, rows): (&str, &[ShotRow]),
    common_sd_m: CommonSd,
) -> Result<DiagnosisBody, Faults> {
    let mut faults = Faults::none();
    let mut shots = Vec::with_capacity(rows.len());
    for row in rows {
        match diagnosed(model, ask, row) {
            Ok(shot) => shots.push(shot),
            Err(more) => faults.0.extend(more.0.into_iter().map(|mut fault| {
                fault.at = format!("shot {}: {}", row.name, fault.at);
                fault.place = Some(Place {
                    file: file.to_owned(),
                    line: row.line,
                    column: 1,
                });
                fault
            })),
        }
    }
    let shots = faults.or(shots)?;
    let asked = DiagnoseAsk {
        common_sd_m,
        position_common_sd_m: ask.position_common_sd_m.unwrap_or_default().axes(),
        seed: u64::from(settings.seed),
        n_draws: settings.n_draws as usize,
        ..DiagnoseAsk::default()
    };
    let diagnosis = diagnose(model, &shots, &asked)?;
    Ok(body_of(model, &diagnosis))
}

fn diagnosed(model: &ToothModel, ask: &FullAsk, row: &ShotRow) -> Result<DiagnosedShot, Faults> {
    let readings = if row.readings.is_empty() {
        None
    } else {
        let heading_sd_rad = ask.heading_sd_deg.map(f64::to_radians);
        let position_sd_m = ask.position_sd_m.unwrap_or_default().axes();
        let read = readings_of(model, row)?;
        Some(model.with_sheet_sds(&read, heading_sd_rad, position_sd_m))
    };
    Ok(DiagnosedShot {
        name: row.name.clone(),
        tooth: row.tooth.clone(),
        readings,
        shown_m: row.shown_m,
        surveyed_m: row.surveyed_m,
        velocity_m_s: row.per_second_m,
        held: row.held,
    })
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

fn count(n: usize) -> u32 {
    u32::try_from(n).unwrap_or(u32::MAX)
}

fn body_of(model: &ToothModel, diagnosis: &Diagnosis) -> DiagnosisBody {
    let id = |idx: usize| {
        diagnosis
            .suspects
            .get(idx)
            .map_or_else(String::new, |s| s.id.clone())
    };
    DiagnosisBody {
        found: match diagnosis.outcome {
            Outcome::NothingShown => Found::NothingShown,
            Outcome::Single => Found::Single,
            Outcome::Double => Found::Double,
            Outcome::SomethingElse => Found::SomethingElse,
        },
        words: diagnosis.words.clone(),
        rule: Some(rule(&diagnosis.rule)),
        n_differences: count(diagnosis.n_differences),
        chi2_nothing: Some(diagnosis.chi2_nothing),
        suspects: diagnosis.suspects.iter().map(suspect).collect(),
        doubles: diagnosis
            .doubles
            .iter()
            .map(|double| DoubleBody {
                ids: double.suspects.map(id),
                says: double.says.clone(),
                chi2_left: double.chi2_left,
                aic: double.aic,
                in_set: double.in_set,
            })
            .collect(),
        inseparable: diagnosis
            .inseparable
            .iter()
            .map(|group| group.iter().map(|idx| id(*idx)).collect())
            .collect(),
        next: diagnosis
            .next
            .iter()
            .map(|next| NextShotBody {
                words: next.words.clone(),
                separates: next.separates.map(id),
                adds: next.adds,
                joints_deg: joints_deg(model, &next.joints),
                lean_deg: [next.lean.pitch, next.lean.roll].map(f64::to_degrees),
                heading_deg: next.heading_rad.map(f64::to_degrees),
            })
            .collect(),
        not_tried: diagnosis
            .not_tried
            .iter()
            .map(|not| NotTriedBody {
                what: not.words.clone(),
                needs: not.needs.clone(),
            })
            .collect(),
        findings: diagnosis.findings.iter().map(FindingBody::from).collect(),
    }
}

/// Angles of the joints that this machine has, degrees.
pub(crate) fn joints_deg(model: &ToothModel, joints: &Joints) -> Vec<(String, f64)> {
    joints_fitted(&model.geometry().front.values())
        .into_iter()
        .map(|joint| (joint.word().to_owned(), joints.get(joint).to_degrees()))
        .collect()
}

fn rule(rule: &Rule) -> RuleBody {
    RuleBody {
        level: rule.level,
        statistic: rule.statistic,
        critical: rule.critical,
        p_value: rule.p_value,
        n_draws: count(rule.n_draws),
        seed: u32::try_from(rule.seed).unwrap_or(u32::MAX),
        n_hypotheses: count(rule.n_hypotheses),
    }
}

fn suspect(suspect: &Suspect) -> SuspectBody {
    SuspectBody {
        id: suspect.id.clone(),
        name: suspect.words.clone(),
        says: suspect
            .explanations
            .iter()
            .map(|explanation| explanation.says.clone())
            .collect(),
        look_at: suspect.look_at.clone(),
        chi2_left: suspect.chi2_left,
        n_parameters: count(suspect.n_parameters),
        aic: suspect.aic,
        in_set: suspect.in_set,
        weight: suspect.weight,
        estimates: suspect.explanations.first().map_or_else(Vec::new, |best| {
            best.estimates.iter().map(estimate).collect()
        }),
    }
}

fn estimate(estimate: &Estimate) -> EstimateBody {
    EstimateBody {
        name: estimate.name.clone(),
        size: estimate.size.value,
        sd: estimate.size.sd,
        unit: match estimate.unit {
            Unit::Metre => EstimateUnit::M,
            Unit::Radian => EstimateUnit::Rad,
            Unit::Second => EstimateUnit::S,
        },
        detectable: estimate.detectable,
    }
}
