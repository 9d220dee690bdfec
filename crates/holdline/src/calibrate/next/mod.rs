//! Where to measure next: the poses that make the tooth surest, as a list that a person can do in order.

mod candidates;
mod design;
mod information;
mod order;
mod words;

use super::equations::{Observed, ReadingSds, build};
use super::observations::{Observation, Observations, ObservedTool, SITE, Target, What};
use crate::frames::House;
use crate::machine::Machine;
use crate::machine::front::ToolChoice;
use crate::machine::joints::Joints;
use crate::sources;
use crate::tooth::attitude::Lean;
use crate::tooth::model::ToothModel;
use candidates::{Candidate, candidates};
use design::{Design, known, tooth_slopes};
use holdline_geom::fault::{Fault, Faults};
use holdline_geom::frame::Point;
use holdline_geom::measured::Measured;
use information::information;
use order::{checks, in_short_order};
use std::f64::consts::FRAC_PI_2;

/// A pose that makes the tooth surer by less than this share is not worth the walk.
pub const WORTH_MEASURING: f64 = 0.03;
/// Share of check shots that are kept out of the fit.
pub const CHECK_SHARE: f64 = 0.2;
/// Where the swing axis is thought to stand; any place does.
const STAND_M: [f64; 3] = [5000.0, 2000.0, 20.0];

/// What is asked.
#[derive(Debug, Clone, PartialEq)]
pub struct NextAsk {
    /// Tool, and the tooth point that is to become sure.
    pub choice: ToolChoice,
    /// Points measured in each pose; empty: the tooth point alone.
    pub targets: Vec<Target>,
    /// How well a shot is measured along each axis, m (k = 1); none: asked for.
    pub shot_sd_m: Option<f64>,
    /// How well the antennas' positions are known, m; with all three the antennas are read in every pose.
    pub antenna_sd_m: [Option<f64>; 3],
    /// Headings that the house can turn to, rad.
    pub headings_rad: Vec<f64>,
    /// How steeply the tracks stand, and towards which heading they fall, rad.
    pub fall: [f64; 2],
    /// The tooth stays this much above the track ground, m.
    pub floor_m: f64,
    /// And at most this much, so that a prism or a target on it can be seen to, m.
    pub ceiling_m: f64,
    /// What is best.
    pub best_by: BestBy,
    /// Poses for the fit at most.
    pub n_poses: usize,
    /// Stop when the tooth is this sure at the worst of near, mid and far, m; none: go on.
    pub enough_sd_m: Option<f64>,
}

impl NextAsk {
    /// Six poses for this tool at four headings on level tracks; how well a shot is measured is not stated yet.
    pub fn of(choice: ToolChoice) -> NextAsk {
        NextAsk {
            choice,
            targets: Vec::new(),
            shot_sd_m: None,
            antenna_sd_m: [None; 3],
            headings_rad: (0..4)
                .map(|quarter| f64::from(quarter) * FRAC_PI_2)
                .collect(),
            fall: [0.0, 0.0],
            floor_m: 0.05,
            ceiling_m: 5.0,
            best_by: BestBy::Envelope,
            n_poses: 6,
            enough_sd_m: None,
        }
    }

    /// Lean of the house at a heading, on tracks whose plane falls.
    fn lean(&self, heading_rad: f64) -> Lean {
        let [fall, towards] = self.fall;
        let ahead = heading_rad - towards;
        let pitch = (-fall.tan() * ahead.cos()).atan();
        // With the fall to its right the house has its right side down.
        let roll = (-fall.sin() * ahead.sin()).asin();
        Lean { pitch, roll }
    }
}

/// What makes one set of poses better than another.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BestBy {
    /// The tooth is surest at the worst of near, mid and far.
    Envelope,
    /// The figures are surest all together: the largest determinant.
    Determinant,
}

/// The poses to measure, in an order that moves the machine little.
#[derive(Debug, Clone, PartialEq)]
pub struct NextPoses {
    /// In the order to go to them.
    pub poses: Vec<NextPose>,
    /// How sure the tooth is now at near, mid and far: all three axes together, m; none where it is not known.
    pub before: Vec<(String, Option<f64>)>,
    /// The same after all poses for the fit.
    pub after: Vec<(String, Option<f64>)>,
    /// Why there are no more.
    pub stopped: Stopped,
    /// How many poses were looked at.
    pub n_looked_at: usize,
}

/// Why no further pose is proposed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stopped {
    /// As many as were asked for.
    AsManyAsAsked,
    /// The tooth is as sure as was asked for.
    SureEnough,
    /// One more would gain less than [`WORTH_MEASURING`].
    LittleGain,
    /// There are no more that the machine can go to.
    NoMore,
}

/// One pose.
#[derive(Debug, Clone, PartialEq)]
pub struct NextPose {
    /// What it is for.
    pub role: Role,
    /// The pose.
    pub joints: Joints,
    /// Pitch and roll of the house there.
    pub lean: Lean,
    /// Heading, rad.
    pub heading_rad: f64,
    /// Pins A, B, C and the tooth in `Level`: forward, up; m.
    pub chain_m: [[f64; 2]; 4],
    /// How to set it, in words.
    pub words: String,
    /// What to measure there.
    pub targets: Vec<Target>,
    /// Share by which the tooth at the worst pose becomes surer with this one, as it was chosen; none for a check.
    pub gain: Option<f64>,
}

/// What a pose is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Role {
    /// Goes into the fit.
    Fit,
    /// Stays out of the fit and checks it.
    Check,
}

/// The poses that are best measured next.
///
/// Used by `holdline calibrate next`.
///
/// ```text
/// N ← N + Σ Aᵀ (B Q Bᵀ)⁻¹ A over the poses chosen so far          N₀ = what sheet and calibration say already
/// envelope      least  max over near, mid, far of  tr(J N⁻¹ Jᵀ)
/// determinant   largest log det N
/// ```
///
/// - Chosen one at a time, the best of all that the machine can go to; then a fifth as many checks that stay out of the
///   fit, far from those; then put in an order that moves the machine little.
/// - A stand of its own is assumed, whose place nobody knows: the machine may have been moved since.
/// - Frame: [`crate::frames`]. Units: m, rad. Source: [`sources::EXPERIMENT_DESIGN`].
/// - Linear about the figures as they are; ask again after measuring.
///
/// # Errors
///
/// `C050` to `C053` for what is not known or not stated; faults of tool and sensors.
///
/// # Caution
///
/// Reach and floor are looked at, nothing else: keep people out of the swing area, and look for what hangs above.
pub fn next_poses(machine: &Machine, ask: &NextAsk) -> Result<NextPoses, Faults> {
    let _ = sources::EXPERIMENT_DESIGN;
    let front = machine.front(&ask.choice)?.values();
    let shot_sd_m = stated(ask)?;
    let all = candidates(machine, &front, ask)?;
    let model = ToothModel::new(machine, &ask.choice)?;
    let observed = observed(machine, &model, ask, &all, shot_sd_m)?;
    let told = information(&observed)?;
    let design = Design {
        tooth: tooth_slopes(machine, &model, &observed)?,
        known: known(machine, &observed, &told),
        told,
    };
    let (chosen, stopped) = design.choose(ask);
    let checks = checks(&all, &chosen);
    let mut order: Vec<(usize, Role, Option<f64>)> = chosen
        .iter()
        .map(|(idx, gain)| (*idx, Role::Fit, Some(*gain)))
        .chain(checks.iter().map(|idx| (*idx, Role::Check, None)))
        .collect();
    in_short_order(&all, &mut order);
    let first_rad = order.first().map_or(0.0, |(idx, ..)| all[*idx].heading_rad);
    let targets = targets(ask);
    let poses = order.iter().map(|(idx, role, gain)| {
        let candidate = &all[*idx];
        NextPose {
            role: *role,
            joints: candidate.joints,
            lean: candidate.lean,
            heading_rad: candidate.heading_rad,
            chain_m: chain_m(candidate),
            words: words::pose_words(machine, &front, candidate, first_rad),
            targets: targets.clone(),
            gain: *gain,
        }
    });
    let after = chosen.iter().fold(design.known.clone(), |n, (idx, _)| {
        n + &design.told.blocks[*idx]
    });
    Ok(NextPoses {
        poses: poses.collect(),
        before: design.sure(&design.known),
        after: design.sure(&after),
        stopped,
        n_looked_at: all.len(),
    })
}

fn targets(ask: &NextAsk) -> Vec<Target> {
    if ask.targets.is_empty() {
        vec![Target::Tooth(ask.choice.tooth.clone())]
    } else {
        ask.targets.clone()
    }
}

fn stated(ask: &NextAsk) -> Result<f64, Fault> {
    let numbers = ask
        .headings_rad
        .iter()
        .chain(&ask.fall)
        .chain([&ask.floor_m, &ask.ceiling_m]);
    let finite = numbers.into_iter().all(|v| v.is_finite()) && ask.fall[0].abs() < 0.5;
    match ask.shot_sd_m {
        Some(sd) if 0.0 < sd && sd.is_finite() && finite => Ok(sd),
        Some(_) | None => Err(Fault::new(
            "C053",
            "shot_sd",
            ask.shot_sd_m
                .map_or("not stated".to_owned(), |sd| format!("{sd} m")),
            "how well a shot is measured along each axis, above zero; headings, fall and floor as numbers",
            "take it from the instrument's sheet and the way the point is met: 2 to 3 mm with a total station is usual",
        )),
    }
}

/// Every candidate as if it had been measured, with the readings that the machine would give there.
fn observed(
    machine: &Machine,
    model: &ToothModel,
    ask: &NextAsk,
    all: &[Candidate],
    shot_sd_m: f64,
) -> Result<Observed, Faults> {
    let sheet = machine.sheet();
    let with_antennas = ask.antenna_sd_m.iter().all(Option::is_some);
    let mut rows = Vec::new();
    for (idx, candidate) in all.iter().enumerate() {
        let exact = model.readings_at(&candidate.joints, &candidate.lean)?;
        let site_from_house = candidate
            .lean
            .site_turn(candidate.heading_rad)
            .after_shift(STAND_M);
        let mut readings: Vec<(String, f64)> = sheet
            .sensors
            .iter()
            .zip(&exact.sensors_rad)
            .filter_map(|(sensor, reading)| Some((sensor.id.clone(), (*reading)?)))
            .collect();
        if let Some([pitch, roll]) = exact.house_rad {
            readings.extend([("pitch".to_owned(), pitch), ("roll".to_owned(), roll)]);
        }
        if with_antennas {
            for (antenna_idx, lever) in model.geometry().levers_m.iter().enumerate() {
                let [x, y, z] = lever.map(|m| m.value);
                let at = (site_from_house * Point::metres(x, y, z)).vector();
                for (axis, word) in ["easting", "northing", "elevation"].iter().enumerate() {
                    readings.push((format!("{word}_{}", antenna_idx + 1), at[axis]));
                }
            }
        }
        for target in targets(ask) {
            let house = place(machine, model, candidate, &target)?;
            let at = (site_from_house * house).vector();
            rows.push(Observation {
                name: format!("{idx}"),
                line: 0,
                what: What::Shot {
                    target,
                    at_m: [0, 1, 2].map(|axis| Some(Measured::with_sd(at[axis], shot_sd_m))),
                },
                pose: format!("{idx}"),
                stand: "next".to_owned(),
                setup: SITE.to_owned(),
                readings: readings.clone(),
                by: None,
                when: None,
                instrument: None,
                note: None,
            });
        }
    }
    let observations = Observations {
        machine: sheet.id.clone(),
        tool: ObservedTool {
            coupler: ask.choice.coupler.clone(),
            tilt: ask.choice.tilt.clone(),
            bucket: ask.choice.bucket.clone(),
        },
        rows,
    };
    let sds = ReadingSds {
        heading_sd_rad: None,
        antenna_sd_m: ask.antenna_sd_m,
    };
    build(machine, &ask.choice, &observations, sds, &|_| true)
}

/// A point of the machine in `House`.
fn place(
    machine: &Machine,
    model: &ToothModel,
    candidate: &Candidate,
    target: &Target,
) -> Result<Point<House>, Faults> {
    let (pose, front) = (&candidate.pose, model.geometry().front.values());
    let linkage = machine.linkage_pose(candidate.joints.bucket)?;
    let in_stick = |at: [f64; 2]| pose.house_from_stick * Point::metres(at[0], 0.0, at[1]);
    let choice = model.choice();
    Ok(match target {
        Target::BoomFoot => pose.house_from_boom.origin(),
        Target::BoomStick => pose.house_from_stick.origin(),
        Target::StickBucket => pose.house_from_ear.origin(),
        Target::LinkPin => in_stick(linkage.d_m),
        Target::LinkageE => in_stick(linkage.e_m),
        Target::IdlerPivot => in_stick(front.linkage.pivot_m),
        Target::BucketFrontPin => pose.house_from_bucket.origin(),
        Target::SwingAxis => Point::origin(),
        Target::Tooth(name) => {
            let named = ToolChoice {
                tooth: name.clone(),
                ..choice.clone()
            };
            let [x, y, z] = machine.front(&named)?.tooth_m.map(|m| m.value);
            pose.house_from_bucket * Point::metres(x, y, z)
        }
        Target::Antenna(id) => {
            let antennas = &machine.sheet().antennas;
            let Some(antenna) = antennas.iter().find(|a| a.id == *id) else {
                return Err(Faults(vec![Fault::new(
                    "C053",
                    "targets",
                    format!("antenna {id:?}"),
                    "a point that the machine has",
                    "name an antenna of the sheet",
                )]));
            };
            let at = [&antenna.lever.x, &antenna.lever.y, &antenna.lever.z];
            let [x, y, z] = at.map(|m| m.value);
            Point::metres(x, y, z)
        }
    })
}

/// Pins A, B, C and tooth in `Level`.
fn chain_m(candidate: &Candidate) -> [[f64; 2]; 4] {
    let pose = &candidate.pose;
    let level_from_house = candidate.lean.level_from_house();
    [
        pose.house_from_boom.origin(),
        pose.house_from_stick.origin(),
        pose.house_from_ear.origin(),
        pose.tooth_house,
    ]
    .map(|p| {
        let level = level_from_house * p;
        [level.x(), level.z()]
    })
}
