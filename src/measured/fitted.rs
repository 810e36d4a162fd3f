//! What a fit found.

use serde::Serialize;

use super::least::End;

/// An estimate.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Estimate {
    /// Path.
    pub path: String,
    /// Unit.
    pub unit: String,
    /// What was believed before, with its standard deviation.
    pub before: (f64, f64),
    /// Whose value and spread that was.
    pub source: String,
    /// The estimate.
    pub value: f64,
    /// Its standard deviation from the readings, with what was held at its value.
    pub sd: f64,
    /// Interval from that.
    pub interval: (f64, f64),
    /// Standard deviation with what was held known no better than its owners say.
    pub whole_sd: f64,
    /// Interval from that.
    pub whole_interval: (f64, f64),
    /// What the data tell of it.
    pub told: Told,
}

impl Estimate {
    /// Whether the readings tell at least as much of it as was known before: they halve its variance.
    #[must_use]
    pub fn is_narrowed(&self) -> bool {
        self.sd.powi(2) <= 0.5 * self.before.1.powi(2)
    }
}

/// Residuals at one place.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlaceResidual {
    /// Name of the measurement.
    pub name: String,
    /// Readings that count.
    pub readings: usize,
    /// Mean of reading less run before the fit, K.
    pub before_k: f64,
    /// The same after it.
    pub mean_k: f64,
    /// Standard deviation after it, K.
    pub sd_k: f64,
    /// Scatter that was stated; `None` where none was.
    pub stated_k: Option<f64>,
}

/// A reading that does not count.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Outlier {
    /// Name of the measurement.
    pub measurement: String,
    /// Part.
    pub part: String,
    /// Line of its file.
    pub line: usize,
    /// Reading less what the instrument would show, K.
    pub off_k: f64,
    /// The same in standard deviations.
    pub off_sd: f64,
}

/// Parts one after the other that are off together.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Stretch {
    /// Name of the measurement.
    pub measurement: String,
    /// First part.
    pub from: String,
    /// Last part.
    pub to: String,
    /// Mean of reading less run, K.
    pub off_k: f64,
}

/// How a search ended.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Convergence {
    /// Why.
    pub end: End,
    /// Whether another start ended at the same place.
    pub starts_agree: bool,
    /// Runs made.
    pub runs: usize,
    /// Largest difference between the runs and what the search looked at in the end, K.
    pub error_k: f64,
}

/// What the data tell of an unknown.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
#[serde(tag = "told", rename_all = "snake_case")]
pub enum Told {
    /// Better than it was known before.
    Alone,
    /// Only together with another.
    OnlyWith {
        /// The other.
        path: String,
        /// Correlation that the data leave.
        correlation: f64,
    },
    /// Nothing that was not known before.
    Not,
    /// Not judged: it went along with what was asked for.
    #[default]
    Beside,
}
