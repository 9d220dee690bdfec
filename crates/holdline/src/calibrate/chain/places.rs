//! Where each figure and reading stands in the flat list of a closed-form chain.

use crate::machine::claim::SensorKind;
use crate::machine::front::{Boom, Front};
use crate::tooth::model::ToothModel;
use crate::tooth::plan::{Given, Plan, Source};
use crate::tooth::readings::Readings;
use holdline_geom::measured::Measured;

use super::linkage::side_of;

/// A link's sensor.
#[derive(Debug, Clone, Copy)]
pub(super) struct LinkSensor {
    /// 1 for a gravity sensor, 0 for an encoder: whether plumb and the links before it count.
    pub plumb: f64,
    /// +1 or −1.
    pub sign: f64,
    /// Place of its offset.
    pub offset: usize,
    /// Place of its reading.
    pub reading: usize,
}

/// The house's lean.
#[derive(Debug, Clone, Copy)]
pub(super) struct HousePlaces {
    /// Two tilts instead of pitch and roll.
    pub tilts: bool,
    /// +1 or −1.
    pub sign: f64,
    /// Places of the offsets, where the sheet has a house sensor.
    pub offsets: [Option<usize>; 2],
    /// Places of the readings.
    pub readings: [usize; 2],
}

/// An antenna that gives a position.
#[derive(Debug, Clone, Copy)]
pub(super) struct AntennaPlaces {
    /// Place of its lever's x; y and z follow.
    pub lever: usize,
    /// Place of its easting; northing and elevation follow.
    pub reading: usize,
}

/// Places of a mono boom's figures and readings.
#[derive(Debug, Clone)]
pub(super) struct Places {
    /// Place of the coupler's front pin x; z and the rotation follow.
    pub coupler: Option<usize>,
    /// Place of the tooth's x; y and z follow.
    pub tooth: usize,
    pub house: HousePlaces,
    pub boom: LinkSensor,
    pub stick: LinkSensor,
    pub bucket: LinkSensor,
    /// Whether the bucket is sensed at the idler.
    pub idler: bool,
    pub heading: Option<usize>,
    /// Place of what is taken off a heading that is read.
    pub heading_offset: Option<usize>,
    pub antennas: Vec<AntennaPlaces>,
    /// Branch of the linkage.
    pub side: f64,
}

/// Boom foot pin A: x, y, z.
pub(super) const FOOT: usize = 0;
/// AB.
pub(super) const BOOM: usize = 3;
/// BC.
pub(super) const STICK: usize = 4;
/// Idler pivot F: x, z.
pub(super) const PIVOT: usize = 5;
/// FE.
pub(super) const IDLER: usize = 7;
/// ED.
pub(super) const LINK: usize = 8;
/// CD.
pub(super) const EAR: usize = 9;
/// The first place behind the linkage.
const BEHIND_LINKAGE: usize = 10;

impl Places {
    /// The places, or why this machine has no closed form here.
    pub fn new(
        model: &ToothModel,
        plan: &Plan,
        shape: &Readings<f64>,
    ) -> Result<Places, &'static str> {
        let (sheet, front) = (model.machine().sheet(), &model.geometry().front);
        check_kind(front, plan)?;
        let coupler = front.coupler.as_ref().map(|_| BEHIND_LINKAGE);
        let tooth = BEHIND_LINKAGE + coupler.map_or(0, |_| 3);
        let mut at = tooth + 3;
        let mut offsets = Vec::with_capacity(sheet.sensors.len());
        for sensor in &sheet.sensors {
            let roll = sensor.roll_offset.map(|_| at + 1);
            offsets.push([Some(at), roll]);
            at += 1 + usize::from(roll.is_some());
        }
        let levers = at;
        at += 3 * sheet.antennas.len();
        let heading_offset = model.geometry().heading_offset_rad.map(|_| at);
        at += usize::from(heading_offset.is_some());
        shape.house_rad.ok_or("the house's lean is not read")?;
        let lean = at;
        at += 2;
        let mut readings = vec![None; sheet.sensors.len()];
        for (idx, reading) in shape.sensors_rad.iter().enumerate() {
            if reading.is_some() {
                readings[idx] = Some(at);
                at += 1;
            }
        }
        let heading = shape.heading_rad.map(|_| at);
        at += usize::from(heading.is_some());
        let mut antennas = Vec::new();
        for (idx, position) in shape.antennas_m.iter().enumerate() {
            if position.is_some() {
                antennas.push(AntennaPlaces {
                    lever: levers + 3 * idx,
                    reading: at,
                });
                at += 3;
            }
        }
        let link = |source: &Source| -> Result<LinkSensor, &'static str> {
            Ok(LinkSensor {
                plumb: match source.kind {
                    SensorKind::TwoAxis => 1.0,
                    _ => 0.0,
                },
                sign: plan.signs[source.sensor_idx],
                offset: offsets[source.sensor_idx][0].ok_or("a sensor without an offset")?,
                reading: readings[source.sensor_idx].ok_or("a link that is not read")?,
            })
        };
        Ok(Places {
            coupler,
            tooth,
            house: HousePlaces {
                tilts: plan.house.is_some_and(|h| h.kind == SensorKind::HouseTilts),
                sign: plan.house.map_or(1.0, |h| h.sign),
                offsets: plan.house.map_or([None; 2], |h| offsets[h.sensor_idx]),
                readings: [lean, lean + 1],
            },
            boom: link(&plan.boom)?,
            stick: link(&plan.stick)?,
            bucket: link(&plan.bucket)?,
            idler: plan.bucket.gives == Given::Idler,
            heading,
            heading_offset,
            antennas,
            side: side_of(front.linkage.branch),
        })
    }
}

/// Whether a closed form is written for this machine.
fn check_kind(front: &Front<Measured>, plan: &Plan) -> Result<(), &'static str> {
    if !matches!(front.boom, Boom::Mono { .. }) {
        return Err("the boom has more than one piece");
    }
    if front.post_m.is_some() {
        return Err("the boom stands on a swing post");
    }
    if front.tilt.is_some() {
        return Err("the tool tilts");
    }
    for source in [&plan.boom, &plan.stick, &plan.bucket] {
        match source.kind {
            SensorKind::TwoAxis | SensorKind::JointEncoder => {}
            SensorKind::SingleAxis => return Err("a link sensor has a single axis"),
            SensorKind::HouseEuler | SensorKind::HouseTilts => {
                return Err("a house sensor stands for a link");
            }
        }
    }
    Ok(())
}
