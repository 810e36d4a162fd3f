//! Distribution of measured values.

use crate::ask::PlanError;
use crate::ask::error::finite;

/// Measured values as a distribution: the quantile is interpolated linearly between the sorted
/// values, definition 7 of R. J. Hyndman and Y. Fan, "Sample quantiles in statistical packages",
/// American Statistician 50 (1996). Nothing outside the measured range is ever drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct Empirical {
    sorted: Vec<f64>,
}

impl Empirical {
    /// From values in any order.
    ///
    /// # Errors
    /// Fewer than two values, or one that is not finite.
    pub fn new(mut values: Vec<f64>) -> Result<Self, PlanError> {
        if values.len() < 2 {
            return Err(PlanError::count("measured values", values.len(), "2 or more"));
        }
        for &value in &values {
            finite("measured value", value)?;
        }
        values.sort_by(f64::total_cmp);
        Ok(Self { sorted: values })
    }

    /// Number of measured values.
    #[must_use]
    pub fn count(&self) -> usize {
        self.sorted.len()
    }

    pub(super) fn quantile(&self, u: f64) -> f64 {
        quantile_of_sorted(&self.sorted, u)
    }

    /// Mean of the interpolated distribution: trapezoid rule over the sorted values.
    pub(super) fn mean(&self) -> f64 {
        self.segments(|a, b| 0.5 * (a + b))
    }

    pub(super) fn standard_deviation(&self) -> f64 {
        let mean = self.mean();
        self.segments(|a, b| {
            let (a, b) = (a - mean, b - mean);
            (a * a + a * b + b * b) / 3.0
        })
        .sqrt()
    }

    #[allow(clippy::cast_precision_loss)]
    fn segments(&self, part: impl Fn(f64, f64) -> f64) -> f64 {
        let sum: f64 = self.sorted.windows(2).map(|w| part(w[0], w[1])).sum();
        sum / (self.sorted.len() - 1) as f64
    }
}

/// Quantile of values in rising order by the same definition; the first value at `u` = 0, the last
/// at 1, NaN for an empty list.
#[allow(
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss
)]
pub(crate) fn quantile_of_sorted(sorted: &[f64], u: f64) -> f64 {
    let Some(last) = sorted.len().checked_sub(1) else {
        return f64::NAN;
    };
    let place = u.clamp(0.0, 1.0) * last as f64;
    let k = (place.floor() as usize).min(last);
    let next = sorted[(k + 1).min(last)];
    sorted[k] + (place - k as f64) * (next - sorted[k])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantiles_interpolate_between_values() {
        let measured = Empirical::new(vec![9.0, 3.0, 5.0]).unwrap();
        assert_eq!(measured.quantile(0.5), 5.0);
        assert_eq!(measured.quantile(0.25), 4.0);
        assert_eq!(measured.quantile(1.0), 9.0);
        assert!(Empirical::new(vec![1.0]).is_err());
        assert!(Empirical::new(vec![1.0, f64::NAN]).is_err());
    }
}
