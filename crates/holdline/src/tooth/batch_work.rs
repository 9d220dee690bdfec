//! Columns of epochs through the registers: in pieces, a register at a time.

use pulp::{Scalar, Simd, WithSimd};

use super::batch::Registers;
use super::batch_kernel::Formula;
use super::lanes::Lanes;

/// Registers of epochs between two looks at whether one was unusable.
const RUN: usize = 64;

/// A stretch of epochs that is worked on as one.
pub(crate) struct Piece<'a, const M: usize, const N: usize> {
    first_idx: usize,
    inputs: [&'a [f64]; M],
    outputs: [&'a mut [f64]; N],
}

/// Cuts the columns into stretches of nearly equal length. Every epoch stands for itself, so where
/// the cuts are changes nothing.
pub(crate) fn cut<'a, const M: usize, const N: usize>(
    mut inputs: [&'a [f64]; M],
    mut outputs: [&'a mut [f64]; N],
    n_pieces: usize,
) -> Vec<Piece<'a, M, N>> {
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

impl<const M: usize, const N: usize> Piece<'_, M, N> {
    /// Fills the outputs; gives the epochs that are unusable, counted over all pieces.
    pub fn predict<F: Formula<M, N>>(mut self, formula: &F, registers: Registers) -> Vec<usize> {
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
fn four_wide<F: Formula<M, N>, const M: usize, const N: usize>(
    work: Work<'_, F, M, N>,
) -> Vec<std::ops::Range<usize>> {
    match pulp::x86::V3::try_new() {
        Some(simd) => Simd::vectorize(simd, work),
        None => work.with_simd(Scalar),
    }
}

#[cfg(not(target_arch = "x86_64"))]
fn four_wide<F: Formula<M, N>, const M: usize, const N: usize>(
    work: Work<'_, F, M, N>,
) -> Vec<std::ops::Range<usize>> {
    work.with_simd(Scalar)
}

struct Work<'a, F: Formula<M, N>, const M: usize, const N: usize> {
    formula: &'a F,
    inputs: [&'a [f64]; M],
    outputs: [&'a mut [f64]; N],
}

impl<F: Formula<M, N>, const M: usize, const N: usize> WithSimd for Work<'_, F, M, N> {
    /// Runs of epochs in which at least one is unusable.
    type Output = Vec<std::ops::Range<usize>>;

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> Self::Output {
        let inputs = self.inputs.map(|column| S::as_simd_f64s(column));
        let outputs = self.outputs.map(|column| S::as_mut_simd_f64s(column));

        let lanes = simd.splat_f64s(0.0);
        let n_lanes = std::mem::size_of_val(&lanes) / std::mem::size_of::<f64>();
        let n = inputs[0].0.len();
        let n_tail = inputs[0].1.len();
        let mut runs = Vec::new();
        let mut start = 0;
        while start < n {
            let end = (start + RUN).min(n);
            let mut n_unusable = Lanes::all(simd, 0.0);
            for i in start..end {
                let mut columns = [lanes; M];
                for k in 0..M {
                    columns[k] = inputs[k].0[i];
                }
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

        if n_tail != 0 {
            let mut columns = [lanes; M];
            for k in 0..M {
                columns[k] = simd.partial_load_f64s(inputs[k].1);
            }
            let (answers, _) = one_register(simd, self.formula, columns);
            for k in 0..N {
                simd.partial_store_f64s(outputs[k].1, answers[k].register());
            }
            runs.push(n * n_lanes..n * n_lanes + n_tail);
        }
        runs
    }
}

/// The answers of a register of epochs, NaN where unusable, and 1 in each lane that is.
#[inline(always)]
fn one_register<S: Simd, F: Formula<M, N>, const M: usize, const N: usize>(
    simd: S,
    formula: &F,
    registers: [S::f64s; M],
) -> ([Lanes<S>; N], Lanes<S>) {
    let mut columns = [Lanes::all(simd, 0.0); M];
    for k in 0..M {
        columns[k] = Lanes::new(simd, registers[k]);
    }
    let (mut answers, checks) = formula.epochs(columns);
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
