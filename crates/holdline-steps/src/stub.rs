//! What a room does not give yet.

use holdline_geom::fault::{Fault, Faults};

pub fn not_yet<T>() -> Result<T, Faults> {
    Err(Fault::new(
        "W099",
        "calibrate",
        "not there yet",
        "a later version",
        "wait",
    )
    .into())
}
