//! Teeth in columns against the single pose: the same tooth, and the same readings refused for the
//! same reason.

mod common;

use common::{demo, tool};
use holdline::frames::House;
use holdline::machine::Machine;
use holdline::machine::claim::{ClaimedMachine, Link, SensorKind};
use holdline::tooth::attitude::Lean;
use holdline::tooth::batch::{
    Layout, PairColumns, Registers, StandColumns, ToothColumns, Unusable,
};
use holdline::tooth::batch_model::{Batch, BatchWithSds, Origin};
use holdline::tooth::model::ToothModel;
use holdline::tooth::readings::Readings;
use holdline_geom::frame::Direction;
use holdline_geom::measured::Measured;

/// Columns: pitch, roll, heading, boom, stick, idler or bucket, east, north, up.
type Row = [f64; 9];

const N_ROWS: usize = 4_000;

/// Readings over all that a machine does and beyond it, the same every time.
fn rows(spans: [(f64, f64); 9]) -> Vec<Row> {
    let mut seed = 17_u64;
    let mut unit = || {
        seed = seed
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (seed >> 11) as f64 / (1_u64 << 53) as f64
    };
    (0..N_ROWS)
        .map(|_| spans.map(|(from, to)| from + (to - from) * unit()))
        .collect()
}

fn model(sheet: ClaimedMachine) -> ToothModel {
    let machine = Machine::measured_up(sheet).expect("a good sheet");
    ToothModel::new(&machine, &tool(true, false, "G180", "left")).expect("a good tool")
}

fn readings(row: &Row) -> Readings<f64> {
    let [pitch, roll, heading, boom, stick, bucket, east, north, up] = *row;
    Readings {
        house_rad: Some([pitch, roll]),
        sensors_rad: vec![Some(boom), Some(stick), Some(bucket), None],
        heading_rad: Some(heading),
        antennas_m: vec![Some([east, north, up]), None],
    }
}

/// What the single pose gives for a row.
fn one_by_one(model: &ToothModel, row: &Row) -> Result<[f64; 3], &'static str> {
    match model.tooth(&readings(row)) {
        Ok(solution) => Ok(solution.tooth_site.expect("on the site").vector().into()),
        Err(faults) => Err(faults.0[0].code),
    }
}

fn in_columns(batch: &Batch, rows: &[Row]) -> (Vec<[f64; 3]>, Vec<Unusable>) {
    let column = |k: usize| -> Vec<f64> { rows.iter().map(|row| row[k]).collect() };
    let columns: [Vec<f64>; 9] = std::array::from_fn(column);
    let [pitch, roll, heading, boom, stick, bucket, east, north, up] = &columns;
    let mut teeth = [(); 3].map(|()| vec![0.0; rows.len()]);
    let [e, n, u] = &mut teeth;
    let stand = StandColumns {
        pitch_rad: pitch,
        roll_rad: roll,
        heading_rad: heading,
        east_m: east,
        north_m: north,
        up_m: up,
    };
    let out = ToothColumns {
        east_m: e,
        north_m: n,
        up_m: u,
    };
    let unusable = batch
        .predict(&stand, [boom, stick, bucket], out, Layout::default())
        .expect("columns of one length");
    let rows = (0..rows.len()).map(|idx| [teeth[0][idx], teeth[1][idx], teeth[2][idx]]);
    (rows.collect(), unusable)
}

/// Whether the rows of a test have more than one thing wrong with them.
#[derive(Clone, Copy, PartialEq)]
enum Several {
    Wrong,
    NotWrong,
}

/// Gives how many rows gave a tooth.
#[track_caller]
fn check(sheet: ClaimedMachine, spans: [(f64, f64); 9], several: Several) -> usize {
    let model = model(sheet);
    let batch = Batch::of(&model, Origin::Antenna(0)).expect("a machine for columns");
    let rows = rows(spans);
    let (teeth, unusable) = in_columns(&batch, &rows);
    let mut unusable = unusable.iter().peekable();
    let mut n_good = 0;
    for (idx, row) in rows.iter().enumerate() {
        let refused = unusable.next_if(|u| u.epoch_idx == idx).map(|u| u.why);
        match (one_by_one(&model, row), refused) {
            (Ok(want), None) => {
                n_good += 1;
                for k in 0..3 {
                    let off = (teeth[idx][k] - want[k]).abs();
                    assert!(off <= 1e-12, "row {idx} {row:?}: off by {off:e}");
                }
            }
            (Err(code), Some(why)) => {
                // where several things are wrong at once, each may name another one first
                let same = code == why.code() || several == Several::Wrong;
                assert!(same, "row {idx} {row:?}: {code} against {why:?}");
            }
            (single, columns) => panic!("row {idx} {row:?}: {single:?} against {columns:?}"),
        }
    }
    n_good
}

const GRAVITY: [(f64, f64); 9] = [
    (-0.3, 0.3),
    (-0.3, 0.3),
    (-6.2, 6.2),
    (-0.9, 1.3),
    (-2.4, 0.6),
    (-2.0, 3.0),
    (0.0, 5.0),
    (0.0, 5.0),
    (0.0, 5.0),
];

fn wide() -> [(f64, f64); 9] {
    let mut spans = GRAVITY;
    (spans[0], spans[1]) = ((-0.9, 0.9), (-0.9, 0.9));
    (spans[3], spans[4], spans[5]) = ((-13.0, 13.0), (-13.0, 13.0), (-13.0, 13.0));
    (spans[2], spans[8]) = ((-6.4, 6.4), (-1100.0, 500.0));
    spans
}

#[test]
fn gravity_sensors() {
    assert!(200 < check(demo(), GRAVITY, Several::NotWrong));
    check(demo(), wide(), Several::Wrong);
}

#[test]
fn gravity_sensors_with_signs_and_offsets_and_two_tilts() {
    let mut sheet = demo();
    let known = [(1.0, 0.4), (-1.0, -0.7), (1.0, 0.2), (1.0, 0.3)];
    for (sensor, (sign, offset_deg)) in sheet.sensors.iter_mut().zip(known) {
        sensor.sign = sign;
        sensor.offset = Measured::without_sd(f64::to_radians(offset_deg));
    }
    sheet.sensors[3].kind = SensorKind::HouseTilts;
    sheet.sensors[3].roll_offset = Some(Measured::without_sd(-0.002));
    let mut spans = GRAVITY;
    spans[4] = (-0.6, 2.4); // the stick sensor counts downward
    assert!(200 < check(sheet.clone(), spans, Several::NotWrong));
    check(sheet, wide(), Several::Wrong);
}

#[test]
fn encoders_on_the_joints() {
    let mut sheet = demo();
    for sensor in &mut sheet.sensors[..3] {
        sensor.kind = SensorKind::JointEncoder;
    }
    sheet.sensors[2].link = Link::Ear;
    let mut spans = GRAVITY;
    (spans[4], spans[5]) = ((-2.8, -0.5), (-0.8, 2.4));
    assert!(1_000 < check(sheet.clone(), spans, Several::NotWrong));
    check(sheet, wide(), Several::Wrong);
}

/// Standard uncertainties of heading and antenna that a test hands in.
const HEADING_SD_RAD: Option<f64> = Some(0.0021);
const ANTENNA_SD_M: [Option<f64>; 3] = [Some(0.011), Some(0.009), Some(0.017)];

/// Gives every figure of a machine an uncertainty of its own, so that none can stand for another.
fn with_uneven_sds(mut sheet: ClaimedMachine) -> ClaimedMachine {
    let mut n = 0;
    let mut uneven = |m: &mut Measured, unit: f64| {
        n += 1;
        m.sd = Some(unit * f64::from(1 + n % 7));
    };
    let foot = sheet.boom.foot.as_mut().expect("a foot");
    for m in [&mut foot.x, &mut foot.y, &mut foot.z] {
        uneven(m, 0.001);
    }
    let linkage = &mut sheet.linkage;
    let pivot = &mut linkage.idler_pivot;
    for m in [
        &mut pivot.x,
        &mut pivot.z,
        &mut linkage.idler,
        &mut linkage.link,
        &mut linkage.ear,
    ] {
        uneven(m, 0.0005);
    }
    uneven(&mut sheet.stick.length, 0.001);
    for coupler in &mut sheet.couplers {
        uneven(&mut coupler.front_pin.x, 0.001);
        uneven(&mut coupler.front_pin.z, 0.001);
        uneven(&mut coupler.rotation, 0.0005);
    }
    for antenna in &mut sheet.antennas {
        for m in [
            &mut antenna.lever.x,
            &mut antenna.lever.y,
            &mut antenna.lever.z,
        ] {
            uneven(m, 0.001);
        }
    }
    for tooth in sheet.buckets.iter_mut().flat_map(|b| &mut b.teeth) {
        for m in [&mut tooth.at.x, &mut tooth.at.y, &mut tooth.at.z] {
            uneven(m, 0.001);
        }
    }
    for sensor in &mut sheet.sensors {
        uneven(&mut sensor.offset, 0.0003);
        if let Some(roll) = &mut sensor.roll_offset {
            uneven(roll, 0.0003);
        }
        let mut reading = Measured::without_sd(0.0);
        uneven(&mut reading, 0.0002);
        sensor.sd_rad = reading.sd;
    }
    sheet
}

/// Uncertainties in columns against those of the single pose, which come from dual numbers.
#[track_caller]
fn check_sds(sheet: ClaimedMachine, spans: [(f64, f64); 9]) {
    let model = model(with_uneven_sds(sheet));
    let mut n_good = 0;
    for origin in [Origin::Antenna(0), Origin::SwingAxis] {
        let batch = Batch::of(&model, origin).expect("a machine for columns");
        let batch = batch
            .with_sds(&model, HEADING_SD_RAD, ANTENNA_SD_M)
            .expect("all stated");
        for row in &rows(spans)[..400] {
            let mut row = *row;
            if origin == Origin::SwingAxis {
                row[2] = std::f64::consts::FRAC_PI_2; // easting is forward, northing is left
            }
            let (tooth, sds) = one_with_sds(&batch, &row);
            let measured = model.with_sheet_sds(&readings(&row), HEADING_SD_RAD, ANTENNA_SD_M);
            let Ok(fix) = model.fix_in_stream(&measured) else {
                assert!(tooth.is_nan() && sds.iter().all(|sd| sd.is_nan()));
                continue;
            };
            n_good += 1;
            let want = match origin {
                Origin::Antenna(_) | Origin::TwoAntennas => fix.site_sd_m,
                Origin::SwingAxis => fix.level_sd_m,
            };
            let want = want.expect("all stated");
            for k in 0..3 {
                let off = (sds[k] - want[k]).abs() / want[k];
                assert!(off <= 1e-9, "{origin:?} {row:?}: {sds:?} {want:?}");
            }
        }
    }
    assert!(20 < n_good, "{n_good}");
}

fn one_with_sds(batch: &BatchWithSds, row: &Row) -> (f64, [f64; 3]) {
    let [p, r, h, boom, stick, bucket, e, n, u] = row.each_ref().map(std::slice::from_ref);
    let (mut teeth, mut sds) = ([[0.0]; 3], [[0.0]; 3]);
    let stand = StandColumns {
        pitch_rad: p,
        roll_rad: r,
        heading_rad: h,
        east_m: e,
        north_m: n,
        up_m: u,
    };
    let out = (columns(&mut teeth), columns(&mut sds));
    batch
        .predict(&stand, [boom, stick, bucket], out, Layout::default())
        .expect("columns of one length");
    (teeth[0][0], sds.map(|[sd]| sd))
}

#[test]
fn uncertainties_of_gravity_sensors() {
    check_sds(demo(), GRAVITY);
    let mut sheet = demo();
    sheet.sensors[3].kind = SensorKind::HouseTilts;
    check_sds(sheet, GRAVITY);
}

#[test]
fn uncertainties_of_encoders() {
    let mut sheet = demo();
    for sensor in &mut sheet.sensors[..3] {
        sensor.kind = SensorKind::JointEncoder;
    }
    sheet.sensors[2].link = Link::Ear;
    let mut spans = GRAVITY;
    (spans[4], spans[5]) = ((-2.6, -0.65), (-0.7, 2.2));
    check_sds(sheet, spans);
}

/// A row of readings with two antennas in the place of heading and one antenna.
struct TwoRow {
    row: Row,
    first: [f64; 3],
    second: [f64; 3],
}

/// Places of the two antennas for a row's attitude and heading, each off by up to `off_m`.
fn with_two(model: &ToothModel, rows: Vec<Row>, off_m: f64) -> Vec<TwoRow> {
    let levers = model.geometry().map(&mut |_, m| m.value).levers_m;
    rows.into_iter()
        .enumerate()
        .map(|(idx, row)| {
            let [pitch, roll, heading, _, _, _, east, north, up] = row;
            let turn = Lean { pitch, roll }.site_turn(heading);
            let at = |lever: [f64; 3], sign: f64| {
                let [x, y, z] = lever;
                let arm: [f64; 3] = (turn * Direction::<House>::metres(x, y, z)).vector().into();
                let off = |k: usize| sign * off_m * ((idx * (k + 3)) as f64).sin();
                [
                    east + arm[0] + off(0),
                    north + arm[1] + off(1),
                    up + arm[2] + off(2),
                ]
            };
            TwoRow {
                row,
                first: at(levers[0], 1.0),
                second: at(levers[1], -1.0),
            }
        })
        .collect()
}

/// Two antennas without a heading, in columns against the single pose: tooth, uncertainty, and
/// which rows give none. Gives how many gave a tooth.
#[track_caller]
fn check_two(sheet: ClaimedMachine, spans: [(f64, f64); 9], off_m: f64) -> usize {
    let model = model(with_uneven_sds(sheet));
    let batch = Batch::of(&model, Origin::TwoAntennas).expect("a machine for columns");
    let with_sds = batch
        .with_sds(&model, None, ANTENNA_SD_M)
        .expect("all stated");
    let mut n_good = 0;
    for two in with_two(&model, rows(spans)[..600].to_vec(), off_m) {
        let readings = Readings {
            heading_rad: None,
            antennas_m: vec![Some(two.first), Some(two.second)],
            ..readings(&two.row)
        };
        let [p, r, _, boom, stick, bucket, ..] = two.row.each_ref().map(std::slice::from_ref);
        let stand = PairColumns {
            pitch_rad: p,
            roll_rad: r,
            first_m: two.first.each_ref().map(std::slice::from_ref),
            second_m: two.second.each_ref().map(std::slice::from_ref),
        };
        let angles = [boom, stick, bucket];
        let (mut alone, mut teeth, mut sds) = ([[0.0]; 3], [[0.0]; 3], [[0.0]; 3]);
        let layout = Layout::default();
        let refused = batch
            .predict_by_two(&stand, angles, columns(&mut alone), layout)
            .expect("columns of one length");
        match model.tooth(&readings) {
            Err(faults) => {
                assert_eq!(faults.0[0].code, refused[0].why.code(), "{:?}", refused[0]);
                assert!(alone[0][0].is_nan());
                continue;
            }
            Ok(solution) => {
                let want: [f64; 3] = solution.tooth_site.expect("on the site").vector().into();
                for k in 0..3 {
                    let off = (alone[k][0] - want[k]).abs();
                    assert!(off <= 1e-12, "{:?}: off by {off:e}", two.row);
                }
            }
        }
        let out = (columns(&mut teeth), columns(&mut sds));
        with_sds
            .predict_by_two(&stand, angles, out, layout)
            .expect("columns of one length");
        let measured = model.with_sheet_sds(&readings, None, ANTENNA_SD_M);
        let fix = model.fix_in_stream(&measured).expect("solved before");
        match fix.site_sd_m {
            None => assert!(sds[0][0].is_nan(), "the pair contradicts its levers"),
            Some(want) => {
                n_good += 1;
                assert_eq!(teeth, alone);
                for k in 0..3 {
                    let off = (sds[k][0] - want[k]).abs() / want[k];
                    assert!(off <= 1e-9, "{:?}: {sds:?} {want:?}", two.row);
                }
            }
        }
    }
    n_good
}

fn columns([e, n, u]: &mut [[f64; 1]; 3]) -> ToothColumns<'_> {
    ToothColumns {
        east_m: e,
        north_m: n,
        up_m: u,
    }
}

#[test]
fn two_antennas_give_heading_and_mean() {
    let mut tilts = demo();
    tilts.sensors[3].kind = SensorKind::HouseTilts;
    let mut encoders = demo();
    for sensor in &mut encoders.sensors[..3] {
        sensor.kind = SensorKind::JointEncoder;
    }
    encoders.sensors[2].link = Link::Ear;
    let mut spans = GRAVITY;
    (spans[4], spans[5]) = ((-2.6, -0.65), (-0.7, 2.2));
    for off_m in [0.0, 0.01] {
        assert!(20 < check_two(demo(), GRAVITY, off_m));
        assert!(20 < check_two(encoders.clone(), spans, off_m));
        // the second tilt is not the roll, so the antennas are put a little off as well
        check_two(tilts.clone(), GRAVITY, off_m);
    }
    // beyond three standard uncertainties, and beyond all that a pair may be off
    let near = check_two(encoders.clone(), spans, 0.01);
    let far = check_two(encoders.clone(), spans, 0.05);
    assert!(
        far < near && check_two(encoders, spans, 0.6) < far,
        "{near} {far}"
    );
}

#[test]
fn two_antennas_and_uncertainties_are_the_same_bytes_in_all_registers() {
    let model = model(with_uneven_sds(demo()));
    let batch = Batch::of(&model, Origin::TwoAntennas).expect("a machine for columns");
    let batch = batch
        .with_sds(&model, None, ANTENNA_SD_M)
        .expect("all stated");
    let rows = with_two(&model, rows(GRAVITY)[..1_003].to_vec(), 0.01);
    let column = |k: usize| -> Vec<f64> { rows.iter().map(|two| two.row[k]).collect() };
    let place = |of: fn(&TwoRow) -> [f64; 3], k: usize| -> Vec<f64> {
        rows.iter().map(|two| of(two)[k]).collect()
    };
    let angles: [Vec<f64>; 5] = [0, 1, 3, 4, 5].map(column);
    let first = [0, 1, 2].map(|k| place(|two| two.first, k));
    let second = [0, 1, 2].map(|k| place(|two| two.second, k));
    let stand = PairColumns {
        pitch_rad: &angles[0],
        roll_rad: &angles[1],
        first_m: first.each_ref().map(Vec::as_slice),
        second_m: second.each_ref().map(Vec::as_slice),
    };
    let in_registers = |registers: Registers| {
        let mut out = [(); 6].map(|()| vec![0.0; rows.len()]);
        let [e, n, u, sd_e, sd_n, sd_u] = &mut out;
        let teeth = ToothColumns {
            east_m: e,
            north_m: n,
            up_m: u,
        };
        let sds = ToothColumns {
            east_m: sd_e,
            north_m: sd_n,
            up_m: sd_u,
        };
        let links = [&angles[2][..], &angles[3], &angles[4]];
        let layout = Layout {
            n_pieces: 1,
            registers,
        };
        let unusable = batch
            .predict_by_two(&stand, links, (teeth, sds), layout)
            .expect("columns of one length");
        let bits: Vec<u64> = out.iter().flatten().map(|x| x.to_bits()).collect();
        (bits, unusable)
    };
    let single = in_registers(Registers::Single);
    assert!(single == in_registers(Registers::FourWide));
    assert!(single == in_registers(Registers::Widest));
}

#[test]
fn a_machine_made_ready_for_two_antennas_takes_no_columns_of_one() {
    let model = model(demo());
    let stand = StandColumns {
        pitch_rad: &[],
        roll_rad: &[],
        heading_rad: &[],
        east_m: &[],
        north_m: &[],
        up_m: &[],
    };
    let out = ToothColumns {
        east_m: &mut [],
        north_m: &mut [],
        up_m: &mut [],
    };
    let two = Batch::of(&model, Origin::TwoAntennas).expect("a machine for columns");
    let fault = two
        .predict(&stand, [&[]; 3], out, Layout::default())
        .unwrap_err();
    assert_eq!(fault.code, "T502");
}

#[test]
fn without_a_stated_uncertainty_there_is_none() {
    let sds = |sheet, heading_sd_rad, antenna_sd_m| {
        let model = model(sheet);
        let batch = Batch::of(&model, Origin::Antenna(0)).expect("a machine for columns");
        batch
            .with_sds(&model, heading_sd_rad, antenna_sd_m)
            .is_some()
    };
    let all = || with_uneven_sds(demo());
    assert!(sds(all(), HEADING_SD_RAD, ANTENNA_SD_M));
    assert!(!sds(all(), None, ANTENNA_SD_M));
    assert!(!sds(all(), HEADING_SD_RAD, [Some(0.01), Some(0.01), None]));
    for no_statement in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        assert!(!sds(all(), Some(no_statement), ANTENNA_SD_M));
    }
    let mut sheet = all();
    sheet.sensors[1].sd_rad = None;
    assert!(!sds(sheet, HEADING_SD_RAD, ANTENNA_SD_M));
    let mut sheet = all();
    sheet.linkage.ear.sd = None;
    assert!(!sds(sheet, HEADING_SD_RAD, ANTENNA_SD_M));
}

#[test]
fn other_machines_go_one_by_one() {
    let columns = |sheet, choice| {
        let machine = Machine::measured_up(sheet).expect("a good sheet");
        let model = ToothModel::new(&machine, &choice).expect("a good tool");
        Batch::of(&model, Origin::SwingAxis).is_some()
    };
    let plain = tool(true, false, "T75", "centre");
    assert!(columns(demo(), plain.clone()));
    assert!(!columns(common::two_piece(), plain.clone()));
    assert!(!columns(common::post(), plain.clone()));
    let tilted = common::with_tilt(demo(), false);
    assert!(columns(tilted.clone(), plain.clone()));
    assert!(!columns(tilted, tool(true, true, "T75", "centre")));
    let mut sheet = demo();
    sheet.sensors[1].kind = SensorKind::SingleAxis;
    assert!(!columns(sheet, plain));
}
