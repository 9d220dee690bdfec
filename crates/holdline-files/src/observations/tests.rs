//! Observations: both forms are one claim, and the text of every fault.

use holdline::calibrate::observations::{Observation, Target, What};
use holdline_geom::fault::Fault;
use holdline_geom::measured::Measured;

use super::*;
use crate::document::schema::fits;
use crate::document::units::{METRIC, SI};

const TABLE: &str = include_str!("every_kind.observations.csv");
const TOML: &str = include_str!("every_kind.observations.toml");

fn names() -> (Vec<String>, Vec<String>) {
    let own = |names: &[&str]| names.iter().map(|n| (*n).to_owned()).collect();
    (own(&["S-boom", "S-stick", "S-idler"]), own(&["GL", "GR"]))
}

fn read(file: &str, text: &str) -> Result<Observations, Faults> {
    let (sensors, antennas) = names();
    let names = ReadingNames {
        sensors: &sensors,
        antennas: &antennas,
    };
    read_observations(file, text.as_bytes(), &names)
}

fn good(text: &str) -> Observations {
    read("o", text).unwrap_or_else(|f| panic!("{f}\n{text}"))
}

fn without_lines(mut o: Observations) -> Observations {
    o.rows.iter_mut().for_each(|row| row.line = 0);
    o
}

#[test]
fn both_forms_are_one_claim() {
    let (table, toml) = (good(TABLE), good(TOML));
    assert_eq!(table.rows.len(), 13);
    assert_eq!((table.rows[0].line, toml.rows[0].line), (7, 14));
    assert_eq!(without_lines(table), without_lines(toml));
}

#[test]
fn every_kind_says_what_was_measured() {
    let o = good(TABLE);
    assert_eq!(o.machine, "demo-23");
    assert_eq!(o.tool.coupler.as_deref(), Some("QC-demo"));
    assert_eq!(o.tool.bucket, "T75");
    let of = |name: &str| o.rows.iter().find(|r| r.name == name).unwrap();
    let deg = f64::to_radians;
    let first = of("P1 tooth");
    assert_eq!(
        first.what,
        What::Shot {
            target: Target::Tooth("centre".to_owned()),
            at_m: [5060.0278, 2043.7673, 24.4906].map(|v| Some(Measured::with_sd(v, 0.003))),
        }
    );
    let reading = |row: &Observation, name: &str| {
        let found = row.readings.iter().find(|(n, _)| n == name);
        found.map(|(_, value)| *value)
    };
    assert_eq!(reading(first, "S-idler"), Some(deg(-5.7237)));
    assert_eq!(reading(first, "easting"), Some(5053.8458));
    assert_eq!(reading(first, "GR_elevation"), Some(27.1623));
    assert_eq!(first.note.as_deref(), Some("a \"worn\" tip, 5 mm"));
    // The sd of an axis goes before that of the plan, and that before the one for all.
    let What::Shot { at_m, .. } = &of("P1 pin C").what else {
        panic!("a shot");
    };
    assert_eq!(
        at_m.map(|m| m.and_then(|m| m.sd)),
        [Some(0.004), Some(0.002), Some(0.003)]
    );
    let What::Shot { at_m, .. } = &of("P2 left").what else {
        panic!("a shot");
    };
    assert_eq!(*at_m, [None, None, Some(Measured::with_sd(24.1135, 0.001))]);
    assert_eq!(
        of("P3 mark").what,
        What::Touch {
            target: Target::Tooth("centre".to_owned()),
            mark: "M1".to_owned(),
            sd_m: Some(0.004),
        }
    );
    assert_eq!(
        of("boom").what,
        What::Tape {
            from: Target::BoomFoot,
            to: Target::BoomStick,
            length: Measured::with_sd(5.721, 0.003),
        }
    );
    assert_eq!(
        (of("boom").pose.as_str(), of("boom").stand.as_str()),
        ("", "")
    );
    let slope = |name: &str| match &of(name).what {
        What::Slope { angle, .. } => *angle,
        _ => panic!("a slope"),
    };
    assert_eq!(
        slope("stick slope"),
        Measured::with_sd(deg(-63.2), deg(0.1))
    );
    assert_eq!(
        slope("stick plumb"),
        Measured::with_sd(deg(-90.0), 0.005 / 2.94)
    );
    assert_eq!(slope("boom plumb"), Measured::with_sd(deg(-90.0), deg(0.1)));
    assert_eq!(
        of("turn 2").what,
        What::HouseTurn {
            turn: Measured::without_sd(deg(180.0))
        }
    );
    assert!(matches!(&of("circle 1").what, What::SwingCircle { antenna, .. } if antenna == "GL"));
    assert!(
        matches!(&of("arc 1").what, What::PinArc { pin: Target::BoomFoot, arc, .. } if arc == "boom sticker")
    );
}

#[test]
fn what_was_written_reads_back_equal() {
    let o = without_lines(good(TOML));
    for text in [
        write_observations_csv(&o),
        write_observations_toml(&o, SI),
        write_observations_toml(&o, METRIC),
    ] {
        assert_eq!(without_lines(good(&text)), o, "{text}");
    }
    assert_eq!(
        write_observations_csv(&o),
        write_observations_csv(&good(TABLE))
    );
}

#[test]
fn columns_that_nobody_uses_are_not_written() {
    let mut o = good(TABLE);
    o.rows.retain(|row| row.name == "boom");
    o.rows[0].instrument = None;
    assert_eq!(
        write_observations_csv(&o),
        "format,holdline.observations\nversion,1\nmachine,\"demo-23\"\ncoupler,\"QC-demo\"\nbucket,\"T75\"\n\
         name,kind,target,to,length_m,sd_m,by,when\n\
         \"boom\",\"tape\",\"pin A\",\"pin B\",5.721,0.003,\"A. Example\",\"2025-12-01\"\n"
    );
}

#[test]
fn a_table_as_a_spreadsheet_saves_it() {
    let text = "\u{feff}Machine;demo-23;;;;\r\nBUCKET;T75;;;;\r\nTilt;;;;;\r\n;;;;;\r\n\
                Name;Kind;Target;To;Length (ft);SD (mm)\r\n\"1\";tape;Pin a;pin B;18.77;3\r\n;;;;;\r\n";
    let o = good(text);
    assert_eq!(
        (o.machine.as_str(), o.tool.bucket.as_str()),
        ("demo-23", "T75")
    );
    assert_eq!(
        o.rows[0].what,
        What::Tape {
            from: Target::BoomFoot,
            to: Target::BoomStick,
            length: Measured::with_sd(18.77 * 0.3048, 0.003),
        }
    );
}

#[test]
fn a_table_is_told_from_other_tables() {
    assert!(is_observations_table(TABLE));
    assert!(is_observations_table("kind;from;to\n"));
    assert!(!is_observations_table(include_str!(
        "../../../../demo/S1.shots.csv"
    )));
    assert!(!is_observations_table(include_str!(
        "../../../../demo/control.csv"
    )));
    assert!(!is_observations_table(include_str!(
        "../../../../demo/S1-day.readings.csv"
    )));
    assert!(!is_observations_table(""));
}

#[track_caller]
fn refused(file: &str, text: &str, want: &str) {
    match read(file, text) {
        Ok(_) => panic!("it reads\n{text}"),
        Err(faults) => assert_eq!(faults.to_string(), want),
    }
}

/// One observation in TOML.
fn toml(lines: &str) -> String {
    format!(
        "format = \"holdline.observations\"\nversion = 1\n[units]\nlength = \"m\"\nangle = \"deg\"\n[[observation]]\n{lines}"
    )
}

#[test]
fn every_bad_cell_of_a_table_is_told() {
    refused(
        "o.csv",
        "name,kind,pose,stand,setup,target,to,easting_m,northing_m,elevation_m,sd_m,length_m\n\
         1,shoot,P,S,site,tooth,,5060.1,2043.2,24.5,0.003,\n\
         2,shot,P,,site,pin C,,5060.1,2043.2,24.5,0.003,\n\
         3,level,P,S,site,pin C,,5060.1,2043.2,24.5,0.003,\n\
         3,tape,,,,pin A,pin A,,,,0.003,5.7\n\
         5,tape,,,,pin A,pin B,,,,0.003,5721\n\
         6,shot,P,S,site,pin C,,5060.1,,24.5,0,\n\
         7,shot,P,S,site,pin C,,5060.1,,24.5,,\n\
         8,shot,P,S,site,pin C,,,,,0.003,\n\
         ,shot,P,S,site,pin C,,,,24.5,0.003,\n\
         a[b],shot,P,S,site,pin C,,,,24.5,0.003,\n",
        "\
fault F016 at o.csv:2:3 (observation[1].kind)
  got   \"shoot\"
  want  one of: shot, level, touch, tape, slope, plumb, house-turn, swing-circle, pin-arc (What was measured)
  fix   \"shot\" is the nearest known word
fault F101 at o.csv:2:18 (observation[1].target)
  got   \"tooth\"
  want  tooth[NAME], pin A to pin F, front pin, antenna[NAME] or swing axis, such as tooth[centre]
  fix   say which: tooth[left], tooth[centre] or tooth[right], as seen from the seat
fault F009 at o.csv:3:10 (observation[2].stand)
  got   nothing
  want  stand (Stand of the machine) beside kind = \"shot\"
  fix   add stand; one name for as long as the tracks do not move
fault F023 at o.csv:4:25 (observation[3].easting)
  got   easting beside kind = \"level\"
  want  it only where kind is shot or swing-circle or pin-arc
  fix   take it out, or correct kind
fault F023 at o.csv:4:32 (observation[3].northing)
  got   northing beside kind = \"level\"
  want  it only where kind is shot or swing-circle or pin-arc
  fix   take it out, or correct kind
fault F019 at o.csv:5:1 (observation[3].name)
  got   \"3\" a second time; line 4 has it
  want  a name of its own
  fix   rename it, or take out the line that was copied
fault F102 at o.csv:5:17 (observation[3].to)
  got   pin A
  want  another point than the first
  fix   correct one of the two; a line needs two ends
fault F037 at o.csv:6:32 (line 6, length)
  got   5721 m
  want  0.01 m to 60 m
  fix   measure point to point again; millimetres or feet read as metres look like this
fault F012 at o.csv:7:37 (line 7, sd)
  got   0
  want  a standard uncertainty above 0 m
  fix   state the spread of repeated measurements
fault F103 at o.csv:8:31 (observation[7].northing)
  got   an easting without a northing
  want  both or neither
  fix   add the other one; leave both out where height alone was measured
fault F103 at o.csv:9:24 (observation[8].easting)
  got   no coordinate
  want  easting, northing and elevation; elevation alone will do for height
  fix   add what was measured, or take the observation out
fault F028 at o.csv:10:1 (observation[9].name)
  got   nothing
  want  name (Name)
  fix   complete the row, or take it out
fault F020 at o.csv:11:1 (observation[10].name)
  got   \"a[b]\"
  want  1 to 60 characters, without brackets, quotation marks or outer spaces
  fix   choose a name as it is painted on the machine or tool",
    );
}

#[test]
fn an_sd_that_belongs_to_nothing_is_told() {
    refused(
        "o.csv",
        "name,kind,pose,stand,target,to,sd_easting_m,easting_m,northing_m,setup,length_m,angle_deg,sd_m,sd_deg\n\
         1,slope,P,S,pin B,pin C,,,,,,-63.1,0.003,\n\
         2,tape,P,S,pin B,pin C,,,,,2.94,,,0.1\n\
         3,plumb,P,S,pin B,pin C,,,,,2.94,,0.005,0.1\n\
         4,plumb,P,S,pin B,pin C,,,,,,,0.005,\n\
         5,plumb,P,S,pin B,pin C,,,,,2.94,,,\n\
         6,shot,P,S,pin C,,0.003,,,site,,,,\n",
        "\
fault F023 at o.csv:2:36 (observation[1].sd)
  got   sd beside kind = \"slope\"
  want  it only where kind is touch or plumb
  fix   take it out, or correct kind
fault F023 at o.csv:3:35 (observation[2].sd_angle)
  got   sd_angle beside kind = \"tape\"
  want  it only where kind is plumb
  fix   take it out, or correct kind
fault F103 at o.csv:4:41 (observation[3].sd_angle)
  got   an sd as angle and one as length
  want  sd_angle alone, or sd and length
  fix   keep the one that was estimated; holdline does not choose
fault F103 at o.csv:5:29 (observation[4].length)
  got   an sd as length without the length
  want  sd and length, or sd_angle
  fix   add the distance between the two points; an sd as length is an angle only over it
fault F103 at o.csv:6:35 (observation[5].sd)
  got   a length without an sd
  want  sd and length, or neither
  fix   add how far beside the lower point the line may hang, or take the length out
fault F028 at o.csv:7:25 (observation[6].easting)
  got   an sd of easting without easting
  want  both or neither
  fix   add the coordinate, or empty the cell of its sd",
    );
}

#[test]
fn a_header_that_leaves_something_to_guess_is_refused() {
    refused(
        "o.csv",
        "name,kind,target,easting,northing_feet,elevation_deg,surveyed_elevation_m,bucket,sd,boom\n\
         1,shot,pin C,1,2,3,4,T75,0.1,3\n",
        &format!("\
fault F032 at o.csv:1:18 (column easting)
  got   \"easting\" without a unit
  want  easting_ and a unit, one of m, mm, ft, usft
  fix   add the unit to the column's name; holdline does not guess it
fault F032 at o.csv:1:26 (column northing_feet)
  got   \"feet\" as unit
  want  northing_ and a unit, one of m, mm, ft, usft
  fix   write ft for international feet, usft for US survey feet; holdline does not guess which
fault F032 at o.csv:1:40 (column elevation_deg)
  got   \"deg\" as unit
  want  elevation_ and a unit, one of m, mm, ft, usft
  fix   write the figures in one of these units, and the unit at the end of the name
fault F031 at o.csv:1:54 (column surveyed_elevation_m)
  got   \"surveyed_elevation_m\"
  want  a name that says whose it is
  fix   write easting_m, northing_m, elevation_m here; surveyed_… belongs to check shots, which are not calibrated from
fault F031 at o.csv:1:75 (column bucket)
  got   \"bucket\"
  want  a name that says whose it is
  fix   {}
fault F031 at o.csv:1:82 (column sd)
  got   \"sd\"
  want  a name that says whose it is
  fix   write sd_m or sd_mm for lengths, sd_deg for angles
fault F032 at o.csv:1:85 (column boom)
  got   \"boom\" without a unit
  want  boom_ and a unit, one of deg, rad, gon
  fix   add the unit to the column's name; holdline does not guess it",
        "write it once, on a line of its own above this one: the key in the first cell, its value in the second"),
    );
    refused(
        "o.csv",
        "pose,target,elevation_m\nP,pin C,24.1\n",
        "\
fault F029 at o.csv:1:1 (header)
  got   no column name
  want  a column name
  fix   give every observation a name, so that the report can say which one is off
fault F029 at o.csv:1:1 (header)
  got   no column kind
  want  a column kind
  fix   say what was measured: shot, level, touch, tape, slope, plumb, house-turn, swing-circle or pin-arc",
    );
}

#[test]
fn key_lines_that_cannot_be_used_are_told() {
    refused(
        "o.csv",
        "version,0\nmachine,\nbucket,T75\nbucket,G180\ncoupler,a[b]\nname,kind,target,to,length_m\n1,tape,pin A,pin B,5.72\n",
        "\
fault F017 at o.csv:1:9 (version)
  got   \"0\"
  want  a whole number, 1 to 1
  fix   correct the number
fault F104 at o.csv:4:1 (bucket)
  got   the key bucket a second time
  want  each key once
  fix   keep the right line and take the other out
fault F020 at o.csv:5:9 (coupler)
  got   \"a[b]\"
  want  1 to 60 characters, without brackets, quotation marks or outer spaces
  fix   choose a name as it is painted on the machine or tool",
    );
    refused(
        "o.csv",
        "format,holdline.shots\nname,kind\n1,x\n",
        "\
fault F013 at o.csv:1:8 (format)
  got   \"holdline.shots\"
  want  format = \"holdline.observations\"
  fix   pick the observations; this file says that it is something else",
    );
    refused(
        "o.csv",
        "version,2\nname,kind\n1,x\n",
        "\
fault F014 at o.csv:1:9 (version)
  got   version 2
  want  version 1 at most
  fix   this sheet was written for a newer holdline; get that one, as this one could misread it",
    );
}

#[test]
fn toml_is_told_in_the_same_words() {
    refused(
        "o.toml",
        &toml(
            "name = \"1\"\nkind = \"level\"\npose = \"P\"\nstand = \"S\"\ntarget = \"C\"\neasting = 5060.1\nelevation = 24.1\n\
             readings = { bom = 28.9, pitch = 77, stick = \"x\" }\nnote = \"\"\n",
        ),
        "\
fault F009 at o.toml:6:1 (observation[1].setup)
  got   nothing
  want  setup (Set-up of the survey) beside kind = \"level\"
  fix   add setup; site where the coordinates are the site's; any other name for an instrument frame of its own
fault F101 at o.toml:11:10 (observation[1].target)
  got   \"C\"
  want  tooth[NAME], pin A to pin F, front pin, antenna[NAME] or swing axis, such as tooth[centre]
  fix   write pin C
fault F023 at o.toml:12:1 (observation[1].easting)
  got   easting beside kind = \"level\"
  want  it only where kind is shot or swing-circle or pin-arc
  fix   take it out, or correct kind
fault F107 at o.toml:14:14 (observation[1].readings.bom)
  got   the reading \"bom\"
  want  a reading such as boom, pitch, heading, a sensor's name, or GL_easting of the antenna GL
  fix   \"boom\" is the nearest known name; correct it, or take it out
fault F106 at o.toml:14:34 (observation[1].readings.pitch)
  got   77 °
  want  -46 ° to 46 ° (pitch or roll of a house on its tracks)
  fix   look at the house sensor and its unit: degrees read as radians look like this
fault F010 at o.toml:14:46 (observation[1].readings.stick)
  got   the text \"x\"
  want  names and numbers such as { boom = 28.9 }, in deg and m (What the sensors read in this pose)
  fix   correct the value
fault F020 at o.toml:15:8 (observation[1].note)
  got   \"\"
  want  1 to 200 characters on one line, without spaces before and after
  fix   shorten it to one line; leave it out where there is nothing to say",
    );
    refused(
        "o.toml",
        &toml(
            "name = \"1\"\nkind = \"house-turn\"\nstand = \"S\"\nturn = 1000\nreadings = { pitch = 1 }\n",
        ),
        "\
fault F106 at o.toml:10:8 (observation[1].turn)
  got   1000 °
  want  -720 ° to 720 ° (a heading or swing angle)
  fix   look at the unit: degrees read as radians look like this
fault F103 at o.toml:11:12 (observation[1].readings)
  got   no roll
  want  pitch and roll beside kind = \"house-turn\"
  fix   add what the house sensor reads at this turn",
    );
    refused(
        "o.toml",
        &toml("name = \"1\"\nkind = \"swing-circle\"\nstand = \"S\"\nsetup = \"site\"\ntarget = \"pin A\"\nelevation = 24100\n\
              [[observation]]\nname = \"2\"\nkind = \"pin-arc\"\nstand = \"S\"\nsetup = \"site\"\narc = \"x\"\ntarget = \"pin D\"\nelevation = { value = 24.1, sd = 3 }\n\
              [[observation]]\nname = \"3\"\nkind = \"plumb\"\npose = \"P\"\ntarget = \"pin B\"\nto = \"pin C\"\nlength = { value = 2.9, sd = 0.1 }\nsd = 0.01\n"),
        "\
fault F102 at o.toml:11:10 (observation[1].target)
  got   pin A
  want  antenna[NAME] beside kind = \"swing-circle\"
  fix   name the antenna; a prism on its place goes by the antenna's name too
fault F106 at o.toml:12:13 (observation[1].elevation)
  got   24100 m
  want  -1000 m to 10000 m (elevation in the set-up's frame)
  fix   give the elevation in the unit that is stated; millimetres read as metres look like this
fault F102 at o.toml:19:10 (observation[2].target)
  got   pin D
  want  pin A, pin B or pin C beside kind = \"pin-arc\"
  fix   name the pin in the middle of the arc: A of the boom, B of the stick, C of the bucket
fault F106 at o.toml:20:34 (observation[2].elevation.sd)
  got   3 m
  want  0 m to 1 m (a standard uncertainty of a length)
  fix   look at the unit: millimetres read as metres look like this
fault F103 at o.toml:27:20 (observation[3].length)
  got   a length with an sd of its own
  want  a length without
  fix   write the length as a bare number; sd says how far beside the lower point the line may hang",
    );
    refused(
        "o.toml",
        "format = \"holdline.observations\"\nversion = 1\nobservation = []\n[units]\nlength = \"m\"\nangle = \"deg\"\n",
        "\
fault F038 at o.toml:3:1 (observation)
  got   a list without an entry
  want  at least one observation
  fix   pick the right file, or copy it again: it may have been cut short",
    );
}

#[test]
fn faults_of_the_core_point_into_either_form() {
    /// The fault's place is where `want` begins.
    #[track_caller]
    fn check(file: &str, text: &str, at: &str, want: &str) {
        let faults = Fault::new("C001", at, "got", "want", "fix").into();
        let placed = place_observation_faults(file, text.as_bytes(), faults);
        let place = placed.0[0].place.clone().unwrap();
        let line = text.lines().nth(place.line - 1).unwrap();
        let from: String = line.chars().skip(place.column - 1).collect();
        assert!(from.starts_with(want), "{at} leads to {place:?}, {from:?}");
    }
    for (at, in_table, in_toml) in [
        ("observation[P1 tooth].easting", "5060.0278", "5060.0278"),
        (
            "observation[P1 tooth].readings.S-idler",
            "-5.7237",
            "-5.7237",
        ),
        (
            "observation[P1 tooth].readings.easting",
            "5053.8458",
            "5053.8458",
        ),
        ("observation[boom].target", "pin A,pin B", "\"pin A\""),
        ("observation[boom].length.sd", "5.721", "0.003 }"),
        ("observation[boom plumb].sd_angle", "0.1,25.2", "0.1"),
        (
            "observation[arc 1].mark",
            ",boom sticker",
            "[[observation]]",
        ),
        ("observation[nobody]", "name,kind", "observation]]"),
        ("tool.bucket", "T75", "\"T75\""),
        ("machine", "demo-23", "\"demo-23\""),
        ("x", "name,kind", "# Every kind"),
    ] {
        check("o.csv", TABLE, at, in_table);
        check("o.toml", TOML, at, in_toml);
    }
}

#[test]
fn what_is_published_is_current() {
    const SCHEMA: &str = include_str!("../../../../docs/reference/schema/observations.schema.json");
    const PAGE: &str = include_str!("../../../../docs/reference/observations-file.md");
    fits::current(
        "schema/observations.schema.json",
        SCHEMA,
        &observations_schema(),
    );
    fits::current("observations-file.md", PAGE, &observations_reference());
    fits::check(SCHEMA, TOML, true);
    let spoilt = |old: &str, new: &str| {
        assert!(TOML.contains(old));
        fits::check(SCHEMA, &TOML.replacen(old, new, 1), false);
    };
    spoilt("mark = \"M1\"", "");
    spoilt("kind = \"shot\"", "kind = \"shoot\"");
    spoilt("kind = \"level\"", "kind = \"level\"\neasting = 1.0");
    spoilt("sd = 0.004", "sd = 0.0");
}

#[test]
fn the_demo_reads() {
    let day = good(include_str!(
        "../../../../demo/calibration-day.observations.csv"
    ));
    let tape = good(include_str!("../../../../demo/tape-only.observations.csv"));
    for o in [&day, &tape] {
        assert_eq!(
            (o.machine.as_str(), o.tool.bucket.as_str()),
            ("demo-23", "T75")
        );
        let again = good(&write_observations_toml(o, SI));
        assert_eq!(without_lines(again), without_lines(o.clone()));
    }
    assert!(50 < day.rows.len() && 20 < tape.rows.len());
}

#[test]
fn more_faults_than_are_told_are_counted() {
    let entry = |i: usize| {
        format!(
            "[[observation]]\nname = \"{i}\"\nkind = \"tape\"\ntarget = \"pin A\"\nto = \"pin A\"\nlength = 5.7\n"
        )
    };
    let entries: String = (0..5000).map(entry).collect();
    let (head, _) = toml("")
        .split_once("[[")
        .map(|(h, t)| (h.to_owned(), t.to_owned()))
        .unwrap();
    let faults = read("o.toml", &(head + &entries)).unwrap_err();
    assert_eq!(faults.0.len(), 101);
    assert_eq!(faults.0[100].got, "4900 more faults");
}

#[test]
fn the_table_of_the_reference_reads() {
    const PAGE: &str = include_str!("../../../../docs/reference/file-formats.md");
    let table = PAGE
        .split("```csv\n")
        .nth(1)
        .and_then(|rest| rest.split("```").next());
    let o = good(table.unwrap());
    assert_eq!(o.tool.bucket, "T75");
    assert_eq!(o.rows.len(), 2);
    for case in &fields::CASES {
        assert!(
            PAGE.contains(&format!("| `{}` |", case.word)),
            "no {}",
            case.word
        );
    }
}
