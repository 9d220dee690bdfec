//! The long story of every fault of this crate, for `holdline explain CODE`.

/// Code and long text, in order of the codes.
pub const EXPLAIN: &[(&str, &str)] = &[
    (
        "S001",
        "There is no file or folder of that name.\n\
         Often the stick is not plugged in, the network drive is away, or the name has a typing error.\n\
         Nothing was made in its place: a job that was not found must not turn into an empty one.",
    ),
    (
        "S002",
        "The file is not a job file, or it is a folder.\n\
         A machine sheet, a file of shots or a drawing is a document: open or make a job, then import the document into it.\n\
         The file was not touched.",
    ),
    (
        "S003",
        "The file is a database, but another program's.\n\
         Choose the job file. This one was not touched.",
    ),
    (
        "S004",
        "A newer holdline made this job, or wrote to it, and this program does not know how it keeps things.\n\
         It does not open it even to read, because a record shown in a wrong sense is worse than one not shown.\n\
         Install the newer holdline, or ask for a printed sheet. The file was not touched.",
    ),
    (
        "S005",
        "The file has nothing in it.\n\
         The computer stopped, or the disk was full, at the moment the job was being made; or another program is making it right now.\n\
         If a file with -journal at the end of its name stands beside it, delete both. Then make the job again.",
    ),
    (
        "S006",
        "There is a file of that name already, and holdline overwrites no file.\n\
         Open the one that is there, or choose another name.",
    ),
    (
        "S007",
        "The file, its folder or the whole disk cannot be written.\n\
         It happens on a write-protected stick or card, a folder of another user, or a CD.\n\
         To save safely, holdline must also be able to make a second file beside the job for a moment, so the folder counts too.\n\
         Open the job to read only, or copy it to a folder of your own. All that was saved before is there.",
    ),
    (
        "S008",
        "The disk, or your share of it, is full.\n\
         This save did not happen. Everything that was saved before is there and whole.\n\
         Make room, about twice the size of what is to be saved, and save again.",
    ),
    (
        "S009",
        "Another window or program has been writing to the job for more than five seconds.\n\
         This save did not happen and nothing is lost.\n\
         Close the job there, or wait for its import to end, and try again.\n\
         On a network drive that answers slowly, copy the job to the laptop and work there.",
    ),
    (
        "S010",
        "The file is damaged: cut short, overwritten in part, or on a disk that is failing.\n\
         A copy made while the job was being saved can look like this too, if the -journal file beside it was left behind.\n\
         Do not work on. Keep the file as it is. Take the newest copy, check it with `holdline record verify`,\n\
         and compare its last hash with the one on the last printed sheet.",
    ),
    (
        "S011",
        "The disk, stick or network drive reported an error.\n\
         What was saved before is there, as far as the disk still gives it back.\n\
         Whether the very last save is there cannot be told from here: open the job again and look.\n\
         Then copy the job to another disk and check it there.",
    ),
    (
        "S012",
        "The file or its folder is there, but this user may not open it.\n\
         Look at the rights of file and folder, or ask whoever owns them.",
    ),
    (
        "S013",
        "A crash cut off a save, and this opening may only read, so it cannot take the half save back.\n\
         The file with -journal at the end of its name belongs to the job. Do not delete it: without it the job may be damaged.\n\
         Copy both to a folder that can be written and open the copy. Nothing that was said to be saved is lost.",
    ),
    (
        "S014",
        "The job was opened to read only, so it cannot take a document, a record or a sign-off.\n\
         Open it to write.",
    ),
    (
        "S015",
        "The tables of the job, or the guards that keep records from being changed, are not as holdline makes them.\n\
         Some other program worked on the file. Records may have been changed; the check of the chain tells.\n\
         Holdline does not write to such a file. Open it to read, run the check, and go on from a copy made before.",
    ),
    (
        "S016",
        "An older holdline made the job, and it was opened to read only, so its tables cannot be brought up to date.\n\
         Open it to write once. If it must stay as it is, make a copy and open that.",
    ),
    (
        "S017",
        "The file was moved, renamed or deleted while it was open, or the stick was pulled.\n\
         A save now would go to a file that nobody finds, so it was refused.\n\
         Put the file back, or open it where it is now, and save again.",
    ),
    (
        "S020",
        "No document in this job has that hash.\n\
         The hash may be of another job, or copied in part.",
    ),
    (
        "S022",
        "A document may have up to 500 MB.\n\
         Cut logs by day or by machine, and point clouds by area.",
    ),
    (
        "S024",
        "The name belongs to a document of another kind.\n\
         Every version of one name is of one kind, or a record could not tell that what it rests on has changed.\n\
         Add the document under another name.",
    ),
    (
        "S030",
        "There is no such record in this job, or its body is not the one that was to be signed.\n\
         Look at the list of records. If two people work on the job, the list may be older than the job: open it again.",
    ),
    (
        "S031",
        "A record was to rest on a document that is not in the job, or not under that name and kind.\n\
         It was not saved, because nobody could compute it again. Add the document first.",
    ),
    (
        "S032",
        "The record has been superseded already, by the one that is named.\n\
         A line of records has one newest. Supersede that one.",
    ),
    (
        "S033",
        "A sign-off signs a record that holds a result; it cannot be signed or superseded itself.\n\
         To withdraw a sign-off, make a new record that supersedes the one it signs, and say why in its title.",
    ),
    (
        "S040",
        "The content of a document does not have the hash under which it was added.\n\
         The file was changed or damaged. No record that rests on this document can be computed again from this job.\n\
         Add the document again from where it came from; if the hash is the same, nothing of it was lost.\n\
         Else go back to a copy of the job.",
    ),
    (
        "S041",
        "The body of a record does not have the hash under which it was recorded.\n\
         The file was changed or damaged after the record was made. Do not trust the record, signed or not.\n\
         Take it from a copy of the job, or from the printed sheet.",
    ),
    (
        "S042",
        "No record in this job has the hash that was given.\n\
         If it was read from a sheet of this very job, records were taken off the end, or exchanged, after printing.\n\
         A chain cut at the end is still whole in itself; the printed hash is what tells.",
    ),
    (
        "S043",
        "The list of records says something else than the body of the record.\n\
         The body is under the hash and counts; the list was changed or damaged.\n\
         Go back to a copy of the job.",
    ),
    (
        "S044",
        "The list of documents was changed or damaged: a kind, name, time, number or hash is not as it was written.\n\
         What a record rests on is under the record's own hash and was checked by itself.\n\
         Go back to a copy of the job.",
    ),
    (
        "S060",
        "The program tried to change or take out what may only be added to, and the job file refused.\n\
         Nothing was changed. This is a fault of holdline; report it with what you did before.",
    ),
    (
        "S099",
        "Something happened in the job file that holdline does not expect.\n\
         Everything saved before is there. Report it with the text of the message.",
    ),
];

#[cfg(test)]
mod tests {
    use super::*;

    /// Every code that this crate gives has a story, and every story a code.
    #[test]
    fn codes_and_stories_match() {
        let product = [
            include_str!("backup.rs"),
            include_str!("documents.rs"),
            include_str!("fault.rs"),
            include_str!("job.rs"),
            include_str!("records.rs"),
            include_str!("verify.rs"),
        ];
        let given: std::collections::BTreeSet<&str> = product
            .iter()
            .flat_map(|text| text.split("\"S").skip(1).filter_map(|rest| rest.get(..3)))
            .filter(|digits| digits.bytes().all(|b| b.is_ascii_digit()))
            .collect();
        let told: Vec<&str> = EXPLAIN.iter().map(|(code, _)| &code[1..]).collect();
        assert_eq!(told, given.into_iter().collect::<Vec<_>>());
    }
}
