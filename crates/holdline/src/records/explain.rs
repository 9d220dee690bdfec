//! The long story of every fault of this room, for `holdline explain CODE`.

/// Code and long text, in order of the codes.
pub const EXPLAIN: &[(&str, &str)] = &[
    (
        "R001",
        "A hash was expected and something else was found.\n\
         A hash has 64 digits, 0 to 9 and a to f, in small letters.\n\
         It happens when a hash is copied in part, or in capitals.\n\
         Copy it whole. The short form on a list is for the eye only.",
    ),
    (
        "R002",
        "A record was to hold a number that is none, or infinity.\n\
         This is a fault of the program that made the result, or of a reading that should have been refused before.\n\
         Nothing was written. A value that is missing must be left out, so that it is seen to be missing.",
    ),
    (
        "R003",
        "One object holds the same name twice.\n\
         Two programs could read two different values from it, so it cannot be signed.\n\
         Take one of the two out.",
    ),
    (
        "R004",
        "The text is not JSON.\n\
         If it is the body of a record, the job file was changed or is damaged at this place.\n\
         Run `holdline record verify`; take the record from a copy of the job.",
    ),
    (
        "R005",
        "The body of a record is JSON, but not in the one form that is hashed.\n\
         Holdline always writes that form, so something else wrote this.\n\
         Do not trust the record; take it from a copy of the job.",
    ),
    (
        "R006",
        "The body of a record is in order as JSON, but is no record that this program knows.\n\
         A newer holdline may have written it, or it was changed by hand.\n\
         Open the job with the newest holdline you have. If that does not know it either, treat it as damaged.",
    ),
    (
        "R007",
        "A sign-off lacks something, or something in it is not what it should be.\n\
         It counts for nothing: the record that it should sign is unsigned until somebody signs again.",
    ),
    (
        "R010",
        "The time of a record must be in UTC, written like 2026-05-04T06:10:00Z.\n\
         Local time is not taken, because two places would then disagree on what came first.",
    ),
    (
        "R011",
        "A name, role, title or kind must be one line of 1 to 200 characters without control characters.\n\
         A line break in a name could make two different records look the same to the hash.",
    ),
    (
        "R020",
        "The records do not follow each other without a gap.\n\
         A record was taken out or put in after it was made, or the file is damaged.\n\
         Records before this one are still good, as far as the check got.\n\
         Compare the last hash with the one on a printed sheet, and go back to a copy made before the change.",
    ),
    (
        "R021",
        "A record names another record before it than the one that is there.\n\
         The record before was changed or exchanged, or the chain was cut and joined.\n\
         Trust neither; go back to a copy, and compare with the hashes on printed sheets.",
    ),
    (
        "R022",
        "The hash of a record's link is not the hash of what it holds.\n\
         Its time, its name, the hash of its body or the hash of the record before was changed.\n\
         Trust no record from here on; go back to a copy.",
    ),
    (
        "R030",
        "The signature of a sign-off does not fit what it signs and the key that it names.\n\
         Something was changed after signing, or another key was used.\n\
         The record counts as unsigned by that key.",
    ),
];

#[cfg(test)]
mod tests {
    use super::*;

    /// Every code that this room gives has a story, and every story a code.
    #[test]
    fn codes_and_stories_match() {
        let product = [
            include_str!("chain.rs"),
            include_str!("entry.rs"),
            include_str!("hash.rs"),
            include_str!("json.rs"),
            include_str!("read_json.rs"),
            include_str!("sign_off.rs"),
            include_str!("stamp.rs"),
        ];
        let given: std::collections::BTreeSet<&str> = product
            .iter()
            .flat_map(|text| text.split("\"R").skip(1).filter_map(|rest| rest.get(..3)))
            .filter(|digits| digits.bytes().all(|b| b.is_ascii_digit()))
            .collect();
        let told: Vec<&str> = EXPLAIN.iter().map(|(code, _)| &code[1..]).collect();
        assert_eq!(told, given.into_iter().collect::<Vec<_>>());
    }
}
