//! A pose as a person can set it: joints by eye, then where the tooth stands.

use super::candidates::Candidate;
use crate::machine::Machine;
use crate::machine::claim::Joint;
use crate::machine::front::Front;
use crate::machine::jacobian::joints_fitted;
use std::f64::consts::{FRAC_PI_2, PI, TAU};

/// A link this near to plumb or level is said to be so, rad.
const NEAR_RAD: f64 = 8.0 * PI / 180.0;

/// `boom about half up, stick plumb, bucket curled in; tooth about 6.2 m out and 0.4 m above the track ground;
/// heading 90° to the right of the first`.
pub(super) fn pose_words(
    machine: &Machine,
    front: &Front<f64>,
    candidate: &Candidate,
    first_heading_rad: f64,
) -> String {
    let q = &candidate.joints;
    let mut parts = Vec::new();
    for joint in joints_fitted(front) {
        let Some(range) = machine.range(joint) else {
            continue;
        };
        let [min, max] = range.nominal_rad;
        let share = (q.get(joint) - min) / (max - min);
        match joint {
            Joint::Swing => {}
            Joint::Boom => parts.push(format!("boom {}", up_words(share))),
            Joint::Stick => parts.push(format!(
                "stick {}",
                stick_words(q.boom + q.boom_upper + q.stick)
            )),
            Joint::Bucket => parts.push(format!("bucket {}", curl_words(share))),
            Joint::BoomUpper => parts.push(format!("upper boom {}", up_words(share))),
            Joint::Post | Joint::Offset | Joint::Tilt | Joint::Rotation => parts.push(format!(
                "{} at about {:.0}°",
                joint.word(),
                q.get(joint).to_degrees()
            )),
        }
    }
    let level = candidate.lean.level_from_house() * candidate.pose.tooth_house;
    format!(
        "{}; tooth about {:.1} m out and {:.1} m above the track ground; {}",
        parts.join(", "),
        level.x(),
        candidate.pose.tooth_house.z(),
        heading_words(candidate.heading_rad - first_heading_rad)
    )
}

fn up_words(share: f64) -> &'static str {
    match share {
        s if s < 0.15 => "nearly all the way down",
        s if s < 0.40 => "about a quarter up",
        s if s < 0.60 => "about half up",
        s if s < 0.85 => "about three quarters up",
        _ => "nearly all the way up",
    }
}

fn curl_words(share: f64) -> &'static str {
    match share {
        s if s < 0.15 => "curled in",
        s if s < 0.40 => "three quarters curled in",
        s if s < 0.60 => "half open",
        s if s < 0.85 => "three quarters open",
        _ => "all the way open",
    }
}

/// The stick's line from boom pin to bucket pin, above the house's level.
fn stick_words(line_rad: f64) -> String {
    let off_plumb_rad = wrapped(line_rad + FRAC_PI_2);
    let off_deg = (off_plumb_rad.abs().to_degrees() / 5.0).round() * 5.0;
    if off_plumb_rad.abs() < NEAR_RAD {
        "hanging plumb".to_owned()
    } else if (off_plumb_rad.abs() - FRAC_PI_2).abs() < NEAR_RAD {
        if 0.0 < off_plumb_rad {
            "level, reaching out".to_owned()
        } else {
            "level, folded in".to_owned()
        }
    } else if 0.0 < off_plumb_rad {
        format!("reaching out, about {off_deg:.0}° off plumb")
    } else {
        format!("pulled in, about {off_deg:.0}° off plumb")
    }
}

/// Clockwise is to the right.
fn heading_words(turned_rad: f64) -> String {
    let turned_rad = wrapped(turned_rad);
    let deg = (turned_rad.abs().to_degrees()).round();
    if deg < 1.0 {
        "heading as at first".to_owned()
    } else if 179.0 <= deg {
        "heading straight behind the first".to_owned()
    } else if 0.0 < turned_rad {
        format!("heading {deg:.0}° to the right of the first")
    } else {
        format!("heading {deg:.0}° to the left of the first")
    }
}

/// From −π to π.
fn wrapped(angle_rad: f64) -> f64 {
    let a = angle_rad.rem_euclid(TAU);
    if PI < a { a - TAU } else { a }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_say_which_way() {
        let deg = f64::to_radians;
        assert_eq!(stick_words(deg(-92.0)), "hanging plumb");
        assert_eq!(stick_words(deg(-60.0)), "reaching out, about 30° off plumb");
        assert_eq!(stick_words(deg(-120.0)), "pulled in, about 30° off plumb");
        assert_eq!(stick_words(deg(-3.0)), "level, reaching out");
        assert_eq!(stick_words(deg(178.0)), "level, folded in");
        assert_eq!(
            heading_words(deg(90.0)),
            "heading 90° to the right of the first"
        );
        assert_eq!(
            heading_words(deg(270.0)),
            "heading 90° to the left of the first"
        );
        assert_eq!(
            heading_words(deg(-180.0)),
            "heading straight behind the first"
        );
        assert_eq!(heading_words(deg(360.0)), "heading as at first");
        assert_eq!(
            (up_words(0.5), curl_words(0.0)),
            ("about half up", "curled in")
        );
    }
}
