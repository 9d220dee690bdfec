//! The sheets: pure functions from plain numbers to pages.

mod answer;
mod budget;
mod calibration;
mod card;
mod card_views;
mod card_warning;
mod card_words;
mod check;
mod diagnosis;
mod flow;
mod hand_over;
mod history;
mod machine;
mod on_screen;
mod readiness;

pub use answer::Outcome;
pub use budget::{
    BudgetSheet, Growth, PoseBudget, Share, UMap, budget_plan_on_screen, budget_section_on_screen,
    growth_on_screen, render_budget, shares_on_screen,
};
pub use calibration::{
    CalibratedRow, CalibrationSheet, Correlations, Counts, Fate, PoseLine, Residual, ToothSure,
    correlations_on_screen, n_residual_plots, poses_on_screen, render_calibration,
    residuals_on_screen, tooth_sure_on_screen,
};
pub use card::{CARD_PT, Card, CardNumber, CardValue, MOST_NUMBERS, render_card};
pub use card_warning::CardWarning;
pub use check::{CheckSheet, Component, Shot, render_check};
pub use diagnosis::{
    DiagnosisSheet, Found, Hypothesis, NextShot, ShotArrow, diagnosis_on_screen,
    next_shot_on_screen, ranking_on_screen, render_diagnosis,
};
pub use hand_over::{HandOverEntry, HandOverSheet, ProofPose, render_hand_over};
pub use history::{Daily, History, MorningFlag, render_history};
pub use machine::{MachineSheet, MeasuredRow, render_machine};
pub use on_screen::{check_on_screen, history_on_screen};
pub use readiness::{ReadinessSheet, Ready, ReadyRow, render_readiness};

use crate::frame::LEAST_PT;
use crate::page::{Page, Type};
use flow::Flow;

/// Air between the frame and what stands in it, mm.
const AIR: f64 = 4.0;

/// Draws pages until their number stays the same: it is printed on each of them.
fn numbered(mut draw: impl FnMut(usize) -> Vec<Page>) -> Vec<Page> {
    let mut pages = draw(1);
    for _ in 0..3 {
        let n = pages.len();
        if n == 1 {
            break;
        }
        pages = draw(n);
        if pages.len() == n {
            break;
        }
    }
    pages
}

fn body() -> Type {
    Type::regular(LEAST_PT)
}
