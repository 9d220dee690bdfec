//! What an entry stands for, worked out from the machine's figures.

use super::terms::{Channel, Dimension, Quantity};
use crate::calibrate::observations::{ObservedTool, Target};
use crate::machine::claim::{ClaimedBoomKind, ClaimedMachine, SensorKind};
use crate::machine::figures::FigureUnit;
use holdline_geom::fault::Fault;
use nalgebra::{RealField, Vector3};

/// Parts of the machine that points sit on, in the order in which a part common to several points is chosen.
const PARTS: [Part; 8] = [
    Part::House,
    Part::Post,
    Part::Boom,
    Part::Stick,
    Part::Idler,
    Part::BucketLink,
    Part::Bucket,
    Part::Ear,
];

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Part {
    House,
    Post,
    Boom,
    Stick,
    Idler,
    BucketLink,
    Bucket,
    Ear,
}

/// The machine whose figures a quantity is made from, and what hangs on it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Context<'a> {
    pub sheet: &'a ClaimedMachine,
    pub tool: &'a ObservedTool,
}

/// Value of a figure by its path; none where the machine has no such figure.
pub(super) type Figures<'a, S> = dyn FnMut(&str) -> Option<S> + 'a;

/// Lengths or angles.
pub(super) fn dimension(context: &Context<'_>, quantity: &Quantity) -> Result<Dimension, Fault> {
    match quantity {
        Quantity::Figure { path } => match context.sheet.figure(path) {
            Some(figure) => Ok(match figure.unit {
                FigureUnit::Metre => Dimension::Length,
                FigureUnit::Radian => Dimension::Angle,
            }),
            None => Err(no_figure(path)),
        },
        Quantity::Distance { .. } | Quantity::PlanDistance { .. } | Quantity::Along { .. } => {
            Ok(Dimension::Length)
        }
        Quantity::Corner { .. }
        | Quantity::PlanDirection { .. }
        | Quantity::Rise { .. }
        | Quantity::Reading { .. } => Ok(Dimension::Angle),
    }
}

/// The quantity in metres or radians.
///
/// - Source of the step through a coupler: as in [`crate::machine::pose::front_pose`].
///
/// # Errors
///
/// `H001` for points that do not sit on one part; `H002` for a figure, point or sensor that the machine does not have;
/// `H009` for two points in one place.
pub(super) fn value<S: RealField + Copy>(
    context: &Context<'_>,
    quantity: &Quantity,
    figures: &mut Figures<'_, S>,
) -> Result<S, Fault> {
    match quantity {
        Quantity::Figure { path } => figures(path).ok_or_else(|| no_figure(path)),
        Quantity::Distance { from, to } => {
            let [a, b] = on_one_part(context, [from, to], figures)?;
            let d = b - a;
            apart((d.x * d.x + d.y * d.y).sqrt(), d.z, [from, to])?;
            Ok(d.norm())
        }
        Quantity::PlanDistance { from, to } => {
            let [a, b] = on_one_part(context, [from, to], figures)?;
            let d = b - a;
            apart(d.x, d.y, [from, to])?;
            Ok((d.x * d.x + d.y * d.y).sqrt())
        }
        Quantity::Along { from, to, axis } => {
            let [a, b] = on_one_part(context, [from, to], figures)?;
            Ok((b - a).dot(&Vector3::from(axis.unit()).map(nalgebra::convert)))
        }
        Quantity::Corner { from, at, to } => {
            let [a, corner, b] = on_one_part(context, [from, at, to], figures)?;
            let (a, b) = (a - corner, b - corner);
            apart(a.x, a.z, [from, at])?;
            apart(b.x, b.z, [at, to])?;
            Ok((a.x * b.z - a.z * b.x).atan2(a.x * b.x + a.z * b.z))
        }
        Quantity::PlanDirection { from, to } => {
            let [a, b] = on_one_part(context, [from, to], figures)?;
            let d = b - a;
            apart(d.x, d.y, [from, to])?;
            Ok(d.y.atan2(d.x))
        }
        Quantity::Rise { from, to } => {
            let [a, b] = on_one_part(context, [from, to], figures)?;
            let d = b - a;
            let flat = (d.x * d.x + d.y * d.y).sqrt();
            apart(flat, d.z, [from, to])?;
            Ok(d.z.atan2(flat))
        }
        Quantity::Reading {
            sensor,
            channel,
            at_rad,
        } => reading(context, sensor, *channel, *at_rad, figures),
    }
}

/// What a sensor reads when that which it measures stands at an angle; the way back of `joint_of` for an upright plane.
fn reading<S: RealField + Copy>(
    context: &Context<'_>,
    id: &str,
    channel: Channel,
    at_rad: f64,
    figures: &mut Figures<'_, S>,
) -> Result<S, Fault> {
    let Some(sensor) = context.sheet.sensors.iter().find(|s| s.id == id) else {
        let there: Vec<&str> = context
            .sheet
            .sensors
            .iter()
            .map(|s| s.id.as_str())
            .collect();
        return Err(not_there(&format!("sensor {id:?}"), &there));
    };
    let path = match channel {
        Channel::Main => format!("sensor[{id}].offset"),
        Channel::Roll => format!("sensor[{id}].roll_offset"),
    };
    let offset = figures(&path).ok_or_else(|| no_figure(&path))?;
    let ideal = match sensor.kind {
        SensorKind::SingleAxis => (at_rad + sensor.mount_rad).sin().asin(),
        SensorKind::TwoAxis
        | SensorKind::JointEncoder
        | SensorKind::HouseEuler
        | SensorKind::HouseTilts => at_rad,
    };
    let sign: S = nalgebra::convert(sensor.sign);
    let ideal: S = nalgebra::convert(ideal);
    Ok(sign * (ideal + offset))
}

/// The points in the axes of the first part that all of them sit on.
fn on_one_part<S: RealField + Copy, const N: usize>(
    context: &Context<'_>,
    points: [&Target; N],
    figures: &mut Figures<'_, S>,
) -> Result<[Vector3<S>; N], Fault> {
    for point in points {
        check_point(context, point)?;
    }
    for part in PARTS {
        let mut found = Vec::with_capacity(N);
        for point in points {
            found.extend(place(context, part, point, figures));
        }
        if let Ok(all) = found.try_into() {
            return Ok(all);
        }
    }
    let words: Vec<String> = points.iter().map(|p| point_word(p)).collect();
    Err(Fault::new(
        "H001",
        "entry",
        words.join(" and "),
        "points on one part of the machine, so that no joint changes what lies between them",
        "say it by the pins between: boom foot to boom-stick pin, boom-stick pin to stick-bucket pin, stick-bucket pin to tooth",
    ))
}

/// A point in a part's axes; none when it does not sit there.
fn place<S: RealField + Copy>(
    context: &Context<'_>,
    part: Part,
    point: &Target,
    figures: &mut Figures<'_, S>,
) -> Option<Vector3<S>> {
    let o = S::zero();
    let origin = Vector3::new(o, o, o);
    let hangs_straight = context.tool.tilt.is_none();
    match (part, point) {
        (Part::House, Target::SwingAxis)
        | (Part::Boom, Target::BoomFoot)
        | (Part::Stick, Target::BoomStick)
        | (Part::Idler, Target::IdlerPivot)
        | (Part::BucketLink, Target::LinkageE)
        | (Part::Ear, Target::StickBucket)
        | (Part::Bucket, Target::BucketFrontPin) => Some(origin),
        (Part::House, Target::BoomFoot) => space(figures, "boom.foot"),
        (Part::Post, Target::BoomFoot) => space(figures, "swing_post.foot"),
        (Part::House, Target::Antenna(id)) => space(figures, &format!("antenna[{id}].lever")),
        (Part::Boom, Target::BoomStick) => match context.sheet.boom.kind {
            ClaimedBoomKind::Mono { .. } => along(figures, "boom.length"),
            // Another joint or the offset links stand between the two pins.
            ClaimedBoomKind::TwoPiece { .. } | ClaimedBoomKind::Offset { .. } => None,
        },
        (Part::Stick, Target::StickBucket) => along(figures, "stick.length"),
        (Part::Stick, Target::IdlerPivot) => plane(figures, "linkage.idler_pivot"),
        (Part::Idler, Target::LinkageE) => along(figures, "linkage.idler"),
        (Part::BucketLink, Target::LinkPin) => along(figures, "linkage.link"),
        (Part::Ear, Target::LinkPin) => along(figures, "linkage.ear"),
        (Part::Ear, Target::BucketFrontPin) if hangs_straight => coupled(context, origin, figures),
        (Part::Ear, Target::Tooth(name)) if hangs_straight => {
            let tooth = tooth(context, name, figures)?;
            coupled(context, tooth, figures)
        }
        (Part::Bucket, Target::Tooth(name)) => tooth(context, name, figures),
        (
            Part::House
            | Part::Post
            | Part::Boom
            | Part::Stick
            | Part::Idler
            | Part::BucketLink
            | Part::Bucket
            | Part::Ear,
            _,
        ) => None,
    }
}

/// From the bucket's own pins to the machine's, through the coupler if there is one.
fn coupled<S: RealField + Copy>(
    context: &Context<'_>,
    in_bucket: Vector3<S>,
    figures: &mut Figures<'_, S>,
) -> Option<Vector3<S>> {
    let Some(id) = &context.tool.coupler else {
        return Some(in_bucket);
    };
    let pin = plane(figures, &format!("coupler[{id}].front_pin"))?;
    let (sin, cos) = figures(&format!("coupler[{id}].rotation"))?.sin_cos();
    let turned = Vector3::new(
        cos * in_bucket.x - sin * in_bucket.z,
        in_bucket.y,
        sin * in_bucket.x + cos * in_bucket.z,
    );
    Some(pin + turned)
}

fn tooth<S: RealField + Copy>(
    context: &Context<'_>,
    name: &str,
    figures: &mut Figures<'_, S>,
) -> Option<Vector3<S>> {
    let bucket = &context.tool.bucket;
    space(figures, &format!("bucket[{bucket}].tooth[{name}].at"))
}

fn space<S: RealField + Copy>(figures: &mut Figures<'_, S>, path: &str) -> Option<Vector3<S>> {
    let mut axis = |word: &str| figures(&format!("{path}.{word}"));
    Some(Vector3::new(axis("x")?, axis("y")?, axis("z")?))
}

fn plane<S: RealField + Copy>(figures: &mut Figures<'_, S>, path: &str) -> Option<Vector3<S>> {
    let mut axis = |word: &str| figures(&format!("{path}.{word}"));
    Some(Vector3::new(axis("x")?, S::zero(), axis("z")?))
}

fn along<S: RealField + Copy>(figures: &mut Figures<'_, S>, path: &str) -> Option<Vector3<S>> {
    Some(Vector3::new(figures(path)?, S::zero(), S::zero()))
}

/// Whether the machine has such a point at all.
fn check_point(context: &Context<'_>, point: &Target) -> Result<(), Fault> {
    let sheet = context.sheet;
    match point {
        Target::Tooth(name) => {
            let bucket = sheet.buckets.iter().find(|b| b.id == context.tool.bucket);
            let teeth = bucket.map_or(Vec::new(), |b| {
                b.teeth.iter().map(|t| t.name.as_str()).collect()
            });
            if teeth.contains(&name.as_str()) {
                return Ok(());
            }
            Err(not_there(&point_word(point), &teeth))
        }
        Target::Antenna(id) => {
            let there: Vec<&str> = sheet.antennas.iter().map(|a| a.id.as_str()).collect();
            if there.contains(&id.as_str()) {
                return Ok(());
            }
            Err(not_there(&point_word(point), &there))
        }
        Target::BoomFoot
        | Target::BoomStick
        | Target::StickBucket
        | Target::LinkPin
        | Target::LinkageE
        | Target::IdlerPivot
        | Target::BucketFrontPin
        | Target::SwingAxis => Ok(()),
    }
}

/// A line needs a length to have a direction.
fn apart<S: RealField + Copy>(u: S, v: S, points: [&Target; 2]) -> Result<(), Fault> {
    let least: S = nalgebra::convert(1e-6);
    if least < (u * u + v * v).sqrt() {
        return Ok(());
    }
    let [from, to] = points.map(point_word);
    Err(Fault::new(
        "H009",
        "entry",
        format!("{from} and {to} in one place"),
        "two points that lie apart",
        "a line from a point to itself has no direction: name another point",
    ))
}

fn no_figure(path: &str) -> Fault {
    Fault::new(
        "H002",
        "entry",
        format!("figure {path:?}"),
        "the path of a figure on the machine sheet, such as boom.length",
        "look at the names on the sheet; a bucket, coupler, sensor or antenna may be called otherwise there",
    )
}

fn not_there(got: &str, there: &[&str]) -> Fault {
    let want = if there.is_empty() {
        "nothing of that kind: the sheet has none".to_owned()
    } else {
        format!("one of {}", there.join(", "))
    };
    Fault::new(
        "H002",
        "entry",
        got,
        want,
        "name one that the machine sheet has, or add it there",
    )
}

/// A point of the machine in words, as the documents write it.
pub(super) fn point_word(point: &Target) -> String {
    match point {
        Target::Tooth(name) => format!("tooth[{name}]"),
        Target::BoomFoot => "pin A".to_owned(),
        Target::BoomStick => "pin B".to_owned(),
        Target::StickBucket => "pin C".to_owned(),
        Target::LinkPin => "pin D".to_owned(),
        Target::LinkageE => "pin E".to_owned(),
        Target::IdlerPivot => "pin F".to_owned(),
        Target::BucketFrontPin => "front pin".to_owned(),
        Target::Antenna(id) => format!("antenna[{id}]"),
        Target::SwingAxis => "swing axis".to_owned(),
    }
}

/// What an entry stands for, in words.
pub(super) fn in_words(quantity: &Quantity) -> String {
    let word = point_word;
    match quantity {
        Quantity::Figure { path } => path.clone(),
        Quantity::Distance { from, to } => format!("distance {} to {}", word(from), word(to)),
        Quantity::PlanDistance { from, to } => {
            format!("distance {} to {}, seen from above", word(from), word(to))
        }
        Quantity::Along { from, to, axis } => {
            format!("{} from {} to {}", axis.word(), word(from), word(to))
        }
        Quantity::Corner { from, at, to } => format!(
            "angle at {} from the line to {} to the line to {}",
            word(at),
            word(from),
            word(to)
        ),
        Quantity::PlanDirection { from, to } => format!(
            "direction of the line {} to {}, seen from above",
            word(from),
            word(to)
        ),
        Quantity::Rise { from, to } => format!("rise of the line {} to {}", word(from), word(to)),
        Quantity::Reading {
            sensor,
            channel,
            at_rad,
        } => {
            let what = match channel {
                Channel::Main => "reading",
                Channel::Roll => "roll reading",
            };
            let true_deg = at_rad.to_degrees();
            format!("{what} of {sensor} at a true {true_deg:.4}°")
        }
    }
}
