//! The tooth of millions of epochs at once, from columns of readings.
//!
//! Used by `holdline tooth` on logs and streams; a single pose goes through the chain of this room.
//! The two give the same tooth to 1e-12 m.
//!
//! ```text
//! t_n = a_n + Rz(90° - ψ) Ry(-θ) Rx(φ) (A - a_b + Rp(β)(AB e + Rp(σ)(BC e + Rp(ε) p)))
//! ```
//!
//! - Signs and frames: the `frames` module. Metres and radians.
//! - Shape: a column an angle or coordinate, an entry an epoch; all columns of one length.
//! - Source: chain and attitude as in the `frames` module; four-bar as in the machine's linkage.
//! - Exact to: 1e-12 m against the plain formulas, counted from the antenna;
//!   `batch_tests::next_to_the_plain_formulas`.
//!   Site coordinates near 5e6 m carry 1e-9 m of their own rounding.
//! - The same bytes on any number of cores and on any machine;
//!   `batch_tests::same_bytes_whatever_the_registers`.
//!
//! An epoch that cannot be used gives NaN three times in the output, so that it spoils whatever is
//! made of it, and an entry in the list that comes back; never a number.
//!
//! # Caution
//!
//! These are readings made into coordinates, nothing more.
//! Whether the tooth is there is what check shots against surveyed control say.

use holdline_geom::fault::Fault;
use pulp::{Scalar, Simd};
use rayon::prelude::*;

use super::batch_kernel::{ByGravity, ByJoints, Checks, Formula, ONE, TWO};
use super::batch_place::{ByOne, Tooth};
use super::batch_work::cut;
use super::lanes::{Lanes, Mask};
use super::sincos::Turn;
use crate::machine::claim::LinkageBranch;

/// No piece has fewer epochs than this.
const EPOCHS_A_PIECE_AT_LEAST: usize = 16_384;

/// Codes of this file, for `holdline explain`.
pub const EXPLAIN: &[(&str, &str)] = &[
    (
        "T501",
        "Columns of unequal length.\n\
     The tooth is worked out epoch by epoch, so every column needs one entry an epoch.\n\
     This happens when columns from two logs are put side by side without lining up their times.\n\
     Cut all columns to the epochs they share; never pad with zeros, for a zero is a reading.",
    ),
    (
        "T502",
        "Columns of one antenna for a machine made ready for two, or the other way round.\n\
     This is a mistake in holdline, not in the readings; please report it.",
    ),
];

/// What stays the same over a run of epochs: the front with one tooth point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BatchFront {
    /// Boom foot pin A less the antenna's lever arm, in `House`: forward, left, up; m.
    pub foot_from_antenna_m: [f64; 3],
    /// A to B, m.
    pub boom_m: f64,
    /// B to C, m.
    pub stick_m: f64,
    /// Tooth point in `Ear`: along CD, left, 90° counter-clockwise from CD; m.
    pub tooth_ear_m: [f64; 3],
}

/// Bucket four-bar.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BatchLinkage {
    /// F in `Stick`: along the stick, 90° counter-clockwise from it; m.
    pub idler_pivot_m: [f64; 2],
    /// F to E, m.
    pub idler_m: f64,
    /// E to D, m.
    pub link_m: f64,
    /// C to D, m.
    pub ear_m: f64,
    /// Which way it is assembled.
    pub branch: LinkageBranch,
}

impl BatchLinkage {
    pub(crate) fn branch_sign(&self) -> f64 {
        match self.branch {
            LinkageBranch::Right => 1.0,
            LinkageBranch::Left => -1.0,
        }
    }
}

/// What the two values of the house sensor are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HouseSensor {
    /// Pitch θ about the left axis, then roll φ about the turned forward axis.
    Euler,
    /// Two tilts, each the arc sine of plumb-up along one axis of the house.
    TwoTilts,
}

/// From what a sensor reads to the angle: `sign · reading - offset`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Zero {
    /// +1, or −1 if the sensor counts downward as positive.
    pub sign: f64,
    /// Taken off after the sign, rad.
    pub offset_rad: f64,
}

impl Zero {
    /// A sensor that reads the angle itself.
    pub const NONE: Zero = Zero {
        sign: 1.0,
        offset_rad: 0.0,
    };
}

/// The angles that a joint's cylinder can put it at, in any number of turns.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stroke {
    /// Direction of the middle.
    middle: [f64; 2],
    /// Cosine of the way from the middle to either end.
    cos_half: f64,
}

impl Stroke {
    /// Nothing is known of it, so no angle is refused.
    pub const UNKNOWN: Stroke = Stroke {
        middle: [1.0, 0.0],
        cos_half: -2.0,
    };

    /// From the least to the largest angle, rad. What goes all round refuses nothing.
    pub fn between(min_rad: f64, max_rad: f64) -> Stroke {
        let half_rad = (max_rad - min_rad) / 2.0;
        let part = (0.0..std::f64::consts::PI).contains(&half_rad);
        if !part {
            return Stroke::UNKNOWN;
        }
        let (sin, cos) = (min_rad + half_rad).sin_cos();
        Stroke {
            middle: [cos, sin],
            cos_half: half_rad.cos(),
        }
    }

    #[inline(always)]
    pub(crate) fn holds<S: Simd>(&self, joint: Turn<S>) -> Mask<S> {
        let [cos, sin] = self.middle;
        (joint.cos * cos + joint.sin * sin).at_least(self.cos_half)
    }
}

/// What is known of the sensors behind the columns.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BatchSensors {
    /// What the two values of the house sensor are.
    pub house: HouseSensor,
    /// House pitch, or the first tilt.
    pub pitch: Zero,
    /// House roll, or the second tilt.
    pub roll: Zero,
    /// Boom.
    pub boom: Zero,
    /// Stick.
    pub stick: Zero,
    /// Bucket, or idler.
    pub bucket: Zero,
    /// Where the boom can be.
    pub boom_stroke: Stroke,
    /// Where the stick can be.
    pub stick_stroke: Stroke,
    /// Where the bucket, or the idler, can be.
    pub bucket_stroke: Stroke,
}

impl Default for BatchSensors {
    /// All columns are the angles themselves, the house's as pitch and roll.
    fn default() -> BatchSensors {
        BatchSensors {
            house: HouseSensor::Euler,
            pitch: Zero::NONE,
            roll: Zero::NONE,
            boom: Zero::NONE,
            stick: Zero::NONE,
            bucket: Zero::NONE,
            boom_stroke: Stroke::UNKNOWN,
            stick_stroke: Stroke::UNKNOWN,
            bucket_stroke: Stroke::UNKNOWN,
        }
    }
}

/// Attitude of the house and place of the antenna, a column each.
#[derive(Debug, Clone, Copy)]
pub struct StandColumns<'a> {
    /// Nose up positive, rad.
    pub pitch_rad: &'a [f64],
    /// Right side down positive, rad.
    pub roll_rad: &'a [f64],
    /// Azimuth of the boom direction, clockwise from grid north, rad.
    pub heading_rad: &'a [f64],
    /// Easting of the antenna, m.
    pub east_m: &'a [f64],
    /// Northing of the antenna, m.
    pub north_m: &'a [f64],
    /// Elevation of the antenna, m.
    pub up_m: &'a [f64],
}

/// Attitude of the house and places of two antennas, a column each.
#[derive(Debug, Clone, Copy)]
pub struct PairColumns<'a> {
    /// Nose up positive, rad.
    pub pitch_rad: &'a [f64],
    /// Right side down positive, rad.
    pub roll_rad: &'a [f64],
    /// First antenna: easting, northing, elevation, m.
    pub first_m: [&'a [f64]; 3],
    /// Second antenna.
    pub second_m: [&'a [f64]; 3],
}

/// Joint angles of the front, a column each.
#[derive(Debug, Clone, Copy)]
pub struct JointColumns<'a> {
    /// Boom against the house, β, rad.
    pub boom_rad: &'a [f64],
    /// Stick against the boom, σ, rad.
    pub stick_rad: &'a [f64],
    /// Ear line CD against the stick, ε, rad.
    pub bucket_rad: &'a [f64],
}

/// What gravity sensors with two axes in the boom plane read, a column each.
#[derive(Debug, Clone, Copy)]
pub struct GravityColumns<'a> {
    /// On the boom, rad.
    pub boom_rad: &'a [f64],
    /// On the stick, rad.
    pub stick_rad: &'a [f64],
    /// On the idler, its line F to E, rad.
    pub idler_rad: &'a [f64],
}

/// Where the teeth go, a column each.
#[derive(Debug)]
pub struct ToothColumns<'a> {
    /// Easting, m.
    pub east_m: &'a mut [f64],
    /// Northing, m.
    pub north_m: &'a mut [f64],
    /// Elevation, m.
    pub up_m: &'a mut [f64],
}

/// How the work is laid out. It changes the time taken and no byte of the result.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Layout {
    /// Stretches that may be worked on side by side; 0 and 1 are both the calling thread alone.
    pub n_pieces: usize,
    /// Which registers of the machine to use.
    pub registers: Registers,
}

/// Which registers of the machine to use.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Registers {
    /// The widest that this machine has.
    Widest,
    /// Four numbers wide where the machine can, else one.
    FourWide,
    /// One number at a time.
    Single,
}

impl Default for Layout {
    /// The calling thread, the widest registers.
    fn default() -> Layout {
        Layout {
            n_pieces: 1,
            registers: Registers::Widest,
        }
    }
}

/// An epoch that gave no tooth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unusable {
    /// Its place in the columns, from 0.
    pub epoch_idx: usize,
    /// Why.
    pub why: Why,
}

/// Why an epoch gave no tooth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Why {
    /// A reading is not a number, infinite or beyond all bounds.
    Reading {
        /// Its column.
        column: &'static str,
    },
    /// No attitude gives the two tilts of the house sensor.
    TiltsContradict,
    /// A joint where its cylinder cannot put it.
    BeyondStroke {
        /// The joint's column.
        column: &'static str,
    },
    /// Two antennas stand at one place.
    AntennasTogether,
    /// Two antennas contradict their lever arms.
    PairContradicts,
    /// The bucket linkage cannot close.
    LinkageOpen {
        /// By how much pins C and E are too far apart (positive) or too near (negative), m.
        by_m: f64,
    },
}

impl Why {
    /// Code of the fault that the single pose gives for the same readings, for `holdline explain`.
    pub fn code(&self) -> &'static str {
        match self {
            Why::Reading { .. } => "T004",
            Why::TiltsContradict => "T013",
            Why::BeyondStroke { .. } => "T015",
            Why::LinkageOpen { .. } => "T010",
            Why::AntennasTogether => "T014",
            Why::PairContradicts => "T016",
        }
    }

    /// In a few words, the same for all epochs of a kind.
    pub fn words(&self) -> &'static str {
        match self {
            Why::Reading { .. } => "a reading beyond all bounds",
            Why::TiltsContradict => "two tilts that no attitude gives",
            Why::BeyondStroke { .. } => "a joint where its cylinder cannot put it",
            Why::LinkageOpen { .. } => "the bucket linkage cannot close",
            Why::AntennasTogether => "two antennas at one place",
            Why::PairContradicts => "two antennas that contradict their lever arms",
        }
    }
}

/// Teeth from joint angles.
///
/// # Errors
///
/// Fault `T501` if the columns differ in length.
///
/// # Example
///
/// ```
/// use holdline::tooth::batch::*;
///
/// let front = BatchFront {
///     foot_from_antenna_m: [2.000, -1.095, -1.170],
///     boom_m: 5.720,
///     stick_m: 2.940,
///     tooth_ear_m: [-0.308, 0.0, -1.668],
/// };
/// let stand = StandColumns {
///     pitch_rad: &[0.0], roll_rad: &[0.0], heading_rad: &[0.0],
///     east_m: &[5102.350], north_m: &[2078.120], up_m: &[27.385],
/// };
/// let joints = JointColumns { boom_rad: &[0.4], stick_rad: &[-1.5], bucket_rad: &[f64::NAN] };
/// let (mut e, mut n, mut u) = ([0.0], [0.0], [0.0]);
/// let teeth = ToothColumns { east_m: &mut e, north_m: &mut n, up_m: &mut u };
/// let sensors = BatchSensors::default();
/// let unusable =
///     predict_by_joints(&front, &sensors, &stand, &joints, teeth, Layout::default())?;
/// assert_eq!(unusable[0].why, Why::Reading { column: "bucket" });
/// assert!(e[0].is_nan());
/// # Ok::<(), holdline_geom::fault::Fault>(())
/// ```
pub fn predict_by_joints(
    front: &BatchFront,
    sensors: &BatchSensors,
    stand: &StandColumns<'_>,
    joints: &JointColumns<'_>,
    teeth: ToothColumns<'_>,
    layout: Layout,
) -> Result<Vec<Unusable>, Fault> {
    let formula = ByJoints {
        front: *front,
        sensors: *sensors,
    };
    let columns = Columns::by_joints(stand, joints);
    let formula = Tooth(ByOne { front: formula });
    predict(&formula, &columns, teeth.into_array(), layout)
}

/// Teeth from gravity sensors in the boom plane, on boom, stick and idler.
///
/// The house's pitch and roll are needed for the antenna's lever arm and for the plane's lean.
///
/// # Errors
///
/// Fault `T501` if the columns differ in length.
pub fn predict_by_gravity(
    front: &BatchFront,
    linkage: &BatchLinkage,
    sensors: &BatchSensors,
    stand: &StandColumns<'_>,
    links: &GravityColumns<'_>,
    teeth: ToothColumns<'_>,
    layout: Layout,
) -> Result<Vec<Unusable>, Fault> {
    let formula = ByGravity {
        front: *front,
        linkage: *linkage,
        sensors: *sensors,
    };
    let columns = Columns::by_gravity(stand, links);
    let formula = Tooth(ByOne { front: formula });
    predict(&formula, &columns, teeth.into_array(), layout)
}

/// All that goes in, with names for messages.
pub(crate) struct Columns<'a, const M: usize> {
    names: [&'static str; M],
    columns: [&'a [f64]; M],
}

impl<'a> Columns<'a, ONE> {
    pub fn by_joints(stand: &StandColumns<'a>, joints: &JointColumns<'a>) -> Columns<'a, ONE> {
        let angles = [joints.boom_rad, joints.stick_rad, joints.bucket_rad];
        Columns::by_one(stand, "bucket", angles)
    }

    pub fn by_gravity(stand: &StandColumns<'a>, links: &GravityColumns<'a>) -> Columns<'a, ONE> {
        let angles = [links.boom_rad, links.stick_rad, links.idler_rad];
        Columns::by_one(stand, "idler", angles)
    }

    /// One antenna and a heading.
    pub fn by_one(
        stand: &StandColumns<'a>,
        last: &'static str,
        [a, b, c]: [&'a [f64]; 3],
    ) -> Columns<'a, ONE> {
        let [pitch, roll, heading] = [stand.pitch_rad, stand.roll_rad, stand.heading_rad];
        let [east, north, up] = [stand.east_m, stand.north_m, stand.up_m];
        Columns {
            names: [
                "pitch", "roll", "heading", "boom", "stick", last, "east", "north", "up",
            ],
            columns: [pitch, roll, heading, a, b, c, east, north, up],
        }
    }
}

impl<'a> Columns<'a, TWO> {
    /// Two antennas.
    pub fn by_two(
        stand: &PairColumns<'a>,
        last: &'static str,
        [a, b, c]: [&'a [f64]; 3],
    ) -> Columns<'a, TWO> {
        let ([e1, n1, u1], [e2, n2, u2]) = (stand.first_m, stand.second_m);
        Columns {
            names: [
                "pitch",
                "roll",
                "boom",
                "stick",
                last,
                "east",
                "north",
                "up",
                "second east",
                "second north",
                "second up",
            ],
            columns: [
                stand.pitch_rad,
                stand.roll_rad,
                a,
                b,
                c,
                e1,
                n1,
                u1,
                e2,
                n2,
                u2,
            ],
        }
    }
}

impl<'a> ToothColumns<'a> {
    pub(crate) fn into_array(self) -> [&'a mut [f64]; 3] {
        [self.east_m, self.north_m, self.up_m]
    }
}

/// Fills the outputs; gives the epochs that gave no answer.
pub(crate) fn predict<F: Formula<M, N>, const M: usize, const N: usize>(
    formula: &F,
    columns: &Columns<'_, M>,
    outputs: [&mut [f64]; N],
    layout: Layout,
) -> Result<Vec<Unusable>, Fault> {
    let inputs = columns.columns;
    check_lengths(columns, &inputs, &outputs)?;

    let most = (outputs[0].len() / EPOCHS_A_PIECE_AT_LEAST).max(1);
    let pieces = cut(inputs, outputs, layout.n_pieces.clamp(1, most));
    let by_piece: Vec<Vec<usize>> = if pieces.len() == 1 {
        pieces
            .into_iter()
            .map(|piece| piece.predict(formula, layout.registers))
            .collect()
    } else {
        pieces
            .into_par_iter()
            .map(|piece| piece.predict(formula, layout.registers))
            .collect()
    };

    Ok(by_piece
        .into_iter()
        .flatten()
        .map(|epoch_idx| Unusable {
            epoch_idx,
            why: why(
                formula,
                &columns.names,
                inputs.map(|column| column[epoch_idx]),
            ),
        })
        .collect())
}

fn check_lengths<const M: usize, const N: usize>(
    columns: &Columns<'_, M>,
    inputs: &[&[f64]; M],
    outputs: &[&mut [f64]; N],
) -> Result<(), Fault> {
    let n = inputs[0].len();
    let ins = columns
        .names
        .into_iter()
        .zip(inputs.iter().map(|c| c.len()));
    let outs = outputs.iter().map(|c| ("of answers", c.len()));
    match ins.chain(outs).find(|(_, len)| *len != n) {
        None => Ok(()),
        Some((name, len)) => Err(Fault::new(
            "T501",
            format!("column {name}"),
            format!("{len} epochs"),
            format!("{n} epochs, as in column pitch"),
            "cut all columns to the epochs they share; do not pad with zeros",
        )),
    }
}

/// Why an epoch gave no tooth.
fn why<F: Formula<M, N>, const M: usize, const N: usize>(
    formula: &F,
    names: &[&'static str; M],
    readings: [f64; M],
) -> Why {
    let (_, epoch): (_, Checks<Scalar, M>) =
        formula.epochs(readings.map(|x| Lanes::new(Scalar, x)));
    let (yes, no) = (Lanes::new(Scalar, 1.0), Lanes::new(Scalar, 0.0));
    let fails = |mask: &Mask<Scalar>| mask.pick(yes, no).register() == 0.0;
    if let Some(idx) = epoch.read.iter().position(fails) {
        return Why::Reading { column: names[idx] };
    }
    if fails(&epoch.front.sound) {
        return Why::TiltsContradict;
    }
    if let Some(idx) = epoch.front.in_stroke.iter().position(fails) {
        let first = if M == ONE { 3 } else { 2 };
        return Why::BeyondStroke {
            column: names[first + idx],
        };
    }
    if fails(&epoch.front.closes) {
        return Why::LinkageOpen {
            by_m: epoch.front.open_by.register(),
        };
    }
    if fails(&epoch.apart) {
        return Why::AntennasTogether;
    }
    Why::PairContradicts
}
