//! Probability from a count, with its confidence interval.

use serde::Serialize;

use crate::ask::PlanError;
use crate::numeric::special::{incomplete_beta_inverse, normal_quantile};

/// A probability estimated from a count.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Proportion {
    /// Cases counted.
    pub count: u64,
    /// Runs made.
    pub runs: u64,
    /// Estimate, count over runs.
    pub estimate: f64,
    /// Lower end of the interval.
    pub low: f64,
    /// Upper end of the interval.
    pub high: f64,
    /// Confidence of the interval, for example 0.95.
    pub confidence: f64,
}

/// Exact interval of C. J. Clopper and E. S. Pearson, Biometrika 26 (1934), 404-413: never covers
/// less than the stated confidence for independent runs. For stratified samples (latin hypercube,
/// quasi-random) it is on the safe side, because they scatter less than independent ones.
///
/// # Errors
/// No runs, more cases than runs, or a confidence not strictly between 0 and 1.
pub fn clopper_pearson(count: u64, runs: u64, confidence: f64) -> Result<Proportion, PlanError> {
    check(count, runs, confidence)?;
    let (k, n) = (as_f64(count), as_f64(runs));
    let tail = 0.5 * (1.0 - confidence);
    let low = if count == 0 {
        0.0
    } else {
        incomplete_beta_inverse(k, n - k + 1.0, tail)
    };
    let high = if count == runs {
        1.0
    } else {
        incomplete_beta_inverse(k + 1.0, n - k, 1.0 - tail)
    };
    Ok(Proportion {
        count,
        runs,
        estimate: k / n,
        low,
        high,
        confidence,
    })
}

/// Interval of E. B. Wilson, J. Amer. Statist. Assoc. 22 (1927), 209-212: shorter, close to the
/// stated confidence on average.
///
/// # Errors
/// As [`clopper_pearson`].
pub fn wilson(count: u64, runs: u64, confidence: f64) -> Result<Proportion, PlanError> {
    check(count, runs, confidence)?;
    let (k, n) = (as_f64(count), as_f64(runs));
    let z = normal_quantile(0.5 + 0.5 * confidence);
    let p = k / n;
    let scale = 1.0 + z * z / n;
    let middle = (p + 0.5 * z * z / n) / scale;
    let half = z / scale * (p * (1.0 - p) / n + 0.25 * z * z / (n * n)).sqrt();
    Ok(Proportion {
        count,
        runs,
        estimate: p,
        low: (middle - half).max(0.0),
        high: (middle + half).min(1.0),
        confidence,
    })
}

#[allow(clippy::cast_precision_loss)]
fn as_f64(n: u64) -> f64 {
    n as f64
}

fn check(count: u64, runs: u64, confidence: f64) -> Result<(), PlanError> {
    if runs == 0 {
        return Err(PlanError::count("runs", 0, "1 or more"));
    }
    if count > runs {
        return Err(PlanError::range("count", as_f64(count), format!("0 to {runs}")));
    }
    if !(confidence > 0.0 && confidence < 1.0) {
        return Err(PlanError::range("confidence", confidence, "above 0 and below 1"));
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn extreme_counts_have_their_closed_form() {
        // With no case in n runs the upper end is 1 - (alpha/2)^(1/n).
        let p = clopper_pearson(0, 100, 0.95).unwrap();
        assert_relative_eq!(p.high, 1.0 - 0.025_f64.powf(0.01), max_relative = 1e-10);
        assert_eq!(p.low, 0.0);
        let p = clopper_pearson(100, 100, 0.95).unwrap();
        assert_relative_eq!(p.low, 0.025_f64.powf(0.01), max_relative = 1e-10);
        assert_eq!(p.high, 1.0);
    }

    #[test]
    fn wrong_counts_are_refused() {
        assert!(clopper_pearson(1, 0, 0.95).is_err());
        assert!(clopper_pearson(3, 2, 0.95).is_err());
        assert!(wilson(1, 2, 1.0).is_err());
    }
}
