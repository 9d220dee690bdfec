//! Calibrate: from a tape, a plumb line and a hand inclinometer to offsets and lengths, and how sure the tooth is.
//!
//! `cargo run -p holdline-examples --example 05-calibrate`

use holdline::calibrate::fit::{Belief, FitAsk, fit};
use holdline_examples::{TAPE_DAY, demo_machine, demo_observations};
use holdline_geom::fault::Faults;

/// The demo machine, calibrated without a total station.
///
/// # Errors
///
/// None with the demo's files as they stand.
pub fn main() -> Result<(), Faults> {
    let machine = demo_machine()?;
    let observations = demo_observations("tape-only.observations.csv", TAPE_DAY, &machine)?;
    let found = fit(&machine, &observations, &FitAsk::default())?;
    match &found.belief {
        Belief::Believed => println!("the fit can be believed"),
        Belief::NotBelieved(why) => println!("not to be believed: {}", why.join("; ")),
    }
    for figure in &found.figures {
        let sd = figure
            .sd
            .map_or("not determined".to_owned(), |sd| format!("sd {sd:.5}"));
        println!(
            "{:40} {:+.5}  now {:+.5}  {sd}",
            figure.path, figure.before.value, figure.value
        );
    }
    for pose in &found.tooth {
        if let (Some(before), Some(now)) = (pose.sd_before_m, pose.sd_m) {
            println!(
                "{:8} up ± {:.0} mm, was ± {:.0} mm (k = 2)",
                pose.name,
                2000.0 * now[2],
                2000.0 * before[2]
            );
        }
    }
    for open in &found.weak {
        println!("{}", open.words);
    }
    assert_eq!(found.belief, Belief::Believed);
    Ok(())
}
