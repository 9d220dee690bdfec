//! A measuring day on a simulated machine: what the sensors read and what a survey finds.

use super::Rig;
use holdline::calibrate::observations::{Observation, Observations, ObservedTool, Target, What};
use holdline::machine::Machine;
use holdline::machine::claim::{ClaimedMachine, SensorKind};
use holdline::machine::front::ToolChoice;
use holdline::machine::joints::Joints;
use holdline::machine::pose::front_pose;
use holdline::tooth::attitude::Lean;
use holdline::tooth::model::ToothModel;
use holdline_geom::draws::Draws;
use holdline_geom::frame::Point;
use holdline_geom::measured::Measured;

/// How the machine stands in a pose.
#[derive(Debug, Clone, Copy)]
pub struct Stance {
    pub joints: Joints,
    pub lean: Lean,
    pub heading_rad: f64,
    /// Swing axis at track ground level, on the site.
    pub axis_m: [f64; 3],
}

/// Uncertainties of the day, as stated and as simulated.
#[derive(Debug, Clone, Copy)]
pub struct Sds {
    pub shot_m: f64,
    pub tape_m: f64,
    pub slope_rad: f64,
    pub antenna_m: [f64; 3],
    pub heading_rad: f64,
    pub touch_m: f64,
}

pub const SDS: Sds = Sds {
    shot_m: 0.003,
    tape_m: 0.002,
    slope_rad: 0.0017,
    antenna_m: [0.008, 0.008, 0.015],
    heading_rad: 0.002,
    touch_m: 0.002,
};

/// A day that is being measured, with noise from a seed, or without any.
pub struct Day {
    pub truth: ToothModel,
    pub observations: Observations,
    pub sds: Sds,
    noise: Option<Draws>,
}

impl Day {
    pub fn new(truth: &ClaimedMachine, choice: &ToolChoice, noise: Option<Draws>) -> Day {
        let machine = Machine::measured_up(truth.clone()).expect("a machine");
        let truth = ToothModel::new(&machine, choice).expect("its tool");
        Day {
            observations: Observations {
                machine: machine.sheet().id.clone(),
                tool: ObservedTool {
                    coupler: choice.coupler.clone(),
                    tilt: choice.tilt.clone(),
                    bucket: choice.bucket.clone(),
                },
                rows: Vec::new(),
            },
            truth,
            sds: SDS,
            noise,
        }
    }

    pub fn of(rig: &Rig, noise: Option<Draws>) -> Day {
        Day::new(&rig.sheet, &rig.choice, noise)
    }

    fn noisy(&mut self, value: f64, sd: f64) -> f64 {
        value + self.noise.as_mut().map_or(0.0, |draws| sd * draws.normal())
    }

    /// Where a point really is in `House`.
    pub fn house(&self, stance: &Stance, target: &Target) -> [f64; 3] {
        let front = self.truth.geometry().front.values();
        let pose = front_pose(&front, &stance.joints);
        let sheet = self.truth.machine().sheet();
        let linkage = || {
            self.truth
                .machine()
                .linkage_pose(stance.joints.bucket)
                .expect("closes")
        };
        let point = match target {
            Target::Tooth(name) => {
                let bucket = self.truth.machine().bucket(&self.truth.choice().bucket);
                let teeth = &bucket.expect("hangs").teeth;
                let at = teeth.iter().find(|t| t.name == *name).expect("a tooth").at;
                pose.house_from_bucket * Point::metres(at.x.value, at.y.value, at.z.value)
            }
            Target::BoomFoot => pose.house_from_boom.origin(),
            Target::BoomStick => pose.house_from_stick.origin(),
            Target::StickBucket => pose.house_from_ear.origin(),
            Target::LinkPin => pose.house_from_ear * Point::metres(front.linkage.ear_m, 0.0, 0.0),
            Target::LinkageE => {
                let [x, z] = linkage().e_m;
                pose.house_from_stick * Point::metres(x, 0.0, z)
            }
            Target::IdlerPivot => {
                let [x, z] = front.linkage.pivot_m;
                pose.house_from_stick * Point::metres(x, 0.0, z)
            }
            Target::BucketFrontPin => pose.house_from_bucket.origin(),
            Target::Antenna(name) => {
                let antenna = sheet.antennas.iter().find(|a| a.id == *name);
                let lever = antenna.expect("an antenna").lever;
                Point::metres(lever.x.value, lever.y.value, lever.z.value)
            }
            Target::SwingAxis => Point::origin(),
        };
        point.vector().into()
    }

    /// Where a point really is on the site.
    pub fn site(&self, stance: &Stance, target: &Target) -> [f64; 3] {
        let [x, y, z] = self.house(stance, target);
        let turn = stance.lean.site_turn(stance.heading_rad);
        let at = turn * Point::metres(x, y, z);
        let v = at.vector();
        [0, 1, 2].map(|k| v[k] + stance.axis_m[k])
    }

    /// What every sensor reads, by name.
    pub fn readings(&mut self, stance: &Stance) -> Vec<(String, f64)> {
        let ideal = self
            .truth
            .readings_at(&stance.joints, &stance.lean)
            .expect("reads");
        let sheet = self.truth.machine().sheet().clone();
        let house = sheet.sensors.iter().find(|s| s.kind.is_house());
        let house_sd = house.and_then(|s| s.sd_rad).unwrap_or(0.0);
        let mut all = Vec::new();
        for (sensor, reading) in sheet.sensors.iter().zip(&ideal.sensors_rad) {
            if let Some(reading) = reading {
                let sd = sensor.sd_rad.expect("stated");
                all.push((sensor.id.clone(), self.noisy(*reading, sd)));
            }
        }
        for (name, value) in ["pitch", "roll"]
            .iter()
            .zip(ideal.house_rad.expect("reads"))
        {
            all.push(((*name).to_owned(), self.noisy(value, house_sd)));
        }
        all
    }

    /// Antenna positions of a pose, by name.
    pub fn antennas(&mut self, stance: &Stance) -> Vec<(String, f64)> {
        let names: Vec<String> = {
            let antennas = &self.truth.machine().sheet().antennas;
            antennas.iter().map(|a| a.id.clone()).collect()
        };
        let mut all = Vec::new();
        for name in names {
            let at = self.site(stance, &Target::Antenna(name.clone()));
            for (k, word) in ["easting", "northing", "elevation"].iter().enumerate() {
                let value = self.noisy(at[k], self.sds.antenna_m[k]);
                all.push((format!("{name}_{word}"), value));
            }
        }
        all
    }

    pub fn row(
        &mut self,
        what: What,
        place: (&str, &str, &str),
        readings: &[(String, f64)],
    ) -> &mut Observation {
        let n = self.observations.rows.len() + 1;
        let (pose, stand, setup) = place;
        self.observations.rows.push(Observation {
            name: format!("{n}"),
            line: n,
            what,
            pose: pose.to_owned(),
            stand: stand.to_owned(),
            setup: setup.to_owned(),
            readings: readings.to_vec(),
            by: None,
            when: None,
            instrument: None,
            note: None,
        });
        self.observations.rows.last_mut().expect("just put there")
    }

    /// A shot in an instrument's own frame, which lies at `frame` (east, north, up of its zero on the
    /// site, and the azimuth of its north).
    pub fn shot_in(
        &mut self,
        stance: &Stance,
        target: &Target,
        place: (&str, &str, &str),
        frame: ([f64; 3], f64),
        readings: &[(String, f64)],
    ) {
        let at = self.site(stance, target);
        let (zero, azimuth) = frame;
        let (sin, cos) = azimuth.sin_cos();
        let [e, n, u] = [0, 1, 2].map(|k| at[k] - zero[k]);
        // North of the frame points to `azimuth`.
        let local = [e * cos - n * sin, e * sin + n * cos, u];
        let sd = self.sds.shot_m;
        let at_m = local.map(|v| Some(Measured::with_sd(self.noisy(v, sd), sd)));
        let target = target.clone();
        self.row(What::Shot { target, at_m }, place, readings);
    }

    pub fn shot(
        &mut self,
        stance: &Stance,
        target: &Target,
        place: (&str, &str),
        readings: &[(String, f64)],
    ) {
        let (pose, stand) = place;
        self.shot_in(
            stance,
            target,
            (pose, stand, "site"),
            ([0.0; 3], 0.0),
            readings,
        );
    }

    pub fn tape(&mut self, stance: &Stance, from: &Target, to: &Target) {
        let (a, b) = (self.house(stance, from), self.house(stance, to));
        let length = (0..3).map(|k| (a[k] - b[k]).powi(2)).sum::<f64>().sqrt();
        let sd = self.sds.tape_m;
        let length = Measured::with_sd(self.noisy(length, sd), sd);
        let (from, to) = (from.clone(), to.clone());
        self.row(What::Tape { from, to, length }, ("", "", ""), &[]);
    }

    pub fn slope(
        &mut self,
        stance: &Stance,
        from: &Target,
        to: &Target,
        pose: &str,
        readings: &[(String, f64)],
    ) {
        let (a, b) = (self.house(stance, from), self.house(stance, to));
        let gravity = stance.lean.in_boom_plane(stance.joints.post);
        let (sin, cos) = stance.joints.post.sin_cos();
        let forward = (b[0] - a[0]) * cos + (b[1] - a[1]) * sin;
        let angle = (b[2] - a[2]).atan2(forward) + gravity.apparent_pitch;
        let sd = self.sds.slope_rad;
        let angle = Measured::with_sd(self.noisy(angle, sd), sd);
        let (from, to) = (from.clone(), to.clone());
        self.row(What::Slope { from, to, angle }, (pose, "", ""), readings);
    }

    pub fn touch(
        &mut self,
        stance: &Stance,
        target: &Target,
        mark: &str,
        place: (&str, &str),
        readings: &[(String, f64)],
    ) {
        let _ = stance;
        let sd_m = Some(self.sds.touch_m);
        let (target, mark) = (target.clone(), mark.to_owned());
        let what = What::Touch { target, mark, sd_m };
        self.row(what, (place.0, place.1, ""), readings);
    }
}

/// A house sensor's pitch and roll for a swing axis that leans, at a heading.
pub fn leaning(axis_up: [f64; 2], heading_rad: f64) -> Lean {
    let (sin, cos) = heading_rad.sin_cos();
    let up = [
        axis_up[0],
        axis_up[1],
        (1.0 - axis_up[0].powi(2) - axis_up[1].powi(2)).sqrt(),
    ];
    // House x points to (cos ψ, −sin ψ), y to (sin ψ, cos ψ), seen from the tracks.
    let x = up[0] * cos - up[1] * sin;
    let y = up[0] * sin + up[1] * cos;
    Lean {
        pitch: x.asin(),
        roll: y.atan2(up[2]),
    }
}

/// Whether a sheet's sensors are of the kind that a simulated day can read.
pub fn readable(sheet: &ClaimedMachine) -> bool {
    sheet
        .sensors
        .iter()
        .all(|s| s.kind != SensorKind::SingleAxis || s.sd_rad.is_some())
}
