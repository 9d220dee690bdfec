//! Where every link is, as matrices for a model in space.

use holdline::machine::Machine;
use holdline::machine::front::ToolChoice;
use holdline::machine::joints::Joints;
use holdline_files::model::model_links;
use holdline_geom::fault::Fault;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A link and the move from its frame to the frame of the tracks.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LinkView {
    /// Name, as on the sheet and in the model.
    pub link: String,
    /// 4 × 4, column by column; metres.
    pub matrix: [f64; 16],
}

/// Every node of the model, in `Tracks`.
///
/// # Errors
///
/// `T001` for an unknown tool; `T010`, `T011` when the linkage cannot close there.
pub(super) fn links(
    machine: &Machine,
    choice: &ToolChoice,
    q: &Joints,
) -> Result<Vec<LinkView>, Fault> {
    let links = model_links(machine, choice, q)?;
    let view = |link: holdline_files::model::ModelLink| {
        let (turn, at) = (
            link.tracks_from_link.rotation(),
            link.tracks_from_link.origin(),
        );
        let mut matrix = [0.0; 16];
        for column in 0..3 {
            for row in 0..3 {
                matrix[4 * column + row] = turn[(row, column)];
            }
        }
        matrix[12..15].copy_from_slice(&[at.x(), at.y(), at.z()]);
        matrix[15] = 1.0;
        LinkView {
            link: link.name,
            matrix,
        }
    };
    Ok(links.into_iter().map(view).collect())
}
