//! An invented hand-over and readiness of the demo machine.

use super::title_block;
use holdline_sheet::sheets::*;

pub fn hand_over() -> HandOverSheet {
    let entry = |label: &str,
                 number: Option<&str>,
                 unit: &str,
                 stands_for: &str,
                 exact: &str,
                 mm: Option<f64>,
                 remark: &str| HandOverEntry {
        label: label.to_owned(),
        number: number.map(str::to_owned),
        unit: unit.to_owned(),
        stands_for: stands_for.to_owned(),
        exact: exact.to_owned(),
        rounding_m: mm.map(|mm| mm / 1000.0),
        remark: remark.to_owned(),
    };
    let pose = |name: &str, words: &str, at: [f64; 3], off_mm: [f64; 3]| ProofPose {
        pose: name.to_owned(),
        words: words.to_owned(),
        calibrated_m: at.map(Some),
        keyed_m: [0, 1, 2].map(|i| Some(at[i] + off_mm[i] / 1000.0)),
        allowed_m: Some(0.015),
    };
    HandOverSheet {
        block: title_block("Hand-over: numbers to be keyed"),
        system: "the system in demo-23's cab".to_owned(),
        outcome: Outcome::Within,
        decision: "All 9 entries can be keyed but one; rounding moves the tooth by at most 0.9 mm, allowed 2 mm.".to_owned(),
        entries: vec![
            entry("Boom", Some("5.721"), "m", "boom, pin to pin", "5.7213 m", Some(0.3), ""),
            entry("Stick", Some("2.939"), "m", "stick, pin to pin", "2.9394 m", Some(0.4), ""),
            entry("Boom zero", Some("−0.03"), "deg", "boom sensor, offset", "+0.0300°", Some(0.0), "Sign turned: this entry counts down."),
            entry("Stick zero", Some("+0.02"), "deg", "stick sensor, offset", "−0.0200°", Some(0.0), "Sign turned: this entry counts down."),
            entry("Idler zero", Some("−0.08"), "deg", "idler sensor, offset", "+0.0800°", Some(0.1), ""),
            entry("Tooth forward", Some("−181"), "mm", "T75 centre tooth, forward", "−181.2 mm", Some(0.2), ""),
            entry("Tooth height", Some("−1453"), "mm", "T75 centre tooth, up", "−1452.7 mm", Some(0.3), ""),
            entry("Antenna forward", Some("−1.848"), "m", "antenna GL, forward", "−1.8478 m", Some(0.2), ""),
            entry("House pitch", None, "deg", "house, pitch offset", "+0.0120°", None, "Out of its range of 0.05 to 5: left at 0, see below."),
        ],
        not_carried: vec![
            "House pitch offset +0.012°: no entry takes it. It moves the tooth by 1.9 mm at the far pose.".to_owned(),
            "Correlations of the figures: the system at hand knows none.".to_owned(),
        ],
        proof: vec![
            pose("near", "boom +40°, stick −130°, bucket +60°", [3.83, -0.045, 1.44], [0.3, 0.0, -0.4]),
            pose("mid", "boom +20°, stick −90°, bucket +40°", [5.78, -0.045, -0.24], [0.4, 0.0, -0.6]),
            pose("far", "boom +5°, stick −50°, bucket +10°", [7.37, -0.045, -1.07], [0.5, 0.0, -0.9]),
        ],
        sign: vec!["Keyed by".to_owned(), "Checked by".to_owned()],
        findings: vec!["The display counts in the bucket's frame for the tooth; heights on it are above the tracks.".to_owned()],
    }
}

pub fn readiness() -> ReadinessSheet {
    let row = |job: &str, ready, has: &str, missing: &str| ReadyRow {
        job: job.to_owned(),
        ready,
        has: has.to_owned(),
        missing: missing.to_owned(),
    };
    ReadinessSheet {
        block: title_block("Readiness"),
        summary: "2D depth and slope and 3D work now; height and slew limits lack a swing encoder; nothing is known of the scale.".to_owned(),
        rows: vec![
            row("2D depth and slope", Ready::Now, "sensors on boom, stick and idler; pitch and roll of the house", ""),
            row("3D", Ready::Now, "two antennas with lever arms, corrections typed as 8/8/15 mm", ""),
            row("height limit", Ready::Now, "all links measured, cylinder strokes given", ""),
            row("wall and slew limit", Ready::Missing, "heading from two antennas", "a swing encoder, or heading kept while the antennas do not see the sky"),
            row("scale", Ready::NotKnown, "pressure sensors on the boom cylinders", "their range and uncertainty are not stated; masses of boom and stick"),
            row("sight", Ready::Missing, "–", "cameras or a scanner with their places on the house"),
        ],
        findings: vec!["Track length and gauge carry no uncertainty: they count as unknown where a limit is judged.".to_owned()],
    }
}
