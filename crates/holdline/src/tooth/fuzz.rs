//! Any bytes made into a machine, a pose and readings: what comes out is finite, or a fault.

use super::attitude::Lean;
use super::model::ToothModel;
use super::readings::Readings;
use crate::machine::Machine;
use crate::machine::claim::*;
use crate::machine::front::ToolChoice;
use crate::machine::joints::{ALL_JOINTS, Joints};
use crate::machine::outlines::{PlacedShape, placed_parts};
use crate::machine::reach::{reach_in_plane, reach_with_swing};
use holdline_geom::frame::Point;
use holdline_geom::measured::Measured;

/// Works out a tooth from any bytes, forwards and backwards.
///
/// The bytes choose a machine, its sensors, a pose and readings: most figures plausible, some not
/// numbers at all. Never panics but where a result is not finite: that is a bug in holdline.
pub fn fuzz_pose(bytes: &[u8]) {
    let mut bytes = Bytes(bytes);
    let Ok(machine) = Machine::measured_up(a_machine(&mut bytes)) else {
        return;
    };
    let choice = ToolChoice {
        coupler: bytes.flag().then(|| "C".to_owned()),
        tilt: bytes.flag().then(|| "T".to_owned()),
        bucket: "B".to_owned(),
        tooth: ["left", "centre", "right"][usize::from(bytes.byte() % 3)].to_owned(),
    };
    let Ok(model) = ToothModel::new(&machine, &choice) else {
        return;
    };
    from_readings(&model, &mut bytes);
    from_joints(&model, &mut bytes);
}

fn from_readings(model: &ToothModel, bytes: &mut Bytes<'_>) {
    let sheet = model.machine().sheet();
    let some = |bytes: &mut Bytes<'_>, max: f64| {
        let value = bytes.number(-max, max);
        (!bytes.flag() || bytes.flag()).then_some(value)
    };
    let readings = Readings {
        house_rad: Some([bytes.number(-0.8, 0.8), bytes.number(-0.8, 0.8)]),
        sensors_rad: sheet.sensors.iter().map(|_| some(bytes, 3.2)).collect(),
        heading_rad: some(bytes, 6.2),
        antennas_m: sheet
            .antennas
            .iter()
            .map(|_| Some([some(bytes, 5e6)?, some(bytes, 5e6)?, some(bytes, 500.0)?]))
            .collect(),
    };
    if let Ok(solution) = model.tooth(&readings) {
        finite(solution.tooth_house.vector().iter());
        finite(solution.tooth_level.vector().iter());
        if let Some(site) = solution.tooth_site {
            finite(site.vector().iter());
        }
    }
    let sd = some(bytes, 0.1);
    let fix = model.fix(&model.with_sheet_sds(&readings, sd, [sd; 3]));
    if let Some(sd_m) = fix.ok().and_then(|fix| fix.level.sd_m()) {
        finite(sd_m.iter());
    }
}

fn from_joints(model: &ToothModel, bytes: &mut Bytes<'_>) {
    let machine = model.machine();
    let q = ALL_JOINTS.iter().fold(Joints::zero(), |q, joint| {
        q.with(*joint, bytes.number(-3.2, 3.2))
    });
    let lean = Lean {
        pitch: bytes.number(-0.8, 0.8),
        roll: bytes.number(-0.8, 0.8),
    };
    let nothing = Readings {
        house_rad: None,
        sensors_rad: Vec::new(),
        heading_rad: None,
        antennas_m: Vec::new(),
    };
    let Ok(fix) = model.fix_typed(q, lean, &nothing) else {
        return;
    };
    finite(fix.solution.tooth_house.vector().iter());
    if let Ok(lengths) = machine.cylinder_lengths_m(&q) {
        finite(lengths.iter());
    }
    for part in placed_parts(machine, model.choice(), &q)
        .into_iter()
        .flatten()
    {
        match part.shape {
            PlacedShape::Capsule { from, to, .. } => {
                finite(from.vector().iter().chain(to.vector().iter()));
            }
            PlacedShape::Hull(points) => points.iter().for_each(|p| finite(p.vector().iter())),
        }
    }
    // Readings of this pose, where its sensors can give them, lead to a tooth or a fault.
    if let Ok(readings) = model.readings_at(&q, &lean)
        && let Ok(solution) = model.tooth(&readings)
    {
        finite(solution.tooth_house.vector().iter());
    }
    let place = [0; 3].map(|_| bytes.number(-12.0, 12.0));
    let ear_rad = bytes.number(-3.2, 3.2);
    let front = model.geometry().front.values();
    let [x, y, z] = place;
    let in_house = reach_in_plane(machine, &front, Point::metres(x, y, z), ear_rad, &q);
    let on_tracks = reach_with_swing(machine, &front, Point::metres(x, y, z), ear_rad, &q);
    for reached in [in_house, on_tracks].into_iter().flatten() {
        finite(reached.cylinder_lengths_m.iter());
        finite(ALL_JOINTS.map(|joint| reached.joints.get(joint)).iter());
    }
}

#[track_caller]
fn finite<'a>(mut values: impl Iterator<Item = &'a f64>) {
    assert!(values.all(|v| v.is_finite()), "a result that is not finite");
}

/// Bytes that run out into zeros.
struct Bytes<'a>(&'a [u8]);

impl Bytes<'_> {
    fn byte(&mut self) -> u8 {
        match self.0.split_first() {
            Some((first, rest)) => {
                self.0 = rest;
                *first
            }
            None => 0,
        }
    }

    fn flag(&mut self) -> bool {
        self.byte() & 1 == 1
    }

    /// Mostly between the two; now and then any bits at all.
    fn number(&mut self, min: f64, max: f64) -> f64 {
        if self.byte() == 0xff {
            let bits = [0; 8].map(|_: u8| self.byte());
            return f64::from_le_bytes(bits);
        }
        let share = f64::from(u16::from_le_bytes([self.byte(), self.byte()])) / 65535.0;
        min + (max - min) * share
    }

    /// About a usual value: within a fifth of it either way, and 0.05 more.
    fn about(&mut self, usual: f64) -> Measured {
        let within = 0.2 * usual.abs() + 0.05;
        Measured::with_sd(self.number(usual - within, usual + within), 0.003)
    }

    fn plane(&mut self, x: f64, z: f64) -> PlanePoint {
        PlanePoint {
            x: self.about(x),
            z: self.about(z),
        }
    }

    fn space(&mut self, x: f64, y: f64, z: f64) -> SpacePoint {
        SpacePoint {
            x: self.about(x),
            y: self.about(y),
            z: self.about(z),
        }
    }
}

fn a_machine(bytes: &mut Bytes<'_>) -> ClaimedMachine {
    let on_post = bytes.flag();
    let kind = a_boom(bytes);
    ClaimedMachine {
        id: "fuzz".to_owned(),
        note: String::new(),
        measured: MeasuredBy::default(),
        mass_kg: None,
        house: ClaimedHouse {
            tail_radius: bytes.about(2.85),
            tail_half_angle_rad: bytes.number(0.0, 3.0),
            eye: None,
        },
        tracks: ClaimedTracks {
            length: bytes.about(4.4),
            gauge: bytes.about(2.39),
            shoe_width: bytes.about(0.6),
            height: bytes.about(0.92),
        },
        swing_post: on_post.then(|| ClaimedSwingPost {
            at: bytes.space(1.9, 0.05, 1.0),
            foot: bytes.space(0.3, -0.02, 0.85),
        }),
        boom: ClaimedBoom {
            foot: (!on_post).then(|| bytes.space(0.15, -0.045, 1.85)),
            kind,
        },
        stick: ClaimedStick {
            length: bytes.about(2.94),
        },
        linkage: ClaimedLinkage {
            idler_pivot: bytes.plane(2.5, 0.03),
            idler: bytes.about(0.6),
            link: bytes.about(0.58),
            ear: bytes.about(0.44),
            branch: match bytes.flag() {
                true => LinkageBranch::Left,
                false => LinkageBranch::Right,
            },
        },
        cylinders: cylinders(bytes, on_post),
        ranges: Vec::new(),
        couplers: vec![ClaimedCoupler {
            id: "C".to_owned(),
            front_pin: bytes.plane(0.02, -0.245),
            rotation: bytes.about(-0.1),
            body: ClaimedBody::default(),
        }],
        tilts: vec![a_tilt(bytes)],
        buckets: vec![a_bucket(bytes)],
        solids: vec![ClaimedSolid {
            part: "bucket cylinder".to_owned(),
            link: Link::Stick,
            shape: ClaimedShape::AlongCylinder {
                moves: Joint::Bucket,
                y_m: vec![0.0],
                radius_m: bytes.number(0.01, 1.0),
            },
        }],
        masses: Vec::new(),
        sensors: sensors(bytes),
        antennas: ["L", "R"]
            .map(|id| ClaimedAntenna {
                id: id.to_owned(),
                lever: bytes.space(-1.85, 1.05, 3.0),
            })
            .into(),
        heading_offset: None,
        cameras: Vec::new(),
    }
}

fn a_boom(bytes: &mut Bytes<'_>) -> ClaimedBoomKind {
    match bytes.byte() % 3 {
        0 => ClaimedBoomKind::Mono {
            length: bytes.about(5.72),
        },
        1 => ClaimedBoomKind::TwoPiece {
            lower: bytes.about(2.6),
            upper: bytes.about(3.3),
        },
        _ => ClaimedBoomKind::Offset {
            lower: bytes.about(2.2),
            link: bytes.about(0.6),
            upper: bytes.about(2.9),
        },
    }
}

/// Boom and bucket cylinder, each there or not: without one its joint has no range.
fn cylinders(bytes: &mut Bytes<'_>, on_post: bool) -> Vec<ClaimedCylinder> {
    let cylinder = |moves, base, rod, ends: [f64; 2], bytes: &mut Bytes<'_>| ClaimedCylinder {
        moves,
        base,
        rod,
        side: None,
        retracted: bytes.about(ends[0]),
        extended: bytes.about(ends[1]),
        stroke_tolerance_m: bytes.number(0.0, 0.02),
        count: 1,
        bore_m: None,
        rod_diameter_m: None,
        mass_each_kg: None,
    };
    let mut all = Vec::new();
    if bytes.flag() {
        let base = match on_post {
            true => CylinderPin::On {
                link: Link::Post,
                at: bytes.plane(0.87, 0.28),
            },
            false => CylinderPin::On {
                link: Link::House,
                at: bytes.plane(0.72, 1.28),
            },
        };
        let rod = CylinderPin::On {
            link: Link::Boom,
            at: bytes.plane(2.45, 0.35),
        };
        all.push(cylinder(Joint::Boom, base, rod, [1.75, 2.7], bytes));
    }
    if bytes.flag() {
        let base = CylinderPin::On {
            link: Link::Stick,
            at: bytes.plane(0.72, 0.5),
        };
        let rod = CylinderPin::LinkageE;
        all.push(cylinder(Joint::Bucket, base, rod, [1.6, 2.1], bytes));
    }
    all
}

fn a_tilt(bytes: &mut Bytes<'_>) -> ClaimedTilt {
    ClaimedTilt {
        id: "T".to_owned(),
        axis_at: bytes.space(0.18, 0.0, -0.22),
        axis_angle: bytes.about(-0.1),
        rotation: bytes.flag().then(|| ClaimedRotation {
            axis_at: bytes.space(0.02, 0.0, -0.3),
            axis_angle: bytes.about(-1.5),
        }),
        front_pin: bytes.space(-0.15, 0.0, -0.25),
        bucket_rotation: bytes.about(0.05),
        body: ClaimedBody::default(),
    }
}

fn a_bucket(bytes: &mut Bytes<'_>) -> ClaimedBucket {
    let teeth = [("left", 0.375), ("centre", 0.0), ("right", -0.375)];
    ClaimedBucket {
        id: "B".to_owned(),
        note: String::new(),
        width: bytes.about(1.2),
        pin_spacing: bytes.about(0.44),
        teeth: teeth
            .map(|(name, y)| ClaimedTooth {
                name: name.to_owned(),
                at: bytes.space(-0.178, y, -1.449),
            })
            .into(),
        edge_m: Vec::new(),
        heel: bytes.plane(0.62, -0.95),
        outline_m: vec![[-0.8, -2.5], [1.0, -2.5], [1.0, 0.5], [-0.8, 0.5]],
        mass: None,
        centre_m: None,
        eye: None,
        inner_width_m: None,
        side_profile_inner_m: Vec::new(),
        load_centre_m: None,
    }
}

fn sensors(bytes: &mut Bytes<'_>) -> Vec<ClaimedSensor> {
    use SensorKind::{HouseEuler, HouseTilts, JointEncoder, SingleAxis, TwoAxis};
    let any = [TwoAxis, SingleAxis, JointEncoder];
    let rows = [
        (Link::House, [HouseEuler, HouseTilts, HouseEuler]),
        (Link::Boom, any),
        (Link::Stick, any),
        (Link::Idler, any),
        (Link::BoomUpper, [TwoAxis, JointEncoder, JointEncoder]),
        (Link::Post, [JointEncoder; 3]),
        (Link::Tilt, [JointEncoder; 3]),
        (Link::Bucket, [JointEncoder; 3]),
    ];
    rows.map(|(link, kinds)| ClaimedSensor {
        id: format!("{link:?}"),
        link,
        kind: kinds[usize::from(bytes.byte() % 3)],
        offset: bytes.about(0.0),
        roll_offset: Some(bytes.about(0.0)),
        mount_rad: bytes.number(-1.5, 1.5),
        sign: if bytes.flag() { -1.0 } else { 1.0 },
        sd_rad: Some(0.001),
        latency_s: None,
    })
    .into()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn any_bytes_give_something_finite_or_a_fault() {
        fuzz_pose(&[]);
        let mut seed = 1_u64;
        let (mut n_machines, n) = (0, 3000);
        for _ in 0..n {
            let bytes: Vec<u8> = (0..600)
                .map(|_| {
                    seed = seed
                        .wrapping_mul(6_364_136_223_846_793_005)
                        .wrapping_add(1_442_695_040_888_963_407);
                    (seed >> 56) as u8
                })
                .collect();
            fuzz_pose(&bytes);
            n_machines += i32::from(Machine::measured_up(a_machine(&mut Bytes(&bytes))).is_ok());
        }
        // The bytes must make machines, or nothing beyond the sheet was tried.
        assert!(n / 20 < n_machines, "{n_machines} machines of {n}");
    }
}
