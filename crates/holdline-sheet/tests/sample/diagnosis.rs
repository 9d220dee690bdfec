//! An invented diagnosis: a bucket sensor knocked by 0.60°.

use super::{machine, title_block};
use holdline_geom::measured::Measured;
use holdline_sheet::figure::{DEGREES, MILLIMETRES_SIGNED};
use holdline_sheet::sheets::*;

pub fn diagnosis() -> DiagnosisSheet {
    let poses = [
        (28.0, -110.0, 57.0),
        (20.0, -90.0, 20.0),
        (8.0, -70.0, 40.0),
        (42.0, -120.0, 90.0),
        (12.0, -55.0, 5.0),
        (30.0, -100.0, 70.0),
        (18.0, -66.0, -10.0),
        (36.0, -84.0, 30.0),
    ];
    let shots = poses
        .iter()
        .enumerate()
        .map(|(n, (boom, stick, ear))| {
            let view = machine(*boom, *stick, *ear);
            let chain: Vec<[f64; 2]> = view.chain_m.iter().map(|p| [p[0], p[2]]).collect();
            let (c, t) = (chain[2], chain[3]);
            let turn = 0.6_f64.to_radians();
            let off = [-(t[1] - c[1]) * turn + 0.002, (t[0] - c[0]) * turn - 0.003];
            let bearing = (n as f64 * 90.0 + 30.0).to_radians();
            let (east, north) = (bearing.sin(), bearing.cos());
            let stand = if n < 5 {
                [5060.0, 2040.0]
            } else {
                [5052.0, 2049.0]
            };
            ShotArrow {
                id: (n + 1).to_string(),
                side_m: t,
                side_off_m: [Some(off[0]), Some(off[1])],
                plan_m: Some([stand[0] + t[0] * east, stand[1] + t[0] * north]),
                plan_off_m: [Some(off[0] * east), (n != 6).then_some(off[0] * north)],
                chain_m: chain,
            }
        })
        .collect();
    let degrees = |value: f64, sd: f64| Measured::with_sd(value.to_radians(), sd.to_radians());
    let hypothesis =
        |name: &str, chi2: f64, k: usize, in_set: bool, estimates, remark: &str| Hypothesis {
            name: name.to_owned(),
            chi2_left: chi2,
            n_parameters: k,
            aic: chi2 + 2.0 * k as f64,
            estimates,
            in_set,
            remark: remark.to_owned(),
        };
    let mm = |value: f64, sd: f64| Measured::with_sd(value / 1000.0, sd / 1000.0);
    let mut hypotheses = vec![
        hypothesis(
            "bucket sensor moved",
            21.4,
            1,
            true,
            vec![("bucket sensor".to_owned(), degrees(0.59, 0.07), DEGREES)],
            "a knock does this",
        ),
        hypothesis(
            "tooth worn or changed",
            23.9,
            2,
            true,
            vec![
                (
                    "tooth along its line".to_owned(),
                    mm(-4.0, 5.0),
                    MILLIMETRES_SIGNED,
                ),
                (
                    "tooth across its line".to_owned(),
                    mm(15.0, 2.0),
                    MILLIMETRES_SIGNED,
                ),
            ],
            "no tooth wears sideways so far",
        ),
        hypothesis("linkage dimension wrong", 41.0, 1, false, vec![], ""),
        hypothesis("stick sensor moved", 61.7, 1, false, vec![], ""),
        hypothesis("boom sensor moved", 77.3, 1, false, vec![], ""),
        hypothesis("body pitch off", 80.1, 1, false, vec![], ""),
        hypothesis("body roll off", 88.9, 1, false, vec![], ""),
        hypothesis("vertical shift", 83.0, 1, false, vec![], ""),
        hypothesis("horizontal shift", 90.4, 2, false, vec![], ""),
        hypothesis(
            "left tooth shot for the centre",
            312.0,
            0,
            false,
            vec![],
            "",
        ),
        hypothesis("coupler missing in the model", 9120.0, 0, false, vec![], ""),
    ];
    for n in 0..9 {
        hypotheses.push(hypothesis(
            &format!("one more, number {}", n + 1),
            92.0 + f64::from(n),
            1,
            false,
            vec![],
            "",
        ));
    }
    DiagnosisSheet {
        block: title_block("Diagnosis: which part is off"),
        found: Found::Fault,
        decision: "Something is off: bucket sensor moved by +0.59° ± 0.14°, or the tooth has changed. These shots cannot tell the two apart.".to_owned(),
        rule: "Nothing wrong is rejected at 5 % by the largest gain over all 20 hypotheses: 70.2, critical 8.9 from 20 000 draws for these shots, seed 1.".to_owned(),
        shots,
        stands: vec![("S1".to_owned(), [5060.0, 2040.0]), ("S2".to_owned(), [5052.0, 2049.0])],
        chi2_nothing: Some(91.6),
        n_differences: 24,
        hypotheses,
        set_words: "Cannot be told apart by these shots".to_owned(),
        look_first: vec![
            "Bucket sensor: loose screws, a bent bracket, a fresh mark on the housing. Hold a hand inclinometer to the idler beside what the machine shows.".to_owned(),
            "Tooth: a new point, a lost one, wear. Measure from the pin to the tip.".to_owned(),
        ],
        next: vec![NextShot {
            words: "Centre tooth, boom +20°, stick −90°, bucket curled full in (+120°), any heading.".to_owned(),
            separates: "It parts the two by 4.1 sd; the best of 400 poses looked at.".to_owned(),
            machine: Some(machine(20.0, -90.0, 120.0)),
        }],
        machine: Some(machine(28.0, -110.0, 57.0)),
        findings: vec!["Shot 7 has no northing: its arrow in plan shows the easting alone.".to_owned()],
    }
}
