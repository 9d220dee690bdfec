//! Every figure that the equations can depend on, as one list and as the chain wants them.

use crate::machine::claim::{Joint, Link};
use crate::machine::figures::FigureUnit;
use crate::tooth::model::ToothModel;
use crate::tooth::place::Geometry;
use holdline_geom::fault::Fault;
use holdline_geom::measured::Measured;

/// The machine's figures; further tooth points beside the one that the geometry has.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Rig<T> {
    pub geometry: Geometry<T>,
    /// All tooth points but the first.
    pub further_teeth_m: Vec<[T; 3]>,
}

/// What a figure of the rig is.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct FigureOf {
    /// Path through the sheet.
    pub path: String,
    pub measured: Measured,
    pub unit: FigureUnit,
    /// A stand-in for what the machine does not have: never an unknown.
    pub stand_in: bool,
}

impl<T> Rig<T> {
    /// The same with every figure passed through `f`, with its place in the list.
    pub(crate) fn map<U>(&self, f: &mut impl FnMut(usize, &T) -> U) -> Rig<U> {
        let mut idx = 0;
        let mut next = |value: &T| {
            idx += 1;
            f(idx - 1, value)
        };
        Rig {
            geometry: self.geometry.map(&mut |_, value| next(value)),
            further_teeth_m: self
                .further_teeth_m
                .iter()
                .map(|[x, y, z]| [next(x), next(y), next(z)])
                .collect(),
        }
    }

    /// A tooth point by its place among the teeth.
    pub(crate) fn tooth(&self, tooth_idx: usize) -> &[T; 3] {
        match tooth_idx {
            0 => &self.geometry.front.tooth_m,
            further => &self.further_teeth_m[further - 1],
        }
    }
}

/// A rig, the list of its figures, and the names of its teeth.
pub(crate) type Rigged = (Rig<Measured>, Vec<FigureOf>, Vec<String>);

/// The rig of a machine with its tool, the list of its figures, and the names of its teeth.
pub(crate) fn rig_of(model: &ToothModel, n_sensors: usize) -> Result<Rigged, Fault> {
    let sheet = model.machine().sheet();
    let choice = model.choice();
    let bucket = model.machine().bucket(&choice.bucket)?;
    let mut teeth = vec![choice.tooth.clone()];
    let mut further_teeth_m = Vec::new();
    for tooth in &bucket.teeth {
        if tooth.name != choice.tooth {
            teeth.push(tooth.name.clone());
            further_teeth_m.push([tooth.at.x, tooth.at.y, tooth.at.z]);
        }
    }
    let mut geometry = model.geometry().clone();
    if geometry.heading_offset_rad.is_none() {
        geometry.heading_offset_rad = Some(Measured::without_sd(0.0));
    }
    let mut paths = Vec::new();
    geometry.map(&mut |name, _| paths.push(model.geometry_name(name)));
    for name in &teeth[1..] {
        for axis in ["x", "y", "z"] {
            paths.push(format!("bucket[{}].tooth[{name}].at.{axis}", bucket.id));
        }
    }
    let real: Vec<String> = sheet.sensors[..n_sensors]
        .iter()
        .map(|s| format!("sensor[{}]", s.id))
        .collect();
    let rig = Rig {
        geometry,
        further_teeth_m,
    };
    let units = sheet.figures();
    let mut figures = Vec::new();
    rig.map(&mut |idx, measured| {
        let path = paths[idx].clone();
        let unit = units
            .iter()
            .find(|f| f.path == path)
            .map_or(FigureUnit::Radian, |f| f.unit);
        let stand_in = path.starts_with("sensor[")
            && !real.iter().any(|id| {
                path.strip_prefix(id.as_str())
                    .is_some_and(|rest| rest.starts_with('.'))
            });
        figures.push(FigureOf {
            path,
            measured: *measured,
            unit,
            stand_in,
        });
    });
    Ok((rig, figures, teeth))
}

/// The link whose sensor gives a joint, for a stand-in where the sheet has none.
pub(crate) fn stand_in_link(joint: Joint) -> Option<Link> {
    match joint {
        Joint::Swing => None,
        Joint::Post => Some(Link::Post),
        Joint::Boom => Some(Link::Boom),
        Joint::BoomUpper | Joint::Offset => Some(Link::BoomUpper),
        Joint::Stick => Some(Link::Stick),
        Joint::Bucket => Some(Link::Ear),
        Joint::Tilt => Some(Link::Tilt),
        Joint::Rotation => Some(Link::Bucket),
    }
}
