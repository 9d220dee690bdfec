//! What is known already, what a pose would add, and the choice of the best one after another.

use super::information::Information;
use super::{BestBy, NextAsk, Stopped, WORTH_MEASURING};
use crate::calibrate::chain::{Chain, ToothFrame};
use crate::calibrate::equations::Observed;
use crate::calibrate::working_poses::working_poses;
use crate::machine::Machine;
use crate::tooth::attitude::Lean;
use crate::tooth::model::ToothModel;
use holdline_geom::draws::Draws;
use holdline_geom::fault::Faults;
use nalgebra::{DMatrix, Matrix3xX, Vector3};

/// How sure a figure is taken to be of which nobody says anything, m and rad.
const OPEN: f64 = 1.0;

/// So many poses are also looked at together; below one more nothing stops for little gain.
const N_TOGETHER: usize = 3;
/// So many sets of them are drawn.
const N_DRAWN: usize = 300;
/// The same draws every time.
const SEED: u64 = 20_251_201;

/// What sheet and calibration say already, as normal equations of the lasting unknowns.
pub(super) fn known(machine: &Machine, observed: &Observed, told: &Information) -> DMatrix<f64> {
    let paths: Vec<&str> = observed
        .figure_of_unknown
        .iter()
        .map(|idx| observed.figures[*idx].path.as_str())
        .collect();
    let n = told.n_figures;
    let mut covariance = DMatrix::zeros(n, n);
    for (at, idx) in observed.figure_of_unknown.iter().enumerate() {
        let sd = observed.figures[*idx].measured.sd.unwrap_or(OPEN);
        covariance[(at, at)] = sd * sd;
    }
    if let Some(together) = machine.correlated() {
        let places: Vec<Option<usize>> = together
            .paths
            .iter()
            .map(|path| paths.iter().position(|p| p == path))
            .collect();
        for (i, a) in places.iter().enumerate() {
            for (j, b) in places.iter().enumerate() {
                if let (Some(a), Some(b)) = (a, b) {
                    covariance[(*a, *b)] = together.covariance[(i, j)];
                }
            }
        }
    }
    // A place of the stand that nobody knows: as good as nothing, and enough to stay invertible.
    let mut known = DMatrix::from_diagonal_element(told.n_lasting, told.n_lasting, 1e-8);
    for (row, unknown_idx) in told.lasting.iter().enumerate().skip(n) {
        if let Some(sd) = observed.nuisances[unknown_idx - n].known_sd_m(observed.fix_sd_m) {
            known[(row, row)] = 1.0 / (sd * sd);
        }
    }
    if let Some(factor) = covariance.cholesky() {
        known.view_mut((0, 0), (n, n)).copy_from(&factor.inverse());
    }
    known
}

/// How the tooth moves with the figures at near, mid and far, in `Level`, 3 × figures.
pub(super) fn tooth_slopes(
    machine: &Machine,
    model: &ToothModel,
    observed: &Observed,
) -> Result<Vec<(String, Matrix3xX<f64>)>, Faults> {
    let level = Lean {
        pitch: 0.0,
        roll: 0.0,
    };
    let mut all = Vec::new();
    for pose in working_poses(machine, model.choice())? {
        let readings = model.readings_at(&pose.joints, &level)?;
        let chain = Chain::new(model, &readings)?;
        let x = chain.values(model, &readings);
        let mut slopes = vec![[0.0; 3]; x.len()];
        chain.slopes(&x, &chain.solve(&x)?, ToothFrame::Level, &mut slopes)?;
        let columns = observed.figure_of_unknown.iter().map(|idx| {
            let path = &observed.figures[*idx].path;
            let at = chain.names().iter().position(|name| name == path);
            Vector3::from(at.map_or([0.0; 3], |at| slopes[at]))
        });
        let columns: Vec<Vector3<f64>> = columns.collect();
        all.push((pose.name.to_owned(), Matrix3xX::from_columns(&columns)));
    }
    Ok(all)
}

/// What is known, what each pose tells, and what it is for.
pub(super) struct Design {
    pub known: DMatrix<f64>,
    pub told: Information,
    pub tooth: Vec<(String, Matrix3xX<f64>)>,
}

impl Design {
    /// Poses one after the other, each with its gain, and why there are no more.
    pub fn choose(&self, ask: &NextAsk) -> (Vec<(usize, f64)>, Stopped) {
        let (one_by_one, why) = self.one_by_one(ask, Vec::new());
        if ask.n_poses <= N_TOGETHER || self.told.blocks.len() <= N_TOGETHER {
            return (one_by_one, why);
        }
        // On a fresh stand one pose alone tells next to nothing, and which is best first says little of which are
        // best together: a drawn three may be the better start.
        let (together, other_why) = self.one_by_one(ask, self.best_drawn(ask));
        let score = |chosen: &[(usize, f64)]| {
            let n = chosen.iter().fold(self.known.clone(), |n, (idx, _)| {
                n + &self.told.blocks[*idx]
            });
            self.score(ask, &n).unwrap_or(f64::NEG_INFINITY)
        };
        if one_by_one.len() < together.len() || score(&one_by_one) < score(&together) {
            (together, other_why)
        } else {
            (one_by_one, why)
        }
    }

    /// The best of drawn sets, best first by what each adds.
    fn best_drawn(&self, ask: &NextAsk) -> Vec<usize> {
        let n_poses = self.told.blocks.len();
        let mut draws = Draws::new(SEED, 0);
        let mut best: (f64, Vec<usize>) = (f64::NEG_INFINITY, Vec::new());
        for _ in 0..N_DRAWN {
            let mut set: Vec<usize> = Vec::new();
            while set.len() < N_TOGETHER {
                let idx = (draws.uniform() * n_poses as f64) as usize;
                if idx < n_poses && !set.contains(&idx) {
                    set.push(idx);
                }
            }
            let n = set
                .iter()
                .fold(self.known.clone(), |n, idx| n + &self.told.blocks[*idx]);
            if let Some(score) = self.score(ask, &n).filter(|score| best.0 < *score) {
                best = (score, set);
            }
        }
        best.1
    }

    fn score(&self, ask: &NextAsk, n: &DMatrix<f64>) -> Option<f64> {
        let score = match ask.best_by {
            BestBy::Envelope => -self.worst_sd_m(n)?,
            BestBy::Determinant => log_det(n)?,
        };
        score.is_finite().then_some(score)
    }

    /// The best one after another, behind those that were taken together.
    fn one_by_one(&self, ask: &NextAsk, first: Vec<usize>) -> (Vec<(usize, f64)>, Stopped) {
        let mut n = self.known.clone();
        let mut chosen: Vec<(usize, f64)> = Vec::new();
        let mut sure = self.worst_sd_m(&n);
        for idx in first {
            n += &self.told.blocks[idx];
            let then = self.worst_sd_m(&n);
            chosen.push((idx, gain(sure, then)));
            sure = then;
        }
        while chosen.len() < ask.n_poses {
            if let (Some(enough), Some(now)) = (ask.enough_sd_m, sure)
                && now <= enough
            {
                return (chosen, Stopped::SureEnough);
            }
            let free =
                (0..self.told.blocks.len()).filter(|idx| chosen.iter().all(|(c, _)| c != idx));
            let scored = free.filter_map(|idx| {
                let with = &n + &self.told.blocks[idx];
                Some((idx, self.score(ask, &with)?))
            });
            let Some((best, _)) = scored.reduce(|a, b| if a.1 < b.1 { b } else { a }) else {
                return (chosen, Stopped::NoMore);
            };
            let with = &n + &self.told.blocks[best];
            let then = self.worst_sd_m(&with);
            let gain = gain(sure, then);
            // Where the stand is new the first poses only find it.
            if gain < WORTH_MEASURING && N_TOGETHER < chosen.len() {
                return (chosen, Stopped::LittleGain);
            }
            chosen.push((best, gain));
            (n, sure) = (with, then);
        }
        (chosen, Stopped::AsManyAsAsked)
    }

    /// The tooth at the worst of the poses, all three axes together, m.
    fn worst_sd_m(&self, n: &DMatrix<f64>) -> Option<f64> {
        let mut worst = 0.0;
        for (_, sd_m) in self.sure(n) {
            let sd_m = sd_m?;
            if worst < sd_m {
                worst = sd_m;
            }
        }
        (0.0 < worst).then_some(worst)
    }

    pub fn sure(&self, n: &DMatrix<f64>) -> Vec<(String, Option<f64>)> {
        let covariance = n.clone().cholesky().map(|factor| factor.inverse());
        let k = self.told.n_figures;
        let sd_m = |slopes: &Matrix3xX<f64>| {
            let c = covariance.as_ref()?;
            let spread = slopes * c.view((0, 0), (k, k)) * slopes.transpose();
            let sd = spread.trace().sqrt();
            sd.is_finite().then_some(sd)
        };
        self.tooth
            .iter()
            .map(|(name, slopes)| (name.clone(), sd_m(slopes)))
            .collect()
    }
}

/// Share by which the tooth becomes surer; all of it where it was not sure at all.
fn gain(now: Option<f64>, then: Option<f64>) -> f64 {
    match (now, then) {
        (Some(now), Some(then)) => 1.0 - then / now,
        (None, _) | (_, None) => 1.0,
    }
}

fn log_det(n: &DMatrix<f64>) -> Option<f64> {
    let factor = n.clone().cholesky()?;
    Some(
        2.0 * factor
            .l_dirty()
            .diagonal()
            .iter()
            .map(|d| d.ln())
            .sum::<f64>(),
    )
}
