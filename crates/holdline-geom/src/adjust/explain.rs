//! The long story of every `A…` code.

/// Code and what it means, how it happens, what to do.
pub const EXPLAIN: &[(&str, &str)] = &[
    (
        "A001",
        "An adjustment without unknowns.\nNothing was asked to be found.\nName at least one figure to be solved.",
    ),
    (
        "A002",
        "An unknown without a usable start or scale.\nThe start is a first guess, a tape's figure or the drawing's; the scale is the size of a usual change, and puts lengths and angles on one footing.\nBoth must be numbers, the scale above zero.",
    ),
    (
        "A003",
        "Values or uncertainties that cannot be.\nEvery value must be a number and every uncertainty above zero; correlations must be able to exist together.\nA correlation of 1 or more, or three that contradict each other, make a covariance that no measurement can have.\nLook at the uncertainties and correlations as given, and at units: millimetres typed as metres.",
    ),
    (
        "A004",
        "The adjustment was asked with lists that do not fit together.\nThis is a mistake in the program that asked, not in what was measured.\nPlease report it with the file that brought it about.",
    ),
    (
        "A005",
        "A constraint that says nothing new, or contradicts the others.\nTwo equal constraints, or three of which one follows from the other two, cannot be kept apart.\nLeave one out, or correct it.",
    ),
    (
        "A006",
        "The adjustment did not settle.\nMostly the first guess is far off, an angle has the wrong sign, or one reading is typed wrong by a lot.\nBegin nearer to what was measured; look at the reading with the largest difference first.",
    ),
    (
        "A007",
        "The equations have no value at the start or next to it.\nMostly a chain of lengths that cannot close there.\nBegin with figures measured by tape.",
    ),
    (
        "A009",
        "An equation without a reading that has an uncertainty.\nAn equation without uncertainty would outweigh everything else.\nGive the readings in it their uncertainties; what must hold exactly is a constraint.",
    ),
];
