//! The machine in open formats, for programs that are not ours.

use holdline_files::model::{write_glb, write_urdf};
use holdline_geom::fault::Faults;

use crate::machine_view::MachineAndTool;
use crate::pose::PoseAsk;

/// The machine as URDF: an open chain from the tracks to the tooth point, the bucket joint turning the ear.
///
/// # Errors
///
/// `T001` for an unknown tool.
pub fn urdf(tool: &MachineAndTool) -> Result<String, Faults> {
    Ok(write_urdf(&tool.machine, &tool.choice)?)
}

/// The machine in a pose as GLB (glTF 2.0, binary).
///
/// # Errors
///
/// `T010` `T011` a linkage that cannot close there; what was typed.
pub fn glb(tool: &MachineAndTool, ask: &PoseAsk) -> Result<Vec<u8>, Faults> {
    let front = tool.machine.front(&tool.choice)?.values();
    let set = ask.set(&tool.machine, &front)?;
    Ok(write_glb(&tool.machine, &tool.choice, &set.joints)?)
}
