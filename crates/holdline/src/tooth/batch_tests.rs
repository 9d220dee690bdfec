//! Tests of `batch`: against the plain formulas, and with readings that cannot be used.

use super::batch::*;
use super::batch_kernel::ONE as N_COLUMNS;
use crate::machine::claim::LinkageBranch;

/// The demo machine with the trenching bucket on its coupler, centre tooth.
fn demo() -> (BatchFront, BatchLinkage) {
    let (c, s) = ((-6.0_f64).to_radians().cos(), (-6.0_f64).to_radians().sin());
    let (x, z) = (-0.178, -1.449); // in the bucket's own frame
    let tooth_ear_m = [0.020 + c * x - s * z, 0.0, -0.245 + s * x + c * z];
    let foot = [0.150, -0.045, 1.850];
    let antenna = [-1.850, 1.050, 3.020];
    let front = BatchFront {
        foot_from_antenna_m: [0, 1, 2].map(|k| foot[k] - antenna[k]),
        boom_m: 5.720,
        stick_m: 2.940,
        tooth_ear_m,
    };
    let linkage = BatchLinkage {
        idler_pivot_m: [2.500, 0.030],
        idler_m: 0.600,
        link_m: 0.580,
        ear_m: 0.440,
        branch: LinkageBranch::Right,
    };
    (front, linkage)
}

/// The formulas written out as the trade writes them, with the standard library's sine and cosine.
fn plain(front: &BatchFront, r: [f64; N_COLUMNS]) -> [f64; 3] {
    let [theta, phi, psi, beta, sigma, eps, e, n, u] = r;
    let x_b = [
        theta.cos() * psi.sin(),
        theta.cos() * psi.cos(),
        theta.sin(),
    ];
    let f = [psi.sin(), psi.cos()];
    let l = [-psi.cos(), psi.sin()];
    let y_b = [
        -theta.sin() * phi.sin() * f[0] + phi.cos() * l[0],
        -theta.sin() * phi.sin() * f[1] + phi.cos() * l[1],
        theta.cos() * phi.sin(),
    ];
    let z_b = [
        -theta.sin() * phi.cos() * f[0] - phi.sin() * l[0],
        -theta.sin() * phi.cos() * f[1] - phi.sin() * l[1],
        theta.cos() * phi.cos(),
    ];
    let (a2, a3) = (beta + sigma, beta + sigma + eps);
    let [px, py, pz] = front.tooth_ear_m;
    let v = [
        front.foot_from_antenna_m[0]
            + front.boom_m * beta.cos()
            + front.stick_m * a2.cos()
            + px * a3.cos()
            - pz * a3.sin(),
        front.foot_from_antenna_m[1] + py,
        front.foot_from_antenna_m[2]
            + front.boom_m * beta.sin()
            + front.stick_m * a2.sin()
            + px * a3.sin()
            + pz * a3.cos(),
    ];
    let at = |k: usize| x_b[k] * v[0] + y_b[k] * v[1] + z_b[k] * v[2];
    [e + at(0), n + at(1), u + at(2)]
}

/// Ear angle from idler angle with arc functions, as the trade writes it.
fn plain_ear(linkage: &BatchLinkage, stick_m: f64, alpha: f64) -> Option<f64> {
    let d = [
        linkage.idler_pivot_m[0] + linkage.idler_m * alpha.cos() - stick_m,
        linkage.idler_pivot_m[1] + linkage.idler_m * alpha.sin(),
    ];
    let r = d[0].hypot(d[1]);
    let k = (r * r + linkage.ear_m.powi(2) - linkage.link_m.powi(2)) / (2.0 * r * linkage.ear_m);
    (k.abs() <= 1.0).then(|| d[1].atan2(d[0]) - linkage.branch_sign() * k.acos())
}

fn euler() -> BatchSensors {
    BatchSensors::default()
}

fn two_tilts() -> BatchSensors {
    BatchSensors {
        house: HouseSensor::TwoTilts,
        ..BatchSensors::default()
    }
}

type Table = [Vec<f64>; N_COLUMNS];

fn by_joints(front: &BatchFront, t: &Table, layout: Layout) -> ([Vec<f64>; 3], Vec<Unusable>) {
    let n = t[0].len();
    let [mut e, mut nn, mut u] = [vec![0.0; n], vec![0.0; n], vec![0.0; n]];
    let joints = JointColumns {
        boom_rad: &t[3],
        stick_rad: &t[4],
        bucket_rad: &t[5],
    };
    let teeth = ToothColumns {
        east_m: &mut e,
        north_m: &mut nn,
        up_m: &mut u,
    };
    let sensors = BatchSensors::default();
    let unusable =
        predict_by_joints(front, &sensors, &stand(t), &joints, teeth, layout).expect("lengths");
    ([e, nn, u], unusable)
}

fn by_gravity(
    (front, linkage): &(BatchFront, BatchLinkage),
    sensors: BatchSensors,
    t: &Table,
    layout: Layout,
) -> ([Vec<f64>; 3], Vec<Unusable>) {
    let n = t[0].len();
    let [mut e, mut nn, mut u] = [vec![0.0; n], vec![0.0; n], vec![0.0; n]];
    let links = GravityColumns {
        boom_rad: &t[3],
        stick_rad: &t[4],
        idler_rad: &t[5],
    };
    let teeth = ToothColumns {
        east_m: &mut e,
        north_m: &mut nn,
        up_m: &mut u,
    };
    let unusable = predict_by_gravity(front, linkage, &sensors, &stand(t), &links, teeth, layout)
        .expect("lengths");
    ([e, nn, u], unusable)
}

fn stand(t: &Table) -> StandColumns<'_> {
    StandColumns {
        pitch_rad: &t[0],
        roll_rad: &t[1],
        heading_rad: &t[2],
        east_m: &t[6],
        north_m: &t[7],
        up_m: &t[8],
    }
}

/// Readings spread over what a machine can do, antenna at the origin; the same every time.
fn spread(n: usize, idler: bool) -> Table {
    let mut seed = 7_u64;
    let mut unit = || {
        seed = seed
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (seed >> 11) as f64 / (1_u64 << 53) as f64
    };
    let mut table: Table = Default::default();
    let last = if idler { (0.3, 2.2) } else { (-2.6, 0.4) };
    let spans = [
        (-0.2, 0.2),
        (-0.2, 0.2),
        (-6.2, 6.2),
        (-0.8, 1.1),
        (-2.6, -0.5),
        last,
        (0.0, 0.0),
        (0.0, 0.0),
        (0.0, 0.0),
    ];
    for _ in 0..n {
        for (column, (from, to)) in table.iter_mut().zip(spans) {
            column.push(from + (to - from) * unit());
        }
    }
    table
}

#[track_caller]
fn same(got: f64, want: f64, within: f64) {
    let off = (got - want).abs();
    assert!(off <= within, "got {got}, want {want}, off by {off:e}");
}

#[test]
fn the_demo_machine_by_hand() {
    // worked example of the demo machine, printed to 0.1 mm
    let deg = [2.0, -1.5, 63.0, 22.0, -88.0, 35.0].map(f64::to_radians);
    let mut table: Table = Default::default();
    let all = deg.into_iter().chain([5102.350, 2078.120, 27.385]);
    for (column, x) in table.iter_mut().zip(all) {
        column.push(x);
    }
    let ([e, n, u], unusable) = by_joints(&demo().0, &table, Layout::default());
    assert!(unusable.is_empty());
    same(e[0], 5109.5424, 0.000_05);
    same(n[0], 2080.4685, 0.000_05);
    same(u[0], 24.6904, 0.000_05);

    // the same pose as gravity sensors would read it: apparent pitch 2.00069°, idler 60°
    // gives the ear 35.29233° (printed to 1e-5°)
    let up = 2.000_69_f64.to_radians();
    let idler = 60_f64.to_radians();
    table[3][0] = deg[3] + up;
    table[4][0] = deg[3] + deg[4] + up;
    table[5][0] = deg[3] + deg[4] + idler + up;
    let ([ge, gn, gu], unusable) = by_gravity(&demo(), euler(), &table, Layout::default());
    assert!(unusable.is_empty());
    table[3][0] = deg[3];
    table[4][0] = deg[4];
    table[5][0] = 35.292_33_f64.to_radians();
    let ([e, n, u], _) = by_joints(&demo().0, &table, Layout::default());
    // 1e-5° at 10 m
    same(ge[0], e[0], 2e-6);
    same(gn[0], n[0], 2e-6);
    same(gu[0], u[0], 2e-6);
}

#[test]
fn next_to_the_plain_formulas() {
    let front = demo().0;
    let table = spread(20_011, false);
    let (teeth, unusable) = by_joints(&front, &table, Layout::default());
    assert!(unusable.is_empty());
    for idx in 0..table[0].len() {
        let want = plain(&front, std::array::from_fn(|k| table[k][idx]));
        for k in 0..3 {
            same(teeth[k][idx], want[k], 1e-13);
        }
    }
}

#[test]
fn gravity_links_next_to_the_plain_formulas() {
    let machine = demo();
    let (front, linkage) = machine;
    let mut readings = spread(20_011, true);
    let mut joints = readings.clone();
    for idx in 0..readings[0].len() {
        let [theta, phi, _, beta, sigma, alpha, ..] =
            std::array::from_fn::<f64, 9, _>(|k| joints[k][idx]);
        let up = theta.sin().atan2(theta.cos() * phi.cos());
        readings[3][idx] = beta + up;
        readings[4][idx] = beta + sigma + up;
        readings[5][idx] = beta + sigma + alpha + up;
        joints[5][idx] = plain_ear(&linkage, front.stick_m, alpha).expect("within the stroke");
    }
    let (teeth, unusable) = by_gravity(&machine, euler(), &readings, Layout::default());
    assert!(unusable.is_empty());
    for idx in 0..readings[0].len() {
        let want = plain(&front, std::array::from_fn(|k| joints[k][idx]));
        for k in 0..3 {
            same(teeth[k][idx], want[k], 1e-12);
        }
    }

    // two tilts instead of pitch and roll: the same place
    let mut tilts = readings.clone();
    for idx in 0..tilts[0].len() {
        let (theta, phi) = (readings[0][idx], readings[1][idx]);
        tilts[1][idx] = (theta.cos() * phi.sin()).asin();
    }
    let (by_tilts, unusable) = by_gravity(&machine, two_tilts(), &tilts, Layout::default());
    assert!(unusable.is_empty());
    for idx in 0..tilts[0].len() {
        for k in 0..3 {
            same(by_tilts[k][idx], teeth[k][idx], 1e-12);
        }
    }
}

#[test]
fn the_other_branch_is_the_mirror_of_the_first() {
    // α = 60°: the other branch of the worked example gives 173.28904°
    let (front, mut linkage) = demo();
    linkage.branch = LinkageBranch::Left;
    let mut table: Table = Default::default();
    for column in &mut table {
        column.push(0.0);
    }
    table[5][0] = 60_f64.to_radians();
    let ([ge, gn, gu], _) = by_gravity(&(front, linkage), euler(), &table, Layout::default());
    table[5][0] = 173.289_04_f64.to_radians();
    let ([e, n, u], _) = by_joints(&front, &table, Layout::default());
    same(ge[0], e[0], 2e-6);
    same(gn[0], n[0], 2e-6);
    same(gu[0], u[0], 2e-6);
}

#[test]
fn signs_and_zeros_of_the_sensors_are_undone() {
    let machine = demo();
    let readings = spread(64, true);
    let zero = |sign, offset_rad| Zero { sign, offset_rad };
    let sensors = BatchSensors {
        house: HouseSensor::Euler,
        pitch: zero(-1.0, 0.004),
        roll: zero(1.0, -0.005),
        boom: zero(1.0, 0.01),
        stick: zero(-1.0, -0.02),
        bucket: zero(-1.0, 0.03),
        ..BatchSensors::default()
    };
    let each = [
        (0, sensors.pitch),
        (1, sensors.roll),
        (3, sensors.boom),
        (4, sensors.stick),
        (5, sensors.bucket),
    ];
    let mut raw = readings.clone();
    for (k, Zero { sign, offset_rad }) in each {
        for x in &mut raw[k] {
            *x = sign * (*x + offset_rad);
        }
    }
    let (plain, _) = by_gravity(&machine, euler(), &readings, Layout::default());
    let (undone, _) = by_gravity(&machine, sensors, &raw, Layout::default());
    for (undone, plain) in undone.iter().flatten().zip(plain.iter().flatten()) {
        // the unreachable corners of the spread are unusable in both
        assert_eq!(undone.is_nan(), plain.is_nan());
        if !plain.is_nan() {
            same(*undone, *plain, 1e-12);
        }
    }
}

#[test]
fn same_bytes_whatever_the_registers() {
    let machine = demo();
    let bits = |teeth: &[Vec<f64>; 3]| -> Vec<u64> {
        teeth.iter().flatten().map(|x| x.to_bits()).collect()
    };
    for n in [0, 1, 3, 7, 8, 9, 1_000, 40_001] {
        let (mut joints, mut links) = (spread(n, false), spread(n, true));
        if 3 < n {
            joints[4][3] = f64::NAN;
            links[0][n - 1] = f64::INFINITY;
        }
        let single = Layout {
            n_pieces: 1,
            registers: Registers::Single,
        };
        let want_joints = by_joints(&machine.0, &joints, single);
        let want_links = by_gravity(&machine, two_tilts(), &links, single);
        for registers in [Registers::Widest, Registers::FourWide, Registers::Single] {
            for n_pieces in [0, 1, 2, 3] {
                let layout = Layout {
                    n_pieces,
                    registers,
                };
                let got = by_joints(&machine.0, &joints, layout);
                assert_eq!(bits(&got.0), bits(&want_joints.0), "{layout:?} {n}");
                assert_eq!(got.1, want_joints.1, "{layout:?} {n}");
                let got = by_gravity(&machine, two_tilts(), &links, layout);
                assert_eq!(bits(&got.0), bits(&want_links.0), "{layout:?} {n}");
                assert_eq!(got.1, want_links.1, "{layout:?} {n}");
            }
        }
    }
}

#[test]
fn what_cannot_be_used_is_never_a_number() {
    let front = demo().0;
    let names = [
        "pitch", "roll", "heading", "boom", "stick", "bucket", "east", "north", "up",
    ];
    for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 1e10, -1e300] {
        for (k, column) in names.into_iter().enumerate() {
            for idx in [0, 5, 99] {
                let mut table = spread(100, false);
                table[k][idx] = bad;
                let (teeth, unusable) = by_joints(&front, &table, Layout::default());
                let why = Why::Reading { column };
                assert_eq!(
                    unusable,
                    [Unusable {
                        epoch_idx: idx,
                        why
                    }]
                );
                for (at, tooth) in teeth.iter().flat_map(|t| t.iter().enumerate()) {
                    assert_eq!(tooth.is_nan(), at == idx);
                }
            }
        }
    }
}

#[test]
fn an_open_linkage_is_said_with_its_gap() {
    let (front, mut linkage) = demo();
    let mut table: Table = Default::default();
    for column in &mut table {
        column.push(0.0);
    }
    // idler straight back along the stick: E at 1.9, 1.04 m from C at 2.94; ED + CD = 1.02
    table[5][0] = std::f64::consts::PI;
    linkage.idler_pivot_m[1] = 0.0;
    let run = |linkage| by_gravity(&(front, linkage), euler(), &table, Layout::default());
    let (teeth, unusable) = run(linkage);
    assert!(teeth[0][0].is_nan());
    let Why::LinkageOpen { by_m } = unusable[0].why else {
        panic!("{unusable:?}")
    };
    same(by_m, 0.020, 1e-12);

    // C and E nearer than the link is longer than the ear
    table[5][0] = 0.0;
    let near = by_gravity(&(front, linkage), euler(), &table, Layout::default()).1;
    assert!(near.is_empty()); // 0.16 m apart, and 0.14 is the least
    linkage.link_m = 0.700;
    let near = by_gravity(&(front, linkage), euler(), &table, Layout::default()).1;
    let Why::LinkageOpen { by_m } = near[0].why else {
        panic!("{near:?}")
    };
    same(by_m, -0.100, 1e-12);
}

#[test]
fn a_house_on_its_side_and_tilts_that_contradict_give_no_tooth() {
    let machine = demo();
    let mut table: Table = Default::default();
    for column in &mut table {
        column.push(0.0);
    }
    table[5][0] = 1.0;
    let why = |sensors, table: &Table| {
        by_gravity(&machine, sensors, table, Layout::default())
            .1
            .first()
            .map(|u| u.why)
    };
    let roll = Some(Why::Reading { column: "roll" });
    for (roll_deg, want) in [(45.9, None), (-45.9, None), (46.1, roll), (90.0, roll)] {
        table[1][0] = f64::to_radians(roll_deg);
        assert_eq!(why(euler(), &table), want, "{roll_deg}");
        assert_eq!(why(two_tilts(), &table), want, "{roll_deg}");
    }
    // the squares of the sines of two tilts of 45.3° pass 1
    (table[0][0], table[1][0]) = (0.7906, 0.7906);
    assert_eq!(why(two_tilts(), &table), Some(Why::TiltsContradict));
    assert_eq!(why(euler(), &table), None);
}

#[test]
fn a_joint_beyond_its_stroke_gives_no_tooth_in_any_number_of_turns() {
    let machine = demo();
    let sensors = BatchSensors {
        boom_stroke: Stroke::between(-0.8, 1.1),
        stick_stroke: Stroke::between(-2.7, -0.6),
        bucket_stroke: Stroke::between(0.2, 2.3),
        ..BatchSensors::default()
    };
    let columns = ["boom", "stick", "idler"];
    let inside = [[-0.79, 0.3, 1.09], [-2.69, -1.5, -0.61], [0.21, 1.0, 2.29]];
    let outside = [[-0.81, 1.11, 3.0], [-2.71, -0.59, 0.5], [0.19, 2.31, -2.0]];
    for k in 0..3 {
        for (angles, out) in [(inside[k], false), (outside[k], true)] {
            for angle in angles {
                for turn in [0.0, -std::f64::consts::TAU, std::f64::consts::TAU] {
                    let mut joints = [0.3, -1.5, 1.0];
                    joints[k] = angle;
                    let mut table: Table = Default::default();
                    let [boom, stick, idler] = joints;
                    let links = [boom + turn, boom + stick, boom + stick + idler];
                    let row = [0.0, 0.0, 0.0, links[0], links[1], links[2], 0.0, 0.0, 0.0];
                    for (column, x) in table.iter_mut().zip(row) {
                        column.push(x);
                    }
                    let found = by_gravity(&machine, sensors, &table, Layout::default()).1;
                    let why = found.first().map(|u| u.why);
                    let want = out.then_some(Why::BeyondStroke { column: columns[k] });
                    // an idler inside its stroke may still leave the linkage open; not asked here
                    let open = matches!(why, Some(Why::LinkageOpen { .. }));
                    assert!(why == want || !out && open, "{angle} {turn} {why:?}");
                }
            }
        }
    }
    assert_eq!(Stroke::between(-4.0, 4.0), Stroke::UNKNOWN);
    assert_eq!(Stroke::between(f64::NAN, 1.0), Stroke::UNKNOWN);
}

#[test]
fn columns_of_unequal_length_are_refused() {
    let mut table = spread(10, false);
    table[7].pop();
    let (mut e, mut n, mut u) = (vec![0.0; 10], vec![0.0; 10], vec![0.0; 10]);
    let joints = JointColumns {
        boom_rad: &table[3],
        stick_rad: &table[4],
        bucket_rad: &table[5],
    };
    let teeth = ToothColumns {
        east_m: &mut e,
        north_m: &mut n,
        up_m: &mut u,
    };
    let fault = predict_by_joints(
        &demo().0,
        &euler(),
        &stand(&table),
        &joints,
        teeth,
        Layout::default(),
    )
    .unwrap_err();
    assert_eq!(
        fault.to_string(),
        "fault T501 at column north\n  got   9 epochs\n  want  10 epochs, as in column pitch\n  \
         fix   cut all columns to the epochs they share; do not pad with zeros"
    );
}
