//! What a machine sheet claims, before anybody has checked it.
//!
//! Plain data, one to one with the sheet, in metres, radians, kilograms and seconds.
//! `Machine::measured_up` turns a claim into a `Machine` or into all its faults.
//! Frames and signs: the `frames` module.

use holdline_geom::measured::Measured;

/// A point in the boom plane of a link: x along the link, z 90° counter-clockwise from it; metres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlanePoint {
    /// Along the link.
    pub x: Measured,
    /// Across it, upward positive.
    pub z: Measured,
}

/// A point in space, metres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SpacePoint {
    /// Forward.
    pub x: Measured,
    /// Left.
    pub y: Measured,
    /// Up.
    pub z: Measured,
}

/// A whole machine sheet as claimed.
#[derive(Debug, Clone, PartialEq)]
pub struct ClaimedMachine {
    /// The machine's own name on the job.
    pub id: String,
    /// Free words.
    pub note: String,
    /// Who measured it up, when, with what.
    pub measured: MeasuredBy,
    /// Whole mass in working order, kg.
    pub mass_kg: Option<Measured>,
    /// The part above the swing ring.
    pub house: ClaimedHouse,
    /// Tracks and track frame.
    pub tracks: ClaimedTracks,
    /// Boom swing post, where the boom can swing against the house.
    pub swing_post: Option<ClaimedSwingPost>,
    /// Boom.
    pub boom: ClaimedBoom,
    /// Stick.
    pub stick: ClaimedStick,
    /// Bucket four-bar linkage.
    pub linkage: ClaimedLinkage,
    /// Cylinders, from which joint limits follow.
    pub cylinders: Vec<ClaimedCylinder>,
    /// Ranges of joints that no cylinder in the sheet moves (swing, tilt, rotation).
    pub ranges: Vec<ClaimedRange>,
    /// Couplers.
    pub couplers: Vec<ClaimedCoupler>,
    /// Tilting devices (tilt couplers, tiltrotators) that hang on the pins and carry a bucket.
    pub tilts: Vec<ClaimedTilt>,
    /// Buckets.
    pub buckets: Vec<ClaimedBucket>,
    /// Solids of every part; each contains the steel, hoses and lights.
    pub solids: Vec<ClaimedSolid>,
    /// Masses of the moving parts.
    pub masses: Vec<ClaimedMass>,
    /// Angle sensors.
    pub sensors: Vec<ClaimedSensor>,
    /// Satellite antennas.
    pub antennas: Vec<ClaimedAntenna>,
    /// Taken off a heading that is read, not typed and not from two antennas, rad:
    /// the heading's own line against the boom plane. None: nothing is taken off.
    pub heading_offset: Option<Measured>,
    /// Cameras.
    pub cameras: Vec<ClaimedCamera>,
}

/// Who measured, when, with what.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct MeasuredBy {
    /// Name of the person.
    pub who: String,
    /// Date, ISO 8601.
    pub on: String,
    /// Instruments.
    pub with: String,
}

/// The house.
#[derive(Debug, Clone, PartialEq)]
pub struct ClaimedHouse {
    /// Radius swept by the tail about the swing axis, m.
    pub tail_radius: Measured,
    /// Half the angle of the counterweight's arc about the rear, rad.
    pub tail_half_angle_rad: f64,
    /// Operator's eye in `House`, m.
    pub eye: Option<SpacePoint>,
}

/// The undercarriage.
#[derive(Debug, Clone, PartialEq)]
pub struct ClaimedTracks {
    /// Overall length of a track, m.
    pub length: Measured,
    /// Centre to centre of the tracks, m.
    pub gauge: Measured,
    /// Width of a shoe, m.
    pub shoe_width: Measured,
    /// Height of a track, m.
    pub height: Measured,
}

/// Boom swing post: a vertical pin on the house that carries the boom foot.
#[derive(Debug, Clone, PartialEq)]
pub struct ClaimedSwingPost {
    /// The post's pin in `House`, m.
    pub at: SpacePoint,
    /// Boom foot pin from the post's pin, in the post's own frame (x along the boom plane), m.
    pub foot: SpacePoint,
}

/// Boom foot and boom.
#[derive(Debug, Clone, PartialEq)]
pub struct ClaimedBoom {
    /// Boom foot pin A in `House`, m. With a swing post it is left out and follows from the post.
    pub foot: Option<SpacePoint>,
    /// Which kind of boom.
    pub kind: ClaimedBoomKind,
}

/// Kinds of boom.
#[derive(Debug, Clone, PartialEq)]
pub enum ClaimedBoomKind {
    /// One piece, A to B.
    Mono {
        /// A to B, m.
        length: Measured,
    },
    /// Two pieces with a pin between them that a positioning cylinder turns.
    TwoPiece {
        /// A to the middle pin, m.
        lower: Measured,
        /// Middle pin to B, m.
        upper: Measured,
    },
    /// Offset boom: a parallelogram between lower and upper part moves the upper part sideways,
    /// parallel to the boom plane.
    Offset {
        /// A to the first offset pin, along the boom, m.
        lower: Measured,
        /// Length of the offset links, m.
        link: Measured,
        /// Second offset pin to B, along the boom, m.
        upper: Measured,
    },
}

/// Stick.
#[derive(Debug, Clone, PartialEq)]
pub struct ClaimedStick {
    /// B to C, m.
    pub length: Measured,
}

/// Bucket four-bar: idler pivot F on the stick, idler FE, link ED, ear CD.
#[derive(Debug, Clone, PartialEq)]
pub struct ClaimedLinkage {
    /// F in `Stick`, m.
    pub idler_pivot: PlanePoint,
    /// F to E, m.
    pub idler: Measured,
    /// E to D, m.
    pub link: Measured,
    /// C to D, m.
    pub ear: Measured,
    /// Which way the linkage is assembled; see [`LinkageBranch`].
    pub branch: LinkageBranch,
}

/// On which side of the line from C to E the pin D lies,
/// seen from the left with the stick's x to the right.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LinkageBranch {
    /// D to the right of the way from C to E (branch 1 on the sheet).
    Right,
    /// D to the left of it (branch −1 on the sheet).
    Left,
}

/// Joints by name.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Joint {
    /// House on tracks, about z.
    Swing,
    /// Boom plane on house, about a vertical pin.
    Post,
    /// Boom on house.
    Boom,
    /// Upper part of a two-piece boom on its lower part.
    BoomUpper,
    /// Offset links of an offset boom.
    Offset,
    /// Stick on boom.
    Stick,
    /// Ear line CD on stick.
    Bucket,
    /// Tilt of a tilting bucket or coupler.
    Tilt,
    /// Rotation of a tiltrotator.
    Rotation,
}

/// The links that a pin, a solid, a mass or a sensor can belong to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Link {
    /// Undercarriage.
    Tracks,
    /// House.
    House,
    /// Boom swing post.
    Post,
    /// Boom, or the lower part of a two-piece or offset boom.
    Boom,
    /// Upper part of a two-piece or offset boom.
    BoomUpper,
    /// Stick.
    Stick,
    /// Idler of the bucket linkage, F to E.
    Idler,
    /// Bucket link, E to D.
    BucketLink,
    /// What hangs on the two pins C and D: coupler or pin-on bucket.
    Ear,
    /// The turned part of a tilting device, before its rotation.
    Tilt,
    /// The bucket, in its own two-pin frame.
    Bucket,
}

/// A cylinder between two pins. Joint limits follow from its stroke.
#[derive(Debug, Clone, PartialEq)]
pub struct ClaimedCylinder {
    /// The joint that it moves.
    pub moves: Joint,
    /// Base pin: the link it sits on and the place in that link's plane.
    pub base: CylinderPin,
    /// Rod pin.
    pub rod: CylinderPin,
    /// Which side of the line from joint to base pin the rod pin lies on; see [`CylinderSide`].
    pub side: Option<CylinderSide>,
    /// Pin to pin, fully in, m.
    pub retracted: Measured,
    /// Pin to pin, fully out, m.
    pub extended: Measured,
    /// Added at both ends for outer bounds, m; the sheet must state it, 5 mm is usual.
    pub stroke_tolerance_m: f64,
    /// How many in parallel.
    pub count: u32,
    /// Bore, m.
    pub bore_m: Option<f64>,
    /// Rod diameter, m.
    pub rod_diameter_m: Option<f64>,
    /// Mass of one, kg.
    pub mass_each_kg: Option<f64>,
}

/// A cylinder's pin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum CylinderPin {
    /// A place in a link's plane.
    On {
        /// The link; places on the idler count from F, x towards E.
        link: Link,
        /// The place, m.
        at: PlanePoint,
    },
    /// Pin E of the bucket linkage.
    LinkageE,
}

/// Side on which a cylinder stays for its whole stroke, seen from the left.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CylinderSide {
    /// The rod pin is counter-clockwise of the base pin, seen from the joint:
    /// extending turns the joint counter-clockwise.
    ExtendsUp,
    /// The rod pin is clockwise of the base pin: extending turns the joint clockwise.
    ExtendsDown,
}

/// Range of a joint that no cylinder in the sheet moves, rad.
#[derive(Debug, Clone, PartialEq)]
pub struct ClaimedRange {
    /// The joint.
    pub joint: Joint,
    /// Least angle shown, rad.
    pub min_rad: f64,
    /// Largest angle shown, rad.
    pub max_rad: f64,
    /// Added at both ends for outer bounds, rad.
    pub tolerance_rad: f64,
}

/// A coupler: a fixed step from `Ear` to the bucket's own two-pin frame.
#[derive(Debug, Clone, PartialEq)]
pub struct ClaimedCoupler {
    /// Its name.
    pub id: String,
    /// The bucket's front pin in `Ear`, m.
    pub front_pin: PlanePoint,
    /// Turn from `Ear` x to `Bucket` x, upward positive, rad.
    pub rotation: Measured,
    /// What it looks like and weighs, in `Ear`.
    pub body: ClaimedBody,
}

/// Outline and mass of a tool, in the frame of the two pins it hangs on.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ClaimedBody {
    /// Outline in the boom plane, m; the solid is this prism over twice the half width.
    pub outline_m: Vec<[f64; 2]>,
    /// Half the width, m.
    pub half_width_m: Option<f64>,
    /// Mass, kg.
    pub mass: Option<Measured>,
    /// Centre of mass in the boom plane, m.
    pub centre_m: Option<[f64; 2]>,
}

/// A tilting device: on the pins (or on a coupler) above, a bucket below.
#[derive(Debug, Clone, PartialEq)]
pub struct ClaimedTilt {
    /// Its name.
    pub id: String,
    /// Tilt axis: a point on it, in the frame of the two pins it hangs on, m.
    pub axis_at: SpacePoint,
    /// Tilt axis direction in the boom plane: angle from the pins' x, upward positive, rad.
    pub axis_angle: Measured,
    /// Rotation axis, for a tiltrotator.
    pub rotation: Option<ClaimedRotation>,
    /// The bucket's front pin from the last axis point,
    /// in the turned frame (parallel to the pins' frame at zero), m.
    pub front_pin: SpacePoint,
    /// Turn from the pins' x to the bucket's x at zero tilt and rotation, rad.
    pub bucket_rotation: Measured,
    /// What it looks like and weighs, in the frame of the pins it hangs on.
    pub body: ClaimedBody,
}

/// Rotation axis of a tiltrotator, inside its tilt.
#[derive(Debug, Clone, PartialEq)]
pub struct ClaimedRotation {
    /// A point on the axis, from the tilt axis point, in the frame parallel to the pins' frame at
    /// zero tilt, m.
    pub axis_at: SpacePoint,
    /// Direction in the boom plane: angle from the pins' x, upward positive, rad.
    pub axis_angle: Measured,
}

/// A bucket in its own two-pin frame: origin the front pin, x to its second pin, y left.
#[derive(Debug, Clone, PartialEq)]
pub struct ClaimedBucket {
    /// Its name.
    pub id: String,
    /// Free words.
    pub note: String,
    /// Width of the cutting edge, m.
    pub width: Measured,
    /// Distance of its two pins, m.
    pub pin_spacing: Measured,
    /// Tooth points: left, centre and right at least.
    pub teeth: Vec<ClaimedTooth>,
    /// Corners of the cutting edge from left to right in `Bucket`, m;
    /// empty: the line from left to right tooth point.
    pub edge_m: Vec<[f64; 3]>,
    /// The lowest line of the back, in the bucket's plane, m.
    pub heel: PlanePoint,
    /// Outline in the bucket's plane, m; the solid is this prism over the width.
    pub outline_m: Vec<[f64; 2]>,
    /// Mass, kg.
    pub mass: Option<Measured>,
    /// Centre of mass in the bucket's plane, m.
    pub centre_m: Option<[f64; 2]>,
    /// Lifting eye, m.
    pub eye: Option<PlanePoint>,
    /// Inner width, m.
    pub inner_width_m: Option<f64>,
    /// Inner side profile, m.
    pub side_profile_inner_m: Vec<[f64; 2]>,
    /// Centre of a load, m.
    pub load_centre_m: Option<[f64; 2]>,
}

/// A named tooth point.
#[derive(Debug, Clone, PartialEq)]
pub struct ClaimedTooth {
    /// `left`, `centre`, `right` (seen from the seat) or a further name.
    pub name: String,
    /// Its tip in `Bucket`, m.
    pub at: SpacePoint,
}

/// A solid that contains a part.
#[derive(Debug, Clone, PartialEq)]
pub struct ClaimedSolid {
    /// The part.
    pub part: String,
    /// The link it moves with.
    pub link: Link,
    /// Its shape, in that link's frame.
    pub shape: ClaimedShape,
}

/// Shapes of solids, metres and radians, in the frame of the link.
#[derive(Debug, Clone, PartialEq)]
pub enum ClaimedShape {
    /// All points within `radius_m` of the segment.
    Capsule {
        /// One end.
        from_m: [f64; 3],
        /// Other end.
        to_m: [f64; 3],
        /// Radius.
        radius_m: f64,
    },
    /// Box along the axes.
    Box {
        /// Least x, y, z.
        min_m: [f64; 3],
        /// Largest x, y, z.
        max_m: [f64; 3],
    },
    /// Convex hull of plane points, spread sideways.
    Prism {
        /// Corners (x, z).
        outline_m: Vec<[f64; 2]>,
        /// y of the middle plane.
        y_m: f64,
        /// Half the width.
        half_width_m: f64,
    },
    /// Sector of an upright cylinder about the z axis, towards −x (the tail).
    Sector {
        /// Radius.
        radius_m: f64,
        /// Half the angle about −x.
        half_angle_rad: f64,
        /// Least z.
        z_min_m: f64,
        /// Largest z.
        z_max_m: f64,
    },
    /// Capsule along a cylinder, pin to pin, at `y_m` from the boom plane;
    /// drawn where the pose puts it.
    AlongCylinder {
        /// The joint whose cylinder it is.
        moves: Joint,
        /// Sideways offsets, one a cylinder.
        y_m: Vec<f64>,
        /// Radius.
        radius_m: f64,
    },
    /// Capsule along a member of the bucket linkage (idler F–E or bucket link E–D).
    AlongLinkage {
        /// [`Link::Idler`] or [`Link::BucketLink`].
        member: Link,
        /// Radius.
        radius_m: f64,
    },
}

/// Mass of a part that moves with a link.
#[derive(Debug, Clone, PartialEq)]
pub struct ClaimedMass {
    /// The part.
    pub part: String,
    /// The link it moves with.
    pub link: Link,
    /// Mass, kg.
    pub mass: Measured,
    /// Centre in the link's frame, m.
    pub centre_m: [f64; 3],
}

/// An angle sensor.
#[derive(Debug, Clone, PartialEq)]
pub struct ClaimedSensor {
    /// Its name.
    pub id: String,
    /// What it sits on: a link for gravity sensors, the moving link of the joint for encoders.
    pub link: Link,
    /// What it measures.
    pub kind: SensorKind,
    /// Subtracted from the reading, rad; its sd is the calibration's.
    pub offset: Measured,
    /// Second offset of a house sensor: roll, rad.
    pub roll_offset: Option<Measured>,
    /// Mounting angle of a single-axis sensor's axis from the link's x, rad.
    pub mount_rad: f64,
    /// +1, or −1 if the sensor counts downward as positive.
    pub sign: f64,
    /// Standard uncertainty of one reading, rad, if stated.
    pub sd_rad: Option<f64>,
    /// Latency, s, if stated.
    pub latency_s: Option<f64>,
}

/// Kinds of angle sensor.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SensorKind {
    /// Gravity sensor with two axes in the boom plane: exact at any lean.
    TwoAxis,
    /// Gravity sensor with one axis along the link: the lean is undone with the house's roll.
    SingleAxis,
    /// Encoder on the joint itself.
    JointEncoder,
    /// House pitch and roll as rotations (pitch θ about the left axis, then roll φ).
    HouseEuler,
    /// House pitch and roll as two tilts, each the asin of one axis.
    HouseTilts,
}

impl SensorKind {
    /// Whether it measures the house itself, and not a link. A new kind gets its row here.
    pub fn is_house(self) -> bool {
        match self {
            SensorKind::HouseEuler | SensorKind::HouseTilts => true,
            SensorKind::TwoAxis | SensorKind::SingleAxis | SensorKind::JointEncoder => false,
        }
    }
}

/// A satellite antenna.
#[derive(Debug, Clone, PartialEq)]
pub struct ClaimedAntenna {
    /// Its name.
    pub id: String,
    /// Phase centre in `House`, m.
    pub lever: SpacePoint,
}

/// A camera.
#[derive(Debug, Clone, PartialEq)]
pub struct ClaimedCamera {
    /// Its name.
    pub id: String,
    /// Lens in `House`, m.
    pub at: SpacePoint,
    /// About `House` z from forward, left positive, rad.
    pub yaw_rad: f64,
    /// Downward, rad.
    pub pitch_down_rad: f64,
    /// Horizontal field, rad.
    pub hfov_rad: f64,
    /// Vertical field, rad.
    pub vfov_rad: f64,
}
