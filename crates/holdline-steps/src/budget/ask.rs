//! What is asked of a budget: what the machine's figures do not hold, the task, and where to look.

use std::collections::BTreeMap;

use holdline_geom::fault::{Fault, Faults, Span};
use holdline_sheet::figure::{MILLIMETRES, plain};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::pose::{Mode, PoseAsk, SitePlace};
use crate::units::Units;
use crate::views::{SdPair, ToolAsk, check_sd};

/// What the task allows. None was not given.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
pub struct TaskAsk {
    /// Most above, m.
    #[serde(default)]
    pub up_m: Option<f64>,
    /// Most below, as an amount, m.
    #[serde(default)]
    pub down_m: Option<f64>,
    /// In plan, radius, m.
    #[serde(default)]
    pub plan_m: Option<f64>,
    /// Along the face's normal, either way, m.
    #[serde(default)]
    pub normal_m: Option<f64>,
}

/// A face to be dug.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FaceAsk {
    /// How steeply it falls, degrees.
    pub slope_deg: f64,
    /// Azimuth towards which it falls, clockwise from grid north (3D) or from the boom's direction (2D), degrees.
    pub azimuth_deg: f64,
}

/// A budget: what the machine's figures do not hold, the task, the pose, the map.
///
/// None is unknown; zero says that it was looked at and is nothing.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
pub struct BudgetAsk {
    /// Machine, calibration, tool, tooth point.
    #[serde(flatten)]
    pub tool: ToolAsk,
    /// 2D from a bench, or 3D on the site grid.
    #[serde(default)]
    pub mode: Mode,
    /// Standard uncertainty of one antenna position.
    #[serde(default)]
    pub position_sd_m: Option<SdPair>,
    /// Standard uncertainty of a heading that no pair of antennas gives, degrees.
    #[serde(default)]
    pub heading_sd_deg: Option<f64>,
    /// Standard uncertainty of the line between two antennas along each axis, m; none takes them to err apart.
    #[serde(default)]
    pub pair_sd_m: Option<f64>,
    /// Standard uncertainty of the localization.
    #[serde(default)]
    pub localization_sd_m: Option<SdPair>,
    /// Standard uncertainty of the bench's height, m.
    #[serde(default)]
    pub bench_sd_m: Option<f64>,
    /// Standard uncertainty of one touch of a mark, m.
    #[serde(default)]
    pub touch_sd_m: Option<f64>,
    /// Standard uncertainty of a transfer mark, m.
    #[serde(default)]
    pub mark_sd_m: Option<f64>,
    /// How many times the machine moves and benches again.
    #[serde(default)]
    pub rebenches: u32,
    /// Play of the pins, half of it, m.
    #[serde(default)]
    pub pin_play_m: Option<f64>,
    /// Deflection of the front at full reach, m.
    #[serde(default)]
    pub deflection_m: Option<f64>,
    /// How late positions and heading are, s; those of the sensors stand on the sheet.
    #[serde(default)]
    pub latency_s: Option<f64>,
    /// Speed of the tooth while it is read, m/s.
    #[serde(default)]
    pub speed_m_s: Option<f64>,
    /// The face to be dug.
    #[serde(default)]
    pub face: Option<FaceAsk>,
    /// What the task allows.
    #[serde(default)]
    pub tolerance: TaskAsk,
    /// True where one side of a tolerance alone can be broken.
    #[serde(default)]
    pub one_sided: bool,
    /// Joint angles of the pose by name, degrees; a joint left out rests inside its limits.
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
    /// Draws of a Monte Carlo beside the linear result; none makes none.
    #[serde(default)]
    pub draws: Option<DrawsSettings>,
    /// The reach that the job needs, from and to, forward of the swing axis, m; none: all of it.
    #[serde(default)]
    pub work_reach_m: Option<[f64; 2]>,
    /// The heights that the job needs, from and to, over the track ground, m; none: all of them.
    #[serde(default)]
    pub work_height_m: Option<[f64; 2]>,
    /// The part of the bucket's stroke that the job uses, degrees of the bucket joint; none: all of it.
    #[serde(default)]
    pub work_bucket_deg: Option<[f64; 2]>,
    /// Points of the map over the working envelope; none draws none.
    #[serde(default)]
    pub grid: Option<MapGrid>,
}

/// How many draws, from which seed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct DrawsSettings {
    /// Draws.
    pub n_draws: u32,
    /// Seed.
    pub seed: u32,
}

impl Default for DrawsSettings {
    fn default() -> DrawsSettings {
        DrawsSettings {
            n_draws: 20_000,
            seed: 1,
        }
    }
}

/// Points of a map in each direction.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct MapGrid {
    /// Forward.
    pub n_forward: u32,
    /// Up.
    pub n_up: u32,
}

impl Default for MapGrid {
    fn default() -> MapGrid {
        MapGrid {
            n_forward: 60,
            n_up: 60,
        }
    }
}

impl BudgetAsk {
    /// `2D` or `3D`.
    pub fn mode_words(&self) -> &'static str {
        match self.mode {
            Mode::TwoD => "2D",
            Mode::ThreeD => "3D",
        }
    }

    /// What the task allows, in words; empty where nothing was stated.
    pub fn task_words(&self) -> String {
        let mm = |m: f64| plain(m, &MILLIMETRES, 0);
        let task = &self.tolerance;
        let mut words = Vec::new();
        if let Some((down, up)) = task.down_m.zip(task.up_m) {
            words.push(format!("height {} below to {} above", mm(down), mm(up)));
        }
        if let Some(plan) = task.plan_m {
            words.push(format!("plan within {}", mm(plan)));
        }
        if let Some(normal) = task.normal_m {
            words.push(format!("along the face's normal within {}", mm(normal)));
        }
        if self.one_sided && !words.is_empty() {
            words.push("one side alone can be broken".to_owned());
        }
        words.join(", ")
    }

    /// The pose, as [`crate::pose`] takes it, on a stand of its own.
    pub fn pose(&self, units: Units) -> PoseAsk {
        PoseAsk {
            tool: self.tool.clone(),
            joints_deg: self.joints_deg.clone(),
            pitch_deg: self.pitch_deg,
            roll_deg: self.roll_deg,
            heading_deg: self.heading_deg,
            mode: self.mode,
            stand: (self.mode == Mode::ThreeD).then_some(SitePlace {
                e: 0.0,
                n: 0.0,
                u: 0.0,
            }),
            bench_height: None,
            position_sd_m: self.position_sd_m,
            heading_sd_deg: self.heading_sd_deg,
            bench_sd_m: self.bench_sd_m,
            view: None,
            units,
        }
    }
}

const SMALL: Span = Span {
    code: "V050",
    what: "an uncertainty or allowance, as an amount",
    unit: "m",
    min: 0.0,
    max: 5.0,
    fix: "millimetres typed as metres look like this; leave it out where it is not known",
};
const LATENCY: Span = Span {
    what: "latency",
    unit: "s",
    min: 0.0,
    max: 5.0,
    fix: "milliseconds typed as seconds look like this; leave it out where it is not known",
    ..SMALL
};
const SPEED: Span = Span {
    what: "speed of the tooth",
    unit: "m/s",
    min: 0.0,
    max: 10.0,
    ..SMALL
};
const SLOPE: Span = Span {
    what: "slope of the face",
    unit: "°",
    min: 0.0,
    max: 90.0,
    fix: "0 is level, 90 upright",
    ..SMALL
};
const MOVES: Span = Span {
    what: "moves between two benches",
    unit: "",
    min: 0.0,
    max: 200.0,
    fix: "close on a known level long before that",
    ..SMALL
};
const POINTS: Span = Span {
    what: "points of the map",
    unit: "",
    min: 4.0,
    max: 400.0,
    fix: "60 by 60 shows what there is to see",
    ..SMALL
};
const DRAWS: Span = Span {
    what: "draws",
    unit: "",
    min: 1000.0,
    max: 1e7,
    fix: "20 000 settle a standard uncertainty to half a percent",
    ..SMALL
};
const AZIMUTH: Span = Span {
    what: "azimuth of the face",
    unit: "°",
    min: -360.0,
    max: 720.0,
    fix: "clockwise from grid north, 0 to 360",
    ..SMALL
};

impl BudgetAsk {
    /// Refuses figures that cannot be, all at once.
    ///
    /// # Errors
    ///
    /// `V030`, `V050`.
    pub fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::none();
        let part = [self.work_reach_m, self.work_height_m, self.work_bucket_deg];
        if self.grid.is_none() && part.iter().any(Option::is_some) {
            faults.push(Fault::new(
                "V050",
                "grid",
                "a part of the reach to look at, and no grid",
                "points of a grid in each direction",
                "ask for a grid such as 60,60, or leave the part out and have the one pose judged",
            ));
        }
        if let Some(Err(more)) = self.position_sd_m.map(|pair| pair.check("position_sd_m")) {
            faults.0.extend(more.0);
        }
        faults.keep(check_sd("heading_sd_deg", self.heading_sd_deg));
        let localization = self.localization_sd_m.unwrap_or_default();
        let task = &self.tolerance;
        for (at, value, span) in [
            ("localization_sd_m.h", localization.h, SMALL),
            ("localization_sd_m.v", localization.v, SMALL),
            ("bench_sd_m", self.bench_sd_m, SMALL),
            ("touch_sd_m", self.touch_sd_m, SMALL),
            ("mark_sd_m", self.mark_sd_m, SMALL),
            ("pair_sd_m", self.pair_sd_m, SMALL),
            ("pin_play_m", self.pin_play_m, SMALL),
            ("deflection_m", self.deflection_m, SMALL),
            ("latency_s", self.latency_s, LATENCY),
            ("speed_m_s", self.speed_m_s, SPEED),
            ("tolerance.up_m", task.up_m, SMALL),
            ("tolerance.down_m", task.down_m, SMALL),
            ("tolerance.plan_m", task.plan_m, SMALL),
            ("tolerance.normal_m", task.normal_m, SMALL),
            ("face.slope_deg", self.face.map(|f| f.slope_deg), SLOPE),
            (
                "face.azimuth_deg",
                self.face.map(|f| f.azimuth_deg),
                AZIMUTH,
            ),
            (
                "draws.n_draws",
                self.draws.map(|d| f64::from(d.n_draws)),
                DRAWS,
            ),
            ("rebenches", Some(f64::from(self.rebenches)), MOVES),
        ] {
            if let Some(value) = value {
                faults.keep(span.check(at, value));
            }
        }
        for (at, n) in [
            ("grid.n_forward", self.grid.map(|grid| grid.n_forward)),
            ("grid.n_up", self.grid.map(|grid| grid.n_up)),
        ] {
            if let Some(n) = n {
                faults.keep(POINTS.check(at, f64::from(n)));
            }
        }
        faults.or(())
    }
}
