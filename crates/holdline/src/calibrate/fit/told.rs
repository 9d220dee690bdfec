//! The result of an adjustment, told.

use super::ask::FitAsk;
use super::belief::{BEYOND_CHANCE, belief, copied, findings, held, sheet_contradicts};
use super::considered::{Considered, considered};
use super::numbers::{full_name, inseparable, readings_of, rejected_of};
use super::open::{self, OpenDirections};
use super::result::{
    Belief, Fit, FittedFigure, FittedPose, Global, Open, Role, SetUpUnknown, ToothSure,
};
use super::tested::Settled;
use super::tooth_sure::{LEVEL, ON_A_SLOPE, Working, working};
use crate::calibrate::equations::{At, Observed, PosedBlock, Spot};
use crate::calibrate::observations::{Observations, Target};
use crate::machine::Machine;
use crate::machine::figures::HEADING_OFFSET;
use crate::machine::front::ToolChoice;
use holdline_geom::adjust::{Ended, Equations, Observed as About, Prior};
use holdline_geom::fault::Faults;
use holdline_geom::stats;
use nalgebra::DMatrix;

/// All that a result is told from.
pub(super) struct Case<'a> {
    pub machine: &'a Machine,
    pub observations: &'a Observations,
    pub observed: &'a Observed,
    pub choice: &'a ToolChoice,
    pub ask: &'a FitAsk,
    /// What the sheet states, and after it the vague knowledge of all else.
    pub priors: &'a [Prior],
    /// How many of those the sheet states.
    pub n_stated: usize,
    /// How many are known at all: with those about the satellite fix, which come next.
    pub n_known: usize,
}

/// The fit.
pub(super) fn told(
    case: &Case<'_>,
    settled: Settled,
    role: &dyn Fn(&str) -> Role,
) -> Result<Fit, Faults> {
    let observed = case.observed;
    let x = &settled.adjusted.values;
    let open = open::open_directions(observed, &settled.adjusted);
    let considered = considered(case.machine, observed, &settled);
    let figures = figures_of(case, &settled, &considered, &open, role);
    let working = |lean| {
        working(
            case.machine,
            observed,
            case.choice,
            &all_values(case, x),
            lean,
        )
    };
    let poses = working(LEVEL);
    // What does no harm on level ground can do some on a slope.
    let stands = [poses.clone(), working(ON_A_SLOPE)].concat();
    let readings = readings_of(case, &settled, &stands);
    let rejected = rejected_of(case, &settled, &readings);
    let not_determined = open::not_determined(case, &open, &stands);
    let global = global_of(case, &settled);
    let held = held(case, &considered, &poses);
    let mut fit = Fit {
        machine: case.machine.sheet().id.clone(),
        tool: case.observations.tool.clone(),
        choice: case.choice.clone(),
        belief: Belief::Believed,
        covariance: covariance_of(&settled, &considered, &figures),
        figures,
        global,
        searched: settled.searched,
        limit: settled.statistics.critical_w,
        rejected,
        inseparable: inseparable(case, &settled),
        readings,
        weak: open::weak(case, &settled, &stands),
        tooth: tooth_of(case, &settled, &considered, &poses, &not_determined),
        not_determined,
        poses: poses_of(case, &settled)?,
        held,
        copied: copied(case.observations),
        set_up: set_up_of(case, &settled, &considered),
        findings: observed.findings.clone(),
    };
    let coin_tosses = coin_tosses(case, &settled, &stands, &fit);
    fit.findings.extend(findings(case, &fit));
    if settled.ended == Some(Ended::Prior) {
        fit.findings
            .extend(sheet_contradicts(&fit).map(|(words, _)| words));
    }
    let off = satellites_off(case, &settled);
    fit.belief = belief(&settled, &fit, [coin_tosses, off].concat());
    Ok(fit)
}

/// Every figure of the rig, the unknowns at what was found.
fn all_values(case: &Case<'_>, x: &[f64]) -> Vec<f64> {
    let system = &case.observed.system;
    let figures = case.observed.figures.iter().zip(&system.unknown_of_figure);
    figures
        .map(|(figure, unknown)| unknown.map_or(figure.measured.value, |idx| x[idx]))
        .collect()
}

/// What was found, and after it what was held and bends it: with its own uncertainty as stated.
fn figures_of(
    case: &Case<'_>,
    settled: &Settled,
    considered: &Considered,
    open: &OpenDirections,
    role: &dyn Fn(&str) -> Role,
) -> Vec<FittedFigure> {
    let observed = case.observed;
    let found = observed.figure_of_unknown.iter().enumerate();
    let found = found.map(|(unknown_idx, figure_idx)| {
        let figure = &observed.figures[*figure_idx];
        FittedFigure {
            path: figure.path.clone(),
            unit: figure.unit,
            before: figure.measured,
            value: settled.adjusted.values[unknown_idx],
            sd: sd_of(settled, considered, unknown_idx).filter(|_| !open.without_sd[unknown_idx]),
            role: role(&figure.path),
        }
    });
    let held = considered.figures_that_bend().map(|column| {
        let figure = &observed.figures[considered.figure_idx[column]];
        FittedFigure {
            path: figure.path.clone(),
            unit: figure.unit,
            before: figure.measured,
            value: figure.measured.value,
            sd: figure.measured.sd,
            role: Role::Held,
        }
    });
    found.chain(held).collect()
}

/// An sd that is one: what rounding makes of nothing is none.
fn sd_of(settled: &Settled, considered: &Considered, unknown_idx: usize) -> Option<f64> {
    let variance = settled.adjusted.covariance(unknown_idx, unknown_idx)?
        + considered.added[(unknown_idx, unknown_idx)];
    let sd = variance.sqrt();
    let leans = considered.without_sd[unknown_idx];
    (!leans && 0.0 < sd && sd < f64::INFINITY).then_some(sd)
}

/// In the order of the figures: found, then held.
fn covariance_of(
    settled: &Settled,
    considered: &Considered,
    figures: &[FittedFigure],
) -> DMatrix<f64> {
    let n_found = figures.iter().filter(|f| f.role != Role::Held).count();
    let bending: Vec<usize> = considered.figures_that_bend().collect();
    let n = figures.len();
    let of = |i: usize, j: usize| match (i < n_found, j < n_found) {
        (true, true) => Some(settled.adjusted.covariance(i, j)? + considered.added[(i, j)]),
        (true, false) => Some(considered.across[(i, bending[j - n_found])]),
        (false, true) => Some(considered.across[(j, bending[i - n_found])]),
        (false, false) => Some(considered.own[(bending[i - n_found], bending[j - n_found])]),
    };
    DMatrix::from_fn(n, n, |i, j| {
        let both = figures[i].sd.is_some() && figures[j].sd.is_some();
        of(i, j).filter(|_| both).unwrap_or(0.0)
    })
}

/// The global test. Vague knowledge is no observation: it is not counted.
fn global_of(case: &Case<'_>, settled: &Settled) -> Option<Global> {
    let n_vague = case.priors.len() - case.n_known;
    let dof = settled.adjusted.dof.saturating_sub(n_vague);
    let half = case.ask.level / 2.0;
    let bound = |p: f64| stats::chi2_quantile(p, dof as f64);
    (dof != 0)
        .then(|| {
            Some(Global {
                chi2: settled.adjusted.chi2,
                dof,
                within: [bound(half)?, bound(1.0 - half)?],
            })
        })
        .flatten()
}

/// Choices of what to take out that could as well have gone the other way and that move the tooth by one of its
/// standard uncertainties or more, in words.
fn coin_tosses(case: &Case<'_>, settled: &Settled, poses: &[Working], fit: &Fit) -> Vec<String> {
    let mut words = Vec::new();
    for other in &settled.other_choices {
        let moved_m = other.values.as_ref().map(|values| {
            let change = values.iter().zip(&settled.adjusted.values);
            let change: Vec<f64> = change.map(|(a, b)| a - b).collect();
            at_tooth_m(case.observed, poses, &change)
        });
        let sds = fit.tooth.iter().flat_map(|tooth| tooth.sd_of_figures_m);
        let least_sd_m = sds.flatten().fold(f64::INFINITY, f64::min);
        if moved_m.is_some_and(|m| m < least_sd_m && least_sd_m < f64::INFINITY) {
            continue;
        }
        let n_counted = fit.readings.len() - settled.taken_out.len();
        let out = &fit.readings[n_counted + other.taken_out_idx];
        let by = match moved_m {
            Some(m) => format!("it moves the tooth by {:.0} mm", m * 1000.0),
            None => "nobody knows how far that moves the tooth".to_owned(),
        };
        words.push(format!(
            "{} {} was taken out, and {} could as well be the wrong one; {by}: measure it once more",
            out.name,
            out.part,
            full_name(case, other.twin)
        ));
    }
    words
}

/// Stands at which the satellites lie further off the survey than an antenna position is uncertain, in words.
fn satellites_off(case: &Case<'_>, settled: &Settled) -> Vec<String> {
    let first = case.observed.figure_of_unknown.len();
    let tests = settled.statistics.tests.iter();
    tests
        .filter_map(|test| {
            let About::Prior { prior, entry } = test.of else {
                return None;
            };
            let of_the_fix = case.n_stated <= prior && prior < case.n_known;
            let w = test.w.filter(|w| of_the_fix && !(w.abs() <= BEYOND_CHANCE))?;
            let unknown_idx = case.priors[prior].unknown_idx[entry];
            Some(format!(
                "{}: {:+.0} mm, {:.1} times what an antenna position is uncertain by: look at base, localization and set-up",
                case.observed.nuisances[unknown_idx - first].words(),
                settled.adjusted.values[unknown_idx] * 1000.0,
                w.abs()
            ))
        })
        .collect()
}

/// How far a change of the unknowns moves the tooth at the worst of the working poses, m.
///
/// Looked at from the tracks, and on the site, where the tooth hangs on the antennas.
///
/// ```text
/// |Δp|        |Δp − Δa| + r |Δη|, the worst antenna
/// ```
///
/// - Symbols: Δp what the tooth moves in `Level`, Δa the same of an antenna's lever arm, Δη of the heading's
///   offset, r the tooth's reach.
/// - Never less than what the site sees: that both antennas together also turn the heading only adds.
pub(super) fn at_tooth_m(observed: &Observed, poses: &[Working], change: &[f64]) -> f64 {
    let by_path = |path: &str| {
        let figures = observed.figure_of_unknown.iter().enumerate();
        let of = figures.filter(|(_, idx)| observed.figures[**idx].path == path);
        of.map(|(unknown_idx, _)| change[unknown_idx]).sum::<f64>()
    };
    let levers: Vec<[f64; 3]> = observed
        .system
        .antennas
        .iter()
        .map(|id| ["x", "y", "z"].map(|axis| by_path(&format!("antenna[{id}].lever.{axis}"))))
        .collect();
    let heading_rad = by_path(HEADING_OFFSET).abs();
    poses
        .iter()
        .map(|pose| {
            let mut moved = [0.0; 3];
            for (unknown_idx, figure_idx) in observed.figure_of_unknown.iter().enumerate() {
                for (axis, sum) in moved.iter_mut().enumerate() {
                    *sum += pose.by_figure[(axis, *figure_idx)] * change[unknown_idx];
                }
            }
            let size = |v: [f64; 3]| v.iter().map(|m| m * m).sum::<f64>().sqrt();
            // The lean turns an antenna's step hardly, and the largest of both is what is told.
            let by_antenna = levers
                .iter()
                .map(|lever| size([0, 1, 2].map(|axis| moved[axis] - lever[axis])));
            let reach_m = pose.at_m[0].hypot(pose.at_m[1]);
            by_antenna.fold(size(moved), f64::max) + reach_m * heading_rad
        })
        .fold(0.0, f64::max)
}

fn tooth_of(
    case: &Case<'_>,
    settled: &Settled,
    considered: &Considered,
    poses: &[Working],
    not_determined: &[Open],
) -> Vec<ToothSure> {
    let open_moves = not_determined.iter().any(moves_tooth);
    poses
        .iter()
        .map(|pose| {
            let of_figures = of_figures(case, settled, considered, pose).filter(|_| !open_moves);
            ToothSure {
                name: pose.name.to_owned(),
                joints: pose.joints,
                at_m: pose.at_m,
                sd_before_m: before(case, pose).and_then(|v| with_readings(pose, v)),
                sd_m: of_figures.and_then(|v| with_readings(pose, v)),
                sd_of_figures_m: of_figures.map(|v| v.map(f64::sqrt)),
            }
        })
        .collect()
}

pub(super) fn moves_tooth(open: &Open) -> bool {
    !(open.at_tooth_m <= open::HARMLESS_M)
}

/// Variances along the axes by all figures with this fit; none where one that matters has none.
fn of_figures(
    case: &Case<'_>,
    settled: &Settled,
    considered: &Considered,
    pose: &Working,
) -> Option<[f64; 3]> {
    let observed = case.observed;
    let n_held = considered.figure_idx.len();
    let mut by_found = DMatrix::zeros(3, settled.adjusted.values.len());
    let mut by_held = DMatrix::zeros(3, n_held);
    for (unknown_idx, figure_idx) in observed.figure_of_unknown.iter().enumerate() {
        by_found.set_column(unknown_idx, &pose.by_figure.column(*figure_idx));
        if considered.without_sd[unknown_idx] && moves(&pose.by_figure, *figure_idx) {
            return None;
        }
    }
    for (column, figure_idx) in considered.figure_idx.iter().enumerate() {
        by_held.set_column(column, &pose.by_figure.column(*figure_idx));
        let stated = observed.figures[*figure_idx].measured.sd;
        let stated = stated.filter(|sd| 0.0 < *sd && *sd < f64::INFINITY);
        if stated.is_none() && moves(&pose.by_figure, *figure_idx) {
            return None;
        }
    }
    let both = &by_found * &considered.across * by_held.transpose();
    let covariance = settled.adjusted.covariance_of(&by_found)?
        + &by_found * &considered.added * by_found.transpose()
        + &by_held * &considered.own * by_held.transpose()
        + &both
        + both.transpose();
    let all = [0, 1, 2].map(|k| covariance[(k, k)]);
    all.iter()
        .all(|v| 0.0 <= *v && v.is_finite())
        .then_some(all)
}

/// Whether the tooth moves with a figure at all.
fn moves(by_figure: &DMatrix<f64>, figure_idx: usize) -> bool {
    by_figure
        .column(figure_idx)
        .iter()
        .any(|slope| !(slope.abs() <= 1e-9))
}

/// The same by the sheet as it was.
fn before(case: &Case<'_>, pose: &Working) -> Option<[f64; 3]> {
    let mut all = [0.0; 3];
    for (figure_idx, figure) in case.observed.figures.iter().enumerate() {
        let slope = [0, 1, 2].map(|axis| pose.by_figure[(axis, figure_idx)]);
        add(&mut all, slope, figure.measured.sd)?;
    }
    Some(all)
}

/// Adds a source's part; none where it matters and has no uncertainty.
fn add(all: &mut [f64; 3], slope: [f64; 3], sd: Option<f64>) -> Option<()> {
    if slope.iter().all(|s| s.abs() <= 1e-9) {
        return Some(());
    }
    let sd = sd.filter(|sd| 0.0 < *sd && *sd < f64::INFINITY)?;
    for axis in 0..3 {
        all[axis] += (slope[axis] * sd) * (slope[axis] * sd);
    }
    Some(())
}

/// Standard uncertainties with one reading of every sensor on top.
fn with_readings(pose: &Working, mut variances: [f64; 3]) -> Option<[f64; 3]> {
    for (slope, sd) in &pose.by_reading {
        add(&mut variances, *slope, *sd)?;
    }
    Some(variances.map(f64::sqrt))
}

fn poses_of(case: &Case<'_>, settled: &Settled) -> Result<Vec<FittedPose>, Faults> {
    let observed = case.observed;
    let mut poses = Vec::new();
    for (idx, block) in observed.system.blocks.iter().enumerate() {
        let l = settled.adjusted.adjusted_readings(idx);
        let at = At::plain(&observed.system, &settled.adjusted.values, l);
        let posed_block = PosedBlock {
            system: &observed.system,
            block,
        };
        let (Some(view), Some(label)) = (block.views.first(), observed.labels[idx].first()) else {
            continue;
        };
        let row = &case.observations.rows[label.observation_idx];
        if row.pose.is_empty() {
            continue;
        }
        let posed = posed_block.posed(view, &at)?;
        let tooth = Target::Tooth(case.choice.tooth.clone());
        let mut chain_m = [[0.0; 2]; 4];
        let points = [
            Target::BoomFoot,
            Target::BoomStick,
            Target::StickBucket,
            tooth,
        ];
        for (place, point) in chain_m.iter_mut().zip(points) {
            let house = posed_block.spot(&posed, &Spot::Target(point), &at)?;
            let level = posed.lean.level_from_house() * house;
            *place = [level.x(), level.z()];
        }
        let out = settled.taken_out.iter();
        let n_rejected = out.filter(|out| out.reading.block == idx).count();
        poses.push(FittedPose {
            name: row.pose.clone(),
            stand: row.stand.clone(),
            joints: posed.joints,
            lean: posed.lean,
            chain_m,
            n_used: observed.system.shape(idx).n_readings - n_rejected,
            n_rejected,
        });
    }
    Ok(poses)
}

fn set_up_of(case: &Case<'_>, settled: &Settled, considered: &Considered) -> Vec<SetUpUnknown> {
    let first = case.observed.figure_of_unknown.len();
    let nuisances = case.observed.nuisances.iter().enumerate();
    nuisances
        .map(|(idx, nuisance)| SetUpUnknown {
            words: nuisance.words(),
            value: settled.adjusted.values[first + idx],
            sd: sd_of(settled, considered, first + idx),
        })
        .collect()
}
