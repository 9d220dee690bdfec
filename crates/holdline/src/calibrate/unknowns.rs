//! Which figures a calibration finds: named one by one, or by a group.

use crate::machine::Machine;
use holdline_geom::fault::{Fault, Faults};

/// A group of figures, by a word.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Group {
    /// The word.
    pub name: &'static str,
    /// What is in it.
    pub what: &'static str,
}

/// All groups.
pub const GROUPS: &[Group] = &[
    group("sensors", "offsets of the sensors on links and joints"),
    group("house", "pitch and roll offset of the house sensor"),
    group("lengths", "boom and stick, pin to pin"),
    group("foot", "boom foot pin, and the swing post"),
    group("linkage", "idler pivot, idler, link and ear"),
    group("coupler", "front pin and turn of the coupler"),
    group("tilt", "axes and pins of the tilting device"),
    group("tooth", "tooth points of the bucket"),
    group("antennas", "lever arms of the antennas"),
    group("heading", "offset of a heading that is read"),
    group("all", "every figure"),
];

const fn group(name: &'static str, what: &'static str) -> Group {
    Group { name, what }
}

/// Whether a figure belongs to what was named: its own path, a path that it lies under, or a group.
pub(crate) fn is_named(names: &[String], path: &str, is_house: impl Fn(&str) -> bool) -> bool {
    names.iter().any(|name| {
        let under = path
            .strip_prefix(name.as_str())
            .is_some_and(|rest| rest.is_empty() || rest.starts_with('.'));
        under || in_group(name, path, &is_house)
    })
}

fn in_group(name: &str, path: &str, is_house: &impl Fn(&str) -> bool) -> bool {
    let starts = |words: &[&str]| words.iter().any(|word| path.starts_with(word));
    let sensor = || {
        let id = path.strip_prefix("sensor[")?;
        id.split_once(']').map(|(id, _)| id)
    };
    match name {
        "sensors" => sensor().is_some_and(|id| !is_house(id)),
        "house" => sensor().is_some_and(is_house),
        "lengths" => starts(&[
            "boom.length",
            "boom.lower",
            "boom.upper",
            "boom.link",
            "stick.length",
        ]),
        "foot" => starts(&["boom.foot", "swing_post"]),
        "linkage" => starts(&["linkage"]),
        "coupler" => starts(&["coupler["]),
        "tilt" => starts(&["tilt["]),
        "tooth" => starts(&["bucket["]),
        "antennas" => starts(&["antenna["]),
        "heading" => starts(&["heading"]),
        "all" => true,
        _ => false,
    }
}

/// That every name means something on this machine.
pub(crate) fn check_named(names: &[String], machine: &Machine) -> Result<(), Faults> {
    let sheet = machine.sheet();
    let is_house = |id: &str| is_house_sensor(machine, id);
    let paths: Vec<String> = sheet.figures().into_iter().map(|f| f.path).collect();
    let mut faults = Faults::none();
    for name in names {
        let one = std::slice::from_ref(name);
        let known = GROUPS.iter().any(|g| g.name == name);
        if !known && !paths.iter().any(|path| is_named(one, path, is_house)) {
            let groups: Vec<&str> = GROUPS.iter().map(|g| g.name).collect();
            faults.push(Fault::new(
                "C007",
                "solve",
                format!("{name:?}"),
                format!(
                    "the path of a figure on this sheet, such as boom.length, or one of {}",
                    groups.join(", ")
                ),
                "name what is to be found, or nothing for all that the observations touch",
            ));
        }
    }
    faults.or(())
}

/// Whether a sensor measures the house.
pub(crate) fn is_house_sensor(machine: &Machine, id: &str) -> bool {
    let mut sensors = machine.sheet().sensors.iter();
    sensors.any(|s| s.id == id && s.kind.is_house())
}
