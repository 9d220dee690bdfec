//! What was measured of a machine to calibrate it, as claimed: plain data, one to one with the document.
//!
//! In metres and radians. Frames and signs: [`crate::frames`].

use holdline_geom::measured::Measured;

/// All that was measured of one machine in one or several sessions.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Observations {
    /// The machine's own name on the job; empty where the document does not say.
    pub machine: String,
    /// Coupler, tilting device and bucket that hung on the machine.
    pub tool: ObservedTool,
    /// One entry an observation, in the order of the document.
    pub rows: Vec<Observation>,
}

/// What hung on the machine while it was measured.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct ObservedTool {
    /// Coupler, by its name on the sheet.
    pub coupler: Option<String>,
    /// Tilting device, by its name on the sheet.
    pub tilt: Option<String>,
    /// Bucket, by its name on the sheet; empty where the document does not say.
    pub bucket: String,
}

/// One observation.
#[derive(Debug, Clone, PartialEq)]
pub struct Observation {
    /// Its name.
    pub name: String,
    /// Line in the document, from 1; 0 where there is none.
    pub line: usize,
    /// What was measured.
    pub what: What,
    /// Name of the pose. Observations of one pose share its readings, which are then read once.
    pub pose: String,
    /// Name of the stand: the tracks do not move within one.
    pub stand: String,
    /// Name of the survey's set-up. `site` is the site grid; any other is a levelled instrument frame
    /// with its own zero and its own direction.
    pub setup: String,
    /// What the machine's sensors read in this pose, by name without unit (`S-boom`, `pitch`, `roll`,
    /// `heading`, `GL_easting`, …), in radians and metres.
    pub readings: Vec<(String, f64)>,
    /// Who.
    pub by: Option<String>,
    /// When, as written.
    pub when: Option<String>,
    /// With what.
    pub instrument: Option<String>,
    /// Free words.
    pub note: Option<String>,
}

/// Name of the set-up that is the site grid.
pub const SITE: &str = "site";

/// What was measured. A figure without a stated uncertainty cannot be weighed: it asks.
#[derive(Debug, Clone, PartialEq)]
pub enum What {
    /// A point of the machine by total station or receiver (all three), or by level (elevation alone).
    Shot {
        /// The point.
        target: Target,
        /// Easting, northing, elevation in the set-up's frame.
        at_m: [Option<Measured>; 3],
    },
    /// A hold test: the point stands on a mark whose place need not be known; all touches of a mark agree.
    Touch {
        /// The point.
        target: Target,
        /// The mark.
        mark: String,
        /// How well the point met the mark, m, along each axis (k = 1).
        sd_m: Option<f64>,
    },
    /// A distance between two points of the machine, straight from one to the other.
    Tape {
        /// From.
        from: Target,
        /// To.
        to: Target,
        /// The distance, m.
        length: Measured,
    },
    /// How steeply the line between two points rises, by hand inclinometer or, at a right angle, by plumb line.
    Slope {
        /// From.
        from: Target,
        /// To.
        to: Target,
        /// Angle of the line above the horizontal in the boom plane, as the hand instrument gives it, rad.
        angle: Measured,
    },
    /// The house turned on its tracks and read: pitch and roll (in the readings) at a heading.
    HouseTurn {
        /// Heading or swing angle of this reading, rad.
        turn: Measured,
    },
    /// An antenna's position at some swing angle of a turn about the swing axis.
    SwingCircle {
        /// The antenna, by its name on the sheet.
        antenna: String,
        /// Easting, northing, elevation in the set-up's frame.
        at_m: [Option<Measured>; 3],
    },
    /// A target fixed anywhere on a link, followed while that link alone turns about its pin.
    PinArc {
        /// The pin at the middle of the arc: `A`, `B` or `C`.
        pin: Target,
        /// The target's own name; one arc, one name.
        arc: String,
        /// Easting, northing, elevation in the set-up's frame.
        at_m: [Option<Measured>; 3],
    },
}

/// A point of the machine.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Target {
    /// A tooth point of the bucket that hangs: `left`, `centre`, `right` or a further name.
    Tooth(String),
    /// Boom foot pin A.
    BoomFoot,
    /// Boom-stick pin B.
    BoomStick,
    /// Stick-bucket pin C.
    StickBucket,
    /// Link pin D.
    LinkPin,
    /// Rod, idler and link joint E.
    LinkageE,
    /// Idler pivot F.
    IdlerPivot,
    /// The bucket's own front pin.
    BucketFrontPin,
    /// An antenna's phase centre, by its name on the sheet.
    Antenna(String),
    /// The swing axis at track ground level.
    SwingAxis,
}
