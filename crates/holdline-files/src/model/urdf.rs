//! The machine as a robot description (URDF), so that general robotics libraries can load it.

use std::fmt::Write as _;

use holdline::machine::Machine;
use holdline::machine::claim::{ClaimedShape, Joint, Link};
use holdline::machine::cylinder::link_word;
use holdline::machine::front::{Boom, Front, ToolChoice};
use holdline::machine::jacobian::joints_fitted;
use holdline::machine::joints::Joints;
use holdline_geom::fault::Fault;

use super::{ModelLink, ModelPart, Solid, model_links};
use crate::sources;

/// Writes the machine with this tool as an open chain.
///
/// Links and joints have the words of the sheet: `tracks` is the root, joint `swing` turns `house`, and so on to
/// `bucket`; every tooth point is a link `tooth NAME` fixed to it. Joint values are holdline's joint angles, rad;
/// the bucket joint is ε, between stick and ear.
///
/// - A description of this kind holds no closed loop: linkage and cylinders go along as visuals in the pose
///   with every joint in the middle of its range, and do not move.
/// - Limits are the nominal ranges; a joint without a known range is `continuous`, which says unknown, not free.
/// - The offset links of an offset boom are a joint and a second one that mimics it backward, so that the upper
///   boom shifts and does not turn.
/// - Masses are left out: the sheet states no moments of inertia.
/// - Units: m, rad. Source: [`sources::URDF`].
///
/// # Errors
///
/// `T001` for an unknown tool; `T010`, `T011` when the linkage cannot close in the middle of its range.
///
/// # Caution
///
/// Nominal ranges are for show. Questions of safety need the outer ones, and the uncertainty of every length.
pub fn write_urdf(machine: &Machine, choice: &ToolChoice) -> Result<String, Fault> {
    let _ = sources::URDF;
    let front = machine.front(choice)?.values();
    let links = model_links(machine, choice, &middle(machine, &front))?;
    let mut out = String::from("<?xml version=\"1.0\" encoding=\"utf-8\"?>\n");
    let _ = writeln!(
        out,
        "<!-- Made by holdline from a machine sheet. Metres and radians; x forward, y left, z up."
    );
    let _ = writeln!(
        out,
        "     Limits are nominal, for show. Effort and velocity are asked for by the format: 0 stands for not stated. -->"
    );
    let _ = writeln!(out, "<robot name=\"{}\">", escaped(&machine.sheet().id));
    let mut chain = Chain { machine, out };
    chain.link(Link::Tracks, &links);
    chain.joint(Joint::Swing, "tracks", "house", &Origin::default(), Z_UP);
    chain.link(Link::House, &links);
    chain.boom(&front, &links);
    chain.tool(&front, &links);
    for tooth in machine.bucket(&choice.bucket)?.teeth.iter() {
        let name = format!("tooth {}", tooth.name);
        let at = [tooth.at.x.value, tooth.at.y.value, tooth.at.z.value];
        chain.fixed(&format!("to {name}"), "bucket", &name, &Origin::at(at));
        chain.empty_link(&name);
    }
    let mut out = chain.out;
    out.push_str("</robot>\n");
    Ok(out)
}

/// Every joint in the middle of its nominal range; zero where none is known.
fn middle(machine: &Machine, front: &Front<f64>) -> Joints {
    joints_fitted(front)
        .into_iter()
        .fold(Joints::zero(), |q, joint| {
            let middle = machine
                .range(joint)
                .map_or(0.0, |r| (r.nominal_rad[0] + r.nominal_rad[1]) / 2.0);
            q.with(joint, middle)
        })
}

/// Upward turns in the boom plane are right-handed about −y.
const UPWARD: [f64; 3] = [0.0, -1.0, 0.0];
const Z_UP: [f64; 3] = [0.0, 0.0, 1.0];

/// Place of a joint on the link before it.
#[derive(Debug, Clone, Copy, Default)]
struct Origin {
    at_m: [f64; 3],
    /// Turn in the boom plane, upward positive, rad.
    up_rad: f64,
}

impl Origin {
    fn at(at_m: [f64; 3]) -> Origin {
        Origin { at_m, up_rad: 0.0 }
    }

    fn element(&self) -> String {
        let [x, y, z] = self.at_m;
        if self.up_rad == 0.0 {
            return format!("<origin xyz=\"{x} {y} {z}\"/>");
        }
        format!("<origin xyz=\"{x} {y} {z}\" rpy=\"0 {} 0\"/>", -self.up_rad)
    }
}

struct Chain<'a> {
    machine: &'a Machine,
    out: String,
}

impl Chain<'_> {
    fn boom(&mut self, front: &Front<f64>, links: &[ModelLink]) {
        let mut before = "house";
        if let Some(at_m) = front.post_m {
            self.joint(Joint::Post, before, "post", &Origin::at(at_m), Z_UP);
            self.link(Link::Post, links);
            before = "post";
        }
        self.joint(
            Joint::Boom,
            before,
            "boom",
            &Origin::at(front.foot_m),
            UPWARD,
        );
        self.link(Link::Boom, links);
        let (before, to_b_m) = match front.boom {
            Boom::Mono { length_m } => ("boom", length_m),
            Boom::TwoPiece { lower_m, upper_m } => {
                let middle = Origin::at([lower_m, 0.0, 0.0]);
                self.joint(Joint::BoomUpper, "boom", "boom-upper", &middle, UPWARD);
                self.link(Link::BoomUpper, links);
                ("boom-upper", upper_m)
            }
            Boom::Offset {
                lower_m,
                link_m,
                upper_m,
            } => {
                let near = Origin::at([lower_m, 0.0, 0.0]);
                self.joint(Joint::Offset, "boom", "offset links", &near, Z_UP);
                self.empty_link("offset links");
                self.mimic_back(Joint::Offset, "offset links", "boom-upper", link_m);
                self.link(Link::BoomUpper, links);
                ("boom-upper", upper_m)
            }
        };
        self.joint(
            Joint::Stick,
            before,
            "stick",
            &Origin::at([to_b_m, 0.0, 0.0]),
            UPWARD,
        );
        self.link(Link::Stick, links);
        self.joint(
            Joint::Bucket,
            "stick",
            "ear",
            &Origin::at([front.stick_m, 0.0, 0.0]),
            UPWARD,
        );
        self.link(Link::Ear, links);
    }

    fn tool(&mut self, front: &Front<f64>, links: &[ModelLink]) {
        let pins = front.coupler.map_or(Origin::default(), |c| Origin {
            at_m: [c.front_pin_m[0], 0.0, c.front_pin_m[1]],
            up_rad: c.rotation_rad,
        });
        let Some(tilt) = front.tilt else {
            self.fixed("coupler", "ear", "bucket", &pins);
            self.link(Link::Bucket, links);
            return;
        };
        self.fixed("coupler", "ear", "pins", &pins);
        self.empty_link("pins");
        let axis = |angle: f64| [angle.cos(), 0.0, angle.sin()];
        match tilt.rotation {
            None => {
                self.joint(
                    Joint::Tilt,
                    "pins",
                    "tilt",
                    &Origin::at(tilt.axis_m),
                    axis(tilt.axis_rad),
                );
            }
            Some((at_m, axis_rad)) => {
                let first = Origin::at(tilt.axis_m);
                self.joint(
                    Joint::Tilt,
                    "pins",
                    "tilt axis",
                    &first,
                    axis(tilt.axis_rad),
                );
                self.empty_link("tilt axis");
                self.joint(
                    Joint::Rotation,
                    "tilt axis",
                    "tilt",
                    &Origin::at(at_m),
                    axis(axis_rad),
                );
            }
        }
        self.link(Link::Tilt, links);
        let hung = Origin {
            at_m: tilt.front_pin_m,
            up_rad: tilt.bucket_rad,
        };
        self.fixed("bucket on tilt", "tilt", "bucket", &hung);
        self.link(Link::Bucket, links);
    }

    fn joint(&mut self, joint: Joint, parent: &str, child: &str, origin: &Origin, axis: [f64; 3]) {
        let [x, y, z] = axis;
        let name = joint.word();
        let range = self.machine.range(joint).map(|r| r.nominal_rad);
        let kind = if range.is_some() {
            "revolute"
        } else {
            "continuous"
        };
        let _ = writeln!(self.out, "  <joint name=\"{name}\" type=\"{kind}\">");
        let _ = writeln!(
            self.out,
            "    <parent link=\"{parent}\"/><child link=\"{child}\"/>"
        );
        let _ = writeln!(
            self.out,
            "    {}<axis xyz=\"{x} {y} {z}\"/>",
            origin.element()
        );
        if let Some([min, max]) = range {
            let _ = writeln!(
                self.out,
                "    <limit lower=\"{min}\" upper=\"{max}\" effort=\"0\" velocity=\"0\"/>"
            );
        }
        let _ = writeln!(self.out, "  </joint>");
    }

    /// A joint at the far end of the offset links that turns back as far as they turned.
    fn mimic_back(&mut self, joint: Joint, parent: &str, child: &str, link_m: f64) {
        let word = joint.word();
        let _ = writeln!(
            self.out,
            "  <joint name=\"{word} back\" type=\"continuous\">"
        );
        let _ = writeln!(
            self.out,
            "    <parent link=\"{parent}\"/><child link=\"{child}\"/>"
        );
        let _ = writeln!(
            self.out,
            "    <origin xyz=\"{link_m} 0 0\"/><axis xyz=\"0 0 1\"/>"
        );
        let _ = writeln!(
            self.out,
            "    <mimic joint=\"{word}\" multiplier=\"-1\" offset=\"0\"/>"
        );
        let _ = writeln!(self.out, "  </joint>");
    }

    fn fixed(&mut self, name: &str, parent: &str, child: &str, origin: &Origin) {
        let (name, child) = (escaped(name), escaped(child));
        let _ = writeln!(self.out, "  <joint name=\"{name}\" type=\"fixed\">");
        let _ = writeln!(
            self.out,
            "    <parent link=\"{parent}\"/><child link=\"{child}\"/>"
        );
        let _ = writeln!(self.out, "    {}", origin.element());
        let _ = writeln!(self.out, "  </joint>");
    }

    fn empty_link(&mut self, name: &str) {
        let _ = writeln!(self.out, "  <link name=\"{}\"/>", escaped(name));
    }

    /// A link with its solids, and with the members that start on it, as they lie in the middle of all ranges.
    fn link(&mut self, link: Link, links: &[ModelLink]) {
        let name = link_word(link);
        let Some(model) = links.iter().find(|l| l.name == name) else {
            return;
        };
        let _ = writeln!(self.out, "  <link name=\"{name}\">");
        for part in &model.parts {
            visual(&mut self.out, part);
        }
        let moving = self
            .machine
            .sheet()
            .solids
            .iter()
            .filter(|s| s.link == link);
        let moving = moving.filter(|s| {
            matches!(
                s.shape,
                ClaimedShape::AlongCylinder { .. } | ClaimedShape::AlongLinkage { .. }
            )
        });
        for solid in moving {
            for member in links.iter().filter(|l| is_of(&l.name, &solid.part)) {
                let placed = model.tracks_from_link.inverse()
                    * member.tracks_from_link.retagged::<_, Member>();
                for part in &member.parts {
                    let Solid::Capsule {
                        from_m,
                        to_m,
                        radius_m,
                    } = part.solid
                    else {
                        continue;
                    };
                    let at = |p: [f64; 3]| {
                        let p = placed
                            * holdline_geom::frame::Point::<Member>::metres(p[0], p[1], p[2]);
                        [p.x(), p.y(), p.z()]
                    };
                    let solid = Solid::Capsule {
                        from_m: at(from_m),
                        to_m: at(to_m),
                        radius_m,
                    };
                    visual(
                        &mut self.out,
                        &ModelPart {
                            name: part.name.clone(),
                            solid,
                        },
                    );
                }
            }
        }
        let _ = writeln!(self.out, "  </link>");
    }
}

/// The frame of a member that moves by itself.
#[derive(Debug)]
enum Member {}

/// A member has the name of its part, with a number or a word behind it.
fn is_of(member: &str, part: &str) -> bool {
    member.strip_prefix(part).is_some_and(|rest| {
        let rest = rest.trim_start_matches(|c: char| c == ' ' || c.is_ascii_digit());
        matches!(rest, "" | ", barrel" | ", rod")
    })
}

/// Solids as boxes, cylinders and spheres: capsules as they are, others by the box around them.
fn visual(out: &mut String, part: &ModelPart) {
    let mut shape = |at: [f64; 3], rpy: [f64; 3], geometry: String| {
        let _ = writeln!(
            out,
            "    <visual name=\"{}\"><origin xyz=\"{} {} {}\" rpy=\"{} {} {}\"/><geometry>{geometry}</geometry></visual>",
            escaped(&part.name),
            at[0],
            at[1],
            at[2],
            rpy[0],
            rpy[1],
            rpy[2]
        );
    };
    match &part.solid {
        Solid::Capsule {
            from_m,
            to_m,
            radius_m,
        } => {
            let axis: [f64; 3] = std::array::from_fn(|k| to_m[k] - from_m[k]);
            let middle = std::array::from_fn(|k| (to_m[k] + from_m[k]) / 2.0);
            let flat = axis[0].hypot(axis[1]);
            let long = flat.hypot(axis[2]);
            // A cylinder stands along z: lean it by pitch, then turn it by yaw.
            let rpy = [0.0, flat.atan2(axis[2]), axis[1].atan2(axis[0])];
            shape(
                middle,
                rpy,
                format!("<cylinder radius=\"{radius_m}\" length=\"{long}\"/>"),
            );
            for end in [from_m, to_m] {
                shape(*end, [0.0; 3], format!("<sphere radius=\"{radius_m}\"/>"));
            }
        }
        Solid::Prism { outline_m, y_m } => {
            let ([x0, x1], [z0, z1]) = (span(outline_m, 0), span(outline_m, 1));
            let middle = [(x0 + x1) / 2.0, (y_m[0] + y_m[1]) / 2.0, (z0 + z1) / 2.0];
            let size = format!("{} {} {}", x1 - x0, y_m[1] - y_m[0], z1 - z0);
            shape(middle, [0.0; 3], format!("<box size=\"{size}\"/>"));
        }
        Solid::Slab { outline_m, z_m } => {
            let ([x0, x1], [y0, y1]) = (span(outline_m, 0), span(outline_m, 1));
            let middle = [(x0 + x1) / 2.0, (y0 + y1) / 2.0, (z_m[0] + z_m[1]) / 2.0];
            let size = format!("{} {} {}", x1 - x0, y1 - y0, z_m[1] - z_m[0]);
            shape(middle, [0.0; 3], format!("<box size=\"{size}\"/>"));
        }
    }
}

fn span(outline_m: &[[f64; 2]], axis: usize) -> [f64; 2] {
    let values = || outline_m.iter().map(|p| p[axis]);
    [
        values().fold(f64::INFINITY, f64::min),
        values().fold(f64::NEG_INFINITY, f64::max),
    ]
}

/// Text as it may stand in an attribute.
fn escaped(text: &str) -> String {
    text.replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
        .replace('"', "&quot;")
}
