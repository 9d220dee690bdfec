//! Where every link is, as matrices for a model in space.

use holdline::machine::claim::Link;
use holdline::machine::cylinder::link_word;
use holdline::machine::front::Front;
use holdline::machine::joints::Joints;
use holdline::machine::outlines::link_pose;
use holdline::machine::pose::front_pose;
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

const LINKS: [Link; 9] = [
    Link::Tracks,
    Link::House,
    Link::Post,
    Link::Boom,
    Link::BoomUpper,
    Link::Stick,
    Link::Ear,
    Link::Tilt,
    Link::Bucket,
];

/// Every link that has a frame, in `Tracks`.
pub fn links(front: &Front<f64>, q: &Joints) -> Vec<LinkView> {
    let pose = front_pose(front, q);
    LINKS
        .iter()
        .map(|link| {
            let placed = pose.tracks_from_house * link_pose(&pose, *link);
            let turn = placed.rotation();
            let at = placed.origin();
            let mut matrix = [0.0; 16];
            for column in 0..3 {
                for row in 0..3 {
                    matrix[4 * column + row] = turn[(row, column)];
                }
            }
            matrix[12..15].copy_from_slice(&[at.x(), at.y(), at.z()]);
            matrix[15] = 1.0;
            LinkView {
                link: link_word(*link).to_owned(),
                matrix,
            }
        })
        .collect()
}
