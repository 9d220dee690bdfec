//! The list of what may be wrong, made for a machine, its tool and these shots.

use super::hypothesis::{Hypothesis, Kind, Sized};
use super::list_survey::{motion, one_shot, survey};
use super::list_tools::{tools, tooth, typed};
use super::scene::{Change, Direction, Scene};
use super::told::{NotTried, Unit};
use crate::machine::claim::{ClaimedMachine, Link, SensorKind};
use crate::tooth::place::GeometryName as Name;

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
pub(super) struct Said<'a> {
    pub name: &'a str,
    pub unit: Unit,
    pub plus: String,
    pub minus: String,
    pub usual: f64,
}

pub(super) fn sized(direction: Direction, said: Said) -> Sized {
    Sized {
        direction,
        name: said.name.to_owned(),
        unit: said.unit,
        plus: said.plus,
        minus: said.minus,
        usual: said.usual,
    }
}

pub(super) fn figures(shares: Vec<(Name, f64)>) -> Direction {
    Direction::Figures {
        shares,
        heading: 0.0,
    }
}

impl List {
    pub fn add(&mut self, id: &str, group: &str, words: &str, look_at: &str, sizes: Vec<Sized>) {
        self.hypotheses.push(Hypothesis {
            id: id.to_owned(),
            group: group.to_owned(),
            words: words.to_owned(),
            look_at: look_at.to_owned(),
            kind: Kind::Sized(sizes),
        });
    }

    pub fn add_given(
        &mut self,
        id: &str,
        words: &str,
        look_at: &str,
        change: Change,
        says: String,
    ) {
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
