//! Draws for simulations: uniform and normal numbers from a seed that is handed in.
//!
//! The same seed and stream give the same numbers on every platform and in every order of work:
//! share a simulation out by stream numbers (one a trial, or one a hundred trials), never by thread.
//!
//! - Source: M. O'Neill, PCG, HMC-CS-2014-0905, for the bits (the DXSM variant, from the crate `rand_pcg`);
//!   G. Marsaglia, W. W. Tsang, The ziggurat method, J. Stat. Software 5(8), 2000 (from memory).

use std::sync::LazyLock;

use libm::{erfc, exp, log, sqrt};
use rand_pcg::Pcg64Dxsm;
use rand_pcg::rand_core::Rng;

/// Layers of the ziggurat.
const N_LAYERS: usize = 256;

/// Where the tail begins, for 256 layers of one area.
const TAIL_FROM: f64 = 3.654_152_885_361_009;

/// 2^-53: one step of a uniform number.
const STEP: f64 = 1.0 / 9_007_199_254_740_992.0;

/// A source of draws.
///
/// # Example
///
/// ```
/// use holdline_geom::draws::Draws;
///
/// let mut draws = Draws::new(2026, 7);
/// let noise_m = 0.005 * draws.normal();
/// assert_eq!(noise_m, 0.005 * Draws::new(2026, 7).normal());
/// ```
#[derive(Debug, Clone)]
pub struct Draws {
    bits: Pcg64Dxsm,
    layers: &'static Layers,
}

impl Draws {
    /// The draws of a seed; each stream number is a series of its own.
    pub fn new(seed: u64, stream: u64) -> Draws {
        // Both are mixed first, so that neighbouring seeds or streams share no pattern.
        let high = mixed(seed) ^ mixed(stream ^ 0xA5A5_A5A5_5A5A_5A5A);
        let low = mixed(high ^ seed);
        Draws {
            bits: Pcg64Dxsm::new(
                u128::from(high) << 64 | u128::from(low),
                u128::from(mixed(low)) << 64 | u128::from(stream),
            ),
            layers: &LAYERS,
        }
    }

    /// 64 bits.
    #[inline]
    pub fn bits(&mut self) -> u64 {
        self.bits.next_u64()
    }

    /// A number of the uniform distribution from 0, included, to 1, excluded.
    #[inline]
    pub fn uniform(&mut self) -> f64 {
        (self.bits() >> 11) as f64 * STEP
    }

    /// A number of the uniform distribution between `from` and `to`.
    #[inline]
    pub fn between(&mut self, from: f64, to: f64) -> f64 {
        from + (to - from) * self.uniform()
    }

    /// A whole number below `n`, each as likely as the others to within n / 2^64; 0 for `n` of 0.
    #[inline]
    pub fn below(&mut self, n: usize) -> usize {
        ((u128::from(self.bits()) * n as u128) >> 64) as usize
    }

    /// A number of the standard normal distribution.
    ///
    /// Layers of one area lie over the bell; a point drawn in a layer counts when it lies under the bell,
    /// which 99 of 100 do without a look at the exponential.
    #[inline]
    pub fn normal(&mut self) -> f64 {
        loop {
            let bits = self.bits();
            let layer = (bits & 0xff) as usize;
            // The layer took the lowest bits; the place in it takes bits 10 and up, with the sign.
            let x = ((bits as i64) >> 10) as f64 * STEP * self.layers.x[layer];
            if x.abs() < self.layers.x[layer + 1] {
                return x;
            }
            if let Some(x) = self.normal_at_the_edge(layer, x) {
                return x;
            }
        }
    }

    /// Fills a slice with numbers of the standard normal distribution.
    pub fn fill_normal(&mut self, out: &mut [f64]) {
        for value in out {
            *value = self.normal();
        }
    }

    /// What lies at the end of a layer: in the tail, under the bell, or nothing.
    #[cold]
    fn normal_at_the_edge(&mut self, layer: usize, x: f64) -> Option<f64> {
        if layer == 0 {
            return Some(self.tail().copysign(x));
        }
        let (low, high) = (self.layers.height[layer], self.layers.height[layer + 1]);
        let height = low + (high - low) * self.uniform();
        (height < bell(x)).then_some(x)
    }

    /// A number beyond [`TAIL_FROM`].
    fn tail(&mut self) -> f64 {
        loop {
            let beyond = -log(1.0 - self.uniform()) / TAIL_FROM;
            let y = -log(1.0 - self.uniform());
            if 2.0 * y > beyond * beyond {
                return TAIL_FROM + beyond;
            }
        }
    }
}

/// Ends of the layers and heights of the bell there.
#[derive(Debug)]
struct Layers {
    x: [f64; N_LAYERS + 1],
    height: [f64; N_LAYERS + 1],
}

static LAYERS: LazyLock<Layers> = LazyLock::new(|| {
    let area = area();
    let mut x = [0.0; N_LAYERS + 1];
    x[0] = area / bell(TAIL_FROM); // as wide as a box of the lowest layer's area, tail included
    x[1] = TAIL_FROM;
    for layer in 2..N_LAYERS {
        let before = x[layer - 1];
        x[layer] = sqrt(-2.0 * log(area / before + bell(before)));
    }
    Layers {
        x,
        height: x.map(bell),
    }
});

/// Area of one layer: that of the lowest, with the tail.
fn area() -> f64 {
    let half_root_two_pi = sqrt(std::f64::consts::FRAC_PI_2);
    TAIL_FROM * bell(TAIL_FROM) + half_root_two_pi * erfc(TAIL_FROM / std::f64::consts::SQRT_2)
}

/// The bell without its factor.
fn bell(x: f64) -> f64 {
    exp(-0.5 * x * x)
}

/// All bits of a number shaken into each other (the finalizer of SplitMix64, from memory).
fn mixed(n: u64) -> u64 {
    let n = n.wrapping_add(0x9E37_79B9_7F4A_7C15);
    let n = (n ^ (n >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    let n = (n ^ (n >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    n ^ (n >> 31)
}

#[cfg(test)]
mod tests {
    use super::*;
    use statrs::distribution::{ContinuousCDF, Normal};

    #[test]
    fn the_layers_close_at_the_top() {
        let last = LAYERS.x[N_LAYERS - 1];
        assert!((area() / last + bell(last) - 1.0).abs() < 1e-12);
        // Marsaglia and Tsang print the area as 0.00492867323399 (from memory).
        assert!((area() - 0.004_928_673_233_99).abs() < 1e-13);
    }

    #[test]
    fn one_seed_one_series() {
        let series = |seed, stream| {
            let mut draws = Draws::new(seed, stream);
            [draws.normal(), draws.uniform(), draws.normal()]
        };
        assert_eq!(series(1, 2), series(1, 2));
        assert_ne!(series(1, 2), series(2, 1));
        assert_ne!(series(1, 2), series(1, 3));
    }

    /// Records hold figures that follow from these; they do not change.
    /// NumPy 2.4.6: `g = PCG64DXSM()`, its `state` and `inc` set to what `Draws::new(2026, 0)` sets,
    /// then `g.random_raw()` three times.
    #[test]
    fn the_series_is_that_of_another_program() {
        let mut draws = Draws::new(2026, 0);
        let bits = [draws.bits(), draws.bits(), draws.bits()];
        let want: [u64; 3] = [
            407_628_629_311_956_895,
            15_654_453_132_980_731_452,
            13_285_874_788_617_928_322,
        ];
        assert_eq!(bits, want);
    }

    /// The largest distance between the drawn and the true distribution (Kolmogorov and Smirnov):
    /// 1.63 / √n in 1 of 100 series, from memory. The seed is fixed, so this always passes or never.
    #[test]
    fn the_shape_of_the_bell_and_of_the_box() {
        let n = 200_000;
        let mut draws = Draws::new(1, 1);
        let mut normal: Vec<f64> = (0..n).map(|_| draws.normal()).collect();
        let bell = Normal::new(0.0, 1.0).expect("a bell");
        assert!(largest_distance(&mut normal, |x| bell.cdf(x)) < 1.63 / f64::from(n).sqrt());
        let mut uniform: Vec<f64> = (0..n).map(|_| draws.uniform()).collect();
        assert!(largest_distance(&mut uniform, |x| x) < 1.63 / f64::from(n).sqrt());
    }

    fn largest_distance(values: &mut [f64], share_below: impl Fn(f64) -> f64) -> f64 {
        values.sort_by(f64::total_cmp);
        let n = values.len() as f64;
        let off = |(idx, &x): (usize, &f64)| {
            let share = share_below(x);
            (share - idx as f64 / n).max((idx + 1) as f64 / n - share)
        };
        values.iter().enumerate().map(off).fold(0.0, f64::max)
    }

    /// Moments and tails within four of their own sd.
    #[test]
    fn moments_and_tails() {
        let n = 1_000_000;
        let mut draws = Draws::new(3, 4);
        let (mut sum, mut square, mut fourth) = (0.0, 0.0, 0.0);
        let (mut beyond_3, mut beyond_tail) = (0, 0);
        for _ in 0..n {
            let x = draws.normal();
            sum += x;
            square += x * x;
            fourth += x * x * x * x;
            beyond_3 += i32::from(3.0 < x.abs());
            beyond_tail += i32::from(TAIL_FROM < x.abs());
        }
        let n = f64::from(n);
        assert!((sum / n).abs() < 4.0 / n.sqrt());
        assert!((square / n - 1.0).abs() < 4.0 * (2.0 / n).sqrt());
        assert!((fourth / n - 3.0).abs() < 4.0 * (96.0 / n).sqrt());
        for (count, from) in [(beyond_3, 3.0), (beyond_tail, TAIL_FROM)] {
            let want = n * erfc(from / std::f64::consts::SQRT_2);
            assert!((f64::from(count) - want).abs() < 4.0 * want.sqrt());
        }
    }

    #[test]
    fn streams_do_not_go_together() {
        let n = 100_000;
        let (mut a, mut b) = (Draws::new(5, 0), Draws::new(5, 1));
        let product: f64 = (0..n).map(|_| a.normal() * b.normal()).sum();
        assert!(product.abs() < 4.0 * f64::from(n).sqrt());
    }

    #[test]
    fn whole_numbers_and_spans() {
        let mut draws = Draws::new(6, 0);
        let mut counts = [0; 5];
        for _ in 0..10_000 {
            counts[draws.below(5)] += 1;
            let x = draws.between(-2.0, 3.0);
            assert!((-2.0..3.0).contains(&x));
        }
        assert!(counts.iter().all(|&count| (1800..2200).contains(&count)));
        assert_eq!(draws.below(0), 0);
    }
}
