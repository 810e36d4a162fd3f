//! Mean, spread and quantiles of a list of values.

use serde::Serialize;

use crate::ask::PlanError;
use crate::ask::distribution::quantile_of_sorted;
use crate::ask::error::finite;

/// Mean, spread and quantiles of a list of values.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Summary {
    /// Number of values.
    pub count: usize,
    /// Mean.
    pub mean: f64,
    /// Standard deviation with n - 1; 0 for a single value.
    pub sd: f64,
    /// Third standardised moment; 0 without spread.
    pub skewness: f64,
    /// Smallest value.
    pub min: f64,
    /// Largest value.
    pub max: f64,
    /// Quantiles at 0.1, 1, 5, 50, 95, 99 and 99.9 per cent.
    pub quantiles: [f64; 7],
}

impl Summary {
    /// Summarises the values; the order of summation is the order given.
    ///
    /// # Errors
    /// No values, or one that is not finite.
    #[allow(clippy::cast_precision_loss)]
    pub fn of(values: &[f64]) -> Result<Self, PlanError> {
        if values.is_empty() {
            return Err(PlanError::count("values", 0, "1 or more"));
        }
        for &value in values {
            finite("value", value)?;
        }
        let n = values.len() as f64;
        let mean = values.iter().sum::<f64>() / n;
        let square: f64 = values.iter().map(|x| (x - mean).powi(2)).sum();
        let cube: f64 = values.iter().map(|x| (x - mean).powi(3)).sum();
        let sd = if values.len() > 1 {
            (square / (n - 1.0)).sqrt()
        } else {
            0.0
        };
        let skewness = if square > 0.0 {
            cube / n / (square / n).powf(1.5)
        } else {
            0.0
        };
        let mut sorted = values.to_vec();
        sorted.sort_by(f64::total_cmp);
        let quantiles = [0.001, 0.01, 0.05, 0.5, 0.95, 0.99, 0.999].map(|u| quantile_of_sorted(&sorted, u));
        Ok(Self {
            count: values.len(),
            mean,
            sd,
            skewness,
            min: sorted[0],
            max: sorted[sorted.len() - 1],
            quantiles,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn small_list_by_hand() {
        let s = Summary::of(&[2.0, 4.0, 4.0, 4.0, 5.0, 5.0, 7.0, 9.0]).unwrap();
        assert_relative_eq!(s.mean, 5.0);
        assert_relative_eq!(s.sd, (32.0_f64 / 7.0).sqrt(), max_relative = 1e-14);
        // Sum of cubes -27 - 3 + 8 + 64 = 42, over 8, over 2^3.
        assert_relative_eq!(s.skewness, 42.0 / 64.0, max_relative = 1e-14);
        assert_relative_eq!(s.quantiles[3], 4.5);
        assert!(Summary::of(&[]).is_err());
        assert!(Summary::of(&[f64::NAN]).is_err());
    }
}
