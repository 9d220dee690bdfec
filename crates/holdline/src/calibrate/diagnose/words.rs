//! A diagnosis in sentences.

use super::told::{Diagnosis, Outcome, Suspect, Unit};

/// Sentences, first things first.
pub(super) fn of(diagnosis: &Diagnosis) -> Vec<String> {
    let mut words = Vec::new();
    let set: Vec<&Suspect> = diagnosis.suspects.iter().filter(|s| s.in_set).collect();
    match diagnosis.outcome {
        Outcome::NothingShown => {
            words.push("These shots do not tell which thing is wrong, if any.".to_owned());
            words.push(
                "That does not say that nothing is: each fault has a size below which they cannot see it.".to_owned(),
            );
            words.extend(would_show(diagnosis));
            return words;
        }
        Outcome::Single if set.len() == 1 => {
            words.push(format!("One fault explains these shots: {}.", said(set[0])));
        }
        Outcome::Single => {
            words.push(format!(
                "Something is off. {} faults explain these shots, and they cannot be told apart by them:",
                set.len()
            ));
            words.extend(set.iter().map(|s| format!("{}.", said(s))));
        }
        Outcome::Double => {
            words.push("No single fault explains these shots; two together do:".to_owned());
            let doubles = diagnosis.doubles.iter().filter(|d| d.in_set);
            words.extend(doubles.clone().map(|d| format!("{}.", d.says)));
            let mut both: Vec<usize> = doubles.flat_map(|d| d.suspects).collect();
            both.sort_unstable();
            both.dedup();
            let suspects = both.iter().filter_map(|idx| diagnosis.suspects.get(*idx));
            words.extend(suspects.map(look_first));
        }
        Outcome::SomethingElse => {
            words.push(
                "Something is off that nothing on the list explains: something else, or more than one thing.".to_owned(),
            );
            if let Some(nearest) = set.first() {
                words.push(format!(
                    "Nearest comes: {}; it leaves a χ² of {:.0} in {} differences.",
                    said(nearest),
                    nearest.chi2_left,
                    diagnosis.n_differences
                ));
            }
            words.push("Repeat the shots that are furthest off, then look at the survey: control, prism constant, target height.".to_owned());
        }
    }
    for suspect in &set {
        let look = look_first(suspect);
        if !words.contains(&look) {
            words.push(look);
        }
    }
    words.push(
        "Nothing was changed. Never trim out an error in a figure that is not its cause."
            .to_owned(),
    );
    words
}

/// What they would show in 80 of 100 such series, for what drifts most often.
fn would_show(diagnosis: &Diagnosis) -> Option<String> {
    let usual = |id: &str| {
        ["sensor[", "heading", "tooth.along", "shift.up"]
            .iter()
            .any(|begins| id.starts_with(begins))
    };
    let mut sizes: Vec<(&str, String)> = Vec::new();
    for explanation in diagnosis.suspects.iter().flat_map(|s| &s.explanations) {
        if let ([estimate], true) = (explanation.estimates.as_slice(), usual(&explanation.id)) {
            let size = estimate.detectable_by_rule;
            let size = match estimate.unit {
                Unit::Metre => format!("{:.0} mm", size * 1e3),
                Unit::Radian => format!("{:.2}°", size.to_degrees()),
                Unit::Second => format!("{size:.2} s"),
            };
            sizes.push((&explanation.id, format!("{} {size}", estimate.name)));
        }
    }
    sizes.sort();
    let sizes: Vec<String> = sizes.into_iter().map(|(_, size)| size).collect();
    (!sizes.is_empty()).then(|| {
        format!(
            "They would show, four times in five, from about: {}.",
            sizes.join(", ")
        )
    })
}

fn look_first(suspect: &Suspect) -> String {
    format!("Look first at: {}.", suspect.look_at)
}

/// An explanation that leaves this much more χ² than the best is not named beside it.
const AS_GOOD: f64 = 4.0;

/// A suspect with its figure, and what else has the same signature.
fn said(suspect: &Suspect) -> String {
    let Some(best) = suspect.explanations.first() else {
        return suspect.words.clone();
    };
    let mut text = format!("{} ({})", best.words, best.says);
    let others: Vec<&str> = suspect.explanations[1..]
        .iter()
        .filter(|e| e.chi2_left - best.chi2_left < AS_GOOD)
        .map(|e| e.says.as_str())
        .collect();
    if !others.is_empty() {
        text.push_str(&format!("; the same to these shots: {}", others.join("; ")));
    }
    if best.beyond_usual {
        text.push_str("; more than this kind of fault usually comes to");
    }
    text
}
