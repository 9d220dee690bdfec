//! A machine with its tool, made ready for columns.

use holdline_geom::fault::Fault;
use holdline_geom::frame::Point;
use holdline_geom::measured::Measured;

use super::batch::{
    BatchFront, BatchLinkage, BatchSensors, GravityColumns, HouseSensor, JointColumns, Layout,
    StandColumns, Stroke, ToothColumns, Unusable, Zero, predict_by_gravity, predict_by_joints,
};
use super::model::ToothModel;
use super::plan::{Given, Plan, Source};
use super::readings::BEYOND_STROKE_RAD;
use crate::frames::Ear;
use crate::machine::claim::SensorKind;
use crate::machine::front::Boom;
use crate::machine::pose::ear_from_tool_pins;

/// What the easting, northing and elevation columns are the place of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Origin {
    /// An antenna, counted from 0 in the order of the sheet.
    Antenna(usize),
    /// The swing axis at track ground level, for work in 2D.
    SwingAxis,
}

/// A machine whose teeth can be worked out in columns.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Batch {
    front: BatchFront,
    sensors: BatchSensors,
    /// With gravity sensors; without, the columns are joint angles.
    linkage: Option<BatchLinkage>,
}

impl Batch {
    /// The usual machine: mono boom, nothing that tilts or turns the tool, and on boom, stick and
    /// idler gravity sensors with two axes, or encoders on all three joints.
    ///
    /// None for any other; its epochs go through [`ToothModel::tooth`] one by one.
    pub fn of(model: &ToothModel, origin: Origin) -> Option<Batch> {
        let plan = model.plan().ok()?;
        let geometry = model.geometry().map(&mut |_, m: &Measured| m.value);
        let front = geometry.front;
        let Boom::Mono { length_m } = front.boom else {
            return None;
        };
        let turned = front.post_m.is_some() || front.tilt.is_some() || plan.boom_upper.is_some();
        let kinds = [plan.boom.kind, plan.stick.kind, plan.bucket.kind];
        let gravity = kinds == [SensorKind::TwoAxis; 3] && plan.bucket.gives == Given::Idler;
        let encoders = kinds == [SensorKind::JointEncoder; 3] && plan.bucket.gives == Given::Joint;
        if turned || !(gravity || encoders) {
            return None;
        }
        let from = match origin {
            Origin::Antenna(antenna_idx) => *geometry.levers_m.get(antenna_idx)?,
            Origin::SwingAxis => [0.0; 3],
        };
        let [x, y, z] = front.tooth_m;
        let tooth_ear = ear_from_tool_pins(&front) * Point::<Ear>::metres(x, y, z);
        let zero = |source: &Source| Zero {
            sign: plan.signs[source.sensor_idx],
            offset_rad: geometry.constants[source.sensor_idx].offset_rad,
        };
        let (house, pitch, roll) = house_sensor(plan, |idx| {
            let known = geometry.constants[idx];
            (known.offset_rad, known.roll_offset_rad.unwrap_or(0.0))
        });
        Some(Batch {
            front: BatchFront {
                foot_from_antenna_m: [0, 1, 2].map(|k| front.foot_m[k] - from[k]),
                boom_m: length_m,
                stick_m: front.stick_m,
                tooth_ear_m: tooth_ear.vector().into(),
            },
            sensors: BatchSensors {
                house,
                pitch,
                roll,
                boom: zero(&plan.boom),
                stick: zero(&plan.stick),
                bucket: zero(&plan.bucket),
                boom_stroke: stroke(&plan.boom),
                stick_stroke: stroke(&plan.stick),
                bucket_stroke: stroke(&plan.bucket),
            },
            linkage: gravity.then_some(BatchLinkage {
                idler_pivot_m: front.linkage.pivot_m,
                idler_m: front.linkage.idler_m,
                link_m: front.linkage.link_m,
                ear_m: front.linkage.ear_m,
                branch: front.linkage.branch,
            }),
        })
    }

    /// Teeth from the sensors' readings as they come: columns of boom, stick, and idler or bucket.
    ///
    /// # Errors
    ///
    /// Fault `T501` if the columns differ in length.
    pub fn predict(
        &self,
        stand: &StandColumns<'_>,
        [boom_rad, stick_rad, bucket_rad]: [&[f64]; 3],
        teeth: ToothColumns<'_>,
        layout: Layout,
    ) -> Result<Vec<Unusable>, Fault> {
        let Batch { front, sensors, .. } = self;
        match &self.linkage {
            Some(linkage) => {
                let links = GravityColumns {
                    boom_rad,
                    stick_rad,
                    idler_rad: bucket_rad,
                };
                predict_by_gravity(front, linkage, sensors, stand, &links, teeth, layout)
            }
            None => {
                let joints = JointColumns {
                    boom_rad,
                    stick_rad,
                    bucket_rad,
                };
                predict_by_joints(front, sensors, stand, &joints, teeth, layout)
            }
        }
    }
}

fn house_sensor(
    plan: &Plan,
    offsets_rad: impl Fn(usize) -> (f64, f64),
) -> (HouseSensor, Zero, Zero) {
    let Some(house) = plan.house else {
        return (HouseSensor::Euler, Zero::NONE, Zero::NONE);
    };
    let kind = match house.kind {
        SensorKind::HouseTilts => HouseSensor::TwoTilts,
        SensorKind::HouseEuler
        | SensorKind::TwoAxis
        | SensorKind::SingleAxis
        | SensorKind::JointEncoder => HouseSensor::Euler,
    };
    let (pitch_rad, roll_rad) = offsets_rad(house.sensor_idx);
    let zero = |offset_rad| Zero {
        sign: house.sign,
        offset_rad,
    };
    (kind, zero(pitch_rad), zero(roll_rad))
}

/// As the single pose: the outer stroke and a little more.
fn stroke(source: &Source) -> Stroke {
    source.range.as_ref().map_or(Stroke::UNKNOWN, |range| {
        let [min, max] = range.outer_rad;
        Stroke::between(min - BEYOND_STROKE_RAD, max + BEYOND_STROKE_RAD)
    })
}
