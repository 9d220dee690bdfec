//! The words of the sheet that stand for something: joints, links, kinds. Each list is written once, here.

use holdline::machine::claim::{CylinderSide, Joint, Link, LinkageBranch, SensorKind};

use crate::document::table::Word;

/// Joints.
pub static JOINTS: [Word<Joint>; 9] = [
    Word {
        word: "swing",
        label: "swing of the house",
        means: Joint::Swing,
    },
    Word {
        word: "post",
        label: "boom swing post",
        means: Joint::Post,
    },
    Word {
        word: "boom",
        label: "boom on house",
        means: Joint::Boom,
    },
    Word {
        word: "boom-upper",
        label: "upper boom on lower boom",
        means: Joint::BoomUpper,
    },
    Word {
        word: "offset",
        label: "offset links of the boom",
        means: Joint::Offset,
    },
    Word {
        word: "stick",
        label: "stick on boom",
        means: Joint::Stick,
    },
    Word {
        word: "bucket",
        label: "bucket on stick",
        means: Joint::Bucket,
    },
    Word {
        word: "tilt",
        label: "tilt of bucket or coupler",
        means: Joint::Tilt,
    },
    Word {
        word: "rotation",
        label: "rotation of a tiltrotator",
        means: Joint::Rotation,
    },
];

/// Links.
pub static LINKS: [Word<Link>; 11] = [
    Word {
        word: "tracks",
        label: "tracks",
        means: Link::Tracks,
    },
    Word {
        word: "house",
        label: "house",
        means: Link::House,
    },
    Word {
        word: "post",
        label: "boom swing post",
        means: Link::Post,
    },
    Word {
        word: "boom",
        label: "boom, or its lower part",
        means: Link::Boom,
    },
    Word {
        word: "boom-upper",
        label: "upper part of the boom",
        means: Link::BoomUpper,
    },
    Word {
        word: "stick",
        label: "stick",
        means: Link::Stick,
    },
    Word {
        word: "idler",
        label: "idler of the bucket linkage",
        means: Link::Idler,
    },
    Word {
        word: "bucket-link",
        label: "bucket link",
        means: Link::BucketLink,
    },
    Word {
        word: "ear",
        label: "what hangs on the two pins",
        means: Link::Ear,
    },
    Word {
        word: "tilt",
        label: "turned part of a tilting device",
        means: Link::Tilt,
    },
    Word {
        word: "bucket",
        label: "bucket",
        means: Link::Bucket,
    },
];

/// Members of the bucket linkage.
pub static LINKAGE_MEMBERS: [Word<Link>; 2] = [
    Word {
        word: "idler",
        label: "idler, F to E",
        means: Link::Idler,
    },
    Word {
        word: "bucket-link",
        label: "bucket link, E to D",
        means: Link::BucketLink,
    },
];

/// Kinds of angle sensor.
pub static SENSOR_KINDS: [Word<SensorKind>; 5] = [
    Word {
        word: "two-axis",
        label: "gravity, two axes in the boom plane",
        means: SensorKind::TwoAxis,
    },
    Word {
        word: "single-axis",
        label: "gravity, one axis along the link",
        means: SensorKind::SingleAxis,
    },
    Word {
        word: "joint-encoder",
        label: "encoder on the joint",
        means: SensorKind::JointEncoder,
    },
    Word {
        word: "house-euler",
        label: "house pitch, then roll, as rotations",
        means: SensorKind::HouseEuler,
    },
    Word {
        word: "house-tilts",
        label: "house pitch and roll as two tilts",
        means: SensorKind::HouseTilts,
    },
];

/// Sides of a cylinder.
pub static CYLINDER_SIDES: [Word<CylinderSide>; 2] = [
    Word {
        word: "extends-up",
        label: "extending turns the joint upward",
        means: CylinderSide::ExtendsUp,
    },
    Word {
        word: "extends-down",
        label: "extending turns the joint downward",
        means: CylinderSide::ExtendsDown,
    },
];

/// Kinds of boom.
pub static BOOM_KINDS: [Word<BoomWord>; 3] = [
    Word {
        word: "mono",
        label: "one piece",
        means: BoomWord::Mono,
    },
    Word {
        word: "two-piece",
        label: "two pieces with a pin between",
        means: BoomWord::TwoPiece,
    },
    Word {
        word: "offset",
        label: "offset boom",
        means: BoomWord::Offset,
    },
];

/// Kinds of boom, before their measures are known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BoomWord {
    /// One piece.
    Mono,
    /// Two pieces.
    TwoPiece,
    /// Offset.
    Offset,
}

/// What the branch number of the sheet means.
pub fn branch_of_sign(sign: f64) -> LinkageBranch {
    if 0.0 < sign {
        LinkageBranch::Right
    } else {
        LinkageBranch::Left
    }
}
