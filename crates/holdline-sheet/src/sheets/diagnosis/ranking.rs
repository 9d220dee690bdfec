//! The ranking: what each hypothesis leaves unexplained, those that cannot be told apart in one bracket.

use super::{DiagnosisSheet, Hypothesis};
use crate::bars::{Bar, Bars};
use crate::figure::{Coverage, Sign, figure, rounded};
use crate::frame::LEAST_PT;
use crate::table::{Cell, Side, Table, column};
use crate::words::Words;

/// Bars drawn at most, unless the set itself is larger.
const MOST: usize = 12;

/// The set first, then the others, each by AIC.
fn in_order(sheet: &DiagnosisSheet) -> Vec<&Hypothesis> {
    let mut all: Vec<&Hypothesis> = sheet.hypotheses.iter().collect();
    all.sort_by(|a, b| {
        b.in_set
            .cmp(&a.in_set)
            .then_with(|| a.aic.total_cmp(&b.aic))
    });
    all
}

fn n_in_set(sheet: &DiagnosisSheet) -> usize {
    sheet.hypotheses.iter().filter(|h| h.in_set).count()
}

fn n_shown(sheet: &DiagnosisSheet) -> usize {
    MOST.max(n_in_set(sheet)).min(sheet.hypotheses.len())
}

pub(super) fn bars(sheet: &DiagnosisSheet, words: &Words) -> Bars {
    let all = in_order(sheet);
    let figures = |h: &Hypothesis| {
        let chi2 = rounded(h.chi2_left, 1, Sign::Minus);
        let aic = rounded(h.aic, 1, Sign::Minus);
        format!("χ² {chi2}, AIC {aic}")
    };
    let bars = all.iter().take(n_shown(sheet)).map(|h| Bar {
        name: h.name.clone(),
        value: h.chi2_left,
        figures: figures(h),
        strong: h.in_set,
    });
    let nothing = sheet.chi2_nothing.filter(|c| c.is_finite());
    Bars {
        bars: bars.collect(),
        longest: nothing,
        mark: nothing.map(|chi2| {
            let chi2_text = rounded(chi2, 1, Sign::Minus);
            let n = sheet.n_differences;
            (
                chi2,
                format!(
                    "{} {chi2_text}, {n} {}",
                    words.nothing_wrong, words.n_differences
                ),
            )
        }),
        bracket: n_in_set(sheet),
        bracket_words: if n_in_set(sheet) > 0 {
            sheet.set_words.clone()
        } else {
            String::new()
        },
    }
}

/// Those without a bar, in words.
pub(super) fn rest_in_words(sheet: &DiagnosisSheet, words: &Words) -> String {
    let all = in_order(sheet);
    let rest = &all[n_shown(sheet)..];
    let least = rest.iter().map(|h| h.chi2_left).filter(|c| c.is_finite());
    let least = least.fold(f64::INFINITY, f64::min);
    if rest.is_empty() {
        return String::new();
    }
    let n = rest.len();
    if least.is_finite() {
        let least = rounded(least, 1, Sign::Minus);
        format!("{n} {} {least}.", words.more_leave)
    } else {
        format!("{n} {}.", words.more)
    }
}

/// What each of the set says is off, and how far.
pub(super) fn estimates_table(sheet: &DiagnosisSheet, words: &Words) -> Table {
    let mut rows = Vec::new();
    for h in in_order(sheet).into_iter().filter(|h| h.in_set) {
        for (idx, (name, value, kind)) in h.estimates.iter().enumerate() {
            let first = idx == 0;
            rows.push(vec![
                if first {
                    Cell::Strong(h.name.clone())
                } else {
                    Cell::words("")
                },
                Cell::words(name.clone()),
                Cell::Figure(figure(*value, kind, Coverage::Twice)),
                Cell::words(if first {
                    h.remark.clone()
                } else {
                    String::new()
                }),
            ]);
        }
        if h.estimates.is_empty() {
            rows.push(vec![
                Cell::Strong(h.name.clone()),
                Cell::words("–"),
                Cell::words("–"),
                Cell::words(h.remark.clone()),
            ]);
        }
    }
    Table {
        columns: vec![
            column(words.hypothesis.to_string(), Side::Left),
            column(words.what_is_off.to_string(), Side::Left),
            column(words.estimate.to_string(), Side::Right),
            column(words.remark.to_string(), Side::Left),
        ],
        rows,
        size_pt: LEAST_PT,
    }
}
