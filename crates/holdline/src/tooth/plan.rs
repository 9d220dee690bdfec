//! Which sensor gives which joint: settled once for a machine and a tool, before the first reading.

use crate::machine::Machine;
use crate::machine::claim::{ClaimedSensor, Joint, Link, SensorKind};
use crate::machine::cylinder::{JointRange, link_word};
use crate::machine::front::Front;
use crate::machine::jacobian::joints_fitted;
use holdline_geom::fault::{Fault, Faults};

/// What a sensor's angle is the angle of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Given {
    /// The joint itself.
    Joint,
    /// The idler, from which the bucket follows by the four-bar.
    Idler,
}

/// One joint's sensor.
#[derive(Debug, Clone, PartialEq)]
pub struct Source {
    /// The joint.
    pub joint: Joint,
    /// The sensor, counted from 0 in the order of the sheet.
    pub sensor_idx: usize,
    /// Its kind.
    pub kind: SensorKind,
    /// Mounting angle of a single-axis sensor, rad.
    pub mount_rad: f64,
    /// What it is the angle of.
    pub gives: Given,
    /// Range of that angle, for telling turns and mirror angles apart.
    pub range: Option<JointRange>,
}

/// The house sensor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HouseSource {
    /// The sensor, counted from 0.
    pub sensor_idx: usize,
    /// Its kind.
    pub kind: SensorKind,
    /// +1 or −1.
    pub sign: f64,
}

/// Which sensor gives which joint.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// House pitch and roll.
    pub house: Option<HouseSource>,
    /// Joints that only an encoder can give: swing, post, offset, tilt, rotation.
    pub encoders_first: Vec<Source>,
    /// Boom.
    pub boom: Source,
    /// Upper boom of a two-piece boom.
    pub boom_upper: Option<Source>,
    /// Stick.
    pub stick: Source,
    /// Bucket.
    pub bucket: Source,
    /// Range of the bucket joint.
    pub bucket_range: Option<JointRange>,
    /// Sensor names, in the order of the sheet.
    pub sensor_ids: Vec<String>,
    /// Sensor signs, in the order of the sheet.
    pub signs: Vec<f64>,
}

impl Plan {
    /// Finds the sensor of every joint that the front has.
    ///
    /// Swing is left out where no encoder gives it: in 3D the heading stands for it.
    ///
    /// # Errors
    ///
    /// `T003` for every joint that no sensor on the sheet gives, all at once.
    pub fn new<T>(machine: &Machine, front: &Front<T>) -> Result<Plan, Faults> {
        let sensors = &machine.sheet().sensors;
        let mut faults = Faults::none();
        let mut found = Vec::new();
        for joint in joints_fitted(front) {
            match (source(machine, sensors, joint), joint) {
                (Some(source), _) => found.push(source),
                (None, Joint::Swing) => {}
                (None, _) => faults.push(no_sensor(joint)),
            }
        }
        let mut take = |joint: Joint| {
            let idx = found.iter().position(|source| source.joint == joint)?;
            Some(found.remove(idx))
        };
        let (boom, upper, stick, bucket) = (
            take(Joint::Boom),
            take(Joint::BoomUpper),
            take(Joint::Stick),
            take(Joint::Bucket),
        );
        let (Some(boom), Some(stick), Some(bucket), true) =
            (boom, stick, bucket, faults.is_empty())
        else {
            return Err(faults);
        };
        Ok(Plan {
            house: sensors.iter().enumerate().find_map(|(sensor_idx, sensor)| {
                let kind = sensor.kind;
                kind.is_house().then_some(HouseSource {
                    sensor_idx,
                    kind,
                    sign: sensor.sign,
                })
            }),
            encoders_first: found,
            boom,
            boom_upper: upper,
            stick,
            bucket,
            bucket_range: machine.range(Joint::Bucket).copied(),
            sensor_ids: sensors.iter().map(|s| s.id.clone()).collect(),
            signs: sensors.iter().map(|s| s.sign).collect(),
        })
    }
}

/// The links whose sensors can give a joint, best first.
fn links_of(joint: Joint) -> &'static [(Link, Given)] {
    match joint {
        Joint::Swing => &[(Link::House, Given::Joint)],
        Joint::Post => &[(Link::Post, Given::Joint)],
        Joint::Boom => &[(Link::Boom, Given::Joint)],
        Joint::BoomUpper | Joint::Offset => &[(Link::BoomUpper, Given::Joint)],
        Joint::Stick => &[(Link::Stick, Given::Joint)],
        Joint::Bucket => &[(Link::Ear, Given::Joint), (Link::Idler, Given::Idler)],
        Joint::Tilt => &[(Link::Tilt, Given::Joint)],
        Joint::Rotation => &[(Link::Bucket, Given::Joint)],
    }
}

fn source(machine: &Machine, sensors: &[ClaimedSensor], joint: Joint) -> Option<Source> {
    let able = |kind: SensorKind| match kind {
        SensorKind::TwoAxis | SensorKind::SingleAxis => joint.in_boom_plane(),
        SensorKind::JointEncoder => true,
        SensorKind::HouseEuler | SensorKind::HouseTilts => false,
    };
    links_of(joint).iter().find_map(|(link, gives)| {
        let sensor_idx = sensors
            .iter()
            .position(|s| s.link == *link && able(s.kind))?;
        let sensor = &sensors[sensor_idx];
        let range = match gives {
            Given::Joint => machine.range(joint).copied(),
            Given::Idler => machine.idler_range(),
        };
        Some(Source {
            joint,
            sensor_idx,
            kind: sensor.kind,
            mount_rad: sensor.mount_rad,
            gives: *gives,
            range,
        })
    })
}

fn no_sensor(joint: Joint) -> Fault {
    let links: Vec<&str> = links_of(joint)
        .iter()
        .map(|(link, _)| link_word(*link))
        .collect();
    Fault::new(
        "T003",
        format!("joint {}", joint.word()),
        "no sensor on the sheet",
        format!("a [[sensor]] on {}", links.join(" or ")),
        "without it the tooth cannot be worked out from readings; joint angles can still be typed",
    )
}
