//! The line: its file, its stages, and the run that gives a [`Trace`].

pub mod file;
pub mod plan;
pub mod trace;

pub use plan::Plan;
pub use trace::Trace;
