//! A machine with its tool, made ready for columns.

use holdline_geom::fault::Fault;
use holdline_geom::frame::Point;
use holdline_geom::measured::Measured;

use super::batch::{
    BatchFront, BatchLinkage, BatchSensors, Columns, HouseSensor, Layout, PairColumns,
    StandColumns, Stroke, ToothColumns, Unusable, Zero, predict,
};
use super::batch_kernel::{ByGravity, ByJoints};
use super::batch_place::{ByOne, ByTwo, PairLevers, Tooth};
use super::batch_spread::{BatchVariances, LinkageLengths, LinkageVariances, WithSpread};
use super::model::ToothModel;
use super::plan::{Given, Plan, Source};
use super::readings::{BEYOND_STROKE_RAD, SensorConstants};
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
    /// The first two antennas of the sheet: the heading is that of the line between them,
    /// and the mean of both counts.
    TwoAntennas,
}

/// A machine whose teeth can be worked out in columns.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Batch {
    origin: Origin,
    /// With two antennas.
    pair: Option<PairLevers>,
    front: BatchFront,
    sensors: BatchSensors,
    /// With gravity sensors; without, the columns are joint angles.
    linkage: Option<BatchLinkage>,
}

/// The same with its standard uncertainties.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BatchWithSds {
    batch: Batch,
    variances: BatchVariances,
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
        if geometry.heading_offset_rad.is_some() {
            return None; // the columns hold headings of the boom direction itself
        }
        let turned = front.post_m.is_some() || front.tilt.is_some() || plan.boom_upper.is_some();
        let kinds = [plan.boom.kind, plan.stick.kind, plan.bucket.kind];
        let gravity = kinds == [SensorKind::TwoAxis; 3] && plan.bucket.gives == Given::Idler;
        let encoders = kinds == [SensorKind::JointEncoder; 3] && plan.bucket.gives == Given::Joint;
        if turned || !(gravity || encoders) {
            return None;
        }
        let levers_m = &geometry.levers_m;
        let (from, pair) = match (origin, levers_m.as_slice()) {
            (Origin::Antenna(antenna_idx), _) => (*levers_m.get(antenna_idx)?, None),
            (Origin::SwingAxis, _) => ([0.0; 3], None),
            (Origin::TwoAntennas, [a, b, ..]) => (
                [0, 1, 2].map(|k| (a[k] + b[k]) / 2.0),
                Some(PairLevers {
                    second_from_first_m: [0, 1, 2].map(|k| b[k] - a[k]),
                }),
            ),
            (Origin::TwoAntennas, _) => return None,
        };
        let [x, y, z] = front.tooth_m;
        let tooth_ear = ear_from_tool_pins(&front) * Point::<Ear>::metres(x, y, z);
        Some(Batch {
            origin,
            pair,
            front: BatchFront {
                foot_from_antenna_m: [0, 1, 2].map(|k| front.foot_m[k] - from[k]),
                boom_m: length_m,
                stick_m: front.stick_m,
                tooth_ear_m: tooth_ear.vector().into(),
            },
            sensors: sensors(plan, &geometry.constants),
            linkage: gravity.then_some(BatchLinkage {
                idler_pivot_m: front.linkage.pivot_m,
                idler_m: front.linkage.idler_m,
                link_m: front.linkage.link_m,
                ear_m: front.linkage.ear_m,
                branch: front.linkage.branch,
            }),
        })
    }

    /// The same with standard uncertainties: those of the sheet, and as handed in those of heading
    /// and antenna position.
    ///
    /// None where a source that can matter has none stated; the tooth then has none either.
    /// None too where figures were found together by a calibration: their correlations count pose by
    /// pose in [`ToothModel::fix_in_stream`].
    pub fn with_sds(
        &self,
        model: &ToothModel,
        heading_sd_rad: Option<f64>,
        antenna_sd_m: [Option<f64>; 3],
    ) -> Option<BatchWithSds> {
        if model.is_correlated() {
            return None; // the sums below take every source as independent of the others
        }
        let [east, north, up] = antenna_sd_m.map(square);
        let antenna = || Some([east?, north?, up?]);
        let (heading_rad2, antenna_m2) = match self.origin {
            Origin::Antenna(_) => (square(heading_sd_rad)?, antenna()?),
            Origin::TwoAntennas => (0.0, antenna()?),
            Origin::SwingAxis => (0.0, [0.0; 3]),
        };
        let variances = BatchVariances {
            heading_rad2,
            antenna_m2,
            ..self.sheet_variances(model)?
        };
        let batch = *self;
        Some(BatchWithSds { batch, variances })
    }

    fn sheet_variances(&self, model: &ToothModel) -> Option<BatchVariances> {
        let (plan, geometry) = (model.plan().ok()?, model.geometry());
        let front = &geometry.front;
        let Boom::Mono { length_m } = front.boom else {
            return None;
        };
        let of = |m: &Measured| square(m.sd);
        let both = |[x, z]: &[Measured; 2]| Some([of(x)?, of(z)?]);
        let all = |[x, y, z]: &[Measured; 3]| Some([of(x)?, of(y)?, of(z)?]);
        let lever = |antenna_idx: usize| all(geometry.levers_m.get(antenna_idx)?);
        let levers_m2 = match self.origin {
            Origin::Antenna(antenna_idx) => [lever(antenna_idx)?, [0.0; 3]],
            Origin::SwingAxis => [[0.0; 3]; 2],
            Origin::TwoAntennas => [lever(0)?, lever(1)?],
        };
        let foot_m2 = all(&front.foot_m)?;
        let linkage = match &self.linkage {
            None => LinkageVariances::default(),
            Some(_) => LinkageVariances {
                pivot_m2: both(&front.linkage.pivot_m)?,
                idler_m2: of(&front.linkage.idler_m)?,
                link_m2: of(&front.linkage.link_m)?,
                ear_m2: of(&front.linkage.ear_m)?,
            },
        };
        let (pin_m2, turn_rad2, pin_m, turn_rad) = match &front.coupler {
            None => ([0.0; 2], 0.0, [0.0; 2], 0.0),
            Some(c) => (
                both(&c.front_pin_m)?,
                of(&c.rotation_rad)?,
                [c.front_pin_m[0].value, c.front_pin_m[1].value],
                c.rotation_rad.value,
            ),
        };
        let sheet = model.machine().sheet();
        let reading = |sensor_idx: usize| square(sheet.sensors[sensor_idx].sd_rad);
        let offset = |sensor_idx: usize| of(&geometry.constants[sensor_idx].offset_rad);
        let link = |source: &Source| Some(reading(source.sensor_idx)? + offset(source.sensor_idx)?);
        let house_idx = plan.house?.sensor_idx;
        let roll_offset_rad2 = match &geometry.constants[house_idx].roll_offset_rad {
            None => 0.0,
            Some(offset) => of(offset)?,
        };
        Some(BatchVariances {
            foot_m2,
            levers_m2,
            boom_m2: of(&length_m)?,
            stick_m2: of(&front.stick_m)?,
            linkage,
            pin_m2,
            turn_rad2,
            tooth_m2: all(&front.tooth_m)?,
            pitch_rad2: reading(house_idx)? + offset(house_idx)?,
            roll_rad2: reading(house_idx)? + roll_offset_rad2,
            heading_rad2: 0.0,
            boom_rad2: link(&plan.boom)?,
            stick_rad2: link(&plan.stick)?,
            bucket_rad2: link(&plan.bucket)?,
            antenna_m2: [0.0; 3],
            pin_m,
            turn_rad,
        })
    }

    /// Teeth from the sensors' readings as they come: columns of boom, stick, and idler or bucket.
    ///
    /// # Errors
    ///
    /// Fault `T501` if the columns differ in length, `T502` for a machine made ready for two
    /// antennas.
    pub fn predict(
        &self,
        stand: &StandColumns<'_>,
        angles: [&[f64]; 3],
        teeth: ToothColumns<'_>,
        layout: Layout,
    ) -> Result<Vec<Unusable>, Fault> {
        self.expect_one()?;
        let columns = Columns::by_one(stand, self.last_column(), angles);
        let outputs = teeth.into_array();
        match &self.linkage {
            Some(linkage) => {
                let front = self.by_gravity(linkage);
                predict(&Tooth(ByOne { front }), &columns, outputs, layout)
            }
            None => {
                let front = self.by_joints();
                predict(&Tooth(ByOne { front }), &columns, outputs, layout)
            }
        }
    }

    /// The same by the places of two antennas.
    ///
    /// # Errors
    ///
    /// Fault `T501` if the columns differ in length, `T502` for a machine made ready for another
    /// origin.
    pub fn predict_by_two(
        &self,
        stand: &PairColumns<'_>,
        angles: [&[f64]; 3],
        teeth: ToothColumns<'_>,
        layout: Layout,
    ) -> Result<Vec<Unusable>, Fault> {
        let pair = self.expect_pair()?;
        let columns = Columns::by_two(stand, self.last_column(), angles);
        let outputs = teeth.into_array();
        match &self.linkage {
            Some(linkage) => {
                let front = self.by_gravity(linkage);
                predict(&Tooth(ByTwo { front, pair }), &columns, outputs, layout)
            }
            None => {
                let front = self.by_joints();
                predict(&Tooth(ByTwo { front, pair }), &columns, outputs, layout)
            }
        }
    }

    /// Name of the third angle's column.
    fn last_column(&self) -> &'static str {
        if self.linkage.is_some() {
            "idler"
        } else {
            "bucket"
        }
    }

    fn expect_one(&self) -> Result<(), Fault> {
        match self.pair {
            None => Ok(()),
            Some(_) => Err(made_ready_for("columns of one antenna", "columns of two")),
        }
    }

    fn expect_pair(&self) -> Result<PairLevers, Fault> {
        let wrong = || made_ready_for("columns of two antennas", "columns of one");
        self.pair.ok_or_else(wrong)
    }

    fn by_gravity(&self, linkage: &BatchLinkage) -> ByGravity {
        ByGravity {
            front: self.front,
            linkage: *linkage,
            sensors: self.sensors,
        }
    }

    fn by_joints(&self) -> ByJoints {
        ByJoints {
            front: self.front,
            sensors: self.sensors,
        }
    }
}

fn made_ready_for(got: &str, want: &str) -> Fault {
    Fault::new(
        "T502",
        "antennas",
        got,
        format!("{want}, for which the machine was made ready"),
        "this is a mistake in holdline; please report it with the command you gave",
    )
}

impl BatchWithSds {
    /// Teeth, and their standard uncertainties along the same axes, as [`Batch::predict`].
    ///
    /// # Errors
    ///
    /// As [`Batch::predict`].
    pub fn predict(
        &self,
        stand: &StandColumns<'_>,
        angles: [&[f64]; 3],
        outputs: (ToothColumns<'_>, ToothColumns<'_>),
        layout: Layout,
    ) -> Result<Vec<Unusable>, Fault> {
        let batch = &self.batch;
        batch.expect_one()?;
        let columns = Columns::by_one(stand, batch.last_column(), angles);
        let outputs = six(outputs);
        match &batch.linkage {
            Some(linkage) => {
                let front = batch.by_gravity(linkage);
                predict(&self.spread(ByOne { front }), &columns, outputs, layout)
            }
            None => {
                let front = batch.by_joints();
                predict(&self.spread(ByOne { front }), &columns, outputs, layout)
            }
        }
    }

    /// The same by the places of two antennas, as [`Batch::predict_by_two`].
    ///
    /// Where the two contradict their levers by more than three standard uncertainties there is no
    /// tooth either.
    ///
    /// # Errors
    ///
    /// As [`Batch::predict_by_two`].
    pub fn predict_by_two(
        &self,
        stand: &PairColumns<'_>,
        angles: [&[f64]; 3],
        outputs: (ToothColumns<'_>, ToothColumns<'_>),
        layout: Layout,
    ) -> Result<Vec<Unusable>, Fault> {
        let batch = &self.batch;
        let pair = batch.expect_pair()?;
        let columns = Columns::by_two(stand, batch.last_column(), angles);
        let outputs = six(outputs);
        match &batch.linkage {
            Some(linkage) => {
                let front = batch.by_gravity(linkage);
                predict(
                    &self.spread(ByTwo { front, pair }),
                    &columns,
                    outputs,
                    layout,
                )
            }
            None => {
                let front = batch.by_joints();
                predict(
                    &self.spread(ByTwo { front, pair }),
                    &columns,
                    outputs,
                    layout,
                )
            }
        }
    }

    fn spread<P>(&self, place: P) -> WithSpread<P> {
        WithSpread {
            place,
            variances: self.variances,
            linkage: self.batch.linkage.map(|linkage| LinkageLengths {
                idler_m: linkage.idler_m,
                link_m: linkage.link_m,
                ear_m: linkage.ear_m,
            }),
            pair: self.batch.pair,
            two_tilts: self.batch.sensors.house == HouseSensor::TwoTilts,
        }
    }
}

fn six<'a>((teeth, sds): (ToothColumns<'a>, ToothColumns<'a>)) -> [&'a mut [f64]; 6] {
    let [east, north, up] = teeth.into_array();
    let [sd_east, sd_north, sd_up] = sds.into_array();
    [east, north, up, sd_east, sd_north, sd_up]
}

/// Zero, a negative or no number is no statement of an uncertainty.
fn square(sd: Option<f64>) -> Option<f64> {
    sd.filter(|sd| 0.0 < *sd && *sd < f64::INFINITY)
        .map(|sd| sd * sd)
}

fn sensors(plan: &Plan, constants: &[SensorConstants<f64>]) -> BatchSensors {
    let zero = |source: &Source| Zero {
        sign: plan.signs[source.sensor_idx],
        offset_rad: constants[source.sensor_idx].offset_rad,
    };
    let (house, pitch, roll) = house_sensor(plan, |idx| {
        let known = constants[idx];
        (known.offset_rad, known.roll_offset_rad.unwrap_or(0.0))
    });
    BatchSensors {
        house,
        pitch,
        roll,
        boom: zero(&plan.boom),
        stick: zero(&plan.stick),
        bucket: zero(&plan.bucket),
        boom_stroke: stroke(&plan.boom),
        stick_stroke: stroke(&plan.stick),
        bucket_stroke: stroke(&plan.bucket),
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
