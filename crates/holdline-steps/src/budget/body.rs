//! What a budget says, as numbers in SI: the result that goes into the record.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::verify::{Answer, FindingBody};

/// Whether the task is held.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct VerdictBody {
    /// The answer.
    pub answer: Answer,
    /// The same in words, with its figures and the part of the envelope where it holds.
    pub words: Vec<String>,
    /// Share of the reachable part of the map where the task is held; none without a map or a tolerance.
    pub holds_share: Option<f64>,
    /// Largest U (k = 2) of what the maps show that holds the task, m.
    pub limit_m: Option<f64>,
}

/// U (k = 2) along a direction.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DirectionBody {
    /// `E`, `N`, `U`, `forward`, `along the face normal`.
    pub name: String,
    /// m; none where a source has no uncertainty stated.
    pub u_m: Option<f64>,
}

/// A source's part of the variance of what is looked at.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ShareBody {
    /// The source, in words.
    pub name: String,
    /// Its part, 0 to 1.
    pub part: f64,
    /// What it makes at the tooth, standard uncertainty, m.
    pub at_tooth_m: f64,
    /// Its own standard uncertainty in words; empty where it has none of its own.
    pub sd_text: String,
}

/// Monte Carlo beside the linear result.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MonteCarloBody {
    /// Draws.
    pub n_draws: u32,
    /// Seed.
    pub seed: u32,
    /// Largest relative difference of a standard uncertainty from the linear one.
    pub differs: f64,
    /// Whether they part, so that the linear figures must not be relied on here.
    pub parts: bool,
    /// In words.
    pub words: String,
}

/// The budget of one pose.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PoseBudgetBody {
    /// Joint angles, degrees.
    pub joints_deg: Vec<(String, f64)>,
    /// Tooth: forward of the swing axis, left, above the track underside; m.
    pub at_m: [f64; 3],
    /// Covariance of the tooth, forward, left, up; m², of what is known.
    pub covariance_m2: [[f64; 3]; 3],
    /// U by direction.
    pub directions: Vec<DirectionBody>,
    /// Shares, the largest first.
    pub shares: Vec<ShareBody>,
    /// What would help most, a sentence each, best first.
    pub help: Vec<String>,
    /// Monte Carlo; none where it was not run.
    pub monte_carlo: Option<MonteCarloBody>,
    /// Sources that move the tooth and have no stated uncertainty.
    pub missing: Vec<String>,
}

/// U (k = 2) at the points of a grid.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct GridBody {
    /// The lower left point, right and up, m.
    pub from_m: [f64; 2],
    /// From point to point, m.
    pub step_m: [f64; 2],
    /// Points in a row.
    pub n_right: u32,
    /// Rows.
    pub n_up: u32,
    /// Row after row from the lowest, left to right, m; none out of reach or not known.
    pub u_m: Vec<Option<f64>>,
    /// Places in that list within reach where U is not known.
    pub not_known: Vec<u32>,
}

/// The maps.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MapBody {
    /// What they show, such as `U of the height, k = 2, 3D`.
    pub shows: String,
    /// In the boom plane: forward of the swing axis, above the track underside.
    pub section: GridBody,
    /// In the plan, about the swing axis: right and forward, worst height of each place.
    pub plan: Option<GridBody>,
    /// Least and largest U of the reachable part, m.
    pub range_m: Option<[f64; 2]>,
    /// How many points can be reached.
    pub n_reached: u32,
    /// The worst pose: joint angles, degrees.
    pub worst_joints_deg: Vec<(String, f64)>,
}

/// How 2D work grows unsure.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct GrowthBody {
    /// U (k = 2) after so many moves, m; the first entry is no move.
    pub u_2d_m: Vec<f64>,
    /// U (k = 2) of 3D work at the same place, m.
    pub u_3d_m: Option<f64>,
    /// After how many moves 2D is as unsure as 3D.
    pub crosses_after: Option<f64>,
    /// In words.
    pub words: Vec<String>,
}

/// A budget.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BudgetBody {
    /// Whether the task is held.
    pub verdict: VerdictBody,
    /// The pose looked at.
    pub pose: PoseBudgetBody,
    /// Over the working envelope.
    pub map: Option<MapBody>,
    /// Over re-benches.
    pub growth: Option<GrowthBody>,
    /// What to look at.
    pub findings: Vec<FindingBody>,
}
