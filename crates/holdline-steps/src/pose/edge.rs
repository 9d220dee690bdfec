//! The whole edge of the bucket in a pose, point by point, in every frame.

use holdline::machine::Machine;
use holdline::machine::front::Front;
use holdline::tooth::edge::{EdgePart, Swing, edge_points};
use holdline_geom::fault::Fault;
use holdline_sheet::figure::plain;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{PoseAsk, PoseFix};

/// One point of the bucket: a tooth point, a corner of the edge, an end of the heel.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct EdgePointView {
    /// What it is.
    pub name: String,
    /// Forward, left, up in the house's frame, m.
    pub house_m: [f64; 3],
    /// Forward between the tracks, left, up in the frame of the tracks, m.
    pub tracks_m: Option<[f64; 3]>,
    /// Forward, left, up, level, from the swing axis at track ground, m.
    pub level_m: [f64; 3],
    /// Easting, northing, elevation, m; none without a stand and a heading.
    pub site_m: Option<[f64; 3]>,
    /// Level coordinates, or those of the site where there are any, ready to read.
    pub text: String,
}

/// Every point of the bucket.
pub(super) fn edge(
    machine: &Machine,
    front: &Front<f64>,
    ask: &PoseAsk,
    found: &PoseFix,
) -> Result<Vec<EdgePointView>, Fault> {
    let bucket = machine.bucket(&ask.tool.bucket)?;
    let length = ask.units.length();
    let said = |p: [f64; 3]| p.map(|v| plain(v, &length, 3));
    // A typed pose states the swing angle.
    let points = edge_points(front, bucket, &found.fix.solution, Swing::Known);
    Ok(points
        .into_iter()
        .map(|point| {
            let level_m: [f64; 3] = point.level.vector().into();
            let site_m: Option<[f64; 3]> = point.site.map(|p| p.vector().into());
            let text = match site_m {
                Some(site) => {
                    let [e, n, u] = said(site);
                    format!("N {n}, E {e}, El {u}")
                }
                None => {
                    let [forward, left, up] = said(level_m);
                    format!("forward {forward}, left {left}, up {up}")
                }
            };
            EdgePointView {
                name: name(&point.part),
                house_m: point.house.vector().into(),
                tracks_m: point.tracks.map(|p| p.vector().into()),
                level_m,
                site_m,
                text,
            }
        })
        .collect())
}

fn name(part: &EdgePart) -> String {
    match part {
        EdgePart::Tooth(name) => format!("{name} tooth point"),
        EdgePart::Edge { corner_idx } => format!("edge corner {}", corner_idx + 1),
        EdgePart::HeelLeft => "heel, left end".to_owned(),
        EdgePart::HeelRight => "heel, right end".to_owned(),
    }
}
