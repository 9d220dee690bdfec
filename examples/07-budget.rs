//! Budget: how sure the tooth is in a pose in 3D, where that comes from, and what it is enough for.
//!
//! `cargo run -p holdline-examples --example 07-budget`

use holdline::calibrate::budget::{
    Budget, BudgetAsk, BudgetPose, Coverage, Deflection, HeadingFrom, Judged, Mode, Motion,
    PinPlay, Satellites, Tolerance, at_pose, verdict,
};
use holdline::machine::joints::Joints;
use holdline::tooth::attitude::Lean;
use holdline::tooth::model::ToothModel;
use holdline_examples::{demo_machine, demo_tool};
use holdline_geom::fault::Faults;

/// One pose of the demo machine, at rest.
///
/// # Errors
///
/// None with the demo's sheet as it stands.
pub fn main() -> Result<(), Faults> {
    let model = ToothModel::new(&demo_machine()?, &demo_tool())?;
    let ask = BudgetAsk {
        mode: Mode::ThreeD(Satellites {
            plan_sd_m: Some(0.008),
            height_sd_m: Some(0.015),
            heading: HeadingFrom::Read {
                sd_rad: Some(0.1_f64.to_radians()),
            },
            localization_sd_m: [Some(0.005), Some(0.005), Some(0.008)],
            latency_s: Some(0.0),
        }),
        pin_play: PinPlay::of_all(0.0005),
        deflection: Some(Deflection {
            sd_m: 0.005,
            at_reach_m: 10.0,
        }),
        motion: Some(Motion::Tooth { speed_m_s: 0.0 }),
        coverage: Coverage::TwoSided,
        normal: None,
    };
    let pose = BudgetPose {
        joints: Joints {
            boom: 0.48,
            stick: -1.93,
            bucket: 0.98,
            ..Joints::zero()
        },
        lean: Lean {
            pitch: 0.0,
            roll: 0.0,
        },
        heading_rad: Some(60.0_f64.to_radians()),
    };
    let found = at_pose(&Budget::new(&model, &ask)?, &pose)?;
    match found.u_m {
        Some([e, n, u]) => {
            println!("E ± {e:.3}  N ± {n:.3}  U ± {u:.3} m (k = {})", found.k);
        }
        None => println!("not known: {}", found.missing.join(", ")),
    }
    for share in found.shares.iter().take(4) {
        println!(
            "  {:30} {:3.0} % of the height",
            share.name,
            100.0 * share.part[2]
        );
    }
    let tolerance = Tolerance::Between {
        lower_m: -0.1,
        upper_m: 0.1,
        aim_m: None,
    };
    let answer = verdict(&found, Judged::Up, &tolerance);
    println!("{answer:?}");
    assert!(answer.holds());
    Ok(())
}
