//! Distributions of an input, by their quantile functions.
//!
//! Sampling by quantile keeps the strata of a latin hypercube and the nets of a quasi-random
//! sequence, and lets correlations act on the uniform coordinates.

mod column;
mod empirical;
mod retry;
mod shape;

pub use column::read_column;
pub(crate) use column::read_table;
pub use empirical::Empirical;
pub(crate) use empirical::quantile_of_sorted;
pub use retry::Retry;
pub use shape::{LogNormal, Normal, Triangular, TruncatedNormal, Uniform};

use super::PlanError;

/// A distribution of one input, in the unit of that input.
#[derive(Debug, Clone, PartialEq)]
pub enum Distribution {
    /// Normal.
    Normal(Normal),
    /// Normal cut off at two ends.
    TruncatedNormal(TruncatedNormal),
    /// Triangular.
    Triangular(Triangular),
    /// Uniform.
    Uniform(Uniform),
    /// Lognormal, optionally shifted.
    LogNormal(LogNormal),
    /// Measured values.
    Empirical(Empirical),
    /// A time that is now and then lengthened by retries.
    Retry(Retry),
}

impl Distribution {
    /// Value below which the input falls with probability `u`, for 0 < `u` < 1.
    #[must_use]
    pub fn quantile(&self, u: f64) -> f64 {
        match self {
            Self::Normal(d) => d.quantile(u),
            Self::TruncatedNormal(d) => d.quantile(u),
            Self::Triangular(d) => d.quantile(u),
            Self::Uniform(d) => d.quantile(u),
            Self::LogNormal(d) => d.quantile(u),
            Self::Empirical(d) => d.quantile(u),
            Self::Retry(d) => d.quantile(u),
        }
    }

    /// Mean.
    #[must_use]
    pub fn mean(&self) -> f64 {
        match self {
            Self::Normal(d) => d.mean(),
            Self::TruncatedNormal(d) => d.mean(),
            Self::Triangular(d) => d.mean(),
            Self::Uniform(d) => d.mean(),
            Self::LogNormal(d) => d.mean(),
            Self::Empirical(d) => d.mean(),
            Self::Retry(d) => d.mean(),
        }
    }

    /// Standard deviation.
    #[must_use]
    pub fn standard_deviation(&self) -> f64 {
        match self {
            Self::Normal(d) => d.standard_deviation(),
            Self::TruncatedNormal(d) => d.standard_deviation(),
            Self::Triangular(d) => d.standard_deviation(),
            Self::Uniform(d) => d.standard_deviation(),
            Self::LogNormal(d) => d.standard_deviation(),
            Self::Empirical(d) => d.standard_deviation(),
            Self::Retry(d) => d.standard_deviation(),
        }
    }

    /// Name of the kind, as study files spell it.
    #[must_use]
    pub fn kind(&self) -> &'static str {
        match self {
            Self::Normal(_) => "normal",
            Self::TruncatedNormal(_) => "truncated-normal",
            Self::Triangular(_) => "triangular",
            Self::Uniform(_) => "uniform",
            Self::LogNormal(_) => "lognormal",
            Self::Empirical(_) => "empirical",
            Self::Retry(_) => "retry",
        }
    }

    /// Refuses a distribution that leaves the physical range `low..=high` of the input `what` more
    /// often than once in a million at either end.
    ///
    /// # Errors
    /// [`PlanError::OutsidePhysicalRange`] with the quantile that is out.
    pub fn check_range(&self, what: &str, low: f64, high: f64) -> Result<(), PlanError> {
        let advice = match self {
            Self::Normal(_) => "cut it off with kind = \"truncated-normal\" or make it narrower",
            _ => "make it narrower",
        };
        for (u, side) in [(1e-6, "lower"), (1.0 - 1e-6, "upper")] {
            let reached = self.quantile(u);
            if !(reached >= low && reached <= high) {
                return Err(PlanError::OutsidePhysicalRange {
                    what: what.to_owned(),
                    reached,
                    side,
                    low,
                    high,
                    advice,
                });
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn all() -> Vec<Distribution> {
        vec![
            Distribution::Normal(Normal::new(1240.0, 10.0).unwrap()),
            Distribution::TruncatedNormal(TruncatedNormal::new(4.0, 1.0, 3.0, 7.0).unwrap()),
            Distribution::Triangular(Triangular::new(1.0, 1.5, 4.0).unwrap()),
            Distribution::Uniform(Uniform::new(0.7, 0.9).unwrap()),
            Distribution::LogNormal(LogNormal::new(4.2, 0.6, 3.0).unwrap()),
            Distribution::Empirical(Empirical::new(vec![3.0, 5.0, 4.0, 9.0]).unwrap()),
            Distribution::Retry(Retry::new(4.2, 0.1, 0.03, 2.2, 0.3, 10).unwrap()),
        ]
    }

    /// Mean and standard deviation must be the integrals of the quantile function over (0, 1).
    #[test]
    fn moments_are_integrals_of_the_quantile() {
        for d in all() {
            let n = 20_000;
            let (mut mean, mut square) = (0.0, 0.0);
            for k in 0..n {
                let x = d.quantile((f64::from(k) + 0.5) / f64::from(n));
                mean += x / f64::from(n);
                square += (x - d.mean()).powi(2) / f64::from(n);
            }
            let sd = d.standard_deviation();
            assert!((mean - d.mean()).abs() < 2e-4 * sd, "{} mean", d.kind());
            assert!(
                (square.sqrt() - sd).abs() < 2e-3 * sd,
                "{} spread {} {sd}",
                d.kind(),
                square.sqrt()
            );
        }
    }

    #[test]
    fn quantiles_rise() {
        for d in all() {
            let mut last = f64::NEG_INFINITY;
            for k in 1..1000 {
                let x = d.quantile(f64::from(k) / 1000.0);
                assert!(x >= last, "{} at {k}", d.kind());
                last = x;
            }
        }
    }

    #[test]
    fn physical_range_is_enforced() {
        let wide = Distribution::Normal(Normal::new(4.0, 1.5).unwrap());
        let error = wide.check_range("seconds", 0.0, 3600.0).unwrap_err();
        assert!(error.to_string().contains("-3.13"), "{error}");
        assert!(error.to_string().contains("truncated-normal"), "{error}");
        let emissivity = Distribution::Uniform(Uniform::new(0.7, 1.2).unwrap());
        assert!(emissivity.check_range("emissivity", 0.0, 1.0).is_err());
        assert!(emissivity.check_range("emissivity", 0.0, 1.3).is_ok());
    }
}
