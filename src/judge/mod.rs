//! Limits, verdicts and warnings. A limit belongs to a node and a moment.
//!
//! What a run recorded ([`StageSpan`]s and [`Reading`]s) is judged here and nowhere else.

#[allow(
    clippy::module_inception,
    reason = "the folder is named after what its main file does"
)]
mod judge;
mod kind;
mod limit;
mod moment;
mod owner;
mod record;
mod watch;

pub use judge::judge;
pub use kind::Kind;
pub use limit::{Bound, Cause, Datum, Limit, Verdict, Warning};
pub use moment::Moment;
pub use owner::Owner;
pub use record::{Reading, StageSpan};
pub use watch::Watch;
