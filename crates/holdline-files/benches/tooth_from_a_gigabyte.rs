//! A gigabyte of readings lies on the disk, two weeks of one machine; how long until the teeth are
//! written?
//!
//! ```text
//! cargo bench -p holdline-files --bench tooth_from_a_gigabyte
//! cargo bench -p holdline-files --bench tooth_from_a_gigabyte -- make FILE [BYTES]
//! cargo bench -p holdline-files --bench tooth_from_a_gigabyte -- run FILE
//! ```
//!
//! The first makes a gigabyte in the folder for temporary files, reads it, and takes it away again;
//! the others only write such a log, and only read one.
//! Read from the page cache, written once to nowhere and once to a file beside the log.
//! `BENCH_THREADS` sets the number of workers, two if not set.

use std::fs::File;
use std::io::{BufWriter, Result, Write};
use std::path::Path;
use std::sync::atomic::AtomicBool;
use std::time::Instant;

use holdline::tooth::batch::{
    BatchFront, BatchSensors, JointColumns, Layout, StandColumns, ToothColumns, predict_by_joints,
};
use holdline_files::readings::answers::{AnswerColumn, Answers, Readings};
use holdline_files::readings::wants::Want;
use holdline_files::readings::{Options, Sinks, Summary, write_answers};
use holdline_geom::fault::Fault;

const A_GIGABYTE: u64 = 1_000_000_000;
const N_RUNS: usize = 5;

const FRONT: BatchFront = BatchFront {
    foot_from_antenna_m: [2.000, -1.095, -1.170],
    boom_m: 5.720,
    stick_m: 2.940,
    tooth_ear_m: [-0.308, 0.0, -1.668],
};

const WANTS: [&str; 9] = [
    "pitch",
    "roll",
    "heading",
    "boom",
    "stick",
    "bucket",
    "easting",
    "northing",
    "elevation",
];

fn main() -> Result<()> {
    let args: Vec<String> = std::env::args()
        .skip(1)
        .filter(|a| !a.starts_with("--"))
        .collect();
    match args.iter().map(String::as_str).collect::<Vec<_>>()[..] {
        ["make", file] => make(Path::new(file), A_GIGABYTE),
        ["make", file, bytes] => make(Path::new(file), bytes.parse().unwrap_or(A_GIGABYTE)),
        ["run", file] => run(Path::new(file)),
        _ => {
            let file = std::env::temp_dir().join("holdline-bench-readings.csv");
            make(&file, A_GIGABYTE)?;
            let result = run(&file);
            std::fs::remove_file(&file)?;
            result
        }
    }
}

/// Writes a log of a digging machine, ten rows a second, the same every time.
fn make(file: &Path, n_bytes: u64) -> Result<()> {
    let mut out = BufWriter::with_capacity(1 << 20, File::create(file)?);
    let head = "time_s,pitch_deg,roll_deg,heading_deg,boom_deg,stick_deg,bucket_deg,\
                easting_m,northing_m,elevation_m\n";
    out.write_all(head.as_bytes())?;
    let (mut n, mut row) = (head.len() as u64, 0_u64);
    let mut seed = 5_u64;
    let mut noise = move |size: f64| {
        seed = seed
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        size * ((seed >> 11) as f64 / (1_u64 << 53) as f64 - 0.5)
    };
    while n < n_bytes {
        let t = row as f64 / 10.0;
        let cycle = (t / 9.0 * std::f64::consts::TAU).sin(); // a load every nine seconds
        let line = format!(
            "{t:.1},{:.3},{:.3},{:.3},{:.3},{:.3},{:.3},{:.4},{:.4},{:.4}\n",
            0.9 + noise(0.1),
            -0.7 + noise(0.1),
            180.0 + 60.0 * cycle + noise(0.2),
            18.0 + 22.0 * cycle + noise(0.1),
            -85.0 - 30.0 * cycle + noise(0.1),
            20.0 + 60.0 * cycle + noise(0.1),
            505_102.35 + noise(0.02),
            4_202_078.12 + noise(0.02),
            127.385 + noise(0.03),
        );
        out.write_all(line.as_bytes())?;
        n += line.len() as u64;
        row += 1;
    }
    out.flush()
}

fn run(file: &Path) -> Result<()> {
    let n_bytes = file.metadata()?.len();
    let beside = file.with_extension("teeth.csv");
    println!(
        "{} bytes, {} workers, load {}",
        n_bytes,
        n_threads(),
        load()
    );
    for to_file in [false, true] {
        let mut seconds = Vec::new();
        let mut n_good = 0;
        let processor_before = processor_seconds();
        for _ in 0..N_RUNS {
            let mut out: Box<dyn Write> = if to_file {
                Box::new(File::create(&beside)?)
            } else {
                Box::new(std::io::sink())
            };
            let start = Instant::now();
            let summary = teeth(file, out.as_mut())?;
            seconds.push(start.elapsed().as_secs_f64());
            n_good = summary.n_good;
            assert_eq!(summary.tally.n_bad(), 0, "{:?}", summary.tally.first());
        }
        seconds.sort_by(f64::total_cmp);
        let (best, median) = (seconds[0], seconds[N_RUNS / 2]);
        let rate = |s: f64| n_bytes as f64 / 1e6 / s;
        let processor = (processor_seconds() - processor_before) / N_RUNS as f64;
        println!(
            "to {}: {n_good} teeth, median {median:.3} s = {:.0} MB/s, best {:.0} MB/s, \
             {processor:.2} s of processor time, load {}",
            if to_file { "a file" } else { "nowhere" },
            rate(median),
            rate(best),
            load()
        );
    }
    println!("most memory held: {}", most_memory());
    if beside.exists() {
        std::fs::remove_file(beside)?;
    }
    Ok(())
}

fn teeth(file: &Path, out: &mut dyn Write) -> Result<Summary> {
    let wants = WANTS.map(Want::needed);
    let answers = ["easting_m", "northing_m", "elevation_m"].map(AnswerColumn::metres);
    let mut options = Options::new("readings.csv");
    options.n_threads = n_threads();
    let mut sinks = Sinks {
        out,
        side: None,
        progress: &mut |_| {},
        cancel: &AtomicBool::new(false),
    };
    write_answers(
        File::open(file)?,
        &wants,
        &answers,
        &options,
        &mut sinks,
        &tooth,
    )
    .map_err(|faults| std::io::Error::other(faults.to_string()))
}

/// The tooth of each row of a block.
fn tooth(readings: &Readings<'_>, answers: &mut Answers) -> std::result::Result<(), Fault> {
    let column = |want_idx| readings.column(want_idx).unwrap_or(&[]);
    let stand = StandColumns {
        pitch_rad: column(0),
        roll_rad: column(1),
        heading_rad: column(2),
        east_m: column(6),
        north_m: column(7),
        up_m: column(8),
    };
    let joints = JointColumns {
        boom_rad: column(3),
        stick_rad: column(4),
        bucket_rad: column(5),
    };
    let unusable = {
        let [east_m, north_m, up_m] = &mut answers.columns[..] else {
            return Ok(());
        };
        let teeth = ToothColumns {
            east_m,
            north_m,
            up_m,
        };
        let sensors = BatchSensors::default();
        predict_by_joints(&FRONT, &sensors, &stand, &joints, teeth, Layout::default())?
    };
    for epoch in unusable {
        answers.refuse(epoch.epoch_idx, epoch.why.words());
    }
    Ok(())
}

fn n_threads() -> usize {
    std::env::var("BENCH_THREADS")
        .ok()
        .and_then(|n| n.parse().ok())
        .unwrap_or(2)
}

fn load() -> String {
    let text = std::fs::read_to_string("/proc/loadavg").unwrap_or_default();
    text.split(' ').next().unwrap_or("not known").to_owned()
}

/// Time that this program had a processor, all threads together, where the system tells.
fn processor_seconds() -> f64 {
    const TICKS_A_SECOND: f64 = 100.0;
    let text = std::fs::read_to_string("/proc/self/stat").unwrap_or_default();
    let after_name = text.rsplit(')').next().unwrap_or_default();
    let fields: Vec<f64> = after_name
        .split(' ')
        .filter_map(|f| f.parse().ok())
        .collect();
    // user and system time are the 14th and 15th of the line; name and state are no numbers
    fields
        .get(10..12)
        .map_or(f64::NAN, |ticks| ticks.iter().sum::<f64>() / TICKS_A_SECOND)
}

/// As the system counts it, where it does.
fn most_memory() -> String {
    let text = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = text.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    line.map_or("not known".to_owned(), |kib| kib.trim().to_owned())
}
