//! A calibration there and back, and the text of every fault.

use holdline::calibrate::fit::Belief;
use holdline::calibrate::observations::ObservedTool;

use super::*;
use crate::document::schema::fits;

const SCHEMA: &str = include_str!("../../../../docs/reference/schema/calibration.schema.json");
const PAGE: &str = include_str!("../../../../docs/reference/calibration-file.md");
const EXAMPLE: &str = include_str!("example.calibration.toml");
const HASH: &str = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"; // of nothing

fn example() -> Calibration {
    let figure = |path: &str, before, value, sd, unit| CalibratedFigure {
        path: path.to_owned(),
        before,
        value,
        sd,
        unit,
    };
    use FigureUnit::{Metre, Radian};
    Calibration {
        machine: "demo-23".to_owned(),
        sheet_hash: HASH.to_owned(),
        tool: ObservedTool {
            coupler: Some("QC-demo".to_owned()),
            tilt: None,
            bucket: "T75".to_owned(),
        },
        who: "A. Example".to_owned(),
        on: "2025-12-02".to_owned(),
        with: "total station, \"steel\" tape".to_owned(),
        figures: vec![
            figure(
                "sensor[S-boom].offset",
                0.0,
                0.1 / 3.0,
                Some(1.0 / 7e4),
                Radian,
            ),
            figure("boom.length", 5.72, 5.72 + 1e-3 / 7.0, Some(0.001), Metre),
            figure("bucket[T75].tooth[centre].at.x", -0.178, -0.0, None, Metre),
        ],
        correlations: vec![-1.0 / 3.0, 0.0, 1e-300],
        belief: Belief::Believed,
        not_determined: vec!["the stick and its\nsensor \\ by these poses".to_owned()],
    }
}

#[test]
fn what_was_written_reads_back_equal_and_is_the_same_bytes() {
    let calibration = example();
    let text = write_calibration(&calibration);
    let read = read_calibration("c", text.as_bytes()).unwrap_or_else(|f| panic!("{f}\n{text}"));
    assert_eq!(read, calibration);
    assert_eq!(read.figures[2].value.to_bits(), (-0.0_f64).to_bits());
    assert_eq!(write_calibration(&read), text);
    assert_eq!(text, EXAMPLE);
    fits::check(SCHEMA, &text, true);
}

#[test]
fn one_that_is_not_believed_says_so_and_why() {
    for why in [vec![], vec!["χ² too large".to_owned(), "copied".to_owned()]] {
        let calibration = Calibration {
            belief: Belief::NotBelieved(why),
            ..example()
        };
        let text = write_calibration(&calibration);
        assert!(text.contains("believed = \"no\""), "{text}");
        assert_eq!(read_calibration("c", text.as_bytes()), Ok(calibration));
    }
    // A yes above reasons against it was typed by somebody.
    let text = write_calibration(&Calibration {
        belief: Belief::NotBelieved(vec!["copied".to_owned()]),
        ..example()
    });
    let text = text.replace("believed = \"no\"", "believed = \"yes\"");
    let read = read_calibration("c", text.as_bytes()).unwrap_or_else(|f| panic!("{f}"));
    assert_eq!(read.belief, Belief::NotBelieved(vec!["copied".to_owned()]));
}

#[test]
fn one_figure_has_no_correlations_and_may_be_in_degrees() {
    let text = format!(
        "format = \"holdline.calibration\"\nversion = 1\nmachine = \"d\"\nsheet = \"{HASH}\"\nbelieved = \"yes\"\n\
         [[figure]]\npath = \"sensor[S-boom].offset\"\nunit = \"deg\"\nbefore = 0\nvalue = 0.03\nsd = 0.01\n\
         [correlations]\nbelow_diagonal = []\n"
    );
    let read = read_calibration("c", text.as_bytes()).unwrap_or_else(|f| panic!("{f}"));
    assert_eq!(read.figures[0].value, 0.03_f64.to_radians());
    assert_eq!(read.figures[0].sd, Some(0.01_f64.to_radians()));
    assert_eq!(
        read_calibration("c", write_calibration(&read).as_bytes()),
        Ok(read)
    );
}

#[track_caller]
fn check(changes: &[(&str, &str)], want: &str) {
    let mut text = write_calibration(&example());
    for (old, new) in changes {
        assert!(text.contains(old), "the example has no {old:?}");
        text = text.replacen(old, new, 1);
    }
    match read_calibration("c.toml", text.as_bytes()) {
        Ok(_) => panic!("it reads\n{text}"),
        Err(faults) => assert_eq!(faults.to_string(), want),
    }
}

#[test]
fn every_fault_is_told() {
    check(
        &[
            ("e3b0", "E3B0"),
            ("path = \"boom.length\"", "path = \"boom length\""),
            ("bucket[T75].tooth[centre].at.x", "sensor[S-boom].offset"),
            ("[-0.3333333333333333]", "[-1.3]"),
        ],
        &format!(
            "\
fault F112 at c.toml:4:9 (sheet)
  got   \"E3B0{}…\"
  want  64 hexadecimal digits in small letters
  fix   take the calibration from the job again; without the hash nobody can say which sheet it stands on
fault F113 at c.toml:27:8 (figure[2].path)
  got   \"boom length\"
  want  a path through the machine sheet
  fix   write it as the sheet's list of figures has it, such as boom.length or sensor[S-boom].offset
fault F019 at c.toml:34:8 (figure[3].path)
  got   \"sensor[S-boom].offset\" a second time
  want  each figure once; entry 1 has this one
  fix   keep the right one, and its row of correlations
fault F114 at c.toml:41:3 (correlations.below_diagonal[1])
  got   -1.3
  want  a correlation, -1 to 1
  fix   take the calibration from the job again; covariances do not belong here",
            &HASH[4..60]
        ),
    );
    check(
        &[("  [0.0, 1e-300],\n", "")],
        "\
fault F111 at c.toml:40:18 (correlations.below_diagonal)
  got   1 rows for 3 figures
  want  one row for each figure but the first
  fix   take the calibration from the job again; figures or correlations were lost",
    );
    check(
        &[("[0.0, 1e-300]", "[0.0]")],
        "\
fault F111 at c.toml:42:3 (correlations.below_diagonal[2])
  got   a row of 1
  want  2 here: one for each row above it, and one
  fix   put back what is missing; each row has one number more than the row before",
    );
    check(
        &[
            ("unit = \"m\"", "unit = \"ft\""),
            ("sd = 0.001", "sd = 0"),
            ("1e-300", "nan"),
        ],
        "\
fault F016 at c.toml:28:8 (figure[2].unit)
  got   \"ft\"
  want  one of: m, rad, mm, deg (Unit of the numbers below)
  fix   choose one of the known words
fault F012 at c.toml:31:6 (figure[2].sd)
  got   0
  want  a standard uncertainty above 0
  fix   state the spread of repeated measurements
fault F011 at c.toml:42:9 (correlations.below_diagonal[2][2])
  got   not a number (NaN)
  want  rows of numbers, each one longer than the row before (Rows below the diagonal)
  fix   measure it, or leave it out if it may be left out",
    );
}

#[test]
fn faults_of_the_core_point_into_the_document() {
    let fault = |at: &str| Fault::new("C001", at, "got", "want", "fix");
    let faults = Faults(vec![
        fault("correlations"),
        fault("bucket[T75].tooth[centre].at.x"),
        fault("boom.length"),
        fault("machine"),
        fault("stick.length"),
    ]);
    let placed = place_calibration_faults("c.toml", EXAMPLE.as_bytes(), faults).to_string();
    let heads: Vec<&str> = placed.lines().filter(|l| l.starts_with("fault")).collect();
    assert_eq!(
        heads,
        [
            "fault C001 at c.toml:1:1 (stick.length)",
            "fault C001 at c.toml:3:11 (machine)",
            "fault C001 at c.toml:30:9 (boom.length)",
            "fault C001 at c.toml:37:9 (bucket[T75].tooth[centre].at.x)",
            "fault C001 at c.toml:39:2 (correlations)",
        ]
    );
}

#[test]
fn a_file_cut_short_never_reads_as_another_calibration() {
    let text = write_calibration(&example());
    for end in (0..text.len()).filter(|end| text.is_char_boundary(*end)) {
        if let Ok(read) = read_calibration("c", &text.as_bytes()[..end]) {
            panic!("cut at {end} it reads: {read:?}");
        }
    }
}

#[test]
fn what_is_published_is_current() {
    fits::current(
        "schema/calibration.schema.json",
        SCHEMA,
        &calibration_schema(),
    );
    fits::current("calibration-file.md", PAGE, &calibration_reference());
}
