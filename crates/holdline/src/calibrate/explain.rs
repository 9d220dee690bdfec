//! The long story of every `V…` code.

/// Code and what it means, how it happens, what to do.
pub const EXPLAIN: &[(&str, &str)] = &[
    (
        "V001",
        "Few shots.\nThe sd of a short series is itself uncertain: with 8 shots by 27 %, with 20 by 16 %.\nThe 95 % statement widens to make up for it, so a short series seldom shows a tight tolerance.",
    ),
    (
        "V002",
        "A shot whose display or survey has no stated uncertainty.\nIts difference is shown and counted, but nobody can say whether it is large for its kind.",
    ),
    (
        "V003",
        "A shot that is further out than three times its own uncertainty.\nRepeat it first.\nThen look at the survey side: prism constant, target height, control.\nThen at what was chosen: bucket, tooth point, coupler.\nNever trim out an error in a parameter that is not its cause.",
    ),
    (
        "V004",
        "Shots have easting and northing, but no tolerance in plan was stated, so plan was not judged.",
    ),
    (
        "V005",
        "A shot outside two thirds of the tolerance.\nBy common practice that makes a full re-check due.",
    ),
    (
        "V006",
        "Two shots agree to the last digit, shown and surveyed.\nA shot taken again never does; a row that was copied does.\nIt counts once: copies would make the spread look smaller than it is.",
    ),
    (
        "V007",
        "Nobody stated how much of the satellite positions' uncertainty is the same in every shot of the series.\nThe errors of a fix wander over minutes, and a series takes minutes: most of what one position is uncertain by is in every shot alike, and the spread of the series does not show it.\nNot stated counts as all of it: twice that is added to every statement, as for the control.\nState it with the check (`--position-common-sd-mm`) if you know it from a long stand on a known point.",
    ),
    (
        "V008",
        "Shots that the calibration in use was fitted to.\nA fit agrees with what it was fitted to because it was made to; that proves nothing.\nThey are left out of the check, and four others are needed. Shoot poses that the calibration has not seen.",
    ),
    (
        "V009",
        "A calibration is used, and this job holds no record of what it was fitted to.\nShots that it was fitted to agree with it because it was made to; here nobody can say whether these are among them.\nWork in the job in which it was made, or see to it that these shots were taken afterwards.",
    ),
    (
        "V010",
        "A limit did not hold when it was touched at low speed.\nStop work near it and have a competent person find out why.\nholdline is no safety function and stops nothing.",
    ),
    (
        "V011",
        "The limits were not tried this morning.\nTouch each at low speed before any work near what it guards.",
    ),
    (
        "V012",
        "Nobody looked at the tooth.\nA worn tooth digs higher than shown; a fresh one digs lower.",
    ),
    ("V013", "The entry has no initials."),
    (
        "C040",
        "These shots leave something open that nothing else says.\nA link that never turns cannot be told from the place of the pin it hangs on; two links that keep one angle act as one.\nMeasure the poses that the message asks for, or give tape lengths as a guess: then what is open stays at the guess, and is said.",
    ),
    (
        "C041",
        "A shot lacks a reading or a coordinate, or one of them is not a number.\nA shot whose links were not all read tells nothing about where they are.",
    ),
    (
        "C042",
        "The tooth does not come to the ground on which the tracks stand.\nA boom foot at the wrong height, a length in another unit or a stroke that is mistyped looks like this.",
    ),
    (
        "C043",
        "A circle needs three points or more, each with its coordinates and how well they were measured.\nWithout stated uncertainties nobody can say how sure its centre is.",
    ),
    (
        "C044",
        "The points lie on a line or in one place, so that any circle passes them.\nTurn the house or the joint through as much of its way as there is.",
    ),
    (
        "C045",
        "How many positions of a swing circle are independent lies between three and all of them.\nSatellite positions share their error for one to ten minutes: ten epochs of one second are one position.",
    ),
    (
        "C046",
        "The line along the boom is too short to say which way the boom points.\nReach out with boom and stick alone, the house held still.",
    ),
    (
        "C050",
        "The range of boom, stick or bucket is not known, so nobody knows which poses the machine can go to.\nMeasure the cylinder's pins and stroke, or state the range on the sheet.",
    ),
    (
        "C051",
        "No pose keeps the tooth over the floor asked for and ahead of the house.",
    ),
    (
        "C052",
        "An uncertainty on the sheet or in the question is zero or missing, so that a pose cannot be weighed.",
    ),
    (
        "C053",
        "How well a shot is measured was not stated, or something asked is not a number.\nWhich poses are best depends on it: state it, from the instrument's sheet and the way the point is met.",
    ),
];
