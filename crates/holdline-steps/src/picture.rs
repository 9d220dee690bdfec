//! A machine in a pose, as the drawings take it: turned level, in metres, with letters and figures.

use holdline::frames::{Bucket, House, Level};
use holdline::machine::Machine;
use holdline::machine::claim::{ClaimedShape, Joint, Link};
use holdline::machine::front::{Boom, Front, ToolChoice};
use holdline::machine::jacobian::joints_fitted;
use holdline::machine::outlines::{PlacedPart, PlacedShape, placed_parts};
use holdline::machine::pose::{FrontPose, front_pose};
use holdline_geom::fault::{Fault, Faults};
use holdline_geom::frame::{Point, Transform};
use holdline_geom::measured::Measured;
use holdline_sheet::figure::Kind;
use holdline_sheet::machine_view::{
    Dimension, JointAngle, LevelLine, MachineView, Part, PartKind, Pin, Solid, ToothPoint, View,
    Way,
};
use holdline_sheet::scale::Window;

use crate::pose::SetPose;
use crate::units::Units;

/// What stands beside the leading tooth point: name, figure, how it is written.
pub(crate) type ToothFigures = Vec<(String, Measured, Kind)>;

/// What a picture is made from.
pub(crate) struct Sitter<'a> {
    /// The machine.
    pub machine: &'a Machine,
    /// Its tool.
    pub choice: &'a ToolChoice,
    /// Its pose.
    pub set: &'a SetPose,
    /// Standard uncertainty of each joint angle, rad, where known.
    pub joint_sds_rad: &'a dyn Fn(Joint) -> Option<f64>,
    /// Figures beside the tooth.
    pub tooth_figures: ToothFigures,
    /// A bench's height over the track ground, m.
    pub bench_m: Option<f64>,
    /// Whether the heading means something.
    pub on_site: bool,
    /// Units for show.
    pub units: Units,
}

/// The machine in its pose, for the drawings.
///
/// - Frame: `Level`.
///
/// # Errors
///
/// `T001` unknown tool; `T010`, `T011` a linkage that cannot close there.
pub(crate) fn picture(sitter: &Sitter<'_>) -> Result<MachineView, Faults> {
    let Sitter {
        machine,
        choice,
        set,
        ..
    } = sitter;
    let measured = machine.front(choice)?;
    let front = measured.values();
    let pose = front_pose(&front, &set.joints);
    let level: Transform<Level, House> = set.lean.level_from_house();
    let placed = placed_parts(machine, choice, &set.joints)?;
    let mut parts = parts_of(machine, &placed, &level);
    outline_bucket(machine, choice, &pose, &level, &mut parts)?;
    let pins = pins(machine, set, &front, &pose, &level)?;
    let tooth = at(&level, pose.tooth_house);
    let mut chain_m: Vec<[f64; 3]> = ["A", "M", "B", "C"]
        .iter()
        .filter_map(|l| pin_at(&pins, l))
        .collect();
    chain_m.push(tooth);
    let ground = |x: f64| at(&level, Point::metres(x, 0.0, 0.0));
    let half_m = machine.sheet().tracks.length.value / 2.0;
    let ends = [ground(-half_m), ground(half_m)];
    let window = |flat: &dyn Fn(&Part) -> Vec<Vec<[f64; 2]>>, tooth: [f64; 2]| {
        let points = parts.iter().flat_map(flat).flatten().chain([tooth]);
        Window::around(points).map(|w| in_steps(&w))
    };
    let section_window = window(&Part::side, [tooth[0], tooth[2]]);
    let plan_window = window(&Part::above, [tooth[0], tooth[1]]);
    Ok(MachineView {
        name: machine.sheet().id.clone(),
        teeth: teeth(sitter, &pose, &level)?,
        dimensions: dimensions(sitter, &measured, &pins),
        angles: angles(sitter, &front, &pins),
        ground_m: Some(ends.map(|p| [p[0], p[2]])),
        levels: sitter
            .bench_m
            .map(|z_m| LevelLine {
                name: "bench".to_owned(),
                z_m,
            })
            .into_iter()
            .collect(),
        tail_radius_m: Some(machine.sheet().house.tail_radius.value),
        north_rad: sitter.on_site.then_some(set.heading_rad),
        parts,
        pins,
        chain_m,
        section_window,
        plan_window,
        ..MachineView::default()
    })
}

fn at(level: &Transform<Level, House>, p: Point<House>) -> [f64; 3] {
    let q = *level * p;
    [q.x(), q.y(), q.z()]
}

/// Edges out to whole steps, so that a moving pose does not make the drawing jump at every move.
fn in_steps(window: &Window) -> Window {
    const STEP_M: f64 = 2.0;
    Window {
        left_m: (window.left_m / STEP_M).floor() * STEP_M,
        down_m: (window.down_m / STEP_M).floor() * STEP_M,
        right_m: (window.right_m / STEP_M).ceil() * STEP_M,
        up_m: (window.up_m / STEP_M).ceil() * STEP_M,
    }
}

fn parts_of(
    machine: &Machine,
    placed: &[PlacedPart],
    level: &Transform<Level, House>,
) -> Vec<Part> {
    let mut parts: Vec<Part> = Vec::new();
    for one in placed {
        let kind = kind_of(machine, one);
        let solid = match &one.shape {
            PlacedShape::Capsule { from, to, radius_m } => {
                Solid::capsule(at(level, *from), at(level, *to), *radius_m)
            }
            PlacedShape::Hull(corners) => Solid {
                corners_m: corners.iter().map(|p| at(level, *p)).collect(),
                radius_m: 0.0,
            },
        };
        let whole = matches!(kind, PartKind::Boom | PartKind::Stick);
        let same = |part: &&mut Part| part.kind == kind && (whole || part.name == one.part);
        match parts.iter_mut().find(same) {
            Some(part) => part.solids.push(solid),
            None => parts.push(Part {
                kind,
                name: if whole {
                    kind_word(kind).to_owned()
                } else {
                    one.part.clone()
                },
                solids: vec![solid],
                outline_m: Vec::new(),
            }),
        }
    }
    parts
}

fn kind_word(kind: PartKind) -> &'static str {
    match kind {
        PartKind::Boom => "boom",
        PartKind::Stick => "stick",
        PartKind::Track => "track",
        PartKind::House => "house",
        PartKind::Counterweight => "counterweight",
        PartKind::Cab => "cab",
        PartKind::Cylinder => "cylinder",
        PartKind::Linkage => "linkage",
        PartKind::Coupler => "coupler",
        PartKind::Tilt => "tilt",
        PartKind::Bucket => "bucket",
        PartKind::Other => "part",
    }
}

/// What a part is: by its shape where that says it, else by the link it moves with and its name.
fn kind_of(machine: &Machine, placed: &PlacedPart) -> PartKind {
    let claimed = machine
        .sheet()
        .solids
        .iter()
        .find(|solid| solid.part == placed.part);
    match claimed.map(|solid| &solid.shape) {
        Some(ClaimedShape::AlongCylinder { .. }) => return PartKind::Cylinder,
        Some(ClaimedShape::AlongLinkage { .. }) => return PartKind::Linkage,
        Some(ClaimedShape::Sector { .. }) => return PartKind::Counterweight,
        Some(_) | None => {}
    }
    match placed.link {
        Link::Tracks => PartKind::Track,
        Link::House if placed.part.contains("cab") => PartKind::Cab,
        Link::House if placed.part.contains("counterweight") => PartKind::Counterweight,
        Link::House => PartKind::House,
        Link::Post | Link::Boom | Link::BoomUpper => PartKind::Boom,
        Link::Stick => PartKind::Stick,
        Link::Idler | Link::BucketLink => PartKind::Linkage,
        Link::Ear if placed.part.starts_with("tilt") => PartKind::Tilt,
        Link::Ear => PartKind::Coupler,
        Link::Tilt => PartKind::Tilt,
        Link::Bucket => PartKind::Bucket,
    }
}

/// The bucket's own outline, which its hull hides.
fn outline_bucket(
    machine: &Machine,
    choice: &ToolChoice,
    pose: &FrontPose,
    level: &Transform<Level, House>,
    parts: &mut [Part],
) -> Result<(), Fault> {
    let bucket = machine.bucket(&choice.bucket)?;
    let name = format!("bucket {}", bucket.id);
    if let Some(part) = parts.iter_mut().find(|part| part.name == name) {
        part.outline_m = bucket
            .outline_m
            .iter()
            .map(|p| {
                at(
                    level,
                    pose.house_from_bucket * Point::<Bucket>::metres(p[0], 0.0, p[1]),
                )
            })
            .map(|p| [p[0], p[2]])
            .collect();
    }
    Ok(())
}

fn pins(
    machine: &Machine,
    set: &SetPose,
    front: &Front<f64>,
    pose: &FrontPose,
    level: &Transform<Level, House>,
) -> Result<Vec<Pin>, Fault> {
    let linkage = machine.linkage_pose(set.joints.bucket)?;
    let stick = |p: [f64; 2]| {
        at(
            level,
            pose.house_from_stick * Point::metres(p[0], 0.0, p[1]),
        )
    };
    let mut pins = vec![("A", at(level, pose.house_from_boom.origin()))];
    match front.boom {
        Boom::Mono { .. } => {}
        Boom::TwoPiece { .. } | Boom::Offset { .. } => {
            pins.push(("M", at(level, pose.house_from_boom_upper.origin())));
        }
    }
    pins.extend([
        ("B", at(level, pose.house_from_stick.origin())),
        ("C", at(level, pose.house_from_ear.origin())),
        ("D", stick(linkage.d_m)),
        ("E", stick(linkage.e_m)),
        ("F", stick(machine.linkage().pivot_m)),
    ]);
    Ok(pins
        .into_iter()
        .map(|(letter, at_m)| Pin {
            letter: letter.to_owned(),
            at_m,
        })
        .collect())
}

fn pin_at(pins: &[Pin], letter: &str) -> Option<[f64; 3]> {
    pins.iter()
        .find(|pin| pin.letter == letter)
        .map(|pin| pin.at_m)
}

/// All tooth points; the one steered by first, with its figures.
fn teeth(
    sitter: &Sitter<'_>,
    pose: &FrontPose,
    level: &Transform<Level, House>,
) -> Result<Vec<ToothPoint>, Fault> {
    let bucket = sitter.machine.bucket(&sitter.choice.bucket)?;
    let mut teeth: Vec<ToothPoint> = bucket
        .teeth
        .iter()
        .map(|tooth| {
            let p = Point::<Bucket>::metres(tooth.at.x.value, tooth.at.y.value, tooth.at.z.value);
            ToothPoint {
                name: tooth.name.clone(),
                at_m: at(level, pose.house_from_bucket * p),
                figures: Vec::new(),
            }
        })
        .collect();
    teeth.sort_by_key(|tooth| tooth.name != sitter.choice.tooth);
    if let Some(first) = teeth.first_mut() {
        first.figures.clone_from(&sitter.tooth_figures);
    }
    Ok(teeth)
}

fn dimensions(sitter: &Sitter<'_>, front: &Front<Measured>, pins: &[Pin]) -> Vec<Dimension> {
    let kind = sitter.units.length();
    let mut found = Vec::new();
    let mut along = |from: &str, to: &str, length: Measured| {
        if let (Some(from_m), Some(to_m)) = (pin_at(pins, from), pin_at(pins, to)) {
            found.push(Dimension {
                view: View::Section,
                way: Way::Along,
                from_m,
                to_m,
                name: format!("{from}\u{2013}{to}"),
                length,
                kind,
            });
        }
    };
    match front.boom {
        Boom::Mono { length_m } => along("A", "B", length_m),
        Boom::TwoPiece { lower_m, upper_m } => {
            along("A", "M", lower_m);
            along("M", "B", upper_m);
        }
        Boom::Offset { upper_m, .. } => along("M", "B", upper_m),
    }
    along("B", "C", front.stick_m);
    along("C", "D", front.linkage.ear_m);
    along("D", "E", front.linkage.link_m);
    along("E", "F", front.linkage.idler_m);
    let tail = sitter.machine.sheet().house.tail_radius;
    found.push(Dimension {
        view: View::Plan,
        way: Way::Along,
        from_m: [0.0; 3],
        to_m: [-tail.value, 0.0, 0.0],
        name: "tail".to_owned(),
        length: tail,
        kind,
    });
    found
}

fn angles(sitter: &Sitter<'_>, front: &Front<f64>, pins: &[Pin]) -> Vec<JointAngle> {
    let q = &sitter.set.joints;
    let gravity = sitter.set.lean.in_boom_plane(q.post);
    let mut from_rad = gravity.apparent_pitch;
    let mut found = Vec::new();
    for joint in joints_fitted(front) {
        let letter = match joint {
            Joint::Boom => "A",
            Joint::BoomUpper => "M",
            Joint::Stick => "B",
            Joint::Bucket => "C",
            Joint::Swing | Joint::Post | Joint::Offset | Joint::Tilt | Joint::Rotation => continue,
        };
        let angle_rad = q.get(joint);
        if let Some(at_m) = pin_at(pins, letter) {
            found.push(JointAngle {
                name: joint.word().to_owned(),
                at_m,
                from_rad,
                angle: Measured {
                    value: angle_rad,
                    sd: (sitter.joint_sds_rad)(joint),
                },
                outside: sitter.machine.beyond_range(joint, angle_rad).is_some(),
            });
        }
        from_rad += angle_rad;
    }
    found
}
