//! Unknowns that belong to the measuring and not to the machine: where set-ups, stands and marks are.

use super::Slot;
use std::collections::BTreeMap;

/// An unknown that is no figure of the machine.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Nuisance {
    /// The swing axis of a stand in a frame: east, north, up.
    Origin {
        frame: Frame,
        stand: String,
        axis: usize,
    },
    /// Azimuth of grid north in a frame that has a zero of its own.
    FrameAzimuth { frame: Frame },
    /// Azimuth of the tracks of a stand in a frame.
    TracksAzimuth { frame: Frame, stand: String },
    /// Boom direction of a pose in a frame.
    Heading { frame: Frame, pose: String },
    /// Lean of a stand's swing axis in a frame: forward, left at its zero.
    AxisLean {
        frame: Frame,
        stand: String,
        axis: usize,
    },
    /// Lean of the house in a pose: pitch, roll.
    Lean { pose: String, axis: usize },
    /// What a sensor would have read in a pose.
    Reading { sensor: String, pose: String },
    /// A mark in a frame.
    Mark {
        frame: Frame,
        mark: String,
        axis: usize,
    },
    /// How far the satellite positions of a stand lie off the survey, all alike.
    Satellites { stand: String, axis: usize },
    /// A target on a link: along it, left, up from it.
    OnLink { arc: String, axis: usize },
}

/// What coordinates count in.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Frame {
    /// A set-up of the survey; `site` is the site grid.
    Setup(String),
    /// The machine's own stand, for marks that nobody surveyed.
    Stand { stand: String, mark: String },
    /// The turns of a stand, from the zero they were read at.
    Turns { stand: String },
}

impl Frame {
    pub(crate) fn words(&self) -> String {
        match self {
            Frame::Setup(name) => format!("set-up {name}"),
            Frame::Stand { stand, .. } => format!("stand {stand}"),
            Frame::Turns { stand } => format!("the turns at stand {stand}"),
        }
    }
}

const ENU: [&str; 3] = ["easting", "northing", "elevation"];

impl Nuisance {
    /// Its name, for a person.
    pub(crate) fn words(&self) -> String {
        match self {
            Nuisance::Origin { frame, stand, axis } => format!(
                "{} of the swing axis at stand {stand} in {}",
                ENU[*axis],
                frame.words()
            ),
            Nuisance::FrameAzimuth { frame } => format!("direction of {}", frame.words()),
            Nuisance::TracksAzimuth { frame, stand } => {
                format!(
                    "direction of the tracks at stand {stand} in {}",
                    frame.words()
                )
            }
            Nuisance::Heading { frame, pose } => {
                format!("boom direction of pose {pose} in {}", frame.words())
            }
            Nuisance::AxisLean { frame, stand, axis } => format!(
                "lean of the swing axis at stand {stand} {} in {}",
                ["forward", "sideways"][*axis],
                frame.words()
            ),
            Nuisance::Lean { pose, axis } => {
                format!("{} of the house in pose {pose}", ["pitch", "roll"][*axis])
            }
            Nuisance::Reading { sensor, pose } => {
                format!("angle of {sensor} in pose {pose}, which was not read")
            }
            Nuisance::Mark { frame, mark, axis } => {
                format!("{} of mark {mark} in {}", ENU[*axis], frame.words())
            }
            Nuisance::Satellites { stand, axis } => format!(
                "satellite positions against the survey at stand {stand}, {}",
                ENU[*axis]
            ),
            Nuisance::OnLink { arc, axis } => format!(
                "target {arc} {}",
                ["along its link", "left of the boom plane", "above its link"][*axis]
            ),
        }
    }

    /// What is known of it before: about nothing, with the uncertainty of one antenna position; none of all others.
    ///
    /// The errors of a fix wander over minutes: what one position is uncertain by is in most of a stand's alike.
    pub(crate) fn known_sd_m(&self, fix_sd_m: [Option<f64>; 3]) -> Option<f64> {
        match self {
            Nuisance::Satellites { axis, .. } => fix_sd_m[*axis],
            Nuisance::Origin { .. }
            | Nuisance::FrameAzimuth { .. }
            | Nuisance::TracksAzimuth { .. }
            | Nuisance::Heading { .. }
            | Nuisance::AxisLean { .. }
            | Nuisance::Lean { .. }
            | Nuisance::Reading { .. }
            | Nuisance::Mark { .. }
            | Nuisance::OnLink { .. } => None,
        }
    }

    /// Size of a usual change.
    pub(crate) fn scale(&self) -> f64 {
        match self {
            Nuisance::Origin { .. }
            | Nuisance::Mark { .. }
            | Nuisance::Satellites { .. }
            | Nuisance::OnLink { .. } => 0.01,
            Nuisance::FrameAzimuth { .. }
            | Nuisance::TracksAzimuth { .. }
            | Nuisance::Heading { .. }
            | Nuisance::AxisLean { .. }
            | Nuisance::Lean { .. }
            | Nuisance::Reading { .. } => 0.001,
        }
    }
}

/// The unknowns gathered so far, each once.
#[derive(Debug, Clone, Default)]
pub(crate) struct Gathered {
    places: BTreeMap<Nuisance, usize>,
    pub all: Vec<Nuisance>,
    /// Number of unknowns before these.
    pub first: usize,
}

impl Gathered {
    /// None yet, and so many unknowns before them.
    pub(crate) fn after(first: usize) -> Gathered {
        Gathered {
            first,
            ..Gathered::default()
        }
    }

    /// The slot of an unknown, made the first time it is asked for.
    pub(crate) fn slot(&mut self, nuisance: Nuisance) -> Slot {
        let (all, first) = (&mut self.all, self.first);
        let idx = *self.places.entry(nuisance).or_insert_with_key(|nuisance| {
            all.push(nuisance.clone());
            all.len() - 1
        });
        Slot::Sought(first + idx)
    }
}
