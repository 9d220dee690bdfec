//! Every field of a document of observations, version 1, and which of them a kind of observation calls for.

use holdline_geom::fault::Span;

use crate::document::Format;
use crate::document::table::{Case, Dim, Field, Kind, Rule, Section, Word, may, must};
use crate::document::units::{ANGLE_UNITS, LENGTH_UNITS};
use Dim::{Angle, Length};

/// The `format` word of observations.
pub const FORMAT: &str = "holdline.observations";

/// The newest version that is known here.
pub const VERSION: u32 = 1;

/// Most observations of one document.
pub const MOST_OBSERVATIONS: usize = 5000;

/// Observations as documents.
pub static OBSERVATIONS: Format = Format {
    word: FORMAT,
    version: VERSION,
    called: "observations",
    is: "What was measured of an excavator, from which holdline calibrates it.",
    sheet: &DOCUMENT,
    most_bytes: 2 << 20,
};

/// The whole document.
pub static DOCUMENT: Section = Section {
    title: "Observations",
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
        must("units", "Units", Kind::Inside(&UNITS)),
        may("tool", "What hung on the machine", Kind::Inside(&TOOL)),
        must("observation", "Observations", OBSERVATION_LIST),
    ],
};

const OBSERVATION_LIST: Kind = Kind::List {
    of: &OBSERVATION,
    named_by: "name",
    most: MOST_OBSERVATIONS,
};

/// Units of the bare numbers.
pub static UNITS: Section = Section {
    title: "Units of this document",
    rule: Rule::Free,
    fields: &[
        must("length", "Lengths are in", Kind::Choice(&LENGTH_UNITS)),
        must("angle", "Angles are in", Kind::Choice(&ANGLE_UNITS)),
    ],
};

/// Coupler, tilting device and bucket.
pub static TOOL: Section = Section {
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
    ],
};

/// Kinds of observation.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum KindWord {
    /// A point by total station or receiver.
    Shot,
    /// A point's height.
    Level,
    /// A point held on a mark.
    Touch,
    /// A distance.
    Tape,
    /// The slope of a line.
    Slope,
    /// A line that hangs plumb.
    Plumb,
    /// A reading of the turned house.
    HouseTurn,
    /// An antenna on its way round.
    SwingCircle,
    /// A target on its way round a pin.
    PinArc,
}

/// Their words.
pub static KINDS: [Word<KindWord>; 9] = [
    word(
        "shot",
        "a point by total station or receiver",
        KindWord::Shot,
    ),
    word("level", "a point's height by level", KindWord::Level),
    word("touch", "a point held on a mark", KindWord::Touch),
    word("tape", "a distance by tape", KindWord::Tape),
    word(
        "slope",
        "the slope of a line by hand inclinometer",
        KindWord::Slope,
    ),
    word("plumb", "a line that hangs plumb", KindWord::Plumb),
    word(
        "house-turn",
        "pitch and roll of the turned house",
        KindWord::HouseTurn,
    ),
    word(
        "swing-circle",
        "an antenna while the house swings",
        KindWord::SwingCircle,
    ),
    word(
        "pin-arc",
        "a target while one link turns about its pin",
        KindWord::PinArc,
    ),
];

const fn word(word: &'static str, label: &'static str, means: KindWord) -> Word<KindWord> {
    Word { word, label, means }
}

const AXES: &[&str] = &["pose", "easting", "northing", "elevation"];

/// What each kind must and may have.
pub static CASES: [Case; 9] = [
    Case {
        word: "shot",
        must: &["pose", "stand", "setup", "target"],
        may: &["easting", "northing", "elevation"],
    },
    Case {
        word: "level",
        must: &["pose", "stand", "setup", "target", "elevation"],
        may: &[],
    },
    Case {
        word: "touch",
        must: &["pose", "stand", "target", "mark"],
        may: &["sd"],
    },
    Case {
        word: "tape",
        must: &["target", "to", "length"],
        may: &["pose", "stand"],
    },
    Case {
        word: "slope",
        must: &["pose", "target", "to", "angle"],
        may: &["stand"],
    },
    Case {
        word: "plumb",
        must: &["pose", "target", "to"],
        may: &["stand", "sd_angle", "sd", "length"],
    },
    Case {
        word: "house-turn",
        must: &["stand", "turn"],
        may: &["pose"],
    },
    Case {
        word: "swing-circle",
        must: &["stand", "setup", "target"],
        may: AXES,
    },
    Case {
        word: "pin-arc",
        must: &["stand", "setup", "target", "arc"],
        may: AXES,
    },
];

const OF_ITS_OWN: &str = "one of its own, so that the report can say which one is off";
const SETUP: &str = "site where the coordinates are the site's; any other name for an instrument \
    frame of its own";
const SD: &str = "of a touch: how well the point met the mark; of a plumb line: beside the lower \
    point, with length";

/// One observation.
pub static OBSERVATION: Section = Section {
    title: "Observation",
    rule: Rule::ByWord {
        key: "kind",
        cases: &CASES,
    },
    fields: &[
        must("name", "Name", Kind::Name).help(OF_ITS_OWN),
        must("kind", "What was measured", Kind::Choice(&KINDS)),
        may("pose", "Pose of the front", Kind::Name)
            .help("all observations of one pose share its readings; left out: a pose of its own"),
        may("stand", "Stand of the machine", Kind::Name)
            .help("one name for as long as the tracks do not move"),
        may("setup", "Set-up of the survey", Kind::Name).help(SETUP),
        may("target", "Point of the machine", Kind::Target)
            .help("the first of two for tape, slope and plumb"),
        may("to", "Second point", Kind::Target).help("of a plumb line the lower one"),
        may("mark", "Mark that the point stands on", Kind::Name)
            .help("its place need not be known; all touches of one mark agree"),
        may("arc", "Name of the target that is followed", Kind::Name)
            .help("a sticker anywhere on the link; one target, one name"),
        may(
            "easting",
            "Easting in the set-up's frame",
            Kind::Measured(Length),
        ),
        may(
            "northing",
            "Northing in the set-up's frame",
            Kind::Measured(Length),
        ),
        may(
            "elevation",
            "Elevation in the set-up's frame",
            Kind::Measured(Length),
        ),
        may("length", "Distance, point to point", Kind::Measured(Length)),
        may(
            "angle",
            "Angle of the line over the horizontal",
            Kind::Measured(Angle),
        )
        .help("from the first point to the second in the boom plane, upward positive"),
        may(
            "turn",
            "Heading or swing angle of this reading",
            Kind::Measured(Angle),
        )
        .help("clockwise seen from above"),
        may("sd", "Standard uncertainty", Kind::Sd(Length)).help(SD),
        may(
            "sd_angle",
            "Standard uncertainty of a plumb line",
            Kind::Sd(Angle),
        ),
        may(
            "readings",
            "What the sensors read in this pose",
            Kind::Readings,
        ),
        LINE_BY,
        LINE_WHEN,
        LINE_INSTRUMENT,
        LINE_NOTE,
    ],
};

const LINE_BY: Field = may("by", "Who", Kind::Line);
const LINE_WHEN: Field = may("when", "When", Kind::Line).help("as the field book has it");
const LINE_INSTRUMENT: Field = may("instrument", "With what", Kind::Line);
const LINE_NOTE: Field = may("note", "Note", Kind::Line);

/// Easting or northing.
pub const GRID: Span = Span {
    code: "F106",
    what: "easting or northing in the set-up's frame",
    unit: "m",
    min: -2.0e7,
    max: 2.0e7,
    fix: "give coordinates in the unit that is stated; millimetres read as metres look like this",
};

/// Elevation.
pub const ELEVATION: Span = Span {
    code: "F106",
    what: "elevation in the set-up's frame",
    unit: "m",
    min: -1000.0,
    max: 10_000.0,
    fix: "give the elevation in the unit that is stated; millimetres read as metres look like this",
};

/// Length of a tape.
pub const LENGTH: Span = Span {
    code: "F106",
    what: "a distance between two points of a machine",
    unit: "m",
    min: 0.01,
    max: 60.0,
    fix: "measure point to point again; millimetres or feet read as metres look like this",
};

/// Slope of a line.
pub const ANGLE: Span = Span {
    code: "F106",
    what: "an angle of a line over the horizontal",
    unit: "°",
    min: -180.0,
    max: 180.0,
    fix: "look at the unit: degrees read as radians look like this",
};

/// Turn of the house.
pub const TURN: Span = Span {
    code: "F106",
    what: "a heading or swing angle",
    unit: "°",
    min: -720.0,
    max: 720.0,
    fix: "look at the unit: degrees read as radians look like this",
};

/// Uncertainty of a length.
pub const SD_LENGTH: Span = Span {
    code: "F106",
    what: "a standard uncertainty of a length",
    unit: "m",
    min: 0.0,
    max: 1.0,
    fix: "look at the unit: millimetres read as metres look like this",
};

/// Uncertainty of an angle.
pub const SD_ANGLE: Span = Span {
    code: "F106",
    what: "a standard uncertainty of an angle",
    unit: "°",
    min: 0.0,
    max: 30.0,
    fix: "look at the unit: degrees read as radians look like this",
};
