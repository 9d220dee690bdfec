//! What budgets of the tests are asked, and the machines they are asked of.

use super::{demo, tool};
use holdline::calibrate::budget::*;
use holdline::machine::Machine;
use holdline::machine::claim::ClaimedMachine;
use holdline::machine::joints::Joints;
use holdline::machine::reach::reach_in_plane;
use holdline::tooth::attitude::Lean;
use holdline::tooth::model::ToothModel;
use holdline_geom::frame::Point;

pub const LEAN: Lean = Lean {
    pitch: 0.017_453_292_519_943_295,
    roll: 0.008_726_646_259_971_648,
};
pub const HEADING_RAD: f64 = std::f64::consts::PI / 6.0;

pub fn satellites() -> Satellites {
    Satellites {
        plan_sd_m: Some(0.008),
        height_sd_m: Some(0.015),
        heading: HeadingFrom::Read {
            sd_rad: Some(0.10_f64.to_radians()),
        },
        localization_sd_m: [Some(0.005), Some(0.005), Some(0.008)],
        latency_s: Some(0.1),
    }
}

/// At rest, nothing gives way, no play: what the trade's table counts.
pub fn ask(mode: Mode) -> BudgetAsk {
    BudgetAsk {
        mode,
        pin_play: PinPlay::of_all(0.0),
        deflection: Some(Deflection {
            sd_m: 0.0,
            at_reach_m: 8.0,
        }),
        motion: Some(Motion::Tooth { speed_m_s: 0.0 }),
        coverage: Coverage::TwoSided,
        normal: None,
    }
}

/// Everything stated, all of it of some size.
pub fn full_ask() -> BudgetAsk {
    BudgetAsk {
        mode: Mode::ThreeD(satellites()),
        pin_play: PinPlay {
            all_m: Some(0.001),
            each_m: vec![(Pin::StickBucket, 0.0015)],
        },
        deflection: Some(Deflection {
            sd_m: 0.004,
            at_reach_m: 8.0,
        }),
        motion: Some(Motion::Tooth { speed_m_s: 0.1 }),
        coverage: Coverage::TwoSided,
        normal: Some(normal_of_face(0.38, 1.2)),
    }
}

pub fn with_latencies(mut sheet: ClaimedMachine) -> ClaimedMachine {
    for sensor in &mut sheet.sensors {
        sensor.latency_s = Some(0.04);
    }
    sheet
}

pub fn model_of(sheet: ClaimedMachine) -> ToothModel {
    let machine = Machine::measured_up(sheet).unwrap_or_else(|faults| panic!("{faults}"));
    ToothModel::new(&machine, &tool(true, false, "T75", "centre")).expect("a tool")
}

pub fn demo_model() -> ToothModel {
    model_of(with_latencies(demo()))
}

pub fn at(model: &ToothModel, x: f64, z: f64) -> BudgetPose {
    let front = model.geometry().front.values();
    let reached = [10.5, -20.0, 30.0, 60.0, -50.0]
        .into_iter()
        .find_map(|ear_deg: f64| {
            let target = Point::metres(x, -0.045, z);
            let ear = ear_deg.to_radians();
            reach_in_plane(model.machine(), &front, target, ear, &Joints::zero()).ok()
        });
    BudgetPose {
        joints: reached.expect("a curl inside the strokes").joints,
        lean: LEAN,
        heading_rad: Some(HEADING_RAD),
    }
}
