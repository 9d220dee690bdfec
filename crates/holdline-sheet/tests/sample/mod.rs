//! The invented demo machine in a pose, and invented checks of it, as input for drawings.

#![allow(dead_code, unused_imports)]

use holdline_geom::measured::Measured;
use holdline_sheet::figure::{DEGREES, METRES, METRES_SIGNED};
use holdline_sheet::frame::{State, TitleBlock};
use holdline_sheet::lengths::Lengths;
use holdline_sheet::machine_view::*;
use holdline_sheet::sheets::*;

mod budget;
mod calibration;
mod diagnosis;
mod hand_over;

pub use budget::budget;
pub use calibration::calibration;
pub use diagnosis::diagnosis;
pub use hand_over::{hand_over, readiness};

type P2 = [f64; 2];

/// Boom plane of the demo machine, left of the swing axis, m.
const Y: f64 = -0.045;

fn at(origin: P2, turn: f64, p: P2) -> P2 {
    let (s, c) = turn.sin_cos();
    [
        origin[0] + c * p[0] - s * p[1],
        origin[1] + s * p[0] + c * p[1],
    ]
}

fn space(p: P2, y: f64) -> [f64; 3] {
    [p[0], y, p[1]]
}

/// Where circles of radius `r` about `p` and `s` about `q` meet, on the side `side` of the way p → q.
fn meet(p: P2, r: f64, q: P2, s: f64, side: f64) -> P2 {
    let (dx, dz) = (q[0] - p[0], q[1] - p[1]);
    let d = dx.hypot(dz);
    let along = (d * d + r * r - s * s) / (2.0 * d);
    let off = (r * r - along * along).max(0.0).sqrt() * side;
    [
        p[0] + (along * dx - off * dz) / d,
        p[1] + (along * dz + off * dx) / d,
    ]
}

fn prism(outline: &[P2], turn: f64, origin: P2, half: f64) -> Solid {
    let corners_m = outline
        .iter()
        .flat_map(|p| {
            let q = at(origin, turn, *p);
            [space(q, Y + half), space(q, Y - half)]
        })
        .collect();
    Solid {
        corners_m,
        radius_m: 0.0,
    }
}

fn block(min: [f64; 3], max: [f64; 3]) -> Solid {
    let mut corners_m = Vec::new();
    for x in [min[0], max[0]] {
        for y in [min[1], max[1]] {
            for z in [min[2], max[2]] {
                corners_m.push([x, y, z]);
            }
        }
    }
    Solid {
        corners_m,
        radius_m: 0.0,
    }
}

fn part(kind: PartKind, name: &str, solids: Vec<Solid>) -> Part {
    Part {
        kind,
        name: name.to_owned(),
        solids,
        outline_m: Vec::new(),
    }
}

const T75: [P2; 8] = [
    [-0.178, -1.449],
    [0.020, -1.330],
    [0.620, -0.950],
    [0.760, -0.450],
    [0.580, 0.080],
    [0.440, 0.100],
    [-0.090, 0.060],
    [-0.310, -0.740],
];

/// Joint angles in degrees: boom, stick relative to boom, ear relative to stick.
pub fn machine(boom_deg: f64, stick_deg: f64, ear_deg: f64) -> MachineView {
    let (b, a, e) = (
        boom_deg.to_radians(),
        (boom_deg + stick_deg).to_radians(),
        (boom_deg + stick_deg + ear_deg).to_radians(),
    );
    let pin_a = [0.150, 1.850];
    let pin_b = at(pin_a, b, [5.720, 0.0]);
    let pin_c = at(pin_b, a, [2.940, 0.0]);
    let pin_d = at(pin_c, e, [0.440, 0.0]);
    let pin_f = at(pin_b, a, [2.500, 0.030]);
    let pin_g = at(pin_b, a, [0.720, 0.500]);
    let pin_e = meet(pin_f, 0.600, pin_d, 0.580, 1.0);
    let front = at(pin_c, e, [0.020, -0.245]);
    let turn = e - 6.0_f64.to_radians();
    let tooth = at(front, turn, [-0.178, -1.449]);
    let tail: Vec<[f64; 3]> = (0..=12)
        .flat_map(|n| {
            let angle = (-27.14 + 54.28 * f64::from(n) / 12.0).to_radians();
            [1.02, 2.15].map(|z| [-2.85 * angle.cos(), 2.85 * angle.sin(), z])
        })
        .chain([[0.0, 0.0, 1.02], [0.0, 0.0, 2.15]])
        .collect();
    let capsule =
        |from: P2, to: P2, y: f64, r: f64| Solid::capsule(space(from, y), space(to, y), r);
    let boom_base = [0.720, 1.280];
    let boom_rod = at(pin_a, b, [2.450, 0.350]);
    let mut bucket = part(
        PartKind::Bucket,
        "bucket T75",
        vec![prism(&T75, turn, front, 0.375)],
    );
    bucket.outline_m = T75.iter().map(|p| at(front, turn, *p)).collect();
    let parts = vec![
        part(
            PartKind::Track,
            "left track",
            vec![block([-2.2, 0.895, 0.0], [2.2, 1.495, 0.92])],
        ),
        part(
            PartKind::Track,
            "right track",
            vec![block([-2.2, -1.495, 0.0], [2.2, -0.895, 0.92])],
        ),
        part(
            PartKind::House,
            "house",
            vec![block([-2.75, -1.38, 1.0], [1.7, 1.38, 2.45])],
        ),
        part(
            PartKind::Counterweight,
            "counterweight",
            vec![Solid {
                corners_m: tail,
                radius_m: 0.0,
            }],
        ),
        part(
            PartKind::Cab,
            "cab",
            vec![block([-0.05, 0.45, 1.02], [1.72, 1.42, 3.05])],
        ),
        part(
            PartKind::Boom,
            "boom",
            vec![
                capsule(pin_a, at(pin_a, b, [2.35, 0.80]), Y, 0.34),
                capsule(at(pin_a, b, [2.35, 0.80]), pin_b, Y, 0.28),
            ],
        ),
        part(
            PartKind::Cylinder,
            "boom cylinders",
            vec![
                capsule(boom_base, boom_rod, Y + 0.42, 0.12),
                capsule(boom_base, boom_rod, Y - 0.42, 0.12),
            ],
        ),
        part(
            PartKind::Cylinder,
            "stick cylinder",
            vec![capsule(
                at(pin_a, b, [3.45, 0.90]),
                at(pin_b, a, [-0.70, 0.38]),
                Y,
                0.11,
            )],
        ),
        part(
            PartKind::Stick,
            "stick",
            vec![capsule(at(pin_b, a, [-0.70, 0.38]), pin_c, Y, 0.26)],
        ),
        part(
            PartKind::Cylinder,
            "bucket cylinder",
            vec![capsule(pin_g, pin_e, Y, 0.10)],
        ),
        part(
            PartKind::Linkage,
            "idler",
            vec![capsule(pin_f, pin_e, Y, 0.12)],
        ),
        part(
            PartKind::Linkage,
            "bucket link",
            vec![capsule(pin_e, pin_d, Y, 0.12)],
        ),
        part(
            PartKind::Coupler,
            "coupler QC-demo",
            vec![prism(
                &[[-0.08, 0.06], [0.50, 0.10], [0.50, -0.25], [0.00, -0.28]],
                e,
                pin_c,
                0.22,
            )],
        ),
        bucket,
    ];
    let mut view = MachineView {
        name: "demo-23".to_owned(),
        parts,
        ground_m: Some([[-5.0, 0.0], [12.0, 0.0]]),
        tail_radius_m: Some(2.85),
        north_rad: Some(30.0_f64.to_radians()),
        ..MachineView::default()
    };
    for (letter, p) in [
        ("A", pin_a),
        ("B", pin_b),
        ("C", pin_c),
        ("D", pin_d),
        ("E", pin_e),
        ("F", pin_f),
    ] {
        view.pins.push(Pin {
            letter: letter.to_owned(),
            at_m: space(p, Y),
        });
    }
    view.chain_m = [pin_a, pin_b, pin_c, tooth].map(|p| space(p, Y)).to_vec();
    view.teeth = [("centre tooth", 0.0), ("left", 0.375), ("right", -0.375)]
        .map(|(name, y)| ToothPoint {
            name: name.to_owned(),
            at_m: space(tooth, Y + y),
            figures: Vec::new(),
        })
        .to_vec();
    view.teeth[0].figures = vec![
        (
            "forward".to_owned(),
            Measured::with_sd(tooth[0], 0.011),
            METRES,
        ),
        (
            "above tracks".to_owned(),
            Measured::with_sd(tooth[1], 0.013),
            METRES_SIGNED,
        ),
    ];
    let ct = (tooth[0] - pin_c[0]).hypot(tooth[1] - pin_c[1]);
    for (name, from, to, length) in [
        ("A–B", pin_a, pin_b, Measured::with_sd(5.720, 0.003)),
        ("B–C", pin_b, pin_c, Measured::with_sd(2.940, 0.003)),
        ("C–tooth", pin_c, tooth, Measured::with_sd(ct, 0.005)),
    ] {
        view.dimensions.push(Dimension {
            view: View::Section,
            way: Way::Along,
            from_m: space(from, Y),
            to_m: space(to, Y),
            name: name.to_owned(),
            length,
            kind: METRES,
        });
    }
    view.dimensions.push(Dimension {
        view: View::Section,
        way: Way::Across,
        from_m: [0.0, 0.0, 0.0],
        to_m: space(tooth, Y),
        name: String::new(),
        length: Measured::with_sd(tooth[0], 0.011),
        kind: METRES,
    });
    view.dimensions.push(Dimension {
        view: View::Section,
        way: Way::Up,
        from_m: [tooth[0], 0.0, 0.0],
        to_m: space(tooth, Y),
        name: String::new(),
        length: Measured::with_sd(tooth[1], 0.013),
        kind: METRES_SIGNED,
    });
    view.dimensions.push(Dimension {
        view: View::Plan,
        way: Way::Across,
        from_m: [-2.85, 0.0, 0.0],
        to_m: [0.0, 0.0, 0.0],
        name: "tail".to_owned(),
        length: Measured::with_sd(2.85, 0.010),
        kind: METRES,
    });
    view.dimensions.push(Dimension {
        view: View::Plan,
        way: Way::Up,
        from_m: [tooth[0], Y - 0.375, 0.0],
        to_m: [tooth[0], Y + 0.375, 0.0],
        name: String::new(),
        length: Measured::with_sd(0.750, 0.002),
        kind: METRES,
    });
    for (name, p, from, deg, sd) in [
        ("boom", pin_a, 0.0, boom_deg, Some(0.05)),
        ("stick", pin_b, b, stick_deg, Some(0.07)),
        ("bucket", pin_c, a, ear_deg, None),
    ] {
        view.angles.push(JointAngle {
            name: name.to_owned(),
            at_m: space(p, Y),
            from_rad: from,
            angle: Measured {
                value: deg.to_radians(),
                sd: sd.map(f64::to_radians),
            },
            outside: false,
        });
    }
    view
}

/// A title block with everything filled in.
pub fn title_block(title: &str) -> TitleBlock {
    TitleBlock {
        title: title.to_owned(),
        job: "Quillmarsh Basin".to_owned(),
        machine: "demo-23".to_owned(),
        bucket: "T75 on coupler QC-demo".to_owned(),
        tooth_point: "centre".to_owned(),
        units: "m, degrees; site grid QM, datum QM-H".to_owned(),
        lengths: Lengths::Metric,
        date: "2025-12-03 07:42 UTC".to_owned(),
        record: "14".to_owned(),
        chain_tail: "9f2c41d07be85a3364c1f0ab9d2e77583c60e41fb1a89d5520c47e3b6fd81a92".to_owned(),
        state: State::Signed {
            by: "A. Example, technologist".to_owned(),
            at: "2025-12-03".to_owned(),
        },
        signatures: "A. Example, technologist".to_owned(),
        program: "holdline 0.1.0".to_owned(),
        caution: "Keep people out of the working area while the front moves.".to_owned(),
    }
}

fn m(value: f64, sd: f64) -> Option<Measured> {
    Some(Measured::with_sd(value, sd))
}

/// Eight check shots at the demo's first stand; differences as a worn tooth would give them.
pub fn check() -> CheckSheet {
    let control = [
        [2043.7686, 5060.0259, 24.4907],
        [2043.4076, 5059.4500, 26.3134],
        [2036.5964, 5058.7767, 24.2285],
        [2037.1232, 5058.4386, 26.0704],
        [2039.6760, 5052.7803, 25.2139],
        [2040.2992, 5053.8893, 26.3352],
        [2047.2628, 5052.7109, 25.0135],
        [2050.1191, 5051.0640, 24.9439],
    ];
    let off_mm = [
        [-11.0, -19.9, -32.9],
        [-19.5, -33.5, 10.1],
        [20.7, -11.4, -32.3],
        [33.2, -19.3, 11.2],
        [4.4, 6.6, -39.2],
        [19.1, 32.7, -12.8],
        [-33.8, 19.7, -8.5],
        [33.6, -19.2, -10.2],
    ];
    let shots = control
        .iter()
        .zip(off_mm)
        .enumerate()
        .map(|(n, (known, off))| Shot {
            id: (n + 1).to_string(),
            shown: (0..3)
                .map(|i| m(known[i] + off[i] / 1000.0, 0.012))
                .collect(),
            control: (0..3).map(|i| m(known[i], 0.003)).collect(),
            difference: (0..3)
                .map(|i| {
                    Some(Measured {
                        value: off[i] / 1000.0,
                        sd: (n != 6).then_some(0.0124),
                    })
                })
                .collect(),
            remark: if n == 6 {
                "no uncertainty given".to_owned()
            } else {
                String::new()
            },
        })
        .collect();
    let component = |name: &str, mean: f64, sd: f64, decision: &str| Component {
        name: name.to_owned(),
        tolerance_m: Some([-0.025, 0.025]),
        mean_m: Some(mean / 1000.0),
        sd_m: Some(sd / 1000.0),
        half_95_m: Some(sd / 1000.0 * 2.365 / 8.0_f64.sqrt()),
        decision: decision.to_owned(),
    };
    CheckSheet {
        block: title_block("Check of the tooth against control"),
        components: vec![
            component("N", 5.8, 25.0, "not within"),
            component("E", -5.5, 23.9, "not within"),
            component("U", -14.3, 20.0, "not within"),
        ],
        shots,
        outcome: Outcome::Outside,
        decision: "Not within the tolerance: up, mean −14.3 mm with ± 16.7 mm reaches −31.0 mm, allowed −25 mm."
            .to_owned(),
        measured: "Shots measured by A. Example, 2025-12-02, with a total station to a prism on the tooth.".to_owned(),
        warning: "The shots are 40 days older than this record: the tooth has worn since.".to_owned(),
        findings: vec![
            "Decided by the guarded rule: mean, its 95 % interval and twice the control's own uncertainty must stay inside the tolerance.".to_owned(),
            "The difference turns with the bucket: measure the tooth from its pin, then repeat the check.".to_owned(),
        ],
        machine: Some(machine(28.0, -110.0, 57.0)),
    }
}

/// Three weeks of daily checks.
pub fn history(n: u32) -> History {
    let checks = (0..n)
        .map(|day| Daily {
            day: format!("2025-12-{:02}", day + 1),
            since_first_days: f64::from(day),
            difference: Some(Measured {
                value: 0.001 * (f64::from(day * 7 % 11) - 4.0) + 0.0004 * f64::from(day),
                sd: (day != 5).then_some(0.004),
            }),
            chosen: "T75, centre".to_owned(),
            who: "A.E.".to_owned(),
            result: if day == 5 {
                "no uncertainty stated".to_owned()
            } else {
                "within".to_owned()
            },
            flag: match day {
                5 => MorningFlag::RecheckDue,
                8 => MorningFlag::LimitFailed,
                _ => MorningFlag::None,
            },
        })
        .collect();
    History {
        block: title_block("Daily checks"),
        bench: "nail B1 at the site cabin, height".to_owned(),
        tolerance_m: Some([-0.025, 0.025]),
        notice_m: Some([-0.0167, 0.0167]),
        notice_words: "re-check beyond".to_owned(),
        checks,
        outcome: Outcome::Within,
        due: "No full re-check is due: all checks since 2025-12-01 lie within two thirds of the tolerance."
            .to_owned(),
    }
}

/// The record of the demo machine, measured up.
pub fn machine_sheet() -> MachineSheet {
    let row = |name: &str, between: &str, value: Measured, kind, remark: &str| MeasuredRow {
        name: name.to_owned(),
        between: between.to_owned(),
        value,
        kind,
        remark: remark.to_owned(),
    };
    let w = Measured::with_sd;
    MachineSheet {
        block: title_block("Machine measured up"),
        measured_by: "A. Example, 2025-12-01, with a total station without prism, steel tape, digital inclinometer".to_owned(),
        machine: machine(28.0, -110.0, 57.0),
        rows: vec![
            row("boom foot pin forward of the swing axis", "A, x", w(0.150, 0.003), METRES_SIGNED, ""),
            row("boom foot pin left of the swing axis", "A, y", w(-0.045, 0.003), METRES_SIGNED, ""),
            row("boom foot pin above the track underside", "A, z", w(1.850, 0.003), METRES_SIGNED, ""),
            row("boom, pin to pin", "A–B", w(5.720, 0.003), METRES, ""),
            row("stick, pin to pin", "B–C", w(2.940, 0.003), METRES, ""),
            row("idler pivot along the stick", "B–F, x", w(2.500, 0.002), METRES, ""),
            row("idler", "F–E", w(0.600, 0.002), METRES, ""),
            row("bucket link", "E–D", w(0.580, 0.002), METRES, ""),
            row("ear", "C–D", w(0.440, 0.002), METRES, ""),
            row("coupler turn", "", w((-6.0_f64).to_radians(), 0.05_f64.to_radians()), DEGREES, "QC-demo"),
            row("cutting edge", "", w(0.750, 0.002), METRES, "T75"),
            row("track length", "", Measured::without_sd(4.40), METRES, "counts as unknown where a tolerance is judged"),
            row("tail radius", "", w(2.850, 0.010), METRES, ""),
        ],
        findings: vec!["Track length, gauge and shoe width carry no uncertainty.".to_owned()],
    }
}

/// The operator's card of the demo machine.
pub fn card() -> Card {
    let mut block = title_block("Operator's card");
    block.units = "m".to_owned();
    block.bucket = "T75".to_owned();
    block.caution = String::new();
    let mut view = machine(20.0, -90.0, 40.0);
    view.dimensions.clear();
    view.teeth[0].figures.clear();
    view.north_rad = None;
    view.limits = vec![
        LimitLine {
            view: View::Section,
            from_m: [-3.0, 6.4],
            to_m: [9.5, 6.4],
            words: "height 6.40 m".to_owned(),
            forbidden: Forbidden::Left,
        },
        LimitLine {
            view: View::Plan,
            from_m: [-3.0, 3.2],
            to_m: [9.5, 3.2],
            words: "wall 3.20 m".to_owned(),
            forbidden: Forbidden::Left,
        },
    ];
    let number = |name: &str, value| CardNumber {
        name: name.to_owned(),
        value,
    };
    Card {
        block,
        warnings: Vec::new(),
        coupler: "QC-demo".to_owned(),
        machine: view,
        numbers: vec![
            number(
                "Bench B1 reads",
                CardValue::Measured(Measured::with_sd(24.118, 0.004), METRES),
            ),
            number(
                "Allowed difference",
                CardValue::Stated("± 25 mm".to_owned()),
            ),
            number(
                "Tail from swing axis",
                CardValue::Measured(Measured::with_sd(2.85, 0.01), METRES),
            ),
            number(
                "Bucket width",
                CardValue::Measured(Measured::with_sd(0.75, 0.002), METRES),
            ),
        ],
        not_covered: "Other buckets and teeth; tooth wear beyond 20 mm; buried services."
            .to_owned(),
        shift_test: "Touch bench B1 with the centre tooth. Outside ± 25 mm: stop and call."
            .to_owned(),
        call: "A. Example, site cabin 2".to_owned(),
    }
}
