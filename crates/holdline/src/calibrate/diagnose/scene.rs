//! The shots as equations: what a change of the machine, of the choice or of the survey does to every difference.

use super::asked::{DiagnoseAsk, DiagnosedShot, Held};
use crate::machine::claim::LinkageBranch;
use crate::machine::front::ToolChoice;
use crate::tooth::model::ToothModel;
use crate::tooth::place::{Geometry, GeometryName, solve};
use crate::tooth::readings::{ReadingName, Readings};
use holdline_geom::fault::{Fault, Faults};
use nalgebra::{DMatrix, RealField};
use num_dual::DualSVec64;

/// Slopes in one pass over all figures and readings.
const N_LANES: usize = 16;
type Lanes = DualSVec64<N_LANES>;

/// Slopes in one pass by the parameters of one or two faults.
pub(super) const N_FEW: usize = 4;
type Few = DualSVec64<N_FEW>;

/// Something that is or is not.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Change {
    /// Another tool or tooth point than the one chosen.
    Tool(ToolChoice),
    /// The linkage assembled the other way.
    Branch,
    /// A figure of the sheet has this value.
    Figure(GeometryName, f64),
    /// Easting and northing of the survey change places.
    SurveySwapped,
    /// Every coordinate of the survey times a factor.
    SurveyScaled([f64; 3]),
}

/// A way in which a fault of some size moves the tooth as shown.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Direction {
    /// Figures of the sheet are too large by the fault's size times these, and the heading turned by it.
    Figures {
        /// Figure and share.
        shares: Vec<(GeometryName, f64)>,
        /// Share of the heading.
        heading: f64,
    },
    /// The same shift in every shot.
    Shift([f64; 3]),
    /// A shift in one shot alone.
    OneShot {
        /// The shot.
        shot_idx: usize,
        /// Along this axis.
        axis: usize,
    },
    /// Velocity of the tooth, times a time.
    Late,
    /// Up where the tooth stands, down where the bucket hangs.
    Play,
}

/// Differences, shown minus surveyed, and how they move with each parameter.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Differences {
    /// One a row of the scene, m.
    pub y_m: Vec<f64>,
    /// For each direction, one a row.
    pub slopes: Vec<Vec<f64>>,
}

/// One shot, settled.
#[derive(Debug, Clone)]
struct Seen {
    name: String,
    /// With which tooth point, where the shot names its own.
    tooth: Option<String>,
    readings: Option<Readings<f64>>,
    /// Added to the computed tooth: what the display showed less what the sheet gives; or the display itself.
    offset_m: [f64; 3],
    surveyed_m: [f64; 3],
    velocity_m_s: [f64; 3],
    up_or_down: f64,
    /// Axes that take part.
    axes: [bool; 3],
}

/// All shots of one diagnosis.
#[derive(Debug, Clone)]
pub(super) struct Scene {
    base: ToothModel,
    /// Models of the tooth points that shots name.
    models: Vec<(ToolChoice, ToothModel)>,
    seen: Vec<Seen>,
    /// Shot and axis of every row.
    pub rows: Vec<(usize, usize)>,
    /// Whether the shots have readings at all.
    pub has_readings: bool,
    /// Names of the shots left out because they have none.
    pub left_out: Vec<String>,
    /// Covariance of the differences with nothing wrong, m².
    pub covariance_m2: DMatrix<f64>,
    /// Figures that move some tooth, with their slopes row by row.
    pub figures: Vec<(GeometryName, Vec<f64>)>,
    /// Variance of a usual shot without what all share, m²: the mean over the shots, for planning the next.
    pub usual_m2: [f64; 3],
}

/// A figure that moves the tooth, its standard uncertainty, and its slopes row by row.
type Figure = (GeometryName, Option<f64>, Vec<f64>);

/// Standard uncertainty that stands for "nobody knows": far more than any shift, little enough to calculate with.
const UNKNOWN_SD_M: f64 = 1.0;

impl Scene {
    /// Settles shots, rows and covariance.
    ///
    /// # Errors
    ///
    /// `D001` for too little to judge by, `D002` for a survey without an uncertainty,
    /// `D003` for figures and readings without one; what the readings give that cannot be used.
    pub fn new(
        model: &ToothModel,
        shots: &[DiagnosedShot],
        ask: &DiagnoseAsk,
    ) -> Result<Scene, Faults> {
        let has_readings = shots.iter().any(|shot| shot.readings.is_some());
        let (used, left): (Vec<_>, Vec<_>) = shots
            .iter()
            .partition(|shot| shot.readings.is_some() || !has_readings);
        let mut scene = Scene {
            base: model.clone(),
            models: Vec::new(),
            seen: Vec::new(),
            rows: Vec::new(),
            has_readings,
            left_out: left.iter().map(|shot| shot.name.clone()).collect(),
            covariance_m2: DMatrix::zeros(0, 0),
            figures: Vec::new(),
            usual_m2: [0.0; 3],
        };
        let mut faults = Faults::none();
        for shot in &used {
            match scene.seen_of(shot) {
                Ok(seen) => scene.seen.push(seen),
                Err(more) => faults
                    .0
                    .extend(more.0.into_iter().map(|fault| of_shot(shot, fault))),
            }
        }
        if !faults.is_empty() {
            return Err(faults);
        }
        scene.rows = scene.all_rows();
        check_enough(scene.rows.len())?;
        scene.covary(&used, ask)?;
        Ok(scene)
    }

    /// The model chosen.
    pub fn model(&self) -> &ToothModel {
        &self.base
    }

    /// Number of shots that take part.
    pub fn n_shots(&self) -> usize {
        self.seen.len()
    }

    /// A shot's name.
    pub fn shot_name(&self, shot_idx: usize) -> &str {
        &self.seen[shot_idx].name
    }

    /// Values of a shot's readings.
    pub fn readings(&self, shot_idx: usize) -> Option<&Readings<f64>> {
        self.seen[shot_idx].readings.as_ref()
    }

    /// Whether some shot was made with the tooth moving.
    pub fn has_velocities(&self) -> bool {
        self.seen.iter().any(|s| s.velocity_m_s != [0.0; 3])
    }

    /// Whether the play was taken up in both ways.
    pub fn has_both_holds(&self) -> bool {
        let holds = |sign: f64| self.seen.iter().any(|s| s.up_or_down == sign);
        holds(1.0) && holds(-1.0)
    }

    /// Rows as three coordinates a shot.
    pub fn by_shot(&self, rows: &[f64]) -> Vec<[Option<f64>; 3]> {
        let mut out = vec![[None; 3]; self.seen.len()];
        for ((shot_idx, axis), value) in self.rows.iter().zip(rows) {
            out[*shot_idx][*axis] = Some(*value);
        }
        out
    }

    /// The differences under changes and parameters, with slopes by the parameters.
    ///
    /// # Errors
    ///
    /// What the readings give with those figures that cannot be: then the fault is not this one.
    pub fn differences(
        &self,
        changes: &[&Change],
        directions: &[&Direction],
        sizes: &[f64],
    ) -> Result<Differences, Faults> {
        let in_model: Vec<usize> = (0..directions.len())
            .filter(|idx| matches!(directions[*idx], Direction::Figures { .. }))
            .collect();
        let mut y_m = Vec::with_capacity(self.rows.len());
        let mut slopes = vec![Vec::with_capacity(self.rows.len()); directions.len()];
        for (shot_idx, seen) in self.seen.iter().enumerate() {
            let (tooth, few) = self.tooth(seen, changes, directions, sizes, &in_model)?;
            let surveyed = surveyed_with(seen.surveyed_m, changes);
            for axis in (0..3).filter(|axis| seen.axes[*axis]) {
                let mut y = tooth[axis] + seen.offset_m[axis] - surveyed[axis];
                for (d, direction) in directions.iter().enumerate() {
                    let slope = match in_model.iter().position(|idx| *idx == d) {
                        Some(lane) => -few[axis][lane], // the figure is corrected by minus the size
                        None => outside_model(direction, seen, shot_idx, axis),
                    };
                    if !in_model.contains(&d) {
                        y -= slope * sizes[d];
                    }
                    slopes[d].push(slope);
                }
                y_m.push(y);
            }
        }
        Ok(Differences { y_m, slopes })
    }

    /// The computed tooth and its slopes by the parameters that act in the model.
    fn tooth(
        &self,
        seen: &Seen,
        changes: &[&Change],
        directions: &[&Direction],
        sizes: &[f64],
        in_model: &[usize],
    ) -> Result<([f64; 3], [[f64; N_FEW]; 3]), Faults> {
        let Some(readings) = &seen.readings else {
            return Ok(([0.0; 3], [[0.0; N_FEW]; 3]));
        };
        let model = self
            .model_with(seen, changes)
            .unwrap_or_else(|| self.model_of(seen));
        if in_model.is_empty() {
            let mut geometry = model
                .geometry()
                .map(&mut |name, m| changed_figure(name, m.value, changes));
            if changes.iter().any(|change| **change == Change::Branch) {
                turn_branch(&mut geometry);
            }
            return Ok((tooth_of(model, &geometry, readings)?, [[0.0; N_FEW]; 3]));
        }
        let seeds: Vec<Few> = in_model
            .iter()
            .enumerate()
            .map(|(lane, idx)| Few::from_re(sizes[*idx]).derivative(lane))
            .collect();
        let shares: Vec<(&[(GeometryName, f64)], f64)> = in_model
            .iter()
            .filter_map(|idx| match directions[*idx] {
                Direction::Figures { shares, heading } => Some((shares.as_slice(), *heading)),
                _ => None,
            })
            .collect();
        let mut geometry = model.geometry().map(&mut |name, m| {
            let mut value = Few::from_re(changed_figure(name, m.value, changes));
            for ((figures, _), size) in shares.iter().zip(&seeds) {
                for (_, share) in figures.iter().filter(|(figure, _)| *figure == name) {
                    value -= *size * *share;
                }
            }
            value
        });
        if changes.iter().any(|change| **change == Change::Branch) {
            turn_branch(&mut geometry);
        }
        let readings = readings.map(&mut |name, value| {
            let mut value = Few::from_re(*value);
            if name == ReadingName::Heading {
                for ((_, heading), size) in shares.iter().zip(&seeds) {
                    value -= *size * *heading;
                }
            }
            value
        });
        let tooth = tooth_of(model, &geometry, &readings)?;
        let few = tooth.map(|c| {
            let mut lanes = [0.0; N_FEW];
            if let Some(eps) = c.eps.0 {
                lanes.iter_mut().zip(eps.iter()).for_each(|(l, e)| *l = *e);
            }
            lanes
        });
        Ok((tooth.map(|c| c.re), few))
    }

    /// Makes ready the models of another tool, for every tooth point that shots name.
    ///
    /// # Errors
    ///
    /// When that tool does not hang on this machine.
    pub fn prepare(&mut self, choice: &ToolChoice) -> Result<(), Fault> {
        let wanted: Vec<ToolChoice> = self
            .seen
            .iter()
            .map(|seen| self.choice_for(seen, choice))
            .collect();
        for choice in wanted {
            if !self.models.iter().any(|(known, _)| *known == choice) {
                let model = ToothModel::new(self.base.machine(), &choice)?;
                self.models.push((choice, model));
            }
        }
        Ok(())
    }

    /// The tool as a shot has it: with its own tooth point, unless the tooth point itself is in question.
    fn choice_for(&self, seen: &Seen, choice: &ToolChoice) -> ToolChoice {
        let mut choice = choice.clone();
        if let Some(own) = &seen.tooth
            && choice.tooth == self.base.choice().tooth
        {
            choice.tooth = own.clone();
        }
        choice
    }

    /// The model of another tool, where a change asks for one.
    fn model_with(&self, seen: &Seen, changes: &[&Change]) -> Option<&ToothModel> {
        let choice = changes.iter().find_map(|change| match change {
            Change::Tool(choice) => Some(self.choice_for(seen, choice)),
            _ => None,
        })?;
        let known = self.models.iter().find(|(known, _)| *known == choice);
        known.map(|(_, model)| model)
    }

    fn model_of(&self, seen: &Seen) -> &ToothModel {
        match &seen.tooth {
            None => &self.base,
            Some(tooth) => self
                .models
                .iter()
                .find(|(choice, _)| choice.tooth == *tooth)
                .map_or(&self.base, |(_, model)| model),
        }
    }

    /// What a fault of these sizes does to the tooth as shown, were it read so, and its slopes by the sizes; m.
    ///
    /// None where the machine cannot be read so. A shot of its own fault, lag and play do nothing there.
    pub fn effect_at(
        &self,
        readings: &Readings<f64>,
        changes: &[&Change],
        directions: &[&Direction],
        sizes: &[f64],
    ) -> Option<([f64; 3], Vec<[f64; 3]>)> {
        let seen = Seen {
            name: String::new(),
            tooth: None,
            readings: Some(readings.clone()),
            offset_m: [0.0; 3],
            surveyed_m: [0.0; 3],
            velocity_m_s: [0.0; 3],
            up_or_down: 0.0,
            axes: [true; 3],
        };
        let in_model: Vec<usize> = (0..directions.len())
            .filter(|idx| matches!(directions[*idx], Direction::Figures { .. }))
            .collect();
        let (shown, _) = self.tooth(&seen, &[], &[], &[], &[]).ok()?;
        let (right, few) = self
            .tooth(&seen, changes, directions, sizes, &in_model)
            .ok()?;
        let surveyed = surveyed_with(shown, changes);
        let mut effect =
            [0, 1, 2].map(|axis| shown[axis] - right[axis] + surveyed[axis] - shown[axis]);
        let slopes = directions.iter().enumerate().map(|(d, direction)| {
            [0, 1, 2].map(|axis| match in_model.iter().position(|idx| *idx == d) {
                Some(lane) => -few[axis][lane],
                None => outside_model(direction, &seen, usize::MAX, axis),
            })
        });
        let slopes: Vec<[f64; 3]> = slopes.collect();
        for d in (0..directions.len()).filter(|d| !in_model.contains(d)) {
            for (effect, slope) in effect.iter_mut().zip(&slopes[d]) {
                *effect += slope * sizes[d];
            }
        }
        Some((effect, slopes))
    }

    fn seen_of(&mut self, shot: &DiagnosedShot) -> Result<Seen, Faults> {
        let chosen = &self.base.choice().tooth;
        let tooth = shot.tooth.clone().filter(|tooth| tooth != chosen);
        if let Some(tooth) = &tooth
            && !self.models.iter().any(|(choice, _)| choice.tooth == *tooth)
        {
            let choice = ToolChoice {
                tooth: tooth.clone(),
                ..self.base.choice().clone()
            };
            let model = ToothModel::new(self.base.machine(), &choice)?;
            self.models.push((choice, model));
        }
        let mut seen = Seen {
            name: shot.name.clone(),
            tooth,
            readings: shot.readings.as_ref().map(|r| r.map(&mut |_, m| m.value)),
            offset_m: [0.0; 3],
            surveyed_m: shot.surveyed_m.map(|m| m.map_or(0.0, |m| m.value)),
            velocity_m_s: shot.velocity_m_s.unwrap_or([0.0; 3]),
            up_or_down: match shot.held {
                Some(Held::Standing) => 1.0,
                Some(Held::Hanging) => -1.0,
                None => 0.0,
            },
            axes: [0, 1, 2].map(|axis| shot.surveyed_m[axis].is_some()),
        };
        let shown = shot.shown_m.iter().any(Option::is_some);
        if shown {
            for axis in 0..3 {
                seen.axes[axis] &= shot.shown_m[axis].is_some();
                seen.offset_m[axis] = shot.shown_m[axis].map_or(0.0, |m| m.value);
            }
        }
        match &seen.readings {
            None if !shown => Err(nothing_shown().into()),
            None => Ok(seen),
            Some(readings) => {
                let model = self.model_of(&seen);
                let values = model.geometry().map(&mut |_, m| m.value);
                let on_site = solve(model.plan()?, &values, readings)?
                    .tooth_site
                    .is_some();
                if !on_site {
                    if !shown {
                        return Err(no_site().into());
                    }
                    seen.axes = [false, false, seen.axes[2]]; // without a heading, only heights can be told
                }
                if shown {
                    let computed = tooth_of(model, &values, readings)?;
                    for (offset, computed) in seen.offset_m.iter_mut().zip(computed) {
                        *offset -= computed;
                    }
                }
                Ok(seen)
            }
        }
    }

    fn all_rows(&self) -> Vec<(usize, usize)> {
        let of = |(idx, seen): (usize, &Seen)| {
            let axes = seen.axes;
            (0..3)
                .filter(move |axis| axes[*axis])
                .map(move |axis| (idx, axis))
        };
        self.seen.iter().enumerate().flat_map(of).collect()
    }

    /// Covariance with nothing wrong: each shot's own scatter, the sheet's figures, control and satellite fix.
    fn covary(&mut self, shots: &[&DiagnosedShot], ask: &DiagnoseAsk) -> Result<(), Faults> {
        let n = self.rows.len();
        let mut covariance = DMatrix::zeros(n, n);
        let mut faults = Faults::none();
        let mut missing: Vec<String> = Vec::new();
        let mut figures: Vec<Figure> = Vec::new();
        let mut at = 0;
        for (idx, shot) in shots.iter().enumerate() {
            let seen = &self.seen[idx];
            let axes: Vec<usize> = (0..3).filter(|axis| seen.axes[*axis]).collect();
            let mut own = [[0.0; 3]; 3];
            for &axis in &axes {
                match shot.surveyed_m[axis].and_then(|m| stated(m.sd)) {
                    Some(sd) => own[axis][axis] += sd * sd,
                    None => faults.push(of_shot(shot, no_survey_sd(axis))),
                }
            }
            match &shot.readings {
                None => {
                    for &axis in &axes {
                        match shot.shown_m[axis].and_then(|m| stated(m.sd)) {
                            Some(sd) => own[axis][axis] += sd * sd,
                            None => note(&mut missing, "the display".to_owned()),
                        }
                    }
                }
                Some(readings) => {
                    let model = self.model_of(seen);
                    let (sources, slopes) = all_slopes(model, &readings.map(&mut |_, m| m.value))?;
                    let n_figures = sources.len();
                    let mut sds = Vec::new();
                    let mut names = Vec::new();
                    readings.map(&mut |name, m| {
                        sds.push(m.sd);
                        names.push(name);
                    });
                    for ((slope, sd), name) in slopes[n_figures..].iter().zip(&sds).zip(names) {
                        if axes.iter().all(|axis| slope[*axis].abs() <= NO_SLOPE) {
                            continue;
                        }
                        match stated(*sd) {
                            None => note(&mut missing, reading_word(model, name)),
                            Some(sd) => add_outer(&mut own, slope, sd),
                        }
                    }
                    let one_sd = model.geometry();
                    let mut sds = Vec::new();
                    one_sd.map(&mut |_, m| sds.push(m.sd));
                    for ((name, slope), sd) in sources.iter().zip(&slopes).zip(sds) {
                        let entry = match figures.iter().position(|(n, _, _)| n == name) {
                            Some(entry) => entry,
                            None => {
                                figures.push((*name, sd, vec![0.0; n]));
                                figures.len() - 1
                            }
                        };
                        for (row, &axis) in axes.iter().enumerate() {
                            figures[entry].2[at + row] = slope[axis];
                        }
                    }
                }
            }
            for (i, &a) in axes.iter().enumerate() {
                for (j, &b) in axes.iter().enumerate() {
                    covariance[(at + i, at + j)] += own[a][b];
                }
            }
            at += axes.len();
        }
        figures.retain(|(_, _, slopes)| slopes.iter().any(|s| NO_SLOPE < s.abs()));
        for (name, sd, _) in &figures {
            if stated(*sd).is_none() {
                note(&mut missing, self.base.geometry_name(*name));
            }
        }
        self.add_figures(&mut covariance, &figures);
        for axis in 0..3 {
            let of = |row: &usize| self.rows[*row].1 == axis;
            let mine: Vec<usize> = (0..n).filter(of).collect();
            let sum: f64 = mine.iter().map(|row| covariance[(*row, *row)]).sum();
            self.usual_m2[axis] = sum / mine.len().max(1) as f64;
        }
        self.add_shared(&mut covariance, ask);
        if !missing.is_empty() {
            faults.push(no_sd(&missing));
        }
        self.figures = figures
            .into_iter()
            .map(|(name, _, slopes)| (name, slopes))
            .collect();
        self.covariance_m2 = covariance;
        faults.or(())
    }

    /// The sheet's figures, with what a calibration found between them.
    fn add_figures(&self, covariance: &mut DMatrix<f64>, figures: &[Figure]) {
        let names: Vec<GeometryName> = figures.iter().map(|(name, ..)| *name).collect();
        let Some(together) = self.base.figure_covariance(&names) else {
            return; // one has no uncertainty: said elsewhere
        };
        let slopes = DMatrix::from_fn(self.rows.len(), names.len(), |row, at| figures[at].2[row]);
        *covariance += &slopes * together * slopes.transpose();
    }

    /// Control, set-up and satellite fix: along each axis the same in every shot.
    fn add_shared(&self, covariance: &mut DMatrix<f64>, ask: &DiagnoseAsk) {
        for axis in 0..3 {
            let control = stated(ask.common_sd_m[axis]).unwrap_or(UNKNOWN_SD_M);
            let fix = stated(ask.position_common_sd_m[axis]).unwrap_or(0.0);
            let ones: Vec<f64> = self
                .rows
                .iter()
                .map(|(_, of)| if *of == axis { 1.0 } else { 0.0 })
                .collect();
            add_common(covariance, &ones, control * control + fix * fix);
        }
    }
}

/// Below this slope, m per unit, a figure does not move the tooth: what is left is rounding.
const NO_SLOPE: f64 = 1e-9;

/// The tooth on the site; without a heading its height over the track ground alone.
pub(super) fn tooth_of<S: RealField + Copy>(
    model: &ToothModel,
    geometry: &Geometry<S>,
    readings: &Readings<S>,
) -> Result<[S; 3], Faults> {
    let solution = solve(model.plan()?, geometry, readings)?;
    Ok(match solution.tooth_site {
        Some(at) => {
            let v = at.vector();
            [v.x, v.y, v.z]
        }
        None => [S::zero(), S::zero(), solution.tooth_level.vector().z],
    })
}

/// Slopes of the tooth by every figure, in the order of the map, then by every reading.
pub(super) fn all_slopes(
    model: &ToothModel,
    readings: &Readings<f64>,
) -> Result<(Vec<GeometryName>, Vec<[f64; 3]>), Faults> {
    let mut names = Vec::new();
    model.geometry().map(&mut |name, _| names.push(name));
    let mut slopes = Vec::new();
    let mut n_sources = usize::MAX;
    while slopes.len() < n_sources {
        let first = slopes.len();
        let mut at = 0;
        let mut seed = |value: f64| {
            let plain = Lanes::from_re(value);
            let mine = first <= at && at < first + N_LANES;
            at += 1;
            if mine {
                plain.derivative(at - 1 - first)
            } else {
                plain
            }
        };
        let geometry = model.geometry().map(&mut |_, m| seed(m.value));
        let readings = readings.map(&mut |_, value| seed(*value));
        n_sources = at;
        let tooth = tooth_of(model, &geometry, &readings)?;
        for lane in 0..N_LANES.min(n_sources - first) {
            slopes.push(tooth.map(|c| c.eps.0.map_or(0.0, |eps| eps[lane])));
        }
    }
    Ok((names, slopes))
}

fn outside_model(direction: &Direction, seen: &Seen, shot_idx: usize, axis: usize) -> f64 {
    match direction {
        Direction::Figures { .. } => 0.0,
        Direction::Shift(along) => along[axis],
        Direction::OneShot {
            shot_idx: one,
            axis: along,
        } => f64::from(u8::from(*one == shot_idx && *along == axis)),
        Direction::Late => -seen.velocity_m_s[axis], // what is late shows where the tooth was
        Direction::Play => {
            if axis == 2 {
                -seen.up_or_down // standing, the steel is pushed up into the play: it is higher than shown
            } else {
                0.0
            }
        }
    }
}

fn surveyed_with(at_m: [f64; 3], changes: &[&Change]) -> [f64; 3] {
    changes.iter().fold(at_m, |[e, n, u], change| match change {
        Change::SurveySwapped => [n, e, u],
        Change::SurveyScaled([a, b, c]) => [e * a, n * b, u * c],
        Change::Tool(_) | Change::Branch | Change::Figure(..) => [e, n, u],
    })
}

fn changed_figure(name: GeometryName, value: f64, changes: &[&Change]) -> f64 {
    let other = changes.iter().find_map(|change| match change {
        Change::Figure(figure, value) if *figure == name => Some(*value),
        _ => None,
    });
    other.unwrap_or(value)
}

fn turn_branch<S>(geometry: &mut Geometry<S>) {
    let branch = &mut geometry.front.linkage.branch;
    *branch = match branch {
        LinkageBranch::Left => LinkageBranch::Right,
        LinkageBranch::Right => LinkageBranch::Left,
    };
}

fn add_outer(own: &mut [[f64; 3]; 3], slope: &[f64; 3], sd: f64) {
    for a in 0..3 {
        for b in 0..3 {
            own[a][b] += (slope[a] * sd) * (slope[b] * sd);
        }
    }
}

fn add_common(covariance: &mut DMatrix<f64>, slopes: &[f64], variance: f64) {
    for (i, a) in slopes.iter().enumerate().filter(|(_, a)| **a != 0.0) {
        for (j, b) in slopes.iter().enumerate() {
            covariance[(i, j)] += a * b * variance;
        }
    }
}

/// Zero, a negative or no number is no statement of an uncertainty.
fn stated(sd: Option<f64>) -> Option<f64> {
    sd.filter(|sd| 0.0 < *sd && *sd < f64::INFINITY)
}

fn note(missing: &mut Vec<String>, name: String) {
    if !missing.contains(&name) {
        missing.push(name);
    }
}

fn reading_word(model: &ToothModel, name: ReadingName) -> String {
    let sheet = model.machine().sheet();
    match name {
        ReadingName::Pitch | ReadingName::Roll => "pitch and roll of the house".to_owned(),
        ReadingName::Heading => "heading".to_owned(),
        ReadingName::Sensor { sensor_idx } => format!("sensor {}", sheet.sensors[sensor_idx].id),
        ReadingName::Antenna { antenna_idx, .. } => {
            format!("position of antenna {}", sheet.antennas[antenna_idx].id)
        }
    }
}

fn of_shot(shot: &DiagnosedShot, fault: Fault) -> Fault {
    Fault {
        at: format!("shot {}: {}", shot.name, fault.at),
        ..fault
    }
}

fn check_enough(n_rows: usize) -> Result<(), Fault> {
    /// Two shots in space, or four heights.
    const AT_LEAST: usize = 4;
    if AT_LEAST <= n_rows {
        return Ok(());
    }
    Err(Fault::new(
        "D001",
        "shots",
        format!("{n_rows} coordinates both shown and surveyed"),
        format!("at least {AT_LEAST}: two shots in space, or four heights"),
        "make more shots, with the boom, the stick, the bucket and the heading each moved between them",
    ))
}

fn nothing_shown() -> Fault {
    Fault::new(
        "D001",
        "shown",
        "neither a display nor readings",
        "what the display showed, or what the sensors read",
        "write down the readings with every shot; the diagnosis needs the pose",
    )
}

fn no_site() -> Fault {
    Fault::new(
        "D001",
        "antenna",
        "readings that do not say where the machine stands",
        "an antenna position and a heading, or what the display showed",
        "give the antennas' columns, or write down what the display showed",
    )
}

fn no_survey_sd(axis: usize) -> Fault {
    Fault::new(
        "D002",
        crate::calibrate::check_shots::AXES[axis],
        "a survey without an uncertainty",
        "the standard uncertainty of the survey",
        "ask the surveyor, or state what the instrument does",
    )
}

fn no_sd(missing: &[String]) -> Fault {
    Fault::new(
        "D003",
        "uncertainties",
        format!("none stated for {}", missing.join(", ")),
        "a standard uncertainty for everything that moves the tooth",
        "state them on the sheet or with the check: without them nobody can say which difference is large",
    )
}
