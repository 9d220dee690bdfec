//! What goes wrong on a machine sheet: a fault with its place, never a machine that is none.

mod common;

use common::{demo, range, rigs, tool, with_kit};
use holdline::machine::Machine;
use holdline::machine::claim::*;
use holdline::tooth::model::ToothModel;
use holdline::tooth::readings::Readings;
use holdline_geom::fault::Faults;
use holdline_geom::measured::Measured;

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

#[track_caller]
fn sheet_codes(change: impl FnOnce(&mut ClaimedMachine)) -> Vec<&'static str> {
    let mut sheet = demo();
    change(&mut sheet);
    codes(Machine::measured_up(sheet))
}

#[test]
fn a_sheet_in_feet_is_no_sheet_in_metres() {
    let mut sheet = demo();
    in_unit(&mut sheet, 1.0 / 0.3048);
    let found = codes(Machine::measured_up(sheet));
    assert!(found.contains(&"M017"), "{found:?}");
    // And each of the main lengths alone.
    assert!(sheet_codes(|s| s.stick.length.value = 13.1).contains(&"M012"));
}

#[test]
fn a_sheet_in_feet_is_seen_on_small_and_on_large_machines() {
    // Mass and lengths of three sizes of machine, about as they are built.
    for (mass_kg, boom_m, stick_m) in [
        (1_000.0, 1.6, 0.9),
        (8_500.0, 3.6, 1.7),
        (95_000.0, 7.2, 3.4),
    ] {
        let sized = |factor: f64| {
            let mut sheet = demo();
            sheet.mass_kg = Some(Measured::without_sd(mass_kg));
            sheet.boom.kind = ClaimedBoomKind::Mono {
                length: Measured::without_sd(boom_m * factor),
            };
            sheet.stick.length.value = stick_m * factor;
            sheet.linkage.idler_pivot.x.value = (stick_m - 0.44) * factor;
            sheet.cylinders.clear();
            Machine::measured_up(sheet)
        };
        if let Err(faults) = sized(1.0) {
            panic!("{mass_kg} kg: {faults}");
        }
        let found = codes(sized(1.0 / 0.3048));
        let seen = ["M011", "M012", "M017"];
        assert!(
            found.iter().any(|code| seen.contains(code)),
            "{mass_kg} kg: {found:?}"
        );
    }
}

#[test]
fn a_sheet_in_millimetres_is_no_sheet_in_metres() {
    let mut sheet = demo();
    in_unit(&mut sheet, 1000.0);
    assert!(8 < codes(Machine::measured_up(sheet)).len());
}

/// Every length of the front times a factor, as with a wrong unit.
fn in_unit(sheet: &mut ClaimedMachine, factor: f64) {
    let times = |lengths: &mut [&mut Measured]| {
        for length in lengths {
            **length = length.scaled(factor);
        }
    };
    if let ClaimedBoomKind::Mono { length } = &mut sheet.boom.kind {
        times(&mut [length]);
    }
    if let Some(foot) = &mut sheet.boom.foot {
        times(&mut [&mut foot.x, &mut foot.y, &mut foot.z]);
    }
    let linkage = &mut sheet.linkage;
    times(&mut [
        &mut sheet.stick.length,
        &mut linkage.idler_pivot.x,
        &mut linkage.idler_pivot.z,
        &mut linkage.idler,
        &mut linkage.link,
        &mut linkage.ear,
    ]);
    for cylinder in &mut sheet.cylinders {
        times(&mut [&mut cylinder.retracted, &mut cylinder.extended]);
        for pin in [&mut cylinder.base, &mut cylinder.rod] {
            if let CylinderPin::On { at, .. } = pin {
                times(&mut [&mut at.x, &mut at.z]);
            }
        }
    }
}

#[test]
fn every_number_of_a_sheet_that_is_no_number_is_a_fault() {
    type Spoil = fn(&mut ClaimedMachine, f64);
    let spoils: &[Spoil] = &[
        |s, x| s.mass_kg = Some(Measured::without_sd(x)),
        |s, x| s.house.tail_radius.value = x,
        |s, x| s.house.tail_half_angle_rad = x,
        |s, x| s.house.eye = Some(common::space(x, 0.0, 2.0)),
        |s, x| s.tracks.length.value = x,
        |s, x| s.tracks.gauge.value = x,
        |s, x| s.tracks.shoe_width.value = x,
        |s, x| s.tracks.height.value = x,
        |s, x| s.boom.foot = Some(common::space(0.1, x, 1.8)),
        |s, x| {
            s.boom.kind = ClaimedBoomKind::Mono {
                length: Measured::without_sd(x),
            }
        },
        |s, x| s.stick.length.value = x,
        |s, x| s.stick.length.sd = Some(x),
        |s, x| s.linkage.idler_pivot.z.value = x,
        |s, x| s.linkage.idler.value = x,
        |s, x| {
            s.cylinders[0].base = CylinderPin::On {
                link: Link::House,
                at: common::plane(x, 1.28),
            }
        },
        |s, x| {
            s.cylinders[1].rod = CylinderPin::On {
                link: Link::Stick,
                at: common::plane(-0.7, x),
            }
        },
        |s, x| s.cylinders[0].retracted.value = x,
        |s, x| s.cylinders[0].extended.value = x,
        |s, x| s.cylinders[0].stroke_tolerance_m = x,
        |s, x| s.cylinders[0].bore_m = Some(x),
        |s, x| s.cylinders[0].rod_diameter_m = Some(x),
        |s, x| s.cylinders[0].mass_each_kg = Some(x),
        |s, x| {
            s.ranges.push(ClaimedRange {
                min_rad: x,
                ..range(Joint::Swing, -1.0, 1.0)
            })
        },
        |s, x| {
            s.ranges.push(ClaimedRange {
                max_rad: x,
                ..range(Joint::Swing, -1.0, 1.0)
            })
        },
        |s, x| {
            s.ranges.push(ClaimedRange {
                tolerance_rad: x,
                ..range(Joint::Swing, -1.0, 1.0)
            })
        },
        |s, x| s.couplers[0].front_pin.x.value = x,
        |s, x| s.couplers[0].rotation.value = x,
        |s, x| s.couplers[0].rotation.sd = Some(x),
        |s, x| s.couplers[0].body.outline_m = vec![[0.0, x]],
        |s, x| s.couplers[0].body.half_width_m = Some(x),
        |s, x| s.couplers[0].body.mass = Some(Measured::without_sd(x)),
        |s, x| s.couplers[0].body.centre_m = Some([x, 0.0]),
        |s, x| s.buckets[0].width.value = x,
        |s, x| s.buckets[0].pin_spacing.value = x,
        |s, x| s.buckets[0].teeth[0].at.x.value = x,
        |s, x| s.buckets[0].teeth[0].at.y.value = x,
        |s, x| s.buckets[0].edge_m = vec![[0.0, x, 0.0]],
        |s, x| s.buckets[0].heel.z.value = x,
        |s, x| s.buckets[0].outline_m[2][1] = x,
        |s, x| s.buckets[0].mass = Some(Measured::without_sd(x)),
        |s, x| s.buckets[0].centre_m = Some([0.2, x]),
        |s, x| s.buckets[0].eye = Some(common::plane(x, 0.0)),
        |s, x| s.buckets[0].inner_width_m = Some(x),
        |s, x| s.buckets[0].side_profile_inner_m = vec![[x, 0.0]],
        |s, x| s.buckets[0].load_centre_m = Some([x, 0.0]),
        |s, x| s.masses.push(mass(x, 0.0)),
        |s, x| s.masses.push(mass(500.0, x)),
        |s, x| s.solids.push(capsule(x, 0.3)),
        |s, x| s.solids.push(capsule(0.0, x)),
        |s, x| {
            s.solids.push(solid(ClaimedShape::Box {
                min_m: [0.0; 3],
                max_m: [1.0, x, 1.0],
            }))
        },
        |s, x| s.sensors[0].offset.value = x,
        |s, x| s.sensors[3].roll_offset = Some(Measured::without_sd(x)),
        |s, x| s.sensors[0].mount_rad = x,
        |s, x| s.sensors[0].sign = x,
        |s, x| s.sensors[0].sd_rad = Some(x),
        |s, x| s.sensors[0].latency_s = Some(x),
        |s, x| s.antennas[0].lever.z.value = x,
        |s, x| s.cameras.push(camera(x, 0.0)),
        |s, x| s.cameras.push(camera(1.0, x)),
    ];
    for (idx, spoil) in spoils.iter().enumerate() {
        for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 1e30] {
            let mut sheet = demo();
            spoil(&mut sheet, bad);
            if let Ok(machine) = Machine::measured_up(sheet) {
                panic!("row {idx} takes {bad}: {:?}", machine.sheet());
            }
        }
    }
    let tilts: &[Spoil] = &[
        |s, x| s.tilts[0].axis_at.y.value = x,
        |s, x| s.tilts[0].axis_angle.value = x,
        |s, x| s.tilts[0].front_pin.z.value = x,
        |s, x| s.tilts[0].bucket_rotation.value = x,
        |s, x| {
            s.tilts[0]
                .rotation
                .iter_mut()
                .for_each(|r| r.axis_at.x.value = x)
        },
        |s, x| {
            s.tilts[0]
                .rotation
                .iter_mut()
                .for_each(|r| r.axis_angle.value = x)
        },
        |s, x| s.tilts[0].body.half_width_m = Some(x),
    ];
    for (idx, spoil) in tilts.iter().enumerate() {
        let mut sheet = common::with_tilt(demo(), true);
        spoil(&mut sheet, f64::NAN);
        assert!(Machine::measured_up(sheet).is_err(), "tilt row {idx}");
    }
}

fn mass(mass_kg: f64, z: f64) -> ClaimedMass {
    ClaimedMass {
        part: "part".to_owned(),
        link: Link::Boom,
        mass: Measured::without_sd(mass_kg),
        centre_m: [1.0, 0.0, z],
    }
}

fn solid(shape: ClaimedShape) -> ClaimedSolid {
    ClaimedSolid {
        part: "part".to_owned(),
        link: Link::Boom,
        shape,
    }
}

fn capsule(x: f64, radius_m: f64) -> ClaimedSolid {
    solid(ClaimedShape::Capsule {
        from_m: [x, 0.0, 0.0],
        to_m: [1.0, 0.0, 0.0],
        radius_m,
    })
}

fn camera(x: f64, yaw_rad: f64) -> ClaimedCamera {
    ClaimedCamera {
        id: "rear".to_owned(),
        at: common::space(x, 0.0, 2.0),
        yaw_rad,
        pitch_down_rad: 0.6,
        hfov_rad: 2.0,
        vfov_rad: 1.5,
    }
}

#[test]
fn what_does_not_fit_together_is_a_fault() {
    // A linkage that cannot close, at all or within the stroke.
    assert!(sheet_codes(|s| s.linkage.link.value = 1.58).contains(&"M033"));
    let found = sheet_codes(|s| s.linkage.link.value = 0.85);
    assert!(found == ["M062"] || found == ["T010"], "{found:?}");
    let found = sheet_codes(|s| s.linkage.branch = LinkageBranch::Left);
    assert!(found == ["M062"] || found == ["T010"], "{found:?}");
    // Strokes: too long to close, over the line of the pins within the tolerance, the wrong way round.
    assert_eq!(
        sheet_codes(|s| s.cylinders[1].extended.value = 3.30),
        ["G010"]
    );
    assert_eq!(
        sheet_codes(|s| s.cylinders[1].extended.value = 3.235),
        ["M065"]
    );
    assert_eq!(
        sheet_codes(|s| s.cylinders[1].retracted.value = 3.25),
        ["M053"]
    );
    // Pins on the wrong link, two cylinders for one joint, a joint no cylinder moves.
    assert_eq!(
        sheet_codes(|s| s.cylinders[0].rod = CylinderPin::LinkageE),
        ["M060"]
    );
    assert_eq!(
        sheet_codes(|s| {
            let twin = s.cylinders[0].clone();
            s.cylinders.push(twin);
        }),
        ["M064"]
    );
    assert_eq!(
        sheet_codes(|s| s.cylinders[0].moves = Joint::Tilt),
        ["M061"]
    );
    // Boom foot: nowhere, or twice.
    assert!(sheet_codes(|s| s.boom.foot = None).contains(&"M020"));
    // Tools.
    assert_eq!(sheet_codes(|s| s.buckets.clear()), ["M047"]);
    assert_eq!(sheet_codes(|s| s.buckets[0].teeth.truncate(2)), ["M043"]);
    assert_eq!(
        sheet_codes(|s| {
            let teeth = &mut s.buckets[0].teeth;
            let left = teeth[0].at;
            teeth[0].at = teeth[2].at;
            teeth[2].at = left;
        }),
        ["M044"]
    );
    assert_eq!(
        sheet_codes(|s| s.buckets[0].outline_m.truncate(2)),
        ["M046"]
    );
    // A tip that sticks out of the bucket's solid: forward, or beside.
    let found = sheet_codes(|s| s.buckets[0].teeth[1].at.z.value -= 0.010);
    assert_eq!(found, ["M066"]);
    assert_eq!(
        sheet_codes(|s| s.buckets[0].width.value = 0.700),
        ["M066", "M066"]
    );
    // Sensors.
    assert_eq!(sheet_codes(|s| s.sensors[0].link = Link::House), ["M084"]);
    assert_eq!(sheet_codes(|s| s.sensors[3].link = Link::Boom), ["M084"]);
    assert_eq!(sheet_codes(|s| s.sensors[0].sign = 0.5), ["M085"]);
    assert_eq!(sheet_codes(|s| s.sensors[3].roll_offset = None), ["M086"]);
    // A standard uncertainty of zero is a claim that nobody can make.
    assert_eq!(sheet_codes(|s| s.stick.length.sd = Some(0.0)), ["M090"]);
}

#[test]
fn all_faults_come_at_once_each_with_its_place() {
    let mut sheet = demo();
    sheet.stick.length.value = 13.1;
    sheet.tracks.gauge.value = f64::NAN;
    sheet.buckets[1].teeth[2].at.x.value = 174.0;
    sheet.sensors[2].sign = 0.0;
    let faults = Machine::measured_up(sheet).unwrap_err();
    let at: Vec<&str> = faults.0.iter().map(|fault| fault.at.as_str()).collect();
    for wanted in [
        "stick.length",
        "tracks.gauge",
        "bucket[G180].tooth[right].at.x",
        "sensor[S-idler].sign",
    ] {
        assert!(at.contains(&wanted), "{wanted} is not among {at:?}");
    }
}

#[test]
fn a_joint_without_a_sensor_gives_no_tooth_from_readings() {
    for rig in rigs() {
        let mut sheet = with_kit(
            rig.sheet.clone(),
            common::Kit::TwoAxisIdler,
            common::Mounting {
                house: SensorKind::HouseEuler,
                sign: 1.0,
                offset_deg: 0.0,
                mount_deg: 0.0,
            },
        );
        let links = [Link::Boom, Link::Stick, Link::Idler];
        sheet.sensors.retain(|sensor| !links.contains(&sensor.link));
        let machine = Machine::measured_up(sheet).unwrap_or_else(|faults| panic!("{faults}"));
        let model = ToothModel::new(&machine, &rig.choice).expect("tool");
        let found = codes(model.tooth(&Readings {
            house_rad: Some([0.0, 0.0]),
            sensors_rad: Vec::new(),
            heading_rad: None,
            antennas_m: Vec::new(),
        }));
        assert_eq!(found, ["T003", "T003", "T003"], "{}", rig.name);
    }
}

#[test]
fn a_tool_that_is_not_on_the_sheet_names_those_that_are() {
    let machine = Machine::measured_up(demo()).unwrap_or_else(|faults| panic!("{faults}"));
    for choice in [
        tool(true, false, "T90", "centre"),
        tool(true, false, "T75", "middle"),
        tool(true, true, "T75", "centre"),
    ] {
        let fault = machine.front(&choice).unwrap_err();
        assert_eq!(fault.code, "T001");
    }
    let fault = machine
        .front(&tool(true, false, "T90", "centre"))
        .unwrap_err();
    assert!(
        fault.want.contains("T75") && fault.want.contains("G180"),
        "{}",
        fault.want
    );
}
