//! What came of a step, for the shell and for the page: done and good, no, unusable, our fault.

use holdline_geom::fault::{Fault, Faults};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// How a step ended. The number is the exit code of the command line.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Exit {
    /// Done, and the answer is good.
    Good = 0,
    /// Done, and the answer is no: out of tolerance, not the same, not shown.
    No = 1,
    /// What was given cannot be used.
    BadInput = 2,
    /// A fault of holdline itself.
    OurFault = 3,
}

/// Codes that no input should ever lead to.
const OURS: &[&str] = &["F059", "R002", "R003", "S060", "S099", "W099"];

impl Exit {
    /// The exit code.
    pub fn code(self) -> u8 {
        self as u8
    }

    /// How a step ended that gave these faults.
    pub fn of_faults(faults: &Faults) -> Exit {
        let ours = |fault: &Fault| OURS.contains(&fault.code);
        if faults.0.iter().any(ours) || faults.is_empty() {
            Exit::OurFault
        } else {
            Exit::BadInput
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn our_own_faults_are_told_from_bad_input() {
        let one = |code| Faults::from(Fault::new(code, "", "", "", ""));
        assert_eq!(Exit::of_faults(&one("M012")).code(), 2);
        assert_eq!(Exit::of_faults(&one("S099")).code(), 3);
        assert_eq!(Exit::of_faults(&Faults::none()), Exit::OurFault);
        assert_eq!((Exit::Good.code(), Exit::No.code()), (0, 1));
    }
}
