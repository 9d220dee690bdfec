//! Teeth in columns against the single pose: the same tooth, and the same readings refused for the
//! same reason.

mod common;

use common::{demo, tool};
use holdline::machine::Machine;
use holdline::machine::claim::{ClaimedMachine, Link, SensorKind};
use holdline::tooth::batch::{Layout, StandColumns, ToothColumns, Unusable};
use holdline::tooth::batch_model::{Batch, Origin};
use holdline::tooth::model::ToothModel;
use holdline::tooth::readings::Readings;
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

/// What the single pose gives for a row.
fn one_by_one(model: &ToothModel, row: &Row) -> Result<[f64; 3], &'static str> {
    let [pitch, roll, heading, boom, stick, bucket, east, north, up] = *row;
    let readings = Readings {
        house_rad: Some([pitch, roll]),
        sensors_rad: vec![Some(boom), Some(stick), Some(bucket), None],
        heading_rad: Some(heading),
        antennas_m: vec![Some([east, north, up]), None],
    };
    match model.tooth(&readings) {
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
