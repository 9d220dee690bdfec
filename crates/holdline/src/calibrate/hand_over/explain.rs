//! The long story of every `H…` code.

/// Code and what it means, how it happens, what to do.
pub const EXPLAIN: &[(&str, &str)] = &[
    (
        "H001",
        "An entry joins points that a joint moves against each other, so that it has no fixed value.\nSay it by the pins between, link by link.",
    ),
    (
        "H002",
        "An entry names a figure, a tooth point, an antenna or a sensor that the machine sheet does not have.\nNames are those of the sheet; look there.",
    ),
    (
        "H003",
        "The entry's unit counts angles and the quantity is a length, or the other way round.\nOne of the two was described wrongly.",
    ),
    (
        "H004",
        "Without the least step that can be keyed nobody knows the number that goes in.\nStep the entry up once on the system and read the difference.",
    ),
    (
        "H005",
        "The range or the zero of an entry is not one.\nA range has its least number first.",
    ),
    (
        "H006",
        "A label is missing or stands twice.\nA person keys by the label, so each must be the one that stands on the system.",
    ),
    (
        "H007",
        "The description holds no entries.\nGo through the system's own pages once, and write down every number that it asks for.",
    ),
    (
        "H008",
        "The description belongs to another machine.\nTwo systems of one type may be set up differently.",
    ),
    (
        "H009",
        "An entry has no value: its points lie in one place, or a figure under it is not a number.",
    ),
    (
        "H020",
        "The number lies outside what the entry takes, so it cannot be keyed and the system keeps what it has.\nThe proof shows what that costs at the tooth.\nLook first whether zero, sign and unit were described rightly; a wrong sign looks like this.",
    ),
    (
        "H021",
        "Nobody described what the entry takes at most.\nSee on the system that it takes the number, and does not cut it short without a word.",
    ),
    (
        "H022",
        "The calibration changed a figure, and no entry, or not all of what it does, takes it over.\nThe system is taken to keep what the sheet says.\nThe figure beside it is what that costs at the tooth; whoever keys a number elsewhere to make up for it makes other poses worse.",
    ),
    (
        "H023",
        "The observations did not determine this figure, so the number keyed is one of many that fit.\nThe tooth may be right where it was measured and wrong elsewhere: measure the poses that were asked for.",
    ),
];
