//! Every field of a calibration, version 1.

use holdline::calibrate::calibration::FigureUnit;

use crate::document::Format;
use crate::document::table::{Dim, Kind, Rule, Section, Word, may, must};
use crate::observations::fields::TOOL;

/// The `format` word of a calibration.
pub const FORMAT: &str = "holdline.calibration";

/// The newest version that is known here.
pub const VERSION: u32 = 1;

/// Most figures of one calibration.
pub const MOST_FIGURES: usize = 200;

/// Calibrations as documents.
pub static CALIBRATION: Format = Format {
    word: FORMAT,
    version: VERSION,
    called: "calibration",
    is: "New values of an excavator's figures, how sure they are together, and what they rest on; \
        applied on top of the machine sheet.",
    sheet: &DOCUMENT,
    most_bytes: 2 << 20,
};

/// The whole document.
pub static DOCUMENT: Section = Section {
    title: "Calibration",
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
        must("machine", "Machine, by its name on the job", Kind::Name),
        must(
            "sheet",
            "SHA-256 of the machine sheet that it stands on",
            Kind::Text,
        )
        .help("64 hexadecimal digits, as the job gives them"),
        must(
            "believed",
            "Whether the fit can be believed",
            Kind::Choice(&BELIEVED),
        )
        .help("one that is not believed is put on no machine"),
        may("why_not", "Why it is not believed", Kind::Texts).help("in words, one a reason"),
        may("calibrated_by", "Who", Kind::Text),
        may("calibrated_on", "When", Kind::Text).help("year-month-day, such as 2025-12-02"),
        may("calibrated_with", "With what", Kind::Text).help("the instruments"),
        may(
            "not_determined",
            "What the observations did not settle",
            Kind::Texts,
        )
        .help("in words, one a direction"),
        may("tool", "What hung on the machine", Kind::Inside(&TOOL)),
        must(
            "figure",
            "Figures",
            Kind::List {
                of: &FIGURE,
                named_by: "",
                most: MOST_FIGURES,
            },
        ),
        // Last, and always there, so that a file cut short lacks it.
        must("correlations", "Correlations", Kind::Inside(&CORRELATIONS)),
    ],
};

/// Whether it is believed.
pub static BELIEVED: [Word<bool>; 2] = [
    Word {
        word: "yes",
        label: "yes",
        means: true,
    },
    Word {
        word: "no",
        label: "no",
        means: false,
    },
];

/// Units that a figure may state, with metres or radians in one.
pub static UNITS: [Word<(FigureUnit, f64)>; 4] = [
    Word {
        word: "m",
        label: "metres",
        means: (FigureUnit::Metre, 1.0),
    },
    Word {
        word: "rad",
        label: "radians",
        means: (FigureUnit::Radian, 1.0),
    },
    Word {
        word: "mm",
        label: "millimetres",
        means: (FigureUnit::Metre, 0.001),
    },
    Word {
        word: "deg",
        label: "degrees",
        means: (FigureUnit::Radian, std::f64::consts::PI / 180.0),
    },
];

static FIGURE: Section = Section {
    title: "Figure",
    rule: Rule::Free,
    fields: &[
        must("path", "Path through the machine sheet", Kind::Text)
            .help("such as boom.length or sensor[S-boom].offset"),
        must("unit", "Unit of the numbers below", Kind::Choice(&UNITS)),
        must("before", "Value on the sheet", Kind::Number(Dim::Beside)),
        must("value", "Value now", Kind::Number(Dim::Beside)),
        may("sd", "Standard uncertainty now", Kind::Sd(Dim::Beside))
            .help("left out: the observations did not determine it"),
    ],
};

static CORRELATIONS: Section = Section {
    title: "Correlations",
    rule: Rule::Free,
    fields: &[
        must("below_diagonal", "Rows below the diagonal", Kind::Triangle)
            .help("second figure with the first; third with the first and second; and so on; empty for one figure"),
    ],
};
