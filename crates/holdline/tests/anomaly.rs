//! What goes wrong on site: a fault, or an uncertainty that is missing; never a plausible number.

mod common;

use common::{demo, tool};
use holdline::machine::Machine;
use holdline::machine::claim::*;
use holdline::machine::joints::Joints;
use holdline::tooth::attitude::Lean;
use holdline::tooth::model::{PAIR_CONTRADICTS, ToothFix, ToothModel};
use holdline::tooth::readings::Readings;
use holdline_geom::fault::Faults;
use holdline_geom::measured::Measured;

fn rad(deg: f64) -> f64 {
    deg.to_radians()
}

fn model_of(sheet: ClaimedMachine) -> ToothModel {
    let machine = Machine::measured_up(sheet).unwrap_or_else(|faults| panic!("{faults}"));
    ToothModel::new(&machine, &tool(true, false, "T75", "centre")).expect("the demo's own tool")
}

fn a_pose() -> Joints {
    Joints {
        boom: rad(28.0),
        stick: rad(-95.0),
        bucket: rad(20.0),
        ..Joints::zero()
    }
}

const LEAN: Lean = Lean {
    pitch: 0.02,
    roll: -0.03,
};

const STAND: [f64; 3] = [5056.0, 2041.5, 24.174];

/// Good readings with both antennas and no heading.
fn good(model: &ToothModel) -> Readings<f64> {
    let readings = model
        .readings_at(&a_pose(), &LEAN)
        .expect("a pose inside the strokes");
    let site_from_house = LEAN.site_turn(rad(40.0)).after_shift(STAND);
    let antennas = &model.machine().sheet().antennas;
    let at = |a: &ClaimedAntenna| {
        let lever = [a.lever.x, a.lever.y, a.lever.z].map(|c| c.value);
        let lever = holdline_geom::frame::Point::metres(lever[0], lever[1], lever[2]);
        Some(<[f64; 3]>::from((site_from_house * lever).vector()))
    };
    Readings {
        antennas_m: antennas.iter().map(at).collect(),
        ..readings
    }
}

/// The codes of what is wrong; panics when nothing is.
#[track_caller]
fn codes(result: Result<impl std::fmt::Debug, Faults>) -> Vec<&'static str> {
    match result {
        Err(faults) => {
            for fault in &faults.0 {
                for words in [&fault.at, &fault.got, &fault.want, &fault.fix] {
                    assert!(!words.trim().is_empty(), "a fault without words: {fault:?}");
                }
            }
            faults.0.iter().map(|fault| fault.code).collect()
        }
        Ok(value) => panic!("taken for good: {value:?}"),
    }
}

// ---- readings ---------------------------------------------------------------------------------

#[test]
fn good_readings_are_good() {
    let model = model_of(demo());
    assert!(
        model
            .tooth(&good(&model))
            .expect("tooth")
            .tooth_site
            .is_some()
    );
}

/// The same readings with one number replaced, each number in its turn.
fn with_each_replaced(readings: &Readings<f64>, by: f64) -> Vec<Readings<f64>> {
    let mut n = 0;
    readings.map(&mut |_, _| n += 1);
    (0..n)
        .map(|wanted| {
            let mut at = 0;
            readings.map(&mut |_, value| {
                at += 1;
                if at == wanted + 1 { by } else { *value }
            })
        })
        .collect()
}

#[test]
fn a_reading_that_is_no_number_gives_no_tooth() {
    for heading_rad in [None, Some(rad(40.0))] {
        let model = model_of(demo());
        let readings = Readings {
            heading_rad,
            ..good(&model)
        };
        for bad in [
            f64::NAN,
            f64::INFINITY,
            f64::NEG_INFINITY,
            1e300,
            -1e300,
            1e12,
        ] {
            for broken in with_each_replaced(&readings, bad) {
                assert_eq!(codes(model.tooth(&broken)), ["T004"], "{bad} in {broken:?}");
                let uncertain = model.with_sheet_sds(&broken, Some(0.001), [Some(0.01); 3]);
                assert_eq!(codes(model.fix(&uncertain)), ["T004"]);
                assert_eq!(codes(model.fix_in_stream(&uncertain)), ["T004"]);
            }
        }
    }
}

#[test]
fn typed_joints_that_are_no_numbers_give_no_tooth() {
    let model = model_of(demo());
    let readings = good(&model).map(&mut |_, v| Measured::without_sd(*v));
    for bad in [f64::NAN, f64::INFINITY, 1e5] {
        for joint in holdline::machine::joints::ALL_JOINTS {
            let fault = model
                .fix_typed(a_pose().with(joint, bad), LEAN, &readings)
                .unwrap_err();
            assert_eq!(
                (fault.code, fault.at),
                ("T004", format!("joint {}", joint.word()))
            );
        }
        for lean in [Lean { pitch: bad, ..LEAN }, Lean { roll: bad, ..LEAN }] {
            assert_eq!(
                model.fix_typed(a_pose(), lean, &readings).unwrap_err().code,
                "T004"
            );
        }
    }
}

#[test]
fn degrees_taken_for_radians_give_no_tooth() {
    let model = model_of(demo());
    let in_degrees = good(&model).map(&mut |name, v| match name {
        holdline::tooth::readings::ReadingName::Antenna { .. } => *v,
        _ => v.to_degrees(),
    });
    codes(model.tooth(&in_degrees));
}

#[test]
fn a_missing_reading_gives_no_tooth() {
    let model = model_of(demo());
    for idx in 0..3 {
        let mut readings = good(&model);
        readings.sensors_rad[idx] = None;
        assert_eq!(codes(model.tooth(&readings)), ["T002"]);
        readings.sensors_rad.truncate(idx);
        assert_eq!(codes(model.tooth(&readings)), ["T002"]);
    }
    let mut readings = good(&model);
    readings.house_rad = None;
    assert_eq!(codes(model.tooth(&readings)), ["T002"]);
    readings = good(&model);
    readings.antennas_m = vec![None, None];
    let tooth = model.tooth(&readings).expect("2D needs no antenna");
    assert_eq!((tooth.tooth_site, tooth.heading_rad), (None, None));
}

/// In how many of all poses a change to the readings is refused, in percent.
///
/// One reading alone cannot show every mistake: a boom 20° down looks like a boom 20° up that counts
/// the other way. What stays inside the strokes is left to the check shots.
fn refused_percent(spoil: impl Fn(&mut Readings<f64>)) -> f64 {
    let model = model_of(demo());
    let (mut n, mut refused) = (0.0, 0.0);
    for step in 0..1000 {
        let share = |k: u32| f64::from(step / 10_u32.pow(k) % 10) / 9.0;
        let q = common::pose_at(model.machine(), model.choice(), |joint| match joint {
            Joint::Boom => share(0),
            Joint::Stick => share(1),
            _ => share(2),
        });
        let mut readings = model.readings_at(&q, &LEAN).expect("inside the strokes");
        let right = model
            .tooth(&readings)
            .unwrap_or_else(|faults| panic!("{faults}"));
        spoil(&mut readings);
        n += 1.0;
        match model.tooth(&readings) {
            // Where the spoilt reading is nearly the right one, so is the tooth.
            Ok(got) if (got.tooth_house - right.tooth_house).length_m() < 0.05 => n -= 1.0,
            Ok(_) => {}
            Err(faults) => {
                let known = ["T010", "T015"];
                assert!(faults.0.iter().all(|f| known.contains(&f.code)), "{faults}");
                refused += 1.0;
            }
        }
    }
    100.0 * refused / n
}

#[test]
fn most_swapped_signs_are_seen_in_one_reading() {
    let negate = |idx: usize| {
        refused_percent(|readings| {
            readings.sensors_rad[idx] = readings.sensors_rad[idx].map(|r| -r);
        })
    };
    let [boom, stick, idler] = [0, 1, 2].map(negate);
    assert!(
        40.0 < boom && 80.0 < stick && 50.0 < idler,
        "{boom} {stick} {idler}"
    );
    // All signs at once, as a converter that counts downward would give them.
    let all = refused_percent(|readings| {
        for reading in &mut readings.sensors_rad {
            *reading = reading.map(|r| -r);
        }
    });
    assert!(80.0 < all, "{all}");
}

#[test]
fn most_swapped_columns_are_seen_in_one_reading() {
    let swap = |a: usize, b: usize| refused_percent(|readings| readings.sensors_rad.swap(a, b));
    let [boom_stick, stick_idler, boom_idler] = [swap(0, 1), swap(1, 2), swap(0, 2)];
    assert!(
        80.0 < boom_stick && 80.0 < stick_idler && 50.0 < boom_idler,
        "{boom_stick} {stick_idler} {boom_idler}"
    );
}

#[test]
fn a_joint_just_past_its_stroke_still_has_a_tooth_and_one_far_past_has_none() {
    let model = model_of(demo());
    let outer = model
        .machine()
        .range(Joint::Stick)
        .expect("known")
        .outer_rad;
    for (past_deg, good_one) in [(0.1, true), (4.9, true), (5.1, false), (40.0, false)] {
        for stick in [outer[0] - rad(past_deg), outer[1] + rad(past_deg)] {
            let q = Joints { stick, ..a_pose() };
            let tooth = model.tooth(&model.readings_at(&q, &LEAN).expect("readings"));
            assert_eq!(tooth.is_ok(), good_one, "{past_deg}: {tooth:?}");
        }
    }
}

#[test]
fn an_idler_reading_that_opens_the_linkage_gives_no_tooth() {
    let mut sheet = demo();
    sheet.cylinders.remove(2); // no stroke known: only the linkage itself can object
    let model = model_of(sheet);
    let readings = good(&model);
    let stick = readings.sensors_rad[1].expect("read");
    let mut n_open = 0;
    for step in 0..360 {
        let mut readings = readings.clone();
        readings.sensors_rad[2] = Some(stick + rad(f64::from(step) - 180.0));
        match model.tooth(&readings) {
            Ok(solution) => assert!(solution.tooth_house.vector().iter().all(|c| c.is_finite())),
            Err(faults) => {
                n_open += 1;
                assert_eq!(faults.0[0].code, "T010");
                assert!(faults.0[0].got.contains("mm short of closing"), "{faults}");
            }
        }
    }
    assert!(0 < n_open);
}

#[test]
fn a_single_axis_in_doubt_gives_no_tooth() {
    let mut sheet = demo();
    for sensor in &mut sheet.sensors {
        if sensor.kind == SensorKind::TwoAxis {
            sensor.kind = SensorKind::SingleAxis;
        }
    }
    let model = model_of(sheet.clone());
    // Stick 20° to either side of plumb: the same reading, both inside the stroke.
    let q = Joints {
        boom: rad(10.0),
        stick: rad(-80.0),
        ..a_pose()
    };
    let readings = model.readings_at(&q, &LEAN).expect("readings");
    assert_eq!(codes(model.tooth(&readings)), ["T012"]);
    // With no strokes on the sheet every reading is in doubt.
    sheet.cylinders.clear();
    let model = model_of(sheet);
    assert_eq!(
        codes(model.tooth(&model.readings_at(&q, &LEAN).expect("readings"))),
        ["T012"]
    );
}

#[test]
fn house_tilts_that_contradict_give_no_tooth() {
    let mut sheet = demo();
    sheet.sensors[3].kind = SensorKind::HouseTilts;
    let model = model_of(sheet);
    let mut readings = good(&model);
    readings.house_rad = Some([0.80, 0.79]); // squares of the sines add up to more than 1
    assert_eq!(codes(model.tooth(&readings)), ["T013"]);
}

// ---- antennas ---------------------------------------------------------------------------------

#[test]
fn antennas_that_contradict_their_levers_give_no_tooth() {
    let model = model_of(demo());
    let off = |antenna: usize, axis: usize, by_m: f64| {
        let mut readings = good(&model);
        readings.antennas_m[antenna] = readings.antennas_m[antenna].map(|mut at| {
            at[axis] += by_m;
            at
        });
        readings
    };
    for antenna in [0, 1] {
        assert_eq!(codes(model.tooth(&off(antenna, 2, 0.4))), ["T016"]);
        assert_eq!(codes(model.tooth(&off(antenna, 0, 3.0))), ["T016"]);
        assert_eq!(codes(model.tooth(&off(antenna, 1, -3.0))), ["T016"]);
    }
    // One position for both, as when a column is used twice.
    let mut readings = good(&model);
    readings.antennas_m[1] = readings.antennas_m[0];
    assert_eq!(codes(model.tooth(&readings)), ["T014"]);
}

#[test]
fn swapped_antennas_are_seen_on_a_leaning_machine_or_beside_a_heading() {
    let model = model_of(demo());
    let mut readings = good(&model);
    readings.antennas_m.swap(0, 1);
    // A roll of 0.03 on 2.1 m: 63 mm up where 63 mm down is due, more than 0.10 m between them.
    assert_eq!(codes(model.tooth(&readings)), ["T016"]);
    // On level ground only a heading can tell.
    let level = Lean {
        pitch: 0.0,
        roll: 0.0,
    };
    let mut readings = model.readings_at(&a_pose(), &level).expect("readings");
    readings.antennas_m = vec![
        Some([STAND[0] + 1.05, STAND[1] - 1.85, STAND[2] + 3.02]),
        Some([STAND[0] - 1.05, STAND[1] - 1.85, STAND[2] + 3.02]),
    ];
    readings.heading_rad = Some(0.0);
    let faults = model.tooth(&readings).unwrap_err();
    assert_eq!(faults.0[0].code, "T017");
    assert!(
        faults.0[0].got.contains("180.0° from the two antennas"),
        "{faults}"
    );
    readings.antennas_m.swap(0, 1);
    assert!(model.tooth(&readings).is_ok());
    readings.heading_rad = Some(rad(-359.0)); // the same way, counted otherwise, 1° off
    assert!(model.tooth(&readings).is_ok());
    readings.heading_rad = Some(rad(3.0));
    assert_eq!(codes(model.tooth(&readings)), ["T017"]);
}

fn fix(model: &ToothModel, readings: &Readings<f64>) -> ToothFix {
    let readings = model.with_sheet_sds(readings, Some(rad(0.1)), [0.008, 0.008, 0.015].map(Some));
    model
        .fix(&readings)
        .unwrap_or_else(|faults| panic!("{faults}"))
}

#[test]
fn antennas_off_by_more_than_their_uncertainty_take_the_uncertainty_away() {
    let model = model_of(demo());
    let readings = good(&model);
    let site = fix(&model, &readings).site.expect("on the site");
    assert!(site.sd_m().is_some(), "{:?}", site.missing);
    // 80 mm of rise between two antennas of 15 mm each: more than three of its sds.
    let mut readings = good(&model);
    readings.antennas_m[0] = readings.antennas_m[0].map(|[e, n, u]| [e, n, u + 0.080]);
    let fix = fix(&model, &readings);
    let site = fix.site.expect("on the site");
    assert_eq!(site.sd_m(), None);
    assert_eq!(site.missing, [PAIR_CONTRADICTS]);
    assert!(
        fix.level.sd_m().is_some(),
        "2D does not hang on the antennas"
    );
    let uncertain =
        model.with_sheet_sds(&readings, Some(rad(0.1)), [0.008, 0.008, 0.015].map(Some));
    let stream = model
        .fix_in_stream(&uncertain)
        .unwrap_or_else(|faults| panic!("{faults}"));
    assert_eq!(stream.site_sd_m, None);
    assert_eq!(stream.level_sd_m, fix.level.sd_m());
}

// ---- uncertainty ------------------------------------------------------------------------------

#[test]
fn one_figure_without_uncertainty_leaves_the_tooth_without_one() {
    let check = |spoil: &dyn Fn(&mut ClaimedMachine), name: &str| {
        let mut sheet = demo();
        spoil(&mut sheet);
        let model = model_of(sheet);
        let fix = fix(&model, &good(&model));
        assert_eq!(fix.level.sd_m(), None, "{name}");
        assert!(
            fix.level.missing.iter().any(|m| m == name),
            "{name}: {:?}",
            fix.level.missing
        );
        // What is known is still told as what it is, a lower bound.
        assert!((0..3).all(|k| 0.0 < fix.level.known_m2[(k, k)]), "{name}");
    };
    check(&|s| s.stick.length.sd = None, "stick.length");
    check(&|s| s.linkage.link.sd = None, "linkage.link");
    check(
        &|s| s.couplers[0].rotation.sd = None,
        "coupler[QC-demo].rotation",
    );
    check(
        &|s| s.buckets[0].teeth[1].at.z.sd = None,
        "bucket[T75].tooth[centre].at.z",
    );
    check(&|s| s.sensors[1].offset.sd = None, "sensor[S-stick].offset");
    check(&|s| s.sensors[1].sd_rad = None, "reading of S-stick");
    check(&|s| s.sensors[3].sd_rad = None, "reading of house roll");
    check(
        &|s| {
            if let Some(foot) = &mut s.boom.foot {
                foot.z.sd = None;
            }
        },
        "boom.foot.z",
    );
}

#[test]
fn antennas_without_uncertainty_leave_the_site_without_one() {
    let model = model_of(demo());
    let readings = model.with_sheet_sds(&good(&model), None, [None, Some(0.01), Some(0.02)]);
    let fix = model
        .fix(&readings)
        .unwrap_or_else(|faults| panic!("{faults}"));
    assert!(fix.level.sd_m().is_some());
    let site = fix.site.expect("on the site");
    assert_eq!(site.sd_m(), None);
    assert!(
        site.missing.contains(&"easting of antenna GL".to_owned()),
        "{:?}",
        site.missing
    );
}
