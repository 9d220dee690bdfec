//! Hand over: a calibration as the numbers that the display in the cab asks for, read back at three poses.
//!
//! `cargo run -p holdline-examples --example 08-hand-over`

use holdline::calibrate::fit::{FitAsk, fit};
use holdline::calibrate::hand_over::hand_over;
use holdline_examples::{TAPE_DAY, demo_machine, demo_observations};
use holdline_files::terms::read_terms;
use holdline_geom::fault::Faults;

/// What the display asks for, as one person described it.
const TERMS: &str = include_str!("../demo/demo-23.terms.toml");

/// The entries, and what they do at the tooth.
///
/// # Errors
///
/// None with the demo's files as they stand.
pub fn main() -> Result<(), Faults> {
    let machine = demo_machine()?;
    let observations = demo_observations("tape-only.observations.csv", TAPE_DAY, &machine)?;
    let found = fit(&machine, &observations, &FitAsk::default())?;
    let calibration = found.calibration("the sheet's hash", "A. Example", "2025-12-01", "tape");
    let terms = read_terms("demo-23.terms.toml", TERMS.as_bytes())?;
    let handed = hand_over(&machine, &calibration, &terms, Some(0.010))?;
    for entry in &handed.entries {
        println!(
            "{:22} {:>8} {}",
            entry.label,
            entry.number.as_deref().unwrap_or("-"),
            entry.unit.word()
        );
    }
    for pose in &handed.proof {
        println!("{:5} apart {:?} m", pose.name, pose.apart_m);
    }
    println!("{:?}", handed.decision);
    assert!(handed.decision.holds());
    Ok(())
}
