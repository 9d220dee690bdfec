//! What is asked of a pose, and the checks on it.

use std::collections::BTreeMap;

use holdline::frames::{House, Site};
use holdline::machine::Machine;
use holdline::machine::claim::Joint;
use holdline::machine::front::Front;
use holdline::machine::jacobian::joints_fitted;
use holdline::machine::joints::{ALL_JOINTS, Joints};
use holdline::tooth::attitude::Lean;
use holdline_geom::fault::{Fault, Faults, Span};
use holdline_geom::frame::Transform;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::units::Units;
use crate::views::{SdPair, ToolAsk, check_sd};

/// Which figures are wanted beside those of the tracks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
pub enum Mode {
    /// From the tracks, and against a bench height.
    #[default]
    #[serde(rename = "2d")]
    TwoD,
    /// Also on the site grid.
    #[serde(rename = "3d")]
    ThreeD,
}

/// A place on the site grid, m.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SitePlace {
    /// Easting.
    pub e: f64,
    /// Northing.
    pub n: f64,
    /// Elevation.
    pub u: f64,
}

/// Page size of one drawing, mm.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PageSize {
    /// Width.
    pub w_mm: f64,
    /// Height.
    pub h_mm: f64,
}

/// Page sizes of the two drawings.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Views {
    /// Section in the boom plane.
    #[serde(default = "section_size")]
    pub section: PageSize,
    /// Plan.
    #[serde(default = "plan_size")]
    pub plan: PageSize,
}

impl Default for Views {
    fn default() -> Views {
        Views {
            section: section_size(),
            plan: plan_size(),
        }
    }
}

fn section_size() -> PageSize {
    PageSize {
        w_mm: 130.0,
        h_mm: 95.0,
    }
}

fn plan_size() -> PageSize {
    PageSize {
        w_mm: 60.0,
        h_mm: 55.0,
    }
}

/// A pose, as a person sets it.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
pub struct PoseAsk {
    /// Tool.
    #[serde(flatten)]
    pub tool: ToolAsk,
    /// Joint angles by name, degrees; a joint left out rests inside its limits.
    #[serde(default)]
    pub joints_deg: BTreeMap<String, f64>,
    /// Pitch of the house, nose up +, degrees.
    #[serde(default)]
    pub pitch_deg: f64,
    /// Roll of the house, right side down +, degrees.
    #[serde(default)]
    pub roll_deg: f64,
    /// Azimuth of the boom direction, clockwise from grid north, degrees.
    #[serde(default)]
    pub heading_deg: f64,
    /// Which figures.
    #[serde(default)]
    pub mode: Mode,
    /// Where the swing axis meets the track ground.
    #[serde(default)]
    pub stand: Option<SitePlace>,
    /// Height of a bench over the track ground, m.
    #[serde(default)]
    pub bench_height: Option<f64>,
    /// Standard uncertainty of one antenna position.
    #[serde(default)]
    pub position_sd_m: Option<SdPair>,
    /// Standard uncertainty of a heading that no pair of antennas gives, degrees.
    #[serde(default)]
    pub heading_sd_deg: Option<f64>,
    /// Standard uncertainty of the bench height, m.
    #[serde(default)]
    pub bench_sd_m: Option<f64>,
    /// Sizes of the drawings.
    #[serde(default)]
    pub view: Option<Views>,
    /// What ready text shows lengths in.
    #[serde(default)]
    pub units: Units,
}

/// A pose as the core takes it, checked.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SetPose {
    /// Joint angles.
    pub joints: Joints,
    /// Lean of the house.
    pub lean: Lean,
    /// Heading, rad.
    pub heading_rad: f64,
    /// The swing axis at track ground level.
    pub stand_m: Option<[f64; 3]>,
}

impl SetPose {
    /// House to site for the typed stand and heading.
    pub fn site_from_house(&self) -> Option<Transform<Site, House>> {
        let stand_m = self.stand_m?;
        Some(self.lean.site_turn(self.heading_rad).after_shift(stand_m))
    }
}

const PITCH: Span = Span {
    code: "T031",
    what: "pitch of the house",
    unit: "°",
    min: -35.0,
    max: 35.0,
    fix: "nose up counts positive; an excavator that leans further does not stand",
};
const ROLL: Span = Span {
    what: "roll of the house",
    fix: "right side down counts positive; an excavator that leans further does not stand",
    ..PITCH
};
const HEADING: Span = Span {
    what: "heading",
    min: -360.0,
    max: 720.0,
    fix: "clockwise from grid north, 0 to 360",
    ..PITCH
};
const JOINT: Span = Span {
    what: "joint angle",
    min: -360.0,
    max: 360.0,
    fix: "upward (counter-clockwise seen from the left) counts positive",
    ..PITCH
};
const GRID: Span = Span {
    code: "T031",
    what: "coordinate on the site grid",
    unit: "m",
    min: -1e8,
    max: 1e8,
    fix: "type easting, northing and elevation in metres",
};
const BENCH: Span = Span {
    what: "bench over the track ground",
    min: -100.0,
    max: 100.0,
    ..GRID
};

impl PoseAsk {
    /// The pose for the core.
    ///
    /// # Errors
    ///
    /// `T030` for a joint that there is not, `T031` for a figure that cannot be, `V030` for a standard uncertainty of
    /// zero or less; all at once.
    pub fn set(&self, machine: &Machine, front: &Front<f64>) -> Result<SetPose, Faults> {
        let mut faults = Faults::none();
        for (name, deg) in &self.joints_deg {
            if ALL_JOINTS.iter().all(|joint| joint.word() != name) {
                faults.push(unknown_joint(name));
            }
            faults.keep(JOINT.check(&format!("joints_deg.{name}"), *deg));
        }
        faults.keep(PITCH.check("pitch_deg", self.pitch_deg));
        faults.keep(ROLL.check("roll_deg", self.roll_deg));
        faults.keep(HEADING.check("heading_deg", self.heading_deg));
        if let Some(SitePlace { e, n, u }) = self.stand {
            for (word, value) in [("e", e), ("n", n), ("u", u)] {
                faults.keep(GRID.check(&format!("stand.{word}"), value));
            }
        }
        if let Some(height) = self.bench_height {
            faults.keep(BENCH.check("bench_height", height));
        }
        if let Some(Err(more)) = self.position_sd_m.map(|sd| sd.check("position_sd_m")) {
            faults.0.extend(more.0);
        }
        faults.keep(check_sd("heading_sd_deg", self.heading_sd_deg));
        faults.keep(check_sd("bench_sd_m", self.bench_sd_m));
        let mut joints = Joints::zero();
        for joint in joints_fitted(front) {
            let typed = self
                .joints_deg
                .get(joint.word())
                .map(|deg| deg.to_radians());
            joints = joints.with(joint, typed.unwrap_or_else(|| resting_rad(machine, joint)));
        }
        faults.or(SetPose {
            joints,
            lean: Lean {
                pitch: self.pitch_deg.to_radians(),
                roll: self.roll_deg.to_radians(),
            },
            heading_rad: self.heading_deg.rem_euclid(360.0).to_radians(),
            stand_m: self.stand.map(|at| [at.e, at.n, at.u]),
        })
    }
}

/// Where a joint rests when nobody has set it: a digging pose, inside the nominal range.
fn resting_rad(machine: &Machine, joint: Joint) -> f64 {
    let share = match joint {
        Joint::Boom => Some(0.68),
        Joint::Stick => Some(0.36),
        Joint::Bucket => Some(0.58),
        Joint::BoomUpper => Some(0.5),
        Joint::Swing | Joint::Post | Joint::Offset | Joint::Tilt | Joint::Rotation => None,
    };
    match (machine.range(joint), share) {
        (None, _) => 0.0,
        (Some(range), None) => 0.0_f64.max(range.nominal_rad[0]).min(range.nominal_rad[1]),
        (Some(range), Some(share)) => {
            let [min, max] = range.nominal_rad;
            min + share * (max - min)
        }
    }
}

fn unknown_joint(name: &str) -> Fault {
    let words: Vec<&str> = ALL_JOINTS.iter().map(|joint| joint.word()).collect();
    Fault::new(
        "T030",
        format!("joints_deg.{name}"),
        format!("a joint {name:?}"),
        words.join(", "),
        "name the joint as the machine sheet does",
    )
}
