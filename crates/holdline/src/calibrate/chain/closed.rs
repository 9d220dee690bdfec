//! The mono boom's chain and its slopes by every figure and reading, in closed form.

use super::linkage::{EarSlopes, LinkageFigures, LinkagePose};
use super::numbers::{atan2, plus, scaled, sin_cos};
use super::places::{BOOM, EAR, FOOT, HousePlaces, IDLER, LINK, LinkSensor, PIVOT, Places, STICK};
use super::{ToothFrame, ToothPlace};
use crate::machine::joints::Joints;
use crate::sources;
use crate::tooth::attitude::Lean;

/// A way in the boom plane: forward, up.
type Flat = [f64; 2];

/// Why there is no tooth.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum NoTooth {
    /// The bucket linkage cannot close.
    LinkageOpen,
    /// Two tilts that no attitude gives.
    NoAttitude,
}

/// One pose of the chain with all that its slopes need.
#[derive(Debug, Clone, Copy)]
pub struct ClosedPose {
    pub(super) joints: Joints,
    /// How the lean moves with the two readings after sign and offset: of pitch, of roll.
    lean_by_reading: [[f64; 2]; 2],
    stand: Stand,
    boom: Flat,
    pub(super) stick: Flat,
    ear: Flat,
    /// From the boom foot pin, from B, from C to the tooth, in the boom plane.
    from_a: Flat,
    from_b: Flat,
    pub(super) from_c: Flat,
    /// From the bucket's front pin to the tooth, in the boom plane.
    from_pin: Flat,
    /// Way of the bucket's x.
    bucket: Flat,
    pub(super) linkage: Option<LinkagePose>,
    tooth: ToothPlace,
    /// From the antennas' middle lever to the tooth, in `Level` and in `Site`.
    arm_level: [f64; 3],
    arm_site: [f64; 3],
}

/// How the house stands, and what of it stays the same while the front moves.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Stand {
    lean: Lean,
    /// Directions of pitch and roll: cosine and sine of each.
    trig: [[f64; 2]; 2],
    /// The apparent pitch of the boom plane, and its slopes by pitch and roll.
    plumb: (f64, [f64; 2]),
    level: [[f64; 3]; 3],
    heading_rad: Option<f64>,
    /// Direction of the heading: cosine and sine.
    heading: Flat,
    site: [[f64; 3]; 3],
    /// The antennas' middle place on the site and middle lever.
    antennas: Option<[[f64; 3]; 2]>,
    /// Direction of the coupler's turn.
    coupler: Flat,
}

impl ClosedPose {
    /// Where the tooth is.
    pub fn tooth(&self) -> &ToothPlace {
        &self.tooth
    }

    /// Heading, where it is known.
    pub fn heading_rad(&self) -> Option<f64> {
        self.stand.heading_rad
    }

    /// Pitch and roll of the house.
    pub fn lean(&self) -> Lean {
        self.stand.lean
    }

    /// The way of the stick in the boom plane, forward and up.
    pub(crate) fn stick_way(&self) -> [f64; 2] {
        self.stick
    }

    /// From pin C to the tooth in the boom plane, forward and up, m.
    pub(crate) fn tooth_from_c(&self) -> [f64; 2] {
        self.from_c
    }

    /// Rows that take `House` to the frame.
    pub(crate) fn turn(&self, frame: ToothFrame) -> [[f64; 3]; 3] {
        match frame {
            ToothFrame::House => [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]],
            ToothFrame::Level => self.stand.level,
            ToothFrame::Site => self.stand.site,
        }
    }
}

impl Stand {
    fn site_from_level(&self, v: [f64; 3]) -> [f64; 3] {
        let [ch, sh] = self.heading;
        [sh * v[0] - ch * v[1], ch * v[0] + sh * v[1], v[2]]
    }
}

fn turned(v: Flat) -> Flat {
    [-v[1], v[0]]
}

/// `v` given along `way` and across it.
fn laid(way: Flat, v: Flat) -> Flat {
    [way[0] * v[0] - way[1] * v[1], way[1] * v[0] + way[0] * v[1]]
}

fn less(a: Flat, b: Flat) -> Flat {
    [a[0] - b[0], a[1] - b[1]]
}

fn corrected(x: &[f64], sensor: &LinkSensor) -> f64 {
    sensor.sign * x[sensor.reading] - x[sensor.offset]
}

fn linkage_figures(x: &[f64], side: f64) -> LinkageFigures {
    LinkageFigures {
        stick_m: x[STICK],
        pivot_m: [x[PIVOT], x[PIVOT + 1]],
        idler_m: x[IDLER],
        link_m: x[LINK],
        ear_m: x[EAR],
        side,
    }
}

/// The apparent pitch θ* of the boom plane and its slopes by pitch and roll.
fn apparent_pitch(lean: [[f64; 2]; 2]) -> (f64, [f64; 2]) {
    let [[ct, st], [cr, sr]] = lean;
    let below = ct * cr;
    let square = st * st + below * below;
    (atan2(st, below), [cr / square, st * ct * sr / square])
}

/// Rows of the turn from `House` to `Level`.
fn level_rows([[ct, st], [cr, sr]]: [[f64; 2]; 2]) -> [[f64; 3]; 3] {
    [
        [ct, -st * sr, -st * cr],
        [0.0, cr, -sr],
        [st, ct * sr, ct * cr],
    ]
}

fn apply(rows: &[[f64; 3]; 3], v: [f64; 3]) -> [f64; 3] {
    rows.map(|row| row[0] * v[0] + row[1] * v[1] + row[2] * v[2])
}

impl Places {
    /// Joint angles, lean and heading from the flat list, and the tooth.
    pub(super) fn solve(&self, x: &[f64]) -> Result<ClosedPose, NoTooth> {
        let (lean, lean_by_reading) = self.lean(x)?;
        let stand = self.stand(x, lean);
        let (apparent, _) = stand.plumb;
        let boom = corrected(x, &self.boom) - self.boom.plumb * apparent;
        let stick = corrected(x, &self.stick) - self.stick.plumb * (apparent + boom);
        let last = corrected(x, &self.bucket) - self.bucket.plumb * (apparent + boom + stick);
        let (bucket, linkage) = if self.idler {
            let pose = linkage_figures(x, self.side)
                .by_idler(sin_cos(last))
                .ok_or(NoTooth::LinkageOpen)?;
            (atan2(pose.d_m[1], pose.d_m[0] - x[STICK]), Some(pose))
        } else {
            (last, None)
        };
        let joints = Joints {
            boom,
            stick,
            bucket,
            ..Joints::zero()
        };
        Ok(self.placed(x, joints, &stand, lean_by_reading, linkage))
    }

    /// The pose of joint angles on a stand; the readings in `x` are not looked at.
    pub(super) fn at_joints(
        &self,
        x: &[f64],
        joints: Joints,
        stand: &Stand,
    ) -> Result<ClosedPose, NoTooth> {
        let linkage = if self.idler {
            let figures = linkage_figures(x, self.side);
            let pose = figures.by_ear(sin_cos(joints.bucket));
            Some(pose.ok_or(NoTooth::LinkageOpen)?)
        } else {
            None
        };
        let slopes = if self.house.tilts {
            let [[ct, st], [cr, sr]] = stand.trig;
            tilt_slopes(ct, st, cr, sr)
        } else {
            [[1.0, 0.0], [0.0, 1.0]]
        };
        Ok(self.placed(x, joints, stand, slopes, linkage))
    }

    /// How the house stands with this lean; heading and antennas from the list.
    pub(super) fn stand(&self, x: &[f64], lean: Lean) -> Stand {
        let trig = [sin_cos(lean.pitch), sin_cos(lean.roll)];
        let level = level_rows(trig);
        let heading_rad = self.heading(x, &level);
        let heading = heading_rad.map_or([f64::NAN; 2], sin_cos);
        let (mut site, mut antennas) = ([[f64::NAN; 3]; 3], None);
        if heading_rad.is_some() && !self.antennas.is_empty() {
            let [ch, sh] = heading;
            let [forward, left, up] = level;
            let row = |a: f64, b: f64| [0, 1, 2].map(|k| a * forward[k] + b * left[k]);
            site = [row(sh, -ch), row(ch, sh), up];
            let share = 1.0 / self.antennas.len() as f64;
            let (mut at, mut lever) = ([0.0; 3], [0.0; 3]);
            for antenna in &self.antennas {
                for axis in 0..3 {
                    at[axis] += share * x[antenna.reading + axis];
                    lever[axis] += share * x[antenna.lever + axis];
                }
            }
            antennas = Some([at, lever]);
        }
        Stand {
            lean,
            trig,
            plumb: apparent_pitch(trig),
            level,
            heading_rad,
            heading,
            site,
            antennas,
            coupler: self.coupler.map_or([1.0, 0.0], |at| sin_cos(x[at + 2])),
        }
    }

    /// Pitch and roll, and how they move with the two readings after sign and offset.
    fn lean(&self, x: &[f64]) -> Result<(Lean, [[f64; 2]; 2]), NoTooth> {
        let HousePlaces {
            tilts,
            sign,
            offsets,
            readings,
        } = self.house;
        let read = |idx: usize| sign * x[readings[idx]] - offsets[idx].map_or(0.0, |at| x[at]);
        let (first, second) = (read(0), read(1));
        if !tilts {
            let lean = Lean {
                pitch: first,
                roll: second,
            };
            return Ok((lean, [[1.0, 0.0], [0.0, 1.0]]));
        }
        let ([ct, st], [_, sy]) = (sin_cos(first), sin_cos(second));
        let ratio = sy / ct;
        if !(0.0 < ct && -1.0 < ratio && ratio < 1.0) {
            return Err(NoTooth::NoAttitude);
        }
        let cr = ((1.0 - ratio) * (1.0 + ratio)).sqrt();
        let lean = Lean {
            pitch: first,
            roll: atan2(ratio, cr),
        };
        Ok((lean, tilt_slopes(ct, st, cr, ratio)))
    }

    fn placed(
        &self,
        x: &[f64],
        joints: Joints,
        stand: &Stand,
        lean_by_reading: [[f64; 2]; 2],
        linkage: Option<LinkagePose>,
    ) -> ClosedPose {
        let boom = sin_cos(joints.boom);
        let stick = sin_cos(joints.boom + joints.stick);
        let ear = sin_cos(joints.boom + joints.stick + joints.bucket);
        let tip = [x[self.tooth], x[self.tooth + 2]];
        let (bucket, pin) = match self.coupler {
            None => (ear, [0.0; 2]),
            Some(at) => (laid(ear, stand.coupler), laid(ear, [x[at], x[at + 1]])),
        };
        let from_pin = laid(bucket, tip);
        let from_c = plus(pin, from_pin);
        let from_b = plus(scaled(stick, x[STICK]), from_c);
        let from_a = plus(scaled(boom, x[BOOM]), from_b);
        let house = [
            x[FOOT] + from_a[0],
            x[FOOT + 1] + x[self.tooth + 1],
            x[FOOT + 2] + from_a[1],
        ];
        let (mut arm_level, mut arm_site, mut site_m) = ([f64::NAN; 3], [f64::NAN; 3], None);
        if let Some([at, lever]) = stand.antennas {
            let arm = [0, 1, 2].map(|k| house[k] - lever[k]);
            arm_level = apply(&stand.level, arm);
            arm_site = apply(&stand.site, arm);
            site_m = Some([0, 1, 2].map(|k| at[k] + arm_site[k]));
        }
        ClosedPose {
            joints,
            lean_by_reading,
            stand: *stand,
            boom,
            stick,
            ear,
            from_a,
            from_b,
            from_c,
            from_pin,
            bucket,
            linkage,
            tooth: ToothPlace {
                house_m: house,
                level_m: apply(&stand.level, house),
                site_m,
            },
            arm_level,
            arm_site,
        }
    }

    /// Heading as read, or from the first two antennas.
    fn heading(&self, x: &[f64], level: &[[f64; 3]; 3]) -> Option<f64> {
        if let Some(at) = self.heading {
            return Some(x[at] - self.heading_offset.map_or(0.0, |offset| x[offset]));
        }
        let [a, b, ..] = self.antennas.as_slice() else {
            return None;
        };
        let between = |p: usize, q: usize| [0, 1, 2].map(|k| x[q + k] - x[p + k]);
        let v = apply(level, between(a.lever, b.lever));
        let d = between(a.reading, b.reading);
        Some(std::f64::consts::FRAC_PI_2 + atan2(v[1], v[0]) - atan2(d[1], d[0]))
    }

    /// Slopes of the bucket four-bar at a pose; none where the bucket is not sensed through it.
    pub(super) fn ear_slopes(&self, x: &[f64], pose: &ClosedPose) -> Option<EarSlopes> {
        let linkage = pose.linkage.as_ref()?;
        Some(linkage_figures(x, self.side).slopes(linkage))
    }

    /// How the tooth moves with every figure and reading, m per unit, in a frame.
    ///
    /// ```text
    /// joint turned                    ∂T/∂q = n × (T − pin)          n = −y of House
    /// gravity sensor on a link        a = γ − θ*(θ, φ): the links behind it keep their own angles
    /// figure of the four-bar          ∂T/∂f = ∂T/∂ε · ∂ε/∂f          see `EarSlopes`
    /// pitch, roll                     through the turn to Level, and through θ* where gravity sensors stand
    /// heading                         ∂(E, N)/∂ψ = (N, −E) of the arm from antenna to tooth
    /// ```
    ///
    /// - Source: [`sources::RIGID_MOTION`] (Jacobian by the joints' axes), [`sources::FOUR_BAR`].
    /// - Exact to: rounding; `tests/chain.rs` holds it to 1e-12 of the largest slope.
    pub(super) fn slopes(
        &self,
        x: &[f64],
        pose: &ClosedPose,
        frame: ToothFrame,
        out: &mut [[f64; 3]],
    ) -> Option<EarSlopes> {
        let _ = (sources::RIGID_MOTION, sources::FOUR_BAR);
        let rows = pose.turn(frame);
        let flat = |v: Flat| [0, 1, 2].map(|k| rows[k][0] * v[0] + rows[k][2] * v[1]);
        out.fill([0.0; 3]);
        let ear = self.ear_slopes(x, pose);
        let by_ear = turned(pose.from_c);
        self.front_slopes(pose, ear.as_ref(), &rows, out);
        let gain = ear.map_or(1.0, |slopes| slopes.idler_angle);
        let by_last = scaled(by_ear, gain);
        let (b, s, k) = (self.boom.plumb, self.stick.plumb, self.bucket.plumb);
        let by_stick = less(turned(pose.from_b), scaled(by_last, k));
        let by_boom = less(
            less(turned(pose.from_a), scaled(turned(pose.from_b), s)),
            scaled(by_last, k * (1.0 - s)),
        );
        for (sensor, slope) in [
            (&self.boom, by_boom),
            (&self.stick, by_stick),
            (&self.bucket, by_last),
        ] {
            let slope = flat(slope);
            out[sensor.offset] = slope.map(|c| -c);
            out[sensor.reading] = slope.map(|c| sensor.sign * c);
        }
        // By θ*: what the gravity sensors hand on.
        let by_plumb = scaled(
            plus(
                plus(
                    scaled(turned(pose.from_a), b),
                    scaled(turned(pose.from_b), s * (1.0 - b)),
                ),
                scaled(by_last, k * (1.0 - b) * (1.0 - s)),
            ),
            -1.0,
        );
        self.lean_slopes(x, pose, frame, flat(by_plumb), out);
        ear
    }

    fn front_slopes(
        &self,
        pose: &ClosedPose,
        ear: Option<&EarSlopes>,
        rows: &[[f64; 3]; 3],
        out: &mut [[f64; 3]],
    ) {
        let flat = |v: Flat| [0, 1, 2].map(|k| rows[k][0] * v[0] + rows[k][2] * v[1]);
        let axis = |axis: usize| [rows[0][axis], rows[1][axis], rows[2][axis]];
        for k in 0..3 {
            out[FOOT + k] = axis(k);
        }
        out[BOOM] = flat(pose.boom);
        let by_ear = turned(pose.from_c);
        let mut by_stick_m = pose.stick;
        if let Some(ear) = ear {
            by_stick_m = plus(by_stick_m, scaled(by_ear, ear.pin_c[0]));
            let by_ear = flat(by_ear);
            let times = |slope: f64| by_ear.map(|c| slope * c);
            out[PIVOT] = times(ear.pivot[0]);
            out[PIVOT + 1] = times(ear.pivot[1]);
            out[IDLER] = times(ear.idler);
            out[LINK] = times(ear.link);
            out[EAR] = times(ear.ear);
        }
        out[STICK] = flat(by_stick_m);
        if let Some(at) = self.coupler {
            out[at] = flat(pose.ear);
            out[at + 1] = flat(turned(pose.ear));
            out[at + 2] = flat(turned(pose.from_pin));
        }
        out[self.tooth] = flat(pose.bucket);
        out[self.tooth + 1] = axis(1);
        out[self.tooth + 2] = flat(turned(pose.bucket));
    }

    /// Slopes by pitch, roll, heading, levers and antenna positions.
    fn lean_slopes(
        &self,
        x: &[f64],
        pose: &ClosedPose,
        frame: ToothFrame,
        by_plumb: [f64; 3],
        out: &mut [[f64; 3]],
    ) {
        let trig = pose.stand.trig;
        let (_, plumb_by_lean) = pose.stand.plumb;
        let mut by_lean = [0, 1].map(|idx| by_plumb.map(|c| c * plumb_by_lean[idx]));
        let moved = match frame {
            ToothFrame::House => [[0.0; 3]; 2],
            ToothFrame::Level => lean_moves(trig, pose.tooth.level_m),
            ToothFrame::Site => {
                lean_moves(trig, pose.arm_level).map(|v| pose.stand.site_from_level(v))
            }
        };
        for idx in 0..2 {
            by_lean[idx] = add3(by_lean[idx], moved[idx]);
        }
        if frame == ToothFrame::Site {
            self.site_slopes(x, pose, trig, &mut by_lean, out);
        }
        let house = &self.house;
        for reading in 0..2 {
            let [by_pitch, by_roll] = pose.lean_by_reading[reading];
            let slope = [0, 1, 2].map(|k| by_pitch * by_lean[0][k] + by_roll * by_lean[1][k]);
            out[house.readings[reading]] = slope.map(|c| house.sign * c);
            if let Some(at) = house.offsets[reading] {
                out[at] = slope.map(|c| -c);
            }
        }
    }

    fn site_slopes(
        &self,
        x: &[f64],
        pose: &ClosedPose,
        trig: [[f64; 2]; 2],
        by_lean: &mut [[f64; 3]; 2],
        out: &mut [[f64; 3]],
    ) {
        let by_heading = [pose.arm_site[1], -pose.arm_site[0], 0.0];
        let share = 1.0 / self.antennas.len() as f64;
        for antenna in &self.antennas {
            for axis in 0..3 {
                out[antenna.lever + axis] = [0, 1, 2].map(|k| -share * pose.stand.site[k][axis]);
                out[antenna.reading + axis][axis] = share;
            }
        }
        if let Some(at) = self.heading {
            out[at] = by_heading;
            if let Some(offset) = self.heading_offset {
                out[offset] = by_heading.map(|c| -c);
            }
            return;
        }
        let [a, b, ..] = self.antennas.as_slice() else {
            return;
        };
        let between = |p: usize, q: usize| [0, 1, 2].map(|k| x[q + k] - x[p + k]);
        let v = apply(&pose.stand.level, between(a.lever, b.lever));
        let d = between(a.reading, b.reading);
        let (v2, d2) = (v[0] * v[0] + v[1] * v[1], d[0] * d[0] + d[1] * d[1]);
        let turn_of = |by: [f64; 3]| (v[0] * by[1] - v[1] * by[0]) / v2;
        let add = |slot: &mut [f64; 3], turn: f64| {
            *slot = add3(*slot, by_heading.map(|c| turn * c));
        };
        for axis in 0..3 {
            let turn = turn_of([0, 1, 2].map(|k| pose.stand.level[k][axis]));
            add(&mut out[b.lever + axis], turn);
            add(&mut out[a.lever + axis], -turn);
        }
        for (axis, turn) in [(0, d[1] / d2), (1, -d[0] / d2)] {
            add(&mut out[b.reading + axis], turn);
            add(&mut out[a.reading + axis], -turn);
        }
        let moved = lean_moves(trig, v);
        for idx in 0..2 {
            add(&mut by_lean[idx], turn_of(moved[idx]));
        }
    }
}

/// How pitch and roll move with the two tilts: φ = asin( sin p_y / cos p_x ).
fn tilt_slopes(ct: f64, st: f64, cr: f64, sr: f64) -> [[f64; 2]; 2] {
    let sy = sr * ct;
    let cy = ((1.0 - sy) * (1.0 + sy)).sqrt();
    [[1.0, sr * st / (ct * cr)], [0.0, cy / (ct * cr)]]
}

/// How a place in `Level` that hangs on the house moves with pitch and with roll.
fn lean_moves([[ct, st], [_, _]]: [[f64; 2]; 2], at: [f64; 3]) -> [[f64; 3]; 2] {
    // Before the pitch, roll turns left towards up; the up there is −sin θ x + cos θ z of Level.
    let up = ct * at[2] - st * at[0];
    [[-at[2], 0.0, at[0]], [-st * at[1], -up, ct * at[1]]]
}

fn add3(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [a[0] + b[0], a[1] + b[1], a[2] + b[2]]
}
