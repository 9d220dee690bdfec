//! What may hang on the machine and what may be mistyped on its sheet: tooth, tool, slips of the hand.

use super::hypothesis::{Hypothesis, Kind};
use super::list::{List, Said, figures, sized};
use super::scene::{Change, Scene};
use super::slips::slips;
use super::told::Unit;
use crate::machine::front::ToolChoice;
use crate::machine::spans;
use crate::tooth::model::ToothModel;
use crate::tooth::place::GeometryName as Name;
use crate::tooth::plan::Given;
use holdline_geom::fault::Span;

/// The way from pin C to the tip in the bucket's plane, of length 1; from the bucket's own pin with a tilting device.
fn tooth_way(model: &ToothModel) -> [f64; 2] {
    let front = model.geometry().front.values();
    let pin = match (&front.tilt, &front.coupler) {
        (None, Some(coupler)) => {
            let (sin, cos) = coupler.rotation_rad.sin_cos();
            let [x, z] = coupler.front_pin_m;
            [-(cos * x + sin * z), -(cos * z - sin * x)]
        }
        (Some(_), _) | (None, None) => [0.0, 0.0],
    };
    let way = [front.tooth_m[0] - pin[0], front.tooth_m[2] - pin[1]];
    let long = way[0].hypot(way[1]);
    if long < 0.05 {
        return [0.0, -1.0];
    }
    [way[0] / long, way[1] / long]
}

pub(super) fn tooth(scene: &Scene, list: &mut List) {
    let [x, z] = tooth_way(scene.model());
    let [tx, ty, tz] = ["tooth.x", "tooth.y", "tooth.z"].map(Name::Front);
    let said = |plus: &str, minus: &str, usual: f64| Said {
        name: "tooth point",
        unit: Unit::Metre,
        plus: plus.to_owned(),
        minus: minus.to_owned(),
        usual,
    };
    list.add(
        "tooth.along",
        "tooth.along",
        "tooth worn or changed",
        "the teeth: wear, a new set, another make; measure pin to tip",
        vec![sized(
            figures(vec![(tx, x), (tz, z)]),
            said(
                "the tooth is {} shorter than on the sheet",
                "the tooth is {} longer than on the sheet",
                0.15,
            ),
        )],
    );
    list.add(
        "tooth.across",
        "tooth.across",
        "tooth point off across the tooth: bent edge, coupler seat or its angle",
        "the coupler's seat and lock, the bucket's edge; the tooth point and the coupler's figures on the sheet",
        vec![sized(
            figures(vec![(tx, -z), (tz, x)]),
            said(
                "the tooth point is {} too far towards the outside of the curl on the sheet",
                "the tooth point is {} too far towards the cab on the sheet",
                0.15,
            ),
        )],
    );
    list.add(
        "tooth.sideways",
        "tooth.sideways",
        "tooth point off sideways",
        "which tooth was shot; the bucket's middle against the boom plane; worn bushes",
        vec![sized(
            figures(vec![(ty, 1.0)]),
            said(
                "the tooth point is {} too far left on the sheet",
                "the tooth point is {} too far right on the sheet",
                0.1,
            ),
        )],
    );
}

pub(super) fn tools(scene: &mut Scene, list: &mut List) {
    let model = scene.model().clone();
    let (sheet, choice) = (model.machine().sheet(), model.choice());
    let mut add = |scene: &mut Scene,
                   id: String,
                   other: ToolChoice,
                   words: &str,
                   look: &str,
                   says: String| {
        if scene.prepare(&other).is_ok() {
            list.add_given(&id, words, look, Change::Tool(other), says);
        }
    };
    for bucket in sheet.buckets.iter().filter(|b| b.id != choice.bucket) {
        let other = ToolChoice {
            bucket: bucket.id.clone(),
            ..choice.clone()
        };
        let says = format!(
            "bucket {} hangs on the machine, {} was chosen",
            bucket.id, choice.bucket
        );
        let id = format!("bucket[{}]", bucket.id);
        add(
            scene,
            id,
            other,
            "wrong bucket chosen",
            "which bucket hangs; touch with pin C: right there and wrong at the tooth says bucket",
            says,
        );
    }
    let couplers = sheet
        .couplers
        .iter()
        .map(|c| Some(c.id.clone()))
        .chain([None]);
    for coupler in couplers.filter(|c| *c != choice.coupler) {
        let (id, words, says) = match (&coupler, &choice.coupler) {
            (Some(there), None) => (
                format!("coupler[{there}]"),
                "coupler missing in the choice",
                format!("coupler {there} is on the machine, none was chosen"),
            ),
            (Some(there), Some(chosen)) => (
                format!("coupler[{there}]"),
                "wrong coupler chosen",
                format!("coupler {there} is on the machine, {chosen} was chosen"),
            ),
            (None, chosen) => (
                "coupler[none]".to_owned(),
                "coupler chosen that is not there",
                format!(
                    "the bucket hangs on the machine's own pins, coupler {} was chosen",
                    chosen.as_deref().unwrap_or_default()
                ),
            ),
        };
        let other = ToolChoice {
            coupler,
            ..choice.clone()
        };
        add(
            scene,
            id,
            other,
            words,
            "whether a coupler is on the machine, and which",
            says,
        );
    }
    if let Ok(bucket) = model.machine().bucket(&choice.bucket) {
        for tooth in bucket.teeth.iter().filter(|t| t.name != choice.tooth) {
            let other = ToolChoice {
                tooth: tooth.name.clone(),
                ..choice.clone()
            };
            let says = format!(
                "the {} tooth point was shot, {} was chosen",
                tooth.name, choice.tooth
            );
            let id = format!("tooth[{}]", tooth.name);
            add(
                scene,
                id,
                other,
                "wrong tooth point",
                "which tooth the prism stood on, seen from the seat; shoot the other corner",
                says,
            );
        }
    }
    let idler = model
        .plan()
        .is_ok_and(|plan| plan.bucket.gives == Given::Idler);
    if idler {
        list.add_given(
            "linkage.branch",
            "bucket linkage assembled the other way on the sheet",
            "the linkage beside its drawing, at one curl; the sheet's branch",
            Change::Branch,
            "the bucket linkage stands the other way than on the sheet".to_owned(),
        );
    }
}

/// Slips of the hand in every figure of the sheet that moves the tooth.
pub(super) fn typed(scene: &Scene, list: &mut List) {
    let model = scene.model();
    let mut values = Vec::new();
    model
        .geometry()
        .map(&mut |name, m| values.push((name, m.value)));
    for (name, value) in values {
        let Some((_, _)) = scene.figures.iter().find(|(figure, _)| *figure == name) else {
            continue;
        };
        let Some((own, span)) = plausible(name) else {
            continue;
        };
        let path = model.geometry_name(name);
        let is_length = span.unit == "m";
        let shown = if is_length { value } else { value.to_degrees() };
        for slip in slips(shown, is_length) {
            if span.check(&path, slip.meant).is_err() {
                continue;
            }
            let meant = if is_length {
                slip.meant
            } else {
                slip.meant.to_radians()
            };
            let unit = span.unit;
            let space = if is_length { " " } else { "" };
            list.hypotheses.push(Hypothesis {
                id: format!("{path}={}", round(slip.meant)),
                group: own.map_or_else(|| path.clone(), str::to_owned),
                words: format!("{path} mistyped"),
                look_at: format!("{path} on the sheet against the measuring notes"),
                kind: Kind::Given {
                    change: Change::Figure(name, meant),
                    says: format!(
                        "{path} is {shown}{space}{unit} on the sheet, {}{space}{unit} would fit: {}",
                        round(slip.meant), slip.words
                    ),
                    picked: true,
                },
            });
        }
    }
}

/// At most five places behind the point.
fn round(value: f64) -> f64 {
    (value * 1e5).round() / 1e5
}

/// The span in which a figure is plausible, and the group that its drift belongs to, where it has one of its own.
fn plausible(name: Name) -> Option<(Option<&'static str>, Span)> {
    let path = match name {
        Name::Front(path) => path,
        Name::Lever { axis, .. } => {
            return Some((if axis == 2 { Some("up") } else { None }, spans::LEVER));
        }
        Name::Offset { .. } | Name::RollOffset { .. } | Name::HeadingOffset => {
            return Some((None, spans::SENSOR_OFFSET));
        }
    };
    let span = match path {
        "boom.length" => spans::BOOM_LENGTH,
        "stick.length" => spans::STICK_LENGTH,
        "boom.lower" | "boom.link" | "boom.upper" => spans::BOOM_PART,
        "boom.foot.x" => spans::FOOT_FORWARD,
        "boom.foot.y" => spans::FOOT_SIDE,
        "boom.foot.z" => return Some((Some("up"), spans::FOOT_UP)),
        "linkage.idler_pivot.x" => spans::IDLER_PIVOT,
        "linkage.idler_pivot.z" => spans::IDLER_PIVOT_Z,
        "linkage.idler" | "linkage.link" | "linkage.ear" => spans::LINKAGE_LENGTH,
        "coupler.rotation"
        | "tilt.axis_angle"
        | "tilt.rotation.axis_angle"
        | "tilt.bucket_rotation" => spans::TOOL_ANGLE,
        "tooth.x" | "tooth.y" | "tooth.z" => spans::TOOTH_ALONG,
        path if path.starts_with("swing_post") => spans::FOOT_FORWARD,
        path if path.starts_with("coupler") || path.starts_with("tilt") => spans::COUPLER_PIN,
        _ => return None,
    };
    Some((None, span))
}
