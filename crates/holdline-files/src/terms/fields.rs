//! Every field of a control system's terms, version 1.

use holdline::calibrate::hand_over::terms::{Axis, Channel, EntryUnit};

use crate::document::Format;
use crate::document::table::{Dim, Kind, Rule, Section, Word, may, must};
use crate::observations::fields::UNITS;

/// The `format` word of terms.
pub const FORMAT: &str = "holdline.terms";

/// The newest version that is known here.
pub const VERSION: u32 = 1;

/// Most entries of one document.
pub const MOST_ENTRIES: usize = 500;

/// Terms as documents.
pub static TERMS: Format = Format {
    word: FORMAT,
    version: VERSION,
    called: "terms",
    is: "The entries of a control system in its own words, from which holdline says what to key in.",
    sheet: &DOCUMENT,
    most_bytes: 1 << 20,
};

/// The whole document.
pub static DOCUMENT: Section = Section {
    title: "Terms",
    rule: Rule::Free,
    fields: &[
        must("format", "Format", Kind::Text).help(FORMAT),
        must(
            "version",
            "Version of the format",
            Kind::Whole {
                min: 1,
                max: VERSION,
            },
        ),
        may("machine", "Machine, by its name on the job", Kind::Name),
        may("system", "The system, in your own words", Kind::Text),
        may("described_by", "Who described the entries", Kind::Text),
        may("described_on", "When", Kind::Text).help("year-month-day, such as 2025-12-02"),
        may("note", "Note", Kind::Text),
        must("units", "Units of our own quantities", Kind::Inside(&UNITS)),
        may("tool", "Tool that the entries are for", Kind::Inside(&TOOL)),
        must(
            "entry",
            "Entries, in the order in which they are keyed",
            Kind::List {
                of: &ENTRY,
                named_by: "label",
                most: MOST_ENTRIES,
            },
        ),
    ],
};

static TOOL: Section = Section {
    title: "Tool",
    rule: Rule::Free,
    fields: &[
        may("coupler", "Coupler, by its name on the sheet", Kind::Name),
        may(
            "tilt",
            "Tilting device, by its name on the sheet",
            Kind::Name,
        ),
        may("bucket", "Bucket, by its name on the sheet", Kind::Name),
        may(
            "tooth",
            "Tooth point at which effects are shown",
            Kind::Name,
        ),
    ],
};

const OURS: Dim = Dim::LengthOrAngle;

/// One entry.
static ENTRY: Section = Section {
    title: "Entry",
    rule: Rule::OneOf(&[
        "is",
        "distance",
        "plan_distance",
        "along",
        "corner",
        "plan_direction",
        "rise",
        "reading",
    ]),
    fields: &[
        must("label", "Label, as it stands on the system", Kind::Line),
        must("unit", "Unit that it counts in", Kind::Choice(&ENTRY_UNITS)),
        may("sign", "Way that it counts", Kind::Sign)
            .help("1 as our quantity, -1 the other way round; 1 if left out"),
        may(
            "zero",
            "Our quantity where it reads zero",
            Kind::Number(OURS),
        )
        .help("0 if left out"),
        may("resolution", "Least step", Kind::Number(Dim::Beside))
            .help("left out: nobody described it"),
        may(
            "range",
            "Least and largest number",
            Kind::Two(Dim::Beside, ["min", "max"]),
        )
        .help("left out: nobody described it"),
        may("is", "A figure of the machine sheet", Kind::Text)
            .help("by its path, such as boom.length"),
        may("distance", "Distance of two points", Kind::Targets(2)),
        may(
            "plan_distance",
            "Distance of two points seen from above",
            Kind::Targets(2),
        ),
        may(
            "along",
            "How far one point lies from another",
            Kind::Inside(&ALONG),
        ),
        may(
            "corner",
            "Angle at the middle one of three points",
            Kind::Targets(3),
        )
        .help("in the boom plane, counter-clockwise seen from the left positive"),
        may(
            "plan_direction",
            "Direction of a line seen from above",
            Kind::Targets(2),
        )
        .help("from the part's forward axis, to the left positive"),
        may("rise", "Slope of a line", Kind::Targets(2)).help("upward positive"),
        may("reading", "What a sensor reads", Kind::Inside(&READING)),
        may("note", "Note", Kind::Text),
    ],
};

static ALONG: Section = Section {
    title: "Along an axis",
    rule: Rule::Free,
    fields: &[
        must(
            "axis",
            "Axis of the part that both points sit on",
            Kind::Choice(&AXES),
        ),
        must("from", "From", Kind::Target),
        must("to", "To", Kind::Target),
    ],
};

static READING: Section = Section {
    title: "Reading",
    rule: Rule::Free,
    fields: &[
        must("sensor", "Sensor, by its name on the sheet", Kind::Name),
        may("channel", "Which of its readings", Kind::Choice(&CHANNELS)).help("main if left out"),
        must(
            "at",
            "True angle of what it measures",
            Kind::Number(Dim::Angle),
        ),
    ],
};

/// Axes of a part.
pub static AXES: [Word<Axis>; 6] = [
    word("forward", "forward", Axis::Forward),
    word("back", "backward", Axis::Back),
    word("left", "to the left", Axis::Left),
    word("right", "to the right", Axis::Right),
    word("up", "upward", Axis::Up),
    word("down", "downward", Axis::Down),
];

/// Readings of a sensor.
pub static CHANNELS: [Word<Channel>; 2] = [
    word(
        "main",
        "its only one, or the pitch of a house sensor",
        Channel::Main,
    ),
    word("roll", "roll of a house sensor", Channel::Roll),
];

/// Units of an entry.
pub static ENTRY_UNITS: [Word<EntryUnit>; 12] = [
    word("m", "metre", EntryUnit::Metre),
    word("cm", "centimetre", EntryUnit::Centimetre),
    word("mm", "millimetre", EntryUnit::Millimetre),
    word(
        "ft",
        "international foot, 0.3048 m",
        EntryUnit::FootInternational,
    ),
    word(
        "us-ft",
        "US survey foot, 1200/3937 m",
        EntryUnit::FootUsSurvey,
    ),
    word("in", "inch, 25.4 mm", EntryUnit::Inch),
    word("deg", "degree", EntryUnit::Degree),
    word("gon", "gon, 400 a turn", EntryUnit::Gon),
    word("rad", "radian", EntryUnit::Radian),
    word("mrad", "milliradian", EntryUnit::Milliradian),
    word("%", "slope in percent", EntryUnit::Percent),
    word("mm/m", "slope in mm a metre", EntryUnit::MillimetrePerMetre),
];

const fn word<T>(word: &'static str, label: &'static str, means: T) -> Word<T> {
    Word { word, label, means }
}
