//! The critical value of the largest gain, simulated for these very shots.

use super::scale::ScaleTable;
use super::whiten::dot;
use holdline_geom::draws::Draws;
use nalgebra::{Cholesky, DMatrix};
use rayon::prelude::*;

/// A hypothesis as the simulation needs it, whitened.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Ray {
    /// With sizes: directions of length 1 at right angles.
    Sized(Vec<Vec<f64>>),
    /// Without: what it puts into the differences, and the parameters that it costs.
    Given(Vec<f64>, usize),
}

impl Ray {
    /// Parameters.
    pub fn n_parameters(&self) -> usize {
        match self {
            Ray::Sized(basis) => basis.len(),
            Ray::Given(_, k) => *k,
        }
    }
}

/// The largest gains of simulated series, in rising order.
#[derive(Debug, Clone)]
pub(super) struct Maxima(Vec<f64>);

/// Draws in one piece of work; each piece is a stream of its own, so that the number of threads changes nothing.
const IN_ONE: usize = 500;

/// Where the streams of the simulation for pairs begin.
const FOR_PAIRS: u64 = 1 << 32;

impl Maxima {
    /// What the largest gain exceeds in a share `level` of the series.
    pub fn critical(&self, level: f64) -> f64 {
        let n = self.0.len();
        let at = ((1.0 - level) * n as f64).ceil() as usize;
        let idx = at.clamp(1, n.max(1)) - 1;
        self.0.get(idx).copied().unwrap_or(f64::INFINITY)
    }

    /// Share of series with a gain of at least `gain`, never below what so many draws can tell.
    pub fn p_value(&self, gain: f64) -> f64 {
        let below = self.0.partition_point(|g| *g < gain);
        (self.0.len() - below + 1) as f64 / (self.0.len() + 1) as f64
    }

    /// One value a series of `n_rows` standard normal numbers.
    fn of(
        (seed, first_stream): (u64, u64),
        n_draws: usize,
        n_rows: usize,
        value: impl Fn(&[f64], &mut Room) -> f64 + Sync,
    ) -> Maxima {
        let piece = |piece: usize| {
            let mut draws = Draws::new(seed, first_stream + piece as u64);
            let (mut z, mut room) = (vec![0.0; n_rows], Room::default());
            let n = IN_ONE.min(n_draws - piece * IN_ONE);
            (0..n)
                .map(|_| {
                    draws.fill_normal(&mut z);
                    value(&z, &mut room)
                })
                .collect::<Vec<f64>>()
        };
        let pieces: Vec<Vec<f64>> = (0..n_draws.div_ceil(IN_ONE))
            .into_par_iter()
            .map(piece)
            .collect();
        let mut all = pieces.concat();
        all.sort_by(f64::total_cmp);
        Maxima(all)
    }
}

/// Room that a piece of work keeps from draw to draw.
#[derive(Debug, Default)]
struct Room {
    coordinates: Vec<f64>,
    gains: Vec<f64>,
}

/// The largest gain of all hypotheses with nothing wrong; `whole` adds the gain of explaining everything.
///
/// ```text
/// with sizes   gain = |Q z|²                z standard normal, Q the whitened signature's directions
/// without      gain = 2 d·z − |d|²
/// whole        gain = |z|²
/// ```
pub(super) fn nothing_wrong(
    rays: &[Ray],
    whole: bool,
    n_rows: usize,
    seed: u64,
    n_draws: usize,
) -> Maxima {
    /// A hypothesis that puts in more than this cannot gain by scatter: 16 sd away, and half way is 8.
    const TOO_FAR: f64 = 16.0;
    let mut tables: Vec<ScaleTable> = (0..=3).map(ScaleTable::new).collect();
    tables.push(ScaleTable::new(n_rows));
    let given: Vec<(&[f64], f64)> = rays
        .iter()
        .filter_map(|ray| match ray {
            Ray::Given(d, _) => Some((d.as_slice(), dot(d, d))),
            Ray::Sized(_) => None,
        })
        .filter(|(_, d2)| *d2 < TOO_FAR * TOO_FAR)
        .collect();
    let sized: Vec<&[Vec<f64>]> = rays
        .iter()
        .filter_map(|ray| match ray {
            Ray::Sized(basis) => Some(basis.as_slice()),
            Ray::Given(..) => None,
        })
        .collect();
    Maxima::of((seed, 0), n_draws, n_rows, |z, _| {
        let mut best = [0.0_f64; 4];
        for basis in &sized {
            let gain: f64 = basis.iter().map(|q| dot(q, z)).map(|c| c * c).sum();
            let k = basis.len().min(3);
            best[k] = best[k].max(gain);
        }
        for (d, d2) in &given {
            best[0] = best[0].max(2.0 * dot(d, z) - d2);
        }
        let mut most = (0..4).map(|k| tables[k].of(best[k])).fold(0.0, f64::max);
        if whole {
            most = most.max(tables[4].of(dot(z, z)));
        }
        most
    })
}

/// Pairs of hypotheses, readied for many series.
#[derive(Debug)]
pub(super) struct Pairs {
    rays: Vec<Ray>,
    /// Where each ray's coordinates begin.
    from: Vec<usize>,
    pairs: Vec<Pair>,
    tables: Vec<ScaleTable>,
}

#[derive(Debug)]
enum Pair {
    /// Both with sizes: second after first, with the first's share taken out.
    Both {
        first: usize,
        second: usize,
        n_first: usize,
        n_second: usize,
        /// `L⁻¹` and `L⁻¹ A`, row after row: A the second's directions along the first's, `L Lᵀ = 1 − A Aᵀ`.
        rows: Vec<f64>,
    },
    /// One without size, one with: the coordinates of the first along the second.
    Mixed {
        given: usize,
        sized: usize,
        along: Vec<f64>,
    },
}

/// Two signatures more alike than this are no pair: the sum of both is one of them.
const ALIKE: f64 = 0.995;

/// What a second signature adds to a first; none when they are too much alike.
fn rows_after(a: &[Vec<f64>], b: &[Vec<f64>]) -> Option<Vec<f64>> {
    let along = DMatrix::from_fn(b.len(), a.len(), |i, j| dot(&b[i], &a[j]));
    let left = DMatrix::identity(b.len(), b.len()) - &along * along.transpose();
    if !(1.0 - ALIKE * ALIKE < left.clone().symmetric_eigenvalues().min()) {
        return None;
    }
    let inverse = Cholesky::new(left)?.l().try_inverse()?;
    let of_first = &inverse * along;
    let mut rows = Vec::with_capacity(b.len() * (a.len() + b.len()));
    for i in 0..b.len() {
        rows.extend((0..b.len()).map(|j| inverse[(i, j)]));
        rows.extend((0..a.len()).map(|j| of_first[(i, j)]));
    }
    Some(rows)
}

impl Pairs {
    /// All pairs but those of two hypotheses without sizes.
    pub fn new(rays: Vec<Ray>) -> Pairs {
        let mut from = Vec::with_capacity(rays.len());
        let mut at = 0;
        for ray in &rays {
            from.push(at);
            if let Ray::Sized(basis) = ray {
                at += basis.len();
            }
        }
        let mut pairs = Vec::new();
        for first in 0..rays.len() {
            for second in 0..rays.len() {
                match (&rays[first], &rays[second]) {
                    (Ray::Sized(a), Ray::Sized(b))
                        if b.len() < a.len() || (b.len() == a.len() && first < second) =>
                    {
                        pairs.extend(rows_after(a, b).map(|rows| Pair::Both {
                            first,
                            second,
                            n_first: a.len(),
                            n_second: b.len(),
                            rows,
                        }));
                    }
                    (Ray::Given(d, _), Ray::Sized(b)) => pairs.push(Pair::Mixed {
                        given: first,
                        sized: second,
                        along: b.iter().map(|q| dot(q, d)).collect(),
                    }),
                    (Ray::Sized(_) | Ray::Given(..), _) => {}
                }
            }
        }
        Pairs {
            tables: (0..=6).map(ScaleTable::new).collect(),
            rays,
            from,
            pairs,
        }
    }

    /// How many pairs.
    pub fn len(&self) -> usize {
        self.pairs.len()
    }

    /// Every pair with its gain over nothing wrong in the whitened differences `y`.
    pub fn gains(&self, y: &[f64]) -> Vec<([usize; 2], f64)> {
        let mut room = Room::default();
        self.coordinates(y, &mut room);
        self.pairs
            .iter()
            .map(|pair| (self.ends(pair), self.gain(pair, &room)))
            .collect()
    }

    /// The largest gain of a pair over the best single one, on the scale of one parameter,
    /// in series where `signal` and scatter are all there is.
    pub fn with_single_true(&self, signal: &[f64], seed: u64, n_draws: usize) -> Maxima {
        let able = self.able(signal);
        Maxima::of((seed, FOR_PAIRS), n_draws, signal.len(), |z, room| {
            let y: Vec<f64> = signal.iter().zip(z).map(|(s, z)| s + z).collect();
            self.coordinates(&y, room);
            self.statistic(room, &able)
        })
    }

    /// Pairs that scatter can make the best; the others are far from what is there.
    fn able(&self, signal: &[f64]) -> Vec<usize> {
        /// So much χ² left without any scatter is not made up by it.
        const FAR: f64 = 200.0;
        let whole = dot(signal, signal);
        let gains = self.gains(signal);
        (0..self.pairs.len())
            .filter(|idx| whole - gains[*idx].1 < FAR)
            .collect()
    }

    fn statistic(&self, room: &Room, able: &[usize]) -> f64 {
        let single = self.best_single(room);
        able.iter()
            .map(|idx| &self.pairs[*idx])
            .map(|pair| self.over_single(self.ends(pair), self.gain(pair, room), single))
            .fold(0.0, f64::max)
    }

    /// A pair's gain over the best single one, on the scale of one parameter.
    pub fn over_single(&self, pair: [usize; 2], gain: f64, single: (f64, usize)) -> f64 {
        let k: usize = pair.iter().map(|idx| self.rays[*idx].n_parameters()).sum();
        let extra = k.saturating_sub(single.1).clamp(1, 6);
        self.tables[extra].of(gain - single.0)
    }

    /// Gain and parameters of the single one with the least AIC.
    fn best_single(&self, room: &Room) -> (f64, usize) {
        let aic = |(gain, k): &(f64, usize)| 2.0 * *k as f64 - gain;
        let all = self.rays.iter().enumerate().map(|(idx, ray)| {
            let gain = match ray {
                Ray::Sized(basis) => self.squared(idx, basis.len(), room),
                Ray::Given(..) => room.gains[idx],
            };
            (gain, ray.n_parameters())
        });
        all.min_by(|a, b| aic(a).total_cmp(&aic(b)))
            .unwrap_or((0.0, 0))
    }

    fn squared(&self, idx: usize, k: usize, room: &Room) -> f64 {
        let from = self.from[idx];
        room.coordinates[from..from + k].iter().map(|c| c * c).sum()
    }

    fn coordinates(&self, y: &[f64], room: &mut Room) {
        room.coordinates.clear();
        room.gains.clear();
        for ray in &self.rays {
            room.gains.push(match ray {
                Ray::Sized(basis) => {
                    room.coordinates.extend(basis.iter().map(|q| dot(q, y)));
                    0.0
                }
                Ray::Given(d, _) => 2.0 * dot(d, y) - dot(d, d),
            });
        }
    }

    fn gain(&self, pair: &Pair, room: &Room) -> f64 {
        match pair {
            Pair::Both {
                first,
                second,
                n_first,
                n_second,
                rows,
            } => {
                let c = &room.coordinates[self.from[*first]..][..*n_first];
                let d = &room.coordinates[self.from[*second]..][..*n_second];
                let mut gain: f64 = c.iter().map(|c| c * c).sum();
                for row in rows.chunks_exact(n_first + n_second) {
                    let (of_second, of_first) = row.split_at(*n_second);
                    let left = dot(of_second, d) - dot(of_first, c);
                    gain += left * left;
                }
                gain
            }
            Pair::Mixed {
                given,
                sized,
                along,
            } => {
                let c = &room.coordinates[self.from[*sized]..][..along.len()];
                let after = c.iter().zip(along).map(|(c, a)| (c - a) * (c - a));
                room.gains[*given] + after.sum::<f64>()
            }
        }
    }

    fn ends(&self, pair: &Pair) -> [usize; 2] {
        match pair {
            Pair::Both { first, second, .. } => [*first, *second],
            Pair::Mixed { given, sized, .. } => [*given, *sized],
        }
    }
}
