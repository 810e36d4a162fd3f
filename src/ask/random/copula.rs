//! Correlated inputs by a Gaussian copula.

use super::super::PlanError;
use crate::numeric::special::{normal_cdf, normal_quantile};

/// Turns independent uniform coordinates into correlated ones: each is mapped to a standard normal
/// value, the vector is multiplied with the Cholesky factor of the correlation matrix, and mapped
/// back. Marginals stay uniform; the correlation given is that of the normal scores.
#[derive(Debug, Clone, PartialEq)]
pub struct Copula {
    size: usize,
    factor: Vec<f64>,
}

impl Copula {
    /// Builds the factor from pairs (i, j, correlation); pairs not named are uncorrelated.
    ///
    /// # Errors
    /// An index out of range, a pair of an input with itself or given twice, a correlation not
    /// strictly between -1 and 1, or correlations that no joint distribution can have.
    pub fn new(size: usize, pairs: &[(usize, usize, f64)]) -> Result<Self, PlanError> {
        let mut matrix = vec![0.0; size * size];
        for i in 0..size {
            matrix[i * size + i] = 1.0;
        }
        for &(i, j, r) in pairs {
            if i >= size || j >= size || i == j {
                return Err(PlanError::count(
                    format!("correlation between inputs {i} and {j}"),
                    i.max(j),
                    format!("two different inputs below {size}"),
                ));
            }
            if !(r > -1.0 && r < 1.0) {
                return Err(PlanError::range(
                    "correlation",
                    r,
                    "above -1 and below 1 (use one input for two that always agree)",
                ));
            }
            if matrix[i * size + j] != 0.0 {
                return Err(PlanError::count(
                    format!("correlation between inputs {i} and {j}"),
                    2,
                    "one",
                ));
            }
            matrix[i * size + j] = r;
            matrix[j * size + i] = r;
        }
        let mut factor = vec![0.0; size * size];
        for i in 0..size {
            for j in 0..=i {
                let known: f64 = (0..j).map(|k| factor[i * size + k] * factor[j * size + k]).sum();
                let rest = matrix[i * size + j] - known;
                factor[i * size + j] = if i == j {
                    if rest <= 1e-12 {
                        return Err(PlanError::NotPositiveDefinite { row: i, pivot: rest });
                    }
                    rest.sqrt()
                } else {
                    rest / factor[j * size + j]
                };
            }
        }
        Ok(Self { size, factor })
    }

    /// Standard normal values correlated as asked, from independent ones, in place.
    pub fn correlate(&self, z: &mut [f64]) {
        // From the last row up, so that each row still sees the independent values it needs.
        for i in (0..self.size.min(z.len())).rev() {
            z[i] = (0..=i).map(|k| self.factor[i * self.size + k] * z[k]).sum();
        }
    }

    /// Uniform coordinates correlated as asked, from independent ones, in place.
    pub fn correlate_uniform(&self, u: &mut [f64]) {
        for x in u.iter_mut() {
            *x = normal_quantile(*x);
        }
        self.correlate(u);
        for x in u.iter_mut() {
            *x = normal_cdf(*x).clamp(f64::MIN_POSITIVE, 1.0 - f64::EPSILON / 2.0);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ask::random::{Sampler, Scheme};

    #[test]
    fn correlation_of_the_scores_is_the_one_given() {
        let copula = Copula::new(3, &[(0, 2, 0.8), (1, 2, -0.4)]).unwrap();
        let sampler = Sampler::new(Scheme::QuasiRandom, 3, 4096, 3).unwrap();
        let mut sums = [0.0; 3];
        for i in 0..4096 {
            let mut u = sampler.point(i);
            copula.correlate_uniform(&mut u);
            let z: Vec<f64> = u.iter().map(|&x| normal_quantile(x)).collect();
            sums[0] += z[0] * z[2] / 4096.0;
            sums[1] += z[1] * z[2] / 4096.0;
            sums[2] += z[0] * z[1] / 4096.0;
        }
        for (found, wanted) in sums.iter().zip([0.8, -0.4, 0.0]) {
            assert!((found - wanted).abs() < 0.01, "{found} for {wanted}");
        }
    }

    #[test]
    fn contradictions_are_refused() {
        // A with B and A with C at 0.9 but B with C at -0.9 cannot be.
        let found = Copula::new(3, &[(0, 1, 0.9), (0, 2, 0.9), (1, 2, -0.9)]);
        assert!(matches!(found, Err(PlanError::NotPositiveDefinite { row: 2, .. })));
        assert!(Copula::new(2, &[(0, 1, 1.0)]).is_err());
        assert!(Copula::new(2, &[(0, 1, f64::NAN)]).is_err());
        assert!(Copula::new(2, &[(0, 2, 0.1)]).is_err());
        assert!(Copula::new(2, &[(0, 1, 0.1), (1, 0, 0.1)]).is_err());
    }
}
