//! What can be wrong with a history or a number given with it.

use thiserror::Error;

/// A history or number that cannot be used.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum ConditionError {
    /// The history has no points.
    #[error("the temperature history is empty; at least one point of time and temperature is needed")]
    EmptyHistory,
    /// A point of the history is not a finite number or colder than absolute zero.
    #[error(
        "point {index} of the temperature history is {time_s} s, {temp_c} degC; both must be finite and the temperature above -273.15 degC"
    )]
    BadPoint {
        /// Index of the point, from 0.
        index: usize,
        /// Its time, s.
        time_s: f64,
        /// Its temperature, degC.
        temp_c: f64,
    },
    /// A point lies before its predecessor.
    #[error("point {index} of the temperature history is at {time_s} s, before its predecessor at {before_s} s")]
    TimeGoesBack {
        /// Index of the point, from 0.
        index: usize,
        /// Its time, s.
        time_s: f64,
        /// Time of the point before, s.
        before_s: f64,
    },
    /// A number outside its range.
    #[error("{quantity} is {value} {unit}; allowed is {low} to {high} {unit}")]
    OutOfRange {
        /// What the number is.
        quantity: &'static str,
        /// The number given.
        value: f64,
        /// Its unit; empty for a plain number.
        unit: &'static str,
        /// Smallest allowed value.
        low: f64,
        /// Largest allowed value.
        high: f64,
    },
}

/// The value if it lies in `low..=high`; NaN never passes.
pub(super) fn within(
    quantity: &'static str,
    unit: &'static str,
    value: f64,
    low: f64,
    high: f64,
) -> Result<f64, ConditionError> {
    if value >= low && value <= high {
        Ok(value)
    } else {
        Err(ConditionError::OutOfRange {
            quantity,
            value,
            unit,
            low,
            high,
        })
    }
}
