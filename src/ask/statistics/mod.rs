//! Figures from many runs: probabilities, histograms, capability, causes, stack-up.

mod capability;
mod histogram;
mod interval;
mod probability;
mod shares;
mod stack;
mod summary;

pub use capability::{Capability, capability};
pub use histogram::Histogram;
pub use interval::Interval;
pub use probability::{Proportion, clopper_pearson, wilson};
pub use shares::{Share, shares};
pub use stack::{Contribution, StackUp, stack_up};
pub use summary::Summary;
