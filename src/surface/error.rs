//! What can be wrong with the numbers given to a flux law.

use thiserror::Error;

/// A number that a flux law cannot take.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum SurfaceError {
    /// A number outside the range that the law allows (NaN and infinities included).
    #[error("{quantity} is {value} {unit}; allowed is {low} to {high} {unit} ({law})")]
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
        /// The law that sets the range.
        law: &'static str,
    },
    /// The ends of a range are not in order.
    #[error("the range {low} to {high} {unit} is empty ({law})")]
    EmptyRange {
        /// Lower end given.
        low: f64,
        /// Upper end given.
        high: f64,
        /// Unit of both.
        unit: &'static str,
        /// What the range is for.
        law: &'static str,
    },
}

/// A quantity with its unit and the law that limits it, for range checks.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Quantity {
    pub name: &'static str,
    pub unit: &'static str,
    pub law: &'static str,
}

impl Quantity {
    /// The value if it lies in `low..=high`, else the error that says so. NaN never passes.
    pub fn within(self, value: f64, low: f64, high: f64) -> Result<f64, SurfaceError> {
        if value >= low && value <= high {
            Ok(value)
        } else {
            Err(SurfaceError::OutOfRange {
                quantity: self.name,
                value,
                unit: self.unit,
                low,
                high,
                law: self.law,
            })
        }
    }
}

/// Shorthand for a [`Quantity`].
pub(crate) const fn quantity(name: &'static str, unit: &'static str, law: &'static str) -> Quantity {
    Quantity { name, unit, law }
}
