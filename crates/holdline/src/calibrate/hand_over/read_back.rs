//! From the numbers keyed back to the machine's figures.

use super::keyed::half_turns;
use super::quantity::{Context, value};
use super::terms::{Dimension, Quantity};
use holdline_geom::fault::Fault;
use nalgebra::{DMatrix, DVector};
use num_dual::Dual64;

/// Steps until the figures stand; the quantities are all but linear.
const STEPS_AT_MOST: usize = 30;
/// Singular values below this share of the largest count as nothing: two entries that say the same.
const SAME: f64 = 1e-9;
/// How stiffly a figure that no calibration changed keeps its value, against one that it did.
const STIFF: f64 = 1e-3;

/// A condition: the quantity has this value.
#[derive(Debug, Clone, Copy)]
pub(super) struct Condition<'a> {
    pub quantity: &'a Quantity,
    pub dimension: Dimension,
    /// m or rad.
    pub value: f64,
    /// What one step of the entry is, m or rad: the weight of its contradictions.
    pub step: f64,
}

/// A figure as it stands, and whether the calibration changed it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct FigureValue {
    pub path: String,
    pub value: f64,
    pub calibrated: bool,
}

/// The figures nearest to those given that meet every condition.
///
/// Two entries that say the same, each rounded its own way, are met as nearly as their steps ask.
///
/// ```text
/// x ← x + W½ (C A W½)⁺ C (y − q(x))        A = ∂q/∂x, W stiffness, C one over each step
/// ```
///
/// Figures that no condition names stay as they are, and so does every combination that none settles.
pub(super) fn read_back(
    context: &Context<'_>,
    conditions: &[Condition<'_>],
    figures: &mut [FigureValue],
) -> Result<(), Fault> {
    if conditions.is_empty() {
        return Ok(());
    }
    let root = DVector::from_iterator(
        figures.len(),
        figures
            .iter()
            .map(|f| if f.calibrated { 1.0 } else { STIFF }),
    );
    for _ in 0..STEPS_AT_MOST {
        let mut a = slopes(context, conditions, figures)?;
        for (row, condition) in conditions.iter().enumerate() {
            a.row_mut(row).scale_mut(1.0 / condition.step);
        }
        for (column, stiff) in root.iter().enumerate() {
            a.column_mut(column).scale_mut(*stiff);
        }
        let svd = a.svd(true, true);
        let least = SAME * svd.singular_values.max();
        let Ok(step) = svd.solve(
            &DVector::from_vec(gaps(context, conditions, figures)?),
            least,
        ) else {
            break;
        };
        for ((figure, stiff), by) in figures.iter_mut().zip(&root).zip(&step) {
            figure.value += stiff * by;
        }
        if step.amax() < 1e-13 {
            break;
        }
    }
    Ok(())
}

/// What is left of each condition, in steps of its entry.
fn gaps(
    context: &Context<'_>,
    conditions: &[Condition<'_>],
    figures: &[FigureValue],
) -> Result<Vec<f64>, Fault> {
    conditions
        .iter()
        .map(|condition| {
            let mut look = |path: &str| look_up(figures, path).map(|idx| figures[idx].value);
            let now: f64 = value(context, condition.quantity, &mut look)?;
            let gap = match condition.dimension {
                Dimension::Length => condition.value - now,
                Dimension::Angle => half_turns(condition.value - now),
            };
            Ok(gap / condition.step)
        })
        .collect()
}

/// ∂q/∂x, a row a condition, by dual numbers.
pub(super) fn slopes(
    context: &Context<'_>,
    conditions: &[Condition<'_>],
    figures: &[FigureValue],
) -> Result<DMatrix<f64>, Fault> {
    let mut a = DMatrix::zeros(conditions.len(), figures.len());
    for (row, condition) in conditions.iter().enumerate() {
        let mut used = Vec::new();
        let mut note = |path: &str| {
            let idx = look_up(figures, path)?;
            used.push(idx);
            Some(figures[idx].value)
        };
        value(context, condition.quantity, &mut note)?;
        used.sort_unstable();
        used.dedup();
        for seeded in used {
            let mut look = |path: &str| {
                let idx = look_up(figures, path)?;
                let plain = Dual64::from_re(figures[idx].value);
                Some(if idx == seeded {
                    plain.derivative()
                } else {
                    plain
                })
            };
            a[(row, seeded)] = value(context, condition.quantity, &mut look)?.eps;
        }
    }
    Ok(a)
}

fn look_up(figures: &[FigureValue], path: &str) -> Option<usize> {
    figures.iter().position(|figure| figure.path == path)
}
