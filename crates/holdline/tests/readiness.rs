//! What a machine can do as it is fitted out: each thing taken away takes its jobs away, and no others.

mod common;

use common::{demo, sensor, tool};
use holdline::calibrate::readiness::{Ready, readiness};
use holdline::machine::Machine;
use holdline::machine::claim::{
    ClaimedAntenna, ClaimedMachine, ClaimedShape, ClaimedSolid, Link, SensorKind,
};

/// A machine with all that this version can look for, but pressure sensors and cameras.
fn fitted() -> ClaimedMachine {
    let mut sheet = demo();
    sheet.sensors = vec![
        sensor("S-boom", Link::Boom, SensorKind::TwoAxis),
        sensor("S-stick", Link::Stick, SensorKind::TwoAxis),
        sensor("S-idler", Link::Idler, SensorKind::TwoAxis),
        sensor("S-house", Link::House, SensorKind::HouseEuler),
    ];
    sheet.antennas = [1.05, -1.05]
        .iter()
        .zip(["GL", "GR"])
        .map(|(y, id)| ClaimedAntenna {
            id: id.to_owned(),
            lever: common::space(-1.85, *y, 3.02),
        })
        .collect();
    for bucket in &mut sheet.buckets {
        bucket.outline_m = vec![[-0.4, -1.6], [0.9, -1.6], [0.9, 0.3], [-0.4, 0.3]];
    }
    let solid = |part: &str, link| ClaimedSolid {
        part: part.to_owned(),
        link,
        shape: ClaimedShape::Capsule {
            from_m: [0.0, 0.0, 0.0],
            to_m: [1.0, 0.0, 0.0],
            radius_m: 0.3,
        },
    };
    sheet.solids = vec![
        solid("boom", Link::Boom),
        solid("stick", Link::Stick),
        solid("house", Link::House),
        solid("cab", Link::House),
    ];
    sheet
}

const TOOTH: [&str; 2] = ["2D depth from a bench", "2D slope"];
const LIMITS: [&str; 6] = [
    "limit: height",
    "limit: depth",
    "limit: reach",
    "limit: slew sector",
    "limit: stand-off plane",
    "limit: own cab",
];
const SITE: &str = "3D on the site grid";

/// Which jobs stand at `ready`.
#[track_caller]
fn at(sheet: ClaimedMachine, ready: Ready) -> Vec<&'static str> {
    let machine = match Machine::measured_up(sheet) {
        Ok(machine) => machine,
        Err(faults) => panic!("{faults}"),
    };
    let rows =
        readiness(&machine, &tool(true, false, "T75", "centre")).expect("a tool of the sheet");
    for row in &rows {
        assert_eq!(row.missing.is_empty(), row.ready == Ready::Now, "{row:?}");
    }
    rows.iter()
        .filter(|row| row.ready == ready)
        .map(|row| row.job)
        .collect()
}

#[test]
fn fitted_out_it_can_do_all_but_weigh_and_see() {
    let now = at(fitted(), Ready::Now);
    let mut want = TOOTH.to_vec();
    want.push(SITE);
    want.extend(LIMITS);
    assert_eq!(now, want);
    let missing = at(fitted(), Ready::Missing);
    assert_eq!(missing, ["bucket scale", "what the cameras leave unseen"]);
}

#[test]
fn a_joint_without_a_sensor_takes_every_job_of_the_tooth() {
    let mut sheet = fitted();
    sheet.sensors.retain(|s| s.id != "S-stick");
    assert_eq!(at(sheet, Ready::Now), Vec::<&str>::new());
}

#[test]
fn a_house_that_is_not_measured_takes_every_job_of_the_tooth() {
    let mut sheet = fitted();
    sheet.sensors.retain(|s| s.id != "S-house");
    assert_eq!(at(sheet, Ready::Now), Vec::<&str>::new());
}

#[test]
fn one_antenna_gives_no_heading() {
    let mut sheet = fitted();
    sheet.antennas.truncate(1);
    let missing = at(sheet.clone(), Ready::Missing);
    for job in [
        "2D slope",
        SITE,
        "limit: slew sector",
        "limit: stand-off plane",
    ] {
        assert!(missing.contains(&job), "{job} in {missing:?}");
    }
    assert!(at(sheet.clone(), Ready::Now).contains(&"2D depth from a bench"));
    // A swing encoder says which way the slope falls, and how far it has swung; not where north is.
    sheet
        .sensors
        .push(sensor("S-swing", Link::House, SensorKind::JointEncoder));
    let now = at(sheet.clone(), Ready::Now);
    assert!(
        now.contains(&"2D slope") && now.contains(&"limit: slew sector"),
        "{now:?}"
    );
    assert!(at(sheet, Ready::Missing).contains(&SITE));
}

#[test]
fn a_figure_without_uncertainty_is_named_and_never_taken_as_sure() {
    let mut sheet = fitted();
    sheet.stick.length.sd = None;
    let open = at(sheet.clone(), Ready::NotKnown);
    for job in ["2D depth from a bench", SITE, "limit: height"] {
        assert!(open.contains(&job), "{job} in {open:?}");
    }
    let machine = Machine::measured_up(sheet).expect("plausible");
    let rows = readiness(&machine, &tool(true, false, "T75", "centre")).expect("a tool");
    assert!(rows[0].missing[0].contains("stick.length"), "{:?}", rows[0]);
}

#[test]
fn a_lever_without_uncertainty_matters_on_the_site_alone() {
    let mut sheet = fitted();
    sheet.antennas[0].lever.z.sd = None;
    assert_eq!(at(sheet, Ready::NotKnown), [SITE]);
}

#[test]
fn what_no_solid_covers_no_limit_watches() {
    for (part, jobs) in [("stick", LIMITS.to_vec()), ("cab", vec!["limit: own cab"])] {
        let mut sheet = fitted();
        sheet.solids.retain(|solid| solid.part != part);
        let missing = at(sheet, Ready::Missing);
        let limits: Vec<&str> = missing
            .iter()
            .filter(|job| job.starts_with("limit"))
            .copied()
            .collect();
        assert_eq!(limits, jobs, "without {part}");
    }
}

#[test]
fn another_tool_is_looked_at_with_its_own_figures() {
    let mut sheet = fitted();
    let grading = sheet.buckets.iter_mut().find(|b| b.id == "G180");
    grading
        .expect("in the demo")
        .teeth
        .iter_mut()
        .for_each(|t| t.at.x.sd = None);
    let machine = Machine::measured_up(sheet).expect("plausible");
    let ready = |bucket| {
        let choice = tool(true, false, bucket, "centre");
        readiness(&machine, &choice).expect("a tool")[0].ready
    };
    assert_eq!([ready("T75"), ready("G180")], [Ready::Now, Ready::NotKnown]);
}
