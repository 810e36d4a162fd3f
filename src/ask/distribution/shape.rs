//! Distributions given by a few parameters.

use crate::ask::PlanError;
use crate::ask::error::{finite, not_negative, positive};
use crate::numeric::special::{normal_cdf, normal_density, normal_quantile};

/// Normal distribution.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Normal {
    mean: f64,
    sd: f64,
}

impl Normal {
    /// From mean and standard deviation.
    ///
    /// # Errors
    /// A mean that is not finite, a standard deviation that is not above zero.
    pub fn new(mean: f64, sd: f64) -> Result<Self, PlanError> {
        Ok(Self {
            mean: finite("mean", mean)?,
            sd: positive("standard deviation", sd)?,
        })
    }

    pub(super) fn quantile(&self, u: f64) -> f64 {
        self.mean + self.sd * normal_quantile(u)
    }

    pub(super) fn mean(&self) -> f64 {
        self.mean
    }

    pub(super) fn standard_deviation(&self) -> f64 {
        self.sd
    }
}

/// Normal distribution cut off at two ends and scaled up again.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TruncatedNormal {
    mean: f64,
    sd: f64,
    low: f64,
    high: f64,
    below: f64,
    above: f64,
}

impl TruncatedNormal {
    /// From mean and standard deviation of the whole normal and the two ends.
    ///
    /// # Errors
    /// Ends out of order, or ends that hold less than one part in a million of the normal.
    pub fn new(mean: f64, sd: f64, low: f64, high: f64) -> Result<Self, PlanError> {
        Normal::new(mean, sd)?;
        finite("lower end", low)?;
        if finite("upper end", high)? <= low {
            return Err(PlanError::range(
                "upper end",
                high,
                format!("above the lower end {low}"),
            ));
        }
        let below = normal_cdf((low - mean) / sd);
        let above = normal_cdf((mean - high) / sd);
        let inside = 1.0 - below - above;
        if inside < 1e-6 {
            return Err(PlanError::range(
                "probability between the ends of the truncated normal",
                inside.max(0.0),
                "at least 0.000001 (move the mean nearer to the ends)",
            ));
        }
        Ok(Self {
            mean,
            sd,
            low,
            high,
            below,
            above,
        })
    }

    pub(super) fn quantile(&self, u: f64) -> f64 {
        // Each half is taken from its own tail so that no digits are lost by 1 - p.
        let p = self.below + u * (1.0 - self.below - self.above);
        let z = if p < 0.5 {
            normal_quantile(p)
        } else {
            -normal_quantile(self.above + (1.0 - u) * (1.0 - self.below - self.above))
        };
        (self.mean + self.sd * z).clamp(self.low, self.high)
    }

    fn ends(&self) -> (f64, f64, f64) {
        let a = (self.low - self.mean) / self.sd;
        let b = (self.high - self.mean) / self.sd;
        (a, b, 1.0 - self.below - self.above)
    }

    /// N. L. Johnson, S. Kotz and N. Balakrishnan, "Continuous Univariate Distributions" 1,
    /// section 13.10.1.
    pub(super) fn mean(&self) -> f64 {
        let (a, b, inside) = self.ends();
        self.mean + self.sd * (normal_density(a) - normal_density(b)) / inside
    }

    pub(super) fn standard_deviation(&self) -> f64 {
        let (a, b, inside) = self.ends();
        let shift = (normal_density(a) - normal_density(b)) / inside;
        let second = (a * normal_density(a) - b * normal_density(b)) / inside;
        self.sd * (1.0 + second - shift * shift).max(0.0).sqrt()
    }
}

/// Triangular distribution.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Triangular {
    low: f64,
    mode: f64,
    high: f64,
}

impl Triangular {
    /// From the two ends and the most likely value.
    ///
    /// # Errors
    /// Ends out of order, or a most likely value outside them.
    pub fn new(low: f64, mode: f64, high: f64) -> Result<Self, PlanError> {
        finite("lower end", low)?;
        if finite("upper end", high)? <= low {
            return Err(PlanError::range(
                "upper end",
                high,
                format!("above the lower end {low}"),
            ));
        }
        if !(finite("most likely value", mode)? >= low && mode <= high) {
            return Err(PlanError::range("most likely value", mode, format!("{low} to {high}")));
        }
        Ok(Self { low, mode, high })
    }

    pub(super) fn quantile(&self, u: f64) -> f64 {
        let width = self.high - self.low;
        let left = self.mode - self.low;
        if u * width < left {
            self.low + (u * width * left).sqrt()
        } else {
            self.high - ((1.0 - u) * width * (self.high - self.mode)).sqrt()
        }
    }

    pub(super) fn mean(&self) -> f64 {
        (self.low + self.mode + self.high) / 3.0
    }

    pub(super) fn standard_deviation(&self) -> f64 {
        let (a, b, c) = (self.low, self.high, self.mode);
        ((a * a + b * b + c * c - a * b - a * c - b * c) / 18.0).sqrt()
    }
}

/// Uniform distribution.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Uniform {
    low: f64,
    high: f64,
}

impl Uniform {
    /// From the two ends.
    ///
    /// # Errors
    /// Ends out of order.
    pub fn new(low: f64, high: f64) -> Result<Self, PlanError> {
        finite("lower end", low)?;
        if finite("upper end", high)? <= low {
            return Err(PlanError::range(
                "upper end",
                high,
                format!("above the lower end {low}"),
            ));
        }
        Ok(Self { low, high })
    }

    pub(super) fn quantile(&self, u: f64) -> f64 {
        self.low + u * (self.high - self.low)
    }

    pub(super) fn mean(&self) -> f64 {
        0.5 * (self.low + self.high)
    }

    pub(super) fn standard_deviation(&self) -> f64 {
        (self.high - self.low) / 12.0_f64.sqrt()
    }
}

/// Lognormal distribution above an offset.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LogNormal {
    mean: f64,
    sd: f64,
    offset: f64,
    log_mean: f64,
    log_sd: f64,
}

impl LogNormal {
    /// From mean and standard deviation of the value itself and an offset that no value goes below;
    /// the logarithm of (value - offset) is normal with variance ln(1 + sd^2/(mean - offset)^2).
    ///
    /// # Errors
    /// A mean not above the offset, a standard deviation not above zero.
    pub fn new(mean: f64, sd: f64, offset: f64) -> Result<Self, PlanError> {
        positive("standard deviation", sd)?;
        not_negative("offset", offset)?;
        if finite("mean", mean)? <= offset {
            return Err(PlanError::range("mean", mean, format!("above the offset {offset}")));
        }
        let spread = (sd / (mean - offset)).powi(2).ln_1p();
        Ok(Self {
            mean,
            sd,
            offset,
            log_mean: (mean - offset).ln() - 0.5 * spread,
            log_sd: spread.sqrt(),
        })
    }

    pub(super) fn quantile(&self, u: f64) -> f64 {
        self.offset + (self.log_mean + self.log_sd * normal_quantile(u)).exp()
    }

    pub(super) fn mean(&self) -> f64 {
        self.mean
    }

    pub(super) fn standard_deviation(&self) -> f64 {
        self.sd
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn quantiles_have_their_closed_forms() {
        // Triangular 0, 1, 4: a quarter of the mass lies left of the mode.
        let triangle = Triangular::new(0.0, 1.0, 4.0).unwrap();
        assert_relative_eq!(triangle.quantile(0.25), 1.0, max_relative = 1e-14);
        assert_relative_eq!(triangle.quantile(0.0625), 0.5, max_relative = 1e-14);
        // Lognormal: the median is the geometric mean m^2/sqrt(m^2+s^2).
        let log = LogNormal::new(3.0, 4.0, 0.0).unwrap();
        assert_relative_eq!(log.quantile(0.5), 9.0 / 5.0, max_relative = 1e-14);
        // Normal cut off at its mean is a half normal: median at the 75 % point.
        let half = TruncatedNormal::new(0.0, 1.0, 0.0, 40.0).unwrap();
        assert_relative_eq!(half.quantile(0.5), normal_quantile(0.75), max_relative = 1e-13);
        assert_relative_eq!(half.mean(), (2.0 / std::f64::consts::PI).sqrt(), max_relative = 1e-13);
    }

    #[test]
    fn wrong_parameters_are_refused() {
        assert!(Normal::new(f64::NAN, 1.0).is_err());
        assert!(Normal::new(0.0, 0.0).is_err());
        assert!(TruncatedNormal::new(0.0, 1.0, 2.0, 1.0).is_err());
        assert!(TruncatedNormal::new(0.0, 1.0, 9.0, 10.0).is_err());
        assert!(Triangular::new(0.0, 5.0, 4.0).is_err());
        assert!(Uniform::new(1.0, 1.0).is_err());
        assert!(LogNormal::new(2.0, 1.0, 2.0).is_err());
        assert!(LogNormal::new(2.0, f64::INFINITY, 0.0).is_err());
    }
}
