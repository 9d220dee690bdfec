//! The long story of each fault of a stream of readings, for `holdline explain`.

/// Code and story.
pub const EXPLAIN: &[(&str, &str)] = &[
    (
        "T601",
        "The first line holds numbers only, so nothing says which column is what.\n\
      Put a line of names before the readings, each with its unit: boom_deg, easting_m.\n\
      holdline does not guess columns by their order: two angles swapped still look like a tooth.",
    ),
    (
        "T602",
        "A column that is needed is not there.\n\
      Which ones are needed follows from the machine sheet's sensors.\n\
      The fault names the nearest column not asked for; a slip of spelling looks like this.\n\
      Never fill a missing column with zeros: a zero is a reading.",
    ),
    (
        "T603",
        "Two columns have the same name or hold the same reading.\n\
      Logs that were put side by side look like this. Take out the one that is not meant.",
    ),
    (
        "T604",
        "A column has no unit in its name.\n\
      boom could be degrees, radians or gon, and a tooth would come out of each.\n\
      Angles: deg, rad, gon. Lengths: m, mm, ft (international foot), usft (US survey foot).",
    ),
    (
        "T605",
        "A column's unit is not one that this reading can have.\n\
      Angles: deg, rad, gon. Lengths: m, mm, ft (international foot), usft (US survey foot).\n\
      The two feet differ by 2 mm in a kilometre: 1.2 m at a northing of 600 km.",
    ),
    (
        "T606",
        "The header is too long or names too many columns.\n\
      A file that lost its line ends, or that is no file of readings, looks like this.",
    ),
    (
        "T607",
        "Every row failed, so there is no answer at all.\n\
      Look at the first faults: where all rows fail alike, the header or the unit is at fault.",
    ),
    (
        "T608",
        "The input could not be read on. What was read until then has been answered and written.\n\
      See whether the disk, card or connection is there.",
    ),
    (
        "T609",
        "An output could not be written: a full disk, a card pulled out, no leave to write.\n\
      What was written may end in the middle of a line; take it as cut short.",
    ),
    (
        "T610",
        "A line goes on for megabytes. This is no file of readings, or it was damaged.",
    ),
    (
        "T611",
        "A mistake in holdline, not in the readings. Please report it with the command you gave.",
    ),
    (
        "T620",
        "A row has fewer fields than the header. Rows cut off by a full disk look like this.",
    ),
    (
        "T621",
        "A row has more fields than the header.\n\
      A text with a separator in it needs quotation marks; so does a number with a decimal comma.",
    ),
    (
        "T622",
        "A field that is needed is empty. The sensor gave nothing; the row is not used.\n\
      Never fill in a zero or the value before.",
    ),
    (
        "T623",
        "A field that is needed is not a number. Units belong in the header, not in the rows.",
    ),
    (
        "T624",
        "A number has a comma for its decimal point.\n\
      A comma could also part thousands, so holdline does not choose. Export with points.",
    ),
    (
        "T625",
        "A reading is NaN, the logger's word for no reading. The row is not used.",
    ),
    (
        "T626",
        "A reading is infinite, or a number too large to hold. The row is not used.",
    ),
    (
        "T627",
        "A reading is not plausible for what its column says it is.\n\
      Degrees in a column named rad, millimetres in one named m, swapped columns look like this.\n\
      The opposite slip, radians in a column named deg, is plausible: check a few teeth by eye.",
    ),
    (
        "T628",
        "A line is longer than any row of readings. Its start is in the side file.\n\
      A lost line end or a damaged stretch looks like this.",
    ),
    (
        "T629",
        "A quotation mark is not closed on its line. Fields with line ends in them are not read.",
    ),
    (
        "T630",
        "A row holds bytes that are not text.\n\
      Zero bytes appear where a logger lost power. The rows round them may be damaged too.",
    ),
    (
        "T631",
        "The header comes once more among the rows: logs put end to end. Harmless, but counted.",
    ),
    (
        "T632",
        "The last line has no line end, so nothing says that it is whole.\n\
      27.3 may be the start of 27.3851. If the row is whole, add a line end and read again.",
    ),
    (
        "T633",
        "The readings are plausible one by one but give no tooth together.\n\
      The bucket linkage cannot close, or the house lies on its side.\n\
      A stuck or swapped sensor looks like this; compare with the rows around it.",
    ),
];
