//! The long story of every `M…` code, and of the `T…` codes that this room gives.

/// Code and what it means, how it happens, what to do.
pub const EXPLAIN: &[(&str, &str)] = &[
    (
        "G010",
        "Three lengths cannot make a triangle.\nOne side is longer than the other two together, or one is missing.\nIt happens when a pin distance is mistyped or a unit is mixed.\nMeasure the three again, pin centre to pin centre.",
    ),
    (
        "M002",
        "A sheet needs the machine's name.\nRecords and cards are filed under it.",
    ),
    (
        "M020",
        "Nothing says where the boom foot pin is.\nEverything on the front is counted from it.",
    ),
    (
        "M021",
        "The boom foot is given twice, in the house and on a swing post.\nWith a swing post the foot moves with the post, so only the second can hold.",
    ),
    (
        "M033",
        "The four sides of the bucket linkage cannot close.\nUsually one of them is mistyped.",
    ),
    (
        "M043",
        "Left, centre and right tooth points are needed.\nSteering by one of them while another digs deeper is the usual way to overcut.",
    ),
    (
        "M044",
        "Left and right are swapped.\nLeft is left seen from the operator's seat; y counts to the left.",
    ),
    (
        "M046",
        "The outline of the bucket must have an area.\nIt stands for the steel wherever a clearance is judged, so it must contain all of it.",
    ),
    ("M053", "A cylinder is longer fully out than fully in."),
    (
        "M060",
        "A cylinder's pins sit on the links before and after the joint it moves.\nThe sheet puts one of them elsewhere.",
    ),
    (
        "M061",
        "No cylinder of this kind can be worked out.\nGive the joint's range in a [[range]] entry.",
    ),
    (
        "M062",
        "Within the bucket cylinder's stroke the linkage would reach a dead centre, where nothing holds the bucket and its angle has no one value.\nReal machines keep off it, so a length or the branch is wrong.",
    ),
    ("M063", "A range needs its lower end below its upper end."),
    (
        "M064",
        "A joint has two ranges.\nTwo cylinders side by side are one entry with `count = 2`.",
    ),
    ("M084", "This kind of sensor cannot measure on that link."),
    ("M085", "The sign says which way the sensor counts."),
    (
        "M086",
        "A house sensor has two offsets, pitch and roll.\nWith one missing the machine's lean would be taken as zero error, which nobody has shown.",
    ),
    (
        "M087",
        "Two sensors sit on one link and would give the same angle.\n\
         Only one can be used, and a sheet that does not say which hides the other.",
    ),
    (
        "T018",
        "A bucket pinned on directly must have the distance of the machine's own two pins.\n\
         This one does not: it hangs on a coupler, it is another bucket, or one distance is mistyped.\n\
         Without the right coupler the tooth is off by hand's breadths.",
    ),
    ("T001", "The sheet has no tool of that name."),
    (
        "T010",
        "The bucket linkage cannot close at that angle.\nPast the dead centre the pins are too far apart or too near.\nCheck the idler sensor and the linkage lengths.",
    ),
    (
        "T011",
        "The linkage reaches that bucket angle only when assembled the other way round.",
    ),
    (
        "T020",
        "The place is out of reach for boom and stick, whatever the strokes are.",
    ),
    (
        "T021",
        "A joint would pass the end of its cylinder's stroke.\nThe message says which cylinder and by how many millimetres.\nNominal strokes are used here; questions of safety use the longer, outer ones.",
    ),
    (
        "T002",
        "A reading that the tooth depends on is missing in this row.\nNothing is put in its place.",
    ),
    (
        "T003",
        "No sensor on the sheet gives this joint.\nJoint angles can be typed, but readings cannot be turned into a tooth.",
    ),
    (
        "T012",
        "A single-axis gravity sensor reads the same on both sides of the vertical.\nOnly the joint's stroke can tell them apart, and here it cannot.\nA two-axis sensor has no such doubt.",
    ),
    (
        "T013",
        "The two tilts of the house cannot both be true.\nThe sensor may report pitch and roll as turns instead: see the kind on the sheet.",
    ),
    ("T014", "Two antennas at one place give no heading."),
    (
        "M047",
        "A machine sheet needs at least one bucket.\n\
         Without one there is no tooth.",
    ),
    (
        "M058",
        "A box or sector has a least coordinate that is not below its largest.\n\
         Such a solid has no volume and would be watched by nobody.",
    ),
    (
        "M065",
        "Within the stroke's tolerance the cylinder's three pins would come into one line.\n\
         Over that line the joint can go either way, so its range would have no end.\n\
         Real machines keep off it: a pin or a stroke is mistyped.",
    ),
    (
        "M066",
        "A tooth point sticks out of the bucket's solid.\n\
         The solid is the outline over the width, and every clearance is judged with it.\n\
         Widen the outline or the width until all steel is inside.",
    ),
    (
        "T004",
        "A reading or a position is not a number, or lies beyond what any machine on earth gives.\n\
         A cable, a converter or a unit is wrong; degrees read as radians look like this.\n\
         The row gives no tooth.",
    ),
    (
        "T015",
        "The reading puts a joint far outside its cylinder's stroke, where it cannot be.\n\
         A swapped sign, a wrong sensor in the column, or an offset of another machine look like this.\n\
         The row gives no tooth. If the machine does stand there, measure the cylinder's pins again.",
    ),
    (
        "T016",
        "The two antennas are further apart, nearer, or more uneven than their lever arms say.\n\
         One position is wrong, the columns are swapped, or a lever arm is mistyped.\n\
         With one of them wrong nobody knows which, so the row gives no tooth.",
    ),
    (
        "T017",
        "The heading handed in and the heading of the two antennas contradict each other.\n\
         Swapped antennas show half a turn.\n\
         Take one of the two away only when you know which is right.",
    ),
    (
        "T022",
        "The place or the attitude asked for is not a number.\n\
         An empty field or a division by zero in a list of places looks like this.",
    ),
];
