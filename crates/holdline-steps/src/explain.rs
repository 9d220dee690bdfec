//! The long story of every code, from all rooms and edges.

use holdline::machine::spans;

/// Codes of this crate, of the command line and of the workbench's doors.
const OWN: &[(&str, &str)] = &[
    (
        "F060",
        "A file that was named cannot be read.\nIt may not be there, or you may not be allowed to read it.",
    ),
    (
        "F061",
        "A file cannot be written.\nThe folder may be missing, full or write-protected.\nThe old file, if there was one, is untouched.",
    ),
    (
        "F062",
        "Numbers typed with commas between could not be read.",
    ),
    (
        "F063",
        "There is no such code.\nThe message in front of you names one, such as M012.",
    ),
    (
        "F068",
        "An output has the name of an input.\nReadings and sheets are what was measured; they are never written over.",
    ),
    (
        "F069",
        "A job was named that is not there, and one of nearly the same name lies in that folder.\nA slip of the finger would begin a second chain of records beside the first.\nWrite the name as it is; for a job of its own add --new-job.",
    ),
    (
        "T040",
        "The sheet has more than one tool and none was chosen.\nholdline does not guess: the tooth moves by hand's breadths between a bucket on a coupler and one pinned on directly.",
    ),
];

/// Every table there is.
fn tables() -> Vec<&'static [(&'static str, &'static str)]> {
    vec![
        holdline::machine::explain::EXPLAIN,
        holdline::tooth::batch::EXPLAIN,
        holdline_geom::adjust::EXPLAIN,
        holdline::calibrate::explain::EXPLAIN,
        holdline::calibrate::hand_over::explain::EXPLAIN,
        holdline::calibrate::budget::explain::EXPLAIN,
        holdline::calibrate::diagnose::explain::EXPLAIN,
        holdline::calibrate::fit::explain::EXPLAIN,
        holdline::calibrate::two_face::EXPLAIN,
        holdline::records::EXPLAIN,
        holdline_files::explain::EXPLAIN,
        holdline_files::readings::explain::EXPLAIN,
        holdline_store::EXPLAIN,
        crate::stories::EXPLAIN,
        OWN,
    ]
}

/// The long story of one code; none for a code that does not exist.
pub fn explain(code: &str) -> Option<String> {
    let told: Vec<&str> = tables()
        .into_iter()
        .flatten()
        .filter(|(c, _)| *c == code)
        .map(|(_, t)| *t)
        .collect();
    if !told.is_empty() {
        return Some(told.join("\n\n"));
    }
    let span = spans::ALL.iter().find(|span| span.code == code)?;
    let unit = if span.unit.is_empty() {
        String::new()
    } else {
        format!(" {}", span.unit)
    };
    Some(format!(
        "What is asked for: {}.\nPlausible is {}{unit} to {}{unit}; what lies outside is refused, because it is nearly always a slip.\nWhat to do: {}.",
        span.what, span.min, span.max, span.fix
    ))
}

/// All codes, sorted.
pub fn all_codes() -> Vec<&'static str> {
    let mut codes: Vec<&str> = tables()
        .into_iter()
        .flatten()
        .map(|(code, _)| *code)
        .collect();
    codes.extend(spans::ALL.iter().map(|span| span.code));
    codes.sort_unstable();
    codes.dedup();
    codes
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_code_has_a_story_and_the_others_none() {
        for code in all_codes() {
            assert!(
                explain(code).is_some_and(|story| 20 < story.len()),
                "{code}"
            );
        }
        assert_eq!(explain("Z999"), None);
    }
}
