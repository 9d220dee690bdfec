//! Machines for the tests: the demo machine, and one of every kind of boom and tool. All invented.
#![allow(dead_code)] // every test file uses its own part of this

pub mod budgets;
pub mod day;
pub mod own_chain;
pub mod random;

use holdline::machine::Machine;
use holdline::machine::claim::*;
use holdline::machine::front::ToolChoice;
use holdline::machine::jacobian::joints_fitted;
use holdline::machine::joints::Joints;
use holdline_geom::measured::Measured;
use random::Random;

/// A value with a standard uncertainty of 3 mm.
pub fn mm3(value: f64) -> Measured {
    Measured::with_sd(value, 0.003)
}

/// An angle in degrees with a standard uncertainty of 0.05°.
pub fn deg(value_deg: f64) -> Measured {
    Measured::with_sd(value_deg.to_radians(), 0.05_f64.to_radians())
}

pub fn plane(x: f64, z: f64) -> PlanePoint {
    PlanePoint {
        x: mm3(x),
        z: mm3(z),
    }
}

pub fn space(x: f64, y: f64, z: f64) -> SpacePoint {
    SpacePoint {
        x: mm3(x),
        y: mm3(y),
        z: mm3(z),
    }
}

fn on(link: Link, x: f64, z: f64) -> CylinderPin {
    CylinderPin::On {
        link,
        at: plane(x, z),
    }
}

fn cylinder(moves: Joint, base: CylinderPin, rod: CylinderPin, ends: [f64; 2]) -> ClaimedCylinder {
    ClaimedCylinder {
        moves,
        base,
        rod,
        side: None,
        retracted: Measured::without_sd(ends[0]),
        extended: Measured::without_sd(ends[1]),
        stroke_tolerance_m: 0.005,
        count: 1,
        bore_m: None,
        rod_diameter_m: None,
        mass_each_kg: None,
    }
}

pub fn range(joint: Joint, min_deg: f64, max_deg: f64) -> ClaimedRange {
    ClaimedRange {
        joint,
        min_rad: min_deg.to_radians(),
        max_rad: max_deg.to_radians(),
        tolerance_rad: 1_f64.to_radians(),
    }
}

fn bucket(
    id: &str,
    width_m: f64,
    tip: [f64; 2],
    heel: [f64; 2],
    outline_m: &[[f64; 2]],
) -> ClaimedBucket {
    let tooth = |name: &str, y: f64| ClaimedTooth {
        name: name.to_owned(),
        at: space(tip[0], y, tip[1]),
    };
    ClaimedBucket {
        id: id.to_owned(),
        note: String::new(),
        width: mm3(width_m),
        pin_spacing: mm3(0.440),
        teeth: vec![
            tooth("left", width_m / 2.0),
            tooth("centre", 0.0),
            tooth("right", -width_m / 2.0),
        ],
        edge_m: Vec::new(),
        heel: plane(heel[0], heel[1]),
        outline_m: outline_m.to_vec(),
        mass: None,
        centre_m: None,
        eye: None,
        inner_width_m: None,
        side_profile_inner_m: Vec::new(),
        load_centre_m: None,
    }
}

pub fn sensor(id: &str, link: Link, kind: SensorKind) -> ClaimedSensor {
    let house = kind.is_house();
    ClaimedSensor {
        id: id.to_owned(),
        link,
        kind,
        offset: deg(0.0),
        roll_offset: house.then(|| deg(0.0)),
        mount_rad: 0.0,
        sign: 1.0,
        sd_rad: Some(0.04_f64.to_radians()),
        latency_s: None,
    }
}

/// The demo machine of about 23 t, mono boom, with its coupler and both buckets.
pub fn demo() -> ClaimedMachine {
    ClaimedMachine {
        id: "demo-23".to_owned(),
        note: String::new(),
        measured: MeasuredBy::default(),
        mass_kg: Some(Measured::without_sd(23_100.0)),
        house: ClaimedHouse {
            tail_radius: mm3(2.850),
            tail_half_angle_rad: 27.14_f64.to_radians(),
            eye: None,
        },
        tracks: ClaimedTracks {
            length: mm3(4.40),
            gauge: mm3(2.39),
            shoe_width: mm3(0.600),
            height: mm3(0.92),
        },
        swing_post: None,
        boom: ClaimedBoom {
            foot: Some(space(0.150, -0.045, 1.850)),
            kind: ClaimedBoomKind::Mono { length: mm3(5.720) },
        },
        stick: ClaimedStick { length: mm3(2.940) },
        linkage: ClaimedLinkage {
            idler_pivot: plane(2.500, 0.030),
            idler: mm3(0.600),
            link: mm3(0.580),
            ear: mm3(0.440),
            branch: LinkageBranch::Right,
        },
        cylinders: vec![
            cylinder(
                Joint::Boom,
                on(Link::House, 0.720, 1.280),
                on(Link::Boom, 2.450, 0.350),
                [1.680, 2.905],
            ),
            cylinder(
                Joint::Stick,
                on(Link::Boom, 3.450, 0.900),
                on(Link::Stick, -0.700, 0.380),
                [1.930, 3.200],
            ),
            cylinder(
                Joint::Bucket,
                on(Link::Stick, 0.720, 0.500),
                CylinderPin::LinkageE,
                [1.395, 2.350],
            ),
        ],
        ranges: Vec::new(),
        couplers: vec![ClaimedCoupler {
            id: "QC-demo".to_owned(),
            front_pin: plane(0.020, -0.245),
            rotation: deg(-6.0),
            body: ClaimedBody::default(),
        }],
        tilts: Vec::new(),
        buckets: vec![
            bucket(
                "T75",
                0.750,
                [-0.178, -1.449],
                [0.620, -0.950],
                &[
                    [-0.178, -1.449],
                    [0.620, -0.950],
                    [0.760, -0.450],
                    [0.440, 0.100],
                    [-0.090, 0.060],
                    [-0.310, -0.740],
                ],
            ),
            bucket(
                "G180",
                1.800,
                [-0.120, -1.174],
                [0.580, -0.620],
                &[
                    [-0.120, -1.174],
                    [0.580, -0.620],
                    [0.640, -0.260],
                    [0.440, 0.100],
                    [-0.090, 0.060],
                    [-0.240, -0.560],
                ],
            ),
        ],
        solids: Vec::new(),
        masses: Vec::new(),
        sensors: vec![
            sensor("S-boom", Link::Boom, SensorKind::TwoAxis),
            sensor("S-stick", Link::Stick, SensorKind::TwoAxis),
            sensor("S-idler", Link::Idler, SensorKind::TwoAxis),
            sensor("S-house", Link::House, SensorKind::HouseEuler),
        ],
        antennas: vec![
            ClaimedAntenna {
                id: "GL".to_owned(),
                lever: space(-1.850, 1.050, 3.020),
            },
            ClaimedAntenna {
                id: "GR".to_owned(),
                lever: space(-1.850, -1.050, 3.020),
            },
        ],
        heading_offset: None,
        cameras: Vec::new(),
    }
}

/// The demo machine with a two-piece boom and its positioning cylinder.
pub fn two_piece() -> ClaimedMachine {
    let mut sheet = demo();
    sheet.boom.kind = ClaimedBoomKind::TwoPiece {
        lower: mm3(2.600),
        upper: mm3(3.300),
    };
    sheet.cylinders[0].rod = on(Link::Boom, 2.300, 0.350);
    sheet.cylinders[1].base = on(Link::BoomUpper, 1.000, 0.900);
    sheet.cylinders.insert(
        1,
        cylinder(
            Joint::BoomUpper,
            on(Link::Boom, 1.500, 0.700),
            on(Link::BoomUpper, 0.600, 0.550),
            [1.660, 2.080],
        ),
    );
    sheet
}

/// The demo machine with an offset boom.
pub fn offset() -> ClaimedMachine {
    let mut sheet = demo();
    sheet.boom.kind = ClaimedBoomKind::Offset {
        lower: mm3(2.200),
        link: mm3(0.600),
        upper: mm3(2.900),
    };
    sheet.cylinders[0].rod = on(Link::Boom, 2.150, 0.350);
    sheet.cylinders[0].retracted = Measured::without_sd(1.500);
    sheet.cylinders[0].extended = Measured::without_sd(2.600);
    sheet.cylinders[1].base = on(Link::BoomUpper, 0.650, 0.900);
    sheet.ranges.push(range(Joint::Offset, -40.0, 40.0));
    sheet
}

/// The demo machine with its boom on a swing post.
pub fn post() -> ClaimedMachine {
    let mut sheet = demo();
    on_post(&mut sheet);
    sheet
}

/// An offset boom on a swing post: both sideways motions at once.
pub fn offset_on_post() -> ClaimedMachine {
    let mut sheet = offset();
    on_post(&mut sheet);
    sheet
}

fn on_post(sheet: &mut ClaimedMachine) {
    sheet.swing_post = Some(ClaimedSwingPost {
        at: space(1.900, 0.050, 1.000),
        foot: space(0.300, -0.020, 0.850),
    });
    sheet.boom.foot = None;
    sheet.cylinders[0].base = on(Link::Post, 0.870, 0.280);
    sheet.ranges.push(range(Joint::Post, -50.0, 80.0));
}

/// Hangs a tilting device, and with `rotation` a tiltrotator, among the tools of a machine.
pub fn with_tilt(mut sheet: ClaimedMachine, rotation: bool) -> ClaimedMachine {
    sheet.tilts.push(ClaimedTilt {
        id: "T".to_owned(),
        axis_at: space(0.180, 0.004, -0.220),
        axis_angle: deg(-5.0),
        rotation: rotation.then(|| ClaimedRotation {
            axis_at: space(0.020, 0.005, -0.300),
            axis_angle: deg(-88.0),
        }),
        front_pin: space(-0.150, 0.010, -0.250),
        bucket_rotation: deg(3.0),
        body: ClaimedBody::default(),
    });
    sheet.ranges.push(range(Joint::Tilt, -42.0, 42.0));
    sheet
}

/// A machine with its tool.
#[derive(Debug, Clone)]
pub struct Rig {
    pub name: &'static str,
    pub sheet: ClaimedMachine,
    pub choice: ToolChoice,
}

impl Rig {
    #[track_caller]
    pub fn machine(&self) -> Machine {
        match Machine::measured_up(self.sheet.clone()) {
            Ok(machine) => machine,
            Err(faults) => panic!("{}: {faults}", self.name),
        }
    }
}

pub fn tool(coupler: bool, tilt: bool, bucket: &str, tooth: &str) -> ToolChoice {
    ToolChoice {
        coupler: coupler.then(|| "QC-demo".to_owned()),
        tilt: tilt.then(|| "T".to_owned()),
        bucket: bucket.to_owned(),
        tooth: tooth.to_owned(),
    }
}

/// Every kind of boom and tool.
pub fn rigs() -> Vec<Rig> {
    let rig = |name, sheet, choice| Rig {
        name,
        sheet,
        choice,
    };
    vec![
        rig("mono, pin-on", demo(), tool(false, false, "T75", "left")),
        rig("mono, coupler", demo(), tool(true, false, "T75", "centre")),
        rig("two-piece", two_piece(), tool(true, false, "G180", "right")),
        rig("offset", offset(), tool(true, false, "T75", "left")),
        rig("swing post", post(), tool(false, false, "G180", "left")),
        rig(
            "offset on post",
            offset_on_post(),
            tool(true, false, "T75", "right"),
        ),
        rig(
            "tilt",
            with_tilt(demo(), false),
            tool(false, true, "G180", "left"),
        ),
        rig(
            "tiltrotator",
            with_tilt(demo(), true),
            tool(true, true, "G180", "right"),
        ),
        rig(
            "tiltrotator on post, two-piece",
            with_tilt(
                {
                    let mut sheet = two_piece();
                    on_post(&mut sheet);
                    sheet
                },
                true,
            ),
            tool(true, true, "T75", "left"),
        ),
    ]
}

/// Which sensors a machine carries.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kit {
    /// In-plane on boom, stick and idler.
    TwoAxisIdler,
    /// In-plane on boom, stick and ear.
    TwoAxisEar,
    /// Single axis on boom, stick and idler, their axes turned on the link.
    SingleAxis,
    /// Encoders on the joints.
    Encoders,
    /// Encoder on the idler, in-plane on the rest.
    EncoderIdler,
}

pub const KITS: [Kit; 5] = [
    Kit::TwoAxisIdler,
    Kit::TwoAxisEar,
    Kit::SingleAxis,
    Kit::Encoders,
    Kit::EncoderIdler,
];

/// How the sensors of a kit are mounted.
#[derive(Debug, Clone, Copy)]
pub struct Mounting {
    pub house: SensorKind,
    pub sign: f64,
    pub offset_deg: f64,
    pub mount_deg: f64,
}

/// The sheet with this kit in place of its own sensors.
pub fn with_kit(mut sheet: ClaimedMachine, kit: Kit, mounting: Mounting) -> ClaimedMachine {
    use SensorKind::{JointEncoder, SingleAxis, TwoAxis};
    let (plane, last) = match kit {
        Kit::TwoAxisIdler => (TwoAxis, (Link::Idler, TwoAxis)),
        Kit::TwoAxisEar => (TwoAxis, (Link::Ear, TwoAxis)),
        Kit::SingleAxis => (SingleAxis, (Link::Idler, SingleAxis)),
        Kit::Encoders => (JointEncoder, (Link::Ear, JointEncoder)),
        Kit::EncoderIdler => (TwoAxis, (Link::Idler, JointEncoder)),
    };
    let mut sensors = vec![
        sensor("house", Link::House, mounting.house),
        sensor("boom", Link::Boom, plane),
        sensor("stick", Link::Stick, plane),
        sensor("last", last.0, last.1),
        sensor("swing", Link::House, JointEncoder),
        sensor("post", Link::Post, JointEncoder),
        sensor("tilt", Link::Tilt, JointEncoder),
        sensor("rotation", Link::Bucket, JointEncoder),
    ];
    let upper = match sheet.boom.kind {
        ClaimedBoomKind::Mono { .. } => None,
        ClaimedBoomKind::TwoPiece { .. } => Some(plane),
        ClaimedBoomKind::Offset { .. } => Some(JointEncoder),
    };
    sensors.extend(upper.map(|kind| sensor("upper", Link::BoomUpper, kind)));
    for (idx, sensor) in sensors.iter_mut().enumerate() {
        // Every sensor its own offset, so that one taken for another shows.
        sensor.offset = deg(mounting.offset_deg * (1.0 + idx as f64));
        sensor.roll_offset = sensor.roll_offset.map(|_| deg(-0.7 * mounting.offset_deg));
        sensor.sign = mounting.sign;
        if sensor.kind == SingleAxis {
            sensor.mount_rad = mounting.mount_deg.to_radians();
        }
    }
    sheet.sensors = sensors;
    sheet
}

/// A pose: each joint of the front at a share of its range, from 0 to 1.
pub fn pose_at(
    machine: &Machine,
    choice: &ToolChoice,
    mut share: impl FnMut(Joint) -> f64,
) -> Joints {
    let front = machine.front(choice).expect("the rig's own tool");
    joints_fitted(&front)
        .into_iter()
        .fold(Joints::zero(), |q, joint| {
            let [min, max] = match machine.range(joint) {
                Some(range) => range.nominal_rad,
                None => [-3.1, 3.1], // swing and rotation turn without end
            };
            q.with(joint, min + (max - min) * share(joint))
        })
}

/// Calls `each` with poses of the lattice, then with random ones.
pub fn poses(
    machine: &Machine,
    rig: &Rig,
    seed: u64,
    n: usize,
    mut each: impl FnMut(&str, Joints),
) {
    let lattice = [0.0, 0.3, 0.55, 1.0];
    for step in 0..256_usize {
        let mut k = step;
        let q = pose_at(machine, &rig.choice, |joint| {
            // The outer joints run through the lattice, the others follow.
            match joint {
                Joint::Boom | Joint::Stick | Joint::Bucket => {
                    let at = lattice[k % 4];
                    k /= 4;
                    at
                }
                _ => lattice[step / 64],
            }
        });
        each(&format!("{}, lattice {step}", rig.name), q);
    }
    let mut random = Random::new(seed);
    for idx in 0..n {
        let q = pose_at(machine, &rig.choice, |_| random.share());
        each(&format!("{}, seed {seed}, pose {idx}", rig.name), q);
    }
}

#[track_caller]
pub fn close(what: &str, got: impl Into<[f64; 3]>, want: impl Into<[f64; 3]>, within: f64) {
    let (got, want): ([f64; 3], [f64; 3]) = (got.into(), want.into());
    let off = [0, 1, 2]
        .map(|k| got[k] - want[k])
        .iter()
        .map(|d| d * d)
        .sum::<f64>()
        .sqrt();
    assert!(
        off <= within,
        "{what}: {got:?} is off by {off:e} from {want:?}"
    );
}

pub fn negated(m: &mut Measured) {
    m.value = -m.value;
}
