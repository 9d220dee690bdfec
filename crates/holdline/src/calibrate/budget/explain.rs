//! The long story of every `B…` code.

/// Code and what it means, how it happens, what to do.
pub const EXPLAIN: &[(&str, &str)] = &[
    (
        "B001",
        "An uncertainty that is none: negative, not a number, or zero where nothing is ever without.\nLeave a figure out when nobody knows it; the budget then names it and gives no uncertainty where it matters.\nZero is taken for play, deflection, speed, localization, benches and marks: it says that somebody looked and found nothing.",
    ),
    (
        "B002",
        "A face's normal that is no direction of length 1.\nGive the face by its slope and the azimuth that it falls towards.",
    ),
    (
        "B003",
        "A budget in 3D for a machine without the antennas that it needs.\nThe place on the site comes from an antenna and its lever arm; the heading from a pair, or read.\nMeasure the lever arms and put them on the sheet, or ask for 2D.",
    ),
    (
        "B004",
        "Correlations that cannot hold together: some combination of the figures would have a negative variance.\nThey come from a calibration document that was changed by hand, or cut.\nTake the calibration as it was written, or calibrate again.",
    ),
    (
        "B005",
        "No heading in 3D.\nHow sure easting and northing are hangs on where the boom points.\nGive the azimuth of the boom direction, clockwise from grid north.",
    ),
    (
        "B006",
        "A pose that is no pose: a joint angle or a lean that is not a number.",
    ),
    (
        "B007",
        "A map with too few or too many points or attitudes.\nA map of 100 by 100 points with an attitude every 10 degrees is finer than a sheet can print.",
    ),
    (
        "B008",
        "A map over a span that is none: its end is not beyond its beginning, or it is wider than any machine reaches.",
    ),
    (
        "B009",
        "A map of the plan in 2D.\nIn 2D nothing hangs on where the boom points, so the map in the boom plane says all there is.",
    ),
    (
        "B010",
        "A number of draws that cannot be meant.\nA hundred thousand settle a standard uncertainty to 0.2 %; a thousand to 2 %.",
    ),
    (
        "B011",
        "Figures and readings that give no tooth: the bucket linkage cannot close, or two tilts fit no attitude.\nNear a dead centre a small error of the idler sensor does that.\nWork away from the end of the stroke, or check the linkage's lengths.",
    ),
    (
        "B012",
        "A number of moves that cannot be meant.\nClose on a known level every three to five moves; nobody carries a height over a thousand.",
    ),
];
