//! Which jobs a machine can do as it is fitted out, and what is missing for the next.

use super::working_poses::working_poses;
use crate::machine::Machine;
use crate::machine::claim::{CylinderPin, Joint, Link, SensorKind};
use crate::machine::front::ToolChoice;
use crate::machine::jacobian::joints_fitted;
use crate::tooth::attitude::Lean;
use crate::tooth::model::{PAIR_CONTRADICTS, ToothModel};
use crate::tooth::readings::Readings;
use holdline_geom::fault::{Fault, Faults};
use std::collections::BTreeSet;

/// Whether a job can be done with what is fitted and stated.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ready {
    /// Everything that it needs is there, and every figure that matters has an uncertainty.
    Now,
    /// It is fitted for it, but a figure or an uncertainty that matters is not stated.
    NotKnown,
    /// Something that it needs is not there.
    Missing,
}

/// One job.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReadyJob {
    /// The job, in the trade's words.
    pub job: &'static str,
    /// Whether it can be done.
    pub ready: Ready,
    /// What the machine has for it.
    pub has: Vec<String>,
    /// What is missing or not stated.
    pub missing: Vec<String>,
}

/// The table, in the order of what the jobs need.
///
/// Used by `holdline machine ready` and on the measure-up screen.
/// It speaks of the fit-out alone: sensors, antennas, solids and stated uncertainties on the sheet.
///
/// - A figure without a stated uncertainty counts as not known, never as exact.
/// - Where the machine would stand, how good its position is and the localization are the job's, not the machine's:
///   they are taken as given here and judged by the budget.
///
/// # Errors
///
/// `T001` for an unknown tool; `C042` when the tooth does not come to the ground.
///
/// # Caution
///
/// Ready says that the fit-out is complete. That the tooth is right, check shots must say, and that a limit is enough,
/// its proof.
pub fn readiness(machine: &Machine, choice: &ToolChoice) -> Result<Vec<ReadyJob>, Fault> {
    let scene = Scene::of(machine, choice)?;
    Ok(vec![
        scene.depth_in_2d(),
        scene.slope_in_2d(),
        scene.in_3d(),
        scene.height_limit(),
        scene.depth_limit(),
        scene.reach_limit(),
        scene.slew_sector(),
        scene.stand_off(),
        scene.own_cab(),
        scene.scale(),
        scene.sight(),
    ])
}

/// What all rows look at.
struct Scene<'a> {
    machine: &'a Machine,
    choice: &'a ToolChoice,
    /// Joints of the front that no sensor gives.
    without_sensor: Vec<String>,
    /// Whether the house's pitch and roll are measured.
    house: bool,
    /// Whether something says where the boom points against the tracks.
    swing: bool,
    /// Figures that move the tooth in 2D and have no uncertainty.
    open_in_2d: Vec<String>,
    /// The same in 3D.
    open_in_3d: Vec<String>,
}

/// A row as it grows.
struct Row(ReadyJob);

impl Row {
    fn new(job: &'static str) -> Row {
        Row(ReadyJob {
            job,
            ready: Ready::Now,
            has: Vec::new(),
            missing: Vec::new(),
        })
    }

    /// Needed: there, or not.
    fn needs(mut self, there: bool, has: impl Into<String>, missing: impl Into<String>) -> Row {
        if there {
            self.0.has.push(has.into());
        } else {
            self.0.ready = Ready::Missing;
            self.0.missing.push(missing.into());
        }
        self
    }

    /// Figures that must have an uncertainty.
    fn stated(mut self, open: &[String]) -> Row {
        if open.is_empty() {
            return self;
        }
        if self.0.ready == Ready::Now {
            self.0.ready = Ready::NotKnown;
        }
        let named: Vec<&str> = open.iter().take(3).map(String::as_str).collect();
        let more = open.len() - named.len();
        let more = if more == 0 {
            String::new()
        } else {
            format!(" and {more} more")
        };
        self.0.missing.push(format!(
            "no uncertainty stated for {}{more}",
            named.join(", ")
        ));
        self
    }

    /// Only words: what else the job takes, which no fit-out can show.
    fn also(mut self, has: impl Into<String>) -> Row {
        self.0.has.push(has.into());
        self
    }

    fn done(self) -> ReadyJob {
        self.0
    }
}

impl<'a> Scene<'a> {
    fn of(machine: &'a Machine, choice: &'a ToolChoice) -> Result<Scene<'a>, Fault> {
        let model = ToothModel::new(machine, choice)?;
        let without_sensor = match model.plan() {
            Ok(_) => Vec::new(),
            Err(faults) => faults.0.into_iter().map(|fault| fault.at).collect(),
        };
        let sensors = &machine.sheet().sensors;
        let poses = working_poses(machine, choice)?;
        let mut open = [BTreeSet::new(), BTreeSet::new()];
        for pose in &poses {
            let lean = Lean {
                pitch: LEAN_RAD,
                roll: LEAN_RAD,
            };
            let [flat, site] = match model.readings_at(&pose.joints, &lean) {
                Ok(readings) => open_figures(machine, &model, &readings),
                // Without a sensor for a joint the row says so itself.
                Err(faults) => not_worked_out(&faults),
            };
            open[0].extend(flat);
            open[1].extend(site);
        }
        let [open_in_2d, open_in_3d] = open.map(|names| names.into_iter().collect());
        Ok(Scene {
            machine,
            choice,
            without_sensor,
            house: sensors.iter().any(|sensor| sensor.kind.is_house()),
            swing: sensors
                .iter()
                .any(|s| s.link == Link::House && s.kind == SensorKind::JointEncoder),
            open_in_2d,
            open_in_3d,
        })
    }

    /// What every job with the tooth needs.
    fn tooth(&self, row: Row) -> Row {
        let n_joints = joints_of(self.machine, self.choice);
        row.needs(
            self.without_sensor.is_empty(),
            format!("a sensor for each of its {n_joints} joints"),
            format!("a sensor for {}", self.without_sensor.join(", ")),
        )
        .needs(
            self.house,
            "pitch and roll of the house",
            "a sensor for pitch and roll of the house",
        )
    }

    fn azimuth(&self, row: Row, for_what: &str) -> Row {
        let pair = self.machine.sheet().antennas.len() >= 2;
        let has = if self.swing {
            "a swing encoder"
        } else {
            "two antennas for the heading"
        };
        row.needs(
            self.swing || pair,
            has,
            format!("a swing encoder or a second antenna, {for_what}"),
        )
    }

    fn depth_in_2d(&self) -> ReadyJob {
        self.tooth(Row::new("2D depth from a bench"))
            .stated(&self.open_in_2d)
            .done()
    }

    fn slope_in_2d(&self) -> ReadyJob {
        let row = self.tooth(Row::new("2D slope")).stated(&self.open_in_2d);
        self.azimuth(row, "to know which way the slope falls")
            .done()
    }

    fn in_3d(&self) -> ReadyJob {
        let n = self.machine.sheet().antennas.len();
        let row = self.tooth(Row::new("3D on the site grid"));
        row.needs(
            n >= 2,
            format!("{n} antennas: position and heading"),
            match n {
                1 => "a second antenna, or another source of the heading",
                _ => "two antennas",
            },
        )
        .stated(&self.open_in_3d)
        .also("takes a localization of the job")
        .done()
    }

    /// What a limit on the front watches: solids of boom, stick and tool, and ranges to prove over.
    fn watched(&self, row: Row) -> Row {
        let sheet = self.machine.sheet();
        let solid = |link: Link| sheet.solids.iter().any(|solid| solid.link == link);
        let bare: Vec<&str> = [(Link::Boom, "boom"), (Link::Stick, "stick")]
            .into_iter()
            .filter(|(link, _)| !solid(*link))
            .map(|(_, word)| word)
            .collect();
        let tool = sheet
            .buckets
            .iter()
            .any(|bucket| bucket.id == self.choice.bucket && bucket.outline_m.len() >= 3);
        let no_range: Vec<&str> = [Joint::Boom, Joint::Stick, Joint::Bucket]
            .into_iter()
            .filter(|joint| self.machine.range(*joint).is_none())
            .map(Joint::word)
            .collect();
        row.needs(
            bare.is_empty(),
            "solids of boom and stick",
            format!("solids of {}", bare.join(" and ")),
        )
        .needs(
            tool,
            "the bucket's outline",
            format!("the outline of bucket {}", self.choice.bucket),
        )
        .needs(
            no_range.is_empty(),
            "joint ranges from the strokes",
            format!(
                "pins and strokes that give the range of {}",
                no_range.join(", ")
            ),
        )
    }

    fn height_limit(&self) -> ReadyJob {
        self.watched(self.tooth(Row::new("limit: height")))
            .stated(&self.open_in_2d)
            .done()
    }

    fn depth_limit(&self) -> ReadyJob {
        self.watched(self.tooth(Row::new("limit: depth")))
            .stated(&self.open_in_2d)
            .done()
    }

    fn reach_limit(&self) -> ReadyJob {
        self.watched(self.tooth(Row::new("limit: reach")))
            .stated(&self.open_in_2d)
            .done()
    }

    fn slew_sector(&self) -> ReadyJob {
        let row = self.watched(self.tooth(Row::new("limit: slew sector")));
        let row = self.azimuth(row, "to know how far it has swung");
        self.tail(row).done()
    }

    fn stand_off(&self) -> ReadyJob {
        let row = self.watched(self.tooth(Row::new("limit: stand-off plane")));
        let row = self.azimuth(row, "to know where the plane lies");
        self.tail(row).stated(&self.open_in_2d).done()
    }

    /// The house swings with its tail.
    fn tail(&self, row: Row) -> Row {
        let there = (self.machine.sheet().solids.iter()).any(|solid| solid.link == Link::House);
        row.needs(
            there,
            "solids of the house and its tail",
            "solids of the house and its tail",
        )
    }

    fn own_cab(&self) -> ReadyJob {
        let sheet = self.machine.sheet();
        let cab = sheet
            .solids
            .iter()
            .any(|solid| solid.link == Link::House && solid.part.to_lowercase().contains("cab"));
        self.watched(self.tooth(Row::new("limit: own cab")))
            .needs(cab, "a solid of the cab", "a solid of the cab")
            .stated(&self.open_in_2d)
            .done()
    }

    fn scale(&self) -> ReadyJob {
        let sheet = self.machine.sheet();
        let boom = sheet.cylinders.iter().find(|c| c.moves == Joint::Boom);
        let sizes = boom.is_some_and(|c| c.bore_m.is_some() && c.rod_diameter_m.is_some());
        let pins = boom.is_some_and(|c| matches!(c.base, CylinderPin::On { .. }));
        let weighed = |link: Link| sheet.masses.iter().any(|mass| mass.link == link);
        let bucket = sheet
            .buckets
            .iter()
            .find(|bucket| bucket.id == self.choice.bucket);
        let bucket = bucket.is_some_and(|b| b.mass.is_some() && b.load_centre_m.is_some());
        Row::new("bucket scale")
            .needs(
                sizes && pins,
                "bore, rod and pins of the boom cylinder",
                "bore, rod and pins of the boom cylinder",
            )
            .needs(
                weighed(Link::Boom) && weighed(Link::Stick) && bucket,
                "masses of boom, stick and bucket, and the load's centre",
                "masses of boom, stick and bucket, and the load's centre",
            )
            // The sheet has no entry for pressure sensors yet, so none can be claimed.
            .needs(
                false,
                "",
                "pressure sensors on both sides of the boom cylinder: this sheet has no entry for them yet",
            )
            .done()
    }

    fn sight(&self) -> ReadyJob {
        let sheet = self.machine.sheet();
        let n = sheet.cameras.len();
        let solids = sheet.solids.iter().any(|solid| solid.link == Link::House);
        Row::new("what the cameras leave unseen")
            .needs(
                n > 0,
                format!("{n} cameras with place and field"),
                "cameras with place, direction and field",
            )
            .needs(
                sheet.house.eye.is_some(),
                "the operator's eye",
                "the place of the operator's eye",
            )
            .needs(
                solids,
                "solids of the house",
                "solids of the house, which hide what is behind them",
            )
            .done()
    }
}

/// A small lean, so that what only a leaning machine shows is counted too.
const LEAN_RAD: f64 = 0.02;
/// Stands in for what the job gives: how good a position is, not whether a figure of the machine has an uncertainty.
const OF_THE_JOB_M: f64 = 0.01;

fn joints_of(machine: &Machine, choice: &ToolChoice) -> usize {
    machine.front(choice).map_or(0, |front| {
        let fitted = joints_fitted(&front);
        fitted.iter().filter(|j| **j != Joint::Swing).count()
    })
}

/// A tooth that could not be worked out has no uncertainty, and is never taken as sure.
fn not_worked_out(faults: &Faults) -> [Vec<String>; 2] {
    let names: Vec<String> = faults.0.iter().map(|fault| fault.at.clone()).collect();
    [names.clone(), names]
}

/// Figures without an uncertainty that move the tooth: in 2D, and on the site.
fn open_figures(
    machine: &Machine,
    model: &ToothModel,
    readings: &Readings<f64>,
) -> [Vec<String>; 2] {
    let sheet = machine.sheet();
    let mut readings = readings.clone();
    // The antennas where the levers put them, on a house at the grid's origin that points north.
    let turn = Lean {
        pitch: LEAN_RAD,
        roll: LEAN_RAD,
    }
    .site_turn(0.0);
    readings.antennas_m = sheet
        .antennas
        .iter()
        .map(|antenna| {
            let lever = [antenna.lever.x, antenna.lever.y, antenna.lever.z].map(|m| m.value);
            let at = turn * holdline_geom::frame::Direction::metres(lever[0], lever[1], lever[2]);
            Some([at.vector().x, at.vector().y, at.vector().z])
        })
        .collect();
    let known = model.with_sheet_sds(&readings, None, [Some(OF_THE_JOB_M); 3]);
    match model.fix(&known) {
        Ok(fix) => {
            let site = fix.site.map_or_else(Vec::new, |spread| spread.missing);
            let real = |names: Vec<String>| {
                let mut names = names;
                names.retain(|name| name != PAIR_CONTRADICTS);
                names
            };
            [real(fix.level.missing), real(site)]
        }
        Err(faults) => not_worked_out(&faults),
    }
}
