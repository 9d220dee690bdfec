//! The step of the unknowns from the whitened rows: normal equations, or an orthogonal
//! factor where they would lose digits, or what can be told where directions are left open.

use nalgebra::DMatrix;

use super::small;

/// Below this pivot of the normal matrix, scaled to a diagonal of ones, the orthogonal factor is used:
/// at 1e-6 the normal equations have lost some 6 of 16 digits.
const PIVOT_FOR_NORMAL: f64 = 1e-6;

/// A direction whose length in the rows, scaled to columns of length 1, is below this share of the
/// longest counts as not there: rounding in the slopes leaves 1e-16 to 1e-14 of it.
const SHARE_SINGULAR: f64 = 1e-13;

/// Below this share on the diagonal of the orthogonal factor, its singular values are looked at.
const SHARE_SUSPECT: f64 = 1e-7;

/// The factor of the scaled rows, and room to find it in.
#[derive(Debug, Default)]
pub(super) struct Factor {
    n: usize,
    /// Lower triangle of the products of all columns; the last column is what is left.
    pub products: Vec<f64>,
    /// Length of each column of slopes; 1 for one that is zero.
    pub scale: Vec<f64>,
    /// Lower factor of the scaled normal matrix, 1/L_ii on its diagonal.
    lower: Vec<f64>,
    /// L⁻¹ times the scaled right side.
    along: Vec<f64>,
    /// Columns of the orthogonal factor while it is made.
    columns: Vec<f64>,
    /// What can be told, where that is not everything.
    open: Option<Open>,
}

/// A factor with directions left open.
#[derive(Debug)]
struct Open {
    /// Right singular vectors, best determined first.
    v: DMatrix<f64>,
    sigma: Vec<f64>,
    rank: usize,
    along: Vec<f64>,
}

/// How many columns of the rows mean what.
#[derive(Debug, Clone, Copy)]
pub(super) struct Layout {
    pub n_free: usize,
    pub width: usize,
}

impl Factor {
    /// Sums the rows up; gives false where a sum is not a number.
    pub fn sum_up(&mut self, rows: &[f64], layout: Layout) -> bool {
        let Layout { n_free: n, width } = layout;
        self.n = n;
        self.products.resize(width * width, 0.0);
        small::products(rows, width, &mut self.products);
        self.scale.clear();
        let mut finite = self.products[n * width + n].is_finite();
        for j in 0..n {
            let square = self.products[j * width + j];
            finite &= square.is_finite();
            self.scale
                .push(if 0.0 < square { square.sqrt() } else { 1.0 });
        }
        finite
    }

    /// Sum of squares of what is left: χ².
    pub fn chi2(&self, layout: Layout) -> f64 {
        self.products[layout.n_free * layout.width + layout.n_free]
    }

    /// Length of the whitened misclosures at the adjusted readings.
    pub fn misclosure(&self, layout: Layout) -> f64 {
        let at = layout.n_free + 1;
        self.products[at * layout.width + at].sqrt()
    }

    /// Factors the rows summed up last, with `damping` added to the scaled diagonal.
    pub fn factor(&mut self, rows: &[f64], layout: Layout, damping: f64) {
        self.open = None;
        let pivot = self.factor_normal(layout, damping);
        if !pivot.is_some_and(|pivot| PIVOT_FOR_NORMAL <= pivot) {
            self.factor_orthogonal(rows, layout, damping);
        }
    }

    fn factor_normal(&mut self, layout: Layout, damping: f64) -> Option<f64> {
        let Layout { n_free: n, width } = layout;
        self.lower.resize(n * n, 0.0);
        self.along.resize(n, 0.0);
        for i in 0..n {
            let products = &self.products[i * width..i * width + i + 1];
            let row = &mut self.lower[i * n..i * n + i + 1];
            for (j, (value, product)) in row.iter_mut().zip(products).enumerate() {
                *value = product / (self.scale[i] * self.scale[j]);
            }
            row[i] += damping;
            self.along[i] = self.products[n * width + i] / self.scale[i];
        }
        let pivot = small::cholesky(n, &mut self.lower, n)?;
        small::lower_solve(n, &self.lower, n, &mut self.along);
        Some(pivot)
    }

    /// Householder's factor of the scaled rows with √damping below them.
    fn factor_orthogonal(&mut self, rows: &[f64], layout: Layout, damping: f64) {
        let Layout { n_free: n, width } = layout;
        let n_rows = rows.len() / width;
        let tall = n_rows + n;
        self.columns.clear();
        self.columns.resize(tall * (n + 1), 0.0);
        for (r, row) in rows.chunks_exact(width).enumerate() {
            for (j, (slope, scale)) in row.iter().zip(&self.scale).enumerate() {
                self.columns[j * tall + r] = slope / scale;
            }
            self.columns[n * tall + r] = row[n];
        }
        for j in 0..n {
            self.columns[j * tall + n_rows + j] = damping.sqrt();
        }
        reflect(&mut self.columns, n, tall);
        let r = |i: usize, j: usize| self.columns[j * tall + i];
        let along: Vec<f64> = (0..n).map(|i| r(i, n)).collect();
        let smallest = (0..n).map(|i| r(i, i).abs()).fold(f64::INFINITY, f64::min);
        if smallest < SHARE_SUSPECT {
            let upper = DMatrix::from_fn(n, n, |i, j| if i <= j { r(i, j) } else { 0.0 });
            self.open = open(&upper, &along);
        }
        for i in 0..n {
            for j in 0..i {
                self.lower[i * n + j] = self.columns[i * tall + j];
            }
            self.lower[i * n + i] = 1.0 / self.columns[i * tall + i];
        }
        self.along.copy_from_slice(&along);
    }

    /// Length of the full step in units of its own uncertainty: no unknown, and no sum of unknowns,
    /// moves by more of its sd than this.
    ///
    /// ```text
    /// max over c of (cᵀ dx)² / (cᵀ Q c) = dxᵀ N dx
    /// ```
    pub fn step_in_sd(&self) -> f64 {
        let squares = match &self.open {
            None => self.along.iter().map(|c| c * c).sum::<f64>(),
            Some(open) => open.along[..open.rank].iter().map(|c| c * c).sum(),
        };
        squares.sqrt()
    }

    /// Writes the step of the free unknowns.
    pub fn step(&self, out: &mut Vec<f64>) {
        out.clear();
        match &self.open {
            None => {
                out.extend_from_slice(&self.along);
                small::upper_solve(self.n, &self.lower, self.n, out);
            }
            Some(open) => {
                out.resize(self.n, 0.0);
                for k in 0..open.rank {
                    let by = open.along[k] / open.sigma[k];
                    for (out, v) in out.iter_mut().zip(open.v.column(k).iter()) {
                        *out += by * v;
                    }
                }
            }
        }
        for (value, scale) in out.iter_mut().zip(&self.scale) {
            *value /= -scale;
        }
    }

    /// Overwrites a right side by the free unknowns with −(N + μ D)⁻¹ times it;
    /// gives false where directions are left open.
    pub fn solve(&self, right: &mut [f64]) -> bool {
        if self.open.is_some() {
            return false;
        }
        for (value, scale) in right.iter_mut().zip(&self.scale) {
            *value /= -scale;
        }
        small::lower_solve(self.n, &self.lower, self.n, right);
        small::upper_solve(self.n, &self.lower, self.n, right);
        for (value, scale) in right.iter_mut().zip(&self.scale) {
            *value /= scale;
        }
        true
    }

    /// Fall of χ² that the rows promise for the step; a sum of squares, so that nothing cancels.
    ///
    /// ```text
    /// −2 gᵀ dx − dxᵀ N dx = |L⁻¹ g|² + μ |D^½ dx|²        (N + μ D) dx = −g, g = Ãᵀ w̃
    /// ```
    pub fn promised(&self, step: &[f64], damping: f64) -> f64 {
        let length = self.step_in_sd();
        let scaled = step.iter().zip(&self.scale).map(|(dx, d)| dx * d);
        length * length + damping * scaled.map(|v| v * v).sum::<f64>()
    }

    /// Number of directions that the rows determine.
    pub fn rank(&self) -> usize {
        self.open.as_ref().map_or(self.n, |open| open.rank)
    }

    /// Covariance of the free unknowns, in the directions that are determined.
    pub fn covariance(&self) -> DMatrix<f64> {
        let n = self.n;
        let mut q = match &self.open {
            None => {
                let mut inverse = vec![0.0; n * n];
                small::lower_inverse(n, &self.lower, n, &mut inverse);
                let mut q = DMatrix::zeros(n, n);
                for i in 0..n {
                    for j in 0..=i {
                        let sum: f64 = (i..n)
                            .map(|k| inverse[k * n + i] * inverse[k * n + j])
                            .sum();
                        q[(i, j)] = sum;
                        q[(j, i)] = sum;
                    }
                }
                q
            }
            Some(open) => {
                let v = open.v.columns(0, open.rank);
                let weights = open.sigma[..open.rank].iter().map(|s| 1.0 / (s * s));
                let weights =
                    DMatrix::from_diagonal(&nalgebra::DVector::from_iterator(open.rank, weights));
                v * weights * v.transpose()
            }
        };
        for i in 0..n {
            for j in 0..n {
                q[(i, j)] /= self.scale[i] * self.scale[j];
            }
        }
        q
    }

    /// Directions left open, one a column, as changes of the free unknowns.
    pub fn open_directions(&self) -> Option<DMatrix<f64>> {
        let open = self.open.as_ref()?;
        let mut v = open.v.columns(open.rank, self.n - open.rank).into_owned();
        for (mut row, scale) in v.row_iter_mut().zip(&self.scale) {
            row /= *scale;
        }
        Some(v)
    }
}

/// Householder's reflections over `n` columns of height `tall` and one more; the upper triangle is R.
fn reflect(columns: &mut [f64], n: usize, tall: usize) {
    for k in 0..n {
        let (done, rest) = columns.split_at_mut((k + 1) * tall);
        let column = &mut done[k * tall..];
        let long = column[k..].iter().map(|v| v * v).sum::<f64>().sqrt();
        if !(0.0 < long) {
            continue;
        }
        let alpha = if column[k] < 0.0 { long } else { -long };
        column[k] -= alpha;
        let square = column[k..].iter().map(|v| v * v).sum::<f64>();
        for other in rest.chunks_exact_mut(tall) {
            let (mirror, other) = (&column[k..], &mut other[k..]);
            let dot: f64 = mirror.iter().zip(&*other).map(|(a, b)| a * b).sum();
            let by = 2.0 * dot / square;
            for (value, mirror) in other.iter_mut().zip(mirror) {
                *value -= by * mirror;
            }
        }
        column[k] = alpha;
    }
}

/// Singular values of R, if some of its directions are as good as zero.
fn open(upper: &DMatrix<f64>, along: &[f64]) -> Option<Open> {
    let n = upper.nrows();
    let svd = upper.clone().svd(true, true);
    let (u, v_t) = (svd.u?, svd.v_t?);
    let mut order: Vec<usize> = (0..n).collect();
    order.sort_by(|&a, &b| svd.singular_values[b].total_cmp(&svd.singular_values[a]));
    let sigma: Vec<f64> = order.iter().map(|&k| svd.singular_values[k]).collect();
    let least = SHARE_SINGULAR * sigma.first()?;
    let rank = sigma.iter().filter(|&&s| least < s).count();
    if rank == n {
        return None;
    }
    let v = DMatrix::from_fn(n, n, |i, k| v_t[(order[k], i)]);
    let along = order
        .iter()
        .map(|&k| (0..n).map(|i| u[(i, k)] * along[i]).sum())
        .collect();
    Some(Open {
        v,
        sigma,
        rank,
        along,
    })
}
