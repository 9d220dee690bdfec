//! The operator's card: what to know of the tooth, what to try, whom to call.

use holdline::machine::Machine;
use holdline_geom::fault::Faults;
use holdline_geom::measured::Measured;
use holdline_sheet::figure::plain;
use holdline_sheet::page::Page;
use holdline_sheet::sheets::{Card, CardNumber, CardValue, render_card};

use super::block::Standing;
use super::{model, ours, pose_of_shot, words};
use crate::drawings;
use crate::units::Units;
use crate::verify::{CheckBody, DailyBody, ToleranceAsk, check_view};
use crate::views::ToolAsk;

fn stated(name: &str, text: String) -> CardNumber {
    CardNumber {
        name: name.to_owned(),
        value: CardValue::Stated(text),
    }
}

/// The numbers of a full check.
pub(super) fn check_numbers(body: &CheckBody, units: Units) -> Vec<CardNumber> {
    let view = check_view(body, units);
    let mut numbers = vec![stated("Checked", body.decision.answer.word().to_owned())];
    let height = |f: &&crate::views::FigureView| {
        f.group.starts_with("Elevation") && f.label.starts_with("Mean")
    };
    if let Some(mean) = view.summary.iter().find(height) {
        numbers.push(CardNumber {
            name: "Height reads".to_owned(),
            value: CardValue::Beside(mean.text.clone(), mean.uncertainty_text.clone()),
        });
    }
    numbers
}

/// The numbers of a morning's check.
pub(super) fn daily_numbers(body: &DailyBody, units: Units) -> Vec<CardNumber> {
    let difference = Measured {
        value: body.difference_m,
        sd: body.difference_sd_m,
    };
    vec![
        stated("This morning", body.decision.answer.word().to_owned()),
        CardNumber {
            name: format!("On {}", body.bench),
            value: CardValue::Measured(difference, units.difference()),
        },
    ]
}

/// The pages of a card.
pub(super) fn pages(
    standing: &Standing,
    machine: &Machine,
    tool: &ToolAsk,
    mut numbers: Vec<CardNumber>,
    allowed: &ToleranceAsk,
    made_by: &str,
    units: Units,
) -> Result<Vec<Page>, Faults> {
    let small = |value: f64| plain(value, &units.small(), 0.max(units.small_decimals() - 1));
    let bench = match (allowed.up_m, allowed.down_m) {
        (Some(up), Some(down)) => small(up.min(down)),
        _ => "what was agreed".to_owned(),
    };
    numbers.push(stated("Bench, at most", bench.clone()));
    let model = model(machine, tool)?;
    let choice = tool.choice();
    // The sheet itself says what a card does not know.
    let mut block = standing.block("Operator's card", machine, tool, units, "");
    block.bucket.clone_from(&choice.bucket); // the coupler has a place of its own on the card
    let card = Card {
        block,
        coupler: choice
            .coupler
            .unwrap_or_else(|| "none: pinned on".to_owned()),
        machine: drawings::for_paper(&model, &pose_of_shot(tool, None, units))?,
        numbers,
        not_covered: "Another bucket or tooth point, a worn tooth.".to_owned(),
        shift_test: format!(
            "Bucket and tooth as above? On the bench off by more than {bench}: stop and call. Touch each limit at low speed."
        ),
        call: made_by.to_owned(),
    };
    render_card(&card, &words()).ok_or_else(|| ours("more numbers than a card holds"))
}
