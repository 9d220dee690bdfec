//! Somebody asks what this machine can hold; how long until the map is there, and how long do the draws take?
//!
//! The person drags a pose or a figure and waits for the picture to follow: a tenth of a second feels like none.
//!
//! ```text
//! cargo bench -p holdline --bench budget_of_the_whole_reach
//! ```
//!
//! All sources are stated, with a calibration of fourteen figures found together; attitudes of the bucket every 10°.

#[path = "../tests/common/mod.rs"]
mod common;

use divan::{Bencher, black_box};
use holdline::calibrate::budget::{
    Budget, BudgetAsk, BudgetPose, Coverage, Deflection, DrawsAsk, HeadingFrom, MapAsk, Mode,
    Motion, PinPlay, PlanMapAsk, Satellites, Work, at_pose, map, monte_carlo, plan_map,
};
use holdline::machine::Machine;
use holdline::machine::correlated::Correlated;
use holdline::machine::joints::Joints;
use holdline::tooth::attitude::Lean;
use holdline::tooth::model::ToothModel;
use holdline_geom::adjust::{How, Problem, Room, adjust};
use std::sync::atomic::AtomicBool;

fn main() {
    divan::main();
}

const TOGETHER: [&str; 14] = [
    "boom.length",
    "stick.length",
    "linkage.idler",
    "linkage.link",
    "linkage.ear",
    "boom.foot.x",
    "boom.foot.z",
    "sensor[S-boom].offset",
    "sensor[S-stick].offset",
    "sensor[S-idler].offset",
    "sensor[S-house].offset",
    "sensor[S-house].roll_offset",
    "antenna[GL].lever.x",
    "antenna[GL].lever.z",
];

fn budget(satellites: bool) -> Budget {
    let mut sheet = common::demo();
    for sensor in &mut sheet.sensors {
        sensor.latency_s = Some(0.04);
    }
    let machine = Machine::measured_up(sheet).expect("a machine");
    let figures: Vec<_> = TOGETHER
        .iter()
        .map(|path| machine.sheet().figure(path).expect("on the sheet"))
        .collect();
    let values: Vec<f64> = figures.iter().map(|f| f.measured.value).collect();
    let sd = |i: usize| figures[i].measured.sd.expect("stated");
    // Neighbours go together by a half, and so on: a covariance like any that a fit gives.
    let covariance = nalgebra::DMatrix::from_fn(14, 14, |i, j| {
        0.5_f64.powi(i.abs_diff(j) as i32) * sd(i) * sd(j)
    });
    let correlated = Correlated {
        paths: TOGETHER.map(str::to_owned).to_vec(),
        covariance,
    };
    let machine = machine
        .with_correlated(&values, correlated)
        .expect("a calibration");
    let choice = common::tool(true, false, "T75", "centre");
    let model = ToothModel::new(&machine, &choice).expect("a tool");
    let mode = if satellites {
        Mode::ThreeD(Satellites {
            plan_sd_m: Some(0.008),
            height_sd_m: Some(0.015),
            heading: HeadingFrom::Read {
                sd_rad: Some(0.1_f64.to_radians()),
            },
            localization_sd_m: [Some(0.005), Some(0.005), Some(0.008)],
            latency_s: Some(0.1),
        })
    } else {
        Mode::TwoD(holdline::calibrate::budget::HeightFrom::Machine)
    };
    let ask = BudgetAsk {
        mode,
        pin_play: PinPlay::of_all(0.001),
        deflection: Some(Deflection {
            sd_m: 0.004,
            at_reach_m: 8.0,
        }),
        motion: Some(Motion::Tooth { speed_m_s: 0.1 }),
        coverage: Coverage::TwoSided,
        normal: Some([0.0, 0.0, 1.0]),
    };
    Budget::new(&model, &ask).expect("all of it is meant")
}

fn pose() -> BudgetPose {
    BudgetPose {
        joints: Joints {
            boom: 0.4,
            stick: -1.5,
            bucket: 0.6,
            ..Joints::zero()
        },
        lean: Lean {
            pitch: 0.02,
            roll: -0.01,
        },
        heading_rad: Some(1.1),
    }
}

#[divan::bench(args = [1, 2], sample_count = 20, sample_size = 1)]
fn map_of_100_by_100_points(bencher: Bencher, threads: usize) {
    let budget = budget(true);
    let ask = MapAsk::of_all([100, 100], Some(1.1));
    let cancel = AtomicBool::new(false);
    let work = Work {
        progress: &|_, _| {},
        cancel: &cancel,
    };
    let n = map(&budget, &ask, &work).expect("a map").n_poses;
    println!("{n} poses in a map of 10000 points");
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(threads)
        .build()
        .expect("threads");
    bencher.bench_local(|| pool.install(|| black_box(map(&budget, &ask, &work).expect("a map"))));
}

#[divan::bench(args = [1, 2], sample_count = 20, sample_size = 1)]
fn map_of_the_plan(bencher: Bencher, threads: usize) {
    let budget = budget(true);
    let ask = PlanMapAsk {
        section: MapAsk::of_all([60, 60], Some(1.1)),
        n_points: 101,
    };
    let cancel = AtomicBool::new(false);
    let work = Work {
        progress: &|_, _| {},
        cancel: &cancel,
    };
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(threads)
        .build()
        .expect("threads");
    bencher
        .bench_local(|| pool.install(|| black_box(plan_map(&budget, &ask, &work).expect("a map"))));
}

#[divan::bench(args = [1, 2], sample_count = 20, sample_size = 1)]
fn draws_100_000(bencher: Bencher, threads: usize) {
    let budget = budget(true);
    let pose = pose();
    let ask = DrawsAsk {
        n: 100_000,
        seed: 1,
    };
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(threads)
        .build()
        .expect("threads");
    bencher.bench_local(|| {
        pool.install(|| black_box(monte_carlo(&budget, &pose, &ask).expect("draws")))
    });
}

#[divan::bench(args = [false, true])]
fn one_pose_while_it_is_dragged(bencher: Bencher, satellites: bool) {
    let budget = budget(satellites);
    let pose = pose();
    bencher.bench_local(|| black_box(at_pose(&budget, &pose).expect("a pose")));
}

/// Sixty shots of a tooth, fourteen unknowns, through the machine's own chain with its bucket linkage and lean.
#[divan::bench(sample_count = 200)]
fn calibration_by_sixty_shots(bencher: Bencher) {
    let day = common::own_chain::OwnChainDay::measured(60, 1.0);
    let unknowns = day.unknowns();
    let mut room = Room::new();
    bencher.bench_local(|| {
        let problem = Problem::new(&day, &unknowns);
        black_box(adjust(&problem, &How::default(), &mut room).expect("settled"))
    });
}
