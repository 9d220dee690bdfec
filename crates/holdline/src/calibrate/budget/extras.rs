//! How the sources that are no figure and no reading move the tooth.

use super::Budget;
use super::ask::Pin;
use super::terms::Moves;
use crate::calibrate::chain::linkage::{EarSlopes, LinkageFigures, LinkagePose, side_of};
use crate::calibrate::chain::{ChainPose, ClosedPose, ToothFrame};
use crate::machine::claim::{Joint, SensorKind};
use crate::machine::jacobian::tooth_jacobian;
use crate::machine::joints::Joints;
use crate::machine::pose::front_pose;
use crate::tooth::attitude::Lean;
use crate::tooth::plan::{Given, Source};

/// Differences of readings are taken over this turn of a joint, rad.
const STEP_RAD: f64 = 1e-5;

/// What the extra sources need of a pose.
pub(super) struct Parts {
    /// Rows that take `House` to the frame of the budget.
    rows: [[f64; 3]; 3],
    /// Along the stick and across it, in `House`.
    stick: [[f64; 3]; 2],
    /// The tooth by the bucket's own angle, in `House`.
    by_ear: [f64; 3],
    ear: Option<EarSlopes>,
    level_m: [f64; 3],
    heading_rad: Option<f64>,
}

impl Parts {
    pub fn of_closed(budget: &Budget, pose: &ClosedPose, ear: Option<EarSlopes>) -> Parts {
        let stick = pose.stick_way();
        let from_c = pose.tooth_from_c();
        Parts {
            rows: pose.turn(budget.frame),
            stick: [[stick[0], 0.0, stick[1]], [-stick[1], 0.0, stick[0]]],
            by_ear: [-from_c[1], 0.0, from_c[0]],
            ear,
            level_m: pose.tooth().level_m,
            heading_rad: pose.heading_rad(),
        }
    }

    /// For any machine.
    pub fn of(budget: &Budget, x: &[f64], pose: &ChainPose) -> Parts {
        if let ChainPose::Closed(pose) = pose {
            let closed = budget.chain.closed();
            let ear = closed.and_then(|c| c.ear_slopes(x, pose));
            return Parts::of_closed(budget, pose, ear);
        }
        let front = budget.model.geometry().front.values();
        let (q, lean) = (pose.joints(), pose.lean());
        let links = front_pose(&front, q);
        let turn = links.house_from_stick.rotation();
        let column = |k: usize| [turn[(0, k)], turn[(1, k)], turn[(2, k)]];
        let by_ear = tooth_jacobian(&front, q, &links)
            .into_iter()
            .find(|(joint, _)| *joint == Joint::Bucket)
            .map_or([0.0; 3], |(_, slope)| {
                let v = slope.vector();
                [v.x, v.y, v.z]
            });
        Parts {
            rows: rows_of(budget.frame, lean, pose.heading_rad()),
            stick: [column(0), column(2)],
            by_ear,
            ear: budget.ear_slopes_at(q),
            level_m: pose.tooth().level_m,
            heading_rad: pose.heading_rad(),
        }
    }

    fn in_frame(&self, v: [f64; 3]) -> [f64; 3] {
        self.rows
            .map(|row| row[0] * v[0] + row[1] * v[1] + row[2] * v[2])
    }
}

fn rows_of(frame: ToothFrame, lean: Lean, heading_rad: Option<f64>) -> [[f64; 3]; 3] {
    let turn = match frame {
        ToothFrame::House => nalgebra::Matrix3::identity(),
        ToothFrame::Level => lean.level_from_house().rotation(),
        ToothFrame::Site => lean.site_turn(heading_rad.unwrap_or(f64::NAN)).rotation(),
    };
    [0, 1, 2].map(|row| [turn[(row, 0)], turn[(row, 1)], turn[(row, 2)]])
}

impl Budget {
    /// Slopes of the sources behind the chain's list. `listed` has those of the list.
    ///
    /// ```text
    /// play of a pin       δT = δ + (∂T/∂ε)(∂ε/∂pin) δ        the second only where ε follows from the idler
    /// deflection          δT = up · reach / stated reach
    /// late, joint q       δT = Σ_i (∂T/∂γ_i)(∂γ_i/∂q) τ_i    m per rad/s
    /// ```
    ///
    /// - Symbols: γ_i reading of sensor i, τ_i its latency; one not stated is a source of its own and counts 0 here.
    pub(super) fn extra_slopes(
        &self,
        parts: &Parts,
        joints: &Joints,
        lean: &Lean,
        listed: &[[f64; 3]],
        out: &mut [[f64; 3]],
    ) {
        for (term, slope) in self.terms[listed.len()..].iter().zip(out) {
            *slope = match term.moves {
                Moves::Listed => [f64::NAN; 3],
                Moves::Along(axis) => {
                    let mut unit = [0.0; 3];
                    unit[axis] = 1.0;
                    unit
                }
                Moves::Play(pin, axis) => parts.in_frame(play(parts, pin, axis)),
                Moves::Bends { at_reach_m } => {
                    let [forward, left, _] = parts.level_m;
                    [
                        0.0,
                        0.0,
                        (forward * forward + left * left).sqrt() / at_reach_m,
                    ]
                }
                Moves::Late(joint) => self.late(parts, joint, joints, lean, listed),
            };
        }
    }

    fn late(
        &self,
        parts: &Parts,
        joint: Joint,
        joints: &Joints,
        lean: &Lean,
        listed: &[[f64; 3]],
    ) -> [f64; 3] {
        if joint == Joint::Swing {
            // Place and heading are late together: the tooth is shown turned back about the swing axis.
            let [ch, sh] =
                crate::calibrate::chain::numbers::sin_cos(parts.heading_rad.unwrap_or(f64::NAN));
            let [x, y, _] = parts.level_m;
            let (east, north) = (sh * x - ch * y, ch * x + sh * y);
            let late_s = self.satellite_latency_s.unwrap_or(0.0);
            return [-north * late_s, east * late_s, 0.0];
        }
        let mut sum = [0.0; 3];
        let mut add = |sensor_idx: usize, turn: f64| {
            let latency_s = self.sensors[sensor_idx].latency_s.unwrap_or(0.0);
            let Some(at) = self.sensors[sensor_idx].reading else {
                return;
            };
            for (sum, slope) in sum.iter_mut().zip(listed[at]) {
                *sum += slope * turn * latency_s;
            }
        };
        if self.chain.slower_because().is_some() {
            let step = |by: f64| {
                let moved = joints.with(joint, joints.get(joint) + by);
                self.model.readings_at(&moved, lean).ok()
            };
            let (Some(up), Some(down)) = (step(STEP_RAD), step(-STEP_RAD)) else {
                return [f64::NAN; 3];
            };
            for idx in 0..self.sensors.len() {
                if let (Some(up), Some(down)) = (up.sensors_rad[idx], down.sensors_rad[idx]) {
                    add(idx, (up - down) / (2.0 * STEP_RAD));
                }
            }
            return sum;
        }
        let order = |joint: Joint| match joint {
            Joint::Boom => 0,
            Joint::Stick => 1,
            _ => 2,
        };
        for source in [&self.plan.boom, &self.plan.stick, &self.plan.bucket] {
            let (own, moving) = (order(source.joint), order(joint));
            let turn = match source.kind {
                SensorKind::JointEncoder if own == moving => self.by_joint(source, parts),
                SensorKind::TwoAxis if own == moving => self.by_joint(source, parts),
                SensorKind::TwoAxis if moving < own => 1.0,
                _ => 0.0,
            };
            add(
                source.sensor_idx,
                turn * self.sensors[source.sensor_idx].sign,
            );
        }
        sum
    }

    /// How a sensor's angle turns with its own joint: the idler faster or slower than the bucket.
    fn by_joint(&self, source: &Source, parts: &Parts) -> f64 {
        match source.gives {
            Given::Joint => 1.0,
            Given::Idler => parts.ear.map_or(f64::NAN, |ear| 1.0 / ear.idler_angle),
        }
    }

    fn ear_slopes_at(&self, joints: &Joints) -> Option<EarSlopes> {
        if self.plan.bucket.gives != Given::Idler {
            return None;
        }
        let machine = self.model.machine();
        let (linkage, stick_m) = (machine.linkage(), machine.sheet().stick.length.value);
        let figures = LinkageFigures {
            stick_m,
            pivot_m: linkage.pivot_m,
            idler_m: linkage.idler_m,
            link_m: linkage.link_m,
            ear_m: linkage.ear_m,
            side: side_of(linkage.branch),
        };
        let pose = machine.linkage_pose(joints.bucket).ok()?;
        Some(figures.slopes(&LinkagePose::of(&pose)))
    }
}

/// How the tooth moves in `House` when a pin moves in its bush, along the stick or across it.
fn play(parts: &Parts, pin: Pin, axis: usize) -> [f64; 3] {
    let shift = parts.stick[axis];
    let by_ear = |slope: f64| parts.by_ear.map(|c| slope * c);
    let plus = |a: [f64; 3], b: [f64; 3]| [0, 1, 2].map(|k| a[k] + b[k]);
    match (pin, &parts.ear) {
        (Pin::Post | Pin::BoomFoot | Pin::UpperBoom | Pin::BoomStick, _) => shift,
        (Pin::StickBucket, Some(ear)) => plus(shift, by_ear(ear.pin_c[axis])),
        (Pin::StickBucket, None) => shift,
        (Pin::IdlerPivot, Some(ear)) => by_ear(ear.pivot[axis]),
        (Pin::LinkageE | Pin::LinkPin, Some(ear)) => by_ear(ear.link),
        (Pin::IdlerPivot | Pin::LinkageE | Pin::LinkPin, None) => [0.0; 3],
    }
}
