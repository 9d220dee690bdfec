//! The exports read back: every joint of the description moves the tooth as the chain does.

use std::collections::BTreeMap;

use holdline::machine::pose::front_pose;
use roxmltree::{Document, Node};

use super::*;
use crate::machine_sheet::{place_faults, read_machine_sheet};

fn machine(text: &str) -> Machine {
    let claim = read_machine_sheet("m", text.as_bytes()).unwrap_or_else(|f| panic!("{f}"));
    Machine::measured_up(claim).unwrap_or_else(|f| panic!("{}", place_faults("m", text, f)))
}

pub fn demo() -> Machine {
    machine(include_str!("../../../../demo/demo-23.machine.toml"))
}

/// Swing post, offset boom, tiltrotator.
pub fn every_field() -> Machine {
    machine(include_str!("../machine_sheet/every_field.machine.toml"))
}

pub fn two_piece() -> Machine {
    let text = include_str!("../machine_sheet/every_field.machine.toml");
    machine(
        &text
            .replace("kind = \"offset\"", "kind = \"two-piece\"")
            .replace("link = 0.42\n", ""),
    )
}

pub fn tool(bucket: &str, coupler: Option<&str>, tilt: Option<&str>) -> ToolChoice {
    ToolChoice {
        coupler: coupler.map(str::to_owned),
        tilt: tilt.map(str::to_owned),
        bucket: bucket.to_owned(),
        tooth: "centre".to_owned(),
    }
}

pub fn pose_of(boom: f64, stick: f64, bucket: f64) -> Joints {
    Joints {
        boom,
        stick,
        bucket,
        ..Joints::zero()
    }
}

type Matrix = [[f64; 4]; 4];

fn times(a: &Matrix, b: &Matrix) -> Matrix {
    std::array::from_fn(|r| std::array::from_fn(|c| (0..4).map(|k| a[r][k] * b[k][c]).sum()))
}

fn numbers(node: Option<Node<'_, '_>>, attribute: &str) -> [f64; 3] {
    let Some(text) = node.and_then(|n| n.attribute(attribute)) else {
        return [0.0; 3];
    };
    let found: Vec<f64> = text
        .split_whitespace()
        .map(|w| w.parse().unwrap())
        .collect();
    found.try_into().unwrap()
}

/// A turn about a unit axis, by the formula of Rodrigues.
fn turn(axis: [f64; 3], angle: f64) -> Matrix {
    let (s, c) = angle.sin_cos();
    let [x, y, z] = axis;
    let v = 1.0 - c;
    [
        [c + x * x * v, x * y * v - z * s, x * z * v + y * s, 0.0],
        [y * x * v + z * s, c + y * y * v, y * z * v - x * s, 0.0],
        [z * x * v - y * s, z * y * v + x * s, c + z * z * v, 0.0],
        [0.0, 0.0, 0.0, 1.0],
    ]
}

/// Place of a link in `tracks`, from the description alone: up from the link to the root.
fn place(urdf: &Document<'_>, link: &str, joints: &BTreeMap<String, f64>) -> Matrix {
    fn child<'a, 'i>(n: &Node<'a, 'i>, tag: &str) -> Option<Node<'a, 'i>> {
        n.children().find(|c| c.has_tag_name(tag))
    }
    let joint = urdf.root_element().children().find(|n| {
        n.has_tag_name("joint") && child(n, "child").and_then(|c| c.attribute("link")) == Some(link)
    });
    let Some(joint) = joint else {
        assert_eq!(link, "tracks", "one root");
        return turn([0.0, 0.0, 1.0], 0.0);
    };
    let [roll, pitch, yaw] = numbers(child(&joint, "origin"), "rpy");
    let mut origin = times(
        &turn([0.0, 0.0, 1.0], yaw),
        &times(&turn([0.0, 1.0, 0.0], pitch), &turn([1.0, 0.0, 0.0], roll)),
    );
    for (row, value) in numbers(child(&joint, "origin"), "xyz")
        .into_iter()
        .enumerate()
    {
        origin[row][3] = value;
    }
    let name = joint.attribute("name").unwrap();
    let value = match child(&joint, "mimic") {
        Some(mimic) => {
            let factor: f64 = mimic.attribute("multiplier").unwrap().parse().unwrap();
            factor * joints[mimic.attribute("joint").unwrap()]
        }
        None if joint.attribute("type") == Some("fixed") => 0.0,
        None => joints[name],
    };
    let moved = times(&origin, &turn(numbers(child(&joint, "axis"), "xyz"), value));
    let parent = child(&joint, "parent").unwrap().attribute("link").unwrap();
    times(&place(urdf, parent, joints), &moved)
}

#[track_caller]
fn same_tooth(machine: &Machine, choice: &ToolChoice) {
    let text = write_urdf(machine, choice).unwrap();
    let urdf = Document::parse(&text).unwrap();
    let mut state = 7_u64;
    let mut angle = || {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (state >> 11) as f64 / (1_u64 << 53) as f64 * 4.0 - 2.0
    };
    for _ in 0..50 {
        let q = Joints::zero().map(|_, _: f64| angle());
        let joints = holdline::machine::joints::ALL_JOINTS
            .map(|j| (j.word().to_owned(), q.get(j)))
            .into();
        let pose = front_pose(&machine.front(choice).unwrap().values(), &q);
        let want = pose.tracks_from_house * pose.tooth_house;
        let got = place(&urdf, &format!("tooth {}", choice.tooth), &joints);
        for (row, want) in [want.x(), want.y(), want.z()].into_iter().enumerate() {
            assert!(
                (got[row][3] - want).abs() < 1e-12,
                "{} {want} at {q:?}",
                got[row][3]
            );
        }
    }
}

#[test]
fn the_description_moves_the_tooth_as_the_chain_does() {
    same_tooth(&demo(), &tool("T75", Some("QC-demo"), None));
    same_tooth(&demo(), &tool("G180", None, None));
    same_tooth(&every_field(), &tool("B40", Some("hitch"), Some("rotator")));
    same_tooth(&every_field(), &tool("B40", None, None));
    same_tooth(&two_piece(), &tool("B40", None, Some("rotator")));
}

#[test]
fn limits_are_nominal_and_what_is_not_known_is_continuous() {
    let machine = demo();
    let text = write_urdf(&machine, &tool("T75", Some("QC-demo"), None)).unwrap();
    let urdf = Document::parse(&text).unwrap();
    let joint = |name: &str| {
        urdf.descendants()
            .find(|n| n.has_tag_name("joint") && n.attribute("name") == Some(name))
            .unwrap()
    };
    assert_eq!(joint("swing").attribute("type"), Some("continuous"));
    let limit = joint("boom")
        .children()
        .find(|n| n.has_tag_name("limit"))
        .unwrap();
    let upper: f64 = limit.attribute("upper").unwrap().parse().unwrap();
    assert!((upper.to_degrees() - 61.521).abs() < 0.0005); // the machine's own stroke table
    let unknown = write_urdf(&machine, &tool("X", None, None)).unwrap_err();
    assert_eq!(unknown.code, "T001");
}

#[test]
fn visuals_lie_where_the_solids_are() {
    let text = write_urdf(&demo(), &tool("T75", Some("QC-demo"), None)).unwrap();
    let urdf = Document::parse(&text).unwrap();
    let boom = urdf
        .descendants()
        .find(|n| n.has_tag_name("visual") && n.attribute("name") == Some("boom, lower half"))
        .unwrap();
    // from (0, 0, 0) to (2.35, 0, 0.80): a cylinder along z, leaned and put in the middle, ends there
    let origin = boom.children().find(|n| n.has_tag_name("origin"));
    let (at, [_, pitch, yaw]) = (numbers(origin, "xyz"), numbers(origin, "rpy"));
    let half = 2.35_f64.hypot(0.80) / 2.0;
    let axis = times(&turn([0.0, 0.0, 1.0], yaw), &turn([0.0, 1.0, 0.0], pitch));
    let end: Vec<f64> = (0..3).map(|k| at[k] + half * axis[k][2]).collect();
    for (got, want) in end.iter().zip([2.35, 0.0, 0.80]) {
        assert!((got - want).abs() < 1e-12);
    }
    for part in [
        "idler",
        "bucket link",
        "boom cylinders 2, barrel",
        "bucket T75",
        "cab",
    ] {
        assert!(
            text.contains(&format!("visual name=\"{part}\"")),
            "no {part}"
        );
    }
}

/// Writes both exports where an environment variable says, for other programs to look at.
///
/// Looked at with: gltf-validator 2.0.0-dev.3.10 (`validateBytes`: no errors, no warnings, hints about nodes without
/// a mesh and about identity matrices); trimesh 5.2.0 (every solid closed, its volume positive);
/// yourdfpy 0.0.60 (loads, root `tracks`, the joints of the sheet in their order).
#[test]
fn exports_for_other_programs() {
    let Some(folder) = std::env::var_os("HOLDLINE_EXPORTS") else {
        return;
    };
    let folder = std::path::PathBuf::from(folder);
    for (name, machine, choice) in [
        ("demo", demo(), tool("T75", Some("QC-demo"), None)),
        (
            "every-field",
            every_field(),
            tool("B40", Some("hitch"), Some("rotator")),
        ),
    ] {
        let glb = write_glb(&machine, &choice, &pose_of(0.3, -1.4, -0.2)).unwrap();
        std::fs::write(folder.join(format!("{name}.glb")), glb).unwrap();
        let urdf = write_urdf(&machine, &choice).unwrap();
        std::fs::write(folder.join(format!("{name}.urdf")), urdf).unwrap();
    }
}
