//! The machine as a model in space.

use holdline::machine::Machine;
use holdline_geom::fault::{Fault, Faults};

/// The machine's links as glTF, binary; each node is named after its link.
///
/// # Errors
///
/// `F066` while no writer is there.
pub fn machine_glb(_machine: &Machine) -> Result<Vec<u8>, Faults> {
    Err(Fault::new(
        "F066",
        "model",
        "no model",
        "a model",
        "the drawings show all that is needed",
    )
    .into())
}
