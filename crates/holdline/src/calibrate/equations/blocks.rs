//! One pose's observations made into a block: its readings, its views, and a row a measured number.

use super::build::{Label, ReadingSds};
use super::checked::Whose;
use super::frames::{Frame, Gathered, Nuisance};
use super::readings::{PoseReadings, Read, needed_sensors};
use super::{Block, Heading, LeanOf, Row, Slot, Spot, View};
use crate::calibrate::observations::{Observation, Observations, SITE, Target, What};
use crate::machine::Machine;
use crate::machine::claim::Joint;
use crate::tooth::plan::Plan;
use holdline_geom::fault::{Fault, Faults};
use holdline_geom::measured::Measured;
use std::collections::BTreeMap;

pub(super) struct Builder<'a> {
    pub(super) machine: &'a Machine,
    pub(super) plan: &'a Plan,
    pub(super) teeth: &'a [String],
    pub(super) sds: ReadingSds,
    pub(super) unknowns: Gathered,
    /// The pose that touched a mark first, by frame: it gives that frame its zero.
    pub(super) first_on_mark: BTreeMap<Frame, String>,
    pub(super) faults: Faults,
    pub(super) findings: Vec<String>,
    /// The largest uncertainty of a satellite position that was used, m.
    pub(super) fix_sd_m: [Option<f64>; 3],
    pub(super) observations: &'a Observations,
}

/// A block that is being made.
pub(super) struct Making {
    readings: Vec<f64>,
    sds: Vec<f64>,
    labels: Vec<Label>,
    views: Vec<(Option<Frame>, View)>,
    rows: Vec<Row>,
    pose: String,
    stand: String,
    house: Option<[Slot; 2]>,
    heading: Option<Slot>,
    swing: bool,
    pub(super) read: PoseReadings,
    first_row: usize,
    /// The arc that the pose belongs to and no other row: but for the joint that turns, all of it stands
    /// as in the other poses of the arc.
    arc: Option<Arc>,
}

/// A target followed about a pin.
#[derive(Debug, Clone, PartialEq)]
struct Arc {
    name: String,
    /// The sensor of the joint that turns.
    turning_idx: usize,
}

impl Making {
    fn reading(&mut self, value: f64, sd: f64, label: Label) -> usize {
        self.readings.push(value);
        self.sds.push(sd);
        self.labels.push(label);
        self.readings.len() - 1
    }
}

impl Builder<'_> {
    pub(super) fn block(&mut self, pose: &str, rows: &[usize]) -> Option<(Block, Vec<Label>)> {
        let all = &self.observations.rows;
        let first = &all[*rows.first()?];
        let n_faults = self.faults.0.len();
        let mut read = PoseReadings::default();
        for idx in rows {
            read.add(
                &all[*idx],
                self.machine.sheet(),
                self.plan,
                &mut self.faults,
            );
        }
        let mut making = Making {
            readings: Vec::new(),
            sds: Vec::new(),
            labels: Vec::new(),
            views: Vec::new(),
            rows: Vec::new(),
            pose: pose.to_owned(),
            stand: first.stand.clone(),
            house: None,
            heading: None,
            swing: false,
            read,
            first_row: rows[0],
            arc: None,
        };
        making.arc = self.arc_of(rows);
        let sensors = self.sensors(&mut making);
        for idx in rows {
            self.row(&mut making, *idx);
        }
        self.antennas(&mut making);
        if self.faults.0.len() != n_faults || making.rows.is_empty() {
            return None;
        }
        let n = making.readings.len();
        let mut covariance = vec![0.0; n * n];
        for (i, sd) in making.sds.iter().enumerate() {
            covariance[i * n + i] = sd * sd;
        }
        Some((
            Block {
                readings: making.readings,
                covariance,
                sensors,
                views: making.views.into_iter().map(|(_, view)| view).collect(),
                rows: making.rows,
                vars: Vec::new(),
            },
            making.labels,
        ))
    }

    /// The arc of a pose in which nothing else was measured.
    fn arc_of(&self, rows: &[usize]) -> Option<Arc> {
        let mut arcs = rows
            .iter()
            .map(|idx| match &self.observations.rows[*idx].what {
                What::PinArc { pin, arc, .. } => Some((pin, arc)),
                _ => None,
            });
        let (pin, name) = arcs.next()??;
        if !arcs.all(|other| other == Some((pin, name))) {
            return None;
        }
        let turning = match pin {
            Target::BoomFoot => &self.plan.boom,
            Target::BoomStick => &self.plan.stick,
            _ => &self.plan.bucket,
        };
        Some(Arc {
            name: name.clone(),
            turning_idx: turning.sensor_idx,
        })
    }

    /// What the sensors gave, as readings of the block, or as unknowns where they gave nothing.
    fn sensors(&mut self, making: &mut Making) -> Vec<Option<Slot>> {
        let sheet = self.machine.sheet();
        let observation_idx = making.first_row;
        let label = |what: String| Label {
            observation_idx,
            what,
            angle: true,
        };
        if let (Some(pitch), Some(roll)) =
            (making.read.get(Read::Pitch), making.read.get(Read::Roll))
        {
            let house = self
                .plan
                .house
                .map(|house| &sheet.sensors[house.sensor_idx]);
            let at = house.map_or("house".to_owned(), |s| format!("sensor[{}].sd", s.id));
            let sd = house.and_then(|s| s.sd_rad);
            if let Some(sd) = self.stated(sd, at, Whose::House) {
                let p = making.reading(pitch, sd, label("reading of pitch".to_owned()));
                let r = making.reading(roll, sd, label("reading of roll".to_owned()));
                making.house = Some([Slot::Read(p), Slot::Read(r)]);
            }
        }
        if let Some(heading) = making.read.get(Read::Heading) {
            let at = "heading.sd".to_owned();
            if let Some(sd) = self.stated(self.sds.heading_sd_rad, at, Whose::Heading) {
                let h = making.reading(heading, sd, label("reading of heading".to_owned()));
                making.heading = Some(Slot::Read(h));
            }
        }
        let needed = needed_sensors(self.plan);
        (0..sheet.sensors.len())
            .map(|idx| {
                let sensor = &sheet.sensors[idx];
                let is_swing = self
                    .plan
                    .encoders_first
                    .iter()
                    .any(|s| s.joint == Joint::Swing && s.sensor_idx == idx);
                if let Some(value) = making.read.get(Read::Sensor(idx)) {
                    if !(is_swing || needed.contains(&idx)) {
                        return None;
                    }
                    let at = format!("sensor[{}].sd", sensor.id);
                    let sd = self.stated(sensor.sd_rad, at, Whose::Sensor)?;
                    making.swing |= is_swing;
                    let l = making.reading(value, sd, label(format!("reading of {}", sensor.id)));
                    return Some(Slot::Read(l));
                }
                needed.contains(&idx).then(|| {
                    let pose = match &making.arc {
                        Some(arc) if arc.turning_idx != idx => format!("of arc {}", arc.name),
                        Some(_) | None => making.pose.clone(),
                    };
                    let sensor = sensor.id.clone();
                    self.unknowns.slot(Nuisance::Reading { sensor, pose })
                })
            })
            .collect()
    }

    fn row(&mut self, making: &mut Making, observation_idx: usize) {
        let row = &self.observations.rows[observation_idx];
        match &row.what {
            What::Shot { target, at_m } => {
                self.check_read(making, row, target);
                self.shot(making, observation_idx, target, at_m);
            }
            What::SwingCircle { antenna, at_m } => {
                let target = Target::Antenna(antenna.clone());
                let first = making.rows.len();
                self.shot(making, observation_idx, &target, at_m);
                self.by_satellite(making, row, first);
            }
            What::PinArc { pin, arc, at_m } => self.arc(making, observation_idx, pin, arc, at_m),
            What::Touch { target, mark, sd_m } => {
                self.check_read(making, row, target);
                self.touch(making, observation_idx, target, mark, *sd_m);
            }
            What::Tape { from, to, length } => {
                let measured = self.measured(row, "length", *length);
                if let (Some([from, to]), Some((value, sd))) = (self.ends(row, from, to), measured)
                {
                    let reading_idx = making.reading(value, sd, length_label(observation_idx));
                    let view_idx = self.view(making, None);
                    making.rows.push(Row::Tape {
                        view_idx,
                        from,
                        to,
                        reading_idx,
                    });
                }
            }
            What::Slope { from, to, angle } => {
                let measured = self.measured(row, "angle", *angle);
                if let (Some([from, to]), Some((value, sd))) = (self.ends(row, from, to), measured)
                {
                    let reading_idx =
                        making.reading(value, sd, angle_label(observation_idx, "angle"));
                    let view_idx = self.view(making, None);
                    making.rows.push(Row::Slope {
                        view_idx,
                        from,
                        to,
                        reading_idx,
                    });
                }
            }
            What::HouseTurn { turn } => self.house_turn(making, observation_idx, *turn),
        }
    }

    fn house_turn(&mut self, making: &mut Making, observation_idx: usize, turn: Measured) {
        let row = &self.observations.rows[observation_idx];
        let measured = self.measured(row, "turn", turn);
        let Some(house) = making.house else {
            self.faults.push(Fault::new(
                "C017",
                format!("observation[{}]", row.name),
                "a turn of the house without a reading of pitch and roll",
                "pitch and roll at every heading",
                "read the house sensor at each stop",
            ));
            return;
        };
        let Some((value, sd)) = measured else { return };
        let turn_idx = making.reading(value, sd, angle_label(observation_idx, "turn"));
        let frame = Frame::Turns {
            stand: row.stand.clone(),
        };
        let tilt = self.axis_lean(&frame, &row.stand);
        making.views.push((
            Some(frame),
            View {
                heading: Heading::Is(Slot::Read(turn_idx)),
                lean: LeanOf::Sensor(house),
                origin: [Slot::Plain(0.0); 3],
            },
        ));
        let view_idx = making.views.len() - 1;
        for which in [0, 1] {
            making.rows.push(Row::Turned {
                view_idx,
                tilt,
                which,
            });
        }
    }

    fn axis_lean(&mut self, frame: &Frame, stand: &str) -> [Slot; 2] {
        [0, 1].map(|axis| {
            self.unknowns.slot(Nuisance::AxisLean {
                frame: frame.clone(),
                stand: stand.to_owned(),
                axis,
            })
        })
    }

    /// The view of the pose in a frame; without one, for what needs no place.
    fn view(&mut self, making: &mut Making, frame: Option<Frame>) -> usize {
        if let Some(idx) = making.views.iter().position(|(known, _)| *known == frame) {
            return idx;
        }
        let stand = making.stand.clone();
        let (heading, origin) = match &frame {
            None => (Heading::Is(Slot::Plain(0.0)), [Slot::Plain(0.0); 3]),
            Some(frame) => (
                self.heading(making, frame),
                match frame {
                    Frame::Setup(_) => [0, 1, 2].map(|axis| {
                        self.unknowns.slot(Nuisance::Origin {
                            frame: frame.clone(),
                            stand: stand.clone(),
                            axis,
                        })
                    }),
                    Frame::Stand { .. } | Frame::Turns { .. } => [Slot::Plain(0.0); 3],
                },
            ),
        };
        let lean = match (making.house, &frame) {
            (Some(house), _) => LeanOf::Sensor(house),
            (None, Some(frame)) => LeanOf::Axis(self.axis_lean(frame, &stand)),
            (None, None) => LeanOf::Is([0, 1].map(|axis| {
                self.unknowns.slot(Nuisance::Lean {
                    pose: making.pose.clone(),
                    axis,
                })
            })),
        };
        let view = View {
            heading,
            lean,
            origin,
        };
        making.views.push((frame, view));
        making.views.len() - 1
    }

    fn heading(&mut self, making: &Making, frame: &Frame) -> Heading {
        let own_zero = !matches!(frame, Frame::Setup(name) if name == SITE);
        let local = matches!(frame, Frame::Stand { .. } | Frame::Turns { .. });
        if let Some(heading) = making.heading {
            let azimuth = if own_zero && !local {
                let frame = frame.clone();
                self.unknowns.slot(Nuisance::FrameAzimuth { frame })
            } else {
                Slot::Plain(0.0)
            };
            return Heading::Read { heading, azimuth };
        }
        if making.swing {
            let azimuth = if local {
                Slot::Plain(0.0)
            } else {
                self.unknowns.slot(Nuisance::TracksAzimuth {
                    frame: frame.clone(),
                    stand: making.stand.clone(),
                })
            };
            return Heading::Swing { azimuth };
        }
        if local {
            let first = self
                .first_on_mark
                .entry(frame.clone())
                .or_insert_with(|| making.pose.clone());
            if *first == making.pose {
                return Heading::Is(Slot::Plain(0.0));
            }
        }
        let pose = match &making.arc {
            Some(arc) => format!("of arc {}", arc.name),
            None => making.pose.clone(),
        };
        Heading::Is(self.unknowns.slot(Nuisance::Heading {
            frame: frame.clone(),
            pose: format!("{pose} at stand {}", making.stand),
        }))
    }

    fn shot(
        &mut self,
        making: &mut Making,
        observation_idx: usize,
        target: &Target,
        at_m: &[Option<Measured>; 3],
    ) {
        let row = &self.observations.rows[observation_idx];
        if let Some(spot) = self.spot(row, target) {
            self.coordinates(making, observation_idx, &spot, at_m);
        }
    }

    /// Positions on the site grid that a receiver gave: as far off as the fix is, all alike.
    fn by_satellite(&mut self, making: &mut Making, observed: &Observation, first: usize) {
        if observed.setup != SITE {
            return;
        }
        for row in &mut making.rows[first..] {
            if let Row::Coordinate {
                axis,
                mark,
                reading_idx,
                ..
            } = row
            {
                *mark = self.unknowns.slot(Nuisance::Satellites {
                    stand: making.stand.clone(),
                    axis: *axis,
                });
                let sd = making.sds[*reading_idx];
                let known = &mut self.fix_sd_m[*axis];
                *known = Some(known.map_or(sd, |most: f64| most.max(sd)));
            }
        }
    }

    fn arc(
        &mut self,
        making: &mut Making,
        observation_idx: usize,
        pin: &Target,
        arc: &str,
        at_m: &[Option<Measured>; 3],
    ) {
        let row = &self.observations.rows[observation_idx];
        if !matches!(
            pin,
            Target::BoomFoot | Target::BoomStick | Target::StickBucket
        ) {
            self.faults.push(Fault::new(
                "C018",
                format!("observation[{}].target", row.name),
                format!("an arc about {}", target_words(pin)),
                "an arc about pin A, B or C",
                "name the pin that the link with the target turns about",
            ));
            return;
        }
        let spot = Spot::OnLink {
            pin: pin.clone(),
            at: [0, 1, 2].map(|axis| {
                let arc = arc.to_owned();
                self.unknowns.slot(Nuisance::OnLink { arc, axis })
            }),
        };
        self.coordinates(making, observation_idx, &spot, at_m);
    }

    fn coordinates(
        &mut self,
        making: &mut Making,
        observation_idx: usize,
        spot: &Spot,
        at_m: &[Option<Measured>; 3],
    ) {
        let row = &self.observations.rows[observation_idx];
        if row.setup.is_empty() {
            self.faults.push(Fault::new(
                "C019",
                format!("observation[{}].setup", row.name),
                "coordinates without the set-up they were measured in",
                "site for the site grid, or a name for each set-up of the instrument",
                "name the set-up: coordinates of two set-ups cannot be mixed",
            ));
            return;
        }
        if at_m.iter().all(Option::is_none) {
            self.faults.push(Fault::new(
                "C020",
                format!("observation[{}]", row.name),
                "no coordinate",
                "easting, northing and elevation, or elevation alone",
                "give what was measured, or take the row out",
            ));
            return;
        }
        let view_idx = self.view(making, Some(Frame::Setup(row.setup.clone())));
        for (axis, word) in AXES.iter().enumerate() {
            let Some(measured) = at_m[axis] else { continue };
            if let Some((value, sd)) = self.measured(row, word, measured) {
                let reading_idx =
                    making.reading(value, sd, coordinate_label(observation_idx, word));
                making.rows.push(Row::Coordinate {
                    view_idx,
                    spot: spot.clone(),
                    axis,
                    mark: Slot::Plain(0.0),
                    reading_idx,
                });
            }
        }
    }

    fn touch(
        &mut self,
        making: &mut Making,
        observation_idx: usize,
        target: &Target,
        mark: &str,
        sd_m: Option<f64>,
    ) {
        let row = &self.observations.rows[observation_idx];
        let measured = self.measured(
            row,
            "sd",
            Measured {
                value: 0.0,
                sd: sd_m,
            },
        );
        let (Some(spot), Some((_, sd))) = (self.spot(row, target), measured) else {
            return;
        };
        let set_up = |name: &str| Frame::Setup(name.to_owned());
        let known = making.views.iter().find_map(|(frame, _)| match frame {
            Some(Frame::Setup(name)) => Some(set_up(name)),
            _ => None,
        });
        let frame = match (making.read.has_antennas(), row.setup.as_str(), known) {
            (true, _, _) => set_up(SITE),
            (false, "", Some(known)) => known,
            (false, "", None) => Frame::Stand {
                stand: row.stand.clone(),
                mark: mark.to_owned(),
            },
            (false, setup, _) => set_up(setup),
        };
        let view_idx = self.view(making, Some(frame.clone()));
        for (axis, word) in AXES.iter().enumerate() {
            let reading_idx = making.reading(0.0, sd, coordinate_label(observation_idx, word));
            let mark = self.unknowns.slot(Nuisance::Mark {
                frame: frame.clone(),
                mark: mark.to_owned(),
                axis,
            });
            making.rows.push(Row::Coordinate {
                view_idx,
                spot: spot.clone(),
                axis,
                mark,
                reading_idx,
            });
        }
    }

    /// Antenna positions of a pose that is placed on the site are shots of the antennas.
    fn antennas(&mut self, making: &mut Making) {
        let site = Some(Frame::Setup(SITE.to_owned()));
        if !making.read.has_antennas() || !making.views.iter().any(|(f, _)| *f == site) {
            return;
        }
        let view_idx = self.view(making, site);
        for (antenna_idx, antenna) in self.machine.sheet().antennas.iter().enumerate() {
            for (axis, word) in AXES.iter().enumerate() {
                let Some(value) = making.read.get(Read::Antenna { antenna_idx, axis }) else {
                    continue;
                };
                let at = format!("antenna sd in {word}");
                let sd = self.sds.antenna_sd_m[axis];
                let Some(sd) = self.stated(sd, at, Whose::Antenna) else {
                    continue;
                };
                let reading_idx = making.reading(
                    value,
                    sd,
                    Label {
                        observation_idx: making.first_row,
                        what: format!("{word} of antenna {}", antenna.id),
                        angle: false,
                    },
                );
                let known = &mut self.fix_sd_m[axis];
                *known = Some(known.map_or(sd, |most: f64| most.max(sd)));
                // What is measured of an antenna is where it is, and how far the fix is off that day.
                let mark = self.unknowns.slot(Nuisance::Satellites {
                    stand: making.stand.clone(),
                    axis,
                });
                making.rows.push(Row::Coordinate {
                    view_idx,
                    spot: Spot::Target(Target::Antenna(antenna.id.clone())),
                    axis,
                    mark,
                    reading_idx,
                });
            }
        }
    }
}

const AXES: [&str; 3] = ["easting", "northing", "elevation"];

fn coordinate_label(observation_idx: usize, word: &str) -> Label {
    Label {
        observation_idx,
        what: word.to_owned(),
        angle: false,
    }
}

fn length_label(observation_idx: usize) -> Label {
    coordinate_label(observation_idx, "length")
}

fn angle_label(observation_idx: usize, word: &str) -> Label {
    Label {
        angle: true,
        ..coordinate_label(observation_idx, word)
    }
}

/// A point of the machine in words.
pub(crate) fn target_words(target: &Target) -> String {
    match target {
        Target::Tooth(name) => format!("tooth {name}"),
        Target::BoomFoot => "pin A".to_owned(),
        Target::BoomStick => "pin B".to_owned(),
        Target::StickBucket => "pin C".to_owned(),
        Target::LinkPin => "pin D".to_owned(),
        Target::LinkageE => "pin E".to_owned(),
        Target::IdlerPivot => "pin F".to_owned(),
        Target::BucketFrontPin => "front pin of the bucket".to_owned(),
        Target::Antenna(name) => format!("antenna {name}"),
        Target::SwingAxis => "swing axis".to_owned(),
    }
}
