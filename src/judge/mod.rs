//! Limits, verdicts and warnings. A limit belongs to a node and a moment.

mod judge;
mod limit;
mod watch;

pub use judge::judge;
pub use limit::{Bound, Cause, Limit, Verdict, Warning};
pub use watch::Watch;
