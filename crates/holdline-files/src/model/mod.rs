//! The machine as open formats for other programs: a robot description (URDF) and a model in space (glTF, binary).
//!
//! Both are made from the links here: each a frame, and the solids of the sheet in that frame.
//! Solids are wider than the steel on purpose; a picture of them proves nothing.

mod glb;
mod mesh;
mod urdf;

use holdline::frames::{House, Post, Tracks};
use holdline::machine::Machine;
use holdline::machine::claim::{ClaimedShape, Link};
use holdline::machine::cylinder::link_word;
use holdline::machine::front::{Front, ToolChoice};
use holdline::machine::joints::Joints;
use holdline::machine::outlines::{PlacedPart, PlacedShape, link_pose, placed_parts};
use holdline::machine::pose::{FrontPose, ear_from_tool_pins, front_pose};
use holdline_geom::fault::Fault;
use holdline_geom::frame::{Direction, Point, Transform};

pub use self::glb::write_glb;
pub use self::urdf::write_urdf;

/// A place in the frame of the tracks.
pub type InTracks = Transform<Tracks, House>;

/// A link of the machine as other programs see it: a name, its place, and what it is made of.
#[derive(Debug, Clone)]
pub struct ModelLink {
    /// Its name: a word of the sheet, or for a member that moves by itself the part's name.
    pub name: String,
    /// Its frame, seen in `Tracks`.
    pub tracks_from_link: InTracks,
    /// What it is made of, in its own frame.
    pub parts: Vec<ModelPart>,
}

/// A solid of a link.
#[derive(Debug, Clone, PartialEq)]
pub struct ModelPart {
    /// Its name.
    pub name: String,
    /// Its shape.
    pub solid: Solid,
}

/// A convex solid, metres, in the frame of its link.
#[derive(Debug, Clone, PartialEq)]
pub enum Solid {
    /// All points within `radius_m` of the segment.
    Capsule {
        /// One end.
        from_m: [f64; 3],
        /// Other end.
        to_m: [f64; 3],
        /// Radius.
        radius_m: f64,
    },
    /// A plane outline (x, z), spread from `y_m[0]` to `y_m[1]`.
    Prism {
        /// Corners; their convex hull is meant.
        outline_m: Vec<[f64; 2]>,
        /// Least and largest y.
        y_m: [f64; 2],
    },
    /// An outline seen from above (x, y), spread from `z_m[0]` to `z_m[1]`.
    Slab {
        /// Corners; their convex hull is meant.
        outline_m: Vec<[f64; 2]>,
        /// Least and largest z.
        z_m: [f64; 2],
    },
}

/// Links with a frame of their own, from the ground outward.
const LINKS: [Link; 9] = [
    Link::Tracks,
    Link::House,
    Link::Post,
    Link::Boom,
    Link::BoomUpper,
    Link::Stick,
    Link::Ear,
    Link::Tilt,
    Link::Bucket,
];

/// Every link of the machine with this tool, in one pose.
///
/// Nodes of the model have these names, so that a viewer can move them to any other pose.
/// Members of the bucket linkage and the halves of cylinders are links of their own.
///
/// - Frame: each part in its link's frame, each link in `Tracks`. Units: m.
///
/// # Errors
///
/// `T001` for an unknown tool; `T010`, `T011` when the linkage cannot close there.
pub fn model_links(
    machine: &Machine,
    choice: &ToolChoice,
    q: &Joints,
) -> Result<Vec<ModelLink>, Fault> {
    let front = machine.front(choice)?.values();
    let pose = front_pose(&front, q);
    let mut links: Vec<ModelLink> = LINKS
        .iter()
        .filter(|link| is_fitted(&front, **link))
        .map(|link| ModelLink {
            name: link_word(*link).to_owned(),
            tracks_from_link: pose.tracks_from_house * link_pose(&pose, *link),
            parts: parts_on(machine, choice, &front, *link),
        })
        .collect();
    let placed = placed_parts(machine, choice, q)?;
    links.extend(members(machine, &pose, &placed));
    Ok(links)
}

fn is_fitted(front: &Front<f64>, link: Link) -> bool {
    use holdline::machine::front::Boom;
    match link {
        Link::Post => front.post_m.is_some(),
        Link::BoomUpper => !matches!(front.boom, Boom::Mono { .. }),
        Link::Tilt => front.tilt.is_some(),
        _ => true,
    }
}

/// The solids that keep their shape in the frame of a link.
fn parts_on(
    machine: &Machine,
    choice: &ToolChoice,
    front: &Front<f64>,
    link: Link,
) -> Vec<ModelPart> {
    let mono = !is_fitted(front, Link::BoomUpper);
    let on_link = |l: Link| l == link || (mono && link == Link::Boom && l == Link::BoomUpper);
    let sheet = machine.sheet();
    let mut parts: Vec<ModelPart> = sheet
        .solids
        .iter()
        .filter(|s| on_link(s.link))
        .filter_map(|s| {
            Some(ModelPart {
                name: s.part.clone(),
                solid: fixed_solid(&s.shape)?,
            })
        })
        .collect();
    let mut body = |name: String, outline_m: &[[f64; 2]], half_m: Option<f64>| {
        if let (true, Some(half_m)) = (3 <= outline_m.len(), half_m) {
            let solid = Solid::Prism {
                outline_m: outline_m.to_vec(),
                y_m: [-half_m, half_m],
            };
            parts.push(ModelPart { name, solid });
        }
    };
    match link {
        Link::Ear => {
            let id = choice.coupler.as_ref();
            if let Some(c) = sheet.couplers.iter().find(|c| Some(&c.id) == id) {
                body(
                    format!("coupler {}", c.id),
                    &c.body.outline_m,
                    c.body.half_width_m,
                );
            }
            let id = choice.tilt.as_ref();
            if let Some(t) = sheet.tilts.iter().find(|t| Some(&t.id) == id) {
                let pins = ear_from_tool_pins(front);
                let outline: Vec<[f64; 2]> = t
                    .body
                    .outline_m
                    .iter()
                    .map(|p| in_plane(&(pins * at([p[0], 0.0, p[1]]))))
                    .collect();
                body(format!("tilt {}", t.id), &outline, t.body.half_width_m);
            }
        }
        Link::Bucket => {
            if let Some(b) = sheet.buckets.iter().find(|b| b.id == choice.bucket) {
                body(
                    format!("bucket {}", b.id),
                    &b.outline_m,
                    Some(b.width.value / 2.0),
                );
            }
        }
        _ => {}
    }
    parts
}

fn at<F>(p: [f64; 3]) -> Point<F> {
    Point::metres(p[0], p[1], p[2])
}

fn in_plane<F>(p: &Point<F>) -> [f64; 2] {
    [p.x(), p.z()]
}

/// The shape of a solid that keeps it; none for those that follow a cylinder or the linkage.
fn fixed_solid(shape: &ClaimedShape) -> Option<Solid> {
    match shape {
        ClaimedShape::Capsule {
            from_m,
            to_m,
            radius_m,
        } => Some(Solid::Capsule {
            from_m: *from_m,
            to_m: *to_m,
            radius_m: *radius_m,
        }),
        ClaimedShape::Box { min_m, max_m } => Some(Solid::Prism {
            outline_m: vec![
                [min_m[0], min_m[2]],
                [max_m[0], min_m[2]],
                [max_m[0], max_m[2]],
                [min_m[0], max_m[2]],
            ],
            y_m: [min_m[1], max_m[1]],
        }),
        ClaimedShape::Prism {
            outline_m,
            y_m,
            half_width_m,
        } => Some(Solid::Prism {
            outline_m: outline_m.clone(),
            y_m: [y_m - half_width_m, y_m + half_width_m],
        }),
        ClaimedShape::Sector {
            radius_m,
            half_angle_rad,
            z_min_m,
            z_max_m,
        } => Some(Solid::Slab {
            outline_m: sector(*radius_m, *half_angle_rad),
            z_m: [*z_min_m, *z_max_m],
        }),
        ClaimedShape::AlongCylinder { .. } | ClaimedShape::AlongLinkage { .. } => None,
    }
}

/// The outline of a sector about −x, its corners so far out that the arc lies inside.
fn sector(radius_m: f64, half_angle_rad: f64) -> Vec<[f64; 2]> {
    const STEPS: u32 = 16;
    let step = 2.0 * half_angle_rad / f64::from(STEPS);
    let out_m = radius_m / (step / 2.0).cos();
    let arc = (0..=STEPS).map(|k| {
        let angle = std::f64::consts::PI - half_angle_rad + step * f64::from(k);
        [out_m * angle.cos(), out_m * angle.sin()]
    });
    std::iter::once([0.0, 0.0]).chain(arc).collect()
}

/// Linkage members, and the two halves of each cylinder, in the order of the sheet.
fn members(machine: &Machine, pose: &FrontPose, placed: &[PlacedPart]) -> Vec<ModelLink> {
    let left = pose.house_from_post * Direction::<Post>::metres(0.0, 1.0, 0.0);
    let mut links = Vec::new();
    let mut placed = placed.iter();
    for solid in &machine.sheet().solids {
        let n = match &solid.shape {
            ClaimedShape::AlongCylinder { y_m, .. } => y_m.len(),
            _ => 1,
        };
        let of_solid = placed
            .by_ref()
            .take(if is_moving(&solid.shape) { n } else { 1 });
        for (idx, part) in of_solid.enumerate() {
            let PlacedShape::Capsule { from, to, radius_m } = &part.shape else {
                continue;
            };
            let name = if 1 < n {
                format!("{} {}", solid.part, idx + 1)
            } else {
                solid.part.clone()
            };
            match &solid.shape {
                ClaimedShape::AlongLinkage { .. } => {
                    let length_m = (*to - *from).length_m();
                    let frame = pose.tracks_from_house * along(from, to, &left);
                    links.push(rod(name, frame, length_m, *radius_m));
                }
                ClaimedShape::AlongCylinder { moves, .. } => {
                    let cylinders = &machine.sheet().cylinders;
                    let Some(c) = cylinders.iter().find(|c| c.moves == *moves) else {
                        continue;
                    };
                    let barrel_m = c.retracted.value * 0.9;
                    let rod_m = (c.extended.value - barrel_m).max(0.1);
                    let barrel = pose.tracks_from_house * along(from, to, &left);
                    let piston = pose.tracks_from_house * along(to, from, &left);
                    links.push(rod(format!("{name}, barrel"), barrel, barrel_m, *radius_m));
                    links.push(rod(format!("{name}, rod"), piston, rod_m, radius_m * 0.6));
                }
                _ => {}
            }
        }
    }
    links
}

fn is_moving(shape: &ClaimedShape) -> bool {
    matches!(
        shape,
        ClaimedShape::AlongCylinder { .. } | ClaimedShape::AlongLinkage { .. }
    )
}

/// A frame at `from` with x towards `to` and y to the left of the boom plane.
fn along(
    from: &Point<House>,
    to: &Point<House>,
    left: &Direction<House>,
) -> Transform<House, House> {
    let x = (*to - *from).vector().normalize();
    let y = left.vector();
    let z = x.cross(&y);
    let mut turn = Transform::<House, House>::identity().rotation();
    turn.set_column(0, &x);
    turn.set_column(1, &y);
    turn.set_column(2, &z);
    Transform::new(turn, from.vector())
}

fn rod(name: String, tracks_from_link: InTracks, length_m: f64, radius_m: f64) -> ModelLink {
    let solid = Solid::Capsule {
        from_m: [0.0; 3],
        to_m: [length_m, 0.0, 0.0],
        radius_m,
    };
    ModelLink {
        name: name.clone(),
        tracks_from_link,
        parts: vec![ModelPart { name, solid }],
    }
}

#[cfg(test)]
mod tests;
