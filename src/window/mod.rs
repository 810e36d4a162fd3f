//! Limits, verdicts and warnings. A limit belongs to a node and a moment.

mod limit;

pub use limit::{Bound, Cause, Limit, Verdict, Warning};
