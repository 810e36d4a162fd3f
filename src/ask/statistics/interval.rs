//! An estimate with its interval.

use serde::Serialize;

/// An estimate with the interval that holds it at the stated confidence.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Interval {
    /// Estimate.
    pub estimate: f64,
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}
