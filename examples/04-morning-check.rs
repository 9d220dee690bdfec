//! The morning check: one nail, one reading, and what makes a full re-check due.
//!
//! `cargo run -p holdline-examples --example 04-morning-check`

use holdline::calibrate::daily::{Change, DailyEntry, LimitsTried, judge_morning};
use holdline_geom::measured::Measured;

/// Two mornings on the same nail.
pub fn main() {
    let monday = DailyEntry {
        on: "2025-12-08".to_owned(),
        bench: "nail 1".to_owned(),
        bucket: "T75".to_owned(),
        tooth: "centre".to_owned(),
        shown_m: Measured::with_sd(24.316, 0.007),
        known_m: Measured::with_sd(24.310, 0.003),
        allowed_m: Some(0.030),
        wear_m: Some(0.002),
        limits: LimitsTried::Held,
        changes: Vec::new(),
        initials: "AE".to_owned(),
    };
    let tuesday = DailyEntry {
        on: "2025-12-09".to_owned(),
        shown_m: Measured::with_sd(24.312, 0.007),
        changes: vec![Change::Sensor],
        ..monday.clone()
    };
    for (entry, before) in [
        (&monday, &[][..]),
        (&tuesday, std::slice::from_ref(&monday)),
    ] {
        let result = judge_morning(entry, before, &[]);
        println!(
            "{}: {:+.0} mm, {:?}",
            entry.on,
            result.difference_m.value * 1000.0,
            result.decision
        );
        for why in &result.recheck_because {
            println!("  full re-check due: {why}");
        }
    }
}
