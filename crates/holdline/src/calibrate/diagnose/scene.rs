//! The shots as equations: what a change of the machine, of the choice or of the survey does to every difference.

use super::asked::{DiagnoseAsk, DiagnosedShot, Held};
use super::noise::Noise;
use crate::machine::claim::LinkageBranch;
use crate::machine::front::ToolChoice;
use crate::tooth::model::ToothModel;
use crate::tooth::place::{Geometry, GeometryName, solve};
use crate::tooth::readings::{ReadingName, Readings};
use holdline_geom::fault::{Fault, Faults};
use nalgebra::{DMatrix, RealField};
use num_dual::DualSVec64;

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
pub(super) struct Seen {
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
    pub axes: [bool; 3],
}

/// All shots of one diagnosis.
#[derive(Debug, Clone)]
pub(super) struct Scene {
    base: ToothModel,
    /// Models of the tooth points that shots name.
    models: Vec<(ToolChoice, ToothModel)>,
    pub seen: Vec<Seen>,
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
    /// Taken as common to all satellite positions where nobody stated it, m.
    pub assumed_fix_m: [Option<f64>; 3],
}

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
            assumed_fix_m: [None; 3],
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
        let noise = Noise::of(&scene, &used, ask)?;
        scene.covariance_m2 = noise.covariance_m2;
        scene.figures = noise.figures;
        scene.usual_m2 = noise.usual_m2;
        scene.assumed_fix_m = noise.assumed_fix_m;
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

    /// The model of a shot: with its own tooth point, where it names one.
    pub fn model_of(&self, seen: &Seen) -> &ToothModel {
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
                    // Without a heading, only heights can be told.
                    seen.axes = [false, false, seen.axes[2]];
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
}

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
                // Standing, the steel is pushed up into the play: it is higher than shown.
                -seen.up_or_down
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

pub(super) fn of_shot(shot: &DiagnosedShot, fault: Fault) -> Fault {
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
