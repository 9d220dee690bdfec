//! Source     Pinocchio, a general robotics library (PyPI `pin` 4.1.0): forward kinematics of a URDF
//! Place      checks/recipes/forward_kinematics.py, run on our own exported URDF; values committed
//! Exercises  holdline::machine::pose::front_pose, holdline::tooth, holdline_files::model::write_urdf
//! Tolerance  1e-9 m; the values are printed to 1e-12 m
//! Rights     values made by us with open software; the script that made them stands beside
//! Not used   velocities and dynamics; the linkage, which a URDF cannot hold (see `four_bar`)

#[path = "../../crates/holdline/tests/common/mod.rs"]
mod common;

use std::collections::BTreeMap;
use std::path::PathBuf;

use common::{Kit, Mounting, Rig, rigs, with_kit};
use holdline::machine::claim::SensorKind;
use holdline::machine::joints::{ALL_JOINTS, Joints};
use holdline::machine::pose::front_pose;
use holdline::tooth::attitude::Lean;
use holdline::tooth::model::ToothModel;
use holdline::tooth::readings::Readings;
use holdline_checks::Witness;
use holdline_files::model::write_urdf;

/// The machines that went through the library, by the name of their file.
const MACHINES: [(&str, &str); 6] = [
    ("mono-coupler", "mono, coupler"),
    ("offset", "offset"),
    ("swing-post", "swing post"),
    ("tiltrotator", "tiltrotator"),
    (
        "tiltrotator-post-two-piece",
        "tiltrotator on post, two-piece",
    ),
    ("two-piece", "two-piece"),
];

fn rig(name: &str) -> Rig {
    let mounting = Mounting {
        house: SensorKind::HouseTilts,
        sign: -1.0,
        offset_deg: 0.3,
        mount_deg: 0.0,
    };
    let rig = rigs()
        .into_iter()
        .find(|rig| rig.name == name)
        .expect("a rig of this name");
    Rig {
        sheet: with_kit(rig.sheet, Kit::TwoAxisEar, mounting),
        ..rig
    }
}

fn data(file: &str, ending: &str) -> PathBuf {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("data/forward_kinematics");
    folder.join(file).with_extension(ending)
}

/// The lines that say how the links hang together; the rest is looks.
fn joints_alone(urdf: &str) -> Vec<&str> {
    let mut inside = false;
    urdf.lines()
        .filter(|line| {
            inside |= line.contains("<joint ");
            let kept = inside;
            inside &= !line.contains("</joint>");
            kept
        })
        .collect()
}

/// The values belong to the URDF that went through the library: today's must hang together as it did.
#[test]
fn the_urdf_of_today_is_the_one_that_was_checked() {
    let write = std::env::var_os("HOLDLINE_WRITE_URDF").is_some();
    for (file, name) in MACHINES {
        let rig = rig(name);
        let urdf = write_urdf(&rig.machine(), &rig.choice).expect("the rig's own tool");
        let at = data(file, "urdf");
        if write {
            std::fs::write(&at, &urdf).expect("the folder of the data");
        }
        let checked = std::fs::read_to_string(&at).expect("committed");
        assert_eq!(
            joints_alone(&urdf),
            joints_alone(&checked),
            "{file}: run the recipe in checks/recipes/forward_kinematics.py again"
        );
    }
}

/// One line of a table: column name to text.
type Row = BTreeMap<String, String>;

fn rows(file: &str) -> Vec<Row> {
    let text = std::fs::read_to_string(data(file, "csv")).expect("committed");
    let mut lines = text.lines().filter(|line| !line.starts_with('#'));
    let names: Vec<&str> = lines.next().expect("a header").split(',').collect();
    lines
        .map(|line| {
            let cells: Vec<&str> = line.split(',').collect();
            assert_eq!(cells.len(), names.len(), "{file}: {line}");
            let pairs = names.iter().zip(cells);
            pairs
                .map(|(name, cell)| ((*name).to_owned(), cell.to_owned()))
                .collect()
        })
        .collect()
}

fn number(row: &Row, name: &str) -> f64 {
    row[name].parse().expect("a number")
}

fn three(row: &Row, prefix: &str, axes: [&str; 3]) -> [f64; 3] {
    axes.map(|axis| number(row, &format!("{prefix}_{axis}")))
}

fn joints(row: &Row) -> Joints {
    ALL_JOINTS
        .iter()
        .fold(Joints::zero(), |q, joint| match row.get(joint.word()) {
            Some(cell) => q.with(*joint, cell.parse().expect("a number")),
            None => q,
        })
}

#[test]
fn the_tooth_in_tracks_from_joints() {
    for (file, name) in MACHINES {
        let mut witness = Witness::new("forward_kinematics", file, 1e-9);
        let rig = rig(name);
        let machine = rig.machine();
        let rows = rows(file);
        assert!(200 <= rows.len(), "{file}: {} poses", rows.len());
        for row in &rows {
            let mut choice = rig.choice.clone();
            choice.tooth.clone_from(&row["tooth"]);
            let front = machine.front(&choice).expect("tool").values();
            let pose = front_pose(&front, &joints(row));
            let tooth = pose.tracks_from_house * pose.tooth_house;
            let want = three(row, "tracks", ["x", "y", "z"]);
            for (got, want) in [tooth.x(), tooth.y(), tooth.z()].into_iter().zip(want) {
                witness.see(got, want);
            }
        }
    }
}

#[test]
fn the_tooth_on_the_site_from_readings() {
    for (file, name) in MACHINES {
        let mut witness = Witness::new("forward_kinematics", file, 1e-9);
        let rig = rig(name);
        let machine = rig.machine();
        for row in &rows(file) {
            let mut choice = rig.choice.clone();
            choice.tooth.clone_from(&row["tooth"]);
            let model = ToothModel::new(&machine, &choice).expect("tool");
            let lean = Lean {
                pitch: number(row, "pitch"),
                roll: number(row, "roll"),
            };
            let readings = model
                .readings_at(&joints(row), &lean)
                .expect("inside the strokes");
            let readings = Readings {
                heading_rad: Some(number(row, "heading")),
                antennas_m: vec![Some(three(row, "antenna", ["e", "n", "u"])), None],
                ..readings
            };
            let solution = model
                .tooth(&readings)
                .unwrap_or_else(|fault| panic!("{file}: {fault}"));
            let tooth = solution.tooth_site.expect("on the site");
            let want = three(row, "site", ["e", "n", "u"]);
            for (got, want) in [tooth.x(), tooth.y(), tooth.z()].into_iter().zip(want) {
                witness.see(got, want);
            }
        }
    }
}
