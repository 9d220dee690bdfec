//! Everything that makes the tooth unsure, one entry a source.

use super::ask::{BudgetAsk, HeadingFrom, HeightFrom, Mode, Motion, Pin, Satellites};
use super::{Budget, BudgetPose};
use crate::calibrate::chain::{Chain, ToothFrame};
use crate::machine::claim::Joint;
use crate::machine::front::Boom;
use crate::machine::jacobian::joints_fitted;
use crate::tooth::model::ToothModel;
use crate::tooth::plan::{Given, Plan};
use crate::tooth::readings::Readings;
use holdline_geom::fault::{Fault, Faults};

/// How a source scatters.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Scatter {
    /// Normal, with this standard uncertainty.
    Normal {
        /// Standard uncertainty.
        sd: f64,
    },
    /// Anywhere within ±half, every value as likely as the others.
    Rectangular {
        /// Half the width.
        half: f64,
    },
    /// Nobody stated it.
    NotStated,
}

impl Scatter {
    /// Standard uncertainty; a/√3 of a rectangle.
    pub fn sd(self) -> Option<f64> {
        match self {
            Scatter::Normal { sd } => Some(sd),
            Scatter::Rectangular { half } => Some(half / 3_f64.sqrt()),
            Scatter::NotStated => None,
        }
    }

    /// A figure or reading: zero, a negative or no number states nothing.
    fn stated(sd: Option<f64>) -> Scatter {
        match sd {
            Some(sd) if 0.0 < sd && sd.is_finite() => Scatter::Normal { sd },
            _ => Scatter::NotStated,
        }
    }

    /// Something that may have been looked at and found to be nothing.
    fn looked_at(sd: Option<f64>) -> Scatter {
        match sd {
            Some(sd) if 0.0 <= sd && sd.is_finite() => Scatter::Normal { sd },
            _ => Scatter::NotStated,
        }
    }

    fn within(half: Option<f64>) -> Scatter {
        match half {
            Some(half) if 0.0 <= half && half.is_finite() => Scatter::Rectangular { half },
            _ => Scatter::NotStated,
        }
    }
}

/// What a source is counted in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SourceUnit {
    /// Metres.
    Metre,
    /// Radians.
    Radian,
    /// Radians a second.
    RadianPerSecond,
}

/// One source.
#[derive(Debug, Clone, PartialEq)]
pub struct Term {
    /// Its name: a path on the sheet, a reading, or what was asked for.
    pub name: String,
    /// The name under which it is shown together with its like.
    pub group: String,
    /// How it scatters.
    pub scatter: Scatter,
    /// What it is counted in.
    pub unit: SourceUnit,
    pub(super) moves: Moves,
}

/// How a source moves the tooth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Moves {
    /// As its entry in the chain's list.
    Listed,
    /// Along one axis of the frame.
    Along(usize),
    /// A pin moves in its bush, along or across the stick.
    Play(Pin, usize),
    /// Up, in proportion to the reach.
    Bends { at_reach_m: f64 },
    /// A joint's rate, with every sensor as late as it is.
    Late(Joint),
}

/// The readings that a budget's chain has.
pub(super) fn shape(model: &ToothModel, plan: &Plan, mode: &Mode) -> Result<Readings<f64>, Fault> {
    let sheet = model.machine().sheet();
    let mut sensors_rad = vec![None; sheet.sensors.len()];
    let links = [
        Some(&plan.boom),
        plan.boom_upper.as_ref(),
        Some(&plan.stick),
        Some(&plan.bucket),
    ];
    for source in links.into_iter().flatten().chain(&plan.encoders_first) {
        sensors_rad[source.sensor_idx] = Some(0.0);
    }
    let mut shape = Readings {
        house_rad: Some([0.0; 2]),
        sensors_rad,
        heading_rad: None,
        antennas_m: vec![None; sheet.antennas.len()],
    };
    if let Mode::ThreeD(satellites) = mode {
        let (n, heading) = match satellites.heading {
            HeadingFrom::Read { .. } => (1, Some(0.0)),
            HeadingFrom::Pair { .. } => (2, None),
        };
        if sheet.antennas.len() < n {
            return Err(Fault::new(
                "B003",
                "antenna",
                format!("{} on the sheet", sheet.antennas.len()),
                format!("{n} with lever arms"),
                "measure the antennas' lever arms, or ask for 2D",
            ));
        }
        shape.heading_rad = heading;
        for at in &mut shape.antennas_m[..n] {
            *at = Some([0.0; 3]);
        }
    }
    Ok(shape)
}

/// All sources: those of the chain's list, in its order, then the others.
pub(super) fn terms(
    model: &ToothModel,
    plan: &Plan,
    chain: &Chain,
    shape: &Readings<f64>,
    ask: &BudgetAsk,
) -> Vec<Term> {
    let mut terms = listed(model, chain, shape, ask);
    if let Mode::ThreeD(satellites) = &ask.mode {
        on_site(satellites, &mut terms);
    }
    for pin in pins(model, plan) {
        for axis in pin_axes(pin) {
            terms.push(Term {
                name: format!("play of {}{}", pin.word(), ["", ", across"][*axis]),
                group: format!("play of {}", pin.word()),
                scatter: Scatter::within(ask.pin_play.of(pin)),
                unit: SourceUnit::Metre,
                moves: Moves::Play(pin, *axis),
            });
        }
    }
    terms.push(Term {
        name: "deflection".to_owned(),
        group: "deflection".to_owned(),
        scatter: Scatter::looked_at(ask.deflection.map(|d| d.sd_m)),
        unit: SourceUnit::Metre,
        moves: Moves::Bends {
            at_reach_m: ask.deflection.map_or(1.0, |d| d.at_reach_m),
        },
    });
    late(model, plan, ask, &mut terms);
    if let Mode::TwoD(HeightFrom::Bench {
        sd_m,
        touch_sd_m,
        mark_sd_m,
        n_moves,
    }) = &ask.mode
    {
        let n = f64::from(*n_moves);
        terms.push(up("bench", *sd_m));
        let touches = touch_sd_m.map(|sd| sd * (1.0 + 2.0 * n).sqrt());
        terms.push(up("touches of bench and marks", touches));
        if 0 < *n_moves {
            terms.push(up("transfer marks", mark_sd_m.map(|sd| sd * n.sqrt())));
        }
    }
    terms
}

fn up(name: &str, sd_m: Option<f64>) -> Term {
    Term {
        name: name.to_owned(),
        group: name.to_owned(),
        scatter: Scatter::looked_at(sd_m),
        unit: SourceUnit::Metre,
        moves: Moves::Along(2),
    }
}

/// The sources of the chain's list.
fn listed(model: &ToothModel, chain: &Chain, shape: &Readings<f64>, ask: &BudgetAsk) -> Vec<Term> {
    let (heading_sd, antenna_sd) = match &ask.mode {
        Mode::TwoD(_) => (None, [None; 3]),
        Mode::ThreeD(s) => match s.heading {
            HeadingFrom::Read { sd_rad } => (sd_rad, [s.plan_sd_m, s.plan_sd_m, s.height_sd_m]),
            HeadingFrom::Pair { line_sd_m } => (None, [line_sd_m.map(|sd| sd / 2_f64.sqrt()); 3]),
        },
    };
    let mut sds = Vec::new();
    model.geometry().map(&mut |_, m| sds.push(m.sd));
    let readings = model.with_sheet_sds(shape, heading_sd, antenna_sd);
    readings.map(&mut |_, m| sds.push(m.sd));
    let pair = match &ask.mode {
        Mode::ThreeD(s) => matches!(s.heading, HeadingFrom::Pair { .. }),
        Mode::TwoD(_) => false,
    };
    chain
        .names()
        .iter()
        .zip(sds)
        .map(|(name, sd)| Term {
            group: group_of(name, pair),
            unit: unit_of(name),
            name: name.clone(),
            scatter: Scatter::stated(sd),
            moves: Moves::Listed,
        })
        .collect()
}

/// The name that the axes of one point share.
fn group_of(name: &str, pair: bool) -> String {
    if name.contains(" of antenna ") {
        return if pair {
            "line between the antennas"
        } else {
            "satellites"
        }
        .to_owned();
    }
    for end in [".x", ".y", ".z"] {
        if let Some(stem) = name.strip_suffix(end) {
            return stem.to_owned();
        }
    }
    name.to_owned()
}

fn unit_of(name: &str) -> SourceUnit {
    let angle = name.ends_with("offset")
        || name.ends_with("rotation")
        || name.ends_with("angle")
        || name.starts_with("reading of")
        || name == "heading";
    if angle {
        SourceUnit::Radian
    } else {
        SourceUnit::Metre
    }
}

/// What moves the whole site: localization, and the receivers' common part.
fn on_site(satellites: &Satellites, terms: &mut Vec<Term>) {
    let mut along = |name: &str, group: &str, axis, scatter| {
        terms.push(Term {
            name: name.to_owned(),
            group: group.to_owned(),
            scatter,
            unit: SourceUnit::Metre,
            moves: Moves::Along(axis),
        });
    };
    let axes = ["easting", "northing", "elevation"];
    for (axis, word) in axes.iter().enumerate() {
        let sd = satellites.localization_sd_m[axis];
        along(
            &format!("{word} of the localization"),
            "localization",
            axis,
            Scatter::looked_at(sd),
        );
    }
    if let HeadingFrom::Pair { .. } = satellites.heading {
        let sds = [
            satellites.plan_sd_m,
            satellites.plan_sd_m,
            satellites.height_sd_m,
        ];
        for (axis, word) in axes.iter().enumerate() {
            let scatter = Scatter::stated(sds[axis]);
            along(
                &format!("{word} of both antennas alike"),
                "satellites",
                axis,
                scatter,
            );
        }
    }
}

/// The pins that this front has and whose play can move the tooth past the sensors.
fn pins(model: &ToothModel, plan: &Plan) -> Vec<Pin> {
    let front = &model.geometry().front;
    let mut pins = Vec::new();
    if front.post_m.is_some() {
        pins.push(Pin::Post);
    }
    pins.push(Pin::BoomFoot);
    if !matches!(front.boom, Boom::Mono { .. }) {
        pins.push(Pin::UpperBoom);
    }
    pins.extend([Pin::BoomStick, Pin::StickBucket]);
    if plan.bucket.gives == Given::Idler {
        pins.extend([Pin::IdlerPivot, Pin::LinkageE, Pin::LinkPin]);
    }
    pins
}

/// Play along the stick and across it; of the link's two pins only what lengthens the link.
fn pin_axes(pin: Pin) -> &'static [usize] {
    match pin {
        Pin::LinkageE | Pin::LinkPin => &[0],
        Pin::Post
        | Pin::BoomFoot
        | Pin::UpperBoom
        | Pin::BoomStick
        | Pin::StickBucket
        | Pin::IdlerPivot => &[0, 1],
    }
}

/// What late readings add while it moves.
fn late(model: &ToothModel, plan: &Plan, ask: &BudgetAsk, terms: &mut Vec<Term>) {
    let not_stated = |name: &str, axis: usize| Term {
        name: name.to_owned(),
        group: name.to_owned(),
        scatter: Scatter::NotStated,
        unit: SourceUnit::Metre,
        moves: Moves::Along(axis),
    };
    match &ask.motion {
        None => terms.push(not_stated("speed of the work", 2)),
        Some(Motion::Tooth { speed_m_s }) if *speed_m_s == 0.0 => {}
        Some(Motion::Tooth { speed_m_s }) => {
            let latencies = latencies(model, plan, &ask.mode);
            let without: Vec<_> = latencies.iter().filter(|(_, s)| s.is_none()).collect();
            for (name, _) in &without {
                terms.push(not_stated(&format!("latency of {name}"), 2));
            }
            if !without.is_empty() {
                return;
            }
            let latest = latencies
                .iter()
                .filter_map(|(_, s)| *s)
                .fold(0.0, |most, s| if most < s { s } else { most });
            for axis in 0..3 {
                terms.push(Term {
                    name: format!(
                        "late readings, {}",
                        ["first axis", "second axis", "up"][axis]
                    ),
                    group: "late readings".to_owned(),
                    scatter: Scatter::within(Some(speed_m_s * latest)),
                    unit: SourceUnit::Metre,
                    moves: Moves::Along(axis),
                });
            }
        }
        Some(Motion::Joints(rates)) => {
            let unknown: Vec<String> = latencies(model, plan, &ask.mode)
                .into_iter()
                .filter(|(_, s)| s.is_none())
                .map(|(name, _)| format!("latency of {name}"))
                .collect();
            let rate = |joint: Joint| rates.iter().find(|(j, _)| *j == joint).map(|(_, r)| *r);
            let joints: Vec<Joint> = joints_fitted(&model.geometry().front)
                .into_iter()
                .filter(|joint| *joint != Joint::Swing || !matches!(ask.mode, Mode::TwoD(_)))
                .collect();
            let at_rest = joints.iter().all(|joint| rate(*joint) == Some(0.0));
            if !unknown.is_empty() && !at_rest {
                // Without one latency the sum of the others is no lower bound: they can cancel.
                terms.extend(unknown.iter().map(|name| not_stated(name, 2)));
                return;
            }
            for joint in joints {
                terms.push(Term {
                    name: format!("late readings while {} moves", joint.word()),
                    group: "late readings".to_owned(),
                    scatter: Scatter::within(rate(joint)),
                    unit: SourceUnit::RadianPerSecond,
                    moves: Moves::Late(joint),
                });
            }
        }
    }
}

/// Latency of everything that is read.
fn latencies(model: &ToothModel, plan: &Plan, mode: &Mode) -> Vec<(String, Option<f64>)> {
    let sensors = &model.machine().sheet().sensors;
    let links = [
        Some(&plan.boom),
        plan.boom_upper.as_ref(),
        Some(&plan.stick),
        Some(&plan.bucket),
    ];
    let mut used: Vec<usize> = links
        .into_iter()
        .flatten()
        .chain(&plan.encoders_first)
        .filter(|source| source.joint != Joint::Swing)
        .map(|source| source.sensor_idx)
        .collect();
    used.extend(plan.house.map(|house| house.sensor_idx));
    let stated = |s: Option<f64>| s.filter(|s| 0.0 <= *s && s.is_finite());
    let mut all: Vec<_> = used
        .into_iter()
        .map(|idx| (sensors[idx].id.clone(), stated(sensors[idx].latency_s)))
        .collect();
    if let Mode::ThreeD(satellites) = mode {
        all.push((
            "the satellites' positions".to_owned(),
            stated(satellites.latency_s),
        ));
    }
    all
}

impl Budget {
    /// The readings of a pose.
    pub(super) fn readings(&self, pose: &BudgetPose) -> Result<Readings<f64>, Faults> {
        let mut readings = self.model.readings_at(&pose.joints, &pose.lean)?;
        for (reading, shape) in readings.sensors_rad.iter_mut().zip(&self.shape.sensors_rad) {
            // An encoder that gives swing alone reads nothing here.
            *reading = shape.map(|_| reading.unwrap_or(0.0));
        }
        if self.frame != ToothFrame::Site {
            return Ok(readings);
        }
        let Some(heading) = pose.heading_rad.filter(|h| h.is_finite()) else {
            return Err(Fault::new(
                "B005",
                "heading",
                "none",
                "the azimuth of the boom direction",
                "easting and northing of an uncertainty hang on where the boom points",
            )
            .into());
        };
        readings.heading_rad = self
            .shape
            .heading_rad
            .map(|_| heading + self.heading_offset_rad());
        let turn = pose.lean.site_turn(heading);
        let levers = &self.model.geometry().levers_m;
        for (idx, at) in readings.antennas_m.iter_mut().enumerate() {
            *at = self.shape.antennas_m[idx].map(|_| {
                let [x, y, z] = levers[idx].map(|m| m.value);
                let place = turn * holdline_geom::frame::Point::metres(x, y, z);
                [place.x(), place.y(), place.z()]
            });
        }
        Ok(readings)
    }
}
