//! What can be wrong with a question put to the planner.

use std::path::PathBuf;

/// Errors of the planning mathematics. Each carries the numbers and what would be allowed.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PlanError {
    /// A number outside what the function allows.
    #[error("{what} is {value}; allowed: {allowed}")]
    OutOfRange {
        /// What the number is.
        what: String,
        /// The number given.
        value: f64,
        /// The allowed range in words.
        allowed: String,
    },
    /// A number that is not finite where a finite one is needed.
    #[error("{what} is not a finite number ({value})")]
    NotFinite {
        /// What the number is.
        what: String,
        /// The value found.
        value: f64,
    },
    /// A list of the wrong length.
    #[error("{what}: {found} given, {needed} needed")]
    Count {
        /// What is counted.
        what: String,
        /// How many there are.
        found: usize,
        /// How many are needed, in words.
        needed: String,
    },
    /// More dimensions than the quasi-random table has.
    #[error("quasi-random sampling takes at most {most} inputs, {found} are varied; use the latin hypercube")]
    TooManyDimensions {
        /// Inputs asked for.
        found: usize,
        /// Rows of the table.
        most: usize,
    },
    /// A distribution whose values can leave the physical range of its input.
    #[error(
        "{what}: the distribution reaches {reached} ({side} end), the physical range is {low} to {high}; \
         {advice}"
    )]
    OutsidePhysicalRange {
        /// Name of the input.
        what: String,
        /// Quantile that left the range.
        reached: f64,
        /// `lower` or `upper`.
        side: &'static str,
        /// Lower physical bound.
        low: f64,
        /// Upper physical bound.
        high: f64,
        /// What to do.
        advice: &'static str,
    },
    /// A set of correlations that no joint distribution can have.
    #[error(
        "the correlations contradict each other: row {row} leaves a variance of {pivot:.3e} \
         (the matrix is not positive definite); make the largest ones smaller"
    )]
    NotPositiveDefinite {
        /// First row that fails, counted from 0.
        row: usize,
        /// The pivot found there.
        pivot: f64,
    },
    /// An iteration that did not settle.
    #[error("{algorithm} did not settle after {iterations} iterations (remaining {remaining:.3e})")]
    NotConverged {
        /// Name of the algorithm.
        algorithm: &'static str,
        /// Iterations done.
        iterations: usize,
        /// What remained of the residual or interval.
        remaining: f64,
    },
    /// A search whose ends have the same sign.
    #[error("no crossing between {low} and {high}: the margin is {at_low:.4} at one end and {at_high:.4} at the other")]
    NoSignChange {
        /// Lower end.
        low: f64,
        /// Upper end.
        high: f64,
        /// Value at the lower end.
        at_low: f64,
        /// Value at the upper end.
        at_high: f64,
    },
    /// A data file that could not be read or written.
    #[error(transparent)]
    File(crate::text::FileError),
    /// A column of a CSV file that is missing or holds something else than numbers.
    #[error("{path}, line {line}: {message}")]
    Table {
        /// The file.
        path: PathBuf,
        /// Line number counted from 1.
        line: u64,
        /// What is wrong.
        message: String,
    },
}

impl PlanError {
    /// Shorthand for [`PlanError::OutOfRange`].
    pub(crate) fn range(what: impl Into<String>, value: f64, allowed: impl Into<String>) -> Self {
        Self::OutOfRange {
            what: what.into(),
            value,
            allowed: allowed.into(),
        }
    }

    /// Shorthand for [`PlanError::Count`].
    pub(crate) fn count(what: impl Into<String>, found: usize, needed: impl Into<String>) -> Self {
        Self::Count {
            what: what.into(),
            found,
            needed: needed.into(),
        }
    }
}

/// Refuses NaN and infinities by name.
pub(crate) fn finite(what: &str, value: f64) -> Result<f64, PlanError> {
    if value.is_finite() {
        Ok(value)
    } else {
        Err(PlanError::NotFinite {
            what: what.to_owned(),
            value,
        })
    }
}

/// Refuses anything but a finite number above zero.
pub(crate) fn positive(what: &str, value: f64) -> Result<f64, PlanError> {
    if finite(what, value)? > 0.0 {
        Ok(value)
    } else {
        Err(PlanError::range(what, value, "above 0"))
    }
}

/// Refuses anything but a finite number of at least zero.
pub(crate) fn not_negative(what: &str, value: f64) -> Result<f64, PlanError> {
    if finite(what, value)? >= 0.0 {
        Ok(value)
    } else {
        Err(PlanError::range(what, value, "0 or more"))
    }
}

/// Refuses anything outside 0 to 1.
pub(crate) fn fraction(what: &str, value: f64) -> Result<f64, PlanError> {
    if (0.0..=1.0).contains(&finite(what, value)?) {
        Ok(value)
    } else {
        Err(PlanError::range(what, value, "0 to 1"))
    }
}
