//! The solids of the machine, put where a pose puts them; for drawings and models.

use super::Machine;
use super::claim::{ClaimedBody, ClaimedShape, CylinderPin, Joint, Link, PlanePoint};
use super::four_bar::FourBarPose;
use super::front::{Front, ToolChoice};
use super::joints::Joints;
use super::pose::{FrontPose, front_pose};
use crate::frames::{House, Post};
use holdline_geom::fault::Fault;
use holdline_geom::frame::{Direction, Point, Transform};

/// One part in its place.
#[derive(Debug, Clone, PartialEq)]
pub struct PlacedPart {
    /// The part's name on the sheet.
    pub part: String,
    /// The link it moves with.
    pub link: Link,
    /// Its shape, in `House`.
    pub shape: PlacedShape,
}

/// A convex solid in `House`.
#[derive(Debug, Clone, PartialEq)]
pub enum PlacedShape {
    /// All points within `radius_m` of the segment.
    Capsule {
        /// One end.
        from: Point<House>,
        /// Other end.
        to: Point<House>,
        /// Radius, m.
        radius_m: f64,
    },
    /// The convex hull of the points.
    Hull(Vec<Point<House>>),
}

/// Steps into which a round of a sector is cut, each corner set out so far that the arc lies
/// inside.
const ARC_STEPS: u32 = 12;

/// Every part of the machine and the tool, placed.
///
/// - Frame: `House`; tracks are turned back by the swing angle. Units: m.
///
/// # Errors
///
/// `T001` for an unknown tool; `T010`, `T011` when the linkage cannot close there.
pub fn placed_parts(
    machine: &Machine,
    choice: &ToolChoice,
    q: &Joints,
) -> Result<Vec<PlacedPart>, Fault> {
    let front = machine.front(choice)?.values();
    let pose = front_pose(&front, q);
    let linkage = machine.linkage_pose(q.bucket)?;
    let sheet = machine.sheet();
    let mut parts = Vec::new();
    for solid in &sheet.solids {
        let mut place = |shape| {
            parts.push(PlacedPart {
                part: solid.part.clone(),
                link: solid.link,
                shape,
            })
        };
        match &solid.shape {
            ClaimedShape::AlongCylinder {
                moves,
                y_m,
                radius_m,
            } => {
                if let Some((base, rod)) = cylinder_pins(machine, &pose, &front, *moves, &linkage) {
                    for y in y_m {
                        // Sideways is square to the boom plane, which a swing post turns.
                        let aside = pose.house_from_post * Direction::<Post>::metres(0.0, *y, 0.0);
                        let at = |p: Point<House>| p + aside;
                        place(PlacedShape::Capsule {
                            from: at(base),
                            to: at(rod),
                            radius_m: *radius_m,
                        });
                    }
                }
            }
            ClaimedShape::AlongLinkage { member, radius_m } => {
                let in_house = |p: [f64; 2]| pose.house_from_stick * Point::metres(p[0], 0.0, p[1]);
                let e = in_house(linkage.e_m);
                let other = match member {
                    Link::Idler => in_house(machine.linkage().pivot_m),
                    _ => in_house(linkage.d_m),
                };
                place(PlacedShape::Capsule {
                    from: other,
                    to: e,
                    radius_m: *radius_m,
                });
            }
            fixed => {
                let turned = link_pose(&pose, solid.link);
                if let Some(shape) = placed(&turned, fixed) {
                    place(shape);
                }
            }
        }
    }
    parts.extend(tools(machine, choice, &pose)?);
    Ok(parts)
}

/// Where a link's frame is in `House`. Idler and bucket link have no frame of their own:
/// the stick's is given.
pub fn link_pose(pose: &FrontPose, link: Link) -> Transform<House, House> {
    match link {
        Link::Tracks => pose.tracks_from_house.inverse().retagged(),
        Link::House => Transform::identity(),
        Link::Post => pose.house_from_post.retagged(),
        Link::Boom => pose.house_from_boom.retagged(),
        Link::BoomUpper => pose.house_from_boom_upper.retagged(),
        Link::Stick | Link::Idler | Link::BucketLink => pose.house_from_stick.retagged(),
        Link::Ear => pose.house_from_ear.retagged(),
        Link::Tilt => pose.house_from_tilt.retagged(),
        Link::Bucket => pose.house_from_bucket.retagged(),
    }
}

fn placed(turned: &Transform<House, House>, shape: &ClaimedShape) -> Option<PlacedShape> {
    let at = |p: [f64; 3]| *turned * Point::metres(p[0], p[1], p[2]);
    match shape {
        ClaimedShape::Capsule {
            from_m,
            to_m,
            radius_m,
        } => Some(PlacedShape::Capsule {
            from: at(*from_m),
            to: at(*to_m),
            radius_m: *radius_m,
        }),
        ClaimedShape::Box { min_m, max_m } => {
            let corner = |k: usize| {
                [0, 1, 2].map(|axis| {
                    if k >> axis & 1 == 0 {
                        min_m[axis]
                    } else {
                        max_m[axis]
                    }
                })
            };
            Some(PlacedShape::Hull((0..8).map(|k| at(corner(k))).collect()))
        }
        ClaimedShape::Prism {
            outline_m,
            y_m,
            half_width_m,
        } => Some(prism(turned, outline_m, *y_m, *half_width_m)),
        ClaimedShape::Sector {
            radius_m,
            half_angle_rad,
            z_min_m,
            z_max_m,
        } => {
            let step = 2.0 * half_angle_rad / f64::from(ARC_STEPS);
            // Corners so far out that the chord's middle is on the arc.
            let outside_m = radius_m / (step / 2.0).cos();
            let mut points = Vec::new();
            for z in [*z_min_m, *z_max_m] {
                points.push(at([0.0, 0.0, z]));
                for k in 0..=ARC_STEPS {
                    let angle = std::f64::consts::PI - half_angle_rad + step * f64::from(k);
                    points.push(at([outside_m * angle.cos(), outside_m * angle.sin(), z]));
                }
            }
            Some(PlacedShape::Hull(points))
        }
        ClaimedShape::AlongCylinder { .. } | ClaimedShape::AlongLinkage { .. } => None,
    }
}

fn prism(
    turned: &Transform<House, House>,
    outline_m: &[[f64; 2]],
    y_m: f64,
    half_width_m: f64,
) -> PlacedShape {
    let side = |y: f64| {
        outline_m
            .iter()
            .map(move |p| *turned * Point::metres(p[0], y, p[1]))
    };
    PlacedShape::Hull(
        side(y_m - half_width_m)
            .chain(side(y_m + half_width_m))
            .collect(),
    )
}

fn tools(
    machine: &Machine,
    choice: &ToolChoice,
    pose: &FrontPose,
) -> Result<Vec<PlacedPart>, Fault> {
    let sheet = machine.sheet();
    let mut parts = Vec::new();
    let mut body = |part: String, body: &ClaimedBody, turned: Transform<House, House>| {
        if let (true, Some(half_m)) = (3 <= body.outline_m.len(), body.half_width_m) {
            parts.push(PlacedPart {
                part,
                link: Link::Ear,
                shape: prism(&turned, &body.outline_m, 0.0, half_m),
            });
        }
    };
    let coupler = choice.coupler.as_ref();
    if let Some(coupler) = sheet.couplers.iter().find(|c| Some(&c.id) == coupler) {
        let ear = link_pose(pose, Link::Ear);
        body(format!("coupler {}", coupler.id), &coupler.body, ear);
    }
    let tilt = choice.tilt.as_ref();
    if let Some(tilt) = sheet.tilts.iter().find(|t| Some(&t.id) == tilt) {
        let front = machine.front(choice)?.values();
        let pins = pose.house_from_ear * super::pose::ear_from_tool_pins(&front);
        body(format!("tilt {}", tilt.id), &tilt.body, pins.retagged());
    }
    let bucket = machine.bucket(&choice.bucket)?;
    parts.push(PlacedPart {
        part: format!("bucket {}", bucket.id),
        link: Link::Bucket,
        shape: prism(
            &link_pose(pose, Link::Bucket),
            &bucket.outline_m,
            0.0,
            bucket.width.value / 2.0,
        ),
    });
    Ok(parts)
}

/// Base and rod pin of the cylinder that moves a joint, in the boom plane of `House`.
fn cylinder_pins(
    machine: &Machine,
    pose: &FrontPose,
    front: &Front<f64>,
    moves: Joint,
    linkage: &FourBarPose<f64>,
) -> Option<(Point<House>, Point<House>)> {
    let cylinders = &machine.sheet().cylinders;
    let cylinder = cylinders.iter().find(|c| c.moves == moves)?;
    let in_stick = |at: [f64; 2]| pose.house_from_stick * Point::metres(at[0], 0.0, at[1]);
    let on = |link: Link, p: &PlanePoint| match link {
        // House and post have their origins beside the boom plane: lay the pin into the plane.
        Link::House | Link::Post => {
            link_pose(pose, link) * Point::metres(p.x.value, front.foot_m[1], p.z.value)
        }
        // Places on the idler count from F, x towards E.
        Link::Idler => {
            let (sin, cos) = linkage.idler_rad.sin_cos();
            let [f_x, f_z] = machine.linkage().pivot_m;
            in_stick([
                f_x + cos * p.x.value - sin * p.z.value,
                f_z + sin * p.x.value + cos * p.z.value,
            ])
        }
        _ => link_pose(pose, link) * Point::metres(p.x.value, 0.0, p.z.value),
    };
    let place = |pin: &CylinderPin| match pin {
        CylinderPin::On { link, at } => on(*link, at),
        CylinderPin::LinkageE => in_stick(linkage.e_m),
    };
    Some((place(&cylinder.base), place(&cylinder.rod)))
}
