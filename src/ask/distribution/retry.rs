//! A time that is now and then lengthened by retries: a narrow peak with a long right tail.

use crate::ask::PlanError;
use crate::ask::error::{finite, fraction, not_negative, positive};
use crate::numeric::boundary::boundary;
use crate::numeric::special::{normal_cdf, normal_quantile};

/// Base time plus a random number of retries. The base and each retry are normal; after every
/// attempt another retry follows with the same probability, so their number is geometric, cut off
/// at a most after which the part is given up and the last retry keeps the remaining probability.
#[derive(Debug, Clone, PartialEq)]
pub struct Retry {
    base: f64,
    base_sd: f64,
    probability: f64,
    retry: f64,
    retry_sd: f64,
    most: u32,
}

impl Retry {
    /// From the base time and its standard deviation, the probability of a retry, the time of one
    /// retry and its standard deviation, and the most retries.
    ///
    /// # Errors
    /// Negative times or spreads, a probability outside 0 to 1, no spread at all, a most of 0 or
    /// above 1000.
    pub fn new(
        base: f64,
        base_sd: f64,
        probability: f64,
        retry: f64,
        retry_sd: f64,
        most: u32,
    ) -> Result<Self, PlanError> {
        if most == 0 || most > 1000 {
            return Err(PlanError::range("most retries", f64::from(most), "1 to 1000"));
        }
        Ok(Self {
            base: finite("base time", base)?,
            base_sd: positive("standard deviation of the base time", base_sd)?,
            probability: fraction("retry probability", probability)?,
            retry: not_negative("retry time", retry)?,
            retry_sd: not_negative("standard deviation of the retry time", retry_sd)?,
            most,
        })
    }

    /// The same time when every try succeeds.
    #[must_use]
    pub fn without_retries(&self) -> super::Distribution {
        super::Distribution::Retry(Self {
            probability: 0.0,
            ..self.clone()
        })
    }

    /// Probability of exactly `k` retries.
    fn weight(&self, k: u32) -> f64 {
        let power = self.probability.powi(k as i32);
        if k < self.most {
            power * (1.0 - self.probability)
        } else {
            power
        }
    }

    fn component(&self, k: u32) -> (f64, f64) {
        let k = f64::from(k);
        (
            self.base + k * self.retry,
            (self.base_sd.powi(2) + k * self.retry_sd.powi(2)).sqrt(),
        )
    }

    /// Probability of a time at most `t`.
    #[must_use]
    pub fn cdf(&self, t: f64) -> f64 {
        (0..=self.most)
            .map(|k| {
                let (mean, sd) = self.component(k);
                self.weight(k) * normal_cdf((t - mean) / sd)
            })
            .sum()
    }

    /// Probability of a time above `t`, exact in the upper tail.
    fn above(&self, t: f64) -> f64 {
        (0..=self.most)
            .map(|k| {
                let (mean, sd) = self.component(k);
                self.weight(k) * normal_cdf((mean - t) / sd)
            })
            .sum()
    }

    pub(super) fn quantile(&self, u: f64) -> f64 {
        // The quantile of the mixture lies between the smallest and the largest quantile of its
        // components; halving there is safe.
        let z = normal_quantile(u);
        let mut low = f64::INFINITY;
        let mut high = f64::NEG_INFINITY;
        for k in 0..=self.most {
            if self.weight(k) > 0.0 {
                let (mean, sd) = self.component(k);
                low = low.min(mean + sd * z);
                high = high.max(mean + sd * z);
            }
        }
        boundary(low, high, |t| {
            if u < 0.5 {
                self.cdf(t) < u
            } else {
                self.above(t) > 1.0 - u
            }
        })
    }

    pub(super) fn mean(&self) -> f64 {
        (0..=self.most).map(|k| self.weight(k) * self.component(k).0).sum()
    }

    pub(super) fn standard_deviation(&self) -> f64 {
        let mean = self.mean();
        (0..=self.most)
            .map(|k| {
                let (m, s) = self.component(k);
                self.weight(k) * ((m - mean).powi(2) + s * s)
            })
            .sum::<f64>()
            .sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn geometric_retries_have_their_closed_form() {
        // Mean of an uncut geometric number of retries: p/(1-p).
        let d = Retry::new(4.2, 0.1, 0.1, 2.0, 0.3, 200).unwrap();
        assert_relative_eq!(d.mean(), 4.2 + 2.0 * 0.1 / 0.9, max_relative = 1e-13);
        // No retries: the plain normal.
        let plain = Retry::new(4.2, 0.1, 0.0, 2.0, 0.3, 5).unwrap();
        assert_relative_eq!(
            plain.quantile(0.95),
            4.2 + 0.164_485_362_695_147_3,
            max_relative = 1e-12
        );
        // The quantile undoes the cdf in the body and in the tail.
        for u in [1e-6, 0.01, 0.5, 0.9, 0.99, 0.9999] {
            assert_relative_eq!(d.cdf(d.quantile(u)), u, max_relative = 1e-9);
        }
    }

    #[test]
    fn wrong_parameters_are_refused() {
        assert!(Retry::new(4.2, 0.1, 1.2, 2.0, 0.3, 5).is_err());
        assert!(Retry::new(4.2, 0.0, 0.1, 2.0, 0.3, 5).is_err());
        assert!(Retry::new(4.2, 0.1, 0.1, -2.0, 0.3, 5).is_err());
        assert!(Retry::new(4.2, 0.1, 0.1, 2.0, 0.3, 0).is_err());
    }
}
