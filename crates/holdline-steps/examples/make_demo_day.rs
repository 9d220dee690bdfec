//! Makes the demo's measuring day: check shots and a stream of readings, as a real day would give them.
//!
//! Run from the project's root: `cargo run -p holdline-steps --example make_demo_day`.
//! It writes `demo/S1-day.shots.csv` and `demo/S1-day.readings.csv`, always the same bytes.
//! `demo/README.md` tells what is in them.

use std::f64::consts::TAU;
use std::fmt::Write as _;
use std::fs;

use holdline::frames::{House, Site};
use holdline::machine::Machine;
use holdline::machine::front::ToolChoice;
use holdline::machine::joints::Joints;
use holdline::tooth::attitude::Lean;
use holdline::tooth::model::ToothModel;
use holdline_geom::frame::{Point, Transform};
use holdline_steps::machine_view::load_machine;

/// The seed of all noise.
const SEED: u64 = 20_251_202;
/// What the calibration left of the hidden offsets: a tenth. Boom, stick, idler, pitch, roll; degrees.
const LEFT_DEG: [f64; 5] = [0.030, -0.020, 0.080, 0.012, -0.007];
/// Scatter of the mean of ten still seconds of a sensor, degrees; of one epoch it is twice that.
const STILL_SD_DEG: f64 = 0.02;
/// Scatter of one antenna position, plan and height, m.
const ANTENNA_SD_M: [f64; 3] = [0.004, 0.004, 0.006];
/// Scatter of the survey along each axis, m.
const SURVEY_SD_M: f64 = 0.003;
/// Where the swing axis meets the track ground.
const STAND_M: [f64; 3] = [5056.0, 2041.5, 24.174];
/// The tracks' plane falls this much towards this azimuth, degrees.
const FALL_DEG: f64 = 1.2;
const FALL_TO_DEG: f64 = 200.0;
/// Boom, then stick and ear in the boom plane above the house's x, and the heading; degrees.
const POSES_DEG: [[f64; 4]; 8] = [
    [28.0, -82.0, -25.0, 60.0],
    [28.0, -82.0, -95.0, 60.0],
    [24.0, -65.0, -25.0, 150.0],
    [24.0, -65.0, -95.0, 150.0],
    [42.0, -98.0, 0.0, 240.0],
    [42.0, -98.0, -60.0, 240.0],
    [8.0, -32.0, -68.0, 330.0],
    [8.0, -32.0, 85.0, 330.0],
];

/// Random numbers: SplitMix64 (Steele, Lea, Flood 2014, from memory) and Box and Muller's normal pairs.
struct Noise {
    state: u64,
}

impl Noise {
    fn uniform(&mut self) -> f64 {
        self.state = self.state.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.state;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^= z >> 31;
        ((z >> 11) as f64 + 0.5) / (1_u64 << 53) as f64
    }

    fn normal(&mut self, sd: f64) -> f64 {
        let (a, b) = (self.uniform(), self.uniform());
        sd * (-2.0 * a.ln()).sqrt() * (TAU * b).cos()
    }
}

/// The machine as it truly stands: on tracks whose plane falls.
struct Truth {
    joints: Joints,
    lean: Lean,
    site_from_house: Transform<Site, House>,
}

fn truth(pose_deg: [f64; 4]) -> Truth {
    let [boom, stick, ear, heading] = pose_deg.map(f64::to_radians);
    let joints = Joints {
        boom,
        stick: stick - boom,
        bucket: ear - stick,
        ..Joints::zero()
    };
    let (fall, to) = (FALL_DEG.to_radians(), FALL_TO_DEG.to_radians());
    // Upward normal of the tracks' plane n; the house's x lies in it: tan θ = −tan(fall) cos(ψ − to), φ from y = n × x.
    let pitch = (-fall.tan() * (heading - to).cos()).atan();
    let n = [fall.sin() * to.sin(), fall.sin() * to.cos(), fall.cos()];
    let x = [
        pitch.cos() * heading.sin(),
        pitch.cos() * heading.cos(),
        pitch.sin(),
    ];
    let y_up = n[0] * x[1] - n[1] * x[0];
    let roll = (y_up / pitch.cos()).asin();
    let lean = Lean { pitch, roll };
    Truth {
        joints,
        lean,
        site_from_house: lean.site_turn(heading).after_shift(STAND_M),
    }
}

/// One instant as the machine reads it: boom, stick, idler, pitch, roll in degrees; two antennas in metres.
fn read(
    model: &ToothModel,
    truth: &Truth,
    sensor_sd_deg: f64,
    noise: &mut Noise,
) -> ([f64; 5], [[f64; 3]; 2]) {
    let exact = model
        .readings_at(&truth.joints, &truth.lean)
        .expect("every joint has a sensor");
    let sensor = |idx: usize| exact.sensors_rad[idx].expect("read").to_degrees();
    let house = exact.house_rad.expect("read").map(f64::to_degrees);
    let mut angles = [sensor(0), sensor(1), sensor(2), house[0], house[1]];
    for (angle, left) in angles.iter_mut().zip(LEFT_DEG) {
        *angle += left + noise.normal(sensor_sd_deg);
    }
    let levers = &model.geometry().levers_m;
    let antennas = [0, 1].map(|idx: usize| {
        let [x, y, z] = levers[idx].map(|m| m.value);
        let at = (truth.site_from_house * Point::metres(x, y, z)).vector();
        [0, 1, 2].map(|axis| at[axis] + noise.normal(ANTENNA_SD_M[axis]))
    });
    (angles, antennas)
}

fn shots(model: &ToothModel, noise: &mut Noise) -> String {
    let mut text = String::from(
        "# Check shots of the demo's measuring day at stand S1: bucket T75 on coupler QC-demo, centre tooth. Everything in it is invented.\n\
         # Made by crates/holdline-steps/examples/make_demo_day.rs; demo/README.md tells what is in the numbers.\n\
         shot,tooth,surveyed_easting_m,surveyed_northing_m,surveyed_elevation_m,surveyed_sd_easting_m,surveyed_sd_northing_m,surveyed_sd_elevation_m,boom_deg,stick_deg,idler_deg,pitch_deg,roll_deg,antenna_easting_m,antenna_northing_m,antenna_elevation_m,antenna_2_easting_m,antenna_2_northing_m,antenna_2_elevation_m,by,when,instrument\n",
    );
    for (idx, pose) in POSES_DEG.iter().enumerate() {
        let truth = truth(*pose);
        let house =
            holdline::machine::pose::front_pose(&model.geometry().front.values(), &truth.joints)
                .tooth_house;
        let tooth = (truth.site_from_house * house).vector();
        let seen = [0, 1, 2].map(|axis| tooth[axis] + noise.normal(SURVEY_SD_M));
        let (angles, antennas) = read(model, &truth, STILL_SD_DEG, noise);
        let _ = write!(text, "{},centre", idx + 1);
        for value in seen {
            let _ = write!(text, ",{value:.4}");
        }
        text.push_str(",0.003,0.003,0.003");
        for value in angles.iter().chain(antennas.iter().flatten()) {
            let _ = write!(text, ",{value:.4}");
        }
        let minute = 10 + 5 * idx;
        let _ = writeln!(
            text,
            ",A. Example,2025-12-02T08:{minute:02},total station to a prism on the tooth"
        );
    }
    text
}

/// A minute of digging at ten epochs a second, with one row that a log could hold and nobody can use.
fn readings(model: &ToothModel, noise: &mut Noise) -> String {
    let mut text = String::from(
        "# A minute of readings at stand S1, ten a second. Everything in it is invented.\n\
         # Made by crates/holdline-steps/examples/make_demo_day.rs; one row is broken on purpose.\n\
         time_s,boom_deg,stick_deg,idler_deg,pitch_deg,roll_deg,easting_m,northing_m,elevation_m,easting_2_m,northing_2_m,elevation_2_m\n",
    );
    for epoch in 0..600_u32 {
        let t_s = f64::from(epoch) / 10.0;
        let turn = |period_s: f64| (TAU * t_s / period_s).sin();
        let boom = 20.0 + 9.0 * turn(15.0);
        let stick = boom - 95.0 + 18.0 * turn(15.0 / 2.0);
        let ear = stick + 55.0 + 35.0 * turn(10.0);
        let truth = truth([boom, stick, ear, 60.0]);
        let (angles, antennas) = read(model, &truth, 2.0 * STILL_SD_DEG, noise);
        let _ = write!(text, "{t_s:.1}");
        for (idx, value) in angles.iter().chain(antennas.iter().flatten()).enumerate() {
            if epoch == 247 && idx == 1 {
                text.push_str(",---");
            } else {
                let _ = write!(text, ",{value:.4}");
            }
        }
        text.push('\n');
    }
    text
}

fn main() {
    let sheet = fs::read("demo/demo-23.machine.toml").expect("run from the project's root");
    let machine: Machine =
        load_machine("demo-23.machine.toml", &sheet).unwrap_or_else(|f| panic!("{f}"));
    let choice = ToolChoice {
        coupler: Some("QC-demo".into()),
        tilt: None,
        bucket: "T75".into(),
        tooth: "centre".into(),
    };
    let model = ToothModel::new(&machine, &choice).expect("the demo's own tool");
    let mut noise = Noise { state: SEED };
    println!("seed {SEED}");
    for (path, text) in [
        ("demo/S1-day.shots.csv", shots(&model, &mut noise)),
        ("demo/S1-day.readings.csv", readings(&model, &mut noise)),
    ] {
        fs::write(path, &text).expect("the folder demo can be written");
        println!("{path}: {} bytes", text.len());
    }
}
