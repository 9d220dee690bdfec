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
