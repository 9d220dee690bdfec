//! The budget over the plan about the swing axis, in 3D.

use super::Budget;
use super::ask::{Mode, Satellites};
use super::map::{Cell, CellBudget, Desk, MapAsk, Prepared, Work, cell_of, larger, prepared};
use super::propagate::Six;
use super::reach_cell::Searcher;
use crate::calibrate::chain::numbers::atan2;
use crate::machine::joints::Joints;
use holdline_geom::fault::{Fault, Faults};
use rayon::prelude::*;
use std::sync::atomic::{AtomicUsize, Ordering};

/// What a map of the plan is asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanMapAsk {
    /// The search in the boom plane: lean, radii and heights.
    pub section: MapAsk,
    /// Points of the square grid, east and north each: 3 to 401.
    pub n_points: usize,
}

/// The budget over a square grid about the swing axis, east and north.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanMap {
    /// The south-western point, east and north of the swing axis, m.
    pub from_m: [f64; 2],
    /// From point to point, m.
    pub step_m: [f64; 2],
    /// Points in a row, and rows.
    pub n_points: usize,
    /// Row after row from the south, each from west to east.
    pub cells: Vec<Cell>,
    /// The factor of every U.
    pub k: f64,
}

/// A pose's covariance without the localization, at the heading of the ask.
#[derive(Debug, Clone, Copy)]
struct Candidate {
    sum: Six,
    joints: Joints,
    missing: bool,
}

/// The map of the plan: at every place the largest uncertainty over all heights and attitudes there, with the boom
/// pointing at it.
///
/// ```text
/// Σ(ψ) = Rz(ψ0 − ψ) Σ(ψ0) Rz(ψ0 − ψ)ᵀ + Σ_localization
/// ```
///
/// All sources but the localization turn with the machine, or are the same towards east and north.
/// The lean is taken as it stands for every heading. Frame: `Site`, from the swing axis.
///
/// # Errors
///
/// `B009` in 2D; else as [`super::map`].
pub fn plan_map(budget: &Budget, ask: &PlanMapAsk, work: &Work<'_>) -> Result<PlanMap, Faults> {
    let Mode::ThreeD(satellites) = &budget.ask.mode else {
        return Err(Fault::new(
            "B009",
            "mode",
            "2D",
            "3D",
            "in 2D the heading does not matter: the map in the boom plane says all",
        )
        .into());
    };
    if !(3..=401).contains(&ask.n_points) {
        return Err(Fault::new(
            "B007",
            "plan",
            format!("{} points each way", ask.n_points),
            "3 to 401",
            "a finer map takes longer and shows no more than the sheet can print",
        )
        .into());
    }
    let Prepared {
        values,
        from_m,
        step_m,
    } = prepared(budget, &ask.section)?;
    let columns = candidates(budget, ask, &values, from_m, step_m, work);
    let rim_m = from_m[0] + step_m[0] * (ask.section.n_points[0] - 1) as f64;
    let step = 2.0 * rim_m / (ask.n_points - 1) as f64;
    let psi0 = ask.section.heading_rad.unwrap_or(f64::NAN);
    let rows: Vec<Vec<Cell>> = (0..ask.n_points)
        .into_par_iter()
        .map(|row| {
            let north = -rim_m + step * row as f64;
            (0..ask.n_points)
                .map(|column| {
                    let east = -rim_m + step * column as f64;
                    let radius = (east * east + north * north).sqrt();
                    let at = (radius - from_m[0]) / step_m[0];
                    if at < -0.5 {
                        return Cell::OutOfReach;
                    }
                    let Some(there) = columns.get(at.round() as usize) else {
                        return Cell::OutOfReach;
                    };
                    let Some(there) = there else {
                        return Cell::NotLookedAt;
                    };
                    worst(
                        there,
                        atan2(east, north) - psi0,
                        satellites,
                        budget.ask.normal,
                    )
                })
                .collect()
        })
        .collect();
    Ok(PlanMap {
        from_m: [-rim_m; 2],
        step_m: [step; 2],
        n_points: ask.n_points,
        cells: rows.into_iter().flatten().collect(),
        k: budget.k(),
    })
}

/// All poses of each radius; none for a radius that the work was ended before.
fn candidates(
    budget: &Budget,
    ask: &PlanMapAsk,
    values: &[f64],
    from_m: [f64; 2],
    step_m: [f64; 2],
    work: &Work<'_>,
) -> Vec<Option<Vec<Candidate>>> {
    let section = &ask.section;
    let searcher = Searcher::new(budget, section);
    let done = AtomicUsize::new(0);
    let localization = localization(budget);
    (0..section.n_points[0])
        .into_par_iter()
        .map(|column| {
            let mut desk = Desk::new(budget, values, section);
            let mut found = Vec::new();
            for row in 0..section.n_points[1] {
                if work.cancel.load(Ordering::Relaxed) {
                    return None;
                }
                let at = [
                    from_m[0] + step_m[0] * column as f64,
                    from_m[1] + step_m[1] * row as f64,
                ];
                searcher.poses_at(at, |joints| {
                    let Some(mut looked) = desk.look(joints) else {
                        return;
                    };
                    for (sum, part) in looked.sum.iter_mut().zip(localization) {
                        *sum -= part;
                    }
                    found.push(Candidate {
                        sum: looked.sum,
                        joints: *joints,
                        missing: looked.missing,
                    });
                });
            }
            (work.progress)(
                1 + done.fetch_add(1, Ordering::Relaxed),
                section.n_points[0],
            );
            Some(found)
        })
        .collect()
}

/// Variances of the localization as far as they are stated.
fn localization(budget: &Budget) -> Six {
    let Mode::ThreeD(satellites) = &budget.ask.mode else {
        return [0.0; 6];
    };
    let [e, n, u] = satellites
        .localization_sd_m
        .map(|sd| sd.map_or(0.0, |s| s * s));
    [e, 0.0, 0.0, n, 0.0, u]
}

fn worst(
    there: &[Candidate],
    turn: f64,
    satellites: &Satellites,
    normal: Option<[f64; 3]>,
) -> Cell {
    let [c, s] = crate::calibrate::chain::numbers::sin_cos(turn);
    let [e, n, u] = satellites
        .localization_sd_m
        .map(|sd| sd.map_or(0.0, |s| s * s));
    let mut worst: Option<CellBudget> = None;
    let mut missing = false;
    for candidate in there {
        let [xx, xy, xz, yy, yz, zz] = candidate.sum;
        // Clockwise, as azimuths count: E' = cE + sN, N' = −sE + cN.
        let sum = [
            c * c * xx + 2.0 * c * s * xy + s * s * yy + e,
            c * s * (yy - xx) + (c * c - s * s) * xy,
            c * xz + s * yz,
            s * s * xx - 2.0 * c * s * xy + c * c * yy + n,
            -s * xz + c * yz,
            zz + u,
        ];
        missing |= candidate.missing;
        let one = cell_of(&sum, normal, &candidate.joints);
        worst = Some(worst.map_or(one, |worst| larger(worst, one)));
    }
    match worst {
        None => Cell::OutOfReach,
        Some(budget) if missing || !budget.sd_m.iter().all(|s| s.is_finite()) => {
            Cell::NotKnown(budget)
        }
        Some(budget) => Cell::Known(budget),
    }
}
