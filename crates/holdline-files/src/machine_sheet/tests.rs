//! The sheet reader: what it reads, and the text of every fault.

use holdline::machine::claim::{ClaimedBoomKind, CylinderPin};

use holdline_geom::fault::Fault;

use super::*;

const DEMO: &str = include_str!("../../../../demo/demo-23.machine.toml");

#[track_caller]
fn faults_of(text: &str) -> String {
    match read_machine_sheet("m.toml", text.as_bytes()) {
        Ok(_) => String::new(),
        Err(faults) => faults.to_string(),
    }
}

/// The demo with one piece of it replaced gives exactly these faults.
#[track_caller]
fn check(old: &str, new: &str, want: &str) {
    assert!(DEMO.contains(old), "the demo has no {old:?}");
    assert_eq!(faults_of(&DEMO.replacen(old, new, 1)), want);
}

#[test]
fn the_demo_reads() {
    let machine = read_machine_sheet("demo", DEMO.as_bytes()).unwrap_or_else(|f| panic!("{f}"));
    assert_eq!(machine.id, "demo-23");
    assert_eq!(machine.measured.on, "2025-12-01");
    assert_eq!(machine.stick.length.value, 2.940);
    assert_eq!(machine.stick.length.sd, Some(0.003));
    assert_eq!(machine.house.eye.map(|e| e.z.sd), Some(None)); // nobody stated it
    assert!(matches!(machine.boom.kind, ClaimedBoomKind::Mono { length } if length.value == 5.72));
    assert_eq!(machine.cylinders[2].rod, CylinderPin::LinkageE);
    assert_eq!(machine.cylinders[1].count, 1);
    assert_eq!(machine.couplers[0].rotation.value, (-6.0_f64).to_radians());
    assert_eq!(machine.buckets[0].teeth[2].at.y.value, -0.375);
    assert_eq!(machine.buckets[0].teeth[2].at.y.sd, Some(0.004));
    assert_eq!(machine.sensors[0].latency_s, Some(0.040));
}

#[test]
fn line_ends_and_byte_order_mark_do_not_matter() {
    let plain = read_machine_sheet("m", DEMO.as_bytes()).unwrap();
    let windows = format!("\u{feff}{}", DEMO.replace('\n', "\r\n"));
    assert_eq!(read_machine_sheet("m", windows.as_bytes()).unwrap(), plain);
}

#[test]
fn feet_of_both_kinds_millimetres_and_tonnes() {
    let read = |from: &str, to: &str| {
        read_machine_sheet("m", DEMO.replacen(from, to, 1).as_bytes()).unwrap()
    };
    let length = |unit: &str| read("length = \"m\"", unit).stick.length.value;
    assert_eq!(length("length = \"intl-ft\""), 2.940 * 0.3048); // exact by definition
    assert_eq!(length("length = \"us-ft\""), 2.940 * (1200.0 / 3937.0)); // exact by definition
    assert_eq!(length("length = \"mm\""), 2.940 * 0.001);
    assert_eq!(
        read("mass = \"kg\"", "mass = \"t\"").buckets[0]
            .mass
            .unwrap()
            .value,
        720_000.0
    );
}

/// The demo cut after so many bytes gives these faults: code, line and path.
#[track_caller]
fn cut(n_bytes: usize, want: &[&str]) {
    let faults = read_machine_sheet("m", &DEMO.as_bytes()[..n_bytes]).unwrap_err();
    let line = |f: &Fault| f.place.as_ref().map_or(0, |p| p.line);
    let told: Vec<String> = faults
        .0
        .iter()
        .map(|f| format!("{} {} {}", f.code, line(f), f.at))
        .collect();
    assert_eq!(told, want);
}

#[test]
fn a_file_cut_short_never_passes() {
    cut(0, &["F004 1 "]);
    cut(700, &["F018 28 "]);
    cut(DEMO.find("2.850").unwrap() + 3, &["F018 21 "]);
    // In the last number of the last section nothing but the missing line end shows it.
    cut(DEMO.trim_end().len() - 2, &["F018 271 "]);
    // Cut at the end of a line between two entries it is a whole, shorter sheet: nobody can tell.
    let step = if std::env::var_os("HOLDLINE_SLOW").is_some() {
        1
    } else {
        7
    };
    for n_bytes in (0..DEMO.len())
        .step_by(step)
        .filter(|n| !DEMO[..*n].ends_with('\n'))
    {
        let read = read_machine_sheet("m", &DEMO.as_bytes()[..n_bytes]);
        assert!(read.is_err(), "cut at {n_bytes}");
    }
}

#[test]
fn what_is_no_sheet_is_refused_before_it_is_read() {
    check(
        "format = \"holdline.machine\"",
        "format = \"holdline.site\"",
        "fault F013 at m.toml:4:10 (format)\n  got   \"holdline.site\"\n  want  format = \"holdline.machine\"\n  fix   pick the machine sheet; this file says that it is something else",
    );
    check(
        "version = 1",
        "version = 7",
        "fault F014 at m.toml:5:11 (version)\n  got   version 7\n  want  version 1 at most\n  fix   this sheet was written for a newer holdline; get that one, as this one could misread it",
    );
    assert_eq!(
        faults_of(&"a\n".repeat(200_000)),
        "fault F005 at m.toml:1:1\n  got   400000 bytes\n  want  262144 bytes at most\n  fix   pick the right file; no document of this kind is so large"
    );
    check(
        "count = 2",
        "count = 10000000000",
        "fault F017 at m.toml:53:9 (cylinder[1].count)\n  got   10000000000\n  want  a whole number, 1 to 4 (How many side by side)\n  fix   correct the number",
    );
    let many = "[[antenna]]\n".repeat(300);
    assert_eq!(
        faults_of(&format!("{DEMO}\n{many}")),
        "fault F015 at m.toml:249:1 (antenna)\n  got   302 entries\n  want  200 at most\n  fix   pick the right file, or thin the list out"
    );
}

#[test]
fn broken_lines_do_not_hide_the_other_faults() {
    let text = DEMO
        .replacen("length = { value = 2.940", "length = = { value = 2.940", 1)
        .replacen("gauge = 2.39", "gauge = \"2.39\"", 1)
        .replacen("ear = {", "eer = {", 1);
    assert_eq!(
        faults_of(&text),
        "fault F010 at m.toml:27:9 (tracks.gauge)\n  got   the text \"2.39\"\n  want  a number in m, or { value = …, sd = … } (Gauge, centre to centre)\n  fix   write the bare number, with a point and without quotation marks or unit
fault F006 at m.toml:37:10\n  got   \"=\"\n  want  TOML (extra `=`, expected nothing)\n  fix   correct this line; the rest of its section is looked at once it reads
fault F008 at m.toml:43:1 (linkage.eer)\n  got   the key \"eer\"\n  want  one of: idler_pivot, idler, link, ear, branch\n  fix   \"ear\" is the nearest known key; correct it, or take it out"
    );
    check(
        "gauge = 2.39",
        "gauge = 2.39\ngauge = 2.40",
        "fault F007 at m.toml:28:1\n  got   the key \"gauge\" a second time\n  want  each key once in its section\n  fix   keep the right one and take the other out",
    );
}

#[test]
fn what_a_word_calls_for() {
    check(
        "kind = \"mono\"",
        "kind = \"two-piece\"",
        "fault F009 at m.toml:31:2 (boom.lower)\n  got   nothing\n  want  lower (Lower boom, pin A to the middle pin)\n  fix   add it to the section \"Boom\"; pin centre to pin centre, machine parked, bushes pushed to the working side
fault F009 at m.toml:31:2 (boom.upper)\n  got   nothing\n  want  upper (Upper boom, middle pin to pin B)\n  fix   add it to the section \"Boom\"; pin centre to pin centre, machine parked, bushes pushed to the working side
fault F023 at m.toml:34:1 (boom.length)\n  got   length beside kind = \"two-piece\"\n  want  it only where kind is mono\n  fix   take it out, or correct kind",
    );
    check(
        "box = { min = [-2.75",
        "sector = { radius = 1.0, half_angle = 20.0, z = [1, 2] }\nbox = { min = [-2.75",
        "fault F024 at m.toml:167:1 (solid[9])\n  got   box and sector\n  want  exactly one of: capsule, box, prism, sector, along_cylinder, along_linkage\n  fix   keep one; give a second part a section of its own",
    );
}

#[test]
fn an_unknown_key_names_the_nearest() {
    check(
        "[stick]\nlength",
        "[stick]\nlenght",
        "fault F008 at m.toml:37:1 (stick.lenght)\n  got   the key \"lenght\"\n  want  one of: length\n  fix   \"length\" is the nearest known key; correct it, or take it out",
    );
}

#[test]
fn all_faults_at_once_in_the_order_of_the_file() {
    let text = DEMO
        .replacen("height = 0.92", "", 1)
        .replacen("branch = 1", "branch = nan", 1)
        .replacen("sd = 0.010", "sd = -1", 1)
        .replacen("moves = \"stick\"", "moves = \"stik\"", 1)
        .replacen("id = \"G180\"", "id = \"T75\"", 1)
        .replacen("retracted = 1.395", "retracted = \"1,395\"", 1);
    assert_eq!(
        faults_of(&text),
        "fault F012 at m.toml:21:37 (house.tail_radius.sd)\n  got   -1\n  want  a standard uncertainty above 0 m\n  fix   state the spread of repeated measurements
fault F009 at m.toml:25:2 (tracks.height)\n  got   nothing\n  want  height (Height of a track)\n  fix   add it to the section \"Tracks\"
fault F011 at m.toml:44:10 (linkage.branch)\n  got   not a number (NaN)\n  want  1 or -1 (Way it is put together)\n  fix   measure it, or leave it out if it may be left out
fault F016 at m.toml:59:9 (cylinder[2].moves)\n  got   \"stik\"\n  want  one of: swing, post, boom, boom-upper, offset, stick, bucket, tilt, rotation (Joint that it moves)\n  fix   \"stick\" is the nearest known word
fault F010 at m.toml:73:13 (cylinder[3].retracted)\n  got   the text \"1,395\"\n  want  a number in m, or { value = …, sd = … } (Pin to pin, fully in)\n  fix   write the bare number, with a point and without quotation marks or unit
fault F019 at m.toml:108:1 (bucket[T75])\n  got   \"T75\" a second time\n  want  a name of its own; entry 1 has this one\n  fix   rename one of them; two of one name cannot be told apart on a record"
    );
}
