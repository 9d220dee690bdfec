//! A day's log is in memory, ten million epochs; how long until every tooth is there?
//!
//! Ten readings a second for eleven days, or one machine of a fleet for a season at 1 Hz.
//! The person waits for the as-dug surface, so this must not be what they wait for.
//!
//! ```text
//! cargo bench -p holdline --bench tooth_of_ten_million_epochs
//! ```
//!
//! No flags for the compiler: the registers are chosen when it runs.
//! 96 bytes go through memory for an epoch (nine numbers in, three out), which sets the floor.

use divan::counter::ItemsCount;
use divan::{Bencher, black_box};
use holdline::machine::claim::LinkageBranch;
use holdline::tooth::batch::{
    BatchFront, BatchLinkage, BatchSensors, GravityColumns, JointColumns, Layout, Registers,
    StandColumns, ToothColumns, predict_by_gravity, predict_by_joints,
};

const N_EPOCHS: usize = 10_000_000;

fn main() {
    divan::main();
}

const FRONT: BatchFront = BatchFront {
    foot_from_antenna_m: [1.85, -0.35, -0.90],
    boom_m: 5.7,
    stick_m: 2.9,
    tooth_ear_m: [1.5, 0.0, 0.0],
};

const LINKAGE: BatchLinkage = BatchLinkage {
    idler_pivot_m: [2.460, 0.030],
    idler_m: 0.600,
    link_m: 0.580,
    ear_m: 0.440,
    branch: LinkageBranch::Right,
};

/// Readings spread evenly over these spans, a machine anywhere in its working range.
const SPANS: [(f64, f64); 9] = [
    (-0.15, 0.15),
    (-0.15, 0.15),
    (0.0, std::f64::consts::TAU),
    (-0.75, 1.05),
    (-2.6, -0.5),
    (-2.6, 0.35),
    (500_000.0, 500_200.0),
    (4_200_000.0, 4_200_200.0),
    (100.0, 110.0),
];

struct Log {
    columns: [Vec<f64>; 9],
    teeth: [Vec<f64>; 3],
}

fn log(last_angle: (f64, f64)) -> Log {
    let mut seed = 1_u64;
    let mut unit = move || {
        seed = seed
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (seed >> 11) as f64 / (1_u64 << 53) as f64
    };
    let mut spans = SPANS;
    spans[5] = last_angle;
    Log {
        columns: spans
            .map(|(from, to)| (0..N_EPOCHS).map(|_| from + (to - from) * unit()).collect()),
        teeth: [(); 3].map(|()| vec![0.0; N_EPOCHS]),
    }
}

impl Log {
    fn split(&mut self) -> (StandColumns<'_>, [&[f64]; 3], ToothColumns<'_>) {
        let [p, r, h, a, b, c, e, n, u] = &self.columns;
        let [te, tn, tu] = &mut self.teeth;
        let stand = StandColumns {
            pitch_rad: p,
            roll_rad: r,
            heading_rad: h,
            east_m: e,
            north_m: n,
            up_m: u,
        };
        let teeth = ToothColumns {
            east_m: te,
            north_m: tn,
            up_m: tu,
        };
        (stand, [a, b, c], teeth)
    }
}

const LAYOUTS: [(&str, Layout); 5] = [
    ("1 core, widest", layout(1, Registers::Widest)),
    ("2 cores, widest", layout(2, Registers::Widest)),
    ("1 core, 4 wide", layout(1, Registers::FourWide)),
    ("2 cores, 4 wide", layout(2, Registers::FourWide)),
    ("2 cores, 1 at a time", layout(2, Registers::Single)),
];

const fn layout(n_pieces: usize, registers: Registers) -> Layout {
    Layout {
        n_pieces,
        registers,
    }
}

#[divan::bench(args = LAYOUTS.map(|(name, _)| name), sample_count = 9, sample_size = 1)]
fn from_joint_angles(bencher: Bencher, name: &str) {
    let layout = named(name);
    let mut log = log(SPANS[5]);
    bencher
        .counter(ItemsCount::new(N_EPOCHS))
        .bench_local(move || {
            let (stand, [boom, stick, bucket], teeth) = log.split();
            let joints = JointColumns {
                boom_rad: boom,
                stick_rad: stick,
                bucket_rad: bucket,
            };
            let unusable = predict_by_joints(
                &FRONT,
                &BatchSensors::default(),
                &stand,
                &joints,
                teeth,
                layout,
            );
            black_box(unusable.map(|list| list.len())).ok()
        });
}

#[divan::bench(args = LAYOUTS.map(|(name, _)| name), sample_count = 9, sample_size = 1)]
fn from_gravity_sensors(bencher: Bencher, name: &str) {
    let layout = named(name);
    let mut log = log((-0.4, 1.7));
    // stick and idler sensors read against plumb; keep the idler within its stroke from the stick
    for idx in 0..N_EPOCHS {
        log.columns[4][idx] += log.columns[3][idx];
        log.columns[5][idx] = log.columns[4][idx] + 0.8 + 0.5 * log.columns[5][idx];
    }
    bencher
        .counter(ItemsCount::new(N_EPOCHS))
        .bench_local(move || {
            let (stand, [boom, stick, idler], teeth) = log.split();
            let links = GravityColumns {
                boom_rad: boom,
                stick_rad: stick,
                idler_rad: idler,
            };
            let sensors = BatchSensors::default();
            let unusable =
                predict_by_gravity(&FRONT, &LINKAGE, &sensors, &stand, &links, teeth, layout);
            let n_unusable = unusable.map(|list| list.len());
            assert_eq!(n_unusable, Ok(0), "the bench should time usable epochs");
            black_box(n_unusable).ok()
        });
}

fn named(name: &str) -> Layout {
    LAYOUTS
        .iter()
        .find(|(n, _)| *n == name)
        .map(|(_, layout)| *layout)
        .unwrap_or_default()
}
