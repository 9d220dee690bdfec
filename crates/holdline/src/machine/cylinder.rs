//! Cylinder length and joint angle, both ways, and the ranges that follow from the strokes.

use super::claim::{
    ClaimedBoomKind, ClaimedCylinder, ClaimedMachine, CylinderPin, CylinderSide, Joint, Link,
    PlanePoint,
};
use super::four_bar::FourBar;
use holdline_geom::fault::Fault;
use holdline_geom::triangle::angle_between;
use std::f64::consts::{PI, TAU};

/// The triangle of a cylinder: joint pin, base pin, rod pin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CylinderTriangle {
    /// Joint pin to base pin, m.
    pub base_m: f64,
    /// Direction of the base pin, in the frame of the link that carries the joint, rad.
    pub base_rad: f64,
    /// Joint pin to rod pin, m.
    pub rod_m: f64,
    /// Direction of the rod pin, in the moving link's frame, rad.
    pub rod_rad: f64,
    /// The side that the cylinder stays on.
    pub side: CylinderSide,
}

impl CylinderTriangle {
    /// Joint angle at a cylinder length, rad; not wrapped.
    ///
    /// ```text
    /// L² = a² + b² − 2ab cos γ          j = A_p ± γ − B_q
    /// ```
    ///
    /// - Symbols: a, A_p base pin from the joint; b, B_q rod pin in the moving link;
    ///   + when extending turns the joint upward.
    /// - Units: m, rad. Source: plane trigonometry; angle by [`angle_between`].
    ///
    /// # Errors
    ///
    /// Fault `G010` if the three pins cannot close.
    pub fn joint_at(&self, at: &str, length_m: f64) -> Result<f64, Fault> {
        let gamma = angle_between(at, self.base_m, self.rod_m, length_m)?;
        Ok(match self.side {
            CylinderSide::ExtendsUp => self.base_rad + gamma - self.rod_rad,
            CylinderSide::ExtendsDown => self.base_rad - gamma - self.rod_rad,
        })
    }

    /// Cylinder length at a joint angle, m. Past the straight lines it would grow again;
    /// the ranges keep off them.
    ///
    /// ```text
    /// L = √((a − b)² + 4ab sin²(γ/2))
    /// ```
    pub fn length_at(&self, joint_rad: f64) -> f64 {
        let gamma = joint_rad + self.rod_rad - self.base_rad;
        let half = (gamma / 2.0).sin();
        ((self.base_m - self.rod_m).powi(2) + 4.0 * self.base_m * self.rod_m * half * half).sqrt()
    }

    /// Moment arm, dL/dj, m per rad, with its sign: positive when extending turns the joint upward.
    pub fn arm_at(&self, joint_rad: f64) -> f64 {
        let gamma = joint_rad + self.rod_rad - self.base_rad;
        self.base_m * self.rod_m * gamma.sin() / self.length_at(joint_rad)
    }
}

/// Range of a joint.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct JointRange {
    /// The joint.
    pub joint: Joint,
    /// Least and largest angle for show, rad.
    pub nominal_rad: [f64; 2],
    /// Least and largest angle with the stroke's tolerance: for every question of safety, rad.
    pub outer_rad: [f64; 2],
    /// The cylinder it follows from, counted from 0; none for a range stated on the sheet.
    pub cylinder_idx: Option<usize>,
}

/// The triangle of a cylinder. For the bucket cylinder the moving link is the idler.
pub(super) fn triangle(
    sheet: &ClaimedMachine,
    cylinder: &ClaimedCylinder,
    at: &str,
) -> Result<CylinderTriangle, Fault> {
    let (carrier, pivot) = carrier(sheet, cylinder.moves, at)?;
    let CylinderPin::On { link, at: base } = cylinder.base else {
        return Err(wrong_pin(at, "base", "a place on a link", "E"));
    };
    if link != carrier {
        return Err(wrong_pin(
            &format!("{at}.base"),
            "base",
            link_word(carrier),
            link_word(link),
        ));
    }
    let rod = match (cylinder.rod, cylinder.moves) {
        (CylinderPin::LinkageE, Joint::Bucket) => [sheet.linkage.idler.value, 0.0],
        (CylinderPin::On { link, at: place }, moves) if link == moving_link(moves) => xz(&place),
        (CylinderPin::On { link, .. }, moves) => {
            return Err(wrong_pin(
                &format!("{at}.rod"),
                "rod",
                link_word(moving_link(moves)),
                link_word(link),
            ));
        }
        (CylinderPin::LinkageE, moves) => {
            return Err(wrong_pin(
                &format!("{at}.rod"),
                "rod",
                link_word(moving_link(moves)),
                "E",
            ));
        }
    };
    let base = [xz(&base)[0] - pivot[0], xz(&base)[1] - pivot[1]];
    Ok(CylinderTriangle {
        base_m: base[0].hypot(base[1]),
        base_rad: base[1].atan2(base[0]),
        rod_m: rod[0].hypot(rod[1]),
        rod_rad: rod[1].atan2(rod[0]),
        side: cylinder.side.unwrap_or(usual_side(cylinder.moves)),
    })
}

/// The range that a cylinder's stroke gives its joint;
/// for the bucket cylinder the bucket's, through the linkage.
pub(super) fn range(
    sheet: &ClaimedMachine,
    linkage: &FourBar<f64>,
    cylinder_idx: usize,
    at: &str,
) -> Result<JointRange, Fault> {
    let cylinder = &sheet.cylinders[cylinder_idx];
    let triangle = triangle(sheet, cylinder, at)?;
    let turned = stroke_range(cylinder, &triangle, cylinder_idx, at)?;
    match cylinder.moves {
        Joint::Bucket => Ok(with_middle_wrapped(JointRange {
            nominal_rad: through_linkage(sheet, linkage, turned.nominal_rad, at)?,
            outer_rad: through_linkage(sheet, linkage, turned.outer_rad, at)?,
            ..turned
        })),
        _ => Ok(turned),
    }
}

/// The range through which a cylinder turns what its rod sits on: its joint, or the idler.
///
/// Extending turns it one way as long as the three pins stay off one line, so the ends of the stroke
/// are the ends of the range; with the tolerance too, or the range would have no ends to speak of.
pub(super) fn stroke_range(
    cylinder: &ClaimedCylinder,
    triangle: &CylinderTriangle,
    cylinder_idx: usize,
    at: &str,
) -> Result<JointRange, Fault> {
    let ends = |extra_m: f64| -> Result<[f64; 2], Fault> {
        let (short_m, long_m) = (
            cylinder.retracted.value - extra_m,
            cylinder.extended.value + extra_m,
        );
        let a = triangle.joint_at(&format!("{at}.retracted"), short_m)?;
        let b = triangle.joint_at(&format!("{at}.extended"), long_m)?;
        Ok([a.min(b), a.max(b)])
    };
    let nominal_rad = ends(0.0)?;
    let outer_rad =
        ends(cylinder.stroke_tolerance_m).map_err(|fault| over_centre(fault, cylinder))?;
    Ok(with_middle_wrapped(JointRange {
        joint: cylinder.moves,
        nominal_rad,
        outer_rad,
        cylinder_idx: Some(cylinder_idx),
    }))
}

/// The same range, turned by whole turns so that its middle lies between −π and π.
fn with_middle_wrapped(range: JointRange) -> JointRange {
    let middle = (range.nominal_rad[0] + range.nominal_rad[1]) / 2.0;
    let turn = wrapped(middle) - middle;
    JointRange {
        nominal_rad: range.nominal_rad.map(|a| a + turn),
        outer_rad: range.outer_rad.map(|a| a + turn),
        ..range
    }
}

fn over_centre(fault: Fault, cylinder: &ClaimedCylinder) -> Fault {
    let tolerance_mm = cylinder.stroke_tolerance_m * 1000.0;
    Fault {
        code: "M065",
        got: format!(
            "within {tolerance_mm:.0} mm, its stroke_tolerance, of all three pins in line"
        ),
        want: "a stroke that stays off that line, tolerance included".to_owned(),
        fix: "measure the pins and the stroke again: over the line the joint could go either way"
            .to_owned(),
        ..fault
    }
}

/// Bucket range from an idler range. The idler must keep turning the bucket one way the whole
/// stroke.
fn through_linkage(
    sheet: &ClaimedMachine,
    linkage: &FourBar<f64>,
    idler: [f64; 2],
    at: &str,
) -> Result<[f64; 2], Fault> {
    const STEPS: u32 = 400;
    let stick_m = sheet.stick.length.value;
    let mut angle = Vec::with_capacity(STEPS as usize + 1);
    for step in 0..=STEPS {
        let alpha = idler[0] + (idler[1] - idler[0]) * f64::from(step) / f64::from(STEPS);
        let pose = linkage
            .ear_from_idler(stick_m, alpha)
            .map_err(|fault| Fault {
                at: at.to_owned(),
                ..fault
            })?;
        if !(0.0 < linkage.ear_per_idler(&pose)) {
            return Err(Fault::new(
                "M062",
                at,
                format!(
                    "the linkage turns back at an idler angle of {:.1}°",
                    alpha.to_degrees()
                ),
                "a bucket that turns one way over the whole stroke",
                "check idler, link and ear lengths, the branch, and the bucket cylinder's stroke: a dead centre lies inside it",
            ));
        }
        let previous = angle.last().copied().unwrap_or(pose.ear_rad);
        angle.push(previous + wrapped(pose.ear_rad - previous));
    }
    Ok([angle[0], angle[STEPS as usize]])
}

/// The link that carries a joint's pin, and that pin in its plane.
fn carrier(sheet: &ClaimedMachine, joint: Joint, at: &str) -> Result<(Link, [f64; 2]), Fault> {
    let foot = match (&sheet.swing_post, &sheet.boom.foot) {
        (Some(post), _) => Some((Link::Post, [post.foot.x.value, post.foot.z.value])),
        (None, Some(foot)) => Some((Link::House, [foot.x.value, foot.z.value])),
        (None, None) => None,
    };
    let found = match (joint, &sheet.boom.kind) {
        (Joint::Boom, _) => foot,
        (Joint::BoomUpper, ClaimedBoomKind::TwoPiece { lower, .. }) => {
            Some((Link::Boom, [lower.value, 0.0]))
        }
        (Joint::Stick, ClaimedBoomKind::Mono { length }) => Some((Link::Boom, [length.value, 0.0])),
        (
            Joint::Stick,
            ClaimedBoomKind::TwoPiece { upper, .. } | ClaimedBoomKind::Offset { upper, .. },
        ) => Some((Link::BoomUpper, [upper.value, 0.0])),
        (Joint::Bucket, _) => {
            let pivot = &sheet.linkage.idler_pivot;
            Some((Link::Stick, [pivot.x.value, pivot.z.value]))
        }
        (
            Joint::BoomUpper
            | Joint::Swing
            | Joint::Post
            | Joint::Offset
            | Joint::Tilt
            | Joint::Rotation,
            _,
        ) => None,
    };
    found.ok_or_else(|| {
        Fault::new(
            "M061",
            at,
            format!("a cylinder that moves {:?}", joint.word()),
            "boom, stick, bucket, or boom-upper on a two-piece boom",
            "give the range of any other joint in a [[range]] entry",
        )
    })
}

fn moving_link(joint: Joint) -> Link {
    match joint {
        Joint::Boom => Link::Boom,
        Joint::BoomUpper => Link::BoomUpper,
        Joint::Stick => Link::Stick,
        Joint::Bucket => Link::Idler,
        Joint::Swing => Link::House,
        Joint::Post => Link::Post,
        Joint::Offset => Link::BoomUpper,
        Joint::Tilt => Link::Tilt,
        Joint::Rotation => Link::Bucket,
    }
}

/// The side where the sheet says none: the boom is pushed up from below;
/// stick and idler are pushed from above and behind.
fn usual_side(joint: Joint) -> CylinderSide {
    match joint {
        Joint::Boom
        | Joint::Swing
        | Joint::Post
        | Joint::Offset
        | Joint::Tilt
        | Joint::Rotation => CylinderSide::ExtendsUp,
        Joint::BoomUpper | Joint::Stick | Joint::Bucket => CylinderSide::ExtendsDown,
    }
}

fn xz(p: &PlanePoint) -> [f64; 2] {
    [p.x.value, p.z.value]
}

fn wrong_pin(at: &str, which: &str, want: &str, got: &str) -> Fault {
    Fault::new(
        "M060",
        at,
        format!("{which} pin on {got}"),
        format!("{which} pin on {want}"),
        "a cylinder spans one joint: its base sits on the link before it, its rod on the link after it",
    )
}

/// A link's word, as on the sheet.
pub fn link_word(link: Link) -> &'static str {
    match link {
        Link::Tracks => "tracks",
        Link::House => "house",
        Link::Post => "post",
        Link::Boom => "boom",
        Link::BoomUpper => "boom-upper",
        Link::Stick => "stick",
        Link::Idler => "idler",
        Link::BucketLink => "bucket-link",
        Link::Ear => "ear",
        Link::Tilt => "tilt",
        Link::Bucket => "bucket",
    }
}

/// The angle between −π and π.
pub fn wrapped(angle_rad: f64) -> f64 {
    let turned = angle_rad.rem_euclid(TAU);
    if PI < turned { turned - TAU } else { turned }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn boom() -> CylinderTriangle {
        CylinderTriangle {
            base_m: 0.57_f64.hypot(0.57),
            base_rad: (-45.0_f64).to_radians(),
            rod_m: 2.45_f64.hypot(0.35),
            rod_rad: 0.35_f64.atan2(2.45),
            side: CylinderSide::ExtendsUp,
        }
    }

    #[test]
    fn length_and_angle_undo_each_other() {
        let up = boom();
        let down = CylinderTriangle {
            side: CylinderSide::ExtendsDown,
            ..up
        };
        for step in 0..=20 {
            let length_m = 1.68 + 0.06 * f64::from(step);
            for triangle in [up, down] {
                let joint = triangle.joint_at("x", length_m).expect("closes");
                assert!((triangle.length_at(joint) - length_m).abs() < 1e-13);
            }
        }
    }

    #[test]
    fn the_arm_is_the_slope_of_the_length() {
        let triangle = boom();
        for joint in [-0.5, 0.1, 0.9] {
            let slope =
                (triangle.length_at(joint + 1e-6) - triangle.length_at(joint - 1e-6)) / 2e-6;
            assert!((triangle.arm_at(joint) - slope).abs() < 1e-8);
        }
    }
}
