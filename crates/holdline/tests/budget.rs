//! The budget against an independently written chain with differences, against draws, and the laws it keeps.

mod common;

use common::budgets::*;
use common::random::Random;
use common::{Kit, Mounting, demo, pose_at, rigs, tool, with_kit};
use holdline::calibrate::budget::*;
use holdline::machine::Machine;
use holdline::machine::claim::*;
use holdline::machine::correlated::Correlated;
use holdline::machine::joints::Joints;
use holdline::tooth::attitude::Lean;
use holdline::tooth::model::ToothModel;
use holdline_geom::measured::Measured;

/// The trade's demo sheet: one figure a sensor, split evenly between offset and reading; a coupler as good as sure.
fn table_sheet(encoders: bool) -> ClaimedMachine {
    let mut sheet = demo();
    sheet.sensors[2].link = Link::Ear;
    let half = |sd_deg: f64| Some(sd_deg.to_radians() / 2_f64.sqrt());
    for (idx, sensor) in sheet.sensors.iter_mut().enumerate() {
        let sd = half(if idx == 2 { 0.06 } else { 0.04 });
        sensor.offset.sd = sd;
        sensor.sd_rad = sd;
        if let Some(roll) = &mut sensor.roll_offset {
            roll.sd = sd;
        }
        if encoders && !sensor.kind.is_house() {
            sensor.kind = SensorKind::JointEncoder;
        }
    }
    let coupler = &mut sheet.couplers[0];
    coupler.front_pin.x.sd = Some(1e-7);
    coupler.front_pin.z.sd = Some(1e-7);
    coupler.rotation.sd = Some(2e-8);
    for tooth in &mut sheet.buckets[0].teeth {
        for axis in [&mut tooth.at.x, &mut tooth.at.y, &mut tooth.at.z] {
            axis.sd = Some(0.004);
        }
    }
    for antenna in &mut sheet.antennas {
        for axis in [
            &mut antenna.lever.x,
            &mut antenna.lever.y,
            &mut antenna.lever.z,
        ] {
            axis.sd = Some(0.004);
        }
    }
    sheet
}

/// The chain written once more, plainly, with the angles that the sensors measure.
///
/// `v`: AB, BC, foot x y z, tip x y z, boom, stick, ear, pitch, roll, heading, antenna e n u, lever x y z, shift e n u.
/// The three link angles are above the horizontal in the boom plane for gravity sensors, relative for encoders.
fn plain_chain(v: &[f64; 23], encoders: bool) -> [f64; 3] {
    let (pitch, roll, heading) = (v[11], v[12], v[13]);
    let up_x = pitch.sin();
    let up_z = pitch.cos() * roll.cos();
    let seen = up_x.atan2(up_z);
    let (boom, stick, ear) = if encoders {
        (v[8], v[8] + v[9], v[8] + v[9] + v[10])
    } else {
        (v[8] - seen, v[9] - seen, v[10] - seen)
    };
    // Coupler: front pin 0.020, −0.245 in the ear, turned by −6°.
    let turn = (-6_f64).to_radians();
    let tip_x = 0.020 + v[5] * turn.cos() - v[7] * turn.sin();
    let tip_z = -0.245 + v[5] * turn.sin() + v[7] * turn.cos();
    let x = v[2] + v[0] * boom.cos() + v[1] * stick.cos() + tip_x * ear.cos() - tip_z * ear.sin();
    let z = v[4] + v[0] * boom.sin() + v[1] * stick.sin() + tip_x * ear.sin() + tip_z * ear.cos();
    let y = v[3] + v[6];
    let arm = [x - v[17], y - v[18], z - v[19]];
    let (st, ct) = pitch.sin_cos();
    let (sr, cr) = roll.sin_cos();
    let forward = ct * arm[0] - st * sr * arm[1] - st * cr * arm[2];
    let left = cr * arm[1] - sr * arm[2];
    let rise = st * arm[0] + ct * sr * arm[1] + ct * cr * arm[2];
    let (sh, ch) = heading.sin_cos();
    [
        v[14] + v[20] + sh * forward - ch * left,
        v[15] + v[21] + ch * forward + sh * left,
        v[16] + v[22] + rise,
    ]
}

/// Variances by source along E, N, U, by central differences over the plain chain.
fn plain_budget(q: &Joints, encoders: bool, lever: [f64; 3]) -> Vec<[f64; 3]> {
    let seen = LEAN.pitch.sin().atan2(LEAN.pitch.cos() * LEAN.roll.cos());
    let angles = if encoders {
        [q.boom, q.stick, q.bucket]
    } else {
        let (boom, stick) = (q.boom, q.boom + q.stick);
        [boom + seen, stick + seen, stick + q.bucket + seen]
    };
    let v = [
        5.720,
        2.940,
        0.150,
        -0.045,
        1.850,
        -0.178,
        0.0,
        -1.449,
        angles[0],
        angles[1],
        angles[2],
        LEAN.pitch,
        LEAN.roll,
        HEADING_RAD,
        0.0,
        0.0,
        0.0,
        lever[0],
        lever[1],
        lever[2],
        0.0,
        0.0,
        0.0,
    ];
    let deg = |d: f64| d.to_radians();
    let sds = [
        0.003,
        0.003,
        0.003,
        0.003,
        0.003,
        0.004,
        0.004,
        0.004,
        deg(0.04),
        deg(0.04),
        deg(0.06),
        deg(0.04),
        deg(0.04),
        deg(0.10),
        0.008,
        0.008,
        0.015,
        0.004,
        0.004,
        0.004,
        0.005,
        0.005,
        0.008,
    ];
    let h = 1e-5;
    (0..v.len())
        .map(|idx| {
            let moved = |by: f64| {
                let mut w = v;
                w[idx] += by;
                plain_chain(&w, encoders)
            };
            let (more, less) = (moved(h), moved(-h));
            [0, 1, 2].map(|k| {
                let effect = (more[k] - less[k]) / (2.0 * h) * sds[idx];
                effect * effect
            })
        })
        .collect()
}

const TABLE: [(f64, f64, bool, [f64; 3]); 5] = [
    (3.83, 1.44, false, [13.9, 13.7, 18.9]),
    (5.78, -0.24, false, [15.9, 14.6, 18.9]),
    (7.37, -1.07, false, [17.7, 15.5, 18.8]),
    (7.37, -1.07, true, [17.8, 15.9, 20.1]),
    (4.49, -4.79, false, [15.3, 14.2, 18.9]),
];

/// The trade's worked table of the demo machine (its curls are not printed: within 0.3 mm), and, to a millionth, the
/// plain chain above.
#[test]
fn the_printed_table_and_the_plain_chain() {
    for (x, z, encoders, want_mm) in TABLE {
        let model = model_of(table_sheet(encoders));
        let budget = Budget::new(&model, &ask(Mode::ThreeD(satellites()))).expect("meant");
        assert_eq!(budget.slower_because(), None);
        let pose = at(&model, x, z);
        let result = at_pose(&budget, &pose).expect("a pose");
        let sd_m = result
            .sd_m
            .unwrap_or_else(|| panic!("{:?}", result.missing));
        let by_source = plain_budget(&pose.joints, encoders, [-1.850, 1.050, 3.020]);
        for axis in 0..3 {
            let plain = by_source.iter().map(|s| s[axis]).sum::<f64>().sqrt();
            assert!(
                (sd_m[axis] / plain - 1.0).abs() < 1e-6,
                "{} {plain}",
                sd_m[axis]
            );
            let off = 1000.0 * sd_m[axis] - want_mm[axis];
            assert!(off.abs() < 0.3, "({x}, {z}), axis {axis}: off by {off} mm");
            assert!((result.u_m.expect("whole")[axis] - 2.0 * sd_m[axis]).abs() < 1e-15);
        }
        let total: f64 = by_source.iter().map(|s| s[2]).sum();
        let plain_share =
            |places: &[usize]| places.iter().map(|i| by_source[*i][2]).sum::<f64>() / total;
        let share = |names: &[&str]| -> f64 {
            let mine = result
                .shares
                .iter()
                .filter(|s| names.contains(&s.name.as_str()));
            mine.map(|s| s.part[2]).sum()
        };
        for (names, places, want) in [
            (
                &["satellites"][..],
                &[14, 15, 16][..],
                if encoders { 56.0 } else { 63.0 },
            ),
            (
                &["localization"],
                &[20, 21, 22],
                if encoders { 16.0 } else { 18.0 },
            ),
        ] {
            assert!((share(names) - plain_share(places)).abs() < 1e-6);
            assert!(
                (100.0 * share(names) - want).abs() < 1.0,
                "{names:?}: {}",
                share(names)
            );
        }
        if encoders {
            let pitch = result.shares.iter().filter(|s| {
                s.name == "reading of house pitch" || s.name == "sensor[S-house].offset"
            });
            let pitch: f64 = pitch.map(|s| s.part[2]).sum();
            assert!((100.0 * pitch - 10.0).abs() < 1.0, "{pitch}");
        }
        let parts: f64 = result.shares.iter().map(|s| s.part[2]).sum();
        assert!((parts - 1.0).abs() < 1e-12);
    }
}

/// Heights by the links alone, against the plain chain; the table prints 7.1 to 7.2 mm, its curls not said.
#[test]
fn heights_of_the_machine_alone() {
    for (x, z, encoders, _) in TABLE {
        let model = model_of(table_sheet(encoders));
        let budget = Budget::new(&model, &ask(Mode::TwoD(HeightFrom::Machine))).expect("meant");
        let pose = at(&model, x, z);
        let got = at_pose(&budget, &pose)
            .expect("a pose")
            .sd_m
            .expect("whole")[2];
        // About the swing axis, by figures, link angles, pitch and roll: the first thirteen.
        let by_source = plain_budget(&pose.joints, encoders, [0.0; 3]);
        let want = by_source[..13].iter().map(|s| s[2]).sum::<f64>().sqrt();
        assert!((got / want - 1.0).abs() < 1e-6);
        if !encoders {
            assert!((6.7..7.6).contains(&(1000.0 * got)), "({x}, {z}): {got}");
        }
    }
}

#[test]
fn a_bench_and_its_moves_add_by_the_rule() {
    let model = model_of(table_sheet(false));
    let up = |mode: Mode| {
        let budget = Budget::new(&model, &ask(mode)).expect("meant");
        let result = at_pose(&budget, &at(&model, 5.78, -0.24)).expect("a pose");
        result.sd_m.expect("whole")[2]
    };
    let bench = |n_moves: u32| HeightFrom::Bench {
        sd_m: Some(0.002),
        touch_sd_m: Some(0.006),
        mark_sd_m: Some(0.001),
        n_moves,
    };
    let links = up(Mode::TwoD(HeightFrom::Machine));
    for n in [0_u32, 1, 4] {
        let moves = f64::from(n);
        let want = links * links + 4e-6 + 36e-6 + moves * (2.0 * 36e-6 + 1e-6);
        let got = up(Mode::TwoD(bench(n)));
        assert!((got / want.sqrt() - 1.0).abs() < 1e-9);
    }
}

#[test]
fn what_is_not_stated_is_named_and_leaves_no_uncertainty() {
    let model = demo_model();
    let whole = full_ask();
    let sure = |ask: &BudgetAsk, model: &ToothModel| {
        let budget = Budget::new(model, ask).expect("meant");
        at_pose(&budget, &at(model, 5.78, -0.24)).expect("a pose")
    };
    let result = sure(&whole, &model);
    assert_eq!(result.missing, Vec::<String>::new());
    assert!(result.u_m.is_some() && result.normal.expect("asked").u_m.is_some());
    let with = |change: &dyn Fn(&mut BudgetAsk)| {
        let mut ask = whole.clone();
        change(&mut ask);
        sure(&ask, &model)
    };
    let in_3d = |change: &dyn Fn(&mut Satellites)| {
        with(&|ask| {
            if let Mode::ThreeD(s) = &mut ask.mode {
                change(s);
            }
        })
    };
    for (result, word) in [
        (with(&|a| a.deflection = None), "deflection"),
        (with(&|a| a.motion = None), "speed of the work"),
        (
            with(&|a| a.pin_play = PinPlay::default()),
            "play of boom foot pin A",
        ),
        (in_3d(&|s| s.plan_sd_m = None), "satellites"),
        (in_3d(&|s| s.height_sd_m = None), "satellites"),
        (
            in_3d(&|s| s.heading = HeadingFrom::Read { sd_rad: None }),
            "heading",
        ),
        (in_3d(&|s| s.localization_sd_m[2] = None), "localization"),
        (
            in_3d(&|s| s.latency_s = None),
            "latency of the satellites' positions",
        ),
    ] {
        assert!(
            result.missing.iter().any(|m| m == word),
            "{word}: {:?}",
            result.missing
        );
        assert!(result.sd_m.is_none() && result.u_m.is_none());
        let normal = result.normal.expect("asked");
        assert!(normal.sd_m.is_none() && normal.u_m.is_none());
        assert!(result.corners.iter().all(|c| c.sd_m.is_none()));
        let answer = verdict(
            &result,
            Judged::Up,
            &Tolerance::Between {
                lower_m: -1.0,
                upper_m: 1.0,
                aim_m: None,
            },
        );
        let Verdict::NotShown { because } = answer else {
            panic!("{word}: {answer:?}");
        };
        assert!(because.contains(word), "{because}");
    }
    let mut sheet = with_latencies(demo());
    sheet.stick.length.sd = None;
    sheet.sensors[0].latency_s = None;
    let result = sure(&whole, &model_of(sheet));
    assert_eq!(result.missing, ["stick.length", "latency of S-boom"]);
    // Joint by joint too; what is known stays a lower bound.
    let mut sheet = with_latencies(demo());
    let moving = BudgetAsk {
        motion: Some(Motion::Joints(
            [Joint::Swing, Joint::Boom, Joint::Stick, Joint::Bucket]
                .map(|joint| (joint, 0.2))
                .to_vec(),
        )),
        ..whole.clone()
    };
    let known = sure(&moving, &model_of(sheet.clone())).known_m2;
    sheet.sensors[0].latency_s = None;
    let result = sure(&moving, &model_of(sheet));
    assert_eq!(result.missing, ["latency of S-boom"]);
    assert!((0..3).all(|k| result.known_m2[k][k] <= known[k][k]));
    // Play of the linkage's pins does not matter where the ear itself is sensed.
    let mut sheet = with_latencies(demo());
    sheet.sensors[2].link = Link::Ear;
    let mut ask = whole.clone();
    ask.pin_play = PinPlay {
        all_m: None,
        each_m: [Pin::BoomFoot, Pin::BoomStick, Pin::StickBucket]
            .map(|pin| (pin, 0.001))
            .to_vec(),
    };
    assert_eq!(sure(&ask, &model_of(sheet)).missing, Vec::<String>::new());
}

#[test]
fn what_cannot_be_meant_is_refused() {
    let model = demo_model();
    let code = |change: &dyn Fn(&mut BudgetAsk)| {
        let mut ask = full_ask();
        change(&mut ask);
        Budget::new(&model, &ask).map(|_| ()).unwrap_err().0[0].code
    };
    for bad in [f64::NAN, -0.001, f64::INFINITY] {
        assert_eq!(code(&|a| a.pin_play.all_m = Some(bad)), "B001");
        assert_eq!(
            code(&|a| a.motion = Some(Motion::Tooth { speed_m_s: bad })),
            "B001"
        );
        assert_eq!(
            code(&|a| a.deflection = Some(Deflection {
                sd_m: bad,
                at_reach_m: 8.0
            })),
            "B001"
        );
        assert_eq!(
            code(&|a| {
                if let Mode::ThreeD(s) = &mut a.mode {
                    s.localization_sd_m[0] = Some(bad);
                }
            }),
            "B001"
        );
    }
    assert_eq!(
        code(&|a| {
            if let Mode::ThreeD(s) = &mut a.mode {
                s.height_sd_m = Some(0.0);
            }
        }),
        "B001"
    );
    for bad in [[0.0, 0.0, 2.0], [f64::NAN, 0.0, 1.0], [0.0; 3]] {
        assert_eq!(code(&|a| a.normal = Some(bad)), "B002");
    }
    let mut sheet = with_latencies(demo());
    sheet.antennas.truncate(1);
    let mut pair = full_ask();
    if let Mode::ThreeD(s) = &mut pair.mode {
        s.heading = HeadingFrom::Pair {
            line_sd_m: Some(0.005),
        };
    }
    assert_eq!(
        Budget::new(&model_of(sheet), &pair)
            .map(|_| ())
            .unwrap_err()
            .0[0]
            .code,
        "B003"
    );
    let budget = Budget::new(&model, &full_ask()).expect("meant");
    let pose = at(&model, 5.78, -0.24);
    let blind = BudgetPose {
        heading_rad: None,
        ..pose
    };
    assert_eq!(at_pose(&budget, &blind).unwrap_err().0[0].code, "B005");
    let fallen = BudgetPose {
        lean: Lean {
            pitch: f64::NAN,
            roll: 0.0,
        },
        ..pose
    };
    assert!(at_pose(&budget, &fallen).is_err());
    let nowhere = BudgetPose {
        joints: Joints {
            boom: f64::NAN,
            ..pose.joints
        },
        ..pose
    };
    let lost = at_pose(&budget, &nowhere);
    assert!(lost.is_err() || lost.is_ok_and(|p| p.sd_m.is_none()));
}

/// Changes one stated figure of the ask and of the sheet after the other: a larger one never makes U smaller.
#[test]
fn more_doubt_never_makes_it_surer() {
    let mut random = Random::new(11);
    let model = demo_model();
    let base = full_ask();
    let poses: Vec<BudgetPose> = (0..6)
        .map(|_| BudgetPose {
            joints: pose_at(model.machine(), model.choice(), |_| {
                random.between(0.1, 0.9)
            }),
            lean: LEAN,
            heading_rad: Some(random.between(0.0, 6.0)),
        })
        .collect();
    let u = |model: &ToothModel, ask: &BudgetAsk| -> Vec<f64> {
        let budget = Budget::new(model, ask).expect("meant");
        poses
            .iter()
            .flat_map(|pose| {
                let result = at_pose(&budget, pose).expect("a pose");
                let normal = result.normal.expect("asked").u_m.expect("whole");
                result.u_m.expect("whole").into_iter().chain([normal])
            })
            .collect()
    };
    let before = u(&model, &base);
    let mut asks = Vec::new();
    let mut change = |f: &dyn Fn(&mut BudgetAsk)| {
        let mut ask = base.clone();
        f(&mut ask);
        asks.push(ask);
    };
    change(&|a| a.pin_play.all_m = Some(0.003));
    change(&|a| {
        a.deflection = Some(Deflection {
            sd_m: 0.009,
            at_reach_m: 8.0,
        })
    });
    change(&|a| a.motion = Some(Motion::Tooth { speed_m_s: 0.4 }));
    change(&|a| a.coverage = Coverage::TwoSided);
    for k in 0..3 {
        change(&|a| {
            if let Mode::ThreeD(s) = &mut a.mode {
                s.localization_sd_m[k] = Some(0.02);
            }
        });
    }
    for ask in &asks {
        for (more, less) in u(&model, ask).iter().zip(&before) {
            assert!(*less <= more * (1.0 + 1e-12));
        }
    }
    for figure in model.machine().sheet().figures() {
        let Some(sd) = figure.measured.sd else {
            continue;
        };
        let worse = Measured::with_sd(figure.measured.value, 3.0 * sd);
        let machine = model
            .machine()
            .with_values(&[(&figure.path, worse)])
            .expect("the same figures");
        let model = ToothModel::new(&machine, model.choice()).expect("a tool");
        for (more, less) in u(&model, &base).iter().zip(&before) {
            assert!(*less <= more * (1.0 + 1e-12), "{}", figure.path);
        }
    }
}

/// Turning the machine with everything on it turns the covariance, where nothing is tied to east and north.
#[test]
fn the_covariance_turns_with_the_machine() {
    let model = demo_model();
    let mut ask = full_ask();
    ask.normal = None;
    let budget = Budget::new(&model, &ask).expect("meant");
    let pose = at(&model, 5.78, -0.24);
    let here = at_pose(&budget, &pose).expect("a pose").known_m2;
    for turn in [0.4_f64, 1.3, 2.9, 5.0] {
        let there = BudgetPose {
            heading_rad: Some(HEADING_RAD + turn),
            ..pose
        };
        let there = at_pose(&budget, &there).expect("a pose").known_m2;
        let (s, c) = turn.sin_cos();
        let rotate = [[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]];
        for i in 0..3 {
            for j in 0..3 {
                let want: f64 = (0..3)
                    .flat_map(|a| (0..3).map(move |b| (a, b)))
                    .map(|(a, b)| rotate[i][a] * here[a][b] * rotate[j][b])
                    .sum();
                assert!((there[i][j] - want).abs() < 1e-15, "{i}{j}");
                assert!((there[i][j] - there[j][i]).abs() == 0.0);
            }
        }
    }
}

#[test]
fn the_corners_feel_the_roll_of_the_house() {
    let machine = Machine::measured_up(with_latencies(demo())).expect("a machine");
    let model = ToothModel::new(&machine, &tool(true, false, "G180", "centre")).expect("a tool");
    let budget = Budget::new(&model, &ask(Mode::TwoD(HeightFrom::Machine))).expect("meant");
    let mut pose = at(&model, 5.5, -0.5);
    pose.lean = Lean {
        pitch: 0.0,
        roll: 0.0,
    };
    let result = at_pose(&budget, &pose).expect("a pose");
    assert_eq!(result.corners.len(), 2);
    let middle = result.sd_m.expect("whole")[2];
    // Offset 0.05° and reading 0.04° of the roll; the boom plane stands at y = −0.045 m.
    let roll = (0.05_f64.to_radians().powi(2) + 0.04_f64.to_radians().powi(2)).sqrt();
    for corner in &result.corners {
        let y = corner.tooth.house_m[1];
        let centre_y = -0.045_f64;
        let want = (middle * middle + (y * y - centre_y * centre_y) * roll * roll).sqrt();
        let got = corner.sd_m.expect("whole")[2];
        assert!(
            (got / want - 1.0).abs() < 1e-9,
            "{}: {got} {want}",
            corner.name
        );
    }
}

/// Shares and gains against the plain way: work the budget out again with the source halved.
#[test]
fn what_halving_a_source_gains_is_what_it_gains() {
    let model = demo_model();
    let base = full_ask();
    let pose = at(&model, 6.4, -0.9);
    let u = |ask: &BudgetAsk, model: &ToothModel| {
        let budget = Budget::new(model, ask).expect("meant");
        at_pose(&budget, &pose).expect("a pose")
    };
    let whole = u(&base, &model);
    let before = whole.u_m.expect("whole");
    type Change<'a> = &'a dyn Fn(&mut BudgetAsk);
    let halves: [(&str, Change<'_>); 3] = [
        ("deflection", &|a| {
            a.deflection = Some(Deflection {
                sd_m: 0.002,
                at_reach_m: 8.0,
            });
        }),
        ("localization", &|a| {
            if let Mode::ThreeD(s) = &mut a.mode {
                s.localization_sd_m = s.localization_sd_m.map(|sd| sd.map(|sd| sd / 2.0));
            }
        }),
        ("play of stick-bucket pin C", &|a| {
            a.pin_play.each_m = vec![(Pin::StickBucket, 0.00075)];
        }),
    ];
    for (name, change) in halves {
        let mut ask = base.clone();
        change(&mut ask);
        let after = u(&ask, &model).u_m.expect("whole");
        let share = whole.shares.iter().find(|s| s.name == name).expect(name);
        for axis in 0..3 {
            let want = before[axis] - after[axis];
            assert!(
                (share.if_halved_m[axis] - want).abs() < 1e-12,
                "{name}, {axis}"
            );
        }
    }
    let best = whole.would_help(2)[0];
    assert_eq!(best.name, "satellites");
    // The derivative, by a small step of one figure.
    let path = "boom.length";
    let sd = 0.003;
    let step = 1e-7;
    let with = |sd: f64| {
        let value = Measured::with_sd(5.720, sd);
        let machine = model
            .machine()
            .with_values(&[(path, value)])
            .expect("known");
        u(
            &base,
            &ToothModel::new(&machine, model.choice()).expect("a tool"),
        )
        .u_m
        .expect("whole")
    };
    let (more, less) = (with(sd + step), with(sd - step));
    let share = whole.shares.iter().find(|s| s.name == path).expect(path);
    for axis in 0..3 {
        let want = (more[axis] - less[axis]) / (2.0 * step);
        assert!((share.u_per_sd[axis] - want).abs() < 1e-6 * want.abs().max(1e-3));
    }
}

/// Three figures found together, with correlations that matter.
fn correlated_model(scale: f64) -> ToothModel {
    let model = demo_model();
    let paths = [
        "boom.length",
        "sensor[S-boom].offset",
        "sensor[S-stick].offset",
        "stick.length",
    ];
    let sds = [0.004, 0.0006, 0.0008, 0.003];
    let r = [
        [1.0, -0.8, 0.3, 0.2],
        [-0.8, 1.0, -0.5, -0.1],
        [0.3, -0.5, 1.0, 0.6],
        [0.2, -0.1, 0.6, 1.0],
    ];
    let covariance = nalgebra::DMatrix::from_fn(4, 4, |i, j| {
        let r = if i == j { 1.0 } else { scale * r[i][j] };
        r * sds[i] * sds[j]
    });
    let correlated = Correlated {
        paths: paths.map(str::to_owned).to_vec(),
        covariance,
    };
    let machine = model
        .machine()
        .with_correlated(&[5.720, 0.0, 0.0, 2.940], correlated)
        .unwrap_or_else(|faults| panic!("{faults}"));
    ToothModel::new(&machine, model.choice()).expect("a tool")
}

#[test]
fn figures_found_together_count_together() {
    let whole = correlated_model(1.0);
    let loose = correlated_model(0.0);
    let pose = at(&whole, 6.4, -0.9);
    let result = |model: &ToothModel| {
        let budget = Budget::new(model, &full_ask()).expect("meant");
        at_pose(&budget, &pose).expect("a pose")
    };
    let (with, without) = (result(&whole), result(&loose));
    let slope = |name: &str| {
        let share = without.shares.iter().find(|s| s.name == name).expect(name);
        assert!(share.found_together);
        share.effect_m[2]
    };
    let _ = slope("boom.length");
    let change = with.sd_m.expect("whole")[2] - without.sd_m.expect("whole")[2];
    assert!(1e-5 < change.abs(), "{change}");
    for result in [&with, &without] {
        for axis in 0..3 {
            let parts: f64 = result.shares.iter().map(|s| s.part[axis]).sum();
            assert!((parts - 1.0).abs() < 1e-12);
        }
    }
    // And the tooth's own uncertainty of the same machine agrees, where nothing else is counted.
    let bare = Budget::new(&whole, &ask(Mode::TwoD(HeightFrom::Machine))).expect("meant");
    let plain = whole.readings_at(&pose.joints, &pose.lean).expect("a pose");
    let fix = whole
        .fix(&whole.with_sheet_sds(&plain, None, [None; 3]))
        .unwrap_or_else(|faults| panic!("{faults}"));
    let mine = at_pose(&bare, &pose).expect("a pose").sd_m.expect("whole");
    let theirs = fix.level.sd_m().expect("whole");
    for axis in 0..3 {
        assert!((mine[axis] / theirs[axis] - 1.0).abs() < 1e-9);
    }
}

#[test]
fn draws_agree_where_the_chain_is_straight() {
    for model in [demo_model(), correlated_model(1.0)] {
        let budget = Budget::new(&model, &full_ask()).expect("meant");
        for (x, z) in [(7.37, -1.07), (4.49, -4.79), (5.78, -0.24)] {
            let pose = at(&model, x, z);
            let n = 20_000;
            let drawn = monte_carlo(&budget, &pose, &DrawsAsk { n, seed: 5 }).expect("draws");
            assert_eq!(
                (drawn.n, drawn.n_without_tooth, drawn.parts),
                (n, 0, false),
                "{drawn:?}"
            );
            for axis in drawn.axes.iter().chain(&drawn.normal) {
                assert!((axis.sd_m / axis.linear_sd_m - 1.0).abs() < 0.02 + 3.0 * 0.005);
                let wide = (axis.interval_m[1] - axis.interval_m[0]) / (2.0 * 1.96 * axis.sd_m);
                assert!((0.96..1.04).contains(&wide), "{wide}");
                assert!(axis.interval_m[0] < 0.0 && 0.0 < axis.interval_m[1]);
            }
        }
    }
}

/// JCGM 101:2008, 9.2.3 (from memory): four rectangles of sd 1 add up to sd 2 with the middle 95 % within ±3.88.
///
/// With the stick plumb, play at A, B and C and the tooth's own speed are four rectangles along the vertical.
#[test]
fn four_equal_rectangles_have_the_interval_that_is_printed() {
    let mut sheet = demo();
    sheet.sensors[2].link = Link::Ear;
    for sensor in &mut sheet.sensors {
        sensor.latency_s = Some(0.1);
        sensor.sd_rad = Some(1e-6);
    }
    let machine = Machine::measured_up(sheet).expect("a machine");
    let figures = machine.sheet().figures();
    let sure: Vec<(&str, Measured)> = figures
        .iter()
        .filter(|f| f.path != "heading.offset")
        .map(|f| (f.path.as_str(), Measured::with_sd(f.measured.value, 1e-6)))
        .collect();
    let machine = machine.with_values(&sure).expect("the same figures");
    let model = ToothModel::new(&machine, &tool(true, false, "T75", "centre")).expect("a tool");
    let half = 0.01;
    let mut ask = ask(Mode::TwoD(HeightFrom::Machine));
    ask.pin_play = PinPlay::of_all(half);
    ask.motion = Some(Motion::Tooth {
        speed_m_s: half / 0.1,
    });
    let budget = Budget::new(&model, &ask).expect("meant");
    let pose = BudgetPose {
        joints: Joints {
            boom: 0.0,
            stick: -std::f64::consts::FRAC_PI_2,
            bucket: 0.3,
            ..Joints::zero()
        },
        lean: Lean {
            pitch: 0.0,
            roll: 0.0,
        },
        heading_rad: None,
    };
    let n = 200_000;
    let drawn = monte_carlo(&budget, &pose, &DrawsAsk { n, seed: 9 }).expect("draws");
    let up = drawn.axes[2];
    let one = half / 3_f64.sqrt();
    assert!((up.linear_sd_m / one - 2.0).abs() < 1e-5);
    assert!((up.sd_m / one - 2.0).abs() < 0.02);
    for end in [-up.interval_m[0], up.interval_m[1]] {
        assert!((end / one - 3.88).abs() < 0.03, "{}", end / one);
    }
}

#[test]
fn near_the_dead_centre_the_draws_part_and_say_so() {
    let mut sheet = with_latencies(demo());
    // A short link brings the linkage to its dead centre at full curl; a poor idler sensor drives it there.
    sheet.sensors[2].sd_rad = Some(2.5_f64.to_radians());
    let machine = Machine::measured_up(sheet).expect("a machine");
    let model = ToothModel::new(&machine, &tool(true, false, "T75", "centre")).expect("a tool");
    let budget = Budget::new(&model, &full_ask()).expect("meant");
    let range = model
        .machine()
        .range(Joint::Bucket)
        .expect("a range")
        .nominal_rad;
    let pose = BudgetPose {
        joints: Joints {
            bucket: range[0] + 0.001,
            ..at(&model, 5.78, -0.24).joints
        },
        lean: LEAN,
        heading_rad: Some(HEADING_RAD),
    };
    let drawn = monte_carlo(&budget, &pose, &DrawsAsk { n: 20_000, seed: 3 }).expect("draws");
    let other = BudgetPose {
        joints: Joints {
            bucket: range[1] - 0.001,
            ..pose.joints
        },
        ..pose
    };
    let there = monte_carlo(&budget, &other, &DrawsAsk { n: 20_000, seed: 3 }).expect("draws");
    assert!(drawn.parts || there.parts, "{drawn:?} {there:?}");
}

#[test]
fn other_machines_take_the_slower_way_to_the_same_figures() {
    let mounting = Mounting {
        house: SensorKind::HouseEuler,
        sign: 1.0,
        offset_deg: 0.2,
        mount_deg: 0.0,
    };
    let mut ask = full_ask();
    ask.motion = Some(Motion::Joints(
        [
            Joint::Swing,
            Joint::Post,
            Joint::Boom,
            Joint::BoomUpper,
            Joint::Offset,
            Joint::Stick,
            Joint::Bucket,
            Joint::Tilt,
            Joint::Rotation,
        ]
        .map(|joint| (joint, 0.05))
        .to_vec(),
    ));
    let mut random = Random::new(31);
    for rig in rigs() {
        let sheet = with_latencies(with_kit(rig.sheet.clone(), Kit::TwoAxisIdler, mounting));
        let machine = Machine::measured_up(sheet).unwrap_or_else(|f| panic!("{}: {f}", rig.name));
        let model = ToothModel::new(&machine, &rig.choice).expect("a tool");
        let budget = Budget::new(&model, &ask).expect("meant");
        let joints = pose_at(&machine, &rig.choice, |_| random.between(0.3, 0.7));
        let pose = BudgetPose {
            joints,
            lean: LEAN,
            heading_rad: Some(1.0),
        };
        let result = at_pose(&budget, &pose).unwrap_or_else(|f| panic!("{}: {f}", rig.name));
        assert_eq!(result.missing, Vec::<String>::new(), "{}", rig.name);
        assert!(result.sd_m.is_some());
        let drawn = monte_carlo(&budget, &pose, &DrawsAsk { n: 2_000, seed: 1 }).expect("draws");
        assert!(!drawn.parts, "{}: {drawn:?}", rig.name);
    }
}

#[test]
fn late_readings_by_joint_against_the_moved_tooth() {
    // All sensors equally late: what is shown is the pose of a moment ago, so the error is rate × latency × slope.
    let model = demo_model();
    let q = at(&model, 6.0, -0.5);
    let rate = 0.2;
    let mut ask = ask(Mode::TwoD(HeightFrom::Machine));
    for joint in [Joint::Boom, Joint::Stick, Joint::Bucket] {
        let rates = [Joint::Boom, Joint::Stick, Joint::Bucket]
            .map(|j| (j, if j == joint { rate } else { 0.0 }))
            .to_vec();
        ask.motion = Some(Motion::Joints(rates));
        let budget = Budget::new(&model, &ask).expect("meant");
        let result = at_pose(&budget, &q).expect("a pose");
        let share = result
            .shares
            .iter()
            .find(|s| s.name == "late readings")
            .expect("it moves");
        let step = 1e-6;
        let tooth = |by: f64| {
            let moved = q.joints.with(joint, q.joints.get(joint) + by);
            let readings = model.readings_at(&moved, &q.lean).expect("a pose");
            let t = model.tooth(&readings).expect("a tooth").tooth_level;
            [t.x(), t.y(), t.z()]
        };
        let (more, less) = (tooth(step), tooth(-step));
        for axis in 0..3 {
            let slope = (more[axis] - less[axis]) / (2.0 * step);
            let want = (slope * rate * 0.04 / 3_f64.sqrt()).abs();
            assert!(
                (share.effect_m[axis] - want).abs() < 1e-8,
                "{joint:?} {axis}"
            );
        }
    }
}

#[test]
fn heading_from_two_antennas_hangs_on_their_line() {
    let model = demo_model();
    let with = |heading: HeadingFrom| {
        let mut ask = ask(Mode::ThreeD(satellites()));
        if let Mode::ThreeD(s) = &mut ask.mode {
            s.heading = heading;
        }
        let budget = Budget::new(&model, &ask).expect("meant");
        at_pose(&budget, &at(&model, 7.37, -1.07))
            .expect("a pose")
            .sd_m
            .expect("whole")
    };
    // 5 mm over 2.10 m is 0.136°, and the levers' own errors turn the line too.
    let turn = (0.005_f64.powi(2) + 2.0 * 0.003_f64.powi(2)).sqrt() / 2.10;
    let pair = with(HeadingFrom::Pair {
        line_sd_m: Some(0.005),
    });
    let read = with(HeadingFrom::Read { sd_rad: Some(turn) });
    for axis in 0..2 {
        assert!(
            (pair[axis] / read[axis] - 1.0).abs() < 0.06,
            "{pair:?} {read:?}"
        );
    }
}
