//! Prove the tooth: check shots against control, and a guarded decision.
//!
//! `cargo run -p holdline-examples --example 03-prove-the-tooth`

use holdline::calibrate::check_shots::{CheckShot, Tolerance, check_shots};
use holdline::calibrate::shared::Shared;
use holdline_geom::measured::Measured;

/// Eight heights, shown and surveyed.
pub fn main() {
    let shown_less_surveyed_mm = [4.0, -6.0, 1.0, 8.0, -3.0, 5.0, -2.0, 2.0];
    let shots: Vec<CheckShot> = shown_less_surveyed_mm
        .iter()
        .enumerate()
        .map(|(idx, mm)| CheckShot {
            name: format!("{}", idx + 1),
            shown_m: [
                None,
                None,
                Some(Measured::with_sd(24.690 + mm / 1000.0, 0.007)),
            ],
            surveyed_m: [None, None, Some(Measured::with_sd(24.690, 0.002))],
        })
        .collect();
    let tolerance = Tolerance {
        height_m: Some([-0.025, 0.025]),
        plan_m: None,
    };
    let control = Shared::of_control([None, None, Some(0.002)]);
    let result = check_shots(&shots, &tolerance, &control);
    if let Some(height) = &result.axes[2] {
        println!(
            "mean {:+.1} mm over {} shots",
            height.series.mean * 1000.0,
            height.series.n
        );
    }
    println!("{:?}", result.decision);

    // The same series, but nobody says how good the control is: then nothing is shown.
    let unknown = check_shots(&shots, &tolerance, &Shared::of_control([None; 3]));
    println!("{:?}", unknown.decision);
    assert!(result.decision.holds() && !unknown.decision.holds());
}
