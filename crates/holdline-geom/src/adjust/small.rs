//! Small matrices, row after row in a slice: Cholesky and what follows from it.

/// Writes the lower Cholesky factor over the lower triangle of the symmetric `m × m` matrix `a`,
/// with 1/L_ii on its diagonal, so that nothing needs to divide later.
///
/// Gives the smallest pivot L_ii² met, or `None` where one is not a positive number.
#[inline(always)]
pub(super) fn cholesky(m: usize, a: &mut [f64], stride: usize) -> Option<f64> {
    let mut smallest = f64::INFINITY;
    for i in 0..m {
        let (above, row) = a.split_at_mut(i * stride);
        for j in 0..i {
            let other = &above[j * stride..j * stride + j + 1];
            let mut sum = row[j];
            for k in 0..j {
                sum -= row[k] * other[k];
            }
            row[j] = sum * other[j];
        }
        let mut pivot = row[i];
        for &l in &row[..i] {
            pivot -= l * l;
        }
        if !(0.0 < pivot && pivot < f64::INFINITY) {
            return None;
        }
        smallest = if pivot < smallest { pivot } else { smallest };
        row[i] = 1.0 / pivot.sqrt();
    }
    Some(smallest)
}

/// Overwrites the rows of `rows` (`m` rows of `width`, `width` apart) with L⁻¹ times them.
#[inline(always)]
pub(super) fn lower_solve_rows(m: usize, l: &[f64], stride: usize, rows: &mut [f64], width: usize) {
    for i in 0..m {
        let (above, row) = rows.split_at_mut(i * width);
        let row = &mut row[..width];
        for j in 0..i {
            let factor = l[i * stride + j];
            let other = &above[j * width..(j + 1) * width];
            for (value, &by) in row.iter_mut().zip(other) {
                *value -= factor * by;
            }
        }
        let scale = l[i * stride + i];
        for value in row {
            *value *= scale;
        }
    }
}

/// Overwrites `b` with L⁻¹ b.
#[inline(always)]
pub(super) fn lower_solve(m: usize, l: &[f64], stride: usize, b: &mut [f64]) {
    for i in 0..m {
        let row = &l[i * stride..i * stride + i + 1];
        let mut sum = b[i];
        for k in 0..i {
            sum -= row[k] * b[k];
        }
        b[i] = sum * row[i];
    }
}

/// Overwrites `b` with L⁻ᵀ b.
#[inline(always)]
pub(super) fn upper_solve(m: usize, l: &[f64], stride: usize, b: &mut [f64]) {
    for i in (0..m).rev() {
        b[i] *= l[i * stride + i];
        let known = b[i];
        for k in 0..i {
            b[k] -= l[i * stride + k] * known;
        }
    }
}

/// Writes L⁻¹ into the lower triangle of `out`, its true diagonal included.
pub(super) fn lower_inverse(m: usize, l: &[f64], stride: usize, out: &mut [f64]) {
    for j in 0..m {
        out[j * m + j] = l[j * stride + j];
        for i in j + 1..m {
            let mut sum = 0.0;
            for k in j..i {
                sum += l[i * stride + k] * out[k * m + j];
            }
            out[i * m + j] = -sum * l[i * stride + i];
        }
    }
}

/// Lower triangle of `rowsᵀ rows`, by tiles of four: `width` is a multiple of four.
///
/// Each sum runs over the rows in their order, so that the bytes do not depend on how it is shared out.
pub(super) fn products(rows: &[f64], width: usize, out: &mut [f64]) {
    let n_tiles = width / 4;
    let (quads, _) = rows.as_chunks::<4>();
    for ti in 0..n_tiles {
        for tj in 0..=ti {
            let mut sum = [[0.0; 4]; 4];
            for row in quads.chunks_exact(n_tiles) {
                let (a, b) = (row[ti], row[tj]);
                for (sums, a) in sum.iter_mut().zip(a) {
                    for (sum, b) in sums.iter_mut().zip(b) {
                        *sum += a * b;
                    }
                }
            }
            for (p, sums) in sum.iter().enumerate() {
                let at = (ti * 4 + p) * width + tj * 4;
                out[at..at + 4].copy_from_slice(sums);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A = L Lᵀ with L = [2 0 0; 1 3 0; −1 4 5].
    const A: [f64; 9] = [4.0, 2.0, -2.0, 2.0, 10.0, 11.0, -2.0, 11.0, 42.0];

    #[test]
    fn a_factor_known_by_hand() {
        let mut l = A;
        assert_eq!(cholesky(3, &mut l, 3), Some(4.0));
        assert_eq!([l[0], l[3], l[4]], [0.5, 1.0, 1.0 / 3.0]);
        assert_eq!([l[6], l[7], l[8]], [-1.0, 4.0, 0.2]);
        let mut b = [2.0, 4.0, 8.0]; // L times (1, 1, 1)
        lower_solve(3, &l, 3, &mut b);
        assert_eq!(b, [1.0, 1.0, 1.0]);
        upper_solve(3, &l, 3, &mut b);
        // A times the result gives L (1, 1, 1) again.
        for (row, want) in A.chunks(3).zip([2.0, 4.0, 8.0]) {
            let got: f64 = row.iter().zip(b).map(|(a, b)| a * b).sum();
            assert!((got - want).abs() < 1e-12);
        }
    }

    #[test]
    fn what_is_not_positive_has_no_factor() {
        assert_eq!(cholesky(2, &mut [1.0, 2.0, 2.0, 4.0], 2), None);
        assert_eq!(cholesky(1, &mut [f64::NAN], 1), None);
        assert_eq!(cholesky(1, &mut [-1.0], 1), None);
    }

    #[test]
    fn rows_and_inverse_agree() {
        let mut l = A;
        cholesky(3, &mut l, 3).expect("positive");
        let mut rows = [1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0];
        lower_solve_rows(3, &l, 3, &mut rows, 3);
        let mut inverse = [0.0; 9];
        lower_inverse(3, &l, 3, &mut inverse);
        for (a, b) in rows.iter().zip(inverse) {
            assert!((a - b).abs() < 1e-15);
        }
    }

    #[test]
    fn products_of_columns() {
        let rows: Vec<f64> = (0..24).map(f64::from).collect(); // 3 rows of 8
        let mut out = vec![0.0; 64];
        products(&rows, 8, &mut out);
        for i in 0..8 {
            for j in 0..=i {
                let want: f64 = (0..3).map(|r| rows[r * 8 + i] * rows[r * 8 + j]).sum();
                assert_eq!(out[i * 8 + j], want);
            }
        }
    }
}
