//! Columns of epochs through the registers: in pieces, a register at a time.

use pulp::{Scalar, Simd, WithSimd};

use super::batch::Registers;
use super::batch_kernel::{Formula, N_COLUMNS};
use super::lanes::Lanes;

/// Registers of epochs between two looks at whether one was unusable.
const RUN: usize = 64;

/// A stretch of epochs that is worked on as one.
pub(crate) struct Piece<'a, const N: usize> {
    first_idx: usize,
    inputs: [&'a [f64]; N_COLUMNS],
    outputs: [&'a mut [f64]; N],
}

/// Cuts the columns into stretches of nearly equal length. Every epoch stands for itself, so where
/// the cuts are changes nothing.
pub(crate) fn cut<'a, const N: usize>(
    mut inputs: [&'a [f64]; N_COLUMNS],
    mut outputs: [&'a mut [f64]; N],
    n_pieces: usize,
) -> Vec<Piece<'a, N>> {
    let n = inputs[0].len();
    let mut pieces = Vec::with_capacity(n_pieces);
    let mut first_idx = 0;
    for piece_idx in 1..=n_pieces {
        let len = n * piece_idx / n_pieces - first_idx;
        let head = inputs.map(|column| &column[..len]);
        inputs = inputs.map(|column| &column[len..]);
        let mut rest = Vec::with_capacity(N);
        let heads = outputs.map(|column| {
            let (head, tail) = column.split_at_mut(len);
            rest.push(tail);
            head
        });
        let mut rest = rest.into_iter();
        outputs = std::array::from_fn(|_| rest.next().unwrap_or_default());
        pieces.push(Piece {
            first_idx,
            inputs: head,
            outputs: heads,
        });
        first_idx += len;
    }
    pieces
}

impl<const N: usize> Piece<'_, N> {
    /// Fills the outputs; gives the epochs that are unusable, counted over all pieces.
    pub fn predict<F: Formula<N>>(mut self, formula: &F, registers: Registers) -> Vec<usize> {
        let work = Work {
            formula,
            inputs: self.inputs,
            outputs: self.outputs.each_mut().map(|column| &mut **column),
        };
        let runs = match registers {
            Registers::Widest => pulp::Arch::new().dispatch(work),
            Registers::FourWide => four_wide(work),
            Registers::Single => work.with_simd(Scalar),
        };
        let mut unusable = Vec::new();
        for run in runs {
            let found = run.filter(|&idx| self.outputs[0][idx].is_nan());
            unusable.extend(found.map(|idx| idx + self.first_idx));
        }
        unusable
    }
}

#[cfg(target_arch = "x86_64")]
fn four_wide<F: Formula<N>, const N: usize>(work: Work<'_, F, N>) -> Vec<std::ops::Range<usize>> {
    match pulp::x86::V3::try_new() {
        Some(simd) => Simd::vectorize(simd, work),
        None => work.with_simd(Scalar),
    }
}

#[cfg(not(target_arch = "x86_64"))]
fn four_wide<F: Formula<N>, const N: usize>(work: Work<'_, F, N>) -> Vec<std::ops::Range<usize>> {
    work.with_simd(Scalar)
}

struct Work<'a, F: Formula<N>, const N: usize> {
    formula: &'a F,
    inputs: [&'a [f64]; N_COLUMNS],
    outputs: [&'a mut [f64]; N],
}

impl<F: Formula<N>, const N: usize> WithSimd for Work<'_, F, N> {
    /// Runs of epochs in which at least one is unusable.
    type Output = Vec<std::ops::Range<usize>>;

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> Self::Output {
        let [in0, in1, in2, in3, in4, in5, in6, in7, in8] = self.inputs;
        let ((c0, t0), (c1, t1)) = (S::as_simd_f64s(in0), S::as_simd_f64s(in1));
        let ((c2, t2), (c3, t3)) = (S::as_simd_f64s(in2), S::as_simd_f64s(in3));
        let ((c4, t4), (c5, t5)) = (S::as_simd_f64s(in4), S::as_simd_f64s(in5));
        let ((c6, t6), (c7, t7)) = (S::as_simd_f64s(in6), S::as_simd_f64s(in7));
        let (c8, t8) = S::as_simd_f64s(in8);
        let outputs = self.outputs.map(|column| S::as_mut_simd_f64s(column));

        let lanes = simd.splat_f64s(0.0);
        let n_lanes = std::mem::size_of_val(&lanes) / std::mem::size_of::<f64>();
        let n = c0.len();
        let (c1, c2, c3, c4) = (&c1[..n], &c2[..n], &c3[..n], &c4[..n]);
        let (c5, c6, c7, c8) = (&c5[..n], &c6[..n], &c7[..n], &c8[..n]);

        let mut runs = Vec::new();
        let mut start = 0;
        while start < n {
            let end = (start + RUN).min(n);
            let mut n_unusable = Lanes::all(simd, 0.0);
            for i in start..end {
                let columns = [
                    c0[i], c1[i], c2[i], c3[i], c4[i], c5[i], c6[i], c7[i], c8[i],
                ];
                let (answers, unusable) = one_register(simd, self.formula, columns);
                for k in 0..N {
                    outputs[k].0[i] = answers[k].register();
                }
                n_unusable = n_unusable + unusable;
            }
            if simd.reduce_sum_f64s(n_unusable.register()) != 0.0 {
                runs.push(start * n_lanes..end * n_lanes);
            }
            start = end;
        }

        if !t0.is_empty() {
            let columns = [
                simd.partial_load_f64s(t0),
                simd.partial_load_f64s(t1),
                simd.partial_load_f64s(t2),
                simd.partial_load_f64s(t3),
                simd.partial_load_f64s(t4),
                simd.partial_load_f64s(t5),
                simd.partial_load_f64s(t6),
                simd.partial_load_f64s(t7),
                simd.partial_load_f64s(t8),
            ];
            let (answers, _) = one_register(simd, self.formula, columns);
            for k in 0..N {
                simd.partial_store_f64s(outputs[k].1, answers[k].register());
            }
            runs.push(n * n_lanes..n * n_lanes + t0.len());
        }
        runs
    }
}

/// The answers of a register of epochs, NaN where unusable, and 1 in each lane that is.
#[inline(always)]
fn one_register<S: Simd, F: Formula<N>, const N: usize>(
    simd: S,
    formula: &F,
    columns: [S::f64s; N_COLUMNS],
) -> ([Lanes<S>; N], Lanes<S>) {
    let [a, b, c, d, e, f, g, h, i] = columns;
    let (mut answers, checks) = formula.epochs([
        Lanes::new(simd, a),
        Lanes::new(simd, b),
        Lanes::new(simd, c),
        Lanes::new(simd, d),
        Lanes::new(simd, e),
        Lanes::new(simd, f),
        Lanes::new(simd, g),
        Lanes::new(simd, h),
        Lanes::new(simd, i),
    ]);
    let usable = checks.usable();
    let (spoilt, zero, one) = (
        Lanes::all(simd, f64::NAN),
        Lanes::all(simd, 0.0),
        Lanes::all(simd, 1.0),
    );
    for answer in &mut answers {
        *answer = usable.pick(*answer, spoilt);
    }
    (answers, usable.pick(zero, one))
}
