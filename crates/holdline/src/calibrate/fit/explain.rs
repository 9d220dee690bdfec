//! The long story of the codes `C001` to `C022`.

/// Code and what it means, how it happens, what to do.
pub const EXPLAIN: &[(&str, &str)] = &[
    (
        "C001",
        "A calibration speaks of a figure that the machine sheet does not have, or of one figure twice.\nIt happens when a bucket, sensor or antenna was renamed on the sheet after the calibration was made.\nGive it its old name, or calibrate again; never move values from one figure to another by hand.",
    ),
    (
        "C002",
        "A calibration of another machine.\nTwo machines of one type are not alike: lengths differ by millimetres and sensors by whole degrees.\nChoose the calibration that was measured on this very machine.",
    ),
    (
        "C003",
        "Correlations that no measurement can give: too few, not a number, beyond one, or contradicting each other.\nA calibration states how sure its figures are together; values edited by hand lose that.\nTake the document as it was written.",
    ),
    (
        "C004",
        "A calibrated value or its uncertainty is no number, or the uncertainty is zero or less.\nA figure that was not determined has no uncertainty at all; that is left out, never written as zero.",
    ),
    (
        "C005",
        "Observations of another machine.\nThe file says for which machine it was measured, and that is not the one whose sheet was given.",
    ),
    (
        "C006",
        "A point that the machine sheet does not have: a tooth point or an antenna by a name that is not on it.\nLook at the name, or add the point to the sheet first.",
    ),
    (
        "C007",
        "A name that is neither the path of a figure nor a group.\nGroups are sensors, house, lengths, foot, linkage, coupler, tilt, tooth, antennas, heading and all.\nA path is written as on the sheet: boom.length, sensor[S-boom].offset.\nWith nothing named, all that the observations touch is found.",
    ),
    (
        "C008",
        "No observation at all: there is nothing to calibrate with.",
    ),
    (
        "C009",
        "A level of the global test that cannot be one.\nIt says how often the test may fail where everything is in order; 0.05 is usual.",
    ),
    (
        "C010",
        "A measured value without a standard uncertainty, or with one that is zero, negative or no number.\nWithout it nobody can say how much the value counts beside the others.\nState what the instrument and the hands on it give (usual, from memory): total station to a prism 1 to 2 mm, without prism 2 to 3 mm; tape over 6 m 2 to 3 mm; automatic level 1 to 2 mm; hand inclinometer on a casting 0.1°.",
    ),
    (
        "C011",
        "Readings of a sensor, a heading or an antenna were given, and nobody stated how far one of them scatters.\nFor a sensor it belongs on the machine sheet (sd); for headings (`--heading-sd`) and antennas (`--position-sd-mm`) it is given with the fit.\nStand still and watch the display for ten seconds: what it does is what is meant.",
    ),
    (
        "C012",
        "The sheet has several buckets and the observations do not say which one hung.\nThe wrong bucket would put its whole difference into the sensors.",
    ),
    (
        "C013",
        "A measured value or a reading is no number.\nLeave a place empty where nothing was measured.",
    ),
    (
        "C014",
        "A reading by a name that nothing is known of.\nReadings are named after the sensor on the sheet, or by the usual words: boom, stick, idler, bucket, pitch, roll, heading, swing, and easting, northing, elevation of an antenna.\nA joint's word stands for the sensor that gives it, and only where the sheet has one.",
    ),
    (
        "C015",
        "One pose, two different readings of one sensor.\nRows of one pose share its readings, which are read once.\nEither the machine moved, then it is another pose, or one of them is typed wrong.",
    ),
    (
        "C016",
        "A point of the front was shot or touched, and nothing was read in that pose.\nWithout readings the joints could stand anywhere, and the shot says nothing about sensors or lengths.\nReadings are written down before the machine moves; afterwards they are gone.",
    ),
    (
        "C017",
        "The house was turned, and pitch and roll were not read at that stop.\nThe two faces of the house are nothing but those readings.",
    ),
    (
        "C018",
        "An arc about a point that no link turns about.\nA boom turns about pin A, a stick about pin B, a bucket about pin C.",
    ),
    (
        "C019",
        "Coordinates without the set-up in which they were measured.\nEvery set-up of an instrument has its own zero and its own direction; mixed, they contradict each other.\nsite is the site grid; any other word is a levelled set-up of its own.",
    ),
    ("C020", "A shot without a single coordinate."),
    ("C021", "A tape or a slope from a point to itself."),
    (
        "C022",
        "A calibration whose fit was not believed is put on no machine.\nThe document says why: something measured contradicts the rest, nothing checks it, or what moves the tooth was not determined.\nMeasure what it names once more and calibrate again; until then the sheet as measured counts.",
    ),
];
