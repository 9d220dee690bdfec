//! From claimed to checked: every figure plausible, every pin closes, every range follows.

use super::Machine;
use super::claim::{
    ClaimedBoomKind, ClaimedCylinder, ClaimedMachine, ClaimedRange, CylinderPin, Joint, PlanePoint,
    SpacePoint,
};
use super::cylinder::{self, CylinderTriangle, JointRange};
use super::four_bar::FourBar;
use super::{measured_solids, measured_tools, spans};
use holdline_geom::fault::{Fault, Faults, Span};
use holdline_geom::measured::Measured;

/// The checked machine, or all that is wrong with the sheet.
pub(super) fn checked(sheet: ClaimedMachine) -> Result<Machine, Faults> {
    let mut faults = Faults::none();
    check_house_and_tracks(&sheet, &mut faults);
    check_boom_and_stick(&sheet, &mut faults);
    check_front_for_mass(&sheet, &mut faults);
    check_linkage(&sheet, &mut faults);
    measured_tools::check_tools(&sheet, &mut faults);
    measured_solids::check_solids_and_masses(&sheet, &mut faults);
    measured_tools::check_fit_out(&sheet, &mut faults);
    let (ranges, triangles) = strokes(&sheet, &mut faults);
    faults.or(Machine {
        sheet,
        ranges,
        triangles,
        correlated: None,
    })
}

fn check_house_and_tracks(sheet: &ClaimedMachine, faults: &mut Faults) {
    if sheet.id.trim().is_empty() {
        faults.push(Fault::new(
            "M002",
            "machine.id",
            "nothing",
            "a name",
            "give the machine the name it has on the job",
        ));
    }
    if let Some(mass) = &sheet.mass_kg {
        faults.keep(spans::MASS.check("machine.mass", mass.value));
    }
    let tracks = &sheet.tracks;
    length(
        faults,
        "tracks.length",
        &tracks.length,
        &spans::TRACK_LENGTH,
    );
    length(faults, "tracks.gauge", &tracks.gauge, &spans::GAUGE);
    length(
        faults,
        "tracks.shoe_width",
        &tracks.shoe_width,
        &spans::SHOE,
    );
    length(
        faults,
        "tracks.height",
        &tracks.height,
        &spans::TRACK_HEIGHT,
    );
    length(
        faults,
        "house.tail_radius",
        &sheet.house.tail_radius,
        &spans::TAIL_RADIUS,
    );
    let half_angle_deg = sheet.house.tail_half_angle_rad.to_degrees();
    faults.keep(spans::HALF_ANGLE.check("house.tail_half_angle", half_angle_deg));
    if let Some(eye) = &sheet.house.eye {
        space(faults, "house.eye", eye, &spans::LEVER);
    }
}

fn check_boom_and_stick(sheet: &ClaimedMachine, faults: &mut Faults) {
    match (&sheet.swing_post, &sheet.boom.foot) {
        (None, None) => faults.push(Fault::new(
            "M020",
            "boom.foot",
            "no boom foot pin",
            "boom.foot, or a [swing_post] that carries the boom",
            "measure the boom foot pin from the swing axis and the track ground level",
        )),
        (Some(_), Some(_)) => faults.push(Fault::new(
            "M021",
            "boom.foot",
            "a boom foot pin in the house and a swing post",
            "one of the two",
            "with a swing post give the foot pin from the post, in swing_post.foot",
        )),
        (None, Some(foot)) => {
            length(faults, "boom.foot.x", &foot.x, &spans::FOOT_FORWARD);
            length(faults, "boom.foot.y", &foot.y, &spans::FOOT_SIDE);
            length(faults, "boom.foot.z", &foot.z, &spans::FOOT_UP);
        }
        (Some(post), None) => {
            space(faults, "swing_post.at", &post.at, &spans::FOOT_FORWARD);
            space(faults, "swing_post.foot", &post.foot, &spans::FOOT_FORWARD);
        }
    }
    match &sheet.boom.kind {
        ClaimedBoomKind::Mono { length: boom } => {
            length(faults, "boom.length", boom, &spans::BOOM_LENGTH)
        }
        ClaimedBoomKind::TwoPiece { lower, upper } => {
            length(faults, "boom.lower", lower, &spans::BOOM_PART);
            length(faults, "boom.upper", upper, &spans::BOOM_PART);
        }
        ClaimedBoomKind::Offset { lower, link, upper } => {
            length(faults, "boom.lower", lower, &spans::BOOM_PART);
            length(faults, "boom.link", link, &spans::BOOM_PART);
            length(faults, "boom.upper", upper, &spans::BOOM_PART);
        }
    }
    length(
        faults,
        "stick.length",
        &sheet.stick.length,
        &spans::STICK_LENGTH,
    );
}

/// Lengths all in feet are each plausible for some machine; beside the mass they are not.
///
/// ```text
/// 0.1 <= (boom + stick) / ∛mass <= 0.8        m, kg; about 0.17 to 0.65 for machines of 1 t to 800 t
/// ```
fn check_front_for_mass(sheet: &ClaimedMachine, faults: &mut Faults) {
    let Some(mass) = &sheet.mass_kg else {
        return;
    };
    let boom_m = match &sheet.boom.kind {
        ClaimedBoomKind::Mono { length } => length.value,
        ClaimedBoomKind::TwoPiece { lower, upper } => lower.value + upper.value,
        ClaimedBoomKind::Offset { lower, link, upper } => lower.value + link.value + upper.value,
    };
    let front_m = boom_m + sheet.stick.length.value;
    let at = "boom, stick.length, machine.mass";
    let fault = spans::FRONT_FOR_MASS.check(at, front_m / mass.value.cbrt());
    faults.keep(fault.map_err(|fault| Fault {
        got: format!("{front_m:.2} m of boom and stick on {:.0} kg", mass.value),
        want: format!(
            "{:.1} m to {:.1} m on that mass",
            spans::FRONT_FOR_MASS.min * mass.value.cbrt(),
            spans::FRONT_FOR_MASS.max * mass.value.cbrt()
        ),
        ..fault
    }));
}

fn check_linkage(sheet: &ClaimedMachine, faults: &mut Faults) {
    let linkage = &sheet.linkage;
    length(
        faults,
        "linkage.idler_pivot.x",
        &linkage.idler_pivot.x,
        &spans::IDLER_PIVOT,
    );
    length(
        faults,
        "linkage.idler_pivot.z",
        &linkage.idler_pivot.z,
        &spans::IDLER_PIVOT_Z,
    );
    length(
        faults,
        "linkage.idler",
        &linkage.idler,
        &spans::LINKAGE_LENGTH,
    );
    length(
        faults,
        "linkage.link",
        &linkage.link,
        &spans::LINKAGE_LENGTH,
    );
    length(faults, "linkage.ear", &linkage.ear, &spans::LINKAGE_LENGTH);
    // Four sides close when the longest is shorter than the other three together.
    let (x, z) = (
        linkage.idler_pivot.x.value - sheet.stick.length.value,
        linkage.idler_pivot.z.value,
    );
    let sides = [
        x.hypot(z),
        linkage.idler.value,
        linkage.link.value,
        linkage.ear.value,
    ];
    let longest = sides.iter().copied().fold(0.0, f64::max);
    let rest = sides.iter().sum::<f64>() - longest;
    if !(longest < rest) {
        faults.push(Fault::new(
            "M033",
            "linkage",
            format!(
                "sides {:.3}, {:.3}, {:.3}, {:.3} m",
                sides[0], sides[1], sides[2], sides[3]
            ),
            "the longest side shorter than the other three together",
            "one of idler pivot, idler, link and ear is mistyped: look for transposed digits",
        ));
    }
}

fn strokes(
    sheet: &ClaimedMachine,
    faults: &mut Faults,
) -> (Vec<JointRange>, Vec<CylinderTriangle>) {
    let linkage = FourBar {
        pivot_m: [
            sheet.linkage.idler_pivot.x.value,
            sheet.linkage.idler_pivot.z.value,
        ],
        idler_m: sheet.linkage.idler.value,
        link_m: sheet.linkage.link.value,
        ear_m: sheet.linkage.ear.value,
        branch: sheet.linkage.branch,
    };
    let (mut ranges, mut triangles) = (Vec::<JointRange>::new(), Vec::new());
    for (idx, claimed) in sheet.cylinders.iter().enumerate() {
        let at = format!("cylinder[{}]", idx + 1);
        let before = faults.0.len();
        check_cylinder(claimed, &at, faults);
        if ranges.iter().any(|range| range.joint == claimed.moves) {
            faults.push(twice(&at, claimed.moves));
        }
        if before == faults.0.len() {
            let made = cylinder::triangle(sheet, claimed, &at)
                .and_then(|triangle| Ok((triangle, cylinder::range(sheet, &linkage, idx, &at)?)));
            if let Some((triangle, range)) = faults.keep(made) {
                triangles.push(triangle);
                ranges.push(range);
            }
        }
    }
    for (idx, stated) in sheet.ranges.iter().enumerate() {
        let at = format!("range[{}]", idx + 1);
        if ranges.iter().any(|range| range.joint == stated.joint) {
            faults.push(twice(&at, stated.joint));
        }
        if let Some(range) = stated_range(stated, &at, faults) {
            ranges.push(range);
        }
    }
    (ranges, triangles)
}

fn check_cylinder(claimed: &ClaimedCylinder, at: &str, faults: &mut Faults) {
    let (retracted, extended) = (&claimed.retracted, &claimed.extended);
    length(
        faults,
        &format!("{at}.retracted"),
        retracted,
        &spans::STROKE,
    );
    length(faults, &format!("{at}.extended"), extended, &spans::STROKE);
    let tolerance_m = claimed.stroke_tolerance_m;
    faults.keep(spans::STROKE_TOLERANCE.check(&format!("{at}.stroke_tolerance"), tolerance_m));
    faults.keep(spans::COUNT.check(&format!("{at}.count"), f64::from(claimed.count)));
    for (name, pin) in [("base", &claimed.base), ("rod", &claimed.rod)] {
        if let CylinderPin::On { at: place, .. } = pin {
            plane(faults, &format!("{at}.{name}.at"), place, &spans::PLACE);
        }
    }
    let optional = |faults: &mut Faults, name: &str, value: Option<f64>, span: &Span| {
        if let Some(value) = value {
            faults.keep(span.check(&format!("{at}.{name}"), value));
        }
    };
    optional(faults, "bore", claimed.bore_m, &spans::BORE);
    optional(faults, "rod_diameter", claimed.rod_diameter_m, &spans::BORE);
    optional(faults, "mass_each", claimed.mass_each_kg, &spans::PART_MASS);
    if !(retracted.value < extended.value) {
        faults.push(Fault::new(
            "M053",
            format!("{at}.extended"),
            format!("{} m in, {} m out", retracted.value, extended.value),
            "longer out than in",
            "swap the two, or measure the stroke again",
        ));
    }
}

fn stated_range(stated: &ClaimedRange, at: &str, faults: &mut Faults) -> Option<JointRange> {
    let (min, max) = (stated.min_rad, stated.max_rad);
    let before = faults.0.len();
    for (name, end) in [("min", min), ("max", max)] {
        faults.keep(spans::RANGE_END.check(&format!("{at}.{name}"), end.to_degrees()));
    }
    let tolerance_deg = stated.tolerance_rad.to_degrees();
    faults.keep(spans::RANGE_TOLERANCE.check(&format!("{at}.tolerance"), tolerance_deg));
    if !(min < max) {
        faults.push(Fault::new(
            "M063",
            at,
            format!("{:.1}° to {:.1}°", min.to_degrees(), max.to_degrees()),
            "min below max",
            "swap the two, or read the range off the machine again",
        ));
    }
    (before == faults.0.len()).then_some(JointRange {
        joint: stated.joint,
        nominal_rad: [min, max],
        outer_rad: [min - stated.tolerance_rad, max + stated.tolerance_rad],
        cylinder_idx: None,
    })
}

fn twice(at: &str, joint: Joint) -> Fault {
    Fault::new(
        "M064",
        at,
        format!("a second range for {}", joint.word()),
        "one cylinder or one [[range]] a joint",
        "cylinders in parallel are one entry with their count",
    )
}

/// A length with its uncertainty.
pub(super) fn length(faults: &mut Faults, at: &str, value: &Measured, span: &Span) {
    faults.keep(span.check(at, value.value));
    if let Some(sd) = value.sd {
        faults.keep(spans::SD_LENGTH.check(&format!("{at}.sd"), sd));
    }
}

/// An angle with its uncertainty, told in degrees.
pub(super) fn angle(faults: &mut Faults, at: &str, value: &Measured, span: &Span) {
    faults.keep(span.check(at, value.value.to_degrees()));
    if let Some(sd) = value.sd {
        faults.keep(spans::SD_ANGLE.check(&format!("{at}.sd"), sd.to_degrees()));
    }
}

/// A point in a link's plane.
pub(super) fn plane(faults: &mut Faults, at: &str, p: &PlanePoint, span: &Span) {
    length(faults, &format!("{at}.x"), &p.x, span);
    length(faults, &format!("{at}.z"), &p.z, span);
}

/// A point in space.
pub(super) fn space(faults: &mut Faults, at: &str, p: &SpacePoint, span: &Span) {
    length(faults, &format!("{at}.x"), &p.x, span);
    length(faults, &format!("{at}.y"), &p.y, span);
    length(faults, &format!("{at}.z"), &p.z, span);
}
