//! Where the points of one pose are, for any kind of number.

use super::rig::Rig;
use super::{Block, Heading, Lanes, LeanOf, Row, Slot, Spot, System, Var, View};
use crate::calibrate::observations::Target;
use crate::frames::House;
use crate::machine::claim::Joint;
use crate::machine::cylinder::wrapped;
use crate::machine::joints::Joints;
use crate::machine::pose::{FrontPose, front_pose};
use crate::tooth::attitude::Lean;
use crate::tooth::plan::Source;
use crate::tooth::readings::{Readings, joints_from_readings};
use holdline_geom::adjust::Linear;
use holdline_geom::fault::Fault;
use holdline_geom::frame::{Direction, Point};
use nalgebra::{RealField, Vector3};

/// The numbers at which a block is looked at.
pub(crate) struct At<'a, S> {
    pub rig: Rig<S>,
    of: Box<dyn Fn(Slot) -> S + 'a>,
}

impl<S> At<'_, S> {
    /// The number of a slot.
    pub(crate) fn of(&self, slot: Slot) -> S {
        (self.of)(slot)
    }
}

impl<'a> At<'a, Lanes> {
    /// With slopes by these variables, a lane each.
    pub(crate) fn with_lanes(
        system: &System,
        x: &'a [f64],
        l: &'a [f64],
        lanes: &'a [Var],
    ) -> At<'a, Lanes> {
        // The variables stand in the order of the rig, so one walk meets those of this pass in turn.
        let mut next = 0;
        let rig = system.rig.map(&mut |here_idx, value| {
            let Some(unknown_idx) = system.unknown_of_figure[here_idx] else {
                return Lanes::from_re(*value);
            };
            let value = Lanes::from_re(x[unknown_idx]);
            match lanes.get(next) {
                Some(Var::Figure { figure_idx, .. }) if *figure_idx == here_idx => {
                    next += 1;
                    value.derivative(next - 1)
                }
                _ => value,
            }
        });
        let seed = move |value: f64, is: Var| {
            let value = Lanes::from_re(value);
            match lanes.iter().position(|var| *var == is) {
                Some(lane) => value.derivative(lane),
                None => value,
            }
        };
        At {
            rig,
            of: Box::new(move |slot| match slot {
                Slot::Read(reading_idx) => seed(l[reading_idx], Var::Reading { reading_idx }),
                Slot::Sought(unknown_idx) => seed(x[unknown_idx], Var::Nuisance { unknown_idx }),
                Slot::Plain(value) => Lanes::from_re(value),
            }),
        }
    }
}

impl<'a> At<'a, f64> {
    /// Without slopes.
    pub(crate) fn plain(system: &System, x: &'a [f64], l: &'a [f64]) -> At<'a, f64> {
        At {
            rig: system.rig.map(&mut |figure_idx, value| {
                system.unknown_of_figure[figure_idx].map_or(*value, |idx| x[idx])
            }),
            of: Box::new(move |slot| match slot {
                Slot::Read(reading_idx) => l[reading_idx],
                Slot::Sought(unknown_idx) => x[unknown_idx],
                Slot::Plain(value) => value,
            }),
        }
    }
}

/// The machine in one view.
pub(crate) struct Posed<S: RealField + Copy> {
    pub joints: Joints<S>,
    pub lean: Lean<S>,
    pub front: FrontPose<S>,
    /// Boom direction in the frame, clockwise from its north.
    pub heading_rad: S,
}

pub(crate) struct PosedBlock<'a> {
    pub system: &'a System,
    pub block: &'a Block,
}

impl PosedBlock<'_> {
    /// What is left of every row, without what enters it as a plain sum.
    pub(crate) fn values<S: RealField + Copy>(&self, at: &At<'_, S>) -> Result<Vec<S>, Fault> {
        let posed: Vec<Posed<S>> = self
            .block
            .views
            .iter()
            .map(|view| self.posed(view, at))
            .collect::<Result<_, _>>()?;
        let mut values = Vec::with_capacity(self.block.rows.len());
        let mut last: Option<(usize, &Spot, Vector3<S>)> = None;
        for row in &self.block.rows {
            let here = &posed[row.view_idx()];
            values.push(match row {
                Row::Coordinate {
                    view_idx,
                    spot,
                    axis,
                    ..
                } => {
                    let place = match &last {
                        Some((view, known, place)) if *view == *view_idx && *known == spot => {
                            *place
                        }
                        _ => {
                            let house = self.spot(here, spot, at)?;
                            let from_axis: Direction<House, S> = house - Point::origin();
                            (here.lean.site_turn(here.heading_rad) * from_axis).vector()
                        }
                    };
                    last = Some((*view_idx, spot, place));
                    place[*axis]
                }
                Row::Tape { from, to, .. } => {
                    (self.spot(here, to, at)? - self.spot(here, from, at)?).length_m()
                }
                Row::Slope { from, to, .. } => {
                    let line = (self.spot(here, to, at)? - self.spot(here, from, at)?).vector();
                    let (sin, cos) = here.joints.post.sin_cos();
                    let forward = line.x * cos + line.y * sin;
                    let gravity = here.lean.in_boom_plane(here.joints.post);
                    line.z.atan2(forward) + gravity.apparent_pitch
                }
                Row::Turned { tilt, which, .. } => {
                    let axis = leaning(tilt.map(|slot| at.of(slot)), here.heading_rad);
                    match which {
                        0 => here.lean.pitch - axis.pitch,
                        _ => here.lean.roll - axis.roll,
                    }
                }
            });
        }
        Ok(values)
    }

    /// Adds what enters a row as a plain sum: origin, mark, and what was measured.
    pub(crate) fn add_plain(&self, row: &Row, idx: usize, x: &[f64], l: &[f64], out: &mut Linear) {
        let (n_x, n_l) = (self.system.n_unknowns, self.block.readings.len());
        let mut add = |slot: Slot, sign: f64| match slot {
            Slot::Read(reading_idx) => {
                out.w[idx] += sign * l[reading_idx];
                out.b[idx * n_l + reading_idx] += sign;
            }
            Slot::Sought(unknown_idx) => {
                out.w[idx] += sign * x[unknown_idx];
                out.a[idx * n_x + unknown_idx] += sign;
            }
            Slot::Plain(value) => out.w[idx] += sign * value,
        };
        match row {
            Row::Coordinate {
                view_idx,
                axis,
                mark,
                reading_idx,
                ..
            } => {
                add(Slot::Read(*reading_idx), -1.0);
                add(self.block.views[*view_idx].origin[*axis], 1.0);
                add(*mark, -1.0);
            }
            Row::Tape { reading_idx, .. } => add(Slot::Read(*reading_idx), -1.0),
            Row::Slope { reading_idx, .. } => {
                add(Slot::Read(*reading_idx), -1.0);
                out.w[idx] = wrapped(out.w[idx]);
            }
            Row::Turned { .. } => {}
        }
    }

    pub(crate) fn posed<S: RealField + Copy>(
        &self,
        view: &View,
        at: &At<'_, S>,
    ) -> Result<Posed<S>, Fault> {
        let geometry = &at.rig.geometry;
        let by_swing = |azimuth: Slot| at.of(azimuth) - self.swing(at);
        let heading_rad = match view.heading {
            Heading::Read { heading, azimuth } => {
                let offset = geometry.heading_offset_rad.unwrap_or(S::zero());
                at.of(heading) - offset + at.of(azimuth)
            }
            Heading::Swing { azimuth } => by_swing(azimuth),
            Heading::Is(heading) => at.of(heading),
        };
        let (plan, house_rad) = match view.lean {
            LeanOf::Sensor(house) => (&self.system.plan, house.map(|slot| at.of(slot))),
            LeanOf::Axis(tilt) => {
                let lean = leaning(tilt.map(|slot| at.of(slot)), heading_rad);
                (&self.system.plan_without_house, [lean.pitch, lean.roll])
            }
            LeanOf::Is(lean) => (
                &self.system.plan_without_house,
                lean.map(|slot| at.of(slot)),
            ),
        };
        let readings = Readings {
            house_rad: Some(house_rad),
            sensors_rad: self
                .block
                .sensors
                .iter()
                .map(|slot| slot.map(|slot| at.of(slot)))
                .collect(),
            heading_rad: None,
            antennas_m: Vec::new(),
        };
        let (joints, lean) =
            joints_from_readings(plan, &geometry.front, &geometry.constants, &readings)?;
        Ok(Posed {
            heading_rad,
            front: front_pose(&geometry.front, &joints),
            joints,
            lean,
        })
    }

    /// The swing angle by its encoder, as the chain takes it.
    fn swing<S: RealField + Copy>(&self, at: &At<'_, S>) -> S {
        let plan = &self.system.plan;
        let encoder = |s: &&Source| s.joint == Joint::Swing;
        let Some(source) = plan.encoders_first.iter().find(encoder) else {
            return S::zero();
        };
        let idx = source.sensor_idx;
        let sign: S = nalgebra::convert(plan.signs[idx]);
        let raw = self.block.sensors[idx].map_or(S::zero(), |slot| at.of(slot));
        sign * raw - at.rig.geometry.constants[idx].offset_rad
    }

    /// A point in `House`.
    pub(crate) fn spot<S: RealField + Copy>(
        &self,
        here: &Posed<S>,
        spot: &Spot,
        at: &At<'_, S>,
    ) -> Result<Point<House, S>, Fault> {
        let front = &at.rig.geometry.front;
        let pose = &here.front;
        let o = S::zero();
        Ok(match spot {
            Spot::OnLink { pin, at: place } => {
                let [x, y, z] = place.map(|slot| at.of(slot));
                match pin {
                    Target::BoomFoot => pose.house_from_boom * Point::metres(x, y, z),
                    Target::BoomStick => pose.house_from_stick * Point::metres(x, y, z),
                    _ => pose.house_from_ear * Point::metres(x, y, z),
                }
            }
            Spot::Target(target) => match target {
                Target::Tooth(name) => {
                    let tooth_idx = self.system.teeth.iter().position(|n| n == name);
                    let [x, y, z] = *at.rig.tooth(tooth_idx.unwrap_or(0));
                    pose.house_from_bucket * Point::metres(x, y, z)
                }
                Target::BoomFoot => pose.house_from_boom.origin(),
                Target::BoomStick => pose.house_from_stick.origin(),
                Target::StickBucket => pose.house_from_ear.origin(),
                Target::LinkPin => pose.house_from_ear * Point::metres(front.linkage.ear_m, o, o),
                Target::LinkageE => {
                    let linkage = front
                        .linkage
                        .idler_from_ear(front.stick_m, here.joints.bucket)?;
                    pose.house_from_stick * Point::metres(linkage.e_m[0], o, linkage.e_m[1])
                }
                Target::IdlerPivot => {
                    let [x, z] = front.linkage.pivot_m;
                    pose.house_from_stick * Point::metres(x, o, z)
                }
                Target::BucketFrontPin => pose.house_from_bucket.origin(),
                Target::Antenna(name) => {
                    let antenna_idx = self.system.antennas.iter().position(|n| n == name);
                    let [x, y, z] = at.rig.geometry.levers_m[antenna_idx.unwrap_or(0)];
                    Point::metres(x, y, z)
                }
                Target::SwingAxis => Point::origin(),
            },
        })
    }
}

/// Lean of a house on a swing axis that leans itself, at a heading.
///
/// ```text
/// u_x = t_x cos ψ − t_y sin ψ      u_y = t_x sin ψ + t_y cos ψ      u_z = √(1 − t_x² − t_y²)
/// θ = asin u_x                     φ = atan2(u_y, u_z)
/// ```
///
/// - Symbols: t plumb-up's forward and left part, seen from the tracks at ψ = 0; ψ clockwise from above.
/// - Units: rad. Exact at any lean.
pub(crate) fn leaning<S: RealField + Copy>([t_x, t_y]: [S; 2], heading_rad: S) -> Lean<S> {
    let (sin, cos) = heading_rad.sin_cos();
    let (u_x, u_y) = (t_x * cos - t_y * sin, t_x * sin + t_y * cos);
    let flat2 = t_x * t_x + t_y * t_y;
    let u_z = if flat2 < S::one() {
        (S::one() - flat2).sqrt()
    } else {
        S::zero()
    };
    // atan2 as the arc sine, but with a slope also where an axis has fallen over
    let beside = (u_y * u_y + u_z * u_z).sqrt();
    Lean {
        pitch: u_x.atan2(beside),
        roll: u_y.atan2(u_z),
    }
}
