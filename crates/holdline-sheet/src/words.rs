//! Every word that the sheets themselves say, in one table, so that a language is a file.

use std::borrow::Cow;

macro_rules! words {
    ($($name:ident: $english:literal,)*) => {
        /// The words of the sheets.
        #[derive(Debug, Clone, PartialEq, Eq)]
        pub struct Words {
            $(#[doc = $english] pub $name: Cow<'static, str>,)*
        }

        impl Words {
            /// English.
            pub const ENGLISH: Words = Words { $($name: Cow::Borrowed($english),)* };

            /// Name and English of every entry: what a translator fills in.
            pub const TABLE: &'static [(&'static str, &'static str)] =
                &[$((stringify!($name), $english),)*];

            /// The same table with every entry put through `change`, which gets name and English.
            pub fn translated(mut change: impl FnMut(&str, &str) -> String) -> Words {
                Words { $($name: Cow::Owned(change(stringify!($name), $english)),)* }
            }
        }
    };
}

words! {
    job: "Job",
    machine: "Machine",
    bucket: "Bucket",
    tooth_point: "Tooth point",
    units: "Units",
    date: "Date",
    record: "Record",
    chain: "Chain ends with",
    scale: "Scale",
    sheet: "Sheet",
    of: "of",
    made_by: "Made with",
    not_signed: "NOT SIGNED",
    signed_by: "SIGNED by",
    superseded_by: "SUPERSEDED by record",
    stale: "STALE",
    was_signed_by: "It was signed by",
    it_said: "It said",
    do_not_use: "DO NOT USE",
    no_longer: "superseded by record",
    out_of_date: "stale",
    recheck_due: "full re-check due",
    limit_failed: "a limit failed",
    not_stated: "not stated",
    caution_people: "Nobody in the swing or under the bucket.",
    preview: "PREVIEW, not a record",
    caution: "Caution",
    not_to_scale: "not to scale",
    coverage_twice: "± is the expanded uncertainty, k = 2, about 95 %",
    coverage_short: "± holds about 95 % (k = 2)",
    section: "Section in the boom plane",
    section_short: "Section",
    plan: "Plan",
    legend: "Legend",
    line_steel: "steel seen",
    line_axis: "axis, boom plane",
    line_other: "other position",
    line_tail: "sweep of the tail",
    ground: "ground",
    no_go: "no-go",
    concrete: "concrete",
    water: "water",
    cut: "cut",
    fill: "fill",
    tooth_mark: "tooth point",
    swing_axis: "swing axis",
    bench: "bench",
    outside_range: "outside its range",
    grid_north: "grid N",
    measured: "Measured",
    value: "Value",
    uncertainty: "Uncertainty",
    remark: "Remark",
    figures: "Figures",
    shot: "Shot",
    shown: "shown",
    control: "control",
    difference: "Difference, shown − control",
    differences: "Differences, shown − control",
    mean: "mean",
    mean_95: "mean and its 95 % interval",
    tolerance: "tolerance",
    bar_is_95: "bar: difference and its k = 2 uncertainty",
    bar_not_known: "open mark: no uncertainty stated",
    decision: "Decision",
    component: "Direction",
    sd: "Sd",
    interval_95: "95 % of the mean",
    number_of_shots: "Shots",
    history: "Daily checks",
    due: "Full re-check",
    day: "Date",
    who: "Who",
    result: "Result",
    card: "Operator's card",
    five_figures: "Your figures",
    check_bench: "Check on the bench",
    allowed: "allowed difference",
    not_covered: "Not covered",
    shift_test: "Shift test",
    call: "Call",
    coupler: "Coupler",
    measured_by: "Measured by",
    dimension: "Dimension",
    between: "Between",
    continued: "continued",
    findings: "To be looked at",
    readiness: "What this machine can do as it is fitted out",
    ready: "Ready",
    ready_now: "now",
    not_yet: "not yet",
    not_known: "not known",
    has: "It has",
    missing: "Missing",
    hand_over: "The calibration as numbers to be keyed into",
    key_in: "Key in, in this order",
    cannot_be_keyed: "cannot be keyed",
    rounding: "rounding moves the tooth by",
    rounding_not_known: "what rounding moves at the tooth is not known",
    before_rounding: "before rounding",
    not_carried: "Not carried over",
    proof: "Proof: read the tooth back",
    proof_words: "Set each pose, read the tooth where the machine shows it, compare with the figures in bold: forward of the swing axis, left of it, above the track underside. Δ: as keyed less as calibrated.",
    allowed_at_tooth: "may differ by",
    sign_here: "Keyed as written here, and the tooth read back",
    name_and_signature: "name, signature",
    diagnosis: "Diagnosis",
    nothing_adjusted: "Nothing has been adjusted. Look at the machine, cure what is found, then measure again.",
    look_first: "Look here first",
    hypotheses: "What may be wrong, and what it leaves unexplained",
    hypothesis: "If it is",
    estimates: "How far off",
    estimate: "by",
    what_is_off: "then this is off",
    next_shot: "The shot that would decide",
    nothing_wrong: "nothing wrong: χ²",
    n_differences: "differences",
    more_leave: "more leave χ² of at least",
    off_in_section: "Shown − control in the boom plane",
    off_in_plan: "Shown − control in plan",
    tooth_sure: "How sure the tooth is",
    calibrated_figures: "Figures of the machine, before and now",
    figure_not_determined: "not determined",
    not_determined: "Not determined by these observations",
    residuals: "Residuals, by kind and pose",
    residual_kept: "residual, in its own sd",
    residual_unchecked: "unchecked: nothing else would show an error here",
    residual_rejected: "rejected, with its name",
    residual_beyond: "beyond the limit, kept",
    no_pose: "no pose",
    in_its_sd: "in its sd",
    rejected: "Rejected",
    unchecked: "unchecked",
    correlations: "Correlations of the figures",
    strong_pairs: "Strong pairs, from ±0.9",
    no_strong_pair: "No pair of figures is correlated by ±0.9 or more.",
    more: "more",
    matrix_too_large: "There are more figures than lines on the sheet: the strong pairs stand below.",
    correlation_size: "size of the correlation, the sign stands in the cell",
    poses_measured: "Poses measured",
    at_each_pose: "What was measured at each",
    pose_line: "A, B, C, tooth of a pose measured",
    next_line: "of a pose still to be measured",
    next_poses: "Best next poses, in this order",
    reliability: "What the observations check in each other",
    reliability_words: "Redundancy 1: wholly checked by the others; 0: by none. Detectable: the least gross error that the test finds, at its stated level and power. At the tooth: what such an error, unfound, moves the tooth at the worst pose.",
    every_observation: "Every observation",
    to_look_at: "Observations to look at",
    to_look_at_words: "Listed are those that were rejected, that nothing checks, or that lie beyond twice their own uncertainty. All others are checked and lie within it; the record holds every one.",
    figure_name: "Figure",
    before: "before",
    now: "now",
    change: "change",
    was: "was",
    observation: "Observation",
    pose: "Pose",
    kind: "Kind",
    residual: "residual",
    why: "Why",
    how: "How",
    number: "number",
    redundancy: "redundancy",
    least_redundancy: "least redundancy",
    detectable: "detectable",
    largest_detectable: "largest detectable error",
    at_tooth: "at the tooth",
    at_tooth_worst: "at the tooth, worst",
    forward: "forward",
    left_way: "left",
    up_way: "up",
    no_map: "There is no map: nothing within reach was found, or nothing is known there.",
    uncertainty_map: "Map of the tooth's uncertainty",
    limit_of_reach: "limit of reach",
    not_held: "not held",
    u_above: "U above",
    below: "below",
    ellipse_twice: "ellipse of the tooth, k = 2",
    times_its_size: "times its size",
    budget_map_plan: "in plan",
    budget_map_section: "in the boom plane",
    at_pose: "At the pose",
    shares: "Where it comes from: parts of the variance",
    would_help: "What would help most",
    growth: "2D over moves of the tracks",
    moves: "Moves of the tracks, each with a touch before and after",
    u_twice: "U, k = 2",
    direction: "Direction",
    task: "Task",
    three_d: "3D",
    makes: "makes",
    from: "from",
    to: "to",
    caution_card: "This card knows no line, pipe or person and stops nothing. Local rules and the competent person decide.",
    caution_plan: "holdline plans and checks; it steers nothing and is no safety function. Local codes, the owner of the service and the competent person on site decide.",
}

/// Words for a test of room: every word half as long again. Figures and signs stay as they are.
pub fn half_longer(text: &str) -> String {
    text.split(' ')
        .map(|word| {
            let letters = word.chars().filter(|c| c.is_alphabetic()).count();
            if letters < 2 {
                return word.to_owned();
            }
            let more: String = word
                .chars()
                .filter(|c| c.is_alphabetic())
                .cycle()
                .take(letters.div_ceil(2))
                .collect();
            format!("{word}{more}")
        })
        .collect::<Vec<_>>()
        .join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::font::Face;

    #[test]
    fn every_word_can_be_lettered() {
        for (name, english) in Words::TABLE {
            for face in Face::ALL {
                assert!(face.covers(english), "{name}: {english}");
            }
        }
    }

    #[test]
    fn half_longer_is_half_longer() {
        assert_eq!(half_longer("boom pin"), "boombo pinpi");
        assert_eq!(half_longer("5.720 m"), "5.720 m");
    }
}
