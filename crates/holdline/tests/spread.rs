//! The uncertainty of the tooth, against differences, draws and the trade's printed budget.

mod common;

use common::random::Random;
use common::{Kit, Mounting, Rig, pose_at, rigs, tool, with_kit};
use holdline::machine::Machine;
use holdline::machine::claim::*;
use holdline::machine::jacobian::joints_fitted;
use holdline::machine::joints::Joints;
use holdline::machine::reach::reach_in_plane;
use holdline::tooth::attitude::Lean;
use holdline::tooth::model::ToothModel;
use holdline::tooth::place::{Geometry, solve};
use holdline::tooth::readings::Readings;
use holdline_geom::frame::Point;
use holdline_geom::measured::Measured;
use nalgebra::{Matrix3, Vector3};

const LEAN: Lean = Lean {
    pitch: 0.04,
    roll: -0.06,
};

fn readings(model: &ToothModel, q: &Joints, heading_deg: Option<f64>) -> Readings<Measured> {
    let plain = model.readings_at(q, &LEAN).expect("inside the strokes");
    let turn = LEAN.site_turn(heading_deg.unwrap_or(40.0).to_radians());
    let antennas = &model.machine().sheet().antennas;
    let at = |a: &ClaimedAntenna| {
        let lever = [a.lever.x, a.lever.y, a.lever.z].map(|c| c.value);
        let at = turn * Point::metres(lever[0], lever[1], lever[2]);
        Some([at.x() + 5056.0, at.y() + 2041.5, at.z() + 24.174])
    };
    let plain = Readings {
        heading_rad: heading_deg.map(f64::to_radians),
        antennas_m: antennas.iter().map(at).collect(),
        ..plain
    };
    let antenna_sd_m = [0.008, 0.009, 0.015].map(Some);
    model.with_sheet_sds(&plain, Some(0.1_f64.to_radians()), antenna_sd_m)
}

/// Every source in the order of the maps: its value and sd.
fn sources(geometry: &Geometry<Measured>, readings: &Readings<Measured>) -> Vec<Measured> {
    let mut all = Vec::new();
    geometry.map(&mut |_, m| all.push(*m));
    readings.map(&mut |_, m| all.push(*m));
    all
}

/// Level and site tooth with every source moved by `by(idx)`.
fn moved(
    model: &ToothModel,
    readings: &Readings<Measured>,
    by: &dyn Fn(usize) -> f64,
) -> [Vector3<f64>; 2] {
    let mut idx = 0;
    let mut shift = |m: &Measured| {
        idx += 1;
        m.value + by(idx - 1)
    };
    let geometry = model.geometry().map(&mut |_, m| shift(m));
    let readings = readings.map(&mut |_, m| shift(m));
    let plan = model.plan().expect("every joint has a sensor");
    let solution = solve(plan, &geometry, &readings).expect("inside the strokes");
    let site = solution.tooth_site.expect("on the site").vector();
    [solution.tooth_level.vector(), site]
}

#[test]
fn the_spread_is_that_of_central_differences() {
    for rig in rigs() {
        for (kit, heading_deg) in [(Kit::TwoAxisIdler, None), (Kit::Encoders, Some(40.0))] {
            let mounting = Mounting {
                house: SensorKind::HouseTilts,
                sign: -1.0,
                offset_deg: 0.3,
                mount_deg: 0.0,
            };
            let rig = Rig {
                sheet: with_kit(rig.sheet.clone(), kit, mounting),
                ..rig.clone()
            };
            let machine = rig.machine();
            let model = ToothModel::new(&machine, &rig.choice).expect("tool");
            let q = pose_at(&machine, &rig.choice, |_| 0.45);
            let readings = readings(&model, &q, heading_deg);
            let fix = model
                .fix(&readings)
                .unwrap_or_else(|f| panic!("{}: {f}", rig.name));
            let mut want = [Matrix3::zeros(), Matrix3::zeros()];
            for (idx, source) in sources(model.geometry(), &readings).into_iter().enumerate() {
                let h = 1e-5;
                let [less, more] = [-h, h].map(|d| {
                    let only = |k: usize| if k == idx { d } else { 0.0 };
                    moved(&model, &readings, &only)
                });
                for frame in [0, 1] {
                    let slope = (more[frame] - less[frame]) / (2.0 * h);
                    let sd = source.sd.expect("every figure of the rigs has one");
                    want[frame] += slope * slope.transpose() * (sd * sd);
                }
            }
            let site = fix.site.expect("on the site");
            for (got, want) in [(&fix.level, want[0]), (&site, want[1])] {
                let off = (got.known_m2 - want).norm() / want.norm();
                assert!(off < 1e-6, "{}, {kit:?}: off by {off:e}", rig.name);
                assert_eq!(got.missing, Vec::<String>::new(), "{}", rig.name);
                let sd_m = got.sd_m().expect("nothing is missing");
                for axis in 0..3 {
                    assert!((sd_m[axis] - want[(axis, axis)].sqrt()).abs() < 1e-8);
                }
            }
            // The stream's short form says the same.
            let stream = model
                .fix_in_stream(&readings)
                .unwrap_or_else(|f| panic!("{f}"));
            let same = |a: Option<[f64; 3]>, b: Option<[f64; 3]>| {
                let (a, b) = (a.expect("known"), b.expect("known"));
                (0..3).all(|axis| (a[axis] - b[axis]).abs() < 1e-12)
            };
            assert!(same(stream.level_sd_m, fix.level.sd_m()), "{}", rig.name);
            assert!(same(stream.site_sd_m, site.sd_m()), "{}", rig.name);
        }
    }
}

/// Draws of every source from its own spread; the tooth scatters as was said.
#[test]
fn draws_scatter_as_the_spread_says() {
    let rig = &rigs()[1];
    let machine = rig.machine();
    let model = ToothModel::new(&machine, &rig.choice).expect("tool");
    let q = pose_at(&machine, &rig.choice, |_| 0.55);
    let readings = readings(&model, &q, None);
    let fix = model.fix(&readings).unwrap_or_else(|f| panic!("{f}"));
    let all = sources(model.geometry(), &readings);
    let mut random = Random::new(81);
    let n = 20_000;
    let (mut sum, mut squares) = (Vector3::zeros(), Vector3::zeros());
    let [_, middle] = moved(&model, &readings, &|_| 0.0);
    for _ in 0..n {
        // The sum of twelve even draws is nearly normal, with a variance of one.
        let draws: Vec<f64> = all
            .iter()
            .map(|m| {
                let normal = (0..12).map(|_| random.share()).sum::<f64>() - 6.0;
                normal * m.sd.expect("every figure of the rigs has one")
            })
            .collect();
        let [_, site] = moved(&model, &readings, &|idx| draws[idx]);
        let off = site - middle;
        sum += off;
        squares += off.component_mul(&off);
    }
    let n = f64::from(n);
    let sd_m = fix
        .site
        .expect("on the site")
        .sd_m()
        .expect("nothing is missing");
    for axis in 0..3 {
        let mean = sum[axis] / n;
        let sd = (squares[axis] / n - mean * mean).sqrt();
        // Of 20 000 draws the sd itself is known to 0.5 %; four of those.
        assert!(
            (sd / sd_m[axis] - 1.0).abs() < 0.02,
            "axis {axis}: {sd} against {}",
            sd_m[axis]
        );
    }
}

/// The demo machine's budget as the trade's worked table prints it.
///
/// The joint angles of its poses are not printed, only where the tooth is; they are found with the
/// edge's tip straight below the bucket pin, where the figures depend on the curl least.
#[test]
fn the_printed_budget_of_the_demo_machine() {
    let mut sheet = common::demo();
    let deg = |value: f64, sd_deg: f64| Measured::with_sd(value.to_radians(), sd_deg.to_radians());
    sheet.sensors[2].link = Link::Ear;
    for sensor in &mut sheet.sensors {
        // The table knows one figure a sensor, all of it in the reading.
        sensor.offset = deg(0.0, 1e-5);
        sensor.roll_offset = sensor.roll_offset.map(|_| deg(0.0, 1e-5));
    }
    sheet.sensors[2].sd_rad = Some(0.06_f64.to_radians());
    let certain = |m: &mut Measured| m.sd = Some(1e-6);
    certain(&mut sheet.couplers[0].front_pin.x);
    certain(&mut sheet.couplers[0].front_pin.z);
    sheet.couplers[0].rotation = deg(-6.0, 1e-5);
    for tooth in &mut sheet.buckets[0].teeth {
        [&mut tooth.at.x, &mut tooth.at.y, &mut tooth.at.z]
            .into_iter()
            .for_each(|m| m.sd = Some(0.004));
    }
    for antenna in &mut sheet.antennas {
        [
            &mut antenna.lever.x,
            &mut antenna.lever.y,
            &mut antenna.lever.z,
        ]
        .into_iter()
        .for_each(|m| m.sd = Some(0.004));
    }
    let machine = Machine::measured_up(sheet).unwrap_or_else(|faults| panic!("{faults}"));
    let model = ToothModel::new(&machine, &tool(true, false, "T75", "centre")).expect("tool");
    let front = model.geometry().front.values();
    let lean = Lean {
        pitch: 1_f64.to_radians(),
        roll: 0.5_f64.to_radians(),
    };
    for (x, z, want_mm, level_up_mm) in [
        (3.83, 1.44, [13.9, 13.7, 18.9], None),
        (5.78, -0.24, [15.9, 14.6, 18.9], Some(7.15)),
        (7.37, -1.07, [17.7, 15.5, 18.8], None),
        (4.49, -4.79, [15.3, 14.2, 18.9], None),
    ] {
        let reached = [10.5, -20.0, 30.0, 60.0, -50.0]
            .into_iter()
            .find_map(|ear_deg: f64| {
                let target = Point::metres(x, -0.045, z);
                reach_in_plane(
                    &machine,
                    &front,
                    target,
                    ear_deg.to_radians(),
                    &Joints::zero(),
                )
                .ok()
            });
        let q = reached.expect("a curl inside the strokes").joints;
        assert_eq!(joints_fitted(&front).len(), 4);
        let plain = model.readings_at(&q, &lean).expect("inside the strokes");
        let turn = lean.site_turn(30_f64.to_radians());
        let lever = turn * Point::metres(-1.850, 1.050, 3.020);
        let plain = Readings {
            heading_rad: Some(30_f64.to_radians()),
            antennas_m: vec![Some([lever.x(), lever.y(), lever.z()]), None],
            ..plain
        };
        // Satellite fix and localization add up at the antenna.
        let both = |a: f64, b: f64| Some(a.hypot(b));
        let sds = [both(0.008, 0.005), both(0.008, 0.005), both(0.015, 0.008)];
        let uncertain = model.with_sheet_sds(&plain, Some(0.10_f64.to_radians()), sds);
        let fix = model
            .fix(&uncertain)
            .unwrap_or_else(|faults| panic!("{faults}"));
        let sd_m = fix
            .site
            .expect("on the site")
            .sd_m()
            .expect("nothing is missing");
        for axis in 0..3 {
            let (got, want) = (sd_m[axis] * 1000.0, want_mm[axis]);
            assert!(
                (got - want).abs() < 0.3,
                "({x}, {z}), axis {axis}: {got} against {want}"
            );
        }
        if let Some(want) = level_up_mm {
            let got = fix.level.sd_m().expect("nothing is missing")[2] * 1000.0;
            assert!((got - want).abs() < 0.4, "({x}, {z}): {got} against {want}");
        }
    }
}

#[test]
fn two_antennas_give_the_mean_of_their_two_teeth() {
    let rig = &rigs()[1];
    let machine = rig.machine();
    let model = ToothModel::new(&machine, &rig.choice).expect("tool");
    let q = pose_at(&machine, &rig.choice, |_| 0.45);
    let mut both = readings(&model, &q, Some(40.0)).map(&mut |_, m| m.value);
    both.antennas_m[1] = both.antennas_m[1].map(|[e, n, u]| [e + 0.020, n - 0.010, u + 0.030]);
    let with = |seen: [bool; 2]| {
        let mut some = both.clone();
        for (antenna, seen) in some.antennas_m.iter_mut().zip(seen) {
            *antenna = antenna.filter(|_| seen);
        }
        model
            .tooth(&some)
            .expect("tooth")
            .tooth_site
            .expect("on the site")
            .vector()
    };
    let mean = (with([true, false]) + with([false, true])) / 2.0;
    assert!((with([true, true]) - mean).norm() < 1e-11);
    assert!(0.03 < (with([true, false]) - with([false, true])).norm());
}
