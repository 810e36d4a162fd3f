//! Capability indices with intervals.

use serde::Serialize;

use super::interval::Interval;
use crate::ask::PlanError;
use crate::ask::error::{finite, positive};
use crate::numeric::special::{chi_square_quantile, normal_quantile};

/// Capability of a characteristic against its limits. Index names as in ISO 22514-2; all assume a
/// normal distribution, so the skewness should be shown beside them.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Capability {
    /// (upper - lower) / (6 sd); needs both limits.
    pub cp: Option<Interval>,
    /// (mean - lower) / (3 sd); needs the lower limit.
    pub cpl: Option<Interval>,
    /// (upper - mean) / (3 sd); needs the upper limit.
    pub cpu: Option<Interval>,
    /// The smaller of the two, or the only one.
    pub cpk: Interval,
}

/// Capability from mean, standard deviation and number of values against one or two limits.
///
/// Interval of Cp by the chi-square distribution of the variance (V. E. Kane, "Process capability
/// indices", J. Quality Technology 18 (1986), 41-52); intervals of the one-sided indices and of Cpk
/// by A. F. Bissell, "How reliable is your capability index?", Applied Statistics 39 (1990),
/// 331-340: estimate +/- z sqrt(1/(9n) + index^2/(2(n-1))).
///
/// # Errors
/// Fewer than two values, a standard deviation not above zero, no limit, limits out of order, a
/// confidence not strictly between 0 and 1.
#[allow(clippy::cast_precision_loss)]
pub fn capability(
    mean: f64,
    sd: f64,
    values: usize,
    lower: Option<f64>,
    upper: Option<f64>,
    confidence: f64,
) -> Result<Capability, PlanError> {
    finite("mean", mean)?;
    positive("standard deviation", sd)?;
    if values < 2 {
        return Err(PlanError::count("values for a capability index", values, "2 or more"));
    }
    if !(confidence > 0.0 && confidence < 1.0) {
        return Err(PlanError::range("confidence", confidence, "above 0 and below 1"));
    }
    for limit in [lower, upper].into_iter().flatten() {
        finite("limit", limit)?;
    }
    let n = values as f64;
    let z = normal_quantile(0.5 + 0.5 * confidence);
    let one_sided = |estimate: f64| {
        let half = z * (1.0 / (9.0 * n) + estimate * estimate / (2.0 * (n - 1.0))).sqrt();
        Interval {
            estimate,
            low: estimate - half,
            high: estimate + half,
        }
    };
    let cpl = lower.map(|limit| one_sided((mean - limit) / (3.0 * sd)));
    let cpu = upper.map(|limit| one_sided((limit - mean) / (3.0 * sd)));
    let cp = match (lower, upper) {
        (Some(low), Some(high)) => {
            if high <= low {
                return Err(PlanError::range(
                    "upper limit",
                    high,
                    format!("above the lower limit {low}"),
                ));
            }
            let estimate = (high - low) / (6.0 * sd);
            let factor = |p: f64| (chi_square_quantile(n - 1.0, p) / (n - 1.0)).sqrt();
            Some(Interval {
                estimate,
                low: estimate * factor(0.5 * (1.0 - confidence)),
                high: estimate * factor(0.5 + 0.5 * confidence),
            })
        }
        _ => None,
    };
    let cpk = match (cpl, cpu) {
        (Some(a), Some(b)) => {
            if a.estimate <= b.estimate {
                a
            } else {
                b
            }
        }
        (Some(a), None) | (None, Some(a)) => a,
        (None, None) => {
            return Err(PlanError::count("limits for a capability index", 0, "1 or 2"));
        }
    };
    Ok(Capability { cp, cpl, cpu, cpk })
}
