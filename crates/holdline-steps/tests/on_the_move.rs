//! Shots that were read on the move, or with the play taken up one way and the other: from the file to the diagnosis.

use std::fmt::Write as _;

use holdline::records::Stamp;
use holdline_files::points::{ShotRow, read_shots, write_shots};
use holdline_geom::measured::Measured;
use holdline_steps::job::Job;
use holdline_steps::units::Units;
use holdline_steps::verify::{FullAsk, ToleranceAsk, VerifyAsk};
use holdline_steps::views::{SdPair, ToolAsk};

const MACHINE: &str = include_str!("../../../demo/demo-23.machine.toml");
/// Readings without error, and the tooth where these put it.
const SHOTS: &str = include_str!("../../../demo/S1.shots.csv");

/// Some millimetres either way, from a list that is as good as any.
const OFF_MM: [f64; 11] = [1.2, -0.7, 2.1, -1.9, 0.3, -2.4, 1.6, 0.9, -1.1, 2.6, -0.4];

fn shots() -> Vec<ShotRow> {
    read_shots("s", SHOTS.as_bytes(), &[]).unwrap_or_else(|f| panic!("{f}"))
}

/// Every shot as shown where it was surveyed, but for those millimetres and what `change` adds.
fn shown(mut shots: Vec<ShotRow>, change: impl Fn(usize, &mut ShotRow) -> [f64; 3]) -> String {
    for (idx, shot) in shots.iter_mut().enumerate() {
        let add = change(idx, shot);
        for axis in 0..3 {
            let at = shot.surveyed_m[axis].expect("surveyed").value;
            let off = OFF_MM[(3 * idx + axis) % OFF_MM.len()] / 1000.0;
            shot.shown_m[axis] = Some(Measured::without_sd(at + off + add[axis]));
        }
    }
    write_shots(&shots)
}

fn words(table: &str) -> String {
    let dir = tempfile::tempdir().unwrap();
    let mut job = Job::create(&dir.path().join("job.holdline")).unwrap_or_else(|f| panic!("{f}"));
    let stamp = Stamp::new("2025-12-02T09:00:00Z", "A. Example").unwrap();
    let mut take = |name: &str, bytes: &[u8]| {
        let taken = job.import(name, bytes, &stamp);
        taken.unwrap_or_else(|f| panic!("{f}")).hash
    };
    let machine = take("demo-23.machine.toml", MACHINE.as_bytes());
    let shots = take("moving.shots.csv", table.as_bytes());
    let pair = |h, v| {
        Some(SdPair {
            h: Some(h),
            v: Some(v),
        })
    };
    let ask = VerifyAsk {
        full: FullAsk {
            tool: ToolAsk {
                machine,
                coupler: Some("QC-demo".into()),
                bucket: "T75".into(),
                tooth: "centre".into(),
                ..ToolAsk::default()
            },
            shots: Some(shots),
            control_sd_m: pair(0.002, 0.002),
            position_sd_m: pair(0.004, 0.006),
            position_common_sd_m: pair(0.002, 0.003),
            heading_sd_deg: Some(0.1),
            tolerance: ToleranceAsk {
                up_m: Some(0.05),
                down_m: Some(0.05),
                plan_m: Some(0.10),
            },
            ..FullAsk::default()
        },
        daily: None,
    };
    let view = job.verify(&ask, "2025-12-02", Units::Metric);
    let view = view.unwrap_or_else(|f| panic!("{f}")).view;
    let diagnosis = view.diagnosis.expect("readings are there");
    let mut all = diagnosis.words.join("\n");
    for row in diagnosis.rows.iter().filter(|row| row.in_set) {
        let _ = write!(all, "\nrow {}: {}", row.id, row.cells.join(" | "));
    }
    for words in &diagnosis.not_tried {
        let _ = write!(all, "\nnot tried {words:?}");
    }
    all
}

/// 0.25 s late at up to 0.9 m/s, each shot another way.
#[test]
fn a_display_that_lags_is_found_where_the_way_is_given() {
    const LATE_S: f64 = 0.25;
    let ways = [
        [0.7, 0.2, 0.1],
        [-0.5, 0.4, -0.3],
        [0.1, -0.8, 0.2],
        [-0.6, -0.3, 0.4],
        [0.3, 0.6, -0.5],
        [-0.2, 0.1, 0.7],
        [0.5, -0.5, -0.2],
        [-0.4, 0.7, 0.3],
    ];
    let late = |idx: usize, shot: &mut ShotRow| {
        let way = ways[idx % ways.len()];
        shot.per_second_m = Some(way);
        way.map(|v: f64| -v * LATE_S)
    };
    let said = words(&shown(shots(), late));
    assert!(said.contains("row late"), "{said}");
    let found = said.split("is shown is ").nth(1).expect("an estimate");
    let seconds: f64 = found
        .split(' ')
        .next()
        .and_then(|s| s.parse().ok())
        .expect("a number");
    // 24 differences of some 15 mm at most against way of some 0.5 m a second: 6 ms, three times that.
    assert!((seconds - LATE_S).abs() < 0.02, "{said}");
    // Without the way nobody can look for it, and that is said.
    let bare = words(&shown(shots(), |idx, _| {
        ways[idx % ways.len()].map(|v: f64| -v * LATE_S)
    }));
    assert!(
        bare.contains("time lag") && bare.contains("moving"),
        "{bare}"
    );
    assert!(!bare.contains("row late"), "{bare}");
}
