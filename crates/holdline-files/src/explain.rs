//! The long story of every fault of a file: what it means, how it happens, what to do, what can go wrong.

/// Code and story of every fault that a file can give. Streams of readings have their own.
pub const EXPLAIN: &[(&str, &str)] = &[
    // any file
    (
        "F001",
        "The file holds a byte that is not UTF-8, the usual encoding of text.\n\
         It happens when a file was saved in an older encoding of one country, or when it is damaged.\n\
         Open it in a text editor, look at the place that is named, and save it as UTF-8.\n\
         Do not delete characters until it reads: a damaged file may have lost figures elsewhere too.",
    ),
    (
        "F002",
        "The file is text in UTF-16, two bytes a character.\n\
         Some spreadsheet and note programs save so when asked for \"Unicode text\".\n\
         Save it again and choose UTF-8 (or CSV UTF-8).",
    ),
    (
        "F003",
        "The file holds a zero byte, which no text file has: it is a program's own file, a picture, an archive, or damaged.\n\
         Pick the right file. A spreadsheet is exported as CSV first; a sheet is plain text ending in .toml.",
    ),
    (
        "F004",
        "The file is empty, or holds nothing but spaces and line ends.\n\
         It happens when a copy failed or a storage stick was pulled too early. Copy it again from where it came.",
    ),
    (
        "F005",
        "The file is larger than any document of its kind. It is most likely another file, such as a log or a video.\n\
         A machine sheet has some ten thousand bytes. Long logs of readings are for the stream of `holdline tooth`, which has no such bound.",
    ),
    (
        "F015",
        "A list is longer than any that can be meant, such as hundreds of buckets on one sheet, or tens of thousands of check shots.\n\
         Most likely it is the wrong file, or one entry was copied many times. holdline stops before it fills the memory.",
    ),
    (
        "F018",
        "The file ends where it should not: in the middle of something, or in a last line that has no line end.\n\
         A file cut short is what a pulled stick, a full disk or a broken transfer leaves, and it can look whole: 2.94 cut to 2.9 is still a number.\n\
         Copy the file again and compare its size. If it is whole and your editor leaves out the last line end, add an empty line.\n\
         holdline asks rather than digs by half a number.",
    ),
    (
        "F019",
        "Two entries of one list have the same name: two buckets, two sensors, two shots, two marks.\n\
         On a record nobody could tell which one was meant. It happens when an entry is copied and its name forgotten.\n\
         Rename one, or take out the one that is not valid. For control marks find out which coordinates hold before anything is measured from them.",
    ),
    (
        "F020",
        "A text or name is too long, empty, or holds a character that a name cannot have: brackets, quotation marks, spaces at its ends.\n\
         Names appear in paths such as bucket[T75].tooth[left], on sheets and in records. Use the name that is painted on the tool.",
    ),
    (
        "F022",
        "There are more faults than are told at once. The last line counts the rest.\n\
         Often one mistake near the top makes all of them. Correct what is told first and read the file again.",
    ),
    (
        "F059",
        "holdline read a sheet without finding a fault and still could not put the machine together.\n\
         That is a mistake in holdline, not in your sheet. Nothing was computed from it. Please send the sheet to the makers.",
    ),
    // machine sheets
    (
        "F006",
        "A line is not TOML, the form in which sheets are written: key = value, sections in brackets, text in quotation marks.\n\
         Usual causes: a comma in a number, a bracket or quotation mark that is not closed, a value without a key.\n\
         Correct the line that is named. The other sections have been read all the same, and their faults are told too.",
    ),
    (
        "F007",
        "A key or section stands twice, and nobody can tell which is meant.\n\
         Keep the right one. Look at both values before: the second may be the newer measurement.",
    ),
    (
        "F008",
        "A key is unknown. What holdline does not know it must not pass over: a misspelt sd or tooth point would be missing without a word.\n\
         The nearest known key is named. Notes of your own go into note = \"…\" or into a line that begins with #.",
    ),
    (
        "F009",
        "A key or section that is needed is missing. holdline puts no usual value in its place: a guessed length is a wrong tooth.\n\
         Measure it, or take it from the paper of the last measure-up. If the last sections are all missing, the file was cut short.",
    ),
    (
        "F010",
        "A value is of another kind than its key asks for: text where a number should be, one number where a point should be.\n\
         Numbers stand bare, with a decimal point, without unit and without quotation marks; the section units says what they are in.\n\
         A measured value is a number, or { value = 2.94, sd = 0.003 }; a point is [x, y, z], or { at = [x, y, z], sd = 0.003 }.",
    ),
    (
        "F011",
        "A number is not a number (nan), infinite, or too large for a machine.\n\
         It comes from a spreadsheet's failed formula, or stands for something nobody measured. Measure it, or leave the key out where it may be left out.",
    ),
    (
        "F012",
        "A standard uncertainty (sd) is zero or negative. No measurement is exact, and an sd of zero would make every check look better than it is.\n\
         State the spread of repeated measurements. Where nobody knows it, take the key or the figure out rather than type zero: it then counts as unknown wherever a tolerance is judged, and a calibration asks for it before it counts the value.",
    ),
    (
        "F013",
        "The file does not say that it is what was asked for, or says that it is something else.\n\
         A machine sheet begins with format = \"holdline.machine\" and version = 1; other documents have words of their own, and a table says it on a line such as format,holdline.observations.",
    ),
    (
        "F014",
        "The sheet has a newer version than this holdline knows. It may hold something that this one would misread or pass over.\n\
         Read it with the newer holdline that wrote it. Do not lower the number: the version says what the keys mean.",
    ),
    (
        "F016",
        "A word is not one of those that its key knows, such as a kind of sensor, a joint or a unit.\n\
         The known words are listed, and the nearest is named. intl-ft and us-ft are two different feet: on grid coordinates of a million feet they differ by two feet.",
    ),
    (
        "F017",
        "A number is not one of those that its key can take: a count that is not whole, a sign that is neither 1 nor -1, a version below 1.",
    ),
    (
        "F021",
        "A date is not written year-month-day, such as 2025-12-01. Day and month in another order can be mistaken for each other, so only this one is read.",
    ),
    (
        "F023",
        "A key stands beside a word that does not call for it, such as a boom length beside kind = \"two-piece\".\n\
         Either the word is wrong or the key is left over from another machine's sheet. Find out which: they describe different booms.",
    ),
    (
        "F024",
        "Of several keys exactly one must be there, such as the shape of a solid; none or more than one is.\n\
         Give a part of two shapes two sections of the same part.",
    ),
    // documents of a calibration
    (
        "F101",
        "Words do not say which point of the machine is meant, or leave something to guess: tooth alone may be the left, the centre or the right one.\n\
         Teeth are tooth[left], tooth[centre], tooth[right] as seen from the seat, or tooth[NAME] as on the sheet. Pins are pin A (boom foot), pin B (boom-stick), pin C (stick-bucket), pin D (bucket link to ear), pin E (idler, rod and link), pin F (idler on stick), front pin (the bucket's own). Then antenna[NAME] and swing axis.\n\
         A wrong point fits some of the measurements and bends the rest of the machine: look it up in the field book rather than try.",
    ),
    (
        "F102",
        "The point is one of the machine and not one that this kind of observation can be of: a swing circle is made by an antenna, a pin arc turns about pin A, B or C, a tape has two different ends.\n\
         Correct the point or the kind.",
    ),
    (
        "F103",
        "Figures that belong together are not all there, or there is one too many: an easting without its northing, a house turn without pitch or roll, a plumb line whose sd is a length over an unknown distance.\n\
         Complete the row from the field book. Where the second figure was never measured, leave both out.",
    ),
    (
        "F104",
        "A line above the header of a table has a key that an earlier line had.\n\
         Such lines say once for the whole file which machine was measured and which coupler, tilting device and bucket hung on it: the key in the first cell, its value in the second.\n\
         Keep the right one: two tools in one file cannot be told apart by row. Measure them into two files.",
    ),
    (
        "F106",
        "A figure is outside of what it can be: a tape of 5,721 metres, an angle of 1,000 degrees, an uncertainty of three metres. Millimetres read as metres and degrees read as radians look like this.\n\
         Correct the figure, or the unit that the document states for it.",
    ),
    (
        "F107",
        "A reading has a name that no sensor or antenna of the machine sheet has, and that is none of the usual ones (boom, stick, idler, bucket, pitch, roll, heading, swing, …).\n\
         The nearest known name is named. Readings of an antenna are NAME_easting, NAME_northing, NAME_elevation. Load the machine sheet first if its sensors are not known yet.",
    ),
    (
        "F111",
        "The correlations of a calibration stand in rows below the diagonal: one number in the first row, two in the second, and so on. A row is too short or too long.\n\
         Something was lost or added by hand. Take the calibration from the job again: without the right correlations the uncertainty of the tooth is wrong, and mostly too small or far too large.",
    ),
    (
        "F112",
        "A calibration names the machine sheet that it stands on by the hash of its content, and here stands something else.\n\
         Without it nobody can say whether the lengths and offsets belong to this sheet or to one that was changed since. Take the calibration from the job again.",
    ),
    (
        "F113",
        "A figure is not named by a path through the machine sheet, such as boom.length, sensor[S-boom].offset or bucket[T75].tooth[centre].at.x.\n\
         The list of figures of a sheet has every path as it must be written.",
    ),
    (
        "F114",
        "A correlation lies beyond -1 and 1, which none can. A covariance or a percentage written in its place looks like this.\n\
         Take the calibration from the job again rather than correct it by hand: the numbers hang together.",
    ),
    (
        "F115",
        "The least step of an entry is zero or below. It is the difference of two numbers that can be keyed next to each other, such as 0.01.\n\
         Leave it out if nobody tried; the rounding is then said to be unknown, and not to be none.",
    ),
    (
        "F116",
        "The range of an entry does not run from a least number up to a larger one. Key both ends into the system and see what it takes.",
    ),
    // check shots and control points
    (
        "F028",
        "A line lacks something that it cannot do without: a name, a surveyed coordinate, something shown to hold against it, the second of easting and northing.\n\
         Complete the line. Leave a cell empty only where nobody states the value.",
    ),
    (
        "F029",
        "The header lacks a column that the file cannot do without. Shots need a name, the tooth as surveyed, and the tooth as shown or the readings of the pose; control needs a name and coordinates.",
    ),
    (
        "F030",
        "The first line holds numbers, so it names no columns.\n\
         holdline does not guess which column is easting and which is northing: swapped, they can look right and put the tooth on the other side of the line.\n\
         Put a line of names with units on top, such as name,northing_m,easting_m,elevation_m.",
    ),
    (
        "F031",
        "A column has a name that is not known, or one that leaves open whose coordinate it is.\n\
         An unknown column might be the sd or the height that is missing elsewhere, so it is not passed over. Correct the name or take the column out; free words go into a column note.",
    ),
    (
        "F032",
        "A column of numbers has no unit at the end of its name. Metres and feet, degrees and gon are never guessed.\n\
         Write elevation_m, elevation_mm, elevation_ft (international) or elevation_usft (US survey).",
    ),
    (
        "F033",
        "Two columns mean the same. holdline does not choose between them; keep the one that is valid.",
    ),
    (
        "F034",
        "A line has more or fewer fields than the header has columns. A separator in a text, a decimal comma in a comma table, or a line cut short looks like this.\n\
         Everything behind the missing or extra field would stand in the wrong column, so the line is not read.",
    ),
    (
        "F035",
        "A cell holds something that is not a number. Decimal commas are not read: 1,234 could be a little over one or over a thousand.",
    ),
    (
        "F036",
        "A cell holds nan or infinity. Leave it empty if nobody knows the value.",
    ),
    (
        "F037",
        "A number is outside of what such a coordinate, angle or uncertainty can be. Millimetres in a column of metres, degrees in a column of radians, or swapped columns look like this.\n\
         Correct the number or the unit in the column's name.",
    ),
    (
        "F038",
        "The file has a header and nothing below it. It may have been cut short, or exported before it was filled.",
    ),
    (
        "F039",
        "A quotation mark is opened and not closed on the same line. Everything behind it would be swallowed.",
    ),
    // edits of a sheet
    (
        "F040",
        "The sheet holds a line that is not TOML, so it cannot be edited by form without risk to the rest. Correct that line in the text first; the reader names it.",
    ),
    (
        "F041",
        "What was typed is not a number. Type it with a decimal point and without a unit; the form shows the unit beside the field.",
    ),
    (
        "F042",
        "What was typed is not a list of points. Every point stands in brackets of its own, as in [[0.0, 0.1], [0.2, 0.3]].",
    ),
    (
        "F043",
        "A standard uncertainty must be above zero. Leave the field empty if nobody knows it; it then counts as unknown, not as zero.",
    ),
    (
        "F044",
        "The edit names a field that the sheet does not have. The sheet may have been changed since the form was loaded; load it again. Nothing was written.",
    ),
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn codes_once_and_in_order() {
        let codes: Vec<&str> = EXPLAIN.iter().map(|(code, _)| *code).collect();
        let mut sorted = codes.clone();
        sorted.sort_unstable();
        sorted.dedup();
        assert_eq!(sorted.len(), codes.len());
    }

    #[test]
    fn every_code_that_is_used_has_its_story() {
        let sources = [
            include_str!("text.rs"),
            include_str!("document/mod.rs"),
            include_str!("document/walk.rs"),
            include_str!("document/leaf.rs"),
            include_str!("document/syntax.rs"),
            include_str!("machine_sheet/edit.rs"),
            include_str!("targets.rs"),
            include_str!("calibration/mod.rs"),
            include_str!("terms/mod.rs"),
            include_str!("observations/build.rs"),
            include_str!("observations/fields.rs"),
            include_str!("observations/key_lines.rs"),
            include_str!("observations/table.rs"),
            include_str!("observations/toml.rs"),
            include_str!("points/cells.rs"),
            include_str!("points/columns.rs"),
            include_str!("points/shots.rs"),
            include_str!("points/control.rs"),
            include_str!("points/shots_toml.rs"),
        ]
        .concat();
        let told = EXPLAIN;
        for (idx, _) in sources.match_indices("\"F") {
            let code = &sources[idx + 1..idx + 5];
            if !code[1..].bytes().all(|b| b.is_ascii_digit()) {
                continue;
            }
            assert!(told.iter().any(|(c, _)| *c == code), "no story for {code}");
        }
        for (code, _) in told {
            assert!(sources.contains(*code), "{code} is told and never used");
        }
    }
}
