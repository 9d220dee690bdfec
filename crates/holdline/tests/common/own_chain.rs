//! A calibration day of the demo machine for the adjustment, with the machine's own chain: sixty shots of a tooth,
//! fourteen unknowns.

use super::random::Random;
use super::{demo, pose_at, tool};
use holdline::calibrate::chain::{Chain, ToothFrame};
use holdline::machine::Machine;
use holdline::tooth::attitude::Lean;
use holdline::tooth::model::ToothModel;
use holdline_geom::adjust::{Equations, Linear, Shape, Unknown};
use holdline_geom::fault::Fault;
use holdline_geom::frame::Point;

/// What is not known, by its path on the sheet, and by how much the sheet is off.
pub const OFF: [(&str, f64); 14] = [
    ("boom.length", 0.012),
    ("stick.length", -0.008),
    ("bucket[T75].tooth[centre].at.x", 0.015),
    ("bucket[T75].tooth[centre].at.z", -0.011),
    ("linkage.idler", 0.003),
    ("linkage.link", -0.002),
    ("sensor[S-boom].offset", 0.006),
    ("sensor[S-stick].offset", -0.009),
    ("sensor[S-idler].offset", 0.007),
    ("sensor[S-house].roll_offset", 0.004),
    ("sensor[S-house].offset", -0.003),
    ("antenna[GL].lever.x", 0.020),
    ("antenna[GL].lever.y", -0.015),
    ("antenna[GL].lever.z", 0.010),
];

/// sd of a surveyed coordinate, m.
const SURVEY_SD_M: f64 = 0.005;

/// The day: every pose with its list of figures and readings, and the tooth as surveyed.
pub struct OwnChainDay {
    chain: Chain,
    places: Vec<usize>,
    start: Vec<f64>,
    values: Vec<Vec<f64>>,
    teeth_m: Vec<[f64; 3]>,
    covariance: [f64; 9],
}

impl OwnChainDay {
    /// `noise` of 0 gives the truth itself, 1 the survey's usual noise.
    pub fn measured(n_poses: usize, noise: f64) -> OwnChainDay {
        let machine = Machine::measured_up(demo()).expect("a machine");
        let model = ToothModel::new(&machine, &tool(true, false, "T75", "centre")).expect("a tool");
        let mut random = Random::new(14);
        let (mut values, mut teeth_m) = (Vec::new(), Vec::new());
        let mut chain: Option<(Chain, Vec<usize>)> = None;
        while values.len() < n_poses {
            let q = pose_at(&machine, model.choice(), |_| random.between(0.1, 0.9));
            let lean = Lean {
                pitch: random.between(-0.1, 0.1),
                roll: random.between(-0.1, 0.1),
            };
            let heading = random.between(0.1, 6.1);
            let mut readings = model.readings_at(&q, &lean).expect("inside the strokes");
            let lever = lean.site_turn(heading) * Point::metres(-1.850, 1.050, 3.020);
            readings.heading_rad = Some(heading);
            readings.antennas_m[0] = Some([lever.x(), lever.y(), lever.z()]);
            let (chain, places) = chain.get_or_insert_with(|| {
                let chain = Chain::new(&model, &readings).expect("sensors");
                let place = |path: &str| chain.names().iter().position(|n| n == path);
                let places = OFF.map(|(path, _)| place(path).expect("in the list"));
                (chain, places.to_vec())
            });
            let sheet = chain.values(&model, &readings);
            let mut truth = sheet.clone();
            for (place, (_, off)) in places.iter().zip(OFF) {
                truth[*place] += off;
            }
            let Ok(tooth) = chain.tooth(&truth) else {
                continue;
            };
            let mut normal = || (0..12).map(|_| random.share()).sum::<f64>() - 6.0;
            let site = tooth.site_m.expect("on the site");
            teeth_m.push(site.map(|c| c + noise * SURVEY_SD_M * normal()));
            values.push(sheet);
        }
        let (chain, places) = chain.expect("a pose");
        let variance = SURVEY_SD_M * SURVEY_SD_M;
        OwnChainDay {
            start: places.iter().map(|place| values[0][*place]).collect(),
            chain,
            places,
            values,
            teeth_m,
            covariance: [variance, 0.0, 0.0, 0.0, variance, 0.0, 0.0, 0.0, variance],
        }
    }

    /// The unknowns, as the sheet has them.
    pub fn unknowns(&self) -> Vec<Unknown> {
        let both = OFF.iter().zip(&self.start);
        both.map(|((path, _), start)| Unknown {
            name: (*path).to_owned(),
            start: *start,
            scale: 0.01,
        })
        .collect()
    }

    /// What they truly are.
    pub fn truth(&self) -> Vec<f64> {
        self.start
            .iter()
            .zip(OFF)
            .map(|(x, (_, off))| x + off)
            .collect()
    }
}

impl Equations for OwnChainDay {
    fn n_blocks(&self) -> usize {
        self.values.len()
    }

    fn shape(&self, _: usize) -> Shape {
        Shape {
            n_rows: 3,
            n_readings: 3,
        }
    }

    fn readings(&self, block: usize) -> &[f64] {
        &self.teeth_m[block]
    }

    fn covariance(&self, _: usize) -> &[f64] {
        &self.covariance
    }

    fn fill(&self, block: usize, x: &[f64], l: &[f64], out: &mut Linear) -> Result<(), Fault> {
        const MOST: usize = 64;
        let n = self.values[block].len();
        let (mut list, mut slopes) = ([0.0; MOST], [[0.0; 3]; MOST]);
        list[..n].copy_from_slice(&self.values[block]);
        for (place, value) in self.places.iter().zip(x) {
            list[*place] = *value;
        }
        let (list, slopes) = (&list[..n], &mut slopes[..n]);
        let tooth = self
            .chain
            .tooth_and_slopes(list, ToothFrame::Site, slopes)?;
        let site = tooth.site_m.unwrap_or([f64::NAN; 3]);
        for axis in 0..3 {
            out.w[axis] = site[axis] - l[axis];
            out.b[3 * axis + axis] = -1.0;
            for (k, place) in self.places.iter().enumerate() {
                out.a[axis * x.len() + k] = slopes[*place][axis];
            }
        }
        Ok(())
    }
}
