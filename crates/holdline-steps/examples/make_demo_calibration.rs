//! Makes the demo's calibration day, a tape-only day, and the check shots of a morning after a knock.
//!
//! Run from the project's root: `cargo run -p holdline-steps --example make_demo_calibration`.
//! It writes `demo/calibration-day.observations.csv`, `demo/tape-only.observations.csv` and
//! `demo/S1-knocked.shots.csv`, always the same bytes. `demo/README.md` tells what is in them.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::fs;

use holdline::frames::{Boom, House, Site};
use holdline::machine::Machine;
use holdline::machine::claim::Joint;
use holdline::machine::front::{Front, ToolChoice};
use holdline::machine::joints::Joints;
use holdline::machine::pose::{FrontPose, front_pose};
use holdline::machine::reach::reach_in_plane;
use holdline::tooth::attitude::Lean;
use holdline::tooth::model::ToothModel;
use holdline_geom::draws::Draws;
use holdline_geom::frame::{Point, Transform};
use holdline_steps::machine_view::load_machine;

/// The seed of all noise.
const SEED: u64 = 20_251_201;
/// What the sensors hide: boom, stick, idler, pitch, roll; degrees. The sheet says zero for all.
const HIDDEN_DEG: [f64; 5] = [0.030, -0.020, 0.080, 0.012, -0.007];
/// What the knock added to the idler sensor, degrees.
const KNOCK_DEG: f64 = 0.60;
/// Scatter of the mean of ten still seconds of a sensor, degrees.
const STILL_SD_DEG: f64 = 0.04;
/// Scatter of one antenna position, easting, northing, elevation, m.
const ANTENNA_SD_M: [f64; 3] = [0.004, 0.004, 0.006];
/// Scatter of the total station along each axis, to a tooth and to a target on a pin, m.
const TOOTH_SD_M: f64 = 0.003;
const PIN_SD_M: f64 = 0.002;
/// Scatter of a tape, a hand inclinometer, a plumb line and of a tooth set on a mark.
const TAPE_SD_M: f64 = 0.003;
const HAND_SD_DEG: f64 = 0.10;
const PLUMB_SD_M: f64 = 0.004;
const TOUCH_SD_M: f64 = 0.003;
/// Scatter of the house's turn, read off a mark on the ring, degrees.
const TURN_SD_DEG: f64 = 0.5;

/// Where the tracks stand: swing axis on the track ground, fall, degrees, and azimuth towards which it falls.
#[derive(Clone, Copy)]
struct Stand {
    name: &'static str,
    at_m: [f64; 3],
    fall_deg: f64,
    fall_to_deg: f64,
}

/// The stand of the check shots, nearly flat.
const S1: Stand = Stand {
    name: "S1",
    at_m: [5056.0, 2041.5, 24.174],
    fall_deg: 1.2,
    fall_to_deg: 200.0,
};
/// Up on the bank beside it, so that the house leans.
const S2: Stand = Stand {
    name: "S2",
    at_m: [5067.5, 2033.0, 24.611],
    fall_deg: 4.6,
    fall_to_deg: 112.0,
};
/// The hard standing of the workshop, for the tape-only day: nobody knows where it lies.
const YARD: Stand = Stand {
    name: "yard",
    at_m: [0.0, 0.0, 0.0],
    fall_deg: 0.8,
    fall_to_deg: 310.0,
};

/// A levelled instrument frame: where the station stood on the site, and which way its zero looks.
const FREE_AT_M: [f64; 3] = [5081.137, 2024.682, 26.013];
const FREE_TURN_DEG: f64 = 37.25;

/// Boom, then stick and ear in the boom plane above the house's x, and the heading; degrees.
type PoseDeg = [f64; 4];

/// Poses of the calibration day at S1: the bucket goes through its whole stroke, the stick against the boom.
const DAY_S1_DEG: [PoseDeg; 12] = [
    [35.0, -80.0, -10.0, 60.0],
    [35.0, -80.0, -95.0, 60.0],
    [12.0, -38.0, -62.0, 60.0],
    [50.0, -95.0, 15.0, 105.0],
    [30.0, -70.0, -40.0, 150.0],
    [30.0, -70.0, 25.0, 150.0],
    [8.0, -50.0, -75.0, 150.0],
    [42.0, -100.0, -70.0, 240.0],
    [28.0, -60.0, -20.0, 240.0],
    [14.0, -32.0, 60.0, 330.0],
    [14.0, -32.0, -65.0, 330.0],
    [45.0, -60.0, -100.0, 330.0],
];
/// Poses at S2, where the house leans.
const DAY_S2_DEG: [PoseDeg; 8] = [
    [30.0, -75.0, -30.0, 20.0],
    [30.0, -75.0, 30.0, 20.0],
    [10.0, -45.0, -70.0, 110.0],
    [40.0, -90.0, -60.0, 110.0],
    [25.0, -65.0, -95.0, 200.0],
    [25.0, -40.0, 20.0, 200.0],
    [22.0, -55.0, -35.0, 290.0],
    [45.0, -85.0, 5.0, 290.0],
];
/// Poses of the tape-only day.
const TAPE_DEG: [PoseDeg; 7] = [
    [35.0, -90.0, -20.0, 0.0],
    [10.0, -50.0, -70.0, 0.0],
    [48.0, -70.0, 10.0, 0.0],
    [20.0, -38.0, 40.0, 0.0],
    [25.0, -90.0, -95.0, 0.0],
    [14.0, -60.0, -85.0, 0.0],
    [40.0, -100.0, 25.0, 0.0],
];
/// Poses of the check shots, as on the measuring day.
const CHECK_DEG: [PoseDeg; 8] = [
    [28.0, -82.0, -25.0, 60.0],
    [28.0, -82.0, -95.0, 60.0],
    [24.0, -65.0, -25.0, 150.0],
    [24.0, -65.0, -95.0, 150.0],
    [42.0, -98.0, 0.0, 240.0],
    [42.0, -98.0, -60.0, 240.0],
    [8.0, -32.0, -68.0, 330.0],
    [8.0, -32.0, 85.0, 330.0],
];

/// Columns of an observation file, in order.
const COLUMNS: &str = "name,kind,pose,stand,setup,target,to,mark,arc,easting_m,northing_m,elevation_m,sd_easting_m,sd_northing_m,sd_elevation_m,length_m,sd_m,angle_deg,turn_deg,sd_deg,boom_deg,stick_deg,idler_deg,pitch_deg,roll_deg,antenna_easting_m,antenna_northing_m,antenna_elevation_m,antenna_2_easting_m,antenna_2_northing_m,antenna_2_elevation_m,by,when,instrument,note";

/// A row: column to text.
type Row = BTreeMap<&'static str, String>;

/// The machine as it truly stands.
struct Truth {
    joints: Joints,
    lean: Lean,
    site_from_house: Transform<Site, House>,
    pose: FrontPose,
}

/// The demo machine, its noise, and the rows so far.
struct Day {
    model: ToothModel,
    front: Front<f64>,
    draws: Draws,
    by: &'static str,
    date: &'static str,
    minute: u32,
    rows: Vec<Row>,
}

impl Day {
    fn new(model: &ToothModel, stream: u64, by: &'static str, date: &'static str) -> Day {
        Day {
            front: model.geometry().front.values(),
            model: model.clone(),
            draws: Draws::new(SEED, stream),
            by,
            date,
            minute: 7 * 60 + 40,
            rows: Vec::new(),
        }
    }

    fn noise(&mut self, sd: f64) -> f64 {
        sd * self.draws.normal()
    }

    fn truth(&self, stand: Stand, pose_deg: PoseDeg) -> Truth {
        let [boom, stick, ear, heading] = pose_deg.map(f64::to_radians);
        let joints = Joints {
            boom,
            stick: stick - boom,
            bucket: ear - stick,
            ..Joints::zero()
        };
        let lean = lean_on(stand, heading);
        let pose = front_pose(&self.front, &joints);
        let machine = self.model.machine();
        for joint in [Joint::Boom, Joint::Stick, Joint::Bucket] {
            let beyond = machine.beyond_range(joint, joints.get(joint));
            assert!(beyond.is_none(), "{pose_deg:?}: {beyond:?}");
        }
        assert!(0.02 < pose.tooth_house.z(), "{pose_deg:?}: in the ground");
        Truth {
            joints,
            lean,
            site_from_house: lean.site_turn(heading).after_shift(stand.at_m),
            pose,
        }
    }

    /// What the sensors read: boom, stick, idler, pitch, roll, degrees.
    fn angles_deg(&mut self, truth: &Truth) -> [f64; 5] {
        let exact = self
            .model
            .readings_at(&truth.joints, &truth.lean)
            .expect("every joint has a sensor");
        let sensor = |idx: usize| exact.sensors_rad[idx].expect("read").to_degrees();
        let house = exact.house_rad.expect("read").map(f64::to_degrees);
        let mut angles = [sensor(0), sensor(1), sensor(2), house[0], house[1]];
        for (angle, hidden) in angles.iter_mut().zip(HIDDEN_DEG) {
            *angle += hidden + self.noise(STILL_SD_DEG);
        }
        angles
    }

    fn antenna_m(&mut self, truth: &Truth, idx: usize) -> [f64; 3] {
        let [x, y, z] = self.model.geometry().levers_m[idx].map(|m| m.value);
        let at = (truth.site_from_house * Point::metres(x, y, z)).vector();
        [0, 1, 2].map(|axis| at[axis] + self.noise(ANTENNA_SD_M[axis]))
    }

    /// A pose's readings as a row that later rows of the pose begin with.
    fn read(&mut self, truth: &Truth, with_antennas: bool) -> Row {
        let mut row = Row::new();
        let columns = [
            "boom_deg",
            "stick_deg",
            "idler_deg",
            "pitch_deg",
            "roll_deg",
        ];
        for (column, angle) in columns.into_iter().zip(self.angles_deg(truth)) {
            row.insert(column, format!("{angle:.4}"));
        }
        if with_antennas {
            let columns = [
                [
                    "antenna_easting_m",
                    "antenna_northing_m",
                    "antenna_elevation_m",
                ],
                [
                    "antenna_2_easting_m",
                    "antenna_2_northing_m",
                    "antenna_2_elevation_m",
                ],
            ];
            for (idx, columns) in columns.into_iter().enumerate() {
                for (column, value) in columns.into_iter().zip(self.antenna_m(truth, idx)) {
                    row.insert(column, format!("{value:.4}"));
                }
            }
        }
        row
    }

    /// A row with who, when and with what.
    fn add(
        &mut self,
        mut row: Row,
        name: &str,
        kind: &str,
        instrument: &str,
        more: &[(&'static str, String)],
    ) {
        row.insert("name", name.to_owned());
        row.insert("kind", kind.to_owned());
        row.insert("by", self.by.to_owned());
        row.insert(
            "when",
            format!(
                "{}T{:02}:{:02}",
                self.date,
                self.minute / 60,
                self.minute % 60
            ),
        );
        row.insert("instrument", instrument.to_owned());
        for (column, value) in more {
            row.insert(column, value.clone());
        }
        let plain = row["name"].replace("tooth[", "").replace(']', "");
        row.insert("name", plain);
        self.rows.push(row);
    }

    fn shot(&mut self, at: &ShotAt<'_>, truth: &Truth, target: &str, sd_m: f64, instrument: &str) {
        let place = point(&self.front, &self.model, truth, target);
        let seen: [f64; 3] = (truth.site_from_house * place).vector().into();
        let in_setup = if at.setup == "site" {
            seen
        } else {
            free_from_site(seen)
        };
        let seen: Vec<String> = (0..3)
            .map(|axis| format!("{:.4}", in_setup[axis] + self.noise(sd_m)))
            .collect();
        let name = format!("{} {target}", at.pose);
        let sd = format!("{sd_m}");
        let more = [
            ("pose", at.pose.to_owned()),
            ("stand", at.stand.name.to_owned()),
            ("setup", at.setup.to_owned()),
            ("target", target.to_owned()),
            ("easting_m", seen[0].clone()),
            ("northing_m", seen[1].clone()),
            ("elevation_m", seen[2].clone()),
            ("sd_easting_m", sd.clone()),
            ("sd_northing_m", sd.clone()),
            ("sd_elevation_m", sd),
        ];
        self.add(at.readings.clone(), &name, "shot", instrument, &more);
    }

    fn tape(&mut self, from: &str, to: &str, sd_m: f64) {
        let truth = self.truth(YARD, TAPE_DEG[0]);
        let [a, b] = [from, to].map(|target| point(&self.front, &self.model, &truth, target));
        let length_m = (b - a).length_m() + self.noise(sd_m);
        let more = [
            ("target", from.to_owned()),
            ("to", to.to_owned()),
            ("length_m", format!("{length_m:.3}")),
            ("sd_m", format!("{sd_m}")),
        ];
        let name = format!("tape {} to {}", from, to);
        self.add(Row::new(), &name, "tape", "steel tape T-8", &more);
    }

    /// The line from one point to another, by hand inclinometer.
    fn slope(&mut self, at: &ShotAt<'_>, truth: &Truth, from: &str, to: &str) {
        let angle_deg =
            rise_deg(&self.front, &self.model, truth, from, to) + self.noise(HAND_SD_DEG);
        let more = [
            ("pose", at.pose.to_owned()),
            ("stand", at.stand.name.to_owned()),
            ("target", from.to_owned()),
            ("to", to.to_owned()),
            ("angle_deg", format!("{angle_deg:.1}")),
            ("sd_deg", format!("{HAND_SD_DEG}")),
        ];
        let name = format!("{} slope {from} to {to}", at.pose);
        self.add(
            at.readings.clone(),
            &name,
            "slope",
            "hand inclinometer H-2",
            &more,
        );
    }

    fn house_turns(&mut self, stand: Stand, headings_deg: &[f64], first_turn_deg: f64) {
        for (idx, heading_deg) in headings_deg.iter().enumerate() {
            let truth = self.truth(stand, [25.0, -60.0, -70.0, *heading_deg]);
            let [_, _, _, pitch, roll] = self.angles_deg(&truth);
            let turn_deg =
                (heading_deg - first_turn_deg).rem_euclid(360.0) + self.noise(TURN_SD_DEG);
            let more = [
                ("stand", stand.name.to_owned()),
                ("turn_deg", format!("{turn_deg:.1}")),
                ("sd_deg", format!("{TURN_SD_DEG}")),
                ("pitch_deg", format!("{pitch:.4}")),
                ("roll_deg", format!("{roll:.4}")),
            ];
            let name = format!("turn {} {}", stand.name, idx + 1);
            self.minute += 1;
            self.add(
                Row::new(),
                &name,
                "house-turn",
                "display and a mark on the ring",
                &more,
            );
        }
    }

    /// One antenna followed through a whole turn of the house, a minute's mean at every stop.
    fn swing_circle(&mut self, stand: Stand, antenna: &str, idx: usize) {
        for stop in 0..12_u32 {
            let truth = self.truth(stand, [25.0, -60.0, -70.0, f64::from(stop) * 30.0]);
            let at = self.antenna_m(&truth, idx);
            let more = [
                ("stand", stand.name.to_owned()),
                ("setup", "site".to_owned()),
                ("target", format!("antenna[{antenna}]")),
                ("easting_m", format!("{:.4}", at[0])),
                ("northing_m", format!("{:.4}", at[1])),
                ("elevation_m", format!("{:.4}", at[2])),
                ("sd_easting_m", format!("{}", ANTENNA_SD_M[0])),
                ("sd_northing_m", format!("{}", ANTENNA_SD_M[1])),
                ("sd_elevation_m", format!("{}", ANTENNA_SD_M[2])),
            ];
            let name = format!("circle {antenna} {}", stop + 1);
            self.minute += 1;
            self.add(
                Row::new(),
                &name,
                "swing-circle",
                "the machine's own antennas for a minute",
                &more,
            );
        }
    }

    /// A target stuck on the boom, followed while the boom alone goes through its stroke.
    fn boom_arc(&mut self, stand: Stand, heading_deg: f64) {
        for stop in 0..14_u32 {
            let boom_deg = 3.0 + 4.3 * f64::from(stop);
            let truth = self.truth(
                stand,
                [boom_deg, boom_deg - 37.0, boom_deg - 72.0, heading_deg],
            );
            let sticker: Point<Boom> = Point::metres(3.10, -0.31, 0.62);
            let at = (truth.site_from_house * truth.pose.house_from_boom * sticker).vector();
            let at = [0, 1, 2].map(|axis| at[axis] + self.noise(PIN_SD_M));
            let more = [
                ("stand", stand.name.to_owned()),
                ("setup", "site".to_owned()),
                ("target", "pin A".to_owned()),
                ("arc", "sticker on the boom".to_owned()),
                ("easting_m", format!("{:.4}", at[0])),
                ("northing_m", format!("{:.4}", at[1])),
                ("elevation_m", format!("{:.4}", at[2])),
                ("sd_easting_m", format!("{PIN_SD_M}")),
                ("sd_northing_m", format!("{PIN_SD_M}")),
                ("sd_elevation_m", format!("{PIN_SD_M}")),
            ];
            let name = format!("arc A {}", stop + 1);
            self.add(
                Row::new(),
                &name,
                "pin-arc",
                "total station TS-1 to a sticker",
                &more,
            );
        }
    }

    /// The centre tooth on one nail in several attitudes, no swing.
    fn hold_test(&mut self, stand: Stand, mark: &str, at_m: [f64; 2], ears_deg: &[f64]) {
        let heading_deg = 60.0;
        let side_m = self.truth(stand, DAY_S1_DEG[0]).pose.tooth_house.y();
        for (idx, ear_deg) in ears_deg.iter().enumerate() {
            let target: Point<House> = Point::metres(at_m[0], side_m, at_m[1]);
            let machine = self.model.machine().clone();
            let ear_rad = ear_deg.to_radians();
            let reached = reach_in_plane(&machine, &self.front, target, ear_rad, &Joints::zero())
                .unwrap_or_else(|faults| panic!("{faults:?}"));
            let q = reached.joints;
            let (boom, stick, ear) = (q.boom, q.boom + q.stick, q.boom + q.stick + q.bucket);
            // A tooth that misses the nail a little is an angle that is a little off.
            let off = [0.5, 0.3, 0.5].map(|share| self.noise(share * TOUCH_SD_M / 6.0));
            let pose_deg = [
                (boom + off[0]).to_degrees(),
                (stick + off[1]).to_degrees(),
                (ear + off[2]).to_degrees(),
                heading_deg,
            ];
            let truth = self.truth(stand, pose_deg);
            let readings = self.read(&truth, stand.name != "yard");
            let pose = format!("{mark}-{}", idx + 1);
            let more = [
                ("pose", pose.clone()),
                ("stand", stand.name.to_owned()),
                ("target", "tooth[centre]".to_owned()),
                ("mark", mark.to_owned()),
                ("sd_m", format!("{TOUCH_SD_M}")),
            ];
            self.minute += 2;
            self.add(readings, &pose, "touch", "by eye on a nail", &more);
        }
    }

    fn text(&self, opening: &str) -> String {
        let mut text = String::from(opening);
        text.push_str("machine,demo-23\ncoupler,QC-demo\nbucket,T75\n\n");
        text.push_str(COLUMNS);
        text.push('\n');
        for row in &self.rows {
            let cells: Vec<&str> = COLUMNS
                .split(',')
                .map(|column| row.get(column).map_or("", String::as_str))
                .collect();
            let _ = writeln!(text, "{}", cells.join(","));
        }
        text
    }
}

/// Where a shot belongs.
struct ShotAt<'a> {
    pose: &'a str,
    stand: Stand,
    setup: &'a str,
    readings: &'a Row,
}

/// Pitch and roll on tracks whose plane falls: tan θ = −tan(fall) cos(ψ − to), φ from y = n × x.
fn lean_on(stand: Stand, heading: f64) -> Lean {
    let (fall, to) = (stand.fall_deg.to_radians(), stand.fall_to_deg.to_radians());
    let pitch = (-fall.tan() * (heading - to).cos()).atan();
    let n = [fall.sin() * to.sin(), fall.sin() * to.cos()];
    let x = [pitch.cos() * heading.sin(), pitch.cos() * heading.cos()];
    let y_up = n[0] * x[1] - n[1] * x[0];
    Lean {
        pitch,
        roll: (y_up / pitch.cos()).asin(),
    }
}

/// From the site into the free station's frame.
fn free_from_site(at_m: [f64; 3]) -> [f64; 3] {
    let [x, y, z] = [0, 1, 2].map(|axis| at_m[axis] - FREE_AT_M[axis]);
    let (sin, cos) = FREE_TURN_DEG.to_radians().sin_cos();
    [cos * x - sin * y, sin * x + cos * y, z]
}

/// A point of the machine in `House`.
fn point(front: &Front<f64>, model: &ToothModel, truth: &Truth, target: &str) -> Point<House> {
    let pose = &truth.pose;
    let linkage = model
        .machine()
        .linkage_pose(truth.joints.bucket)
        .expect("closes");
    let in_stick = |at: [f64; 2]| pose.house_from_stick * Point::metres(at[0], 0.0, at[1]);
    match target {
        "pin A" => pose.house_from_boom.origin(),
        "pin B" => pose.house_from_stick.origin(),
        "pin C" => pose.house_from_ear.origin(),
        "pin D" => pose.house_from_ear * Point::metres(front.linkage.ear_m, 0.0, 0.0),
        "pin E" => in_stick(linkage.e_m),
        "pin F" => in_stick(front.linkage.pivot_m),
        _ => {
            let name = target.trim_start_matches("tooth[").trim_end_matches(']');
            let bucket = model.machine().bucket("T75").expect("on the sheet");
            let tooth = bucket
                .teeth
                .iter()
                .find(|t| t.name == name)
                .expect("a tooth");
            let at = [&tooth.at.x, &tooth.at.y, &tooth.at.z].map(|m| m.value);
            pose.house_from_bucket * Point::metres(at[0], at[1], at[2])
        }
    }
}

/// How steeply a line rises in the boom plane, degrees.
fn rise_deg(front: &Front<f64>, model: &ToothModel, truth: &Truth, from: &str, to: &str) -> f64 {
    let [a, b] = [from, to].map(|target| point(front, model, truth, target));
    let d = (b - a).vector();
    let plane = truth.lean.in_boom_plane(0.0);
    (d.z.atan2(d.x) + plane.apparent_pitch).to_degrees()
}

fn calibration_day(model: &ToothModel) -> String {
    let mut day = Day::new(model, 1, "A. Example", "2025-12-01");
    day.house_turns(
        S1,
        &[60.0, 105.0, 150.0, 195.0, 240.0, 285.0, 330.0, 15.0, 60.0],
        60.0,
    );
    for (antenna, idx) in [("GL", 0), ("GR", 1)] {
        day.swing_circle(S1, antenna, idx);
    }
    day.boom_arc(S1, 60.0);
    let total_station = "total station TS-1";
    let poses = DAY_S1_DEG.iter().map(|pose| (S1, "site", *pose));
    let poses = poses.chain(DAY_S2_DEG.iter().map(|pose| (S2, "TS-free", *pose)));
    for (idx, (stand, setup, pose_deg)) in poses.enumerate() {
        day.minute += 4;
        let pose = format!("P{}", idx + 1);
        let truth = day.truth(stand, pose_deg);
        let readings = day.read(&truth, true);
        let at = ShotAt {
            pose: &pose,
            stand,
            setup,
            readings: &readings,
        };
        day.shot(&at, &truth, "tooth[centre]", TOOTH_SD_M, total_station);
        if idx % 2 == 0 {
            day.shot(&at, &truth, "tooth[left]", TOOTH_SD_M, total_station);
            day.shot(&at, &truth, "tooth[right]", TOOTH_SD_M, total_station);
        }
        if idx % 3 == 0 {
            for pin in ["pin B", "pin C", "pin D"] {
                day.shot(&at, &truth, pin, PIN_SD_M, total_station);
            }
        }
    }
    day.hold_test(S1, "nail 1", [6.2, 0.05], &[-60.0, -25.0, -75.0, 5.0]);
    for (from, to) in [
        ("pin A", "pin B"),
        ("pin B", "pin C"),
        ("pin B", "pin F"),
        ("pin F", "pin E"),
        ("pin E", "pin D"),
        ("pin C", "pin D"),
        ("pin C", "tooth[centre]"),
        ("tooth[left]", "tooth[right]"),
    ] {
        day.tape(from, to, TAPE_SD_M);
    }
    // The slip of the day: the tape said 5.72, the book says 5.27.
    let slip = day
        .rows
        .iter_mut()
        .find(|row| row["name"] == "tape pin A to pin B")
        .expect("taped");
    slip.insert("length_m", "5.270".to_owned());
    day.text(
        "# A calibration day of the demo machine: bucket T75 on coupler QC-demo. Everything in it is invented.\n\
         # Made by crates/holdline-steps/examples/make_demo_calibration.rs; demo/README.md tells what is in the numbers.\n",
    )
}

fn tape_only(model: &ToothModel) -> String {
    let mut day = Day::new(model, 2, "B. Example", "2025-11-28");
    day.house_turns(YARD, &[0.0, 90.0, 180.0, 270.0, 0.0], 0.0);
    for (from, to) in [
        ("pin A", "pin B"),
        ("pin B", "pin C"),
        ("pin B", "pin F"),
        ("pin C", "pin F"),
        ("pin F", "pin E"),
        ("pin E", "pin D"),
        ("pin C", "pin D"),
        ("pin C", "tooth[centre]"),
        ("pin D", "tooth[centre]"),
    ] {
        day.minute += 5;
        day.tape(from, to, TAPE_SD_M);
    }
    for (idx, pose_deg) in TAPE_DEG.iter().enumerate() {
        day.minute += 6;
        let pose = format!("T{}", idx + 1);
        let truth = day.truth(YARD, *pose_deg);
        let readings = day.read(&truth, false);
        let at = ShotAt {
            pose: &pose,
            stand: YARD,
            setup: "",
            readings: &readings,
        };
        for (from, to) in [("pin A", "pin B"), ("pin B", "pin C"), ("pin C", "pin D")] {
            // In two poses the stick hangs plumb, and a plumb line tells that better than a hand instrument.
            if to == "pin C" && pose_deg[1] == -90.0 {
                continue;
            }
            day.slope(&at, &truth, from, to);
        }
        day.slope(&at, &truth, "pin C", "tooth[centre]");
        if pose_deg[1] == -90.0 {
            plumb(&mut day, &at, pose_deg);
        }
    }
    day.hold_test(YARD, "nail 2", [5.6, 0.04], &[-60.0, -15.0, -75.0]);
    day.text(
        "# The demo machine calibrated without a total station: tape, plumb line, hand inclinometer, a nail. Everything in it is invented.\n\
         # Made by crates/holdline-steps/examples/make_demo_calibration.rs; demo/README.md tells what is in the numbers.\n",
    )
}

/// The stick set plumb by a line from pin B past pin C: it truly stands as well as the line shows,
/// and its sensors say where.
fn plumb(day: &mut Day, at: &ShotAt<'_>, pose_deg: &PoseDeg) {
    const LENGTH_M: f64 = 2.94;
    let plain = day.truth(at.stand, *pose_deg);
    let apparent_deg = plain.lean.in_boom_plane(0.0).apparent_pitch.to_degrees();
    let off_deg = (day.noise(PLUMB_SD_M) / LENGTH_M).to_degrees();
    let turned = -apparent_deg + off_deg;
    let pose = format!("{}-plumb", at.pose);
    let truth = day.truth(
        at.stand,
        [
            pose_deg[0],
            pose_deg[1] + turned,
            pose_deg[2] + turned,
            pose_deg[3],
        ],
    );
    let readings = day.read(&truth, false);
    let more = [
        ("pose", pose.clone()),
        ("stand", at.stand.name.to_owned()),
        ("target", "pin B".to_owned()),
        ("to", "pin C".to_owned()),
        ("length_m", format!("{LENGTH_M}")),
        ("sd_m", format!("{PLUMB_SD_M}")),
    ];
    day.add(
        readings,
        &format!("{pose} stick"),
        "plumb",
        "plumb line",
        &more,
    );
}

fn knocked(model: &ToothModel) -> String {
    let mut day = Day::new(model, 3, "A. Example", "2025-12-04");
    let mut text = String::from(
        "# Check shots at stand S1 on the morning after the bucket sensor was knocked: T75 on QC-demo, centre tooth. Everything in it is invented.\n\
         # Made by crates/holdline-steps/examples/make_demo_calibration.rs; demo/README.md tells what is in the numbers.\n\
         shot,tooth,surveyed_easting_m,surveyed_northing_m,surveyed_elevation_m,surveyed_sd_easting_m,surveyed_sd_northing_m,surveyed_sd_elevation_m,boom_deg,stick_deg,idler_deg,pitch_deg,roll_deg,antenna_easting_m,antenna_northing_m,antenna_elevation_m,antenna_2_easting_m,antenna_2_northing_m,antenna_2_elevation_m,by,when,instrument\n",
    );
    for (idx, pose_deg) in CHECK_DEG.iter().enumerate() {
        let truth = day.truth(S1, *pose_deg);
        let tooth = (truth.site_from_house * truth.pose.tooth_house).vector();
        let seen = [0, 1, 2].map(|axis| tooth[axis] + day.noise(TOOTH_SD_M));
        let mut angles = day.angles_deg(&truth);
        angles[2] += KNOCK_DEG;
        let antennas = [0, 1].map(|idx| day.antenna_m(&truth, idx));
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
            ",A. Example,2025-12-04T07:{minute:02},total station to a prism on the tooth"
        );
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
    println!("seed {SEED}");
    for (path, text) in [
        (
            "demo/calibration-day.observations.csv",
            calibration_day(&model),
        ),
        ("demo/tape-only.observations.csv", tape_only(&model)),
        ("demo/S1-knocked.shots.csv", knocked(&model)),
    ] {
        fs::write(path, &text).expect("the folder demo can be written");
        println!("{path}: {} bytes", text.len());
    }
}
