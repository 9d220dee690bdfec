//! A calibration on top of the sheet that it stands on, and when it no longer belongs to it.

use holdline::calibrate::calibration::Calibration;
use holdline::machine::Machine;
use holdline::machine::front::ToolChoice;
use holdline_geom::fault::{Fault, Faults};

use crate::views::FindingView;

/// The sheet with a calibration on top.
///
/// # Errors
///
/// `V040` for a calibration of another sheet; what the calibration says that this machine cannot be.
pub fn calibrated(
    machine: &Machine,
    sheet_hash: &str,
    file: &str,
    calibration: &Calibration,
) -> Result<Machine, Faults> {
    if calibration.sheet_hash != sheet_hash {
        return Err(Fault::new(
            "V040",
            file,
            format!(
                "a calibration of the sheet {} of {}",
                short(&calibration.sheet_hash),
                calibration.machine
            ),
            format!(
                "one of the sheet {} of {}",
                short(sheet_hash),
                machine.sheet().id
            ),
            "a sheet that was changed needs its calibration done again; or take the sheet that was calibrated",
        )
        .into());
    }
    calibration.applied_to(machine)
}

/// The first letters of a hash.
pub(crate) fn short(hash: &str) -> &str {
    hash.get(..12).unwrap_or(hash)
}

/// What a person must know who uses a calibration with another tool than hung on the machine.
pub fn other_tool(calibration: &Calibration, choice: &ToolChoice) -> Option<FindingView> {
    let was = &calibration.tool;
    let same =
        was.coupler == choice.coupler && was.tilt == choice.tilt && was.bucket == choice.bucket;
    (!same).then(|| FindingView {
        code: "V041".to_owned(),
        text: format!(
            "calibrated with {}, used with {}: what the shots could not tell apart, such as bucket sensor and tooth, is not carried over; check a shot with this tool",
            in_words(was.coupler.as_deref(), was.tilt.as_deref(), &was.bucket),
            in_words(choice.coupler.as_deref(), choice.tilt.as_deref(), &choice.bucket),
        ),
        place: "calibration".to_owned(),
    })
}

/// Refuses a calibration made with another tool than the one that is judged or keyed in.
///
/// # Errors
///
/// `V041`.
pub fn same_tool(file: &str, calibration: &Calibration, choice: &ToolChoice) -> Result<(), Fault> {
    match other_tool(calibration, choice) {
        None => Ok(()),
        Some(other) => Err(for_another_tool(file, other.text)),
    }
}

/// The fault for a calibration of another tool.
pub(crate) fn for_another_tool(file: &str, words: String) -> Fault {
    Fault::new(
        "V041",
        file,
        words,
        "a calibration made with the tool that hangs",
        "calibrate with this tool, or leave the calibration out: the sheet's own uncertainties then stand",
    )
}

fn in_words(coupler: Option<&str>, tilt: Option<&str>, bucket: &str) -> String {
    let hung = [tilt, coupler].into_iter().flatten();
    hung.fold(bucket.to_owned(), |words, hung| {
        format!("{words} on {hung}")
    })
}
