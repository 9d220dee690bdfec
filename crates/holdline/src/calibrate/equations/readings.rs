//! What was read in a pose, by name, put where the chain wants it.

use crate::calibrate::observations::Observation;
use crate::machine::claim::{ClaimedMachine, Joint};
use crate::tooth::plan::{Given, Plan};
use holdline_geom::fault::{Fault, Faults};

/// Which reading a name means.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Read {
    Pitch,
    Roll,
    Heading,
    Sensor(usize),
    Antenna { antenna_idx: usize, axis: usize },
}

/// The readings of one pose, gathered from all its rows.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct PoseReadings(pub Vec<(Read, f64)>);

impl PoseReadings {
    pub(crate) fn get(&self, read: Read) -> Option<f64> {
        let (_, value) = self.0.iter().find(|(r, _)| *r == read)?;
        Some(*value)
    }

    pub(crate) fn has_antennas(&self) -> bool {
        self.0
            .iter()
            .any(|(read, _)| matches!(read, Read::Antenna { .. }))
    }

    /// Whether anything was read of the front: a sensor beside that of the swing.
    pub(crate) fn has_front(&self, plan: &Plan) -> bool {
        self.0.iter().any(|(read, _)| match read {
            Read::Sensor(idx) => {
                let swing = |s: &crate::tooth::plan::Source| {
                    s.joint == Joint::Swing && s.sensor_idx == *idx
                };
                !plan.encoders_first.iter().any(swing)
            }
            Read::Pitch | Read::Roll | Read::Heading | Read::Antenna { .. } => false,
        })
    }

    /// Adds the readings of one row; what is read twice in a pose must agree.
    pub(crate) fn add(
        &mut self,
        row: &Observation,
        sheet: &ClaimedMachine,
        plan: &Plan,
        faults: &mut Faults,
    ) {
        for (name, value) in &row.readings {
            let at = || format!("observation[{}].{name}", row.name);
            let Some(read) = read_of(name, sheet, plan) else {
                faults.push(Fault::new(
                    "C014",
                    at(),
                    format!("a reading of {name:?}"),
                    "a sensor or antenna of the sheet, pitch, roll, heading, swing or a joint that has a sensor",
                    "name the column after the sensor on the sheet, or take it out",
                ));
                continue;
            };
            if !value.is_finite() {
                faults.push(Fault::new(
                    "C013",
                    at(),
                    "not a number",
                    "a reading",
                    "leave the place empty where nothing was read",
                ));
                continue;
            }
            match self.get(read) {
                None => self.0.push((read, *value)),
                Some(before) if (before - value).abs() <= 1e-9 => {}
                Some(before) => faults.push(Fault::new(
                    "C015",
                    at(),
                    two_readings(read, &row.pose, *value, before),
                    "one reading a pose: its rows share it",
                    "give the pose another name if the machine was moved, or correct the typing",
                )),
            }
        }
    }
}

/// Two readings of one thing as a person reads them: in degrees or metres, with no more digits than tell them apart.
fn two_readings(read: Read, pose: &str, value: f64, before: f64) -> String {
    let (per, unit, least, most) = match read {
        Read::Pitch | Read::Roll | Read::Heading | Read::Sensor(_) => {
            (1.0_f64.to_degrees(), "°", 2, 9)
        }
        Read::Antenna { .. } => (1.0, " m", 3, 9),
    };
    let said = |n: usize| [value, before].map(|v| format!("{:.n$}{unit}", v * per));
    let [value, before] = (least..most)
        .map(said)
        .find(|[value, before]| value != before)
        .unwrap_or_else(|| said(most));
    format!("{value} where another row of pose {pose:?} has {before}")
}

/// Which reading a name means; none for one that nothing can be done with.
fn read_of(name: &str, sheet: &ClaimedMachine, plan: &Plan) -> Option<Read> {
    if let Some(idx) = sheet.sensors.iter().position(|s| s.id == name) {
        return Some(Read::Sensor(idx));
    }
    let (stem, antenna_idx) = match name.rsplit_once('_') {
        Some((first, last)) if ["easting", "northing", "elevation"].contains(&last) => {
            let by_id = sheet.antennas.iter().position(|a| a.id == first);
            (last, by_id?)
        }
        Some((stem, n)) => match n.parse::<usize>() {
            Ok(n) => (stem, n.checked_sub(1)?),
            Err(_) => (name, 0),
        },
        None => (name, 0),
    };
    let antenna =
        |axis| (antenna_idx < sheet.antennas.len()).then_some(Read::Antenna { antenna_idx, axis });
    let encoder = |joint: Joint| {
        let source = plan.encoders_first.iter().find(|s| s.joint == joint)?;
        Some(Read::Sensor(source.sensor_idx))
    };
    let bucket =
        |gives: Given| (plan.bucket.gives == gives).then_some(Read::Sensor(plan.bucket.sensor_idx));
    match (stem, name) {
        ("easting", _) => antenna(0),
        ("northing", _) => antenna(1),
        ("elevation", _) => antenna(2),
        (_, "pitch") => Some(Read::Pitch),
        (_, "roll") => Some(Read::Roll),
        (_, "heading") => Some(Read::Heading),
        (_, "boom") => Some(Read::Sensor(plan.boom.sensor_idx)),
        (_, "boom_upper") => plan.boom_upper.as_ref().map(|s| Read::Sensor(s.sensor_idx)),
        (_, "stick") => Some(Read::Sensor(plan.stick.sensor_idx)),
        (_, "bucket") => bucket(Given::Joint),
        (_, "idler") => bucket(Given::Idler),
        (_, "swing") => encoder(Joint::Swing),
        (_, "post") => encoder(Joint::Post),
        (_, "offset") => encoder(Joint::Offset),
        (_, "tilt") => encoder(Joint::Tilt),
        (_, "rotation") => encoder(Joint::Rotation),
        _ => None,
    }
}

/// Sensors that the plan takes an angle from, other than that of the swing.
pub(crate) fn needed_sensors(plan: &Plan) -> Vec<usize> {
    let front = plan
        .encoders_first
        .iter()
        .filter(|s| s.joint != Joint::Swing)
        .chain([&plan.boom])
        .chain(&plan.boom_upper)
        .chain([&plan.stick, &plan.bucket]);
    front.map(|s| s.sensor_idx).collect()
}

/// A raw reading in the middle of the sensor's range, for a joint that nothing was read of.
pub(crate) fn middle_reading(plan: &Plan, sensor_idx: usize, offset_rad: f64) -> f64 {
    let source = plan
        .encoders_first
        .iter()
        .chain([&plan.boom])
        .chain(&plan.boom_upper)
        .chain([&plan.stick, &plan.bucket])
        .find(|s| s.sensor_idx == sensor_idx);
    let before = match source.map(|s| s.joint) {
        // A gravity sensor counts from the horizon: what the links before it stand at comes on top.
        Some(Joint::Stick) if !is_encoder(plan, sensor_idx) => middle(plan, &plan.boom),
        Some(Joint::Bucket) if !is_encoder(plan, sensor_idx) => {
            middle(plan, &plan.boom) + middle(plan, &plan.stick)
        }
        _ => 0.0,
    };
    let own = source.map_or(0.0, |s| middle(plan, s));
    plan.signs[sensor_idx] * (before + own + offset_rad)
}

fn middle(_: &Plan, source: &crate::tooth::plan::Source) -> f64 {
    source
        .range
        .as_ref()
        .map_or(0.0, |r| (r.outer_rad[0] + r.outer_rad[1]) / 2.0)
}

fn is_encoder(plan: &Plan, sensor_idx: usize) -> bool {
    let all = plan
        .encoders_first
        .iter()
        .chain([&plan.boom])
        .chain(&plan.boom_upper)
        .chain([&plan.stick, &plan.bucket]);
    all.filter(|s| s.sensor_idx == sensor_idx)
        .any(|s| s.kind == crate::machine::claim::SensorKind::JointEncoder)
}
