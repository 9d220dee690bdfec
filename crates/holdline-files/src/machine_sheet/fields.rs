//! Every field of the machine sheet, version 1: the one table that reader, writer, schema, form and edits use.
//!
//! A new field is a row here and a line in `build.rs` and `unbuild.rs`; tests hold that no row is forgotten.

use super::words::{BOOM_KINDS, CYLINDER_SIDES, JOINTS, LINKAGE_MEMBERS, LINKS, SENSOR_KINDS};
use crate::document::Format;
use crate::document::table::{Dim, Field, Kind, Rule, Section, may, must};
use crate::document::units::{ANGLE_UNITS, LENGTH_UNITS, MASS_UNITS};
use crate::text::LARGEST_SHEET_BYTES;
use Dim::{Angle, Length, Mass, Milliseconds};

/// The `format` word of a machine sheet.
pub const FORMAT: &str = "holdline.machine";

/// The newest version of the sheet that is known here.
pub const VERSION: u32 = 1;

/// Most entries of one list.
pub const MOST_ENTRIES: usize = 200;

const XZ: [&str; 2] = ["x", "z"];
const PIN_TO_PIN: &str =
    "pin centre to pin centre, machine parked, bushes pushed to the working side";
const BY_PIN: &str = "survey both pin centres from one set-up, or plumb and measure";
const SEEN_FROM_LEFT: &str = "upward (counter-clockwise, seen from the left) positive";

/// Machine sheets as documents.
pub static MACHINE_SHEET: Format = Format {
    word: FORMAT,
    version: VERSION,
    called: "machine sheet",
    is: "Measures of an excavator, from which holdline computes where the bucket tooth is.",
    sheet: &SHEET,
    most_bytes: LARGEST_SHEET_BYTES,
};

/// The whole sheet. `format` and `version` are looked at before everything else.
pub static SHEET: Section = Section {
    title: "Machine sheet",
    rule: Rule::Free,
    fields: &[
        must("format", "Format", Kind::Text).help("holdline.machine"),
        must(
            "version",
            "Version of the format",
            Kind::Whole {
                min: 1,
                max: VERSION,
            },
        ),
        must("units", "Units", Kind::Inside(&UNITS)),
        must("machine", "Machine", Kind::Inside(&MACHINE)),
        must("house", "House", Kind::Inside(&HOUSE)),
        must("tracks", "Tracks", Kind::Inside(&TRACKS)),
        may("swing_post", "Boom swing post", Kind::Inside(&SWING_POST)),
        must("boom", "Boom", Kind::Inside(&BOOM)),
        must("stick", "Stick", Kind::Inside(&STICK)),
        must("linkage", "Bucket linkage", Kind::Inside(&LINKAGE)),
        list("cylinder", "Cylinders", &CYLINDER, ""),
        list("range", "Ranges of joints without cylinder", &RANGE, ""),
        list("coupler", "Couplers", &COUPLER, "id"),
        list("tilt", "Tilting devices", &TILT, "id"),
        list("bucket", "Buckets", &BUCKET, "id"),
        list("solid", "Solids", &SOLID, ""),
        list("mass", "Masses", &MASS, ""),
        list("sensor", "Angle sensors", &SENSOR, "id"),
        list("antenna", "Antennas", &ANTENNA, "id"),
        may("heading", "Heading that is read", Kind::Inside(&HEADING)),
        list("camera", "Cameras", &CAMERA, "id"),
    ],
};

const fn list(
    key: &'static str,
    label: &'static str,
    of: &'static Section,
    named_by: &'static str,
) -> Field {
    let most = MOST_ENTRIES;
    may(key, label, Kind::List { of, named_by, most })
}

/// Units of the bare numbers.
pub static UNITS: Section = Section {
    title: "Units of this sheet",
    rule: Rule::Free,
    fields: &[
        must("length", "Lengths are in", Kind::Choice(&LENGTH_UNITS)),
        must("angle", "Angles are in", Kind::Choice(&ANGLE_UNITS)),
        must("mass", "Masses are in", Kind::Choice(&MASS_UNITS)),
    ],
};

static MACHINE: Section = Section {
    title: "Machine",
    rule: Rule::Free,
    fields: &[
        must("id", "Name on the job", Kind::Name),
        may("note", "Note", Kind::Text),
        may("measured_by", "Measured by", Kind::Text),
        may("measured_on", "Measured on", Kind::Date).help("year-month-day, such as 2025-12-01"),
        may("measured_with", "Measured with", Kind::Text).help("the instruments"),
        may("mass", "Whole mass in working order", Kind::Measured(Mass)),
    ],
};

static HOUSE: Section = Section {
    title: "House",
    rule: Rule::Free,
    fields: &[
        must(
            "tail_radius",
            "Tail radius about the swing axis",
            Kind::Measured(Length),
        ),
        must(
            "tail_half_angle",
            "Half the counterweight's arc",
            Kind::Number(Angle),
        )
        .help("about the rear, to one side"),
        may("eye", "Operator's eye", Kind::SpacePoint)
            .help("house frame: x forward, y left, z up from the swing axis at track ground level"),
    ],
};

static TRACKS: Section = Section {
    title: "Tracks",
    rule: Rule::Free,
    fields: &[
        must("length", "Length of a track", Kind::Measured(Length)),
        must("gauge", "Gauge, centre to centre", Kind::Measured(Length)),
        must("shoe_width", "Width of a shoe", Kind::Measured(Length)),
        must("height", "Height of a track", Kind::Measured(Length)),
    ],
};

static SWING_POST: Section = Section {
    title: "Boom swing post",
    rule: Rule::Free,
    fields: &[
        must("at", "Pin of the post", Kind::SpacePoint).help("house frame"),
        must(
            "foot",
            "Boom foot pin from the post's pin",
            Kind::SpacePoint,
        )
        .help("in the post's own frame: x along the boom plane"),
    ],
};

static BOOM: Section = Section {
    title: "Boom",
    rule: Rule::Free,
    fields: &[
        must("kind", "Kind of boom", Kind::Choice(&BOOM_KINDS)),
        may("foot", "Boom foot pin A", Kind::SpacePoint)
            .help("house frame; left out where a swing post carries the boom"),
        must("length", "Boom, pin A to pin B", Kind::Measured(Length))
            .help(PIN_TO_PIN)
            .when("kind", &["mono"]),
        must(
            "lower",
            "Lower boom, pin A to the middle pin",
            Kind::Measured(Length),
        )
        .help(PIN_TO_PIN)
        .when("kind", &["two-piece", "offset"]),
        must("link", "Offset links, pin to pin", Kind::Measured(Length))
            .help(PIN_TO_PIN)
            .when("kind", &["offset"]),
        must(
            "upper",
            "Upper boom, middle pin to pin B",
            Kind::Measured(Length),
        )
        .help(PIN_TO_PIN)
        .when("kind", &["two-piece", "offset"]),
    ],
};

static STICK: Section = Section {
    title: "Stick",
    rule: Rule::Free,
    fields: &[must("length", "Stick, pin B to pin C", Kind::Measured(Length)).help(PIN_TO_PIN)],
};

static LINKAGE: Section = Section {
    title: "Bucket linkage",
    rule: Rule::Free,
    fields: &[
        must("idler_pivot", "Idler pivot F", Kind::PlanePoint)
            .help("stick frame: x from pin B to pin C, z 90 degrees up from it"),
        must("idler", "Idler, F to E", Kind::Measured(Length)).help(PIN_TO_PIN),
        must("link", "Bucket link, E to D", Kind::Measured(Length)).help(PIN_TO_PIN),
        must("ear", "Ear, C to D", Kind::Measured(Length)).help(PIN_TO_PIN),
        must("branch", "Way it is put together", Kind::Sign)
            .help("1: pin D lies right of the way from C to E, seen from the left; -1: left of it"),
    ],
};

static CYLINDER: Section = Section {
    title: "Cylinder",
    rule: Rule::Free,
    fields: &[
        must("moves", "Joint that it moves", Kind::Choice(&JOINTS)),
        must("base", "Base pin", PIN_OR_E).help(BY_PIN),
        must("rod", "Rod pin", PIN_OR_E).help(BY_PIN),
        may(
            "side",
            "Way that it turns the joint",
            Kind::Choice(&CYLINDER_SIDES),
        ),
        must("retracted", "Pin to pin, fully in", Kind::Measured(Length)),
        must("extended", "Pin to pin, fully out", Kind::Measured(Length)),
        must(
            "stroke_tolerance",
            "Stroke, added at both ends for safety",
            Kind::Number(Length),
        )
        .help("5 mm is usual; outer joint limits follow from it"),
        may(
            "count",
            "How many side by side",
            Kind::Whole { min: 1, max: 4 },
        )
        .help("1 if left out"),
        may("bore", "Bore", Kind::Number(Length)),
        may("rod_diameter", "Rod diameter", Kind::Number(Length)),
        may("mass_each", "Mass of one", Kind::Number(Mass)),
    ],
};

const PIN_OR_E: Kind = Kind::InsideOr {
    of: &PIN,
    word: "E",
    in_words: "{ link = …, at = [x, z] }, or \"E\" for the pin of the bucket linkage",
};

/// A cylinder's pin on a link.
static PIN: Section = Section {
    title: "Pin",
    rule: Rule::Free,
    fields: &[
        must("link", "Link it sits on", Kind::Choice(&LINKS)),
        must("at", "Place in the link's plane", Kind::Two(Length, XZ)),
        may(
            "sd",
            "Standard uncertainty of the place",
            Kind::PointSd { n: 2 },
        ),
    ],
};

static RANGE: Section = Section {
    title: "Range of a joint",
    rule: Rule::Free,
    fields: &[
        must("joint", "Joint", Kind::Choice(&JOINTS)),
        must("min", "Least angle", Kind::Number(Angle)).help(SEEN_FROM_LEFT),
        must("max", "Largest angle", Kind::Number(Angle)).help(SEEN_FROM_LEFT),
        must(
            "tolerance",
            "Angle, added at both ends for safety",
            Kind::Number(Angle),
        ),
    ],
};

static COUPLER: Section = Section {
    title: "Coupler",
    rule: Rule::Free,
    fields: &[
        must("id", "Name", Kind::Name),
        must("front_pin", "The bucket's front pin", Kind::PlanePoint)
            .help("ear frame: from pin C, x towards pin D, z 90 degrees up from it"),
        must(
            "rotation",
            "Turn from the ear to the bucket's pins",
            Kind::Measured(Angle),
        )
        .help(SEEN_FROM_LEFT),
        may("outline", "Outline in the boom plane", Kind::PlaneLine),
        may("half_width", "Half the width", Kind::Number(Length)),
        may("mass", "Mass", Kind::Measured(Mass)),
        may("centre", "Centre of mass", Kind::Two(Length, XZ)),
    ],
};

static TILT: Section = Section {
    title: "Tilting device",
    rule: Rule::Free,
    fields: &[
        must("id", "Name", Kind::Name),
        must("axis_at", "A point on the tilt axis", Kind::SpacePoint)
            .help("frame of the two pins it hangs on"),
        must(
            "axis_angle",
            "Tilt axis, angle in the boom plane",
            Kind::Measured(Angle),
        )
        .help(SEEN_FROM_LEFT),
        may(
            "rotation",
            "Rotation of a tiltrotator",
            Kind::Inside(&ROTATION),
        ),
        must(
            "front_pin",
            "The bucket's front pin from the last axis point",
            Kind::SpacePoint,
        ),
        must(
            "bucket_rotation",
            "Turn from the pins to the bucket's pins",
            Kind::Measured(Angle),
        )
        .help(SEEN_FROM_LEFT),
        may("outline", "Outline in the boom plane", Kind::PlaneLine),
        may("half_width", "Half the width", Kind::Number(Length)),
        may("mass", "Mass", Kind::Measured(Mass)),
        may("centre", "Centre of mass", Kind::Two(Length, XZ)),
    ],
};

static ROTATION: Section = Section {
    title: "Rotation axis",
    rule: Rule::Free,
    fields: &[
        must("axis_at", "A point on the rotation axis", Kind::SpacePoint)
            .help("from the tilt axis point"),
        must(
            "axis_angle",
            "Rotation axis, angle in the boom plane",
            Kind::Measured(Angle),
        )
        .help(SEEN_FROM_LEFT),
    ],
};

static BUCKET: Section = Section {
    title: "Bucket",
    rule: Rule::Free,
    fields: &[
        must("id", "Name", Kind::Name),
        may("note", "Note", Kind::Text),
        must("width", "Width of the cutting edge", Kind::Measured(Length)),
        must(
            "pin_spacing",
            "Distance of its two pins",
            Kind::Measured(Length),
        ),
        must(
            "tooth",
            "Tooth points",
            Kind::List {
                of: &TOOTH,
                named_by: "name",
                most: MOST_ENTRIES,
            },
        ),
        may(
            "edge",
            "Corners of the cutting edge, left to right",
            Kind::SpaceLine,
        )
        .help("left out: the line from the left to the right tooth point"),
        must("heel", "Heel", Kind::PlanePoint)
            .help("bucket frame: from the front pin, x to the second pin, z 90 degrees up from it"),
        may("outline", "Outline in the boom plane", Kind::PlaneLine),
        may("eye", "Lifting eye", Kind::PlanePoint),
        may("inner_width", "Inner width", Kind::Number(Length)),
        may("side_profile_inner", "Inner side profile", Kind::PlaneLine),
        may("load_centre", "Centre of a load", Kind::Two(Length, XZ)),
        may("mass", "Mass", Kind::Measured(Mass)),
        may("centre", "Centre of mass", Kind::Two(Length, XZ)),
    ],
};

static TOOTH: Section = Section {
    title: "Tooth point",
    rule: Rule::Free,
    fields: &[
        must("name", "Name", Kind::Name)
            .help("left, centre, right as seen from the seat; more may follow"),
        must("at", "Tip", Kind::Three)
            .help("bucket frame: from the front pin, x to the second pin, y left, z up from it"),
        may(
            "sd",
            "Standard uncertainty of the tip",
            Kind::PointSd { n: 3 },
        ),
    ],
};

static SOLID: Section = Section {
    title: "Solid",
    rule: Rule::OneOf(&[
        "capsule",
        "box",
        "prism",
        "sector",
        "along_cylinder",
        "along_linkage",
    ]),
    fields: &[
        must("part", "Part", Kind::Text).help("each solid contains the steel, hoses and lights"),
        must("link", "Link it moves with", Kind::Choice(&LINKS)),
        may("capsule", "Capsule", Kind::Inside(&CAPSULE)),
        may("box", "Box", Kind::Inside(&BOX)),
        may("prism", "Prism", Kind::Inside(&PRISM)),
        may(
            "sector",
            "Sector of an upright cylinder",
            Kind::Inside(&SECTOR),
        ),
        may(
            "along_cylinder",
            "Along a cylinder",
            Kind::Inside(&ALONG_CYLINDER),
        ),
        may(
            "along_linkage",
            "Along a linkage member",
            Kind::Inside(&ALONG_LINKAGE),
        ),
    ],
};

static CAPSULE: Section = Section {
    title: "Capsule",
    rule: Rule::Free,
    fields: &[
        must("from", "One end", Kind::Three),
        must("to", "Other end", Kind::Three),
        must("radius", "Radius", Kind::Number(Length)),
    ],
};

static BOX: Section = Section {
    title: "Box",
    rule: Rule::Free,
    fields: &[
        must("min", "Least x, y, z", Kind::Three),
        must("max", "Largest x, y, z", Kind::Three),
    ],
};

static PRISM: Section = Section {
    title: "Prism",
    rule: Rule::Free,
    fields: &[
        must("outline", "Corners", Kind::PlaneLine),
        must("y", "Middle plane", Kind::Number(Length)),
        must("half_width", "Half the width", Kind::Number(Length)),
    ],
};

static SECTOR: Section = Section {
    title: "Sector",
    rule: Rule::Free,
    fields: &[
        must("radius", "Radius", Kind::Number(Length)),
        must(
            "half_angle",
            "Half the angle about the rear",
            Kind::Number(Angle),
        ),
        must(
            "z",
            "Least and largest height",
            Kind::Two(Length, ["min", "max"]),
        ),
    ],
};

static ALONG_CYLINDER: Section = Section {
    title: "Along a cylinder",
    rule: Rule::Free,
    fields: &[
        must("moves", "Joint whose cylinder it is", Kind::Choice(&JOINTS)),
        must("y", "Offsets from the boom plane", Kind::Numbers(Length)),
        must("radius", "Radius", Kind::Number(Length)),
    ],
};

static ALONG_LINKAGE: Section = Section {
    title: "Along a linkage member",
    rule: Rule::Free,
    fields: &[
        must("member", "Member", Kind::Choice(&LINKAGE_MEMBERS)),
        must("radius", "Radius", Kind::Number(Length)),
    ],
};

static MASS: Section = Section {
    title: "Mass",
    rule: Rule::Free,
    fields: &[
        must("part", "Part", Kind::Text),
        must("link", "Link it moves with", Kind::Choice(&LINKS)),
        must("mass", "Mass", Kind::Measured(Mass)),
        must("centre", "Centre in the link's frame", Kind::Three),
    ],
};

static SENSOR: Section = Section {
    title: "Angle sensor",
    rule: Rule::Free,
    fields: &[
        must("id", "Name", Kind::Name),
        must("link", "Link it sits on", Kind::Choice(&LINKS))
            .help("for an encoder: the link that the joint moves"),
        must("kind", "Kind", Kind::Choice(&SENSOR_KINDS)),
        must(
            "offset",
            "Offset, taken off the reading",
            Kind::Measured(Angle),
        )
        .help("its sd is the calibration's"),
        may(
            "roll_offset",
            "Roll offset of a house sensor",
            Kind::Measured(Angle),
        ),
        may(
            "mount",
            "Angle of a single axis from the link's x",
            Kind::Number(Angle),
        )
        .help("0 if left out"),
        may("sign", "Sign", Kind::Sign).help("-1 if it counts downward as positive; 1 if left out"),
        may(
            "sd",
            "Standard uncertainty of one reading",
            Kind::Number(Angle),
        ),
        may("latency_ms", "Latency", Kind::Number(Milliseconds)),
    ],
};

static ANTENNA: Section = Section {
    title: "Antenna",
    rule: Rule::Free,
    fields: &[
        must("id", "Name", Kind::Name),
        must("lever", "Phase centre", Kind::SpacePoint).help("house frame"),
    ],
};

static HEADING: Section = Section {
    title: "Heading that is read",
    rule: Rule::Free,
    fields: &[
        must("offset", "Taken off the reading", Kind::Measured(Angle)).help(
            "clockwise positive; for a heading that comes as a reading, not typed and not from two antennas",
        ),
    ],
};

static CAMERA: Section = Section {
    title: "Camera",
    rule: Rule::Free,
    fields: &[
        must("id", "Name", Kind::Name),
        must("at", "Lens", Kind::SpacePoint).help("house frame"),
        must(
            "yaw",
            "Yaw from forward, left positive",
            Kind::Number(Angle),
        ),
        must(
            "pitch_down",
            "Pitch, downward positive",
            Kind::Number(Angle),
        ),
        must("hfov", "Field of view, across", Kind::Number(Angle)),
        must("vfov", "Field of view, up and down", Kind::Number(Angle)),
    ],
};
