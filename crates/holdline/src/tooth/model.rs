//! A machine with its tool chosen, ready to turn readings into a tooth with its uncertainty.

use super::attitude::Lean;
use super::place::{Geometry, GeometryName, Solution, place, solve};
use super::plan::{Given, Plan};
use super::readings::{ReadingName, Readings, SensorConstants};
use super::uncertainty::{Spread, Together, sd_of, spread};
use crate::machine::Machine;
use crate::machine::claim::{Link, SensorKind};
use crate::machine::figures::HEADING_OFFSET;
use crate::machine::front::ToolChoice;
use crate::machine::joints::Joints;
use holdline_geom::fault::{Fault, Faults};
use holdline_geom::measured::Measured;
use num_dual::DualSVec64;

/// How many sources one pass differentiates by.
const N_LANES: usize = 16;

/// A value with its slopes by [`N_LANES`] sources.
type Lanes = DualSVec64<N_LANES>;

/// How the tooth moves with one source, m per unit of it.
#[derive(Debug, Clone, Copy)]
struct Slopes {
    house: [f64; 3],
    level: [f64; 3],
    site: [f64; 3],
    /// Of the antennas' differences from their levers: length, rise.
    pair: [f64; 3],
}

impl Slopes {
    fn of_lane(solution: &Solution<Lanes>, lane: usize) -> Slopes {
        let slope = |v: nalgebra::Vector3<Lanes>| {
            [v.x, v.y, v.z].map(|c| c.eps.0.map_or(0.0, |slopes| slopes[lane]))
        };
        let no_pair = nalgebra::Vector3::zeros();
        let pair = solution.pair.map_or(no_pair, |check| {
            let (length, rise) = (check.length_difference_m, check.rise_difference_m);
            nalgebra::Vector3::new(length, rise, Lanes::from_re(0.0))
        });
        Slopes {
            house: slope(solution.tooth_house.vector()),
            level: slope(solution.tooth_level.vector()),
            site: solution
                .tooth_site
                .map_or([f64::NAN; 3], |t| slope(t.vector())),
            pair: slope(pair),
        }
    }
}

/// Named among what has no uncertainty when two antennas contradict their lever arms.
pub const PAIR_CONTRADICTS: &str = "the two antennas contradict their lever arms (beyond 3 sd)";

/// Whether the antennas' differences from their levers lie within three of their own sds.
///
/// Without stated sds there is nothing to judge by; the tooth then has no uncertainty anyway.
fn pair_agrees(solution: &Solution, sd_m: Option<[f64; 3]>) -> bool {
    match (&solution.pair, sd_m) {
        (Some(check), Some([length_sd_m, rise_sd_m, _])) => {
            check.length_difference_m.abs() <= 3.0 * length_sd_m
                && check.rise_difference_m.abs() <= 3.0 * rise_sd_m
        }
        (None, _) | (_, None) => true,
    }
}

/// Axis words, in the order of the coordinates.
const AXES: [&str; 3] = ["x", "y", "z"];

/// A machine with its tool chosen.
#[derive(Debug, Clone)]
pub struct ToothModel {
    machine: Machine,
    choice: ToolChoice,
    geometry: Geometry<Measured>,
    plan: Result<Plan, Faults>,
    /// Covariances of figures that were found together.
    together: Vec<Together>,
}

/// A tooth with its uncertainty.
#[derive(Debug, Clone, PartialEq)]
pub struct ToothFix {
    /// The tooth.
    pub solution: Solution,
    /// Spread of the tooth in `House`.
    pub house: Spread,
    /// Spread of the tooth in `Level`.
    pub level: Spread,
    /// Spread of the tooth on the site.
    pub site: Option<Spread>,
}

/// A tooth of a stream with its standard uncertainties alone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StreamFix {
    /// The tooth.
    pub solution: Solution,
    /// In `Level`, m; none when a source that matters has none.
    pub level_sd_m: Option<[f64; 3]>,
    /// On the site, m; likewise.
    pub site_sd_m: Option<[f64; 3]>,
}

impl ToothModel {
    /// Chooses the tool and settles which sensor gives which joint.
    ///
    /// # Errors
    ///
    /// `T001` for an unknown tool. A joint without a sensor is no fault yet:
    /// joint angles may be typed.
    pub fn new(machine: &Machine, choice: &ToolChoice) -> Result<ToothModel, Fault> {
        let front = machine.front(choice)?;
        let sheet = machine.sheet();
        let geometry = Geometry {
            front,
            constants: sheet
                .sensors
                .iter()
                .map(|s| SensorConstants {
                    offset_rad: s.offset,
                    roll_offset_rad: s.roll_offset,
                })
                .collect(),
            levers_m: sheet
                .antennas
                .iter()
                .map(|a| [a.lever.x, a.lever.y, a.lever.z])
                .collect(),
            heading_offset_rad: sheet.heading_offset,
        };
        let plan = Plan::new(machine, &front);
        let mut model = ToothModel {
            machine: machine.clone(),
            choice: choice.clone(),
            geometry,
            plan,
            together: Vec::new(),
        };
        model.together = model.covariances();
        Ok(model)
    }

    /// The machine.
    pub fn machine(&self) -> &Machine {
        &self.machine
    }

    /// The tool.
    pub fn choice(&self) -> &ToolChoice {
        &self.choice
    }

    /// Every figure with its uncertainty.
    pub fn geometry(&self) -> &Geometry<Measured> {
        &self.geometry
    }

    /// Which sensor gives which joint.
    ///
    /// # Errors
    ///
    /// `T003` for every joint without a sensor.
    pub fn plan(&self) -> Result<&Plan, Faults> {
        self.plan.as_ref().map_err(Clone::clone)
    }

    /// The tooth from readings, without its uncertainty.
    ///
    /// # Errors
    ///
    /// As [`solve`], and `T003` when a joint has no sensor.
    pub fn tooth(&self, readings: &Readings<f64>) -> Result<Solution, Faults> {
        let values = self.geometry.map(&mut |_, m| m.value);
        Ok(solve(self.plan()?, &values, readings)?)
    }

    /// The tooth from readings with its uncertainty: every figure of the sheet and every reading is
    /// a source.
    ///
    /// # Errors
    ///
    /// As [`ToothModel::tooth`].
    pub fn fix(&self, readings: &Readings<Measured>) -> Result<ToothFix, Faults> {
        let plan = self.plan()?;
        let run = |geometry: &Geometry<Lanes>, readings: &Readings<Lanes>| {
            solve(plan, geometry, readings)
        };
        let solution = self.tooth(&readings.map(&mut |_, m| m.value))?;
        Ok(self.with_spread(solution, readings, run)?)
    }

    /// The tooth of typed joint angles. Its uncertainty is that of the sheet's lengths alone:
    /// typed angles are taken as they are.
    ///
    /// # Errors
    ///
    /// As [`place`].
    pub fn fix_typed(
        &self,
        joints: Joints,
        lean: Lean,
        readings: &Readings<Measured>,
    ) -> Result<ToothFix, Fault> {
        let values = self.geometry.map(&mut |_, m| m.value);
        let solution = place(&values, &readings.map(&mut |_, m| m.value), joints, lean)?;
        let run = |geometry: &Geometry<Lanes>, readings: &Readings<Lanes>| {
            let joints = joints.map(|_, a| Lanes::from_re(a));
            let lean = Lean {
                pitch: Lanes::from_re(lean.pitch),
                roll: Lanes::from_re(lean.roll),
            };
            place(geometry, readings, joints, lean)
        };
        self.with_spread(solution, readings, run)
    }

    /// The tooth of readings with its standard uncertainties alone, for streams.
    ///
    /// Gives the solution, and the sds in `Level` and on the site; none where a source has none.
    ///
    /// # Errors
    ///
    /// As [`ToothModel::tooth`].
    pub fn fix_in_stream(&self, readings: &Readings<Measured>) -> Result<StreamFix, Faults> {
        let plan = self.plan()?;
        let solution = self.tooth(&readings.map(&mut |_, m| m.value))?;
        let slopes = self.slopes(readings, |g, r| solve(plan, g, r))?;
        let mut sds = Vec::with_capacity(slopes.len());
        self.geometry.map(&mut |_, m| sds.push(m.sd));
        readings.map(&mut |_, m| sds.push(m.sd));
        let of = |pick: &dyn Fn(&Slopes) -> [f64; 3]| {
            let rows = sds.iter().zip(&slopes);
            sd_of(rows.map(|(sd, slope)| (*sd, pick(slope))), &self.together)
        };
        Ok(StreamFix {
            level_sd_m: of(&|s| s.level),
            site_sd_m: solution
                .tooth_site
                .filter(|_| pair_agrees(&solution, of(&|s| s.pair)))
                .and_then(|_| of(&|s| s.site)),
            solution,
        })
    }

    /// Whether figures of this model were found together and are not independent of each other.
    pub fn is_correlated(&self) -> bool {
        !self.together.is_empty()
    }

    /// Covariance of figures as the machine states them: squares of their sds, and what a calibration
    /// found between them. None where one of them has no stated uncertainty.
    pub fn figure_covariance(&self, names: &[GeometryName]) -> Option<nalgebra::DMatrix<f64>> {
        let n = names.len();
        let mut out = nalgebra::DMatrix::zeros(n, n);
        let mut source_idx = vec![None; n];
        let mut at = 0;
        self.geometry.map(&mut |name, m| {
            for (row, _) in names.iter().enumerate().filter(|(_, n)| **n == name) {
                let sd = m.sd.filter(|sd| 0.0 < *sd && *sd < f64::INFINITY);
                source_idx[row] = sd.map(|sd| (at, sd));
            }
            at += 1;
        });
        let rows: Vec<(usize, f64)> = source_idx.into_iter().collect::<Option<_>>()?;
        for (i, (a_idx, sd)) in rows.iter().enumerate() {
            out[(i, i)] = sd * sd;
            for (j, (b_idx, _)) in rows.iter().enumerate() {
                let pair = |t: &&Together| {
                    (t.a_idx, t.b_idx) == (*a_idx, *b_idx) || (t.b_idx, t.a_idx) == (*a_idx, *b_idx)
                };
                if let Some(found) = self.together.iter().find(pair) {
                    out[(i, j)] = found.covariance;
                }
            }
        }
        Some(out)
    }

    /// The covariances that the machine carries, by the order in which the maps visit the figures.
    fn covariances(&self) -> Vec<Together> {
        let Some(correlated) = self.machine.correlated() else {
            return Vec::new();
        };
        let mut places = vec![None; correlated.paths.len()];
        let mut source_idx = 0;
        self.geometry.map(&mut |name, _| {
            let path = self.geometry_name(name);
            if let Some(row) = correlated.paths.iter().position(|p| *p == path) {
                places[row] = Some(source_idx);
            }
            source_idx += 1;
        });
        let rows: Vec<(usize, usize)> = places
            .iter()
            .enumerate()
            .filter_map(|(row, place)| Some((row, (*place)?)))
            .collect();
        let mut together = Vec::new();
        for (n, (row, a_idx)) in rows.iter().enumerate() {
            for (column, b_idx) in &rows[..n] {
                let covariance = correlated.covariance[(*row, *column)];
                if covariance != 0.0 {
                    together.push(Together {
                        a_idx: *a_idx,
                        b_idx: *b_idx,
                        covariance,
                    });
                }
            }
        }
        together
    }

    fn with_spread(
        &self,
        solution: Solution,
        readings: &Readings<Measured>,
        run: impl Fn(&Geometry<Lanes>, &Readings<Lanes>) -> Result<Solution<Lanes>, Fault>,
    ) -> Result<ToothFix, Fault> {
        let sources = self.sources(readings);
        let slopes = self.slopes(readings, run)?;
        let of = |pick: &dyn Fn(&Slopes) -> [f64; 3]| {
            let rows = sources.iter().zip(&slopes);
            let rows = rows.map(|((name, m), slope)| (name.clone(), m.sd, pick(slope)));
            spread(rows, &self.together)
        };
        let mut site = solution.tooth_site.map(|_| of(&|s| s.site));
        if let Some(site) = &mut site
            && !pair_agrees(&solution, of(&|s| s.pair).sd_m())
        {
            site.missing.push(PAIR_CONTRADICTS.to_owned());
        }
        Ok(ToothFix {
            house: of(&|s| s.house),
            level: of(&|s| s.level),
            site,
            solution,
        })
    }

    /// How the tooth moves with every source, in the order in which the maps visit them.
    fn slopes(
        &self,
        readings: &Readings<Measured>,
        run: impl Fn(&Geometry<Lanes>, &Readings<Lanes>) -> Result<Solution<Lanes>, Fault>,
    ) -> Result<Vec<Slopes>, Fault> {
        let mut slopes = Vec::new();
        let mut n_sources = usize::MAX;
        while slopes.len() < n_sources {
            let first = slopes.len();
            let mut at = 0;
            let mut seed = |m: &Measured| {
                let plain = Lanes::from_re(m.value);
                let lane = at - first.min(at);
                let mine = first <= at && lane < N_LANES;
                at += 1;
                if mine { plain.derivative(lane) } else { plain }
            };
            let geometry = self.geometry.map(&mut |_, m| seed(m));
            let readings = readings.map(&mut |_, m| seed(m));
            n_sources = at;
            let solution = run(&geometry, &readings)?;
            for lane in 0..N_LANES.min(n_sources - first) {
                slopes.push(Slopes::of_lane(&solution, lane));
            }
        }
        Ok(slopes)
    }

    /// All sources in the order in which the maps visit them,
    /// by names that a person can find on the sheet.
    fn sources(&self, readings: &Readings<Measured>) -> Vec<(String, Measured)> {
        let mut sources = Vec::new();
        self.geometry
            .map(&mut |name, m| sources.push((self.geometry_name(name), *m)));
        readings.map(&mut |name, m| sources.push((self.reading_name(name), *m)));
        sources
    }

    /// The name of every source, in the order in which [`Geometry::map`] and then [`Readings::map`]
    /// visit them: the figure's path on the sheet, or the reading's words.
    pub fn source_names(&self, readings: &Readings<f64>) -> Vec<String> {
        let mut names = Vec::new();
        self.geometry
            .map(&mut |name, _| names.push(self.geometry_name(name)));
        readings.map(&mut |name, _| names.push(self.reading_name(name)));
        names
    }

    /// The path through the sheet of one of the geometry's figures.
    pub fn geometry_name(&self, name: GeometryName) -> String {
        let sheet = self.machine.sheet();
        match name {
            GeometryName::Front(path) => match path.split_once('.') {
                Some(("tooth", axis)) => {
                    format!(
                        "bucket[{}].tooth[{}].at.{axis}",
                        self.choice.bucket, self.choice.tooth
                    )
                }
                Some(("coupler", rest)) => {
                    format!(
                        "coupler[{}].{rest}",
                        self.choice.coupler.as_deref().unwrap_or_default()
                    )
                }
                Some(("tilt", rest)) => format!(
                    "tilt[{}].{rest}",
                    self.choice.tilt.as_deref().unwrap_or_default()
                ),
                _ => path.to_owned(),
            },
            GeometryName::Offset { sensor_idx } => {
                format!("sensor[{}].offset", sheet.sensors[sensor_idx].id)
            }
            GeometryName::RollOffset { sensor_idx } => {
                format!("sensor[{}].roll_offset", sheet.sensors[sensor_idx].id)
            }
            GeometryName::Lever { antenna_idx, axis } => {
                format!(
                    "antenna[{}].lever.{}",
                    sheet.antennas[antenna_idx].id, AXES[axis]
                )
            }
            GeometryName::HeadingOffset => HEADING_OFFSET.to_owned(),
        }
    }

    fn reading_name(&self, name: ReadingName) -> String {
        let sheet = self.machine.sheet();
        match name {
            ReadingName::Pitch => "reading of house pitch".to_owned(),
            ReadingName::Roll => "reading of house roll".to_owned(),
            ReadingName::Heading => "heading".to_owned(),
            ReadingName::Sensor { sensor_idx } => {
                format!("reading of {}", sheet.sensors[sensor_idx].id)
            }
            ReadingName::Antenna { antenna_idx, axis } => {
                let word = ["easting", "northing", "elevation"][axis];
                format!("{word} of antenna {}", sheet.antennas[antenna_idx].id)
            }
        }
    }

    /// The readings with the uncertainty of a single reading,
    /// as the sheet states it for each sensor.
    ///
    /// Heading and antenna positions get the uncertainties handed in; none stated stays none.
    pub fn with_sheet_sds(
        &self,
        readings: &Readings<f64>,
        heading_sd_rad: Option<f64>,
        antenna_sd_m: [Option<f64>; 3],
    ) -> Readings<Measured> {
        let sheet = self.machine.sheet();
        let house_sd = self
            .plan
            .as_ref()
            .ok()
            .and_then(|plan| plan.house)
            .and_then(|h| sheet.sensors[h.sensor_idx].sd_rad);
        readings.map(&mut |name, value| Measured {
            value: *value,
            sd: match name {
                ReadingName::Pitch | ReadingName::Roll => house_sd,
                ReadingName::Sensor { sensor_idx } => sheet.sensors[sensor_idx].sd_rad,
                ReadingName::Heading => heading_sd_rad,
                ReadingName::Antenna { axis, .. } => antenna_sd_m[axis],
            },
        })
    }

    /// What the sensors would read in a pose: the way back from [`ToothModel::tooth`].
    ///
    /// Used to draw a typed pose with the uncertainty that the fitted sensors would give it,
    /// and to make demo data.
    /// Sensors that no joint is taken from read nothing.
    ///
    /// # Errors
    ///
    /// `T003` when a joint has no sensor; `T010`, `T011` when the linkage cannot close there.
    pub fn readings_at(&self, joints: &Joints, lean: &Lean) -> Result<Readings<f64>, Faults> {
        let plan = self.plan()?;
        let sheet = self.machine.sheet();
        let post = self.geometry.front.post_m.map_or(0.0, |_| joints.post);
        let gravity = lean.in_boom_plane(post);
        let boom = joints.boom;
        let upper = boom
            + if plan.boom_upper.is_some() {
                joints.boom_upper
            } else {
                0.0
            };
        let stick = upper + joints.stick;
        let idler = match plan.bucket.gives {
            Given::Idler => self.machine.linkage_pose(joints.bucket)?.idler_rad,
            Given::Joint => 0.0,
        };
        let mut sensors_rad = vec![None; sheet.sensors.len()];
        let in_plane = [
            Some(&plan.boom),
            plan.boom_upper.as_ref(),
            Some(&plan.stick),
            Some(&plan.bucket),
        ];
        for source in in_plane.into_iter().flatten().chain(&plan.encoders_first) {
            let sensor = &sheet.sensors[source.sensor_idx];
            let (absolute, joint) = match (sensor.link, source.gives) {
                (Link::Boom, _) => (boom, joints.get(source.joint)),
                (Link::BoomUpper, _) => (upper, joints.get(source.joint)),
                (Link::Stick, _) => (stick, joints.get(source.joint)),
                (_, Given::Idler) => (stick + idler, idler),
                (_, Given::Joint) => (stick + joints.bucket, joints.get(source.joint)),
            };
            let ideal = match sensor.kind {
                SensorKind::JointEncoder => joint,
                SensorKind::TwoAxis => absolute + gravity.apparent_pitch,
                SensorKind::SingleAxis => (gravity.cos_lean
                    * (absolute + gravity.apparent_pitch + sensor.mount_rad).sin())
                .asin(),
                SensorKind::HouseEuler | SensorKind::HouseTilts => continue,
            };
            sensors_rad[source.sensor_idx] = Some(sensor.sign * (ideal + sensor.offset.value));
        }
        Ok(Readings {
            house_rad: Some(self.house_reading(plan, lean)),
            sensors_rad,
            heading_rad: None,
            antennas_m: vec![None; sheet.antennas.len()],
        })
    }

    fn house_reading(&self, plan: &Plan, lean: &Lean) -> [f64; 2] {
        let Some(house) = plan.house else {
            return [lean.pitch, lean.roll];
        };
        let sensor = &self.machine.sheet().sensors[house.sensor_idx];
        let [x, y] = match house.kind {
            SensorKind::HouseTilts => {
                let up = lean.up().vector();
                [up.x.asin(), up.y.asin()]
            }
            SensorKind::HouseEuler
            | SensorKind::TwoAxis
            | SensorKind::SingleAxis
            | SensorKind::JointEncoder => [lean.pitch, lean.roll],
        };
        let roll_offset = sensor.roll_offset.map_or(0.0, |o| o.value);
        [
            sensor.sign * (x + sensor.offset.value),
            sensor.sign * (y + roll_offset),
        ]
    }
}
