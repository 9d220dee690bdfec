//! Any bytes at all, as a file of readings.

use std::sync::atomic::AtomicBool;

use super::answers::{AnswerColumn, Format};
use super::wants::Want;
use super::{Options, Sinks, write_answers};

/// Reads `bytes` as a file of readings; holds what must hold whatever they are.
///
/// # Panics
///
/// When holdline has a mistake: a row lost without being counted, an output line that is no line.
pub fn fuzz_readings(bytes: &[u8]) {
    for (format, header) in [
        (Format::Csv, ""),
        (Format::JsonLines, "time_s,boom_deg,easting_m\n"),
    ] {
        let mut input = header.as_bytes().to_vec();
        input.extend_from_slice(bytes);
        check_stream(&input, format);
    }
}

fn check_stream(input: &[u8], format: Format) {
    let wants = [Want::needed("boom"), Want::optional("easting")];
    let answers = [AnswerColumn::metres("height_m")];
    let options = Options {
        format,
        n_threads: 1,
        block_bytes: 64,
        ..Options::new("fuzz.csv")
    };
    let (mut out, mut side) = (Vec::new(), Vec::new());
    let mut sinks = Sinks {
        out: &mut out,
        side: Some(&mut side),
        progress: &mut |_| {},
        cancel: &AtomicBool::new(false),
    };
    let summary = write_answers(
        input,
        &wants,
        &answers,
        &options,
        &mut sinks,
        &|readings, answers| {
            let boom = readings.column(0).unwrap_or(&[]);
            for (height, boom) in answers.columns[0].iter_mut().zip(boom) {
                *height = 5.72 * boom.sin();
            }
            Ok(())
        },
    );
    let Ok(summary) = summary else { return };
    let n_out = out.iter().filter(|b| **b == b'\n').count() as u64;
    let n_head = u64::from(format == Format::Csv);
    assert_eq!(n_out, summary.n_good + n_head, "a line a row answered");
    assert_eq!(
        side.is_empty(),
        summary.tally.n_bad() == 0,
        "rows not used stand in the side file"
    );
    assert!(
        summary.n_good + summary.tally.n_bad() < summary.n_lines,
        "no row counted twice"
    );
    assert_eq!(summary.n_bytes, input.len() as u64, "every byte read");
    assert!(std::str::from_utf8(&out).is_ok(), "the output is text");
}
