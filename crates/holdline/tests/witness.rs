//! Two witnesses: the printed figures of the trade's worked examples on the demo machine.
//!
//! They were worked out apart from this code, and stand here with half of their last digit as
//! tolerance.

mod common;

use common::{deg, demo, mm3, tool};
use holdline::frames::{Bucket, House, Site};
use holdline::machine::Machine;
use holdline::machine::claim::{ClaimedBoomKind, ClaimedMachine, Joint, Link, SensorKind};
use holdline::machine::joints::Joints;
use holdline::machine::pose::front_pose;
use holdline::tooth::attitude::Lean;
use holdline::tooth::model::ToothModel;
use holdline::tooth::readings::Readings;
use holdline_geom::frame::{Direction, Point, Transform};

fn rad(deg: f64) -> f64 {
    deg.to_radians()
}

#[track_caller]
fn near(got: f64, want: f64, within: f64) {
    let off = (got - want).abs();
    assert!(off <= within, "got {got}, want {want} within {within}");
}

#[track_caller]
fn near3(got: [f64; 3], want: [f64; 3], within: f64) {
    for (got, want) in got.into_iter().zip(want) {
        near(got, want, within);
    }
}

fn machine() -> Machine {
    Machine::measured_up(demo()).unwrap_or_else(|faults| panic!("{faults}"))
}

fn model() -> ToothModel {
    ToothModel::new(&machine(), &tool(true, false, "T75", "centre")).expect("the demo's own tool")
}

fn joints(boom_deg: f64, stick_deg: f64, bucket_deg: f64) -> Joints {
    Joints {
        boom: rad(boom_deg),
        stick: rad(stick_deg),
        bucket: rad(bucket_deg),
        ..Joints::zero()
    }
}

const LEAN: [f64; 2] = [2.0, -1.5];

fn lean(pitch_deg: f64, roll_deg: f64) -> Lean {
    Lean {
        pitch: rad(pitch_deg),
        roll: rad(roll_deg),
    }
}

#[test]
fn the_chain_of_the_worked_example() {
    let front = machine()
        .front(&tool(true, false, "T75", "centre"))
        .expect("tool")
        .values();
    let pose = front_pose(&front, &joints(22.0, -88.0, 35.0));
    let at = |p: Point<House>| [p.x(), p.y(), p.z()];
    near3(
        at(pose.house_from_stick.origin()),
        [5.4535, -0.045, 3.9927],
        5e-5,
    );
    near3(
        at(pose.house_from_ear.origin()),
        [6.6493, -0.045, 1.3069],
        5e-5,
    );
    near3(at(pose.tooth_house), [5.5261, -0.045, 0.0365], 5e-5);
}

#[test]
fn the_axes_of_a_leaning_house_on_the_site() {
    let turn = lean(LEAN[0], LEAN[1]).site_turn(rad(63.0)).rotation();
    let column = |k: usize| [turn[(0, k)], turn[(1, k)], turn[(2, k)]];
    near3(column(0), [0.89046, 0.45371, 0.03490], 5e-6);
    near3(column(1), [-0.45302, 0.89112, -0.02616], 5e-6);
    near3(column(2), [-0.04297, 0.00749, 0.99905], 5e-6);
}

/// Readings of one antenna and a heading.
fn with_antenna(readings: Readings<f64>, heading_deg: f64, at_m: [f64; 3]) -> Readings<f64> {
    Readings {
        heading_rad: Some(rad(heading_deg)),
        antennas_m: vec![Some(at_m), None],
        ..readings
    }
}

#[test]
fn the_tooth_of_the_worked_example_on_the_site() {
    let model = model();
    let readings = model
        .readings_at(&joints(22.0, -88.0, 35.0), &lean(LEAN[0], LEAN[1]))
        .expect("readings");
    let readings = with_antenna(readings, 63.0, [5102.350, 2078.120, 27.385]);
    let tooth = model
        .tooth(&readings)
        .expect("tooth")
        .tooth_site
        .expect("on the site");
    near3(
        [tooth.x(), tooth.y(), tooth.z()],
        [5109.5424, 2080.4685, 24.6904],
        5e-5,
    );
}

#[test]
fn what_gravity_sensors_read_on_the_worked_example() {
    let lean = lean(LEAN[0], LEAN[1]);
    let gravity = lean.in_boom_plane(0.0);
    near(gravity.apparent_pitch.to_degrees(), 2.00069, 5e-6);
    near(gravity.cos_lean.acos().to_degrees(), 1.49909, 5e-6);
    let read = |kind: SensorKind| {
        let mut sheet = demo();
        sheet.sensors[0].kind = kind;
        sheet.sensors[1].kind = kind;
        let machine = Machine::measured_up(sheet).unwrap_or_else(|faults| panic!("{faults}"));
        let model = ToothModel::new(&machine, &tool(true, false, "T75", "centre")).expect("tool");
        let readings = model
            .readings_at(&joints(22.0, -88.0, 35.0), &lean)
            .expect("readings");
        [0, 1].map(|idx| readings.sensors_rad[idx].expect("read").to_degrees())
    };
    let [boom, stick] = read(SensorKind::TwoAxis);
    near(boom, 24.00069, 5e-6);
    // -66 + 2.00069 = -63.99931: the example's last digit is off by one.
    near(stick, -63.99932, 1e-5);
    let [boom, stick] = read(SensorKind::SingleAxis);
    near(boom, 23.99195, 5e-6);
    near(stick, -63.95914, 5e-6);
}

#[test]
fn two_tilts_are_not_pitch_and_roll() {
    // Read as pitch and roll, two tilts of a leaning house give this much too little roll.
    for (lean_deg, off_deg, within) in [(5.0, 0.02, 0.005), (15.0, 0.52, 0.005)] {
        let lean = lean(lean_deg, lean_deg);
        let up = lean.up().vector();
        near(up.x.asin(), lean.pitch, 1e-15);
        near(lean_deg - up.y.asin().to_degrees(), off_deg, within);
        let back = Lean::from_tilts(up.x.asin(), up.y.asin()).expect("an attitude");
        near(back.roll, lean.roll, 1e-14);
    }
}

#[test]
fn the_linkage_of_the_worked_example() {
    let machine = machine();
    let linkage = machine.linkage();
    let pose = linkage.ear_from_idler(2.940, rad(60.0)).expect("closes");
    near3(
        [pose.e_m[0], pose.e_m[1], 0.0],
        [2.80000, 0.54962, 0.0],
        5e-6,
    );
    near3(
        [pose.d_m[0], pose.d_m[1], 0.0],
        [3.29913, 0.25421, 0.0],
        5e-6,
    );
    near(pose.ear_rad.to_degrees(), 35.29233, 5e-6);
    near(linkage.ear_per_idler(&pose), 1.49363, 5e-6);
    let other = holdline::machine::four_bar::FourBar {
        branch: holdline::machine::claim::LinkageBranch::Left,
        ..linkage
    };
    let other = other.ear_from_idler(2.940, rad(60.0)).expect("closes");
    near(other.ear_rad.to_degrees(), 173.28904, 5e-6);
    let lengths = machine
        .cylinder_lengths_m(&joints(0.0, -90.0, 35.29233))
        .expect("lengths");
    near(lengths[2], 2.08059, 5e-6);
}

#[test]
fn the_bucket_is_three_times_as_sensitive_near_full_curl() {
    let machine = machine();
    let linkage = machine.linkage();
    let [curled, out] = machine.idler_range().expect("known").nominal_rad;
    let rate = |alpha| {
        let pose = linkage.ear_from_idler(2.940, alpha).expect("closes");
        linkage.ear_per_idler(&pose)
    };
    // The printed figures are those of the two ends; between them it falls to 1.241.
    near(rate(out), 1.262, 5e-4);
    near(rate(curled), 2.942, 5e-4);
}

#[test]
fn joint_limits_nominal_and_outer() {
    let machine = machine();
    for (joint, nominal, outer) in [
        (Joint::Boom, [-45.258, 61.521], [-47.274, 61.982]),
        (Joint::Stick, [-152.595, -35.534], [-153.984, -35.112]),
        (Joint::Bucket, [-40.189, 126.420], [-43.288, 127.216]),
    ] {
        let range = machine.range(joint).expect("known");
        for end in [0, 1] {
            near(range.nominal_rad[end].to_degrees(), nominal[end], 5e-4);
            near(range.outer_rad[end].to_degrees(), outer[end], 5e-4);
        }
    }
}

#[test]
fn five_millimetres_of_stroke_in_degrees() {
    let machine = machine();
    let more = |joint, end: usize| {
        let range = machine.range(joint).expect("known");
        (range.outer_rad[end] - range.nominal_rad[end])
            .abs()
            .to_degrees()
    };
    near(more(Joint::Boom, 0), 2.0, 0.05);
    near(more(Joint::Boom, 1), 0.5, 0.05);
    near(more(Joint::Stick, 0), 1.4, 0.05);
    near(more(Joint::Bucket, 0), 3.1, 0.05);
}

#[test]
fn the_stroke_tables() {
    let machine = machine();
    let triangles = machine.cylinder_triangles();
    type Table = &'static [(f64, f64)];
    let tables: [(Joint, usize, Table); 2] = [
        (
            Joint::Boom,
            0,
            &[
                (1.680, -45.258),
                (1.98625, -8.298),
                (2.2925, 14.489),
                (2.59875, 36.564),
                (2.905, 61.521),
            ],
        ),
        (
            Joint::Stick,
            1,
            &[
                (1.930, -35.534),
                (2.2475, -59.713),
                (2.565, -82.865),
                (2.8825, -109.234),
                (3.200, -152.595),
            ],
        ),
    ];
    for (joint, idx, table) in tables {
        for (length_m, want_deg) in table {
            let angle = triangles[idx].joint_at("table", *length_m).expect("closes");
            let [min, max] = machine.range(joint).expect("known").nominal_rad;
            let turns = ((min + max) / 2.0 - angle) / std::f64::consts::TAU;
            near(
                (angle + turns.round() * std::f64::consts::TAU).to_degrees(),
                *want_deg,
                5e-4,
            );
        }
    }
    // Bucket: length, ear, idler; the printed lengths are the stroke in five parts.
    for (step, ear_deg, idler_deg) in [
        (0.0, 126.420, 129.921),
        (1.0, 100.567, 109.163),
        (2.0, 77.340, 90.741),
        (3.0, 52.478, 71.998),
        (4.0, 21.008, 50.827),
        (5.0, -40.189, 21.826),
    ] {
        let length_m = 1.395 + (2.350 - 1.395) * step / 5.0;
        let idler = triangles[2].joint_at("table", length_m).expect("closes");
        near(idler.to_degrees(), idler_deg, 5e-4);
        let pose = machine
            .linkage()
            .ear_from_idler(2.940, idler)
            .expect("closes");
        near(pose.ear_rad.to_degrees(), ear_deg, 5e-4);
    }
}

#[test]
fn bucket_pin_to_tooth_as_a_tape_would_find_it() {
    for (coupler, bucket, length_m, angle_deg) in [
        (false, "T75", 1.4599, -97.003),
        (true, "T75", 1.6958, -100.481),
        (false, "G180", 1.1801, -95.836),
        (true, "G180", 1.4175, -99.013),
    ] {
        let choice = tool(coupler, false, bucket, "centre");
        let front = machine().front(&choice).expect("tool").values();
        let pose = front_pose(&front, &Joints::zero());
        let tooth = pose.house_from_ear.inverse() * pose.tooth_house;
        near(tooth.x().hypot(tooth.z()), length_m, 5e-5);
        near(tooth.z().atan2(tooth.x()).to_degrees(), angle_deg, 5e-4);
    }
}

#[test]
fn a_leaned_plane_taken_for_an_upright_one_errs_by_millimetres() {
    let front = machine()
        .front(&tool(true, false, "T75", "centre"))
        .expect("tool")
        .values();
    let tooth = front_pose(&front, &joints(22.0, -88.0, 35.0)).tooth_house;
    for (roll_deg, want_mm) in [(2.0, 1.0), (5.0, 7.0), (8.0, 18.0)] {
        let drop_m = (tooth.z() - 1.850) * (1.0 - rad(roll_deg).cos());
        let from_chain = {
            let level = lean(0.0, roll_deg).level_from_house();
            let foot: Point<House> = Point::metres(0.150, -0.045, 1.850);
            let upright_m = tooth.z() - foot.z();
            upright_m - ((level * tooth) - (level * foot)).vector().z
        };
        near(from_chain, drop_m, 1e-12);
        near(from_chain.abs() * 1000.0, want_mm, 0.5);
    }
}

/// One line of the table of check shots: angles above the house's x, attitude, both antennas, tooth.
struct Shot {
    boom_deg: f64,
    stick_deg: f64,
    ear_deg: f64,
    heading_deg: f64,
    tooth: [f64; 3],
}

const fn shot(front: [f64; 3], heading_deg: f64, tooth: [f64; 3]) -> Shot {
    Shot {
        boom_deg: front[0],
        stick_deg: front[1],
        ear_deg: front[2],
        heading_deg,
        tooth,
    }
}

const SHOTS: [Shot; 8] = [
    shot([28.0, -82.0, -25.0], 60.0, [5060.0259, 2043.7686, 24.4907]),
    shot([28.0, -82.0, -95.0], 60.0, [5059.4500, 2043.4076, 26.3134]),
    shot([24.0, -65.0, -25.0], 150.0, [5058.7767, 2036.5964, 24.2285]),
    shot([24.0, -65.0, -95.0], 150.0, [5058.4386, 2037.1232, 26.0704]),
    shot([42.0, -98.0, 0.0], 240.0, [5052.7803, 2039.6760, 25.2139]),
    shot([42.0, -98.0, -60.0], 240.0, [5053.8893, 2040.2992, 26.3352]),
    shot([8.0, -32.0, -68.0], 330.0, [5052.7109, 2047.2628, 25.0135]),
    shot([8.0, -32.0, 85.0], 330.0, [5051.0640, 2050.1191, 24.9439]),
];

type Stand = (f64, f64, f64, [f64; 3], [f64; 3]);

/// Heading, pitch, roll, left and right antenna, as printed.
const STANDS: [Stand; 4] = [
    (
        60.0,
        0.9193,
        0.7713,
        [5053.8513, 2041.4248, 27.1778],
        [5054.9016, 2039.6066, 27.1495],
    ),
    (
        150.0,
        -0.7714,
        0.9192,
        [5055.9628, 2043.5673, 27.2351],
        [5054.1441, 2042.5178, 27.2014],
    ),
    (
        240.0,
        -0.9193,
        -0.7713,
        [5058.1055, 2041.4563, 27.2089],
        [5057.0552, 2043.2746, 27.2372],
    ),
    (
        330.0,
        0.7714,
        -0.9192,
        [5055.9940, 2039.3138, 27.1516],
        [5057.8126, 2040.3633, 27.1853],
    ),
];

/// The track plane falls 1.2° towards azimuth 200; the attitude at a heading, by its own definition.
fn attitude_on_the_slope(heading_deg: f64) -> Lean {
    let fall = rad(1.2);
    let pitch = (-fall.tan() * rad(heading_deg - 200.0).cos()).atan();
    let (se, cn) = (rad(heading_deg).sin(), rad(heading_deg).cos());
    let x = [pitch.cos() * se, pitch.cos() * cn, pitch.sin()];
    let n = [
        fall.sin() * rad(200.0).sin(),
        fall.sin() * rad(200.0).cos(),
        fall.cos(),
    ];
    let left_up = n[0] * x[1] - n[1] * x[0]; // the third component of n × x
    Lean {
        pitch,
        roll: (left_up / pitch.cos()).asin(),
    }
}

#[test]
fn attitudes_and_antennas_of_the_check_shots() {
    for (heading_deg, pitch_deg, roll_deg, left, right) in STANDS {
        let lean = attitude_on_the_slope(heading_deg);
        near(lean.pitch.to_degrees(), pitch_deg, 6e-5);
        near(lean.roll.to_degrees(), roll_deg, 6e-5);
        let site_from_house: Transform<Site, House> = lean
            .site_turn(rad(heading_deg))
            .after_shift([5056.0, 2041.5, 24.174]);
        for (y, want) in [(1.050, left), (-1.050, right)] {
            let at = site_from_house * Point::metres(-1.850, y, 3.020);
            near3([at.x(), at.y(), at.z()], want, 5.1e-5);
        }
    }
}

#[test]
fn the_eight_check_shots_with_both_antennas() {
    let model = model();
    for (idx, shot) in SHOTS.iter().enumerate() {
        let lean = attitude_on_the_slope(shot.heading_deg);
        let stand = STANDS
            .iter()
            .find(|s| s.0 == shot.heading_deg)
            .expect("a stand");
        let q = joints(
            shot.boom_deg,
            shot.stick_deg - shot.boom_deg,
            shot.ear_deg - shot.stick_deg,
        );
        let readings = model.readings_at(&q, &lean).expect("inside the strokes");
        let solve = |heading_rad: Option<f64>, left: bool, right: bool| {
            let readings = Readings {
                heading_rad,
                antennas_m: vec![left.then_some(stand.3), right.then_some(stand.4)],
                ..readings.clone()
            };
            model
                .tooth(&readings)
                .unwrap_or_else(|fault| panic!("shot {}: {fault}", idx + 1))
        };
        // The antennas are printed to 0.1 mm. One antenna and the heading: 0.05 mm, and as much in
        // the tooth. The pair's heading: √2 · 0.05 mm on 2.1 m, at up to 11 m from the antennas.
        let heading = Some(rad(shot.heading_deg));
        for (left, right) in [(true, false), (false, true), (true, true)] {
            let tooth = solve(heading, left, right).tooth_site.expect("on the site");
            near3([tooth.x(), tooth.y(), tooth.z()], shot.tooth, 1.05e-4);
        }
        let by_pair = solve(None, true, true);
        let pair_deg = by_pair.heading_rad.expect("a heading").to_degrees();
        near(pair_deg, shot.heading_deg, 0.003);
        let tooth = by_pair.tooth_site.expect("on the site");
        near3([tooth.x(), tooth.y(), tooth.z()], shot.tooth, 5e-4);
        let pair = by_pair.pair.expect("two antennas");
        near(pair.length_difference_m, 0.0, 1.5e-4);
        near(pair.rise_difference_m, 0.0, 1.5e-4);
        assert_eq!(solve(heading, false, false).tooth_site, None);
        assert_eq!(solve(None, true, false).tooth_site, None);
    }
}

/// What the first check shot would show, mm east, north, up from the true tooth.
fn shown_minus_true(
    change: impl Fn(&mut ClaimedMachine),
    reading: impl Fn(&mut Readings<f64>),
) -> [f64; 3] {
    let choice = tool(true, false, "T75", "centre");
    let right = by_ear_sensor(|_| ());
    let wrong = by_ear_sensor(change);
    let lean = attitude_on_the_slope(60.0);
    let lever = lean.site_turn(rad(60.0)) * Direction::<House>::metres(-1.850, 1.050, 3.020);
    let stand: Point<Site> = Point::metres(5056.0, 2041.5, 24.174);
    let at_m = <[f64; 3]>::from((stand + lever).vector());
    let tooth = |machine: &Machine, readings: &Readings<f64>| {
        let model = ToothModel::new(machine, &choice).expect("tool");
        model
            .tooth(readings)
            .expect("tooth")
            .tooth_site
            .expect("on the site")
    };
    let readings = ToothModel::new(&right, &choice)
        .expect("tool")
        .readings_at(&joints(28.0, -110.0, 57.0), &lean)
        .expect("readings");
    let readings = with_antenna(readings, 60.0, at_m);
    let mut seen = readings.clone();
    reading(&mut seen);
    <[f64; 3]>::from((tooth(&wrong, &seen) - tooth(&right, &readings)).vector() * 1000.0)
}

/// The demo machine with a gravity sensor on the ear in place of the idler's, and a change.
fn by_ear_sensor(change: impl Fn(&mut ClaimedMachine)) -> Machine {
    let mut sheet = demo();
    sheet.sensors[2].link = Link::Ear;
    change(&mut sheet);
    Machine::measured_up(sheet).unwrap_or_else(|faults| panic!("{faults}"))
}

#[test]
fn faults_of_the_model_show_as_the_table_says() {
    let same = |_: &mut Readings<f64>| ();
    // A model whose angle is too large has an offset that is too small.
    let sensor = |idx: usize, by_deg: f64| {
        shown_minus_true(|sheet| sheet.sensors[idx].offset = deg(-by_deg), same)
    };
    near3(sensor(0, -0.35), [14.3, 8.8, -30.6], 0.06);
    near3(sensor(1, 0.50), [22.0, 12.6, 4.1], 0.06);
    near3(sensor(2, 0.60), [12.6, 7.5, -10.0], 0.06);
    let roll = |readings: &mut Readings<f64>| {
        readings.house_rad = readings.house_rad.map(|[p, r]| [p, r + rad(0.30)]);
    };
    near3(shown_minus_true(|_| (), roll), [-7.2, 12.7, -5.5], 0.06);
    let heading = |readings: &mut Readings<f64>| readings.heading_rad = Some(rad(60.5));
    near3(shown_minus_true(|_| (), heading), [20.2, -54.0, 0.0], 0.06);
    let up = |readings: &mut Readings<f64>| {
        readings.antennas_m[0] = readings.antennas_m[0].map(|[e, n, u]| [e, n, u + 0.050]);
    };
    near3(shown_minus_true(|_| (), up), [0.0, 0.0, 50.0], 0.06);
    let long_boom = |sheet: &mut ClaimedMachine| {
        sheet.boom.kind = ClaimedBoomKind::Mono { length: mm3(5.770) };
        sheet.cylinders.clear(); // the strokes are not in question here
    };
    near3(shown_minus_true(long_boom, same), [38.1, 21.6, 24.2], 0.06);
}

#[test]
fn the_envelope_of_the_trenching_bucket() {
    // A grid of 60 × 60 × 40 poses over the nominal strokes, as the printed figures were found.
    let machine = machine();
    let front = machine
        .front(&tool(true, false, "T75", "centre"))
        .expect("tool")
        .values();
    let step = |joint, k: i32, n: i32| {
        let [min, max] = machine.range(joint).expect("known").nominal_rad;
        min + (max - min) * f64::from(k) / f64::from(n - 1)
    };
    let (mut deepest, mut highest) = (f64::INFINITY, f64::NEG_INFINITY);
    for i in 0..60 {
        for j in 0..60 {
            for k in 0..40 {
                let q = Joints {
                    boom: step(Joint::Boom, i, 60),
                    stick: step(Joint::Stick, j, 60),
                    bucket: step(Joint::Bucket, k, 40),
                    ..Joints::zero()
                };
                let z = front_pose(&front, &q).tooth_house.z();
                deepest = f64::min(deepest, z);
                highest = f64::max(highest, z);
            }
        }
    }
    near(deepest, -6.85, 0.005);
    near(highest, 9.50, 0.005);
}

#[test]
fn a_bucket_point_by_hand() {
    // The right tooth of the worked example is half a width to the right, whatever the joints.
    let front = machine()
        .front(&tool(true, false, "T75", "right"))
        .expect("tool")
        .values();
    let pose = front_pose(&front, &joints(22.0, -88.0, 35.0));
    near(pose.tooth_house.y(), -0.045 - 0.375, 1e-12);
    let origin: Point<Bucket> = Point::origin();
    let pin = pose.house_from_bucket * origin;
    let c = pose.house_from_ear.origin();
    near((pin - c).length_m(), 0.020_f64.hypot(0.245), 1e-12);
}
