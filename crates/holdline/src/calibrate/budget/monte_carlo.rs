//! The same budget by draws, and where the linear one parts from it.

use super::propagate::{Six, along};
use super::terms::{Moves, Scatter};
use super::{Budget, BudgetPose};
use crate::calibrate::chain::{ChainPose, ToothPlace};
use crate::sources;
use holdline_geom::draws::Draws;
use holdline_geom::fault::{Fault, Faults};
use rayon::prelude::*;

/// Draws that one piece of work makes; each piece has a stream of its own, whatever the thread.
const DRAWS_A_PIECE: usize = 2_500;

/// How far two standard uncertainties may part, of their size, before it is told.
pub const PARTS_AT: f64 = 0.02;

/// How many draws, and from which seed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DrawsAsk {
    /// How many: 1,000 to 10,000,000; 100,000 is usual.
    pub n: usize,
    /// The seed; it stands on the record.
    pub seed: u64,
}

/// What the draws say of one axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drawn {
    /// Standard uncertainty by the draws, m.
    pub sd_m: f64,
    /// Standard uncertainty of that figure itself, m.
    pub sd_of_sd_m: f64,
    /// Mean of the draws less the tooth of the pose, m.
    pub shift_m: f64,
    /// The middle 95 % of the draws, as distances from the tooth of the pose, m.
    pub interval_m: [f64; 2],
    /// Standard uncertainty of the linear budget, m.
    pub linear_sd_m: f64,
    /// The two part by more than [`PARTS_AT`], beyond three standard uncertainties of the draws.
    pub parts: bool,
}

/// A budget by draws.
#[derive(Debug, Clone, PartialEq)]
pub struct MonteCarlo {
    /// How many draws gave a tooth.
    pub n: usize,
    /// How many gave none, because the linkage could not close.
    pub n_without_tooth: usize,
    /// The seed.
    pub seed: u64,
    /// Along the axes of the budget's frame.
    pub axes: [Drawn; 3],
    /// Along the normal that was asked for.
    pub normal: Option<Drawn>,
    /// Sources that nobody stated: they are in neither of the two.
    pub missing: Vec<String>,
    /// Some axis parts, or some draw gave no tooth: then the linear figure is not to be relied on here.
    pub parts: bool,
}

/// The budget of one pose by draws from the full covariance.
///
/// Figures and readings go through the chain as they are; what is no figure and no reading (play, deflection, late
/// readings, localization, benches) is added along its slope.
/// Figures found together are drawn together; play and late readings are drawn evenly between their ends.
///
/// - Frame: that of the budget. Units: m.
/// - Source: [`sources::GUM_DRAWS`]; the interval leaves 2.5 % on either side.
/// - The same bytes on any number of cores.
///
/// # Errors
///
/// As [`super::at_pose`]; `B010` a number of draws that cannot be meant.
pub fn monte_carlo(
    budget: &Budget,
    pose: &BudgetPose,
    ask: &DrawsAsk,
) -> Result<MonteCarlo, Faults> {
    let _ = sources::GUM_DRAWS;
    if !(1_000..=10_000_000).contains(&ask.n) {
        return Err(Fault::new(
            "B010",
            "draws",
            ask.n.to_string(),
            "1,000 to 10,000,000",
            "100,000 settle a standard uncertainty to 0.2 %",
        )
        .into());
    }
    let slopes = budget.slopes(pose)?;
    let drawer = Drawer::new(budget, &slopes.values, &slopes.by_term, &slopes.pose);
    let n_pieces = ask.n.div_ceil(DRAWS_A_PIECE);
    let pieces: Vec<Piece> = (0..n_pieces)
        .into_par_iter()
        .map(|idx| {
            let n = DRAWS_A_PIECE.min(ask.n - idx * DRAWS_A_PIECE);
            drawer.draw(n, Draws::new(ask.seed, idx as u64))
        })
        .collect();
    let sum = budget.mixer.covariance(&slopes.by_term);
    let missing = budget.missing_names(&slopes.by_term);
    Ok(summed_up(budget, ask, &pieces, &sum, missing))
}

/// What one piece of work drew: teeth less the tooth of the pose.
struct Piece {
    teeth: [Vec<f64>; 3],
    n_without: usize,
}

/// Everything that a draw needs.
struct Drawer<'a> {
    budget: &'a Budget,
    values: &'a [f64],
    centre: [f64; 3],
    /// Listed sources: place and scatter.
    listed: Vec<(usize, Scatter)>,
    /// Sources added along their slope.
    added: Vec<([f64; 3], Scatter)>,
}

impl<'a> Drawer<'a> {
    fn new(
        budget: &'a Budget,
        values: &'a [f64],
        slopes: &[[f64; 3]],
        pose: &ChainPose,
    ) -> Drawer<'a> {
        let (mut listed, mut added) = (Vec::new(), Vec::new());
        for &(place, _) in &budget.mixer.alone {
            let term = &budget.terms[place];
            match term.moves {
                Moves::Listed => listed.push((place, term.scatter)),
                Moves::Along(_) | Moves::Play(..) | Moves::Bends { .. } | Moves::Late(_) => {
                    added.push((slopes[place], term.scatter));
                }
            }
        }
        Drawer {
            budget,
            values,
            centre: pose.tooth().in_frame(budget.frame),
            listed,
            added,
        }
    }

    fn draw(&self, n: usize, mut draws: Draws) -> Piece {
        let mut piece = Piece {
            teeth: [(); 3].map(|()| Vec::with_capacity(n)),
            n_without: 0,
        };
        let mut x = self.values.to_vec();
        let mut mixed = Vec::new();
        for _ in 0..n {
            for &(place, scatter) in &self.listed {
                x[place] = self.values[place] + one(scatter, &mut draws);
            }
            if let Some(together) = &self.budget.mixer.together {
                let n = together.places.len();
                mixed.resize(n, 0.0);
                draws.fill_normal(&mut mixed);
                for (row, &place) in together.places.iter().enumerate() {
                    let root = &together.root[row * n..(row + 1) * n];
                    let shift: f64 = root.iter().zip(&mixed).map(|(l, z)| l * z).sum();
                    x[place] = self.values[place] + shift;
                }
            }
            let mut shift = [0.0; 3];
            for &(slope, scatter) in &self.added {
                let by = one(scatter, &mut draws);
                for axis in 0..3 {
                    shift[axis] += slope[axis] * by;
                }
            }
            match self.tooth(&x) {
                Some(place) => {
                    let at = place.in_frame(self.budget.frame);
                    for axis in 0..3 {
                        piece.teeth[axis].push(at[axis] - self.centre[axis] + shift[axis]);
                    }
                }
                None => piece.n_without += 1,
            }
        }
        piece
    }

    fn tooth(&self, x: &[f64]) -> Option<ToothPlace> {
        match self.budget.chain.closed() {
            Some(chain) => chain.solve(x).map(|pose| *pose.tooth()),
            None => self.budget.chain.tooth(x).ok(),
        }
    }
}

fn one(scatter: Scatter, draws: &mut Draws) -> f64 {
    match scatter {
        Scatter::Normal { sd } => sd * draws.normal(),
        Scatter::Rectangular { half } => draws.between(-half, half),
        Scatter::NotStated => 0.0,
    }
}

fn summed_up(
    budget: &Budget,
    ask: &DrawsAsk,
    pieces: &[Piece],
    sum: &Six,
    missing: Vec<String>,
) -> MonteCarlo {
    let axis = |k: usize| -> Vec<f64> {
        pieces
            .iter()
            .flat_map(|p| p.teeth[k].iter().copied())
            .collect()
    };
    let mut series = vec![
        (axis(0), sum[0].sqrt()),
        (axis(1), sum[3].sqrt()),
        (axis(2), sum[5].sqrt()),
    ];
    if let Some(n) = budget.ask.normal {
        let along_normal = (0..series[0].0.len())
            .map(|idx| (0..3).map(|k| n[k] * series[k].0[idx]).sum())
            .collect();
        series.push((along_normal, along(sum, n).sqrt()));
    }
    let drawn: Vec<Drawn> = series
        .into_par_iter()
        .map(|(values, linear)| axis_of(values, linear))
        .collect();
    let n_without_tooth = pieces.iter().map(|p| p.n_without).sum();
    MonteCarlo {
        n: ask.n - n_without_tooth,
        n_without_tooth,
        seed: ask.seed,
        parts: 0 < n_without_tooth || drawn.iter().any(|d| d.parts),
        axes: [drawn[0], drawn[1], drawn[2]],
        normal: drawn.get(3).copied(),
        missing,
    }
}

/// Mean, sd, the middle 95 %, and whether the linear figure parts.
///
/// ```text
/// u(s) = s √( (m4/s⁴ − 1) / 4n )        parts:  |s/s_lin − 1| > 2 % + 3 u(s)/s_lin
///                                        or      |mean| > 2 % s_lin + 3 s/√n
/// ```
fn axis_of(mut values: Vec<f64>, linear_sd_m: f64) -> Drawn {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let (mut square, mut fourth) = (0.0, 0.0);
    for value in &values {
        let d2 = (value - mean) * (value - mean);
        square += d2;
        fourth += d2 * d2;
    }
    let variance = square / (n - 1.0);
    let sd_m = variance.sqrt();
    let kurtosis = fourth / n / (variance * variance);
    let sd_of_sd_m = sd_m * ((kurtosis - 1.0).max(0.0) / (4.0 * n)).sqrt();
    let close = (sd_m - linear_sd_m).abs() <= PARTS_AT * linear_sd_m + 3.0 * sd_of_sd_m
        && mean.abs() <= PARTS_AT * linear_sd_m + 3.0 * sd_m / n.sqrt();
    let still = sd_m == 0.0 && linear_sd_m == 0.0;
    Drawn {
        sd_m,
        sd_of_sd_m,
        shift_m: mean,
        interval_m: middle_95(&mut values),
        linear_sd_m,
        parts: !(close || still),
    }
}

/// The values that 2.5 % lie below and above.
fn middle_95(values: &mut [f64]) -> [f64; 2] {
    let n = values.len();
    if n == 0 {
        return [f64::NAN; 2];
    }
    // Ranks after JCGM 101:2008, 7.7: q = 0.95 M, r = (M − q)/2, the r-th and the (r + q)-th.
    let inside = (0.95 * n as f64 + 0.5).floor() as usize;
    let low = ((n - inside) / 2).max(1) - 1;
    let high = (low + inside).min(n - 1);
    let mut at = |rank: usize| *values.select_nth_unstable_by(rank, f64::total_cmp).1;
    [at(low), at(high)]
}
