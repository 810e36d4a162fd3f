//! Dense linear algebra: one function per need, with two backends.
//!
//! Without features the work is done in Rust (nalgebra); with the feature `lapack` by LAPACK through
//! ndarray-linalg. Only least squares by singular values is used: the threaded OpenBLAS of some
//! distributions crashes in dense LU on threads with small stacks, which every test and pool thread
//! has (OpenBLAS issues 246, 1082, 3229).

/// A matrix by rows.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Matrix {
    rows: usize,
    columns: usize,
    values: Vec<f64>,
}

impl Matrix {
    /// A matrix of zeros.
    pub(crate) fn zeros(rows: usize, columns: usize) -> Matrix {
        Matrix {
            rows,
            columns,
            values: vec![0.0; rows * columns],
        }
    }

    /// Sets one element.
    pub(crate) fn set(&mut self, row: usize, column: usize, value: f64) {
        self.values[row * self.columns + column] = value;
    }

    /// One element.
    pub(crate) fn get(&self, row: usize, column: usize) -> f64 {
        self.values[row * self.columns + column]
    }
}

/// The solution of least length among those that minimise |A x − b|, singular values below
/// 1e-12 of the largest taken as zero. `None` when the numbers are not finite or the decomposition
/// fails.
pub(crate) fn least_squares(a: &Matrix, b: &[f64]) -> Option<Vec<f64>> {
    if a.rows != b.len() || a.rows == 0 || a.columns == 0 {
        return None;
    }
    if !a.values.iter().chain(b).all(|v| v.is_finite()) {
        return None;
    }
    backend::least_squares(a, b).filter(|x| x.iter().all(|v| v.is_finite()))
}

/// Bounded least squares: minimises |A x − b|² with low ≤ x ≤ high by an active-set method. Starting
/// from x = 0 clipped into the box, variables whose gradient pushes outwards are held at their bound
/// (Lawson and Hanson, Solving Least Squares Problems, 1974, ch. 23; bounded form after Stark and
/// Parker, Comput. Stat. 10 (1995) 129).
pub(crate) fn bounded_least_squares(a: &Matrix, b: &[f64], low: &[f64], high: &[f64]) -> Option<Vec<f64>> {
    let n = a.columns;
    let mut x: Vec<f64> = (0..n).map(|j| 0.0f64.clamp(low[j], high[j])).collect();
    let mut held: Vec<Option<f64>> = vec![None; n];
    // Each round settles at least one variable; a little room for releases.
    for _ in 0..6 * n + 6 {
        let free: Vec<usize> = (0..n).filter(|j| held[*j].is_none()).collect();
        if !free.is_empty() {
            let mut part = Matrix::zeros(a.rows, free.len());
            let mut rest = b.to_vec();
            for i in 0..a.rows {
                for (k, &j) in free.iter().enumerate() {
                    part.set(i, k, a.get(i, j));
                }
                for (j, h) in held.iter().enumerate() {
                    if let Some(value) = h {
                        rest[i] -= a.get(i, j) * value;
                    }
                }
            }
            let wanted = least_squares(&part, &rest)?;
            // Walk from x to the wanted point until the first bound.
            let mut step: f64 = 1.0;
            let mut hit = None;
            for (k, &j) in free.iter().enumerate() {
                let d = wanted[k] - x[j];
                let bound = if d > 0.0 { high[j] } else { low[j] };
                if (d > 0.0 && wanted[k] > high[j]) || (d < 0.0 && wanted[k] < low[j]) {
                    let share = ((bound - x[j]) / d).max(0.0);
                    if share < step {
                        step = share;
                        hit = Some((j, bound));
                    }
                }
            }
            for (k, &j) in free.iter().enumerate() {
                x[j] += step * (wanted[k] - x[j]);
            }
            if let Some((j, bound)) = hit {
                x[j] = bound;
                held[j] = Some(bound);
                continue;
            }
        }
        // At the minimum over the free variables: release the bound that is pulled hardest.
        let residual: Vec<f64> = (0..a.rows)
            .map(|i| b[i] - (0..n).map(|j| a.get(i, j) * x[j]).sum::<f64>())
            .collect();
        let mut best: Option<(usize, f64)> = None;
        for j in 0..n {
            let Some(bound) = held[j] else { continue };
            let pull: f64 = (0..a.rows).map(|i| a.get(i, j) * residual[i]).sum();
            let inwards = (bound == low[j] && pull > 0.0) || (bound == high[j] && pull < 0.0);
            let size: f64 = (0..a.rows).map(|i| a.get(i, j).powi(2)).sum::<f64>().sqrt();
            if inwards && pull.abs() > 1e-10 * (size + 1e-300) && best.is_none_or(|(_, p)| pull.abs() > p) {
                best = Some((j, pull.abs()));
            }
        }
        match best {
            Some((j, _)) => held[j] = None,
            None => return Some(x),
        }
    }
    Some(x)
}

#[cfg(not(feature = "lapack"))]
mod backend {
    use super::Matrix;

    pub(super) fn least_squares(a: &Matrix, b: &[f64]) -> Option<Vec<f64>> {
        let m = nalgebra::DMatrix::from_row_slice(a.rows, a.columns, &a.values);
        let rhs = nalgebra::DVector::from_column_slice(b);
        let svd = m.try_svd(true, true, f64::EPSILON, 10_000)?;
        let cut = 1e-12 * svd.singular_values.max();
        let x = svd.solve(&rhs, cut).ok()?;
        Some(x.iter().copied().collect())
    }
}

#[cfg(feature = "lapack")]
mod backend {
    use super::Matrix;
    use ndarray::{Array1, Array2};
    use ndarray_linalg::SVD;

    pub(super) fn least_squares(a: &Matrix, b: &[f64]) -> Option<Vec<f64>> {
        let m = Array2::from_shape_vec((a.rows, a.columns), a.values.clone()).ok()?;
        let rhs = Array1::from(b.to_vec());
        let (u, s, vt) = m.svd(true, true).ok()?;
        let (u, vt) = (u?, vt?);
        let cut = 1e-12 * s.iter().copied().fold(0.0, f64::max);
        let mut x = Array1::<f64>::zeros(a.columns);
        for (k, sigma) in s.iter().enumerate() {
            if *sigma > cut {
                let share = u.column(k).dot(&rhs) / sigma;
                x.scaled_add(share, &vt.row(k));
            }
        }
        Some(x.to_vec())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn matrix(rows: &[&[f64]]) -> Matrix {
        let mut m = Matrix::zeros(rows.len(), rows[0].len());
        for (i, row) in rows.iter().enumerate() {
            for (j, v) in row.iter().enumerate() {
                m.set(i, j, *v);
            }
        }
        m
    }

    #[test]
    fn a_line_through_four_points() {
        // Points (0,1) (1,3) (2,4) (3,4): slope 1, intercept 1.5 by the normal equations.
        let a = matrix(&[&[1.0, 0.0], &[1.0, 1.0], &[1.0, 2.0], &[1.0, 3.0]]);
        let x = least_squares(&a, &[1.0, 3.0, 4.0, 4.0]).unwrap();
        assert!((x[0] - 1.5).abs() < 1e-12 && (x[1] - 1.0).abs() < 1e-12, "{x:?}");
    }

    #[test]
    fn a_singular_matrix_gives_the_shortest_solution() {
        let a = matrix(&[&[1.0, 1.0], &[2.0, 2.0]]);
        let x = least_squares(&a, &[2.0, 4.0]).unwrap();
        assert!((x[0] - 1.0).abs() < 1e-10 && (x[1] - 1.0).abs() < 1e-10, "{x:?}");
        assert!(least_squares(&a, &[f64::NAN, 0.0]).is_none());
    }

    #[test]
    fn bounds_hold_and_are_released() {
        // Unbounded minimum (2, -1); in the box the second variable stops at 0 and the first moves to
        // the minimum along it: a coupled case where clipping (2, 0) would be wrong.
        let a = matrix(&[&[1.0, 1.0], &[1.0, -1.0], &[2.0, 0.5]]);
        let b: Vec<f64> = vec![1.0, 3.0, 3.5];
        let free = least_squares(&a, &b).unwrap();
        assert!(
            (free[0] - 2.0).abs() < 1e-12 && (free[1] + 1.0).abs() < 1e-12,
            "{free:?}"
        );
        let x = bounded_least_squares(&a, &b, &[0.0, 0.0], &[5.0, 5.0]).unwrap();
        // One variable left: x = (1·1 + 1·3 + 2·3.5)/(1 + 1 + 4).
        assert!((x[0] - 11.0 / 6.0).abs() < 1e-12 && x[1] == 0.0, "{x:?}");
        let x = bounded_least_squares(&a, &b, &[-9.0, -9.0], &[9.0, 9.0]).unwrap();
        assert!((x[0] - 2.0).abs() < 1e-12 && (x[1] + 1.0).abs() < 1e-12, "{x:?}");
    }
}
