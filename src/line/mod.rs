//! The line: its file, its stages, and the run that gives a [`Trace`].

pub mod file;
pub mod plan;
pub mod run;
pub mod trace;
pub mod warmup;

/// A line: a checked line file that can be traced.
pub use file::Document as Line;
pub use plan::Plan;
pub use run::{HeaterCache, RunError, RunOptions, run, run_with};
pub use trace::Trace;
