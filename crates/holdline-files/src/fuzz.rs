//! Any bytes at all, given to every reader: what must hold whatever they are.
//!
//! The fuzz targets call these functions and nothing else. They panic only where holdline has a mistake.

use holdline::calibrate::observations::Observations;
use holdline_geom::fault::{Fault, Faults};

use crate::calibration::{place_calibration_faults, read_calibration, write_calibration};
use crate::document::kind_by_format;
use crate::document::leaf::{check_line, is_name};
use crate::document::units::{METRIC, SI, Units};
use crate::machine_sheet::edit::{Edit, apply_edits};
use crate::machine_sheet::form::form;
use crate::machine_sheet::{
    locate, place_faults, read_machine_sheet, read_node, write_machine_sheet,
};
use crate::observations::{
    ReadingNames, is_observations_table, place_observation_faults, read_observations,
    write_observations_csv, write_observations_toml,
};
use crate::points::{
    ControlPoint, ShotRow, read_control, read_shots, write_control, write_shots, write_shots_toml,
};
pub use crate::readings::fuzz::fuzz_readings;
use crate::terms::{place_term_faults, read_terms, write_terms};
use crate::text::{MOST_FAULTS, text_of};

/// Reads `bytes` as a machine sheet: it reads and then writes and edits without loss, or its faults say where and why.
///
/// # Panics
///
/// When holdline has a mistake.
pub fn fuzz_machine_sheet(bytes: &[u8]) {
    let Ok(text) = text_of("fuzz", bytes) else {
        check_faults(read_machine_sheet("fuzz", bytes).map(|_| ()));
        return;
    };
    let edits: Vec<Edit> = form(text)
        .groups
        .into_iter()
        .flat_map(|g| g.fields)
        .map(|f| Edit {
            path: f.path,
            value: f.value,
            sd: f.sd,
        })
        .collect();
    let edited = apply_edits(text, &edits);
    match read_machine_sheet("fuzz", bytes) {
        Ok(machine) => {
            assert_eq!(
                edited.faults,
                Faults::none(),
                "its own values cannot be entered"
            );
            // The editor may tidy a space inside a header, and mixed line ends; every other mark stays.
            let marks = |text: &str| text.replace([' ', '\t', '\r'], "");
            let (before, after) = (marks(text), marks(&edited.text));
            let mut lines = after.lines().zip(before.lines());
            let differs = lines.find(|(a, b)| a != b);
            assert_eq!(differs, None, "its own values change it");
            assert_eq!(after.len(), before.len(), "its own values change it");
            assert_eq!(
                read_machine_sheet("edited", edited.text.as_bytes()).as_ref(),
                Ok(&machine)
            );
            let units = read_node("fuzz", text).map_or(SI, |(_, units)| units);
            reads_back(&machine, units);
            reads_back(&machine, SI);
        }
        Err(faults) => {
            for fault in &faults.0 {
                locate("fuzz", text, &fault.at);
            }
            let placed = place_faults("fuzz", text, faults.clone());
            assert_eq!(placed.0.len(), faults.0.len());
            check_faults(Err::<(), Faults>(faults));
        }
    }
}

fn reads_back(machine: &holdline::machine::claim::ClaimedMachine, units: Units) {
    let written = write_machine_sheet(machine, units);
    match read_machine_sheet("written", written.as_bytes()) {
        Ok(again) => assert_eq!(&again, machine, "written and read it is another\n{written}"),
        Err(faults) => panic!("what was written does not read: {faults}\n{written}"),
    }
}

/// Reads `bytes` as check shots: every line is in the answer, and writes and reads back equal; or faults say why not.
///
/// # Panics
///
/// When holdline has a mistake.
pub fn fuzz_shots(bytes: &[u8]) {
    let sensors = ["S-boom".to_owned()];
    let shots = match read_shots("fuzz", bytes, &sensors) {
        Ok(shots) => shots,
        Err(faults) => return check_faults(Err::<(), Faults>(faults)),
    };
    let written = write_shots(&shots);
    let again = read_shots("written", written.as_bytes(), &sensors)
        .unwrap_or_else(|f| panic!("what was written does not read: {f}\n{written}"));
    let same = |mut shots: Vec<ShotRow>| {
        shots.iter_mut().for_each(|s| s.line = 0);
        shots
    };
    assert_eq!(same(again), same(shots.clone()));
    // A table may have names that a path cannot; the document says so.
    let names = shots.iter().flat_map(|s| s.tooth.iter().chain([&s.name]));
    let texts = |s: &ShotRow| {
        [
            s.by.clone(),
            s.when.clone(),
            s.instrument.clone(),
            s.note.clone(),
        ]
    };
    let mut lines = shots.iter().flat_map(texts).flatten();
    if names.into_iter().all(|n| is_name(n)) && lines.all(|l| check_line("", &l).is_ok()) {
        let written = write_shots_toml(&shots, SI);
        let again = read_shots("written.toml", written.as_bytes(), &sensors)
            .unwrap_or_else(|f| panic!("what was written does not read: {f}\n{written}"));
        assert_eq!(same(again), same(shots));
    }
}

/// Reads `bytes` as control points, and holds the same of them as of shots.
///
/// # Panics
///
/// When holdline has a mistake.
pub fn fuzz_control(bytes: &[u8]) {
    let points = match read_control("fuzz", bytes) {
        Ok(points) => points,
        Err(faults) => return check_faults(Err::<(), Faults>(faults)),
    };
    let written = write_control(&points);
    let again = read_control("written", written.as_bytes())
        .unwrap_or_else(|f| panic!("what was written does not read: {f}\n{written}"));
    let same = |mut points: Vec<ControlPoint>| {
        points.iter_mut().for_each(|p| p.line = 0);
        points
    };
    assert_eq!(same(again), same(points));
}

/// Reads `bytes` as observations, a table or TOML: what reads is written both ways and reads back equal.
///
/// # Panics
///
/// When holdline has a mistake.
pub fn fuzz_observations(bytes: &[u8]) {
    let (sensors, antennas) = (["S-boom", "S-idler"], ["GL", "GR"]);
    let (sensors, antennas) = (sensors.map(str::to_owned), antennas.map(str::to_owned));
    let names = ReadingNames {
        sensors: &sensors,
        antennas: &antennas,
    };
    if let Ok(text) = text_of("fuzz", bytes) {
        let _ = (kind_by_format(text), is_observations_table(text));
    }
    place_all(bytes, place_observation_faults);
    let observations = match read_observations("fuzz", bytes, &names) {
        Ok(observations) => observations,
        Err(faults) => return check_faults(Err::<(), Faults>(faults)),
    };
    assert!(!observations.rows.is_empty());
    let same = |mut o: Observations| {
        o.rows.iter_mut().for_each(|row| row.line = 0);
        o
    };
    let first = same(observations.clone());
    let table = write_observations_csv(&observations);
    for text in [&table, &write_observations_toml(&observations, SI)] {
        let again = read_observations("written", text.as_bytes(), &names)
            .unwrap_or_else(|f| panic!("what was written does not read: {f}\n{text}"));
        assert_eq!(same(again), first, "{text}");
    }
    assert!(is_observations_table(&table));
}

/// Reads `bytes` as a calibration: what reads is written as the same bytes again and again, and reads back equal.
///
/// # Panics
///
/// When holdline has a mistake.
pub fn fuzz_calibration(bytes: &[u8]) {
    place_all(bytes, place_calibration_faults);
    let calibration = match read_calibration("fuzz", bytes) {
        Ok(calibration) => calibration,
        Err(faults) => return check_faults(Err::<(), Faults>(faults)),
    };
    let text = write_calibration(&calibration);
    let again = read_calibration("written", text.as_bytes())
        .unwrap_or_else(|f| panic!("what was written does not read: {f}\n{text}"));
    assert_eq!(again, calibration, "{text}");
    assert_eq!(write_calibration(&again), text);
}

/// Reads `bytes` as a control system's terms, and holds the same of them.
///
/// # Panics
///
/// When holdline has a mistake.
pub fn fuzz_terms(bytes: &[u8]) {
    place_all(bytes, place_term_faults);
    let terms = match read_terms("fuzz", bytes) {
        Ok(terms) => terms,
        Err(faults) => return check_faults(Err::<(), Faults>(faults)),
    };
    let text = write_terms(&terms, SI);
    let again = read_terms("written", text.as_bytes())
        .unwrap_or_else(|f| panic!("what was written does not read: {f}\n{text}"));
    assert_eq!(again, terms, "{text}");
    let metric = write_terms(&terms, METRIC);
    assert!(read_terms("metric", metric.as_bytes()).is_ok(), "{metric}");
}

/// Faults of the core are placed in whatever the bytes are.
fn place_all(bytes: &[u8], place: fn(&str, &[u8], Faults) -> Faults) {
    let fault = |at: &str| Fault::new("C001", at, "got", "want", "fix");
    let paths = [
        "observation[1].easting.sd",
        "observation[P1 tooth].readings.S-idler",
        "figure[2].sd",
        "correlations.below_diagonal[2]",
        "entry[Boom].along.to",
        "tool.bucket",
        "[",
        "",
    ];
    let faults = Faults(paths.map(fault).to_vec());
    assert_eq!(place("fuzz", bytes, faults).0.len(), paths.len());
}

/// Faults are there, not too many, and each says where, what was found, what would do, and the next step.
fn check_faults<T>(read: Result<T, Faults>) {
    let Err(faults) = read else { return };
    assert!(!faults.is_empty() && faults.0.len() <= MOST_FAULTS + 1);
    let explained = crate::explain::EXPLAIN;
    for fault in faults.0 {
        let text = fault.to_string();
        let whole = ![&fault.got, &fault.want, &fault.fix]
            .iter()
            .any(|words| words.is_empty());
        assert!(whole && fault.place.is_some(), "{text}");
        assert!(text.chars().count() < 3000, "{text}");
        assert!(
            !text.contains(|c: char| c.is_control() && c != '\n'),
            "{text:?}"
        );
        assert!(
            explained.iter().any(|(code, _)| *code == fault.code),
            "no story for {text}"
        );
        assert_ne!(fault.code, "F059", "{text}");
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A small generator, so that a seed that is printed gives the same inputs again.
    struct Dice(u64);

    impl Dice {
        fn roll(&mut self, below: usize) -> usize {
            self.0 ^= self.0 << 13;
            self.0 ^= self.0 >> 7;
            self.0 ^= self.0 << 17;
            (self.0 % below.max(1) as u64) as usize
        }
    }

    const PIECES: &[&str] = &[
        "nan",
        "inf",
        "-inf",
        "1e999",
        "1e-999",
        "-0.0",
        "0",
        "-1",
        "0x10",
        "1_000",
        "\"",
        "\"\"\"",
        "'",
        "[",
        "]",
        "[[",
        "{",
        "}",
        ",",
        ";",
        "\t",
        "=",
        ".",
        "#",
        "\n",
        "\r\n",
        "\r",
        "\0",
        "\u{feff}",
        "ü",
        "\u{202e}",
        "E",
        "true",
        "1979-05-27T07:32:00Z",
        "[stick]\n",
        "[[bucket]]\n",
        "sd = 0\n",
        "x = 1\n",
        "at.x = 3\n",
        "version = 99\n",
        "99999999999999999999999999",
        "9223372036854775808",
        "\"T75\"",
        "1.5",
        "3.0",
        "\"\\u0000\"",
        "[[[[[[[[[[[[[[[[",
        "a.b.c.d.e.f = 1\n",
        "tooth[centre]",
        "pin A",
        "plumb",
        "kind = \"tape\"\n",
        "below_diagonal = []\n",
        "name,kind,target,to,length_m\n",
        "machine,x\n",
        "[[1.0]]",
    ];

    fn spoil(dice: &mut Dice, text: &mut Vec<u8>) {
        let at = dice.roll(text.len() + 1);
        let n = dice.roll(40).min(text.len() - at);
        match dice.roll(9) {
            0 => text.truncate(at),
            1 => drop(text.drain(at..at + n)),
            2 => text[at..at + n.min(1)]
                .iter_mut()
                .for_each(|b| *b ^= 1 << (n % 8)),
            3 => {
                let piece = text[at..at + n].to_vec();
                let to = dice.roll(text.len() + 1);
                drop(text.splice(to..to, piece));
            }
            4 => swap_lines(dice, text),
            5 => {
                // another value in the place of one
                let Some(eq) = text[at..]
                    .iter()
                    .position(|b| *b == b'=')
                    .map(|i| at + i + 1)
                else {
                    return;
                };
                let end = text[eq..]
                    .iter()
                    .position(|b| *b == b'\n')
                    .map_or(text.len(), |i| eq + i);
                let piece = PIECES[dice.roll(PIECES.len())].bytes();
                drop(text.splice(eq..end, piece));
            }
            _ => {
                let piece = PIECES[dice.roll(PIECES.len())].bytes();
                drop(text.splice(at..at, piece));
            }
        }
    }

    fn swap_lines(dice: &mut Dice, text: &mut Vec<u8>) {
        let mut lines: Vec<&[u8]> = text.split_inclusive(|b| *b == b'\n').collect();
        let (a, b) = (dice.roll(lines.len()), dice.roll(lines.len()));
        if a < lines.len() && b < lines.len() {
            lines.swap(a, b);
            *text = lines.concat();
        }
    }

    fn try_many(target: fn(&[u8]), seeds: &[&str], n: usize) {
        let n = if std::env::var_os("HOLDLINE_SLOW").is_some() {
            n * 50
        } else {
            n
        };
        for round in 0..n as u64 {
            let seed = (round + 1).wrapping_mul(0x9E37_79B9_7F4A_7C15);
            let mut dice = Dice(seed);
            let mut text = seeds[dice.roll(seeds.len())].as_bytes().to_vec();
            for _ in 0..=dice.roll(4) {
                spoil(&mut dice, &mut text);
            }
            let told = std::panic::catch_unwind(|| target(&text));
            let text = String::from_utf8_lossy(&text);
            assert!(told.is_ok(), "seed {seed:#x}, round {round}\n{text}");
        }
    }

    #[test]
    fn sheets_spoilt_at_random() {
        let demo = include_str!("../../../demo/demo-23.machine.toml");
        let every = include_str!("machine_sheet/every_field.machine.toml");
        let small = "format = \"holdline.machine\"\nversion = 1\n[units]\nlength = \"m\"\n";
        fuzz_machine_sheet(demo.as_bytes());
        fuzz_machine_sheet(every.as_bytes());
        try_many(fuzz_machine_sheet, &[demo, every, every, small], 400);
    }

    #[test]
    fn points_spoilt_at_random() {
        let shots = include_str!("../../../demo/S1.shots.csv");
        let few = "shot;shown elevation (mm);surveyed_elevation_ft;surveyed_sd_elevation_mm;S-boom_deg;note\n\
                   \"a; b\";24500;80.3;;3.5;\"said \"\"fine\"\"\"\r\n2;24500;80.3;4;;\n";
        let control = include_str!("../../../demo/control.csv");
        fuzz_shots(shots.as_bytes());
        fuzz_shots(few.as_bytes());
        let read = read_shots("s", shots.as_bytes(), &[]).unwrap();
        let twin = write_shots_toml(&read, METRIC);
        fuzz_shots(twin.as_bytes());
        fuzz_control(control.as_bytes());
        try_many(fuzz_shots, &[shots, few, few, &twin], 1000);
        try_many(fuzz_control, &[control], 1000);
    }

    #[test]
    fn documents_of_a_calibration_spoilt_at_random() {
        let table = include_str!("observations/every_kind.observations.csv");
        let toml = include_str!("observations/every_kind.observations.toml");
        fuzz_observations(table.as_bytes());
        fuzz_observations(toml.as_bytes());
        try_many(fuzz_observations, &[table, toml], 500);

        let calibration = include_str!("calibration/example.calibration.toml");
        fuzz_calibration(calibration.as_bytes());
        try_many(fuzz_calibration, &[calibration], 1000);

        let terms = include_str!("terms/every_quantity.terms.toml");
        fuzz_terms(terms.as_bytes());
        try_many(fuzz_terms, &[terms], 500);
    }
}
