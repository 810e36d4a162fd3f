//! Dense linear algebra on arrays: one decomposition and what follows from it.
//!
//! Everything rests on the singular values. By default they come from rotations of the columns, which
//! is short and finds small singular values to nearly full relative accuracy; with the feature `lapack`
//! from LAPACK through ndarray-linalg. A general library was tried instead (nalgebra): it and what it
//! needs took three times the build time of ndarray for this one decomposition. LU is left out on
//! purpose: the threaded OpenBLAS of some distributions crashes in dense LU on threads with small
//! stacks, which every test and pool thread has (OpenBLAS issues 246, 1082, 3229).

use ndarray::{Array1, Array2, ArrayView1, ArrayView2, Axis};

/// Singular values below this share of the largest count as zero.
const CUT: f64 = 1e-12;

/// A = U diag(σ) Vᵀ with the r = min(m, n) largest singular values, falling.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Svd {
    /// Left singular vectors [m, r]; the column of a zero singular value may be zero.
    u: Array2<f64>,
    /// Singular values [r].
    singular: Array1<f64>,
    /// Right singular vectors [n, r].
    v: Array2<f64>,
}

impl Svd {
    /// Decomposes a matrix [m, n]; `None` when it is empty, holds a number that is not finite, or LAPACK
    /// gives up.
    pub(crate) fn of(a: ArrayView2<f64>) -> Option<Svd> {
        if a.is_empty() || !a.iter().all(|v| v.is_finite()) {
            return None;
        }
        backend::decompose(a)
    }

    /// Singular values, falling.
    pub(crate) fn singular_values(&self) -> ArrayView1<'_, f64> {
        self.singular.view()
    }

    /// How many singular values are above [`CUT`] times the largest: independent columns.
    pub(crate) fn rank(&self) -> usize {
        let largest = self.singular.first().copied().unwrap_or(0.0);
        self.singular.iter().take_while(|s| **s > CUT * largest).count()
    }

    /// The solution of least length among those that minimise |A x − b|; `None` when `b` does not fit
    /// or the result is not finite.
    pub(crate) fn solve(&self, b: ArrayView1<f64>) -> Option<Array1<f64>> {
        if b.len() != self.u.nrows() {
            return None;
        }
        let mut x = Array1::zeros(self.v.nrows());
        for k in 0..self.rank() {
            x.scaled_add(self.u.column(k).dot(&b) / self.singular[k], &self.v.column(k));
        }
        x.iter().all(|v: &f64| v.is_finite()).then_some(x)
    }

    /// The solution of |A x − b|² + damping |x|²; `None` as [`Svd::solve`].
    pub(crate) fn damped(&self, b: ArrayView1<f64>, damping: f64) -> Option<Array1<f64>> {
        if b.len() != self.u.nrows() {
            return None;
        }
        let mut x = Array1::zeros(self.v.nrows());
        for k in 0..self.rank() {
            let s = self.singular[k];
            x.scaled_add(self.u.column(k).dot(&b) * s / (s * s + damping), &self.v.column(k));
        }
        x.iter().all(|v: &f64| v.is_finite()).then_some(x)
    }

    /// The direction of the unknowns that belongs to singular value `k`.
    pub(crate) fn direction(&self, k: usize) -> ArrayView1<'_, f64> {
        self.v.column(k)
    }

    /// (AᵀA)⁻¹ [n, n] over the directions that the matrix sees: times the variance of one row's error it
    /// is the covariance of the solution. A column that no row depends on gets zero there, so ask
    /// [`Svd::rank`] first.
    pub(crate) fn inverse_normal(&self) -> Array2<f64> {
        let n = self.v.nrows();
        let mut out = Array2::zeros((n, n));
        for k in 0..self.rank() {
            let column = self.v.column(k).mapv(|v| v / self.singular[k]);
            let (down, across) = (column.view().insert_axis(Axis(1)), column.view().insert_axis(Axis(0)));
            out += &down.dot(&across);
        }
        out
    }
}

/// [`Svd::solve`] for one right-hand side.
pub(crate) fn least_squares(a: ArrayView2<f64>, b: ArrayView1<f64>) -> Option<Array1<f64>> {
    Svd::of(a)?.solve(b)
}

/// Bounded least squares: minimises |A x − b|² with low ≤ x ≤ high by an active-set method. Starting
/// from x = 0 clipped into the box, variables whose gradient pushes outwards are held at their bound
/// (Lawson and Hanson, Solving Least Squares Problems, 1974, ch. 23; bounded form after Stark and
/// Parker, Comput. Stat. 10 (1995) 129). `None` as [`Svd::solve`], or when bounds and columns differ in
/// number.
pub(crate) fn bounded_least_squares(
    a: ArrayView2<f64>,
    b: ArrayView1<f64>,
    low: &[f64],
    high: &[f64],
) -> Option<Array1<f64>> {
    let n = a.ncols();
    if low.len() != n
        || high.len() != n
        || low
            .iter()
            .zip(high)
            .any(|(l, h)| l.partial_cmp(h).is_none_or(|o| o.is_gt()))
    {
        return None;
    }
    let mut x: Array1<f64> = low
        .iter()
        .zip(high)
        .map(|(low, high)| 0.0f64.clamp(*low, *high))
        .collect();
    let mut held: Vec<Option<f64>> = vec![None; n];
    // Each round settles at least one variable; a little room for releases.
    for _ in 0..6 * n + 6 {
        let free: Vec<usize> = (0..n).filter(|j| held[*j].is_none()).collect();
        if !free.is_empty() {
            let mut rest = b.to_owned();
            for (j, value) in held.iter().enumerate() {
                if let Some(value) = value {
                    rest.scaled_add(-value, &a.column(j));
                }
            }
            let wanted = least_squares(a.select(Axis(1), &free).view(), rest.view())?;
            if let Some((j, bound)) = walk(&mut x, &free, &wanted, low, high) {
                held[j] = Some(bound);
                continue;
            }
        }
        match pulled(a, (&b - &a.dot(&x)).view(), &held, low, high) {
            Some(j) => held[j] = None,
            None => return Some(x),
        }
    }
    Some(x)
}

/// Walks the free variables to the wanted point or until the first bound; says which bound that was.
fn walk(x: &mut Array1<f64>, free: &[usize], wanted: &Array1<f64>, low: &[f64], high: &[f64]) -> Option<(usize, f64)> {
    let mut step: f64 = 1.0;
    let mut hit = None;
    for (&j, &wanted) in free.iter().zip(wanted) {
        let d = wanted - x[j];
        let bound = if d > 0.0 { high[j] } else { low[j] };
        if (d > 0.0 && wanted > high[j]) || (d < 0.0 && wanted < low[j]) {
            let share = ((bound - x[j]) / d).max(0.0);
            if share < step {
                step = share;
                hit = Some((j, bound));
            }
        }
    }
    for (&j, &wanted) in free.iter().zip(wanted) {
        x[j] += step * (wanted - x[j]);
    }
    if let Some((j, bound)) = hit {
        x[j] = bound;
    }
    hit
}

/// At the minimum over the free variables: the held one that is pulled inwards hardest.
fn pulled(
    a: ArrayView2<f64>,
    residual: ArrayView1<f64>,
    held: &[Option<f64>],
    low: &[f64],
    high: &[f64],
) -> Option<usize> {
    let mut best: Option<(usize, f64)> = None;
    for (j, bound) in held.iter().enumerate() {
        let Some(bound) = *bound else { continue };
        let column = a.column(j);
        let pull: f64 = column.dot(&residual);
        let inwards = (bound == low[j] && pull > 0.0) || (bound == high[j] && pull < 0.0);
        let size = column.dot(&column).sqrt();
        if inwards && pull.abs() > 1e-10 * (size + 1e-300) && best.is_none_or(|(_, p)| pull.abs() > p) {
            best = Some((j, pull.abs()));
        }
    }
    best.map(|(j, _)| j)
}

#[cfg(not(feature = "lapack"))]
mod backend {
    use ndarray::{Array1, Array2, ArrayView2, Axis};

    use super::Svd;

    /// Most sweeps. Six to ten are usual; what still turns after so many turns by rounding only.
    const SWEEPS: usize = 60;

    /// A column shorter than this share of the whole matrix is zero. What rounding leaves of a dependent
    /// column shrinks with every turn and would go on turning down to the smallest numbers there are.
    const ZERO: f64 = 1e-20;

    /// What counts as nothing.
    struct Limits {
        /// Cosine between two columns that rounding leaves of a right angle.
        right_angle: f64,
        /// Length of a column that is zero.
        zero: f64,
    }

    /// One-sided Jacobi: pairs of columns are turned until all are at right angles; their lengths are
    /// the singular values (Hestenes, J. SIAM 6 (1958) 51; accuracy: Demmel and Veselić, SIAM J. Matrix
    /// Anal. 13 (1992) 1204).
    pub(super) fn decompose(a: ArrayView2<f64>) -> Option<Svd> {
        if a.nrows() < a.ncols() {
            let Svd { u, singular, v } = decompose(a.t())?;
            return Some(Svd { u: v, singular, v: u });
        }
        let largest = a.iter().fold(0.0, |m: f64, v| m.max(v.abs()));
        let scale = if largest > 0.0 { largest } else { 1.0 };
        // By rows of the transposed matrix, so that a column is contiguous.
        let mut columns: Vec<Vec<f64>> = a
            .columns()
            .into_iter()
            .map(|c| c.mapv(|v| v / scale).to_vec())
            .collect();
        let n = columns.len();
        let mut turns: Vec<Vec<f64>> = (0..n).map(|j| (0..n).map(|i| f64::from(i == j)).collect()).collect();
        // What rounding leaves of a right angle between columns of this length.
        let limits = Limits {
            right_angle: f64::EPSILON * (10 + a.nrows()) as f64,
            zero: ZERO * columns.iter().map(|c| dot(c, c)).sum::<f64>().sqrt(),
        };
        for _ in 0..SWEEPS {
            if !sweep(&mut columns, &mut turns, &limits) {
                break;
            }
        }
        let length = |c: &Vec<f64>| Some(dot(c, c).sqrt()).filter(|l| *l > limits.zero).unwrap_or(0.0);
        let lengths: Vec<f64> = columns.iter().map(length).collect();
        let mut order: Vec<usize> = (0..n).collect();
        order.sort_by(|i, j| lengths[*j].total_cmp(&lengths[*i]));
        let mut u = Array2::zeros(a.raw_dim());
        let mut v = Array2::zeros((n, n));
        for (k, &j) in order.iter().enumerate() {
            v.index_axis_mut(Axis(1), k)
                .assign(&Array1::from_vec(std::mem::take(&mut turns[j])));
            if lengths[j] > 0.0 {
                let column = Array1::from_vec(std::mem::take(&mut columns[j]));
                u.index_axis_mut(Axis(1), k).assign(&(column / lengths[j]));
            }
        }
        let singular = order.iter().map(|j| lengths[*j] * scale).collect();
        Some(Svd { u, singular, v })
    }

    /// Turns every pair of columns once; `false` when all were at right angles already.
    fn sweep(columns: &mut [Vec<f64>], turns: &mut [Vec<f64>], limits: &Limits) -> bool {
        let mut turned = false;
        for q in 1..columns.len() {
            for p in 0..q {
                let (alpha, beta) = (dot(&columns[p], &columns[p]), dot(&columns[q], &columns[q]));
                let gamma = dot(&columns[p], &columns[q]);
                let small = alpha.min(beta) <= limits.zero * limits.zero;
                if small || gamma.abs() <= limits.right_angle * (alpha * beta).sqrt() {
                    continue;
                }
                turned = true;
                let zeta = (beta - alpha) / (2.0 * gamma);
                let tangent = 1.0f64.copysign(zeta) / (zeta.abs() + 1.0f64.hypot(zeta));
                let cosine = 1.0 / 1.0f64.hypot(tangent);
                turn(columns, p, q, cosine, cosine * tangent);
                turn(turns, p, q, cosine, cosine * tangent);
            }
        }
        turned
    }

    fn turn(columns: &mut [Vec<f64>], p: usize, q: usize, cosine: f64, sine: f64) {
        let (low, high) = columns.split_at_mut(q);
        for (a, b) in low[p].iter_mut().zip(&mut high[0]) {
            (*a, *b) = (cosine * *a - sine * *b, sine * *a + cosine * *b);
        }
    }

    fn dot(a: &[f64], b: &[f64]) -> f64 {
        a.iter().zip(b).map(|(a, b)| a * b).sum()
    }
}

#[cfg(feature = "lapack")]
mod backend {
    use ndarray::ArrayView2;
    use ndarray_linalg::{JobSvd, SVDDC};

    use super::Svd;

    pub(super) fn decompose(a: ArrayView2<f64>) -> Option<Svd> {
        let (u, singular, vt) = a.to_owned().svddc(JobSvd::Some).ok()?;
        Some(Svd {
            u: u?,
            singular,
            v: vt?.reversed_axes(),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use ndarray::array;

    #[test]
    fn a_line_through_four_points() {
        // Points (0,1) (1,3) (2,4) (3,4): slope 1, intercept 1.5 by the normal equations.
        let a = array![[1.0, 0.0], [1.0, 1.0], [1.0, 2.0], [1.0, 3.0]];
        let x = least_squares(a.view(), array![1.0, 3.0, 4.0, 4.0].view()).unwrap();
        assert!((x[0] - 1.5).abs() < 1e-12 && (x[1] - 1.0).abs() < 1e-12, "{x:?}");
    }

    #[test]
    fn a_singular_matrix_gives_the_shortest_solution() {
        let a = array![[1.0, 1.0], [2.0, 2.0]];
        let x = least_squares(a.view(), array![2.0, 4.0].view()).unwrap();
        assert!((x[0] - 1.0).abs() < 1e-10 && (x[1] - 1.0).abs() < 1e-10, "{x:?}");
        assert_eq!(Svd::of(a.view()).unwrap().rank(), 1);
        assert!(least_squares(a.view(), array![f64::NAN, 0.0].view()).is_none());
        assert!(least_squares(a.view(), array![1.0].view()).is_none());
        assert!(Svd::of(array![[f64::INFINITY, 0.0]].view()).is_none());
        let nothing = Svd::of(Array2::zeros((3, 2)).view()).unwrap();
        assert_eq!(
            (nothing.rank(), nothing.solve(array![1.0, 2.0, 3.0].view()).unwrap()),
            (0, array![0.0, 0.0])
        );
    }

    /// A column that is a multiple of another, and a row of zeros: three independent columns, by rows and by
    /// columns, and the normal equations hold.
    #[test]
    fn dependent_columns_are_counted_and_solved() {
        for k in 0..60 {
            let number = |i: usize, j: usize| ((1 + i * i + 3 * j + i * j * j + 5 * k) as f64).sin();
            let mut a = Array2::from_shape_fn((4, 4), |(i, j)| number(i, j));
            let multiple = &a.column(0) * 0.37;
            a.column_mut(3).assign(&multiple);
            a.row_mut(3).fill(0.0);
            let b = Array1::from_iter((0..4).map(|i| number(i, 9)));
            let svd = Svd::of(a.view()).unwrap();
            let turned = Svd::of(a.t()).unwrap();
            assert_eq!((svd.rank(), turned.rank()), (3, 3), "{k}");
            let x = svd.solve(b.view()).unwrap();
            let gradient = a.t().dot(&(&b - &a.dot(&x)));
            assert!(gradient.iter().all(|g| g.abs() < 1e-10), "{k} {gradient}");
        }
    }

    /// Any matrix: the parts are orthogonal, the values fall, and together they give the matrix back;
    /// wide matrices and numbers of any size too.
    #[test]
    fn parts_give_the_matrix_back() {
        for (m, n, scale) in [(1, 1, 1.0), (7, 4, 1e-180), (4, 7, 1e180), (30, 30, 1.0)] {
            let a = Array2::from_shape_fn((m, n), |(i, j)| scale * ((1 + i * i + 3 * j + i * j * j) as f64).sin());
            let svd = Svd::of(a.view()).unwrap();
            let r = m.min(n);
            assert_eq!((svd.u.dim(), svd.singular.len(), svd.v.dim()), ((m, r), r, (n, r)));
            assert!(
                svd.singular_values()
                    .iter()
                    .zip(svd.singular.iter().skip(1))
                    .all(|(a, b)| a >= b)
            );
            let back = (&svd.u * &svd.singular).dot(&svd.v.t());
            let worst = (&back - &a).iter().fold(0.0, |w: f64, v| w.max(v.abs()));
            assert!(worst < 1e-13 * svd.singular[0], "{m} {n} {worst}");
            for side in [&svd.u, &svd.v] {
                let off = side.t().dot(side) - Array2::<f64>::eye(r);
                assert!(off.iter().all(|v: &f64| v.abs() < 1e-12), "{m} {n}");
            }
        }
    }

    /// The golden ratio and its inverse: singular values of [[1, 1], [0, 1]].
    #[test]
    fn singular_values_of_a_shear() {
        let svd = Svd::of(array![[1.0, 1.0], [0.0, 1.0]].view()).unwrap();
        let golden = 0.5 * (1.0 + 5.0f64.sqrt());
        assert!((svd.singular[0] - golden).abs() < 1e-15 && (svd.singular[1] - 1.0 / golden).abs() < 1e-15);
    }

    /// NIST Statistical Reference Datasets, linear least squares, Longley (J. Amer. Statist. Assoc. 62
    /// (1967) 819): certified estimates, their standard deviations and that of the residual. The
    /// condition number of the matrix is 5e9.
    #[test]
    fn longley_has_its_certified_solution() {
        let rows = [
            [60323.0, 83.0, 234289.0, 2356.0, 1590.0, 107608.0, 1947.0],
            [61122.0, 88.5, 259426.0, 2325.0, 1456.0, 108632.0, 1948.0],
            [60171.0, 88.2, 258054.0, 3682.0, 1616.0, 109773.0, 1949.0],
            [61187.0, 89.5, 284599.0, 3351.0, 1650.0, 110929.0, 1950.0],
            [63221.0, 96.2, 328975.0, 2099.0, 3099.0, 112075.0, 1951.0],
            [63639.0, 98.1, 346999.0, 1932.0, 3594.0, 113270.0, 1952.0],
            [64989.0, 99.0, 365385.0, 1870.0, 3547.0, 115094.0, 1953.0],
            [63761.0, 100.0, 363112.0, 3578.0, 3350.0, 116219.0, 1954.0],
            [66019.0, 101.2, 397469.0, 2904.0, 3048.0, 117388.0, 1955.0],
            [67857.0, 104.6, 419180.0, 2822.0, 2857.0, 118734.0, 1956.0],
            [68169.0, 108.4, 442769.0, 2936.0, 2798.0, 120445.0, 1957.0],
            [66513.0, 110.8, 444546.0, 4681.0, 2637.0, 121950.0, 1958.0],
            [68655.0, 112.6, 482704.0, 3813.0, 2552.0, 123366.0, 1959.0],
            [69564.0, 114.2, 502601.0, 3931.0, 2514.0, 125368.0, 1960.0],
            [69331.0, 115.7, 518173.0, 4806.0, 2572.0, 127852.0, 1961.0],
            [70551.0, 116.9, 554894.0, 4007.0, 2827.0, 130081.0, 1962.0],
        ];
        let certified = [
            (-3_482_258.634_595_82, 890_420.383_607_373),
            (15.061_872_271_373_3, 84.914_925_774_766_9),
            (-0.035_819_179_292_591, 0.033_491_007_772_243_2),
            (-2.020_229_803_816_83, 0.488_399_681_651_699),
            (-1.033_226_867_173_59, 0.214_274_163_161_675),
            (-0.051_104_105_653_580_7, 0.226_073_200_069_37),
            (1_829.151_464_613_55, 455.478_499_142_212),
        ];
        let table = ndarray::arr2(&rows);
        let b = table.column(0).to_owned();
        let mut a = table;
        a.column_mut(0).fill(1.0);
        let svd = Svd::of(a.view()).unwrap();
        assert_eq!(svd.rank(), 7);
        let x = svd.solve(b.view()).unwrap();
        let residual = &b - &a.dot(&x);
        let variance = residual.dot(&residual) / 9.0;
        assert!((variance.sqrt() / 304.854_073_561_965 - 1.0).abs() < 1e-9, "{variance}");
        let spread = svd.inverse_normal();
        // Rotations find small singular values to their own size, a bidiagonal form to that of the largest:
        // with a condition of 5e9 that is 1e-6 of the solution.
        let near = if cfg!(feature = "lapack") { 5e-6 } else { 1e-7 };
        for (k, (estimate, deviation)) in certified.into_iter().enumerate() {
            assert!((x[k] / estimate - 1.0).abs() < near, "{k}: {} {estimate}", x[k]);
            let found = (variance * spread[[k, k]]).sqrt();
            assert!((found / deviation - 1.0).abs() < near, "{k}: {found} {deviation}");
        }
    }

    #[test]
    fn bounds_hold_and_are_released() {
        // Unbounded minimum (2, -1); in the box the second variable stops at 0 and the first moves to
        // the minimum along it: a coupled case where clipping (2, 0) would be wrong.
        let a = array![[1.0, 1.0], [1.0, -1.0], [2.0, 0.5]];
        let b = array![1.0, 3.0, 3.5];
        let free = least_squares(a.view(), b.view()).unwrap();
        assert!(
            (free[0] - 2.0).abs() < 1e-12 && (free[1] + 1.0).abs() < 1e-12,
            "{free:?}"
        );
        let bounded = |low, high| bounded_least_squares(a.view(), b.view(), low, high);
        let x = bounded(&[0.0, 0.0], &[5.0, 5.0]).unwrap();
        // One variable left: x = (1·1 + 1·3 + 2·3.5)/(1 + 1 + 4).
        assert!((x[0] - 11.0 / 6.0).abs() < 1e-12 && x[1] == 0.0, "{x:?}");
        let x = bounded(&[-9.0, -9.0], &[9.0, 9.0]).unwrap();
        assert!((x[0] - 2.0).abs() < 1e-12 && (x[1] + 1.0).abs() < 1e-12, "{x:?}");
        assert!(bounded(&[1.0, 0.0], &[0.0, 5.0]).is_none() && bounded(&[0.0], &[5.0]).is_none());
    }
}
