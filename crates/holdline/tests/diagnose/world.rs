//! A machine as it stands, the sheet somebody typed of it, and a day of shots with something wrong.
//!
//! Faults are made by moving the steel, the readings or the survey, never by the diagnosis's own directions.

use std::f64::consts::{FRAC_PI_2, TAU};

use crate::common::{self, Kit, Mounting, Rig, pose_at, tool, with_kit, with_tilt};
use holdline::calibrate::diagnose::{DiagnoseAsk, DiagnosedShot, Held};
use holdline::frames::{House, Site};
use holdline::machine::Machine;
use holdline::machine::claim::{ClaimedMachine, LinkageBranch, SensorKind};
use holdline::machine::front::ToolChoice;
use holdline::machine::joints::Joints;
use holdline::machine::pose::front_pose;
use holdline::tooth::attitude::Lean;
use holdline::tooth::model::ToothModel;
use holdline_geom::draws::Draws;
use holdline_geom::frame::{Point, Transform};
use holdline_geom::measured::Measured;

/// As the sheet states it.
pub const SENSOR_SD_RAD: f64 = 0.04 * std::f64::consts::PI / 180.0;
pub const HEADING_SD_RAD: f64 = 0.05 * std::f64::consts::PI / 180.0;
pub const ANTENNA_SD_M: [f64; 3] = [0.004, 0.004, 0.006];
pub const SURVEY_SD_M: f64 = 0.003;
pub const COMMON_SD_M: f64 = 0.003;

/// What is wrong.
#[derive(Debug, Clone, PartialEq)]
pub enum Fault {
    Healthy,
    /// A figure of the sheet is larger than the steel's by this.
    Figure(String, f64),
    /// A sensor of the sheet reads this much too high.
    Drift(String, f64),
    Heading(f64),
    /// All antennas, along this axis of the house.
    Lever(usize, f64),
    /// Along C to the tip, across it, sideways.
    Tooth(usize, f64),
    Shift([f64; 3]),
    OneShot(usize, [f64; 3]),
    Late(f64),
    Play(f64),
    /// Another tool hangs there.
    Tool(ToolChoice),
    /// The sheet has the linkage the other way round.
    Branch,
    /// The sheet has this value for the figure.
    Slip(String, f64),
    Swapped,
    Feet([f64; 3]),
    Two(Box<Fault>, Box<Fault>),
}

/// A machine, its tool, and poses to shoot.
pub struct Plan {
    pub rig: Rig,
    pub one_antenna: bool,
    pub stand_m: [f64; 3],
    pub poses: Vec<Pose>,
}

#[derive(Clone, Copy)]
pub struct Pose {
    pub joints: Joints,
    pub lean: Lean,
    pub heading_rad: f64,
    pub velocity_m_s: [f64; 3],
    pub held: Held,
}

pub fn rigs() -> Vec<Rig> {
    let mounting = Mounting {
        house: SensorKind::HouseEuler,
        sign: 1.0,
        offset_deg: 0.3,
        mount_deg: 0.0,
    };
    let rig = |name, sheet: ClaimedMachine, kit, choice| {
        let mut sheet = with_kit(sheet, kit, mounting);
        for bucket in &mut sheet.buckets {
            // Solids play no part here; a tip that moved must still lie in one.
            bucket.width.value = 3.0;
            bucket.outline_m = vec![[-2.0, -2.0], [2.0, -2.0], [2.0, 2.0], [-2.0, 2.0]];
        }
        Rig {
            name,
            sheet,
            choice,
        }
    };
    vec![
        rig(
            "mono, coupler, idler",
            common::demo(),
            Kit::TwoAxisIdler,
            tool(true, false, "T75", "centre"),
        ),
        rig(
            "mono, pin-on, ear",
            common::demo(),
            Kit::TwoAxisEar,
            tool(false, false, "G180", "left"),
        ),
        rig(
            "mono, coupler, ear",
            common::demo(),
            Kit::TwoAxisEar,
            tool(true, false, "T75", "centre"),
        ),
        rig(
            "mono, encoders",
            common::demo(),
            Kit::Encoders,
            tool(true, false, "T75", "centre"),
        ),
        rig(
            "two-piece",
            common::two_piece(),
            Kit::TwoAxisEar,
            tool(true, false, "G180", "right"),
        ),
        rig(
            "offset",
            common::offset(),
            Kit::EncoderIdler,
            tool(true, false, "T75", "left"),
        ),
        rig(
            "swing post",
            common::post(),
            Kit::TwoAxisEar,
            tool(false, false, "G180", "left"),
        ),
        rig(
            "tilt",
            with_tilt(common::demo(), false),
            Kit::TwoAxisEar,
            tool(false, true, "G180", "left"),
        ),
    ]
}

pub fn plan(draws: &mut Draws, rigs: &[Rig]) -> Plan {
    let rig = rigs[draws.below(rigs.len())].clone();
    let machine = rig.machine();
    let (fall, to) = (draws.between(0.0, 0.05), draws.between(0.0, TAU));
    let n = 8 + draws.below(9);
    let poses = (0..n)
        .map(|idx| {
            let joints = pose_at(&machine, &rig.choice, |_| 0.08 + 0.84 * draws.uniform());
            let heading_rad = (idx as f64 * FRAC_PI_2 + draws.between(-0.6, 0.6)).rem_euclid(TAU);
            // Pitch and roll on a plane that falls towards an azimuth; small angles do for a plan.
            let lean = Lean {
                pitch: -fall * (heading_rad - to).cos(),
                roll: -fall * (heading_rad - to).sin(),
            };
            Pose {
                joints,
                lean,
                heading_rad,
                velocity_m_s: [0, 1, 2].map(|_| draws.between(-0.6, 0.6)),
                held: if draws.below(2) == 0 {
                    Held::Standing
                } else {
                    Held::Hanging
                },
            }
        })
        .collect();
    Plan {
        rig,
        one_antenna: draws.below(2) == 0,
        stand_m: [
            5000.0 + draws.between(0.0, 90.0),
            2000.0 + draws.between(0.0, 90.0),
            24.0,
        ],
        poses,
    }
}

/// The sheet as typed and the machine as it stands, with its tool.
pub struct World {
    sheet: ClaimedMachine,
    steel: ClaimedMachine,
    steel_choice: ToolChoice,
}

/// Along C to the tip, across it, sideways: in the bucket's frame, from the sheet.
pub fn tooth_axes(sheet: &ClaimedMachine, choice: &ToolChoice) -> [[f64; 3]; 3] {
    let bucket = sheet
        .buckets
        .iter()
        .find(|b| b.id == choice.bucket)
        .expect("bucket");
    let tip = bucket
        .teeth
        .iter()
        .find(|t| t.name == choice.tooth)
        .expect("tooth")
        .at;
    let (mut x, mut z) = (tip.x.value, tip.z.value);
    if let (Some(id), None) = (&choice.coupler, &choice.tilt) {
        let coupler = sheet
            .couplers
            .iter()
            .find(|c| c.id == *id)
            .expect("coupler");
        // C to tip in the ear's frame, turned back into the bucket's.
        let (sin, cos) = coupler.rotation.value.sin_cos();
        let ear = [
            coupler.front_pin.x.value + cos * x - sin * z,
            coupler.front_pin.z.value + sin * x + cos * z,
        ];
        (x, z) = (cos * ear[0] + sin * ear[1], cos * ear[1] - sin * ear[0]);
    }
    let long = x.hypot(z);
    let (x, z) = (x / long, z / long);
    [[x, 0.0, z], [-z, 0.0, x], [0.0, 1.0, 0.0]]
}

pub fn add(sheet: &ClaimedMachine, changes: &[(String, f64)]) -> ClaimedMachine {
    let values: Vec<(String, f64)> = changes
        .iter()
        .map(|(path, by)| {
            let figure = sheet.figure(path).unwrap_or_else(|| panic!("no {path}"));
            (path.clone(), figure.measured.value + by)
        })
        .collect();
    set(sheet, &values)
}

pub fn world(plan: &Plan, fault: &Fault) -> World {
    let sheet = plan.rig.sheet.clone();
    let choice = plan.rig.choice.clone();
    let mut world = World {
        steel: sheet.clone(),
        sheet,
        steel_choice: choice.clone(),
    };
    put(plan, fault, &mut world);
    world
}

pub fn put(plan: &Plan, fault: &Fault, world: &mut World) {
    let choice = &plan.rig.choice;
    match fault {
        Fault::Figure(path, size) => world.steel = add(&world.steel, &[(path.clone(), -size)]),
        Fault::Drift(path, size) => world.steel = add(&world.steel, &[(path.clone(), *size)]),
        Fault::Lever(axis, size) => {
            let letter = ["x", "y", "z"][*axis];
            let all: Vec<(String, f64)> = world
                .steel
                .antennas
                .iter()
                .map(|a| (format!("antenna[{}].lever.{letter}", a.id), -size))
                .collect();
            world.steel = add(&world.steel, &all);
        }
        Fault::Heading(size) if !plan.one_antenna => {
            // The pair on the steel is turned the other way about its middle.
            let n = world.steel.antennas.len() as f64;
            let mean = |f: &dyn Fn(&holdline::machine::claim::ClaimedAntenna) -> f64| {
                world.steel.antennas.iter().map(f).sum::<f64>() / n
            };
            let (mx, my) = (mean(&|a| a.lever.x.value), mean(&|a| a.lever.y.value));
            let (sin, cos) = (-size).sin_cos();
            for antenna in &mut world.steel.antennas {
                let (x, y) = (antenna.lever.x.value - mx, antenna.lever.y.value - my);
                antenna.lever.x.value = mx + cos * x - sin * y;
                antenna.lever.y.value = my + sin * x + cos * y;
            }
        }
        Fault::Tooth(which, size) => {
            let axis = tooth_axes(&plan.rig.sheet, choice)[*which];
            let all: Vec<(String, f64)> = ["x", "y", "z"]
                .iter()
                .zip(axis)
                .map(|(letter, a)| {
                    (
                        format!(
                            "bucket[{}].tooth[{}].at.{letter}",
                            choice.bucket, choice.tooth
                        ),
                        -a * size,
                    )
                })
                .collect();
            world.steel = add(&world.steel, &all);
        }
        Fault::Tool(other) => world.steel_choice = other.clone(),
        Fault::Branch => {
            let branch = &mut world.sheet.linkage.branch;
            *branch = match branch {
                LinkageBranch::Left => LinkageBranch::Right,
                LinkageBranch::Right => LinkageBranch::Left,
            };
        }
        Fault::Slip(path, value) => world.sheet = set(&world.sheet, &[(path.clone(), *value)]),
        Fault::Two(a, b) => {
            put(plan, a, world);
            put(plan, b, world);
        }
        Fault::Healthy
        | Fault::Heading(_)
        | Fault::Shift(_)
        | Fault::OneShot(..)
        | Fault::Late(_)
        | Fault::Play(_)
        | Fault::Swapped
        | Fault::Feet(_) => {}
    }
}

pub fn set(sheet: &ClaimedMachine, values: &[(String, f64)]) -> ClaimedMachine {
    let figures: Vec<(&str, Measured)> = values
        .iter()
        .map(|(path, value)| {
            let sd = sheet.figure(path).and_then(|f| f.measured.sd);
            (path.as_str(), Measured { value: *value, sd })
        })
        .collect();
    sheet
        .with_figures(&figures)
        .unwrap_or_else(|paths| panic!("no {paths:?}"))
}

/// Shots of a day. Without noise the steel is as the sheet says, and only the fault is there.
pub fn day(
    plan: &Plan,
    fault: &Fault,
    noise: Option<&mut Draws>,
) -> Option<(ToothModel, Vec<DiagnosedShot>)> {
    let mut none = Draws::new(0, 0);
    let scale = f64::from(u8::from(noise.is_some()));
    let draws = noise.unwrap_or(&mut none);
    let mut world = world(plan, fault);
    let model = ToothModel::new(
        &Machine::measured_up(world.sheet.clone()).ok()?,
        &plan.rig.choice,
    )
    .ok()?;
    let figures: Vec<(String, f64)> = world
        .steel
        .figures()
        .iter()
        .filter_map(|f| Some((f.path.clone(), f.measured.sd? * scale * draws.normal())))
        .collect();
    world.steel = add(&world.steel, &figures);
    let steel = ToothModel::new(
        &Machine::measured_up(world.steel.clone()).ok()?,
        &world.steel_choice,
    )
    .ok()?;
    let front = steel.geometry().front.values();
    let common = [0, 1, 2].map(|_| COMMON_SD_M * scale * draws.normal());
    let mut shots = Vec::new();
    for (idx, pose) in plan.poses.iter().enumerate() {
        let site: Transform<Site, House> = pose
            .lean
            .site_turn(pose.heading_rad)
            .after_shift(plan.stand_m);
        let tooth = (site * front_pose(&front, &pose.joints).tooth_house).vector();
        let mut readings = steel.readings_at(&pose.joints, &pose.lean).ok()?;
        readings = readings.map(&mut |_, angle| angle + SENSOR_SD_RAD * scale * draws.normal());
        readings.antennas_m = steel
            .geometry()
            .levers_m
            .iter()
            .enumerate()
            .map(|(antenna_idx, lever)| {
                let [x, y, z] = lever.map(|m| m.value);
                let at = (site * Point::metres(x, y, z)).vector();
                let seen =
                    [0, 1, 2].map(|axis| at[axis] + ANTENNA_SD_M[axis] * scale * draws.normal());
                (antenna_idx == 0 || !plan.one_antenna).then_some(seen)
            })
            .collect();
        if plan.one_antenna {
            let turned = heading_fault(fault);
            readings.heading_rad =
                Some(pose.heading_rad + turned + HEADING_SD_RAD * scale * draws.normal());
        }
        let mut surveyed =
            [0, 1, 2].map(|axis| tooth[axis] + common[axis] + SURVEY_SD_M * scale * draws.normal());
        survey(fault, idx, pose, &mut surveyed);
        let readings =
            model.with_sheet_sds(&readings, Some(HEADING_SD_RAD), ANTENNA_SD_M.map(Some));
        shots.push(DiagnosedShot {
            name: format!("{}", idx + 1),
            tooth: None,
            readings: Some(readings),
            shown_m: [None; 3],
            surveyed_m: surveyed.map(|v| Some(Measured::with_sd(v, SURVEY_SD_M))),
            velocity_m_s: Some(pose.velocity_m_s),
            held: Some(pose.held),
        });
    }
    Some((model, shots))
}

pub fn heading_fault(fault: &Fault) -> f64 {
    match fault {
        Fault::Heading(size) => *size,
        Fault::Two(a, b) => heading_fault(a) + heading_fault(b),
        _ => 0.0,
    }
}

/// What the fault does to the survey of one shot.
pub fn survey(fault: &Fault, idx: usize, pose: &Pose, at: &mut [f64; 3]) {
    match fault {
        Fault::Shift(by) => (0..3).for_each(|axis| at[axis] -= by[axis]),
        Fault::OneShot(one, by) if *one == idx => (0..3).for_each(|axis| at[axis] -= by[axis]),
        // Shown is where the tooth was: the survey, of the same instant, is ahead.
        Fault::Late(by) => (0..3).for_each(|axis| at[axis] += pose.velocity_m_s[axis] * by),
        Fault::Play(by) => {
            at[2] += by
                * if pose.held == Held::Standing {
                    1.0
                } else {
                    -1.0
                }
        }
        Fault::Swapped => at.swap(0, 1),
        Fault::Feet(factors) => (0..3).for_each(|axis| at[axis] /= factors[axis]),
        Fault::Two(a, b) => {
            // The first may be a slip of the survey's file, which comes after all that moved the tooth.
            survey(b, idx, pose, at);
            survey(a, idx, pose, at);
        }
        _ => {}
    }
}

pub fn ask(seed: u64) -> DiagnoseAsk {
    DiagnoseAsk {
        common_sd_m: [Some(COMMON_SD_M); 3],
        seed,
        n_next: 0,
        ..DiagnoseAsk::default()
    }
}
