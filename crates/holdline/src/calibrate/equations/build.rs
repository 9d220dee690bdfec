//! From what was measured to blocks of equations.

use super::blocks::Builder;
use super::frames::{Gathered, Nuisance};
use super::pose::{At, PosedBlock};
use super::readings::middle_reading;
use super::rig::{FigureOf, rig_of, stand_in_link};
use super::{Block, Slot, System, start, trim};
use crate::calibrate::observations::Observations;
use crate::machine::Machine;
use crate::machine::claim::{ClaimedSensor, SensorKind};
use crate::machine::front::ToolChoice;
use crate::machine::joints::ALL_JOINTS;
use crate::tooth::model::ToothModel;
use crate::tooth::plan::Plan;
use holdline_geom::fault::{Fault, Faults};
use holdline_geom::measured::Measured;
use std::collections::BTreeMap;

/// What the sheet does not say of readings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct ReadingSds {
    pub heading_sd_rad: Option<f64>,
    pub antenna_sd_m: [Option<f64>; 3],
}

/// What a reading of a block is, for a person.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Label {
    /// The observation it was given in, by its place among them.
    pub observation_idx: usize,
    /// What of it: `easting`, `length`, `angle`, `reading of S-boom`.
    pub what: String,
    /// Whether it counts in radians.
    pub angle: bool,
}

/// Equations, their unknowns, and what everything is called.
#[derive(Debug, Clone)]
pub(crate) struct Observed {
    pub system: System,
    pub figures: Vec<FigureOf>,
    /// The figure that each of the first unknowns is.
    pub figure_of_unknown: Vec<usize>,
    /// The unknowns after those.
    pub nuisances: Vec<Nuisance>,
    /// Where the search begins.
    pub start: Vec<f64>,
    /// What one satellite position is uncertain by, and their fix with it, m; none where none was used.
    pub fix_sd_m: [Option<f64>; 3],
    /// Names of every block's readings.
    pub labels: Vec<Vec<Label>>,
    /// Figures that were to be found and that nothing measured depends on.
    pub untouched: Vec<usize>,
    /// Findings on the way, in words.
    pub findings: Vec<String>,
}

impl Observed {
    /// A start with other values of the figures: set-ups, headings and marks follow from them.
    /// None where the chain has no value there.
    pub(crate) fn begin_at(&self, figures: &[f64]) -> Option<Vec<f64>> {
        let mut x = self.start.clone();
        x[..figures.len()].copy_from_slice(figures);
        let of_unknown = &self.figure_of_unknown;
        start::close_linkage(&self.system, &self.figures, of_unknown, &mut x);
        start::begin(&self.system, &self.nuisances, figures.len(), &mut x).ok()?;
        Some(x)
    }
}

/// The equations of what was measured.
pub(crate) fn build(
    machine: &Machine,
    choice: &ToolChoice,
    observations: &Observations,
    sds: ReadingSds,
    sought: &dyn Fn(&FigureOf) -> bool,
) -> Result<Observed, Faults> {
    let n_sensors = machine.sheet().sensors.len();
    let machine = with_stand_ins(machine, choice)?;
    let model = ToothModel::new(&machine, choice)?;
    let (rig, figures, teeth) = rig_of(&model, n_sensors)?;
    let mut unknown_of_figure = vec![None; figures.len()];
    let mut figure_of_unknown = Vec::new();
    for (figure_idx, figure) in figures.iter().enumerate() {
        if !figure.stand_in && sought(figure) {
            unknown_of_figure[figure_idx] = Some(figure_of_unknown.len());
            figure_of_unknown.push(figure_idx);
        }
    }
    let mut builder = Builder {
        machine: &machine,
        plan: model.plan()?,
        teeth: &teeth,
        sds,
        unknowns: Gathered::after(figure_of_unknown.len()),
        first_on_mark: BTreeMap::new(),
        faults: Faults::none(),
        findings: Vec::new(),
        fix_sd_m: [None; 3],
        observations,
    };
    let mut blocks = Vec::new();
    let mut labels = Vec::new();
    for (name, rows) in poses(observations) {
        if let Some((block, label)) = builder.block(&name, &rows) {
            blocks.push(block);
            labels.push(label);
        }
    }
    let Builder {
        unknowns,
        faults,
        findings,
        fix_sd_m,
        ..
    } = builder;
    faults.or(())?;
    let plan_with_strokes = model.plan()?.clone();
    let plan = without_strokes(plan_with_strokes.clone());
    let mut system = System {
        plan_without_house: Plan {
            house: None,
            ..plan.clone()
        },
        plan,
        plan_with_strokes,
        rig: rig.map(&mut |_, m| m.value),
        teeth,
        antennas: machine
            .sheet()
            .antennas
            .iter()
            .map(|a| a.id.clone())
            .collect(),
        unknown_of_figure,
        n_unknowns: figure_of_unknown.len() + unknowns.all.len(),
        blocks,
    };
    let mut start: Vec<f64> = figure_of_unknown
        .iter()
        .map(|idx| figures[*idx].measured.value)
        .collect();
    start.resize(system.n_unknowns, 0.0);
    start::close_linkage(&system, &figures, &figure_of_unknown, &mut start);
    for (block, labels) in system.blocks.iter().zip(&labels) {
        check_poses(&system, block, labels, &start, observations)?;
    }
    start::begin(&system, &unknowns.all, unknowns.first, &mut start)?;
    let trimmed = trim::trim(&mut system, &mut labels, &start)?;
    let n_figures = figure_of_unknown.len();
    let untouched = (0..n_figures)
        .filter(|u| !trimmed[*u])
        .map(|u| figure_of_unknown[u])
        .collect();
    let kept = |first: usize| {
        let trimmed = &trimmed;
        move |(idx, _): &(usize, &_)| trimmed[first + *idx]
    };
    Ok(Observed {
        system,
        figure_of_unknown: figure_of_unknown
            .iter()
            .enumerate()
            .filter(|(u, _)| trimmed[*u])
            .map(|(_, idx)| *idx)
            .collect(),
        figures,
        nuisances: unknowns
            .all
            .iter()
            .enumerate()
            .filter(kept(n_figures))
            .map(|(_, n): (usize, &Nuisance)| n.clone())
            .collect(),
        start: start
            .iter()
            .zip(&trimmed)
            .filter(|(_, keep)| **keep)
            .map(|(s, _)| *s)
            .collect(),
        fix_sd_m,
        labels,
        untouched,
        findings,
    })
}

/// That the chain has a value in every pose whose readings are all there; the fault names the pose.
fn check_poses(
    system: &System,
    block: &Block,
    labels: &[Label],
    x: &[f64],
    observations: &Observations,
) -> Result<(), Fault> {
    let unread = block
        .sensors
        .iter()
        .flatten()
        .any(|s| matches!(s, Slot::Sought(_)));
    if unread {
        return Ok(());
    }
    let at = At::plain(system, x, &block.readings);
    let posed = PosedBlock { system, block };
    for view in &block.views {
        if let Err(mut fault) = posed.posed(view, &at) {
            if let Some(label) = labels.first() {
                let name = &observations.rows[label.observation_idx].name;
                fault.at = format!("observation[{name}], {}", fault.at);
            }
            return Err(fault);
        }
    }
    Ok(())
}

/// The machine with an encoder that nobody reads on every joint that has no sensor.
fn with_stand_ins(machine: &Machine, choice: &ToolChoice) -> Result<Machine, Faults> {
    let model = ToothModel::new(machine, choice)?;
    let Err(faults) = model.plan() else {
        return Ok(machine.clone());
    };
    let mut sheet = machine.sheet().clone();
    for fault in &faults.0 {
        let joint = ALL_JOINTS
            .iter()
            .find(|joint| fault.at == format!("joint {}", joint.word()));
        let link = joint.and_then(|joint| stand_in_link(*joint));
        let (Some(joint), Some(link)) = (joint, link) else {
            return Err(faults);
        };
        sheet.sensors.push(ClaimedSensor {
            id: format!("no sensor on {}", joint.word()),
            link,
            kind: SensorKind::JointEncoder,
            offset: Measured::without_sd(0.0),
            roll_offset: None,
            mount_rad: 0.0,
            sign: 1.0,
            sd_rad: None,
            latency_s: None,
        });
    }
    Machine::measured_up(sheet)
}

/// The plan that lets every joint stand anywhere: an offset that is not known yet may put it past its stroke.
///
/// A single-axis sensor keeps its range, which tells one side of the vertical from the other.
fn without_strokes(mut plan: Plan) -> Plan {
    let front = plan.encoders_first.iter_mut().chain([&mut plan.boom]);
    let front = front.chain(&mut plan.boom_upper);
    for source in front.chain([&mut plan.stick, &mut plan.bucket]) {
        if source.kind != SensorKind::SingleAxis {
            source.range = None;
        }
    }
    plan.bucket_range = None;
    plan
}

/// The observations of each pose, in the order in which the poses come.
fn poses(observations: &Observations) -> Vec<(String, Vec<usize>)> {
    let mut all: Vec<(String, Vec<usize>)> = Vec::new();
    let mut place: BTreeMap<(&str, &str), usize> = BTreeMap::new();
    for (idx, row) in observations.rows.iter().enumerate() {
        if row.pose.is_empty() {
            all.push((row.name.clone(), vec![idx]));
            continue;
        }
        let at = *place
            .entry((row.stand.as_str(), row.pose.as_str()))
            .or_insert_with(|| {
                all.push((row.pose.clone(), Vec::new()));
                all.len() - 1
            });
        all[at].1.push(idx);
    }
    all
}

/// The raw reading at which the search for a joint that was not read begins.
pub(super) fn unread(system: &System, sensor_idx: usize) -> f64 {
    let offset_rad = system.rig.geometry.constants[sensor_idx].offset_rad;
    middle_reading(&system.plan_with_strokes, sensor_idx, offset_rad)
}
