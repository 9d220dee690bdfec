//! The result of an adjustment, told.

use super::ask::FitAsk;
use super::names::{figure_words, kind_words};
use super::open::{self, OpenDirections};
use super::result::{
    Belief, Fit, FittedFigure, FittedPose, FittedReading, Global, Open, ReadingState, Rejection,
    Role, SetUpUnknown, ToothSure,
};
use super::tested::{INSEPARABLE, Settled};
use super::tooth_sure::{Working, working};
use crate::calibrate::equations::{At, Observed, PosedBlock, Spot};
use crate::calibrate::observations::{Observation, Observations, Target, What};
use crate::machine::Machine;
use crate::machine::figures::FigureUnit;
use crate::machine::front::ToolChoice;
use holdline_geom::adjust::{Ended, Equations, Observed as About, Prior, Rejected, Test};
use holdline_geom::fault::Faults;
use holdline_geom::measured::Measured;
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
}

/// With some dozens of figures on a sheet one of them is so many of its own uncertainties off by chance
/// once in some thousand fits.
const BEYOND_CHANCE: f64 = 4.5;

/// The fit.
pub(super) fn told(
    case: &Case<'_>,
    settled: Settled,
    role: &dyn Fn(&str) -> Role,
) -> Result<Fit, Faults> {
    let observed = case.observed;
    let x = &settled.adjusted.values;
    let open = open::open_directions(observed, &settled.adjusted);
    let figures = figures_of(case, &settled, &open, role);
    let poses = working(case.machine, observed, case.choice, &all_values(case, x));
    let readings = readings_of(case, &settled, &poses);
    let rejected = rejected_of(case, &settled, &readings);
    let not_determined = open::not_determined(case, &open, &poses);
    let global = global_of(case, &settled);
    let held = held(case, &poses);
    let mut fit = Fit {
        machine: case.machine.sheet().id.clone(),
        tool: case.observations.tool.clone(),
        choice: case.choice.clone(),
        belief: Belief::Believed,
        covariance: covariance_of(&settled, &figures),
        figures,
        global,
        searched: settled.searched,
        limit: settled.statistics.critical_w,
        rejected,
        inseparable: inseparable(case, &settled),
        readings,
        weak: open::weak(case, &settled, &poses),
        tooth: tooth_of(case, &settled, &poses, &not_determined),
        not_determined,
        poses: poses_of(case, &settled)?,
        held,
        copied: copied(case.observations),
        set_up: set_up_of(case, &settled),
        findings: observed.findings.clone(),
    };
    fit.findings.extend(findings(case, &fit));
    if settled.ended == Some(Ended::Prior) {
        fit.findings
            .extend(sheet_contradicts(&fit).map(|(words, _)| words));
    }
    fit.belief = belief(&settled, &fit);
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

fn figures_of(
    case: &Case<'_>,
    settled: &Settled,
    open: &OpenDirections,
    role: &dyn Fn(&str) -> Role,
) -> Vec<FittedFigure> {
    let observed = case.observed;
    let unknown = observed.figure_of_unknown.iter().enumerate();
    unknown
        .map(|(unknown_idx, figure_idx)| {
            let figure = &observed.figures[*figure_idx];
            FittedFigure {
                path: figure.path.clone(),
                unit: figure.unit,
                before: figure.measured,
                value: settled.adjusted.values[unknown_idx],
                sd: sd_of(settled, unknown_idx).filter(|_| !open.without_sd[unknown_idx]),
                role: role(&figure.path),
            }
        })
        .collect()
}

/// An sd that is one: what rounding makes of nothing is none.
fn sd_of(settled: &Settled, unknown_idx: usize) -> Option<f64> {
    let sd = settled.adjusted.sd(unknown_idx)?;
    (0.0 < sd && sd < f64::INFINITY).then_some(sd)
}

fn covariance_of(settled: &Settled, figures: &[FittedFigure]) -> DMatrix<f64> {
    let n = figures.len();
    DMatrix::from_fn(n, n, |i, j| {
        let both = figures[i].sd.is_some() && figures[j].sd.is_some();
        let covariance = settled.adjusted.covariance(i, j).filter(|_| both);
        covariance.unwrap_or(0.0)
    })
}

/// The global test. Vague knowledge is no observation: it is not counted.
fn global_of(case: &Case<'_>, settled: &Settled) -> Option<Global> {
    let n_vague = case.priors.len() - case.n_stated;
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

/// How far a change of the unknowns moves the tooth at the worst of the working poses, m.
pub(super) fn at_tooth_m(observed: &Observed, poses: &[Working], change: &[f64]) -> f64 {
    poses
        .iter()
        .map(|pose| {
            let mut moved = [0.0; 3];
            for (unknown_idx, figure_idx) in observed.figure_of_unknown.iter().enumerate() {
                for (axis, sum) in moved.iter_mut().enumerate() {
                    *sum += pose.by_figure[(axis, *figure_idx)] * change[unknown_idx];
                }
            }
            moved.iter().map(|m| m * m).sum::<f64>().sqrt()
        })
        .fold(0.0, f64::max)
}

fn name_of(case: &Case<'_>, about: About) -> (String, String) {
    match about {
        About::Reading { block, reading } => {
            let label = &case.observed.labels[block][reading];
            let row = &case.observations.rows[label.observation_idx];
            (row.name.clone(), label.what.clone())
        }
        About::Prior { prior, entry } => {
            let unknown_idx = case.priors[prior].unknown_idx[entry];
            let figure_idx = case.observed.figure_of_unknown[unknown_idx];
            (
                case.observed.figures[figure_idx].path.clone(),
                "as on the sheet".to_owned(),
            )
        }
    }
}

fn full_name(case: &Case<'_>, about: About) -> String {
    match about {
        About::Reading { .. } => {
            let (name, part) = name_of(case, about);
            format!("{name} {part}")
        }
        About::Prior { .. } => format!("the sheet's {}", figure_words(&name_of(case, about).0)),
    }
}

/// Every number that counts and was tested, and then those that were taken out.
fn readings_of(case: &Case<'_>, settled: &Settled, poses: &[Working]) -> Vec<FittedReading> {
    let mut twins: Vec<Vec<usize>> = vec![Vec::new(); settled.statistics.tests.len()];
    for (a, b, _) in settled.statistics.pairs_not_separable(INSEPARABLE) {
        twins[a].push(b);
        twins[b].push(a);
    }
    let stated =
        |test: &Test| !matches!(test.of, About::Prior { prior, .. } if case.n_stated <= prior);
    let tests = settled.statistics.tests.iter().zip(twins).enumerate();
    let tests = tests.filter(|(_, (test, _))| stated(test));
    let counted = tests.map(|(idx, (test, twins))| {
        let mut reading = reading_of(case, test, ReadingState::Used);
        if test.unchecked() {
            reading.state = ReadingState::Unchecked;
        }
        reading.at_tooth_m = test.mdb.map(|error| {
            let change = settled.statistics.effect_on_unknowns(idx, error);
            at_tooth_m(case.observed, poses, &change)
        });
        reading.twins = twins
            .iter()
            .map(|twin| full_name(case, settled.statistics.tests[*twin].of))
            .collect();
        reading
    });
    let out = settled.taken_out.iter().map(|out| {
        let mut reading = reading_of(case, &out.test, ReadingState::Rejected);
        reading.off = out.error;
        reading.twins = out
            .or_else
            .iter()
            .map(|(twin, _)| full_name(case, *twin))
            .collect();
        reading
    });
    counted.chain(out).collect()
}

fn reading_of(case: &Case<'_>, test: &Test, state: ReadingState) -> FittedReading {
    let observed = case.observed;
    let (name, part) = name_of(case, test.of);
    let (observation_idx, kind, pose, unit, measured, sd) = match test.of {
        About::Reading { block, reading } => {
            let label = &observed.labels[block][reading];
            let row = &case.observations.rows[label.observation_idx];
            let block = &observed.system.blocks[block];
            let n = block.readings.len();
            let own = label.what.starts_with("reading of ") || label.what.contains("antenna");
            let unit = if label.angle {
                FigureUnit::Radian
            } else {
                FigureUnit::Metre
            };
            (
                Some(label.observation_idx),
                if own {
                    label.what.clone()
                } else {
                    kind_words(row)
                },
                row.pose.clone(),
                unit,
                block.readings[reading],
                block.covariance[reading * n + reading].sqrt(),
            )
        }
        About::Prior { prior, entry } => {
            let prior = &case.priors[prior];
            let figure_idx = observed.figure_of_unknown[prior.unknown_idx[entry]];
            (
                None,
                "machine sheet".to_owned(),
                String::new(),
                observed.figures[figure_idx].unit,
                prior.value[entry],
                prior.covariance[(entry, entry)].sqrt(),
            )
        }
    };
    FittedReading {
        observation_idx,
        name,
        part,
        kind,
        pose,
        unit,
        measured,
        sd,
        off: -test.residual,
        in_sd: test.w.map(|w| -w),
        redundancy: test.redundancy,
        detectable: test.mdb,
        at_tooth_m: None,
        state,
        twins: Vec::new(),
    }
}

fn rejected_of(case: &Case<'_>, settled: &Settled, readings: &[FittedReading]) -> Vec<Rejection> {
    let first = readings.len() - settled.taken_out.len();
    let out = settled.taken_out.iter().enumerate();
    out.map(|(n, out)| Rejection {
        reading_idx: first + n,
        in_sd: readings[first + n].in_sd.unwrap_or(f64::NAN),
        chi2: [out.chi2.0, out.chi2.1],
        why: why(case, n, out, &readings[first + n]),
    })
    .collect()
}

/// Why a number was taken out, and what it looks like.
fn why(case: &Case<'_>, n: usize, out: &Rejected, reading: &FittedReading) -> String {
    let about = About::Reading {
        block: out.reading.block,
        reading: out.reading.reading,
    };
    let mut words = format!(
        "{}: {} from what all others say, {:.1} times its own uncertainty where {:.1} is the limit; \
         taken out as number {}",
        full_name(case, about),
        off_words(reading),
        reading.in_sd.unwrap_or(f64::NAN).abs(),
        out.critical,
        n + 1
    );
    if let Some(typed) = swapped_digits(reading) {
        words.push_str(&format!("; it would fit if {typed}"));
    }
    if !reading.twins.is_empty() {
        words.push_str(&format!(
            "; its test cannot be told from that of {}: one of these is wrong",
            reading.twins.join(", ")
        ));
    }
    words
}

fn off_words(reading: &FittedReading) -> String {
    match reading.unit {
        FigureUnit::Metre => format!("{:+.0} mm", reading.off * 1000.0),
        FigureUnit::Radian => format!("{:+.2}°", reading.off.to_degrees()),
    }
}

/// Two neighbouring digits in the wrong order, where that explains a length.
fn swapped_digits(reading: &FittedReading) -> Option<String> {
    if reading.unit != FigureUnit::Metre {
        return None;
    }
    let want = reading.measured - reading.off;
    let typed = format!("{:.3}", reading.measured);
    let digits: Vec<char> = typed.chars().collect();
    let places: Vec<usize> = (0..digits.len())
        .filter(|i| digits[*i].is_ascii_digit())
        .collect();
    let near = (5.0 * reading.sd).max(0.005);
    places.windows(2).find_map(|pair| {
        let mut other = digits.clone();
        other.swap(pair[0], pair[1]);
        let text: String = other.iter().collect();
        let value: f64 = text.parse().ok()?;
        let differs = digits[pair[0]] != digits[pair[1]];
        (differs && (value - want).abs() <= near)
            .then(|| format!("{text} m had been written instead of {typed} m"))
    })
}

/// Pairs of numbers whose tests cannot be told apart, in words; the closest first.
fn inseparable(case: &Case<'_>, settled: &Settled) -> Vec<String> {
    const N_TOLD: usize = 20;
    let tests = &settled.statistics.tests;
    let mut pairs = settled.statistics.pairs_not_separable(INSEPARABLE);
    pairs.sort_by(|a, b| b.2.abs().total_cmp(&a.2.abs()));
    let n_more = pairs.len().saturating_sub(N_TOLD);
    let mut words: Vec<String> = pairs
        .iter()
        .take(N_TOLD)
        .map(|(a, b, _)| {
            format!(
                "{} and {}: an error in one looks like an error in the other",
                full_name(case, tests[*a].of),
                full_name(case, tests[*b].of)
            )
        })
        .collect();
    if n_more != 0 {
        words.push(format!("and {n_more} more pairs"));
    }
    words
}

fn tooth_of(
    case: &Case<'_>,
    settled: &Settled,
    poses: &[Working],
    not_determined: &[Open],
) -> Vec<ToothSure> {
    let open_moves = not_determined.iter().any(moves_tooth);
    poses
        .iter()
        .map(|pose| {
            let of_figures = of_figures(case, settled, pose).filter(|_| !open_moves);
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

fn moves_tooth(open: &Open) -> bool {
    !(open.at_tooth_m <= open::HARMLESS_M)
}

/// Variances along the axes by all figures with this fit; none where one that matters has none.
fn of_figures(case: &Case<'_>, settled: &Settled, pose: &Working) -> Option<[f64; 3]> {
    let observed = case.observed;
    let mut slopes = DMatrix::zeros(3, settled.adjusted.values.len());
    let mut beside = [0.0; 3];
    for (figure_idx, figure) in observed.figures.iter().enumerate() {
        let slope = [0, 1, 2].map(|axis| pose.by_figure[(axis, figure_idx)]);
        match observed.system.unknown_of_figure[figure_idx] {
            Some(unknown_idx) => {
                for axis in 0..3 {
                    slopes[(axis, unknown_idx)] = slope[axis];
                }
            }
            None => add(&mut beside, slope, figure.measured.sd)?,
        }
    }
    let covariance = settled.adjusted.covariance_of(&slopes)?;
    let all = [0, 1, 2].map(|k| covariance[(k, k)] + beside[k]);
    all.iter()
        .all(|v| 0.0 <= *v && v.is_finite())
        .then_some(all)
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

fn set_up_of(case: &Case<'_>, settled: &Settled) -> Vec<SetUpUnknown> {
    let first = case.observed.figure_of_unknown.len();
    let nuisances = case.observed.nuisances.iter().enumerate();
    nuisances
        .map(|(idx, nuisance)| SetUpUnknown {
            words: nuisance.words(),
            value: settled.adjusted.values[first + idx],
            sd: sd_of(settled, first + idx),
        })
        .collect()
}

/// Figures that counted as exact though the sheet does not say how sure they are.
fn held(case: &Case<'_>, poses: &[Working]) -> Vec<String> {
    let observed = case.observed;
    let figures = observed.figures.iter().enumerate();
    figures
        .filter(|(figure_idx, figure)| {
            let unknown = observed.system.unknown_of_figure[*figure_idx].is_some();
            let stated = figure.measured != Measured::without_sd(figure.measured.value);
            let moves = poses.iter().any(|pose| {
                (0..3).any(|axis| !(pose.by_figure[(axis, *figure_idx)].abs() <= 1e-9))
            });
            !unknown && !stated && !figure.stand_in && moves
        })
        .map(|(_, figure)| figure.path.clone())
        .collect()
}

fn findings(case: &Case<'_>, fit: &Fit) -> Vec<String> {
    let mut words = Vec::new();
    let untouched: Vec<String> = case
        .observed
        .untouched
        .iter()
        .map(|idx| figure_words(&case.observed.figures[*idx].path))
        .collect();
    let named = !case.ask.solve.is_empty();
    if named && !untouched.is_empty() {
        words.push(format!(
            "nothing measured depends on {}: it stays as on the sheet",
            untouched.join(", ")
        ));
    }
    if !fit.held.is_empty() {
        let held: Vec<String> = fit.held.iter().map(|p| figure_words(p)).collect();
        words.push(format!(
            "the sheet states no uncertainty for {}; it counted as exact, so a tooth that it moves has none",
            held.join(", ")
        ));
    }
    if let Some(global) = &fit.global
        && global.chi2 < global.within[0]
    {
        words.push(format!(
            "what is left over is smaller than the uncertainties stated allow (χ² {:.1} on {} degrees of freedom, at \
             least {:.1} expected): they are stated too large, and so are those that come out; or rows were copied",
            global.chi2, global.dof, global.within[0]
        ));
    }
    let unchecked = fit
        .readings
        .iter()
        .filter(|r| r.state == ReadingState::Unchecked && r.observation_idx.is_some())
        .count();
    if unchecked != 0 {
        words.push(format!(
            "{unchecked} of {} numbers are checked by next to nothing: a gross error in one of them would hide",
            fit.readings.len()
        ));
    }
    words
}

/// Whether it can be believed. What is not shown to be in order is not.
fn belief(settled: &Settled, fit: &Fit) -> Belief {
    let mut why = Vec::new();
    match &fit.global {
        None => why.push(
            "nothing is left over to check it with: measure more poses than the unknowns need".to_owned(),
        ),
        Some(global) if global.holds() => {}
        // Uncertainties stated too large make what comes out less sure than it is: that is told, and does no harm.
        Some(global) if global.chi2 < global.within[0] => {}
        Some(global) => why.push(format!(
            "what is left over is too large for the uncertainties stated (χ² {:.1} on {} degrees of freedom, \
             at most {:.1} expected): something measured is wrong, or the sheet's form of the machine is",
            global.chi2, global.dof, global.within[1]
        )),
    }
    if settled.ended == Some(Ended::Prior)
        && let Some((words, in_sd)) = sheet_contradicts(fit)
        && !(in_sd <= BEYOND_CHANCE)
    {
        why.push(words);
    }
    if !fit.copied.is_empty() {
        why.push(format!(
            "rows agree to the last digit, which nothing measured twice does: {}",
            fit.copied.join(", ")
        ));
    }
    if settled.ended == Some(Ended::TooMany) {
        why.push(
            "more than a tenth of the numbers would have to go: look for what they have in common before anything is taken out"
                .to_owned(),
        );
    }
    let moving: Vec<&Open> = fit
        .not_determined
        .iter()
        .filter(|open| moves_tooth(open))
        .collect();
    if !moving.is_empty() {
        let words: Vec<&str> = moving.iter().map(|o| o.words.as_str()).collect();
        why.push(format!(
            "not determined, and it moves the tooth: {}",
            words.join("; ")
        ));
    }
    if why.is_empty() {
        Belief::Believed
    } else {
        Belief::NotBelieved(why)
    }
}

/// The figure of the sheet that the observations contradict most, and what it looks like.
fn sheet_contradicts(fit: &Fit) -> Option<(String, f64)> {
    let size = |reading: &&FittedReading| reading.in_sd.map_or(0.0, f64::abs);
    let on_sheet = fit.readings.iter().filter(|r| r.observation_idx.is_none());
    let worst = on_sheet.max_by(|a, b| size(a).total_cmp(&size(b)))?;
    let mut words = format!(
        "the sheet's {} is {} from what was measured, {:.1} times its own uncertainty: look at the sheet first",
        figure_words(&worst.name),
        off_words(worst),
        size(&worst)
    );
    if let Some(typed) = swapped_digits(worst) {
        words.push_str(&format!("; it would fit if {typed}"));
    }
    Some((words, size(&worst)))
}

/// Rows that are copies of another: the same points, and every measured digit the same.
fn copied(observations: &Observations) -> Vec<String> {
    let rows = &observations.rows;
    let measured = |row: &Observation| match &row.what {
        What::Touch { .. } => false,
        What::Shot { .. }
        | What::Tape { .. }
        | What::Slope { .. }
        | What::HouseTurn { .. }
        | What::SwingCircle { .. }
        | What::PinArc { .. } => true,
    };
    let mut pairs = Vec::new();
    for (idx, row) in rows.iter().enumerate().filter(|(_, row)| measured(row)) {
        let alike = |other: &&Observation| {
            other.what == row.what
                && (other.setup.as_str(), &other.readings) == (row.setup.as_str(), &row.readings)
                && other.when == row.when
        };
        if let Some(first) = rows[..idx].iter().find(alike) {
            // A tape read twice to the millimetre may well agree; coordinates and readings do not.
            if !matches!(row.what, What::Tape { .. } | What::Slope { .. }) {
                pairs.push(format!("{} and {}", first.name, row.name));
            }
        }
    }
    pairs
}
