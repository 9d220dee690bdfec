//! The operator's card: what to know of the tooth, what to try, whom to call.

use holdline::machine::Machine;
use holdline_geom::fault::Faults;
use holdline_geom::measured::Measured;
use holdline_sheet::figure::plain;
use holdline_sheet::page::Page;
use holdline_sheet::sheets::{Card, CardNumber, CardValue, CardWarning, render_card};

use super::block::Standing;
use super::history::limit_failed;
use super::{answer_word, model, ours, pose_of_shot, words};
use crate::drawings;
use crate::units::Units;
use crate::verify::{
    Answer, CheckBody, DailyBody, DailyEntryAsk, DecisionBody, ToleranceAsk, check_view,
    daily_view, decision_words,
};
use crate::views::ToolAsk;

fn stated(name: &str, text: String) -> CardNumber {
    CardNumber {
        name: name.to_owned(),
        value: CardValue::Stated(text),
    }
}

/// What a record says for its card.
pub(super) struct Said {
    numbers: Vec<CardNumber>,
    /// Reasons not to rely on the tooth, the worst first.
    warnings: Vec<CardWarning>,
    /// Whether the tooth may be relied on until somebody has looked.
    holds: bool,
}

fn warning(head: &str, because: String) -> CardWarning {
    CardWarning {
        head: head.to_owned(),
        because,
    }
}

/// The warning of an answer that is not: it holds.
fn answer_warning(answer: Answer, because: String) -> Option<CardWarning> {
    match answer {
        Answer::Pass => None,
        Answer::Fail => Some(warning("DO NOT USE: the tooth does not hold", because)),
        Answer::NotShown => Some(warning("NOT SHOWN: do not rely on this tooth", because)),
    }
}

/// What a full check says.
pub(super) fn check_said(body: &CheckBody, units: Units) -> Said {
    let view = check_view(body, units);
    let answer = body.decision.answer;
    let mut numbers = vec![stated("Checked", answer_word(answer).to_owned())];
    let height = |f: &&crate::views::FigureView| {
        f.group.starts_with("Elevation") && f.label.starts_with("Mean")
    };
    if let Some(mean) = view.summary.iter().find(height) {
        numbers.push(CardNumber {
            name: "Height reads".to_owned(),
            value: CardValue::Beside(mean.text.clone(), mean.uncertainty_text.clone()),
        });
    }
    let because = match answer {
        Answer::Fail => failed(body, units),
        Answer::Pass | Answer::NotShown => reason(&body.decision, units),
    };
    let mut warnings: Vec<CardWarning> = answer_warning(answer, because).into_iter().collect();
    if answer == Answer::Pass && !view.recheck.is_empty() {
        warnings.push(warning("RE-CHECK DUE", some_of(&view.recheck)));
    }
    Said {
        numbers,
        warnings,
        holds: answer == Answer::Pass,
    }
}

/// Which tolerance did not hold, and by how much.
fn failed(body: &CheckBody, units: Units) -> String {
    let parts = [("Height", Some(&body.height)), ("Plan", body.plan.as_ref())];
    let failed = parts.into_iter().filter_map(|(name, decision)| {
        let decision = decision.filter(|d| d.answer == Answer::Fail)?;
        Some(format!("{name}: {}", decision_words(decision, units)))
    });
    failed.collect::<Vec<_>>().join(" ")
}

/// Why nothing could be shown.
fn reason(decision: &DecisionBody, units: Units) -> String {
    let words = decision_words(decision, units);
    sentence(words.strip_prefix("Not shown: ").unwrap_or(&words))
}

/// The first reasons; the record's sheet has them all, a card has one side.
fn some_of(reasons: &[String]) -> String {
    let first = reasons.iter().take(2).map(String::as_str);
    let mut words = first.collect::<Vec<_>>().join("; ");
    if 2 < reasons.len() {
        words.push_str(&format!("; and {} more on the sheet", reasons.len() - 2));
    }
    sentence(&words)
}

/// Words with a capital at their head and a stop at their end.
fn sentence(text: &str) -> String {
    let mut letters = text.trim().chars();
    match letters.next() {
        None => String::new(),
        Some(first) => {
            let stop = if text.ends_with('.') { "" } else { "." };
            let first: String = first.to_uppercase().collect();
            format!("{first}{}{stop}", letters.as_str())
        }
    }
}

/// What a morning's check says.
pub(super) fn daily_said(said: &DailyEntryAsk, body: &DailyBody, units: Units) -> Said {
    let difference = Measured {
        value: body.difference_m,
        sd: body.difference_sd_m,
    };
    let answer = body.decision.answer;
    let mut warnings = Vec::new();
    if limit_failed(said) {
        let because = "No work near it until a competent person has found out why.";
        warnings.push(warning("STOP: a limit did not hold", because.to_owned()));
    }
    let because = match answer {
        Answer::NotShown => reason(&body.decision, units),
        Answer::Pass | Answer::Fail => decision_words(&body.decision, units),
    };
    // A limit that failed is why nothing is shown then, and is said already.
    if answer == Answer::Fail || warnings.is_empty() {
        warnings.extend(answer_warning(answer, because));
    }
    let due = daily_view(said, body, units).recheck;
    if !due.is_empty() {
        warnings.push(warning("FULL RE-CHECK DUE", some_of(&due)));
    }
    Said {
        numbers: vec![
            stated(
                &format!("Morning of {}", body.date),
                answer_word(answer).to_owned(),
            ),
            CardNumber {
                name: format!("On {}", body.bench),
                value: CardValue::Measured(difference, units.difference()),
            },
        ],
        warnings,
        holds: answer == Answer::Pass && !limit_failed(said),
    }
}

/// What the bench may be off by: beyond the first figure a full re-check is due, beyond the second work stops.
/// Rounded down, so that the card never allows more than the rule.
fn bench_limits(allowed: &ToleranceAsk, units: Units) -> Option<[String; 2]> {
    let most = allowed.up_m?.min(allowed.down_m?);
    let (kind, decimals) = (units.small(), 0.max(units.small_decimals() - 1));
    let step = 10_f64.powi(decimals) * kind.per_si;
    // A hair on top: a whole number must not fall to the next one below.
    let down = |value: f64| plain((value * step + 1e-6).floor() / step, &kind, decimals);
    Some([down(most * 2.0 / 3.0), down(most)])
}

/// The pages of a card.
pub(super) fn pages(
    standing: &Standing,
    machine: &Machine,
    tool: &ToolAsk,
    said: Said,
    allowed: &ToleranceAsk,
    made_by: &str,
    units: Units,
) -> Result<Vec<Page>, Faults> {
    let Said {
        mut numbers,
        warnings,
        holds,
    } = said;
    // What the bench may be off by is for a tooth that holds; any other is not dug with.
    match bench_limits(allowed, units).filter(|_| holds) {
        Some([recheck, stop]) => {
            numbers.push(stated("Bench: re-check beyond", recheck));
            numbers.push(stated("Bench: stop beyond", stop));
        }
        None if holds => numbers.push(stated("Bench: stop beyond", "not stated: ask".to_owned())),
        None => {}
    }
    let shift_test = "Bucket and tooth as above? Touch the bench, then each limit at low speed.";
    let model = model(machine, tool)?;
    let choice = tool.choice();
    // The sheet itself says what a card does not know.
    let mut block = standing.block("Operator's card", machine, tool, units, "");
    block.bucket.clone_from(&choice.bucket); // the coupler has a place of its own on the card
    let card = Card {
        block,
        warnings,
        coupler: choice
            .coupler
            .unwrap_or_else(|| "none: pinned on".to_owned()),
        machine: drawings::for_paper(&model, &pose_of_shot(tool, None, units))?,
        numbers,
        not_covered: "Another bucket or tooth point, a worn tooth.".to_owned(),
        shift_test: if holds { shift_test } else { "" }.to_owned(),
        call: made_by.to_owned(),
    };
    render_card(&card, &words()).ok_or_else(|| ours("more numbers than a card holds"))
}
