//! The long story of this crate's own codes and of the workbench's doors.

/// Code and long text, in order of the codes.
pub const EXPLAIN: &[(&str, &str)] = &[
    (
        "F064",
        "The file is none that holdline knows.\n\
         A machine sheet begins with format = \"holdline.machine\"; observations, calibrations and terms say theirs in the same way.\n\
         Tables are told apart by the names in their first line: kind and target for observations, surveyed_… for check shots, northing_m and easting_m for control, boom_deg and the like for readings.\n\
         Name the columns so, with the unit at the end of each name.",
    ),
    (
        "F065",
        "A document of one kind was named where another is needed.\n\
         Usually two hashes or two names were swapped.\n\
         Look at the list of documents, where the kind stands beside each.",
    ),
    (
        "F067",
        "What was asked for on the command line cannot be done as it was asked.\n\
         The message says what would do.",
    ),
    (
        "R040",
        "A record can only be replaced by a later record that says something itself.\n\
         Make the new check first. Then say that it takes the place of the old one, and why.\n\
         The old record stays in the chain and on its sheets it says that it was superseded.",
    ),
    (
        "R041",
        "A sign-off is a person's word; nothing was computed for it.\n\
         Its hash, and its key's signature where it has one, are checked with the chain.",
    ),
    (
        "R042",
        "This kind of record has no sheet of its own.\n\
         Sheets are drawn for checks, morning checks, machines as measured up, calibrations, budgets and hand-overs; a sign-off, or a record that only replaces another, stands on the sheet of the record that it names. Print that one.",
    ),
    (
        "R043",
        "The sheet has fewer pages than that. The message says how many.",
    ),
    (
        "T030",
        "A joint was named that no excavator here has.\n\
         The words are those of the machine sheet: swing, post, boom, boom-upper, offset, stick, bucket, tilt, rotation.",
    ),
    (
        "T031",
        "A figure that was typed cannot be meant so: it is not a number, or no machine stands or reaches so.\n\
         The message gives what would do. Degrees and metres are asked for; radians and feet typed there look like this.",
    ),
    (
        "T032",
        "A place on the site was asked for, but nobody said where the machine stands.\n\
         Give easting, northing and elevation of the point where the swing axis meets the ground under the tracks.",
    ),
    (
        "T033",
        "Something that moves the tooth has no stated uncertainty, so the tooth has none either.\n\
         The figure is still shown, and says so. Where a tolerance is judged, it counts as not known.\n\
         Measure it again with a known instrument, or ask who measured it, and type the standard uncertainty.",
    ),
    (
        "T041",
        "A position is there, but nothing says which way the boom points.\n\
         One antenna alone says where it is. Two antennas, or one and a heading, place the tooth on the site.\n\
         Add the column of the heading or of the second antenna, or write down what the display showed.",
    ),
    (
        "T042",
        "A position is there, but the machine sheet has no antenna that it could be the position of.\n\
         Measure the antenna from the swing axis, forward, left and up, and put it on the sheet.",
    ),
    (
        "R044",
        "A hash of the job does not fit what it stands for: a document or a record was damaged or changed.\n\
         No sheet is printed from such a job, since it would look as good as a sound one.\n\
         `holdline record verify` names the first that is wrong. Go back to a copy that is whole.",
    ),
    (
        "V030",
        "A standard uncertainty must be above zero.\n\
         Zero would say that the figure is exact, which nobody can measure.\n\
         Leave it empty if nobody knows it: then it counts as unknown.",
    ),
    (
        "V031",
        "What the job allows was given as an amount that cannot be.\n\
         Give metres, without a sign, up and down each for itself. 30 typed for 30 mm looks like this.\n\
         The figure comes from the contract or the engineer; there is no usual value that stands in for it.",
    ),
    (
        "V032",
        "There is nothing to check, or two things at once.\n\
         A check takes a document of shots, or rows typed by hand.",
    ),
    (
        "V033",
        "A typed row cannot be used.\n\
         Every row needs a name of its own, and at least one coordinate both as shown and as surveyed.",
    ),
    (
        "V034",
        "Something in the morning's entry is missing or cannot be meant so.\n\
         Bench, height shown and height known are needed.\n\
         Whether limits were tried is asked, not assumed: not answered counts as not tried.",
    ),
    (
        "V035",
        "The shots were taken of one tooth point, and another one is chosen.\n\
         A record of the one would say that the other was proved.\n\
         Choose the tooth point that was shot, or shoot the one that is chosen.",
    ),
    (
        "V036",
        "A morning's record names the morning before it, and that one is not in the chain.\n\
         The step between the two cannot be judged without it.\n\
         Take the job from a copy that holds it.",
    ),
    (
        "V040",
        "A calibration says the hash of the machine sheet that it was made on, and this sheet is another.\n\
         Even one changed figure changes what the calibration means: it was found together with all the others.\n\
         Calibrate again on the sheet as it is now, from the same observations if nothing on the machine has changed; or take the sheet that was calibrated.",
    ),
    (
        "V041",
        "The calibration was made with another coupler or bucket than the one in use.\n\
         Lengths and sensors of boom and stick carry over. What the shots could not tell apart, such as the bucket sensor's offset and the tooth's place, does not.\n\
         Shoot one check with this tool before relying on it, or calibrate with it.",
    ),
    (
        "V060",
        "The sheet has no bucket, so nothing can be said of what the machine can do: every job is one with a tooth.\n\
         Measure a bucket and its tooth points first.",
    ),
    (
        "V061",
        "The demo's own calibration was not believed, so nothing that stands on it was made.\n\
         The demo's files are made to be believed: look at the record of the fit, which says why, and at what was changed.",
    ),
    (
        "V042",
        "A calibration needs something that was measured.\n\
         `holdline calibrate next` plans the first day and writes a file to fill in.",
    ),
    (
        "V043",
        "A calibration cannot stand on another calibration.\n\
         The earlier one rests on observations; give those and the new ones together, and all are weighed at once.",
    ),
    (
        "V044",
        "The number of poses is none, or more than anybody measures in a day.\n\
         Ask for a few, measure them, fit, and ask again: the next ones depend on what was found.",
    ),
    (
        "V045",
        "The observations were made with another machine or another tool than the one chosen.\n\
         The file says the machine, coupler and bucket that hung there; name the same, or take the file of this machine.",
    ),
    (
        "V046",
        "Two documents of observations use the same name for a row.\n\
         Every observation is told of by its name, in the report and among what was rejected: give each its own.",
    ),
    (
        "V047",
        "Something about the fit that a person must look at. The sentence says what.",
    ),
    (
        "V048",
        "Some rows give a figure by themselves: an antenna's circle its distance from the swing axis, two arcs the length between two pins, a turned house its sensor's offsets.\n\
         Here that is more than three standard uncertainties from what the fit of all observations has. One of the two rests on something wrong: a row, a tape length, a figure that was held as on the sheet, or a part that was moved between the rows. Find it before the calibration is used.",
    ),
    (
        "V049",
        "An observation does not agree with all the others by far more than its own stated uncertainty, and was taken out.\n\
         It stays in the document and in the report. Read the field book again: turned digits, a wrong prism height and a wrong tooth look like this. If it was right, something else is wrong, and the fit says so by rejecting more.",
    ),
    (
        "V050",
        "An uncertainty, a tolerance, a speed or a number of points that cannot be.\n\
         Millimetres typed as metres look like this. Leave out what nobody knows: it then counts as unknown, and the answer says so. Zero says that it was looked at and is nothing.",
    ),
    (
        "V051",
        "The work was stopped before it was done. Nothing was recorded.",
    ),
    (
        "W001",
        "The workbench answers only to whoever has the token of this start.\n\
         It stands in the address that was printed when it was started, behind the #.\n\
         Other users of this computer, and pages of other sites, do not have it. After a restart there is a new one.",
    ),
    (
        "W002",
        "The address named another host than this computer's own.\n\
         A page of somebody else can point a name of its own at this computer; so only 127.0.0.1, localhost and [::1] with the right port are taken.\n\
         Open the address that was printed at start.",
    ),
    (
        "W003",
        "A page that is not the workbench's own asked.\n\
         Nothing was done. Close that page.",
    ),
    (
        "W004",
        "The browser says that another site started this.\n\
         Type or paste the address instead of following a link.",
    ),
    (
        "W005",
        "The workbench has no such call.\n\
         Page and server may be of two versions: load the page again.",
    ),
    (
        "W006",
        "What was sent is larger than the workbench takes in one go.\n\
         The command line takes larger documents; streams of readings need not be imported at all.",
    ),
    (
        "W007",
        "The workbench takes JSON here, and the sender said that it is something else.",
    ),
    (
        "W008",
        "The body could not be read: something is missing, or of another kind than asked.\n\
         The message names the place. Page and server may be of two versions: load the page again.",
    ),
    (
        "W010",
        "No job is open. Open one, make a new one, or make the demo job.",
    ),
    (
        "W011",
        "A path was asked for and none was given, or it holds a character that no path has.",
    ),
    (
        "W097",
        "The port could not be had.\n\
         Another program, perhaps another workbench, has it. Use port 0, which picks a free one.",
    ),
    (
        "W098",
        "The system gave no random bytes, so no token could be made, and nothing was served.\n\
         Without a token every program on this computer could use the workbench.",
    ),
    (
        "W099",
        "A fault of holdline itself.\n\
         What was said to be saved is saved. Report it, with what was done before.",
    ),
];
