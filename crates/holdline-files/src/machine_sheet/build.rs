//! From a sheet that was read to the claim that the core checks. `None` means a fault was noted before.

use holdline::machine::claim::{
    ClaimedAntenna, ClaimedBody, ClaimedBoom, ClaimedBoomKind, ClaimedBucket, ClaimedCamera,
    ClaimedCoupler, ClaimedCylinder, ClaimedHouse, ClaimedLinkage, ClaimedMachine, ClaimedMass,
    ClaimedRange, ClaimedRotation, ClaimedSensor, ClaimedShape, ClaimedSolid, ClaimedStick,
    ClaimedSwingPost, ClaimedTilt, ClaimedTooth, ClaimedTracks, CylinderPin, MeasuredBy,
    PlanePoint, SpacePoint,
};

use super::words::{
    BOOM_KINDS, BoomWord, CYLINDER_SIDES, JOINTS, LINKAGE_MEMBERS, LINKS, SENSOR_KINDS,
    branch_of_sign,
};
use crate::document::node::{Node, Value};

/// The claim of a whole sheet.
pub fn machine(n: &Node) -> Option<ClaimedMachine> {
    let head = n.inside("machine")?;
    Some(ClaimedMachine {
        id: head.text("id")?,
        note: head.text("note").unwrap_or_default(),
        measured: MeasuredBy {
            who: head.text("measured_by").unwrap_or_default(),
            on: head.text("measured_on").unwrap_or_default(),
            with: head.text("measured_with").unwrap_or_default(),
        },
        mass_kg: head.measured("mass"),
        house: house(n.inside("house")?)?,
        tracks: tracks(n.inside("tracks")?)?,
        swing_post: match n.inside("swing_post") {
            Some(post) => Some(swing_post(post)?),
            None => None,
        },
        boom: boom(n.inside("boom")?)?,
        stick: ClaimedStick {
            length: n.inside("stick")?.measured("length")?,
        },
        linkage: linkage(n.inside("linkage")?)?,
        cylinders: each(n.list("cylinder"), cylinder)?,
        ranges: each(n.list("range"), range)?,
        couplers: each(n.list("coupler"), coupler)?,
        tilts: each(n.list("tilt"), tilt)?,
        buckets: each(n.list("bucket"), bucket)?,
        solids: each(n.list("solid"), solid)?,
        masses: each(n.list("mass"), mass)?,
        sensors: each(n.list("sensor"), sensor)?,
        antennas: each(n.list("antenna"), antenna)?,
        heading_offset: match n.inside("heading") {
            Some(heading) => Some(heading.measured("offset")?),
            None => None,
        },
        cameras: each(n.list("camera"), camera)?,
    })
}

fn each<T>(nodes: &[Node], one: impl Fn(&Node) -> Option<T>) -> Option<Vec<T>> {
    nodes.iter().map(one).collect()
}

fn house(n: &Node) -> Option<ClaimedHouse> {
    Some(ClaimedHouse {
        tail_radius: n.measured("tail_radius")?,
        tail_half_angle_rad: n.number("tail_half_angle")?,
        eye: n.space("eye"),
    })
}

fn tracks(n: &Node) -> Option<ClaimedTracks> {
    Some(ClaimedTracks {
        length: n.measured("length")?,
        gauge: n.measured("gauge")?,
        shoe_width: n.measured("shoe_width")?,
        height: n.measured("height")?,
    })
}

fn swing_post(n: &Node) -> Option<ClaimedSwingPost> {
    Some(ClaimedSwingPost {
        at: n.space("at")?,
        foot: n.space("foot")?,
    })
}

fn boom(n: &Node) -> Option<ClaimedBoom> {
    let kind = match n.word("kind", &BOOM_KINDS)? {
        BoomWord::Mono => ClaimedBoomKind::Mono {
            length: n.measured("length")?,
        },
        BoomWord::TwoPiece => ClaimedBoomKind::TwoPiece {
            lower: n.measured("lower")?,
            upper: n.measured("upper")?,
        },
        BoomWord::Offset => ClaimedBoomKind::Offset {
            lower: n.measured("lower")?,
            link: n.measured("link")?,
            upper: n.measured("upper")?,
        },
    };
    Some(ClaimedBoom {
        foot: n.space("foot"),
        kind,
    })
}

fn linkage(n: &Node) -> Option<ClaimedLinkage> {
    Some(ClaimedLinkage {
        idler_pivot: n.plane("idler_pivot")?,
        idler: n.measured("idler")?,
        link: n.measured("link")?,
        ear: n.measured("ear")?,
        branch: branch_of_sign(n.number("branch")?),
    })
}

fn cylinder(n: &Node) -> Option<ClaimedCylinder> {
    Some(ClaimedCylinder {
        moves: n.word("moves", &JOINTS)?,
        base: pin(n.get("base")?)?,
        rod: pin(n.get("rod")?)?,
        side: n.word("side", &CYLINDER_SIDES),
        retracted: n.measured("retracted")?,
        extended: n.measured("extended")?,
        stroke_tolerance_m: n.number("stroke_tolerance")?,
        count: n.number("count").map_or(1, |c| c as u32),
        bore_m: n.number("bore"),
        rod_diameter_m: n.number("rod_diameter"),
        mass_each_kg: n.number("mass_each"),
    })
}

fn pin(value: &Value) -> Option<CylinderPin> {
    match value {
        Value::Inside(n) => {
            let [x, z] = n.point_with_sd()?;
            Some(CylinderPin::On {
                link: n.word("link", &LINKS)?,
                at: PlanePoint { x, z },
            })
        }
        _ => Some(CylinderPin::LinkageE),
    }
}

fn range(n: &Node) -> Option<ClaimedRange> {
    Some(ClaimedRange {
        joint: n.word("joint", &JOINTS)?,
        min_rad: n.number("min")?,
        max_rad: n.number("max")?,
        tolerance_rad: n.number("tolerance")?,
    })
}

fn body(n: &Node) -> ClaimedBody {
    ClaimedBody {
        outline_m: n.plane_line("outline"),
        half_width_m: n.number("half_width"),
        mass: n.measured("mass"),
        centre_m: n.numbers_n("centre"),
    }
}

fn coupler(n: &Node) -> Option<ClaimedCoupler> {
    Some(ClaimedCoupler {
        id: n.text("id")?,
        front_pin: n.plane("front_pin")?,
        rotation: n.measured("rotation")?,
        body: body(n),
    })
}

fn tilt(n: &Node) -> Option<ClaimedTilt> {
    Some(ClaimedTilt {
        id: n.text("id")?,
        axis_at: n.space("axis_at")?,
        axis_angle: n.measured("axis_angle")?,
        rotation: match n.inside("rotation") {
            Some(r) => Some(ClaimedRotation {
                axis_at: r.space("axis_at")?,
                axis_angle: r.measured("axis_angle")?,
            }),
            None => None,
        },
        front_pin: n.space("front_pin")?,
        bucket_rotation: n.measured("bucket_rotation")?,
        body: body(n),
    })
}

fn bucket(n: &Node) -> Option<ClaimedBucket> {
    Some(ClaimedBucket {
        id: n.text("id")?,
        note: n.text("note").unwrap_or_default(),
        width: n.measured("width")?,
        pin_spacing: n.measured("pin_spacing")?,
        teeth: each(n.list("tooth"), |t| {
            let [x, y, z] = t.point_with_sd()?;
            Some(ClaimedTooth {
                name: t.text("name")?,
                at: SpacePoint { x, y, z },
            })
        })?,
        edge_m: n.space_line("edge"),
        heel: n.plane("heel")?,
        outline_m: n.plane_line("outline"),
        mass: n.measured("mass"),
        centre_m: n.numbers_n("centre"),
        eye: n.plane("eye"),
        inner_width_m: n.number("inner_width"),
        side_profile_inner_m: n.plane_line("side_profile_inner"),
        load_centre_m: n.numbers_n("load_centre"),
    })
}

fn solid(n: &Node) -> Option<ClaimedSolid> {
    Some(ClaimedSolid {
        part: n.text("part")?,
        link: n.word("link", &LINKS)?,
        shape: shape(n)?,
    })
}

fn shape(n: &Node) -> Option<ClaimedShape> {
    if let Some(s) = n.inside("capsule") {
        return Some(ClaimedShape::Capsule {
            from_m: s.numbers_n("from")?,
            to_m: s.numbers_n("to")?,
            radius_m: s.number("radius")?,
        });
    }
    if let Some(s) = n.inside("box") {
        return Some(ClaimedShape::Box {
            min_m: s.numbers_n("min")?,
            max_m: s.numbers_n("max")?,
        });
    }
    if let Some(s) = n.inside("prism") {
        return Some(ClaimedShape::Prism {
            outline_m: s.plane_line("outline"),
            y_m: s.number("y")?,
            half_width_m: s.number("half_width")?,
        });
    }
    if let Some(s) = n.inside("sector") {
        let [z_min_m, z_max_m] = s.numbers_n("z")?;
        return Some(ClaimedShape::Sector {
            radius_m: s.number("radius")?,
            half_angle_rad: s.number("half_angle")?,
            z_min_m,
            z_max_m,
        });
    }
    if let Some(s) = n.inside("along_cylinder") {
        return Some(ClaimedShape::AlongCylinder {
            moves: s.word("moves", &JOINTS)?,
            y_m: s.numbers("y")?,
            radius_m: s.number("radius")?,
        });
    }
    let s = n.inside("along_linkage")?;
    Some(ClaimedShape::AlongLinkage {
        member: s.word("member", &LINKAGE_MEMBERS)?,
        radius_m: s.number("radius")?,
    })
}

fn mass(n: &Node) -> Option<ClaimedMass> {
    Some(ClaimedMass {
        part: n.text("part")?,
        link: n.word("link", &LINKS)?,
        mass: n.measured("mass")?,
        centre_m: n.numbers_n("centre")?,
    })
}

fn sensor(n: &Node) -> Option<ClaimedSensor> {
    Some(ClaimedSensor {
        id: n.text("id")?,
        link: n.word("link", &LINKS)?,
        kind: n.word("kind", &SENSOR_KINDS)?,
        offset: n.measured("offset")?,
        roll_offset: n.measured("roll_offset"),
        mount_rad: n.number("mount").unwrap_or(0.0),
        sign: n.number("sign").unwrap_or(1.0),
        sd_rad: n.number("sd"),
        latency_s: n.number("latency_ms"),
    })
}

fn antenna(n: &Node) -> Option<ClaimedAntenna> {
    Some(ClaimedAntenna {
        id: n.text("id")?,
        lever: n.space("lever")?,
    })
}

fn camera(n: &Node) -> Option<ClaimedCamera> {
    Some(ClaimedCamera {
        id: n.text("id")?,
        at: n.space("at")?,
        yaw_rad: n.number("yaw")?,
        pitch_down_rad: n.number("pitch_down")?,
        hfov_rad: n.number("hfov")?,
        vfov_rad: n.number("vfov")?,
    })
}
