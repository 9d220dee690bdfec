//! The long story of every `D…` code.

/// Code and what it means, how it happens, what to do.
pub const EXPLAIN: &[(&str, &str)] = &[
    (
        "D001",
        "There is too little to find out what drifted.\nA diagnosis compares what each fault would do to each shot with what was seen, so it needs several shots in different poses.\nMake eight or so: at two curls each, near, mid and far, at headings 90° apart, and write down the readings with every one.",
    ),
    (
        "D002",
        "The survey of a shot has no stated uncertainty.\nWithout it nobody can say whether a difference is large.\nAsk the surveyor, or state what the instrument does: 1 mm to 3 mm for a total station to a prism, 10 mm and more for a rover (common practice).",
    ),
    (
        "D003",
        "Something that moves the tooth has no stated uncertainty: a figure of the sheet, a reading, an antenna's position, the heading.\nA figure known to 3 mm and one known to 30 mm make different suspects of the same difference.\nState them on the sheet or with the check. If you do not know, state a large one: that is honest, and the diagnosis becomes more careful.",
    ),
    (
        "D004",
        "The simulation cannot run as asked.\nThe critical value comes from simulated series; fewer than 20 000 leave it rough, and a level must lie between 0 and 0.5.",
    ),
    (
        "D010",
        "A shot without readings was left out of the diagnosis.\nIt counts in the check.\nWithout the pose nobody can tell a sensor from a length or a bucket; write the readings down with every shot.",
    ),
    (
        "D011",
        "Nobody stated the uncertainty of the control and the set-up along that axis.\nUnknown counts as large: a shift of all shots along it is then the control's own, and no fault.\nAsk the surveyor how well the control is known, and state it with the check.",
    ),
    (
        "D012",
        "Nobody stated how much of the satellite positions' uncertainty is the same in every shot of the series.\nThe errors of a fix wander over minutes, and a series takes minutes: most of what one position is uncertain by is common to all, and looks like a shift of the control or of the base.\n\
         Not stated counts as all of it, beside the same scatter from shot to shot. State it with the check (`--position-common-sd-mm`) if you know it, from a long stand on a known point; or make the series in two parts an hour or more apart.",
    ),
];
