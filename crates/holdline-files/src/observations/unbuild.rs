//! From the claim back to keys and values: the mirror of `build.rs`.

use holdline::calibrate::observations::{Observation, Observations, ObservedTool, Target, What};
use holdline_geom::measured::Measured;

use super::fields::{FORMAT, VERSION};
use crate::document::node::{Node, Value};
use crate::document::units::Units;
use crate::targets::target_word;

/// The document of a claim, stated in these units.
pub fn document(o: &Observations, units: Units) -> Node {
    Node::default()
        .with("format", text(FORMAT))
        .with("version", Value::Number(f64::from(VERSION)))
        .with_some("machine", words(&o.machine))
        .with("units", Value::Inside(stated(units)))
        .with_some("tool", tool(&o.tool).map(Value::Inside))
        .with(
            "observation",
            Value::List(o.rows.iter().map(observation).collect()),
        )
}

/// The section that states units of length and angle.
pub fn stated(units: Units) -> Node {
    Node::default()
        .with("length", text(units.length))
        .with("angle", text(units.angle))
}

/// The tool, where something is stated.
pub fn tool(t: &ObservedTool) -> Option<Node> {
    let node = Node::default()
        .with_some("coupler", t.coupler.as_deref().map(text))
        .with_some("tilt", t.tilt.as_deref().map(text))
        .with_some("bucket", words(&t.bucket));
    (node != Node::default()).then_some(node)
}

/// One observation. What the claim cannot tell apart is written the shorter way: a height alone as `level`,
/// a line straight down as `plumb`.
pub fn observation(o: &Observation) -> Node {
    let readings = (!o.readings.is_empty()).then(|| Value::Named(o.readings.clone()));
    what(&o.what)
        .with("name", text(&o.name))
        .with_some("pose", words(&o.pose))
        .with_some("stand", words(&o.stand))
        .with_some("setup", words(&o.setup))
        .with_some("readings", readings)
        .with_some("by", o.by.as_deref().map(text))
        .with_some("when", o.when.as_deref().map(text))
        .with_some("instrument", o.instrument.as_deref().map(text))
        .with_some("note", o.note.as_deref().map(text))
}

fn what(what: &What) -> Node {
    let n = |kind: &str, target: &Target| {
        Node::default()
            .with("kind", text(kind))
            .with("target", text(&target_word(target)))
    };
    match what {
        What::Shot { target, at_m } => {
            let kind = match at_m {
                [None, None, Some(_)] => "level",
                _ => "shot",
            };
            place(n(kind, target), at_m)
        }
        What::Touch { target, mark, sd_m } => n("touch", target)
            .with("mark", text(mark))
            .with_some("sd", sd_m.map(Value::Number)),
        What::Tape { from, to, length } => n("tape", from)
            .with("to", text(&target_word(to)))
            .with("length", Value::Measured(*length)),
        What::Slope { from, to, angle } if angle.value == -std::f64::consts::FRAC_PI_2 => {
            n("plumb", from)
                .with("to", text(&target_word(to)))
                .with_some("sd_angle", angle.sd.map(Value::Number))
        }
        What::Slope { from, to, angle } => n("slope", from)
            .with("to", text(&target_word(to)))
            .with("angle", Value::Measured(*angle)),
        What::HouseTurn { turn } => Node::default()
            .with("kind", text("house-turn"))
            .with("turn", Value::Measured(*turn)),
        What::SwingCircle { antenna, at_m } => {
            let target = Target::Antenna(antenna.clone());
            place(n("swing-circle", &target), at_m)
        }
        What::PinArc { pin, arc, at_m } => place(n("pin-arc", pin).with("arc", text(arc)), at_m),
    }
}

fn place(node: Node, at_m: &[Option<Measured>; 3]) -> Node {
    let [easting, northing, elevation] = at_m.map(|axis| axis.map(Value::Measured));
    node.with_some("easting", easting)
        .with_some("northing", northing)
        .with_some("elevation", elevation)
}

fn text(text: &str) -> Value {
    Value::Text(text.to_owned())
}

fn words(words: &str) -> Option<Value> {
    (!words.is_empty()).then(|| text(words))
}
