//! Scatter of the differences with nothing wrong: each shot's own, and what the shots share.

use super::asked::{DiagnoseAsk, DiagnosedShot};
use super::scene::{Scene, Seen, of_shot, tooth_of};
use crate::calibrate::check_shots::AXES;
use crate::tooth::model::ToothModel;
use crate::tooth::place::GeometryName;
use crate::tooth::readings::{ReadingName, Readings};
use holdline_geom::fault::{Fault, Faults};
use nalgebra::DMatrix;
use num_dual::DualSVec64;

/// Slopes in one pass over all figures and readings.
const N_LANES: usize = 16;
type Lanes = DualSVec64<N_LANES>;

/// Standard uncertainty that stands for "nobody knows": far more than any shift, little enough to calculate with.
const UNKNOWN_SD_M: f64 = 1.0;

/// Below this slope, m per unit, a figure does not move the tooth: what is left is rounding.
const NO_SLOPE: f64 = 1e-9;

/// The scatter, and what it is made from.
#[derive(Debug)]
pub(super) struct Noise {
    /// Covariance of the differences, m².
    pub covariance_m2: DMatrix<f64>,
    /// Figures that move some tooth, with their slopes row by row.
    pub figures: Vec<(GeometryName, Vec<f64>)>,
    /// Variance of a usual shot along each axis without what all share but the figures, m².
    pub usual_m2: [f64; 3],
    /// What was taken as common to all satellite positions along an axis where nobody stated it, m: none where it was
    /// stated, or where nothing came from satellites.
    pub assumed_fix_m: [Option<f64>; 3],
}

/// What is gathered shot by shot.
struct Gathered {
    covariance: DMatrix<f64>,
    /// Figure, its standard uncertainty, its slopes row by row.
    figures: Vec<(GeometryName, Option<f64>, Vec<f64>)>,
    missing: Vec<String>,
    faults: Faults,
    /// Whether a row's tooth follows the satellites.
    by_satellite: Vec<bool>,
    /// Largest stated standard uncertainty of an antenna position, m.
    position_sd_m: [Option<f64>; 3],
}

impl Noise {
    /// Each shot's survey and readings, the sheet's figures with a calibration's correlations, control, set-up and
    /// satellite fix.
    ///
    /// # Errors
    ///
    /// `D002` for a survey without an uncertainty, `D003` for figures and readings without one.
    pub fn of(scene: &Scene, shots: &[&DiagnosedShot], ask: &DiagnoseAsk) -> Result<Noise, Faults> {
        let n = scene.rows.len();
        let mut gathered = Gathered {
            covariance: DMatrix::zeros(n, n),
            figures: Vec::new(),
            missing: Vec::new(),
            faults: Faults::none(),
            by_satellite: vec![false; n],
            position_sd_m: [None; 3],
        };
        let mut first_row = 0;
        for (shot, seen) in shots.iter().zip(&scene.seen) {
            first_row += gathered.add_shot(scene, shot, seen, first_row)?;
        }
        let Gathered {
            mut covariance,
            mut figures,
            mut missing,
            mut faults,
            by_satellite,
            position_sd_m,
        } = gathered;
        figures.retain(|(_, _, slopes)| slopes.iter().any(|s| NO_SLOPE < s.abs()));
        for (name, sd, _) in &figures {
            if stated(*sd).is_none() {
                note(&mut missing, scene.model().geometry_name(*name));
            }
        }
        let figures: Vec<(GeometryName, Vec<f64>)> = figures
            .into_iter()
            .map(|(name, _, slopes)| (name, slopes))
            .collect();
        add_figures(scene.model(), &mut covariance, &figures);
        let usual_m2 = [0, 1, 2].map(|axis| mean_variance(scene, &covariance, axis));
        add_control(scene, &mut covariance, ask);
        let fix = SatelliteFix {
            stated_m: ask.position_common_sd_m.map(stated),
            one_position_m: position_sd_m,
            by_satellite,
        };
        let assumed_fix_m = fix.add(scene, &mut covariance);
        if !missing.is_empty() {
            faults.push(no_sd(&missing));
        }
        faults.or(Noise {
            covariance_m2: covariance,
            figures,
            usual_m2,
            assumed_fix_m,
        })
    }
}

impl Gathered {
    /// One shot's own scatter and its slopes; gives how many rows it has.
    fn add_shot(
        &mut self,
        scene: &Scene,
        shot: &DiagnosedShot,
        seen: &Seen,
        first_row: usize,
    ) -> Result<usize, Faults> {
        let axes: Vec<usize> = (0..3).filter(|axis| seen.axes[*axis]).collect();
        let mut own = [[0.0; 3]; 3];
        for &axis in &axes {
            match shot.surveyed_m[axis].and_then(|m| stated(m.sd)) {
                Some(sd) => own[axis][axis] += sd * sd,
                None => self.faults.push(of_shot(shot, no_survey_sd(axis))),
            }
            if shot.readings.is_none() {
                match shot.shown_m[axis].and_then(|m| stated(m.sd)) {
                    Some(sd) => own[axis][axis] += sd * sd,
                    None => note(&mut self.missing, "the display".to_owned()),
                }
            }
        }
        if let Some(readings) = &shot.readings {
            let model = scene.model_of(seen);
            let (names, slopes) = all_slopes(model, &readings.map(&mut |_, m| m.value))?;
            let (of_figures, of_readings) = slopes.split_at(names.len());
            let mut sds = Vec::with_capacity(of_readings.len());
            readings.map(&mut |name, m| sds.push((name, m.sd)));
            for (slope, (name, sd)) in of_readings.iter().zip(sds) {
                if let ReadingName::Antenna { axis: along, .. } = name {
                    self.note_antenna(slope, along, stated(sd), &axes, first_row);
                }
                if axes.iter().all(|axis| slope[*axis].abs() <= NO_SLOPE) {
                    continue;
                }
                match stated(sd) {
                    None => note(&mut self.missing, reading_word(model, name)),
                    Some(sd) => add_outer(&mut own, slope, sd),
                }
            }
            let rows = [first_row, scene.rows.len()];
            self.add_slopes(model, &names, of_figures, &axes, rows);
        }
        for (i, &a) in axes.iter().enumerate() {
            for (j, &b) in axes.iter().enumerate() {
                self.covariance[(first_row + i, first_row + j)] += own[a][b];
            }
        }
        Ok(axes.len())
    }

    /// Rows that an antenna's coordinate moves, and the largest sd stated along it.
    fn note_antenna(
        &mut self,
        slope: &[f64; 3],
        along: usize,
        sd: Option<f64>,
        axes: &[usize],
        first_row: usize,
    ) {
        if let Some(row) = axes.iter().position(|axis| *axis == along)
            && NO_SLOPE < slope[along].abs()
        {
            self.by_satellite[first_row + row] = true;
            let sd = sd.unwrap_or(UNKNOWN_SD_M);
            let most = self.position_sd_m[along].unwrap_or(0.0);
            self.position_sd_m[along] = Some(most.max(sd));
        }
    }

    fn add_slopes(
        &mut self,
        model: &ToothModel,
        names: &[GeometryName],
        slopes: &[[f64; 3]],
        axes: &[usize],
        [first_row, n_rows]: [usize; 2],
    ) {
        let mut sds = Vec::with_capacity(names.len());
        model.geometry().map(&mut |_, m| sds.push(m.sd));
        for ((name, slope), sd) in names.iter().zip(slopes).zip(sds) {
            let entry = match self.figures.iter().position(|(n, ..)| n == name) {
                Some(entry) => entry,
                None => {
                    self.figures.push((*name, sd, vec![0.0; n_rows]));
                    self.figures.len() - 1
                }
            };
            for (row, &axis) in axes.iter().enumerate() {
                self.figures[entry].2[first_row + row] = slope[axis];
            }
        }
    }
}

/// The sheet's figures, with what a calibration found between them.
fn add_figures(
    model: &ToothModel,
    covariance: &mut DMatrix<f64>,
    figures: &[(GeometryName, Vec<f64>)],
) {
    let names: Vec<GeometryName> = figures.iter().map(|(name, _)| *name).collect();
    let Some(together) = model.figure_covariance(&names) else {
        return; // one has no uncertainty: said elsewhere
    };
    let slopes = DMatrix::from_fn(covariance.nrows(), names.len(), |row, at| {
        figures[at].1[row]
    });
    *covariance += &slopes * together * slopes.transpose();
}

/// Control and set-up: along each axis the same in every shot.
fn add_control(scene: &Scene, covariance: &mut DMatrix<f64>, ask: &DiagnoseAsk) {
    for axis in 0..3 {
        let sd = stated(ask.common_sd_m[axis]).unwrap_or(UNKNOWN_SD_M);
        add_common(covariance, &rows_of(scene, axis), sd);
    }
}

/// What all satellite positions of a series share: the fix wanders over minutes, a series takes minutes.
struct SatelliteFix {
    stated_m: [Option<f64>; 3],
    /// Of one position.
    one_position_m: [Option<f64>; 3],
    by_satellite: Vec<bool>,
}

impl SatelliteFix {
    /// Adds it; gives what was taken for it where nobody stated it.
    ///
    /// Not stated: the whole uncertainty of one position, for over minutes most of it wanders with the fix.
    fn add(&self, scene: &Scene, covariance: &mut DMatrix<f64>) -> [Option<f64>; 3] {
        [0, 1, 2].map(|axis| {
            let mut mine = rows_of(scene, axis);
            if let Some(sd) = self.stated_m[axis] {
                add_common(covariance, &mine, sd);
                return None;
            }
            mine.retain(|row| self.by_satellite[*row]);
            if mine.is_empty() {
                return None;
            }
            let sd = self.one_position_m[axis].unwrap_or(UNKNOWN_SD_M);
            add_common(covariance, &mine, sd);
            Some(sd)
        })
    }
}

fn add_common(covariance: &mut DMatrix<f64>, rows: &[usize], sd_m: f64) {
    for &i in rows {
        for &j in rows {
            covariance[(i, j)] += sd_m * sd_m;
        }
    }
}

fn rows_of(scene: &Scene, axis: usize) -> Vec<usize> {
    (0..scene.rows.len())
        .filter(|row| scene.rows[*row].1 == axis)
        .collect()
}

fn mean_variance(scene: &Scene, covariance: &DMatrix<f64>, axis: usize) -> f64 {
    let mine = rows_of(scene, axis);
    let sum: f64 = mine.iter().map(|row| covariance[(*row, *row)]).sum();
    sum / mine.len().max(1) as f64
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

fn add_outer(own: &mut [[f64; 3]; 3], slope: &[f64; 3], sd: f64) {
    for a in 0..3 {
        for b in 0..3 {
            own[a][b] += (slope[a] * sd) * (slope[b] * sd);
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

fn no_survey_sd(axis: usize) -> Fault {
    Fault::new(
        "D002",
        AXES[axis],
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
