//! Solids and masses: every figure a number and plausible.

use super::claim::{ClaimedMachine, ClaimedShape};
use super::measured_tools::check_plane_places;
use super::spans;
use holdline_geom::fault::{Fault, Faults};

/// Solids and masses.
pub(super) fn check_solids_and_masses(sheet: &ClaimedMachine, faults: &mut Faults) {
    for (idx, solid) in sheet.solids.iter().enumerate() {
        check_shape(&solid.shape, &format!("solid[{}]", idx + 1), faults);
    }
    for (idx, mass) in sheet.masses.iter().enumerate() {
        let at = format!("mass[{}]", idx + 1);
        faults.keep(spans::PART_MASS.check(&format!("{at}.mass"), mass.mass.value));
        places(&mass.centre_m, &format!("{at}.centre"), faults);
    }
}

fn check_shape(shape: &ClaimedShape, at: &str, faults: &mut Faults) {
    let size = |name: &str, value_m: f64, faults: &mut Faults| {
        faults.keep(spans::SOLID_SIZE.check(&format!("{at}.{name}"), value_m));
    };
    match shape {
        ClaimedShape::Capsule {
            from_m,
            to_m,
            radius_m,
        } => {
            places(from_m, &format!("{at}.capsule.from"), faults);
            places(to_m, &format!("{at}.capsule.to"), faults);
            size("capsule.radius", *radius_m, faults);
        }
        ClaimedShape::Box { min_m, max_m } => {
            places(min_m, &format!("{at}.box.min"), faults);
            places(max_m, &format!("{at}.box.max"), faults);
            if !min_m.iter().zip(max_m).all(|(min, max)| min < max) {
                faults.push(upside_down(&format!("{at}.box")));
            }
        }
        ClaimedShape::Prism {
            outline_m,
            y_m,
            half_width_m,
        } => {
            check_plane_places(outline_m, &format!("{at}.prism.outline"), faults);
            places(&[*y_m], &format!("{at}.prism.y"), faults);
            size("prism.half_width", *half_width_m, faults);
        }
        ClaimedShape::Sector {
            radius_m,
            half_angle_rad,
            z_min_m,
            z_max_m,
        } => {
            size("sector.radius", *radius_m, faults);
            let at_angle = format!("{at}.sector.half_angle");
            faults.keep(spans::HALF_ANGLE.check(&at_angle, half_angle_rad.to_degrees()));
            places(&[*z_min_m, *z_max_m], &format!("{at}.sector.z"), faults);
            if !(z_min_m < z_max_m) {
                faults.push(upside_down(&format!("{at}.sector.z")));
            }
        }
        ClaimedShape::AlongCylinder { y_m, radius_m, .. } => {
            places(y_m, &format!("{at}.along_cylinder.y"), faults);
            size("along_cylinder.radius", *radius_m, faults);
        }
        ClaimedShape::AlongLinkage { radius_m, .. } => {
            size("along_linkage.radius", *radius_m, faults);
        }
    }
}

fn places(coordinates_m: &[f64], at: &str, faults: &mut Faults) {
    for value in coordinates_m {
        faults.keep(spans::PLACE.check(at, *value));
    }
}

fn upside_down(at: &str) -> Fault {
    Fault::new(
        "M058",
        at,
        "a least coordinate that is not below the largest",
        "min below max on every axis",
        "swap the two: a solid without a volume stands for nothing",
    )
}
