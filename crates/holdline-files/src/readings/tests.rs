//! Tests of the stream as a whole.

use std::io::{Read, Write};
use std::sync::atomic::{AtomicBool, Ordering};

use super::answers::{AnswerColumn, Answers, Format, Readings};
use super::reason::Reason;
use super::wants::Want;
use super::*;

const HEADER: &str = "time_s,boom_deg,note,easting_m\n";

struct Result_ {
    summary: Summary,
    out: String,
    side: String,
}

/// East plus the sine of the boom angle; no answer where the boom stands straight up.
fn answer(readings: &Readings<'_>, answers: &mut Answers) -> Result<(), Fault> {
    let (Some(boom), Some(east)) = (readings.column(0), readings.column(1)) else {
        return Ok(());
    };
    for row in 0..readings.n_rows() {
        let upright = (boom[row] - std::f64::consts::FRAC_PI_2).abs() < 1e-9;
        if upright {
            answers.refuse(row, "the boom stands straight up");
        }
        answers.columns[0][row] = east[row] + boom[row].sin();
    }
    Ok(())
}

fn run_with(input: impl Read + Send, options: &Options) -> Result<Result_, Faults> {
    let (mut out, mut side) = (Vec::new(), Vec::new());
    let summary = write_answers(
        input,
        &[Want::needed("boom"), Want::needed("easting")],
        &[AnswerColumn::metres("x_m")],
        options,
        &mut Sinks {
            out: &mut out,
            side: Some(&mut side),
            progress: &mut |_| {},
            cancel: &AtomicBool::new(false),
        },
        &answer,
    )?;
    Ok(Result_ {
        summary,
        out: String::from_utf8(out).expect("text"),
        side: String::from_utf8(side).expect("text"),
    })
}

fn run(input: &str) -> Result_ {
    run_with(input.as_bytes(), &Options::new("log.csv")).expect("a good header")
}

/// Gives one to `most` bytes at a time.
struct Drip<'a> {
    rest: &'a [u8],
    step: usize,
    most: usize,
}

impl Read for Drip<'_> {
    fn read(&mut self, into: &mut [u8]) -> std::io::Result<usize> {
        self.step = self.step % self.most + 1;
        let n = self.step.min(self.rest.len()).min(into.len());
        into[..n].copy_from_slice(&self.rest[..n]);
        self.rest = &self.rest[n..];
        Ok(n)
    }
}

#[test]
fn rows_in_rows_out() {
    let r = run(&format!(
        "{HEADER}0.0,30,a,100\n0.1,-30,\"b, c\",200.5\r\n\n\"t\"\"x\",0,,3e2\n"
    ));
    assert_eq!(
        r.out,
        "line,time_s,x_m\n2,0.0,100.5000\n3,0.1,200.0000\n5,\"t\"\"x\",300.0000\n"
    );
    assert_eq!(r.side, "");
    assert_eq!(r.summary.n_good, 3);
    assert_eq!(r.summary.n_lines, 5);
    assert_eq!(r.summary.not_used, ["note"]);
    assert_eq!(r.summary.ended, Ended::AtTheEnd);
}

#[test]
fn json_lines() {
    let mut options = Options::new("log.csv");
    options.format = Format::JsonLines;
    let input = format!("{HEADER}0.50,30,a,100\n08:30,-30,b,200.5\n");
    let r = run_with(input.as_bytes(), &options).expect("good");
    assert_eq!(
        r.out,
        "{\"line\":2,\"time_s\":0.50,\"x_m\":100.5000}\n\
         {\"line\":3,\"time_s\":\"08:30\",\"x_m\":200.0000}\n"
    );
    for line in r.out.lines() {
        assert!(serde_json::from_str::<serde_json::Value>(line).is_ok());
    }
}

#[test]
fn byte_order_mark_remarks_and_other_separators() {
    let r = run("\u{feff}# made by hand\n\nboom_rad;easting_ft\n0;100\n0; 1000 \n");
    assert_eq!(r.out, "line,x_m\n4,30.4800\n5,304.8000\n");
    let r = run("boom_rad\teasting_usft\n0\t3937\n");
    assert_eq!(r.out, "line,x_m\n2,1200.0000\n");
}

#[track_caller]
fn bad_row(row: &str, reason: Reason, column: &str) {
    let r = run(&format!("{HEADER}0.0,30,a,100\n{row}\n0.2,30,a,100\n"));
    let counts: Vec<_> = r.summary.tally.by_reason().collect();
    assert_eq!(counts, [(reason, column, 1)], "{row}");
    assert_eq!(
        r.out, "line,time_s,x_m\n2,0.0,100.5000\n4,0.2,100.5000\n",
        "{row}"
    );
    let want = format!(
        "line,code,reason,column,row\n3,{},{},{column},\"{}\"\n",
        reason.code(),
        reason.words(),
        row.replace('"', "\"\"")
    );
    assert_eq!(r.side, want);
    let first = &r.summary.tally.first()[0];
    assert_eq!(first.code, reason.code());
    assert_eq!(first.place.as_ref().map(|p| p.line), Some(3));
}

#[test]
fn every_bad_row_is_counted_told_and_kept() {
    bad_row("0.1,30,a", Reason::TooFewFields, "");
    bad_row("0.1,30,a,100,7", Reason::TooManyFields, "");
    bad_row("0.1,,a,100", Reason::EmptyField, "boom_deg");
    bad_row("0.1,30,a,", Reason::EmptyField, "easting_m");
    bad_row("0.1, \"\" ,a,100", Reason::EmptyField, "boom_deg");
    bad_row("0.1,30°,a,100", Reason::NotANumber, "boom_deg");
    bad_row("0.1,3O,a,100", Reason::NotANumber, "boom_deg");
    bad_row("0.1,1 0,a,100", Reason::NotANumber, "boom_deg");
    bad_row("0.1,0x10,a,100", Reason::NotANumber, "boom_deg");
    bad_row("0.1,nan,a,100", Reason::Nan, "boom_deg");
    bad_row("0.1,30,a,NaN", Reason::Nan, "easting_m");
    bad_row("0.1,inf,a,100", Reason::Infinite, "boom_deg");
    bad_row("0.1,-Infinity,a,100", Reason::Infinite, "boom_deg");
    bad_row("0.1,30,a,1e999", Reason::Infinite, "easting_m");
    bad_row("0.1,720.1,a,100", Reason::OutOfRange, "boom_deg");
    bad_row("0.1,30,a,-20000001", Reason::OutOfRange, "easting_m");
    bad_row("0.1,30,\"a,100", Reason::OpenQuote, "");
    bad_row("0.1,30,a\0,100", Reason::NotText, "");
    bad_row("time_s,boom_deg,note,easting_m", Reason::HeaderAgain, "");
    bad_row(
        "0.1,90,a,100",
        Reason::NoAnswer("the boom stands straight up"),
        "",
    );
}

#[test]
fn a_decimal_comma_is_named() {
    let r = run("boom_deg;easting_m\n22,5;100\n1,2,3;100\n");
    let counts: Vec<_> = r.summary.tally.by_reason().collect();
    let column = "boom_deg";
    assert_eq!(
        counts,
        [
            (Reason::NotANumber, column, 1),
            (Reason::DecimalComma, column, 1)
        ]
    );
    assert_eq!(
        r.summary.tally.first()[0].to_string(),
        "fault T624 at log.csv:2:1 (column boom_deg)\n  \
         got   a comma for the decimal point in row \"22,5;100\"\n  want  a decimal point\n  \
         fix   export again with points; a comma could also part thousands"
    );
}

#[test]
fn a_last_line_without_end_is_not_trusted() {
    let r = run(&format!("{HEADER}0.0,30,a,100\n0.1,30,a,27.3"));
    assert_eq!(r.summary.n_good, 1);
    assert_eq!(
        r.side,
        "line,code,reason,column,row\n3,T632,the last line has no line end,,\"0.1,30,a,27.3\"\n"
    );
}

#[test]
fn a_line_too_long_is_cut_in_the_side_file_and_the_rest_goes_on() {
    for n in [70_000, 300_000, 3_000_000] {
        let long = "9".repeat(n);
        let r = run(&format!(
            "{HEADER}0.0,30,a,100\n0.1,30,{long},100\n0.2,30,a,100\n"
        ));
        assert_eq!(r.summary.n_good, 2);
        assert_eq!(r.summary.n_lines, 4);
        let counts: Vec<_> = r.summary.tally.by_reason().collect();
        assert_eq!(counts, [(Reason::TooLong, "", 1)]);
        assert!(r.side.len() < 5_000);
        assert!(r.out.ends_with("\n4,0.2,100.5000\n"), "{}", r.out);
    }
}

#[test]
fn files_that_are_no_readings() {
    for (bytes, code) in [
        (&b""[..], "F004"),
        (b"\n\n# nothing\n", "F004"),
        (b"\xFF\xFEb\0o\0o\0m\0\n\0", "F002"),
        (b"b\0o\0o\0m\0_\0d\0e\0g\0,\0e\0\n\0", "F002"),
        (b"SQLite format 3\0\x10\0\n", "F003"),
        (b"1,2,3\n4,5,6\n", "T601"),
        (b"boom_deg,eastng_m\n", "T602"),
    ] {
        let faults = run_with(bytes, &Options::new("log.csv"))
            .err()
            .expect("refused");
        assert_eq!(faults.0[0].code, code);
    }
    let zeros = std::io::repeat(0);
    let faults = run_with(zeros, &Options::new("log.csv"))
        .err()
        .expect("refused");
    assert_eq!(faults.0[0].code, "T606");
    let endless = HEADER.as_bytes().chain(std::io::repeat(b'1'));
    let faults = run_with(endless, &Options::new("log.csv"))
        .err()
        .expect("refused");
    assert_eq!(faults.0[0].code, "T610");
}

#[test]
fn nothing_to_answer_is_a_fault() {
    let r = run(&format!("{HEADER}x,x,x,x\n"));
    assert_eq!(
        r.summary.nothing_answered("log.csv").map(|f| f.code),
        Some("T607")
    );
    let r = run(&format!("{HEADER}0,1,x,1\n"));
    assert_eq!(r.summary.nothing_answered("log.csv"), None);
}

/// A log with something amiss here and there.
fn mixed_log(n: usize) -> String {
    let mut log = HEADER.to_owned();
    for row in 0..n {
        let boom = (row * 7919 % 6000) as f64 / 100.0;
        log += &match row % 97 {
            13 => format!("{row},,a,1\n"),
            31 => "short\r\n".to_owned(),
            47 => "\n".to_owned(),
            59 => format!("\"{row}, quoted\",{boom},\"x, \"\"y\"\"\",{}\r\n", row * 3),
            71 => format!("{row},90,a,{row}\n"),
            _ => format!("{row}.25,{boom},note,{}.125\n", row * 3),
        };
    }
    log
}

#[test]
fn the_same_bytes_wherever_the_blocks_are_cut_and_on_any_number_of_threads() {
    let log = mixed_log(3_000);
    let mut options = Options::new("log.csv");
    options.n_threads = 1;
    let want = run_with(log.as_bytes(), &options).expect("good");
    assert_eq!(
        want.summary.n_good + want.summary.tally.n_bad(),
        3_000 - 3_000 / 97 - 1 + 1 - 1
    );
    for n_threads in [0, 1, 2, 5] {
        for (most, block_bytes) in [(1, 0), (7, 64), (4096, 1), (100_000, 70_000)] {
            options.n_threads = n_threads;
            options.block_bytes = block_bytes;
            let drip = Drip {
                rest: log.as_bytes(),
                step: 0,
                most,
            };
            let got = run_with(drip, &options).expect("good");
            assert_eq!(got.out, want.out, "{n_threads} {most}");
            assert_eq!(got.side, want.side, "{n_threads} {most}");
            assert_eq!(got.summary, want.summary, "{n_threads} {most}");
        }
    }
}

#[test]
fn cut_at_every_byte_it_is_read_or_told_and_never_panics() {
    let log = mixed_log(60);
    for cut in 0..log.len() {
        if let Ok(r) = run_with(&log.as_bytes()[..cut], &Options::new("log.csv")) {
            assert_eq!(r.out.lines().count() as u64, r.summary.n_good + 1);
        }
    }
}

/// Counts what it is given, and goes away after `left` bytes.
struct Reader {
    left: usize,
    kind: std::io::ErrorKind,
}

impl Write for Reader {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        if self.left == 0 {
            return Err(self.kind.into());
        }
        let n = bytes.len().min(self.left);
        self.left -= n;
        Ok(n)
    }
    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

fn run_into(out: &mut dyn Write, cancel: &AtomicBool, log: &str) -> Result<Summary, Faults> {
    let mut options = Options::new("log.csv");
    options.block_bytes = 1 << 16;
    write_answers(
        log.as_bytes(),
        &[Want::needed("boom"), Want::needed("easting")],
        &[AnswerColumn::metres("x_m")],
        &options,
        &mut Sinks {
            out,
            side: None,
            progress: &mut |progress| {
                if 500_000 < progress.n_bytes {
                    cancel.store(true, Ordering::Relaxed);
                }
            },
            cancel,
        },
        &answer,
    )
}

#[test]
fn a_reader_that_goes_away_ends_it_quietly() {
    let log = mixed_log(50_000);
    for left in [0, 5, 40, 100_000] {
        let mut out = Reader {
            left,
            kind: std::io::ErrorKind::BrokenPipe,
        };
        let summary = run_into(&mut out, &AtomicBool::new(false), &log).expect("quiet");
        assert_eq!(summary.ended, Ended::NobodyReads);
        assert_eq!(summary.nothing_answered("log.csv"), None);
    }
    let mut full = Reader {
        left: 100_000,
        kind: std::io::ErrorKind::StorageFull,
    };
    let faults = run_into(&mut full, &AtomicBool::new(false), &log).unwrap_err();
    assert_eq!(faults.0[0].code, "T609");
}

#[test]
fn it_stops_when_told() {
    let log = mixed_log(200_000);
    let mut out = Vec::new();
    let summary = run_into(&mut out, &AtomicBool::new(false), &log).expect("stopped");
    assert_eq!(summary.ended, Ended::Cancelled);
    assert!(summary.n_bytes < log.len() as u64);
    let n_lines = out.iter().filter(|b| **b == b'\n').count() as u64;
    assert_eq!(n_lines, summary.n_good + 1);
}

#[test]
fn a_fault_of_the_function_ends_it() {
    let log = mixed_log(50_000);
    for n_threads in [1, 2, 4] {
        let mut options = Options::new("log.csv");
        options.n_threads = n_threads;
        let faults = write_answers(
            log.as_bytes(),
            &[Want::needed("boom"), Want::needed("easting")],
            &[AnswerColumn::metres("x_m")],
            &options,
            &mut Sinks {
                out: &mut std::io::sink(),
                side: None,
                progress: &mut |_| {},
                cancel: &AtomicBool::new(false),
            },
            &|readings: &Readings<'_>, answers: &mut Answers| {
                if readings.line_of(0).is_some_and(|line| 20_000 < line) {
                    answers.columns[0].pop();
                }
                Ok(())
            },
        )
        .unwrap_err();
        assert_eq!(faults.0[0].code, "T611");
    }
}

#[test]
fn an_answer_that_is_no_number_is_no_answer() {
    let r = write_answers(
        "boom_deg,easting_m\n1,2\n".as_bytes(),
        &[Want::needed("boom"), Want::needed("easting")],
        &[AnswerColumn::metres("x_m")],
        &Options::new("log.csv"),
        &mut Sinks {
            out: &mut std::io::sink(),
            side: None,
            progress: &mut |_| {},
            cancel: &AtomicBool::new(false),
        },
        &|_: &Readings<'_>, _: &mut Answers| Ok(()),
    )
    .expect("a good header");
    let counts: Vec<_> = r.tally.by_reason().collect();
    assert_eq!(counts, [(Reason::NoAnswer("no number came out"), "", 1)]);
}

#[test]
fn the_short_way_and_the_careful_way_agree() {
    // quotation marks send the second file the careful way, row by row
    let log = mixed_log(2_000);
    let careful: String = log
        .lines()
        .enumerate()
        .map(|(idx, line)| match line.split_once(",note,") {
            Some((head, tail)) if idx != 0 => format!("{head},\"note\",{tail}\n"),
            _ => format!("{line}\n"),
        })
        .collect();
    assert_eq!(run(&log).out, run(&careful).out);
}

#[test]
fn any_bytes_are_read_or_told() {
    let mut seed = 11_u64;
    let alphabet = b"0123456789.,-+eE\";\t\r\n \0\xffnaNif#_mdgbostingboom_degeasting_m,\n";
    for round in 0..3_000 {
        let mut bytes = if round % 2 == 0 {
            b"boom_deg,easting_m\n".to_vec()
        } else {
            Vec::new()
        };
        for _ in 0..round % 200 {
            seed = seed
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            bytes.push(alphabet[(seed >> 33) as usize % alphabet.len()]);
        }
        fuzz::fuzz_readings(&bytes);
    }
}

#[test]
fn every_code_is_explained() {
    let codes: Vec<&str> = explain::EXPLAIN.iter().map(|(code, _)| *code).collect();
    assert!(codes.is_sorted());
    for n in (601..=611).chain(620..=633) {
        assert!(codes.contains(&format!("T{n}").as_str()), "T{n}");
    }
}

#[test]
fn no_more_in_hand_than_a_few_blocks_however_slow_the_output() {
    use std::sync::atomic::AtomicU64;

    /// Rows without end, counted.
    struct Endless<'a> {
        row: &'a [u8],
        at: usize,
        n_taken: &'a AtomicU64,
        left: u64,
    }

    impl Read for Endless<'_> {
        fn read(&mut self, into: &mut [u8]) -> std::io::Result<usize> {
            let n = (into.len() as u64).min(self.left) as usize;
            for byte in &mut into[..n] {
                *byte = self.row[self.at];
                self.at = (self.at + 1) % self.row.len();
            }
            self.left -= n as u64;
            self.n_taken.fetch_add(n as u64, Ordering::Relaxed);
            Ok(n)
        }
    }

    let n_taken = AtomicU64::new(0);
    let mut options = Options::new("log.csv");
    options.n_threads = 3;
    options.block_bytes = 100_000;
    let endless = Endless {
        row: b"30,100.5\n",
        at: 0,
        n_taken: &n_taken,
        left: 6_000_003,
    };
    let mut most_in_hand = 0;
    write_answers(
        b"boom_deg,easting_m\n".chain(endless),
        &[Want::needed("boom"), Want::needed("easting")],
        &[AnswerColumn::metres("x_m")],
        &options,
        &mut Sinks {
            out: &mut std::io::sink(),
            side: None,
            progress: &mut |progress| {
                std::thread::sleep(std::time::Duration::from_millis(2));
                let in_hand = n_taken
                    .load(Ordering::Relaxed)
                    .saturating_sub(progress.n_bytes);
                most_in_hand = most_in_hand.max(in_hand);
            },
            cancel: &AtomicBool::new(false),
        },
        &answer,
    )
    .expect("read to the end");
    // a parcel a worker, three more, and the one just written
    assert!(most_in_hand <= 8 * 100_000, "{most_in_hand} bytes in hand");
    assert!(
        200_000 < most_in_hand,
        "the workers run ahead of the output"
    );
}
