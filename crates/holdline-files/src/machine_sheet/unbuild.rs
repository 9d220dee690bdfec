//! From a claim back to the keys and values of a sheet: the mirror of `build.rs`.

use holdline::machine::claim::{
    ClaimedAntenna, ClaimedBody, ClaimedBoom, ClaimedBoomKind, ClaimedBucket, ClaimedCamera,
    ClaimedCylinder, ClaimedLinkage, ClaimedMachine, ClaimedMass, ClaimedRange, ClaimedSensor,
    ClaimedShape, ClaimedSolid, ClaimedTilt, CylinderPin, LinkageBranch,
};
use holdline_geom::measured::Measured;

use super::fields::{FORMAT, VERSION};
use super::words::{
    BOOM_KINDS, BoomWord, CYLINDER_SIDES, JOINTS, LINKAGE_MEMBERS, LINKS, SENSOR_KINDS,
};
use crate::document::node::{Node, Value};
use crate::document::table::word_for;
use crate::document::units::Units;

/// The sheet of a claim, stated in these units.
pub fn machine(m: &ClaimedMachine, units: Units) -> Node {
    let node = Node::default()
        .with("format", text(FORMAT))
        .with("version", Value::Number(f64::from(VERSION)))
        .with("units", stated(units))
        .with("machine", head(m))
        .with("house", house(m))
        .with("tracks", tracks(m))
        .with("boom", boom(&m.boom))
        .with(
            "stick",
            inside(Node::default().with("length", measured(m.stick.length))),
        )
        .with("linkage", linkage(&m.linkage))
        .with("cylinder", list(&m.cylinders, cylinder))
        .with("range", list(&m.ranges, range))
        .with("coupler", list(&m.couplers, coupler))
        .with("tilt", list(&m.tilts, tilt))
        .with("bucket", list(&m.buckets, bucket))
        .with("solid", list(&m.solids, solid))
        .with("mass", list(&m.masses, mass))
        .with("sensor", list(&m.sensors, sensor))
        .with("antenna", list(&m.antennas, antenna))
        .with("camera", list(&m.cameras, camera));
    let heading = |offset| inside(Node::default().with("offset", measured(offset)));
    let node = node.with_some("heading", m.heading_offset.map(heading));
    match &m.swing_post {
        Some(post) => node.with(
            "swing_post",
            inside(
                Node::default()
                    .with("at", Value::Space(post.at))
                    .with("foot", Value::Space(post.foot)),
            ),
        ),
        None => node,
    }
}

fn stated(units: Units) -> Value {
    inside(
        Node::default()
            .with("length", text(units.length))
            .with("angle", text(units.angle))
            .with("mass", text(units.mass)),
    )
}

fn head(m: &ClaimedMachine) -> Value {
    inside(
        Node::default()
            .with("id", text(&m.id))
            .with_some("note", words(&m.note))
            .with_some("measured_by", words(&m.measured.who))
            .with_some("measured_on", words(&m.measured.on))
            .with_some("measured_with", words(&m.measured.with))
            .with_some("mass", m.mass_kg.map(measured)),
    )
}

fn house(m: &ClaimedMachine) -> Value {
    inside(
        Node::default()
            .with("tail_radius", measured(m.house.tail_radius))
            .with(
                "tail_half_angle",
                Value::Number(m.house.tail_half_angle_rad),
            )
            .with_some("eye", m.house.eye.map(Value::Space)),
    )
}

fn tracks(m: &ClaimedMachine) -> Value {
    inside(
        Node::default()
            .with("length", measured(m.tracks.length))
            .with("gauge", measured(m.tracks.gauge))
            .with("shoe_width", measured(m.tracks.shoe_width))
            .with("height", measured(m.tracks.height)),
    )
}

fn boom(b: &ClaimedBoom) -> Value {
    let (kind, parts): (BoomWord, &[(&'static str, Measured)]) = match b.kind {
        ClaimedBoomKind::Mono { length } => (BoomWord::Mono, &[("length", length)]),
        ClaimedBoomKind::TwoPiece { lower, upper } => {
            (BoomWord::TwoPiece, &[("lower", lower), ("upper", upper)])
        }
        ClaimedBoomKind::Offset { lower, link, upper } => (
            BoomWord::Offset,
            &[("lower", lower), ("link", link), ("upper", upper)],
        ),
    };
    let node = Node::default()
        .with("kind", text(word_for(&BOOM_KINDS, &kind)))
        .with_some("foot", b.foot.map(Value::Space));
    inside(parts.iter().fold(node, |node, (key, length)| {
        node.with(key, measured(*length))
    }))
}

fn linkage(l: &ClaimedLinkage) -> Value {
    let branch = match l.branch {
        LinkageBranch::Right => 1.0,
        LinkageBranch::Left => -1.0,
    };
    inside(
        Node::default()
            .with("idler_pivot", Value::Plane(l.idler_pivot))
            .with("idler", measured(l.idler))
            .with("link", measured(l.link))
            .with("ear", measured(l.ear))
            .with("branch", Value::Number(branch)),
    )
}

fn cylinder(c: &ClaimedCylinder) -> Node {
    Node::default()
        .with("moves", text(word_for(&JOINTS, &c.moves)))
        .with("base", pin(&c.base))
        .with("rod", pin(&c.rod))
        .with_some("side", c.side.map(|s| text(word_for(&CYLINDER_SIDES, &s))))
        .with("retracted", measured(c.retracted))
        .with("extended", measured(c.extended))
        .with("stroke_tolerance", Value::Number(c.stroke_tolerance_m))
        .with("count", Value::Number(f64::from(c.count)))
        .with_some("bore", c.bore_m.map(Value::Number))
        .with_some("rod_diameter", c.rod_diameter_m.map(Value::Number))
        .with_some("mass_each", c.mass_each_kg.map(Value::Number))
}

fn pin(pin: &CylinderPin) -> Value {
    match pin {
        CylinderPin::On { link, at } => inside(
            Node::default()
                .with("link", text(word_for(&LINKS, link)))
                .with_point([at.x, at.z]),
        ),
        CylinderPin::LinkageE => text("E"),
    }
}

fn range(r: &ClaimedRange) -> Node {
    Node::default()
        .with("joint", text(word_for(&JOINTS, &r.joint)))
        .with("min", Value::Number(r.min_rad))
        .with("max", Value::Number(r.max_rad))
        .with("tolerance", Value::Number(r.tolerance_rad))
}

fn with_body(node: Node, body: &ClaimedBody) -> Node {
    node.with_some("outline", plane_line(&body.outline_m))
        .with_some("half_width", body.half_width_m.map(Value::Number))
        .with_some("mass", body.mass.map(measured))
        .with_some("centre", body.centre_m.map(numbers))
}

fn coupler(c: &holdline::machine::claim::ClaimedCoupler) -> Node {
    let node = Node::default()
        .with("id", text(&c.id))
        .with("front_pin", Value::Plane(c.front_pin))
        .with("rotation", measured(c.rotation));
    with_body(node, &c.body)
}

fn tilt(t: &ClaimedTilt) -> Node {
    let rotation = t.rotation.as_ref().map(|r| {
        inside(
            Node::default()
                .with("axis_at", Value::Space(r.axis_at))
                .with("axis_angle", measured(r.axis_angle)),
        )
    });
    let node = Node::default()
        .with("id", text(&t.id))
        .with("axis_at", Value::Space(t.axis_at))
        .with("axis_angle", measured(t.axis_angle))
        .with_some("rotation", rotation)
        .with("front_pin", Value::Space(t.front_pin))
        .with("bucket_rotation", measured(t.bucket_rotation));
    with_body(node, &t.body)
}

fn bucket(b: &ClaimedBucket) -> Node {
    let tooth = |t: &holdline::machine::claim::ClaimedTooth| {
        Node::default()
            .with("name", text(&t.name))
            .with_point([t.at.x, t.at.y, t.at.z])
    };
    let edge = (!b.edge_m.is_empty()).then(|| Value::SpaceLine(b.edge_m.clone()));
    Node::default()
        .with("id", text(&b.id))
        .with_some("note", words(&b.note))
        .with("width", measured(b.width))
        .with("pin_spacing", measured(b.pin_spacing))
        .with("tooth", list(&b.teeth, tooth))
        .with_some("edge", edge)
        .with("heel", Value::Plane(b.heel))
        .with_some("outline", plane_line(&b.outline_m))
        .with_some("eye", b.eye.map(Value::Plane))
        .with_some("inner_width", b.inner_width_m.map(Value::Number))
        .with_some("side_profile_inner", plane_line(&b.side_profile_inner_m))
        .with_some("load_centre", b.load_centre_m.map(numbers))
        .with_some("mass", b.mass.map(measured))
        .with_some("centre", b.centre_m.map(numbers))
}

fn solid(s: &ClaimedSolid) -> Node {
    let (key, shape) = shape(&s.shape);
    Node::default()
        .with("part", text(&s.part))
        .with("link", text(word_for(&LINKS, &s.link)))
        .with(key, inside(shape))
}

fn shape(shape: &ClaimedShape) -> (&'static str, Node) {
    let n = Node::default();
    match shape {
        ClaimedShape::Capsule {
            from_m,
            to_m,
            radius_m,
        } => (
            "capsule",
            n.with("from", numbers(*from_m))
                .with("to", numbers(*to_m))
                .with("radius", Value::Number(*radius_m)),
        ),
        ClaimedShape::Box { min_m, max_m } => (
            "box",
            n.with("min", numbers(*min_m)).with("max", numbers(*max_m)),
        ),
        ClaimedShape::Prism {
            outline_m,
            y_m,
            half_width_m,
        } => (
            "prism",
            n.with("outline", Value::PlaneLine(outline_m.clone()))
                .with("y", Value::Number(*y_m))
                .with("half_width", Value::Number(*half_width_m)),
        ),
        ClaimedShape::Sector {
            radius_m,
            half_angle_rad,
            z_min_m,
            z_max_m,
        } => (
            "sector",
            n.with("radius", Value::Number(*radius_m))
                .with("half_angle", Value::Number(*half_angle_rad))
                .with("z", numbers([*z_min_m, *z_max_m])),
        ),
        ClaimedShape::AlongCylinder {
            moves,
            y_m,
            radius_m,
        } => (
            "along_cylinder",
            n.with("moves", text(word_for(&JOINTS, moves)))
                .with("y", Value::Numbers(y_m.clone()))
                .with("radius", Value::Number(*radius_m)),
        ),
        ClaimedShape::AlongLinkage { member, radius_m } => (
            "along_linkage",
            n.with("member", text(word_for(&LINKAGE_MEMBERS, member)))
                .with("radius", Value::Number(*radius_m)),
        ),
    }
}

fn mass(m: &ClaimedMass) -> Node {
    Node::default()
        .with("part", text(&m.part))
        .with("link", text(word_for(&LINKS, &m.link)))
        .with("mass", measured(m.mass))
        .with("centre", numbers(m.centre_m))
}

fn sensor(s: &ClaimedSensor) -> Node {
    Node::default()
        .with("id", text(&s.id))
        .with("link", text(word_for(&LINKS, &s.link)))
        .with("kind", text(word_for(&SENSOR_KINDS, &s.kind)))
        .with("offset", measured(s.offset))
        .with_some("roll_offset", s.roll_offset.map(measured))
        .with("mount", Value::Number(s.mount_rad))
        .with("sign", Value::Number(s.sign))
        .with_some("sd", s.sd_rad.map(Value::Number))
        .with_some("latency_ms", s.latency_s.map(Value::Number))
}

fn antenna(a: &ClaimedAntenna) -> Node {
    Node::default()
        .with("id", text(&a.id))
        .with("lever", Value::Space(a.lever))
}

fn camera(c: &ClaimedCamera) -> Node {
    Node::default()
        .with("id", text(&c.id))
        .with("at", Value::Space(c.at))
        .with("yaw", Value::Number(c.yaw_rad))
        .with("pitch_down", Value::Number(c.pitch_down_rad))
        .with("hfov", Value::Number(c.hfov_rad))
        .with("vfov", Value::Number(c.vfov_rad))
}

fn text(text: &str) -> Value {
    Value::Text(text.to_owned())
}

fn words(words: &str) -> Option<Value> {
    (!words.is_empty()).then(|| text(words))
}

fn measured(measured: Measured) -> Value {
    Value::Measured(measured)
}

fn inside(node: Node) -> Value {
    Value::Inside(node)
}

fn list<T>(items: &[T], one: impl Fn(&T) -> Node) -> Value {
    Value::List(items.iter().map(one).collect())
}

fn numbers<const N: usize>(numbers: [f64; N]) -> Value {
    Value::Numbers(numbers.to_vec())
}

fn plane_line(points: &[[f64; 2]]) -> Option<Value> {
    (!points.is_empty()).then(|| Value::PlaneLine(points.to_vec()))
}
