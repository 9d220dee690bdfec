//! Terms there and back, and the text of every fault.

use holdline::calibrate::hand_over::terms::{ALL_UNITS, Axis};

use super::*;
use crate::document::schema::fits;
use crate::document::units::{METRIC, SI};

const SCHEMA: &str = include_str!("../../../../docs/reference/schema/terms.schema.json");
const PAGE: &str = include_str!("../../../../docs/reference/terms-file.md");
const EVERY: &str = include_str!("every_quantity.terms.toml");

fn good(text: &str) -> Terms {
    read_terms("t", text.as_bytes()).unwrap_or_else(|f| panic!("{f}\n{text}"))
}

#[test]
fn every_quantity_reads() {
    let terms = good(EVERY);
    assert_eq!(terms.system, "the display in the cab");
    assert_eq!(
        (terms.tool.bucket.as_str(), terms.tooth.as_str()),
        ("T75", "centre")
    );
    let of = |label: &str| terms.entries.iter().find(|e| e.label == label).unwrap();
    let boom = of("Boom");
    assert_eq!(boom.unit, EntryUnit::Millimetre);
    assert_eq!(
        (boom.resolution, boom.range),
        (Some(1.0), Some([1000.0, 12000.0]))
    );
    assert_eq!((boom.sign, boom.zero), (EntrySign::Same, 0.0));
    let path = "boom.length".to_owned();
    assert_eq!(boom.quantity, Quantity::Figure { path });
    let gl = || Target::Antenna("GL".to_owned());
    let back = of("Antenna back");
    // Metres, though it counts in feet.
    assert_eq!((back.sign, back.zero), (EntrySign::Turned, 0.15));
    assert_eq!(
        back.quantity,
        Quantity::Along {
            from: Target::BoomFoot,
            to: gl(),
            axis: Axis::Back,
        }
    );
    assert_eq!(
        of("Tooth angle").quantity,
        Quantity::Corner {
            from: Target::LinkPin,
            at: Target::StickBucket,
            to: Target::Tooth("centre".to_owned()),
        }
    );
    assert_eq!(of("Tooth angle").zero, 90_f64.to_radians());
    assert_eq!(
        of("House roll").quantity,
        Quantity::Reading {
            sensor: "S-house".to_owned(),
            channel: Channel::Roll,
            at_rad: 12.5_f64.to_radians(),
        }
    );
    assert_eq!(of("Boom sensor [level]").zero, (-1.25_f64).to_radians());
}

#[test]
fn the_demo_reads() {
    let demo = good(include_str!("../../../../demo/demo-23.terms.toml"));
    assert_eq!(good(&write_terms(&demo, METRIC)), demo);
}

#[test]
fn what_was_written_reads_back_equal() {
    let terms = good(EVERY);
    for units in [SI, METRIC] {
        let text = write_terms(&terms, units);
        assert_eq!(good(&text), terms, "{text}");
        fits::check(SCHEMA, &text, true);
    }
}

#[test]
fn the_words_of_units_and_axes_are_those_of_the_core() {
    for unit in ALL_UNITS {
        assert_eq!(word_for(&ENTRY_UNITS, &unit), unit.word());
    }
    for axis in &AXES {
        assert_eq!(axis.word, axis.means.word());
    }
}

#[track_caller]
fn check(changes: &[(&str, &str)], want: &str) {
    let mut text = EVERY.to_owned();
    for (old, new) in changes {
        assert!(text.contains(old), "the example has no {old:?}");
        text = text.replacen(old, new, 1);
    }
    match read_terms("t.toml", text.as_bytes()) {
        Ok(_) => panic!("it reads\n{text}"),
        Err(faults) => assert_eq!(faults.to_string(), want),
    }
}

#[test]
fn every_fault_is_told() {
    check(
        &[
            ("resolution = 1\n", "resolution = 0\n"),
            ("[1000, 12000]", "[1000, 1000]"),
            ("is = \"boom.length\"", "is = \"boom length\""),
        ],
        "\
fault F115 at t.toml:22:14 (entry[Boom].resolution)
  got   0
  want  a step above 0
  fix   key two numbers next to each other and write their difference; leave it out if nobody tried
fault F116 at t.toml:23:9 (entry[Boom].range)
  got   1000 to 1000
  want  a least number below the largest
  fix   write the least number first, then the largest; leave it out if nobody tried
fault F113 at t.toml:24:6 (entry[Boom].is)
  got   \"boom length\"
  want  a path through the machine sheet
  fix   write it as the sheet's list of figures has it, such as boom.length or sensor[S-boom].offset",
    );
    check(
        &[
            ("unit = \"mm\"", "unit = \"feet\""),
            ("[\"pin C\", \"tooth[centre]\"]\n", "[\"C\", \"tooth[centre]\"]\nis = \"stick.length\"\n"),
            ("[\"antenna[GL]\", \"antenna[GR]\"]", "[\"antenna[GL]\"]"),
            ("label = \"Tooth angle\"", "label = \"Antenna back\""),
            ("axis = \"back\", ", ""),
        ],
        "\
fault F016 at t.toml:21:8 (entry[Boom].unit)
  got   \"feet\"
  want  one of: m, cm, mm, ft, us-ft, in, deg, gon, rad, mrad, %, mm/m (Unit that it counts in)
  fix   choose one of the known words
fault F024 at t.toml:26:1 (entry[Bucket length])
  got   is and distance
  want  exactly one of: is, distance, plan_distance, along, corner, plan_direction, rise, reading
  fix   keep one; give a second part a section of its own
fault F101 at t.toml:30:13 (entry[Bucket length].distance[1])
  got   \"C\"
  want  tooth[NAME], pin A to pin F, front pin, antenna[NAME] or swing axis, such as tooth[centre]
  fix   write pin C
fault F010 at t.toml:37:17 (entry[Antenna spacing].plan_distance)
  got   a list of 1
  want  a list of 2 points: tooth[NAME], pin A to pin F, front pin, antenna[NAME] or swing axis, such as tooth[centre] (Distance of two points seen from above)
  fix   correct the value
fault F009 at t.toml:44:1 (entry[Antenna back].along.axis)
  got   nothing
  want  axis (Axis of the part that both points sit on)
  fix   add it to the section \"Along an axis\"
fault F019 at t.toml:46:1 (entry[Antenna back])
  got   \"Antenna back\" a second time
  want  a name of its own; entry 4 has this one
  fix   rename one of them; two of one name cannot be told apart on a record",
    );
}

#[test]
fn faults_of_the_core_point_into_the_document() {
    let fault = |at: &str| Fault::new("H001", at, "got", "want", "fix");
    let faults = Faults(vec![
        fault("entry[Antenna back].along.to"),
        fault("entry[Boom].unit"),
        fault("entry[8].reading.at"),
        fault("tool.tooth"),
    ]);
    let placed = place_term_faults("t.toml", EVERY.as_bytes(), faults).to_string();
    let heads: Vec<&str> = placed.lines().filter(|l| l.starts_with("fault")).collect();
    assert_eq!(
        heads,
        [
            "fault H001 at t.toml:17:9 (tool.tooth)",
            "fault H001 at t.toml:21:8 (entry[Boom].unit)",
            "fault H001 at t.toml:43:47 (entry[Antenna back].along.to)",
            "fault H001 at t.toml:68:37 (entry[8].reading.at)",
        ]
    );
}

#[test]
fn what_is_published_is_current() {
    fits::current("schema/terms.schema.json", SCHEMA, &terms_schema());
    fits::current("terms-file.md", PAGE, &terms_reference());
    fits::check(SCHEMA, EVERY, true);
    let spoilt = |old: &str, new: &str| {
        assert!(EVERY.contains(old));
        fits::check(SCHEMA, &EVERY.replacen(old, new, 1), false);
    };
    spoilt("is = \"boom.length\"", "");
    spoilt("unit = \"mm\"", "unit = \"feet\"");
    spoilt("sign = -1", "sign = 2");
}
