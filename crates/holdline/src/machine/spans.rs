//! What is plausible on a machine sheet: one row a figure.

use holdline_geom::fault::Span;

macro_rules! span {
    ($name:ident, $code:literal, $what:literal, $unit:literal,
     $min:literal, $max:literal, $fix:literal) => {
        #[doc = concat!("Plausible range: ", $what, ".")]
        pub const $name: Span = Span {
            code: $code,
            what: $what,
            unit: $unit,
            min: $min,
            max: $max,
            fix: $fix,
        };
    };
}

span!(
    MASS,
    "M010",
    "whole machine, working order",
    "kg",
    300.0,
    1_200_000.0,
    "read the mass off the plate; tonnes typed as kilograms look like this"
);
span!(
    BOOM_LENGTH,
    "M011",
    "boom, foot pin to boom-stick pin",
    "m",
    0.8,
    20.0,
    "measure pin centre to pin centre again; feet typed as metres look like this"
);
span!(
    STICK_LENGTH,
    "M012",
    "stick, pin to pin",
    "m",
    0.5,
    12.0,
    "measure pin centre to pin centre again; feet typed as metres look like this"
);
span!(
    BOOM_PART,
    "M013",
    "part of the boom, pin to pin",
    "m",
    0.1,
    15.0,
    "measure pin centre to pin centre again"
);
span!(
    FOOT_FORWARD,
    "M014",
    "boom foot pin ahead of the swing axis",
    "m",
    -3.0,
    5.0,
    "measure from the swing axis, forward positive"
);
span!(
    FOOT_SIDE,
    "M015",
    "boom foot pin left of the swing axis",
    "m",
    -3.0,
    3.0,
    "measure from the swing axis, left positive; take the middle of the boom"
);
span!(
    FOOT_UP,
    "M016",
    "boom foot pin over track ground level",
    "m",
    0.2,
    6.0,
    "measure from the ground under the tracks, up positive"
);
span!(
    LINKAGE_LENGTH,
    "M030",
    "member of the bucket linkage, pin to pin",
    "m",
    0.05,
    3.0,
    "measure pin centre to pin centre again; millimetres typed as metres look like this"
);
span!(
    IDLER_PIVOT,
    "M031",
    "idler pivot along the stick from the boom-stick pin",
    "m",
    0.1,
    12.0,
    "measure along the line from the boom-stick pin to the bucket pin"
);
span!(
    IDLER_PIVOT_Z,
    "M032",
    "idler pivot off the stick's line",
    "m",
    -1.5,
    1.5,
    "measure square to the line from the boom-stick pin to the bucket pin, up positive with the stick level"
);
span!(
    BUCKET_WIDTH,
    "M040",
    "bucket, width of the cutting edge",
    "m",
    0.1,
    6.0,
    "measure the edge from corner to corner"
);
span!(
    PIN_SPACING,
    "M041",
    "bucket, pin to pin",
    "m",
    0.05,
    2.0,
    "measure pin centre to pin centre again"
);
span!(
    TOOTH_ALONG,
    "M042",
    "tooth point or heel from the bucket's front pin",
    "m",
    -6.0,
    6.0,
    "measure in the bucket's own frame: x to its second pin, z square to it, y left"
);
span!(
    COUPLER_PIN,
    "M045",
    "coupler, bucket's front pin from the machine's",
    "m",
    -2.0,
    2.0,
    "measure in the frame of the machine's two pins"
);
span!(
    STROKE,
    "M050",
    "cylinder, pin to pin",
    "m",
    0.2,
    12.0,
    "measure pin centre to pin centre, fully in and fully out"
);
span!(
    STROKE_TOLERANCE,
    "M051",
    "tolerance of a stroke",
    "m",
    0.0,
    0.1,
    "5 mm is usual (common practice); a larger one is on the safe side"
);
span!(
    TRACK_LENGTH,
    "M070",
    "track, overall length",
    "m",
    0.5,
    15.0,
    "measure over the shoes"
);
span!(
    GAUGE,
    "M071",
    "tracks, centre to centre",
    "m",
    0.3,
    10.0,
    "measure from the middle of one shoe to the middle of the other"
);
span!(
    SHOE,
    "M072",
    "shoe, width",
    "m",
    0.1,
    1.8,
    "measure one shoe"
);
span!(
    TRACK_HEIGHT,
    "M073",
    "track, height",
    "m",
    0.1,
    3.0,
    "measure from the ground to the top of the shoes"
);
span!(
    TAIL_RADIUS,
    "M074",
    "tail, radius about the swing axis",
    "m",
    0.3,
    10.0,
    "measure the furthest point of the counterweight from the swing axis"
);
span!(
    LEVER,
    "M080",
    "antenna or camera from the swing axis",
    "m",
    -12.0,
    12.0,
    "measure in the house's frame: forward, left, up from the ground"
);
span!(
    SENSOR_OFFSET,
    "M081",
    "sensor offset",
    "°",
    -360.0,
    360.0,
    "an offset is an angle of at most one turn"
);
span!(
    SENSOR_SD,
    "M082",
    "standard uncertainty of an angle reading",
    "°",
    1e-5,
    12.0,
    "0.02° to 0.3° is usual (common practice)"
);
span!(
    LATENCY,
    "M083",
    "sensor latency",
    "s",
    0.0,
    5.0,
    "milliseconds typed as seconds look like this"
);
span!(
    SD_LENGTH,
    "M090",
    "standard uncertainty of a length",
    "m",
    1e-7,
    1.0,
    "2 mm to 5 mm is usual with a tape (common practice); millimetres typed as metres look like this"
);
span!(
    SD_ANGLE,
    "M091",
    "standard uncertainty of an angle",
    "°",
    1e-6,
    30.0,
    "0.02° to 0.2° is usual (common practice)"
);
span!(
    COUNT,
    "M052",
    "cylinders in parallel",
    "",
    1.0,
    4.0,
    "count them"
);
span!(
    FRONT_FOR_MASS,
    "M017",
    "boom and stick together over the cube root of the mass",
    "m for the cube root of a kilogram",
    0.1,
    0.8,
    "look at the unit of the lengths and of the mass: one of them is in feet, pounds or tonnes"
);
span!(
    TOOL_ANGLE,
    "M048",
    "fixed angle of a tool",
    "°",
    -360.0,
    360.0,
    "an angle of at most one turn, upward positive"
);
span!(
    PLACE,
    "M049",
    "place on a link",
    "m",
    -30.0,
    30.0,
    "measure in the link's own frame; millimetres typed as metres look like this"
);
span!(
    PART_MASS,
    "M054",
    "mass of a part",
    "kg",
    0.5,
    600_000.0,
    "weigh it or read it off the plate; leave it out if nobody knows"
);
span!(
    BORE,
    "M055",
    "cylinder, bore or rod diameter",
    "m",
    0.01,
    1.0,
    "measure the diameter; millimetres typed as metres look like this"
);
span!(
    SOLID_SIZE,
    "M056",
    "radius or half width of a solid",
    "m",
    0.001,
    15.0,
    "a solid must contain all steel and hoses of its part: measure its widest place"
);
span!(
    RANGE_END,
    "M057",
    "end of a joint's range",
    "°",
    -3600.0,
    3600.0,
    "read the joint's ends off the machine; a joint that turns without end has no range entry"
);
span!(
    RANGE_TOLERANCE,
    "M059",
    "tolerance of a joint's range",
    "°",
    0.0,
    45.0,
    "how far past its stated ends the joint may go; a larger one is on the safe side"
);
span!(
    HALF_ANGLE,
    "M075",
    "half the angle of a sector",
    "°",
    0.0,
    180.0,
    "measure the counterweight's corners from the swing axis"
);
span!(
    CAMERA_ANGLE,
    "M088",
    "angle of a camera",
    "°",
    -360.0,
    360.0,
    "an angle of at most one turn"
);

/// Every row, for `holdline explain`.
pub const ALL: &[Span] = &[
    MASS,
    BOOM_LENGTH,
    STICK_LENGTH,
    BOOM_PART,
    FOOT_FORWARD,
    FOOT_SIDE,
    FOOT_UP,
    LINKAGE_LENGTH,
    IDLER_PIVOT,
    IDLER_PIVOT_Z,
    BUCKET_WIDTH,
    PIN_SPACING,
    TOOTH_ALONG,
    COUPLER_PIN,
    STROKE,
    STROKE_TOLERANCE,
    TRACK_LENGTH,
    GAUGE,
    SHOE,
    TRACK_HEIGHT,
    TAIL_RADIUS,
    LEVER,
    SENSOR_OFFSET,
    SENSOR_SD,
    LATENCY,
    SD_LENGTH,
    SD_ANGLE,
    COUNT,
    FRONT_FOR_MASS,
    TOOL_ANGLE,
    PLACE,
    PART_MASS,
    BORE,
    SOLID_SIZE,
    RANGE_END,
    RANGE_TOLERANCE,
    HALF_ANGLE,
    CAMERA_ANGLE,
];
