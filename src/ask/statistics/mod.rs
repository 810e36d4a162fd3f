//! Figures from many runs: probabilities, histograms, capability, causes, stack-up.

mod capability;
mod histogram;
mod probability;
mod shares;
mod stack;
mod summary;

pub use capability::{Capability, capability};
pub use histogram::Histogram;
pub use probability::{Proportion, clopper_pearson, wilson};
pub use shares::{Share, shares};
pub use stack::{Contribution, StackUp, stack_up};
pub use summary::Summary;

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
