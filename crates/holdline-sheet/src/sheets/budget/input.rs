//! What the budget sheet is drawn from: plain numbers, metres.

use crate::contour::Grid;
use crate::frame::TitleBlock;
use crate::machine_view::MachineView;
use crate::sheets::Outcome;

/// Input of the budget sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct BudgetSheet {
    /// Title block.
    pub block: TitleBlock,
    /// Whether the task's tolerance is held.
    pub outcome: Outcome,
    /// The same in words, with its figures and the part of the envelope where it holds.
    pub decision: String,
    /// What the maps show, such as `U of the height, k = 2, 3D`.
    pub shows: String,
    /// The tolerance that it is held to, in words; empty: none stated.
    pub task: String,
    /// Largest U that holds the task, m; hatched where U is larger.
    pub limit_m: Option<f64>,
    /// The map in the boom plane: forward of the swing axis, above the track underside.
    pub section: Option<UMap>,
    /// The map in the plan, east and north of the swing axis; without a grid north in `machine`, forward and left.
    pub plan: Option<UMap>,
    /// The machine in the pose looked at.
    pub machine: Option<MachineView>,
    /// The pose looked at.
    pub pose: Option<PoseBudget>,
    /// How 2D work grows unsure.
    pub growth: Option<Growth>,
    /// What a person must look at, a paragraph each.
    pub findings: Vec<String>,
}

/// U over a plane.
#[derive(Debug, Clone, PartialEq)]
pub struct UMap {
    /// U (k = 2), m, at the points of a grid; `None` out of reach, not finite where it is not known.
    pub grid: Grid,
    /// Limit of reach as closed outlines, m; empty: drawn about the points that have a value.
    pub reach_m: Vec<Vec<[f64; 2]>>,
}

/// The budget of one pose.
#[derive(Debug, Clone, PartialEq)]
pub struct PoseBudget {
    /// Its name or its joint angles in words.
    pub name: String,
    /// Tooth: forward of the swing axis, left, above the track underside; m.
    pub at_m: [f64; 3],
    /// Covariance of the tooth in the machine's directions: forward, left, up; m².
    pub covariance_m2: [[f64; 3]; 3],
    /// U (k = 2) by direction, m: `E`, `N`, `U`, `along the face normal`.
    pub u_m: Vec<(String, Option<f64>)>,
    /// Shares of the variance by source, the largest first.
    pub shares: Vec<Share>,
    /// What would help most, a sentence each, best first.
    pub help: Vec<String>,
    /// How far Monte Carlo agrees, in words; empty: not run.
    pub monte_carlo: String,
}

/// Share of a source in the variance.
#[derive(Debug, Clone, PartialEq)]
pub struct Share {
    /// The source: `GNSS height`, `boom sensor`.
    pub name: String,
    /// Its part, 0 to 1.
    pub part: f64,
    /// Its standard uncertainty in words: `15 mm`, `0.04°`; empty: none.
    pub sd: String,
    /// What it makes at the tooth, standard uncertainty, m.
    pub at_tooth_m: Option<f64>,
}

/// 2D work over re-benches.
#[derive(Debug, Clone, PartialEq)]
pub struct Growth {
    /// U (k = 2) after so many moves, m; the first entry is no move.
    pub u_2d_m: Vec<f64>,
    /// U (k = 2) of 3D work at the same place, m.
    pub u_3d_m: Option<f64>,
    /// Where 2D has become as unsure as 3D, in moves.
    pub crosses_after: Option<f64>,
    /// The same in words.
    pub words: String,
}
