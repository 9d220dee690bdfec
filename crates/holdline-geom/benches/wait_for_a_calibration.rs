//! How long a person waits for a calibration: sixty poses of a chain of three links, fourteen unknowns.
//!
//! Unknown: three lengths, three angle offsets, three angle scales, roll and heading offset,
//! and the three coordinates of the chain's root from the antenna.
//! Once with the tooth's surveyed coordinates alone as observations, and once with the nine readings of
//! each pose as observations too, so that twelve readings share three equations.

use divan::Bencher;
use holdline_geom::adjust::{
    Adjusted, Equations, How, Levels, Linear, Problem, Room, Shape, Statistics, Unknown, adjust,
};
use holdline_geom::draws::Draws;
use holdline_geom::fault::Fault;

fn main() {
    divan::main();
}

const N_POSES: usize = 60;
const N_UNKNOWNS: usize = 14;
const N_SENSORS: usize = 9;

/// Lengths m, offsets rad, scales, roll and heading offset rad, root m: as first guessed.
const GUESS: [f64; N_UNKNOWNS] = [
    5.7, 2.9, 1.5, 0.0, 0.0, 0.0, 1.0, 1.0, 1.0, 0.0, 0.0, 1.85, -0.35, -0.90,
];

/// What the guess is off by.
const OFF: [f64; N_UNKNOWNS] = [
    0.012, -0.008, 0.015, 0.006, -0.009, 0.011, 0.004, -0.003, 0.005, 0.007, -0.004, 0.02, -0.015,
    0.01,
];

/// Size of usual changes: millimetres, hundredths of a degree, thousandths.
const SCALE: [f64; N_UNKNOWNS] = [
    0.01, 0.01, 0.01, 0.005, 0.005, 0.005, 0.003, 0.003, 0.003, 0.005, 0.005, 0.01, 0.01, 0.01,
];

/// sd of pitch, roll, heading, three joints rad; antenna east, north, up m.
const SENSOR_SD: [f64; N_SENSORS] = [5e-4, 5e-4, 1e-3, 1e-3, 1e-3, 1e-3, 0.008, 0.008, 0.015];

/// sd of a surveyed coordinate, m.
const SURVEY_SD: f64 = 0.005;

/// What counts as an observation.
#[derive(Clone, Copy, PartialEq)]
enum Observed {
    Tooth,
    ToothAndReadings,
}

/// The day's measurements; a block a pose.
struct Day {
    observed: Observed,
    /// Sensors, then tooth.
    readings: Vec<[f64; N_SENSORS + 3]>,
    covariance: Vec<f64>,
}

impl Day {
    fn measured(observed: Observed) -> Day {
        let mut draws = Draws::new(10, 0);
        let mut truth = GUESS;
        truth.iter_mut().zip(OFF).for_each(|(x, off)| *x += off);
        let spans = [
            (-0.1, 0.1),
            (-0.1, 0.1),
            (0.0, std::f64::consts::TAU),
            (-0.6, 0.9),
            (-2.5, -0.6),
            (-2.4, 0.2),
            (0.0, 5.0),
            (0.0, 5.0),
            (0.0, 1.0),
        ];
        let readings = (0..N_POSES).map(|_| {
            let sensors = spans.map(|(from, to)| draws.between(from, to));
            let tooth = Pose::at(&truth, &sensors).tooth;
            let mut all = [0.0; N_SENSORS + 3];
            for (k, reading) in all.iter_mut().enumerate() {
                *reading = match k.checked_sub(N_SENSORS) {
                    Some(axis) => tooth[axis] + SURVEY_SD * draws.normal(),
                    None if observed == Observed::Tooth => sensors[k],
                    None => sensors[k] + SENSOR_SD[k] * draws.normal(),
                };
            }
            all
        });
        let readings = readings.collect();
        let n = n_readings(observed);
        let mut covariance = vec![0.0; n * n];
        for k in 0..n {
            let sd = SENSOR_SD[..]
                .get(k + N_SENSORS + 3 - n)
                .unwrap_or(&SURVEY_SD);
            covariance[k * n + k] = sd * sd;
        }
        Day {
            observed,
            readings,
            covariance,
        }
    }

    fn solved(&self, room: &mut Room) -> Adjusted {
        let unknowns = unknowns();
        adjust(&Problem::new(self, &unknowns), &How::default(), room).expect("settled")
    }
}

fn n_readings(observed: Observed) -> usize {
    match observed {
        Observed::Tooth => 3,
        Observed::ToothAndReadings => N_SENSORS + 3,
    }
}

fn unknowns() -> Vec<Unknown> {
    let unknown = |k: usize| Unknown {
        name: String::new(),
        start: GUESS[k],
        scale: SCALE[k],
    };
    (0..N_UNKNOWNS).map(unknown).collect()
}

/// The chain in a pose, and how it moves.
struct Pose {
    tooth: [f64; 3],
    /// Forward, left and up of the house, in east, north, up.
    axes: [[f64; 3]; 3],
    /// Way of each link in the plane: along, up.
    ways: [[f64; 2]; 3],
    /// Change of the tooth in the plane by each joint.
    by_joint: [[f64; 2]; 3],
    by_pitch: [f64; 3],
    by_roll: [f64; 3],
    by_heading: [f64; 3],
}

impl Pose {
    #[inline(always)]
    fn at(x: &[f64], sensors: &[f64]) -> Pose {
        let (sp, cp) = sensors[0].sin_cos();
        let (sr, cr) = (sensors[1] + x[9]).sin_cos();
        let (sh, ch) = (sensors[2] + x[10]).sin_cos();
        let mut angle = 0.0;
        let mut ways = [[0.0; 2]; 3];
        for k in 0..3 {
            angle += x[6 + k] * sensors[3 + k] + x[3 + k];
            let (sin, cos) = angle.sin_cos();
            ways[k] = [cos, sin];
        }
        let mut by_joint = [[0.0; 2]; 3];
        let mut reach = [0.0; 2];
        for k in (0..3).rev() {
            reach[0] += x[k] * ways[k][0];
            reach[1] += x[k] * ways[k][1];
            by_joint[k] = [-reach[1], reach[0]];
        }
        let (ahead, left, up) = (x[11] + reach[0], x[12], x[13] + reach[1]);
        let (y1, z1) = (cr * left - sr * up, sr * left + cr * up);
        let (x2, z2) = (cp * ahead - sp * z1, sp * ahead + cp * z1);
        let off = [sh * x2 - ch * y1, ch * x2 + sh * y1, z2];
        Pose {
            tooth: [
                off[0] + sensors[6],
                off[1] + sensors[7],
                off[2] + sensors[8],
            ],
            axes: [
                [sh * cp, ch * cp, sp],
                [-sh * sp * sr - ch * cr, -ch * sp * sr + sh * cr, cp * sr],
                [-sh * sp * cr + ch * sr, -ch * sp * cr - sh * sr, cp * cr],
            ],
            ways,
            by_joint,
            by_pitch: [-sh * z2, -ch * z2, x2],
            by_roll: [ch * z1 - sh * sp * y1, -ch * sp * y1 - sh * z1, cp * y1],
            by_heading: [off[1], -off[0], 0.0],
        }
    }
}

impl Equations for Day {
    fn n_blocks(&self) -> usize {
        self.readings.len()
    }

    fn shape(&self, _: usize) -> Shape {
        Shape {
            n_rows: 3,
            n_readings: n_readings(self.observed),
        }
    }

    fn readings(&self, block: usize) -> &[f64] {
        &self.readings[block][N_SENSORS + 3 - n_readings(self.observed)..]
    }

    fn covariance(&self, _: usize) -> &[f64] {
        &self.covariance
    }

    fn fill(&self, block: usize, x: &[f64], l: &[f64], out: &mut Linear) -> Result<(), Fault> {
        let n = l.len();
        let sensors = match self.observed {
            Observed::Tooth => &self.readings[block][..N_SENSORS],
            Observed::ToothAndReadings => &l[..N_SENSORS],
        };
        let pose = Pose::at(x, sensors);
        for axis in 0..3 {
            let (ahead, up) = (pose.axes[0][axis], pose.axes[2][axis]);
            let a = &mut out.a[axis * N_UNKNOWNS..(axis + 1) * N_UNKNOWNS];
            let mut by_joint = [0.0; 3];
            for k in 0..3 {
                a[k] = ahead * pose.ways[k][0] + up * pose.ways[k][1];
                by_joint[k] = ahead * pose.by_joint[k][0] + up * pose.by_joint[k][1];
                a[3 + k] = by_joint[k];
                a[6 + k] = by_joint[k] * sensors[3 + k];
                a[11 + k] = pose.axes[k][axis];
            }
            a[9] = pose.by_roll[axis];
            a[10] = pose.by_heading[axis];
            out.w[axis] = pose.tooth[axis] - l[n - 3 + axis];
            let b = &mut out.b[axis * n..(axis + 1) * n];
            b[n - 3 + axis] = -1.0;
            if self.observed == Observed::ToothAndReadings {
                b[0] = pose.by_pitch[axis];
                b[1] = pose.by_roll[axis];
                b[2] = pose.by_heading[axis];
                for k in 0..3 {
                    b[3 + k] = by_joint[k] * x[6 + k];
                }
                b[6 + axis] = 1.0;
            }
        }
        Ok(())
    }
}

/// The slopes are right, and the truth lies within four of its sd.
fn looked_at(observed: Observed) -> Day {
    let day = Day::measured(observed);
    let scales = [0.01; N_UNKNOWNS];
    let off = holdline_geom::adjust::check_slopes(&day, &GUESS, &scales, 0.01);
    assert!(off.expect("filled").expect("slopes").share < 1e-6);
    let adjusted = day.solved(&mut Room::new());
    for k in 0..N_UNKNOWNS {
        let off = adjusted.values[k] - GUESS[k] - OFF[k];
        assert!(off.abs() < 4.0 * adjusted.sd(k).expect("determined"));
    }
    println!(
        "{} rounds, χ² {:.1} of {}",
        adjusted.n_steps, adjusted.chi2, adjusted.dof
    );
    day
}

#[divan::bench]
fn sixty_surveyed_poses(bencher: Bencher) {
    let day = looked_at(Observed::Tooth);
    let mut room = Room::new();
    bencher.bench_local(|| day.solved(&mut room));
}

#[divan::bench]
fn sixty_surveyed_poses_with_every_reading_uncertain(bencher: Bencher) {
    let day = looked_at(Observed::ToothAndReadings);
    let mut room = Room::new();
    bencher.bench_local(|| day.solved(&mut room));
}

/// What follows a solve: redundancy, w, τ and the smallest error found, for each of 720 readings.
#[divan::bench]
fn tests_of_every_reading(bencher: Bencher) {
    let day = looked_at(Observed::ToothAndReadings);
    let mut room = Room::new();
    let adjusted = day.solved(&mut room);
    let unknowns = unknowns();
    let problem = Problem::new(&day, &unknowns);
    bencher.bench_local(|| {
        Statistics::of(&problem, &adjusted, &Levels::default(), &mut room).expect("tests")
    });
}

/// The equations alone, all sixty poses once: what no solver can save.
#[divan::bench]
fn equations_and_slopes_of_sixty_poses_once(bencher: Bencher) {
    let day = looked_at(Observed::ToothAndReadings);
    let mut out = Linear {
        w: vec![0.0; 3],
        a: vec![0.0; 3 * N_UNKNOWNS],
        b: vec![0.0; 3 * (N_SENSORS + 3)],
    };
    bencher.bench_local(|| {
        for block in 0..N_POSES {
            let filled = day.fill(block, &GUESS, &day.readings[block], &mut out);
            divan::black_box(filled).expect("filled");
            divan::black_box(&out);
        }
    });
}

/// A million normal draws, for simulations.
#[divan::bench]
fn a_million_normal_draws(bencher: Bencher) {
    let mut draws = Draws::new(1, 0);
    let mut out = vec![0.0; 1_000_000];
    bencher.bench_local(|| draws.fill_normal(divan::black_box(&mut out)));
}
