//! An invented calibration of the demo machine: figures of the right size, not the outcome of a fit.

use super::{machine, title_block};
use holdline_geom::measured::Measured;
use holdline_sheet::sheets::*;

/// Noise that is the same every time: about normal, sd 1.
pub struct Noise(pub u64);

impl Noise {
    fn uniform(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }

    pub fn draw(&mut self) -> f64 {
        (0..12).map(|_| self.uniform()).sum::<f64>() - 6.0
    }
}

fn row(
    name: &str,
    counts: Counts,
    before: (f64, Option<f64>),
    now: (f64, f64),
    remark: &str,
) -> CalibratedRow {
    let (unit, _) = match counts {
        Counts::Metres => (1.0, ()),
        Counts::Radians => (std::f64::consts::PI / 180.0, ()),
    };
    CalibratedRow {
        name: name.to_owned(),
        counts,
        before: Measured {
            value: before.0 * unit,
            sd: before.1.map(|sd| sd * unit),
        },
        now: Measured::with_sd(now.0 * unit, now.1 * unit),
        remark: remark.to_owned(),
    }
}

fn figures() -> Vec<CalibratedRow> {
    use Counts::{Metres as M, Radians as R};
    vec![
        row(
            "boom, pin to pin",
            M,
            (5.720, Some(0.003)),
            (5.7213, 0.0011),
            "",
        ),
        row(
            "stick, pin to pin",
            M,
            (2.940, Some(0.003)),
            (2.9394, 0.0009),
            "",
        ),
        row("idler", M, (0.600, Some(0.002)), (0.6003, 0.0016), ""),
        row("bucket link", M, (0.580, Some(0.002)), (0.5801, 0.0018), ""),
        row(
            "boom sensor, offset",
            R,
            (0.0, Some(0.05)),
            (0.030, 0.006),
            "",
        ),
        row(
            "stick sensor, offset",
            R,
            (0.0, Some(0.05)),
            (-0.020, 0.007),
            "",
        ),
        row(
            "idler sensor, offset",
            R,
            (0.0, Some(0.08)),
            (0.080, 0.021),
            "",
        ),
        row(
            "house, pitch offset",
            R,
            (0.0, Some(0.04)),
            (0.012, 0.005),
            "two faces",
        ),
        row(
            "house, roll offset",
            R,
            (0.0, Some(0.04)),
            (-0.007, 0.005),
            "two faces",
        ),
        row(
            "antenna GL, forward",
            M,
            (-1.850, Some(0.004)),
            (-1.8478, 0.0021),
            "",
        ),
        row(
            "antenna GL, left",
            M,
            (1.050, Some(0.004)),
            (1.0512, 0.0024),
            "",
        ),
        row(
            "antenna GL, up",
            M,
            (3.020, Some(0.004)),
            (3.0191, 0.0019),
            "",
        ),
        row(
            "T75 centre tooth, forward",
            M,
            (-0.178, None),
            (-0.1812, 0.0019),
            "",
        ),
        row(
            "T75 centre tooth, up",
            M,
            (-1.449, None),
            (-1.4527, 0.0022),
            "",
        ),
        row(
            "heading of the boom plane",
            R,
            (0.0, Some(0.1)),
            (0.041, 0.012),
            "",
        ),
    ]
}

fn residuals(n_poses: usize) -> Vec<Residual> {
    let mut noise = Noise(3);
    let mut all = Vec::new();
    let mut put =
        |name: String, pose: String, kind: &str, counts: Counts, sd: f64, redundancy: f64| {
            let w = noise.draw();
            let fate = if redundancy < 0.1 {
                Fate::Unchecked
            } else {
                Fate::Kept
            };
            all.push(Residual {
                name,
                pose,
                kind: kind.to_owned(),
                counts,
                off: Some(w * sd * redundancy.sqrt()),
                in_sd: Some(w),
                redundancy: Some(redundancy),
                detectable: Some(sd * (17.075 / redundancy).sqrt()),
                at_tooth_m: Some(0.0004 + 0.004 * (1.0 - redundancy)),
                fate,
                twins: String::new(),
            });
        };
    for n in 1..=n_poses {
        let pose = format!("P{n}");
        for (idx, axis) in ["E", "N", "U"].into_iter().enumerate() {
            let r = 0.62 + 0.05 * idx as f64;
            put(
                format!("{n} {axis}"),
                pose.clone(),
                "total station, tooth",
                Counts::Metres,
                0.003,
                r,
            );
        }
        if n % 2 == 0 {
            for axis in ["E", "N", "U"] {
                put(
                    format!("{n}c {axis}"),
                    pose.clone(),
                    "total station, pin C",
                    Counts::Metres,
                    0.003,
                    0.8,
                );
            }
        }
        for sensor in ["S-boom", "S-stick", "S-bucket"] {
            let sd = 0.02_f64.to_radians();
            put(
                format!("{n} {sensor}"),
                pose.clone(),
                "readings of the link sensors",
                Counts::Radians,
                sd,
                0.41,
            );
        }
    }
    for (name, r) in [("A–B", 0.85), ("B–C", 0.87), ("F–E", 0.06), ("E–D", 0.04)] {
        put(
            format!("tape {name}"),
            String::new(),
            "tape",
            Counts::Metres,
            0.002,
            r,
        );
    }
    let mut blunder = |idx: usize, off: f64, w: f64, why: &str| {
        if let Some(residual) = all.get_mut(idx) {
            residual.off = Some(off);
            residual.in_sd = Some(w);
            residual.fate = Fate::Rejected(why.to_owned());
        }
    };
    blunder(
        25,
        -0.450,
        -118.0,
        "Off by 450 mm: two figures of the northing look swapped (5.27 for 5.72). Read the book again.",
    );
    blunder(
        58,
        0.0148,
        4.9,
        "Off by 15 mm, more than 12.4 mm that would be found.",
    );
    if let Some(other) = all.get_mut(58) {
        other.twins = "Cannot be told from 8 U.".to_owned();
    }
    all
}

fn poses(n: usize, what: &str) -> Vec<PoseLine> {
    (0..n)
        .map(|idx| {
            let t = idx as f64;
            let view = machine(
                -20.0 + (t * 37.0) % 70.0,
                -60.0 - (t * 23.0) % 80.0,
                -20.0 + (t * 41.0) % 120.0,
            );
            PoseLine {
                name: format!("{what}{}", idx + 1),
                chain_m: view.chain_m.iter().map(|p| [p[0], p[2]]).collect(),
                words: format!(
                    "heading {}°, roll {:+.1}°: tooth left, centre and right",
                    (30 + 90 * idx) % 360,
                    (t * 1.7) % 5.0 - 2.0
                ),
                remark: if what == "P" {
                    "5 of 5 kept".to_owned()
                } else {
                    "worst tooth from ± 11 to ± 10 mm".to_owned()
                },
            }
        })
        .collect()
}

/// A calibration with so many poses.
pub fn calibration(n_poses: usize) -> CalibrationSheet {
    let figures = figures();
    let n = figures.len();
    let mut noise = Noise(11);
    let mut below = Vec::new();
    for row in 1..n {
        for column in 0..row {
            below.push(match (row, column) {
                (6, 2) => -0.96,
                (13, 5) => 0.91,
                _ => (0.28 * noise.draw()).clamp(-0.88, 0.88),
            });
        }
    }
    let tooth = |name: &str, at: [f64; 2], before: f64, now: f64| ToothSure {
        name: name.to_owned(),
        side_m: at,
        sd_before_m: [Some(before * 0.8), Some(before * 0.7), Some(before)],
        sd_now_m: [Some(now * 0.9), Some(now * 0.8), Some(now)],
    };
    CalibrationSheet {
        block: title_block("Calibration report"),
        outcome: Outcome::Within,
        decision: "The fit can be believed: χ² is 171.4 for 178 redundant observations, within 143.2 to 216.7 (95 %). Two of 193 observations were rejected.".to_owned(),
        measured: "Measured by A. Example, 2025-12-01 and 2025-12-02, total station TS-1, steel tape, hand inclinometer.".to_owned(),
        not_determined: vec![
            "Idler sensor offset and idler length cannot be told apart by these shots: the bucket moved 48° only. The tooth is sure where it moved, not beyond.".to_owned(),
        ],
        figures,
        residuals: residuals(n_poses),
        limit: Some(3.29),
        limit_words: "limit ± 3.29: one good observation of 1000 lies beyond (Baarda)".to_owned(),
        correlations: Correlations { rows: (0..n).collect(), below },
        tooth: vec![
            tooth("near", [3.83, 1.44], 0.0121, 0.0033),
            tooth("mid", [5.78, -0.24], 0.0139, 0.0036),
            tooth("far", [7.37, -1.07], 0.0158, 0.0046),
        ],
        machine: Some(machine(28.0, -70.0, 20.0)),
        poses: poses(n_poses, "P"),
        next: poses(3, "next "),
        findings: vec![
            "Tooth points of T75 carried no uncertainty on the sheet: they count from these observations alone.".to_owned(),
            "Twenty per cent of the shots should be kept out of a fit and used to check it.".to_owned(),
        ],
    }
}
