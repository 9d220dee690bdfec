//! The list of what may be wrong, made for a machine, its tool and these shots.

use super::hypothesis::{Hypothesis, Kind, Sized};
use super::scene::{Change, Direction, Scene};
use super::slips::slips;
use super::told::{NotTried, Unit};
use crate::machine::claim::{ClaimedMachine, Link, SensorKind};
use crate::machine::front::ToolChoice;
use crate::machine::spans;
use crate::tooth::model::ToothModel;
use crate::tooth::place::GeometryName as Name;
use crate::tooth::plan::Given;
use holdline_geom::fault::Span;

/// The list, and what could not be put on it.
#[derive(Debug, Default)]
pub(super) struct List {
    pub hypotheses: Vec<Hypothesis>,
    pub not_tried: Vec<NotTried>,
}

/// Makes the list. Nothing is on it that these shots could not show at all.
pub(super) fn all(scene: &mut Scene) -> List {
    let mut list = List::default();
    // First, because it speaks for the antennas' and the foot pin's height as well.
    survey(scene, &mut list);
    if scene.has_readings {
        sensors(scene, &mut list);
        house_and_heading(scene, &mut list);
        lengths(scene, &mut list);
        tooth(scene, &mut list);
        tools(scene, &mut list);
        typed(scene, &mut list);
    } else {
        list.not_tried.push(NotTried {
            words: "sensors, lengths, tooth, bucket, coupler, heading, lever arms".to_owned(),
            needs:
                "what the sensors read with every shot: without the pose nobody can tell them apart"
                    .to_owned(),
        });
    }
    motion(scene, &mut list);
    one_shot(scene, &mut list);
    list
}

/// What stands in one direction, said in two ways.
struct Said<'a> {
    name: &'a str,
    unit: Unit,
    plus: String,
    minus: String,
    usual: f64,
}

fn sized(direction: Direction, said: Said) -> Sized {
    Sized {
        direction,
        name: said.name.to_owned(),
        unit: said.unit,
        plus: said.plus,
        minus: said.minus,
        usual: said.usual,
    }
}

fn figures(shares: Vec<(Name, f64)>) -> Direction {
    Direction::Figures {
        shares,
        heading: 0.0,
    }
}

impl List {
    fn add(&mut self, id: &str, group: &str, words: &str, look_at: &str, sizes: Vec<Sized>) {
        self.hypotheses.push(Hypothesis {
            id: id.to_owned(),
            group: group.to_owned(),
            words: words.to_owned(),
            look_at: look_at.to_owned(),
            kind: Kind::Sized(sizes),
        });
    }

    fn add_given(&mut self, id: &str, words: &str, look_at: &str, change: Change, says: String) {
        self.hypotheses.push(Hypothesis {
            id: id.to_owned(),
            group: id.to_owned(),
            words: words.to_owned(),
            look_at: look_at.to_owned(),
            kind: Kind::Given {
                change,
                says,
                picked: false,
            },
        });
    }
}

/// Largest size of an angle that a knock or a bad calibration usually leaves: 5°.
const USUAL_ANGLE_RAD: f64 = 5.0 * std::f64::consts::PI / 180.0;

fn sensors(scene: &Scene, list: &mut List) {
    let sheet = scene.model().machine().sheet().clone();
    for (name, _) in &scene.figures {
        let Name::Offset { sensor_idx } = *name else {
            continue;
        };
        let sensor = &sheet.sensors[sensor_idx];
        if sensor.kind.is_house() {
            continue;
        }
        let id = format!("sensor[{}].offset", sensor.id);
        let place = match (sensor.link, sensor.kind) {
            (Link::Boom, _) => "boom sensor",
            (Link::BoomUpper, _) => "upper boom sensor",
            (Link::Stick, _) => "stick sensor",
            (Link::Idler, _) => "bucket sensor (on the idler)",
            (Link::Ear, _) => "bucket sensor",
            (Link::Post, _) => "swing post sensor",
            (Link::Tilt, _) => "tilt sensor",
            (Link::Bucket, _) => "rotation sensor",
            (Link::House | Link::Tracks | Link::BucketLink, _) => "sensor",
        };
        let reads = match sensor.kind {
            SensorKind::JointEncoder => "encoder turned on its shaft",
            SensorKind::TwoAxis
            | SensorKind::SingleAxis
            | SensorKind::HouseEuler
            | SensorKind::HouseTilts => "knocked or loose",
        };
        let said = Said {
            name: &sensor.id,
            unit: Unit::Radian,
            plus: format!("{} reads {{}} too high", sensor.id),
            minus: format!("{} reads {{}} too low", sensor.id),
            usual: USUAL_ANGLE_RAD,
        };
        list.add(
            &id,
            &id,
            &format!("{place} {} {reads}", sensor.id),
            "its mounting face, screws and bracket; its angle against a hand inclinometer; move only that link and watch the difference turn with it",
            vec![sized(figures(vec![(*name, -1.0)]), said)],
        );
    }
}

fn house_and_heading(scene: &Scene, list: &mut List) {
    let sheet = scene.model().machine().sheet().clone();
    for (name, _) in &scene.figures {
        let (sensor_idx, word, plus, minus) = match *name {
            Name::Offset { sensor_idx } => (sensor_idx, "pitch", "nose up", "nose down"),
            Name::RollOffset { sensor_idx } => {
                (sensor_idx, "roll", "right side down", "left side down")
            }
            _ => continue,
        };
        let sensor = &sheet.sensors[sensor_idx];
        if !sensor.kind.is_house() {
            continue;
        }
        let id = scene.model().geometry_name(*name);
        let said = Said {
            name: word,
            unit: Unit::Radian,
            plus: format!("house {word} reads {{}} too far {plus}"),
            minus: format!("house {word} reads {{}} too far {minus}"),
            usual: USUAL_ANGLE_RAD,
        };
        list.add(
            &id,
            &id,
            &format!("house {word} off ({})", sensor.id),
            "the house sensor's mounting; read the house at a heading and 180° from it: half the sum is the offset",
            vec![sized(figures(vec![(*name, -1.0)]), said)],
        );
    }
    heading(scene, &sheet, list);
    levers(scene, &sheet, list);
    foot(scene, list);
}

/// Antennas whose lever arms move some tooth.
fn antennas_used(scene: &Scene, sheet: &ClaimedMachine) -> Vec<usize> {
    (0..sheet.antennas.len())
        .filter(|idx| {
            scene.figures.iter().any(
                |(name, _)| matches!(name, Name::Lever { antenna_idx, .. } if antenna_idx == idx),
            )
        })
        .collect()
}

/// The boom plane against what gives the heading: a heading as read is turned; a pair of antennas turns
/// about its middle, which stays.
fn heading(scene: &Scene, sheet: &ClaimedMachine, list: &mut List) {
    let used = antennas_used(scene, sheet);
    if used.is_empty() {
        return;
    }
    let n = used.len() as f64;
    let lever = |idx: usize| {
        let lever = &sheet.antennas[idx].lever;
        [lever.x.value, lever.y.value]
    };
    let middle = used.iter().fold([0.0, 0.0], |sum, idx| {
        let [x, y] = lever(*idx);
        [sum[0] + x / n, sum[1] + y / n]
    });
    let mut shares = Vec::new();
    if 1 < used.len() {
        for &antenna_idx in &used {
            let [x, y] = lever(antenna_idx);
            shares.push((
                Name::Lever {
                    antenna_idx,
                    axis: 0,
                },
                -(y - middle[1]),
            ));
            shares.push((
                Name::Lever {
                    antenna_idx,
                    axis: 1,
                },
                x - middle[0],
            ));
        }
    }
    let said = Said {
        name: "heading",
        unit: Unit::Radian,
        plus: "heading is {} too far clockwise".to_owned(),
        minus: "heading is {} too far anticlockwise".to_owned(),
        usual: USUAL_ANGLE_RAD,
    };
    list.add(
        "heading",
        "heading",
        "heading off: line of the antennas against the boom plane",
        "the antenna masts and their lever arms; whether meridian convergence and the localization's rotation are both in; near and far shots at one heading",
        vec![sized(
            Direction::Figures {
                shares,
                heading: 1.0,
            },
            said,
        )],
    );
}

/// Words of a figure along a body axis: what it is too much of, and the other way.
const ALONG: [(&str, &str, &str); 3] = [
    ("forward", "too far forward", "too far back"),
    ("left", "too far left", "too far right"),
    ("up", "too high", "too low"),
];

fn levers(scene: &Scene, sheet: &ClaimedMachine, list: &mut List) {
    let used = antennas_used(scene, sheet);
    for (axis, (along, plus, minus)) in ALONG.into_iter().enumerate() {
        let shares: Vec<(Name, f64)> = used
            .iter()
            .map(|&antenna_idx| (Name::Lever { antenna_idx, axis }, 1.0))
            .filter(|(name, _)| scene.figures.iter().any(|(figure, _)| figure == name))
            .collect();
        if shares.is_empty() {
            continue;
        }
        let id = format!("lever.{along}");
        let said = Said {
            name: "antennas' lever arm",
            unit: Unit::Metre,
            plus: format!("the antennas are {{}} {plus} on the sheet"),
            minus: format!("the antennas are {{}} {minus} on the sheet"),
            usual: 0.2,
        };
        list.add(
            &id,
            group_up(axis, &id),
            &format!("antennas' lever arm, {along}"),
            "whether a mast was bent or an antenna changed; measure the lever arm again by a turn of the house on its tracks",
            vec![sized(figures(shares), said)],
        );
    }
}

/// A shift of the heights, an antenna's height and the foot pin's height are one to every shot, but for the lean.
fn group_up(axis: usize, own: &str) -> &str {
    if axis == 2 { "up" } else { own }
}

fn foot(scene: &Scene, list: &mut List) {
    for (axis, (along, plus, minus)) in ALONG.into_iter().enumerate() {
        let letter = ["x", "y", "z"][axis];
        for pin in ["boom.foot", "swing_post.at", "swing_post.foot"] {
            let path = format!("{pin}.{letter}");
            let Some(name) = figure_named(scene, &path) else {
                continue;
            };
            let said = Said {
                name: "boom foot pin",
                unit: Unit::Metre,
                plus: format!("the boom foot pin is {{}} {plus} on the sheet"),
                minus: format!("the boom foot pin is {{}} {minus} on the sheet"),
                usual: 0.1,
            };
            list.add(
                &path,
                group_up(axis, &path),
                &format!("boom foot pin, {along}"),
                "the measure from the swing axis and the track ground to the boom foot pin",
                vec![sized(figures(vec![(name, 1.0)]), said)],
            );
        }
    }
}

fn figure_named(scene: &Scene, path: &str) -> Option<Name> {
    scene
        .figures
        .iter()
        .map(|(name, _)| *name)
        .find(|name| match name {
            Name::Front(own) => *own == path,
            Name::Offset { .. }
            | Name::RollOffset { .. }
            | Name::Lever { .. }
            | Name::HeadingOffset => false,
        })
}

/// Figures whose drift is looked for, with their words.
const LENGTHS: [(&str, &str, &str); 10] = [
    ("boom.length", "boom length AB", BOOM),
    ("boom.lower", "lower boom length", BOOM),
    ("boom.link", "offset link length", BOOM),
    ("boom.upper", "upper boom length", BOOM),
    (
        "stick.length",
        "stick length BC",
        "the stick's pins, centre to centre; the digits on the sheet",
    ),
    (
        "linkage.idler_pivot.x",
        "idler pivot F along the stick",
        LINKAGE,
    ),
    (
        "linkage.idler_pivot.z",
        "idler pivot F off the stick's line",
        LINKAGE,
    ),
    ("linkage.idler", "idler length FE", LINKAGE),
    ("linkage.link", "bucket link length ED", LINKAGE),
    ("linkage.ear", "ear length CD", LINKAGE),
];
const BOOM: &str =
    "the boom's pins, centre to centre; the digits on the sheet; a bent or changed boom";
const LINKAGE: &str = "the linkage's pins, centre to centre, on the side where they were measured; a curl over the full stroke";

fn lengths(scene: &Scene, list: &mut List) {
    for (path, words, look_at) in LENGTHS {
        let Some(name) = figure_named(scene, path) else {
            continue;
        };
        let said = Said {
            name: words,
            unit: Unit::Metre,
            plus: format!("{words} is {{}} too long on the sheet"),
            minus: format!("{words} is {{}} too short on the sheet"),
            usual: 0.1,
        };
        list.add(
            path,
            path,
            &format!("{words} wrong on the sheet"),
            look_at,
            vec![sized(figures(vec![(name, 1.0)]), said)],
        );
    }
}

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

fn tooth(scene: &Scene, list: &mut List) {
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

fn tools(scene: &mut Scene, list: &mut List) {
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
fn typed(scene: &Scene, list: &mut List) {
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

fn survey(scene: &Scene, list: &mut List) {
    let shift = |name: &'static str, along: [f64; 3], plus: &str, minus: &str| {
        sized(
            Direction::Shift(along),
            Said {
                name,
                unit: Unit::Metre,
                plus: plus.to_owned(),
                minus: minus.to_owned(),
                usual: 1.0,
            },
        )
    };
    let has = |axis: usize| scene.rows.iter().any(|(_, of)| *of == axis);
    if has(2) {
        list.add(
            "shift.up",
            "up",
            "heights shifted: control, base, geoid, antenna or prism height",
            "a rover or level on a control point; target height and prism constant; antenna and base height; the geoid of base and machine",
            vec![shift("shift in height", [0.0, 0.0, 1.0], "all heights are shown {} too high", "all heights are shown {} too low")],
        );
    }
    if has(0) && has(1) {
        list.add(
            "shift.plan",
            "shift.plan",
            "plan shifted: control, base or localization",
            "a rover on a control point; coordinates of the base and of the station; the localization in use",
            vec![
                shift("shift east", [1.0, 0.0, 0.0], "all is shown {} too far east", "all is shown {} too far west"),
                shift("shift north", [0.0, 1.0, 0.0], "and {} too far north", "and {} too far south"),
            ],
        );
        list.add_given(
            "survey.swapped",
            "easting and northing swapped",
            "the order of the columns in the survey's file",
            Change::SurveySwapped,
            "easting and northing of the survey stand in each other's place".to_owned(),
        );
    }
    feet(list);
}

/// 1 US survey foot in international feet: 1200/3937 m over 0.3048 m.
const SURVEY_FOOT: f64 = 1200.0 / 3937.0 / 0.3048;

fn feet(list: &mut List) {
    let look = "the unit named in the header of the survey's and the control's files: metre, international foot, US survey foot";
    let foot = 0.3048;
    for (id, factors, words, says) in [
        (
            "survey.feet",
            [foot; 3],
            "survey in feet",
            "the survey is in feet and was taken as metres",
        ),
        (
            "survey.metres",
            [1.0 / foot; 3],
            "survey turned from feet by mistake",
            "the survey was in metres and was turned from feet",
        ),
        (
            "survey.feet_up",
            [1.0, 1.0, foot],
            "elevations in feet",
            "the elevations of the survey are in feet and were taken as metres",
        ),
        (
            "survey.us_foot",
            [SURVEY_FOOT, SURVEY_FOOT, 1.0],
            "US survey foot and international foot mixed",
            "the survey was turned into metres by the international foot, the US survey foot was meant",
        ),
        (
            "survey.intl_foot",
            [1.0 / SURVEY_FOOT, 1.0 / SURVEY_FOOT, 1.0],
            "US survey foot and international foot mixed",
            "the survey was turned into metres by the US survey foot, the international foot was meant",
        ),
    ] {
        list.add_given(
            id,
            words,
            look,
            Change::SurveyScaled(factors),
            says.to_owned(),
        );
    }
}

fn motion(scene: &Scene, list: &mut List) {
    if scene.has_velocities() {
        let said = Said {
            name: "lag",
            unit: Unit::Second,
            plus: "what is shown is {} late".to_owned(),
            minus: "what is shown is {} early".to_owned(),
            usual: 2.0,
        };
        list.add(
            "late",
            "late",
            "time lag",
            "the same mark with the tooth at rest and sweeping; filters and latencies of the sensors",
            vec![sized(Direction::Late, said)],
        );
    } else {
        list.not_tried.push(NotTried {
            words: "time lag".to_owned(),
            needs: "shots with the tooth moving, and its speed".to_owned(),
        });
    }
    if scene.has_both_holds() {
        let said = Said {
            name: "play",
            unit: Unit::Metre,
            plus: "the tooth stands {} higher under load and hangs as much lower".to_owned(),
            minus: "the tooth stands {} lower under load and hangs as much higher, which play does not do".to_owned(),
            usual: 0.05,
        };
        list.add(
            "play",
            "play",
            "play in the pins",
            "rock the bucket on a mark, lifting and lowering; a dial gauge at each pin",
            vec![sized(Direction::Play, said)],
        );
    } else {
        list.not_tried.push(NotTried {
            words: "play in the pins".to_owned(),
            needs:
                "shots with the tooth standing on the ground, and others with the bucket hanging"
                    .to_owned(),
        });
    }
}

fn one_shot(scene: &Scene, list: &mut List) {
    if scene.n_shots() < 3 {
        return; // of two that disagree, nobody can say which
    }
    for shot_idx in 0..scene.n_shots() {
        let axes = scene
            .rows
            .iter()
            .filter(|(of, _)| *of == shot_idx)
            .map(|(_, axis)| *axis);
        let sizes = axes
            .map(|axis| {
                let word = ["east", "north", "up"][axis];
                let said = Said {
                    name: word,
                    unit: Unit::Metre,
                    plus: format!("{{}} too far {word}"),
                    minus: format!("{{}} too far {}", ["west", "south", "down"][axis]),
                    usual: f64::INFINITY,
                };
                sized(Direction::OneShot { shot_idx, axis }, said)
            })
            .collect();
        let name = scene.shot_name(shot_idx);
        let id = format!("shot[{name}]");
        list.add(
            &id,
            &id,
            &format!("shot {name} alone is off"),
            "repeat that shot: target height, prism constant, which tooth, which mark, fixed position or not",
            sizes,
        );
    }
}
